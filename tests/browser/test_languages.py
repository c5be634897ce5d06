"""The crew changes the language on the page: at the same place, for every page that follows, and without a network."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.demo_site import Host
from tests.browser.test_access import AXE, COLOURS, RULES, violations
from tests.browser.test_offline import Phone, says
from tests.browser.visit import visiting

PHONE = {"width": 360, "height": 740}


@pytest.fixture(params=["disk", "host"])
def root(request: pytest.FixtureRequest, site: Path, address: str) -> str:
    return site.as_uri() if request.param == "disk" else address


def test_the_language_changes_at_the_same_place_and_stays_chosen(browser: Browser, root: str) -> None:
    with visiting(browser, root, viewport=PHONE) as visit:
        page = visit.page
        visit.goto(f"{root}/T/B2-017/index.html#cables")
        page.locator("a.language").click()
        expect(page).to_have_url(f"{root}/T/B2-017/index.pl.html#cables")
        expect(page.locator("#cables h2")).to_have_text("Kable")
        assert page.evaluate("document.documentElement.lang") == "pl"
        page.goto(f"{root}/T/B2-018/index.html")  # from another label
        expect(page).to_have_url(f"{root}/T/B2-018/index.pl.html")
        page.locator(".foot a", has_text="Karta do druku").click()
        expect(page).to_have_url(f"{root}/T/B2-018/card.pl.html")
        page.go_back()
        page.locator("a.language").click()
        expect(page).to_have_url(f"{root}/T/B2-018/index.html")
        page.goto(f"{root}/T/B2-017/index.html")
        expect(page.locator("#cables h2")).to_have_text("Cables")
        assert visit.heard == []


def test_a_draft_says_so_and_every_caution_has_its_english(browser: Browser, address: str) -> None:
    with visiting(browser, address, viewport=PHONE) as visit:
        page = visit.page
        visit.goto(f"{address}/T/B2-017/index.pl.html")
        expect(page.locator(".status .draft span")).to_have_text("Draft, not checked by a native speaker")
        cautions = page.locator(".safety")
        assert cautions.count() > 5
        assert page.locator(".safety .in-english[lang=en]").count() == cautions.count()
        page.evaluate(AXE)
        visit.open_all()
        by_day, _ = violations(page, RULES)
        page.emulate_media(color_scheme="dark")
        by_night, _ = violations(page, COLOURS)
        assert by_day == [] and by_night == []
        assert visit.heard == []


def test_both_languages_are_taken_along(browser: Browser, tmp_path: Path, site: Path) -> None:
    host = Host(site)
    address = host.start()
    with Phone(browser, tmp_path / "profile").on() as context:
        page = context.pages[0]
        page.goto(f"{address}/T/B2-017/index.html")
        says(page, "Kept. Current at")
        host.stop()
        page.locator("a.language").click()
        expect(page.locator("#cables h2")).to_have_text("Kable")
        says(page, "Na telefonie. Brak sieci")  # what scripts say, too
        page.goto(f"{address}/T/B2-018")
        expect(page).to_have_url(f"{address}/T/B2-018/index.pl.html")
        page.goto(f"{address}/T/B2-018/C")
        expect(page.locator("h2").first).to_have_text("Ta karta jest nowsza niż ten telefon")
        page.goto(f"{address}/T/B2-018/card.html")
        expect(page.locator("h2").first).to_have_text("Tej strony nie ma na tym telefonie")
