"""Tidy: the order of the rows of every bay, once their fillings are settled.

Reopening a bay takes out every row from the clamping unit down to the target, so a spare counts the rows
above it. Whole numbers only.
"""

from operator import mul

from generator.engine.solver.rows import Line, Supply, height_of
from generator.engine.solver.search import Filled
from generator.engine.solver.tables import COUNT, lanes

PATIENCE = 40
"""After so many steps that brought nothing better the search for an order ends."""
Bays = tuple[tuple[tuple[Line, Supply], ...], ...]
"""For every bay its rows from the bottom, each with its height and supply."""


def tidy(filled: Filled, cables: Supply, spares: int) -> Bays:
    """Order the rows of every bay.

    ``cables`` are the blocks that cables need, ``spares`` a bit mask of the sizes whose other blocks are
    spares. Sought, in this order: the fewest rows above the spares (summed over them), then the fewest pairs
    of rows with the taller one above. Cables take the lowest blocks of their size. The best order found in a fixed
    number of steps, the same on every machine.
    """
    return _Tidying(filled, cables, spares).best()


class _Tidying:
    def __init__(self, filled: Filled, cables: Supply, spares: int) -> None:
        self.bays = [sorted(rows, key=lambda row: (-height_of(row[0]), row[1])) for rows in filled.bays]
        self.guard = lanes([1 << COUNT - 1] * len(cables), COUNT)
        counted = [(spares >> i & 1) << i * COUNT for i in range(len(cables))]
        self.cables: int = sum(map(mul, cables, counted))
        # For every row: what may be spares in it, in lanes, its height, its place in the bay; tallest first.
        self.rows = [
            tuple([(sum(map(mul, supply, counted)), height_of(line), i) for i, (line, supply) in enumerate(rows)])
            for rows in self.bays
        ]
        # Deepest places first: (rows above, bay).
        deepest_first = sorted([(-above, bay) for bay, rows in enumerate(self.bays) for above in range(len(rows))])
        self.places = [(-above, bay) for above, bay in deepest_first]
        self.cost: tuple[int, int] | None = None
        self.found: list[int] = []
        self.chosen: list[int] = []
        self.seen: dict[tuple[object, ...], tuple[int, int]] = {}
        self.patience = PATIENCE

    def best(self) -> Bays:
        self._place(0, tuple(self.rows), self.cables, 0, 0)
        ordered: list[list[tuple[Line, Supply]]] = [[] for _ in self.bays]
        for (_, bay), which in zip(self.places, self.found, strict=True):
            ordered[bay].append(self.bays[bay][which])
        return tuple(map(tuple, ordered))

    def _place(
        self,
        place: int,
        remaining: tuple[tuple[tuple[int, int, int], ...], ...],
        cables: int,
        deep: int,
        turned: int,
    ) -> None:
        """Choose the row at one place from those that remain in its bay, that with the fewest spares first."""
        self.patience -= 1
        if place == len(self.places):
            self.cost, self.found, self.patience = (deep, turned), list(self.chosen), PATIENCE
            return
        key = (place, remaining, cables)
        known = self.seen.get(key)
        if known is not None and known <= (deep, turned):
            return
        self.seen[key] = (deep, turned)
        above, bay = self.places[place]
        here, guard, whole = remaining[bay], self.guard, (1 << COUNT) - 1
        may = []
        before: tuple[int, int] | None = None
        for at, (supply, height, which) in enumerate(here):
            if (supply, height) == before:
                continue  # as good as the one before
            before = supply, height
            enough = (cables | guard) - supply & guard
            mask = enough - (enough >> COUNT - 1)
            used = cables ^ ((cables ^ supply) & mask)
            taller = 0
            for _, other, _ in here[:at]:
                taller += other > height
            may.append((deep + above * ((supply - used) % whole), turned + taller, at, used, which))
        may.sort()
        for deeper, more, at, used, which in may:
            if self.cost is not None and ((deeper, more) >= self.cost or self.patience < 0):
                return
            rest = (*remaining[:bay], here[:at] + here[at + 1 :], *remaining[bay + 1 :])
            self.chosen.append(which)
            self._place(place + 1, rest, cables - used, deeper, more)
            self.chosen.pop()
