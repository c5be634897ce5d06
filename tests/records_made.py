"""Records as a phone would make them, for tests: every kind of entry, with values from the transit's own work."""

import hashlib
import io
import json
import zipfile
from pathlib import Path
from typing import Any

from PIL import Image

from generator.model.layout import Fit, Layout
from generator.model.pack import TransitPack
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


def full_record(pack: TransitPack, photos: tuple[bytes, ...] = (), **changes: Any) -> dict[str, Any]:
    """Return a record of a transit that was built as planned, with every kind of entry."""
    minutes = iter(range(10_000))

    def at() -> str:
        minute = next(minutes)
        return f"2031-05-14T{8 + minute // 60:02}:{minute % 60:02}:00+01:00"

    steps = {}
    for step in pack.steps:
        values = []
        for number, read in enumerate(step.reads, 1):
            window = window_of(read)
            value = f"{window[1] - 0}" if window and window[1] is not None else f"noted {number}"
            values.append({"read": number, "value": value, "at": at(), "by": "f2"})
        by = {"quality": "qa", "owner": "own"}.get(step.party, "f2")
        steps[step.key] = {"done": True, "at": at(), "by": by, "values": values}
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
        "measured": [
            {
                "cables": [tag],
                "diameters": [str(next(cable.likely for cable in pack.cables if cable.tag == tag))],
                "part": fit.part,
                "gaps": [str(fit.window.least)],
                "at": at(),
                "by": "f2",
            }
            for tag, fit in list(pack.fits.items())[:3]
            if isinstance(fit, Fit)
        ],
        "photos": [{"digest": digest(data), "side": "working", "step": "photos", "by": "f2"} for data in photos],
    }
    if isinstance(pack.layout, Layout):
        record["rows"] = [
            {"bay": bay.bay, "row": row.number, "within": True, "at": at(), "by": "f2"}
            for bay in pack.layout.bays
            for row in bay.rows
        ]
        record["counts"] = [
            {
                "bay": bay.bay,
                "rows": len(bay.rows),
                "plates": len(bay.plates),
                "blocks": sum(p.role != "filler" for p in bay.placements),
                "spares": sum(p.role == "spare" for p in bay.placements),
                "fillers": sum(p.role == "filler" for p in bay.placements),
                "at": at(),
                "by": "qa",
            }
            for bay in pack.layout.bays
        ]
    record.update(changes)
    return {key: value for key, value in record.items() if value is not None}


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
