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
from operator import sub

from generator.engine.solver.rows import RowKind, Space, Supply, fillings, row_sets
from generator.engine.solver.steps_left import StepsLeft
from generator.engine.solver.task import Task


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
        largest = max((size for i, size in enumerate(task.sizes) if usable & task.fills >> i & 1), default=0)
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
        return sum(count * price for count, price in zip(supply, self.block, strict=True) if count)

    def credit_of(self, need: Supply) -> int:
        """Return what is credited for the blocks that are still needed."""
        return sum(count * price for count, price in zip(need, self.credit, strict=True) if count)


def most_area(patterns: Sequence[Supply], areas: Sequence[int], subset: int) -> int:
    """Return the largest area that one filling of a row gives to a subset of sizes."""
    wanted = [(i, area) for i, area in enumerate(areas) if subset >> i & 1]
    return max(sum(supply[i] * area for i, area in wanted) for supply in patterns)


class Search:
    """One task with one set of usable sizes and one need; ``best`` finds the fewest pieces."""

    def __init__(self, task: Task, usable: int, need: Supply, steps: StepsLeft) -> None:
        self.task, self.usable, self.need, self.steps = task, usable, need, steps
        self.areas = tuple(size**2 for size in task.sizes)
        self.exact = tuple(i for i in range(len(task.sizes)) if not task.fills >> i & 1)
        self.found: Filled | None = None
        self.floor = 0
        self.patterns: dict[RowKind, tuple[Supply, ...]] = {}
        self.sets: list[list[tuple[int, ...]]] = []
        needed = [i for i, count in enumerate(need) if count]
        everything = sum(1 << i for i in needed)
        self.subsets = subsets_of(needed)
        self.prices = [
            Prices(task, usable, need, mask)
            for mask in dict.fromkeys([everything, *(everything & ~(1 << i) for i in needed), 0])
        ]
        self._caps: dict[RowKind, tuple[int, ...]] = {}
        self._costs: dict[RowKind, tuple[int, ...]] = {}
        self._most: dict[RowKind, Supply] = {}
        self._choices: dict[tuple[RowKind, Supply], list[tuple[int, Supply, Supply]]] = {}
        self.few = self._few_subsets()
        self._required = [self._area(need, subset) for subset in self.subsets]
        for space in task.spaces:
            heights = tuple(height for height in task.heights if self._fill(space.kind(height)))
            self.sets.append(self._alive(space, row_sets(space, heights, steps)))

    # -- what a row and a bay can give ---------------------------------------------------------------

    def _fill(self, kind: RowKind) -> bool:
        if kind not in self.patterns:
            found = fillings(kind, self.task.sizes, self.usable, self.steps)
            if self.exact:
                found = tuple(s for s in found if all(s[i] <= self.need[i] for i in self.exact))
            self.patterns[kind] = found
        return bool(self.patterns[kind])

    def caps(self, kind: RowKind) -> tuple[int, ...]:
        """Return the largest area a row gives to each of ``subsets``."""
        if kind not in self._caps:
            self._caps[kind] = tuple(most_area(self.patterns[kind], self.areas, subset) for subset in self.subsets)
        return self._caps[kind]

    def costs(self, kind: RowKind) -> tuple[int, ...]:
        """Return the cheapest filling of a row under each of ``prices``."""
        if kind not in self._costs:
            self._costs[kind] = tuple(min(map(price.of, self.patterns[kind])) for price in self.prices)
        return self._costs[kind]

    def _area(self, blocks: Supply, subset: int) -> int:
        return sum(count * self.areas[i] for i, count in enumerate(blocks) if count and subset >> i & 1)

    def set_caps(self, space: Space, heights: tuple[int, ...]) -> list[int]:
        """Return the largest area a set of rows gives to each of ``subsets``."""
        return [sum(column) for column in zip(*(self.caps(space.kind(h)) for h in heights), strict=True)]

    def _alive(self, space: Space, sets: Sequence[tuple[int, ...]]) -> list[tuple[int, ...]]:
        if len(self.task.spaces) > 1:
            return list(sets)  # what one bay cannot give another may
        return [
            heights
            for heights in sets
            if all(cap >= area for cap, area in zip(self.set_caps(space, heights), self._required, strict=True))
        ]

    # -- all bays ------------------------------------------------------------------------------------

    def best(self, below: int | None = None, first: bool = False) -> Filled | None:
        """Return the filling with the fewest pieces, fewer than ``below``; None proves there is none.

        With ``first`` any filling does. Raises OutOfSteps; then ``found`` holds the best so far, and
        ``floor`` the pieces it takes at least.
        """
        spaces = self.task.spaces
        bounds: list[list[int]] = []
        ordered: list[list[tuple[int, ...]]] = []
        for space, sets in zip(spaces, self.sets, strict=True):
            plates = [len(rows) - (0 if space.plate_on_top else 1) for rows in sets]
            priced = sorted(
                (
                    sum(self.costs(space.kind(h))[0] for h in rows) + plates[i] * self.prices[0].one,
                    i,
                )
                for i, rows in enumerate(sets)
            )
            bounds.append([bound for bound, _ in priced])
            ordered.append([sets[i] for _, i in priced])
        twins = [i > 0 and spaces[i] == spaces[i - 1] for i in range(len(spaces))]
        credit = self.prices[0].credit_of(self.need)
        for bound, indices in in_order_of_sum(bounds, twins):
            self.floor = _pieces(bound + credit, self.prices[0].one)
            self.steps.take(1)
            if below is not None and self.floor >= below:
                break
            rows = [ordered[bay][index] for bay, index in enumerate(indices)]
            if len(spaces) > 1 and not self._enough(rows):
                continue
            if below is not None and self._bound(rows) >= below:
                continue
            better = self._fill_rows(rows, below)
            if better is not None:
                self.found, below = better, better.pieces
                if first:
                    break
        return self.found

    def _enough(self, rows: Sequence[tuple[int, ...]]) -> bool:
        caps = [self.set_caps(space, heights) for space, heights in zip(self.task.spaces, rows, strict=True)]
        return all(sum(parts) >= area for *parts, area in zip(*caps, self._required, strict=True))

    def _bound(self, rows: Sequence[tuple[int, ...]]) -> int:
        kinds = [space.kind(h) for space, heights in zip(self.task.spaces, rows, strict=True) for h in heights]
        plates = self.plates(rows)
        return plates + max(
            _pieces(sum(self.costs(kind)[i] for kind in kinds) + price.credit_of(self.need), price.one)
            for i, price in enumerate(self.prices)
        )

    def plates(self, rows: Sequence[tuple[int, ...]]) -> int:
        """Return how many row plates lie in bays with these rows."""
        return sum(
            len(heights) - (0 if space.plate_on_top else 1)
            for space, heights in zip(self.task.spaces, rows, strict=True)
        )

    # -- one choice of rows --------------------------------------------------------------------------

    def _fill_rows(self, rows: Sequence[tuple[int, ...]], below: int | None) -> Filled | None:
        """Fill given rows with the fewest pieces: depth first, the row that serves most of the need first."""
        slots = [
            (space.kind(height), bay, place)
            for bay, (space, heights) in enumerate(zip(self.task.spaces, rows, strict=True))
            for place, height in enumerate(heights)
        ]
        slots.sort(key=lambda slot: (-slot[0].height, slot[0].width, slot[1], slot[2]))
        kinds = [slot[0] for slot in slots]
        few = self.few
        areas = self.areas
        price = self.prices[0]
        # What the rows from each place on can give at most, and cost at least.
        caps = [[0] * len(few)]
        costs = [0]
        for kind in reversed(kinds):
            caps.append([left + self.caps(kind)[i] for left, (i, _) in zip(caps[-1], few, strict=True)])
            costs.append(costs[-1] + self.costs(kind)[0])
        caps.reverse()
        costs.reverse()
        plates = self.plates(rows)
        limit = below
        best: list[Supply] | None = None
        chosen: list[Supply] = []
        seen: dict[tuple[int, Supply], int] = {}

        def fill(place: int, need: Supply, pieces: int) -> None:
            nonlocal limit, best
            self.steps.take(1)
            if place == len(kinds):
                if not any(need) and (limit is None or pieces < limit):
                    limit, best = pieces, list(chosen)
                return
            if limit is not None and pieces + _pieces(costs[place] + price.credit_of(need), price.one) >= limit:
                return
            for cap, (_, members) in zip(caps[place], few, strict=True):
                if sum(need[i] * areas[i] for i in members) > cap:
                    return
            known = seen.get((place, need))
            if known is not None and known <= pieces:
                return
            seen[place, need] = pieces
            for count, used, supply in self._choose(kinds[place], need):
                chosen.append(supply)
                fill(place + 1, tuple(map(sub, need, used)), pieces + count)
                chosen.pop()

        fill(0, self.need, plates)
        if best is None or limit is None:
            return None
        supplies = {(bay, place): supply for (_, bay, place), supply in zip(slots, best, strict=True)}
        return Filled(
            limit,
            tuple(
                tuple((height, supplies[bay, place]) for place, height in enumerate(heights))
                for bay, heights in enumerate(rows)
            ),
        )

    def _choose(self, kind: RowKind, need: Supply) -> list[tuple[int, Supply, Supply]]:
        """List (pieces, blocks used, supply) for a row, without those that another surpasses in every way."""
        patterns = self.patterns[kind]
        if kind not in self._most:
            self._most[kind] = tuple(map(max, zip(*patterns, strict=True)))
        need = tuple(map(min, need, self._most[kind]))
        choices = self._choices.get((kind, need))
        if choices is not None:
            return choices
        kept: dict[Supply, tuple[int, Supply]] = {}
        for supply in patterns:  # fewest blocks first, so the first that uses the same is the best of them
            if any(supply[i] > need[i] for i in self.exact):
                continue
            used = tuple(map(min, supply, need))
            kept.setdefault(used, (sum(supply), supply))
        ranked = sorted(
            ((count, used, supply) for used, (count, supply) in kept.items()),
            key=lambda c: (-self._area(c[1], -1), c[0], c[2]),
        )
        choices = []
        for choice in ranked:
            if not any(
                other[0] <= choice[0]
                and all(a >= b for a, b in zip(other[1], choice[1], strict=True))
                and all(other[1][i] == choice[1][i] for i in self.exact)
                for other in choices
            ):
                choices.append(choice)
        self._choices[kind, need] = choices
        return choices

    def _few_subsets(self) -> list[tuple[int, tuple[int, ...]]]:
        """Pick the subsets worth asking at every step: each size alone, and all from a size upwards."""
        needed = [i for i, count in enumerate(self.need) if count]
        wanted = [1 << i for i in needed]
        wanted += [sum(1 << j for j in needed[place:]) for place in range(len(needed) - 1)]
        return [
            (self.subsets.index(mask), tuple(i for i in needed if mask >> i & 1)) for mask in dict.fromkeys(wanted)
        ]


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
