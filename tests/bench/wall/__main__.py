"""How small and how quick the page at the wall is: ``python -m tests.bench.wall [TRANSITS]``.

The demo in all its languages is built and opened in a browser. Files are counted as a host sends them, gzipped;
times are medians of RUNS. A throttled phone is the browser's processor made 4 times slower and its network given
the 1.6 Mbit/s and 150 ms of the profile that browsers' tools call slow 4G. Then TRANSITS transits, copies
of the demo's with IDs and tags of their own, are taken along from this machine. What is printed is for a person
to read; no test is decided by it.
"""

import gzip
import os
import statistics
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from playwright.sync_api import BrowserContext, Page, Playwright, sync_playwright

from generator.pages.own_pages import load_whole
from generator.pages.plugin import write_site
from tests.bench.pages.copies import many
from tests.browser.chromium import FLAGS, find_or_install
from tests.browser.demo_site import DEMO, Host

RUNS = 5
TRANSITS = 1000
SLOWER = 4
NETWORK = {"offline": False, "latency": 150, "downloadThroughput": 1_638_400 / 8, "uploadThroughput": 675_000 / 8}

# The moment at which the drawing is laid out and the frame after it has begun: it has been painted.
SEEN = """requestAnimationFrame(function look() {
  const drawing = document.querySelector("#layout svg.drawing");
  const box = drawing && drawing.getBoundingClientRect();
  if (box && box.width > 100 && box.top < innerHeight) requestAnimationFrame(() => { window.seenAt = performance.now(); });
  else requestAnimationFrame(look);
});"""
KEEP = """async () => {
  const worker = (await navigator.serviceWorker.ready).active;
  const ask = (question) => new Promise((resolve) => {
    const channel = new MessageChannel();
    channel.port1.onmessage = (event) => { if (event.data.state || event.data.failed) resolve(event.data); };
    worker.postMessage(question, [channel.port2]);
  });
  const areas = new Set((await ask({ask: "state"})).state.packs.map((pack) => pack.area));
  const before = (await navigator.storage.estimate()).usage, began = performance.now();
  let answer = null;
  for (const area of areas) {
    answer = await ask({ask: "keep", area: area});
    if (answer.failed) return answer;
  }
  const took = performance.now() - began;
  await new Promise((resolve) => setTimeout(resolve, 1000));
  return {took: took, bytes: (await navigator.storage.estimate()).usage - before, packs: answer.state.packs};
}"""


def packed(path: Path) -> int:
    """Return the bytes of a file as a host sends it: text gzipped, the rest as it is."""
    content = path.read_bytes()
    return (
        len(gzip.compress(content, 9)) if path.suffix in (".html", ".css", ".js", ".svg", ".json") else len(content)
    )


@contextmanager
def browser(driver: Playwright, profile: Path) -> Iterator[BrowserContext]:
    """Start a phone's browser with a profile that stays."""
    context = driver.chromium.launch_persistent_context(
        profile, executable_path=find_or_install(), args=FLAGS, viewport={"width": 360, "height": 740}
    )
    yield context
    context.close()


def throttled(page: Page, network: bool) -> None:
    """Make the browser as slow as a phone of the middle sort, and its network too where asked."""
    tools = page.context.new_cdp_session(page)
    tools.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    if network:
        tools.send("Network.enable")
        tools.send("Network.emulateNetworkConditions", NETWORK)


def seen_ms(page: Page, url: str) -> float:
    """Open a page and return after how many ms its layout was seen."""
    page.goto(url)
    page.wait_for_timeout(200)
    for _ in range(100):
        at = page.evaluate("window.seenAt")
        if at:
            return float(at)
        page.wait_for_timeout(50)
    raise SystemExit(f"{url}: no layout was seen")


def line(what: str, value: float, target: float, unit: str) -> None:
    """Print a figure beside its target."""
    print(
        f"{what:58} {value:9.1f} {unit:3}  target {target:g} {unit}{'' if value <= target else '  MISSED'}",
        flush=True,
    )


def sizes(site: Path, driver: Playwright, folder: Path) -> str:
    """Print what the fullest page weighs and loads; return its address."""
    pages = sorted(site.glob("T/*/index*.html"), key=packed)
    fullest = pages[-1].relative_to(site).as_posix()
    print(f"the fullest transit of {len(pages)} pages: {fullest}, {pages[-1].stat().st_size / 1000:.1f} kB unpacked")
    host = Host(site)
    address = host.start()
    asked: list[str] = []
    with browser(driver, folder / "sizes") as context:
        page = context.pages[0]
        page.on("request", lambda request: asked.append(request.url.removeprefix(address + "/").partition("#")[0]))
        page.goto(f"{address}/{fullest}")
        page.evaluate("document.fonts.ready")
        page.wait_for_selector(".copy-here", state="attached")
    host.stop()
    own = {path for path in asked if (site / path).is_file() and not path.startswith(("offline/", "worker.js"))}
    fonts = {path for path in own if path.endswith(".woff2")}
    scripts = {path for path in own if path.endswith(".js")}
    behind = {path.lstrip("/") for path in host.asked} - own
    line("page, gzipped", packed(site / fullest) / 1000, 40, "kB")
    line("first load without fonts, gzipped", sum(packed(site / path) for path in own - fonts) / 1000, 120, "kB")
    line("fonts of the first load", sum(packed(site / path) for path in fonts) / 1000, 80, "kB")
    line("scripts of the page, gzipped", sum(packed(site / path) for path in scripts) / 1000, 25, "kB")
    kept = sum(packed(site / path) for path in behind if (site / path).is_file())
    print(f"fetched behind it, to be kept: {kept / 1000:.1f} kB in {len(behind)} requests")
    return fullest


def times(site: Path, driver: Playwright, folder: Path, page_of: str) -> None:
    """Print when the layout is seen: first visit on a slow network, then from what the phone keeps."""
    host = Host(site, gzipped=True)
    url = f"{host.start()}/{page_of}"
    first, kept, again = [], [], []
    for run in range(RUNS):
        with browser(driver, folder / f"first-{run}") as context:
            page = context.new_page()
            page.add_init_script(SEEN)
            throttled(page, network=True)
            first.append(seen_ms(page, url))
    with browser(driver, folder / "kept") as context:
        page = context.new_page()
        page.goto(url)
        page.wait_for_selector(".copy-here", state="attached")
    host.stop()
    for _ in range(RUNS):  # a cold start of the browser each time
        with browser(driver, folder / "kept") as context:
            page = context.new_page()
            page.add_init_script(SEEN)
            throttled(page, network=False)
            kept.append(seen_ms(page, url))
            page.goto("about:blank")
            again.append(seen_ms(page, url))
    line("layout seen, first visit, throttled", statistics.median(first), 1500, "ms")
    line("layout seen, kept, host gone, browser just started", statistics.median(kept), 500, "ms")
    line("layout seen, kept, host gone, another time", statistics.median(again), 500, "ms")


def taken_along(driver: Playwright, folder: Path, count: int) -> None:
    """Print how long many transits take to be taken along, and how much room they need."""
    site = folder / "many"
    work = many(load_whole(DEMO), count)
    write_site(work, DEMO, site)
    host = Host(site)
    address = host.start()
    with browser(driver, folder / "taking") as context:
        page = context.pages[0]
        page.goto(f"{address}/find/index.html")
        page.evaluate("navigator.serviceWorker.ready.then(() => 1)")
        page.wait_for_timeout(1500)
        found: dict[str, Any] = page.evaluate(KEEP)
        if found.get("failed"):
            raise SystemExit(f"not taken along: {found}")
    host.stop()
    sent = sum(pack["bytes"] for pack in found["packs"])
    languages = len(work.definition.job.languages)
    print(f"{count} transits in {languages} languages, {len(found['packs'])} packs, {sent / 1e6:.2f} MB sent")
    line(f"{count} transits taken along", found["took"] / 1000, 2, "s")
    line(f"{count} transits on the phone", found["bytes"] / 1e6, 6, "MB")


def main(count: int) -> None:
    """Measure everything and print it."""
    with TemporaryDirectory() as top, sync_playwright() as driver:
        folder = Path(top)
        if hasattr(os, "getloadavg"):
            print(f"processes waiting for this machine's {os.cpu_count()} processors: {os.getloadavg()[0]:.1f}")
        write_site(load_whole(DEMO), DEMO, folder / "site")
        fullest = sizes(folder / "site", driver, folder)
        times(folder / "site", driver, folder, fullest)
        taken_along(driver, folder, count)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else TRANSITS)
