"""The spine, end to end: definition, issue, a record, collect, build. Every value stands on the page.

The site is read by the standard library's HTML parser, photos by Pillow, the CSV by ``csv``: none of ours.
"""

import csv
import html.parser
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from generator.collect import collect
from generator.issue import issue
from generator.model.pack import TransitPack
from generator.model.procedure import Message
from generator.model.windows import window_of
from generator.pages.publish import build_site
from generator.pages.register import COLUMNS
from generator.pages.spreadsheets import safe_cell
from generator.pages.starter import write_starter
from generator.workpack import load
from tests.demo import demo
from tests.records_made import digest, full_record, packed, photo, write

PHOTOS = (photo(size=(2400, 1800)), photo((9, 99, 199)))
ATTACK = '"><script>alert(1)</script><img src=x onerror=alert(1)>'


class Seen(html.parser.HTMLParser):
    """The text, the elements and the addresses of a page."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.words: list[str] = []
        self.elements: list[str] = []
        self.images: list[str] = []
        self.inline: list[str] = []
        self.feed(path.read_text(encoding="utf-8"))
        self.text = " ".join(" ".join(self.words).split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(tag)
        self.images += [value or "" for name, value in attrs if tag == "img" and name == "src"]
        if tag == "script" and "src" not in dict(attrs) and dict(attrs).get("type") != "application/json":
            self.inline.append(tag)

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def record_of_everything(pack: TransitPack) -> dict[str, Any]:
    """Return a record with an entry of every kind, every field of it filled."""
    said = {"at": "2031-05-14T15:41:07+01:00", "by": "qa"}
    record = full_record(pack, PHOTOS)
    tag = pack.cables[0].tag
    first = next(key for key, step in record["steps"].items() if step["values"])
    record["steps"][first]["values"][0].update(reason=f"reason of a value {ATTACK}", note="note of a value")
    record["steps"]["tidy"] = {"done": False, "reason": "scaffold stays", "note": "note of a step", **said}
    record["steps"]["own-step"] = {"done": True, "note": "a step nobody planned", **said,
                                   "values": [{"read": 3, "value": "as found 7.25"}]}  # fmt: skip
    record["measured"].append(
        {"cables": [tag, "ZZ-1"], "type": "type measured", "drum": "drum 77", "diameters": ["31.7", "31.9"],
         "part": "PX-9", "a": 4, "b": 3, "gaps": ["0.45"], "reason": "reason of a diameter", **said}
    )  # fmt: skip
    record["rows"][0].update(within=False, note="note of a row", exceptions=[
        {"position": "1.1", "gap": "2.35", "reason": "reason of a gap", **said}])  # fmt: skip
    record["unlisted"] = [
        {"tag": f"XX-9 {ATTACK}"[:40], "diameter": "12.65", "position": "9.9", "note": "unlisted note", **said}
    ]
    record["not_pulled"] = [{"tag": tag, "reason": "drum too short", **said}]
    record["counts"][0].update(rows=19, plates=18, blocks=17, spares=16, fillers=15, note="counted twice")
    record["bolts"] = [
        {"bay": 1, "bolt": 1, "protrusion": "13.55", "note": "bolt note", **said},
        {"bay": 1, "bolt": 2, "protrusion": "99.25", **said},
        {"bay": 1, "bolt": 1, "protrusion": "12.35", "again": True, **said},
        {"of": "holding", "bay": 1, "bolt": 3, "torque_nm": "12.75", **said},
        {"of": "holding", "bay": 1, "bolt": 3, "torque_nm": "12.85", "again": True, **said},
    ]
    record["tests"] = [{"kind": "air", "result": "leaked", "figures": "20 mbar for 15 min", "witness": "own",
                        "reason": "seam of the frame", **said}]  # fmt: skip
    record["working_side"] = {"side": pack.far_side, "reason": "pipes in the way", **said}
    record["places"] = [{"position": "1.1", "role": "spare", "part": "PX-8", "note": "note of a place", **said},
                        {"position": "1.2", "role": "cable", "cable": "ZZ-2", "a": 6, "b": 5, **said}]  # fmt: skip
    record["photos"][0].update(note="note of a photo", **said)
    record["note"] = f"note of the whole {ATTACK}"
    return record


SAID_OTHERWISE = {
    "format",
    "job",
    "by",
    "witness",
    "done",
    "within",
    "again",
    "read",
    "digest",
    "side",
    "step",
    "of",
    "role",
    "result",
}


def leaves(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], str]]:
    if isinstance(value, dict):
        for key, item in value.items():
            yield from leaves(item, (*path, key))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from leaves(item, (*path, index))
    else:
        yield path, str(value)


@pytest.fixture(scope="module")
def spine(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, dict[str, Any]]:
    """Job, site and record, after the whole way; the schedule was changed after the record."""
    top = tmp_path_factory.mktemp("spine")
    job, site = top / "harbour", top / "site"
    write_starter(job)
    issue(job, [], "A")
    record = record_of_everything(load(job).transits["A1-001"])
    (came,) = collect(job, [write(top / "in" / "phone.zip", packed(record, PHOTOS))])
    assert came.what == "kept"
    build_site(job, top / "before")
    text = (job / "cables.csv").read_text(encoding="utf-8")
    (job / "cables.csv").write_text(text.replace("D4,8.0,0.2", "D4,9.5,0.2"), encoding="utf-8")
    build_site(job, site)
    return job, site, record


def test_every_value_of_the_record_stands_on_the_page(spine: tuple[Path, Path, dict[str, Any]]) -> None:
    _job, site, record = spine
    page = Seen(site / "T" / "A1-001" / "index.html")
    lost = []
    for path, value in leaves(record):
        if path[-1] in SAID_OTHERWISE:
            continue
        shown = value.replace("T", " ", 1) if path[-1] in ("at", "clock") else value
        if " ".join(shown.split()) not in page.text:
            lost.append((path, value))
    assert lost == []
    for person in record["people"].values():
        assert person["name"] in page.text and person["role"] in page.text
    assert "leaked" in page.text and "not done" in page.text and record["working_side"]["side"] in page.text
    for data in PHOTOS:
        assert f"../../photos/{digest(data)}.jpg" in page.images


def test_deviations_say_what_and_why(spine: tuple[Path, Path, dict[str, Any]]) -> None:
    job, _site, _record = spine
    built = load(job).as_built["A1-001"]
    told = {str(item.says): item.reason for item in built.deviations}
    assert told["Not done: Leave both sides clean"] == "scaffold stays"
    assert told["The test air was not held"] == "seam of the frame"
    assert told["Place 1.1: the gap is 2.35 mm"] == "reason of a gap"
    assert any("99.25" in text for text in told) and not any("13.55" in text for text in told)
    assert any(text.startswith("Bay 1: rows: 19, to be ") for text in told)
    assert any("is listed and was not pulled" in text for text in told)
    assert built.state == "closed" and built.open


def test_what_was_not_entered_stands_open_on_every_page_in_its_language(tmp_path: Path) -> None:
    """The starter's A1-001 is ticked whole, without the permit's number and the photos of the packed bay."""
    job = tmp_path / "harbour"
    write_starter(job)
    text = (job / "job.yaml").read_text(encoding="utf-8")
    assert "  languages: [en]" in text
    (job / "job.yaml").write_text(text.replace("  languages: [en]", "  languages: [en, pl]"), encoding="utf-8")
    issue(job, ["A1-001"], "A")
    pack = load(job).transits["A1-001"]
    record = full_record(pack, PHOTOS)
    record["steps"]["permits"]["values"] = []
    record["photos"] = [one for one in record["photos"] if one["step"] == "photos"]
    collect(job, [write(tmp_path / "in.zip", packed(record, PHOTOS))])
    build_site(job, tmp_path / "site")
    at = {step.key: step.number for step in pack.steps}
    permits, bay = at["permits"], at["packed.1"]
    page = Seen(tmp_path / "site" / "T" / "A1-001" / "index.html").text
    assert f"Not entered at step {permits} (Get the permits for both sides): number of the permit" in page
    assert f"Not entered at step {bay} " in page and page.count("open: no reason is given") == 2
    polish = Seen(tmp_path / "site" / "T" / "A1-001" / "index.pl.html").text
    assert f"Nie wpisano w kroku {permits} (Uzyskaj pozwolenia dla obu stron): numer pozwolenia" in polish
    rows = csv.DictReader((tmp_path / "site/register/register.csv").read_text(encoding="utf-8-sig").splitlines())
    row = next(row for row in rows if row["transit"] == "A1-001")
    assert row["state"] == "closed" and row["open_points"].startswith(f"Not entered at step {permits} (Get the")
    overview = Seen(tmp_path / "site" / "index.html").text
    assert "2 open points in the records" in overview
    quality = Seen(tmp_path / "site" / "W" / pack.wall_id / "quality.html").text
    assert f"Not entered at step {permits} number of the permit" in quality


def test_what_crews_write_stays_text(spine: tuple[Path, Path, dict[str, Any]]) -> None:
    _job, site, _record = spine
    page = Seen(site / "T" / "A1-001" / "index.html")
    assert page.inline == [] and "alert(1)" in page.text
    assert all(address.startswith("../../photos/") for address in page.images)
    register = Seen(site / "register" / "index.html")
    assert register.inline == []


def test_photos_are_small_upright_and_say_nothing_of_the_place(spine: tuple[Path, Path, dict[str, Any]]) -> None:
    _job, site, _record = spine
    for data in PHOTOS:
        with Image.open(io.BytesIO(data)) as before:
            assert before.getexif().get_ifd(0x8825)  # the judge sees the position where there is one
            size = before.size
        path = site / "photos" / f"{digest(data)}.jpg"
        with Image.open(path) as shown:
            assert dict(shown.getexif()) == {} and set(shown.info) <= {
                "jfif",
                "jfif_version",
                "jfif_unit",
                "jfif_density",
            }
            assert max(shown.size) <= 1600 and (shown.width < shown.height) == (size[0] > size[1])
        assert b"PhoneMaker" not in path.read_bytes() and b"Exif" not in path.read_bytes()


def test_a_changed_schedule_moves_nothing_and_the_site_says_what_it_would_change(
    spine: tuple[Path, Path, dict[str, Any]],
) -> None:
    job, site, _record = spine
    before = Seen(site.parent / "before" / "T" / "A1-001" / "index.html")
    after = Seen(site / "T" / "A1-001" / "index.html")
    said = "D-001 measures 9.5 (9.3–9.7) mm, it was 8 (7.8–8.2) mm"
    assert said in after.text and said not in before.text
    start, end = "Cables", "What to bring"
    assert (
        after.text[after.text.index(start) :].split(end)[0] == before.text[before.text.index(start) :].split(end)[0]
    )
    cards = [(folder / "T" / "A1-001" / "card.html").read_bytes() for folder in (site.parent / "before", site)]
    assert cards[0] == cards[1]
    overview = Seen(site / "index.html")
    assert "1 issued, then changed" in overview.text and "2 of 2 issued" in overview.text
    assert "A1-001 is issued as A; the definition has changed since" in overview.text
    assert issue(job, [], "B").issued[0].replaces == "A"
    build_site(job, site)
    old = Seen(site / "T" / "A1-001" / "A" / "index.html")
    assert "Your label is old" in old.text and said in old.text and "Superseded" in old.text
    lead = (site / "T" / "A1-001" / "B" / "index.html").read_text(encoding="utf-8")
    assert 'content="0; url=../index.html"' in lead
    page = Seen(site / "T" / "A1-001" / "index.html")
    assert "Recorded against revision A ; the work is now B" in page.text
    assert "/T/A1-001/B" in page.text.replace(" ", "")  # the code's text may break after each slash


def test_the_register_lists_every_transit_and_runs_nothing(spine: tuple[Path, Path, dict[str, Any]]) -> None:
    _job, site, _record = spine
    data = (site / "register" / "register.csv").read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    rows = list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))
    assert tuple(rows[0]) == COLUMNS and [row["transit"] for row in rows] == ["A1-001", "A1-002"]
    assert rows[0]["state"] == "closed" and rows[0]["records"] == "1" and rows[0]["closed_by"]
    assert not [cell for row in rows for cell in row.values() if cell[:1] in set("=+-@\t\r")]


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", " =1", "\u00a0=1", "＝1", "=cmd|'/c calc'!A1"]
)
def test_no_cell_begins_like_a_formula(text: str) -> None:
    assert safe_cell(text) == f"'{text}"


def test_cells_that_are_no_formula_stay() -> None:
    assert [safe_cell(text) for text in ("B2-017", "3.5 m", "", "A=B")] == ["B2-017", "3.5 m", "", "A=B"]


@pytest.mark.parametrize(
    ("text", "values", "expected"),
    [
        ("thread past the nut, bolt {closing_bolt}: {closing_protrusion}", {"closing_bolt": "1", "closing_protrusion": "14–16 mm"}, ("14", "16")),
        ("thickness of the wall: {plate_window}", {"plate_window": "8 mm"}, ("8", "8")),
        ("smallest gap: {gap}", {"gap": "0.2–1.2 mm"}, ("0.2", "1.2")),
        ("warmth of the frame: {cool_to} or less", {"cool_to": "40 °C"}, (None, "40")),
        ("leg of the weld in {far_side}: {weld_leg}", {"far_side": "5 mm", "weld_leg": "5 mm"}, None),
        ("from {datum_x}: {x}", {"datum_x": "1–2 mm", "x": "2150 mm"}, None),
    ],
)  # fmt: skip
def test_windows_are_read_where_a_line_has_one(
    text: str, values: dict[str, str], expected: tuple[str | None, str] | None
) -> None:
    found = window_of(Message(text=text, values=values))
    assert (None if found is None else tuple(None if end is None else str(end) for end in found)) == expected


def test_every_window_that_the_procedure_asks_for_is_read() -> None:
    unread = {
        (name, value)
        for pack in demo().transits.values()
        for step in pack.steps
        for read in step.reads
        for name, value in read.values.items()
        if name.endswith(("_window", "_protrusion")) or name == "gap"
        if window_of(read) is None
    }
    assert unread == set()


@pytest.mark.parametrize(
    ("phases", "state"),
    [((), "issued"), (("prepare",), "issued"), (("prepare", "opening"), "cut"), (("opening", "pack"), "packed"),
     (("opening", "pack", "close"), "packed"), (("pack", "close", "again"), "closed"), (None, "recorded")],
)  # fmt: skip
def test_how_far_a_transit_is(tmp_path: Path, phases: tuple[str, ...] | None, state: str) -> None:
    job = tmp_path / "harbour"
    write_starter(job)
    issue(job, ["A1-001"], "A")
    pack = load(job).transits["A1-001"]
    record = full_record(pack, PHOTOS)
    if phases is not None:
        keys = {step.key for step in pack.steps if step.phase in phases}
        record["steps"] = {key: step for key, step in record["steps"].items() if key in keys}
    collect(job, [write(tmp_path / "in.zip", packed(record, PHOTOS))])
    built = load(job).as_built["A1-001"]
    assert built.state == state, [str(item) for item in built.open]
