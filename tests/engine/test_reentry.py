"""One more cable: the least disturbance, against every place and every row there is.

Outside judges: ``check.py`` for each new layout; rows cut in every way by tests.engine.brute_force, which shares no
code with the engine; places counted here one by one from the drawing's figures alone. That a spare comes before a
re-cut and a re-cut before a repack is the module's rule, common practice without a source.
"""

import random
from collections import Counter
from decimal import Decimal
from functools import cache
from typing import Any

import pytest

from generator.engine.check import check_layout
from generator.engine.packing import pack_frame
from generator.engine.reentry import Built, add_cable, block_sizes, every_size
from generator.model.catalogue import Catalogue
from generator.model.job import Apart, Cable, Kept
from generator.model.layout import NoLayout, Placement, Row
from generator.model.reentry import Addition
from tests.engine import brute_force, invented

LIMIT = 200_000
SIDES = (12, 24, 36)
SERVICES = ("power", "control", "data")


@cache
def system(plugs: tuple[int, ...], fillers: tuple[int, ...], bays: int = 1, stacking: bool = True) -> Catalogue:
    """Bays of 72 x 129: 24 + 24 + 24 + 12 or 36 + 24 + 12 + 12 with four plates of 3 and the unit of 33 come to 129."""
    frame = invented.frame([invented.bay(72, 129, 80 * number, stacking=stacking) for number in range(bays)])
    return invented.catalogue(SIDES, [(12,), (24,), (36,), (24, 36)], {"frame": frame}, plugs=plugs, fillers=fillers)


def built(parts: Catalogue, options: list[tuple[int, ...]], spares: dict[int, int], **rules: Any) -> Built | None:
    at = invented.diameters([(12,), (24,), (36,), (24, 36)])
    asked = [
        Cable(tag=f"C{i}", service=SERVICES[i % 3], diameter=at[o], least=at[o], most=at[o])
        for i, o in enumerate(options)
    ]
    layout = pack_frame(
        invented.only_frame(parts),
        parts,
        invented.demands(asked, parts),
        invented.spares(spares),
        LIMIT,
    )
    if isinstance(layout, NoLayout):
        return None
    return Built(layout, invented.only_frame(parts), parts, invented.JOB, {c.tag: c for c in asked}, **rules)


def more(option: tuple[int, ...], service: str = "power") -> Cable:
    at = invented.diameters([(12,), (24,), (36,), (24, 36)])[option]
    return Cable(tag="NEW", service=service, diameter=at, least=at, most=at)


def drawn(seed: int) -> tuple[Built, Cable, tuple[int, ...]] | None:
    chance = random.Random(seed)
    plugs = tuple(s for s in SIDES if chance.random() < (0.9 if s == 12 else 0.5))
    fillers = tuple(s for s in SIDES if chance.random() < 0.4)
    parts = system(plugs, fillers, chance.choice((1, 1, 2)), chance.random() < 0.8)
    options = [chance.choice([(12,), (24,), (36,), (24, 36)]) for _ in range(chance.randint(1, 9))]
    there = built(parts, options, {})
    option = chance.choice([(12,), (24,), (36,), (24, 36)])
    return (there, more(option, chance.choice(SERVICES)), option) if there else None


@cache
def answered(seed: int) -> tuple[Built, Cable, tuple[int, ...], Addition | NoLayout] | None:
    case = drawn(seed)
    return (*case, add_cable(case[0], case[1], LIMIT)) if case else None


def judged(there: Built, cable: Cable, found: Addition, **job: Any) -> list[str]:
    """What the judge of layouts says to the new one."""
    return list(
        check_layout(
            found.layout,
            there.frame,
            there.catalogue,
            [*there.cables.values(), cable],
            (),
            there.job.model_copy(update=job),
        )
    )


def rows_over(there: Built, bay: int, row: int) -> list[Row]:
    return [
        other for other in there.layout.bays[bay - 1].rows if other.y > there.layout.bays[bay - 1].rows[row - 1].y
    ]


def cables_in(blocks: list[Placement]) -> list[str]:
    return [p.cable for p in blocks if p.cable]


def free_places(there: Built, sizes: tuple[int, ...], role: str) -> list[tuple[int, int]]:
    """Rows and cables that come out, for every place of that role and size: by geometry alone."""
    costs = []
    for p in there.layout.placements:
        if p.role == role and p.size in sizes:
            over = rows_over(there, p.bay, p.row)
            row = there.layout.bays[p.bay - 1].rows[p.row - 1]
            column = [q for q in row.placements if q.x == p.x and q.y > p.y]  # these bays have no nested columns
            taken = [q for r in over for q in r.placements] + column
            costs.append((len(over), len(cables_in(taken))))
    return costs


def can_be_cut(there: Built, row: Row, size: int, stacking: bool) -> bool:
    """Try every row there is: does one hold the row's cables and one block more, with what may fill the rest?"""
    need = Counter(int(p.size) for p in row.placements if p.cable)
    need[size] += 1
    fills = {int(b.size) for b in there.catalogue.blocks.values() if b.plug}
    fills |= {int(f.size) for f in there.catalogue.fillers.values()}
    for blocks in brute_force.rows(72, int(row.height), SIDES, stacking):
        has = Counter(dict(blocks))
        if all(has[s] >= need[s] and (has[s] == need[s] or s in fills) for s in SIDES):
            return True
    return False


@pytest.mark.parametrize("share", range(5))
def test_the_least_disturbance_against_every_place_and_row(share: int) -> None:
    ways: Counter[str] = Counter()
    for seed in range(share * 40, share * 40 + 40):
        case = answered(seed)
        if case is None:
            continue
        there, cable, sizes, found = case
        stacking = there.frame.bays[0].stacking
        spares, fillers = free_places(there, sizes, "spare"), free_places(there, sizes, "filler")
        recuts = [
            (len(rows_over(there, row_of.bay, row.number)), size)
            for row_of in there.layout.bays
            for row in row_of.rows
            for size in sizes
            if can_be_cut(there, row, size, stacking)
        ]
        if isinstance(found, NoLayout):
            ways["none"] += 1
            assert not found.gave_up
            assert not spares and not fillers and not recuts, seed
            whole = pack_frame(
                there.frame,
                there.catalogue,
                invented.demands([*there.cables.values(), cable], there.catalogue),
                (),
                LIMIT,
            )
            assert isinstance(whole, NoLayout), seed
            continue
        ways[found.way] += 1
        assert judged(there, cable, found) == [], seed
        expected = "spare" if spares else "filler" if fillers else "recut" if recuts else "repack"
        assert found.way == expected, seed
        (new,) = [p for p in found.layout.placements if p.cable == "NEW"]
        assert (new.bay, new.row, new.position, new.size) == (found.bay, found.row, found.position, found.size)
        before = {p.cable: (p.bay, p.row, p.x, p.y) for p in there.layout.placements if p.cable}
        after = {p.cable: (p.bay, p.row, p.x, p.y) for p in found.layout.placements if p.cable}
        moved = {tag for tag in before if before[tag] != after[tag]}
        assert moved <= set(found.disturbed), seed
        if found.way in ("spare", "filler"):
            assert (len(found.rows_out), len(found.disturbed)) == min(spares or fillers), seed
            assert not moved
        if found.way == "recut":
            assert len(found.rows_out) == min(recuts)[0], seed
        if found.way != "repack":
            over = rows_over(there, found.bay, found.row)
            taken = {tag for row in over for tag in cables_in(list(row.placements))}
            assert taken <= set(found.disturbed)
            plates = [p for p in there.layout.bays[found.bay - 1].plates if p.above_row >= found.row]
            assert found.plates_out == len(plates)
            untouched = [p for p in there.layout.placements if (p.bay, p.row) != (found.bay, found.row)]
            assert set(untouched) <= set(found.layout.placements)
        halves = sum(item.count for item in found.at_hand if item.why == "new halves")
        assert halves == len(found.disturbed)
        assert found.at_hand[0].part == new.part
    assert ways


def test_every_way_is_met() -> None:
    found = [case[3] for seed in range(200) if (case := answered(seed))]
    ways = Counter(one.way if isinstance(one, Addition) else "none" for one in found)
    assert min(ways[way] for way in ("spare", "filler", "recut", "repack", "none")) >= 3, ways


def test_a_spare_by_hand() -> None:
    """Rows 36, 24, 12 from below, a plate of 3 on each, unit 33: 72 + 9 + 33 = 114, 72 wide.

    36: C0 and a spare. 24: C1 and two spares. 12: C2 and five spares. One more in a 24: it takes a spare of row 2,
    so row 3 comes out with the plates on 3 and 2, and C2 gets new halves. In a 36: rows 3 and 2, three plates, C2
    and C1. In a 12: nothing but the plate on row 3.
    """
    frame = invented.frame([invented.bay(72, 114)])
    parts = invented.catalogue(SIDES, [(12,), (24,), (36,), (24, 36)], {"frame": frame}, plugs=SIDES)
    there = built(parts, [(36,), (24,), (12,)], {})
    assert there is not None
    assert [[str(p.cable) for p in row.placements] for row in there.layout.bays[0].rows] == [
        ["C0", "None"],
        ["C1", "None", "None"],
        ["C2", "None", "None", "None", "None", "None"],
    ]
    answers = {}
    for size in SIDES:
        found = add_cable(there, more((size,)), LIMIT)
        assert isinstance(found, Addition)
        answers[size] = (found.way, found.position, found.rows_out, found.plates_out, found.disturbed)
        assert (found.at_hand[0].part, found.at_hand[0].count) == (f"B-{size}", 1)
    assert answers == {
        12: ("spare", "3.2", (), 1, ()),
        24: ("spare", "2.2", ("3",), 2, ("C2",)),
        36: ("spare", "1.2", ("3", "2"), 3, ("C2", "C1")),
    }


@pytest.mark.parametrize("level", ["zone", "row", "bay"])
def test_classes_stay_apart(level: str) -> None:
    rule = Apart.model_validate({"classes": ["power", "data"], "level": level})
    met = 0
    for seed in range(120):
        case = drawn(seed)
        if case is None:
            continue
        there, cable, _ = case
        there = Built(there.layout, there.frame, there.catalogue, there.job, there.cables, (rule,))
        if check_layout(
            there.layout,
            there.frame,
            there.catalogue,
            list(there.cables.values()),
            (),
            there.job.model_copy(update={"apart": (rule,)}),
        ):
            continue  # built before anyone asked for it
        found = add_cable(there, cable, LIMIT)
        if isinstance(found, Addition) and found.way != "repack":
            met += 1
            assert judged(there, cable, found, apart=(rule,)) == [], seed
    assert met > 10


def test_what_stays_is_not_taken() -> None:
    for seed in range(80):
        case = answered(seed)
        if case is None:
            continue
        there, cable, _, found = case
        if not isinstance(found, Addition) or found.way != "spare":
            continue
        (new,) = [p for p in found.layout.placements if p.cable == "NEW"]
        kept = Kept(bay=new.bay, x=new.x, y=new.y, size=new.size)
        again = add_cable(
            Built(there.layout, there.frame, there.catalogue, there.job, there.cables, (), (kept,)), cable, LIMIT
        )
        if isinstance(again, Addition) and again.way != "repack":
            where = {(p.bay, p.x, p.y): p for p in again.layout.placements}
            assert where[new.bay, new.x, new.y].role == "spare", seed


def test_every_size_says_what_each_cable_is_told() -> None:
    """The table of a page and the answer for one cable are the same for a cable that only that size holds."""
    asked = 0
    for seed in range(60):
        case = drawn(seed)
        if case is None:
            continue
        there = case[0]
        for line in every_size(there, block_sizes(there.catalogue, there.job), LIMIT):
            if line.size == 36:  # the middle of what 36 answers may be held by 24 too
                continue
            for service in line.classes:
                if service == "pipe":
                    continue
                sizes = (int(line.size),)
                found = add_cable(there, more(sizes, service), LIMIT)
                asked += 1
                if line.addition is None:
                    assert isinstance(found, NoLayout)
                else:
                    assert isinstance(found, Addition)
                    assert found.way == line.addition.way
                    if found.way != "repack":  # whose places follow the classes
                        assert found.position == line.addition.position
    assert asked > 100


def test_a_cable_that_no_block_holds() -> None:
    there = built(system((12, 24, 36), ()), [(24,)], {})
    assert there is not None
    found = add_cable(there, Cable(tag="NEW", service="power", least=Decimal(99), most=Decimal(99)), LIMIT)
    assert isinstance(found, NoLayout) and "no block" in found.why


def test_a_search_that_ends_at_its_limit_says_so() -> None:
    for seed in range(200):
        if case := answered(seed):
            full = case[3]
            if isinstance(full, Addition) and full.way == "repack":
                found = add_cable(case[0], case[1], 1)
                assert isinstance(found, NoLayout) and found.gave_up
                return
    raise AssertionError("no repack was drawn")
