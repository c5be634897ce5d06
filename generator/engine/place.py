"""Place: from what the solver found to blocks, cables and millimetres."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from operator import sub

from generator.engine.ladder import by_ladder
from generator.engine.solver.cuts import Column, Structure, structures
from generator.engine.solver.promotion import Outcome
from generator.engine.solver.rows import Line, RowKind, Supply, height_of
from generator.engine.solver.ruled import Held, RuledFilled, one_for_each, order_of_owners
from generator.engine.solver.steps_left import StepsLeft
from generator.engine.solver.task import FREE, OTHERS, Tag
from generator.engine.solver.tidy import tidy
from generator.engine.standing import Cell, StandingColumn, StandingRow
from generator.engine.units import FrameInUnits
from generator.model.layout import BayLayout, Bore, Layout, Placement, Plate, Role, Row, Unit
from generator.model.scalars import format_mm

_Bays = list[list[tuple[Line, Supply, Held]]]
"""For every bay its rows from the bottom, each with its blocks and how they are shared out."""
_Block = tuple[int, int, int, int | None, bool]
"""A block in its row: x, y, size, the cable in it, whether it is solid."""


def lay_out(units: FrameInUnits, outcome: Outcome) -> Layout:
    """Give every block its place, and every cable its block, by the rule that ``packing`` states."""
    if _is_plain(units, outcome):
        return _lay_out_plain(units, outcome)
    bays = _rows_in_order(units, outcome)
    standing = [[_stand(units, line, held) for line, _, held in rows] for rows in bays]
    rank = class_rank(units)
    _fill(units, outcome, bays, standing, rank)
    if units.rules.solid:
        _leave_spares(units, standing)
    for rows in standing:
        for row in rows:
            _order(rank, row)
    by_ladder(units, standing)
    return Layout.as_computed(
        kind="frame",
        bays=tuple(
            [
                _bay(units, number, [(row.height, _blocks(row)) for row in rows])
                for number, rows in enumerate(standing, 1)
            ]
        ),
        proven=outcome.proven,
        note=_note(units, outcome),
    )


def _is_plain(units: FrameInUnits, outcome: Outcome) -> bool:
    """Tell whether nothing but the sizes of blocks says where a cable may stand."""
    return not (
        isinstance(outcome.filled, RuledFilled)
        or units.rules.solid
        or any(space.nesting for space in outcome.search.task.spaces)
        or units.on_a_ladder
    )


def _lay_out_plain(units: FrameInUnits, outcome: Outcome) -> Layout:
    """Lay out as ``lay_out`` does, without a thought to rules: half of the time that most layouts take."""
    bays = tidy(outcome.filled, outcome.choice.cables, units.spare_sizes)
    room = _cable_blocks([[supply for _, supply in rows] for rows in bays], outcome.choice.cables)
    rank = class_rank(units)
    queues = _queues(units, outcome, rank)
    made = []
    for number, rows in enumerate(bays, 1):
        columns = [
            (
                height_of(line),
                _plain_columns(units, height_of(line), supply, room[number - 1, row], queues, rank),
            )
            for row, (line, supply) in enumerate(rows)
        ]
        made.append(_bay(units, number, columns))
    return Layout.as_computed(kind="frame", bays=tuple(made), proven=outcome.proven, note=_note(units, outcome))


def _plain_columns(
    units: FrameInUnits,
    height: int,
    supply: Supply,
    cables: Supply,
    queues: Mapping[tuple[int, Tag], list[int]],
    rank: Sequence[int],
) -> list[_Block]:
    """Return the blocks of a row whose columns are a block or a stack each, in the order that ``_order`` gives."""
    columns: list[tuple[bool, int, int, int, int, list[int]]] = []
    for size, count in enumerate(supply):
        if not count:
            continue
        width = units.task.sizes[size]
        stack = height // width
        held: list[int] = []
        if cables[size]:
            queue = queues[size, FREE]
            held = queue[: -cables[size] - 1 : -1]
            del queue[-cables[size] :]
        for first in range(0, count, stack):
            own = held[first : first + stack]
            if own:
                columns.append((False, rank[own[0]], own[0], -width, size, own))
            else:
                columns += [(True, 0, 0, -width, size, own)] * ((count - first) // stack)
                break
    columns.sort()
    blocks: list[_Block] = []
    x = 0
    for _, _, _, less, size, own in columns:
        if less == -height:
            blocks.append((x, 0, size, own[0] if own else None, False))
        else:
            for level in range(height // -less):
                blocks.append((x, level * -less, size, own[level] if level < len(own) else None, False))
        x -= less
    return blocks


def _note(units: FrameInUnits, outcome: Outcome) -> str:
    if outcome.proven:
        return ""
    more, growth = outcome.filled.pieces - outcome.floor, outcome.choice.growth
    if growth and outcome.growth == 0:
        smaller = format_mm(units.mm(growth))
        return (
            f"The search ended at its limit: a layout with cables in smaller blocks, {smaller} mm in all at most, may"
            f" exist, and one with up to {more} pieces fewer."
        )
    if more:
        return f"The search ended at its limit: a layout with up to {more} pieces fewer may exist."
    return "The search ended at its limit: a layout with as many pieces but fewer different sizes may exist."


# -- rows ---------------------------------------------------------------------------------------------------


def _rows_in_order(units: FrameInUnits, outcome: Outcome) -> _Bays:
    """Stand the rows of every bay on each other, and say how each is shared out."""
    filled = outcome.filled
    if isinstance(filled, RuledFilled):
        return [_ruled_in_order(units, rows, held) for rows, held in zip(filled.bays, filled.held, strict=True)]
    cables, spares = outcome.choice.cables, units.spare_sizes
    if units.rules.solid:
        # What is solid counts as little as a cable's block: only the spares asked for are to be near the unit.
        spares = (1 << len(units.sizes)) - 1
        cables = tuple(map(sub, filled.supply(), units.ask.spares))
    bays = tidy(filled, cables, spares)
    room = _cable_blocks([[supply for _, supply in rows] for rows in bays], outcome.choice.cables)
    return [
        [
            (line, supply, _unruled(units, outcome, bay, line, supply, room[bay, row]))
            for row, (line, supply) in enumerate(rows)
        ]
        for bay, rows in enumerate(bays)
    ]


def _unruled(units: FrameInUnits, outcome: Outcome, bay: int, line: Line, supply: Supply, cables: Supply) -> Held:
    search = outcome.search
    kind = search.task.spaces[bay].kind(line)
    (structure, *_) = structures(kind, units.task.sizes, search.usable, supply, StepsLeft(search.steps.limit))
    owners = tuple((OTHERS,) * len(part) for part in structure)
    return Held(structure, owners, tuple(((size, FREE), count) for size, count in enumerate(cables) if count))


def _cable_blocks(bays: Sequence[Sequence[Supply]], cables: Supply) -> dict[tuple[int, int], Supply]:
    """Return how many blocks of each size hold a cable in each row: those with the most rows above them."""
    left = cables
    room: dict[tuple[int, int], Supply] = {}
    deepest_first = [(row - len(rows), bay, row) for bay, rows in enumerate(bays) for row in range(len(rows))]
    for _, bay, row in sorted(deepest_first):
        room[bay, row] = taken = tuple(map(min, bays[bay][row], left))
        left = tuple(map(sub, left, taken))
    return room


def _ruled_in_order(
    units: FrameInUnits, rows: Sequence[tuple[Line, Supply]], held: Sequence[Held]
) -> list[tuple[Line, Supply, Held]]:
    """Order rows whose contents are settled: those with the most spares on top, then the lower ones.

    Rows in which blocks stay keep their place, and so does what lies between two of them.
    """

    def depth(row: tuple[Line, Supply, Held]) -> tuple[int, int, Supply]:
        line, supply, held = row
        free = sum(count for size, count in enumerate(supply) if units.sizes[size] in units.plugs)
        free -= sum(count for (size, _), count in held.used if units.sizes[size] in units.plugs)
        return free, -height_of(line), supply

    ordered: list[tuple[Line, Supply, Held]] = []
    run: list[tuple[Line, Supply, Held]] = []
    for (line, supply), one in zip(rows, held, strict=True):
        if isinstance(line, RowKind) and line.pins:
            ordered += [*sorted(run, key=depth), (line, supply, one)]
            run = []
        else:
            run.append((line, supply, one))
    return [*ordered, *sorted(run, key=depth)]


# -- columns ------------------------------------------------------------------------------------------------


def _stand(units: FrameInUnits, line: Line, held: Held) -> StandingRow:
    height, sizes = height_of(line), units.task.sizes
    return StandingRow(
        height,
        [
            [
                StandingColumn(column.width, owner, _column(column, height, sizes), bool(column.rows))
                for column, owner in zip(columns, owners, strict=True)
            ]
            for columns, owners in zip(held.structure, held.owners, strict=True)
        ],
    )


def _column(column: Column, height: int, sizes: Sequence[int]) -> list[Cell]:
    """Return the blocks of a column, low before high where it is not nested."""
    if not column.rows and not column.pins:
        size = sizes.index(column.width)
        return [Cell(0, level, size) for level in range(0, height, column.width)]
    return [
        Cell(dx, dy, size, next((pin.which for pin in column.pins if (pin.x, pin.y) == (dx, dy)), -1))
        for dx, dy, size in _cells(((column,),), height, sizes)
    ]


def _cells(structure: Structure, height: int, sizes: Sequence[int]) -> Iterator[tuple[int, int, int]]:
    """Yield place and size of every block of some columns, from their lower left corner."""
    x = 0
    for part in structure:
        for column in part:
            y = 0
            for row_height, inner in column.rows:
                for dx, dy, size in _cells(inner, row_height, sizes):
                    yield x + dx, y + dy, size
                y += row_height
            if not column.rows:
                size = sizes.index(column.width)
                yield from ((x, level, size) for level in range(0, height, column.width))
            x += column.width


def _order(rank: Sequence[int], row: StandingRow) -> None:
    """Order the columns of a row: classes left to right, what fills at the right, larger blocks first."""
    between: list[list[int]] = []
    if len(row.parts) > 1:
        owners = [[column.owner for column in part] for part in row.parts]
        between = order_of_owners(owners) or owners

    def key(place: int, column: StandingColumn) -> tuple[int, bool, int, int, int]:
        group = between[place].index(column.owner) if between else 0
        for cell in column.cells:
            if cell.cable is not None:
                return group, False, rank[cell.cable], cell.cable, -column.width
        return group, True, 0, 0, -column.width

    for place, part in enumerate(row.parts):
        part.sort(key=lambda column, place=place: key(place, column))  # type: ignore[misc]


def class_rank(units: FrameInUnits) -> list[int]:
    """Return for every demand the place of its class, counted as classes appear in the schedule."""
    classes: dict[str, int] = {}
    return [classes.setdefault(demand.cable.service, len(classes)) for demand in units.demands]


# -- cables -------------------------------------------------------------------------------------------------


def _fill(
    units: FrameInUnits,
    outcome: Outcome,
    bays: _Bays,
    standing: Sequence[Sequence[StandingRow]],
    rank: Sequence[int],
) -> None:
    """Choose the cables of each row by size: classes together, then the order of the schedule."""
    queues = _queues(units, outcome, rank)
    stays = {tag.kept: i for i, tag in enumerate(units.tags) if tag.kept >= 0}
    zones = units.task.apart.zones
    for rows, stood in zip(bays, standing, strict=True):
        for (_, _, held), row in zip(rows, stood, strict=True):
            waiting: dict[tuple[int, int], list[int]] = defaultdict(list)
            for (size, tag), count in held.used:
                owner = tag.service if tag.service >= 0 and zones >> tag.service & 1 else OTHERS
                queue, cables = queues[size, tag], waiting[owner, size]
                several = bool(cables)
                cables += queue[-count:]
                del queue[-count:]
                if several:
                    cables.sort(key=lambda i: (rank[i], i), reverse=True)
            columns = [column for part in row.parts for column in part]
            if stays:
                for cell in (cell for column in columns for cell in column.cells if cell.which >= 0):
                    cell.cable = stays.get(cell.which)
            if zones and len(row.parts) > 1:
                _one_for_each(columns, waiting)
            for column in columns:
                for cell in column.cells:
                    if cell.which < 0 and cell.cable is None and (cables := waiting[column.owner, cell.size]):
                        cell.cable = cables.pop()
                if column.owner != OTHERS and all(cell.cable is None for cell in column.cells):
                    column.owner = OTHERS  # nothing of its class came to lie in it: it may stand anywhere


def _one_for_each(columns: Sequence[StandingColumn], waiting: Mapping[tuple[int, int], list[int]]) -> None:
    """Give each column of a class one cable first: between blocks that stay, an empty column would part its zone."""
    empty: dict[int, list[StandingColumn]] = {}
    for column in columns:
        if column.owner != OTHERS and all(cell.cable is None for cell in column.cells):
            empty.setdefault(column.owner, []).append(column)
    for owner, own in empty.items():
        there = {size: len(cables) for (other, size), cables in waiting.items() if other == owner}
        sizes = one_for_each(
            [sorted({cell.size for cell in column.cells if cell.which < 0}) for column in own], there
        )
        for column, size in zip(own, sizes or (), strict=False):
            first = next(cell for cell in column.cells if cell.which < 0 and cell.size == size)
            first.cable = waiting[owner, size].pop()


def _queues(units: FrameInUnits, outcome: Outcome, rank: Sequence[int]) -> dict[tuple[int, Tag], list[int]]:
    """Return for every size and tag its cables, the last first."""
    ask = units.ask
    tags: Sequence[Tag | None] = ask.tags or (None,) * len(ask.cables)
    of_all: Sequence[Tag | None] = units.tags if ask.tags else (None,) * len(units.options)
    same: dict[tuple[tuple[int, ...], Tag | None], list[int]] = defaultdict(list)
    for i, kind in enumerate(zip(units.options, of_all, strict=True)):
        same[kind].append(i)
    queues: dict[tuple[int, Tag], list[int]] = defaultdict(list)
    for (options, _), tag, counts in zip(ask.cables, tags, outcome.choice.split, strict=True):
        cables = same[options, tag]
        if max(counts) < len(cables):
            cables.sort(key=lambda i: (units.demands[i].cable.likely, units.demands[i].cable.most, i))
        start = 0
        for size, count in zip(options, counts, strict=True):  # the thickest last, into the larger blocks
            queues[size, tag or FREE] += cables[start : start + count]
            start += count
    for cables in queues.values():
        cables.sort(key=lambda i: (rank[i], i), reverse=True)
    return queues


def _leave_spares(units: FrameInUnits, standing: Sequence[Sequence[StandingRow]]) -> None:
    """Leave the spares asked for nearest the clamping unit, and make the rest solid."""
    left = list(map(sub, units.ask.spares, units.task.kept_spares or (0,) * len(units.sizes)))
    nearest = sorted(
        ((len(rows) - 1 - place, bay, row) for bay, rows in enumerate(standing) for place, row in enumerate(rows)),
        key=lambda found: found[:2],
    )
    for _, _, row in nearest:
        for column in reversed([column for part in row.parts for column in part]):
            for cell in reversed(column.cells):
                if cell.cable is None and cell.which < 0:
                    cell.solid = left[cell.size] <= 0
                    left[cell.size] -= not cell.solid


# -- millimetres --------------------------------------------------------------------------------------------


def _blocks(row: StandingRow) -> list[_Block]:
    return [(x, dy, cell.size, cell.cable, cell.solid) for x, dy, cell in row.cells()]


def _bay(units: FrameInUnits, number: int, rows: Sequence[tuple[int, Sequence[_Block]]]) -> BayLayout:
    bay, mm = units.frame.bays[number - 1], units.scale.lengths
    plate = units.catalogue.row_plates[bay.row_plate]
    thickness = units.task.spaces[number - 1].plate
    made: list[Row] = []
    plates: list[Plate] = []
    y = 0
    for index, (height, blocks) in enumerate(rows, 1):
        placements = _row(units, number, index, y, blocks)
        made.append(Row.as_computed(number=index, y=mm[y], height=mm[height], placements=placements))
        y += height
        if index < len(rows) or bay.plate_under_unit:
            plates.append(Plate.as_computed(part=bay.row_plate, y=mm[y], thickness=plate.thickness, above_row=index))
            y += thickness
    unit = units.catalogue.clamping_units[bay.clamping_unit]
    return BayLayout.as_computed(
        bay=number,
        width=bay.width,
        height=bay.height,
        rows=tuple(made),
        plates=tuple(plates),
        unit=Unit.as_computed(part=bay.clamping_unit, y=mm[y], height=unit.height),
    )


def _row(units: FrameInUnits, bay: int, number: int, y: int, blocks: Sequence[_Block]) -> tuple[Placement, ...]:
    before = f"{bay}.{number}." if len(units.frame.bays) > 1 else f"{number}."
    mm, sizes, demands, filling = units.scale.lengths, units.sizes, units.demands, units.filling
    placements: list[Placement] = []
    for place, (x, dy, size, cable, solid) in enumerate(blocks, 1):
        fit = tag = None
        others: tuple[Bore, ...] = ()
        role: Role = "cable"
        if cable is not None:
            demand = demands[cable]
            fit, tag = units.fit(cable, size), demand.cable.tag
            part = fit.part
            if demand.others:
                others = tuple(Bore(cable=other.tag, fit=its) for other, its in demand.others)
        else:
            part, role = filling[solid][size]
        placements.append(
            Placement.as_computed(
                position=f"{before}{place}",
                bay=bay,
                row=number,
                place=place,
                x=mm[x],
                y=mm[y + dy],
                size=sizes[size],
                role=role,
                part=part,
                cable=tag,
                fit=fit,
                others=others,
            )
        )
    return tuple(placements)
