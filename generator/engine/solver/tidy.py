"""Tidy: the order of rows, and which rows take the spares, for a frame whose pieces are settled.

Reopening a bay takes out every row from the clamping unit down to the target, so a spare counts the rows
above it. Whole numbers only.
"""

from contextlib import suppress
from operator import sub

from generator.engine.solver.rows import Supply
from generator.engine.solver.search import Filled, Search, Strip
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
        # Deepest places first: (rows above, bay).
        self.places = sorted(
            ((above, bay) for bay, rows in enumerate(start) for above in range(len(rows))),
            key=lambda place: (-place[0], place[1]),
        )
        self.block_limit = filled.pieces - search.plates([[height for height, _ in rows] for rows in start])
        self.unused = [i for i, count in enumerate(filled.supply()) if not count]  # no size more either
        self.members = [[(i, search.areas[i]) for i in inside] for _, inside in search.few]
        self.known_fillings: dict[tuple[Strip, Supply, Supply], list[tuple[int, int, Supply, Supply, Supply]]] = {}
        self.seen: dict[tuple[object, ...], tuple[int, int]] = {}
        self.chosen: list[list[tuple[int, Supply]]] = [[] for _ in start]
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
            heights = [tuple(sorted((height for height, _ in rows), reverse=True)) for rows in self.bays]
            strips = [self.search.strips[bay][height] for bay, rows in enumerate(heights) for height in rows]
            caps = tuple(map(sum, zip(*[strip.few_caps for strip in strips], strict=True)))
            costs = sum(strip.costs[0] for strip in strips)
            with suppress(OutOfSteps):  # the best so far stands
                self._place(0, tuple(heights), caps, costs, self.search.need, self.cables, (0, 0), 0, steps)
        return self.bays

    def _place(
        self,
        place: int,
        remaining: tuple[tuple[int, ...], ...],
        caps: tuple[int, ...],
        costs: int,
        need: Supply,
        cables: Supply,
        cost: tuple[int, int],
        blocks: int,
        steps: StepsLeft,
    ) -> None:
        """Choose the row at one place; ``caps`` and ``costs`` are what the remaining rows give and cost."""
        steps.take(1)
        if cost >= self.cost:
            return
        if place == len(self.places):
            if not any(need) and blocks <= self.block_limit:
                self.cost, self.bays = cost, tuple(map(tuple, self.chosen))
            return
        price = self.search.prices[0]
        if blocks * price.one + costs + price.credit_of(need) > self.block_limit * price.one:
            return
        for cap, inside in zip(caps, self.members, strict=True):
            if sum([need[i] * area for i, area in inside]) > cap:
                return
        key = (place, remaining, need, cables, blocks)
        known = self.seen.get(key)
        if known is not None and known <= cost:
            return
        self.seen[key] = cost
        above, bay = self.places[place]
        here = remaining[bay]
        for height in dict.fromkeys(here):
            strip = self.search.strips[bay][height]
            at = here.index(height)  # tallest first, so those before it are taller
            rest = (*remaining[:bay], here[:at] + here[at + 1 :], *remaining[bay + 1 :])
            caps_left = tuple(map(sub, caps, strip.few_caps))
            for deep, count, supply, needed, used in self._fillings(strip, need, cables):
                self.chosen[bay].append((height, supply))
                self._place(
                    place + 1,
                    rest,
                    caps_left,
                    costs - strip.costs[0],
                    tuple(map(sub, need, needed)),
                    tuple(map(sub, cables, used)),
                    (cost[0] + above * deep, cost[1] + at),
                    blocks + count,
                    steps,
                )
                self.chosen[bay].pop()

    def _fillings(self, strip: Strip, need: Supply, cables: Supply) -> list[tuple[int, int, Supply, Supply, Supply]]:
        """List (spares, blocks, supply, blocks of the need, blocks of cables) for a row, fewest spares first."""
        need, cables = tuple(map(min, need, strip.most)), tuple(map(min, cables, strip.most))
        found = self.known_fillings.get((strip, need, cables))
        if found is None:
            found = []
            exact = self.search.exact
            for supply in strip.patterns:
                if any(supply[i] for i in self.unused) or any(supply[i] > need[i] for i in exact):
                    continue
                used = tuple(map(min, supply, cables))
                spares = sum([supply[i] - used[i] for i in self.spare])
                found.append((spares, sum(supply), supply, tuple(map(min, supply, need)), used))
            found.sort(key=lambda f: (f[0], f[1], f[2][::-1]))
            self.known_fillings[strip, need, cables] = found
        return found
