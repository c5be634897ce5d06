"""Tidy: the order of rows, and which rows take the spares, for a frame whose pieces are settled.

Reopening a bay takes out every row from the clamping unit down to the target, so a spare counts the rows
above it. Whole numbers only.
"""

from collections.abc import Sequence
from contextlib import suppress
from operator import sub

from generator.engine.solver.rows import Supply
from generator.engine.solver.search import Filled, Search
from generator.engine.solver.steps_left import OutOfSteps, StepsLeft

Bays = tuple[tuple[tuple[int, Supply], ...], ...]
"""For every bay its rows from the bottom, each with its height and supply."""


def tidy(search: Search, filled: Filled, cables: Supply, spares: int, steps: int) -> Bays:
    """Order the rows of every bay, and choose their fillings, without one piece or size more.

    ``cables`` are the blocks that cables need, ``spares`` a bit mask of the sizes whose other blocks are
    spares. Sought, in this order: the fewest rows above the spares (summed over them), then the fewest pairs
    of rows with the taller one above. The row heights of each bay stay; cables take the lowest blocks of
    their size. The best order found in ``steps`` steps, the same on every machine.
    """
    start = tuple(tuple(sorted(rows, key=lambda row: (-row[0], row[1]))) for rows in filled.bays)
    return _Tidying(search, filled, cables, spares, start).best(StepsLeft(steps))


class _Tidying:
    def __init__(self, search: Search, filled: Filled, cables: Supply, spares: int, start: Bays) -> None:
        self.search, self.cables = search, cables
        self.spare = [i for i in range(len(cables)) if spares >> i & 1]
        self.spaces = search.task.spaces
        # Deepest places first: (rows above, bay).
        self.places = sorted(
            ((above, bay) for bay, rows in enumerate(start) for above in range(len(rows))),
            key=lambda place: (-place[0], place[1]),
        )
        heights = [[height for height, _ in rows] for rows in start]
        self.block_limit = filled.pieces - search.plates([tuple(rows) for rows in heights])
        self.unused = [i for i, count in enumerate(filled.supply()) if not count]  # no size more either
        self.bays = start
        self.cost = self._cost(start)

    def _cost(self, bays: Bays) -> tuple[int, int]:
        left, deep, turned = self.cables, 0, 0
        for above, bay in self.places:
            rows = bays[bay]
            height, supply = rows[len(rows) - 1 - above]
            used = tuple(map(min, supply, left))
            left = tuple(map(sub, left, used))
            deep += above * sum(supply[i] - used[i] for i in self.spare)
            turned += sum(1 for other, _ in rows[len(rows) - above :] if other > height)
        return deep, turned

    def best(self, steps: StepsLeft) -> Bays:
        if self.cost > (0, 0):
            remaining = [sorted((height for height, _ in rows), reverse=True) for rows in self.bays]
            empty: list[list[tuple[int, Supply]]] = [[] for _ in self.bays]
            with suppress(OutOfSteps):  # the best so far stands
                self._place(0, remaining, self.search.need, self.cables, (0, 0), 0, empty, {}, steps)
        return self.bays

    def _place(
        self,
        place: int,
        remaining: list[list[int]],
        need: Supply,
        cables: Supply,
        cost: tuple[int, int],
        blocks: int,
        chosen: list[list[tuple[int, Supply]]],
        seen: dict[object, tuple[int, int]],
        steps: StepsLeft,
    ) -> None:
        steps.take(1)
        if cost >= self.cost:
            return
        if place == len(self.places):
            if not any(need) and blocks <= self.block_limit:
                self.cost, self.bays = cost, tuple(tuple(rows) for rows in chosen)
            return
        if not self._possible(remaining, need, blocks):
            return
        key = (place, tuple(map(tuple, remaining)), need, cables, blocks)
        if key in seen and seen[key] <= cost:
            return
        seen[key] = cost
        above, bay = self.places[place]
        for height in dict.fromkeys(remaining[bay]):
            rest = list(remaining[bay])
            rest.remove(height)
            turned = sum(1 for other in rest if other > height)
            for deep, supply, used in self._fillings(bay, height, need, cables):
                chosen[bay].append((height, supply))
                self._place(
                    place + 1,
                    [*remaining[:bay], rest, *remaining[bay + 1 :]],
                    tuple(map(sub, need, map(min, supply, need))),
                    tuple(map(sub, cables, used)),
                    (cost[0] + above * deep, cost[1] + turned),
                    blocks + sum(supply),
                    chosen,
                    seen,
                    steps,
                )
                chosen[bay].pop()

    def _fillings(self, bay: int, height: int, need: Supply, cables: Supply) -> Sequence[tuple[int, Supply, Supply]]:
        search = self.search
        found = []
        for supply in search.patterns[self.spaces[bay].kind(height)]:
            if any(supply[i] for i in self.unused) or any(supply[i] > need[i] for i in search.exact):
                continue
            used = tuple(map(min, supply, cables))
            found.append((sum(supply[i] - used[i] for i in self.spare), supply, used))
        return sorted(found, key=lambda f: (f[0], sum(f[1]), f[1][::-1]))

    def _possible(self, remaining: list[list[int]], need: Supply, blocks: int) -> bool:
        search = self.search
        kinds = [space.kind(h) for space, rows in zip(self.spaces, remaining, strict=True) for h in rows]
        price = search.prices[0]
        charged = sum(search.costs(kind)[0] for kind in kinds) + price.credit_of(need)
        if blocks * price.one + charged > self.block_limit * price.one:
            return False
        return all(
            sum(need[i] * search.areas[i] for i in members) <= sum(search.caps(kind)[index] for kind in kinds)
            for index, members in search.few
        )
