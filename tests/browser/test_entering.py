"""A whole transit entered at the wall: every step, value, measurement and photo, with the network gone, up to the
as-built page. The outside judges are the published JSON Schema, ``wallwork collect``, and Pillow for photos."""

import base64
import hashlib
import io
import json
import shutil
import zipfile
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from PIL import Image, ImageDraw
from playwright.sync_api import Browser, Locator, Route, expect

from generator.collect import collect
from generator.engine.fit import diameter_table
from generator.model.pack import TransitPack
from generator.pages.publish import build_site
from generator.pages.render import Pages
from generator.source.schema import schemas
from generator.workpack import compute_one, load, read, with_reentries
from tests.browser.demo_site import DEMO, Host
from tests.browser.phone import FITTER, INSPECTOR, Phone, holding
from tests.browser.test_access import AXE, COLOURS, RULES, violations
from tests.browser.test_offline import CURRENT, says, state
from tests.browser.test_offline import Phone as Profile
from tests.browser.test_paper import read_codes
from tests.browser.visit import visiting

KINDS = {"B4-032": "welded frame", "B5-041": "round frame in a sleeve", "B5-042": "split seal"}
SCHEMA = Draft202012Validator(schemas()["record.schema.json"])


def snapshot(turned: int = 6, size: tuple[int, int] = (4032, 3024)) -> bytes:
    """Return a photo of 12 MP as a phone held upright stores it: lying, with position and a mark to turn it."""
    picture = Image.new("RGB", size, (90, 90, 90))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 0, size[0] // 2, size[1] // 2), fill=(220, 30, 30))  # upper left as stored
    draw.rectangle((size[0] // 2, 0, size[0], size[1] // 2), fill=(30, 30, 220))
    exif = Image.Exif()
    exif[0x010F] = "PhoneMaker"
    exif[0x0112] = turned
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 0.0), 3: "W", 4: (0.0, 7.0, 39.0)})
    out = io.BytesIO()
    picture.save(out, "JPEG", exif=exif)
    return out.getvalue()


def take(phone: Phone, button: Locator, photo: bytes) -> None:
    with phone.page.expect_file_chooser() as asked:
        button.click()
    asked.value.set_files({"name": "IMG_0417.jpg", "mimeType": "image/jpeg", "buffer": photo})


# Presses and types as a person does, but from within the page: a whole transit takes some 300 of these.
HANDS = """async ([inspector, photos]) => {
  const sheet = document.querySelector("dialog.entry");
  const until = async (holds, what) => {
    for (const end = Date.now() + 60000; !holds(); ) {
      if (Date.now() > end) throw new Error("waited in vain: " + what + " " + sheet.innerText);
      await new Promise((go) => setTimeout(go, 5));
    }
  };
  const type = (name, value) => {
    const field = sheet.querySelector("#entry-" + name);
    field.value = value;
    field.dispatchEvent(new Event("input", {bubbles: true}));
  };
  const keep = async (what) => {
    sheet.querySelector("footer > button[type=submit]").click();
    await until(() => !sheet.open, what);
  };
  const shown = (what, holds) => until(holds, what);
  for (const step of document.querySelectorAll(".step[data-key]")) {
    const key = step.dataset.key;
    for (const line of step.querySelectorAll(".reads li[data-ask]")) {
      const value = line.querySelector(".value");
      if (!value) continue;
      if (line.dataset.ask === "photo") {
        const chooser = document.querySelector("input[type=file]");
        chooser.click = () => {};  // the system's own window is not the page's
        value.click();
        const files = new DataTransfer();
        files.items.add(new File([Uint8Array.from(atob(photos.shift()), (c) => c.charCodeAt(0))], "a.jpg", {type: "image/jpeg"}));
        chooser.files = files.files;
        chooser.dispatchEvent(new Event("change"));
        await shown(key + " photo", () => value.textContent.includes("kept"));
        continue;
      }
      value.click();
      type("value", line.dataset.most || "noted at " + key);
      await keep(key);
      await shown(key + " value", () => value.classList.contains("given") && !value.classList.contains("outside"));
    }
    if (step.dataset.form === "measure") {
      const own = wallwork.work.types.filter((type) => type.step === key);
      for (const one of own) {
        step.querySelectorAll(".forms button")[own.indexOf(one)].click();
        type("one", one.likely);
        type("two", one.likely);
        type("least", wallwork.measure.written(one.gap[0]));
        type("most", wallwork.measure.written(one.gap[1]));
        if (!sheet.querySelector(".peels")) throw new Error(sheet.innerText);
        await keep(key);
      }
    } else if (step.dataset.form === "row" && step.querySelector(".forms .first")) {
      step.querySelector(".forms .first").click();
      await shown(key + " row", () => step.querySelector(".entries").textContent.includes("within their windows"));
    } else if (step.dataset.form === "test") {
      step.querySelector(".forms .first").click();
      type("kind", "hose");
      type("figures", "2 bar, 5 min");
      type("who", inspector[0]);
      type("who-role", inspector[1]);
      await keep(key);
    }
    step.querySelector(".tick").click();
    if (sheet.open) {
      type("who", inspector[0]);
      type("who-role", inspector[1]);
      await keep(key);
    }
    await shown(key, () => step.querySelector(".tick").getAttribute("aria-pressed") === "true");
  }
}"""


def labelled(browser: Browser, address: str, walls: set[str]) -> dict[str, str]:
    """Return the path that each transit's label leads to, as its QR code reads; the test's host stands for its name."""
    found = {}
    with visiting(browser, address, viewport={"width": 800, "height": 1200}, device_scale_factor=2) as visit:
        visit.as_paper()
        for wall in sorted(walls):
            visit.goto(f"{address}/W/{wall}/labels.html")
            for text in read_codes(visit.page.screenshot(full_page=True)):
                path = text.removeprefix("HTTPS://GATE-2.EXAMPLE.ORG")
                found[path.split("/")[2]] = path
    return found


@pytest.fixture(scope="module")
def handed_in(browser: Browser, site: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Records of three transits as a phone exported them: each from its label, cold and without a network.

    The walls were looked at once, then the browser was killed and the host lost for good.
    """
    folder = tmp_path_factory.mktemp("handed-in")
    # As from a camera, no two are alike: a photo is known by its bytes.
    photos = [base64.b64encode(snapshot(1, (320, 240 + n))).decode() for n in range(8)]
    walls = {planned(transit).wall_id for transit in KINDS}
    host, profile = Host(site), Profile(browser, folder / "profile")
    address = host.start()
    labels = labelled(browser, address, walls)
    with profile.on() as context:
        for wall in walls:
            context.pages[0].goto(f"{address}/W/{wall}/index.html")
            state(context.pages[0], CURRENT)
        context.pages[0].wait_for_timeout(500)  # as long as it takes to put a phone away
        assert profile.kill() > 2
    host.stop()
    asked, heard, files = len(host.asked), [], {}
    with profile.on() as context:
        for transit in KINDS:
            phone = Phone(context.new_page())
            phone.page.on("pageerror", lambda error: heard.append(str(error)))
            phone.open(address + labels[transit])
            assert phone.page.url == f"{address}/T/{transit}/index.html"
            phone.step("right-place").locator(".tick").click()
            if transit == next(iter(KINDS)):
                phone.say_who()  # once a phone
            expect(phone.step("right-place").locator(".tick")).to_have_attribute("aria-pressed", "true")
            phone.take_back("right-place")
            phone.page.evaluate(HANDS, [INSPECTOR, photos])
            phone.settle()
            expect(phone.page.locator("#kept")).to_contain_text("yet exported")
            says(phone.page, "Kept. No network")
            expect(phone.page.locator("#held")).to_contain_text("not yet exported")
            files[transit] = phone.export(folder)
            expect(phone.page.locator("#kept")).to_contain_text("Every entry is exported")
            phone.page.close()
    assert heard == [] and len(host.asked) == asked
    return files


@pytest.fixture(scope="module")
def as_built(handed_in: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The demo after those records were collected: its folder and its site."""
    folder = tmp_path_factory.mktemp("job")
    shutil.copytree(DEMO.parent, folder / "workpacks")
    job = folder / "workpacks" / DEMO.name
    came = collect(job, list(handed_in.values()))
    assert [(item.what, item.looks, item.problems) for item in came] == [("kept", (), ())] * len(KINDS)
    build_site(job, folder / "site")
    return job, folder / "site"


@pytest.mark.parametrize("transit", KINDS)
def test_a_transit_entered_at_the_wall_comes_home_whole(
    handed_in: dict[str, Path], as_built: tuple[Path, Path], transit: str
) -> None:
    job, site = as_built
    with zipfile.ZipFile(handed_in[transit]) as opened:
        assert opened.testzip() is None
        record: dict[str, Any] = json.loads(opened.read("record.json"))
        photos = [name for name in opened.namelist() if name != "record.json"]
        for name in photos:
            assert hashlib.sha256(opened.read(name)).hexdigest() == name[7:71]
    assert list(SCHEMA.iter_errors(record)) == []
    pack = load(job)
    work = pack.transits[transit]
    assert record["work"] == work.digest and set(record["steps"]) == {step.key for step in work.steps}
    assert all(step["done"] for step in record["steps"].values())
    assert {person["name"] for person in record["people"].values()} == {FITTER[0], INSPECTOR[0]}
    holds = [step.key for step in work.steps if step.kind in ("hold", "witness")]
    for key in holds:
        assert record["people"][record["steps"][key]["by"]]["name"] == INSPECTOR[0]
        assert record["steps"][key]["note"] == f"Entered by {FITTER[0]}"
    measured = {tag for entry in record["measured"] for tag in entry["cables"]}
    assert measured == {cable.tag for cable in work.cables if not cable.assumed}
    built = pack.as_built[transit]
    assert built.state == "recorded", [str(deviation) for deviation in built.open]
    page = (site / "T" / transit / "index.html").read_text(encoding="utf-8")
    assert "Recorded" in page and FITTER[0] in page and INSPECTOR[0] in page
    assert page.count("../../photos/") >= 2 * len(photos) > 0
    for kind in ("counts", "rows", "bolts", "tests"):
        assert kind in record or transit == "B5-042" or kind == "tests"


def test_a_photo_is_shrunk_turned_and_says_nothing_of_the_place(
    browser: Browser, address: str, tmp_path: Path
) -> None:
    photo = snapshot()
    with Image.open(io.BytesIO(photo)) as before:
        assert before.size == (4032, 3024) and before.getexif().get_ifd(0x8825)  # the judge sees what must go
    with holding(browser, address, "B5-042") as phone:
        phone.page.locator("#step-1 .tick").click()
        phone.say_who()
        take(phone, phone.step("right-place").locator(".forms button", has_text="Photo"), photo)
        expect(phone.step("right-place").locator(".entries")).to_contain_text("Photo")
        file = phone.export(tmp_path)
    with zipfile.ZipFile(file) as opened:
        (name,) = [name for name in opened.namelist() if name != "record.json"]
        data = opened.read(name)
    with Image.open(io.BytesIO(data)) as shown:
        assert shown.format == "JPEG" and shown.size == (1200, 1600)  # upright, its longer side shrunk
        assert not dict(shown.getexif()) and b"PhoneMaker" not in data and b"Exif" not in data
        # Turned a quarter clockwise: what was stored at the upper left is seen at the upper right.
        red, blue = shown.getpixel((900, 400)), shown.getpixel((900, 1200))
        assert isinstance(red, tuple) and red[0] > 180 > 80 > red[2]
        assert isinstance(blue, tuple) and blue[2] > 180 > 80 > blue[0]
    assert len(data) < 400_000


def test_a_value_out_of_its_window_needs_a_reason(browser: Browser, address: str) -> None:
    with holding(browser, address, "B2-017") as phone:
        page = phone.page
        phone.tick("right-place", FITTER)
        line = phone.step("thickness").locator(".reads li[data-ask]")
        line.locator(".value").click()
        for key in "25.1":
            phone.sheet.locator(".pad button", has_text=key).first.click()
        phone.refused("0.1 mm past the window")
        assert len(phone.kept()) == 1
        page.fill("#entry-reason", "doubler under the gauge")
        phone.keep()
        expect(line.locator(".value")).to_have_text("25.1 mm")
        assert phone.kept()[-1]["data"]["reason"] == "doubler under the gauge"
        phone.write(line, "25")  # the window's end is in it: no reason, and the later value counts
        assert [entry["data"].get("reason") for entry in phone.kept()][1:] == ["doubler under the gauge", None]
        for odd in ("abc", "1e3", "12,,5"):
            line.locator(".value").click()
            page.fill("#entry-value", odd)
            phone.refused("Write a number")
            phone.sheet.locator(".back").click()
        assert len(phone.kept()) == 3 and phone.heard == []


def test_nobody_releases_a_hold_point_to_himself(browser: Browser, address: str) -> None:
    with holding(browser, address, "B2-017") as phone:
        phone.tick("right-place", FITTER)
        phone.step("permits").locator(".tick").click()
        phone.page.fill("#entry-who", FITTER[0])
        phone.refused("second person")
        phone.page.fill("#entry-who", INSPECTOR[0])
        phone.keep()
        expect(phone.step("permits")).to_contain_text(INSPECTOR[0])


def test_what_is_not_as_planned_is_entered_with_its_reason(browser: Browser, address: str, tmp_path: Path) -> None:
    with holding(browser, address, "B2-017") as phone:
        page = phone.page
        phone.tick("right-place", FITTER)
        phone.step("tags").locator(".forms button", has_text="Not on the list").click()
        page.fill("#entry-tag", "X-999")
        page.fill("#entry-diameter", "12,5")
        page.fill("#entry-why", "planner called, stays out")
        phone.keep()
        phone.step("tags").locator(".forms button", has_text="Listed, not pulled").click()
        page.select_option("#entry-tag", "D-401")
        phone.keep()
        phone.step("place-row.1.2").locator(".forms button", has_text="One is not").click()
        page.select_option("#entry-position", "2.1")
        page.fill("#entry-gap", "1.4")
        page.fill("#entry-why", "stiff cable")
        phone.keep()
        phone.step("place-row.1.2").locator(".forms .first").click()
        phone.step("place-row.1.1").locator(".forms button", has_text="One is not").click()  # and nothing else
        page.select_option("#entry-position", "1.2")
        page.fill("#entry-gap", "0.1")
        page.fill("#entry-why", "planner called")
        phone.keep()
        page.locator("#entered .entered-line", has_text="as planned").locator("button").click()
        page.fill("#entry-why", "no room on the other side")
        phone.keep()
        page.locator("#layout .block").nth(4).click()  # 1.5, a spare
        phone.sheet.locator("button", has_text="Not as drawn").click()
        page.select_option("#entry-role", "nothing")
        page.fill("#entry-why", "spare missing")
        phone.keep()
        page.locator("#entered .entered-line", has_text="No note").locator("button").click()
        page.fill("#entry-note", "two lines\nof a note")
        phone.keep()
        with zipfile.ZipFile(phone.export(tmp_path)) as opened:
            record = json.loads(opened.read("record.json"))
        assert phone.heard == []
    assert list(SCHEMA.iter_errors(record)) == []
    assert [(c["tag"], c["diameter"], c["reason"]) for c in record["unlisted"]] == [
        ("X-999", "12.5", "planner called, stays out")
    ]
    assert [c["tag"] for c in record["not_pulled"]] == ["D-401"]
    row, unsaid = record["rows"]
    assert (unsaid["row"], unsaid["within"]) == (1, False)
    assert [(g["position"], g["gap"]) for g in unsaid["exceptions"]] == [("1.2", "0.1")]
    assert (row["row"], row["within"]) == (2, True)
    assert [(g["position"], g["gap"], g["reason"]) for g in row["exceptions"]] == [("2.1", "1.4", "stiff cable")]
    assert record["working_side"]["side"] == "Cable cellar"
    assert [(p["position"], p["role"], p["reason"]) for p in record["places"]] == [
        ("1.5", "nothing", "spare missing")
    ]
    assert record["note"] == "two lines\nof a note"


def test_adding_a_cable_stays_refused_until_a_page_was_made_with_what_was_handed_in(
    browser: Browser, address: str, tmp_path: Path
) -> None:
    shutil.copytree(DEMO.parent, tmp_path / "workpacks")
    with holding(browser, address, "B2-017") as phone:
        page = phone.page
        adding, refusal = page.locator(".adding"), page.locator(".adding .refusal")
        phone.tick("right-place", FITTER)
        page.locator("#layout .block[data-position='1.5']").first.click()
        phone.sheet.locator("button", has_text="Not as drawn").click()
        page.select_option("#entry-role", "nothing")
        page.fill("#entry-why", "spare missing")
        phone.keep()
        file = phone.export(tmp_path)
        page.locator("#entered button", has_text="Handed in").click()
        phone.keep()
        expect(page.locator("#kept")).not_to_be_visible()
        adding.locator("summary").click()
        expect(refusal).to_contain_text("handed in from this phone changed the layout (1.5)")
        page.reload()
        phone.ready()
        adding.locator("summary").click()
        expect(refusal).to_contain_text("handed in from this phone changed the layout (1.5)")
        expect(adding.locator(".adding-steps")).not_to_be_visible()
        # The planner takes it in: the page that is made with it says what holds now.
        job = tmp_path / "workpacks" / DEMO.name
        (came,) = collect(job, [file])
        assert came.what == "kept"
        work = with_reentries(load(job))
        made = json.loads(zipfile.ZipFile(file).read("record.json"))["record"]
        html = Pages(work, "en", languages=("en", "pl")).transit("B2-017")
        assert f'"home":["{made}"]' in html

        def newer(route: Route) -> None:
            route.fulfill(body=html, content_type="text/html; charset=utf-8")

        page.route("**/T/B2-017/index.html*", newer)
        phone.open(f"{address}/T/B2-017/index.html?newer")
        expect(refusal).to_have_count(0)
        assert phone.heard == []


def test_adding_a_cable_is_refused_where_entries_changed_the_layout(browser: Browser, address: str) -> None:
    with holding(browser, address, "B2-017") as phone:
        page = phone.page
        adding, refusal = page.locator(".adding"), page.locator(".adding .refusal")
        adding.locator("summary").click()
        expect(adding.locator(".adding-steps")).to_be_visible()
        phone.tick("right-place", FITTER)
        phone.step("tags").locator(".forms button", has_text="Not on the list").click()
        page.fill("#entry-tag", "X-999")  # it stayed out: nothing lies otherwise
        phone.keep()
        expect(refusal).to_have_count(0)
        page.locator("#layout .block[data-position='1.5']").first.click()
        phone.sheet.locator("button", has_text="Not as drawn").click()
        page.select_option("#entry-role", "nothing")
        page.fill("#entry-why", "spare missing")
        phone.keep()
        phone.step("tags").locator(".forms button", has_text="Listed, not pulled").click()
        page.select_option("#entry-tag", "D-401")
        phone.keep()
        page.reload()
        phone.ready()
        adding.locator("summary").click()
        expect(refusal).to_contain_text("entries on this phone changed the layout (1.5, D-401)")
        expect(adding.locator(".adding-steps")).not_to_be_visible()
        expect(adding.locator(".adding-sizes")).not_to_be_visible()
        for entered in ("Place 1.5", "Not pulled"):
            page.locator(".entries li", has_text=entered).locator("button", has_text="Take back").click()
            expect(page.locator(".entries li", has_text=entered)).to_have_count(0)
        expect(refusal).to_have_count(0)
        expect(adding.locator(".adding-steps")).to_be_visible()
        assert phone.heard == []


@cache
def planned(transit: str) -> TransitPack:
    """Return a transit of the demo as it is planned."""
    return compute_one(read(DEMO)[0], transit)


def test_another_language_has_the_same_entries_and_goes_on_with_them(
    browser: Browser, address: str, tmp_path: Path
) -> None:
    with holding(browser, address, "B2-017") as phone:
        page = phone.page
        phone.tick("right-place", FITTER)
        line = phone.step("thickness").locator(".reads li[data-ask]")
        phone.write(line, "8")
        page.locator("a.language").click()
        expect(page).to_have_url(f"{address}/T/B2-017/index.pl.html")
        phone.ready()
        expect(phone.step("right-place").locator(".tick")).to_have_attribute("aria-pressed", "true")
        expect(line.locator(".value")).to_have_text("8 mm")
        phone.write(line, "9")
        page.locator("a.language").click()
        expect(page).to_have_url(f"{address}/T/B2-017/index.html")
        phone.ready()
        expect(line.locator(".value")).to_have_text("9 mm")
        expect(page.locator("#held")).to_have_text("Entries here: 3, not yet exported: 3")
        with zipfile.ZipFile(phone.export(tmp_path)) as opened:
            record = json.loads(opened.read("record.json"))
        assert phone.heard == []
    assert [value["value"] for value in record["steps"]["thickness"]["values"]] == ["9"]
    assert list(SCHEMA.iter_errors(record)) == []


# -- handing on and staying awake ------------------------------------------------------------------

# The system's share sheet is not the page's: what the page asks of it, and what it hands over, is kept.
SHEET = """(takes) => {
  window.handed = [];
  navigator.canShare = (what) => what.files.every((file) => takes.includes(file.type));
  navigator.share = async (what) => {
    if (window.refuses) throw new DOMException("", "AbortError");
    for (const file of what.files)
      handed.push([file.name, file.type, [...new Uint8Array(await file.arrayBuffer())]]);
  };
}"""


@pytest.mark.parametrize("takes", [["text/plain", "image/jpeg"], ["application/zip", "text/plain", "image/jpeg"], []])
def test_a_share_sheet_gets_what_it_takes_and_it_comes_home(
    browser: Browser, address: str, tmp_path: Path, takes: list[str]
) -> None:
    """``wallwork collect`` is the judge of what was handed over, whichever form it has."""
    with holding(browser, address, "B5-042") as phone:
        page = phone.page
        phone.tick("right-place", FITTER)
        take(phone, phone.step("right-place").locator(".forms button", has_text="Photo"), snapshot(1, (640, 480)))
        expect(phone.step("right-place").locator(".entries")).to_contain_text("Photo")
        page.evaluate(SHEET, takes)
        page.locator("#entered > button.keep").click()
        share = phone.sheet.locator("button.keep", has_text="Share")
        if not takes:
            expect(phone.sheet.locator("a.keep")).to_be_visible()
            expect(share).to_have_count(0)
            return
        page.evaluate("window.refuses = true")
        share.click()
        phone.settle()
        expect(page.locator("#held")).to_have_text("Entries here: 2, not yet exported: 2")  # it was not shared
        page.evaluate("window.refuses = false")
        share.click()
        expect(page.locator("#held")).to_have_text("Entries here: 2, all exported")
        expect(phone.sheet).not_to_be_visible()
        handed = page.evaluate("handed")
        assert phone.heard == []
    shutil.copytree(DEMO.parent, tmp_path / "workpacks")
    for name, _, data in handed:
        (tmp_path / "in").mkdir(exist_ok=True)
        (tmp_path / "in" / name).write_bytes(bytes(data))
    if "application/zip" in takes:
        assert [kind for _, kind, _ in handed] == ["application/zip"]
    else:
        ((text, photo),) = [handed]
        assert text[:2] == ["record.txt", "text/plain"] and photo[1] == "image/jpeg"
        assert photo[0] == hashlib.sha256(bytes(photo[2])).hexdigest() + ".jpg"
    (came,) = collect(tmp_path / "workpacks" / DEMO.name, [tmp_path / "in"])
    assert (came.what, came.transit, came.problems) == ("kept", "B5-042", ())


def test_the_screen_stays_on_while_somebody_works(browser: Browser, address: str) -> None:
    """The browser's own locks: one from the first entry on, and a new one when the page is seen again."""
    with holding(browser, address, "B5-042") as phone:
        page = phone.page
        page.evaluate(
            """() => { window.locks = []; const ask = WakeLock.prototype.request;
                 WakeLock.prototype.request = async function (kind) {
                   const given = await ask.call(this, kind); locks.push(given); return given; }; }"""
        )
        on = "locks.map((lock) => lock.type + (lock.released ? ' off' : ' on'))"
        assert page.evaluate(on) == []
        phone.tick("right-place", FITTER)
        phone.tick("hold-drawing")
        assert page.evaluate(on) == ["screen on"]
        page.evaluate("locks[0].release()")  # as the browser does when the page is left
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        phone.settle()
        assert page.evaluate(on) == ["screen off", "screen on"]
        assert phone.heard == []


# -- measuring -------------------------------------------------------------------------------------


@pytest.mark.parametrize("transit", ["B2-018", "B5-042"])
def test_every_reading_is_answered_as_the_engine_answers_it(browser: Browser, address: str, transit: str) -> None:
    """Every boundary of every table, and ten steps beyond: one reading, the sum of two, and a tape's round the cable."""
    pack = planned(transit)
    step = min(band.step for band in pack.job.readings)
    asked, wanted = [], []
    for shown in pack.tables:
        rule = pack.catalogue.blocks.get(shown.part) or pack.catalogue.split_seals[shown.part]
        table = diameter_table(shown.part, shown.size, rule, pack.job)
        assert pack.job.tape and table.tape
        for rows, share, apart in (
            (table.rows, 1, step),
            (table.pairs, 2, step),
            (table.tape, 0, pack.job.tape.step),
        ):
            ends = {end + apart * n for row in rows for end in (row.least, row.most) for n in range(-10, 11)}
            for value in sorted(ends):
                one = (value / (share or 1)).quantize(Decimal("0.1"), "ROUND_DOWN")
                readings = [one, value - one][: share or 1]
                row = next((row for row in rows if row.least <= value <= row.most), None)
                if value < rows[0].least:
                    answer = "thin"
                elif value > rows[-1].most:
                    answer = "thick"
                else:
                    answer = f"A {row.peel.a} B {row.peel.b}" if row and row.peel else "again"
                asked.append([shown.part, [int(reading * 1000) for reading in readings], share == 0])
                wanted.append(answer)
    with holding(browser, address, transit) as phone:
        got = phone.page.evaluate(
            """(asked) => asked.map(([part, readings, isTape]) => {
                 const table = wallwork.work.tables[part];
                 const said = isTape ? wallwork.measure.around(table, wallwork.work.tape, readings[0])
                   : wallwork.measure.across(table, wallwork.work.bands, readings);
                 return said.says === "peel" ? `A ${said.a} B ${said.b}` : said.says; })""",
            asked,
        )
    assert len(asked) > 300 and {"thin", "thick"} <= set(wanted)
    assert [(a, g, w) for a, g, w in zip(asked, got, wanted, strict=True) if g != w] == []


def test_a_reading_says_layers_gap_and_what_to_do(browser: Browser, address: str) -> None:
    with holding(browser, address, "B2-017") as phone:
        page = phone.page
        phone.tick("right-place", FITTER)
        cell = page.locator("#cables .measure-cell a").first
        said = {
            ("29.4", ""): "A 6",
            ("29.4", "29.5"): "Half A gives one more",
            ("29.4", "35"): "Not round enough: 5.6 mm apart, 1.0 mm are allowed",
            ("50", ""): "Too thick for MB-48, 48 mm: its readings end at 40.3 mm. Do not peel.",
            ("5", ""): "Too thin for MB-48",
            ("29.45", ""): "This instrument reads to 0.1 mm",
        }
        cell.click()
        for (one, two), words in said.items():
            page.fill("#entry-one", one)
            page.fill("#entry-two", two)
            expect(phone.sheet.locator(".answer")).to_contain_text(words)
        page.fill("#entry-one", "50")
        page.fill("#entry-two", "")
        expect(page.locator("#entry-a")).to_have_value("")  # nothing is left to peel by
        phone.keep()
        expect(cell).to_have_text("Leave open")
        cell.click()
        page.fill("#entry-one", "29.4")
        page.fill("#entry-a", "7")
        page.fill("#entry-b", "5")
        phone.refused("The table says A 6, B 5")
        page.fill("#entry-reason", "gap was too narrow")
        phone.keep()
        expect(cell).to_contain_text("A 7")
        (first, last) = phone.kept()[1:]
        assert "a" not in first["data"] and "Too thick" in first["data"]["note"]
        assert last["data"]["reason"] == "gap was too narrow" and last["data"]["diameters"] == ["29.4"]


def test_a_tape_round_the_cable_says_layers_too(browser: Browser, address: str, tmp_path: Path) -> None:
    """C-202 by hand: 86.5 round, 0.4 out at most, is 27.41 to 27.66 mm; bore 27.2 with k = 9 leaves 0.21 to 0.46."""
    with holding(browser, address, "B2-017") as phone:
        page = phone.page
        phone.tick("right-place", FITTER)
        cell = page.locator("#cables .measure-cell a[data-tag='C-202']")
        cell.click()
        said = {
            "86.5": "Half A gives one more",
            "86.3": "This instrument reads to 0.5 mm",
            "200": "Too thick for MB-48, 48 mm: its readings end at 126.5 mm. Do not peel.",
            "40": "Too thin for MB-48",
        }
        for girth, words in reversed(said.items()):
            page.fill("#entry-girth", girth)
            expect(phone.sheet.locator(".answer")).to_contain_text(words)
        expect(page.locator("#entry-a")).to_have_value("5")
        page.fill("#entry-one", "27.6")
        phone.refused("not both")
        page.fill("#entry-one", "")
        phone.keep()
        expect(cell).to_contain_text("A 5")
        cell.click()
        expect(page.locator("#entry-girth")).to_have_value("86.5")
        phone.sheet.locator(".back").click()
        with zipfile.ZipFile(phone.export(tmp_path)) as opened:
            record = json.loads(opened.read("record.json"))
        assert phone.heard == []
    assert list(Draft202012Validator(schemas()["record-2.schema.json"]).iter_errors(record)) == []
    (measured,) = record["measured"]
    assert (record["format"], measured["girth"], measured["a"], measured["b"]) == (2, "86.5", 5, 4)
    assert "diameters" not in measured


# -- seen and touched ------------------------------------------------------------------------------


def test_sheets_and_entries_are_open_to_everyone_by_day_and_night(browser: Browser, address: str) -> None:
    with holding(browser, address, "B2-017") as phone:
        page = phone.page
        page.evaluate(AXE)
        phone.tick("right-place", FITTER)
        phone.tick("permits")
        phone.write(phone.step("thickness").locator(".reads li[data-ask]"), "4", "thin plate here")
        found: dict[str, list[str]] = {}

        def look(name: str) -> None:
            wrong = phone.page.evaluate((Path(__file__).parent / "measure.js").read_text(encoding="utf-8"),
                                        {"least": 13, "target": 48})  # fmt: skip
            where = "dialog[open]" if phone.sheet.is_visible() else "#steps, #entered, #kept"
            by_day, kept = violations(page, RULES, where=where)
            assert "color-contrast-enhanced" in kept
            page.emulate_media(color_scheme="dark")
            by_night, _ = violations(page, COLOURS, where=where)
            page.emulate_media(color_scheme="light")
            if wrong + by_day + by_night:
                found[name] = wrong + by_day + by_night

        look("list")
        page.locator("#cables .measure-cell a").first.click()
        page.fill("#entry-one", "29.4")
        look("measure")
        page.fill("#entry-one", "60")
        look("too thick")
        phone.sheet.locator(".back").click()
        phone.step("structure-approval").locator(".tick").click()
        look("release")
        phone.sheet.locator(".back").click()
        page.locator("#layout .block").first.click()
        look("block")
        phone.sheet.locator(".back").click()
        page.locator("#entered > button.keep").click()
        expect(phone.sheet.locator("a.keep")).to_be_visible()
        look("export")
        phone.sheet.locator(".back").click()
        page.locator(".list-or-one button").click()
        expect(page.locator("#steps .step:visible")).to_have_count(1)
        look("one step")
        assert phone.heard == []
    assert found == {}


WARNED = """() => Object.fromEntries([...document.querySelectorAll("#steps .step")].map((step) => [
  step.dataset.key,
  [...step.querySelectorAll(":scope > .safety .told-words, :scope > .safety .safety-words > p:first-child")]
    .map((words) => words.textContent.replace(/ in full before step [0-9]+$/, "").trim()),
]))"""


def test_one_step_at_a_time_shows_its_row(browser: Browser, address: str) -> None:
    with holding(browser, address, "B2-017") as phone:
        page = phone.page
        warned = page.evaluate(WARNED)
        told = page.locator("#steps .told:visible")
        lines = told.count()
        assert lines > 3
        page.locator(".list-or-one button").click()
        visible = page.locator("#steps .step:visible")
        expect(visible).to_have_count(1)
        keys = []
        for _ in range(200):
            keys.append(visible.get_attribute("data-key"))
            # What is told in a line in the list stands in full before the step that is seen alone.
            full = visible.locator(":scope > .safety:visible")
            expect(full.locator(".safety-words > p:first-child")).to_have_text(warned[keys[-1]])
            expect(told).to_have_count(0)
            drawing = visible.locator("svg.drawing")
            if visible.get_attribute("data-row") and keys[-1].startswith("place-row"):
                now = drawing.locator(".row.now")
                assert now.get_attribute("data-row") == visible.get_attribute("data-row")
                box, row = drawing.bounding_box(), now.bounding_box()
                assert (
                    box
                    and row
                    and box["y"] - 1 <= row["y"] < row["y"] + row["height"] <= box["y"] + box["height"] + 1
                )
            if page.locator(".stepping-bar .after").is_disabled():
                break
            page.locator(".stepping-bar .after").click()
            expect(page.locator(f'#steps .step:visible:not([data-key="{keys[-1]}"])')).to_have_count(1)
        assert len(keys) == len(set(keys)) == page.locator("#steps .step").count()
        page.locator(".list-or-one button").click()
        expect(told).to_have_count(lines)
        assert page.evaluate(WARNED) == warned
        expect(page.locator("#layout svg.drawing").first).to_be_visible()
        expect(page.locator("svg.stepping")).to_have_count(0)


def test_paper_shows_blank_boxes_whatever_was_entered(browser: Browser, address: str) -> None:
    with holding(browser, address, "B2-017") as phone:
        page = phone.page
        page.emulate_media(media="print")
        before = page.pdf()
        words = page.locator("main").inner_text()
        page.emulate_media(media="screen")
        phone.tick("right-place", FITTER)
        phone.write(phone.step("thickness").locator(".reads li[data-ask]"), "8")
        page.locator(".list-or-one button").click()
        page.evaluate("dispatchEvent(new Event('beforeprint'))")
        page.emulate_media(media="print")
        assert page.locator("main").inner_text() == words
        assert page.locator("button:visible, input:visible, dialog:visible, #kept:visible").count() == 0
        assert len(page.pdf()) == pytest.approx(len(before), rel=0.02)


def test_hostile_text_stays_text(browser: Browser, address: str, tmp_path: Path) -> None:
    attack = "\"'><img src=x onerror=alert(1)><script>alert(2)</script>"
    unseen = "a\u202eb\u200bc\u00a0d\U0001f600e"
    with holding(browser, address, "B2-017") as phone:
        page = phone.page
        page.on("dialog", lambda dialog: phone.heard.append(f"dialog: {dialog.message}"))
        before = page.evaluate("document.querySelectorAll('img, script').length")
        phone.tick("right-place", (attack, attack))
        phone.tick("permits", (attack + "2", unseen))
        line = phone.step("permits").locator(".reads li[data-ask]").first
        phone.write(line, attack + unseen, shown=attack + "abc de")
        page.locator("#entered .entered-line", has_text="No note").locator("button").click()
        page.fill("#entry-note", attack * 3 + "\n" + unseen)
        phone.keep()
        page.locator("#entered .entered-line", has_text="no name").locator("button").click()
        page.fill("#entry-name", attack)
        phone.keep()
        assert page.evaluate("document.querySelectorAll('img, script').length") == before
        with zipfile.ZipFile(phone.export(tmp_path)) as opened:
            record = json.loads(opened.read("record.json"))
        assert phone.heard == []
    assert list(SCHEMA.iter_errors(record)) == []
    assert attack in {person["name"] for person in record["people"].values()}
    assert record["steps"]["permits"]["values"][0]["value"] == attack + "abc de"
    assert record["note"].endswith("abc de")
