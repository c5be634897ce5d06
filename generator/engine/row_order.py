"""Row order: the best order of the columns of one row for the ladder, with all other rows as they stand.

Every order of columns is weighed, step by step from the left: what has been placed matters to the rest only by how
many columns of each width and how many of their cables it took, since of cables in blocks of one size the lower on
the ladder is best put farther left.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate


@dataclass(frozen=True, slots=True)
class Sort:
    """Columns of one width in a row: how many, how many blocks each has, the places of their cables, ascending."""

    width: int
    columns: int
    blocks: int
    ranks: tuple[int, ...]


Step = tuple[int, int]
"""The next column: which sort, and how many cables it takes."""
Cost = tuple[int, int]
"""Pairs that cross, and how far cables are from where they would lie were there room everywhere."""


def states(sorts: Sequence[Sort]) -> int:
    """Return how many states the search for the order of a row may look at."""
    found = 1
    for sort in sorts:
        found *= (sort.columns + 1) * (len(sort.ranks) + 1)
    return found


def order_row(
    start: int, sorts: Sequence[Sort], others: Sequence[tuple[int, int]], aims: Mapping[int, int]
) -> list[Step]:
    """Return the columns from left to right so that fewest cables cross those of other rows and each other.

    ``start`` is twice the row's left edge; ``others`` are (twice the middle, place on the ladder), sorted; ``aims``
    says for every place on the ladder at which (twice the) middle a cable would best lie. Of orders with as many
    crossings the one that comes nearest to that is taken.
    """
    search = _Search(start, sorts, others, aims)
    search.least(tuple((sort.columns, 0) for sort in sorts))
    return search.steps()


class _Search:
    def __init__(
        self, start: int, sorts: Sequence[Sort], others: Sequence[tuple[int, int]], aims: Mapping[int, int]
    ) -> None:
        self.start, self.sorts, self.aims = start, sorts, aims
        self.all = sum(sort.width * sort.columns for sort in sorts)
        self.middles = [middle for middle, _ in others]
        ranks = {rank for sort in sorts for rank in sort.ranks}
        self.higher = {q: [0, *accumulate(int(rank > q) for _, rank in others)] for q in ranks}
        self.lower = {q: [0, *accumulate(int(rank < q) for _, rank in others)] for q in ranks}
        self.known: dict[tuple[Step, ...], tuple[Cost, Step]] = {}

    def least(self, state: tuple[Step, ...]) -> Cost:
        """Return the least cost of what is left; ``state``: columns left and cables placed of each sort."""
        if state in self.known:
            return self.known[state][0]
        found: list[tuple[Cost, Step]] = []
        x = self.start + 2 * (self.all - sum(s.width * c for s, (c, _) in zip(self.sorts, state, strict=True)))
        for number, (sort, (columns, placed)) in enumerate(zip(self.sorts, state, strict=True)):
            left = len(sort.ranks) - placed
            for taken in range(min(left, sort.blocks) + 1) if columns else ():
                if left - taken <= (columns - 1) * sort.blocks:
                    after = (*state[:number], (columns - 1, placed + taken), *state[number + 1 :])
                    crossed, off = self._cost(number, placed, taken, x + sort.width, state)
                    more, farther = self.least(after)
                    found.append(((crossed + more, off + farther), (number, taken)))
        self.known[state] = min(found, default=((0, 0), (0, 0)))
        return self.known[state][0]

    def _cost(self, number: int, placed: int, taken: int, middle: int, state: Sequence[Step]) -> Cost:
        """Weigh what the next cables of a sort cross with their block's middle there."""
        before, after = bisect_left(self.middles, middle), bisect_right(self.middles, middle)
        crossed = off = 0
        for q in self.sorts[number].ranks[placed : placed + taken]:
            crossed += self.higher[q][before] + self.lower[q][-1] - self.lower[q][after]
            off += abs(self.aims[q] - middle)
            for other, (sort, (_, stood)) in enumerate(zip(self.sorts, state, strict=True)):
                if other != number:
                    crossed += stood - bisect_right(sort.ranks, q, 0, stood)
        return crossed, off

    def steps(self) -> list[Step]:
        """Return the steps of the best way, from the left."""
        state = tuple((sort.columns, 0) for sort in self.sorts)
        found = []
        while any(columns for columns, _ in state):
            number, taken = self.known[state][1]
            found.append((number, taken))
            columns, placed = state[number]
            state = (*state[:number], (columns - 1, placed + taken), *state[number + 1 :])
        return found
