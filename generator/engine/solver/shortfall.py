"""Shortfall: what is short when nothing can be placed, proven without a search. Whole numbers only."""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from generator.engine.solver.cuts import fillings
from generator.engine.solver.parting import keeps_apart
from generator.engine.solver.rows import Space
from generator.engine.solver.steps_left import StepsLeft
from generator.engine.solver.tables import LANE, Table, Tables, fields_of, lanes, most_of, tables_of
from generator.engine.solver.task import Ask, Options, Task


@dataclass(frozen=True, slots=True)
class Shortfall:
    """One thing that is short.

    ``width``: no row of bay ``bay`` can be filled across. ``height``: no set of rows that can be filled
    across fills bay ``bay`` upwards. ``area``: blocks of the sizes in ``sizes`` (a bit mask) must cover at
    least ``need``, and the rows give them at most ``have``. ``rows``: each set of rows of the bay is short of
    room for some sizes.
    """

    kind: Literal["width", "height", "area", "rows"]
    bay: int = 0
    sizes: int = 0
    need: int = 0
    have: int = 0


def is_short(task: Task, tables: Tables, ask: Ask, steps: StepsLeft) -> bool:
    """Tell whether something is short whatever the cables' choice of blocks. Raises OutOfSteps."""
    table, required = _asked(task, tables, ask, steps)
    if not table.hold(required, steps):
        return True
    apart = task.apart
    if not (apart.rows or apart.bays):
        return False
    needs = [0] * max(len(apart.rows), len(apart.bays))
    for (options, count), tag in zip(ask.cables, ask.tags, strict=True):
        if tag.service >= 0:
            needs[tag.service] += count * _least(task.sizes, table.needed, options)
    guard = table.fields.guard
    for some in table.choices_of_rows(steps, alike=not apart.bays):
        for caps, _, rows in some:
            if caps - required & guard == guard and keeps_apart(table, apart, rows, needs, steps):
                return False
    return True


def shortfall(task: Task, ask: Ask, steps: StepsLeft) -> Shortfall | None:
    """Find what is short whatever the cables' choice of blocks; None when this bound shows nothing.

    Raises OutOfSteps.
    """
    table, required = _asked(task, tables_of(task.spaces, task.sizes, task.heights, task.fills), ask, steps)
    for number, (strips, sets) in enumerate(zip(table.strips, table.bays, strict=True), 1):
        if not strips:
            return Shortfall("width", number)
        if not sets:
            return Shortfall("height", number)
    if table.hold(required, steps):
        return None
    guard, lane = table.fields.guard, (1 << LANE) - 1
    have = sum(most_of({rows.caps for rows in sets}, guard) for sets in table.bays)
    short = [
        (subset.bit_count(), subset, required >> place * LANE & lane, have >> place * LANE & lane)
        for place, subset in enumerate(table.fields.subsets)
        if required >> place * LANE & lane > have >> place * LANE & lane
    ]
    if not short:
        return Shortfall("rows", 1)
    _, subset, wanted, given = min(short)  # of fewest sizes: the nearest to a reason
    return Shortfall("area", sizes=subset, need=wanted, have=given)


def _asked(task: Task, tables: Tables, ask: Ask, steps: StepsLeft) -> tuple[Table, int]:
    """Return what the rows give, and the least area that cables and spares take from every subset of sizes."""
    wanted = sum([1 << i for i, count in enumerate(ask.spares) if count])
    for options, _ in ask.cables:
        for option in options:
            wanted |= 1 << option
    if any(space.pins for space in task.spaces):  # what stays only takes room away
        spaces = tuple(replace(space, pins=()) for space in task.spaces)
        tables = tables_of(spaces, task.sizes, task.heights, task.fills)
    table = tables.of(wanted | task.fills, wanted, steps)
    required = table.fields.of(ask.spares)
    for options, count in ask.cables:
        required += count * _least(task.sizes, wanted, options)
    return table, required


@lru_cache(maxsize=4096)
def _least(sizes: tuple[int, ...], wanted: int, options: Options) -> int:
    """Return the area of a cable's smallest block in the lanes of the subsets that hold all its options."""
    return lanes(
        [
            sizes[options[0]] ** 2 if all(subset >> option & 1 for option in options) else 0
            for subset in fields_of(sizes, wanted).subsets
        ]
    )


def fillable_heights(space: Space, task: Task, usable: int, steps: StepsLeft) -> tuple[int, ...]:
    """Return the row heights that can be filled across a bay."""
    return tuple(h for h in task.heights if fillings(space.kind(h), task.sizes, usable, steps))
