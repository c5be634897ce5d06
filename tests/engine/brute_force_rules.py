"""Every layout of a tiny frame with rules, by trying: the judge of the packing's hard rules. No code of the engine.

Rows are free tilings by squares of which those are kept that can be cut as the definition says; then every cable is
put into every block. Whole numbers.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise, product

from tests.engine.brute_force import Square, free_tilings


@dataclass(frozen=True)
class RuledBay:
    """A bay: ``height`` without its clamping unit."""

    width: int
    height: int
    plate: int
    on_top: bool
    stacking: bool
    nesting: bool


@dataclass(frozen=True)
class Wire:
    """A cable: the sides of the blocks that hold it, its class, its circuit."""

    options: tuple[int, ...]
    service: str
    circuit: str | None


@dataclass(frozen=True)
class Stays:
    """A block that stays: bay, place, side, and which cable is in it, None for a spare."""

    bay: int
    x: int
    y: int
    side: int
    cable: int | None


@dataclass(frozen=True)
class RuledProblem:
    """A frame, what may stand in it, what must, and the rules."""

    bays: tuple[RuledBay, ...]
    sides: tuple[int, ...]
    plugs: frozenset[int]
    fillers: frozenset[int]
    cables: tuple[Wire, ...]
    spares: Mapping[int, int]
    share: int
    """Area of the cables' smallest blocks that spares must cover, in percent."""
    solid: bool
    webs_not_magnetic: bool
    apart: tuple[tuple[str, frozenset[str]], ...]
    """(level, classes)"""
    stays: tuple[Stays, ...]


# -- which tilings are rows ------------------------------------------------------------------------------


def cuts(tiling: Sequence[Square], axis: int, start: int, end: int) -> list[int]:
    """Return where a straight line right across a tiling passes no square, both ends included."""
    return [
        at
        for at in range(start, end + 1)
        if not any(square[axis] < at < square[axis] + square[2] for square in tiling)
    ]


def parted(tiling: Sequence[Square], axis: int, start: int, end: int) -> Iterator[list[tuple[int, int]]]:
    """Yield every way to part a tiling by straight lines right across, as (start, end) of each part."""
    lines = [at for at in cuts(tiling, axis, start, end) if start < at < end]
    for chosen in range(1 << len(lines)):
        at = [start, *(line for i, line in enumerate(lines) if chosen >> i & 1), end]
        yield list(pairwise(at))


def inside(tiling: Sequence[Square], axis: int, start: int, end: int) -> list[Square]:
    return [square for square in tiling if start <= square[axis] < end]


def is_pile(column: Sequence[Square], left: int, right: int, stacking: bool) -> bool:
    """One square as wide as the column, or equal ones on each other."""
    return all(x == left and side == right - left for x, _, side in column) and (stacking or len(column) == 1)


def is_column(
    column: Sequence[Square], left: int, right: int, low: int, high: int, bay: RuledBay, sides: Sequence[int]
) -> bool:
    if is_pile(column, left, right, bay.stacking):
        return True
    if not bay.nesting or right - left not in sides or right - left > high - low:
        return False
    return any(
        all(
            top - bottom in sides
            and any(
                all(is_pile(inside(inside(column, 1, bottom, top), 0, a, b), a, b, bay.stacking) for a, b in across)
                for across in parted(inside(column, 1, bottom, top), 0, left, right)
            )
            for bottom, top in rows
        )
        for rows in parted(column, 1, low, high)
    )


Columns = tuple[tuple[Square, ...], ...]


@cache
def rows(height: int, bay: RuledBay, sides: tuple[int, ...]) -> tuple[Columns, ...]:
    """Return every row, parted into columns in every way."""
    found = []
    for tiling in free_tilings(bay.width, height, sides):
        for parts in parted(tiling, 0, 0, bay.width):
            columns = tuple(tuple(inside(tiling, 0, a, b)) for a, b in parts)
            if all(
                is_column(column, a, b, 0, height, bay, sides) for column, (a, b) in zip(columns, parts, strict=True)
            ):
                found.append(columns)
    return tuple(found)


@cache
def stacks_of_heights(bay: RuledBay, sides: tuple[int, ...]) -> tuple[tuple[int, ...], ...]:
    found = []

    def rise(y: int, below: tuple[int, ...]) -> None:
        for height in sides:
            top = y + height
            if top + (bay.plate if bay.on_top else 0) == bay.height:
                found.append((*below, height))
            if top + bay.plate < bay.height:
                rise(top + bay.plate, (*below, height))

    rise(0, ())
    return tuple(found)


# -- layouts as far as rules see them ------------------------------------------------------------------------

Cell = tuple[int, int | None]
"""Side of a block, and which entry of ``stays`` it is."""
BayShape = tuple[tuple[tuple[Cell, ...], ...], ...]
"""Rows, columns, blocks."""


def shapes(problem: RuledProblem, number: int) -> set[BayShape]:
    """Return every filling of a bay in which what stays has its block, as far as rules can tell them apart."""
    bay = problem.bays[number]
    stays = [(index, stay) for index, stay in enumerate(problem.stays) if stay.bay == number]
    found: set[BayShape] = set()
    for heights in stacks_of_heights(bay, problem.sides):
        y = 0
        choices: list[set[tuple[tuple[Cell, ...], ...]]] = []
        for height in heights:
            own = [(index, stay) for index, stay in stays if y <= stay.y < y + height]
            seen: set[tuple[tuple[Cell, ...], ...]] = set()
            for columns in rows(height, bay, problem.sides):
                squares = {square for column in columns for square in column}
                if any((stay.x, stay.y - y, stay.side) not in squares for _, stay in own):
                    continue
                which = {(stay.x, stay.y - y): index for index, stay in own}
                cells = [
                    tuple(sorted(((side, which.get((x, dy))) for x, dy, side in column), key=str))
                    for column in columns
                ]
                seen.add(tuple(cells if own else sorted(cells, key=str)))
            choices.append(seen)
            y += height + bay.plate
        if any(stay.y >= y for _, stay in stays):
            continue
        if sum(1 for _ in stays) != len(
            {i for i, stay in stays if any(a <= stay.y and stay.y + stay.side <= b for a, b in spans(heights, bay))}
        ):
            continue
        for chosen in product(*choices):
            found.add(tuple(chosen) if stays else tuple(sorted(chosen, key=str)))
    return found


def spans(heights: Sequence[int], bay: RuledBay) -> list[tuple[int, int]]:
    y, found = 0, []
    for height in heights:
        found.append((y, y + height))
        y += height + bay.plate
    return found


def best(problem: RuledProblem) -> tuple[int, int, int] | None:
    """Return the least (growth, pieces, different sizes) over every layout that keeps the rules."""
    least = None
    area = sum(min(cable.options) ** 2 for cable in problem.cables) * problem.share
    every = [shapes(problem, number) for number in range(len(problem.bays))]
    for laid in product(*every):
        sides = Counter(side for bay in laid for row in bay for column in row for side, _ in column)
        pieces = sum(sides.values()) + sum(
            len(rows) - (0 if bay.on_top else 1) for rows, bay in zip(laid, problem.bays, strict=True)
        )
        if least is not None and least[0] == 0 and (0, pieces, len(sides)) >= least:
            continue
        growth = _least_growth(problem, laid, sides, area)
        if growth is not None:
            value = (growth, pieces, len(sides))
            least = value if least is None else min(least, value)
    return least


def _least_growth(problem: RuledProblem, laid: tuple[BayShape, ...], sides: Counter[int], area: int) -> int | None:
    places = [
        (b, r, c, side, which)
        for b, bay in enumerate(laid)
        for r, row in enumerate(bay)
        for c, column in enumerate(row)
        for side, which in column
    ]
    kept = {stay.cable: index for index, stay in enumerate(problem.stays) if stay.cable is not None}
    free: Counter[tuple[int, int, int, int]] = Counter(
        (b, r, c, side) for b, r, c, side, which in places if which is None
    )
    fixed = {which: (b, r, c, side) for b, r, c, side, which in places if which is not None}
    found: list[int] = []
    at: list[tuple[int, int, int, int]] = []

    def put(number: int, growth: int) -> None:
        if found and growth >= min(found):
            return
        if number == len(problem.cables):
            if _keeps(problem, laid, at) and _rest(problem, sides, at, area):
                found.append(growth)
            return
        cable = problem.cables[number]
        if number in kept:
            at.append(fixed[kept[number]])
            put(number + 1, growth + at[-1][3] - min(cable.options))
            at.pop()
            return
        for place in list(free):
            if free[place] and place[3] in cable.options:
                free[place] -= 1
                at.append(place)
                put(number + 1, growth + place[3] - min(cable.options))
                at.pop()
                free[place] += 1

    put(0, 0)
    return min(found, default=None)


def _keeps(problem: RuledProblem, laid: tuple[BayShape, ...], at: Sequence[tuple[int, int, int, int]]) -> bool:
    circuits: dict[str, set[int]] = {}
    classes: dict[tuple[int, ...], set[str]] = {}
    for cable, (b, r, c, _) in zip(problem.cables, at, strict=True):
        if cable.circuit is not None:
            circuits.setdefault(cable.circuit, set()).add(b)
        for where in ((b,), (b, r), (b, r, c)):
            classes.setdefault(where, set()).add(cable.service)
    if not problem.webs_not_magnetic and any(len(bays) > 1 for bays in circuits.values()):
        return False
    for level, named in problem.apart:
        depth = {"bay": 1, "row": 2, "zone": 3}[level]
        for where, met in classes.items():
            if len(where) != depth:
                continue
            if level == "zone" and met & named and len(met) > 1:
                return False
            if level != "zone" and len(met & named) > 1:
                return False
    zoned = frozenset[str]().union(*(named for level, named in problem.apart if level == "zone"))
    for b, bay in enumerate(laid):
        for r, row in enumerate(bay):
            if any(which is not None for column in row for _, which in column):  # else columns change places freely
                order = [classes.get((b, r, c), set()) & zoned for c in range(len(row))]
                if not any(_together(order, way) for way in _orders(row)):
                    return False
    return True


def _orders(row: Sequence[tuple[Cell, ...]]) -> Iterator[list[int]]:
    """Yield every order of a row's columns in which what stays keeps its place."""
    widths = [_width(column) for column in row]
    lefts = [sum(widths[:i]) for i in range(len(row))]
    held = {i: lefts[i] for i, column in enumerate(row) if any(which is not None for _, which in column)}

    def go(x: int, left: frozenset[int]) -> Iterator[list[int]]:
        if not left:
            yield []
            return
        for i in sorted(left):
            if held.get(i, x) == x:
                for rest in go(x + widths[i], left - {i}):
                    yield [i, *rest]

    yield from go(0, frozenset(range(len(row))))


_WIDTHS: dict[tuple[Cell, ...], int] = {}


def _width(column: tuple[Cell, ...]) -> int:
    # A column of a row is as wide as its area says: all columns of a row are equally high, so shares will do.
    return sum(side * side for side, _ in column)


def _together(order: Sequence[set[str]], way: Sequence[int]) -> bool:
    for name in set[str]().union(*order):
        own = [place for place, i in enumerate(way) if name in order[i]]
        if own[-1] - own[0] + 1 != len(own):
            return False
    return True


def _rest(problem: RuledProblem, sides: Counter[int], at: Sequence[tuple[int, int, int, int]], area: int) -> bool:
    left = Counter(sides)
    left.subtract(Counter(side for *_, side in at))
    stay = Counter(stay.side for stay in problem.stays if stay.cable is None)
    asked = {side: max(problem.spares.get(side, 0), stay[side]) for side in problem.sides}
    if any(left[side] < count for side, count in asked.items()):
        return False
    if problem.solid:
        return all(left[side] == asked[side] or side in problem.fillers for side in problem.sides)
    if any(count and side not in problem.plugs | problem.fillers for side, count in left.items()):
        return False
    return sum(left[side] * side * side for side in problem.plugs) * 100 >= area
