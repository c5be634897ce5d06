"""A page in the browser, with everything it says, asks for and shows heard and measured."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from playwright.sync_api import Browser, BrowserContext, Page

from tests.browser.chromium import PATIENCE

HERE = Path(__file__).parent
MEASURE = (HERE / "measure.js").read_text(encoding="utf-8")
# The page's own policy stays in force: this listener is put in by the browser's debugger.
LISTEN = """document.addEventListener("securitypolicyviolation", (event) =>
  console.error("policy: " + event.violatedDirective + " " + event.blockedURI));"""

# A layout asks for the faces that it needs; the scripts of a transit set up their steps when the layout was seen.
SETTLED = "(window.wallwork && wallwork.ready || Promise.resolve()).then(() => document.body && document.body.offsetHeight && document.fonts.ready.then(() => 0))"

BLOCKED = "Service Worker registration blocked by Playwright"

Scheme = Literal["light", "dark"]


@dataclass
class Visit:
    """An open page. ``heard`` is everything that must not be: errors, refusals, requests that leave the site."""

    page: Page
    heard: list[str] = field(default_factory=list)

    def goto(self, url: str) -> None:
        """Open a page and wait until it has its typeface, which changes where everything is."""
        self.page.goto(url)
        self.settle()

    def settle(self) -> None:
        """Wait until what is shown has its typeface: a weight is fetched when it is first needed."""
        self.page.evaluate(SETTLED)

    def faults(self, **wanted: float) -> list[str]:
        """Measure the page as it stands; measure.js names what it looks for."""
        found: list[str] = self.page.evaluate(MEASURE, wanted)
        return found

    def open_all(self) -> None:
        """Open everything that can be opened, so that nothing is left out of a measurement."""
        self.page.evaluate("document.querySelectorAll('details').forEach((details) => { details.open = true; })")
        self.settle()

    def as_paper(self) -> None:
        """Show the page as it is printed."""
        self.page.emulate_media(media="print")
        self.settle()


def _is_cut_short(request: Any) -> bool:
    """Whether a request ended only because the next page was opened, as an icon's does."""
    return request.failure == "net::ERR_ABORTED"


def listing(faults: dict[str, list[str]]) -> str:
    """Return faults by page, a line each: pytest cuts long comparisons off."""
    return "".join(f"\n{page}\n  " + "\n  ".join(lines) for page, lines in faults.items())


@contextmanager
def visiting(browser: Browser, root: str, **options: Any) -> Iterator[Visit]:
    """Open an empty page that may ask for nothing outside ``root``.

    The worker is left out, so that every page is the one asked for; test_offline.py is about the worker.
    """
    context: BrowserContext = browser.new_context(**{"service_workers": "block", **options})
    context.set_default_timeout(PATIENCE)
    context.add_init_script(LISTEN)
    page = context.new_page()
    visit = Visit(page)

    def refuse(route: Any) -> None:
        visit.heard.append(f"asked for {route.request.url}")
        route.abort()

    context.route(lambda url: not url.startswith(root), refuse)
    page.on("console", lambda said: BLOCKED in said.text or visit.heard.append(f"{said.type}: {said.text}"))
    page.on("pageerror", lambda error: visit.heard.append(f"error: {error}"))
    page.on("requestfailed", lambda request: _is_cut_short(request) or visit.heard.append(f"failed: {request.url}"))
    page.on("response", lambda r: visit.heard.append(f"{r.status}: {r.url}") if r.status >= 400 else None)
    yield visit
    context.close()
