"""The judge is judged: it accepts hand-made layouts, and finds every kind of fault put into a right one."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any, Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import box
from shapely.ops import unary_union

from generator.engine.check import check_layout
from generator.engine.fit import fit_seal
from generator.engine.packing import pack_frame
from generator.model.catalogue import SplitSeal
from generator.model.job import Spot, Transit
from generator.model.layout import Fit, Layout, NoLayout, Peel, SealLayout
from generator.model.pack import TransitPack
from tests import sample_packs
from tests.engine import invented

SIZES = (18, 24, 36, 48, 72)
ASKED = [(24,)] * 5 + [(36,)] * 3 + [(48, 72), (18, 24), (72,)]
SYSTEM = invented.catalogue(
    SIZES,
    ASKED,
    {"frame": invented.frame([invented.bay(144, 180), invented.bay(72, 111, 150, on_top=False)])},
    plugs=(24, 36, 48, 72),
    fillers=(18, 24),
)
FRAME = invented.only_frame(SYSTEM)
CABLES = invented.cables(ASKED, ("power", "data"))
SPARES = invented.spares({24: 2, 36: 1})


def packed() -> Layout:
    layout = pack_frame(FRAME, SYSTEM, invented.demands(CABLES, SYSTEM), SPARES, 100_000)
    assert isinstance(layout, Layout)
    return layout


RIGHT = packed()


def faults(layout: Layout) -> tuple[str, ...]:
    return check_layout(layout, FRAME, SYSTEM, CABLES, SPARES, invented.JOB)


def test_a_right_layout_has_no_fault() -> None:
    assert faults(RIGHT) == ()


@pytest.mark.parametrize("make", sample_packs.ALL)
def test_layouts_made_by_hand_have_no_fault(make: Callable[[], TransitPack]) -> None:
    """The sample transits were laid out by a person, so the judge is not merely the packing's echo."""
    pack = make()
    assert not isinstance(pack.layout, NoLayout)
    frame = pack.catalogue.frames[pack.transit.frame] if pack.transit.frame else None
    found = check_layout(pack.layout, frame, pack.catalogue, pack.cables, pack.transit.spares, pack.job)
    # The samples say by hand which cables must be measured, to show both on a page; all else is right.
    assert [fault for fault in found if "measured before peeling" not in fault] == []


# -- every kind of fault, put into a right layout -------------------------------------------------------


def with_bay(bay: int, **values: Any) -> Layout:
    bays = list(RIGHT.bays)
    bays[bay - 1] = bays[bay - 1].model_copy(update=values)
    return RIGHT.model_copy(update={"bays": tuple(bays)})


def with_row(bay: int, row: int, **values: Any) -> Layout:
    rows = list(RIGHT.bays[bay - 1].rows)
    rows[row - 1] = rows[row - 1].model_copy(update=values)
    return with_bay(bay, rows=tuple(rows))


def with_block(find: Callable[[Any], bool], **values: Any) -> Layout:
    """Change the first block that ``find`` accepts."""
    one = next(p for p in RIGHT.placements if find(p))
    row = RIGHT.bays[one.bay - 1].rows[one.row - 1]
    placements = tuple(p.model_copy(update=values) if p is one else p for p in row.placements)
    return with_row(one.bay, one.row, placements=placements)


def with_fit(**values: Any) -> Layout:
    one = next(p for p in RIGHT.placements if p.fit is not None)
    assert one.fit is not None
    return with_block(lambda p: p is one, fit=one.fit.model_copy(update=values))


def holds(cable: str) -> Callable[[Any], bool]:
    return lambda p: bool(p.cable == cable)


def is_spare(p: Any) -> bool:
    return bool(p.role == "spare")


def any_block(p: Any) -> bool:
    return True


BAY = RIGHT.bays[0]
ROW = BAY.rows[0]
STACKED = next(p for p in RIGHT.placements if p.size < RIGHT.bays[p.bay - 1].rows[p.row - 1].height)
SPARE_36 = next(p for p in RIGHT.placements if p.role == "spare")
BROKEN: dict[str, tuple[Layout, str]] = {
    "a bay is missing": (RIGHT.model_copy(update={"bays": RIGHT.bays[:1]}), "the layout has 1 bays, the frame 2"),
    "bays are turned round": (RIGHT.model_copy(update={"bays": RIGHT.bays[::-1]}), "it is numbered 2"),
    "the bay has another size": (with_bay(1, width=Decimal(150)), "the frame's is 144 x 180"),
    "no rows": (with_bay(1, rows=()), "it has no rows"),
    "a row is missing": (with_bay(1, rows=BAY.rows[:-1]), "its clamping unit starts at"),
    "rows are turned round": (with_bay(1, rows=BAY.rows[::-1]), "is numbered"),
    "another clamping unit": (with_bay(1, unit=BAY.unit.model_copy(update={"part": "U-72"})), "the bay takes U-144"),
    "a clamping unit of another height": (
        with_bay(1, unit=BAY.unit.model_copy(update={"height": Decimal(30)})),
        "has another size in the catalogue",
    ),
    "a clamping unit too high up": (
        with_bay(1, unit=BAY.unit.model_copy(update={"y": BAY.unit.y + 1})),
        "does not end at the top",
    ),
    "a plate is missing": (with_bay(1, plates=BAY.plates[1:]), "it needs a row plate on each of rows"),
    "no plate under the unit": (with_bay(1, plates=BAY.plates[:-1]), "it needs a row plate on each of rows"),
    "a plate too many": (
        with_bay(2, plates=(*RIGHT.bays[1].plates, BAY.plates[-1])),
        "it needs a row plate on each of rows",
    ),
    "a plate of another part": (
        with_bay(1, plates=(BAY.plates[0].model_copy(update={"part": "P-72"}), *BAY.plates[1:])),
        "is not the bay's P-144",
    ),
    "a plate of another thickness": (
        with_bay(1, plates=(BAY.plates[0].model_copy(update={"thickness": Decimal(4)}), *BAY.plates[1:])),
        "is not the bay's P-144",
    ),
    "a plate at the wrong height": (
        with_bay(1, plates=(BAY.plates[0].model_copy(update={"y": Decimal(1)}), *BAY.plates[1:])),
        "lies at 1",
    ),
    "a row that is the side of no block": (with_row(1, 1, height=ROW.height + 1), "is the side of no block"),
    "a row that starts too high": (with_row(1, 1, y=Decimal(1)), "row 1 starts at 1"),
    "a row number twice": (with_row(1, 2, number=1), "row 2 is numbered 1"),
    "an empty row": (with_row(1, 1, placements=()), "it is empty"),
    "a void": (with_row(1, 1, placements=ROW.placements[1:]), "its blocks cover"),
    "a block twice": (with_row(1, 1, placements=(ROW.placements[0], *ROW.placements)), "overlap"),
    "blocks that overlap": (with_block(lambda p: p.x > 0, x=Decimal(0)), "overlap"),
    "a block outside the bay": (with_block(any_block, x=Decimal(144)), "reaches out of the bay"),
    "a block out of its row": (with_block(any_block, y=Decimal(-1)), "reaches out of its row"),
    "a block of another size": (with_block(any_block, size=Decimal(12)), "not 12"),
    "blocks not in order": (with_row(1, 1, placements=ROW.placements[::-1]), "left to right, low before high"),
    "a place counted wrong": (with_block(any_block, place=7), "is counted as place 7"),
    "a row counted wrong": (with_block(any_block, row=3), "of row 3"),
    "a position called wrong": (with_block(any_block, position="1.1"), "is called 1.1, not 1.1.1"),
    "a part that is not there": (with_block(is_spare, part="B-999"), "B-999 is no block"),
    "a filler that is a block": (with_block(is_spare, role="filler"), "is no filler"),
    "a cable's block called a spare": (with_block(holds("C0"), role="spare"), "a spare holds a cable"),
    "a spare without a plug": (with_block(lambda p: p.role == "filler", role="spare", part="B-18"), "has no plug"),
    "a cable left out": (with_block(holds("C0"), role="spare", cable=None, fit=None), "cable C0 stands in no block"),
    "a cable twice": (with_block(holds("C0"), cable="C1"), "cable C1 stands in 2 blocks"),
    "a cable not on the list": (with_block(holds("C0"), cable="C99"), "cable C99 is not on the list"),
    "a cable without a fit": (with_block(holds("C0"), fit=None), "without a cable or a fit"),
    "a cable in a block too small": (with_block(holds("C10"), cable="C0"), "no number of layers closes around"),
    "a fit for another part": (with_fit(part="B-72"), "its fit is for B-72"),
    "layers that do not close": (
        with_fit(likely=Peel(a=3, b=3, gap=Decimal("0.5"))),
        "do not close around its likely diameter",
    ),
    "a gap that is not so": (with_fit(likely=Peel(a=0, b=0, gap=Decimal("0.6"))), "the gap to expect is"),
    "measuring that is not needed": (with_fit(measure=True), "need not be measured"),
}


def rebuilt(layout: Layout) -> Layout:
    """Validate again, since a changed copy is not."""
    return Layout.model_validate(layout.model_dump())


@pytest.mark.parametrize("name", BROKEN)
def test_every_kind_of_fault_is_found(name: str) -> None:
    broken, said = BROKEN[name]
    found = faults(rebuilt(broken))
    assert any(said in fault for fault in found), found


def test_spares_that_are_not_there() -> None:
    more = invented.spares({24: 2, 36: 40})
    assert check_layout(RIGHT, FRAME, SYSTEM, CABLES, more, invented.JOB)[0].startswith("40 spares of 36 mm")


def test_a_filler_stands_for_no_spare_where_the_rest_is_spares() -> None:
    """The same layout with one spare made a filler of its size: right where the rest is solid, else not."""
    spare = next(p for p in RIGHT.placements if p.role == "spare" and p.size == 24)
    layout = rebuilt(with_block(lambda p: p is spare, role="filler", part="F-24"))
    asked = invented.spares({24: sum(p.role == "spare" and p.size == 24 for p in layout.placements), 36: 1})

    def said(rest: Literal["spares", "solid"]) -> tuple[str, ...]:
        spot = Spot(x=Decimal(1), y=Decimal(1), to="centre")
        transit = Transit(wall="W", working_side="here", frame="frame", fixing="welded", at=spot, rest=rest)
        return check_layout(layout, FRAME, SYSTEM, CABLES, asked, invented.JOB, transit)

    filled = [fault for fault in said("spares") if "is a filler" in fault]
    assert tuple(filled) == said("spares")
    assert len(filled) == 1
    assert not any("is a filler" in fault for fault in said("solid"))


def test_stacks_only_where_the_bay_allows_them() -> None:
    data = FRAME.model_dump()
    for bay in data["bays"]:
        bay["stacking"] = False
    plain = type(FRAME).model_validate(data)
    assert any("is stacked" in f for f in check_layout(RIGHT, plain, SYSTEM, CABLES, SPARES, invented.JOB))


def test_lists_and_parts_that_contradict_each_other() -> None:
    assert "the list names a cable twice" in check_layout(
        RIGHT, FRAME, SYSTEM, [*CABLES, CABLES[0]], SPARES, invented.JOB
    )
    data = SYSTEM.model_dump()
    data["row_plates"]["P-144"]["length"] = Decimal(140)
    short = type(SYSTEM).model_validate(data)
    found = check_layout(RIGHT, FRAME, short, CABLES, SPARES, invented.JOB)
    assert "bay 1: row plate P-144 is not as long as the bay is wide" in found


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"service": "pipe"}, "pipe C0 stands in a part that takes no pipes"),
        ({"bonded": True}, "cable C0 must be bonded, and the part cannot"),
        # Its block answers 10.3 at most and may be read 10.25 at most: 10.3 may be shown for 10.28.
        ({"most": Decimal("10.28")}, "a reading of 10.3 lies outside the part's diameter table"),
    ],
)
def test_a_cable_that_its_block_does_not_hold(change: dict[str, Any], said: str) -> None:
    asked = [(24,)]
    system = invented.catalogue((24,), asked, {"frame": invented.frame([invented.bay(72, 60)])}, plugs=(24,))
    frame = invented.only_frame(system)
    cable = invented.cables(asked)[0]
    layout = pack_frame(frame, system, invented.demands([cable], system), (), 1_000)
    assert isinstance(layout, Layout)
    found = check_layout(layout, frame, system, [cable.model_copy(update=change)], (), invented.JOB)
    assert any(said in fault for fault in found), found


@pytest.mark.parametrize(("flat", "faults"), [("0.5", 0), ("0.501", 1)])
def test_a_cable_less_round_than_its_block_allows(flat: str, faults: int) -> None:
    asked = [(24,)]
    system = invented.catalogue((24,), asked, {"frame": invented.frame([invented.bay(72, 60)])}, plugs=(24,))
    blocks = {part: block.model_copy(update={"not_round": Decimal("0.5")}) for part, block in system.blocks.items()}
    system = system.model_copy(update={"blocks": blocks})
    frame, cable = invented.only_frame(system), invented.cables(asked)[0]
    layout = pack_frame(frame, system, invented.demands([cable], system), (), 1_000)
    assert isinstance(layout, Layout)
    oval = cable.model_copy(update={"out_of_round_mm": Decimal(flat)})
    found = check_layout(layout, frame, system, [oval], (), invented.JOB)
    assert [fault for fault in found if "less round" in fault] == [
        "block 1.1: C0 is less round than its part allows"
    ] * faults


def test_a_column_of_two_sizes() -> None:
    """A 72 row with 36 + 18 + 18 in one column and 18 + 18 beside: full, without overlap, and no legal column."""
    asked = [(72,)]
    system = invented.catalogue(
        (18, 36, 72), asked, {"frame": invented.frame([invented.bay(108, 108)])}, plugs=(18, 36, 72)
    )
    frame = invented.only_frame(system)
    layout = pack_frame(frame, system, invented.demands(invented.cables(asked), system), (), 1_000)
    assert isinstance(layout, Layout)
    bay = layout.bays[0]
    kept = next(p for p in bay.rows[0].placements if p.cable)
    spare = next(p for p in bay.rows[0].placements if not p.cable)
    squares = [(0, 0, 36), (0, 36, 18), (18, 36, 18), (0, 54, 18), (18, 54, 18)]
    kept = kept.model_copy(update={"x": Decimal(36), "y": Decimal(0), "place": 6, "position": "1.6"})
    mixed = sorted(squares)
    placements = [
        spare.model_copy(
            update={
                "x": Decimal(x),
                "y": Decimal(y),
                "size": Decimal(size),
                "part": f"B-{size}",
                "place": place,
                "position": f"1.{place}",
            }
        )
        for place, (x, y, size) in enumerate(mixed, 1)
    ]
    row = bay.rows[0].model_copy(update={"placements": (*placements, kept)})
    broken = layout.model_copy(update={"bays": (bay.model_copy(update={"rows": (row,)}),)})
    found = check_layout(broken, frame, system, invented.cables(asked), (), invented.JOB)
    assert any("mixes sizes" in fault for fault in found), found


# -- split seals ------------------------------------------------------------------------------------------

SEAL = SplitSeal.model_validate(
    {
        "diameter": 60,
        "layers": {
            "bore": "12",
            "layer": "0.8",
            "layers_per_half": 9,
            "odd_layer": "A",
            "halves_differ_by": 1,
            "gap": {"least": "0.2", "most": "1.2"},
        },
        "fixings": {
            "plain-hole": {
                "opening": {"diameter": 60, "plus": 1, "minus": 0},
                "plate": {"least": 3, "most": 8},
                "materials": ["steel"],
            }
        },
    }
)
SEALED = SYSTEM.model_copy(update={"split_seals": {"H-60": SEAL}})
ONE = CABLES[0].model_copy(update={"least": Decimal("19.5"), "most": Decimal("20.5"), "diameter": Decimal(20)})


def sealed() -> SealLayout:
    fit = fit_seal(ONE, "H-60", SEAL, invented.JOB)
    assert isinstance(fit, Fit)
    return SealLayout(part="H-60", diameter=Decimal(60), cable="C0", fit=fit)


def test_a_split_seal_is_judged_too() -> None:
    right = sealed()
    assert check_layout(right, None, SEALED, [ONE], (), invented.JOB) == ()
    assert "a split seal leaves no spares" in check_layout(right, None, SEALED, [ONE], SPARES, invented.JOB)
    thick = ONE.model_copy(update={"most": Decimal(40)})
    wrong = {
        "is no split seal": (right.model_copy(update={"part": "H-99"}), [ONE]),
        "has a diameter of 60": (right.model_copy(update={"diameter": Decimal(61)}), [ONE]),
        "its fit is for": (right.model_copy(update={"fit": right.fit.model_copy(update={"part": "X"})}), [ONE]),
        "the list has none": (right, []),
        "the list has C0, C1": (right, [ONE, CABLES[1]]),
        "no number of layers closes around": (right, [thick]),
        "must be measured": (
            right.model_copy(update={"fit": right.fit.model_copy(update={"measure": False})}),
            [ONE],
        ),
        "do not close": (
            right.model_copy(update={"fit": right.fit.model_copy(update={"likely": Peel(a=0, b=0, gap=Decimal(8))})}),
            [ONE],
        ),
        "nearer the middle": (
            # 20 - 12 - 10 x 0.8 = 0 lies below the window, 20 - 12 - 9 x 0.8 = 0.8 in it, 8 x 0.8 leaves 1.6: the
            # neighbour 20.2 mm has 9 and 10, gaps 1.0 and 0.2, and 1.0 is nearer 0.7.
            right.model_copy(
                update={"fit": right.fit.model_copy(update={"likely": Peel(a=5, b=5, gap=Decimal("0.2"))})}
            ),
            [ONE.model_copy(update={"diameter": Decimal("20.2")})],
        ),
    }
    for said, (layout, cables) in wrong.items():
        again = SealLayout.model_validate(layout.model_dump())
        found = check_layout(again, None, SEALED, cables, (), invented.JOB)
        assert any(said in fault for fault in found), (said, found)


def test_a_frame_layout_needs_its_frame() -> None:
    assert check_layout(RIGHT, None, SYSTEM, CABLES, SPARES, invented.JOB) != ()


# -- hunting: a fault the judge does not see ------------------------------------------------------------


@given(
    block=st.integers(0, len(RIGHT.placements) - 1),
    other=st.integers(0, len(RIGHT.placements) - 1),
    what=st.sampled_from(["x", "y", "size", "swap", "swap contents"]),
    by=st.sampled_from([-36, -24, -18, -12, -6, 6, 12, 18, 24, 36]),
)
@settings(max_examples=400, deadline=None)
def test_no_change_of_geometry_goes_unseen(block: int, other: int, what: str, by: int) -> None:
    """Whatever the judge accepts is a full bay without overlap, by an independent geometry library."""
    one, two = RIGHT.placements[block], RIGHT.placements[other]
    if what == "swap":
        changed = {block: {"x": two.x, "y": two.y}, other: {"x": one.x, "y": one.y}}
    elif what == "swap contents":
        keys = ("role", "part", "cable", "fit")
        changed = {block: {k: getattr(two, k) for k in keys}, other: {k: getattr(one, k) for k in keys}}
    else:
        changed = {block: {what: getattr(one, what) + by}}
    numbered = {id(p): i for i, p in enumerate(RIGHT.placements)}
    bays = []
    for bay in RIGHT.bays:
        rows = []
        for row in bay.rows:
            moved = [p.model_copy(update=changed.get(numbered[id(p)], {})) for p in row.placements]
            rows.append(row.model_copy(update={"placements": tuple(moved)}))
        bays.append(bay.model_copy(update={"rows": tuple(rows)}))
    layout = RIGHT.model_copy(update={"bays": tuple(bays)})
    if faults(layout) == ():
        assert_full(layout)
        assert sorted(p.cable for p in layout.placements if p.cable) == sorted(c.tag for c in CABLES)
        assert all(p.size == part_size(p.part) for p in layout.placements)


def part_size(part: str) -> Decimal:
    return SYSTEM.blocks[part].size if part in SYSTEM.blocks else SYSTEM.fillers[part].size


def assert_full(layout: Layout) -> None:
    """Union and sum of the areas of blocks, plates and unit are the bay's: nothing overlaps, nothing is void."""
    for laid, bay in zip(layout.bays, FRAME.bays, strict=True):
        shapes = [box(float(p.x), float(p.y), float(p.x + p.size), float(p.y + p.size)) for p in laid.placements]
        width = float(bay.width)
        shapes += [box(0, float(p.y), width, float(p.y + p.thickness)) for p in laid.plates]
        shapes.append(box(0, float(laid.unit.y), width, float(laid.unit.y + laid.unit.height)))
        area = float(bay.width * bay.height)
        assert unary_union(shapes).equals(box(0, 0, width, float(bay.height)))
        assert sum(shape.area for shape in shapes) == pytest.approx(area, abs=1e-6)


def test_a_right_layout_is_full_by_an_independent_library() -> None:
    assert_full(RIGHT)
