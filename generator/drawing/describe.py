"""The drawing in words, for those who cannot see it: row by row what is where."""

from collections.abc import Callable

from generator.model.job import Cable
from generator.model.layout import BayLayout, Fit, NoFit, Placement, SealLayout
from generator.model.pack import TransitPack
from generator.model.scalars import format_mm

Say = Callable[[str], str]


def diameter_text(cable: Cable) -> str:
    """Return a cable's diameter as drawings show it: the nominal one, or its range."""
    if cable.diameter is None:
        return f"{format_mm(cable.least)}–{format_mm(cable.most)}"
    text = format_mm(cable.diameter)
    return text if "." in text else f"{text}.0"


def class_words(say: Say) -> dict[str, str]:
    """Return the service classes in words."""
    return {
        "power": say("power"),
        "control": say("control"),
        "instrument": say("instrument"),
        "data": say("data"),
        "fibre": say("fibre"),
        "earth": say("earth"),
        "pipe": say("pipe"),
    }


def describe_head(pack: TransitPack, side: str, marks: tuple[str, str], say: Say) -> list[str]:
    """Say which side is seen, from where, and how to hold the drawing."""
    if side == "far":
        head = say("Seen from far side, mirrored: {room}. {left} at the left, {right} at the right.")
        room = pack.far_side
    else:
        head = say("Seen from working side: {room}. {left} at the left, {right} at the right.")
        room = pack.transit.working_side
    told = [head.format(room=room, left=marks[0], right=marks[1])]
    if pack.wall.up is not None:
        told.append(say("The upper edge points to {direction}.").format(direction=pack.wall.up))
    return told


def describe_bay(bay: BayLayout, several: bool, side: str, cables: dict[str, Cable], say: Say) -> list[str]:
    """Say row by row, from the bottom, what each block holds."""
    told = [say("Bay {bay}.").format(bay=bay.bay)] if several else []
    classes = class_words(say)
    left_first = say("Row {row}, {height} mm high, from left to right:")
    right_first = say("Row {row}, {height} mm high, from right to left:")
    for row in bay.rows:
        head = (left_first if side == "working" else right_first).format(row=row.number, height=format_mm(row.height))
        blocks = "; ".join([_describe_block(block, cables, classes, say) for block in row.placements])
        told.append(f"{head} {blocks}.")
    told.append(say("Clamping unit above, {height} mm high.").format(height=format_mm(bay.unit.height)))
    return told


def _describe_block(block: Placement, cables: dict[str, Cable], classes: dict[str, str], say: Say) -> str:
    size = format_mm(block.size)
    if block.role == "spare":
        return say("{position} spare, block {size}").format(position=block.position, size=size)
    if block.role == "filler":
        return say("{position} filler {size}").format(position=block.position, size=size)
    if block.others:
        return _describe_shared(block, cables, classes, say)
    cable = cables[block.cable or ""]
    values = {
        "position": block.position,
        "tag": cable.tag,
        "service": classes[cable.service],
        "diameter": diameter_text(cable),
        "size": size,
    }
    if cable.assumed:
        return say("{position} {tag}, {service}, assumed, {diameter} mm, block {size}").format(**values)
    if block.fit is None or block.fit.measure:
        return say("{position} {tag}, {service}, {diameter} mm, block {size}, measure first").format(**values)
    return say("{position} {tag}, {service}, {diameter} mm, block {size}, peel A {a} B {b}").format(
        **values, a=block.fit.likely.a, b=block.fit.likely.b
    )


def _describe_shared(block: Placement, cables: dict[str, Cable], classes: dict[str, str], say: Say) -> str:
    """Say which cable lies in which bore, from the left as seen from the working side."""
    told = []
    for position, tag, fit in block.bores:
        cable = cables[tag]
        values = {
            "position": position,
            "tag": tag,
            "service": classes[cable.service],
            "diameter": diameter_text(cable),
        }
        if fit is None or fit.measure:
            told.append(say("{position} {tag}, {service}, {diameter} mm, measure first").format(**values))
        else:
            text = say("{position} {tag}, {service}, {diameter} mm, peel A {a} B {b}")
            told.append(text.format(**values, a=fit.likely.a, b=fit.likely.b))
    head = say("{position} block {size} shared by {count} cables").format(
        position=block.position, size=format_mm(block.size), count=len(told)
    )
    return f"{head}: {', '.join(told)}"


def describe_seal(layout: SealLayout, cable: Cable, fit: Fit | NoFit, say: Say) -> str:
    """Say what the split seal holds."""
    values = {
        "tag": cable.tag,
        "service": class_words(say)[cable.service],
        "diameter": diameter_text(cable),
        "size": format_mm(layout.diameter),
    }
    if isinstance(fit, NoFit) or fit.measure:
        return say("Split seal {size} around {tag}, {service}, {diameter} mm, measure first.").format(**values)
    return say("Split seal {size} around {tag}, {service}, {diameter} mm, peel A {a} B {b}, gap {gap} mm.").format(
        **values, a=fit.likely.a, b=fit.likely.b, gap=format_mm(fit.likely.gap)
    )
