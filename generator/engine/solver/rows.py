"""Rows: every way to fill one row, and every set of row heights that fills a bay. Whole numbers only.

Lengths are multiples of one unit chosen by the caller; sizes are ascending. A row of height h is cut into
columns over its whole width; a column is one block of side h or, with stacking, h / s blocks of side s.

Results are kept, since a job asks for the same bays again and again; every search counts the steps they cost,
once, so that it ends at the same place whether or not another search went before.
"""

from dataclasses import dataclass
from functools import lru_cache

from generator.engine.solver.steps_left import StepsLeft

Supply = tuple[int, ...]
"""Blocks of each size, in the order of the sizes."""


@dataclass(frozen=True, slots=True)
class RowKind:
    """What decides how a row can be filled."""

    height: int
    width: int
    stacking: bool


@dataclass(frozen=True, slots=True)
class Space:
    """One bay without its clamping unit: ``height`` is what rows and row plates fill exactly."""

    width: int
    height: int
    plate: int
    plate_on_top: bool
    stacking: bool

    def kind(self, height: int) -> RowKind:
        """Return the kind of a row of that height in this bay."""
        return RowKind(height, self.width, self.stacking)


def fillings(kind: RowKind, sizes: tuple[int, ...], usable: int, steps: StepsLeft) -> tuple[Supply, ...]:
    """List every supply of blocks that fills a row; the same columns in another order are the same filling.

    ``usable`` is a bit mask over ``sizes``. Fewest blocks first. Raises OutOfSteps.
    """
    found, cost = _fillings(kind, sizes, usable, steps.limit)
    steps.pay_once((kind, sizes, usable), cost)
    return found


def row_sets(space: Space, heights: tuple[int, ...], steps: StepsLeft) -> tuple[tuple[int, ...], ...]:
    """List every set of row heights, tallest first, that fills a bay exactly with its row plates.

    n rows take n - 1 plates, and one more where a plate lies under the clamping unit. Fewest rows first.
    Raises OutOfSteps.
    """
    found, cost = _row_sets(space, heights, steps.limit)
    steps.pay_once((space, heights), cost)
    return found


@lru_cache(maxsize=4096)
def _fillings(kind: RowKind, sizes: tuple[int, ...], usable: int, limit: int) -> tuple[tuple[Supply, ...], int]:
    steps = StepsLeft(limit)
    columns = [
        (index, size, kind.height // size)
        for index, size in enumerate(sizes)
        if usable >> index & 1
        and size <= kind.width
        and (size == kind.height or (kind.stacking and kind.height % size == 0))
    ][::-1]
    reach = _reachable([size for _, size, _ in columns], kind.width)
    found: list[Supply] = []
    supply = [0] * len(sizes)

    def fill(place: int, width: int) -> None:
        steps.take(1)
        if place == len(columns):
            steps.take(len(supply))  # what is kept costs memory too
            found.append(tuple(supply))
            return
        index, size, stack = columns[place]
        for count in range(width // size, -1, -1):
            if reach[place + 1] >> (width - count * size) & 1:
                supply[index] = count * stack
                fill(place + 1, width - count * size)
        supply[index] = 0

    if columns and reach[0] >> kind.width & 1:
        fill(0, kind.width)
    return tuple(sorted(found, key=lambda blocks: (sum(blocks), blocks[::-1]))), steps.taken


@lru_cache(maxsize=4096)
def _row_sets(space: Space, heights: tuple[int, ...], limit: int) -> tuple[tuple[tuple[int, ...], ...], int]:
    steps = StepsLeft(limit)
    # With a plate counted to every row, bays with and without the plate on top are the same sum.
    total = space.height + (0 if space.plate_on_top else space.plate)
    tall = sorted(heights, reverse=True)
    reach = _reachable([height + space.plate for height in tall], total)
    found: list[tuple[int, ...]] = []
    chosen: list[int] = []

    def choose(place: int, left: int) -> None:
        steps.take(1)
        if left == 0:
            steps.take(len(chosen))
            found.append(tuple(chosen))
            return
        step = tall[place] + space.plate
        for count in range(left // step, -1, -1):
            if reach[place + 1] >> (left - count * step) & 1:
                chosen.extend([tall[place]] * count)
                choose(place + 1, left - count * step)
                del chosen[len(chosen) - count :]

    if total > 0 and reach[0] >> total & 1:
        choose(0, total)
    return tuple(sorted(found, key=lambda rows: (len(rows), tuple(-height for height in rows)))), steps.taken


def _reachable(lengths: list[int], total: int) -> list[int]:
    """Return for every place in ``lengths`` the sums of the lengths from there on, as bits up to ``total``."""
    mask = (1 << total + 1) - 1 if total >= 0 else 0
    reach = [1]
    for length in reversed(lengths):
        sums, step = reach[-1], length
        while step <= total:
            sums |= sums << step & mask
            step *= 2
        reach.append(sums)
    return reach[::-1]
