"""Every layout of a small frame under every rule, by trying: the judge of all that ``brute_force`` does not know.

It reads the definition of a layout off whole tilings: a row is a tiling of its box by squares that can be read as
columns, nested ones among them. Cables are tried in every block. It shares no code with the engine or the models.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from math import prod
from typing import Any

from tests.engine.brute_force import Square, free_tilings
from tests.reference.cpsat import Bay, Kept, Problem, Value


@dataclass(frozen=True, order=True)
class Column:
    """What stands in a column: (side, count), and which of the kept blocks stand in it."""

    blocks: tuple[tuple[int, int], ...]
    stays: tuple[int, ...]


Row = tuple[Column, ...]


def _is_plain(squares: list[Square], left: int, right: int, low: int, high: int, stacking: bool) -> bool:
    side = right - left
    return (
        all((x, s) == (left, side) for x, _, s in squares)
        and len(squares) * side == high - low
        and (len(squares) == 1 or stacking)
    )


def _readings(squares: list[Square], axis: int, start: int, end: int, is_part: Any) -> Iterator[list[list[Square]]]:
    """Yield every way to part squares by lines across one axis so that every part is right."""
    if start == end:
        yield []
        return
    for stop in range(start + 1, end + 1):
        inside = [square for square in squares if start <= square[axis] < stop]
        if not inside or any(square[axis] + square[2] > stop for square in inside):
            continue
        if is_part(inside, start, stop):
            for rest in _readings(squares, axis, stop, end, is_part):
                yield [inside, *rest]


def _is_column(squares: list[Square], left: int, right: int, height: int, sides: tuple[int, ...], bay: Bay) -> bool:
    if _is_plain(squares, left, right, 0, height, bay.stacking):
        return True
    if not bay.nesting or right - left not in sides or right - left > height:
        return False

    def is_nested_row(inside: list[Square], low: int, high: int) -> bool:
        def is_nested_column(part: list[Square], a: int, b: int) -> bool:
            return _is_plain(part, a, b, low, high, bay.stacking)

        return high - low in sides and any(True for _ in _readings(inside, 0, left, right, is_nested_column))

    return any(True for _ in _readings(squares, 1, 0, height, is_nested_row))


def column_readings(
    squares: Sequence[Square], bay: Bay, height: int, sides: tuple[int, ...]
) -> Iterator[list[list[Square]]]:
    """Yield every way to read a row's squares as columns that the bay allows."""
    return _readings(
        list(squares),
        0,
        0,
        bay.width,
        lambda inside, left, right: _is_column(inside, left, right, height, sides, bay),
    )


@lru_cache(maxsize=10_000)
def readings(bay: Bay, height: int, sides: tuple[int, ...]) -> tuple[tuple[tuple[Square, ...], ...], ...]:
    """Return every row of a height, as its columns; one that can be read in two ways is there twice."""
    return tuple(
        tuple(map(tuple, columns))
        for tiling in free_tilings(bay.width, height, sides)
        for columns in column_readings(tiling, bay, height, sides)
    )


def _rows(problem: Problem, b: int, y: int, height: int) -> set[Row]:
    """Return every row at a place that leaves what stays where it is."""
    bay = problem.bays[b]
    here = [(number, kept) for number, kept in enumerate(problem.kept) if kept.bay == b and y <= kept.y < y + height]
    found = set()
    for columns in readings(bay, height, problem.sides):
        squares = {square for column in columns for square in column}
        if any((kept.x, kept.y - y, kept.side) not in squares for _, kept in here):
            continue
        row = [
            Column(
                tuple(sorted(Counter(side for *_, side in column).items())),
                tuple(number for number, kept in here if (kept.x, kept.y - y, kept.side) in column),
            )
            for column in columns
        ]
        # Where nothing stays columns may be put in any order, so one stands for all.
        found.add(tuple(row if here else sorted(row)))
    return found


def _stacks(problem: Problem, b: int) -> set[tuple[Row, ...]]:
    bay = problem.bays[b]
    found: set[tuple[Row, ...]] = set()

    def stack(y: int, below: tuple[Row, ...]) -> None:
        for height in problem.sides:
            end = y + height + (bay.plate if bay.on_top else 0)
            if y + height > bay.height:
                continue
            for row in _rows(problem, b, y, height):
                if end == bay.height:
                    found.add(tuple(sorted((*below, row))))
                if y + height + bay.plate < bay.height:
                    stack(y + height + bay.plate, (*below, row))

    stack(0, ())
    mine = {number for number, kept in enumerate(problem.kept) if kept.bay == b}
    return {rows for rows in found if {n for row in rows for column in row for n in column.stays} == mine}


def effort(problem: Problem) -> int:
    """Return about how many ways there are to try: every filling of the frame, with every cable in every block."""
    blocks = sum(bay.width * bay.height for bay in problem.bays) // min(problem.sides) ** 2
    return prod(len(_stacks(problem, b)) for b in range(len(problem.bays))) * blocks ** len(problem.cables)


Place = tuple[int, int, int, int]
"""Bay, row, column, side."""


def best(problem: Problem) -> Value | None:
    """Return the least (growth, pieces, different sizes) over every layout; None when there is no layout."""
    if len({(kept.bay, kept.x, kept.y) for kept in problem.kept}) < len(problem.kept):
        return None  # one block can't hold two cables, or a cable and its plug
    found: Value | None = None
    for bays in product(*(_stacks(problem, b) for b in range(len(problem.bays)))):
        supply: Counter[int] = Counter()
        plates = 0
        for bay, rows in zip(problem.bays, bays, strict=True):
            plates += len(rows) - (0 if bay.on_top else 1)
            for row in rows:
                for column in row:
                    supply.update(dict(column.blocks))
        pieces, sizes = supply.total() + plates, len(supply)
        if found is not None and (0, pieces, sizes) >= found:
            continue
        below = found[0] + (1 if (pieces, sizes) < found[1:] else 0) if found is not None else None
        growth = _least_growth(problem, bays, supply, below)
        if growth is not None:
            value = (growth, pieces, sizes)
            found = value if found is None else min(found, value)
    return found


def _rest_is_right(problem: Problem, supply: Counter[int], held: Counter[int]) -> bool:
    area = 0
    for side in {*supply, *problem.spares, *(kept.side for kept in problem.kept)}:
        free = supply[side] - held[side]
        stay = sum(kept.cable is None and kept.side == side for kept in problem.kept)
        asked = max(problem.spares.get(side, 0), stay)
        if problem.solid:
            spares = asked
            if free > asked and side not in problem.fillers:
                return False
        elif side in problem.plugs:
            spares = free
        else:
            spares = 0
            if free and side not in problem.fillers:
                return False
        if spares < asked or spares > free or (spares and side not in problem.plugs):
            return False
        area += spares * side**2
    return area * 100 >= problem.share * sum(min(options) ** 2 for options in problem.cables)


def _least_growth(
    problem: Problem, bays: tuple[tuple[Row, ...], ...], supply: Counter[int], below: int | None
) -> int | None:
    """Try every cable in every block; return the least growth that is less than ``below``, or None."""
    if any(supply[side] < count for side, count in problem.spares.items()):
        return None
    places: dict[Place, int] = {}
    fixed: dict[int, Place] = {}
    for b, rows in enumerate(bays):
        for r, row in enumerate(rows):
            for c, column in enumerate(row):
                for side, count in column.blocks:
                    places[b, r, c, side] = count
                for number in column.stays:
                    kept: Kept = problem.kept[number]
                    if kept.cable is None:
                        places[b, r, c, kept.side] -= 1
                    else:
                        fixed[kept.cable] = (b, r, c, kept.side)
    services = problem.services or ("",) * len(problem.cables)
    circuits = problem.circuits or (None,) * len(problem.cables)
    # What stays first: the others must not take its place.
    order = sorted(range(len(problem.cables)), key=lambda i: (i not in fixed, problem.cables[i], services[i], i))
    at: dict[int, Place] = {}
    best_growth = below

    def is_right(number: int, place: Place) -> bool:
        for other, there in at.items():
            same_bay, same_row = there[0] == place[0], there[:2] == place[:2]
            if (
                circuits[number] is not None
                and circuits[number] == circuits[other]
                and problem.magnetic
                and not same_bay
            ):
                return False
            if services[number] == services[other]:
                continue
            for rule in problem.apart:
                both = {services[number], services[other]} <= rule.classes
                if both and ((rule.level == "bay" and same_bay) or (rule.level == "row" and same_row)):
                    return False
                if (
                    rule.level == "zone"
                    and there[:3] == place[:3]
                    and rule.classes & {services[number], services[other]}
                ):
                    return False
        return True

    def is_whole() -> bool:
        """Whether the columns of every zone stand side by side, where they cannot be put in another order."""
        for name in {name for rule in problem.apart if rule.level == "zone" for name in rule.classes}:
            for b, rows in enumerate(bays):
                for r, row in enumerate(rows):
                    if any(column.stays for column in row):
                        mine = {p[2] for i, p in at.items() if services[i] == name and p[:2] == (b, r)}
                        if mine and len(mine) != max(mine) - min(mine) + 1:
                            return False
        return True

    def place(step: int, growth: int) -> None:
        nonlocal best_growth
        if best_growth is not None and growth >= best_growth:
            return
        if step == len(order):
            if _rest_is_right(problem, supply, Counter(p[3] for p in at.values())) and is_whole():
                best_growth = growth
            return
        number = order[step]
        options = problem.cables[number]
        before = order[step - 1] if step else None
        alike = (
            before is not None
            and before not in fixed
            and (
                (problem.cables[before], services[before], circuits[before])
                == (options, services[number], circuits[number])
            )
        )
        for where in [fixed[number]] if number in fixed else list(places):
            if where[3] not in options or not places[where] or not is_right(number, where):
                continue
            if alike and before is not None and where < at[before]:
                continue  # two that are alike may change places
            places[where] -= 1
            at[number] = where
            place(step + 1, growth + where[3] - min(options))
            del at[number]
            places[where] += 1

    place(0, 0)
    return best_growth if best_growth != below else None
