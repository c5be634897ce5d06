"""Packing: cases with their arithmetic, reasons that were computed, limits, and the same answer every time."""

import random
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import box
from shapely.ops import unary_union

from generator.engine.check import check_layout
from generator.engine.packing import pack_frame
from generator.engine.solver.cuts import fillings
from generator.engine.solver.promotion import solve
from generator.engine.solver.rows import RowKind, Space, row_sets
from generator.engine.solver.steps_left import OutOfSteps, StepsLeft
from generator.engine.solver.task import Ask, Task
from generator.engine.units import Demand
from generator.model.catalogue import Catalogue, Frame
from generator.model.job import Cable, Spare
from generator.model.layout import Layout, NoLayout
from tests.engine import invented

CASES = Path(__file__).parents[1] / "packing_cases"
LIMIT = 200_000
SIZES = (18, 24, 36, 48, 72, 96)


def described(bays: list[dict[str, Any]]) -> dict[str, Any]:
    made, x = [], 0
    for one in bays:
        made.append(invented.bay(x=x, **one))
        x += one["width"]
    return invented.frame(made)


# -- cases ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(folder.name for folder in CASES.iterdir()))
def test_case(name: str) -> None:
    """Each folder has its arithmetic in why.md; the figures here were worked out there, by hand."""
    case = yaml.safe_load((CASES / name / "case.yaml").read_text(encoding="utf-8"))
    assert (CASES / name / "why.md").stat().st_size > 80
    options = [tuple(cable) for cable in case["cables"]]
    frames = {"frame": described(case["bays"])}
    if "other" in case:
        frames["other"] = described(case["other"])
    system = invented.catalogue(
        case["sizes"],
        options,
        frames,
        plugs=case["plugs"],
        fillers=case.get("fillers", ()),
        unit=case.get("unit", 33),
    )
    asked, wanted = invented.cables(options), invented.spares(case.get("spares", {}))
    answer = pack_frame(system.frames["frame"], system, invented.demands(asked, system), wanted, LIMIT)
    expect = case["expect"]
    if "none" in expect:
        assert isinstance(answer, NoLayout)
        assert not answer.gave_up
        assert answer.what == expect["none"]
        assert answer.why == expect.get("why", answer.why)
        assert answer.mend == expect.get("mend", answer.mend)
        return
    assert isinstance(answer, Layout)
    assert answer.proven
    assert check_layout(answer, system.frames["frame"], system, asked, wanted, invented.JOB) == ()
    smallest = {cable.tag: min(option) for cable, option in zip(asked, options, strict=True)}
    assert [[int(row.height) for row in bay.rows] for bay in answer.bays] == expect["rows"]
    assert sum(int(p.size) - smallest[p.cable] for p in answer.placements if p.cable) == expect["growth"]
    assert len(answer.placements) + sum(len(bay.plates) for bay in answer.bays) == expect["pieces"]
    assert len({p.size for p in answer.placements}) == expect["sizes"]
    assert sum(p.role == "filler" for p in answer.placements) == expect.get("fillers", 0)


# -- what the solver finds for itself ----------------------------------------------------------------------


def test_fillings_of_a_row_by_hand() -> None:
    # 72 across, 72 high, of 18, 24, 36 and 72 with stacks of 4, 3, 2 and 1: 72 | 36+36 | 36+18+18 | 24·3 | 18·4.
    found = fillings(RowKind(72, 72, True), (18, 24, 36, 72), 0b1111, StepsLeft(1_000))
    assert found == ((0, 0, 0, 1), (0, 0, 4, 0), (0, 9, 0, 0), (8, 0, 2, 0), (16, 0, 0, 0))
    assert fillings(RowKind(72, 72, False), (18, 24, 36, 72), 0b1111, StepsLeft(1_000)) == ((0, 0, 0, 1),)


def test_row_sets_by_hand() -> None:
    # 180 - 33 = 147 with a plate of 3 on every row: 99 + 27 + 21 | 75 + 51 + 21 | 51 + 2·27 + 2·21 | 2·39 + 27 + 2·21
    # | 39 + 4·27 | 7·21.
    space = Space(width=144, height=147, plate=3, plate_on_top=True, stacking=True)
    assert row_sets(space, SIZES, StepsLeft(1_000)) == (
        (96, 24, 18),
        (72, 48, 18),
        (48, 24, 24, 18, 18),
        (36, 36, 24, 18, 18),
        (36, 24, 24, 24, 24),
        (18,) * 7,
    )


def test_rows_refuse_the_squared_rectangle() -> None:
    """A published fact: 33 x 32 is filled by squares of 18, 15, 14, 10, 9, 8, 7, 4 and 1 (Moroń, 1925).

    It has no cut right across, so rows cannot build it, although the areas add up: 1056.
    """
    squares = (1, 4, 7, 8, 9, 10, 14, 15, 18)
    assert sum(side**2 for side in squares) == 33 * 32
    whole = Space(width=33, height=32, plate=0, plate_on_top=False, stacking=True)
    task = Task(spaces=(whole,), sizes=squares, heights=squares, fills=0)
    ask = Ask.of([(i,) for i in range(len(squares))], (0,) * len(squares))
    assert solve(task, ask, StepsLeft(LIMIT)) is None


# -- reasons -------------------------------------------------------------------------------------------------


def packing_of(
    options: list[tuple[int, ...]],
    bays: list[dict[str, Any]],
    spares: dict[int, int] | None = None,
    limit: int = LIMIT,
    services: tuple[str, ...] = ("power",),
) -> tuple[Layout | NoLayout, Catalogue, list[Cable], list[Spare]]:
    system = invented.catalogue(SIZES, options, {"frame": described(bays)}, plugs=SIZES)
    asked, wanted = invented.cables(options, services), invented.spares(spares or {})
    return (
        pack_frame(invented.only_frame(system), system, invented.demands(asked, system), wanted, limit),
        system,
        asked,
        wanted,
    )


def test_a_cable_without_a_block_is_named() -> None:
    system = invented.catalogue((24,), [(24,)], {"frame": described([{"width": 72, "height": 60}])}, plugs=(24,))
    thick = Cable(tag="W-9", service="power", least=Decimal(50), most=Decimal(50))
    answer = pack_frame(invented.only_frame(system), system, invented.demands([thick], system), (), LIMIT)
    assert isinstance(answer, NoLayout)
    assert answer.what == "cable W-9 has no block"


def test_a_spare_that_the_system_has_no_plug_for() -> None:
    system = invented.catalogue((24, 36), [(24,)], {"frame": described([{"width": 72, "height": 60}])}, plugs=(24,))
    answer = pack_frame(
        invented.only_frame(system), system, invented.demands([], system), invented.spares({36: 1}), LIMIT
    )
    assert isinstance(answer, NoLayout)
    assert (answer.what, answer.why) == (
        "there is no spare of 36 mm",
        "the sealing system has blocks with a plug in 24 mm",
    )


def test_every_mend_that_is_offered_does_mend() -> None:
    """Do what the mend says, and pack again."""
    draw, done = random.Random(5), set()
    for _ in range(100):
        options = [(size,) for size in draw.choices(SIZES, (5, 5, 3, 1, 0.3, 0), k=draw.randint(4, 16))]
        small, large = {"width": 144, "height": 111}, {"width": 144, "height": 180}
        counts = {draw.choice((18, 24, 36)): draw.randint(1, 3)}
        system = invented.catalogue(
            SIZES, options, {"frame": described([small]), "larger": described([large])}, plugs=SIZES
        )
        asked = invented.cables(options)

        def pack(
            frame: str, cables: list[Cable], spares: dict[int, int], system: Catalogue = system
        ) -> Layout | NoLayout:
            return pack_frame(
                system.frames[frame], system, invented.demands(cables, system), invented.spares(spares), LIMIT
            )

        answer = pack("frame", asked, counts)
        if not isinstance(answer, NoLayout):
            continue
        for mend in answer.mend.split("; or "):
            words = mend.split()
            if mend.startswith("ask for one spare of"):
                size = int(words[5])
                again = pack("frame", asked, {**counts, size: counts[size] - 1})
            elif mend == "ask for no spares":
                again = pack("frame", asked, {})
            elif mend.startswith("take frame"):
                again = pack(words[2], asked, counts)
            elif mend.startswith("move cable"):
                again = pack("frame", [c for c in asked if c.tag != words[2]], counts)
            else:
                assert mend.startswith("no single change mends it")
                assert isinstance(pack("larger", asked, counts), NoLayout)
                continue
            assert isinstance(again, Layout), (mend, options, counts)
            done.add(words[0])
    assert done == {"ask", "take", "move"}


# -- limits ---------------------------------------------------------------------------------------------------

HARD = [(24,)] * 30 + [(18, 24)] * 10
TWO = [{"width": 288, "height": 288}, {"width": 288, "height": 288}]


def test_a_search_that_ends_at_its_limit_says_so() -> None:
    answer, system, asked, wanted = packing_of(HARD, TWO, limit=3_000)
    assert isinstance(answer, Layout)
    assert not answer.proven
    assert "ended at its limit" in answer.note
    assert check_layout(answer, invented.only_frame(system), system, asked, wanted, invented.JOB) == ()
    none, *_ = packing_of(HARD, TWO, limit=50)
    assert isinstance(none, NoLayout)
    assert none.gave_up


def test_how_far_from_the_best_is_never_told_too_small() -> None:
    """At every limit: the judge's word on the layout, and the true best within the pieces the note allows."""
    options = [(24,)] * 8 + [(18, 24)] * 3 + [(36,), (36, 48), (48,)]
    bays = [{"width": 144, "height": 180}, {"width": 144, "height": 111}]
    best, system, asked, wanted = packing_of(options, bays)
    assert isinstance(best, Layout)
    assert best.proven
    fewest = len(best.placements) + sum(len(bay.plates) for bay in best.bays)
    notes = set()
    for limit in range(0, 1_000, 4):
        answer, *_ = packing_of(options, bays, limit=limit)
        if isinstance(answer, NoLayout):
            assert answer.gave_up
            continue
        assert check_layout(answer, invented.only_frame(system), system, asked, wanted, invented.JOB) == ()
        pieces = len(answer.placements) + sum(len(bay.plates) for bay in answer.bays)
        if answer.proven:
            assert answer == best
            continue
        told = re.search(r"up to ([0-9]+) pieces fewer", answer.note)
        assert pieces - fewest <= (int(told[1]) if told else 0)
        notes.add(bool(told))
    assert notes == {True, False}


def test_the_limit_ends_at_the_same_place_warm_and_cold() -> None:
    """What a search before has left in memory saves time, not steps."""
    taken = []
    for _ in range(2):
        system = invented.catalogue(SIZES, HARD, {"frame": described(TWO)}, plugs=SIZES)
        demands = invented.demands(invented.cables(HARD), system)
        answers = [
            pack_frame(invented.only_frame(system), system, demands, (), limit) for limit in range(300, 2_000, 200)
        ]
        taken.append([answer.model_dump_json() for answer in answers])
        invented.forget()
    assert taken[0] == taken[1]


def test_a_search_that_is_broken_off_leaves_nothing_wrong_behind() -> None:
    """Ctrl-C in the middle of a search, at twenty places: what is kept for the next one stays right."""
    expected, *_ = packing_of(HARD, TWO, limit=3_000)
    for after in range(10, 210, 10):
        invented.forget()
        taken = StepsLeft.take

        def take(self: StepsLeft, count: int, taken: Any = taken, left: list[int] = [after]) -> None:  # noqa: B006
            left[0] -= 1
            if left[0] == 0:
                raise KeyboardInterrupt
            taken(self, count)

        with pytest.MonkeyPatch.context() as patch, pytest.raises(KeyboardInterrupt):
            patch.setattr(StepsLeft, "take", take)
            packing_of(HARD, TWO, limit=3_000)
        again, *_ = packing_of(HARD, TWO, limit=3_000)
        assert again == expected


def test_steps_run_out() -> None:
    steps = StepsLeft(3)
    steps.take(2)
    assert steps.taken == 2
    with pytest.raises(OutOfSteps):
        steps.take(2)


# -- the same answer every time --------------------------------------------------------------------------------


def test_the_catalogue_in_another_order_lays_out_the_same() -> None:
    options = [(24,), (24,), (36,), (18, 24), (48,), (36, 48)]
    answer, system, asked, wanted = packing_of(options, [{"width": 144, "height": 180}], {24: 2})
    data = system.model_dump()
    for key in ("blocks", "fillers", "row_plates", "clamping_units", "frames"):
        data[key] = dict(reversed(list(data[key].items())))
    turned = Catalogue.model_validate(data)
    again = pack_frame(invented.only_frame(turned), turned, invented.demands(asked, turned), wanted, LIMIT)
    assert again == answer


def test_of_parts_of_one_size_the_plain_one_fills() -> None:
    """A block that bonds, and a second filler, are not spent on filling a bay."""
    system = invented.catalogue(
        (24,), [(24,)], {"frame": described([{"width": 72, "height": 60}])}, plugs=(24,), fillers=(24,)
    )
    data = system.model_dump()
    data["blocks"]["A-24-bonds"] = {**data["blocks"]["B-24"], "bonds": True}
    more = Catalogue.model_validate(data)
    asked = invented.cables([(24,)])
    answer = pack_frame(invented.only_frame(more), more, invented.demands(asked, more), (), LIMIT)
    assert isinstance(answer, Layout)
    assert [(p.role, p.part) for p in answer.placements] == [
        ("cable", "B-24"),
        ("spare", "B-24"),
        ("spare", "B-24"),
    ]


def test_classes_stand_together_in_the_order_of_the_schedule() -> None:
    options = [(24,)] * 10
    answer, _, asked, _ = packing_of(
        options, [{"width": 144, "height": 87}], services=("data", "power", "control")
    )  # 2 x (24 + 3) + 33
    assert isinstance(answer, Layout)
    service = {cable.tag: cable.service for cable in asked}
    order = [service[p.cable] for p in answer.placements if p.cable]
    assert order == ["data"] * 4 + ["power"] * 3 + ["control"] * 3
    tags = [p.cable for p in answer.placements if p.cable]
    assert tags == ["C0", "C3", "C6", "C9", "C1", "C4", "C7", "C2", "C5", "C8"]


def test_the_thickest_cable_takes_the_larger_block() -> None:
    """Three may stand in 36 or 48, two places are 36: the thickest of them goes up."""
    system = invented.catalogue(
        (36, 48), [(36, 48)], {"frame": described([{"width": 72, "height": 123}])}, plugs=(), fillers=(24,)
    )  # (48 + 3) + (36 + 3) + 33: a row of 36 + 36, and one of 48 with two fillers of 24
    cables = [
        Cable(tag=tag, service="power", least=Decimal(d), most=Decimal(d))
        for tag, d in (("a", "9.9"), ("b", "10.1"), ("c", "10"))
    ]
    answer = pack_frame(invented.only_frame(system), system, invented.demands(cables, system), (), LIMIT)
    assert isinstance(answer, Layout)
    assert {p.cable: int(p.size) for p in answer.placements if p.cable} == {"a": 36, "b": 48, "c": 36}


def test_an_empty_frame_is_filled_with_spares() -> None:
    answer, system, _, _ = packing_of([], [{"width": 144, "height": 180}])
    assert isinstance(answer, Layout)
    assert {p.role for p in answer.placements} == {"spare"}
    assert check_layout(answer, invented.only_frame(system), system, [], [], invented.JOB) == ()


# -- hunting: any answer must pass the judge, and fill its bays by an independent library -------------------------

sizes_of_cables = st.lists(
    st.tuples(st.integers(0, 5), st.integers(1, 3)).map(lambda t: SIZES[t[0] : t[0] + t[1]]), max_size=24
)
bays_of_frames = st.lists(
    st.sampled_from([(72, 111), (144, 180), (96, 105), (144, 111), (216, 180)]), min_size=1, max_size=2
)


@given(
    options=sizes_of_cables,
    shapes=bays_of_frames,
    spare=st.dictionaries(st.sampled_from(SIZES[:4]), st.integers(1, 3), max_size=2),
    plugs=st.sets(st.sampled_from(SIZES), min_size=1),
    fillers=st.sets(st.sampled_from(SIZES)),
    stacking=st.booleans(),
    on_top=st.booleans(),
)
@settings(max_examples=80, deadline=None)
def test_whatever_is_asked_the_answer_passes_the_judge(
    options: list[tuple[int, ...]],
    shapes: list[tuple[int, int]],
    spare: dict[int, int],
    plugs: set[int],
    fillers: set[int],
    stacking: bool,
    on_top: bool,
) -> None:
    bays = [{"width": w, "height": h, "stacking": stacking, "on_top": on_top} for w, h in shapes]
    system = invented.catalogue(SIZES, options, {"frame": described(bays)}, plugs=plugs, fillers=fillers)
    asked = invented.cables(options, ("power", "control", "data"))
    wanted = invented.spares({size: count for size, count in spare.items() if size in plugs})
    frame = invented.only_frame(system)
    answer = pack_frame(frame, system, invented.demands(asked, system), wanted, 20_000)
    if isinstance(answer, NoLayout):
        assert answer.what
        assert answer.why
        assert answer.mend
        return
    assert check_layout(answer, frame, system, asked, wanted, invented.JOB) == ()
    assert_full(answer, frame)


def assert_full(layout: Layout, frame: Frame) -> None:
    """The blocks of each row cover it and nothing else, and their areas add up: no void, no overlap."""
    for laid, bay in zip(layout.bays, frame.bays, strict=True):
        for row in laid.rows:
            blocks = [box(float(p.x), float(p.y), float(p.x + p.size), float(p.y + p.size)) for p in row.placements]
            whole = box(0, float(row.y), float(bay.width), float(row.y + row.height))
            assert unary_union(blocks).equals(whole)
            assert sum(block.area for block in blocks) == pytest.approx(whole.area)
        heights = sum(row.height for row in laid.rows) + sum(plate.thickness for plate in laid.plates)
        assert heights + laid.unit.height == bay.height


def test_demand_is_part_of_the_face() -> None:
    from generator.engine import packing

    assert packing.Demand is Demand


@pytest.mark.parametrize(
    ("sizes", "bay", "held"),
    [
        ((1,), (10, 3001), [(1,)]),  # 1,500 rows
        (tuple(range(1, 25)), (240, 300), [(5,)] * 9),  # rows that can be filled in millions of ways
        (SIZES, (288, 288), [(18, 24, 36, 48, 72, 96)] * 90),  # needs without number
    ],
    ids=["rows", "fillings", "choices"],
)
def test_a_strange_catalogue_ends_in_an_answer(
    sizes: tuple[int, ...], bay: tuple[int, int], held: list[tuple[int, ...]]
) -> None:
    """No traceback and no endless search, whatever a catalogue holds: a layout, or a search that gave up."""
    described_bay = described([{"width": bay[0], "height": bay[1]}])
    system = invented.catalogue(sizes, held, {"frame": described_bay}, plugs=sizes, plate=1, unit=1)
    asked = invented.cables(held)
    frame = invented.only_frame(system)
    answer = pack_frame(frame, system, invented.demands(asked, system), (), 100_000)
    if isinstance(answer, NoLayout):
        assert answer.gave_up
    else:
        assert check_layout(answer, frame, system, asked, (), invented.JOB) == ()
