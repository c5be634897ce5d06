"""Transits that try a drawing hard: tiny blocks, long and hostile names, pipes, guesses, odd frames."""

from decimal import Decimal
from typing import Any

from generator.model.catalogue import Catalogue
from generator.model.job import Cable, Transit, Wall
from generator.model.layout import BayLayout, Fit, Layout, NoLayout, Peel, Placement, Plate, Row, Unit
from generator.model.pack import TransitPack
from generator.model.scalars import Window
from tests import sample_packs

LONG = "W" * 39 + "1"
HOSTILE = '<script>alert("&")</script>\'{tag}">'
SERVICES = ("power", "control", "instrument", "data", "fibre", "earth", "pipe")
GAP = Window(least=Decimal("0.2"), most=Decimal("1.2"))


def _catalogue(width: int, height: int, bays: int, shape: str, bolts: int, unit: int) -> Catalogue:
    """Return a catalogue with one frame whose bays are ``width`` × ``height``, 10 mm of metal around each."""
    across = bays * (width + 10) + 10 if shape == "rectangular" else int((width**2 + height**2) ** 0.5) + 30
    up = height + 20 if shape == "rectangular" else across
    x = 10 if shape == "rectangular" else (across - width) // 2
    y = 10 if shape == "rectangular" else (across - height) // 2
    tightening = {"bolts": bolts, "thread": "M8", "key": 13, "order": "crosswise", "rounds": 2, "torque_nm": 9}
    return Catalogue.model_validate(
        {
            "system": "Odd",
            "edition": "1",
            "source": "Invented for tests.",
            "row_plates": {"OR": {"length": width, "thickness": 2}},
            "clamping_units": {"OC": {"width": width, "height": unit, "tightening": tightening}},
            "frames": {
                "OF": {
                    "shape": shape,
                    "width": across,
                    "height": up,
                    "depth": 60,
                    "bays": [
                        {
                            "width": width,
                            "height": height,
                            "x": x + number * (width + 10),
                            "y": y,
                            "row_plate": "OR",
                            "plate_under_unit": "yes",
                            "clamping_unit": "OC",
                            "stacking": "yes",
                        }
                        for number in range(bays)
                    ],
                    "fixings": {
                        "plain-hole": {
                            "opening": {"width": across + 2, "height": up + 2, "plus": 1, "minus": 0},
                            "plate": {"least": 4, "most": 20},
                            "materials": ["steel"],
                            "tightening": tightening,
                        }
                    },
                }
            },
        }
    )


def grid(
    size: int,
    columns: int,
    rows: int,
    share: str = "0.5",
    tag: str = "C-{number}",
    bays: int = 1,
    shape: str = "rectangular",
    bolts: int = 2,
    unit: int = 30,
    services: tuple[str, ...] = SERVICES,
    wall: Wall = sample_packs.WALL,
    assumed: bool = False,
    measure: bool = False,
) -> TransitPack:
    """Return a frame of ``rows`` rows of ``columns`` equal blocks; ``share`` is cable diameter / block."""
    width, height = size * columns, (size + 2) * rows + unit
    catalogue = _catalogue(width, height, bays, shape, bolts, unit)
    cables: list[Cable] = []
    fits: dict[str, Any] = {}
    layouts = []
    diameter = (Decimal(size) * Decimal(share)).quantize(Decimal("0.1"))
    for bay in range(1, bays + 1):
        done = []
        for row in range(1, rows + 1):
            y = Decimal((size + 2) * (row - 1))
            blocks = []
            for place in range(1, columns + 1):
                number = len(cables) + 1
                name = tag.replace("{number}", str(number))
                name = name if name not in fits else f"{name[:36]}{number}"
                cable = Cable.model_validate(
                    {
                        "tag": name,
                        "service": services[number % len(services)],
                        "diameter": None if assumed else diameter,
                        "least": diameter - 1,
                        "most": diameter + 1,
                        "assumed": assumed,
                    }
                )
                fit = Fit(
                    part=f"OB-{size}",
                    size=Decimal(size),
                    window=GAP,
                    likely=Peel(a=number % 12, b=number % 11, gap=Decimal("0.6")),
                    measure=measure or assumed,
                )
                cables.append(cable)
                fits[cable.tag] = fit
                place_name = f"{bay}.{row}.{place}" if bays > 1 else f"{row}.{place}"
                blocks.append(
                    Placement(
                        position=place_name,
                        bay=bay,
                        row=row,
                        place=place,
                        x=Decimal(size * (place - 1)),
                        y=y,
                        size=Decimal(size),
                        role="cable",
                        part=fit.part,
                        cable=cable.tag,
                        fit=fit,
                    )
                )
            done.append(Row(number=row, y=y, height=Decimal(size), placements=tuple(blocks)))
        layouts.append(
            BayLayout(
                bay=bay,
                width=Decimal(width),
                height=Decimal(height),
                rows=tuple(done),
                plates=tuple(
                    Plate(part="OR", y=row.y + size, thickness=Decimal(2), above_row=row.number) for row in done
                ),
                unit=Unit(part="OC", y=Decimal(height - unit), height=Decimal(unit)),
            )
        )
    transit = Transit.model_validate(
        {
            "wall": "W9",
            "working_side": wall.sides[0],
            "frame": "OF",
            "fixing": "plain-hole",
            "at": {"x": 900, "y": 700, "to": "centre"},
        }
    )
    return sample_packs.welded().model_copy(
        update={
            "id": "O-1",
            "wall_id": "W9",
            "wall": wall,
            "transit": transit,
            "catalogue": catalogue,
            "cables": tuple(cables),
            "fits": fits,
            "layout": Layout(bays=tuple(layouts), proven=True),
        }
    )


def long_names_wall() -> Wall:
    """Return a deck whose rooms, landmarks and upper edge have the longest names allowed."""
    return Wall.model_validate(
        {
            **sample_packs.DECK.model_dump(),
            "structural": "yes",
            "demands": {},
            "sides": ["Ventilation machinery, switchgear room 2", "W" * 40],
            "landmarks": {"left": "the long quay with the two yellow cranes", "right": "M" * 40},
            "up": "Q" * 40,
        }
    )


def empty() -> TransitPack:
    """Return a frame without a layout."""
    nothing = NoLayout(what="too narrow", why="the blocks are wider", mend="take a wider frame")
    return sample_packs.welded().model_copy(update={"layout": nothing})


def empty_seal() -> TransitPack:
    """Return a split seal without a layout."""
    nothing = NoLayout(what="no fit", why="too thick", mend="take a larger one")
    return sample_packs.split_seal().model_copy(update={"layout": nothing})


def seal(**changes: Any) -> TransitPack:
    """Return the sample's split seal with another cable or another fit."""
    pack = sample_packs.split_seal()
    cable = pack.cables[0].model_copy(update=changes)
    measured = bool(changes.get("assumed"))
    fit = pack.layout.fit.model_copy(update={"measure": measured})  # type: ignore[union-attr]
    layout = pack.layout.model_copy(update={"cable": cable.tag, "fit": fit})
    return pack.model_copy(update={"cables": (cable,), "fits": {cable.tag: fit}, "layout": layout})


ODD = {
    "tiny": lambda: grid(10, 30, 4),
    "tiny-long": lambda: grid(10, 30, 4, tag=LONG),
    "hundred": lambda: grid(18, 20, 5),
    "flat": lambda: grid(40, 12, 1, "0.7"),
    "tall": lambda: grid(18, 3, 14),
    "thick": lambda: grid(36, 4, 3, "0.92"),
    "thin": lambda: grid(48, 3, 3, "0.06"),
    "long": lambda: grid(48, 4, 3, tag=LONG),
    "hostile": lambda: grid(72, 2, 2, tag=HOSTILE, services=("control", "power")),
    "pipes": lambda: grid(48, 3, 2, services=("pipe",)),
    "assumed": lambda: grid(36, 4, 2, assumed=True),
    "measure": lambda: grid(24, 6, 3, measure=True),
    "three-bays": lambda: grid(24, 4, 3, bays=3),
    "round-bays": lambda: grid(24, 3, 3, shape="round", bolts=7),
    "many-bolts": lambda: grid(24, 6, 2, bolts=6),
    "one-bolt": lambda: grid(24, 4, 2, bolts=1, unit=16),
    "long-names": lambda: grid(36, 4, 2, wall=long_names_wall()),
    "empty": empty,
    "empty-seal": empty_seal,
    "seal-assumed": lambda: seal(assumed=True, diameter=None, service="control"),
    "seal-fibre": lambda: seal(service="fibre", tag=LONG),
    "seal-hostile": lambda: seal(tag=HOSTILE, service="instrument"),
    "seal-thin": lambda: seal(diameter=Decimal("4"), least=Decimal("3.5"), most=Decimal("4.5"), service="pipe"),
}
