"""Place: from what the solver found to blocks, cables and millimetres."""

from collections import defaultdict
from collections.abc import Sequence

from generator.engine.solver.promotion import Choice, Outcome
from generator.engine.solver.rows import Supply
from generator.engine.solver.tidy import Bays, tidy
from generator.engine.units import FrameInUnits
from generator.model.layout import BayLayout, Fit, Layout, Placement, Plate, Role, Row, Unit

TIDY_STEPS = 2_000
"""Steps spent on the order of rows once the pieces are settled."""

_Held = dict[int, list[int]]
"""For one row: size -> the cables in it, as places in the list of demands."""


def lay_out(units: FrameInUnits, outcome: Outcome) -> Layout:
    """Give every block its place, and every cable its block, by the rule that ``packing`` states."""
    cables = outcome.choice.cables
    bays = tidy(outcome.search, outcome.filled, cables, units.spare_sizes, TIDY_STEPS)
    held = _cables_by_row(units, bays, outcome.choice)
    return Layout(
        bays=tuple(
            _bay(units, number, rows, [held[number - 1, row] for row in range(len(rows))])
            for number, rows in enumerate(bays, 1)
        ),
        proven=outcome.proven,
        note=_note(outcome),
    )


def _note(outcome: Outcome) -> str:
    more = outcome.filled.pieces - outcome.floor
    if outcome.proven:
        return ""
    if more:
        return f"The search ended at its limit: a layout with up to {more} pieces fewer may exist."
    return "The search ended at its limit: a layout with as many pieces but fewer different sizes may exist."


def _class_rank(units: FrameInUnits) -> list[int]:
    """Return for every demand the place of its class, counted as classes appear in the schedule."""
    classes = list(dict.fromkeys(demand.cable.service for demand in units.demands))
    return [classes.index(demand.cable.service) for demand in units.demands]


def _cables_by_row(units: FrameInUnits, bays: Bays, choice: Choice) -> dict[tuple[int, int], _Held]:
    """Choose the cables of each row by size: classes together, then the order of the schedule."""
    rank = _class_rank(units)
    by_size: dict[int, list[int]] = defaultdict(list)
    for (options, _), counts in zip(units.ask.cables, choice.split, strict=True):
        same = [i for i, own in enumerate(units.options) if own == options]
        same.sort(key=lambda i: (units.demands[i].cable.likely, units.demands[i].cable.most, i))
        for size, count in zip(options, counts, strict=True):  # the thickest last, into the larger blocks
            by_size[size] += same[:count]
            del same[:count]
    for indices in by_size.values():
        indices.sort(key=lambda i: (rank[i], i), reverse=True)
    room = _cable_blocks(bays, choice.cables)
    return {
        (bay, row): {
            size: [by_size[size].pop() for _ in range(count)] for size, count in enumerate(room[bay, row]) if count
        }
        for bay, rows in enumerate(bays)
        for row in range(len(rows))
    }


def _cable_blocks(bays: Bays, cables: Supply) -> dict[tuple[int, int], Supply]:
    """Return how many blocks of each size hold a cable in each row: those with the most rows above them."""
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


def _bay(units: FrameInUnits, number: int, rows: Sequence[tuple[int, Supply]], held: Sequence[_Held]) -> BayLayout:
    bay = units.frame.bays[number - 1]
    thickness = units.whole(units.catalogue.row_plates[bay.row_plate].thickness)
    made: list[Row] = []
    plates: list[Plate] = []
    y = 0
    for index, ((height, supply), cables) in enumerate(zip(rows, held, strict=True), 1):
        placements = _row(units, number, index, y, height, supply, cables)
        made.append(Row(number=index, y=units.mm(y), height=units.mm(height), placements=placements))
        y += height
        if index < len(rows) or bay.plate_under_unit:
            plates.append(Plate(part=bay.row_plate, y=units.mm(y), thickness=units.mm(thickness), above_row=index))
            y += thickness
    unit = units.catalogue.clamping_units[bay.clamping_unit]
    return BayLayout(
        bay=number,
        width=bay.width,
        height=bay.height,
        rows=tuple(made),
        plates=tuple(plates),
        unit=Unit(part=bay.clamping_unit, y=units.mm(y), height=unit.height),
    )


def _row(
    units: FrameInUnits, bay: int, row: int, y: int, height: int, supply: Supply, cables: _Held
) -> tuple[Placement, ...]:
    """Cut a row into columns: classes left to right, what fills at the right, larger blocks first."""
    rank = _class_rank(units)
    columns: list[tuple[tuple[bool, int, int, int], int, list[int | None]]] = []
    for index, blocks in enumerate(supply):
        if not blocks:
            continue
        stack = height // units.task.sizes[index]
        holds: list[int | None] = [*cables.get(index, [])]
        holds += [None] * (blocks - len(holds))
        for start in range(0, blocks, stack):
            column = holds[start : start + stack]
            first = column[0]
            key = (True, 0, 0, -index) if first is None else (False, rank[first], first, -index)
            columns.append((key, index, column))
    columns.sort(key=lambda column: column[0])
    placements: list[Placement] = []
    x = 0
    for _, index, column in columns:
        side = units.task.sizes[index]
        for level, cable in enumerate(column):
            place = len(placements) + 1
            part, role, fit = _part(units, index, cable)
            placements.append(
                Placement(
                    position=f"{row}.{place}" if len(units.frame.bays) == 1 else f"{bay}.{row}.{place}",
                    bay=bay,
                    row=row,
                    place=place,
                    x=units.mm(x),
                    y=units.mm(y + level * side),
                    size=units.sizes[index],
                    role=role,
                    part=part,
                    cable=None if cable is None else units.demands[cable].cable.tag,
                    fit=fit,
                )
            )
        x += side
    return tuple(placements)


def _part(units: FrameInUnits, index: int, cable: int | None) -> tuple[str, Role, Fit | None]:
    size = units.sizes[index]
    if cable is not None:
        fit = next(fit for fit in units.demands[cable].fits if fit.size == size)
        return fit.part, "cable", fit
    if size in units.plugs:
        return units.plugs[size], "spare", None
    return units.fillers[size], "filler", None
