"""Without a network, in a real browser: what a phone keeps, what it says of it, and that builds never mix.

The browser keeps a profile on the disk, is killed and started again; the host is lost and found under one address.
"""

import gzip
import json
import os
import shutil
import signal
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from generator.issue import issue
from generator.pages.addresses import TRANSIT_STYLES
from generator.pages.offline import write_offline
from generator.pages.publish import build_site
from generator.pages.starter import write_starter
from tests.browser.chromium import FLAGS, PATIENCE, find_or_install
from tests.browser.demo_site import Host
from tests.browser.test_access import AXE, COLOURS, RULES, violations

PHONE = {"width": 360, "height": 740}
PAGES = ["index.html", "find/index.html", "safety/index.html"]
CURRENT, NO_NETWORK = "Kept. Current at", "Kept. No network; current at"


@dataclass
class Phone:
    """A phone: one browser with a profile of its own that stays when the browser ends."""

    browser: Browser
    profile: Path
    arguments: tuple[str, ...] = ()
    killed: bool = False

    @contextmanager
    def on(self) -> Iterator[BrowserContext]:
        """Start the browser; it is closed as a person closes it, unless it was killed."""
        context = self.browser.browser_type.launch_persistent_context(
            self.profile,
            executable_path=find_or_install(),
            args=[*FLAGS, *self.arguments],
            viewport=PHONE,
            locale="en-GB",
            timeout=PATIENCE,
        )
        context.set_default_timeout(PATIENCE)
        self.killed = False
        yield context
        if not self.killed:
            context.close()

    def kill(self) -> int:
        """Kill every process of this phone's browser, as a dead battery does; return how many there were."""
        mine = [
            int(entry.name)
            for entry in Path("/proc").iterdir()
            if entry.name.isdigit() and str(self.profile).encode() in _command(entry)
        ]
        self.killed = True
        for process in mine:
            with suppress(ProcessLookupError):  # it went with its parent
                os.kill(process, signal.SIGKILL)
        return len(mine)


def _command(entry: Path) -> bytes:
    try:
        return (entry / "cmdline").read_bytes()
    except OSError:
        return b""


@pytest.fixture
def phone(browser: Browser, tmp_path: Path) -> Phone:
    return Phone(browser, tmp_path / "profile")


@pytest.fixture
def host(site: Path) -> Iterator[Host]:
    with _running(Host(site)) as host:
        yield host


@contextmanager
def _running(host: Host) -> Iterator[Host]:
    yield host
    host.stop()


def says(page: Page, words: str) -> None:
    """Wait until the line under the plate, or the section where there is no line, says these words."""
    expect(page.locator("#copy-line, #copy:not(:has(~ #copy-line)) .copy-state").first).to_contain_text(words)


def state(page: Page, words: str) -> None:
    expect(page.locator(".copy-state")).to_contain_text(words)


# -- one visit is enough


def test_after_one_visit_to_a_wall_its_transits_open_without_a_network_and_after_a_kill(
    phone: Phone, host: Host, site: Path
) -> None:
    address = host.start()
    with phone.on() as context:
        page = context.pages[0]
        page.goto(f"{address}/W/W3/index.html")
        state(page, CURRENT)
        transits = page.locator(".list.transits tbody th a").all_text_contents()
        page.wait_for_timeout(500)
        assert phone.kill() > 2
    host.stop()
    asked = len(host.asked)
    with phone.on() as context:
        page = context.new_page()
        errors: list[str] = []
        page.on("pageerror", lambda error: errors.append(str(error)))
        assert len(transits) >= 4
        for transit in transits:
            page.goto(f"{address}/T/{transit.strip()}")  # cold, as from a label
            assert page.url == f"{address}/T/{transit.strip()}/index.html"
            assert page.locator("#layout svg.drawing").first.is_visible()
            assert page.evaluate("getComputedStyle(document.querySelector('.plate')).display") == "flex"
            says(page, NO_NETWORK)
        page.locator(".foot a", has_text="Whole job").click()
        expect(page).to_have_url(f"{address}/index.html")
        page.goto(f"{address}/")
        expect(page).to_have_url(f"{address}/index.html")
        page.goto(f"{address}/find/index.html")
        page.locator("#find").fill("p101")
        expect(page.locator(".found-tag b").first).to_have_text("P-101")
        page.goto(f"{address}/T/B2-017/card.html")  # paper is not taken along: said, not broken
        expect(page.locator("h1")).to_have_text("B2-017")
        expect(page.locator("h2").first).to_have_text("This page is not on this phone")
        assert errors == [] and len(host.asked) == asked
        # What was kept is what was built, to the letter.
        page.goto(f"{address}/T/B2-017/index.html")
        kept = page.evaluate("fetch(location.href).then((answer) => answer.text())")
        assert kept == (site / "T/B2-017/index.html").read_text(encoding="utf-8")
        host.start()
        page.evaluate("dispatchEvent(new Event('online'))")
        says(page, CURRENT)


# No entry goes any more: the worker stands where it has written a newer one.
STAND = "void (Cache.prototype.delete = () => new Promise(() => {}))"
NOTED = """async () => {
  for (;;) {
    const [name] = await caches.keys();
    const all = (await (await caches.open(name)).keys()).map((request) => decodeURIComponent(request.url));
    const times = all.filter((url) => url.includes("offline/asked")).map((url) => url.split("?")[1]);
    if (times.length > 1) return times;
    await new Promise((go) => setTimeout(go, 20));
  }
}"""


def test_a_phone_that_dies_while_it_notes_the_time_knows_the_newer_one(phone: Phone, host: Host) -> None:
    address = host.start()
    with phone.on() as context:
        page = context.pages[0]
        page.goto(f"{address}/W/W3/index.html")
        state(page, CURRENT)
        (worker,) = context.service_workers
        worker.evaluate(STAND)
        page.evaluate("dispatchEvent(new Event('online'))")
        older, newer = sorted(page.evaluate(NOTED))
        assert phone.kill() > 2
    host.stop()
    with phone.on() as context:
        page = context.new_page()
        page.goto(f"{address}/T/B2-017")
        says(page, NO_NETWORK)
        (worker,) = context.service_workers
        assert worker.evaluate("state().then((known) => known.asked)") == newer > older
        host.start()
        page.evaluate("dispatchEvent(new Event('online'))")
        says(page, CURRENT)
        # Asked for after that note: the older ones are gone with it.
        assert worker.evaluate("note('2100-01-01T00:00:00Z').then(() => state()).then((known) => known.asked)") == (
            "2100-01-01T00:00:00Z"
        )
        assert worker.evaluate("caches.open(NAME).then(notes).then((times) => times.length)") == 1
        # A clock that was set back: what the phone knows last counts.
        worker.evaluate("note('2026-01-01T00:00:00Z')")
        assert worker.evaluate("state().then((known) => known.asked)") == "2026-01-01T00:00:00Z"


def test_a_transit_scanned_keeps_its_wall(phone: Phone, host: Host) -> None:
    address = host.start()
    with phone.on() as context:
        page = context.pages[0]
        page.goto(f"{address}/T/B2-022/")
        says(page, CURRENT)
        host.stop()
        page.goto(f"{address}/T/B2-018")
        expect(page.locator("h1")).to_have_text("B2-018")


def test_an_area_is_taken_along_from_a_folder_under_a_host(phone: Phone, site: Path, tmp_path: Path) -> None:
    (tmp_path / "host" / "JOB7").parent.mkdir()
    shutil.copytree(site, tmp_path / "host" / "JOB7")
    shutil.copy(site / "404.html", tmp_path / "host")
    with _running(Host(tmp_path / "host")) as host, phone.on() as context:
        address = f"{host.start()}/JOB7"
        page = context.pages[0]
        page.goto(f"{address}/index.html")
        row = page.locator(".copy-area", has_text="Area Switchgear")
        expect(row).to_contain_text("Transits: ")
        expect(row).to_contain_text(" kB.")  # before it is asked for
        page.evaluate(
            """() => { window.seen = []; new MutationObserver(() => {
              const bar = document.querySelector(".copy progress");
              if (bar) seen.push(bar.value / bar.max);
            }).observe(document.querySelector(".copy-areas"), {childList: true, subtree: true}); }"""
        )
        row.get_by_role("button", name="Take this area along").click()
        expect(row.locator(".copy-here")).to_have_text("Taken along")
        seen = page.evaluate("seen")
        assert seen == sorted(seen) and seen[-1] == 1, seen
        expect(page.locator(".copy-area", has_text="Area Pumps").locator("button")).to_be_visible()
        host.stop()
        for transit in _transits(site, "Switchgear"):
            page.goto(f"{address}/T/{transit}")
            expect(page).to_have_url(f"{address}/T/{transit}/index.html")
        page.goto(f"{address}/T/B2-017")  # of another area
        expect(page.locator("h2").first).to_have_text("This page is not on this phone")
        expect(page.locator("#again")).to_have_attribute("href", f"{address}/T/B2-017/index.html")


def _transits(site: Path, area: str) -> list[str]:
    listed = json.loads((site / "offline" / "list.json").read_text(encoding="utf-8"))
    return [id for id, (number, *_) in listed["transits"].items() if listed["packs"][number]["area"] == area]


# -- builds never mix


@dataclass
class Builds:
    """Three builds of one job, each with one revision more; ``--build`` of its style sheet says which it is."""

    b: Path
    c: Path
    d: Path


@pytest.fixture(scope="module")
def builds(tmp_path_factory: pytest.TempPathFactory) -> Builds:
    folder = tmp_path_factory.mktemp("builds")
    write_starter(folder / "job")
    cables = folder / "job" / "cables.csv"
    text = cables.read_text(encoding="utf-8")
    issue(folder / "job", [], "A")
    for revision, thickness in (("B", "9.5"), ("C", "9.6"), ("D", "9.7")):
        cables.write_text(text.replace("D4,8.0,0.2", f"D4,{thickness},0.2"), encoding="utf-8")
        assert [item.id for item in issue(folder / "job", [], revision).issued] == ["A1-001"]
        site = folder / revision
        work = build_site(folder / "job", site)
        with (site / TRANSIT_STYLES).open("a", encoding="utf-8", newline="\n") as sheet:
            sheet.write(f':root {{ --build: "{revision}"; }}\n')
        write_offline(site, work, PAGES, ["en"])
        # Hosts tell a file's age to the second, and nobody publishes two builds within one.
        age = 1_700_000_000 + 60 * ord(revision)
        for file in (path for path in site.rglob("*") if path.is_file()):
            os.utime(file, (age, age))
    return Builds(*(folder / revision for revision in "BCD"))


# Resolves when one build's cache is left: pages under their policy know no wait_for_function.
ONE_CACHE = (
    """async () => { while ((await caches.keys()).length > 1) await new Promise((go) => setTimeout(go, 20)); }"""
)
# What becomes of the site's newer build when it is fetched now.
FETCHED = """async () => {
  const registration = await navigator.serviceWorker.ready;
  await registration.update().catch(() => {});
  while (registration.installing) await new Promise((go) => setTimeout(go, 20));
  return registration.waiting ? "waits" : "refused";
}"""
STYLE = "getComputedStyle(document.documentElement).getPropertyValue('--build').replaceAll('\"', '')"


def revision(page: Page) -> str:
    """Return the revision that page and style sheet agree on."""
    shown = page.locator(".rev strong").inner_text()
    assert page.evaluate(STYLE) == shown
    return shown


def test_a_new_build_takes_over_whole_or_not_at_all(phone: Phone, builds: Builds, tmp_path: Path) -> None:
    cut = tmp_path / "cut"  # build C, with one file of another build among its files, as while a host copies
    shutil.copytree(builds.c, cut)
    (spoilt,) = [pack for pack in _packs(cut) if pack not in _packs(builds.b) and _is_of_wall(cut, pack)]
    shutil.copy(builds.b / "offline" / next(iter(_packs(builds.b))), cut / "offline" / spoilt)
    with _running(Host(builds.b)) as host, phone.on() as context:
        address = host.start()
        page = context.pages[0]
        page.goto(f"{address}/T/A1-001/index.html")
        says(page, CURRENT)
        assert revision(page) == "B"
        host.site = cut
        page.reload()
        says(page, "Kept, but older than the site.")
        assert page.evaluate(FETCHED) == "refused"
        page.reload()
        assert revision(page) == "B"  # not a file of C is used
        host.stop()
        page.goto(f"{address}/T/A1-001")
        says(page, NO_NETWORK)
        assert revision(page) == "B"
        host.site = builds.c
        host.start()
        other = context.new_page()  # a second page of the job is open: nothing is changed under it
        other.goto(f"{address}/T/A1-002/index.html")
        says(other, "A newer site is here")
        page.reload()
        assert revision(page) == "B"
        host.stop()  # C is whole on the phone: taking it over needs no network
        page.locator("#copy-line").click()
        page.get_by_role("button", name="Open the newer site").click()
        expect(page.locator(".rev strong")).to_have_text("C")
        assert revision(page) == "C"
        says(other, "A newer site is here")
        other.close()
        page.evaluate(ONE_CACHE)  # B goes
        host.site = builds.d
        host.start()
        page.reload()
        says(page, "A newer site is here")
        page.goto(f"{address}/T/A1-001")  # the only page there is: the next one opened is of the new build
        expect(page.locator(".rev strong")).to_have_text("D")
        assert revision(page) == "D"
        says(page, CURRENT)
        host.stop()
        page.goto(f"{address}/T/A1-002/index.html")  # kept before, so kept in the new build
        expect(page.locator("h1")).to_have_text("A1-002")


def _packs(site: Path) -> set[str]:
    return {path.name for path in (site / "offline").glob("*.pack")}


def _is_of_wall(site: Path, name: str) -> bool:
    return "T/A1-001/index.html" in json.loads(gzip.decompress((site / "offline" / name).read_bytes()))["pages"]


def test_labels_lead_to_their_revision_older_and_newer(phone: Phone, builds: Builds) -> None:
    with _running(Host(builds.c)) as host, phone.on() as context:
        address = host.start()
        page = context.pages[0]
        page.goto(f"{address}/T/A1-001/index.html")
        says(page, CURRENT)
        host.stop()
        for label in ("T/A1-001/C", "T/A1-001/C/", "T/A1-001", "T/A1-001/"):
            page.goto(f"{address.upper().replace('HTTP', 'http')}/{label}")
            assert page.url == f"{address}/T/A1-001/index.html"
        for old in "AB":
            page.goto(f"{address}/T/A1-001/{old}")
            assert page.url == f"{address}/T/A1-001/{old}/index.html"
            expect(page.locator("h2").first).to_have_text("Your label is old")
            page.locator("a.current").click()
            expect(page).to_have_url(f"{address}/T/A1-001/index.html")
        page.goto(f"{address}/T/A1-001/D")
        expect(page.locator("h2").first).to_have_text("This card is newer than this phone")
        assert page.locator(".two-revisions b").all_text_contents() == ["D", "C"]
        page.locator("#kept").click()
        expect(page).to_have_url(f"{address}/T/A1-001/index.html")
        page.goto(f"{address}/T/A1-001/D")
        host.site = builds.d
        host.start()
        # With a network one press is enough: the phone catches up, and never shows the older one.
        page.locator("#again").click(no_wait_after=True)
        expect(page).to_have_url(f"{address}/T/A1-001/index.html")
        expect(page.locator(".rev strong")).to_have_text("D")
        assert revision(page) == "D"


# -- what is said of it


def test_what_this_browser_cannot_promise_is_said(phone: Phone, browser: Browser, host: Host, site: Path) -> None:
    address = host.start()
    # From a disk.
    with phone.on() as context:
        page = context.pages[0]
        page.goto((site / "T/B2-017/index.html").as_uri())
        says(page, "From a disk, as it was put there.")
        expect(page.locator(".copy-limits")).to_contain_text("Opened from a disk")
        expect(page.locator(".copy-limits")).not_to_contain_text("private")
        page.goto(f"{address}/T/B2-017/index.html")
        says(page, CURRENT)
        expect(page.locator(".copy-limits li")).not_to_have_count(0)
        expect(page.locator(".copy-limits")).not_to_contain_text("looks like a private window")
    # Plain http under a host's name.
    named = Phone(browser, phone.profile, ("--host-resolver-rules=MAP gate.example 127.0.0.1",))
    with named.on() as context:
        page = context.pages[0]
        page.goto(address.replace("127.0.0.1", "gate.example") + "/T/B2-017/index.html")
        says(page, "Not kept by this browser: needs the network.")
        expect(page.locator(".copy-limits")).to_contain_text("Served without https")
        expect(page.locator(".copy-do")).to_have_count(0)
    # A private window as far as it can be seen (this browser hides it, so it is told to act as others do), and a
    # view inside another app.
    context = browser.new_context(viewport=PHONE, user_agent="Mozilla/5.0 (Linux; Android 14; x; wv) Chrome/130.0")
    context.set_default_timeout(PATIENCE)
    context.add_init_script("StorageManager.prototype.getDirectory = () => Promise.reject(new DOMException('no'))")
    page = context.new_page()
    page.goto(f"{address}/T/B2-017/index.html")
    expect(page.locator(".copy-limits")).to_contain_text("This looks like a private window")
    expect(page.locator(".copy-limits")).to_contain_text("This looks like a view inside another app")
    context.close()
    # Safari forgets after seven days, unless the site stands on the home screen.
    agent = "Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) AppleWebKit/605.1.15 Version/17.5 Mobile/15E148 Safari/604.1"
    for standalone in (False, True):
        context = browser.new_context(viewport=PHONE, user_agent=agent)
        context.set_default_timeout(PATIENCE)
        context.add_init_script(
            f"Object.defineProperty(navigator, 'standalone', {{value: {str(standalone).lower()}}})"
        )
        page = context.new_page()
        page.goto(f"{address}/T/B2-017/index.html")
        says(page, CURRENT)
        expect(page.locator(".copy-limits li")).not_to_have_count(0)
        seven = page.locator(".copy-limits li", has_text="seven days")
        expect(seven).to_have_count(0 if standalone else 1)
        context.close()


def test_no_room_is_said_and_what_was_kept_stays(phone: Phone, host: Host) -> None:
    address = host.start()
    with phone.on() as context:
        page = context.pages[0]
        page.goto(f"{address}/W/W3/index.html")
        state(page, CURRENT)
        devtools = context.new_cdp_session(page)
        devtools.send("Storage.overrideQuotaForOrigin", {"origin": address, "quotaSize": 1000})
        page.goto(f"{address}/index.html")
        row = page.locator(".copy-area", has_text="Area Switchgear")
        row.locator("button").click()
        expect(page.locator(".copy-failed")).to_contain_text("The phone has no room for all of it.")
        host.stop()
        page.goto(f"{address}/T/B2-017")
        expect(page.locator("h1")).to_have_text("B2-017")


@pytest.mark.parametrize(
    "page_of", ["offline/newer.html#B2-017/C/B", "offline/away.html#T/B2-017/card.html", "T/B2-017/"]
)
def test_what_the_phone_says_is_open_to_everyone(phone: Phone, host: Host, page_of: str) -> None:
    address = host.start()
    with phone.on() as context:
        page = context.pages[0]
        page.goto(f"{address}/{page_of}")
        says(page, "Kept.")
        page.evaluate(AXE)
        by_day, kept = violations(page, RULES)
        assert "color-contrast-enhanced" in kept
        page.emulate_media(color_scheme="dark")
        by_night, _ = violations(page, COLOURS)
    assert by_day == [] and by_night == []
