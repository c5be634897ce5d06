"""The frame around the desk's pages and the planner's own, built by MkDocs and opened from a disk."""

import re
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from generator.pages import addresses
from generator.pages.plugin import write_site
from generator.pages.render import POLICY
from generator.pages.view import STANDING_SENTENCE
from tests.pages.desk_samples import endless_job, small_job
from tests.pages.reading import Document, leads_to

ROOT = Path(__file__).parents[2]
AXE = (ROOT / "tests" / "browser" / "vendor" / "axe.min.js").read_text(encoding="utf-8")
DESK = [addresses.OVERVIEW, addresses.SAFETY, addresses.FINDER, addresses.wall_page("W3"), addresses.wall_page("D1")]
OWN = ["method.html", "access/crane.html"]

METHOD = """# Method & <b>statement</b>

Some `code`, a [link](access/crane.md) and a footnote[^1].

!!! warning "Live cables"
    Prove dead first.

!!! note
    Bring the drawings.

| Tool with a long name that has to go somewhere | Size | Count |
|:--|--:|:-:|
| spanner | 17 | 2 |

1. one
    - nested

Term
:   Its meaning.

> Quoted.

    {code}

## A heading

[^1]: The footnote.
"""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    job = tmp_path_factory.mktemp("job")
    (job / "pages" / "access").mkdir(parents=True)
    text = METHOD.replace("{code}", "a line of code that goes on " * 20)
    (job / "pages" / "method.md").write_text(text, encoding="utf-8", newline="\n")
    (job / "pages" / "access" / "crane.md").write_text("# Crane\n\nAsk.\n", encoding="utf-8", newline="\n")
    shutil.copy(ROOT / "site_templates" / "starter" / "mkdocs.yml", job / "mkdocs.yml")
    site = job / "site"
    write_site(small_job(), job, site)
    return site


def read(site: Path, address: str) -> Document:
    return Document((site / address).read_text(encoding="utf-8"))


@pytest.mark.parametrize("address", DESK + OWN)
def test_a_page_has_the_policy_and_nothing_that_breaks_it(site: Path, address: str) -> None:
    page = read(site, address)
    (policy,) = (e for e in page.all("meta") if e.attributes.get("http-equiv") == "Content-Security-Policy")
    assert policy.attributes["content"] == POLICY
    assert not page.all("style")
    for element in page.elements:
        assert not [name for name in element.attributes if name.startswith("on") or name == "style"], element
    for script in page.all("script"):
        assert script.attributes["src"] and not script.text


@pytest.mark.parametrize("address", DESK + OWN)
def test_every_link_names_a_file_of_the_site(site: Path, address: str) -> None:
    page = read(site, address)
    for href in [*page.attributes("href"), *page.attributes("src")]:
        target = leads_to(address, href)
        assert (site / target).is_file(), f"{address} leads to {href}"
        assert "#" not in href or href.endswith("#") or href.partition("#")[2] in read(site, target).attributes("id")


def test_nav_shows_where_one_is_and_the_planners_pages(site: Path) -> None:
    current = {}
    for address in DESK + OWN:
        page = read(site, address)
        nav = page.all("nav", "pages")[0]
        links = [element for element in nav.inside if element.name == "a"]
        current[address] = [link.text for link in links if "aria-current" in link.attributes]
        assert [link.text for link in links] == [
            "Job", "Walls", "Register", "Find", "Safety", "Material", "Quality plan", "Figures", "Method & <b>statement</b>", "Crane",
        ]  # fmt: skip
    assert current == {
        "index.html": ["Job"],
        "safety/index.html": ["Safety"],
        "find/index.html": ["Find"],
        "W/W3/index.html": ["Walls"],
        "W/D1/index.html": ["Walls"],
        "method.html": ["Method & <b>statement</b>"],
        "access/crane.html": ["Crane"],
    }


def test_titles_are_text(site: Path) -> None:
    titles = {address: read(site, address).all("title")[0].text for address in DESK + OWN}
    assert titles["method.html"] == "Method & <b>statement</b> · Sample pump house"
    assert titles["W/W3/index.html"] == "W3 · Sample pump house"
    assert len(set(titles.values())) == len(titles)


def test_each_page_has_one_main_one_heading_and_a_way_to_skip(site: Path) -> None:
    for address in DESK + OWN:
        page = read(site, address)
        assert len(page.all("main")) == 1 and len(page.all("h1")) == 1, address
        assert page.all("a", "skip")[0].attributes["href"] == "#main"
        assert page.all("main")[0].attributes["id"] == "main"
        assert page.all("footer")[0].text.strip() == STANDING_SENTENCE


def open_page(browser: Browser, url: str, width: int, scheme: str = "light") -> tuple[Page, list[str]]:
    context = browser.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme)  # type: ignore[arg-type]
    page = context.new_page()
    heard: list[str] = []
    page.on("console", lambda message: heard.append(message.text))
    page.on("pageerror", lambda error: heard.append(str(error)))
    page.on("request", lambda request: heard.append(request.url) if not request.url.startswith("file:") else None)
    # The icon of a page that is left before it came is cut short by the browser itself: nothing failed.
    page.on(
        "requestfailed",
        lambda request: request.failure == "net::ERR_ABORTED" or heard.append(f"failed: {request.url}"),
    )
    page.goto(url)
    return page, heard


@pytest.mark.parametrize("address", [*DESK[:4], "method.html"])
def test_a_page_from_a_disk_is_accessible_to_the_strictest_level(browser: Browser, site: Path, address: str) -> None:
    page, heard = open_page(browser, (site / address).as_uri(), 1280)
    page.evaluate(AXE)
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        # Contrast of 7:1 is not among axe's default rules; neither is its wcag2aaa tag.
        report = page.evaluate(
            """axe.run({
              preload: false,
              runOnly: ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
              rules: {"color-contrast-enhanced": {enabled: true}},
            })"""
        )
        found = [(rule["id"], [node["html"][:120] for node in rule["nodes"]]) for rule in report["violations"]]
        assert found == [], scheme
        assert any(rule["id"] == "color-contrast-enhanced" for rule in report["passes"])  # it did look
    assert heard == []
    page.context.close()


def test_no_page_moves_sideways_or_moves_at_all(browser: Browser, site: Path) -> None:
    page, heard = open_page(browser, (site / addresses.OVERVIEW).as_uri(), 1280)
    for address in DESK + OWN:
        page.goto((site / address).as_uri())
        for width in (360, 412, 800, 1280):
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate("document.documentElement.scrollWidth") <= width, (address, width)
        moving = page.evaluate(
            """() => [...document.querySelectorAll("*")].filter((element) => {
              const style = getComputedStyle(element);
              return style.animationName !== "none" || style.transitionDuration !== "0s"
                || style.boxShadow !== "none" || style.borderRadius !== "0px";
            }).map((element) => element.outerHTML.slice(0, 80))"""
        )
        assert moving == [], address
    assert heard == []
    page.context.close()


def test_names_without_an_end_do_not_push_a_page_sideways(browser: Browser, tmp_path: Path) -> None:
    work = endless_job()
    (wall_id,) = work.definition.walls
    (tmp_path / "pages").mkdir()
    text = f"# {'T' * 200}\n\n{'x' * 900}\n\n`{'c' * 300}`\n\n| {' | '.join(['column'] * 12)} |\n|{'--|' * 12}\n"
    (tmp_path / "pages" / "long.md").write_text(text, encoding="utf-8", newline="\n")
    write_site(work, tmp_path, tmp_path / "site")
    page, heard = open_page(browser, (tmp_path / "site" / addresses.OVERVIEW).as_uri(), 360)
    for address in [*DESK[:3], addresses.wall_page(wall_id), "long.html"]:
        page.goto((tmp_path / "site" / address).as_uri())
        for width in (360, 1280):
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate("document.documentElement.scrollWidth") <= width, (address, width)
    assert heard == []
    page.context.close()


def test_tabs_are_large_enough_for_a_glove(browser: Browser, site: Path) -> None:
    page, _ = open_page(browser, (site / addresses.OVERVIEW).as_uri(), 360)
    for selector in (".pages > ul > li > a", ".pages summary", ".sheets a", ".ways a", ".wall-id", ".now a"):
        for box in (element.bounding_box() for element in page.locator(selector).all()):
            assert box and box["height"] >= 48 and box["width"] >= 48, selector
    page.context.close()


def test_paper_is_black_on_white_without_tabs(browser: Browser, site: Path) -> None:
    page, _ = open_page(browser, (site / addresses.wall_page("W3")).as_uri(), 1280, "dark")
    page.emulate_media(media="print", color_scheme="dark")
    assert not page.locator(".pages").is_visible()
    ink, paper = page.evaluate(
        """() => {
          const style = getComputedStyle(document.documentElement);
          return ["--ink", "--paper"].map((name) => style.getPropertyValue(name));
        }"""
    )
    assert re.fullmatch(r"\s*#(11181c|000000|000)", ink) and re.fullmatch(r"\s*#(ffffff|fff)", paper)
    page.context.close()
