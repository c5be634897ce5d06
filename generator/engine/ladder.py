"""Ladder: cables stand from left to right as they lie on the ladder, as far as their rows allow.

The rows and their columns are settled. What may still change: which of the cables that the rules do not tell apart
takes which of their blocks, and the order of the columns of one part of a row. Counted is how many pairs of cables
cross (``packing``). For a given order of columns cables of one kind are best put in ascending order into their
blocks from left to right: to exchange two that stand the wrong way round never adds a crossing. The columns are
turned and moved as long as that takes crossings away, in a fixed number of tries.
"""

from bisect import bisect_right, insort
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from heapq import heappop, heappush
from itertools import groupby
from math import inf

from generator.engine.solver.task import OTHERS, Tag
from generator.engine.standing import Cell, StandingColumn, StandingRow
from generator.engine.units import FrameInUnits

TRIES = 400
"""Orders of columns that are tried."""


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


class _Ladder:
    def __init__(
        self, units: FrameInUnits, standing: Sequence[Sequence[StandingRow]], ranks: Sequence[int | None]
    ) -> None:
        self.ranks, self.sizes = ranks, units.task.sizes
        self.rows = [
            (2 * units.whole(units.frame.bays[bay].x), row) for bay, rows in enumerate(standing) for row in rows
        ]
        kinds: dict[tuple[int, Tag], list[Cell]] = {}
        for _, row in self.rows:
            for _, _, cell in row.cells():
                if cell.cable is not None and cell.which < 0 and ranks[cell.cable] is not None:
                    kinds.setdefault((cell.size, units.tags[cell.cable]), []).append(cell)
        self.kind_of = {id(cell): kind for kind, cells in kinds.items() for cell in cells}
        # What a kind's blocks are to hold, lowest place on the ladder first.
        self.kinds = [
            (cells, sorted((cell.cable for cell in cells if cell.cable is not None), key=lambda c: (ranks[c], c)))
            for cells in kinds.values()
        ]
        self.waiting = {kind: held for kind, (_, held) in zip(kinds, self.kinds, strict=True)}
        self.tries = TRIES

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
        best, improved = merged, True
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
                fixed.append((middle[id(cell)], self.ranks[cable] or 0))
        return crossings(fixed)
