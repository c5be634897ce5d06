"""The ways people take: from the job to a far side, from a tag to a page, from a disk, a host, a keyboard, no script."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.visit import visiting

LOADED = "[...document.fonts].filter((font) => font.status === 'loaded').length"
FAILED = "[...document.fonts].filter((font) => font.status === 'error').length"


@pytest.fixture(params=["disk", "host"])
def root(request: pytest.FixtureRequest, site: Path, address: str) -> str:
    return site.as_uri() if request.param == "disk" else address


def test_from_the_job_to_the_far_side_of_a_transit(browser: Browser, root: str) -> None:
    with visiting(browser, root, viewport={"width": 360, "height": 740}) as visit:
        page = visit.page
        visit.goto(f"{root}/index.html")
        page.locator(".walls .wall-id", has_text="W3").click()
        expect(page).to_have_url(f"{root}/W/W3/index.html")
        page.locator(".list.transits a", has_text="B2-017").click()
        expect(page).to_have_url(f"{root}/T/B2-017/index.html")
        expect(page.locator("h1")).to_have_text("B2-017")
        far = page.locator("details.far", has_text="Far side, mirrored")
        expect(far.locator("svg.drawing")).not_to_be_visible()
        far.locator("summary").click()
        expect(far.locator("svg.drawing")).to_be_visible()
        visit.settle()
        assert page.evaluate(LOADED) >= 3 and page.evaluate(FAILED) == 0
        page.locator(".tabs a", has_text="Steps").click()
        expect(page.locator("#steps h2")).to_be_in_viewport()
        page.locator(".foot a", has_text="Whole job").click()
        expect(page).to_have_url(f"{root}/index.html")
        assert visit.heard == []


def test_a_tag_typed_leads_to_its_transit_by_keyboard_alone(browser: Browser, root: str) -> None:
    with visiting(browser, root, viewport={"width": 412, "height": 740}) as visit:
        page = visit.page
        visit.goto(f"{root}/find/index.html")
        _tab_to(page, "#find")
        page.keyboard.type("p101")
        expect(page.locator(".tally")).to_have_text("1 found")
        found = page.locator(".found li")
        assert found.locator(".found-tag b").all_text_contents() == ["P-101"]
        assert "B2-017" in found.locator("a .ident").all_text_contents()
        page.keyboard.press("Enter")
        page.keyboard.press("Enter")
        expect(page).to_have_url(f"{root}/T/B2-017/index.html")
        visit.goto(f"{root}/find/index.html")
        _tab_to(page, "#find")
        page.keyboard.type("d1-001")
        expect(page.locator(".tally")).to_have_text("1 found")
        page.keyboard.press("Enter")
        page.keyboard.press("Enter")
        expect(page).to_have_url(f"{root}/T/D1-001/index.html")
        assert visit.heard == []


def _tab_to(page: Page, selector: str, patience: int = 20) -> None:
    for _ in range(patience):
        page.keyboard.press("Tab")
        if page.evaluate("(selector) => document.activeElement.matches(selector)", selector):
            return
    pytest.fail(f"{patience} tabs do not reach {selector}")


def test_a_keyboard_reaches_every_control_and_sees_where_it_is(browser: Browser, address: str) -> None:
    with visiting(browser, address, viewport={"width": 412, "height": 740}) as visit:
        visit.goto(f"{address}/T/B2-017/index.html")
        wanted = visit.page.evaluate(
            """[...document.querySelectorAll("a[href], button, summary")].filter((e) => e.checkVisibility()).length"""
        )
        reached = []
        for _ in range(wanted):
            visit.page.keyboard.press("Tab")
            reached.append(
                visit.page.evaluate(
                    """() => {
                      const at = document.activeElement, box = at.getBoundingClientRect();
                      const middle = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
                      at.dataset.reached = "yes";
                      return {
                        outline: getComputedStyle(at).outlineStyle,
                        hidden: !middle || !(at.contains(middle) || middle.contains(at)) ? at.outerHTML.slice(0, 90) : "",
                      };
                    }"""
                )
            )
        assert visit.page.evaluate("document.querySelectorAll('[data-reached]').length") == wanted
        assert {stop["outline"] for stop in reached} == {"solid"}
        # Nothing that stays in view lies over what has the focus.
        assert [stop["hidden"] for stop in reached if stop["hidden"]] == []


def test_a_step_that_is_called_for_is_seen_whole(browser: Browser, address: str) -> None:
    """The strip and the tabs stay in view; what a link leads to begins under the strip, its cautions first."""
    with visiting(browser, address, viewport={"width": 360, "height": 740}) as visit:
        page = visit.page
        visit.goto(f"{address}/T/B2-017/index.html")
        for place in page.evaluate("[...document.querySelectorAll('a[href^=\"#\"]')].map((a) => a.hash)"):
            page.goto(f"{address}/T/B2-017/index.html{place}")
            top, strip, left = page.evaluate(
                """(place) => {
                  const target = document.getElementById(place.slice(1)), strip = document.querySelector(".strip");
                  const rest = document.documentElement;
                  return [target.getBoundingClientRect().top, strip.getBoundingClientRect().bottom,
                          rest.scrollHeight - rest.scrollTop - rest.clientHeight];
                }""",
                place,
            )
            if place != "#layout":  # the plate stands above it, not the strip
                assert top >= strip - 1 or left < 1, place
                assert top <= strip + 24 or left < 1, place


def test_without_script_everything_can_be_read(browser: Browser, root: str) -> None:
    with visiting(browser, root, viewport={"width": 360, "height": 740}, java_script_enabled=False) as visit:
        page = visit.page
        page.goto(f"{root}/T/B2-017/index.html")
        assert page.locator("#layout .sheet svg.drawing").first.is_visible()
        assert page.locator("#layout .block").count() > 30  # both sides
        assert page.locator("#cables tbody tr").first.is_visible()
        steps = page.locator("#steps .step")
        assert steps.count() >= 30 and steps.first.is_visible() and steps.last.is_visible()
        assert page.locator(".step .safety").first.is_visible()
        expect(page.locator("#scheme")).not_to_be_visible()  # a button that would do nothing
        page.locator("details.far summary").first.click()
        expect(page.locator("details.far svg.drawing")).to_be_visible()
        page.goto(f"{root}/find/index.html")
        expect(page.locator("form.finder")).not_to_be_visible()
        letter = page.locator("details.letter", has=page.locator("summary b", has_text="P"))
        letter.locator("summary").click()
        letter.locator("a", has_text="B2-017").first.click()
        expect(page).to_have_url(f"{root}/T/B2-017/index.html")
        assert visit.heard == []
