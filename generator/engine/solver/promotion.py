"""Promotion: which needs a list of cables can have, and the best filling over all of them. Whole numbers only.

A cable that more than one size of block holds may stand in a larger one than its smallest: a promotion.
"""

import heapq
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import combinations
from operator import add, mul, sub

from generator.engine.solver.parting import bays_keep_apart
from generator.engine.solver.rows import Supply
from generator.engine.solver.ruled import RuledSearch
from generator.engine.solver.search import Filled, Search
from generator.engine.solver.shortfall import is_short
from generator.engine.solver.steps_left import OutOfSteps, StepsLeft
from generator.engine.solver.tables import Tables, tables_of
from generator.engine.solver.task import FREE, Ask, Item, Options, Task

A_PART = 4
"""Such a part of the steps of a search is added to look for any layout."""
Split = tuple[tuple[int, ...], ...]
"""For each kind of cable how many go into each of its options."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to place the cables: for each kind of cable how many go into each of its options."""

    growth: int
    split: Split
    cables: Supply
    need: Supply
    items: tuple[tuple[Item, int], ...] | None = None
    """How many blocks of each size cables of each tag need, without those that stay; None without rules."""

    def needed(self) -> int:
        """Return a bit mask of the sizes that are needed."""
        return sum(1 << i for i, count in enumerate(self.need) if count)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was found. ``search`` is the one that found it; ``floor`` the fewest pieces it could take."""

    search: Search
    filled: Filled
    choice: Choice
    proven: bool
    floor: int
    growth: int = -1
    """The least growth that there may be; below 0 where it is that of the choice."""


def choices(task: Task, ask: Ask, space: int, steps: StepsLeft) -> Iterator[list[Choice]]:
    """Yield different needs that cover no more than ``space``, those of one growth together, the least growth first.

    Raises OutOfSteps.

    Growth is the sum over all cables of the side of their block less the side of their smallest one.
    """
    areas = tuple(size**2 for size in task.sizes)
    options = [kind for kind, _ in ask.cables]
    first = tuple((count, *[0] * (len(kind) - 1)) for kind, count in ask.cables)
    queue = [(0, first)]
    reached: set[Split] = {first}
    seen: set[tuple[Supply, tuple[tuple[Item, int], ...] | None]] = set()
    while queue:
        growth, same, popped = queue[0][0], [], []
        while queue and queue[0][0] == growth:
            _, split = heapq.heappop(queue)
            steps.take(1)
            cables = [0] * len(task.sizes)
            for kind, counts in zip(options, split, strict=True):
                for place, count in zip(kind, counts, strict=True):
                    cables[place] += count
            need = tuple(map(add, cables, ask.spares))
            if sum(map(mul, need, areas)) > space:
                continue  # and so do all that follow from it, since they only grow
            popped.append(split)
            items = _items(ask, split) if ask.tags else None
            if (need, items) not in seen:
                seen.add((need, items))
                same.append(Choice(growth, split, tuple(cables), need, items))
        if same:
            yield same
        for split in popped:
            for following, step in _promoted(task, options, split):
                if following not in reached:
                    steps.take(1)
                    reached.add(following)
                    heapq.heappush(queue, (growth + step, following))


def _promoted(task: Task, options: Sequence[Options], split: Split) -> Iterator[tuple[Split, int]]:
    """Yield what follows when one cable takes its next larger block, and by how much that is larger."""
    for which, (kind, counts) in enumerate(zip(options, split, strict=True)):
        for at in range(len(kind) - 1):
            if counts[at]:
                moved = (*counts[:at], counts[at] - 1, counts[at + 1] + 1, *counts[at + 2 :])
                step = task.sizes[kind[at + 1]] - task.sizes[kind[at]]
                yield (*split[:which], moved, *split[which + 1 :]), step


def _items(ask: Ask, split: Split) -> tuple[tuple[Item, int], ...]:
    counted: dict[Item, int] = {}
    for (kind, _), tag, counts in zip(ask.cables, ask.tags, split, strict=True):
        if tag.kept < 0:
            for size, count in zip(kind, counts, strict=True):
                if count:
                    counted[size, tag] = counted.get((size, tag), 0) + count
    return tuple(sorted(counted.items()))


def search_for(task: Task, tables: Tables, choice: Choice, usable: int, steps: StepsLeft) -> Search:
    """Return the search for a choice: one that knows the rules where there are any."""
    if choice.items is None and not any(space.pins for space in task.spaces):
        return Search(task, tables, usable, choice.need, steps)
    spares = tuple(map(sub, choice.need, choice.cables))
    floating = tuple(map(sub, spares, task.kept_spares)) if task.kept_spares else spares
    return RuledSearch(
        task,
        tables,
        usable,
        choice.need,
        _untagged(choice) if choice.items is None else choice.items,
        floating,
        steps,
    )


def _untagged(choice: Choice) -> tuple[tuple[Item, int], ...]:
    return tuple(((size, FREE), count) for size, count in enumerate(choice.cables) if count)


def solve(task: Task, ask: Ask, steps: StepsLeft, first: bool = False) -> Outcome | None:
    """Find the filling with the least growth, then the fewest pieces, then the fewest different sizes.

    None proves that there is none. ``first`` ends with any. Where the steps end before anything is found, a layout of
    plain rows with few sizes each is looked for in ``A_PART`` of as many. Raises OutOfSteps when nothing was found.
    """
    try:
        return _best(task, ask, steps, first)
    except OutOfSteps:
        found = plainest(task, ask, steps.limit, first)
        if found is None:
            raise
        return found


def _best(task: Task, ask: Ask, steps: StepsLeft, first: bool) -> Outcome | None:
    tables = tables_of(task.spaces, task.sizes, task.heights, task.fills)
    looked = ask.ruled
    if looked and is_short(task, tables, ask, steps):
        return None
    for same in choices(task, ask, tables.room(steps), steps):
        if not looked:
            # With each cable in its smallest block more is asked of every row than whatever the choice.
            looked, needed = True, same[0].needed()
            holds = same[0].growth == 0 and tables.of(needed | task.fills, needed, steps).may_hold(
                same[0].need, steps
            )
            if not holds and is_short(task, tables, ask, steps):
                return None
        found = _fewest_pieces(task, tables, same, steps, first)
        if found is not None:
            return found if first or not found.proven else _fewest_sizes(task, tables, same, found, steps)
    return None


def plainest(task: Task, ask: Ask, limit: int, first: bool) -> Outcome | None:
    """Look for any layout of rows with few sizes each, without nested columns; then for one with fewer pieces."""
    plain = replace(task, spaces=tuple([replace(space, nesting=False) for space in task.spaces]))
    tables = tables_of(plain.spaces, task.sizes, task.heights, task.fills, few=True)
    looking = StepsLeft(limit // A_PART)
    with suppress(OutOfSteps):
        for same in choices(plain, ask, tables.room(looking), looking):
            for choice in same:
                own = StepsLeft(looking.left // 2)
                with suppress(OutOfSteps):
                    search = _any(plain, tables, choice, own)
                    if search is not None:
                        if not first:
                            with suppress(OutOfSteps):
                                search.best(below=search.found.pieces if search.found else None)
                        assert search.found is not None
                        return Outcome(search, search.found, choice, False, _floor(task, ask), growth=0)
                looking.take(own.limit - max(0, own.left))
    return None


def _any(task: Task, tables: Tables, choice: Choice, steps: StepsLeft) -> Search | None:
    """Return a search that has found some layout; None where there is none. Raises OutOfSteps."""
    needed = choice.needed()
    table = tables.of(needed | task.fills, needed, steps)
    if not table.may_hold(choice.need, steps):
        return None
    if choice.items is not None and not bays_keep_apart(table, task.apart, choice.items, steps):
        return None
    search = search_for(task, tables, choice, needed | task.fills, steps)
    return search if search.any() is not None else None


def _floor(task: Task, ask: Ask) -> int:
    """Return a number of pieces that no layout has fewer of, whatever the choice."""
    areas = [size**2 for size in task.sizes]
    covered = sum(map(mul, ask.spares, areas)) + sum([count * areas[options[-1]] for options, count in ask.cables])
    needed = sum([count for _, count in ask.cables]) + sum(ask.spares)
    return needed + _beyond(task, covered, task.fills)


def _beyond(task: Task, covered: int, usable: int) -> int:
    """Return how many row plates, and blocks beyond those that cover an area, there are at least."""
    largest = max([size**2 for i, size in enumerate(task.sizes) if (usable & task.fills) >> i & 1], default=0)
    highest, lowest = max(task.heights), min(task.heights)
    plates = area = 0
    for bay in task.spaces:
        # With a plate counted to each row, n rows and n plates come to a height that is settled.
        uncounted = 0 if bay.plate_on_top else 1
        total = bay.height + uncounted * bay.plate
        fewest, most = -(-total // (highest + bay.plate)), total // (lowest + bay.plate)
        plates += fewest - uncounted
        area += min([(n - uncounted) * largest + bay.width * (total - n * bay.plate) for n in (fewest, most)])
    return max(plates, -((covered - area) // largest) if largest else 0)


def _fewest_pieces(
    task: Task, tables: Tables, same: Sequence[Choice], steps: StepsLeft, first: bool
) -> Outcome | None:
    """Find the fewest pieces over choices of the same growth."""
    best: Outcome | None = None
    for number, choice in enumerate(same, 1):
        needed = choice.needed()
        table = tables.of(needed | task.fills, needed, steps)
        if not table.may_hold(choice.need, steps):
            continue
        if choice.items is not None and not bays_keep_apart(table, task.apart, choice.items, steps):
            continue
        search = search_for(task, tables, choice, needed | task.fills, steps)
        try:
            filled = search.best(below=best.filled.pieces if best else None, first=first)
        except OutOfSteps:
            # Every choice has as many cables and spares, and each of those is a piece.
            floor = search.floor if number == len(same) else sum(choice.need)
            if search.found is not None:
                return Outcome(search, search.found, choice, False, floor)
            if best is not None:
                return replace(best, proven=False, floor=min(floor, best.filled.pieces))
            raise
        if filled is not None:
            best = Outcome(search, filled, choice, True, filled.pieces)
            if first:
                break
    return best


def _fewest_sizes(task: Task, tables: Tables, same: Sequence[Choice], best: Outcome, steps: StepsLeft) -> Outcome:
    """Keep growth and pieces, and leave out as many sizes as can be left out."""
    used = sum([1 for count in best.filled.supply() if count])
    areas = [size**2 for size in task.sizes]
    try:
        for sizes in range(min(choice.needed().bit_count() for choice in same), used):
            for choice in same:
                needed = choice.needed()
                extra = sizes - needed.bit_count()
                if extra < 0:
                    continue
                # Larger sizes first: they fill with fewer blocks.
                others = [i for i in reversed(range(len(task.sizes))) if task.fills >> i & 1 and not needed >> i & 1]
                for subset in combinations(others, extra):
                    usable = needed | sum([1 << i for i in subset])
                    if (
                        sum(choice.need) + _beyond(task, sum(map(mul, choice.need, areas)), usable)
                        > best.filled.pieces
                    ):
                        continue
                    if tables.of(usable, needed, steps).fewest(choice.need) > best.filled.pieces:
                        continue
                    search = search_for(task, tables, choice, usable, steps)
                    found = search.best(below=best.filled.pieces + 1, first=True)
                    if found is not None:
                        return Outcome(search, found, choice, True, found.pieces)
    except OutOfSteps:
        return replace(best, proven=False)
    return best
