"""Ruled: the search where rules say which cables may lie together, and where blocks stay. Whole numbers only.

A row set that cannot be filled without regard to the rules cannot be filled with them: that is asked first. Then
whether the very filling that was found can be shared out among the cables; only where it cannot are the fillings
searched again, bay by bay and row by row, with what is needed counted by size and tag.

In a bay some classes and some whole circuits have their place (a *plan*: every largest set of classes that may share
it, every set of circuits); in a row some of these classes; and where classes have zones each column belongs to one
of them or to the others. A row takes all it can of what may lie in it: what it leaves is never missed later, since
any block may stay free (or, in a size that never fills, must be used up). Only where classes have zones and blocks
stay is that not so: a column between two that stay may need a cable of their class, so rows leave any number then.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from operator import add, sub

from generator.engine.solver.cuts import Column, Structure, structures
from generator.engine.solver.parting import keeps_apart, largest_sets
from generator.engine.solver.rows import Line, Supply
from generator.engine.solver.search import MOST_SEEN, Filled, Search
from generator.engine.solver.stacks import Lots, Shared, Stacking, lots_of, split
from generator.engine.solver.steps_left import StepsLeft
from generator.engine.solver.tables import Rows, Strip, Tables
from generator.engine.solver.task import OTHERS, Apart, Item, Tag, Task

SHARES_A_STEP = 4
"""So many ways to share out a row are held against another for one step."""


@dataclass(frozen=True, slots=True)
class Held:
    """How one row is shared out: its columns, the class each belongs to, and how many cables of which item."""

    structure: Structure
    owners: tuple[tuple[int, ...], ...]
    """For every part of the structure the owners of its columns."""
    used: tuple[tuple[Item, int], ...]


@dataclass(frozen=True, slots=True)
class RuledFilled(Filled):
    """A filling, and for every bay how each of its rows is shared out."""

    held: tuple[tuple[Held, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class _Share:
    """One way to fill and share out a row."""

    count: int
    used: Supply
    """By item."""
    spares: Supply
    """Blocks that may serve as spares asked for, by size."""
    supply: Supply
    free: Supply
    """Its blocks without those that stay."""
    structure: Structure
    owners: tuple[tuple[int, ...], ...]


@dataclass(frozen=True, slots=True)
class _Plan:
    """What may lie in a bay: a mask of classes, and the circuits that must lie in it whole."""

    classes: int
    circuits: frozenset[int]


class RuledSearch(Search):
    """One task with one need, counted by size and tag as well."""

    def __init__(
        self,
        task: Task,
        tables: Tables,
        usable: int,
        need: Supply,
        items: Sequence[tuple[Item, int]],
        spares: Supply,
        steps: StepsLeft,
    ) -> None:
        """``items`` leave out the cables whose block stays; ``spares`` those spares."""
        super().__init__(task, tables, usable, need, steps)
        self.items = tuple(item for item, _ in items)
        self.wanted = tuple(count for _, count in items)
        self.spares = spares
        self.kept = {tag.kept: (size, tag) for size, tag in task.kept}
        self._shares: dict[tuple[object, ...], list[_Share]] = {}
        self.alike = not (
            task.apart.bays
            or any(space.pins for space in task.spaces)
            or any(tag.circuit >= 0 for _, tag in self.items)
        )
        self._zoned = bool(task.apart.zones)
        self._leaves_any = self._zoned and bool(task.kept)
        classes = max(len(task.apart.rows), len(task.apart.bays))
        self.of_class = [
            self.fields.of(self.by_size([n if tag.service == c else 0 for (_, tag), n in items]))
            for c in range(classes)
        ]
        """The area that the cables of each class need, in lanes."""
        plain = not any(space.pins or space.nesting for space in task.spaces)
        self.lots: list[Lots | None] | None = None
        """What is to be placed of every size, where all columns are one block or a stack, and no circuit binds."""
        if plain and not any(tag.circuit >= 0 for _, tag in self.items):
            self.lots = lots_of(items, task.apart, len(need), steps)

    def _fill_rows(self, rows: Rows, below: int | None) -> Filled | None:
        self.steps.take(1)
        if self.of_class and not keeps_apart(self.table, self.task.apart, rows, self.of_class, self.steps):
            return None
        blind = super()._fill_rows(rows, below)
        if blind is None:
            return None
        only = {
            (bay, place): supply for bay, filled in enumerate(blind.bays) for place, (_, supply) in enumerate(filled)
        }
        if self.lots is not None:
            return self._in_stacks(self.lots, rows, only, below, blind.pieces)
        if not self.spare_area:
            found = _Sharing(self, rows, only, blind.pieces + 1, blind.pieces).best()
            if found is not None:
                return found
        return _Sharing(self, rows, None, below, blind.pieces).best()

    def _in_stacks(
        self,
        lots: list[Lots | None],
        rows: Rows,
        only: dict[tuple[int, int], Supply],
        below: int | None,
        floor: int,
    ) -> RuledFilled | None:
        found = Stacking(self, lots, rows, only, floor + 1, floor).best()
        if found is None:
            found = Stacking(self, lots, rows, None, below, floor).best()
        if found is None:
            return None
        pieces, bays = found
        return RuledFilled(
            pieces,
            tuple(
                tuple((line, shared.supply) for line, shared in zip(lines, held, strict=True))
                for lines, held in zip(rows.bays, bays, strict=True)
            ),
            tuple(
                tuple(self._held(line, bay, shared) for line, shared in zip(lines, held, strict=True))
                for bay, (lines, held) in enumerate(zip(rows.bays, bays, strict=True))
            ),
        )

    def _held(self, line: Line, bay: int, shared: Shared) -> Held:
        kind = self.strips[bay][line].kind
        (structure,) = structures(kind, self.task.sizes, self.usable, shared.supply, self.steps)
        owners: list[int] = []
        for size, count in enumerate(shared.supply):
            columns = count * self.task.sizes[size] // kind.height
            own = [owner for owner, number in shared.owners[size] for _ in range(number)]
            owners += [*own, *[OTHERS] * (columns - len(own))]
        return Held(structure, (tuple(owners),), shared.used)

    # -- one row -------------------------------------------------------------------------------------

    def shares(
        self, strip: Strip, only: Supply | None, allowed: int, circuits: frozenset[int], need: Supply, spares: Supply
    ) -> list[_Share]:
        """List the ways to fill and share out a row among the items that may lie in it, best first."""
        most = strip.most
        may = [
            (tag.service < 0 or bool(allowed >> tag.service & 1)) and (tag.circuit < 0 or tag.circuit in circuits)
            for _, tag in self.items
        ]
        need = tuple(
            min(count, most[size]) if ok else 0 for count, ok, (size, _) in zip(need, may, self.items, strict=True)
        )
        spares = tuple(map(min, spares, most))
        key = (strip.kind, only, need, spares, allowed)
        known = self._shares.get(key)
        if known is None:
            known = self._shares[key] = self._best_shares(strip, only, allowed, need, spares)
        return known

    def _best_shares(
        self, strip: Strip, only: Supply | None, allowed: int, need: Supply, spares: Supply
    ) -> list[_Share]:
        kept: dict[tuple[Supply, Supply, int], _Share] = {}
        for supply in strip.patterns if only is None else (only,):
            for share in self._share_out(strip, supply, need, spares):
                self.steps.take(4)
                here = (share.used, share.spares, self.spare_gain(share) if self.spare_area else 0)
                if here not in kept or kept[here].count > share.count:
                    kept[here] = share
        ranked = sorted(
            kept.values(), key=lambda s: (-sum(map(self._area_of, s.used, self.items)), s.count, s.supply, s.used)
        )
        best: list[_Share] = []
        for share in ranked:
            self.steps.take(0 if self._leaves_any else len(best) // SHARES_A_STEP)
            if self._leaves_any or not any(self._surpasses(other, share) for other in best):
                best.append(share)
        return best

    def _area_of(self, count: int, item: Item) -> int:
        return count * self.areas[item[0]]

    def spare_gain(self, share: _Share) -> int:
        """Return the area of its blocks beyond the need that are spares."""
        return sum(
            (there - spare - used) * area
            for there, spare, used, area in zip(
                share.free, share.spares, self.by_size(share.used), self.spare_areas, strict=True
            )
        )

    def by_size(self, used: Sequence[int]) -> Supply:
        """Return how many blocks of each size some items take."""
        blocks = [0] * len(self.areas)
        for count, (size, _) in zip(used, self.items, strict=True):
            blocks[size] += count
        return tuple(blocks)

    def _surpasses(self, one: _Share, two: _Share) -> bool:
        if one.count > two.count or any(a < b for a, b in zip(one.used, two.used, strict=True)):
            return False
        if any(a < b for a, b in zip(one.spares, two.spares, strict=True)):
            return False
        return not self.spare_area or self.spare_gain(one) >= self.spare_gain(two)

    def _share_out(self, strip: Strip, supply: Supply, need: Supply, spares: Supply) -> Iterator[_Share]:
        """Yield every way to share out one filling that takes all it can."""
        for structure in structures(strip.kind, self.task.sizes, self.usable, supply, self.steps, every=self._zoned):
            flat = [
                (part, index, column)
                for part, columns in enumerate(structure)
                for index, column in enumerate(columns)
            ]
            free = tuple(map(sum, zip(*(self._free(column) for _, _, column in flat), strict=True)))
            for owners in self._owners(flat, need):
                if self._zoned and not self._stand_together(structure, flat, owners):
                    continue
                rooms: dict[int, Supply] = {}
                for owner, (_, _, column) in zip(owners, flat, strict=True):
                    room = self._free(column)
                    rooms[owner] = tuple(map(add, rooms[owner], room)) if owner in rooms else room
                for used in self._takes(rooms, need):
                    if self._zoned and len(structure) > 1 and not self._every_owner_holds(flat, owners, used):
                        continue
                    left = tuple(map(sub, free, self.by_size(used)))
                    wanted = tuple(map(min, left, spares))
                    if any(left[i] != wanted[i] for i in self.exact):
                        continue
                    yield _Share(
                        sum(supply), used, wanted, supply, free, structure, _by_part(structure, flat, owners)
                    )

    def _free(self, column: Column) -> Supply:
        """Return a column's blocks without those that stay."""
        if not column.pins:
            return column.supply
        free = list(column.supply)
        for pin in column.pins:
            free[self.task.sizes.index(pin.side)] -= 1
        return tuple(free)

    def _owner_of_pins(self, column: Column) -> int | None:
        """Return the class that a column belongs to for the blocks that stay in it; None where they say nothing."""
        owner = None
        for pin in column.pins:
            kept = self.kept.get(pin.which)
            if kept is not None:
                service = kept[1].service
                own = service if service >= 0 and self.task.apart.zones >> service & 1 else OTHERS
                if owner is not None and owner != own:
                    return -2  # two that never share a column
                owner = own
        return owner

    def _owners(self, flat: Sequence[tuple[int, int, Column]], need: Supply) -> Iterator[tuple[int, ...]]:
        """Yield every way to give the columns of a row to classes with zones of their own, or to the others."""
        zones = self.task.apart.zones
        if not zones:
            yield (OTHERS,) * len(flat)
            return
        fixed = [self._owner_of_pins(column) for _, _, column in flat]
        if -2 in fixed:
            return
        wants: dict[int, list[int]] = {}
        for count, (size, tag) in zip(need, self.items, strict=True):
            if count:
                own = tag.service if tag.service >= 0 and zones >> tag.service & 1 else OTHERS
                wants.setdefault(own, [0] * len(self.areas))[size] += count
        kinds: dict[tuple[int, Supply, int | None], list[int]] = {}
        for place, (part, _, column) in enumerate(flat):
            kinds.setdefault((part, self._free(column), fixed[place]), []).append(place)
        ways: list[list[tuple[int, ...]]] = []
        for (_, free, owner), places in kinds.items():
            if owner is not None:
                ways.append([(owner,) * len(places)])
                continue
            limits = {
                own: min(len(places), max([-(-wish[i] // free[i]) for i in range(len(free)) if free[i]], default=0))
                for own, wish in wants.items()
                if any(wish[i] and free[i] for i in range(len(free)))
            }
            # Across several parts a class may have to leave columns that it could use, to stand together.
            ways.append(list(_given(len(places), sorted(limits.items()), fewer=flat[-1][0] > 0)))
        for given in product(*ways):
            self.steps.take(1)
            owners = [OTHERS] * len(flat)
            for places, chosen in zip(kinds.values(), given, strict=True):
                for place, owner in zip(places, chosen, strict=True):
                    owners[place] = owner
            yield tuple(owners)

    def _stand_together(
        self, structure: Structure, flat: Sequence[tuple[int, int, Column]], owners: tuple[int, ...]
    ) -> bool:
        return len(structure) <= 1 or order_of_owners(_by_part(structure, flat, owners)) is not None

    def _every_owner_holds(
        self, flat: Sequence[tuple[int, int, Column]], owners: tuple[int, ...], used: Supply
    ) -> bool:
        """Tell whether each column that belongs to a class can have a cable of it: an empty one parts a zone."""
        zones = self.task.apart.zones
        left: dict[tuple[int, int], int] = {}
        for count, (size, tag) in zip(used, self.items, strict=True):
            if tag.service >= 0 and zones >> tag.service & 1:
                left[tag.service, size] = left.get((tag.service, size), 0) + count
        waiting: dict[int, list[list[int]]] = {}
        for owner, (_, _, column) in zip(owners, flat, strict=True):
            if owner != OTHERS and self._owner_of_pins(column) is None:
                waiting.setdefault(owner, []).append([i for i, count in enumerate(self._free(column)) if count])
        return all(
            one_for_each(columns, {size: count for (own, size), count in left.items() if own == owner}) is not None
            for owner, columns in waiting.items()
        )

    def _takes(self, rooms: dict[int, Supply], need: Supply) -> Iterator[Supply]:
        """Yield every way in which items take all they can, or any number, of the blocks of their owner's columns."""
        zones = self.task.apart.zones
        groups: dict[tuple[int, int], list[int]] = {}
        for index, (size, tag) in enumerate(self.items):
            if need[index]:
                own = tag.service if tag.service >= 0 and zones >> tag.service & 1 else OTHERS
                groups.setdefault((own, size), []).append(index)
        ways: list[list[list[tuple[int, int]]]] = []
        for (own, size), indices in groups.items():
            room = rooms[own][size] if own in rooms else 0
            most = [need[i] for i in indices]
            taken = min(room, sum(most))
            totals = range(taken, -1, -1) if self._leaves_any else (taken,)
            ways.append(
                [list(zip(indices, counts, strict=True)) for total in totals for counts in split(total, most)]
            )
        for chosen in product(*ways):
            used = [0] * len(self.items)
            for counts in chosen:
                for index, count in counts:
                    used[index] = count
            yield tuple(used)


def _given(places: int, limits: Sequence[tuple[int, int]], fewer: bool) -> Iterator[tuple[int, ...]]:
    """Yield every way to give places to owners, as many as they can use, or ``fewer`` too; others have the rest."""
    total = min(places, sum(limit for _, limit in limits))
    for count_of_all in range(total, -1 if fewer else total - 1, -1):
        for counts in split(count_of_all, [limit for _, limit in limits]):
            given = [own for (own, _), count in zip(limits, counts, strict=True) for _ in range(count)]
            yield (*given, *[OTHERS] * (places - len(given)))


def one_for_each(columns: Sequence[Sequence[int]], there: Mapping[int, int]) -> list[int] | None:
    """Give each column one block of a size it has, of as many of each as are ``there``; None where that cannot be."""
    given: list[int] = [-1] * len(columns)

    def give(column: int, asked: set[int]) -> bool:
        for size in columns[column]:
            if size in asked:
                continue
            asked.add(size)
            holders = [other for other, held in enumerate(given) if held == size]
            if len(holders) < there.get(size, 0) or any(give(other, asked) for other in holders):
                given[column] = size
                return True
        return False

    return given if all(give(column, set()) for column in range(len(columns))) else None


def _by_part(
    structure: Structure, flat: Sequence[tuple[int, int, Column]], owners: tuple[int, ...]
) -> tuple[tuple[int, ...], ...]:
    parts: list[list[int]] = [[] for _ in structure]
    for owner, (part, _, _) in zip(owners, flat, strict=True):
        parts[part].append(owner)
    return tuple(map(tuple, parts))


def order_of_owners(parts: Sequence[Sequence[int]]) -> list[list[int]] | None:
    """Order the owners within each part so that each class stands together across them; None where none does."""

    def go(place: int, open_: int, closed: frozenset[int]) -> list[list[int]] | None:
        if place == len(parts):
            return []
        here = [*dict.fromkeys(parts[place])]
        own = {owner for owner in here if owner != OTHERS}
        if own & closed:
            return None
        first = [open_] if open_ in own else []
        others = [owner for owner in here if owner not in first]
        for end in others or first:
            order = [*first, *(owner for owner in others if owner != end), *([end] if others else [])]
            rest = go(place + 1, end, (closed | own | {open_}) - {OTHERS, end})
            if rest is not None:
                return [order, *rest]
        return None

    return go(0, OTHERS, frozenset())


class _Sharing:
    """One choice of rows: sharing them out bay by bay, depth first."""

    def __init__(
        self,
        search: RuledSearch,
        rows: Rows,
        only: dict[tuple[int, int], Supply] | None,
        below: int | None,
        floor: int,
    ) -> None:
        self.search, self.rows, self.plates, self.only = search, rows.bays, rows.plates, only
        self.limit, self.floor = below, floor
        self.apart: Apart = search.task.apart
        self.slots = [(bay, place) for bay, lines in enumerate(self.rows) for place in range(len(lines))]
        self.strips = [search.strips[bay][self.rows[bay][place]] for bay, place in self.slots]
        fields = search.fields
        stay = [self._stay(strip) for strip in self.strips]
        give = [strip.caps - fields.of(blocks) for strip, blocks in zip(self.strips, stay, strict=True)]
        self.stay_credit = [search.prices.credit_of(blocks) for blocks in stay]
        self.stay_classes = [self._classes(strip) for strip in self.strips]
        self.caps, self.costs, self.space = [0], [0], [0]
        self.bay_caps = [0]
        for place in reversed(range(len(self.slots))):
            strip = self.strips[place]
            self.caps.append(self.caps[-1] + give[place])
            self.costs.append(self.costs[-1] + strip.cost)
            self.space.append(self.space[-1] + strip.space)
            ends = place + 1 == len(self.slots) or self.slots[place + 1][0] != self.slots[place][0]
            self.bay_caps.append((0 if ends else self.bay_caps[-1]) + give[place])
        for values in (self.caps, self.costs, self.space, self.bay_caps):
            values.reverse()
        self.best_found: tuple[int, tuple[_Share, ...]] | None = None
        self.chosen: list[_Share] = []
        self.seen: dict[tuple[object, ...], int] = {}

    def _stay(self, strip: Strip) -> Supply:
        sizes = self.search.task.sizes
        blocks = [0] * len(sizes)
        for pin in strip.kind.pins:
            blocks[sizes.index(pin.side)] += 1
        return tuple(blocks)

    def _classes(self, strip: Strip) -> int:
        mask = 0
        for pin in strip.kind.pins:
            kept = self.search.kept.get(pin.which)
            if kept is not None and kept[1].service >= 0:
                mask |= 1 << kept[1].service
        return mask

    def best(self) -> RuledFilled | None:
        search = self.search
        pieces = self.plates
        required = search.fields.of(tuple(map(add, search.by_size(search.wanted), search.spares)))
        credit = search.credit
        self._bay(0, search.wanted, search.spares, required, credit, search.spare_area, pieces)
        if self.best_found is None:
            return None
        total, shares = self.best_found
        bays: list[list[tuple[Line, Supply]]] = [[] for _ in self.rows]
        held: list[list[Held]] = [[] for _ in self.rows]
        for (bay, place), share in zip(self.slots, shares, strict=True):
            bays[bay].append((self.rows[bay][place], share.supply))
            used = tuple((item, count) for item, count in zip(search.items, share.used, strict=True) if count)
            held[bay].append(Held(share.structure, share.owners, used))
        return RuledFilled(total, tuple(map(tuple, bays)), tuple(map(tuple, held)))

    def _done(self) -> bool:
        return self.best_found is not None and self.best_found[0] <= self.floor

    def _bay(
        self, place: int, need: Supply, spares: Supply, required: int, credit: int, spare: int, pieces: int
    ) -> None:
        """Choose what may lie in the bay that begins at a slot."""
        if place == len(self.slots):
            if self.limit is None or pieces < self.limit:
                self.limit, self.best_found = pieces, (pieces, tuple(self.chosen))
            return
        for plan in self._plans(self.slots[place][0], place, need):
            self._row(place, plan, need, spares, required, credit, spare, pieces)
            if self._done():
                return

    def _plans(self, bay: int, place: int, need: Supply) -> Iterator[_Plan]:
        search = self.search
        present, sizes = 0, search.by_size
        wanted: set[int] = set()
        for count, (_, tag) in zip(need, search.items, strict=True):
            if count and tag.service >= 0:
                present |= 1 << tag.service
            if count and tag.circuit >= 0:
                wanted.add(tag.circuit)
        fixed = 0
        here: set[int] = set()
        elsewhere: set[int] = set()
        for other, strip in zip(self.slots, self.strips, strict=True):
            for pin in strip.kind.pins:
                kept = search.kept.get(pin.which)
                if kept is None:
                    continue
                if other[0] == bay and kept[1].service >= 0:
                    fixed |= 1 << kept[1].service
                if kept[1].circuit >= 0:
                    (here if other[0] == bay else elsewhere).add(kept[1].circuit)
        if here & elsewhere:
            return
        last = bay == self.slots[-1][0]
        for classes in largest_sets(present, fixed, self.apart.bays):
            may = [c for c in sorted(wanted) if c not in elsewhere and self._class_of(c, need) & ~classes == 0]
            must = {c for c in wanted if c in here}
            if not must <= set(may) or (last and len(may) < len([c for c in wanted if c not in elsewhere])):
                continue
            if last:
                yield _Plan(classes, frozenset(may))
                continue
            alike: dict[tuple[tuple[Item, int], ...], list[int]] = {}
            for circuit in sorted(set(may) - must):
                alike.setdefault(self._signature(circuit, need), []).append(circuit)
            for counts in product(*(range(len(group), -1, -1) for group in alike.values())):
                search.steps.take(1)
                circuits = frozenset(
                    must | {c for group, n in zip(alike.values(), counts, strict=True) for c in group[:n]}
                )
                asked = sizes(
                    tuple(n if tag.circuit in circuits else 0 for n, (_, tag) in zip(need, search.items, strict=True))
                )
                if search.fields.hold(self.bay_caps[place], search.fields.of(asked)):
                    yield _Plan(classes, circuits)

    def _class_of(self, circuit: int, need: Supply) -> int:
        mask = 0
        for count, (_, tag) in zip(need, self.search.items, strict=True):
            if count and tag.circuit == circuit and tag.service >= 0:
                mask |= 1 << tag.service
        return mask

    def _signature(self, circuit: int, need: Supply) -> tuple[tuple[Item, int], ...]:
        return tuple(
            ((size, Tag(service=tag.service)), count)
            for count, (size, tag) in zip(need, self.search.items, strict=True)
            if count and tag.circuit == circuit
        )

    def _row(
        self,
        place: int,
        plan: _Plan,
        need: Supply,
        spares: Supply,
        required: int,
        credit: int,
        spare: int,
        pieces: int,
    ) -> None:
        search = self.search
        search.steps.take(1)
        key = (place, need, spares, plan, spare)
        known = self.seen.get(key)
        if known is not None and known <= pieces:
            return
        if known is not None or len(self.seen) < MOST_SEEN:
            self.seen[key] = pieces
        following = place + 1
        ends = following == len(self.slots) or self.slots[following][0] != self.slots[place][0]
        present = 0
        for count, (_, tag) in zip(need, search.items, strict=True):
            if count and tag.service >= 0 and plan.classes >> tag.service & 1:
                present |= 1 << tag.service
        only = self.only[self.slots[place]] if self.only is not None else None
        one, room = search.prices.one, search.prices.room
        credit -= self.stay_credit[place]
        for allowed in largest_sets(present, self.stay_classes[place], self.apart.rows):
            shares = search.shares(self.strips[place], only, allowed, plan.circuits, need, spares)
            search.steps.take(len(shares))
            for share in shares:
                rest = tuple(map(sub, need, share.used))
                spares_left = tuple(map(sub, spares, share.spares))
                blocks = tuple(map(add, search.by_size(share.used), share.spares))
                left = required - search.fields.of(blocks)
                if not search.fields.hold(self.caps[following], left):
                    continue
                credit_left = credit - search.prices.credit_of(blocks)
                total = pieces + share.count
                if self.limit is not None and (
                    (room + (self.limit - 1 - total) * one - self.costs[following] - credit_left) & room != room
                ):
                    continue
                if plan.circuits and not self._circuits_hold(following, ends, plan, rest):
                    continue
                gain = search.spare_gain(share) if spare else 0
                spare_left = max(0, spare - gain)
                if spare_left and spare_left + self._area(rest, spares_left) > self.space[following]:
                    continue
                self.chosen.append(share)
                if ends:
                    self._bay(following, rest, spares_left, left, credit_left, spare_left, total)
                else:
                    self._row(following, plan, rest, spares_left, left, credit_left, spare_left, total)
                self.chosen.pop()
                if self._done():
                    return

    def _area(self, need: Supply, spares: Supply) -> int:
        blocks = map(add, self.search.by_size(need), spares)
        return sum(count * area for count, area in zip(blocks, self.search.areas, strict=True))

    def _circuits_hold(self, following: int, ends: bool, plan: _Plan, rest: Supply) -> bool:
        """Tell whether what is left of the plan's circuits may still find room in the rows left of its bay."""
        search = self.search
        left = tuple(
            count if tag.circuit in plan.circuits else 0 for count, (_, tag) in zip(rest, search.items, strict=True)
        )
        if not any(left):
            return True
        return not ends and search.fields.hold(self.bay_caps[following], search.fields.of(search.by_size(left)))
