"""What to bring to one transit: parts counted from its layout, what is used up, tools of its steps."""

from collections import Counter
from collections.abc import Iterable
from decimal import Decimal

from generator.engine.facts import Situation
from generator.model.layout import SealLayout
from generator.model.procedure import Bring, Message, Step
from generator.model.scalars import format_mm

WORDS = (
    "Sleeve",
    "Frame",
    "Split seal {size}",
    "Block {size}",
    "Filler {size}",
    "Row plate",
    "Clamping unit",
    "{name}",
)
"""Every text this module gives to be translated."""


def list_bring(situation: Situation, steps: Iterable[Step]) -> tuple[Bring, ...]:
    """List what to bring: parts in the order they go in, what is used up, then tools in the order of the work.

    Counts come from the layout, amounts from the catalogue, tools from ``steps`` (each once). There must
    be a layout.
    """
    return (*_parts(situation), *_used_up(situation), *_tools(steps))


def used_up(situation: Situation) -> tuple[tuple[str, str, str], ...]:
    """Return what is used up as (part number, name, amount with unit), in the order of the catalogue.

    What is used for each block counts every block, spare and filler, or the one split seal.
    """
    times = {
        "block": len(situation.placements) or 1,
        "bay": len(situation.bays) or 1,
        "transit": 1,
    }
    return tuple(
        (part, use.name, f"{format_mm(Decimal(times[use.per]) * use.amount)} {use.unit}")
        for part, use in situation.catalogue.consumables.items()
    )


def _parts(situation: Situation) -> Iterable[Bring]:
    transit, catalogue = situation.transit, situation.catalogue
    if situation.held.sleeve:
        yield _part("Sleeve", situation.held.sleeve)
    if isinstance(situation.layout, SealLayout):
        yield _part("Split seal {size}", situation.layout.part, size=situation.layout.diameter)
        return
    if situation.frame and situation.frame.row:
        yield _part("Frame", situation.frame.row.frame, situation.frame.row.count)
    elif transit.frame:
        yield _part("Frame", transit.frame)
    halves = Counter(p.part for p in situation.placements if p.role != "filler")
    for part, count in sorted(halves.items(), key=lambda item: (-catalogue.blocks[item[0]].size, item[0])):
        yield _part("Block {size}", part, count, catalogue.blocks[part].size)
    solid = Counter(p.part for p in situation.placements if p.role == "filler")
    for part, count in sorted(solid.items(), key=lambda item: (-catalogue.fillers[item[0]].size, item[0])):
        yield _part("Filler {size}", part, count, catalogue.fillers[part].size)
    for part, count in sorted(Counter(plate.part for bay in situation.bays for plate in bay.plates).items()):
        yield _part("Row plate", part, count)
    for part, count in sorted(Counter(bay.unit.part for bay in situation.bays).items()):
        yield _part("Clamping unit", part, count)


def _part(words: str, part: str, count: int = 1, size: Decimal | None = None) -> Bring:
    values = {} if size is None else {"size": f"{format_mm(size)} mm"}
    return Bring(group="part", name=Message(text=words, values=values), part=part, amount=str(count))


def _used_up(situation: Situation) -> Iterable[Bring]:
    for part, name, amount in used_up(situation):
        yield Bring(group="consumable", name=Message(text="{name}", values={"name": name}), part=part, amount=amount)


def _tools(steps: Iterable[Step]) -> Iterable[Bring]:
    tools = {(tool.text, tuple(sorted(tool.values.items()))): tool for step in steps for tool in step.tools}
    for tool in tools.values():
        yield Bring(group="tool", name=tool)
