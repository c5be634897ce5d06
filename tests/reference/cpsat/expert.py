"""The expert's model: row sets and row patterns are listed beforehand, and whatever is equal is only counted."""

from collections import Counter
from collections.abc import Iterator
from functools import lru_cache

from ortools.sat.python import cp_model

from tests.reference.cpsat import Bay, Problem, Value, minimize

Pattern = tuple[tuple[int, int], ...]
"""(side, columns of it) of one row."""


@lru_cache(maxsize=10_000)
def patterns(width: int, height: int, sides: tuple[int, ...], stacking: bool) -> tuple[Pattern, ...]:
    """List the ways in which columns fill a row."""
    fitting = [side for side in sides if side == height or (stacking and height % side == 0)]

    def fill(left: int, number: int) -> Iterator[Pattern]:
        if left == 0:
            yield ()
        elif number < len(fitting):
            side = fitting[number]
            for count in range(left // side + 1):
                for rest in fill(left - count * side, number + 1):
                    yield ((side, count), *rest) if count else rest

    return tuple(fill(width, 0))


@lru_cache(maxsize=10_000)
def row_sets(bay: Bay, sides: tuple[int, ...]) -> tuple[tuple[int, ...], ...]:
    """List the heights, tallest first, with which rows fill a bay."""
    heights = [h for h in sides if patterns(bay.width, h, sides, bay.stacking)]

    def fill(left: int, largest: int, rows: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        for height in heights:
            if height <= largest and height <= left:
                after = left - height
                if after == (bay.plate if bay.on_top else 0):
                    yield (*rows, height)
                if after > bay.plate:
                    yield from fill(after - bay.plate, height, (*rows, height))

    return tuple(fill(bay.height, max(sides), ()))


def solve(problem: Problem, seconds: float = 60) -> Value | None:
    """Return the least (growth, pieces, different sizes); None when there is no layout. Raises Unanswered."""
    model = cp_model.CpModel()
    supply: dict[int, list[cp_model.LinearExprT]] = {side: [] for side in problem.sides}
    pieces: list[cp_model.LinearExprT] = []
    most = 0
    for b, (bay, bays) in enumerate(Counter(problem.bays).items()):
        sets = row_sets(bay, problem.sides)
        if not sets:
            return None
        chosen = [model.new_int_var(0, bays, f"set {b} {number}") for number in range(len(sets))]
        model.add(sum(chosen) == bays)
        pieces += [(len(rows) - (0 if bay.on_top else 1)) * count for rows, count in zip(sets, chosen, strict=True)]
        for height in {height for rows in sets for height in rows}:
            rows_of = sum(rows.count(height) * count for rows, count in zip(sets, chosen, strict=True))
            ways = patterns(bay.width, height, problem.sides, bay.stacking)
            limit = bays * max(rows.count(height) for rows in sets)
            counts = [model.new_int_var(0, limit, f"rows {b} {height} {number}") for number in range(len(ways))]
            model.add(sum(counts) == rows_of)
            for way, count in zip(ways, counts, strict=True):
                for side, columns in way:
                    supply[side].append(columns * (height // side) * count)
        most += bays * (bay.width * bay.height // min(problem.sides) ** 2 + max(map(len, sets)))
    growth: list[cp_model.LinearExprT] = []
    held: dict[int, list[cp_model.LinearExprT]] = {side: [] for side in problem.sides}
    for k, (options, cables) in enumerate(Counter(tuple(sorted(o)) for o in problem.cables).items()):
        shares = {side: model.new_int_var(0, cables, f"cables {k} {side}") for side in options}
        model.add(sum(shares.values()) == cables)
        for side, share in shares.items():
            held[side].append(share)
            growth.append((side - options[0]) * share)
    different = []
    for side in problem.sides:
        there = model.new_bool_var(f"there {side}")
        total, need = sum(supply[side]), sum(held[side]) + problem.spares.get(side, 0)
        model.add(total >= need) if side in problem.fills else model.add(total == need)
        model.add(total <= most * there)
        different.append(there)
        pieces.append(total)
    widest = sum(max(options) - min(options) for options in problem.cables)
    return minimize(model, (sum(growth), sum(pieces), sum(different)), (widest, most, len(problem.sides)), seconds)
