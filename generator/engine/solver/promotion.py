"""Promotion: which needs a list of cables can have, and the best filling over all of them. Whole numbers only.

A cable that more than one size of block holds may stand in a larger one than its smallest: a promotion.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations, groupby
from operator import mul

from generator.engine.solver.rows import Supply, row_sets
from generator.engine.solver.search import Filled, Search, in_order_of_sum
from generator.engine.solver.shortfall import shortfall
from generator.engine.solver.steps_left import OutOfSteps, StepsLeft
from generator.engine.solver.task import Ask, Options, Task


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to place the cables: for each kind of cable how many go into each of its options."""

    growth: int
    split: tuple[tuple[int, ...], ...]
    cables: Supply
    need: Supply

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
            ((sum(map(mul, counts, growths)), counts) for counts in spread(count, len(options))),
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
    for growth, group in groupby(choices(task, ask, steps), key=lambda choice: choice.growth):
        same = [c for c in group if sum(map(mul, c.need, areas)) <= space]
        found = _fewest_pieces(task, same, steps, first)
        if found is not None:
            return found if first or not found.proven else _fewest_sizes(task, same, found, steps)
        if growth == 0 and shortfall(task, ask, steps):
            return None
    return None


def _fewest_pieces(task: Task, same: Sequence[Choice], steps: StepsLeft, first: bool) -> Outcome | None:
    """Find the fewest pieces over choices of the same growth."""
    best: Outcome | None = None
    for number, choice in enumerate(same, 1):
        search = Search(task, choice.needed() | task.fills, choice.need, steps)
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


def _fewest_sizes(task: Task, same: Sequence[Choice], best: Outcome, steps: StepsLeft) -> Outcome:
    """Keep growth and pieces, and leave out as many sizes as can be left out."""
    used = sum(1 for count in best.filled.supply() if count)
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
                    search = Search(task, needed | sum(1 << i for i in subset), choice.need, steps)
                    found = search.best(below=best.filled.pieces + 1, first=True)
                    if found is not None:
                        return Outcome(search, found, choice, True, found.pieces)
    except OutOfSteps:
        return replace(best, proven=False)
    return best
