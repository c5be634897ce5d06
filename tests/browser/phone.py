"""A crew member's hands on a transit's page: what is pressed and typed, as a person at the wall would."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Locator, Page, expect

from tests.browser.visit import Visit, visiting

SIZE = {"width": 360, "height": 740}
FITTER, INSPECTOR = ("Ada Pegg", "fitter"), ("Noor Haddad", "quality inspector")


@dataclass
class Phone:
    """One phone with a transit's page open. ``heard`` is everything the page must not say."""

    page: Page
    heard: list[str] = field(default_factory=list)

    def open(self, url: str) -> None:
        """Open a page and wait until its store was looked into."""
        self.page.goto(url)
        self.ready()

    def ready(self) -> None:
        """Wait until the page has read what the store holds."""
        expect(self.page.locator("#entered h2")).to_have_count(1)
        self.page.evaluate("() => wallwork.ready")

    @property
    def sheet(self) -> Locator:
        """The sheet on which something is entered."""
        return self.page.locator("dialog.entry")

    def keep(self) -> None:
        """Press the sheet's button and wait until the sheet is gone."""
        self.sheet.locator("form > footer > button[type=submit]").click()
        expect(self.sheet).not_to_be_visible()
        self.settle()

    def settle(self) -> None:
        """Wait until everything entered so far is kept and shown: whatever was asked of the store before comes first."""
        self.page.evaluate("() => new Promise((go) => setTimeout(go)).then(() => wallwork.store.read('', ''))")

    def take_back(self, key: str) -> None:
        """Take a step's tick back."""
        self.step(key).locator(".tick").click()
        self.keep()
        expect(self.step(key).locator(".tick")).to_have_attribute("aria-pressed", "false")

    def refused(self, words: str) -> None:
        """Press the sheet's button: it stays open and says why."""
        self.sheet.locator("form > footer > button[type=submit]").click()
        expect(self.sheet.locator(".wrong")).to_contain_text(words)

    def say_who(self, who: tuple[str, str] = FITTER) -> None:
        """Answer the question that the first entry of a phone asks."""
        self.page.fill("#entry-who", who[0])
        self.page.fill("#entry-who-role", who[1])
        self.keep()

    def step(self, key: str) -> Locator:
        """Return a step by its key."""
        return self.page.locator(f'.step[data-key="{key}"]')

    def tick(self, key: str, by: tuple[str, str] = INSPECTOR) -> None:
        """Tick a step; one that somebody else releases gets that name."""
        step = self.step(key)
        step.locator(".tick").click()
        expect(self.sheet.or_(step.locator(".tick[aria-pressed=true]")).first).to_be_visible()
        if self.sheet.is_visible():
            self.say_who(by)
        expect(step.locator(".tick")).to_have_attribute("aria-pressed", "true")

    def write(self, line: Locator, value: str, reason: str = "", shown: str | None = None) -> None:
        """Write a value on a line of a step. ``shown`` is what the page makes of it, where that is another text."""
        line.locator(".value").click()
        self.page.fill("#entry-value", value)
        if reason:
            self.refused("window")
            self.page.fill("#entry-reason", reason)
        self.keep()
        expect(line.locator(".value")).to_have_class("value given" + (" outside" if reason else ""))
        expect(line.locator(".value")).to_contain_text(value if shown is None else shown)

    def kept(self) -> list[dict[str, Any]]:
        """Return every entry in the store that is not an export, oldest first."""
        found: list[dict[str, Any]] = self.page.evaluate(
            """() => { const work = JSON.parse(document.getElementById("work").textContent);
                 return wallwork.store.read(work.job, work.transit); }"""
        )
        return [entry for entry in found if entry["what"] != "export"]

    def export(self, folder: Path) -> Path:
        """Export the record as a file and return it."""
        self.page.locator("#entered > button.keep").click()
        with self.page.expect_download() as coming:
            self.sheet.locator("a.keep").click()
        path = folder / coming.value.suggested_filename
        coming.value.save_as(path)
        expect(self.sheet).not_to_be_visible()
        self.settle()
        return path


@contextmanager
def holding(browser: Browser, root: str, transit: str, **options: Any) -> Iterator[Phone]:
    """Hold a phone with a transit's page open; whatever the page says or asks for outside is heard."""
    with visiting(browser, root, viewport=SIZE, accept_downloads=True, **options) as visit:
        phone = _phone(visit)
        phone.open(f"{root}/T/{transit}/index.html")
        yield phone


def _phone(visit: Visit) -> Phone:
    return Phone(visit.page, visit.heard)
