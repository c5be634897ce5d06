"""Check: an independent judge of a layout. It knows the definition of one, and nothing of how one is found.

Lengths in mm, exact decimals. Written from the model alone: neither ``packing`` nor ``fit`` is used.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import Literal

from generator.model.catalogue import Bay, Block, Catalogue, Frame, PeelRule, SplitSeal
from generator.model.job import Apart, Cable, Job, Kept, Shared, Spare, Transit
from generator.model.layout import BayLayout, Fit, Layout, Placement, Row, SealLayout
from generator.model.scalars import Window, format_mm

_TABLE_ROUNDING = Decimal("0.001")
"""A gap between the ends of a table's row is rounded to this, mm."""


def check_layout(
    layout: Layout | SealLayout,
    frame: Frame | None,
    catalogue: Catalogue,
    cables: Sequence[Cable],
    spares: Sequence[Spare],
    job: Job,
    transit: Transit | None = None,
) -> tuple[str, ...]:
    """Judge a layout; return every fault in plain words, () when it is right.

    ``transit`` says what stays, what fills the rest and which classes are kept apart here; without it only the
    job's own classes are.

    Right means: every bay is filled to its edges by rows of one height with legal columns, row plates where
    they belong and the clamping unit; every block is a part of that size; every cable of the list stands in
    exactly one bore, which closes around its whole range, and alone in its block but for those that share one;
    at least the spares asked for are there, and where the rest is spares, what fills is one in every size that
    has a plug; rows, places and positions are numbered in the order of insertion; what stays is where it was;
    classes that are kept apart are; the conductors of one circuit lie in one bay where the metal between bays is
    magnetic.
    """
    if isinstance(layout, SealLayout):
        return tuple(_seal_faults(layout, catalogue, cables, spares, job))
    if frame is None:
        return ("the layout is a frame's, but no frame is given",)
    faults: list[str] = []
    if len(layout.bays) != len(frame.bays):
        faults.append(f"the layout has {len(layout.bays)} bays, the frame {len(frame.bays)}")
    for number, (laid, bay) in enumerate(zip(layout.bays, frame.bays, strict=False), 1):
        faults += (f"bay {number}: {fault}" for fault in _bay_faults(laid, number, bay, len(frame.bays), catalogue))
    shared = transit.shared if transit else ()
    faults += _content_faults(layout.placements, catalogue, cables, spares, job, shared)
    faults += _apart_faults(layout, frame, catalogue, cables, (*job.apart, *(transit.apart if transit else ())))
    if not frame.webs_not_magnetic:
        faults += _circuit_faults(layout.placements, cables)
    if transit:
        faults += _kept_faults(layout.placements, transit.keep)
        if transit.rest == "solid":
            faults += _solid_faults(layout.placements, cables, catalogue, spares, transit.keep, job, shared)
        else:
            faults += _filler_faults(layout.placements, catalogue)
    return tuple(faults)


# -- one bay: rows, plates, unit --------------------------------------------------------------------


def _bay_faults(laid: BayLayout, number: int, bay: Bay, bays: int, catalogue: Catalogue) -> Iterator[str]:
    if laid.bay != number:
        yield f"it is numbered {laid.bay}"
    if (laid.width, laid.height) != (bay.width, bay.height):
        yield (
            f"it is drawn {format_mm(laid.width)} x {format_mm(laid.height)}, "
            f"the frame's is {format_mm(bay.width)} x {format_mm(bay.height)}"
        )
    unit, plate = catalogue.clamping_units.get(bay.clamping_unit), catalogue.row_plates.get(bay.row_plate)
    if laid.unit.part != bay.clamping_unit or unit is None:
        yield f"its clamping unit is {laid.unit.part}, the bay takes {bay.clamping_unit}"
    elif laid.unit.height != unit.height or unit.width != bay.width:
        yield f"its clamping unit {laid.unit.part} has another size in the catalogue"
    if laid.unit.y + laid.unit.height != bay.height:
        yield "its clamping unit does not end at the top of the bay"
    if plate is None or plate.length != bay.width:
        yield f"row plate {bay.row_plate} is not as long as the bay is wide"

    if not laid.rows:
        yield "it has no rows"
    wanted = len(laid.rows) if bay.plate_under_unit else len(laid.rows) - 1
    if [p.above_row for p in laid.plates] != list(range(1, wanted + 1)):
        yield f"it needs a row plate on each of rows 1 to {wanted} and no other"
    plates = {p.above_row: p for p in laid.plates}
    y = Decimal(0)
    for place, row in enumerate(laid.rows, 1):
        if row.number != place:
            yield f"row {place} is numbered {row.number}"
        if row.y != y:
            yield f"row {place} starts at {format_mm(row.y)}, what lies below ends at {format_mm(y)}"
        y += row.height
        if place in plates:
            lies = plates[place]
            if lies.part != bay.row_plate or plate is None or lies.thickness != plate.thickness:
                yield f"the row plate on row {place} is not the bay's {bay.row_plate}"
            if lies.y != y:
                yield f"the row plate on row {place} lies at {format_mm(lies.y)}, the row ends at {format_mm(y)}"
            y += lies.thickness
        yield from (f"row {place}: {fault}" for fault in _row_faults(row, number, place, bay, bays, catalogue))
    if laid.unit.y != y:
        yield f"its clamping unit starts at {format_mm(laid.unit.y)}, what lies below ends at {format_mm(y)}"


def _row_faults(row: Row, bay_number: int, number: int, bay: Bay, bays: int, catalogue: Catalogue) -> Iterator[str]:
    sides = _sides(catalogue)
    if row.height not in sides:
        yield f"its height {format_mm(row.height)} is the side of no block"
    if not row.placements:
        yield "it is empty"
    for a, one in enumerate(row.placements):
        if one.size <= 0:
            yield f"block {one.position} has no size"
        if one.x < 0 or one.x + one.size > bay.width:
            yield f"block {one.position} reaches out of the bay"
        if one.y < row.y or one.y + one.size > row.y + row.height:
            yield f"block {one.position} reaches out of its row"
        for two in row.placements[a + 1 :]:
            if (
                one.x < two.x + two.size
                and two.x < one.x + one.size
                and one.y < two.y + two.size
                and two.y < one.y + one.size
            ):
                yield f"blocks {one.position} and {two.position} overlap"
    covered = sum((p.size**2 for p in row.placements), Decimal(0))
    if covered != bay.width * row.height:
        yield f"its blocks cover {format_mm(covered)} mm², it has {format_mm(bay.width * row.height)} mm²"

    yield from _column_faults(row, bay, sides)

    if list(row.placements) != sorted(row.placements, key=lambda p: (p.x, p.y)):
        yield "its blocks are not listed left to right, low before high"
    for place, placement in enumerate(row.placements, 1):
        position = f"{number}.{place}" if bays == 1 else f"{bay_number}.{number}.{place}"
        if (placement.bay, placement.row, placement.place) != (bay_number, number, place):
            yield f"block {placement.position} is counted as place {placement.place} of row {placement.row}"
        if placement.position != position:
            yield f"place {place} is called {placement.position}, not {position}"


def _sides(catalogue: Catalogue) -> set[Decimal]:
    return {block.size for block in catalogue.blocks.values()} | {f.size for f in catalogue.fillers.values()}


@dataclass(frozen=True)
class _Box:
    """A part of a row: lower left corner, width and height, mm."""

    x: Decimal
    y: Decimal
    width: Decimal
    height: Decimal


def _cut(placements: Sequence[Placement], along: Literal["x", "y"]) -> list[list[Placement]]:
    """Part blocks wherever a straight line across them all passes none of them, first to last."""
    parts: list[list[Placement]] = []
    end = Decimal(0)
    for placement in sorted(placements, key=lambda p: (p.x, p.y) if along == "x" else (p.y, p.x)):
        start = placement.x if along == "x" else placement.y
        if not parts or start >= end:
            parts.append([])
        parts[-1].append(placement)
        end = max(end, start + placement.size)
    return parts


def _column_faults(row: Row, bay: Bay, sides: set[Decimal]) -> Iterator[str]:
    """Judge the columns of a row that is covered."""
    if bay.nesting:
        box = _Box(Decimal(0), row.y, bay.width, row.height)
        if not _is_cut(box, "x", row.placements, lambda part, column: _is_column(part, column, bay, sides)):
            yield "it is cut into no columns that the bay allows, nested ones among them"
        return
    columns: dict[Decimal, list[Placement]] = {}
    for placement in row.placements:
        columns.setdefault(placement.x, []).append(placement)
    x = Decimal(0)
    for left, column in sorted(columns.items()):
        if left != x:
            yield f"a column starts at {format_mm(left)}, the one before it ends at {format_mm(x)}"
        column.sort(key=lambda p: p.y)
        side = column[0].size
        if any(p.size != side for p in column):
            yield f"the column at {format_mm(left)} mixes sizes"
        if [p.y for p in column] != [row.y + level * side for level in range(len(column))]:
            yield f"the blocks of the column at {format_mm(left)} do not stand on each other"
        if sum(p.size for p in column) != row.height:
            yield f"the column at {format_mm(left)} is not as high as its row"
        if len(column) > 1 and not bay.stacking:
            yield f"the column at {format_mm(left)} is stacked, which the bay does not allow"
        x = left + side
    if x != bay.width:
        yield f"it ends at {format_mm(x)}, the bay is {format_mm(bay.width)} wide"


_Part = Callable[[_Box, Sequence[Placement]], bool]


def _is_cut(box: _Box, along: Literal["x", "y"], placements: Sequence[Placement], is_part: _Part) -> bool:
    """Tell whether lines across a box part it into parts that are all right.

    Any of the lines that pass no block may be left out: what lies between two others is then one part.
    """
    parts = _cut(placements, along)
    starts = [min(p.x if along == "x" else p.y for p in part) for part in parts]
    ends = [*starts[1:], box.x + box.width if along == "x" else box.y + box.height]
    reached = {0}
    for first, start in enumerate(starts):
        if first not in reached:
            continue
        for last in range(first, len(parts)):
            inside = [p for part in parts[first : last + 1] for p in part]
            side = ends[last] - start
            part = _Box(start, box.y, side, box.height) if along == "x" else _Box(box.x, start, box.width, side)
            if is_part(part, inside):
                reached.add(last + 1)
    return len(parts) in reached


def _is_stack(box: _Box, placements: Sequence[Placement]) -> bool:
    """Equal blocks as wide as the box, one on the other, as high together as it."""
    low = sorted(p.y for p in placements)
    return (
        all(p.x == box.x and p.size == box.width for p in placements)
        and low == [box.y + level * box.width for level in range(len(low))]
        and len(low) * box.width == box.height
    )


def _is_column(box: _Box, placements: Sequence[Placement], bay: Bay, sides: set[Decimal]) -> bool:
    """One block, equal ones stacked, or rows that are cut into columns of one or of stacked blocks."""

    def in_nested_row(part: _Box, inside: Sequence[Placement]) -> bool:
        return _is_stack(part, inside) and (bay.stacking or len(inside) == 1)

    def nested_row(part: _Box, inside: Sequence[Placement]) -> bool:
        return part.height in sides and _is_cut(part, "x", inside, in_nested_row)

    if in_nested_row(box, placements):
        return True
    return box.width in sides and box.width <= box.height and _is_cut(box, "y", placements, nested_row)


# -- what stands in the blocks ------------------------------------------------------------------------


def _content_faults(
    placements: Sequence[Placement],
    catalogue: Catalogue,
    cables: Sequence[Cable],
    spares: Sequence[Spare],
    job: Job,
    shared: Sequence[Shared],
) -> Iterator[str]:
    asked = {cable.tag: cable for cable in cables}
    if len(asked) != len(cables):
        yield "the list names a cable twice"
    placed = Counter(tag for p in placements for tag in _tags_in(p))
    for tag in asked:
        if placed[tag] != 1:
            yield f"cable {tag} stands in {placed[tag] or 'no'} block{'s' if placed[tag] > 1 else ''}"
    for tag in placed:
        if tag not in asked:
            yield f"cable {tag} is not on the list"

    for placement in placements:
        where = f"block {placement.position}"
        block, filler = catalogue.blocks.get(placement.part), catalogue.fillers.get(placement.part)
        part = filler if placement.role == "filler" else block
        if part is None:
            yield f"{where}: {placement.part} is no {'filler' if placement.role == 'filler' else 'block'}"
            continue
        if part.size != placement.size:
            yield f"{where}: {placement.part} has a side of {format_mm(part.size)}, not {format_mm(placement.size)}"
        if placement.role == "cable":
            if placement.cable is None or placement.fit is None:
                yield f"{where}: it is a cable's block without a cable or a fit"
            elif placement.fit.part != placement.part or placement.fit.size != placement.size:
                yield f"{where}: its fit is for {placement.fit.part}"
            elif block is not None and block.several_bores:
                yield from (f"{where}: {fault}" for fault in _shared_faults(placement, block, asked, shared, job))
            elif placement.others:
                yield f"{where}: {placement.part} has one bore, and holds {len(placement.others) + 1} cables"
            elif block is not None and placement.cable in asked:
                cable = asked[placement.cable]
                yield from (f"{where}: {fault}" for fault in _fit_faults(cable, block, placement.fit, job))
        elif placement.cable is not None or placement.fit is not None or placement.others:
            yield f"{where}: a {placement.role} holds a cable"
        elif block is not None and block.several_bores:
            yield f"{where}: {placement.part} is for cables that share it, and is no spare"
        elif placement.role == "spare" and block is not None and not block.plug:
            yield f"{where}: {placement.part} has no plug, so it is no spare"

    there = Counter(p.size for p in placements if p.role == "spare")
    held = {s.cables for s in shared if s.part in catalogue.blocks}
    if stray := held - {_tags_in(p) for p in placements}:
        yield f"no block holds just {' and '.join(', '.join(tags) for tags in sorted(stray))}"
    smallest = _smallest_sides(cables, catalogue, job, shared)
    for size, count in sorted(_spares_wanted(smallest, spares).items()):
        if there[size] < count:
            yield f"{count} spares of {format_mm(size)} mm are asked for, {there[size]} are there"
    share = max((spare.share or Decimal(0) for spare in spares if spare.size is None), default=Decimal(0))
    least = sum((side**2 for side in smallest), Decimal(0)) * share / 100
    covered = sum((size**2 * count for size, count in there.items()), Decimal(0))
    if covered < least:
        yield f"spares are to cover {format_mm(least)} mm², they cover {format_mm(covered)} mm²"


def _tags_in(placement: Placement) -> tuple[str, ...]:
    first = () if placement.cable is None else (placement.cable,)
    return (*first, *(bore.cable for bore in placement.others))


def _smallest_sides(
    cables: Sequence[Cable], catalogue: Catalogue, job: Job, shared: Sequence[Shared]
) -> list[Decimal]:
    """Return the side of the smallest block for each cable, 0 where there is none; once for those that share one."""
    beside = {tag for s in shared for tag in s.cables}
    sides = [catalogue.blocks[s.part].size for s in shared if s.part in catalogue.blocks]
    for cable in cables:
        if cable.tag not in beside:
            held = [
                block.size
                for block in catalogue.blocks.values()
                if not block.several_bores and not any(_hold_faults(cable, block, job))
            ]
            sides.append(min(held, default=Decimal(0)))
    return sides


def _spares_wanted(smallest: Sequence[Decimal], spares: Sequence[Spare]) -> Counter[Decimal]:
    """Return how many spares of each size are asked for, by the smallest blocks of the cables."""
    wanted: Counter[Decimal] = Counter()
    for spare in spares:
        if spare.size is not None and spare.count is not None:
            wanted[spare.size] += spare.count
        elif spare.size is not None and spare.share is not None:
            cables_of = smallest.count(spare.size)
            wanted[spare.size] += int((spare.share * cables_of / 100).to_integral_value(ROUND_CEILING))
    return wanted


def _shared_faults(
    placement: Placement, block: Block, asked: Mapping[str, Cable], shared: Sequence[Shared], job: Job
) -> Iterator[str]:
    """Judge a block with several bores: its cables are those that share it, and its halves close on all of them."""
    tags = _tags_in(placement)
    if not any(s.part == placement.part and s.cables == tags for s in shared):
        yield f"{placement.part} is for cables that share it, and {', '.join(tags)} are not said to"
    if len(tags) > (block.bores or 1):
        yield f"{placement.part} has {block.bores} bores, and holds {len(tags)} cables"
    if len(tags) < (block.bores or 1) and not block.plug:
        yield f"{placement.part} has no plug for a bore without a cable"
    fits = [placement.fit, *(bore.fit for bore in placement.others)]
    held = [(asked[tag], fit) for tag, fit in zip(tags, fits, strict=True) if tag in asked and fit is not None]
    closes = _closes(block)
    expected: list[Decimal] = []
    ends: list[tuple[Decimal, Decimal]] = []
    for cable, fit in held:
        if fit.part != placement.part or fit.size != placement.size:
            yield f"its fit for {cable.tag} is for {fit.part}"
        faults = tuple(_fit_faults(cable, block, fit, job, alone=False))
        yield from faults
        if faults:
            return
        for close in closes:
            if (close[2], close[3]) == (fit.likely.a, fit.likely.b) and close[0] <= cable.likely <= close[1]:
                expected.append(_gap(close, cable.likely))
                break
        ends.append(_gaps_of(cable, closes, job))
    if any(abs(fit.likely.gap - max(expected)) > _TABLE_ROUNDING for _, fit in held):
        yield f"the gap to expect is {format_mm(max(expected))}, that of the bore with the largest"
    for at, (_, most) in enumerate(ends):
        for least, _ in ends[:at] + ends[at + 1 :]:
            if most - least > (block.bores_differ or 0) + _TABLE_ROUNDING:
                yield f"gaps of its bores may come {format_mm(most - least)} mm apart"
                return


def _gaps_of(cable: Cable, closes: "Sequence[_Close]", job: Job) -> tuple[Decimal, Decimal]:
    """Return the least and the most gap that may come of peeling for a cable by one of its readings, mm."""
    gaps: list[Decimal] = []
    for reading, error in _readings_of(cable, job):
        low, high = max(cable.least, reading - error), min(cable.most, reading + error)
        answer = _answer(closes, reading, error)
        for close in closes:
            if answer is None and close[0] <= high and low <= close[1]:
                gaps += (close[4].least, close[4].most)
            elif answer == (close[2], close[3]) and close[0] <= reading - error and reading + error <= close[1]:
                gaps += (_gap(close, low), _gap(close, high))
    return min(gaps), max(gaps)


# -- what lies together and what stays ----------------------------------------------------------------


def _apart_faults(
    layout: Layout, frame: Frame, catalogue: Catalogue, cables: Sequence[Cable], rules: Sequence[Apart]
) -> Iterator[str]:
    service = {cable.tag: cable.service for cable in cables}
    zoned: set[str] = {name for rule in rules if rule.level == "zone" for name in rule.classes}
    sides = _sides(catalogue)
    for laid, bay in zip(layout.bays, frame.bays, strict=False):
        for rule in rules:
            if rule.level == "bay":
                yield from _together(f"bay {laid.bay}", laid.placements, service, rule.classes)
        for row in laid.rows:
            where = f"bay {laid.bay}, row {row.number}"
            for rule in rules:
                if rule.level == "row":
                    yield from _together(where, row.placements, service, rule.classes)
            yield from (f"{where}: {fault}" for fault in _zone_faults(row, bay, sides, service, zoned))


def _classes_in(placements: Iterable[Placement], service: Mapping[str, str]) -> set[str]:
    return {service[tag] for p in placements for tag in _tags_in(p) if tag in service}


def _together(
    where: str, placements: Sequence[Placement], service: Mapping[str, str], classes: Sequence[str]
) -> Iterator[str]:
    met = sorted(_classes_in(placements, service) & set(classes))
    if len(met) > 1:
        yield f"{where}: {' and '.join(met)} are kept apart, and both are in it"


def _zone_faults(
    row: Row, bay: Bay, sides: set[Decimal], service: Mapping[str, str], zoned: set[str]
) -> Iterator[str]:
    columns = _cut(row.placements, "x")
    met = [_classes_in(column, service) for column in columns]
    if bay.nesting and set().union(*met) & zoned:
        # A nested column is one column, though a line may part it: any reading of the row will do that keeps zones.
        if not _zones_can_be_read(_Box(Decimal(0), row.y, bay.width, row.height), columns, met, bay, sides, zoned):
            named = " and ".join(sorted(set().union(*met) & zoned))
            yield f"cut into columns in whatever way, {named} has no columns of its own, side by side"
        return
    for name in sorted(zoned):
        own = [index for index, classes in enumerate(met) if name in classes]
        for index in own:
            if met[index] != {name}:
                others = " and ".join(sorted(met[index] - {name}))
                yield f"{name} shares column {index + 1} with {others}"
        if own and own != list(range(own[0], own[-1] + 1)):
            yield f"the columns of {name} do not stand side by side"


def _zones_can_be_read(
    box: _Box,
    parts: Sequence[Sequence[Placement]],
    met: Sequence[set[str]],
    bay: Bay,
    sides: set[Decimal],
    zoned: set[str],
) -> bool:
    """Tell whether parts of a row make columns in some way so that every class has its own, side by side."""
    starts = [*(min(p.x for p in part) for part in parts), box.x + box.width]
    # (parts that are read, class of the last column, classes that have ended)
    reached: list[set[tuple[str, frozenset[str]]]] = [set() for _ in starts]
    reached[0].add(("", frozenset()))
    for first, before in enumerate(reached[:-1]):
        for last in range(first, len(parts)) if before else ():
            classes = set().union(*met[first : last + 1])
            if len(classes) > 1 and classes & zoned:
                break
            inside = [p for part in parts[first : last + 1] for p in part]
            column = _Box(starts[first], box.y, starts[last + 1] - starts[first], box.height)
            if not _is_column(column, inside, bay, sides):
                continue
            own = next(iter(classes & zoned), "")
            for previous, ended in before:
                if own not in ended:
                    gone = ended | {previous} if previous not in ("", own) else ended
                    reached[last + 1].add((own, gone))
    return bool(reached[-1])


def _circuit_faults(placements: Sequence[Placement], cables: Sequence[Cable]) -> Iterator[str]:
    bay_of = {tag: p.bay for p in placements for tag in _tags_in(p)}
    circuits: dict[str, set[int]] = {}
    for cable in cables:
        if cable.circuit is not None and cable.tag in bay_of:
            circuits.setdefault(cable.circuit, set()).add(bay_of[cable.tag])
    for circuit, bays in circuits.items():
        if len(bays) > 1:
            listed = " and ".join(map(str, sorted(bays)))
            yield f"the conductors of circuit {circuit} lie in bays {listed}, with magnetic metal between"


def _kept_faults(placements: Sequence[Placement], keep: Sequence[Kept]) -> Iterator[str]:
    at = {(p.bay, p.x, p.y): p for p in placements}
    for kept in keep:
        found = at.get((kept.bay, kept.x, kept.y))
        held = kept.cable if kept.cable is not None else "a spare"
        if found is None or found.size != kept.size or (kept.cable is None) != (found.role == "spare"):
            yield f"{held} is to stay at {format_mm(kept.x)}, {format_mm(kept.y)} in bay {kept.bay}, and does not"
        elif kept.cable != found.cable:
            yield f"{held} is to stay in block {found.position}, which holds {found.cable}"


def _solid_faults(
    placements: Sequence[Placement],
    cables: Sequence[Cable],
    catalogue: Catalogue,
    spares: Sequence[Spare],
    keep: Sequence[Kept],
    job: Job,
    shared: Sequence[Shared],
) -> Iterator[str]:
    wanted = _spares_wanted(_smallest_sides(cables, catalogue, job, shared), spares)
    stay = Counter(kept.size for kept in keep if kept.cable is None)
    there = Counter(p.size for p in placements if p.role == "spare")
    for size, count in sorted(there.items()):
        most = max(wanted[size], stay[size])
        if count > most:
            yield f"{count} spares of {format_mm(size)} mm are there, only {most} are asked for and the rest is solid"


def _filler_faults(placements: Sequence[Placement], catalogue: Catalogue) -> Iterator[str]:
    plugged = {block.size for block in catalogue.single_blocks.values() if block.plug}
    for placement in placements:
        if placement.role == "filler" and placement.size in plugged:
            yield (
                f"block {placement.position} is a filler, and the rest is to be spares: "
                f"there is a plug of {format_mm(placement.size)} mm"
            )


def _seal_faults(
    layout: SealLayout, catalogue: Catalogue, cables: Sequence[Cable], spares: Sequence[Spare], job: Job
) -> Iterator[str]:
    seal = catalogue.split_seals.get(layout.part)
    if seal is None:
        yield f"{layout.part} is no split seal"
        return
    if layout.diameter != seal.diameter:
        yield f"{layout.part} has a diameter of {format_mm(seal.diameter)}, not {format_mm(layout.diameter)}"
    if layout.fit.part != layout.part or layout.fit.size != seal.diameter:
        yield f"its fit is for {layout.fit.part}"
    if spares:
        yield "a split seal leaves no spares"
    if [cable.tag for cable in cables] != [layout.cable]:
        yield f"it holds cable {layout.cable}, the list has {', '.join(c.tag for c in cables) or 'none'}"
    for cable in cables:
        if cable.tag == layout.cable:
            yield from _fit_faults(cable, seal, layout.fit, job)


# -- fit, by counting thousandths -----------------------------------------------------------------------


def _hold_faults(cable: Cable, part: Block | SplitSeal, job: Job) -> Iterator[str]:
    """Tell why a part cannot hold a cable at every diameter it may have and every reading of it."""
    if cable.service == "pipe" and not part.pipes:
        yield f"pipe {cable.tag} stands in a part that takes no pipes"
    if cable.out_of_round_mm is not None and part.not_round is not None and cable.out_of_round_mm > part.not_round:
        yield f"{cable.tag} is less round than its part allows"
    if cable.bonded and not part.bonds:
        yield f"cable {cable.tag} must be bonded, and the part cannot"
    closes = _closes(part)
    reach = cable.least
    for least, most, *_ in sorted(closes, key=lambda c: c[0]):
        if least <= reach <= most:
            reach = most
    if reach < cable.most or not any(c[0] <= cable.least <= c[1] for c in closes):
        yield f"cable {cable.tag} may have a diameter that no number of layers closes around"
        return
    answered = [r for r, error in _shown(closes, job) if _answer(closes, r, error) is not None]
    for reading, _ in _readings_of(cable, job):
        if not answered or not answered[0] <= reading <= answered[-1]:
            yield f"cable {cable.tag}: a reading of {format_mm(reading)} lies outside the part's diameter table"


def _readings_of(cable: Cable, job: Job) -> list[tuple[Decimal, Decimal]]:
    """List every reading a cable may give, with its error."""
    return [
        (reading, error)
        for reading, error in _shown([(cable.least, cable.most)], job)
        if reading + error >= cable.least and reading - error <= cable.most
    ]


def _fit_faults(cable: Cable, part: Block | SplitSeal, fit: Fit, job: Job, alone: bool = True) -> Iterator[str]:
    """Judge one bore; ``alone`` where its halves close on no other cable, so that the gap is its own."""
    yield from _hold_faults(cable, part, job)
    closes = _closes(part)
    likely = [c for c in closes if c[0] <= cable.likely <= c[1]]
    mine = [c for c in likely if (c[2], c[3]) == (fit.likely.a, fit.likely.b) and c[4] == fit.window]
    if not mine:
        yield f"cable {cable.tag}: {fit.likely.a} and {fit.likely.b} layers do not close around its likely diameter"
        return
    if alone and abs(_gap(mine[0], cable.likely) - fit.likely.gap) > _TABLE_ROUNDING:
        yield f"cable {cable.tag}: the gap to expect is {format_mm(_gap(mine[0], cable.likely))}"
    if _off(mine[0], cable.likely) > min(_off(c, cable.likely) for c in likely):
        yield f"cable {cable.tag}: another number of layers brings the gap nearer the middle of its window"
    seen = {_answer(closes, reading, error) for reading, error in _readings_of(cable, job)}
    if fit.measure != (seen != {(fit.likely.a, fit.likely.b)}):
        yield f"cable {cable.tag}: it {'must' if not fit.measure else 'need not'} be measured before peeling"


_Close = tuple[Decimal, Decimal, int, int, Window]
"""Least and most diameter, layers from A and from B, window of the gap."""


def _closes(rule: PeelRule) -> list[_Close]:
    if rule.table:
        return [(row.least, row.most, row.a, row.b, row.gap) for row in rule.table]
    layers = rule.layers
    assert layers is not None  # the model asks for one of the two
    found = []
    for a in range(layers.layers_per_half + 1):
        for b in range(layers.layers_per_half + 1):
            # Halves as even as they can be; the odd layer comes from the half the catalogue names.
            odd = a - b if layers.odd_layer == "A" else b - a
            if odd in (0, 1) and abs(odd) <= layers.halves_differ_by:
                bore = layers.bore + (a + b) * layers.layer
                found.append((bore + layers.gap.least, bore + layers.gap.most, a, b, layers.gap))
    return found


def _gap(close: _Close, diameter: Decimal) -> Decimal:
    least, most, _, _, window = close
    if least == most:
        return (window.least + window.most) / 2
    return window.least + (window.most - window.least) * (diameter - least) / (most - least)


def _off(close: _Close, diameter: Decimal) -> Decimal:
    return abs(_gap(close, diameter) - (close[4].least + close[4].most) / 2).quantize(Decimal("1e-9"))


def _answer(closes: Sequence[_Close], reading: Decimal, error: Decimal) -> tuple[int, int] | None:
    held = [c for c in closes if c[0] <= reading - error and reading + error <= c[1]]
    if not held:
        return None
    best = min(held, key=lambda c: (_off(c, reading), c[2] + c[3], c[2]))
    return best[2], best[3]


def _shown(ranges: Sequence[tuple[Decimal, Decimal] | _Close], job: Job) -> list[tuple[Decimal, Decimal]]:
    """List every reading the job's instruments may show near some ranges, smallest first, with its error."""
    widest = max(band.error for band in job.readings)
    low, high = min(r[0] for r in ranges) - widest, max(r[1] for r in ranges) + widest
    errors: dict[Decimal, Decimal] = {}
    for number, band in enumerate(job.readings):
        start = Decimal(0) if number == 0 else job.readings[number - 1].up_to or Decimal(0)
        reading = (low // band.step) * band.step
        while reading <= high:
            # The band's instrument shows this reading for some diameter of the band.
            if (
                reading > 0
                and reading + band.error > start
                and (band.up_to is None or reading - band.error <= band.up_to)
            ):
                errors[reading] = max(band.error, errors.get(reading, band.error))
            reading += band.step
    own = {r for r in errors if r % job.reading_at(r).step == 0}
    return sorted((r, e) for r, e in errors.items() if r in own and low <= r <= high)
