"""Ladder: cables stand from left to right as they lie on the ladder, as far as their rows allow.

The rows and their columns are settled. What may still change: which of the cables that the rules do not tell apart
takes which of their blocks, and the order of the columns of one part of a row. Counted is how many pairs of cables
cross (``packing``). For a given order of columns cables of one kind are best put in ascending order into their
blocks from left to right: to exchange two that stand the wrong way round never adds a crossing. The columns are
turned and moved as long as that takes crossings away, in a fixed number of tries. Before that every row in which
nothing is bound gets the best order it can have beside the others (``row_order``), row by row, as long as that helps.
"""

from bisect import bisect_right, insort
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from heapq import heappop, heappush
from itertools import groupby
from math import inf

from generator.engine.row_order import Sort, Step, order_row, states
from generator.engine.solver.task import OTHERS, Tag
from generator.engine.standing import Cell, StandingColumn, StandingRow
from generator.engine.units import FrameInUnits

TRIES = 200
"""Orders of columns that are tried."""
STATES = 20_000
"""States that the search for the best order of rows may look at."""
STARTS, VAIN = 16, 5
"""Orders from which it begins, at most; it ends after so many that brought nothing."""

_Kept = tuple[list[list[list[StandingColumn]]], list[tuple[Cell, int | None, bool]]]
"""Columns of all rows, and what is in their blocks."""


def by_ladder(units: FrameInUnits, standing: Sequence[Sequence[StandingRow]]) -> None:
    """Put cables that have a place on the ladder into its order, in place."""
    ranks = [demand.cable.ladder for demand in units.demands]
    if sum(rank is not None for rank in ranks) < 2:
        return
    _Ladder(units, standing, ranks).improve()


def crossings(middles: Sequence[tuple[int, int]]) -> int:
    """Count pairs of (middle, rank) in which the lower rank has its middle farther right."""
    count = 0
    passed: list[int] = []
    ordered = sorted(middles)
    start = 0
    while start < len(ordered):
        end = start
        while end < len(ordered) and ordered[end][0] == ordered[start][0]:
            count += len(passed) - bisect_right(passed, ordered[end][1])
            end += 1
        for _, rank in ordered[start:end]:
            insort(passed, rank)
        start = end
    return count


def _shift(place: int, start: int, spread: int) -> int:
    """Return a length within half of ``spread`` either way, without a pattern to the eye."""
    mixed = (place * 2_654_435_761 + start * 40_503 * 65_537) % 2**32 >> 8
    return (mixed % (2 * spread + 1) - spread) // 2


class _Ladder:
    def __init__(
        self, units: FrameInUnits, standing: Sequence[Sequence[StandingRow]], ranks: Sequence[int | None]
    ) -> None:
        self.ranks, self.sizes = ranks, units.task.sizes
        self.rows = [
            (2 * units.whole(units.frame.bays[bay].x), row) for bay, rows in enumerate(standing) for row in rows
        ]
        self.tags = units.tags
        self.tries, self.states = TRIES, STATES
        self._collect()

    def _collect(self) -> None:
        """Find the blocks whose cables may change places: those of one kind, size and tag."""
        kinds: dict[tuple[int, Tag], list[Cell]] = {}
        for _, row in self.rows:
            for _, column in row.columns():
                for cell in column.cells:
                    if cell.cable is not None and cell.which < 0 and self.ranks[cell.cable] is not None:
                        kinds.setdefault((cell.size, self.tags[cell.cable]), []).append(cell)
        self.kind_of = {id(cell): kind for kind, cells in kinds.items() for cell in cells}
        # What a kind's blocks are to hold, lowest place on the ladder first.
        self.kinds = [
            (cells, sorted((cell.cable for cell in cells if cell.cable is not None), key=lambda c: (self.rank(c), c)))
            for cells in kinds.values()
        ]
        self.waiting = {kind: held for kind, (_, held) in zip(kinds, self.kinds, strict=True)}

    def rank(self, cable: int) -> int:
        """Return the place of a cable on the ladder; 0 for one that has none."""
        return self.ranks[cable] or 0

    def improve(self) -> None:
        """Turn and move columns as long as that takes crossings away; then give every cable its block."""
        as_it_stood = [[list(part) for part in row.parts] for _, row in self.rows]
        best = self._assign()
        self._merge()
        merged = self._assign()
        if merged > best:
            for (_, row), parts in zip(self.rows, as_it_stood, strict=True):
                row.parts[:] = parts
            merged = self._assign()
        best, improved = self._row_by_row(merged), True
        while improved and best and self.tries > 0:
            improved = False
            for _, row in self.rows:
                for number, part in enumerate(row.parts):
                    for other in self._moves(part):
                        row.parts[number] = other
                        if self._stand_together(row):
                            self.tries -= 1
                            crossing = self._assign()
                            if crossing < best:
                                best, part, improved = crossing, other, True
                                continue
                        row.parts[number] = part
                        if self.tries <= 0:
                            break
        self._assign()

    def _row_by_row(self, best: int) -> int:
        """Give rows in which nothing is bound their best order beside the others; return how many cables cross.

        First from where they stand, then from where the cables would lie were there room everywhere, then from places
        that are shifted about, as far as chance would and the same every time.
        """
        ranks = sorted({self.rank(cable) for _, held in self.kinds for cable in held})
        left = min(start for start, _ in self.rows)
        right = max(start + 2 * sum(c.width for _, c in row.columns()) for start, row in self.rows)
        kept, starts, vain = self._keep(), 0, 0
        while best and self.states > 0 and starts < STARTS and vain < VAIN:
            spread = min(starts, STARTS // 2) * (right - left) // STARTS
            aims = {
                rank: left + (right - left) * (2 * at + 1) // (2 * len(ranks)) + _shift(at, starts, spread)
                for at, rank in enumerate(ranks)
            }
            if starts:
                self._improve_rows(aims, alone=True)
            starts, vain = starts + 1, vain + 1
            crossing, before = self._assign(), -1
            while crossing and crossing != before and self.states > 0:
                before = crossing
                self._improve_rows(aims)
                crossing = self._assign()
                if crossing < best:
                    best, kept, vain = crossing, self._keep(), 0
        self._restore(kept)
        return best

    def _improve_rows(self, aims: Mapping[int, int], alone: bool = False) -> None:
        for start, row in self.rows:
            sorts = self._sorts(row)
            # To look at a row at all costs about as much as a state for every two cables there are.
            if sorts and (needed := states(sorts) + len(self.kind_of) // 2) <= self.states:
                self.states -= needed
                before = [(id(cell), cell.cable) for _, _, cell in row.cells()]
                self._arrange(row, sorts, order_row(start, sorts, [] if alone else self._others(row), aims))
                if before != [(id(cell), cell.cable) for _, _, cell in row.cells()]:
                    self._collect()
                    self._assign()

    def _keep(self) -> _Kept:
        parts = [[list(part) for part in row.parts] for _, row in self.rows]
        return parts, [(cell, cell.cable, cell.solid) for _, row in self.rows for _, _, cell in row.cells()]

    def _restore(self, kept: _Kept) -> None:
        for (_, row), parts in zip(self.rows, kept[0], strict=True):
            row.parts[:] = parts
        for cell, cable, solid in kept[1]:
            cell.cable, cell.solid = cable, solid
        self._collect()

    def _sorts(self, row: StandingRow) -> list[Sort]:
        """Return the columns of a row by width; none where zones, blocks that stay or nested columns bind it."""
        if len(row.parts) != 1:
            return []
        sorts: dict[int, tuple[int, int, list[int]]] = {}
        for column in row.parts[0]:
            if column.owner != OTHERS or any(c.which >= 0 or c.size != column.cells[0].size for c in column.cells):
                return []
            count, _, ranks = sorts.get(column.width, (0, 0, []))
            ranks += [rank for c in column.cells if c.cable is not None and (rank := self.ranks[c.cable]) is not None]
            sorts[column.width] = (count + 1, len(column.cells), ranks)
        if not any(ranks for _, _, ranks in sorts.values()):
            return []
        return [Sort(width, *of[:2], tuple(sorted(of[2]))) for width, of in sorted(sorts.items())]

    def _others(self, row: StandingRow) -> list[tuple[int, int]]:
        return sorted(
            (start + 2 * (x + cell.dx) + self.sizes[cell.size], rank)
            for start, other in self.rows
            if other is not row
            for x, column in other.columns()
            for cell in column.cells
            if cell.cable is not None and (rank := self.ranks[cell.cable]) is not None
        )

    def _arrange(self, row: StandingRow, sorts: Sequence[Sort], steps: Sequence[Step]) -> None:
        """Stand the columns of a row in an order, and put the lowest cables of each width into the first of them."""
        columns: dict[int, list[StandingColumn]] = {}
        for column in row.parts[0]:
            columns.setdefault(column.width, []).append(column)
        on_it: dict[int, list[int]] = {}
        rest: dict[int, list[tuple[int | None, bool]]] = {}
        for width, own in columns.items():
            for cell in (cell for column in own for cell in column.cells):
                if cell.cable is not None and self.ranks[cell.cable] is not None:
                    on_it.setdefault(width, []).append(cell.cable)
                else:
                    rest.setdefault(width, []).append((cell.cable, cell.solid))
            on_it.setdefault(width, []).sort(key=lambda cable: (self.rank(cable), cable))
        row.parts[0].clear()
        for number, taken in steps:
            width = sorts[number].width
            column = columns[width].pop(0)
            row.parts[0].append(column)
            for place, cell in enumerate(column.cells):
                cell.cable, cell.solid = (on_it[width].pop(0), False) if place < taken else rest[width].pop(0)

    def _merge(self) -> None:
        """Order the columns of all rows at once from left to right: next the one whose cables lie leftmost."""
        waiting = {kind: list(reversed(held)) for kind, held in self.waiting.items()}
        queue = [(start, number, 0) for number, (start, row) in enumerate(self.rows) if row.parts]
        order: list[list[list[StandingColumn]]] = [[[] for _ in row.parts] for _, row in self.rows]
        left = [[list(part) for part in row.parts] for _, row in self.rows]
        while queue:
            x, number, place = heappop(queue)
            columns = left[number][place]
            last = order[number][place][-1].owner if order[number][place] else OTHERS
            may = [column for column in columns if column.owner == last != OTHERS] or columns
            chosen = min(may, key=lambda column: self._next(column, waiting))
            for cell in chosen.cells:
                if kind := self.kind_of.get(id(cell)):
                    waiting[kind].pop()
            columns[:] = [column for column in columns if column is not chosen]
            order[number][place].append(chosen)
            if not columns:
                place += 1
            if place < len(left[number]):
                heappush(queue, (x + 2 * chosen.width, number, place))
        for (_, row), parts in zip(self.rows, order, strict=True):
            before = list(row.parts)
            row.parts[:] = parts
            if not self._stand_together(row):
                row.parts[:] = before

    def _next(self, column: StandingColumn, waiting: Mapping[tuple[int, Tag], Sequence[int]]) -> float:
        taken: Counter[tuple[int, Tag]] = Counter()
        found = []
        for cell in column.cells:
            if kind := self.kind_of.get(id(cell)):
                taken[kind] += 1
                found.append(self.ranks[waiting[kind][-taken[kind]]] or 0)
            elif cell.cable is not None and self.ranks[cell.cable] is not None:
                found.append(self.ranks[cell.cable] or 0)
        return sum(found) / len(found) if found else inf

    def _moves(self, part: Sequence[StandingColumn]) -> Iterator[list[StandingColumn]]:
        yield list(reversed(part))
        for first in range(len(part)):
            for second in range(first + 1, len(part)):
                if self._look(part[first]) != self._look(part[second]):
                    swapped = list(part)
                    swapped[first], swapped[second] = swapped[second], swapped[first]
                    yield swapped

    def _look(self, column: StandingColumn) -> tuple[object, ...]:
        """What sets a column apart from another: exchanging two of the same look changes nothing."""
        return (column.width, column.owner, *(self.kind_of.get(id(cell)) for cell in column.cells))

    def _stand_together(self, row: StandingRow) -> bool:
        runs = [owner for owner, _ in groupby(column.owner for _, column in row.columns()) if owner != OTHERS]
        return len(runs) == len(set(runs))

    def _assign(self) -> int:
        """Give the cables of each kind to their blocks in the order of the ladder; return how many cross."""
        middle: dict[int, int] = {}
        fixed: list[tuple[int, int]] = []
        for start, row in self.rows:
            for x, column in row.columns():
                for cell in column.cells:
                    middle[id(cell)] = at = start + 2 * (x + cell.dx) + self.sizes[cell.size]
                    if cell.which >= 0 and cell.cable is not None and (rank := self.ranks[cell.cable]) is not None:
                        fixed.append((at, rank))
        for cells, held in self.kinds:
            cells.sort(key=lambda cell: middle[id(cell)])
            for cell, cable in zip(cells, held, strict=True):
                cell.cable = cable
                fixed.append((middle[id(cell)], self.rank(cable)))
        return crossings(fixed)
