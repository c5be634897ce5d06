"""Invented systems for the engine's tests: sides, plugs and fillers as asked, and cables that fit just some."""

import sys
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from generator.engine.fit import fit_cable
from generator.engine.units import Demand
from generator.model.catalogue import Catalogue, Frame
from generator.model.job import Cable, Job, Spare

JOB = Job.model_validate(
    {
        "name": "Tests of the engine",
        "number": "0",
        "client": "Nobody",
        "uid": "00000000-0000-4000-8000-000000000000",
        "address": "https://packs.example.org",
        "languages": ["en"],
        "catalogues": ["invented"],
        "instrument": "calliper",
        "readings": [{"step": "0.1", "error": "0.05"}],
    }
)
TIGHTENING = {"bolts": 2, "thread": "M8", "key": 13, "order": "in-turn", "rounds": 3, "torque_nm": 5}
Options = tuple[int, ...]


def bay(
    width: object, height: object, x: object = 0, *, on_top: bool = True, stacking: bool = True
) -> dict[str, Any]:
    """Describe a bay; its row plate is P-<width>, its clamping unit U-<width>."""
    return {
        "width": width,
        "height": height,
        "x": x,
        "y": 0,
        "row_plate": f"P-{width}",
        "plate_under_unit": on_top,
        "clamping_unit": f"U-{width}",
        "stacking": stacking,
    }


def frame(bays: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Describe a rectangular frame around bays."""
    fixing = {
        "opening": {"width": 1, "height": 1, "plus": 1, "minus": 1},
        "plate": {"least": 1, "most": 9},
        "materials": ["steel"],
        "weld": {"leg": 3, "sides": "both sides", "run": "all round", "bay_deviation": 1, "cool_to_c": 40},
    }
    return {
        "shape": "rectangular",
        "width": max(Decimal(str(b["x"])) + Decimal(str(b["width"])) for b in bays),
        "height": max(Decimal(str(b["height"])) for b in bays),
        "depth": 60,
        "bays": list(bays),
        "fixings": {"welded": fixing},
    }


def diameters(options: Iterable[Options]) -> dict[Options, Decimal]:
    """Give each choice of block sizes a diameter of its own: 10, 11, 12 … mm."""
    return {option: Decimal(10 + i) for i, option in enumerate(sorted(set(options)))}


def catalogue(
    sizes: Iterable[int],
    options: Iterable[Options],
    frames: Mapping[str, Mapping[str, Any]],
    *,
    plugs: Iterable[int] = (),
    fillers: Iterable[int] = (),
    plate: object = 3,
    unit: object = 33,
) -> Catalogue:
    """Make a system whose block B-<size> holds just the cables that have its size among their options."""
    at = diameters(options)
    plugs = set(plugs)
    widths = {b["width"] for f in frames.values() for b in f["bays"]}
    blocks = {}
    for size in sorted(set(sizes)):
        held = [diameter for option, diameter in at.items() if size in option] or [Decimal(900) + size]
        blocks[f"B-{size}"] = {
            "size": size,
            "plug": size in plugs,
            "table": [
                {
                    "least": diameter - Decimal("0.3"),
                    "most": diameter + Decimal("0.3"),
                    "a": number,
                    "b": number,
                    "gap": {"least": "0.2", "most": "0.8"},
                }
                for number, diameter in enumerate(held)
            ],
        }
    return Catalogue.model_validate(
        {
            "system": "Invented",
            "edition": "1",
            "source": "Invented for tests.",
            "blocks": blocks,
            "fillers": {f"F-{size}": {"size": size} for size in fillers},
            "row_plates": {f"P-{width}": {"length": width, "thickness": plate} for width in widths},
            "clamping_units": {
                f"U-{width}": {"width": width, "height": unit, "tightening": TIGHTENING} for width in widths
            },
            "frames": frames,
        }
    )


def cables(options: Sequence[Options], services: Sequence[str] = ("power",)) -> list[Cable]:
    """Make a cable for each choice of block sizes, in order: C0, C1 …"""
    at = diameters(options)
    return [
        Cable(tag=f"C{i}", service=services[i % len(services)], diameter=at[o], least=at[o], most=at[o])
        for i, o in enumerate(options)
    ]


def demands(asked: Sequence[Cable], system: Catalogue, job: Job = JOB) -> list[Demand]:
    """Fit cables, as the work pack does before packing."""
    return [Demand(cable, fit_cable(cable, system, job)) for cable in asked]


def spares(counts: Mapping[int, int]) -> list[Spare]:
    """Ask for spares by size."""
    return [Spare(size=Decimal(size), count=count) for size, count in counts.items() if count]


def only_frame(system: Catalogue) -> Frame:
    """Return the frame of a system that has one."""
    (found,) = system.frames.values()
    return found


def forget() -> None:
    """Empty every memory the engine keeps from one search to the next."""
    for name, module in list(sys.modules.items()):
        if name.startswith("generator.engine."):
            for kept in list(vars(module).values()):
                if hasattr(kept, "cache_clear"):
                    kept.cache_clear()
