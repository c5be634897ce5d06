"""The layout as it was built: the planned one with what a record says lies elsewhere, where that can be drawn.

A row that was cut anew is laid again from its blocks in their order, left to right and low before high: a block as
high as the row is a column, lower ones are stacked to its height, and all columns together are as wide as the bay.
Whatever does not come out so, or whose sizes nobody knows, is not drawn: a drawing of what isn't there is worse than
none. Places keep the names that the record gives them.
"""

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal

from generator.engine.digest import parts_in_use
from generator.model.catalogue import Block
from generator.model.layout import BayLayout, Fit, Layout, Placement, Row
from generator.model.pack import TransitPack
from generator.model.record import PlaceChanged


def rebuild(layout: Layout, places: Mapping[str, PlaceChanged], pack: TransitPack) -> Layout | None:
    """Return ``layout`` with ``places`` changed, by their positions; None where what was built can't be drawn."""
    several = len(layout.bays) > 1
    left = set(places)
    bays = []
    for bay in layout.bays:
        rows = []
        for row in bay.rows:
            name = f"{bay.bay}.{row.number}" if several else str(row.number)
            own = {position: place for position, place in places.items() if position.rpartition(".")[0] == name}
            left -= own.keys()
            new = _rebuild_row(bay, row, own, pack) if own else row
            if new is None:
                return None
            rows.append(new)
        bays.append(bay.model_copy(update={"rows": tuple(rows)}))
    built = layout.model_copy(update={"bays": tuple(bays)})
    tags = [tag for placed in built.placements for tag in placed.cables]
    return None if left or len(tags) != len(set(tags)) else built


def _rebuild_row(bay: BayLayout, row: Row, places: Mapping[str, PlaceChanged], pack: TransitPack) -> Row | None:
    planned = {placed.position: placed for placed in row.placements}
    put: list[Placement | None] = []
    for position in sorted({*planned, *places}, key=_number):
        old, change = planned.get(position), places.get(position)
        if change is None:
            put.append(old)
        elif change.role != "nothing":
            put.append(_placed(old, change, position, bay, row, pack))
    if any(placed is None for placed in put):
        return None
    blocks = [placed for placed in put if placed is not None]
    same = [(b.position, b.size) for b in blocks] == [(b.position, b.size) for b in row.placements]
    if not same:
        laid = list(_lay(blocks, bay, row))
        if len(laid) != len(blocks):
            return None
        blocks = laid
    return row.model_copy(update={"placements": tuple(blocks)})


def _lay(blocks: Sequence[Placement], bay: BayLayout, row: Row) -> Iterator[Placement]:
    """Yield blocks with their corners, all of them only where they fill the row."""
    columns: list[tuple[Placement, ...]] = []
    here = 0
    while here < len(blocks):
        size = blocks[here].size
        high = int(row.height / size)
        column = tuple(blocks[here : here + high])
        if high * size != row.height or [block.size for block in column] != [size] * high:
            return
        columns.append(column)
        here += high
    if sum(column[0].size for column in columns) != bay.width:
        return
    x = Decimal(0)
    for column in columns:
        for level, block in enumerate(column):
            yield block.model_copy(update={"x": x, "y": row.y + level * block.size})
        x += column[0].size


def _number(position: str) -> int:
    last = position.rpartition(".")[2]
    return int(last) if last.isascii() and last.isdigit() else 0


def _placed(
    old: Placement | None, change: PlaceChanged, position: str, bay: BayLayout, row: Row, pack: TransitPack
) -> Placement | None:
    """Return a place with what lies there now; None where its size, or what lies in its other bores, is not known."""
    catalogue = parts_in_use(pack)
    part = change.part or (old.part if old else "")
    known = (catalogue.fillers if change.role == "filler" else catalogue.blocks).get(part)
    if (old and old.others) or (isinstance(known, Block) and known.several_bores):
        return None
    if known is None and (old is None or part != old.part):
        return None
    if change.role == "cable" and change.cable not in {cable.tag for cable in pack.cables}:
        return None
    size = known.size if known else old.size if old else Decimal(0)
    fit = pack.fits.get(change.cable or "") if change.role == "cable" else None
    number = _number(position)
    return Placement(
        position=position,
        bay=bay.bay,
        row=row.number,
        place=number,
        x=old.x if old else Decimal(0),
        y=old.y if old else row.y,
        size=size,
        role=change.role if change.role != "nothing" else "filler",
        part=part,
        cable=change.cable if change.role == "cable" else None,
        # Layers are those of the planned block: in another one it is measured again.
        fit=fit if isinstance(fit, Fit) and fit.part == part else None,
    )
