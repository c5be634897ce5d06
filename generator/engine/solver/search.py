"""Search: the fewest pieces that fill a frame's bays and bring every block that is needed. Whole numbers only.

A piece is a block or a row plate. Where more blocks of a size come than are needed, the others fill the
bay, which only sizes with a plug or a filler can do.

The search goes over the row sets of the bays, cheapest bound first, and within one over the fillings of its
rows. Two bounds, both exact integers:

* Pieces. A needed block of side s is one piece; every other piece covers at most S², S the largest side that
  may fill. So with s²/S² charged for a block of a needed size (for any subset of them), S²/S² for any other,
  and 1 - s²/S² credited for every block needed, each row costs at least its cheapest filling, whatever else
  is chosen: the sum over rows, plus plates and credit, is at most the number of pieces. With no size charged by
  its area that is the fewest blocks of each row.
* Area. For every subset T of sizes the blocks needed from T cover no more than the rows can give to T. All subsets
  are asked at once: their areas lie side by side in one whole number, each with a bit above it that is borrowed
  from where an area falls short (``Fields``).

What a row gives and costs depends on its kind alone and is kept from one search to the next.
"""

import heapq
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import mul, sub

from generator.engine.solver.cuts import fillings
from generator.engine.solver.rows import Line, RowKind, Space, Supply, height_of, row_sets
from generator.engine.solver.steps_left import OutOfSteps, StepsLeft
from generator.engine.solver.task import Task

MOST_ROWS = 300
"""A frame with more rows than this is given up: the search goes one call deeper with every row."""


@dataclass(frozen=True, slots=True)
class Filled:
    """Rows for every bay with their supplies, in the order of their row set; ``pieces`` counts blocks and plates."""

    pieces: int
    bays: tuple[tuple[tuple[Line, Supply], ...], ...]

    def supply(self) -> Supply:
        """Return the blocks of all bays by size."""
        return tuple(map(sum, zip(*(supply for rows in self.bays for _, supply in rows), strict=True)))


# -- areas, for every subset of sizes at once -------------------------------------------------------------

_COUNT_BITS = 32
"""Width of a field that counts the blocks of one size."""
_BITS = 56
"""Width of a field: the areas of a frame in its units stay far below 2 to the 55."""


@dataclass(frozen=True, slots=True)
class Fields:
    """Subsets of sizes, and for a block of each size its area in the fields of the subsets that hold the size."""

    subsets: tuple[int, ...]
    areas: tuple[int, ...]
    guard: int
    """The highest bit of every field."""

    def of(self, supply: Supply) -> int:
        """Return the area of blocks in every field."""
        total: int = sum(map(mul, supply, self.areas))
        return total

    def most(self, patterns: Sequence[Supply], areas: Sequence[int]) -> int:
        """Return for every field the largest area that one of several fillings gives to its subset."""
        packed = 0
        for place, subset in enumerate(self.subsets):
            packed |= most_area(patterns, areas, subset) << place * _BITS
        return packed

    def over(self, several: Iterable[int]) -> int:
        """Return for every field the largest of several."""
        mask, packed = (1 << _BITS) - 1, 0
        whole = list(several)
        for place in range(len(self.subsets)):
            packed |= max((one >> place * _BITS & mask for one in whole), default=0) << place * _BITS
        return packed

    def hold(self, caps: int, required: int) -> bool:
        """Tell whether no field of ``required`` exceeds that of ``caps``."""
        return (caps | self.guard) - required & self.guard == self.guard


@lru_cache(maxsize=256)
def fields_of(sizes: tuple[int, ...]) -> Fields:
    """Return the fields for some sizes: every subset of up to six, of more those of ``subsets_of``."""
    subsets = tuple(subsets_of(range(len(sizes))))
    return Fields(
        subsets,
        tuple(
            sum(size**2 << place * _BITS for place, subset in enumerate(subsets) if subset >> i & 1)
            for i, size in enumerate(sizes)
        ),
        sum(1 << place * _BITS + _BITS - 1 for place in range(len(subsets))),
    )


def subsets_of(needed: Sequence[int]) -> list[int]:
    """Return every subset of up to six sizes; of more, each alone and all from one upwards (still valid)."""
    if len(needed) > 6:
        singles = [1 << i for i in needed]
        return singles + [sum(singles[place:]) for place in range(len(needed) - 1)]
    masks = [0]
    for i in needed:
        masks += [mask | 1 << i for mask in masks]
    return masks[1:]


def most_area(patterns: Sequence[Supply], areas: Sequence[int], subset: int) -> int:
    """Return the largest area that one filling of a row gives to a subset of sizes."""
    wanted = [(i, area) for i, area in enumerate(areas) if subset >> i & 1]
    return max([sum([supply[i] * area for i, area in wanted]) for supply in patterns])


# -- what is known of a kind of row -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RowFacts:
    """The fillings of one kind of row, the most area they give to each subset, the most blocks of each size."""

    patterns: tuple[Supply, ...]
    caps: int
    most: Supply
    cost: int


@lru_cache(maxsize=4096)
def _row_facts(kind: RowKind, sizes: tuple[int, ...], usable: int, limit: int) -> RowFacts | None:
    steps = StepsLeft(limit)
    patterns = fillings(kind, sizes, usable, steps)
    if not patterns:
        return None
    fields = fields_of(sizes)
    steps.take(len(patterns) * len(fields.subsets) // 16)
    caps = fields.most(patterns, tuple(size**2 for size in sizes))
    return RowFacts(patterns, caps, tuple(map(max, zip(*patterns, strict=True))), steps.taken)


@lru_cache(maxsize=16384)
def _least_charge(kind: RowKind, sizes: tuple[int, ...], usable: int, limit: int, block: Supply) -> int:
    facts = _row_facts(kind, sizes, usable, limit)
    assert facts is not None
    least: int = min([sum(map(mul, supply, block)) for supply in facts.patterns])
    return least


# -- prices -----------------------------------------------------------------------------------------------


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

    def credit_of(self, need: Supply) -> int:
        """Return what is credited for the blocks that are still needed."""
        return sum(map(mul, need, self.credit))


@dataclass(frozen=True, slots=True)
class RowChoice:
    """One filling of a row as far as a need goes: what it uses of the need, and what that takes off the bounds."""

    count: int
    used: Supply
    supply: Supply
    area: int
    credit: int
    spare: int
    """Area of its blocks beyond the need that are spares."""


class Strip:
    """One kind of row in one search: its fillings, and what they give and cost at best."""

    def __init__(self, search: "Search", kind: RowKind, facts: RowFacts) -> None:
        self.kind, self.height, self.most = kind, kind.height, facts.most
        self.caps = facts.caps
        self._search = search
        self._choices: dict[Supply, list[RowChoice]] = {}
        need = search.need
        self.patterns = (
            tuple(supply for supply in facts.patterns if all(supply[i] <= need[i] for i in search.exact))
            if search.exact
            else facts.patterns
        )
        task = search.task
        self.costs = tuple(
            _least_charge(kind, task.sizes, search.usable, search.steps.limit, price.block) for price in search.prices
        )

    def choices(self, need: Supply) -> list[RowChoice]:
        """List what it can bring of a need, without those that another surpasses in every way."""
        need = tuple(map(min, need, self.most))
        known = self._choices.get(need)
        if known is None:
            known = self._choices[need] = self._best_choices(need)
        return known

    def _best_choices(self, need: Supply) -> list[RowChoice]:
        search = self._search
        exact, areas, price, spare_areas = search.exact, search.areas, search.prices[0], search.spare_areas
        kept: dict[tuple[Supply, int], tuple[int, Supply]] = {}
        spare = 0
        for supply in self.patterns:  # fewest blocks first, so the first that uses the same is the best of them
            if exact and any(supply[i] > need[i] for i in exact):
                continue
            used = tuple(map(min, supply, need))
            if spare_areas:
                spare = sum(map(mul, map(sub, supply, used), spare_areas))
            if (used, spare) not in kept:
                kept[used, spare] = (sum(supply), supply)
        ranked = sorted(
            [(-sum(map(mul, used, areas)), -spare, kept[used, spare], used) for used, spare in kept],
        )
        counts = search.counts
        best: list[tuple[int, int, int, Supply]] = []
        found: list[RowChoice] = []
        for _, less_spare, (count, supply), used in ranked:
            packed = sum(map(mul, used, counts))
            for other_count, other_spare, other, other_used in best:
                # No field of ``other`` is less: nothing is borrowed from the bits above them.
                if (
                    other_count <= count
                    and other - packed & search.over_counts == search.over_counts
                    and other_spare >= -less_spare
                    and (not exact or all(other_used[i] == used[i] for i in exact))
                ):
                    break
            else:
                best.append((count, -less_spare, packed | search.over_counts, used))
                found.append(
                    RowChoice(count, used, supply, search.fields.of(used), price.credit_of(used), -less_spare)
                )
        return found


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
    last = len(lists) - 1
    while queue:
        total, indices = heapq.heappop(queue)
        yield total, indices
        for i, index in enumerate(indices):
            # Every ascending choice follows from another one: the first index above 0, one less.
            if index + 1 < len(lists[i]) and (i == last or not twins[i + 1] or index < indices[i + 1]):
                following = (*indices[:i], index + 1, *indices[i + 1 :])
                if following not in seen:
                    seen.add(following)
                    heapq.heappush(queue, (total - lists[i][index] + lists[i][index + 1], following))


@dataclass(frozen=True, slots=True)
class Frame:
    """A task's bays with one set of usable sizes: every row set of each, and what it gives to each subset."""

    sets: tuple[tuple[tuple[tuple[Line, ...], int], ...], ...]
    together: tuple[int, ...]
    """What the row sets of all bays together may give; of many the most of each, so that a bound stays a bound."""


_MOST_TOGETHER = 4_000


@lru_cache(maxsize=512)
def _frame(
    spaces: tuple[Space, ...], sizes: tuple[int, ...], heights: tuple[int, ...], usable: int, limit: int
) -> tuple[Frame, int]:
    steps = StepsLeft(limit)
    fields = fields_of(sizes)
    every = []
    for space in spaces:
        lines = heights
        if not space.pins:  # only rows that can be filled
            lines = tuple(h for h in heights if _row_facts(space.kind(h), sizes, usable, limit) is not None)
        found = []
        for rows in row_sets(space, lines, steps):
            caps = 0
            for line in rows:
                facts = _row_facts(space.kind(line), sizes, usable, limit)
                if facts is None:
                    break
                caps += facts.caps
            else:
                found.append((rows, caps))
        steps.take(len(found))
        every.append(tuple(found))
    together = {0}
    for sets in every:
        gives = {caps for _, caps in sets}
        if len(together) * len(gives) > _MOST_TOGETHER:
            together, gives = {fields.over(together)}, {fields.over(gives)} if gives else set()
        together = {one + two for one in together for two in gives}
    kept: list[int] = []
    for caps in sorted(together, reverse=True):
        if not any(fields.hold(other, caps) for other in kept):
            kept.append(caps)
    return Frame(tuple(every), tuple(kept)), steps.taken


def frame_of(task: Task, usable: int, steps: StepsLeft) -> Frame:
    """Return the bays of a task with some usable sizes. Raises OutOfSteps."""
    found, cost = _frame(task.spaces, task.sizes, task.heights, usable, steps.limit)
    steps.pay_once((task.spaces, usable, "frame"), cost)
    return found


def may_hold(task: Task, frame: Frame, need: Supply) -> bool:
    """Tell whether some row sets of the bays have the area that a need asks for, of every subset of sizes."""
    fields = fields_of(task.sizes)
    required = fields.of(need)
    return any(fields.hold(caps, required) for caps in frame.together)


class Search:
    """One task with one set of usable sizes and one need; ``best`` finds the fewest pieces."""

    def __init__(self, task: Task, usable: int, need: Supply, steps: StepsLeft) -> None:
        self.task, self.usable, self.need, self.steps = task, usable, need, steps
        self.areas = tuple(size**2 for size in task.sizes)
        self.exact = tuple(i for i in range(len(task.sizes)) if not task.fills >> i & 1)
        self.fields = fields_of(task.sizes)
        self.counts = tuple(1 << i * _COUNT_BITS for i in range(len(task.sizes)))
        self.over_counts = sum(count << _COUNT_BITS - 1 for count in self.counts)
        self.found: Filled | None = None
        self.floor = 0
        needed = [i for i, count in enumerate(need) if count]
        everything = sum(1 << i for i in needed)
        self.prices = [
            Prices(task, usable, need, mask)
            for mask in dict.fromkeys([everything, *(everything & ~(1 << i) for i in needed), 0])
        ]
        self._required = self.fields.of(need)
        self.spare_area = task.spare_area
        """Area that spares must cover beyond those that are needed."""
        self.spare_areas = (
            tuple(area if task.spare_sizes >> i & 1 else 0 for i, area in enumerate(self.areas))
            if self.spare_area
            else ()
        )
        self.strips: list[dict[Line, Strip]] = []
        self.sets: list[list[tuple[tuple[Line, ...], int]]] = []
        self._by_kind: dict[RowKind, Strip | None] = {}
        frame = frame_of(task, usable, steps)
        alone = len(task.spaces) == 1
        for space, sets in zip(task.spaces, frame.sets, strict=True):
            strips: dict[Line, Strip] = {}
            kept = []
            for rows, caps in sets:
                if alone and not self.fields.hold(caps, self._required):
                    continue
                for line in rows:
                    if line not in strips:
                        strip = self._strip(space.kind(line))
                        if strip is None:
                            break
                        strips[line] = strip
                else:
                    kept.append((rows, caps))
            self.strips.append(strips)
            self.sets.append(kept)

    def _strip(self, kind: RowKind) -> Strip | None:
        if kind not in self._by_kind:
            facts = _row_facts(kind, self.task.sizes, self.usable, self.steps.limit)
            if facts is not None:
                self.steps.pay_once((kind, self.usable, "facts"), facts.cost)
            strip = Strip(self, kind, facts) if facts is not None else None
            self._by_kind[kind] = strip if strip is not None and strip.patterns else None
        return self._by_kind[kind]

    # -- all bays ------------------------------------------------------------------------------------

    def best(self, below: int | None = None, first: bool = False) -> Filled | None:
        """Return the filling with the fewest pieces, fewer than ``below``; None proves there is none.

        With ``first`` any filling does. Raises OutOfSteps; then ``found`` holds the best so far, and
        ``floor`` the pieces it takes at least.
        """
        spaces, price = self.task.spaces, self.prices[0]
        alone = len(spaces) == 1
        bounds: list[list[int]] = []
        ordered: list[list[tuple[tuple[Line, ...], int]]] = []
        for bay, sets in enumerate(self.sets):
            strips = self.strips[bay]
            priced = sorted(
                (sum([strips[line].costs[0] for line in rows]) + self._plates(bay, rows) * price.one, i)
                for i, (rows, _) in enumerate(sets)
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
            chosen = [ordered[bay][index] for bay, index in enumerate(indices)]
            if not alone and not self.fields.hold(sum(caps for _, caps in chosen), self._required):
                continue
            rows = [lines for lines, _ in chosen]
            if below is not None and self._bound(rows) >= below:
                continue
            better = self._fill_rows(rows, below)
            if better is not None:
                self.found, below = better, better.pieces
                if first:
                    break
        return self.found

    def _bound(self, rows: Sequence[tuple[Line, ...]]) -> int:
        costs = [self.strips[bay][line].costs for bay, lines in enumerate(rows) for line in lines]
        return self.plates(rows) + max(
            _pieces(sum(cost) + price.credit_of(self.need), price.one)
            for cost, price in zip(zip(*costs, strict=True), self.prices, strict=True)
        )

    def _plates(self, bay: int, lines: Sequence[Line]) -> int:
        return len(lines) - (0 if self.task.spaces[bay].plate_on_top else 1)

    def plates(self, rows: Sequence[Sequence[Line]]) -> int:
        """Return how many row plates lie in bays with these rows."""
        return sum(self._plates(bay, lines) for bay, lines in enumerate(rows))

    # -- one choice of rows --------------------------------------------------------------------------

    def _fill_rows(self, rows: Sequence[tuple[Line, ...]], below: int | None) -> Filled | None:
        """Fill given rows with the fewest pieces: depth first, the row that serves most of the need first."""
        slots = [(bay, place, line) for bay, lines in enumerate(rows) for place, line in enumerate(lines)]
        if len(slots) > MOST_ROWS:
            raise OutOfSteps
        slots.sort(key=lambda slot: (-height_of(slot[2]), self.task.spaces[slot[0]].width, slot[0], slot[1]))
        strips = [self.strips[bay][line] for bay, _, line in slots]
        # What the rows from each place on can give at most, and cost at least.
        caps, costs, space, fewest = [0], [0], [0], [0]
        for strip in reversed(strips):
            fewest.append(fewest[-1] + sum(strip.patterns[0]))
            caps.append(caps[-1] + strip.caps)
            costs.append(costs[-1] + strip.costs[0])
            space.append(space[-1] + strip.height * strip.kind.width)
        guard = self.fields.guard
        caps = [cap | guard for cap in reversed(caps)]
        costs.reverse()
        space.reverse()
        fewest.reverse()
        one = self.prices[0].one
        end, steps = len(strips), self.steps
        limit = below
        best: list[Supply] | None = None
        chosen: list[Supply] = []
        seen: dict[tuple[int, Supply, int], int] = {}

        def fill(place: int, need: Supply, required: int, credit: int, spare: int, pieces: int) -> None:
            nonlocal limit, best
            steps.take(1)
            if place == end:
                if limit is None or pieces < limit:
                    limit, best = pieces, list(chosen)
                return
            key = (place, need, spare)
            known = seen.get(key)
            if known is not None and known <= pieces:
                return
            seen[key] = pieces
            following = place + 1
            cap, cost, room, few = caps[following], costs[following], space[following], fewest[following]
            for choice in strips[place].choices(need):
                left = required - choice.area
                if cap - left & guard != guard:
                    continue
                count, credit_left = pieces + choice.count, credit - choice.credit
                if limit is not None and (
                    count * one + cost + credit_left > (limit - 1) * one or count + few >= limit
                ):
                    continue
                spare_left = spare - choice.spare if spare > choice.spare else 0
                rest = tuple(map(sub, need, choice.used))
                if spare_left and spare_left + sum(map(mul, rest, self.areas)) > room:
                    continue
                chosen.append(choice.supply)
                fill(following, rest, left, credit_left, spare_left, count)
                chosen.pop()

        if self.fields.hold(caps[0] & ~guard, self._required):
            plates = self.plates(rows)
            fill(0, self.need, self._required, self.prices[0].credit_of(self.need), self.spare_area, plates)
        if best is None or limit is None:
            return None
        supplies = {(bay, place): supply for (bay, place, _), supply in zip(slots, best, strict=True)}
        return Filled(
            limit,
            tuple(
                tuple((line, supplies[bay, place]) for place, line in enumerate(lines))
                for bay, lines in enumerate(rows)
            ),
        )


def _pieces(charged: int, one: int) -> int:
    return -(-charged // one)
