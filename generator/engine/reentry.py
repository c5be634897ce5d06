"""Reentry: one more cable in a transit that is closed, with the least disturbance.

What is opened: the clamping unit comes out, then row plates and rows from the top down to the row of the new
block, and in that row the blocks above its place. Every cable whose block is opened or moved gets new halves;
spares and fillers go back as they are. Ways, in this order (common practice, no source):

1. *spare*: the block of a spare of the right size, or the place of a filler of that size;
2. *recut*: columns without a cable of one row are cut anew; else the whole row is, its cables in the same blocks;
3. *repack*: one bay is packed anew, or the whole frame.

Within a way: fewest rows out, fewest cables disturbed, smallest block, then a row that has the cable's class. A
re-cut makes single blocks and stacked columns, no nested ones. Classes are kept apart and what stays stays, as
``engine.packing`` says. Of asked-for spares any may be used up: they were left for this.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import get_args

from generator.engine.fit import diameter_table, fit_cable
from generator.engine.packing import Demand, Rules, pack_frame
from generator.model.catalogue import Bay, Catalogue, Frame
from generator.model.job import Apart, Cable, Job, Kept
from generator.model.layout import BayLayout, Fit, Layout, NoLayout, Placement, Role, Row
from generator.model.reentry import Addition, AtHand, SizeLine, Way
from generator.model.scalars import ServiceClass


@dataclass(frozen=True)
class Built:
    """A transit as it stands: its layout, and all that a new layout of it must keep.

    ``cables`` are the cables of the layout by tag. Its catalogue has every part of the sealing system.
    """

    layout: Layout
    frame: Frame
    catalogue: Catalogue
    job: Job
    cables: Mapping[str, Cable]
    apart: tuple[Apart, ...] = ()
    keep: tuple[Kept, ...] = ()

    @cached_property
    def solid(self) -> dict[Decimal, tuple[str, Role]]:
        """What stands where no cable does, by size: the plain block with a plug, else the filler."""
        found: dict[Decimal, tuple[str, Role]] = {}
        for part, filler in sorted(self.catalogue.fillers.items()):
            found.setdefault(filler.size, (part, "filler"))
        plugs = [(b.size, b.bonds, b.pipes, part) for part, b in self.catalogue.single_blocks.items() if b.plug]
        for size, _, _, part in sorted(plugs, reverse=True):
            found[size] = (part, "spare")
        return found

    @cached_property
    def demands(self) -> dict[str, Demand]:
        """The cables with every block that holds them, by tag: of those that share one, by that at the left."""
        shared = {p.cable: p for p in self.layout.placements if p.others}
        beside = {bore.cable for p in shared.values() for bore in p.others}
        found: dict[str, Demand] = {}
        for tag, cable in self.cables.items():
            place = shared.get(tag)
            if place is not None and place.fit is not None:
                others = tuple((self.cables[bore.cable], bore.fit) for bore in place.others)
                found[tag] = Demand(cable, (place.fit,), others)
            elif tag not in beside:
                found[tag] = Demand(cable, fit_cable(cable, self.catalogue, self.job))
        return found

    @property
    def free_bores(self) -> tuple[str, ...]:
        """What pages call the bores of shared blocks that hold a plug only."""
        blocks = self.catalogue.blocks
        shared = [p for p in self.layout.placements if p.others]
        return tuple(name for p in shared for name in p.plugged(blocks[p.part].bores or 0))

    def name(self, bay: int, row: int) -> str:
        """Return what pages call a row."""
        return f"{bay}.{row}" if len(self.frame.bays) > 1 else str(row)


@dataclass(frozen=True)
class _Found:
    """A way that may do, before what it costs is written out: the row or rows as they become."""

    way: Way
    bay: int
    row: int
    fit: Fit
    placements: tuple[Placement, ...]
    """The row's blocks afterwards; not yet numbered."""
    disturbed: tuple[str, ...]
    pieces: int = 0


def add_cable(built: Built, cable: Cable, limit: int) -> Addition | NoLayout:
    """Find the least disturbance that makes room for ``cable`` in a closed transit.

    ``limit`` bounds the search of each repack in steps. A NoLayout says that there is no room, or, when it gave
    up, that none was found within the limit. The rules stand above.
    """
    fits = _one_a_size(fit_cable(cable, built.catalogue, built.job))
    if not fits:
        return _no_room(cable, "no block of the sealing system holds its whole range")
    return _in_a_row(built, cable, fits) or _repack(built, cable, fits, limit)


@dataclass(frozen=True)
class OneBlock:
    """A block and the cable in the middle of what it answers; ``least`` and ``most`` reading it answers, mm."""

    fit: Fit
    least: Decimal
    most: Decimal


@dataclass(frozen=True)
class BlockSize:
    """The blocks of one size in a sealing system, for a plain cable, a bonded one and a pipe, each None for none."""

    size: Decimal
    plain: OneBlock | None
    bonded: OneBlock | None
    pipe: OneBlock | None


def block_sizes(catalogue: Catalogue, job: Job) -> tuple[BlockSize, ...]:
    """Return the sizes of a sealing system, smallest first: the same for all transits of a job."""
    return tuple(
        BlockSize(
            size,
            _middle(catalogue, job, size, bonded=False, pipe=False),
            _middle(catalogue, job, size, bonded=True, pipe=False),
            _middle(catalogue, job, size, bonded=False, pipe=True),
        )
        for size in sorted({block.size for block in catalogue.single_blocks.values()})
    )


def _middle(catalogue: Catalogue, job: Job, size: Decimal, bonded: bool, pipe: bool) -> OneBlock | None:
    parts = [
        (block.bonds and not bonded, block.pipes and not pipe, part)
        for part, block in catalogue.single_blocks.items()
        if block.size == size and (block.bonds or not bonded) and (block.pipes or not pipe)
    ]
    if not parts:
        return None
    part = min(parts)[2]
    rows = [row for row in diameter_table(part, size, catalogue.blocks[part], job).rows if row.peel]
    if not rows:
        return None
    middle = rows[len(rows) // 2].least
    cable = _PLAIN.model_copy(
        update={"bonded": bonded, "service": "pipe" if pipe else "power", "least": middle, "most": middle}
    )
    fit = next((fit for fit in fit_cable(cable, catalogue, job) if fit.part == part), None)
    return None if fit is None else OneBlock(fit, rows[0].least, rows[-1].most)


def every_size(built: Built, sizes: Sequence[BlockSize], limit: int) -> tuple[SizeLine, ...]:
    """Answer for one more cable in a block of each size, smallest first, class by class.

    Classes with the same answer share a line. ``limit`` bounds the search of each repack in steps.
    """
    lines: list[SizeLine] = []
    for size in sizes:
        groups: dict[tuple[object, ...], SizeLine] = {}
        packed: dict[object, Addition | NoLayout] = {}
        for service in get_args(ServiceClass):
            block = size.pipe if service == "pipe" else size.plain
            if block is None:
                continue
            cable = _PLAIN.model_copy(update={"service": service})
            answer: Addition | NoLayout | None = _in_a_row(built, cable, [block.fit])
            if answer is None:
                # Only what is kept apart makes a class another: else one packing serves all.
                key = service if built.apart else block.fit.part
                if key not in packed:
                    packed[key] = _repack(built, cable, [block.fit], limit)
                answer = packed[key]
            addition = answer if isinstance(answer, Addition) else None
            alike = (addition.way, addition.bay, addition.row, addition.position) if addition else ()
            known = groups.get(alike)
            plain, bonded, pipe = (one.fit.part if one else "" for one in (size.plain, size.bonded, size.pipe))
            groups[alike] = (
                known.model_copy(update={"classes": (*known.classes, service)})
                if known
                else SizeLine(
                    size=size.size,
                    least=block.least,
                    most=block.most,
                    parts=(plain, bonded, pipe),
                    classes=(service,),
                    addition=addition,
                    gave_up=isinstance(answer, NoLayout) and answer.gave_up,
                )
            )
        lines += groups.values()
    return tuple(lines)


def _in_a_row(built: Built, cable: Cable, fits: Sequence[Fit]) -> Addition | None:
    """Find the least disturbance that leaves every other row as it is."""
    for candidates in (_free_places(built, fits), _recuts(built, cable, fits)):
        for found in sorted(candidates, key=lambda found: _cost(built, cable, found)):
            layout = _put(built, cable, found)
            if _keeps_apart(built, cable, layout.bays[found.bay - 1]) and _keeps(built, layout):
                return _addition(built, cable, found, layout)
    return None


def _one_a_size(fits: Sequence[Fit]) -> tuple[Fit, ...]:
    first: dict[Decimal, Fit] = {}
    for fit in fits:
        first.setdefault(fit.size, fit)
    return tuple(first.values())


def _no_room(cable: Cable, why: str) -> NoLayout:
    return NoLayout(
        what=f"there is no room for {cable.tag}", why=why, mend="take the cable through another transit, or a new one"
    )


def _above(built: Built, bay: int, row: int) -> list[Row]:
    return [other for other in built.layout.bays[bay - 1].rows if other.number > row]


def _cost(built: Built, cable: Cable, found: _Found) -> tuple[object, ...]:
    rows = _above(built, found.bay, found.row)
    row = built.layout.bays[found.bay - 1].rows[found.row - 1]
    strange = all(built.cables[p.cable].service != cable.service for p in row.placements if p.cable)
    at = next((p.x, p.y) for p in found.placements if p.cable == _NEW)
    return (
        found.way == "filler",
        len(rows),
        len(_disturbed(rows)) + len(found.disturbed),
        found.fit.size,
        found.pieces,
        strange,
        found.bay,
        *at,
    )


def _disturbed(rows: Sequence[Row]) -> tuple[str, ...]:
    return _cables_of(p for row in reversed(rows) for p in row.placements)


def _cables_of(placements: Iterable[Placement]) -> tuple[str, ...]:
    return tuple(tag for p in placements for tag in p.cables)


# -- in place of a spare or a filler ------------------------------------------------------------------

_NEW = "\0"
"""Stands for the new cable until its layout is written: no tag of a schedule can be this."""

_PLAIN = Cable.model_construct(tag=_NEW, service="power", least=Decimal(1), most=Decimal(1))


def _free_places(built: Built, fits: Sequence[Fit]) -> Iterator[_Found]:
    by_size = {fit.size: fit for fit in fits}
    promised = {(kept.bay, kept.x, kept.y) for kept in built.keep if kept.cable is None}
    for bay in built.layout.bays:
        for row in bay.rows:
            for place in row.placements:
                fit = by_size.get(place.size)
                if place.role == "cable" or fit is None or (bay.bay, place.x, place.y) in promised:
                    continue
                taken = place.model_copy(update=_holding(fit))
                yield _Found(
                    "spare" if place.role == "spare" else "filler",
                    bay.bay,
                    row.number,
                    fit,
                    tuple(taken if p is place else p for p in row.placements),
                    _cables_of(_on(place, row.placements)),
                )


def _holding(fit: Fit) -> dict[str, object]:
    return {"role": "cable", "part": fit.part, "cable": _NEW, "fit": fit, "others": ()}


def _on(place: Placement, placements: Sequence[Placement]) -> list[Placement]:
    """Return the blocks of a row that stand above a place, or above one that does."""
    opened = [place]
    for other in sorted(placements, key=lambda p: p.y):
        if other is not place and any(
            other.y >= below.y + below.size and other.x < below.x + below.size and below.x < other.x + other.size
            for below in opened
        ):
            opened.append(other)
    return opened[1:]


# -- one row cut anew --------------------------------------------------------------------------------------


def _recuts(built: Built, cable: Cable, fits: Sequence[Fit]) -> Iterator[_Found]:
    for bay, part in zip(built.layout.bays, built.frame.bays, strict=True):
        for row in bay.rows:
            for fit in fits:
                if _stack(fit.size, row.height, part):
                    yield from _free_columns(built, bay, part, row, fit)
                    yield from _whole_row(built, bay, part, row, fit, cable)


def _stack(size: Decimal, height: Decimal, bay: Bay) -> int:
    """Return how many blocks of a size make a column as high as a row; 0 when none do."""
    if size == height:
        return 1
    return int(height / size) if bay.stacking and height % size == 0 else 0


def _columns(row: Row) -> list[list[Placement]]:
    """Part a row wherever an upright line passes none of its blocks, left to right."""
    parts: list[list[Placement]] = []
    end = Decimal(0)
    for place in sorted(row.placements, key=lambda p: (p.x, p.y)):
        if not parts or place.x >= end:
            parts.append([])
        parts[-1].append(place)
        end = max(end, place.x + place.size)
    return parts


def _free_columns(built: Built, bay: BayLayout, part: Bay, row: Row, fit: Fit) -> Iterator[_Found]:
    """Cut neighbouring columns without a cable anew: nothing in the row is disturbed."""
    columns = _columns(row)
    starts = [column[0].x for column in columns] + [bay.width]
    for first in range(len(columns)):
        for last in range(first, len(columns)):
            if any(p.cable for p in columns[last]):
                break
            width = starts[last + 1] - starts[first]
            made = _column_and_fill(built, part, row, fit, starts[first], width)
            if made is None:
                continue
            kept = [p for i, column in enumerate(columns) if not first <= i <= last for p in column]
            blocks = tuple(sorted((*kept, *made), key=lambda p: (p.x, p.y)))
            yield _Found("recut", bay.bay, row.number, fit, blocks, (), len(made))


def _column_and_fill(
    built: Built, part: Bay, row: Row, fit: Fit, x: Decimal, width: Decimal
) -> list[Placement] | None:
    made = _column(built, part, row, fit.size, x, [fit])
    rest = None if made is None else _filled(built, part, row.height, width - fit.size)
    if made is None or rest is None:
        return None
    x += fit.size
    for size in rest:
        made += _column(built, part, row, size, x, []) or []
        x += size
    return made


def _column(
    built: Built, bay: Bay, row: Row, size: Decimal, x: Decimal, holds: Sequence[Fit | Placement]
) -> list[Placement] | None:
    """Stack blocks of a size to the row's height: what ``holds`` first, then spares or fillers; None if none fit.

    A Fit stands for the new cable, a Placement for a cable that is there.
    """
    stack = _stack(size, row.height, bay)
    solid = built.solid.get(size)
    if not stack or (solid is None and len(holds) < stack):
        return None
    column = []
    for level in range(stack):
        held = holds[level] if level < len(holds) else None
        at = {"x": x, "y": row.y + level * size}
        if isinstance(held, Placement):
            column.append(held.model_copy(update=at))
            continue
        base = row.placements[0].model_copy(update={**at, "size": size})
        if held is not None:
            column.append(base.model_copy(update=_holding(held)))
        elif solid is not None:
            empty = {"part": solid[0], "role": solid[1], "cable": None, "fit": None, "others": ()}
            column.append(base.model_copy(update=empty))
    return column


def _filled(built: Built, bay: Bay, height: Decimal, width: Decimal) -> tuple[Decimal, ...] | None:
    """Fill a width with columns of spares and fillers in the fewest pieces, large ones first; None if it can't be."""
    stacks = {size: stack for size in built.solid if (stack := _stack(size, height, bay))}
    best: dict[Decimal, tuple[int, tuple[Decimal, ...]] | None] = {Decimal(0): (0, ())}

    def fill(left: Decimal) -> tuple[int, tuple[Decimal, ...]] | None:
        if left not in best:
            ways = []
            for size, stack in stacks.items():
                if size <= left and (rest := fill(left - size)) is not None:
                    ways.append((rest[0] + stack, tuple(sorted((*rest[1], size), reverse=True))))
            best[left] = min(ways, key=lambda way: (way[0], tuple(-size for size in way[1])), default=None)
        return best[left]

    found = fill(width) if width >= 0 else None
    return None if found is None else found[1]


def _whole_row(built: Built, bay: BayLayout, part: Bay, row: Row, fit: Fit, cable: Cable) -> Iterator[_Found]:
    """Cut a whole row anew: its cables keep their blocks' sizes, and all are disturbed."""
    held: defaultdict[Decimal, list[Fit | Placement]] = defaultdict(list)
    services = [built.cables[p.cable].service for p in row.placements if p.cable]
    rank: dict[str, int] = {
        service: number for number, service in enumerate(dict.fromkeys((*services, cable.service)))
    }
    for place in sorted(row.placements, key=lambda p: (rank[built.cables[p.cable].service] if p.cable else 0, p.x)):
        if place.cable:
            held[place.size].append(place)
    same = held[fit.size]
    at = len([h for h in same if isinstance(h, Placement) and _rank(built, rank, h) <= rank[cable.service]])
    same.insert(at, fit)
    columns: list[tuple[tuple[int, Decimal], Decimal, list[Fit | Placement]]] = []
    for size, cables in held.items():
        stack = _stack(size, row.height, part)
        if not stack:
            return
        for start in range(0, len(cables), stack):
            column = cables[start : start + stack]
            first = column[0]
            key = (
                (_rank(built, rank, first), first.x)
                if isinstance(first, Placement)
                else (rank[cable.service], bay.width)
            )
            columns.append((key, size, column))
    rest = _filled(built, part, row.height, bay.width - sum((size for _, size, _ in columns), Decimal(0)))
    if rest is None:
        return
    columns.sort(key=lambda column: column[0])
    made: list[Placement] = []
    x = Decimal(0)
    for size, holds in [*((size, holds) for _, size, holds in columns), *((size, []) for size in rest)]:
        blocks = _column(built, part, row, size, x, holds)
        if blocks is None:
            return
        made += blocks
        x += size
    yield _Found(
        "recut",
        bay.bay,
        row.number,
        fit,
        tuple(made),
        _cables_of(row.placements),
        len(made),
    )


def _rank(built: Built, rank: Mapping[str, int], place: Placement) -> int:
    return rank[built.cables[place.cable or ""].service]


# -- the layout that comes of it ------------------------------------------------------------------------------


def _put(built: Built, cable: Cable, found: _Found) -> Layout:
    """Return the layout with the row as it becomes, its places counted anew."""
    several = len(built.frame.bays) > 1
    bays = list(built.layout.bays)
    bay = bays[found.bay - 1]
    rows = list(bay.rows)
    rows[found.row - 1] = rows[found.row - 1].model_copy(
        update={
            "placements": tuple(
                p.model_copy(
                    update={
                        "place": place,
                        "position": f"{bay.bay}.{found.row}.{place}" if several else f"{found.row}.{place}",
                        "cable": cable.tag if p.cable == _NEW else p.cable,
                    }
                )
                for place, p in enumerate(found.placements, 1)
            )
        }
    )
    bays[found.bay - 1] = bay.model_copy(update={"rows": tuple(rows)})
    return built.layout.model_copy(update={"bays": tuple(bays), "proven": False, "note": ""})


def _keeps_apart(built: Built, cable: Cable, bay: BayLayout) -> bool:
    service = {tag: known.service for tag, known in built.cables.items()} | {cable.tag: cable.service}
    for rule in built.apart:
        apart: set[str] = set(rule.classes)
        if rule.level == "bay" and len(apart & _services(bay.placements, service)) > 1:
            return False
        for row in bay.rows:
            if rule.level == "row" and len(apart & _services(row.placements, service)) > 1:
                return False
            if rule.level == "zone" and not _zones_kept(row, service, apart):
                return False
    return True


def _services(placements: Sequence[Placement], service: Mapping[str, str]) -> set[str]:
    return {service[tag] for p in placements for tag in p.cables}


def _zones_kept(row: Row, service: Mapping[str, str], apart: set[str]) -> bool:
    """Each column of a class that is kept apart is pure, and its columns stand side by side."""
    columns = [_services(column, service) for column in _columns(row)]
    if any(column & apart and len(column) > 1 for column in columns):
        return False
    for one in apart:
        at = [number for number, column in enumerate(columns) if one in column]
        if at and at[-1] - at[0] + 1 != len(at):
            return False
    return True


def _keeps(built: Built, layout: Layout) -> bool:
    there = {(p.bay, p.x, p.y, p.size, p.cable) for p in layout.placements if p.role != "filler"}
    return all((kept.bay, kept.x, kept.y, kept.size, kept.cable) in there for kept in built.keep)


def _addition(built: Built, cable: Cable, found: _Found, layout: Layout) -> Addition:
    bay = built.layout.bays[found.bay - 1]
    rows = _above(built, found.bay, found.row)
    disturbed = (*_disturbed(rows), *found.disturbed)
    before = Counter(p.part for p in bay.rows[found.row - 1].placements if p.role != "cable")
    after = Counter(p.part for p in found.placements if p.role != "cable")
    return Addition(
        way=found.way,
        size=found.fit.size,
        part=found.fit.part,
        bay=found.bay,
        row=found.row,
        position=next(p.position for p in layout.placements if p.cable == cable.tag),
        rows_out=tuple(built.name(found.bay, row.number) for row in reversed(rows)),
        plates_out=sum(1 for plate in bay.plates if plate.above_row >= found.row),
        disturbed=disturbed,
        at_hand=_at_hand(built, found.fit.part, disturbed, after - before),
        layout=layout,
    )


def _at_hand(built: Built, part: str, disturbed: Sequence[str], anew: Counter[str]) -> tuple[AtHand, ...]:
    halves = Counter(p.part for p in built.layout.placements if p.cable in disturbed)
    return (
        AtHand(part=part, count=1, why="new cable"),
        *(AtHand(part=part, count=count, why="new halves") for part, count in sorted(halves.items())),
        *(AtHand(part=part, count=count, why="cut anew") for part, count in sorted(anew.items())),
    )


# -- all packed anew ------------------------------------------------------------------------------------------


def _repack(built: Built, cable: Cable, fits: Sequence[Fit], limit: int) -> Addition | NoLayout:
    """Pack one bay anew, the one with the fewest cables that has the room; else the whole frame."""
    gave_up = False
    several = len(built.frame.bays) > 1
    bays = sorted(built.layout.bays, key=lambda bay: (len(_disturbed(bay.rows)), bay.bay)) if several else []
    for chosen in (*([bay.bay] for bay in bays), [bay.bay for bay in built.layout.bays]):
        packed = _packed(built, cable, fits, chosen, limit)
        if isinstance(packed, Layout):
            if several and len(chosen) == 1:
                packed = _in_place(built, packed, chosen[0])
            return _repacked(built, cable, packed, chosen)
        gave_up = gave_up or packed.gave_up
    found = _no_room(cable, "no spare, no row cut anew and no other packing of this frame takes one block more")
    return found.model_copy(update={"gave_up": gave_up}) if gave_up else found


def _packed(built: Built, cable: Cable, fits: Sequence[Fit], bays: Sequence[int], limit: int) -> Layout | NoLayout:
    stay = {p.cable for bay in built.layout.bays if bay.bay in bays for p in bay.placements if p.cable}
    demands = [demand for tag, demand in built.demands.items() if tag in stay]
    demands.append(Demand(cable, tuple(fits)))
    renumbered = {bay: number for number, bay in enumerate(bays, 1)}
    keep = tuple(kept.model_copy(update={"bay": renumbered[kept.bay]}) for kept in built.keep if kept.bay in bays)
    frame = built.frame.model_copy(update={"bays": tuple(built.frame.bays[bay - 1] for bay in bays)})
    if _smallest_area(demands) > sum(_room_of_rows(built, built.layout.bays[bay - 1]) for bay in bays):
        return _no_room(cable, "the blocks of its cables and one more cover more than its rows")
    return pack_frame(frame, built.catalogue, demands, (), limit, Rules(built.apart, keep), reasons=False)


def _smallest_area(demands: Sequence[Demand]) -> Decimal:
    return sum((demand.fits[0].size ** 2 for demand in demands if demand.fits), Decimal(0))


def _room_of_rows(built: Built, bay: BayLayout) -> Decimal:
    """Return the most that rows of a bay can cover, mm²: one row, and plates where they belong."""
    part = built.frame.bays[bay.bay - 1]
    plate = built.catalogue.row_plates[part.row_plate].thickness if part.plate_under_unit else Decimal(0)
    return bay.width * (bay.height - bay.unit.height - plate)


def _in_place(built: Built, packed: Layout, number: int) -> Layout:
    """Put one bay that was packed alone among the others."""
    (bay,) = packed.bays
    rows = tuple(
        row.model_copy(
            update={
                "placements": tuple(
                    p.model_copy(update={"bay": number, "position": f"{number}.{p.row}.{p.place}"})
                    for p in row.placements
                )
            }
        )
        for row in bay.rows
    )
    bays = list(built.layout.bays)
    bays[number - 1] = bay.model_copy(update={"bay": number, "rows": rows})
    return packed.model_copy(update={"bays": tuple(bays)})


def _solid_parts(layout: Layout) -> Counter[str]:
    """Count what holds no cable: spares, fillers, row plates."""
    blocks = [p.part for p in layout.placements if p.role != "cable"]
    return Counter((*blocks, *(plate.part for bay in layout.bays for plate in bay.plates)))


def _repacked(built: Built, cable: Cable, layout: Layout, chosen: Sequence[int]) -> Addition:
    old = [bay for bay in built.layout.bays if bay.bay in chosen]
    disturbed = tuple(tag for bay in old for tag in _disturbed(bay.rows))
    new = next(p for p in layout.placements if p.cable == cable.tag)
    before, after = _solid_parts(built.layout), _solid_parts(layout)
    halves = Counter(p.part for p in layout.placements if p.cable in disturbed)
    return Addition(
        way="repack",
        size=new.size,
        part=new.part,
        bay=new.bay,
        row=new.row,
        position=new.position,
        rows_out=tuple(built.name(bay.bay, row.number) for bay in old for row in reversed(bay.rows)),
        plates_out=sum(len(bay.plates) for bay in old),
        disturbed=disturbed,
        at_hand=(
            AtHand(part=new.part, count=1, why="new cable"),
            *(AtHand(part=part, count=count, why="new halves") for part, count in sorted(halves.items())),
            *(AtHand(part=part, count=count, why="cut anew") for part, count in sorted((after - before).items())),
        ),
        layout=layout,
    )
