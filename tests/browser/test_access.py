"""axe-core's strictest rules, contrast of 7:1 among them, by day and by night, on each kind of page."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from generator.issue import issue, withdraw
from generator.pages.publish import build_site
from generator.pages.starter import write_starter
from tests.browser.demo_site import serve
from tests.browser.visit import HERE, visiting

AXE = (HERE / "vendor" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
# The enhanced rule leaves what fails the plain one to it: only both together hold 7:1.
COLOURS = ["color-contrast", "color-contrast-enhanced"]
PAGES = [
    "index.html",
    "safety/index.html",
    "find/index.html",
    "register/index.html",
    "quality/index.html",
    "material/index.html",
    "T/B4-034/index.html",  # bolted on, with its order of tightening
    "figures/index.html",
    "W/W3/quality.html",
    "site-rules.html",
    "404.html",
    "W/W3/index.html",
    "W/D1/index.html",
    "W/W3/labels.html",
    "W/W3/marking-a4.html",
    "T/B2-017/index.html",  # welded
    "T/B2-017/card.html",
    "T/B2-018/index.html",  # two bays
    "T/B2-016/index.html",  # round frame in a sleeve
    "T/B2-022/index.html",  # split seal
    "T/D1-001/index.html",  # deck
    "T/B4-031/index.html",  # cables assumed
]


def violations(page: Page, only: list[str], where: str = "html") -> tuple[list[str], set[str]]:
    """Run axe on what a selector finds; return what it objects to, a line each, and the rules it found kept."""
    kind = "rule" if only == COLOURS else "tag"
    report = page.evaluate(
        """([kind, only, where]) => axe.run(where, {
          preload: false, iframes: false, selectors: false, resultTypes: ["violations"], runOnly: {type: kind, values: only},
          rules: kind === "tag" ? {"color-contrast-enhanced": {enabled: true}} : {},
        })""",
        [kind, only, where],
    )
    found = [f"{rule['id']}: {node['html'][:160]}" for rule in report["violations"] for node in rule["nodes"]]
    return found, {rule["id"] for rule in report["passes"]}


@pytest.mark.parametrize("page", PAGES)
def test_a_page_is_open_to_everyone_by_day_and_night(browser: Browser, address: str, page: str) -> None:
    judge(browser, address, page)


def test_pages_of_withdrawn_work_are_too(browser: Browser, tmp_path: Path) -> None:
    job = tmp_path / "job"
    write_starter(job)
    issue(job, [], "A")
    withdraw(job, ["A1-002"], "the probe is not bought")
    build_site(job, tmp_path / "site")
    with serve(tmp_path / "site") as address:
        for page in ("index.html", "register/index.html", "T/A1-002/index.html", "T/A1-002/A/index.html"):
            judge(browser, address, page)


def judge(browser: Browser, address: str, page: str) -> None:
    """Hold a page, with all that it folds open, against axe by day and by night."""
    with visiting(browser, address, viewport={"width": 412, "height": 740}) as visit:
        visit.page.goto(f"{address}/{page}")
        visit.open_all()
        visit.page.evaluate(AXE)  # through the browser's debugger: the page's policy is not touched
        by_day, kept = violations(visit.page, RULES)
        assert "color-contrast-enhanced" in kept  # it did look
        visit.page.emulate_media(color_scheme="dark")
        by_night, kept = violations(visit.page, COLOURS)
        assert "color-contrast-enhanced" in kept
        assert visit.heard == []
    assert by_day == []
    assert by_night == []


def test_axe_does_object(browser: Browser, address: str) -> None:
    """Grey on grey, a link without a name: the judge is awake on our pages and under our policy."""
    with visiting(browser, address) as visit:
        visit.page.goto(f"{address}/T/B2-017/index.html")
        visit.page.evaluate(
            """() => {
              document.querySelector("#cables h2").style.color = "#666666";  // 5.7:1 on white: enough for AA, not for us
              document.querySelector("#cables h2").style.fontSize = "16px";
              document.querySelector("#cables h2").style.fontWeight = "400";
              document.querySelector("main").append(Object.assign(document.createElement("a"), {href: "#"}));
            }"""
        )
        visit.page.evaluate(AXE)
        found, _ = violations(visit.page, RULES)
    assert {line.partition(":")[0] for line in found} >= {"color-contrast-enhanced", "link-name"}
