"""Shortfall: what is short when nothing can be placed, proven without a search. Whole numbers only."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from generator.engine.solver.cuts import fillings
from generator.engine.solver.rows import Space, height_of, row_sets
from generator.engine.solver.search import most_area, subsets_of
from generator.engine.solver.steps_left import StepsLeft
from generator.engine.solver.task import Ask, Task


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


def shortfall(task: Task, ask: Ask, steps: StepsLeft) -> Shortfall | None:
    """Find what is short whatever the cables' choice of blocks; None when this bound shows nothing.

    Raises OutOfSteps.
    """
    wanted = sum(1 << i for i, count in enumerate(ask.spares) if count)
    for options, _ in ask.cables:
        for option in options:
            wanted |= 1 << option
    usable = wanted | task.fills
    areas = [size**2 for size in task.sizes]
    subsets = subsets_of([i for i in range(len(areas)) if wanted >> i & 1])
    needs = [_need(ask, areas, subset) for subset in subsets]

    most = [0] * len(subsets)
    for number, one in enumerate(task.spaces, 1):
        space = replace(one, pins=())  # what stays only takes room away
        caps = {
            height: [most_area(patterns, areas, subset) for subset in subsets]
            for height in task.heights
            if (patterns := fillings(space.kind(height), task.sizes, usable, steps))
        }
        if not caps:
            return Shortfall("width", number)
        steps.take(len(caps) * len(subsets))
        sets = row_sets(space, tuple(caps), steps)
        if not sets:
            return Shortfall("height", number)
        gives = [
            [sum(column) for column in zip(*(caps[height_of(line)] for line in rows), strict=True)] for rows in sets
        ]
        most = [total + max(column) for total, column in zip(most, zip(*gives, strict=True), strict=True)]
        if len(task.spaces) == 1 and not any(_all_hold(give, needs) for give in gives):
            return _area(subsets, needs, most) or Shortfall("rows", 1)
    return _area(subsets, needs, most)


def _need(ask: Ask, areas: Sequence[int], subset: int) -> int:
    """Return the least area that cables and spares take from sizes of a subset, whichever blocks they get."""
    need = sum(count * areas[i] for i, count in enumerate(ask.spares) if subset >> i & 1)
    for options, count in ask.cables:
        if all(subset >> option & 1 for option in options):
            need += count * areas[options[0]]
    return need


def _all_hold(gives: Sequence[int], needs: Sequence[int]) -> bool:
    return all(give >= need for give, need in zip(gives, needs, strict=True))


def _area(subsets: Sequence[int], needs: Sequence[int], most: Sequence[int]) -> Shortfall | None:
    """Report the subset of fewest sizes that is short: the nearest to a reason."""
    short = [
        (subset.bit_count(), subset, need, have)
        for subset, need, have in zip(subsets, needs, most, strict=True)
        if need > have
    ]
    if not short:
        return None
    _, subset, need, have = min(short)
    return Shortfall("area", sizes=subset, need=need, have=have)


def fillable_heights(space: Space, task: Task, usable: int, steps: StepsLeft) -> tuple[int, ...]:
    """Return the row heights that can be filled across a bay."""
    return tuple(h for h in task.heights if fillings(space.kind(h), task.sizes, usable, steps))
