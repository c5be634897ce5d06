"""Packing: exact layouts of a frame's bays, or a reason why there is none.

A bay of width W and height H is filled without void or overlap. Rows span its width, each of one height,
the side of some block or filler; row plates lie between rows, one more under the clamping unit where the
bay says so: sum of row heights + plates + clamping unit = H. A row is cut into columns: one block as high as
the row, or, where the bay allows stacking, equal smaller blocks stacked to just that height.

Every block is a cable's, a spare asked for, or fills the bay: with its plug in where the catalogue has a
plug in that size (one more spare), else a filler of that size. A size with neither never fills.

The objective, in this order:

1. growth: the sum over the cables of their block's side less the side of their smallest block;
2. pieces: blocks and row plates together;
3. different sizes of blocks;
4. rows above the spares: the sum over the spares of the rows between them and the clamping unit;
5. pairs of rows with the taller one above.

A layout is ``proven`` when nothing is better in 1 to 3, over all bays together. 4 and 5 are sought among the
layouts with the same rows in every bay, in a fixed number of steps. The rest is a rule: of cables with the
same choice of blocks the thickest take the larger ones; cables stand from the bottom row up, spares above
them; in a row classes stand together, in the order of the schedule, from left to right; what fills comes
last. The same input gives the same layout, whatever the order of the catalogue.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import reduce
from math import gcd

from generator.engine.promotion import Ask, Choice, Options, Outcome, solve
from generator.engine.rows import Space, Supply
from generator.engine.search import Task
from generator.engine.steps_left import OutOfSteps, StepsLeft
from generator.engine.tidy import Bays, tidy
from generator.model.catalogue import Catalogue, Frame
from generator.model.job import Cable, Spare
from generator.model.layout import BayLayout, Fit, Layout, NoLayout, Placement, Plate, Role, Row, Unit

TIDY_STEPS = 2_000
"""Steps spent on the order of rows once the pieces are settled."""


@dataclass(frozen=True, slots=True)
class Demand:
    """A cable and every block that holds its whole range, smallest first."""

    cable: Cable
    fits: tuple[Fit, ...]


def pack_frame(
    frame: Frame, catalogue: Catalogue, demands: Sequence[Demand], spares: Sequence[Spare], limit: int
) -> Layout | NoLayout:
    """Fill all bays of a frame with the blocks of its cables, the best way there is.

    Lengths in mm, from the lower left of each bay, seen from the working side; rows bottom to top, blocks in
    the order of insertion. The objective and what ``proven`` covers stand above. ``limit`` bounds the search
    in steps, the same on every machine: past it the best found, not proven, with a note; or a NoLayout that
    gave up. A NoLayout that did not give up is a proof.
    """
    problem = Problem.of(frame, catalogue, demands, spares)
    if isinstance(problem, NoLayout):
        return problem
    steps = StepsLeft(limit)
    try:
        outcome = solve(problem.task, problem.ask, steps)
    except OutOfSteps:
        return NoLayout(
            what=f"no layout was found in {limit} steps",
            why="the search ended at its limit: there may be one",
            mend="raise the limit, or take a larger frame",
            gave_up=True,
        )
    if outcome is None:
        return NoLayout(
            what="there is no layout for these cables in this frame",
            why="every set of rows and every way to fill them was tried or ruled out",
            mend="take a larger frame, or move a cable to another transit",
        )
    return problem.lay_out(outcome)


class Problem:
    """A frame, its cables and spares in whole units, and the way back to a Layout."""

    def __init__(
        self, frame: Frame, catalogue: Catalogue, demands: Sequence[Demand], spares: Sequence[Spare]
    ) -> None:
        self.frame, self.catalogue, self.demands = frame, catalogue, demands
        plugs = sorted(
            ((block.bonds, block.pipes, part, block.size) for part, block in catalogue.blocks.items() if block.plug)
        )
        self.plugs: dict[Decimal, str] = {}
        for _, _, part, size in plugs:
            self.plugs.setdefault(size, part)
        self.fillers: dict[Decimal, str] = {}
        for part, filler in sorted(catalogue.fillers.items()):
            self.fillers.setdefault(filler.size, part)
        sizes = sorted({block.size for block in catalogue.blocks.values()} | set(self.fillers))
        lengths = list(sizes)
        for bay in frame.bays:
            plate, unit = catalogue.row_plates[bay.row_plate], catalogue.clamping_units[bay.clamping_unit]
            lengths += [bay.width, bay.height, plate.thickness, unit.height]
        self.unit = _common_unit(lengths)
        self.sizes = sizes
        self.task = Task(
            spaces=tuple(
                Space(
                    width=self._whole(bay.width),
                    height=self._whole(bay.height - catalogue.clamping_units[bay.clamping_unit].height),
                    plate=self._whole(catalogue.row_plates[bay.row_plate].thickness),
                    plate_on_top=bay.plate_under_unit,
                    stacking=bay.stacking,
                )
                for bay in frame.bays
            ),
            sizes=tuple(map(self._whole, sizes)),
            heights=tuple(map(self._whole, sizes)),
            fills=sum(1 << i for i, size in enumerate(sizes) if size in self.plugs or size in self.fillers),
        )
        place = {size: i for i, size in enumerate(sizes)}
        self.options: list[Options] = [tuple(sorted({place[fit.size] for fit in d.fits})) for d in demands]
        asked = [0] * len(sizes)
        for spare in spares:
            asked[place[spare.size]] += spare.count
        self.ask = Ask.of(self.options, tuple(asked))

    @classmethod
    def of(
        cls, frame: Frame, catalogue: Catalogue, demands: Sequence[Demand], spares: Sequence[Spare]
    ) -> "Problem | NoLayout":
        """Put the problem in whole units, or say which part of it is missing from the catalogue."""
        for demand in demands:
            if not demand.fits:
                return NoLayout(
                    what=f"cable {demand.cable.tag} has no block",
                    why="a layout needs a block for every cable",
                    mend=f"mend the fit of cable {demand.cable.tag} first",
                )
        plugs = {block.size for block in catalogue.blocks.values() if block.plug}
        for spare in spares:
            if spare.size not in plugs:
                sizes = ", ".join(f"{size:f}" for size in sorted(plugs)) or "none"
                return NoLayout(
                    what=f"a spare of {spare.size:f} mm is asked for",
                    why=f"the sealing system has a plug in these sizes only: {sizes}",
                    mend="ask for one of those sizes",
                )
        return cls(frame, catalogue, demands, spares)

    def _whole(self, length: Decimal) -> int:
        return int(length / self.unit)

    def _mm(self, length: int) -> Decimal:
        value = length * self.unit
        return value.quantize(Decimal(1)) if value == value.to_integral_value() else value.normalize()

    # -- from the outcome back to blocks, cables and millimetres ---------------------------------------

    def lay_out(self, outcome: Outcome) -> Layout:
        """Give every block its place, and every cable its block."""
        spare_sizes = sum(1 << i for i, size in enumerate(self.sizes) if size in self.plugs)
        bays = tidy(outcome.search, outcome.filled, outcome.choice.cables, spare_sizes, TIDY_STEPS)
        cables = self._cables_by_row(bays, outcome.choice)
        note = ""
        if not outcome.proven:
            more = outcome.filled.pieces - outcome.floor
            note = (
                f"The search ended at its limit: a layout with up to {more} pieces fewer may exist."
                if more
                else "The search ended at its limit: a layout with fewer different sizes may exist."
            )
        return Layout(
            bays=tuple(
                self._bay(number, rows, [cables[number - 1, row] for row in range(len(rows))])
                for number, rows in enumerate(bays, 1)
            ),
            proven=outcome.proven,
            note=note,
        )

    def _cables_by_row(self, bays: Bays, choice: Choice) -> dict[tuple[int, int], dict[int, list[int]]]:
        """Give each row its cables by size, as places in ``demands``, classes together, lowest blocks first."""
        classes = list(dict.fromkeys(demand.cable.service for demand in self.demands))
        by_size: dict[int, list[int]] = defaultdict(list)
        for (options, _), counts in zip(self.ask.cables, choice.split, strict=True):
            same = [i for i, own in enumerate(self.options) if own == options]
            same.sort(key=lambda i: (self.demands[i].cable.likely, self.demands[i].cable.most, i))
            start = 0
            for size, count in zip(options, counts, strict=True):
                by_size[size] += same[start : start + count]
                start += count
        for indices in by_size.values():
            indices.sort(key=lambda i: (classes.index(self.demands[i].cable.service), i))
        room = self._cable_blocks(bays, choice.cables)
        return {
            (bay, row): {
                size: [by_size[size].pop(0) for _ in range(count)]
                for size, count in enumerate(room[bay, row])
                if count
            }
            for bay, rows in enumerate(bays)
            for row in range(len(rows))
        }

    def _cable_blocks(self, bays: Bays, cables: Supply) -> dict[tuple[int, int], Supply]:
        """Return how many blocks of each size in each row hold a cable: those with the most rows above."""
        left = list(cables)
        room: dict[tuple[int, int], Supply] = {}
        deepest_first = sorted(
            ((len(rows) - 1 - row, bay, row) for bay, rows in enumerate(bays) for row in range(len(rows))),
            key=lambda place: (-place[0], place[1]),
        )
        for _, bay, row in deepest_first:
            taken = tuple(map(min, bays[bay][row][1], left))
            left = [a - b for a, b in zip(left, taken, strict=True)]
            room[bay, row] = taken
        return room

    def _bay(
        self, number: int, rows: Sequence[tuple[int, Supply]], cables: Sequence[dict[int, list[int]]]
    ) -> BayLayout:
        bay = self.frame.bays[number - 1]
        plate = self._whole(self.catalogue.row_plates[bay.row_plate].thickness)
        unit = self.catalogue.clamping_units[bay.clamping_unit]
        made: list[Row] = []
        plates: list[Plate] = []
        y = 0
        for index, ((height, supply), inside) in enumerate(zip(rows, cables, strict=True)):
            made.append(
                Row(
                    number=index + 1,
                    y=self._mm(y),
                    height=self._mm(height),
                    placements=self._row(number, index + 1, y, height, supply, inside),
                )
            )
            y += height
            if index + 1 < len(rows) or bay.plate_under_unit:
                plates.append(
                    Plate(part=bay.row_plate, y=self._mm(y), thickness=self._mm(plate), above_row=index + 1)
                )
                y += plate
        return BayLayout(
            bay=number,
            width=bay.width,
            height=bay.height,
            rows=tuple(made),
            plates=tuple(plates),
            unit=Unit(part=bay.clamping_unit, y=self._mm(y), height=unit.height),
        )

    def _row(
        self, bay: int, row: int, y: int, height: int, supply: Supply, inside: dict[int, list[int]]
    ) -> tuple[Placement, ...]:
        classes = list(dict.fromkeys(demand.cable.service for demand in self.demands))
        columns: list[tuple[tuple[int, int, int], int, list[int | None]]] = []
        for index, blocks in enumerate(supply):
            if not blocks:
                continue
            stack = height // self.task.sizes[index]
            held: list[int | None] = [*inside.get(index, [])]
            held += [None] * (blocks - len(held))
            for start in range(0, blocks, stack):
                column = held[start : start + stack]
                first = column[0]
                key = (
                    (len(classes), 0, -index)
                    if first is None
                    else (classes.index(self.demands[first].cable.service), first, -index)
                )
                columns.append((key, index, column))
        columns.sort(key=lambda column: column[0])
        placements: list[Placement] = []
        x = 0
        for _, index, column in columns:
            side = self.task.sizes[index]
            for level, holds in enumerate(column):
                place = len(placements) + 1
                position = f"{row}.{place}" if len(self.frame.bays) == 1 else f"{bay}.{row}.{place}"
                part, role, fit = self._part(index, holds)
                placements.append(
                    Placement(
                        position=position,
                        bay=bay,
                        row=row,
                        place=place,
                        x=self._mm(x),
                        y=self._mm(y + level * side),
                        size=self.sizes[index],
                        role=role,
                        part=part,
                        cable=None if holds is None else self.demands[holds].cable.tag,
                        fit=fit,
                    )
                )
            x += side
        return tuple(placements)

    def _part(self, index: int, holds: int | None) -> tuple[str, Role, Fit | None]:
        size = self.sizes[index]
        if holds is not None:
            fit = next(fit for fit in self.demands[holds].fits if fit.size == size)
            return fit.part, "cable", fit
        if size in self.plugs:
            return self.plugs[size], "spare", None
        return self.fillers[size], "filler", None


def _common_unit(lengths: Sequence[Decimal]) -> Decimal:
    """Return the largest length of which all are whole multiples."""
    exponents = [length.normalize().as_tuple().exponent for length in lengths]
    places = max(0, *(-exponent for exponent in exponents if isinstance(exponent, int)))
    return Decimal(reduce(gcd, (int(length.scaleb(places)) for length in lengths))).scaleb(-places)
