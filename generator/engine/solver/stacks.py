"""Stacks: a frame's rows shared out among classes, where every column is one block or blocks of one size stacked.

A column of a class that has columns of its own holds no other's cables, and columns of one row may stand in any
order. So all that the rules see of a row is how many stacks of which size it brings, and the sizes have nothing to
do with each other but that a row takes the same classes in all of them. What is still to be placed of a size is a
state: every least way in which the stacks so far may have served its classes (``Lots``). A row moves each size from
one state to the next, whatever the other sizes do, and what it moves is kept.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from operator import mul

from generator.engine.solver.parting import largest_sets
from generator.engine.solver.rows import Supply
from generator.engine.solver.search import CHOICES_A_STEP, MOST_SEEN, Search
from generator.engine.solver.steps_left import StepsLeft
from generator.engine.solver.tables import FARTHEST, MOST_ROUNDED, NONE, Pattern, Rows, Strip, beyond_in_steps
from generator.engine.solver.task import OTHERS, Apart, Item

Vector = tuple[int, ...]
"""How many blocks of one size each lot still needs; last, below zero, how many may go to anybody."""


@dataclass(frozen=True, slots=True)
class Lot:
    """Cables of one size that nothing tells apart: the class whose columns they stand in, the class rules know."""

    owner: int
    service: int
    items: tuple[tuple[Item, int], ...]


class Lots:
    """What is to be placed of one size, and the states it can be in; state 0 is that nothing is left.

    Where rows take every class, owners are told apart by nothing but how much they need: the larger need first. And
    blocks that stand alone serve anybody: they are counted together, to be given away at the end.
    """

    def __init__(self, lots: Sequence[Lot], steps: StepsLeft) -> None:
        self.lots, self._steps = tuple(lots), steps
        self.told = any(lot.service >= 0 for lot in lots)
        """Whether some rows or bays do not take all of them."""
        self.owners = sorted({lot.owner for lot in lots})
        self.of_owner = [[i for i, lot in enumerate(lots) if lot.owner == owner] for owner in self.owners]
        self.vectors: list[tuple[Vector, ...]] = []
        self.least: list[int] = []
        """For every state how many blocks are still needed at least."""
        self._number: dict[tuple[Vector, ...], int] = {}
        self._next: dict[tuple[int, int, int, int], int] = {}
        self._rounded: dict[tuple[int, tuple[int, ...]], int] = {}
        self._state(((0,) * (len(lots) + 1),))
        self.all = (*[sum([count for _, count in lot.items]) for lot in lots], 0)
        self.start = self._state((self.all if self.told else _by_need(self.all),))

    def _state(self, vectors: tuple[Vector, ...]) -> int:
        least = min(map(sum, vectors))
        if least <= 0 and self._number:
            return 0
        number = self._number.get(vectors)
        if number is None:
            number = self._number[vectors] = len(self.vectors)
            self.vectors.append(vectors)
            self.least.append(least)
        return number

    def after(self, state: int, stack: int, columns: int, allowed: int) -> int:
        """Return the state after so many stacks, in a row that takes the ``allowed`` classes."""
        key = (state, stack, columns, allowed)
        known = self._next.get(key)
        if known is None:
            found: dict[Vector, None] = {}
            for vector in self.vectors[state]:
                if stack == 1 and not self.told:
                    found[(*vector[:-1], vector[-1] - columns)] = None
                    continue
                for _, left in self.served(vector, stack, columns, allowed):
                    self._steps.take(2)
                    found[left if self.told else _by_need(left)] = None
            known = self._next[key] = self._state(_least(found, self._steps))
        return known

    def served(self, vector: Vector, stack: int, columns: int, allowed: int) -> Iterator[tuple["Given", Vector]]:
        """Yield how stacks may go to owners, (owner, columns) each, and what is left: as much is served as can be."""
        may = [
            [i for i in lots if vector[i] and (self.lots[i].service < 0 or allowed >> self.lots[i].service & 1)]
            for lots in self.of_owner
        ]
        needs = [sum([vector[i] for i in lots]) for lots in may]
        for given in split(columns, [-(-need // stack) for need in needs]):
            ways = [
                split(min(count * stack, need), [vector[i] for i in lots])
                for count, need, lots in zip(given, needs, may, strict=True)
            ]
            to_owners = tuple([(owner, count) for owner, count in zip(self.owners, given, strict=True) if count])
            for taken in product(*ways):
                left = list(vector)
                for lots, counts in zip(may, taken, strict=True):
                    for i, count in zip(lots, counts, strict=True):
                        left[i] -= count
                yield to_owners, tuple(left)

    def rounded(self, state: int, stacks: tuple[int, ...]) -> int:
        """Return how many blocks are needed at least where they come in stacks of some heights only."""
        key = (state, stacks)
        known = self._rounded.get(key)
        if known is None:
            beyond = beyond_in_steps(stacks)
            known = NONE
            for vector in self.vectors[state]:
                if vector[-1]:
                    known = self.least[state]
                    break
                needs = [sum([vector[i] for i in lots]) for lots in self.of_owner]
                total = sum([need + (beyond[need] if need <= MOST_ROUNDED else 0) for need in needs])
                known = min(known, total)
            self._rounded[key] = known
        return known


def _by_need(vector: Vector) -> Vector:
    return (*sorted(vector[:-1], reverse=True), vector[-1])


def _least(found: dict[Vector, None], steps: StepsLeft) -> tuple[Vector, ...]:
    """Leave out what needs as much as another of every lot; in a fixed order."""
    kept: list[Vector] = []
    for vector in sorted(found, key=lambda vector: (sum(vector), vector)):
        steps.take(1 + len(kept) // 2)
        if not any(all(a <= b for a, b in zip(other, vector, strict=True)) for other in kept):
            kept.append(vector)
    return tuple(kept)


def split(total: int, most: Sequence[int]) -> list[tuple[int, ...]]:
    """List every way to share out ``total``, or all of ``most`` where that is less, no share above its most."""
    if sum(most) <= total:
        return [tuple(most)]
    if len(most) == 1:
        return [(min(total, most[0]),)]
    after = sum(most[1:])
    return [
        (first, *rest)
        for first in range(min(total, most[0]), max(0, total - after) - 1, -1)
        for rest in split(total - first, most[1:])
    ]


def lots_of(items: Sequence[tuple[Item, int]], apart: Apart, sizes: int, steps: StepsLeft) -> list[Lots | None]:
    """Return for every size what is to be placed of it; None where that is nothing."""
    found: list[dict[tuple[int, int], list[tuple[Item, int]]]] = [{} for _ in range(sizes)]
    for item, count in items:
        service = item[1].service
        owner = service if service >= 0 and apart.zones >> service & 1 else OTHERS
        told = service >= 0 and bool((apart.rows and apart.rows[service]) or (apart.bays and apart.bays[service]))
        found[item[0]].setdefault((owner, service if told else -1), []).append((item, count))
    return [
        Lots([Lot(owner, service, tuple(held)) for (owner, service), held in lots.items()], steps) if lots else None
        for lots in found
    ]


@dataclass(frozen=True, slots=True)
class Shared:
    """How one row is shared out: its blocks, for each size (owner, columns), and how many cables of which item."""

    supply: Supply
    owners: tuple[tuple[tuple[int, int], ...], ...]
    used: tuple[tuple[Item, int], ...]


Given = tuple[tuple[int, int], ...]
"""The columns of one size in a row, (owner, how many) each."""
Chosen = tuple[Pattern, int]
"""How one row is filled, and the classes it takes."""
Way = tuple[int, int, Pattern, tuple[int, ...], Supply, int, int, int]
"""One way to fill a row. In the order in which they are tried: less the area it uses of the need, its blocks; then
its filling, the states after it, what is still needed, the areas of what it uses in lanes, what it is charged with
the credit of what it does not use, its other blocks."""


@dataclass(frozen=True, slots=True)
class Taken:
    """The classes that a row or a bay takes: one of some sets, and which."""

    sets: tuple[int, ...]
    which: int

    @property
    def classes(self) -> int:
        """Return the classes as a bit mask."""
        return self.sets[self.which]


NOTHING = Taken((0,), 0)


def _in_turn(sets: tuple[int, ...], last: Taken) -> Iterator[Taken]:
    """Yield sets; after a row or bay that is alike none that would have been tried in its place before."""
    for which, classes in enumerate(sets):
        if last is not NOTHING and any(classes & ~other == 0 for other in last.sets[: last.which]):
            continue
        yield Taken(sets, which)


class Stacking:
    """One choice of rows: filled and shared out depth first, as ``Search`` fills them without regard to the rules."""

    def __init__(
        self,
        search: Search,
        lots: Sequence[Lots | None],
        rows: Rows,
        only: dict[tuple[int, int], Supply] | None,
        below: int | None,
        floor: int,
    ) -> None:
        """``only``: the filling of each row, where that is settled. No layout has fewer pieces than ``floor``."""
        self.search, self.lots, self.rows, self.apart = search, lots, rows, search.task.apart
        order = search.table.order(rows, bool(self.apart.bays))
        self.slots, self.strips, self.caps = order.slots, order.strips, order.caps
        self.space, self.ahead = order.space, order.ahead
        self.only = [only[slot] for slot in self.slots] if only is not None else None
        self.least = rows.plates + sum(search.need)
        self.most_extra = below - self.least - 1 if below is not None else NONE - 1
        self.least_extra = floor - self.least
        self.found: list[Chosen] | None = None
        self.chosen: list[Chosen] = []
        self.seen: dict[tuple[object, ...], int] = {}
        self.known: dict[tuple[object, ...], list[Way]] = {}

    def best(self) -> tuple[int, list[list[Shared]]] | None:
        """Return the fewest pieces, and for every bay how its rows are shared out. Raises OutOfSteps."""
        search = self.search
        waste = self.space[0] - sum(map(mul, search.need, search.areas))
        states = tuple([lots.start if lots else 0 for lots in self.lots])
        charged = self.rows.cost + search.credit
        if self.caps[0] - search.required & search.fields.guard == search.fields.guard:
            self._fill(
                0, NOTHING, NOTHING, search.need, states, search.required, charged, search.spare_area, waste, 0
            )
        if self.found is None:
            return None
        return self.least + self.most_extra + 1, self._shared(self.found)

    def _fill(
        self,
        place: int,
        bay: Taken,
        before: Taken,
        need: Supply,
        states: tuple[int, ...],
        required: int,
        charged: int,
        spare: int,
        waste: int,
        extra: int,
    ) -> None:
        """Fill one row. ``bay``, ``before``: what its bay and the row before take; ``need``: blocks still to come.

        The rest is as in Search.
        """
        search = self.search
        search.steps.take(1)
        if place == len(self.strips):
            if not any(need) and not any(
                lots.least[state] for lots, state in zip(self.lots, states, strict=True) if lots
            ):
                self.most_extra, self.found = extra - 1, list(self.chosen)
            return
        if not self._may_cover(place, need, states, waste, extra):
            return
        strip, following = self.strips[place], place + 1
        classes = self._present(states)
        for taken in self._plans(place, classes, states, bay):
            new = taken is not bay
            last = NOTHING if new or place == 0 or self.strips[place - 1] is not strip else before
            key = (place, taken, last, need, states, spare)
            known = self.seen.get(key)
            if known is not None and known <= extra:
                continue
            if known is not None or len(self.seen) < MOST_SEEN:
                self.seen[key] = extra
            for row in _in_turn(largest_sets(classes & taken.classes, 0, self.apart.rows), last):
                allowed = row.classes
                ways = self._ways(strip, place, allowed, need, states)
                search.steps.take(len(ways) // CHOICES_A_STEP)
                for less_area, _, pattern, after, left, areas, charge, more in ways:
                    if more + extra > self.most_extra or waste - strip.space < less_area:
                        continue
                    rest = required - areas
                    guard, room = search.fields.guard, search.prices.room
                    if self.caps[following] - rest & guard != guard:
                        continue
                    total = charged - strip.cost + charge
                    most = room + (self.least + self.most_extra) * search.prices.one
                    if self.most_extra < NONE - 1 and most - total & room != room:
                        continue
                    spare_left = 0
                    if spare > 0:
                        gain = sum(map(mul, pattern[0], search.spare_areas)) - sum(
                            [(a - b) * area for a, b, area in zip(need, left, search.spare_areas, strict=True)]
                        )
                        spare_left = max(0, spare - gain)
                        if spare_left and spare_left + sum(map(mul, left, search.areas)) > self.space[following]:
                            continue
                    self.chosen.append((pattern, allowed))
                    self._fill(
                        following,
                        taken,
                        row,
                        left,
                        after,
                        rest,
                        total,
                        spare_left,
                        waste - strip.space - less_area,
                        extra + more,
                    )
                    self.chosen.pop()
                    if self.most_extra < self.least_extra:
                        return

    def _plans(self, place: int, classes: int, states: tuple[int, ...], bay: Taken) -> Iterator[Taken]:
        """Yield what the bay of a row may take; of bays that are alike in one order only."""
        slots, conflicts = self.slots, self.apart.bays
        if place and (not conflicts or slots[place][0] == slots[place - 1][0]):
            yield bay
            return
        lines, last = self.rows.bays, NOTHING
        if place and conflicts:
            here, there = slots[place][0], slots[place - 1][0]
            spaces = self.search.task.spaces
            if lines[here] == lines[there] and spaces[here] == spaces[there]:
                last = bay
        ends = len(slots)
        if conflicts:
            ends = next((i for i in range(place, len(slots)) if slots[i][0] != slots[place][0]), len(slots))
        for taken in _in_turn(largest_sets(classes, 0, conflicts), last):
            if self._outside(classes & ~taken.classes, states, ends):
                yield taken

    def _outside(self, classes: int, states: tuple[int, ...], place: int) -> bool:
        """Tell whether the rows from a place on have the area that some classes need."""
        if not classes:
            return True
        required = 0
        for i, (lots, state) in enumerate(zip(self.lots, states, strict=True)):
            if lots and lots.told:
                of = [j for j, lot in enumerate(lots.lots) if lot.service >= 0 and classes >> lot.service & 1]
                least = min([sum([vector[j] for j in of]) for vector in lots.vectors[state]])
                required += least * self.search.fields.areas[i]
        return self.search.fields.hold(self.caps[place], required)

    def _present(self, states: tuple[int, ...]) -> int:
        """Return the classes that still have cables to be placed, as a bit mask."""
        if not (self.apart.rows or self.apart.bays):
            return 0
        mask = 0
        for lots, state in zip(self.lots, states, strict=True):
            if lots and lots.least[state]:
                for i, lot in enumerate(lots.lots):
                    if lot.service >= 0 and any(vector[i] for vector in lots.vectors[state]):
                        mask |= 1 << lot.service
        return mask

    def _may_cover(self, place: int, need: Supply, states: tuple[int, ...], waste: int, extra: int) -> bool:
        """Tell whether what no needed block covers may be covered by few enough others, as stacks are."""
        here, search = self.ahead[place], self.search
        steps = {lane >> 5: (area, beyond) for lane, area, beyond in here.rounded}
        for i, count in enumerate(need):
            if not count:
                continue
            lots, over = self.lots[i], 0
            if lots and here.stacks[i] and lots.least[states[i]]:
                over = max(0, lots.rounded(states[i], here.stacks[i]) - count)
            area, beyond = steps.get(i, (search.areas[i], None))
            if beyond is not None and count + over <= MOST_ROUNDED:
                over += beyond[count + over]
            if over:
                if i in search.exact:
                    return False
                extra += over
                waste -= over * area
        if waste < 0:
            return False
        units, broken = divmod(waste, here.unit)
        return not broken and extra + (here.cover[units] if units <= FARTHEST else 0) <= self.most_extra

    def _ways(self, strip: Strip, place: int, allowed: int, need: Supply, states: tuple[int, ...]) -> list[Way]:
        only = self.only[place] if self.only is not None else None
        key = (strip, only, allowed, need, states)
        known = self.known.get(key)
        if known is None:
            known = self.known[key] = self._every_way(strip, only, allowed, need, states)
        return known

    def _every_way(
        self, strip: Strip, only: Supply | None, allowed: int, need: Supply, states: tuple[int, ...]
    ) -> list[Way]:
        search = self.search
        sizes, areas_of, credit_of, whole = (
            search.task.sizes,
            search.fields.areas,
            search.prices.credit,
            search.fields.whole,
        )
        lane = (1 << 64) - 1
        kept: dict[tuple[object, ...], Way] = {}
        patterns = strip.patterns_for(bool(search.spare_area) or only is not None)
        for pattern in patterns:
            supply, _, blocks, extra, areas, charge = pattern
            if only is not None and supply != only:
                continue
            search.steps.take(2)
            after, left = list(states), list(need)
            for i, count in enumerate(supply):
                if not count or not need[i]:
                    if count and i in search.exact:
                        break
                    if count and search.need[i]:
                        areas -= count * areas_of[i]
                        charge += count * credit_of[i]
                        extra += count
                    continue
                lots = self.lots[i]
                rest = need[i] - count
                if lots is not None:
                    stack = strip.height // sizes[i]
                    after[i] = lots.after(states[i], stack, count // stack, allowed)
                    rest = max(rest, lots.least[after[i]])
                left[i] = max(rest, 0)
                more = count - (need[i] - left[i])
                if more and i in search.exact:
                    break  # it would hold nothing, and nothing may be without a plug or a filler
                if more:
                    areas -= more * areas_of[i]
                    charge += more * credit_of[i]
                    extra += more
            else:
                state = (tuple(after), tuple(left), sum(map(mul, supply, search.spare_areas)))
                if state not in kept:
                    less_area = -(areas >> whole & lane)
                    kept[state] = less_area, blocks, pattern, state[0], state[1], areas, charge, extra
        return sorted(kept.values(), key=lambda way: (way[0], way[1], way[2][0]))

    # -- who lies where ------------------------------------------------------------------------------

    def _shared(self, chosen: Sequence[Chosen]) -> list[list[Shared]]:
        """Say for every size whose stacks are whose, row by row."""
        owners: list[list[Given]] = [[() for _ in self.lots] for _ in chosen]
        used: list[list[tuple[Item, int]]] = [[] for _ in chosen]
        for i, lots in enumerate(self.lots):
            if lots is None:
                continue
            served = self._way_through(i, lots, chosen)
            waiting = [list(lot.items) for lot in lots.lots]
            for place, (given, taken) in enumerate(served):
                owners[place][i] = given
                for number, count in enumerate(taken):
                    while count:
                        item, there = waiting[number][0]
                        used[place].append((item, min(count, there)))
                        waiting[number][0] = item, there - min(count, there)
                        if there <= count:
                            waiting[number].pop(0)
                        count -= min(count, there)
        bays: list[list[Shared | None]] = [[None] * len(lines) for lines in self.rows.bays]
        for place, (bay, row) in enumerate(self.slots):
            bays[bay][row] = Shared(chosen[place][0][0], tuple(owners[place]), tuple(used[place]))
        return [[shared for shared in rows if shared is not None] for rows in bays]

    def _way_through(self, size: int, lots: Lots, chosen: Sequence[Chosen]) -> list[tuple[Given, Vector]]:
        """Return for each row whose stacks are whose, and how many blocks that brings each lot."""
        side = self.search.task.sizes[size]
        rows = [
            (place, strip.height // side, pattern[0][size] * side // strip.height, allowed)
            for place, (strip, (pattern, allowed)) in enumerate(zip(self.strips, chosen, strict=True))
            if pattern[0][size]
        ]
        if not lots.told:
            rows.sort(key=lambda row: -row[1])  # what stands alone serves whoever is left
        found: list[tuple[Given, Vector]] = [((), (0,) * len(lots.lots))] * len(chosen)
        failed: set[tuple[int, Vector]] = set()

        def go(number: int, vector: Vector) -> bool:
            if not any(vector):
                return True
            if number == len(rows) or (number, vector) in failed:
                return False
            place, stack, columns, allowed = rows[number]
            ways = lots.served(vector, stack, columns, allowed)
            for given, left in ways if stack == 1 and not lots.told else sorted(ways, key=lambda way: sum(way[1])):
                if go(number + 1, left):
                    found[place] = given, tuple([a - b for a, b in zip(vector[:-1], left[:-1], strict=True)])
                    return True
                if stack == 1 and not lots.told:
                    break
            failed.add((number, vector))
            return False

        if not go(0, lots.all):
            raise AssertionError("the states say that there is a way")
        return found
