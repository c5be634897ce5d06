"""Cuts: every way to cut a row into columns, nested ones and those around blocks that stay included.

Whole numbers, sizes ascending. A plain row is described by its blocks alone (``fillings``); how its columns stand
follows from them. A nested column brings blocks of several sizes, and a block that stays has a place: there the
columns are kept (``structures``).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from operator import add

from generator.engine.solver.rows import Pin, RowKind, Supply, heights_that_fill, reachable, stacks_around
from generator.engine.solver.steps_left import StepsLeft, kept


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its width, its blocks, the blocks in it that stay; ``rows`` where it is nested, low to high."""

    width: int
    supply: Supply
    pins: tuple[Pin, ...] = ()
    rows: tuple[tuple[int, "Structure"], ...] = ()


Part = tuple[Column, ...]
"""Columns that may change places with each other."""
Structure = tuple[Part, ...]
"""The columns of a row from left to right; those of one part in any order."""


@dataclass(frozen=True, slots=True)
class _Blocks:
    """The sizes there are, and which of them may be used."""

    sizes: tuple[int, ...]
    usable: int

    def none(self) -> Supply:
        return (0,) * len(self.sizes)

    def only(self, index: int, count: int) -> Supply:
        return tuple(count if i == index else 0 for i in range(len(self.sizes)))


def fillings(kind: RowKind, sizes: tuple[int, ...], usable: int, steps: StepsLeft) -> tuple[Supply, ...]:
    """List every supply of blocks that fills a row; the same columns in another order are the same filling.

    ``usable`` is a bit mask over ``sizes``. Fewest blocks first. Raises OutOfSteps.
    """
    if not kind.nesting and not kind.pins:
        return _fillings(kind, sizes, usable, steps)
    return tuple(sorted(_cuts(kind, sizes, usable, False, steps), key=_fewest_first))


@kept(1024)
def few_fillings(kind: RowKind, sizes: tuple[int, ...], usable: int, steps: StepsLeft) -> tuple[Supply, ...]:
    """List fillings of a row as ``fillings`` does, but of plain rows those of one or two sizes only."""
    if kind.nesting or kind.pins:
        return fillings(kind, sizes, usable, steps)
    columns = _plain_columns(kind, sizes, usable)
    found: set[Supply] = set()
    for place, (one, width, stack) in enumerate(columns):
        for other, other_width, other_stack in columns[place:]:
            for count in range(kind.width // width + 1):
                steps.take(1)
                others, broken = divmod(kind.width - count * width, other_width)
                if not broken:
                    supply = [0] * len(sizes)
                    supply[one] = count * stack
                    supply[other] += others * other_stack
                    found.add(tuple(supply))
    return tuple(sorted(found, key=_fewest_first))


def structures(
    kind: RowKind, sizes: tuple[int, ...], usable: int, supply: Supply, steps: StepsLeft, every: bool = False
) -> tuple[Structure, ...]:
    """Return how the columns of a filled row can stand: one way, or ``every`` way that differs by its columns."""
    if not kind.nesting and not kind.pins:
        columns: list[Column] = []
        for index, count in enumerate(supply):
            stack = kind.height // sizes[index]
            columns += [_stack(kind.height, index, sizes)] * (count // stack if count else 0)
        return ((tuple(columns),),)
    return _cuts(kind, sizes, usable, every, steps)[supply]


def _fewest_first(blocks: Supply) -> tuple[int, Supply]:
    return sum(blocks), blocks[::-1]


@lru_cache(maxsize=4096)
def _stack(height: int, index: int, sizes: tuple[int, ...]) -> Column:
    blocks = tuple(height // size if i == index else 0 for i, size in enumerate(sizes))
    return Column(sizes[index], blocks)


def _plain_columns(kind: RowKind, sizes: tuple[int, ...], usable: int) -> list[tuple[int, int, int]]:
    """Return size, width and number of blocks of every column of one size that a row may have, the widest first."""
    return [
        (index, size, kind.height // size)
        for index, size in enumerate(sizes)
        if usable >> index & 1
        and size <= kind.width
        and (size == kind.height or (kind.stacking and kind.height % size == 0))
    ][::-1]


@kept(4096)
def _fillings(kind: RowKind, sizes: tuple[int, ...], usable: int, steps: StepsLeft) -> tuple[Supply, ...]:
    columns = _plain_columns(kind, sizes, usable)
    reach = reachable([size for _, size, _ in columns], kind.width)
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
    return tuple(sorted(found, key=_fewest_first))


@kept(1024)
def _cuts(
    kind: RowKind, sizes: tuple[int, ...], usable: int, every: bool, steps: StepsLeft
) -> dict[Supply, tuple[Structure, ...]]:
    found: dict[Supply, dict[Structure, None]] = {}
    for supply, structure in _row(kind, _Blocks(sizes, usable), every, steps):
        steps.take(1)
        ways = found.setdefault(supply, {})
        if every or not ways:
            ways[structure] = None
    return {supply: tuple(ways) for supply, ways in found.items()}


def _row(kind: RowKind, blocks: _Blocks, every: bool, steps: StepsLeft) -> Iterator[tuple[Supply, Structure]]:
    """Yield every way to cut a row, around the blocks in it that stay."""
    free: dict[int, list[tuple[Supply, Part]]] = {}

    def between(width: int) -> list[tuple[Supply, Part]]:
        if width not in free:
            free[width] = _free_columns(replace(kind, width=width, pins=()), blocks, every, steps)
        return free[width]

    def go(x: int, pins: tuple[Pin, ...]) -> Iterator[tuple[Supply, Structure]]:
        steps.take(1)
        if not pins:
            yield from ((supply, (part,) if part else ()) for supply, part in between(kind.width - x))
            return
        for left, width in _around(pins[0], x, kind, blocks):
            inside = tuple(pin for pin in pins if pin.x < left + width)
            if any(pin.x < left or pin.x + pin.side > left + width for pin in inside):
                continue
            moved = tuple(sorted(replace(pin, x=pin.x - left) for pin in inside))
            before = between(left - x)
            if not before:
                continue
            columns = list(_columns(replace(kind, width=width, pins=moved), blocks, steps))
            if not columns:
                continue
            for right_supply, right in go(left + width, pins[len(inside) :]):
                for supply, part in before:
                    for column in columns:
                        steps.take(1)
                        whole = tuple(map(add, map(add, supply, column.supply), right_supply))
                        yield whole, (*((part,) if part else ()), (column,), *right)

    yield from go(0, tuple(sorted(kind.pins, key=lambda pin: (pin.x, pin.y))))


def _around(pin: Pin, x: int, kind: RowKind, blocks: _Blocks) -> Iterator[tuple[int, int]]:
    """Yield left edge and width of every column that may hold a block that stays."""
    widths = blocks.sizes if kind.nesting else (pin.side,)
    for width in widths:
        if width < pin.side or width > kind.height:
            continue
        for left in range(max(x, pin.x + pin.side - width), min(pin.x, kind.width - width) + 1):
            yield left, width


def _free_columns(kind: RowKind, blocks: _Blocks, every: bool, steps: StepsLeft) -> list[tuple[Supply, Part]]:
    """List every way to fill a width with columns; without ``every`` one for each supply."""
    table: list[dict[Supply, list[Part]]] = [{} for _ in range(kind.width + 1)]
    table[0][blocks.none()] = [()]
    for width in blocks.sizes:
        if width > min(kind.width, kind.height):
            continue
        for column in _columns(replace(kind, width=width), blocks, steps):
            for x in range(width, kind.width + 1):
                for supply, parts in list(table[x - width].items()):
                    steps.take(3)
                    ways = table[x].setdefault(tuple(map(add, supply, column.supply)), [])
                    if every:
                        steps.take(len(parts))
                        ways += [(*part, column) for part in parts]
                    elif not ways:
                        ways.append((*parts[0], column))
    return [(supply, part) for supply, parts in table[kind.width].items() for part in parts]


def _columns(kind: RowKind, blocks: _Blocks, steps: StepsLeft) -> Iterator[Column]:
    """Yield a column as wide as the row for each supply it can have: one block or a stack first, then nested."""
    width, height = kind.width, kind.height
    seen: set[Supply] = set()
    if width in blocks.sizes and (width == height or (kind.stacking and height % width == 0)):
        index = blocks.sizes.index(width)
        stays = all(pin.side == width and pin.x == 0 and pin.y % width == 0 for pin in kind.pins)
        if blocks.usable >> index & 1 and stays:
            supply = blocks.only(index, height // width)
            seen.add(supply)
            yield Column(width, supply, kind.pins)
    if not kind.nesting or width not in blocks.sizes or width > height:
        return

    def row_kind(row: int) -> RowKind:
        return RowKind(row, width, kind.stacking)

    stacks: Sequence[tuple[int | RowKind, ...]]
    if kind.pins:
        stacks = stacks_around(row_kind, kind.pins, height, 0, blocks.sizes, steps)
    else:
        stacks = heights_that_fill(height, 0, blocks.sizes, steps)
    for stack in stacks:
        together: dict[Supply, tuple[tuple[int, Structure], ...]] = {blocks.none(): ()}
        for line in stack if len(stack) > 1 or kind.pins else ():
            below, together = together, {}
            row = line if isinstance(line, RowKind) else row_kind(line)
            for supply, structure in _row(row, blocks, False, steps):
                for lower, rows in below.items():
                    steps.take(1)
                    together.setdefault(tuple(map(add, lower, supply)), (*rows, (row.height, structure)))
        for supply, rows in together.items():
            if rows and supply not in seen:
                seen.add(supply)
                yield Column(width, supply, kind.pins, rows)
