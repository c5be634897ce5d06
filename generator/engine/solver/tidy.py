"""Tidy: the order of rows, and which rows take the spares, for a frame whose pieces are settled.

Reopening a bay takes out every row from the clamping unit down to the target, so a spare counts the rows
above it. Whole numbers only.
"""

from contextlib import suppress
from dataclasses import dataclass
from operator import sub

from generator.engine.solver.rows import Line, Supply, height_of
from generator.engine.solver.search import Filled, Search, Strip
from generator.engine.solver.steps_left import OutOfSteps, StepsLeft

PATIENCE = 200
"""After so many steps that brought nothing better the search for an order ends."""
Bays = tuple[tuple[tuple[Line, Supply], ...], ...]
"""For every bay its rows from the bottom, each with its height and supply."""


def tidy(search: Search, filled: Filled, cables: Supply, spares: int, steps: int, as_found: bool = False) -> Bays:
    """Order the rows of every bay, and choose their fillings, without one piece or size more.

    With ``as_found`` every row keeps the filling it has.

    ``cables`` are the blocks that cables need, ``spares`` a bit mask of the sizes whose other blocks are
    spares. Sought, in this order: the fewest rows above the spares (summed over them), then the fewest pairs
    of rows with the taller one above. The row heights of each bay stay; cables take the lowest blocks of
    their size. The best order found in ``steps`` steps, the same on every machine.
    """
    start = tuple(tuple(sorted(rows, key=lambda row: (-height_of(row[0]), row[1]))) for rows in filled.bays)
    return _Tidying(search, filled, cables, spares, start, as_found).best(StepsLeft(steps))


class _Tidying:
    def __init__(
        self, search: Search, filled: Filled, cables: Supply, spares: int, start: Bays, as_found: bool
    ) -> None:
        self.search, self.cables, self.as_found = search, cables, as_found
        self.spare = [i for i in range(len(cables)) if spares >> i & 1]
        # Deepest places first: (rows above, bay).
        self.places = sorted(
            ((above, bay) for bay, rows in enumerate(start) for above in range(len(rows))),
            key=lambda place: (-place[0], place[1]),
        )
        self.block_limit = filled.pieces - search.plates([[height for height, _ in rows] for rows in start])
        self.unused = [i for i, count in enumerate(filled.supply()) if not count]  # no size more either
        self.known_fillings: dict[tuple[Strip, Supply, Supply, Supply], list[_Filling]] = {}
        self.seen: dict[tuple[object, ...], tuple[int, int]] = {}
        self.chosen: list[list[tuple[Line, Supply]]] = [[] for _ in start]
        self.bays = start
        self.cost = self._cost(start)
        self.patience = PATIENCE

    def _cost(self, bays: Bays) -> tuple[int, int]:
        left, deep, turned = self.cables, 0, 0
        for above, bay in self.places:
            rows = bays[bay]
            height, supply = rows[len(rows) - 1 - above]
            used = tuple(map(min, supply, left))
            left = tuple(map(sub, left, used))
            deep += above * sum(supply[i] - used[i] for i in self.spare)
            turned += sum(1 for other, _ in rows[len(rows) - above :] if height_of(other) > height_of(height))
        return deep, turned

    def best(self, steps: StepsLeft) -> Bays:
        if self.cost > (0, 0):
            rows = tuple(
                tuple((line, supply if self.as_found else ()) for line, supply in rows) for rows in self.bays
            )  # tallest first
            strips = [self.search.strips[bay][line] for bay, lines in enumerate(rows) for line, _ in lines]
            caps = sum(strip.caps for strip in strips)
            price = self.search.prices[0]
            need = self.search.need
            room = self.block_limit * price.one - sum(strip.costs[0] for strip in strips) - price.credit_of(need)
            state = (rows, caps, self.search.fields.of(need), room)
            if room >= 0 and self.search.fields.hold(caps, state[2]):
                with suppress(OutOfSteps):  # the best so far stands
                    self._place(0, state, need, self.cables, (0, 0), steps)
        return self.bays

    def _place(
        self,
        place: int,
        state: tuple[Bays, int, int, int],
        need: Supply,
        cables: Supply,
        cost: tuple[int, int],
        steps: StepsLeft,
    ) -> None:
        """Choose the row at one place.

        ``state``: the rows that remain in each bay; what they give to every subset of sizes, and what is needed of
        it; what may be charged beyond the cheapest filling of each.
        """
        steps.take(1)
        self.patience -= 1
        if self.patience < 0:
            raise OutOfSteps
        if place == len(self.places):
            self.cost, self.bays, self.patience = cost, tuple(map(tuple, self.chosen)), PATIENCE
            return
        remaining, caps, required, room = state
        key = (place, remaining, need, cables, room)
        known = self.seen.get(key)
        if known is not None and known <= cost:
            return
        self.seen[key] = cost
        above, bay = self.places[place]
        here = remaining[bay]
        guard = self.search.fields.guard
        for row in dict.fromkeys(here):
            line, only = row
            strip = self.search.strips[bay][line]
            at = here.index(row)
            taller = sum(1 for other, _ in here[:at] if height_of(other) > height_of(line))  # tallest first
            rest = (*remaining[:bay], here[:at] + here[at + 1 :], *remaining[bay + 1 :])
            caps_left = caps - strip.caps
            room_left = room + strip.costs[0]
            for filling in self._fillings(strip, only, need, cables):
                reached = (cost[0] + above * filling.spares, cost[1] + taller)
                if reached >= self.cost:
                    break  # the next ones have as many spares or more
                charge_left = room_left - filling.charge
                if charge_left < 0:
                    continue
                left = required - self.search.fields.of(filling.need)
                if (caps_left | guard) - left & guard != guard:
                    continue
                self.chosen[bay].append((line, filling.supply))
                self._place(
                    place + 1,
                    (rest, caps_left, left, charge_left),
                    tuple(map(sub, need, filling.need)),
                    tuple(map(sub, cables, filling.cables)),
                    reached,
                    steps,
                )
                self.chosen[bay].pop()

    def _fillings(self, strip: Strip, only: Supply, need: Supply, cables: Supply) -> list["_Filling"]:
        """List what a row can bring, fewest spares first; ``only`` where it is not empty."""
        need, cables = tuple(map(min, need, strip.most)), tuple(map(min, cables, strip.most))
        key = (strip, only, need, cables)
        found = self.known_fillings.get(key)
        if found is None:
            found = []
            exact, price = self.search.exact, self.search.prices[0]
            for supply in (only,) if only else strip.patterns:
                if any(supply[i] for i in self.unused) or any(supply[i] > need[i] for i in exact):
                    continue
                used, needed = tuple(map(min, supply, cables)), tuple(map(min, supply, need))
                spares = sum([supply[i] - used[i] for i in self.spare])
                charge = sum(supply) * price.one - price.credit_of(needed)
                found.append(_Filling(spares, sum(supply), supply, needed, used, charge))
            found.sort(key=lambda f: (f.spares, f.blocks, f.supply[::-1]))
            self.known_fillings[key] = found
        return found


@dataclass(frozen=True, slots=True)
class _Filling:
    """What a row can bring: spares, blocks, its supply, and its blocks of the need and of cables."""

    spares: int
    blocks: int
    supply: Supply
    need: Supply
    cables: Supply
    charge: int
    """What its blocks are charged, less what is credited for those that were needed."""
