"""Promotion: which needs a list of cables can have, and the best filling over all of them. Whole numbers only.

A cable that more than one size of block holds may stand in a larger one than its smallest: a promotion.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

from generator.engine.rows import Supply, row_sets
from generator.engine.search import Filled, Search, Task, in_order_of_sum
from generator.engine.steps_left import OutOfSteps, StepsLeft

Options = tuple[int, ...]
"""The sizes (as places in the task's sizes, ascending) whose blocks hold a cable."""


@dataclass(frozen=True, slots=True)
class Ask:
    """What must stand in the bays: how many cables have which options, and spares asked for by size."""

    cables: tuple[tuple[Options, int], ...]
    spares: Supply

    @classmethod
    def of(cls, options: Sequence[Options], spares: Supply) -> "Ask":
        """Count cables with the same options."""
        return cls(tuple(sorted(Counter(options).items())), spares)

    def smallest(self) -> Supply:
        """Return the need with every cable in its smallest block."""
        need = list(self.spares)
        for options, count in self.cables:
            need[options[0]] += count
        return tuple(need)


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to place the cables: for each kind of cable how many go into each of its options."""

    growth: int
    split: tuple[tuple[int, ...], ...]
    cables: Supply
    need: Supply


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was found. ``search`` is the one that found it; ``floor`` the fewest pieces it could take."""

    search: Search
    filled: Filled
    choice: Choice
    proven: bool
    floor: int


def choices(task: Task, ask: Ask, steps: StepsLeft) -> Iterator[Choice]:
    """Yield every different need, least growth first. Raises OutOfSteps.

    Growth is the sum over all cables of the side of their block less the side of their smallest one.
    """
    splits = [_splits(task.sizes, options, count) for options, count in ask.cables]
    seen: set[Supply] = set()
    for growth, indices in in_order_of_sum([[cost for cost, _ in split] for split in splits], [False] * len(splits)):
        steps.take(1)
        chosen = tuple(split[index][1] for split, index in zip(splits, indices, strict=True))
        cables = [0] * len(task.sizes)
        for (options, _), counts in zip(ask.cables, chosen, strict=True):
            for place, count in zip(options, counts, strict=True):
                cables[place] += count
        need = tuple(a + b for a, b in zip(cables, ask.spares, strict=True))
        if need not in seen:
            seen.add(need)
            yield Choice(growth, chosen, tuple(cables), need)


@lru_cache(maxsize=1024)
def _splits(sizes: tuple[int, ...], options: Options, count: int) -> tuple[tuple[int, tuple[int, ...]], ...]:
    """List the ways to spread cables over their options, each with its growth, least growth first."""

    def spread(left: int, places: int) -> Iterator[tuple[int, ...]]:
        if places == 1:
            yield (left,)
            return
        for here in range(left, -1, -1):
            for rest in spread(left - here, places - 1):
                yield (here, *rest)

    growths = [sizes[option] - sizes[options[0]] for option in options]
    return tuple(
        sorted(
            ((sum(map(int.__mul__, counts, growths)), counts) for counts in spread(count, len(options))),
            key=lambda split: (split[0], tuple(-c for c in split[1])),
        )
    )


def room(task: Task, steps: StepsLeft) -> int:
    """Return the largest area the rows of a task's bays can have together; 0 when a bay cannot be filled."""
    total = 0
    for space in task.spaces:
        sets = row_sets(space, task.heights, steps)
        if not sets:
            return 0
        total += space.width * max(sum(heights) for heights in sets)
    return total


def solve(task: Task, ask: Ask, steps: StepsLeft, first: bool = False) -> Outcome | None:
    """Find the filling with the least growth, then the fewest pieces, then the fewest different sizes.

    None proves that there is none. ``first`` ends with any. Raises OutOfSteps when nothing was found.
    """
    areas = tuple(size**2 for size in task.sizes)
    space = room(task, steps)
    for choice in choices(task, ask, steps):
        if sum(count * area for count, area in zip(choice.need, areas, strict=True)) > space:
            continue
        needed = sum(1 << i for i, count in enumerate(choice.need) if count)
        search = Search(task, needed | task.fills, choice.need, steps)
        try:
            filled = search.best(first=first)
        except OutOfSteps:
            if search.found is None:
                raise
            return Outcome(search, search.found, choice, False, search.floor)
        if filled is None:
            continue
        if first:
            return Outcome(search, filled, choice, False, 0)
        return _fewest_sizes(task, choice, needed, search, filled, steps)
    return None


def _fewest_sizes(
    task: Task, choice: Choice, needed: int, search: Search, filled: Filled, steps: StepsLeft
) -> Outcome:
    """Keep the pieces, and leave out as many sizes that nobody asked for as can be left out."""
    extra = [i for i, count in enumerate(filled.supply()) if count and not needed >> i & 1]
    others = [i for i in range(len(task.sizes)) if task.fills >> i & 1 and not needed >> i & 1]
    try:
        for count in range(len(extra)):
            # Larger sizes first: they fill with fewer blocks.
            for subset in combinations(sorted(others, reverse=True), count):
                narrow = Search(task, needed | sum(1 << i for i in subset), choice.need, steps)
                found = narrow.best(below=filled.pieces + 1, first=True)
                if found is not None:
                    return Outcome(narrow, found, choice, True, found.pieces)
    except OutOfSteps:
        return Outcome(search, filled, choice, False, filled.pieces)
    return Outcome(search, filled, choice, True, filled.pieces)
