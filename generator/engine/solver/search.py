"""Search: the fewest pieces that fill a frame's bays and bring every block that is needed. Whole numbers only.

A piece is a block or a row plate. Where more blocks of a size come than are needed, the others fill the
bay, which only sizes with a plug or a filler can do.

The search goes over the row sets of the bays, cheapest bound first, and within one over the fillings of its
rows. Two bounds, both exact integers:

* Pieces. A needed block of side s is one piece; every other piece covers at most S², S the largest side that
  may fill. So with s²/S² charged for a block of a needed size (for any subset of them), S²/S² for any other,
  and 1 - s²/S² credited for every block needed, each row costs at least its cheapest filling, whatever else
  is chosen: the sum over rows, plus plates and credit, is at most the number of pieces.
* Area. For every subset T of sizes the blocks needed from T cover no more than the rows can give to T.
"""

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from operator import add, ge, mul, sub

from generator.engine.solver.rows import RowKind, Supply, fillings, row_sets
from generator.engine.solver.steps_left import OutOfSteps, StepsLeft
from generator.engine.solver.task import Task

MOST_ROWS = 300
"""A frame with more rows than this is given up: the search goes one call deeper with every row."""


@dataclass(frozen=True, slots=True)
class Filled:
    """Rows for every bay, tallest first, each with its supply; ``pieces`` counts blocks and row plates."""

    pieces: int
    bays: tuple[tuple[tuple[int, Supply], ...], ...]

    def supply(self) -> Supply:
        """Return the blocks of all bays by size."""
        return tuple(map(sum, zip(*(supply for rows in self.bays for _, supply in rows), strict=True)))


def in_order_of_sum(lists: Sequence[Sequence[int]], twins: Sequence[bool]) -> Iterator[tuple[int, tuple[int, ...]]]:
    """Yield (sum, indices) of one entry from each ascending list, least sum first, then indices in order.

    ``twins[i]`` says that list i is the same as list i - 1 and its entries interchangeable: then only
    ascending indices are yielded there.
    """
    if not all(lists):
        return
    start = (0,) * len(lists)
    queue = [(sum(entries[0] for entries in lists), start)]
    seen = {start}
    while queue:
        total, indices = heapq.heappop(queue)
        if all(not twin or indices[i - 1] <= indices[i] for i, twin in enumerate(twins)):
            yield total, indices
        for i, index in enumerate(indices):
            if index + 1 < len(lists[i]):
                following = (*indices[:i], index + 1, *indices[i + 1 :])
                if following not in seen:
                    seen.add(following)
                    heapq.heappush(queue, (total - lists[i][index] + lists[i][index + 1], following))


class Prices:
    """What a block of each size is charged in the bound on pieces, in units of 1 / ``one`` pieces."""

    def __init__(self, task: Task, usable: int, need: Supply, shared: int) -> None:
        """``shared`` is a bit mask: the needed sizes that are charged by their area."""
        largest = max((size for i, size in enumerate(task.sizes) if (usable & task.fills) >> i & 1), default=0)
        self.one = largest**2 or 1
        exact = [not task.fills >> i & 1 for i in range(len(task.sizes))]
        self.block = tuple(
            # A size that must come out exactly may be charged anything; one that may be exceeded at most 1.
            (size**2 if exact[i] else min(size**2, self.one)) if need[i] and shared >> i & 1 else self.one
            for i, size in enumerate(task.sizes)
        )
        self.credit = tuple(self.one - price for price in self.block)

    def of(self, supply: Supply) -> int:
        """Return what a filling is charged."""
        return sum(map(mul, supply, self.block))

    def credit_of(self, need: Supply) -> int:
        """Return what is credited for the blocks that are still needed."""
        return sum(map(mul, need, self.credit))


def most_area(patterns: Sequence[Supply], areas: Sequence[int], subset: int) -> int:
    """Return the largest area that one filling of a row gives to a subset of sizes."""
    wanted = [(i, area) for i, area in enumerate(areas) if subset >> i & 1]
    return max([sum([supply[i] * area for i, area in wanted]) for supply in patterns])


class Strip:
    """One kind of row in one search: its fillings, and what they give and cost at best."""

    def __init__(self, search: "Search", height: int, patterns: tuple[Supply, ...]) -> None:
        self.height, self.patterns = height, patterns
        self._search = search
        self._choices: dict[Supply, list[tuple[int, Supply, Supply]]] = {}

    @cached_property
    def caps(self) -> tuple[int, ...]:
        """The largest area it gives to each of the search's ``subsets``."""
        self._search.steps.take(len(self.patterns) * len(self._search.subsets) // 16)
        return tuple(most_area(self.patterns, self._search.areas, subset) for subset in self._search.subsets)

    @cached_property
    def few_caps(self) -> tuple[int, ...]:
        """The same for the subsets that are asked at every step."""
        return tuple(self.caps[index] for index, _ in self._search.few)

    @cached_property
    def costs(self) -> tuple[int, ...]:
        """Its cheapest filling under each of the search's ``prices``."""
        return tuple(min(map(price.of, self.patterns)) for price in self._search.prices)

    @cached_property
    def most(self) -> Supply:
        """The most blocks it can bring of each size."""
        return tuple(map(max, zip(*self.patterns, strict=True)))

    def choices(self, need: Supply) -> list[tuple[int, Supply, Supply]]:
        """List (pieces, blocks used, supply), without those that another surpasses in every way."""
        need = tuple(map(min, need, self.most))
        known = self._choices.get(need)
        if known is None:
            known = self._choices[need] = self._best_choices(need)
        return known

    def _best_choices(self, need: Supply) -> list[tuple[int, Supply, Supply]]:
        exact, areas = self._search.exact, self._search.areas
        kept: dict[Supply, tuple[int, Supply]] = {}
        for supply in self.patterns:  # fewest blocks first, so the first that uses the same is the best of them
            if exact and any(supply[i] > need[i] for i in exact):
                continue
            kept.setdefault(tuple(map(min, supply, need)), (sum(supply), supply))
        ranked = sorted(
            ((count, used, supply) for used, (count, supply) in kept.items()),
            key=lambda c: (-sum(map(mul, c[1], areas)), c[0], c[2]),
        )
        best: list[tuple[int, Supply, Supply]] = []
        for choice in ranked:
            count, used, _ = choice
            if not any(
                other[0] <= count and all(map(ge, other[1], used)) and all(other[1][i] == used[i] for i in exact)
                for other in best
            ):
                best.append(choice)
        return best


class Search:
    """One task with one set of usable sizes and one need; ``best`` finds the fewest pieces."""

    def __init__(self, task: Task, usable: int, need: Supply, steps: StepsLeft) -> None:
        self.task, self.need, self.steps = task, need, steps
        self.areas = tuple(size**2 for size in task.sizes)
        self.exact = tuple(i for i in range(len(task.sizes)) if not task.fills >> i & 1)
        self.found: Filled | None = None
        self.floor = 0
        needed = [i for i, count in enumerate(need) if count]
        everything = sum(1 << i for i in needed)
        self.prices = [
            Prices(task, usable, need, mask)
            for mask in dict.fromkeys([everything, *(everything & ~(1 << i) for i in needed), 0])
        ]
        self.subsets = subsets_of(needed)
        self.few = _few_subsets(needed, self.subsets)
        self._required = [
            sum(count * area for i, (count, area) in enumerate(zip(need, self.areas, strict=True)) if subset >> i & 1)
            for subset in self.subsets
        ]
        self.strips: list[dict[int, Strip]] = []
        self.sets: list[tuple[tuple[int, ...], ...]] = []
        self._set_caps: list[dict[tuple[int, ...], list[int]]] = []
        kinds: dict[RowKind, Strip | None] = {}
        for space in task.spaces:
            strips = {}
            for height in task.heights:
                kind = space.kind(height)
                if kind not in kinds:
                    patterns = self._patterns(kind, usable)
                    kinds[kind] = Strip(self, height, patterns) if patterns else None
                if (strip := kinds[kind]) is not None:
                    strips[height] = strip
            self.strips.append(strips)
            self.sets.append(row_sets(space, tuple(strips), steps))
            self._set_caps.append({})

    def _patterns(self, kind: RowKind, usable: int) -> tuple[Supply, ...]:
        found = fillings(kind, self.task.sizes, usable, self.steps)
        if not self.exact:
            return found
        return tuple(supply for supply in found if all(supply[i] <= self.need[i] for i in self.exact))

    # -- all bays ------------------------------------------------------------------------------------

    def best(self, below: int | None = None, first: bool = False) -> Filled | None:
        """Return the filling with the fewest pieces, fewer than ``below``; None proves there is none.

        With ``first`` any filling does. Raises OutOfSteps; then ``found`` holds the best so far, and
        ``floor`` the pieces it takes at least.
        """
        spaces, price = self.task.spaces, self.prices[0]
        bounds: list[list[int]] = []
        ordered: list[list[tuple[int, ...]]] = []
        for bay, sets in enumerate(self.sets):
            strips = self.strips[bay]
            priced = sorted(
                (sum([strips[h].costs[0] for h in rows]) + self._plates(bay, rows) * price.one, i)
                for i, rows in enumerate(sets)
            )
            bounds.append([bound for bound, _ in priced])
            ordered.append([sets[i] for _, i in priced])
        twins = [i > 0 and spaces[i] == spaces[i - 1] for i in range(len(spaces))]
        credit = price.credit_of(self.need)
        for bound, indices in in_order_of_sum(bounds, twins):
            self.floor = _pieces(bound + credit, price.one)
            self.steps.take(1)
            if below is not None and self.floor >= below:
                break
            rows = [ordered[bay][index] for bay, index in enumerate(indices)]
            if not self._enough(rows) or (below is not None and self._bound(rows) >= below):
                continue
            better = self._fill_rows(rows, below)
            if better is not None:
                self.found, below = better, better.pieces
                if first:
                    break
        return self.found

    def _enough(self, rows: Sequence[tuple[int, ...]]) -> bool:
        """Tell whether the rows of all bays together give every subset of sizes the area it needs."""
        caps = [self._caps_of(bay, heights) for bay, heights in enumerate(rows)]
        together = caps[0] if len(caps) == 1 else map(sum, zip(*caps, strict=True))
        return all(map(ge, together, self._required))

    def _caps_of(self, bay: int, heights: tuple[int, ...]) -> list[int]:
        known = self._set_caps[bay].get(heights)
        if known is None:
            strips = self.strips[bay]
            known = list(map(sum, zip(*[strips[h].caps for h in heights], strict=True)))
            self._set_caps[bay][heights] = known
        return known

    def _bound(self, rows: Sequence[tuple[int, ...]]) -> int:
        costs = [self.strips[bay][h].costs for bay, heights in enumerate(rows) for h in heights]
        return self.plates(rows) + max(
            _pieces(sum(cost) + price.credit_of(self.need), price.one)
            for cost, price in zip(zip(*costs, strict=True), self.prices, strict=True)
        )

    def _plates(self, bay: int, heights: Sequence[int]) -> int:
        return len(heights) - (0 if self.task.spaces[bay].plate_on_top else 1)

    def plates(self, rows: Sequence[Sequence[int]]) -> int:
        """Return how many row plates lie in bays with these rows."""
        return sum(self._plates(bay, heights) for bay, heights in enumerate(rows))

    # -- one choice of rows --------------------------------------------------------------------------

    def _fill_rows(self, rows: Sequence[tuple[int, ...]], below: int | None) -> Filled | None:
        """Fill given rows with the fewest pieces: depth first, the row that serves most of the need first."""
        slots = [(bay, place, height) for bay, heights in enumerate(rows) for place, height in enumerate(heights)]
        if len(slots) > MOST_ROWS:
            raise OutOfSteps
        slots.sort(key=lambda slot: (-slot[2], self.task.spaces[slot[0]].width, slot[0], slot[1]))
        strips = [self.strips[bay][height] for bay, _, height in slots]
        members = [[(i, self.areas[i]) for i in inside] for _, inside in self.few]
        # What the rows from each place on can give at most, and cost at least.
        caps = [tuple([0] * len(self.few))]
        costs = [0]
        for strip in reversed(strips):
            caps.append(tuple(map(add, caps[-1], strip.few_caps)))
            costs.append(costs[-1] + strip.costs[0])
        caps.reverse()
        costs.reverse()
        one, credit = self.prices[0].one, self.prices[0].credit
        end, steps = len(strips), self.steps
        limit = below
        best: list[Supply] | None = None
        chosen: list[Supply] = []
        seen: dict[tuple[int, Supply], int] = {}

        def fill(place: int, need: Supply, pieces: int) -> None:
            nonlocal limit, best
            steps.take(1)
            if place == end:
                if not any(need) and (limit is None or pieces < limit):
                    limit, best = pieces, list(chosen)
                return
            if limit is not None and pieces * one + costs[place] + sum(map(mul, need, credit)) > (limit - 1) * one:
                return
            for cap, inside in zip(caps[place], members, strict=True):
                area = 0
                for i, each in inside:
                    area += need[i] * each
                if area > cap:
                    return
            known = seen.get((place, need))
            if known is not None and known <= pieces:
                return
            seen[place, need] = pieces
            for count, used, supply in strips[place].choices(need):
                chosen.append(supply)
                fill(place + 1, tuple(map(sub, need, used)), pieces + count)
                chosen.pop()

        fill(0, self.need, self.plates(rows))
        if best is None or limit is None:
            return None
        supplies = {(bay, place): supply for (bay, place, _), supply in zip(slots, best, strict=True)}
        return Filled(
            limit,
            tuple(
                tuple((height, supplies[bay, place]) for place, height in enumerate(heights))
                for bay, heights in enumerate(rows)
            ),
        )


def _few_subsets(needed: Sequence[int], subsets: Sequence[int]) -> list[tuple[int, tuple[int, ...]]]:
    """Pick the subsets worth asking at every step: each size alone, and all from a size upwards."""
    wanted = [1 << i for i in needed]
    wanted += [sum(1 << j for j in needed[place:]) for place in range(len(needed) - 1)]
    return [(subsets.index(mask), tuple(i for i in needed if mask >> i & 1)) for mask in dict.fromkeys(wanted)]


def _pieces(charged: int, one: int) -> int:
    return -(-charged // one)


def subsets_of(needed: Sequence[int]) -> list[int]:
    """Return every subset of up to six sizes; of more, each alone and all from one upwards (still valid)."""
    if len(needed) > 6:
        singles = [1 << i for i in needed]
        return singles + [sum(singles[place:]) for place in range(len(needed) - 1)]
    masks = [0]
    for i in needed:
        masks += [mask | 1 << i for mask in masks]
    return masks[1:]
