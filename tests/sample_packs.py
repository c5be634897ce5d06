"""Hand-made transits of every kind, for tests of pages and drawings: laid out by hand, not by the engine."""

from decimal import Decimal
from typing import Any

from generator.engine.demands import compare_demands
from generator.model.catalogue import Catalogue
from generator.model.job import Cable, Job, Transit, Wall
from generator.model.layout import (
    AnyLayout,
    BayLayout,
    DiameterRow,
    DiameterTable,
    Fit,
    Layout,
    Peel,
    Placement,
    Plate,
    Row,
    SealLayout,
    Unit,
)
from generator.model.pack import TransitPack
from generator.model.procedure import Bring, Caution, Message, Phase, Step
from generator.model.scalars import Window

GAP = {"least": "0.2", "most": "1.2"}
BORES = {"18": "4.4", "24": "6.0", "36": "12", "48": "20", "72": "32"}
LAYERS = {"18": 5, "24": 8, "36": 9, "48": 10, "72": 12}
BOLTS = {
    "bolts": 2,
    "thread": "M10",
    "key": 17,
    "order": "in-turn",
    "rounds": 3,
    "turns_each_round": 2,
    "protrusion": {"least": 14, "most": 16},
    "settle_minutes": 30,
}
WELDED = {
    "opening": {"width": 170, "height": 206, "plus": 2, "minus": 2, "corner_radius": 8},
    "plate": {"least": 5, "most": 20},
    "materials": ["steel"],
    "weld": {"leg": 5, "sides": "both sides", "run": "continuous, all round", "bay_deviation": 1, "cool_to_c": 40},
}


def _bay(width: int, height: int, x: int, y: int) -> dict[str, Any]:
    return {
        "width": width,
        "height": height,
        "x": x,
        "y": y,
        "row_plate": f"SR-{width}",
        "plate_under_unit": "yes",
        "clamping_unit": f"SC-{width}",
        "stacking": "yes",
    }


CATALOGUE = Catalogue.model_validate(
    {
        "system": "Sample",
        "edition": "1",
        "source": "Invented for tests.",
        "lubricate": "All faces of the blocks, inside and out.",
        "blocks": {
            f"SB-{size}": {
                "size": size,
                "plug": "yes",
                "layers": {
                    "bore": bore,
                    "layer": "0.8",
                    "layers_per_half": LAYERS[size],
                    "odd_layer": "A",
                    "halves_differ_by": 1,
                    "gap": GAP,
                },
            }
            for size, bore in BORES.items()
        },
        "fillers": {"SF-18": {"size": 18}, "SF-24": {"size": 24}},
        "row_plates": {"SR-144": {"length": 144, "thickness": 3}, "SR-96": {"length": 96, "thickness": 3}},
        "clamping_units": {
            "SC-144": {"width": 144, "height": 33, "tightening": BOLTS},
            "SC-96": {"width": 96, "height": 30, "tightening": BOLTS},
        },
        "frames": {
            "SW-144x180": {
                "shape": "rectangular",
                "width": 164,
                "height": 200,
                "depth": 60,
                "bays": [_bay(144, 180, 10, 10)],
                "fixings": {"welded": WELDED},
                "certificate": {
                    "number": "Sample 0",
                    "covers": [
                        {"fire": "A-60", "materials": ["steel"], "thickness": {"least": 6}},
                        {"water_head_m": "1.0", "pressure_from": "either side"},
                    ],
                    "says": ["insulated as its drawing shows"],
                    "until": "2034-01-01",
                },
            },
            "SW-2x144x180": {
                "shape": "rectangular",
                "width": 318,
                "height": 200,
                "depth": 60,
                "bays": [_bay(144, 180, 10, 10), _bay(144, 180, 164, 10)],
                "fixings": {"welded": {**WELDED, "opening": {**WELDED["opening"], "width": 324}}},
            },
            "SO-170": {
                "shape": "round",
                "width": 170,
                "height": 170,
                "depth": 60,
                "bays": [_bay(96, 108, 37, 31)],
                "fixings": {"sleeve": {"sleeve": "SS-170"}},
            },
        },
        "sleeves": {
            "SS-170": {
                "opening": {"diameter": 172, "plus": 1, "minus": 0},
                "plate": {"least": 4, "most": 9},
                "materials": ["steel", "stainless", "aluminium"],
                "tightening": {
                    "bolts": 6,
                    "thread": "M8",
                    "key": 13,
                    "order": "crosswise",
                    "rounds": 3,
                    "torque_nm": 12,
                },
            },
            "SS-68": {
                "opening": {"diameter": 68, "plus": "0.5", "minus": 0},
                "plate": {"least": 4, "most": 9},
                "materials": ["steel", "stainless"],
                "tightening": {
                    "bolts": 4,
                    "thread": "M6",
                    "key": 10,
                    "order": "crosswise",
                    "rounds": 3,
                    "torque_nm": 6,
                },
            },
        },
        "split_seals": {
            "SZ-68": {
                "diameter": 64,
                "layers": {
                    "bore": 20,
                    "layer": "0.8",
                    "layers_per_half": 12,
                    "odd_layer": "A",
                    "halves_differ_by": 1,
                    "gap": {"least": 0, "most": 1},
                },
                "fixings": {"sleeve": {"sleeve": "SS-68"}},
            }
        },
        "consumables": {"SL-1": {"name": "Lubricant", "amount": 5, "unit": "ml", "per": "block"}},
    }
)

JOB = Job.model_validate(
    {
        "name": "Sample pump house",
        "number": "S-1",
        "client": "Sample water board",
        "uid": "3f0c8a52-5a8e-4a43-9a55-4f2f7c9c0b11",
        "address": "https://packs.example.org",
        "languages": ["en"],
        "catalogues": ["sample"],
        "instrument": "sliding caliper",
        "readings": [{"step": "0.1", "error": "0.05"}],
    }
)

WALL = Wall.model_validate(
    {
        "division": "bulkhead",
        "area": "Cellar",
        "sides": ["Pump hall", "Cable cellar"],
        "landmarks": {"left": "river", "right": "land"},
        "material": "steel",
        "thickness": 8,
        "width": 9800,
        "height": 4300,
        "datum": {"x": "column face, grid 4", "y": "finished floor"},
        "demands": {"fire": "A-60", "water_head_m": "1.2"},
        "structural": "yes",
    }
)
DECK = Wall.model_validate(
    {
        "division": "deck",
        "area": "Cellar",
        "sides": ["Switch room", "Cable cellar"],
        "landmarks": {"left": "river", "right": "land"},
        "up": "north",
        "material": "steel",
        "thickness": 10,
        "datum": {"x": "frame 12", "y": "centre line"},
        "structural": "yes",
    }
)


def _layers(diameter: str, bore: str, least: str) -> Peel:
    """Return the answer whose gap is nearest the middle of a window one wide, for the samples only."""
    middle = Decimal(least) + Decimal("0.5")
    k = min(range(40), key=lambda k: abs(Decimal(diameter) - Decimal(bore) - Decimal("0.8") * k - middle))
    return Peel(a=(k + 1) // 2, b=k // 2, gap=Decimal(diameter) - Decimal(bore) - Decimal("0.8") * k)


def _fit(size: str, diameter: str, measure: bool = False) -> Fit:
    window = Window.model_validate(GAP)
    likely = _layers(diameter, BORES[size], "0.2")
    return Fit(part=f"SB-{size}", size=Decimal(size), window=window, likely=likely, measure=measure)


# Per row, left to right and low before high: (x, y in the row, size, what). A cable is tag/class/diameter.
_ROWS_144 = (
    (
        72,
        (
            (0, 0, 72, "P-101 power 47.0"),
            (72, 0, 36, "P-103 power 22.4"),
            (72, 36, 36, "P-104 power 21.3"),
            (108, 0, 36, "E-001 earth 19.6"),
            (108, 36, 36, "spare"),
        ),
    ),
    (
        48,
        (
            (0, 0, 48, "C-201 control 29.4"),
            (48, 0, 48, "C-202 control 27.6 measure"),
            (96, 0, 24, "I-301 instrument 11.2"),
            (96, 24, 24, "I-302 instrument 10.8"),
            (120, 0, 24, "I-303 instrument 12.4"),
            (120, 24, 24, "spare"),
        ),
    ),
    (
        18,
        (
            (0, 0, 18, "D-401 data 7.6"),
            (18, 0, 18, "D-402 data 7.6"),
            (36, 0, 18, "D-403 data 8.0"),
            (54, 0, 18, "F-501 fibre 6.2"),
            (72, 0, 18, "F-502 fibre 6.2"),
            (90, 0, 18, "spare"),
            (108, 0, 18, "filler"),
            (126, 0, 18, "filler"),
        ),
    ),
)
_ROWS_96 = (
    (
        48,
        (
            (0, 0, 48, "P-121 power 31.0"),
            (48, 0, 24, "C-222 control 12.0"),
            (48, 24, 24, "C-221 control 12.4"),
            (72, 0, 24, "I-321 instrument 11.0"),
            (72, 24, 24, "spare"),
        ),
    ),
    (
        24,
        (
            (0, 0, 24, "D-421 data 8.4"),
            (24, 0, 24, "D-422 data 8.4"),
            (48, 0, 24, "F-521 fibre 7.2"),
            (72, 0, 24, "filler"),
        ),
    ),
)


def _fill(
    bay: int, several: bool, width: int, height: int, unit: int, rows: Any, rename: str
) -> tuple[BayLayout, Any]:
    y = Decimal(0)
    done, plates, cables, fits = [], [], [], {}
    for number, (row_height, blocks) in enumerate(rows, 1):
        placements = []
        for place, (x, up, size, what) in enumerate(blocks, 1):
            position = f"{bay}.{number}.{place}" if several else f"{number}.{place}"
            common = {
                "position": position,
                "bay": bay,
                "row": number,
                "place": place,
                "x": Decimal(x),
                "y": y + up,
                "size": Decimal(size),
            }
            if what in ("spare", "filler"):
                part = f"SB-{size}" if what == "spare" else f"SF-{size}"
                placements.append(Placement(**common, role=what, part=part))
                continue
            tag, service, diameter, *measure = what.split()
            tag = tag.replace("-", rename, 1)
            spread = Decimal("1.0") if measure else Decimal("0.2")
            middle = Decimal(diameter)
            cable = Cable(tag=tag, service=service, diameter=middle, least=middle - spread, most=middle + spread)
            fits[tag] = _fit(str(size), diameter, bool(measure))
            cables.append(cable)
            placements.append(Placement(**common, role="cable", part=f"SB-{size}", cable=tag, fit=fits[tag]))
        done.append(Row(number=number, y=y, height=Decimal(row_height), placements=tuple(placements)))
        y += row_height
        plates.append(Plate(part=f"SR-{width}", y=y, thickness=Decimal(3), above_row=number))
        y += 3
    assert y + unit == height, (y, unit, height)
    layout = BayLayout(
        bay=bay,
        width=Decimal(width),
        height=Decimal(height),
        rows=tuple(done),
        plates=tuple(plates),
        unit=Unit(part=f"SC-{width}", y=y, height=Decimal(unit)),
    )
    return layout, (tuple(cables), fits)


def _table(size: str) -> DiameterTable:
    bore, layers = Decimal(BORES[size]), LAYERS[size]
    rows = tuple(
        DiameterRow(
            least=bore + Decimal("0.8") * k + Decimal("0.4"),
            most=bore + Decimal("0.8") * k + Decimal("1.1"),
            peel=Peel(a=(k + 1) // 2, b=k // 2, gap=Decimal("0.75")),
            gap_least=Decimal("0.4"),
            gap_most=Decimal("1.1"),
        )
        for k in range(2 * layers + 1)
    )
    return DiameterTable(part=f"SB-{size}", size=Decimal(size), window=Window.model_validate(GAP), rows=rows)


PHASES = (
    Phase(id="open", title="Make the opening"),
    Phase(id="pack", title="Pack"),
    Phase(id="close", title="Close"),
)
CAUTION = Caution(
    id="spanner-slips",
    signal="warning",
    title=Message(text="The spanner can slip under load"),
    text=Message(text="Pull towards you, stand firm, keep your face out of line with the bolts."),
    card=(Message(text="Spanner slips"), Message(text="Face out of line.")),
    rank=3,
    source="common practice, no source",
)


def _steps(layout: AnyLayout) -> tuple[Step, ...]:
    steps = [
        Step(
            number=1,
            key="cut",
            phase="open",
            kind="do",
            party="crew",
            title=Message(text="Cut the opening"),
            text=Message(
                text="Cut {opening}, {tolerance}.", values={"opening": "170 × 206 mm", "tolerance": "±2 mm"}
            ),
            tools=(Message(text="jigsaw"),),
        )
    ]
    if isinstance(layout, Layout):
        for bay in layout.bays:
            for row in bay.rows:
                steps.append(
                    Step(
                        number=len(steps) + 1,
                        key=f"place-{bay.bay}-{row.number}",
                        phase="pack",
                        kind="do",
                        party="crew",
                        title=Message(text="Row {row}: peel and place", values={"row": str(row.number)}),
                        text=Message(
                            text="{height} high, {blocks} blocks, then the row plate.",
                            values={"height": f"{row.height} mm", "blocks": str(len(row.placements))},
                        ),
                        bay=bay.bay,
                        row=row.number,
                    )
                )
    steps.append(
        Step(
            number=len(steps) + 1,
            key="close",
            phase="close",
            kind="measure",
            party="crew",
            title=Message(text="Tighten the bolts in turn"),
            text=Message(
                text="Two turns each, until both stand out {protrusion}.", values={"protrusion": "14 to 16 mm"}
            ),
            reads=(
                Message(text="thread past the nut, each bolt: {protrusion}", values={"protrusion": "14 to 16 mm"}),
            ),
            tools=(Message(text="spanner {key}", values={"key": "17 mm"}),),
            cautions=(CAUTION,),
        )
    )
    return tuple(steps)


def _pack(id: str, wall_id: str, wall: Wall, transit: dict[str, Any], layout: AnyLayout, found: Any) -> TransitPack:
    cables, fits = found
    sizes = sorted({f"{fit.size}" for fit in fits.values() if fit.part.startswith("SB")}, key=int)
    bring = [
        Bring(group="part", name=Message(text="Block {size}", values={"size": size}), part=f"SB-{size}", amount="4")
        for size in sizes
    ]
    bring.append(Bring(group="tool", name=Message(text="spanner {key}", values={"key": "17 mm"})))
    bring.append(Bring(group="consumable", name=Message(text="Lubricant"), part="SL-1", amount="95 ml"))
    asked = Transit.model_validate({"wall": wall_id, "at": {"x": 2300, "y": 2480, "to": "lower-left"}, **transit})
    return TransitPack(
        id=id,
        transit=asked,
        wall_id=wall_id,
        wall=wall,
        job=JOB,
        catalogue=CATALOGUE,
        cables=cables,
        fits=fits,
        layout=layout,
        tables=tuple(_table(size) for size in sizes),
        comparisons=compare_demands(asked, wall, CATALOGUE, cables, layout),
        facts=frozenset(),
        phases=PHASES,
        steps=_steps(layout),
        cautions=(CAUTION,),
        bring=tuple(bring),
        problems=(),
    )


def welded() -> TransitPack:
    """Return a welded frame with one bay of 144 × 180, three rows, 14 cables."""
    bay, found = _fill(1, False, 144, 180, 33, _ROWS_144, "-")
    transit = {"working_side": "Pump hall", "frame": "SW-144x180", "fixing": "welded", "tag": "Pump feed, upper"}
    return _pack("B2-017", "W3", WALL, transit, Layout(bays=(bay,), proven=True), found)


def round_frame() -> TransitPack:
    """Return a round frame in a gripping sleeve, worked from the wall's second side."""
    bay, found = _fill(1, False, 96, 108, 30, _ROWS_96, "-")
    transit = {"working_side": "Cable cellar", "frame": "SO-170", "fixing": "sleeve"}
    return _pack("B2-019", "W3", WALL, transit, Layout(bays=(bay,), proven=True), found)


def split_seal() -> TransitPack:
    """Return a split seal in a gripping sleeve."""
    cable = Cable(tag="P-131", service="power", diameter=Decimal("27.6"), least=Decimal("27.4"), most=Decimal("27.8"))
    window = Window.model_validate({"least": 0, "most": 1})
    fit = Fit(part="SZ-68", size=Decimal(64), window=window, likely=_layers("27.6", "20", "0"), measure=False)
    transit = {"working_side": "Pump hall", "split_seal": "SZ-68", "fixing": "sleeve"}
    layout = SealLayout(part="SZ-68", diameter=Decimal(64), cable="P-131", fit=fit)
    pack = _pack("B2-022", "W3", WALL, transit, layout, ((cable,), {"P-131": fit}))
    table = DiameterTable(part="SZ-68", size=Decimal(64), window=window, rows=_table("48").rows)
    return pack.model_copy(update={"tables": (table,)})


def deck_two_bays() -> TransitPack:
    """Return a welded frame with two bays in a deck."""
    first, (cables, fits) = _fill(1, True, 144, 180, 33, _ROWS_144, "-")
    second, (more, other) = _fill(2, True, 144, 180, 33, _ROWS_144, "-9")
    transit = {"working_side": "Switch room", "frame": "SW-2x144x180", "fixing": "welded"}
    found = (cables + more, {**fits, **other})
    return _pack("D1-004", "D1", DECK, transit, Layout(bays=(first, second), proven=True), found)


ALL = (welded, round_frame, split_seal, deck_two_bays)
