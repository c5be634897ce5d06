"""Records come home: good ones are kept once and for good, bad ones are named beside them, nothing is half there.

Outside judges: what is kept is read back by ``zipfile`` and ``hashlib`` here, types by Pillow, and the files that
were handed in are compared byte by byte afterwards.
"""

import hashlib
import io
import json
import random
import signal
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from generator.collect import Came, collect
from generator.issue import issue
from generator.keep import POINTS, holding
from generator.model.pack import TransitPack
from generator.model.record import FORMAT, Record
from generator.pages.starter import write_starter
from generator.source.records import pack as packed_again
from generator.source.schema import schemas
from generator.workpack import load
from tests.records_made import digest, full_record, packed, photo, write

ROOT = Path(__file__).parents[1]
PHOTOS = (photo(), photo((9, 99, 199)))


@pytest.fixture(scope="module")
def issued(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, TransitPack]]:
    """A job that was issued as A, and its transits. Tests copy what they change."""
    folder = tmp_path_factory.mktemp("job") / "harbour"
    write_starter(folder)
    issue(folder, [], "A")
    return folder, load(folder).transits


@pytest.fixture
def job(issued: tuple[Path, dict[str, TransitPack]], tmp_path: Path) -> Path:
    import shutil

    return Path(shutil.copytree(issued[0], tmp_path / "harbour"))


@pytest.fixture
def frame(issued: tuple[Path, dict[str, TransitPack]]) -> TransitPack:
    return issued[1]["A1-001"]


def kept(job: Path) -> dict[str, bytes]:
    top = job / "records"
    return {p.relative_to(top).as_posix(): p.read_bytes() for p in sorted(top.rglob("*")) if p.is_file()}


def one(job: Path, path: Path) -> Came:
    (came,) = collect(job, [path])
    return came


def test_a_record_is_kept_word_for_word_and_twice_changes_nothing(
    job: Path, frame: TransitPack, tmp_path: Path
) -> None:
    data = packed(full_record(frame, PHOTOS), PHOTOS)
    path = write(tmp_path / "in" / "phone.zip", data)
    came = one(job, path)
    assert (came.what, came.problems, came.looks) == ("kept", (), ())
    assert kept(job) == {f"A1-001/{hashlib.sha256(data).hexdigest()}.zip": data}
    assert one(job, path).what == "known"
    repacked = write(tmp_path / "in" / "again.zip", packed(full_record(frame, PHOTOS), PHOTOS, compress=False))
    assert one(job, repacked).what == "known"
    assert kept(job) == {f"A1-001/{hashlib.sha256(data).hexdigest()}.zip": data}
    assert path.read_bytes() == data


def test_loose_json_with_photos_beside_it_in_a_folder(job: Path, frame: TransitPack, tmp_path: Path) -> None:
    record = full_record(frame, PHOTOS)
    write(tmp_path / "in" / "mail" / "A1-001.json", json.dumps(record).encode())
    write(tmp_path / "in" / "mail" / "IMG_1.jpeg", PHOTOS[0])
    write(tmp_path / "in" / "mail" / "photos" / "other.jpg", PHOTOS[1])
    came = one(job, tmp_path / "in")
    assert came.what == "kept", came
    (data,) = kept(job).values()
    with zipfile.ZipFile(io.BytesIO(data)) as opened:
        assert json.loads(opened.read("record.json")) == record
        assert {opened.read(f"photos/{digest(p)}.jpg") for p in PHOTOS} == set(PHOTOS)
    assert one(job, write(tmp_path / "zip" / "r.zip", packed(record, PHOTOS))).what == "known"


def test_a_record_shared_as_text_with_its_photos(job: Path, frame: TransitPack, tmp_path: Path) -> None:
    record = full_record(frame, PHOTOS)
    write(tmp_path / "in" / "record.txt", json.dumps(record).encode())
    write(tmp_path / "in" / "notes.txt", b"no record")
    for shared in PHOTOS:
        write(tmp_path / "in" / f"{digest(shared)}.jpg", shared)
    assert one(job, tmp_path / "in").what == "kept"
    assert one(job, tmp_path / "in" / "record.txt").what == "known"


def test_the_published_schema_takes_what_a_phone_makes(issued: tuple[Path, dict[str, TransitPack]]) -> None:
    validator = Draft202012Validator(schemas()["record.schema.json"])
    for pack in issued[1].values():
        record = full_record(pack, PHOTOS)
        assert list(validator.iter_errors(record)) == []
        assert Record.model_validate(record).transit == pack.id
        for wrong in ({**record, "job": "x"}, {**record, "format": 3}, {**record, "extra": 1}):
            assert list(validator.iter_errors(wrong)) != []


def test_a_girth_comes_home_in_version_2(job: Path, frame: TransitPack, tmp_path: Path) -> None:
    record = full_record(frame)
    record["measured"][0] = {k: v for k, v in record["measured"][0].items() if k != "diameters"} | {"girth": "86.5"}
    one_, two = ({**record, "format": version} for version in (1, 2))
    takes = [Draft202012Validator(schemas()[f"record{name}.schema.json"]) for name in ("", "-2")]
    assert [[not list(taker.iter_errors(each)) for taker in takes] for each in (one_, two)] == [
        [False] * 2,
        [False, True],
    ]
    assert one(job, write(tmp_path / "1.zip", zipped({"record.json": json.dumps(one_).encode()}))).what == "refused"
    assert one(job, write(tmp_path / "2.zip", zipped({"record.json": json.dumps(two).encode()}))).what == "kept"
    (kept,) = load(job).as_built[frame.id].sheets
    assert any("86.5" in str(line.value) for group in kept.groups for line in group.lines)


# -- what is refused: at least twenty of each kind -------------------------------------------------


def zipped(entries: dict[str, bytes], compress: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", compress) as made:
        for name, data in entries.items():
            made.writestr(name, data)
    return out.getvalue()


def renamed(data: bytes, old: bytes, new: bytes) -> bytes:
    """Put another name of the same length into a zip, which zipfile itself would not write."""
    assert len(old) == len(new)
    return data.replace(old, new)


def bit_flips(good: bytes, record: dict[str, Any]) -> Iterator[bytes]:
    chance = random.Random(1)
    for _ in range(60):
        spoiled = bytearray(good)
        spoiled[chance.randrange(len(good))] ^= 1 << chance.randrange(8)
        yield bytes(spoiled)


def truncations(good: bytes, record: dict[str, Any]) -> Iterator[bytes]:
    for part in range(1, 26):
        yield good[: len(good) * part // 26]
    yield b""
    yield from (good[-len(good) * part // 4 :] for part in (1, 2, 3))


NAMES = [
    "../record.json", "../../etc/passwd", "/etc/passwd", "C:/x.jpg", "C:\\x.jpg", "photos/../../x.jpg", "..\\x.jpg",
    "photos\\x.jpg", "photos//x.jpg", "./record.json", "photos/./x.jpg", "photos/", "a/b/c/d/e/f.jpg", ".hidden",
    "photos/.hidden.jpg", "record.json/", "x\nrecord.json", "CON\u202egpj.exe", "photos/\u00e9.jpg", "x y.jpg", "nul:",
    "~/x", "$HOME", "photos/" + "a" * 200 + ".jpg",
]  # fmt: skip


def hostile_names(good: bytes, record: dict[str, Any]) -> Iterator[bytes]:
    whole = json.dumps(record).encode()
    for name in NAMES:
        yield zipped({"record.json": whole, name: b"x"})
    yield renamed(zipped({"record.json": whole, "Record.jsoN": whole}), b"Record.jsoN", b"record.json")
    link = zipfile.ZipInfo("photos/link.jpg")
    link.external_attr = 0o120777 << 16
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        made.writestr("record.json", whole)
        made.writestr(link, "/etc/passwd")
    yield out.getvalue()


def bombs(good: bytes, record: dict[str, Any]) -> Iterator[bytes]:
    whole = json.dumps(record).encode()
    for megabytes in (9, 12, 20):
        yield zipped({"record.json": whole + b" " * (megabytes << 20)})
    for megabytes in (33, 48):
        yield zipped({"record.json": whole, f"photos/{'0' * 64}.jpg": b"\0" * (megabytes << 20)})
    for entries in (601, 2000):
        yield zipped({"record.json": whole, **{f"photos/{n:064x}.jpg": b"" for n in range(entries)}})
    for depth in (60, 1000, 100_000):
        yield zipped({"record.json": b"[" * depth + b"]" * depth})
        yield zipped({"record.json": b'{"note":' * depth + b"1" + b"}" * depth})
    for sides in ((20_000, 20_000), (30_000, 10_000)):
        tall = photo(size=(16, 16), kind="PNG")
        grown = tall[:16] + sides[0].to_bytes(4, "big") + sides[1].to_bytes(4, "big") + tall[24:]
        named = {**record, "photos": [{"digest": digest(grown)}]}
        yield zipped({"record.json": json.dumps(named).encode(), f"photos/{digest(grown)}.png": grown})
    for declared in (1, 1000, 2**31):
        lies = bytearray(zipped({"record.json": whole}))
        at = lies.rfind(b"PK\x01\x02") + 24
        lies[at : at + 4] = declared.to_bytes(4, "little")
        yield bytes(lies)
    for note in (20_001, 100_000):
        yield zipped({"record.json": json.dumps({**record, "note": "x" * note}).encode()})
    yield zipped(
        {"record.json": json.dumps({**record, "people": {f"p{n}": {"name": "x"} for n in range(60)}}).encode()}
    )


def wrong_types(good: bytes, record: dict[str, Any]) -> Iterator[bytes]:
    wrong: list[dict[str, Any]] = [
        {"job": 5}, {"transit": "a1-001"}, {"transit": None}, {"work": "abc"}, {"work": "A" * 64}, {"record": "x"},
        {"export": 0}, {"export": "two"}, {"device": {}}, {"device": {"clock": "yesterday"}}, {"people": []},
        {"steps": {"A B": {"done": True}}}, {"steps": {"tags": {"done": "maybe"}}}, {"steps": {"tags": {}}},
        {"steps": {"tags": {"done": True, "by": "nobody"}}}, {"measured": [{"cables": []}]}, {"format": "1"},
        {"measured": [{"cables": ["X"], "diameters": ["1e3"]}]}, {"bolts": [{"bolt": -1}]}, {"photos": [{"digest": "x"}]},
        {"rows": [{"bay": 1, "row": 1}]}, {"tests": [{"kind": "air", "result": "passed"}]}, {"surprise": True},
        {"counts": [{"bay": 0}]}, {"format": True}, {"format": -1}, {"revision": "a"}, {"places": [{"position": "1.1"}]},
    ]  # fmt: skip
    for change in wrong:
        yield zipped({"record.json": json.dumps({**record, **change}).encode()})
    for text in ("", "null", "[]", "5", '"record"', "{", '{"format":1,"format":1}', '{"format":NaN}'):
        yield zipped({"record.json": text.encode()})
    yield zipped({"record.json": b"\xff\xfe{}"})
    for kind, ending in (("GIF", "jpg"), ("BMP", "jpg"), ("PNG", "jpg"), ("JPEG", "png"), ("TIFF", "png")):
        data = photo(kind=kind)
        named = {**record, "photos": [{"digest": digest(data)}]}
        yield zipped({"record.json": json.dumps(named).encode(), f"photos/{digest(data)}.{ending}": data})
    for data in (b"MZ\x90\0", b"<svg/>", b"%PDF-1.7", PHOTOS[0][:200], b""):
        named = {**record, "photos": [{"digest": digest(data)}]}
        yield zipped({"record.json": json.dumps(named).encode(), f"photos/{digest(data)}.jpg": data})
    yield zipped({"record.json": json.dumps({**record, "photos": [{"digest": "0" * 64}]}).encode()})
    yield zipped({"record.json": json.dumps({**record, "photos": []}).encode(), f"photos/{'0' * 64}.jpg": PHOTOS[0]})


def wrong_jobs(good: bytes, record: dict[str, Any]) -> Iterator[bytes]:
    for number in range(1, 21):
        uid = f"{number:08x}-0000-4000-8000-000000000000"
        yield zipped({"record.json": json.dumps({**record, "job": uid}).encode()})
    for number in range(3):
        yield zipped({"record.json": json.dumps({**record, "format": 2 + number, "job": "other"}).encode()})
    for transit in ("A9-001", "A1-003", "Z"):
        yield zipped({"record.json": json.dumps({**record, "transit": transit}).encode()})


CATEGORIES = [bit_flips, truncations, hostile_names, bombs, wrong_types, wrong_jobs]


@pytest.mark.parametrize("category", CATEGORIES, ids=[c.__name__ for c in CATEGORIES])
def test_bad_ones_are_named_and_the_good_one_beside_them_is_kept(
    job: Path, frame: TransitPack, tmp_path: Path, category: Any
) -> None:
    record = full_record(frame)
    with_photos = packed(full_record(frame, PHOTOS), PHOTOS)
    cases = list(category(with_photos, record))
    assert len(cases) >= 20
    folder = tmp_path / "in"
    for number, data in enumerate(cases):
        write(folder / f"{number:03}.zip", data)
    good = packed(full_record(frame, record="11111111-2222-4333-8444-555555555555"))
    write(folder / "999-good.zip", good)
    handed = {path: path.read_bytes() for path in folder.iterdir()}
    came = collect(job, [folder])
    assert len(came) == len(cases) + 1
    assert came[-1].what == "kept"
    for item, data in zip(came[:-1], cases, strict=True):
        if category is bit_flips and item.what != "refused":
            # A flip in what nobody reads (a date, a flag): then what it says must be what it said.
            with zipfile.ZipFile(io.BytesIO(data)) as opened:
                assert json.loads(opened.read("record.json")) == full_record(frame, PHOTOS)
                assert all(digest(opened.read(name)) in name for name in opened.namelist()[1:])
            continue
        assert item.what == "refused", item
        assert item.problems and all(p.what and p.mend for p in item.problems)
        assert all(str(p.where).isprintable() and p.what.isprintable() for p in item.problems)
    if category is not bit_flips:
        assert list(kept(job).values()) == [good]
    assert {path: path.read_bytes() for path in folder.iterdir()} == handed
    assert {p.name for p in job.parent.iterdir()} == {"harbour", "in"}  # nothing was unpacked beside the job


def test_a_newer_format_is_kept_and_named(job: Path, frame: TransitPack, tmp_path: Path) -> None:
    for number in range(20):
        record = {**full_record(frame), "format": FORMAT + 1 + number, "new": [number]}
        data = zipped({"record.json": json.dumps(record).encode(), "sketch-1.svg": b"<svg/>"})
        came = one(job, write(tmp_path / f"{number}.zip", data))
        assert came.what == "kept" and f"has the format {FORMAT + 1 + number}" in came.looks[0].what
        assert kept(job)[f"A1-001/{digest(data)}.zip"] == data
    built = load(job).as_built["A1-001"]
    assert sorted(item.format for item in built.newer) == list(range(FORMAT + 1, FORMAT + 21)) and built.sheets == ()


def test_the_same_export_with_other_content_is_a_conflict_and_both_stay(
    job: Path, frame: TransitPack, tmp_path: Path
) -> None:
    first = full_record(frame)
    assert one(job, write(tmp_path / "first.zip", packed(first))).looks == ()
    keys = [key for key, step in first["steps"].items() if step["values"]]
    for number in range(20):
        other = json.loads(json.dumps(first))
        other["steps"][keys[number % len(keys)]]["values"][0]["value"] = f"other {number}"
        came = one(job, write(tmp_path / f"{number}.zip", packed(other)))
        assert came.what == "kept" and came.looks, number
        assert any("Export 1 of one record" in look.what or "disagree" in look.what for look in came.looks)
    assert len(kept(job)) == 21
    assert any("21 contents" in str(item.says) for item in load(job).as_built["A1-001"].deviations)


def test_a_later_export_counts_and_an_earlier_one_may_come_after_it(
    job: Path, frame: TransitPack, tmp_path: Path
) -> None:
    later = full_record(frame, export=2, note="the second")
    assert one(job, write(tmp_path / "2.zip", packed(later))).looks == ()
    came = one(job, write(tmp_path / "1.zip", packed(full_record(frame))))
    assert came.what == "kept" and "a later export of this record, number 2" in came.looks[0].what
    built = load(job).as_built["A1-001"]
    assert [sheet.kept.record and sheet.kept.record.export for sheet in built.sheets] == [2]
    assert len(built.older) == 1


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"revision": "C"}, "against revision C, which was never issued here"),
        ({"work": "0" * 64}, "with other work than the one here"),
        ({"revision": None, "work": "0" * 64}, "recorded against a page that was not issued; it is issued as A"),
    ],
)
def test_a_record_against_other_work_is_kept_and_told(
    job: Path, frame: TransitPack, tmp_path: Path, changes: dict[str, Any], says: str
) -> None:
    came = one(job, write(tmp_path / "r.zip", packed(full_record(frame, **changes))))
    assert came.what == "kept" and says in came.looks[0].what and came.looks[0].mend
    assert len(kept(job)) == 1


def test_a_record_against_an_older_revision(job: Path, frame: TransitPack, tmp_path: Path) -> None:
    text = (job / "cables.csv").read_text(encoding="utf-8")
    (job / "cables.csv").write_text(text.replace("D4,8.0,0.2", "D4,9.5,0.2"), encoding="utf-8")
    issue(job, [], "B")
    came = one(job, write(tmp_path / "r.zip", packed(full_record(frame))))
    assert came.what == "kept" and "was recorded against A, and B is current" in came.looks[0].what
    (sheet,) = load(job).as_built["A1-001"].sheets
    assert sheet.judged_by == "A" and not sheet.current


KILLED = """
import os, signal, sys
from pathlib import Path
from generator.collect import collect

job, given, proof, point = sys.argv[1:]

def at(reached):
    if reached == point:
        Path(proof).write_text(reached, encoding="utf-8")
        os.kill(os.getpid(), signal.SIGKILL)

collect(Path(job), [Path(given)], at=at)
"""


@pytest.mark.parametrize("point", POINTS)
def test_killed_at_any_point_nothing_is_half_there(job: Path, frame: TransitPack, tmp_path: Path, point: str) -> None:
    data = packed(full_record(frame, PHOTOS), PHOTOS)
    given = write(tmp_path / "in" / "phone.zip", data)
    proof = tmp_path / "proof"
    run = [sys.executable, "-c", KILLED, str(job), str(given), str(proof), point]
    done = subprocess.run(run, cwd=ROOT, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == -signal.SIGKILL and proof.read_text(encoding="utf-8") == point, done.stderr
    whole = [item for name, item in kept(job).items() if name.endswith(".zip")]
    assert whole == ([data] if POINTS.index(point) >= POINTS.index("named") else [])
    assert [p for p in load(job).problems if "record" in p.what] == []
    with holding(job / "records"):
        collect(job, [given])
    assert kept(job) == {f"A1-001/{digest(data)}.zip": data}
    assert given.read_bytes() == data


def test_a_kept_record_that_was_spoiled_is_told_and_stops_nothing(
    job: Path, frame: TransitPack, tmp_path: Path
) -> None:
    one(job, write(tmp_path / "r.zip", packed(full_record(frame))))
    (path,) = (job / "records").rglob("*.zip")
    path.write_bytes(path.read_bytes()[:300])
    (problem,) = [p for p in load(job).problems if p.where.file.startswith("records/")]
    assert problem.severity == "look" and "can't be read" in problem.what


def test_packing_loose_files_is_the_same_every_time() -> None:
    content = {"record.json": b"{}", "photos/x.jpg": PHOTOS[0]}
    assert packed_again(content) == packed_again(dict(reversed(content.items())))
