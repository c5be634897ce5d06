"""What is needed: parts counted from layouts, what is used up, tools of the steps; and their sums over a job."""

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import get_args

from generator.engine.bolts import are_same_threads
from generator.engine.facts import Situation
from generator.model.catalogue import Catalogue, Consumable, Frame, Opening, PartGroup
from generator.model.facts import _
from generator.model.job import Definition
from generator.model.layout import SealLayout
from generator.model.pack import TransitPack
from generator.model.procedure import Bring, Message, Step
from generator.model.quantities import Need, PartKey, Quantities, Stock, StockLine, ToolLine
from generator.model.scalars import format_mm

WORDS = (
    _("Sleeve"),
    _("Frame"),
    _("Split seal {size}"),
    _("Block {size}"),
    _("Filler {size}"),
    _("Row plate"),
    _("Clamping unit"),
    "{name}",
)
"""Every text this module gives to be translated, in the order of PartGroup."""

_ORDER: tuple[str, ...] = get_args(PartGroup)


def list_bring(situation: Situation, steps: Iterable[Step]) -> tuple[Bring, ...]:
    """List what to bring: parts in the order they go in, what is used up, then tools in the order of the work.

    Counts come from the layout, amounts from the catalogue, tools from ``steps`` (each once). There must
    be a layout.
    """
    needs = count_needs(situation)
    return (
        *(_bring(need) for need in needs if need.group != "consumable"),
        *(_bring(need) for need in needs if need.group == "consumable"),
        *(Bring(group="tool", name=tool) for tool in _tools(steps)),
    )


def count_needs(situation: Situation) -> tuple[Need, ...]:
    """Count what one transit needs: parts in the order they go in, then what is used up. There must be a layout."""
    system = situation.transit.catalogue or situation.job.catalogues[0]
    return tuple(
        Need(group=part.group, catalogue=system, part=part.part, name=part.name, amount=part.amount, unit=part.unit)
        for part in (*_parts(situation), *_used_up(situation))
    )


def used_up(situation: Situation) -> tuple[tuple[str, str, str], ...]:
    """Return what is used up as (part number, name, amount with unit), in the order of the catalogue.

    What is used for each block counts every block, spare and filler, or the one split seal. What the
    transit does not use (mortar, where nothing is grouted) is left out.
    """
    return tuple(
        (use.part, use.name.values["name"], f"{format_mm(use.amount)} {use.unit}") for use in _used_up(situation)
    )


def joint_litres(frame: Frame, opening: Opening, thickness: Decimal) -> Decimal:
    """Return the volume of the joint round a frame set in its opening, in litres.

    The largest opening the tolerance allows, its corners square, less the frame's outline, as deep as frame
    and wall (``thickness``, mm) lie in one another. Formula: (opening − frame) · least(depth, thickness) / 10⁶.
    """
    pi = Decimal(math.pi)
    if opening.diameter is not None:
        hole = pi / 4 * (opening.diameter + opening.plus) ** 2
    else:
        assert opening.width is not None and opening.height is not None
        hole = (opening.width + opening.plus) * (opening.height + opening.plus)
    body = pi / 4 * frame.width**2 if frame.shape == "round" else frame.width * frame.height
    return (hole - body) * min(frame.depth, thickness) / 10**6


@dataclass(frozen=True)
class _Part:
    group: PartGroup
    part: str
    name: Message
    amount: Decimal
    unit: str = ""


def _parts(situation: Situation) -> Iterator[_Part]:
    transit, catalogue = situation.transit, situation.catalogue
    if situation.held.sleeve:
        yield _part(catalogue, "sleeve", situation.held.sleeve)
    if isinstance(situation.layout, SealLayout):
        yield _part(catalogue, "split-seal", situation.layout.part)
        return
    if situation.frame and situation.frame.row:
        yield _part(catalogue, "frame", situation.frame.row.frame, situation.frame.row.count)
    elif transit.frame:
        yield _part(catalogue, "frame", transit.frame)
    halves = Counter(p.part for p in situation.placements if p.role != "filler")
    for part, count in sorted(halves.items(), key=lambda item: (-catalogue.blocks[item[0]].size, item[0])):
        yield _part(catalogue, "block", part, count)
    solid = Counter(p.part for p in situation.placements if p.role == "filler")
    for part, count in sorted(solid.items(), key=lambda item: (-catalogue.fillers[item[0]].size, item[0])):
        yield _part(catalogue, "filler", part, count)
    for part, count in sorted(Counter(plate.part for bay in situation.bays for plate in bay.plates).items()):
        yield _part(catalogue, "row-plate", part, count)
    for part, count in sorted(Counter(bay.unit.part for bay in situation.bays).items()):
        yield _part(catalogue, "clamping-unit", part, count)


def _part(catalogue: Catalogue, group: PartGroup, part: str, count: int = 1) -> _Part:
    return _Part(group, part, _name(catalogue, group, part), Decimal(count))


_WORDS: dict[PartGroup, str] = dict(zip(get_args(PartGroup), WORDS, strict=True))


def _name(catalogue: Catalogue, group: PartGroup, part: str) -> Message:
    """Name a part as pages do, with its size where it has one."""
    values = {}
    if group == "consumable":
        values = {"name": catalogue.consumables[part].name}
    elif size := _size(catalogue, group, part):
        values = {"size": f"{format_mm(size)} mm"}
    return Message(text=_WORDS[group], values=values)


def _size(catalogue: Catalogue, group: PartGroup, part: str) -> Decimal | None:
    if group == "split-seal":
        return catalogue.split_seals[part].diameter
    if group == "block":
        return catalogue.blocks[part].size
    return catalogue.fillers[part].size if group == "filler" else None


def _used_up(situation: Situation) -> Iterator[_Part]:
    for part, use in situation.catalogue.consumables.items():
        if amount := _times(situation, use) * use.amount:
            yield _Part("consumable", part, _name(situation.catalogue, "consumable", part), amount, use.unit)


def _times(situation: Situation, use: Consumable) -> Decimal:
    if use.per == "joint":
        return _joint(situation)
    if use.per in ("bolt", "edge"):
        flange, frame = situation.held.fixing.flange, situation.frame
        if flange is None or frame is None:
            return Decimal(0)
        held = situation.held.fixing.tightening
        if use.thread and (held is None or not are_same_threads(use.thread, held.thread)):
            return Decimal(0)
        return Decimal(flange.bolts) if use.per == "bolt" else 2 * (frame.width + frame.height) / 1000
    return Decimal({"block": len(situation.placements) or 1, "bay": len(situation.bays) or 1, "transit": 1}[use.per])


def _joint(situation: Situation) -> Decimal:
    """Return the litres of the joint of a grouted frame, rounded up to a tenth; 0 where nothing is grouted."""
    how = situation.held
    if situation.frame is None or how.fixing.setting is None or how.fixing.setting.joint is None:
        return Decimal(0)
    litres = joint_litres(situation.frame, how.opening, situation.wall.thickness)
    return max(Decimal(0), litres.quantize(Decimal("0.1"), ROUND_CEILING))


def _bring(need: Need) -> Bring:
    amount = f"{format_mm(need.amount)} {need.unit}".rstrip()
    group = "consumable" if need.group == "consumable" else "part"
    return Bring(group=group, name=need.name, part=need.part, amount=amount)


def _tools(steps: Iterable[Step]) -> Iterable[Message]:
    """Return each tool once: one spanner does for two kinds of bolts of the same size, each with its own figure."""
    tools: dict[str, Message] = {}
    for step in steps:
        for tool in step.tools:
            tools.setdefault(str(tool), tool)
    return tools.values()


# -- over a job ------------------------------------------------------------------------------------


def total_up(definition: Definition, packs: Mapping[str, TransitPack], stock: Iterable[Stock] | None) -> Quantities:
    """Add up what every transit needs, by wall, area, day and job, and hold it against the stock.

    Transits go by ID, walls, areas and days by name. A transit that can't be built needs nothing yet and is
    named. Wastage and containers are planning, so those of today's definition count, whatever was issued.
    """
    built = [pack for pack in (packs[name] for name in sorted(packs)) if pack.can_be_built]
    needs = {pack.id: count_needs(_situation(pack)) for pack in built}
    rows = list(stock or ())

    def by(group: Callable[[TransitPack], str]) -> dict[str, tuple[Need, ...]]:
        found: dict[str, list[Need]] = {}
        for pack in built:
            found.setdefault(group(pack), []).extend(needs[pack.id])
        return {name: add_up(together) for name, together in sorted(found.items())}

    whole = add_up(need for needed in needs.values() for need in needed)
    return Quantities(
        transits=needs,
        walls=by(lambda pack: pack.wall_id),
        areas=by(lambda pack: pack.wall.area),
        days=by(lambda pack: pack.transit.day.isoformat() if pack.transit.day else ""),
        lines=tuple(_lines(definition, whole, rows)),
        tools=tuple(_tool_lines(built)),
        left_out=tuple(sorted(pack.id for pack in packs.values() if not pack.can_be_built)),
        stocked=stock is not None,
    )


def add_up(needs: Iterable[Need]) -> tuple[Need, ...]:
    """Add up amounts of the same part: parts in the order they go in, larger sizes first."""
    found: dict[PartKey, Need] = {}
    for need in needs:
        have = found.get(need.key)
        found[need.key] = need.model_copy(update={"amount": have.amount + need.amount}) if have else need
    return tuple(sorted(found.values(), key=_place))


def _place(need: Need) -> tuple[str, int, Decimal, str]:
    size = need.name.values.get("size", "0").removesuffix(" mm")
    return need.catalogue, _ORDER.index(need.group), -Decimal(size), need.part


def _situation(pack: TransitPack) -> Situation:
    return Situation(
        id=pack.id,
        transit=pack.transit,
        wall_id=pack.wall_id,
        wall=pack.wall,
        job=pack.job,
        catalogue=pack.catalogue,
        cables=pack.cables,
        layout=pack.layout,
    )


def _lines(definition: Definition, whole: Sequence[Need], rows: list[Stock]) -> Iterator[StockLine]:
    stock: dict[PartKey, list[Stock]] = {}
    for row in rows:
        stock.setdefault((row.catalogue or definition.job.catalogues[0], row.part), []).append(row)
    needed = {need.key for need in whole}
    idle = [_unneeded(definition.catalogues[system], system, part) for system, part in stock.keys() - needed]
    for need in sorted((*whole, *idle), key=_place):
        catalogue = definition.catalogues.get(need.catalogue)
        consumable = catalogue.consumables.get(need.part) if catalogue else None
        wastage = definition.job.wastage.get(need.group)
        if wastage is None and catalogue:
            wastage = catalogue.wastage.get(need.group)
        together = stock.get(need.key, [])
        yield StockLine(
            need=need,
            wastage=wastage,
            holds=consumable.holds if consumable else None,
            ordered=sum(row.ordered for row in together),
            issued=sum(row.issued for row in together),
            returned=sum(row.returned for row in together),
        )


def _unneeded(catalogue: Catalogue, system: str, part: str) -> Need:
    """Return a need of nothing, for a part that is only in the stock."""
    group = catalogue.groups[part]
    unit = catalogue.consumables[part].unit if group == "consumable" else ""
    name = _name(catalogue, group, part)
    return Need(group=group, catalogue=system, part=part, name=name, amount=Decimal(0), unit=unit)


def _tool_lines(packs: Iterable[TransitPack]) -> Iterator[ToolLine]:
    found: dict[str, tuple[Message, dict[str, None]]] = {}
    for pack in packs:
        for item in pack.bring:
            if item.group == "tool":
                found.setdefault(str(item.name), (item.name, {}))[1][pack.id] = None
    for name, transits in (found[key] for key in sorted(found)):
        yield ToolLine(name=name, transits=tuple(transits))
