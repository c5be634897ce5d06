"""Search: the fewest pieces that fill a frame's bays and bring every block that is needed. Whole numbers only.

A piece is a block or a row plate. Where more blocks of a size come than are needed, the others fill the
bay, which only sizes with a plug or a filler can do.

The search goes over the rows that the bays may have, cheapest bound first, and within one choice of rows over their
fillings, bounded by the prices and areas that ``tables`` keeps.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from operator import mul

from generator.engine.solver.rows import Line, Supply
from generator.engine.solver.steps_left import OutOfSteps, StepsLeft
from generator.engine.solver.tables import (
    COUNT,
    FARTHEST,
    MOST_HELD,
    MOST_ROUNDED,
    NONE,
    Pattern,
    Rows,
    Strip,
    Tables,
    lanes,
)
from generator.engine.solver.task import Task

MOST_ROWS = 300
"""A frame with more rows than this is given up: the search goes one call deeper with every row."""

MOST_BEYOND = 5_000
"""So many counts of blocks beyond a need are kept."""
CHOICES_A_STEP = 16
"""So many fillings of a row are looked at for one step."""
PAIRS_A_STEP = 64
"""So many pairs of fillings are held against each other for one step."""
MOST_SEEN = 300_000
"""So many places that were reached before are known again."""
BEYOND = (5, 15)
"""So many pieces more than the bound are allowed at first: the nearer the limit, the shorter the search."""


@dataclass(frozen=True, slots=True)
class Filled:
    """Rows for every bay with their supplies, in the order of their row set; ``pieces`` counts blocks and plates."""

    pieces: int
    bays: tuple[tuple[tuple[Line, Supply], ...], ...]

    def supply(self) -> Supply:
        """Return the blocks of all bays by size."""
        return tuple(map(sum, zip(*(supply for rows in self.bays for _, supply in rows), strict=True)))


Choice = tuple[int, int, int, Supply, int, int, int, int]
"""One filling of a row as far as a need goes. In the order in which they are tried: less the area it uses of the
need, less the area of its blocks beyond it that are spares, its blocks, its supply; then what it uses, counted in
lanes, the areas of that in lanes, what it is charged with the credit of what it does not use, its other blocks."""


class Search:
    """One task with one set of usable sizes and one need; ``best`` finds the fewest pieces."""

    def __init__(self, task: Task, tables: Tables, usable: int, need: Supply, steps: StepsLeft) -> None:
        self.task, self.usable, self.need, self.steps = task, usable, need, steps
        needed = sum([1 << i for i, count in enumerate(need) if count])
        self.table = table = tables.of(usable, needed, steps)
        self.fields, self.prices, self.strips = table.fields, table.prices, table.strips
        self.exact = [i for i in range(len(need)) if table.exact >> i & 1]
        self.areas = [size**2 for size in task.sizes]
        self.found: Filled | None = None
        self.floor = 0
        self.required = self.fields.of(need)
        self.credit = self.prices.credit_of(need)
        self.spare_area = task.spare_area
        """Area that spares must cover beyond those that are needed."""
        self.spare_areas = (
            [area if task.spare_sizes >> i & 1 else 0 for i, area in enumerate(self.areas)] if self.spare_area else []
        )
        self.alike = True
        """Whether rows may lie in any bay that is wide enough."""
        self._looking: Iterator[list[tuple[int, int, Rows]]] | None = None
        self._roomy: list[tuple[int, Rows]] = []
        self._exact_counts = lanes([(1 << COUNT - 1) - 1 if i in self.exact else 0 for i in range(len(need))], COUNT)
        self._slack: int | None = None
        """What rows may be charged beyond the least there is, in lanes; None without a limit."""
        self._open: dict[Strip, list[Pattern]] = {}
        self._choices: dict[tuple[Strip, int], list[Choice]] = {}

    # -- all bays ------------------------------------------------------------------------------------

    def best(self, below: int | None = None, first: bool = False) -> Filled | None:
        """Return the filling with the fewest pieces, fewer than ``below``; None proves there is none.

        With ``first`` any filling does. Raises OutOfSteps; then ``found`` holds the best so far, and
        ``floor`` the pieces it takes at least.
        """
        least, lane = self.prices.pieces(self.table.cheapest + self.credit)
        for more in BEYOND if below is None else ():
            if self._best(-lane, least + more, first) is not None:
                return self.found
        return self._best(-lane, below, first)

    def any(self) -> Filled | None:
        """Return the first filling that is found, however many pieces it takes; None proves there is none."""
        _, lane = self.prices.pieces(self.table.cheapest + self.credit)
        return self._best(-lane, None, first=True)

    def _best(self, lane: int, below: int | None, first: bool) -> Filled | None:
        prices, room, credit = self.prices, self.prices.room, self.credit
        self._open, self._choices = {}, {}
        self._slack = None if below is None else room + (below - 1) * prices.one - self.table.cheapest - credit
        one, own_credit = prices.ones[lane], prices.in_lane(credit, lane)
        for cost, rows in self._with_room(lane):
            self.floor = -(-(cost + own_credit) // one)
            if below is not None:
                if self.floor >= below:
                    break
                if room + (below - 1) * prices.one - rows.cost - credit & room != room:
                    continue
            self.steps.take(1)
            better = self._fill_rows(rows, below)
            if better is not None:
                self.found, below = better, better.pieces
                if first:
                    break
        return self.found

    def _with_room(self, lane: int) -> Iterator[tuple[int, Rows]]:
        """Yield the rows that have room for what is needed, the cheapest first; those already seen once more."""
        if self._looking is None:
            self._looking = self.table.choices_of_rows(self.steps, lane, self.alike)
        guard, required, place, roomy = self.fields.guard, self.required, 0, self._roomy
        while True:
            if place < len(roomy):
                yield roomy[place]
                place += 1
                continue
            some = next(self._looking, None)
            if some is None:
                return
            roomy += [(cost, rows) for caps, cost, rows in some if caps - required & guard == guard]

    # -- one choice of rows --------------------------------------------------------------------------

    def _fill_rows(self, rows: Rows, below: int | None) -> Filled | None:
        """Fill given rows with the fewest pieces: depth first, the row that serves most of the need first."""
        order = self.table.order(rows)
        strips, caps, space, ahead = order.strips, order.caps, order.space, order.ahead
        if len(strips) > MOST_ROWS:
            raise OutOfSteps
        guard = self.fields.guard
        room, one = self.prices.room, self.prices.one
        end, steps = len(strips), self.steps
        least = rows.plates + sum(self.need)
        most_extra = below - least - 1 if below is not None else NONE - 1
        most_charged = room + (below - 1) * one if below is not None else 0
        counted = (1 << COUNT) - 1
        best: list[Supply] | None = None
        chosen: list[Supply] = []
        seen: dict[tuple[int, int, int], int] = {}

        def fill(place: int, need: int, required: int, charged: int, spare: int, waste: int, extra: int) -> None:
            """Fill one row. ``waste``: area that no needed block will cover; ``extra``: blocks that cover some."""
            nonlocal most_extra, most_charged, best
            steps.take(1)
            if place == end:
                most_extra, best = extra - 1, list(chosen)
                most_charged = room + (least + most_extra) * one
                return
            here = ahead[place]
            rounding, broken, more = waste, 0, extra
            for lane, area, beyond in here.rounded:
                count = need >> lane & counted
                if count and count <= MOST_ROUNDED and (over := beyond[count]):
                    more += over
                    rounding -= over * area
            if rounding < 0:
                return
            wasted, broken = divmod(rounding, here.unit)
            if broken or more + (here.cover[wasted] if wasted <= FARTHEST else 0) > most_extra:
                return
            key = (place, need, spare)
            known = seen.get(key)
            if known is not None and known <= extra:
                return
            if known is not None or len(seen) < MOST_SEEN:
                seen[key] = extra
            following, strip = place + 1, strips[place]
            cap, base = caps[following], charged - strip.cost
            waste -= strip.space
            choices = self.choices(strip, need)
            if len(choices) > CHOICES_A_STEP:
                steps.take(len(choices) // CHOICES_A_STEP)
            for less_area, less_spare, _, supply, used, areas, charge, more in choices:
                left = required - areas
                if cap - left & guard != guard:
                    continue
                total = base + charge
                if most_charged and most_charged - total & room != room:
                    continue
                if more + extra > most_extra or waste < less_area:
                    continue
                spare_left = 0
                if spare > 0:
                    spare_left = max(0, spare + less_spare)
                    if spare_left and spare_left + self._area(need - used) > space[following]:
                        continue
                chosen.append(supply)
                fill(following, need - used, left, total, spare_left, waste - less_area, extra + more)
                chosen.pop()

        waste = space[0] - sum(map(mul, self.need, self.areas))
        if caps[0] - self.required & guard == guard:
            fill(0, lanes(self.need, COUNT), self.required, rows.cost + self.credit, self.spare_area, waste, 0)
        if best is None:
            return None
        supplies = dict(zip(order.slots, best, strict=True))
        return Filled(
            least + most_extra + 1,
            tuple(
                tuple((line, supplies[bay, place]) for place, line in enumerate(lines))
                for bay, lines in enumerate(rows.bays)
            ),
        )

    def _area(self, counts: int) -> int:
        mask = (1 << COUNT) - 1
        return sum([(counts >> i * COUNT & mask) * area for i, area in enumerate(self.areas)])

    def choices(self, strip: Strip, need: int) -> list[Choice]:
        """List what a row can bring of a need, counted in lanes; the most area of it first."""
        over = self.table.over_counts
        at_least = (strip.most_counts | over) - need & over
        mask = at_least - (at_least >> COUNT - 1)
        need = strip.most_counts ^ ((strip.most_counts ^ need) & mask)
        known = self._choices.get((strip, need))
        if known is None:
            known = self._choices[strip, need] = self._best_choices(strip, need)
        return known

    def _best_choices(self, strip: Strip, need: int) -> list[Choice]:
        whole, lane, over, beyond_of = self.fields.whole, (1 << 64) - 1, self.table.over_counts, self.table.beyond
        exact, spare = self._exact_counts, 0
        kept: dict[int, Choice] = {}
        for supply, counts, blocks, extra, areas, charge in self._patterns(strip):
            at_least = (counts | over) - need & over
            used = counts ^ ((counts ^ need) & (at_least - (at_least >> COUNT - 1)))
            if used != counts:
                beyond = counts - used
                if beyond & exact:
                    continue
                more = beyond_of.get(beyond) or self._learn(beyond)
                areas, charge, extra = areas - more[0], charge + more[1], extra + more[2]
            key = used
            if self.spare_area:
                spare = self._spare_gain(supply, used)
                key |= spare << 256 * COUNT
            if key not in kept:
                kept[key] = -(areas >> whole & lane), -spare, blocks, supply, used, areas, charge, extra
        found: list[Choice] = []
        best: list[tuple[int, int, int]] = []
        self.steps.take(len(self._patterns(strip)) // 2 + len(kept) * min(len(kept), MOST_HELD) // PAIRS_A_STEP)
        for choice in sorted(kept.values()):
            _, less_spare, blocks, _, used, _, _, _ = choice
            for other_blocks, other_spare, other in best:
                if (
                    other_blocks <= blocks
                    and other - used & over == over
                    and other_spare <= less_spare
                    and not (exact and (other ^ used) & exact)
                ):
                    break
            else:
                if len(best) < MOST_HELD:
                    best.append((blocks, less_spare, used | over))
                found.append(choice)
        return found

    def _patterns(self, strip: Strip) -> Sequence[Pattern]:
        """Return the fillings of a row that the limit leaves, even where all else costs the least there is."""
        patterns = strip.patterns_for(bool(self.spare_area))
        if self._slack is None:
            return patterns
        known = self._open.get(strip)
        if known is None:
            room, most = self.prices.room, self._slack + strip.cost
            known = self._open[strip] = [pattern for pattern in patterns if most - pattern[5] & room == room]
        return known

    def _learn(self, beyond: int) -> tuple[int, int, int]:
        """Return area in lanes, credit and number of blocks beyond a need, and keep them."""
        mask = (1 << COUNT) - 1
        areas = charge = blocks = 0
        for i, (area, credit) in enumerate(zip(self.fields.areas, self.prices.credit, strict=True)):
            more = beyond >> i * COUNT & mask
            areas, charge, blocks = areas + more * area, charge + more * credit, blocks + more
        if len(self.table.beyond) >= MOST_BEYOND:
            self.table.beyond.clear()
        self.table.beyond[beyond] = areas, charge, blocks
        return areas, charge, blocks

    def _spare_gain(self, supply: Supply, used: int) -> int:
        """Return the area of blocks that are not used and may be spares."""
        mask = (1 << COUNT) - 1
        return sum([(there - (used >> i * COUNT & mask)) * self.spare_areas[i] for i, there in enumerate(supply)])
