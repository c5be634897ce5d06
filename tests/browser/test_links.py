"""Every way on leads somewhere: links, signs drawn from one place, names by reference, files of the style sheets."""

import re
from pathlib import Path

from tests.pages.reading import Document, leads_to

NAMED_BY = ("aria-labelledby", "aria-describedby", "for")


def documents(site: Path) -> dict[str, Document]:
    return {
        path.relative_to(site).as_posix(): Document(path.read_text(encoding="utf-8"))
        for path in sorted(site.rglob("*.html"))
    }


def test_every_page_is_reached_from_the_job_and_every_link_arrives(site: Path) -> None:
    pages = documents(site)
    ids = {name: set(page.attributes("id")) for name, page in pages.items()}
    broken: list[str] = []
    seen, waiting = {"index.html"}, ["index.html"]
    while waiting:
        here = waiting.pop()
        for element in pages[here].elements:
            for href in (element.attributes[name] for name in ("href", "src") if name in element.attributes):
                there, fragment = leads_to(here, href), href.partition("#")[2]
                # A file, not a folder: from a disk nobody looks for its index.html.
                if not (site / there).is_file() or (fragment and fragment not in ids[there]):
                    broken.append(f"{here}: {href}")
                elif there in pages and there not in seen:
                    seen.add(there)
                    waiting.append(there)
        for element in pages[here].elements:
            for name in NAMED_BY:
                broken += [
                    f"{here}: {name}={one}"
                    for one in element.attributes.get(name, "").split()
                    if one not in ids[here]
                ]
        for used in re.findall(r"url\(#([^)]+)\)", (site / here).read_text(encoding="utf-8")):
            if used not in ids[here]:
                broken.append(f"{here}: url(#{used})")
    assert broken == []
    # What the host and the worker answer with is reached by no link.
    assert seen == {page for page in pages if page != "404.html" and not page.startswith("offline/")}


def test_the_page_for_lost_addresses_leads_on_from_any_depth(site: Path) -> None:
    (page,) = (page for name, page in documents(site).items() if name == "404.html")
    links = [*page.attributes("href"), *page.attributes("src")]
    for href in links:
        path = href.partition("#")[0]
        assert (path.startswith("/") and (site / path[1:]).is_file()) or href == "#main", href
    assert "/find/index.html" in links


def test_style_sheets_find_their_files(site: Path) -> None:
    found = 0
    for sheet in site.rglob("*.css"):
        for target in re.findall(r"""url\(["']?([^"')]+)""", sheet.read_text(encoding="utf-8")):
            found += 1
            assert (sheet.parent / target).is_file(), f"{sheet.name}: {target}"
    assert found >= 7  # six of the typeface, one sheet that takes in another


def test_no_id_is_given_twice(site: Path) -> None:
    for name, page in documents(site).items():
        ids = page.attributes("id")
        assert len(ids) == len(set(ids)), f"{name}: {sorted(one for one in set(ids) if ids.count(one) > 1)}"
