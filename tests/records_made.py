"""Records as a phone would make them, for tests: every kind of entry, with values from the transit's own work."""

import hashlib
import io
import json
import zipfile
from pathlib import Path
from typing import Any

from PIL import Image

from generator.model.job import Cable
from generator.model.layout import Fit, Layout
from generator.model.pack import TransitPack
from generator.model.procedure import Message, Step
from generator.model.windows import window_of

UID = "0f6d1c9a-4a7b-4d5e-9f00-1234567890ab"


def photo(
    colour: tuple[int, int, int] = (120, 130, 140), size: tuple[int, int] = (64, 48), kind: str = "JPEG"
) -> bytes:
    """Return a picture; a JPEG says where and when it was taken, as phones do."""
    out = io.BytesIO()
    picture = Image.new("RGB", size, colour)
    if kind == "JPEG":
        exif = Image.Exif()
        exif[0x010F] = "PhoneMaker"
        exif[0x0112] = 6
        exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 0.0), 3: "W", 4: (0.0, 7.0, 39.0)})
        picture.save(out, kind, exif=exif)
    else:
        picture.save(out, kind)
    return out.getvalue()


def digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


COUNTS = {
    "bay_rows": "rows",
    "bay_plates": "plates",
    "bay_blocks": "blocks",
    "bay_spares": "spares",
    "bay_fillers": "fillers",
}


def full_record(pack: TransitPack, photos: tuple[bytes, ...] = (), **changes: Any) -> dict[str, Any]:
    """Return a record of a transit that was built as planned, with all that its steps ask for, where a phone puts it.

    ``photos`` are given out by turns to the lines that ask for one; without any the record lacks them.
    """
    minutes = iter(range(10_000))

    def at() -> str:
        minute = next(minutes)
        return f"2031-05-14T{8 + minute // 60:02}:{minute % 60:02}:00+01:00"

    def bolt(step: Step, read: Message, of: str) -> None:
        number = read.values[f"{of}_bolt"].rpartition(".")[2]
        torque = read.values.get(f"{of}_torque", "")
        said = {"torque_nm": torque.removesuffix(" N·m")} if torque else {"protrusion": top(read)}
        again = {"again": True} if "second reading" in read.text else {}
        bolts.append({"of": of, "bay": step.bay or 1, "bolt": int(number), **said, **again, "at": at(), "by": "f2"})

    def top(read: Message) -> str:
        window = window_of(read)
        return f"{window[1]}" if window and window[1] is not None else "noted"

    steps: dict[str, Any] = {}
    bolts: list[dict[str, Any]] = []
    shot: list[tuple[str, str]] = []
    tests: list[dict[str, Any]] = []
    counts: dict[int, dict[str, Any]] = {}
    for step in pack.steps:
        values = []
        who = {"quality": "qa", "owner": "own"}.get(step.party, "f2")
        is_test = step.rule.startswith("test-") and step.rule != "test-none"
        if is_test:
            tests.append(
                {"kind": step.rule, "result": "held", "figures": "2 bar, 5 min", "witness": "own", "by": "f2"}
            )
        for number, read in enumerate(step.reads, 1):
            counted = [name for figure, name in COUNTS.items() if figure in read.values]
            if is_test or "type_cables" in step.text.values or "(tags" in read.text:
                continue
            if read.text.startswith("photo from "):
                shot.append((step.key, "working" if "{working_side}" in read.text else "far"))
            elif counted:
                count = counts.setdefault(step.bay or 1, {"bay": step.bay or 1, "at": at(), "by": "qa"})
                count[counted[0]] = int(next(iter(read.values.values())))
            elif "{closing_bolt}" in read.text:
                bolt(step, read, "closing")
            elif "{holding_bolt}" in read.text and "as found" not in read.text:
                bolt(step, read, "holding")
            else:
                text = f"noted {number}" if window_of(read) is None else top(read)
                values.append({"read": number, "value": text, "at": at(), "by": "f2"})
        steps[step.key] = {"done": True, "at": at(), "by": who, "values": values}
    record = {
        "format": 1,
        "job": pack.job.uid,
        "transit": pack.id,
        "revision": pack.revision or None,
        "work": pack.digest,
        "record": UID,
        "export": 1,
        "made_by": "wallwork page 0.1.0",
        "device": {"name": "Crew phone 3", "clock": "2031-05-14T18:02:11+01:00", "zone": "Europe/London"},
        "people": {
            "f2": {"name": "Ada Pegg", "role": "fitter"},
            "qa": {"name": "Noor Haddad", "role": "quality inspector"},
            "own": {"name": "Ivo Marsh", "role": "owner"},
        },
        "steps": steps,
        "measured": [measured(cable, pack, at()) for cable in pack.cables if not cable.assumed],
        "bolts": bolts,
        "tests": tests,
        "photos": [
            {"digest": digest(photos[turn % len(photos)]), "side": side, "step": key, "by": "f2"}
            for turn, (key, side) in enumerate(shot)
            if photos
        ],
    }
    assert len(photos) <= len(shot)
    if counts:
        record["counts"] = list(counts.values())
    if isinstance(pack.layout, Layout):
        record["rows"] = [
            {"bay": bay.bay, "row": row.number, "within": True, "at": at(), "by": "f2"}
            for bay in pack.layout.bays
            for row in bay.rows
        ]
    record.update(changes)
    return {key: value for key, value in record.items() if value is not None}


def measured(cable: Cable, pack: TransitPack, at: str) -> dict[str, Any]:
    """Return what is measured at one cable by itself, read and peeled as most likely."""
    fit = pack.fits[cable.tag]
    assert isinstance(fit, Fit)
    table = next(table for table in pack.tables if table.part == fit.part)
    likely = pack.job.reading_at(cable.likely).step
    read = (cable.likely / likely).to_integral_value() * likely
    peel = next((row.peel for row in table.rows if row.peel and row.least <= read <= row.most), fit.likely)
    return {
        "cables": [cable.tag],
        "diameters": [str(read), str(read)],
        "part": fit.part,
        "a": peel.a,
        "b": peel.b,
        "gaps": [str(fit.window.least)],
        "at": at,
        "by": "f2",
    }


def packed(record: dict[str, Any], photos: tuple[bytes, ...] = (), compress: bool = True, **more: bytes) -> bytes:
    """Return the zip of a record; ``more`` are further entries by name."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED if compress else zipfile.ZIP_STORED) as made:
        made.writestr("record.json", json.dumps(record, ensure_ascii=False))
        for data in photos:
            made.writestr(f"photos/{digest(data)}.jpg", data)
        for name, data in more.items():
            made.writestr(name, data)
    return out.getvalue()


def write(path: Path, data: bytes) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return path
