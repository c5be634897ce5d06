"""Reasons: why there is no layout, and the cheapest change that was computed to mend it."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from generator.engine.solver.promotion import solve
from generator.engine.solver.rows import row_sets
from generator.engine.solver.shortfall import Shortfall, fillable_heights, shortfall
from generator.engine.solver.steps_left import OutOfSteps, StepsLeft
from generator.engine.solver.task import Ask, Task
from generator.engine.units import Demand, FrameInUnits, Rules
from generator.model.catalogue import Catalogue, Frame
from generator.model.job import Spare
from generator.model.layout import NoLayout
from generator.model.scalars import format_mm

MEND_STEPS = 5_000
"""Steps spent on one proposed change; a change that takes more is not proposed."""


def missing(
    catalogue: Catalogue, demands: Sequence[Demand], spares: Sequence[Spare], rules: Rules
) -> NoLayout | None:
    """Say which cable has no block, or not the one it stays in, or which spare no plug; None when nothing is."""
    stays = {kept.cable: kept for kept in rules.keep if kept.cable is not None}
    for demand in demands:
        if not demand.fits:
            return NoLayout(
                what=f"cable {demand.cable.tag} has no block",
                why="a layout needs a block that holds the whole range of each cable",
                mend=f"mend the fit of cable {demand.cable.tag} first",
            )
        kept = stays.get(demand.cable.tag)
        if kept is not None and all(fit.size != kept.size for fit in demand.fits):
            return NoLayout(
                what=f"cable {demand.cable.tag} is to stay in a block of {format_mm(kept.size)} mm",
                why=f"its whole range is held by {_sizes([fit.size for fit in demand.fits])} only",
                mend=f"mend its entry in keep:, or the diameter of cable {demand.cable.tag}",
            )
    for number, one in enumerate(rules.keep):
        for two in rules.keep[:number]:
            across = max(one.x - two.x - two.size, two.x - one.x - one.size)
            up = max(one.y - two.y - two.size, two.y - one.y - one.size)
            same = (one.x, one.y, one.size, one.cable) == (two.x, two.y, two.size, two.cable)
            if one.bay == two.bay and across < 0 and up < 0 and not same:
                return NoLayout(
                    what=f"two blocks are to stay in one place of bay {one.bay}: at {format_mm(one.x)},"
                    f" {format_mm(one.y)} and at {format_mm(two.x)}, {format_mm(two.y)}",
                    why="a place holds one block, and a block one cable or a plug",
                    mend="take one of the two entries out of keep:, or mend its place",
                )
    plugs = sorted({block.size for block in catalogue.single_blocks.values() if block.plug}) if spares else []
    for spare in spares:
        if spare.size is not None and spare.size not in plugs:
            return NoLayout(
                what=f"there is no spare of {format_mm(spare.size)} mm",
                why=f"the sealing system has blocks with a plug in {_sizes(plugs) if plugs else 'no size'}",
                mend="ask for spares of one of those sizes" if plugs else "ask for no spares",
            )
    return None


def give_up(limit: int) -> NoLayout:
    """Say that the search ended at its limit and proves nothing."""
    return NoLayout(
        what=f"no layout was found in {limit} steps",
        why="the search ended at its limit, so there may be one",
        mend=f"write layout_steps: with more than {limit} in job.yaml, or take a larger frame",
        gave_up=True,
    )


def no_room() -> NoLayout:
    """Say that it is proven that there is no layout, without looking for reasons."""
    return NoLayout(
        what="the cables do not fill the frame's bays",
        why="every set of rows and every way to fill them leaves a cable out or a void in a row",
        mend="take a larger frame, or split the cables over two transits",
    )


def what_is_short(units: FrameInUnits, limit: int) -> tuple[str, str]:
    """Say of a frame that has no layout what is short, and why, without looking for what mends it."""
    try:
        short = shortfall(units.task, units.ask, StepsLeft(limit))
    except OutOfSteps:
        short = None
    return _said(units, short, limit)


def _said(units: FrameInUnits, short: Shortfall | None, limit: int) -> tuple[str, str]:
    if short:
        return _short(units, short, limit)
    return (
        "the cables do not fill the frame's bays",
        "every set of rows and every way to fill them leaves a cable out or a void in a row",
    )


def explain(units: FrameInUnits, spares: Sequence[Spare], limit: int) -> NoLayout:
    """Explain a proof that there is no layout: what is short, why, and what mends it."""
    try:
        short = shortfall(units.task, units.ask, StepsLeft(limit))
    except OutOfSteps:
        short = None
    what, why = _said(units, short, limit)
    mends = list(_mends(units, spares, whole_frame=short is not None and short.kind in ("width", "height")))
    return NoLayout(
        what=what,
        why=why,
        mend="; or ".join(mends) or "no single change mends it: split the cables over two transits",
    )


# -- what is short --------------------------------------------------------------------------------------


def _short(units: FrameInUnits, short: Shortfall, limit: int) -> tuple[str, str]:
    task = units.task
    if short.kind == "width":
        width = units.mm(task.spaces[short.bay - 1].width)
        return (
            f"no row fills the width of bay {short.bay}",
            f"blocks of {_sizes(units.sizes)} never stand side by side to {format_mm(width)} mm "
            "under one height, with those that may fill",
        )
    if short.kind == "height":
        return f"no set of rows fills the height of bay {short.bay}", _why_height(units, short, limit)
    sizes = [size for i, size in enumerate(units.sizes) if short.sizes >> i & 1]
    if short.kind == "area":
        if len(sizes) == 1:
            area = units.whole(sizes[0]) ** 2
            need, most = short.need // area, short.have // area
            return (
                f"there is too little room for blocks of {_sizes(sizes)}",
                f"{need} {'is' if need == 1 else 'are'} needed, "
                + (f"and rows of this frame hold {most} at most" if most else "and no row of this frame holds one"),
            )
        covered, given = format_mm(units.mm2(short.need)), format_mm(units.mm2(short.have))
        return (
            f"there is too little room for blocks of {_sizes(sizes)}",
            f"together they cover at least {covered} mm², and rows of this frame give them {given} mm² at most",
        )
    return (
        "there is too little room in every set of rows",
        "whatever the heights of the rows, the blocks of some sizes find too few places",
    )


def _why_height(units: FrameInUnits, short: Shortfall, limit: int) -> str:
    space = units.task.spaces[short.bay - 1]
    steps = StepsLeft(limit)
    heights = fillable_heights(space, units.task, (1 << len(units.sizes)) - 1, steps)
    wanted = units.mm(space.height)
    near: dict[int, int] = {}
    for sign in (-1, 1):
        for distance in range(1, space.height + 1):
            if row_sets(replace(space, height=space.height + sign * distance), heights, steps):
                near[sign] = space.height + sign * distance
                break
    others = " and ".join(format_mm(units.mm(height)) for _, height in sorted(near.items()))
    rows = f"rows of {_sizes([units.mm(h) for h in heights])} with plates of {format_mm(units.mm(space.plate))} mm"
    return f"{rows} never add up to {format_mm(wanted)} mm below the clamping unit" + (
        f"; the nearest they do is {others} mm" if others else ""
    )


def _sizes(sizes: Sequence[Decimal]) -> str:
    words = [format_mm(size) for size in sizes]
    return (", ".join(words[:-1]) + " and " + words[-1] if len(words) > 1 else words[0]) + " mm"


# -- what mends it ----------------------------------------------------------------------------------------


def _mends(units: FrameInUnits, spares: Sequence[Spare], whole_frame: bool) -> Iterator[str]:
    """Yield changes that were computed to work, the cheapest of each kind: a spare, a frame, a cable."""
    if not whole_frame and (spare := _spare_fewer(units)):
        yield spare
    if frame := _other_frame(units, spares):
        yield f"take frame {frame}"
    if not whole_frame and (tag := _cable_out(units)):
        yield f"move cable {tag} to another transit"


def _works(task: Task, ask: Ask) -> bool:
    try:
        return solve(task, ask, StepsLeft(MEND_STEPS), first=True) is not None
    except OutOfSteps:
        return False


def _spare_fewer(units: FrameInUnits) -> str | None:
    asked = units.ask.spares
    stay = units.task.kept_spares or (0,) * len(asked)
    for i, count in enumerate(asked):  # the smallest spare first
        if count > stay[i] and _works(
            units.task, replace(units.ask, spares=(*asked[:i], count - 1, *asked[i + 1 :]))
        ):
            return f"ask for one spare of {format_mm(units.sizes[i])} mm fewer"
    if sum(asked) > 1 and not any(stay) and _works(units.task, replace(units.ask, spares=(0,) * len(asked))):
        return "ask for no spares"
    return None


def _other_frame(units: FrameInUnits, spares: Sequence[Spare]) -> str | None:
    def area(frame: Frame) -> Decimal:
        return sum((bay.width * bay.height for bay in frame.bays), Decimal(0))

    own = units.frame
    if units.rules.keep:
        return None  # what stays in one frame is in no other
    for part, frame in sorted(units.catalogue.frames.items(), key=lambda item: (area(item[1]), item[0])):
        # Only a frame that can be held the same way is a change of the frame alone.
        if frame != own and frame.shape == own.shape and frame.fixings.keys() & own.fixings.keys():
            other = FrameInUnits(frame, units.catalogue, units.demands, spares, units.rules)
            if _works(other.task, other.ask):
                return part
    return None


def _cable_out(units: FrameInUnits) -> str | None:
    last = {kind: i for i, kind in enumerate(zip(units.options, units.tags, strict=True)) if kind[1].kept < 0}
    for _, out in sorted(last.items()):  # the thinnest kind of cable first
        options, tags = list(units.options), list(units.tags)
        del options[out], tags[out]
        if _works(units.task, Ask.of(options, units.ask.spares, tags)):
            return units.demands[out].cable.tag
    return None
