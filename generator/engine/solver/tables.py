"""Tables: what is known of a frame's rows whatever is asked of it, kept from one search to the next.

A table belongs to one set of usable sizes and one set of needed ones. It holds every set of rows of every bay, and
of each row what it may give and must cost. Whole numbers only, many side by side in one (``Lanes``), so that one
subtraction compares all of them.

* Prices. A needed block of side s is one piece, so is any other block. For any fractions 0 <= f(s) <= 1 of the needed
  sizes: charge 1 - f(s) for each block of size s in a row and credit f(s) for each that is needed; blocks beyond the
  need are charged too little, never too much. So each row costs at least its cheapest filling, whatever else is
  chosen, and the sum over rows with plates and credit is at most the number of pieces. The fractions that serve best
  say that beyond the need a row is filled with blocks of side S, f(s) = 1 - s² / S²: tried for every S, and for
  every S with one size left out.
* Areas. For every subset T of the needed sizes the blocks needed from T cover no more than the rows can give to T.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from heapq import heappop, heappush
from itertools import islice
from math import gcd
from operator import mul
from struct import error, pack

from generator.engine.solver.cuts import few_fillings, fillings
from generator.engine.solver.rows import Line, RowKind, Space, Supply, height_of, reachable, row_sets
from generator.engine.solver.steps_left import StepsLeft

LANE = 64
"""Bits of a lane: areas, and prices in units of a block's area, stay far below 2 to the 62."""
COUNT = 32
"""Bits of a lane that counts blocks."""
MOST_TABLES = 100
"""So many tables of one frame are kept."""
MOST_ORDERS = 500
"""So many choices of rows are kept in the order in which they are filled."""
MOST_ROUNDED = 200
"""Counts up to this are rounded up to what stacks bring; larger ones are not."""
HANDFUL = 8
"""So many choices of rows are looked at for one step."""
MOST_LOOKS = 4_000
"""After so many choices of rows for several bays they are taken to have room."""
NONE = 1 << 30
"""More blocks than there can be."""
MOST_HELD = 200
"""Fillings of a row are held against so many others of it, those of the fewest blocks."""
LANES_A_STEP = 16
"""So many lanes are reckoned with for one step."""
PASSED = 8
"""After so many choices of rows for several bays that are like others it is told that they are passed over."""
IN_ORDER = 4
"""Steps that it takes to put one choice of rows for several bays in its place."""
FARTHEST = 1_000
"""The fewest blocks that cover an area are listed up to so many units."""


def lanes(values: Sequence[int], width: int = LANE) -> int:
    """Lay whole numbers side by side in one; each fits its lane, of 32 or 64 bits, or is below zero."""
    try:
        return int.from_bytes(pack(f"<{len(values)}{'Q' if width == LANE else 'I'}", *values), "little")
    except error:
        return sum([value << place * width for place, value in enumerate(values)])


def most(one: int, two: int, guard: int, width: int = LANE) -> int:
    """Return the larger one of each lane; ``guard`` holds the highest bit of each, which is free."""
    at_least = (one | guard) - two & guard
    mask = at_least - (at_least >> width - 1)
    return two ^ ((one ^ two) & mask)


def subsets_of(needed: Sequence[int]) -> list[int]:
    """Return every subset of up to six sizes; of more, each alone and all from one upwards (still valid)."""
    if len(needed) > 6:
        singles = [1 << i for i in needed]
        return singles + [sum(singles[place:]) for place in reversed(range(len(needed) - 1))]
    masks = [0]
    for i in needed:
        masks += [mask | 1 << i for mask in masks]
    return masks[1:]


@dataclass(frozen=True, slots=True)
class Fields:
    """Subsets of the needed sizes, all of them last, and the area of a block in the lanes of those that hold it."""

    subsets: tuple[int, ...]
    areas: tuple[int, ...]
    guard: int
    """The highest bit of every lane."""
    whole: int
    """Where the lane of all needed sizes begins."""

    def of(self, supply: Supply) -> int:
        """Return the area of blocks in every lane."""
        total: int = sum(map(mul, supply, self.areas))
        return total

    def hold(self, caps: int, required: int) -> bool:
        """Tell whether no lane of ``required`` exceeds that of ``caps``."""
        return (caps | self.guard) - required & self.guard == self.guard


@lru_cache(maxsize=1024)
def fields_of(sizes: tuple[int, ...], needed: int) -> Fields:
    """Return the lanes for the subsets of some sizes."""
    subsets = tuple(subsets_of([i for i in range(len(sizes)) if needed >> i & 1]))
    return Fields(
        subsets,
        tuple(lanes([size**2 * (subset >> i & 1) for subset in subsets]) for i, size in enumerate(sizes)),
        lanes([1 << LANE - 1] * len(subsets)),
        max(0, len(subsets) - 1) * LANE,
    )


@dataclass(frozen=True, slots=True)
class Prices:
    """What blocks are charged and credited, a lane for each choice of fractions, in units of 1 / ``one`` pieces."""

    one: int
    """What a piece comes to in each lane."""
    block: Supply
    credit: Supply
    room: int
    """The bit in each lane that is set as long as the lane is not below zero; added before it is asked."""
    ones: tuple[int, ...]

    def credit_of(self, need: Supply) -> int:
        """Return what is credited for blocks that are still needed."""
        total: int = sum(map(mul, need, self.credit))
        return total

    def in_lane(self, charged: int, lane: int) -> int:
        """Return what is charged in one lane; a lane may be below zero."""
        return (charged + self.room >> lane * LANE & (1 << LANE) - 1) - (1 << LANE - 2)

    def pieces(self, charged: int) -> tuple[int, int]:
        """Return the fewest pieces there can be for what is charged in all, and less the lane that says the most."""
        mask, zero, charged = (1 << LANE) - 1, 1 << LANE - 2, charged + self.room
        return max(
            [(-(-((charged >> place * LANE & mask) - zero) // one), -place) for place, one in enumerate(self.ones)]
        )


@lru_cache(maxsize=1024)
def prices_of(sizes: tuple[int, ...], usable: int, needed: int, fills: int) -> Prices:
    """Return the prices for some sizes; in the first lane the largest blocks fill and all needed ones are charged."""
    members = [i for i in range(len(sizes)) if needed >> i & 1]
    sides = sorted([size for i, size in enumerate(sizes) if (usable & fills) >> i & 1], reverse=True)
    found: dict[tuple[Supply, int], None] = {}
    for one in [side**2 for side in sides] or [1]:
        # A size that must come out exactly may be charged anything; one that may be exceeded at most 1.
        charged = [size**2 if not fills >> i & 1 else min(size**2, one) for i, size in enumerate(sizes)]
        whole = [charged[i] if needed >> i & 1 else one for i in range(len(sizes))]
        found[tuple(whole), one] = None
        for i in members:
            found[(*whole[:i], one, *whole[i + 1 :]), one] = None
    if not any(set(block) == {one} for block, one in found):
        found[(1,) * len(sizes), 1] = None
    ones = tuple([one for _, one in found])
    of_ones = lanes(ones)
    blocks = tuple(map(lanes, zip(*[block for block, _ in found], strict=True)))
    return Prices(
        of_ones, blocks, tuple([of_ones - block for block in blocks]), lanes([1 << LANE - 2] * len(ones)), ones
    )


@lru_cache(maxsize=256)
def fewest_that_cover(areas: tuple[int, ...]) -> tuple[int, list[int]]:
    """Return how many blocks of some areas cover a multiple of the unit, and the unit: their common divisor.

    ``NONE`` where no blocks do. Areas beyond the list may be covered by as few as the largest allows.
    """
    unit = gcd(*areas) or 1
    fewest = [NONE] * (FARTHEST + 1)
    steps = [area // unit for area in areas]
    mask = (1 << FARTHEST + 1) - 1
    count, seen, new = 0, 1, 1
    while new:  # the areas that so many blocks cover and fewer do not, as bits
        marked = bin(new)[:1:-1]
        place = marked.find("1")
        while place >= 0:
            fewest[place] = count
            place = marked.find("1", place + 1)
        reach = 0
        for step in steps:
            reach |= new << step
        new = reach & mask & ~seen
        seen |= new
        count += 1
    return unit, fewest


@lru_cache(maxsize=1024)
def beyond_in_steps(steps: tuple[int, ...]) -> list[int]:
    """Return for every count how many more there are at least when they come in some steps only."""
    far = MOST_ROUNDED + max(steps, default=0)
    reach = reachable(steps, far)[0]
    beyond = [0] * (MOST_ROUNDED + 1)
    following = None
    for count in range(far, -1, -1):
        if reach >> count & 1:
            following = count
        if count <= MOST_ROUNDED:
            beyond[count] = 0 if following is None else following - count
    return beyond


@dataclass(frozen=True, slots=True)
class Ahead:
    """What follows from which kinds of rows are still to be filled, however many."""

    unit: int
    cover: list[int]
    """The fewest blocks that cover so many units of area."""
    rounded: tuple[tuple[int, int, list[int]], ...]
    """For needed sizes that come several at once only: lane of the count, area, how many more than needed."""
    stacks: tuple[tuple[int, ...], ...]
    """For every size how many blocks of it may stand on each other; nothing where one alone may stand."""


Pattern = tuple[Supply, int, int, int, int, int]
"""One filling of a row: its blocks by size; those of needed sizes counted in lanes; how many blocks; how many of
other sizes; the areas of needed sizes in lanes; what its blocks are charged. A plain tuple, since there are many."""


class Strip:
    """One kind of row in a table: its fillings, and what they give and cost at best."""

    __slots__ = (
        "_all",
        "caps",
        "cost",
        "fill_areas",
        "height",
        "kind",
        "most",
        "most_counts",
        "patterns",
        "served",
        "space",
        "steps",
    )

    def __init__(self, kind: RowKind, table: "Table", steps: StepsLeft) -> None:
        self.kind, self.height, self.space = kind, kind.height, kind.height * kind.width
        self.patterns = (few_fillings if table.few else fillings)(kind, table.sizes, table.usable, steps)
        if not self.patterns:
            return
        fields, prices = table.fields, table.prices
        steps.take(len(self.patterns) * (1 + len(fields.subsets) // LANES_A_STEP + len(prices.ones) // LANES_A_STEP))
        self.most: Supply = tuple(map(max, zip(*self.patterns, strict=True)))
        self.fill_areas = tuple(
            size**2 for i, size in enumerate(table.sizes) if self.most[i] and not table.exact >> i & 1
        )
        self.steps = tuple(map(gcd, *self.patterns)) if len(self.patterns) > 1 else self.patterns[0]
        """How many blocks of each size come at once: all its fillings have a multiple of that."""
        count_of, over = table.count_of, table.over_counts
        self.most_counts: int = sum(map(mul, self.most, count_of))
        caps, low = 0, None
        every: list[Pattern] = []
        served: list[Pattern] = []
        held: list[int] = []
        for supply in self.patterns:  # fewest blocks first
            areas, charge = sum(map(mul, supply, fields.areas)), sum(map(mul, supply, prices.block))
            caps = most(caps, areas, fields.guard)
            turned = prices.room - charge  # the least charge leaves the most
            low = turned if low is None else most(low, turned, prices.room << 1)
            counts, blocks = sum(map(mul, supply, count_of)), sum(supply)
            # What is left of lanes divided by the highest number of one is their sum.
            pattern = supply, counts, blocks, blocks - counts % ((1 << COUNT) - 1), areas, charge
            every.append(pattern)
            # One that brings no more of anything than an earlier one is never missed, unless sizes must come out.
            for other in () if table.exact else held:
                if other - counts & over == over:
                    break
            else:
                if len(held) < MOST_HELD:
                    held.append(counts | over)
                served.append(pattern)
        self.caps, self.cost = caps, prices.room - (low or 0)
        self._all, self.served = tuple(every), tuple(served)

    def patterns_for(self, spares: bool) -> tuple[Pattern, ...]:
        """Return its fillings that may be the best; all of them where area that spares cover counts too."""
        return self._all if spares else self.served


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Rows for every bay that fill it, tallest first where none of their blocks stays; what they give and cost."""

    bays: tuple[tuple[Line, ...], ...]
    plates: int
    caps: int
    cost: int
    """Of the rows and their plates."""
    kinds: int
    """How many rows there are of each kind, in lanes: alike, these are filled alike, in whichever bays they lie."""


@dataclass(frozen=True, slots=True)
class Order:
    """Rows in the order in which they are filled, the tallest first; then, for what is left from each place on, the
    most that it may give, its space, and what follows from its kinds."""

    slots: tuple[tuple[int, int], ...]
    """Bay and place in the bay."""
    strips: tuple[Strip, ...]
    caps: tuple[int, ...]
    space: tuple[int, ...]
    ahead: tuple[Ahead, ...]


class Table:
    """A frame's bays with one set of usable sizes and one of needed ones."""

    def __init__(
        self,
        spaces: tuple[Space, ...],
        sizes: tuple[int, ...],
        heights: tuple[int, ...],
        fills: int,
        usable: int,
        needed: int,
        few: bool,
        steps: StepsLeft,
    ) -> None:
        """``few``: with few fillings of each row, for a search that is content with any layout."""
        self.few = few
        self.spaces, self.sizes, self.usable, self.needed = spaces, sizes, usable, needed
        self.exact = usable & ~fills
        self.fields = fields_of(sizes, needed)
        self.prices = prices_of(sizes, usable, needed, fills)
        self.count_of = [(needed >> i & 1) << i * COUNT for i in range(len(sizes))]
        """A block of each needed size, counted in lanes."""
        self.over_counts = lanes([1 << COUNT - 1] * len(sizes), COUNT)
        self._number: dict[Strip, int] = {}
        self.beyond: dict[int, tuple[int, int, int]] = {}
        """Area in lanes, credit and number of blocks beyond a need, by their counts in lanes."""
        self._orders: dict[tuple[Rows, bool], Order] = {}
        self._ahead: dict[tuple[Strip, ...], Ahead] = {}
        self.strips: list[dict[Line, Strip]] = []
        self.bays: list[list[Rows]] = []
        known: dict[Space, tuple[dict[Line, Strip], list[Rows]]] = {}
        for space in spaces:
            if space not in known:
                strips = self._strips(space, heights, steps)
                found = [self._rows(space, rows, strips) for rows in self._sets(space, heights, strips, steps)]
                known[space] = strips, found
                steps.take(len(found) * (1 + len(self.fields.subsets) // LANES_A_STEP))
            self.strips.append(known[space][0])
            self.bays.append(known[space][1])
        self.twins = [i > 0 and spaces[i] == spaces[i - 1] for i in range(len(spaces))]
        self._made: dict[
            tuple[int, bool],
            tuple[list[tuple[list[tuple[int, int, Rows]], int]], Iterator[tuple[int, Rows | None]]],
        ] = {}
        self.cheapest = sum([self._cheapest(sets) for sets in self.bays])
        """What rows for all bays cost at least, in every lane."""
        self._give = [sorted({rows.caps for rows in sets}, reverse=True) for sets in self.bays]
        self.most_of_bays = [most_of({rows.caps for rows in sets}, self.fields.guard) for sets in self.bays]

    def _cheapest(self, sets: Sequence[Rows]) -> int:
        room, low = self.prices.room, 0
        for rows in sets:
            low = most(low, room - rows.cost, room << 1)
        return room - low if sets else 0

    def order(self, rows: Rows, bay_by_bay: bool = False) -> Order:
        """Return rows in the order in which they are filled."""
        known = self._orders.get((rows, bay_by_bay))
        if known is None:
            slots = [(bay, place) for bay, lines in enumerate(rows.bays) for place in range(len(lines))]
            slots.sort(
                key=lambda slot: (
                    bay_by_bay and slot[0],
                    -height_of(rows.bays[slot[0]][slot[1]]),
                    self.spaces[slot[0]].width,
                    slot,
                )
            )
            strips = tuple([self.strips[bay][rows.bays[bay][place]] for bay, place in slots])
            kinds: tuple[Strip, ...] = ()
            caps, space, ahead = [self.fields.guard], [0], [self.ahead(kinds)]
            for strip in reversed(strips):
                if strip not in kinds:
                    kinds = (*kinds, strip)
                caps.append(caps[-1] + strip.caps)
                space.append(space[-1] + strip.space)
                ahead.append(self.ahead(kinds))
            known = Order(tuple(slots), strips, tuple(caps[::-1]), tuple(space[::-1]), tuple(ahead[::-1]))
            if len(self._orders) >= MOST_ORDERS:
                del self._orders[next(iter(self._orders))]
            self._orders[rows, bay_by_bay] = known
        return known

    def ahead(self, kinds: tuple[Strip, ...]) -> Ahead:
        """Return what follows from the kinds of rows that are still to be filled."""
        known = self._ahead.get(kinds)
        if known is None:
            areas = sorted({area for strip in kinds for area in strip.fill_areas})
            unit, cover = fewest_that_cover(tuple(areas))
            rounded = []
            for i, size in enumerate(self.sizes):
                steps = tuple(sorted({strip.steps[i] for strip in kinds if strip.steps[i]}))
                if self.needed >> i & 1 and steps and steps[0] > 1:
                    # One that must come out exactly has no area to spare.
                    area = 1 << LANE if self.exact >> i & 1 else size**2
                    rounded.append((i * COUNT, area, beyond_in_steps(steps)))
            known = self._ahead[kinds] = Ahead(unit, cover, tuple(rounded), self._stacks(kinds))
        return known

    def _stacks(self, kinds: tuple[Strip, ...]) -> tuple[tuple[int, ...], ...]:
        found: list[tuple[int, ...]] = []
        for i, size in enumerate(self.sizes):
            heights = sorted({strip.height // size for strip in kinds if strip.most[i]})
            found.append(tuple(heights) if heights and heights[0] > 1 else ())
        return tuple(found)

    def _strips(self, space: Space, heights: tuple[int, ...], steps: StepsLeft) -> dict[Line, Strip]:
        found: dict[Line, Strip] = {}
        for height in heights if not space.pins else ():
            strip = Strip(space.kind(height), self, steps)
            if strip.patterns:
                found[height] = strip
        return found

    def _sets(
        self, space: Space, heights: tuple[int, ...], strips: dict[Line, Strip], steps: StepsLeft
    ) -> Iterator[tuple[Line, ...]]:
        if not space.pins:  # only rows that can be filled
            yield from row_sets(space, tuple(h for h in heights if h in strips), steps)
            return
        empty: set[Line] = set()
        for rows in row_sets(space, heights, steps):
            for line in rows:
                if line not in strips and line not in empty:
                    strip = Strip(space.kind(line), self, steps)
                    if strip.patterns:
                        strips[line] = strip
                    else:
                        empty.add(line)
            if not any(line in empty for line in rows):
                yield rows

    def _rows(self, space: Space, rows: tuple[Line, ...], strips: dict[Line, Strip]) -> Rows:
        plates = len(rows) - (0 if space.plate_on_top else 1)
        return Rows(
            (rows,),
            plates,
            sum([strips[line].caps for line in rows]),
            sum([strips[line].cost for line in rows]) + plates * self.prices.one,
            sum([1 << self._number.setdefault(strips[line], len(self._number)) * COUNT for line in rows]),
        )

    def choices_of_rows(
        self, steps: StepsLeft, lane: int = 0, alike: bool = True
    ) -> Iterator[list[tuple[int, int, Rows]]]:
        """Yield rows for all bays, a handful at a time: what they may give, guarded; their cost in one lane; they.

        The cheapest first; of ``alike`` ones the first. To put them in order takes steps, those passed over too, once
        in a search, and so does to look at them. Raises OutOfSteps.
        """
        made, making = self._made.setdefault((lane, alike), ([], self._in_order(lane, alike)))
        several = len(self.spaces) > 1
        paid = steps.paid_up_to((self.spaces, self.few, self.usable, self.needed, lane, alike)) if several else [0]
        place = 0
        while True:
            if place == len(made):
                following = list(islice(making, HANDFUL))
                if not following:
                    return
                made.append(
                    (
                        [(rows.caps | self.fields.guard, cost, rows) for cost, rows in following if rows],
                        IN_ORDER * sum([1 if rows else PASSED for _, rows in following]),
                    )
                )
            found, in_order = made[place]
            place += 1
            if several and place > paid[0]:
                paid[0] = place
                steps.take(in_order)
            steps.take(1)
            yield found

    def _in_order(self, lane: int, alike: bool) -> Iterator[tuple[int, Rows | None]]:
        mask, start = (1 << LANE) - 1, lane * LANE
        bays = [
            [(cost, sets[i]) for cost, i in sorted([(rows.cost >> start & mask, i) for i, rows in enumerate(sets)])]
            for sets in self.bays
        ]
        seen: set[tuple[int, int]] = set()
        passed = 0
        for total, indices in in_order_of_sum([[cost for cost, _ in sets] for sets in bays], self.twins):
            chosen = [sets[index][1] for sets, index in zip(bays, indices, strict=True)]
            kinds, plates = sum([rows.kinds for rows in chosen]), sum([rows.plates for rows in chosen])
            if alike:
                if (kinds, plates) in seen:
                    passed += 1
                    if passed % PASSED == 0:
                        yield total, None
                    continue
                seen.add((kinds, plates))
            if len(chosen) == 1:
                yield total, chosen[0]
                continue
            yield (
                total,
                Rows(
                    tuple([rows.bays[0] for rows in chosen]),
                    plates,
                    sum([rows.caps for rows in chosen]),
                    sum([rows.cost for rows in chosen]),
                    kinds,
                ),
            )

    def fewest(self, need: Supply) -> int:
        """Return a bound on the pieces that a need takes: there are no fewer."""
        return self.prices.pieces(self.cheapest + self.prices.credit_of(need))[0]

    def may_hold(self, need: Supply, steps: StepsLeft) -> bool:
        """Tell whether some rows of the bays have the area that a need asks for, of every subset of sizes."""
        return self.hold(self.fields.of(need), steps)

    def hold(self, required: int, steps: StepsLeft) -> bool:
        """Tell whether some rows of the bays may have the area that is required, in every lane; of very many: yes."""
        guard, last, looks = self.fields.guard, len(self._give) - 1, MOST_LOOKS

        def go(bay: int, first: int, given: int) -> bool:
            nonlocal looks
            given_later = given + sum(self.most_of_bays[bay + 1 :])
            for which, caps in enumerate(self._give[bay][first:], first):
                looks -= 1
                if (given_later + caps | guard) - required & guard == guard and (
                    bay == last or looks < 0 or go(bay + 1, which if self.twins[bay + 1] else 0, given + caps)
                ):
                    return True
            return False

        held = go(0, 0, 0)
        steps.take((MOST_LOOKS - looks) // HANDFUL)
        return held


def most_of(several: set[int], guard: int) -> int:
    """Return the largest of each lane."""
    found = 0
    for one in several:
        found = most(found, one, guard)
    return found


class Tables:
    """The tables of one frame, by usable and needed sizes."""

    def __init__(
        self, spaces: tuple[Space, ...], sizes: tuple[int, ...], heights: tuple[int, ...], fills: int, few: bool
    ) -> None:
        self._of, self._few = (spaces, sizes, heights, fills), few
        self._known: dict[tuple[int, int], tuple[Table, int]] = {}
        self._room: tuple[int, int] | None = None

    def room(self, steps: StepsLeft) -> int:
        """Return the largest area the rows of the bays can have together; 0 when a bay cannot be filled."""
        return steps.pay_once("room", self._make_room)

    def _make_room(self, steps: StepsLeft) -> tuple[int, int]:
        if self._room is None:
            spaces, _, heights, _ = self._of
            sets = [row_sets(space, heights, steps) for space in spaces]
            areas = [
                space.width * max([sum(map(height_of, rows)) for rows in found], default=0)
                for space, found in zip(spaces, sets, strict=True)
            ]
            self._room = (sum(areas) if all(areas) else 0), steps.taken
        return self._room

    def of(self, usable: int, needed: int, steps: StepsLeft) -> Table:
        """Return one table. Raises OutOfSteps."""

        def make(own: StepsLeft) -> tuple[Table, int]:
            known = self._known.get((usable, needed))
            if known is None:
                table = Table(*self._of, usable, needed, self._few, own)
                if len(self._known) >= MOST_TABLES:
                    del self._known[next(iter(self._known))]
                known = self._known[usable, needed] = table, own.taken
            return known

        return steps.pay_once((usable, needed), make)


@lru_cache(maxsize=256)
def tables_of(
    spaces: tuple[Space, ...], sizes: tuple[int, ...], heights: tuple[int, ...], fills: int, few: bool = False
) -> Tables:
    """Return the tables of a frame; with ``few`` those that hold but few fillings of each row."""
    return Tables(spaces, sizes, heights, fills, few)


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
        total, indices = heappop(queue)
        yield total, indices
        for i, index in enumerate(indices):
            # Every ascending choice follows from another one: the first index above 0, one less.
            if index + 1 < len(lists[i]) and (i == last or not twins[i + 1] or index < indices[i + 1]):
                following = (*indices[:i], index + 1, *indices[i + 1 :])
                if following not in seen:
                    seen.add(following)
                    heappush(queue, (total - lists[i][index] + lists[i][index + 1], following))
