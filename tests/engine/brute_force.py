"""Every layout of a small frame, by trying: the judge of the packing. It shares no code with the engine.

Whole numbers. A layout is what the definition says and nothing more: rows over the whole width, one height
each; in a row, columns of equal blocks as high as the row. Rows are found by tiling them freely with squares
in every way and keeping the tilings whose squares stand in such columns.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import product

Square = tuple[int, int, int]
"""x, y of the lower left corner, and side."""
Blocks = tuple[tuple[int, int], ...]
"""(side, count), ascending."""


def free_tilings(width: int, height: int, sides: Sequence[int]) -> Iterator[tuple[Square, ...]]:
    """Yield every tiling of a rectangle by squares of given sides, each once."""
    tops = [0] * width
    placed: list[Square] = []

    def place() -> Iterator[tuple[Square, ...]]:
        low = min(tops)
        if low == height:
            yield tuple(placed)
            return
        x = tops.index(low)
        room = 0
        while x + room < width and tops[x + room] == low:
            room += 1
        for side in sides:
            if side <= room and low + side <= height:
                tops[x : x + side] = [low + side] * side
                placed.append((x, low, side))
                yield from place()
                placed.pop()
                tops[x : x + side] = [low] * side

    yield from place()


def is_row(tiling: Sequence[Square], height: int, stacking: bool) -> bool:
    """Tell whether the squares of a row stand in columns of equal squares as high as the row."""
    for x, _, side in tiling:
        column = [square for square in tiling if square[0] < x + side and x < square[0] + square[2]]
        if any((other_x, other_side) != (x, side) for other_x, _, other_side in column):
            return False
        if len(column) * side != height or (len(column) > 1 and not stacking):
            return False
    return True


@lru_cache(maxsize=100_000)
def rows(width: int, height: int, sides: tuple[int, ...], stacking: bool) -> frozenset[Blocks]:
    """Return what blocks a row can be made of."""
    return frozenset(
        tuple(sorted(Counter(side for _, _, side in tiling).items()))
        for tiling in free_tilings(width, height, sides)
        if is_row(tiling, height, stacking)
    )


@dataclass(frozen=True)
class SmallBay:
    """A bay: ``height`` without its clamping unit."""

    width: int
    height: int
    plate: int
    on_top: bool
    stacking: bool


@dataclass(frozen=True)
class SmallProblem:
    """A frame, what may stand in it, and what must."""

    bays: tuple[SmallBay, ...]
    sides: tuple[int, ...]
    fills: frozenset[int]
    """Sides with a plug or a filler."""
    plugs: frozenset[int]
    cables: tuple[tuple[int, ...], ...]
    """The sides of the blocks that hold each cable."""
    spares: Mapping[int, int]


Stack = tuple[tuple[int, Blocks], ...]
"""The rows of a bay from the bottom: height and blocks."""


@lru_cache(maxsize=10_000)
def stacks(bay: SmallBay, sides: tuple[int, ...]) -> tuple[Stack, ...]:
    """Return every way to fill a bay with rows, in every order."""
    found: list[Stack] = []

    def stack(y: int, below: Stack) -> None:
        for height in sides:
            top = y + height
            end = top + (bay.plate if bay.on_top else 0)
            for blocks in rows(bay.width, height, sides, bay.stacking) if top <= bay.height else ():
                if end == bay.height:
                    found.append((*below, (height, blocks)))
                if top + bay.plate < bay.height:
                    stack(top + bay.plate, (*below, (height, blocks)))

    stack(0, ())
    return tuple(found)


@lru_cache(maxsize=10_000)
def supplies(bay: SmallBay, sides: tuple[int, ...]) -> frozenset[tuple[Blocks, int]]:
    """Return every (blocks, row plates) a bay can be filled with."""
    return frozenset(
        (_sum(blocks for _, blocks in stack), len(stack) - (0 if bay.on_top else 1)) for stack in stacks(bay, sides)
    )


def _sum(parts: Iterator[Blocks]) -> Blocks:
    total: Counter[int] = Counter()
    for blocks in parts:
        total.update(dict(blocks))
    return tuple(sorted(total.items()))


def least_growth(problem: SmallProblem, blocks: Mapping[int, int]) -> int | None:
    """Return the least growth with which the cables and spares find a block each, or None."""
    left = Counter(blocks)
    for side, count in problem.spares.items():
        left[side] -= count
        if left[side] < 0:
            return None

    @cache
    def place(number: int, room: tuple[tuple[int, int], ...]) -> int | None:
        if number == len(problem.cables):
            return 0 if all(not count or side in problem.fills for side, count in room) else None
        best = None
        options = problem.cables[number]
        free = dict(room)
        for side in options:
            if free.get(side, 0):
                rest = place(number + 1, tuple(sorted({**free, side: free[side] - 1}.items())))
                if rest is not None:
                    growth = rest + side - min(options)
                    best = growth if best is None else min(best, growth)
        return best

    return place(0, tuple(sorted(left.items())))


def best(problem: SmallProblem) -> tuple[int, int, int] | None:
    """Return the least (growth, pieces, different sizes) over every layout; None when there is no layout."""
    found: tuple[int, int, int] | None = None
    for parts in product(*(supplies(bay, problem.sides) for bay in problem.bays)):
        blocks = dict(_sum(part[0] for part in parts))
        growth = least_growth(problem, blocks)
        if growth is not None:
            value = (growth, sum(blocks.values()) + sum(part[1] for part in parts), len(blocks))
            found = value if found is None else min(found, value)
    return found


def rows_above_spares(
    problem: SmallProblem, heights: Sequence[Sequence[int]], cables: Mapping[int, int], pieces: int, sizes: set[int]
) -> tuple[int, int]:
    """Return the least (rows above spares, pairs with the taller row above) for given rows and pieces.

    ``heights`` are those of each bay, in any order, ``cables`` the blocks that cables take by side.
    """
    found: list[tuple[int, int]] = []
    choices = [
        [stack for stack in stacks(bay, problem.sides) if sorted(h for h, _ in stack) == sorted(given)]
        for bay, given in zip(problem.bays, heights, strict=True)
    ]
    for laid in product(*choices):
        depths: dict[int, list[int]] = {}
        for stack in laid:
            for row, (_, blocks) in enumerate(stack):
                for side, count in blocks:
                    depths.setdefault(side, []).extend([len(stack) - 1 - row] * count)
        plates = sum(len(s) - (0 if bay.on_top else 1) for s, bay in zip(laid, problem.bays, strict=True))
        if sum(map(len, depths.values())) + plates > pieces or not set(depths) <= sizes:
            continue
        free = {side: len(at) - cables.get(side, 0) for side, at in depths.items()}
        if any(free.get(side, 0) < problem.spares.get(side, 0) for side in {*free, *problem.spares}) or any(
            len(depths.get(side, ())) < count for side, count in cables.items()
        ):
            continue
        if any(count and side not in problem.fills for side, count in free.items()):
            continue
        above = sum(sum(sorted(depths[side])[:count]) for side, count in free.items() if side in problem.plugs)
        turned = sum(
            1 for s in laid for low in range(len(s)) for high in range(low + 1, len(s)) if s[high][0] > s[low][0]
        )
        found.append((above, turned))
    return min(found)
