"""Every page of the demo at the width of an old phone, a new one and a desk: nothing said, asked for, cut or lost."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.browser.visit import listing, visiting

WIDTHS = (360, 412, 1280)
# px: site_templates' least sizes. Paper (cards, labels, marking-out sheets) has sizes of its own and is measured in test_paper.py.
SCREEN = {"least": 13, "drawn": 11}
GLOVE = 48
KINDS = {
    "transits": "T/*/index.html",
    "transits in other languages": "T/*/index.*.html",
    "cards": "T/*/card*.html",
    "walls": "W/*/index.html",
    "labels": "W/*/labels*.html",
    "marking": "W/*/marking-*.html",
    "others": "",
}


def pages_of(site: Path, kind: str) -> list[str]:
    """Return the addresses of one kind of page; "others" are those of no other kind."""
    every = {path.relative_to(site).as_posix() for path in site.rglob("*.html")}
    named = {other: {path.relative_to(site).as_posix() for path in site.glob(p)} for other, p in KINDS.items() if p}
    return sorted(named[kind] if kind in named else every.difference(*named.values()))


def test_kinds_share_out_every_page(site: Path) -> None:
    pages = [page for kind in KINDS for page in pages_of(site, kind)]
    assert len(pages) == len(set(pages)) == len(list(site.rglob("*.html"))) >= 60
    assert {"index.html", "404.html", "safety/index.html", "find/index.html"} < set(pages_of(site, "others"))


@pytest.mark.parametrize("kind", KINDS)
def test_a_page_stays_whole_and_to_itself(browser: Browser, site: Path, address: str, kind: str) -> None:
    wanted: dict[str, float] = {} if kind in ("cards", "labels", "marking") else dict(SCREEN)
    if kind.startswith("transits"):
        wanted["target"] = GLOVE
    faults: dict[str, list[str]] = {}
    # Another language has other words in the same page: where it is narrowest, they show what is too long.
    widths = WIDTHS[:1] if kind == "transits in other languages" else WIDTHS
    with visiting(browser, address, viewport={"width": WIDTHS[0], "height": 740}) as visit:
        for page in pages_of(site, kind):
            visit.page.set_viewport_size({"width": WIDTHS[0], "height": 740})
            visit.goto(f"{address}/{page}")
            found: dict[str, list[int]] = {}
            for width in widths:
                visit.page.set_viewport_size({"width": width, "height": 740})
                for fault in set(visit.faults(**wanted)):
                    found.setdefault(fault, []).append(width)
            is_folded = visit.page.evaluate("document.querySelector('details:not([open])') !== null")
            visit.open_all()
            # Where nothing was folded, the page was seen whole.
            for width in dict.fromkeys((widths[-1], widths[0])) if is_folded else ():
                visit.page.set_viewport_size({"width": width, "height": 740})
                for fault in set(visit.faults(**wanted)) - found.keys():
                    found.setdefault(f"opened: {fault}", []).append(width)
            said = [f"{fault} {widths}" for fault, widths in found.items()] + visit.heard
            visit.heard.clear()
            if said:
                faults[page] = said
    assert not faults, listing(faults)
