"""Parting: classes that share no row, or no bay, and whether rows or bays are enough for them. Whole numbers only."""

from collections.abc import Sequence
from functools import lru_cache

from generator.engine.solver.steps_left import StepsLeft
from generator.engine.solver.tables import Fields, Rows, Table, most
from generator.engine.solver.task import Apart, Item


@lru_cache(maxsize=4096)
def largest_sets(present: int, fixed: int, conflicts: tuple[int, ...]) -> tuple[int, ...]:
    """Return every largest set of classes that may lie together, ``fixed`` ones among them; as bit masks."""
    if not conflicts:
        return (present | fixed,)
    members = [i for i in range(len(conflicts)) if (present | fixed) >> i & 1]
    if any(conflicts[i] & fixed for i in members if fixed >> i & 1):
        return ()
    sets = [fixed]
    for i in members:
        if fixed >> i & 1 or conflicts[i] & fixed:
            continue
        sets += [one | 1 << i for one in sets if not conflicts[i] & one]
    return tuple(one for one in sets if not any(one != other and one & other == one for other in sets))


@lru_cache(maxsize=1024)
def cliques(conflicts: tuple[int, ...]) -> tuple[int, ...]:
    """Return sets of classes of which no two lie together, a large one from each class on; as bit masks."""
    found = []
    for first in range(len(conflicts)):
        clique = 1 << first
        for other in range(len(conflicts)):
            if clique & ~conflicts[other] == 0:
                clique |= 1 << other
        found.append(clique)
    return tuple(dict.fromkeys(found))


def keeps_apart(table: Table, apart: Apart, rows: Rows, needs: Sequence[int], steps: StepsLeft) -> bool:
    """Tell whether rows, and bays, may be given to classes so that each has the area it needs, in every lane.

    ``needs`` are those of each class. Raises OutOfSteps.
    """
    caps = [[table.strips[bay][line].caps for line in lines] for bay, lines in enumerate(rows.bays)]
    return _parted(table.fields, apart.rows, [cap for own in caps for cap in own], needs, steps) and _parted(
        table.fields, apart.bays, [sum(own) for own in caps], needs, steps
    )


def bays_keep_apart(table: Table, apart: Apart, items: Sequence[tuple[Item, int]], steps: StepsLeft) -> bool:
    """Tell whether the bays, whatever their rows, may be given to classes so that each has the area it needs."""
    if not apart.bays:
        return True
    needs = [0] * len(apart.bays)
    for (size, tag), count in items:
        if tag.service >= 0:
            needs[tag.service] += count * table.fields.areas[size]
    return _parted(table.fields, apart.bays, table.most_of_bays, needs, steps)


def _parted(
    fields: Fields, conflicts: tuple[int, ...], caps: Sequence[int], needs: Sequence[int], steps: StepsLeft
) -> bool:
    ordered = sorted(caps, key=lambda cap: cap >> fields.whole, reverse=True)
    return all(
        _given(fields, ordered, [need for i, need in enumerate(needs) if clique >> i & 1 and need], steps)
        for clique in (cliques(conflicts) if conflicts else ())
    )


def _given(fields: Fields, caps: Sequence[int], needs: Sequence[int], steps: StepsLeft) -> bool:
    """Tell whether each of some rows, or bays, can be given to one need so that all are met."""
    guard = fields.guard
    rest = [0]
    for cap in reversed(caps):
        rest.append(rest[-1] + cap)
    rest.reverse()
    failed: set[tuple[int, tuple[int, ...]]] = set()

    def give(place: int, needs: tuple[int, ...]) -> bool:
        if not needs:
            return True
        if place + len(needs) > len(caps) or not fields.hold(rest[place], sum(needs)) or (place, needs) in failed:
            return False
        steps.take(1)
        cap = caps[place]
        for i, need in enumerate(needs):
            if i and need == needs[i - 1]:
                continue
            left = most(need, cap, guard) - cap
            others = needs[:i] + needs[i + 1 :]
            if give(place + 1, tuple(sorted((*others, left))) if left else others):
                return True
        failed.add((place, needs))
        return False

    return give(0, tuple(sorted(needs)))
