"""Hunting for a layout that ``check.py`` judges otherwise than the definition does.

Judge: the definition of ``engine.packing`` once more, over squares on a grid: a row is right when some reading of it as
columns is (``brute_force_rules``), rules are sets of what lies together. Arrangements are drawn, right ones for the most
part, one thing in them is changed, and the two judges must say the same, whatever that is.
"""

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import combinations, pairwise

import pytest
from hypothesis import assume, event, given, settings
from hypothesis import strategies as st

from generator.model.layout import BayLayout, Layout, Placement, Plate, Row, Unit
from tests.engine.brute_force import Square, free_tilings
from tests.engine.brute_force_rules import column_readings
from tests.engine.instances import Instance, describe
from tests.engine.judge import faults
from tests.reference.cpsat import Apart, Bay, Kept, Problem

UNIT = 5
CLASSES = ("power", "control", "data")
SPARE, FILLER = "spare", "filler"


@dataclass(frozen=True)
class Block:
    """A block in its row: x, y above the row's lower edge, side, and its cable's number, SPARE or FILLER."""

    x: int
    y: int
    side: int
    holds: int | str


@dataclass(frozen=True)
class Laid:
    """A row: bay, lower edge, height, blocks."""

    bay: int
    y: int
    height: int
    blocks: tuple[Block, ...]


# -- drawing ---------------------------------------------------------------------------------------------


def arrangement(chance: random.Random) -> tuple[Problem, list[Laid]] | None:
    """Draw a frame that is filled, and what was asked for, so that it is mostly right."""
    sides = tuple(sorted(chance.sample(range(1, 6), chance.randint(2, 4))))
    plate, nesting, stacking = chance.randint(1, 2), chance.random() < 0.4, chance.random() < 0.8
    bays, rows = [], []
    for number in range(chance.choice((1, 1, 2))):
        width, on_top = min(6, sum(chance.choices(sides, k=chance.randint(1, 3)))), chance.random() < 0.5
        heights = chance.choices(sides, k=chance.randint(1, 2))
        height = sum(heights) + plate * (len(heights) if on_top else len(heights) - 1)
        bay = Bay(width, height, plate, on_top, stacking, nesting)
        bays.append(bay)
        y = 0
        for high in heights:
            tilings = list(free_tilings(width, high, sides))
            right = [tiling for tiling in tilings if is_row(tiling, bay, high, sides)]
            if not tilings:
                return None
            tiling = chance.choice(right if right and chance.random() < 0.9 else tilings)
            rows.append(Laid(number, y, high, tuple(Block(*square, FILLER) for square in sorted(tiling))))
            y += high + plate
    return fill(chance, tuple(bays), sides, rows)


def fill(
    chance: random.Random, bays: tuple[Bay, ...], sides: tuple[int, ...], rows: list[Laid]
) -> tuple[Problem, list[Laid]]:
    """Put cables, spares and fillers into the blocks; ask for what is there."""
    plugs = frozenset(side for side in sides if chance.random() < 0.7)
    fillers = frozenset(side for side in sides if chance.random() < 0.6)
    solid = chance.random() < 0.3
    cables: list[tuple[int, ...]] = []
    services: list[str] = []
    full = []
    for row in rows:
        service, blocks = chance.choice(CLASSES), []
        for block in row.blocks:
            may = [SPARE] * (block.side in plugs) + [FILLER] * (
                block.side in fillers and (solid or block.side not in plugs)
            )
            holds: int | str = chance.choice(may) if may and chance.random() < 0.4 else len(cables)
            if isinstance(holds, int):
                at = sides.index(block.side)
                cables.append(sides[max(0, at - chance.choice((0, 0, 1))) : at + chance.choice((1, 1, 2))])
                service = chance.choice(CLASSES) if chance.random() < 0.15 else service
                services.append(service)
            blocks.append(replace(block, holds=holds))
        full.append(replace(row, blocks=tuple(blocks)))
    spares = Counter(block.side for row in full for block in row.blocks if block.holds == SPARE)
    kept = tuple(
        Kept(row.bay, b.x, row.y + b.y, b.side, b.holds if isinstance(b.holds, int) else None)
        for row in full
        for b in row.blocks
        if b.holds != FILLER and chance.random() < 0.1
    )
    level = chance.choice(("bay", "row", "zone", "zone"))
    problem = Problem(
        bays=bays,
        sides=sides,
        plugs=plugs,
        cables=tuple(cables),
        spares=dict(spares) if solid else {s: n for s, n in spares.items() if chance.random() < 0.5},
        fillers=fillers,
        services=tuple(services),
        circuits=tuple(
            f"L{row.bay if chance.random() < 0.9 else 0}" if chance.random() < 0.4 else None
            for row in full
            for b in row.blocks
            if isinstance(b.holds, int)
        ),
        magnetic=chance.random() < 0.8,
        apart=(Apart(level, frozenset(chance.sample(CLASSES, chance.randint(2, 3)))),)
        if chance.random() < 0.6
        else (),
        kept=kept,
        share=Fraction(0 if solid else chance.choice((0, 0, 10, 40))),
        solid=solid,
    )
    return problem, full


def change(chance: random.Random, problem: Problem, rows: list[Laid]) -> tuple[str, Problem, list[Laid]]:
    """Change one thing: in what was asked for, or in what was laid."""
    r = chance.randrange(len(rows))
    row = rows[r]
    b = chance.randrange(len(row.blocks))
    block = row.blocks[b]
    what = chance.choice(
        ("move", "resize", "take out", "put in twice", "empty", "swap", "swap", "swap") + ("ask",) * 5
    )
    if what == "ask":
        return ask_otherwise(chance, problem, rows)
    other_row = chance.randrange(len(rows))
    other = chance.randrange(len(rows[other_row].blocks))
    blocks = list(row.blocks)
    if what == "move":
        blocks[b] = replace(
            block, **{chance.choice("xy"): getattr(block, chance.choice("xy")) + chance.choice((-1, 1))}
        )
    elif what == "resize":
        blocks[b] = replace(block, side=chance.choice(problem.sides))
    elif what == "take out":
        del blocks[b]
    elif what == "put in twice":
        blocks.append(block)
    elif what == "empty":
        blocks[b] = replace(block, holds=chance.choice((SPARE, FILLER)))
    else:
        there = rows[other_row].blocks[other]
        if (other_row, other) == (r, b):
            return "nothing", problem, rows
        blocks[b] = replace(block, holds=there.holds)
        rows = [*rows]
        rows[r] = replace(row, blocks=tuple(blocks))
        blocks = list(rows[other_row].blocks)
        blocks[other] = replace(there, holds=block.holds)
        r, row = other_row, rows[other_row]
    return what, problem, [*rows[:r], replace(row, blocks=tuple(blocks)), *rows[r + 1 :]]


def ask_otherwise(chance: random.Random, problem: Problem, rows: list[Laid]) -> tuple[str, Problem, list[Laid]]:
    """Change one thing in what was asked for."""
    what = chance.choice(("spare", "share", "kept", "class", "circuit", "webs", "stacking", "nesting", "solid"))
    number = chance.randrange(max(1, len(problem.cables)))
    if what == "spare":
        side = chance.choice(problem.sides)
        problem = replace(
            problem, spares={**problem.spares, side: problem.spares.get(side, 0) + chance.choice((1, 2))}
        )
    elif what == "share" and not problem.solid:
        problem = replace(problem, share=Fraction(chance.choice((20, 60, 100, 150))))
    elif what == "kept" and problem.kept:
        first, *others = problem.kept
        moved = replace(
            first,
            **chance.choice(
                ({"x": first.x + 1}, {"y": first.y + 1}, {"side": chance.choice(problem.sides)}, {"cable": None})
            ),
        )
        problem = replace(problem, kept=(moved, *others))
    elif what == "class" and problem.cables:
        services = list(problem.services)
        services[number] = chance.choice(CLASSES)
        problem = replace(problem, services=tuple(services))
    elif what == "circuit" and problem.cables:
        circuits = list(problem.circuits)
        circuits[number] = chance.choice(("L0", "L1"))
        problem = replace(problem, circuits=tuple(circuits))
    elif what == "webs":
        problem = replace(problem, magnetic=not problem.magnetic)
    elif what in ("stacking", "nesting"):
        problem = replace(problem, bays=tuple(replace(bay, **{what: not getattr(bay, what)}) for bay in problem.bays))
    elif what == "solid" and not problem.share:
        problem = replace(problem, solid=not problem.solid)
    return f"ask: {what}", problem, rows


# -- the other judge -------------------------------------------------------------------------------------


def readings_of(
    blocks: tuple[Block, ...] | tuple[Square, ...], bay: Bay, height: int, sides: tuple[int, ...]
) -> Iterator[list[list[Square]]]:
    squares: list[Square] = [b if isinstance(b, tuple) else (b.x, b.y, b.side) for b in blocks]
    return column_readings(squares, bay, height, sides)


def is_row(tiling: tuple[Square, ...], bay: Bay, height: int, sides: tuple[int, ...]) -> bool:
    return any(True for _ in readings_of(tiling, bay, height, sides))


def is_full(row: Laid, bay: Bay) -> bool:
    """Whether every cell of a row's box is covered once, and nothing else is."""
    cells = Counter((b.x + i, b.y + j) for b in row.blocks for i in range(b.side) for j in range(b.side))
    return set(cells.values()) == {1} and set(cells) == {(x, y) for x in range(bay.width) for y in range(row.height)}


def zones_are_whole(problem: Problem, row: Laid) -> bool:
    """Whether the row can be read as columns so that every class of a zone rule has columns of its own, side by side."""
    zoned = frozenset[str]().union(*(rule.classes for rule in problem.apart if rule.level == "zone"))
    at = {(b.x, b.y): problem.services[b.holds] for b in row.blocks if isinstance(b.holds, int)}
    for columns in readings_of(row.blocks, problem.bays[row.bay], row.height, problem.sides):
        classes = [{at[x, y] for x, y, _ in column if (x, y) in at} for column in columns]
        own = {name: [i for i, met in enumerate(classes) if name in met] for name in zoned}
        if all(len(met) < 2 or not met & zoned for met in classes) and all(
            second == first + 1 for places in own.values() for first, second in pairwise(places)
        ):
            return True
    return False


def wrong(problem: Problem, rows: list[Laid]) -> list[str]:
    """Say which rules of the definition are broken."""
    found = []
    for row in rows:
        bay = problem.bays[row.bay]
        if not is_full(row, bay) or not any(True for _ in readings_of(row.blocks, bay, row.height, problem.sides)):
            found.append("row")
        elif not zones_are_whole(problem, row):
            found.append("zone")
    blocks = [(row, b) for row in rows for b in row.blocks]
    if Counter(b.holds for _, b in blocks if isinstance(b.holds, int)) != Counter(range(len(problem.cables))):
        found.append("cables")
    if any(isinstance(b.holds, int) and b.side not in problem.cables[b.holds] for _, b in blocks):
        found.append("too small or large")
    if any(
        b.side not in {SPARE: problem.plugs, FILLER: problem.fillers}[b.holds]
        for _, b in blocks
        if isinstance(b.holds, str)
    ):
        found.append("no such part")
    if not problem.solid and any(b.holds == FILLER and b.side in problem.plugs for _, b in blocks):
        found.append("a filler for a spare")
    held = [
        (row.bay, row.y, problem.services[b.holds], problem.circuits[b.holds])
        for row, b in blocks
        if isinstance(b.holds, int)
    ]
    for (bay, y, service, circuit), (other_bay, other_y, other, other_circuit) in combinations(held, 2):
        for rule in problem.apart:
            both = service != other and {service, other} <= rule.classes and bay == other_bay
            if both and (rule.level == "bay" or (rule.level == "row" and y == other_y)):
                found.append(rule.level)
        if circuit is not None and circuit == other_circuit and bay != other_bay and problem.magnetic:
            found.append("circuit")
    for kept in problem.kept:
        holds = SPARE if kept.cable is None else kept.cable
        if not any(
            (row.bay, b.x, row.y + b.y, b.side, b.holds) == (kept.bay, kept.x, kept.y, kept.side, holds)
            for row, b in blocks
        ):
            found.append("kept")
    there = Counter(b.side for _, b in blocks if b.holds == SPARE)
    stay = Counter(kept.side for kept in problem.kept if kept.cable is None)
    for side in problem.sides:
        asked = problem.spares.get(side, 0)
        if there[side] < asked or (problem.solid and there[side] > max(asked, stay[side])):
            found.append("spares")
    smallest = sum(min(options) ** 2 for options in problem.cables)
    if sum(side**2 * count for side, count in there.items()) * 100 < problem.share * smallest:
        found.append("share")
    return found


# -- as the engine has it -------------------------------------------------------------------------------------


def as_layout(instance: Instance, rows: list[Laid]) -> Layout:
    """Put an arrangement into the model's terms, everything numbered as it should be."""
    bays, several = [], len(instance.problem.bays) > 1
    for number, (bay, parts) in enumerate(zip(instance.problem.bays, instance.frame.bays, strict=True)):
        own = [row for row in rows if row.bay == number]
        laid, plates = [], []
        for r, row in enumerate(own, 1):
            ordered = sorted(row.blocks, key=lambda b: (b.x, b.y))
            placements = [placement(instance, number, r, p, row, b, several) for p, b in enumerate(ordered, 1)]
            laid.append(Row(number=r, y=Decimal(row.y), height=Decimal(row.height), placements=tuple(placements)))
            if r < len(own) or bay.on_top:
                plates.append(
                    Plate(
                        part=parts.row_plate, y=Decimal(row.y + row.height), thickness=Decimal(bay.plate), above_row=r
                    )
                )
        unit = Unit(part=parts.clamping_unit, y=Decimal(bay.height), height=Decimal(UNIT))
        bays.append(
            BayLayout(
                bay=number + 1,
                width=parts.width,
                height=parts.height,
                rows=tuple(laid),
                plates=tuple(plates),
                unit=unit,
            )
        )
    return Layout(bays=tuple(bays), proven=False)


def placement(instance: Instance, bay: int, r: int, p: int, row: Laid, block: Block, several: bool) -> Placement:
    """One block; the fit of a cable is the right one where there is one for that side."""
    cable = block.holds if isinstance(block.holds, int) else None
    fits = instance.demands[cable].fits if cable is not None else ()
    return Placement(
        position=f"{bay + 1}.{r}.{p}" if several else f"{r}.{p}",
        bay=bay + 1,
        row=r,
        place=p,
        x=Decimal(block.x),
        y=Decimal(row.y + block.y),
        size=Decimal(block.side),
        role="cable" if cable is not None else block.holds,  # type: ignore[arg-type]
        part=f"{'F' if block.holds == FILLER else 'B'}-{block.side}",
        cable=None if cable is None else instance.cables[cable].tag,
        fit=next((fit for fit in fits if fit.size == block.side), fits[0] if fits else None),
    )


def look(seed: int, changes: int) -> str:
    """Draw one arrangement and hold the two judges against each other; say what was looked at, '' for nothing."""
    chance = random.Random(seed)
    drawn = arrangement(chance)
    if drawn is None:
        return ""
    problem, rows = drawn
    what = "nothing"
    for _ in range(changes):
        what, problem, rows = change(chance, problem, rows)
    if not all(row.blocks for row in rows):
        return ""
    instance = describe("hunt", problem, unit=UNIT)
    layout = as_layout(instance, rows)
    expected, said = wrong(problem, rows), faults(instance, layout)
    assert bool(expected) == bool(said), (what, expected, said, problem, rows)
    if not expected and not changes:
        spoilt, how = spoil(chance, layout)
        assert faults(instance, spoilt), (how, problem, rows)
        return f"{how}: wrong"
    return f"{what}: {'wrong' if expected else 'right'}"


def spoil(chance: random.Random, layout: Layout) -> tuple[Layout, str]:
    """Put one fault into a right layout that is none of where blocks stand and what is in them."""
    b = chance.randrange(len(layout.bays))
    bay = layout.bays[b]
    r = chance.randrange(len(bay.rows))
    row = bay.rows[r]
    p = chance.randrange(len(row.placements))
    block = row.placements[p]
    one = Decimal(1)

    def with_row(**values: object) -> Layout:
        rows = (*bay.rows[:r], row.model_copy(update=values), *bay.rows[r + 1 :])
        return with_bay(rows=rows)

    def with_bay(**values: object) -> Layout:
        return layout.model_copy(
            update={"bays": (*layout.bays[:b], bay.model_copy(update=values), *layout.bays[b + 1 :])}
        )

    def with_block(**values: object) -> Layout:
        placements = (*row.placements[:p], block.model_copy(update=values), *row.placements[p + 1 :])
        return with_row(placements=placements)

    ways = {
        "row counted wrong": with_row(number=row.number + 1),
        "row moved": with_row(y=row.y + one),
        "row higher": with_row(height=row.height + one),
        "unit moved": with_bay(unit=bay.unit.model_copy(update={"y": bay.unit.y - one})),
        "unit higher": with_bay(unit=bay.unit.model_copy(update={"height": bay.unit.height + one})),
        "another unit": with_bay(unit=bay.unit.model_copy(update={"part": "U-99"})),
        "bay missing": layout.model_copy(update={"bays": layout.bays[:-1]}),
        "place counted wrong": with_block(place=block.place + 1),
        "called wrong": with_block(position=f"{block.position}1"),
        "another part": with_block(part="B-99"),
        "blocks turned round": with_row(placements=row.placements[::-1]) if len(row.placements) > 1 else None,
    }
    if bay.plates:
        plate = bay.plates[-1]
        ways |= {
            "plate missing": with_bay(plates=bay.plates[:-1]),
            "plate twice": with_bay(plates=(*bay.plates, plate)),
            "plate moved": with_bay(plates=(*bay.plates[:-1], plate.model_copy(update={"y": plate.y + one}))),
            "plate thicker": with_bay(
                plates=(*bay.plates[:-1], plate.model_copy(update={"thickness": plate.thickness + one}))
            ),
        }
    if block.fit is not None:
        fit = block.fit
        ways |= {
            "layers": with_block(
                fit=fit.model_copy(update={"likely": fit.likely.model_copy(update={"a": fit.likely.a + 1})})
            ),
            "gap": with_block(
                fit=fit.model_copy(update={"likely": fit.likely.model_copy(update={"gap": fit.likely.gap + one})})
            ),
            "measure": with_block(fit=fit.model_copy(update={"measure": not fit.measure})),
            "fit for another part": with_block(fit=fit.model_copy(update={"part": "B-99"})),
            "no fit": with_block(fit=None),
            "called a spare": with_block(role="spare"),
        }
    how = chance.choice([name for name, spoilt in ways.items() if spoilt is not None])
    return ways[how] or layout, how


@given(seed=st.integers(0, 2**40), changes=st.integers(0, 1))
@settings(max_examples=300, deadline=None)
def test_check_says_what_the_definition_says(seed: int, changes: int) -> None:
    told = look(seed, changes)
    assume(told)
    event(told)


@pytest.mark.long
@pytest.mark.parametrize("first", range(0, 40_000, 4_000))
def test_check_says_what_the_definition_says_many_times(first: int) -> None:
    told = Counter(look(seed, seed % 2) for seed in range(first, first + 4_000))
    assert min(sum(n for what, n in told.items() if what.endswith(end)) for end in ("right", "wrong")) > 300, told
