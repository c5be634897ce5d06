"""Rows: every way to fill one row, and every set of row heights that fills a bay. Whole numbers only.

Lengths are multiples of one unit chosen by the caller; sizes are ascending. A row of height h is cut into
columns over its whole width; a column is one block of side h or, with stacking, h / s blocks of side s. What
nested columns and blocks that stay add is in ``cuts``.

Results are kept, since a job asks for the same bays again and again; every search counts the steps they cost,
once, so that it ends at the same place whether or not another search went before.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from generator.engine.solver.steps_left import StepsLeft, kept

Supply = tuple[int, ...]
"""Blocks of each size, in the order of the sizes."""


@dataclass(frozen=True, slots=True, order=True)
class Pin:
    """A block that stays: its lower left corner (in its bay, or in its row), its side, and which one it is."""

    y: int
    x: int
    side: int
    which: int


@dataclass(frozen=True, slots=True)
class RowKind:
    """What decides how a row can be filled. ``pins`` lie in it, measured from its lower left corner."""

    height: int
    width: int
    stacking: bool
    nesting: bool = False
    pins: tuple[Pin, ...] = ()


Line = int | RowKind
"""One row of a bay: its height, or its kind where blocks stay in it."""


def height_of(line: Line) -> int:
    """Return the height of a row."""
    return line if isinstance(line, int) else line.height


@dataclass(frozen=True, slots=True)
class Space:
    """One bay without its clamping unit: ``height`` is what rows and row plates fill exactly."""

    width: int
    height: int
    plate: int
    plate_on_top: bool
    stacking: bool
    nesting: bool = False
    pins: tuple[Pin, ...] = ()

    def kind(self, line: Line) -> RowKind:
        """Return the kind of a row in this bay."""
        return line if isinstance(line, RowKind) else RowKind(line, self.width, self.stacking, self.nesting)


def row_sets(space: Space, heights: tuple[int, ...], steps: StepsLeft) -> tuple[tuple[Line, ...], ...]:
    """List every set of rows that fills a bay exactly with its row plates, fewest rows first.

    n rows take n - 1 plates, and one more where a plate lies under the clamping unit. Without blocks that stay
    a set is heights, tallest first, in whatever order they will lie; with such blocks the rows stand from the
    bottom, and only those between two of theirs may change places. Raises OutOfSteps.
    """
    return _row_sets(space, heights, steps)


@kept(4096)
def _row_sets(space: Space, heights: tuple[int, ...], steps: StepsLeft) -> tuple[tuple[Line, ...], ...]:
    # With a plate counted to every row, bays with and without the plate on top are the same sum.
    total = space.height + (0 if space.plate_on_top else space.plate)
    if total <= 0:
        return ()
    if space.pins:
        found = stacks_around(space.kind, space.pins, total, space.plate, heights, steps)
        return tuple(sorted(found, key=lambda rows: (len(rows), [-height_of(line) for line in rows])))
    sets = heights_that_fill(total, space.plate, heights, steps)
    return tuple(sorted(sets, key=lambda rows: (len(rows), tuple(-height for height in rows))))


def heights_that_fill(total: int, plate: int, heights: tuple[int, ...], steps: StepsLeft) -> list[tuple[int, ...]]:
    """List every set of heights, each with a plate, that comes to ``total``; tallest first in each."""
    tall = sorted(heights, reverse=True)
    reach = reachable([height + plate for height in tall], total)
    found: list[tuple[int, ...]] = []
    chosen: list[int] = []

    def choose(place: int, left: int) -> None:
        steps.take(1)
        if left == 0:
            steps.take(len(chosen))
            found.append(tuple(chosen))
            return
        step = tall[place] + plate
        for count in range(left // step, -1, -1):
            if reach[place + 1] >> (left - count * step) & 1:
                chosen.extend([tall[place]] * count)
                choose(place + 1, left - count * step)
                del chosen[len(chosen) - count :]

    if total >= 0 and reach[0] >> total & 1:
        choose(0, total)
    return found


def stacks_around(
    kind: Callable[[int], RowKind],
    pins: tuple[Pin, ...],
    total: int,
    plate: int,
    heights: tuple[int, ...],
    steps: StepsLeft,
) -> list[tuple[Line, ...]]:
    """List every stack of rows, from the bottom, in which each block that stays lies in one row."""
    found: list[tuple[Line, ...]] = []

    def rise(y: int, pins: tuple[Pin, ...], below: tuple[Line, ...]) -> None:
        steps.take(1)
        if not pins:
            found.extend((*below, *rest) for rest in heights_that_fill(total - y, plate, heights, steps))
            return
        lowest = pins[0]
        reach = reachable([height + plate for height in heights], lowest.y - y)[0]
        for start in range(y, lowest.y + 1):
            if not reach >> (start - y) & 1:
                continue
            for height in heights:
                top = start + height
                inside = tuple(pin for pin in pins if pin.y < top)
                if lowest.y >= top or top + plate > total or any(pin.y + pin.side > top for pin in inside):
                    continue
                line = replace(kind(height), pins=tuple(replace(pin, y=pin.y - start) for pin in inside))
                for gap in heights_that_fill(start - y, plate, heights, steps):
                    rise(top + plate, pins[len(inside) :], (*below, *gap, line))

    rise(0, tuple(sorted(pins)), ())
    return found


def reachable(lengths: Sequence[int], total: int) -> list[int]:
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
