"""A frame that a planner leaves open: what is chosen for it, said so that the planner writes it down.

Nothing is built from a choice: it would move when a cable is added or a price changes. So ``frame: choose`` is a
problem whose way out is the line to write, and the transit is shown with what was chosen for it meanwhile.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from generator.engine.choose import Choice, Offer, choose_frames
from generator.engine.demands import judge_demands
from generator.engine.facts import Situation
from generator.engine.fixing import judge_wall
from generator.engine.marking import judge_places
from generator.engine.packing import Rules
from generator.engine.sharing import demands_of, fit_all
from generator.errors import Finding
from generator.model.catalogue import Catalogue
from generator.model.job import CHOOSE, Cable, Definition, Transit
from generator.model.layout import NoLayout
from generator.model.scalars import format_mm

_NOT_YET = NoLayout(what="not laid out", why="its frame is being chosen", mend="wait for the choice")


@dataclass(frozen=True)
class LeftOpen:
    """What comes of a frame that is left open: the transit with a frame to go on with, and what to tell.

    ``layout`` says why there is none, where no single frame does; None where that frame's own is shown.
    """

    transit: Transit
    finding: Finding
    layout: NoLayout | None = None


def is_left_open(transit: Transit, catalogue: Catalogue) -> bool:
    """Tell whether a transit leaves its frame to be chosen. A part that is called choose is that part."""
    return transit.frame == CHOOSE and CHOOSE not in catalogue.frames


def choose_for(definition: Definition, transit_id: str, limit: int) -> LeftOpen:
    """Choose the frame of a transit that leaves it open. ``limit`` bounds each search in steps.

    At least one frame of the catalogue must be held the transit's way (ValueError).
    """
    transit = definition.transits[transit_id]
    catalogue, cables = definition.catalogue_of(transit), definition.cables_through(transit_id)
    offers = [
        Offer(part, frame, frame.price, refusal(definition, transit_id, part))
        for part, frame in sorted(catalogue.frames.items())
        if transit.fixing in frame.fixings
    ]
    if not offers:
        raise ValueError(f"no frame is {transit.fixing}: the references were to be checked first")
    any_frame = transit.model_copy(update={"frame": (next((o for o in offers if not o.refused), offers[0])).part})
    demands = demands_of(transit, cables, fit_all(transit, cables, catalogue, definition.job))
    homeless = [demand.cable.tag for demand in demands if not demand.fits]
    if homeless:
        return LeftOpen(
            any_frame,
            _said(transit_id, f"no block holds the whole range of {homeless[0]}", "mend its fit first"),
            NoLayout(what="no frame was chosen", why="not every cable has a block", mend="mend those fits first"),
        )
    rules = Rules((*definition.job.apart, *transit.apart), (), transit.rest == "solid")
    choice = choose_frames(offers, catalogue, demands, transit.spares, limit, rules)
    if isinstance(choice, NoLayout):
        return LeftOpen(any_frame, _said(transit_id, f"{choice.what}: {choice.why}", choice.mend), choice)
    why = _why(choice, cables)
    if len(choice.frames) == 1:
        chosen = transit.model_copy(update={"frame": choice.frames[0]})
        return LeftOpen(chosen, _said(transit_id, why, f"write frame: {choice.frames[0]}"))
    mend = _divided(choice)
    missing = NoLayout(what=f"no single frame takes the cables of {transit_id}", why=why, mend=mend)
    first = transit.model_copy(update={"frame": choice.frames[0]})
    return LeftOpen(first, _said(transit_id, why, mend), missing)


def _said(transit_id: str, why: str, mend: str) -> Finding:
    return Finding(f"the frame of {transit_id} is left to be chosen", why, mend, field="frame")


def refusal(definition: Definition, transit_id: str, part: str) -> str:
    """Return why the wall does not take a frame, '' where it does."""
    transit = definition.transits[transit_id].model_copy(update={"frame": part})
    wall, catalogue = definition.walls[transit.wall], definition.catalogue_of(transit)
    tried = definition.model_copy(update={"transits": {**definition.transits, transit_id: transit}})
    situation = Situation(
        id=transit_id,
        transit=transit,
        wall_id=transit.wall,
        wall=wall,
        job=definition.job,
        catalogue=catalogue,
        cables=(),
        layout=_NOT_YET,
    )
    found = (
        *judge_wall(transit, wall, transit.wall, catalogue),
        *judge_demands(transit, transit.wall, catalogue, situation.comparisons),
        *_about_place(tried, transit_id),
    )
    return next((finding.what for finding in found if finding.severity == "stop"), "")


def _about_place(definition: Definition, transit_id: str) -> Sequence[Finding]:
    """Judge the place with no other frame left open on the same wall: those have no opening yet."""
    wall = definition.transits[transit_id].wall
    firm = {
        name: transit
        for name, transit in definition.transits.items()
        if not is_left_open(transit, definition.catalogue_of(transit))
    }
    return judge_places(wall, definition.model_copy(update={"transits": firm}))[transit_id]


def _why(choice: Choice, cables: Sequence[Cable]) -> str:
    assumed = sum(cable.assumed for cable in cables)
    takes = f"{len(cables)} cables" if len(cables) != 1 else "1 cable"
    if assumed:
        takes += f", {assumed} of them not known yet and taken at their thickest,"
    least = "is the cheapest" if choice.price is not None else "is the smallest"
    if len(choice.frames) > 1:
        least = least.replace("is", "together are")
    text = f"{' and '.join(choice.frames)} {least} that takes {takes} and the spares asked for"
    if len(choice.frames) > 1:
        text = text.replace("that takes", "that take")
    if choice.price is not None:
        text += f", at {format_mm(choice.price)}"
    if choice.cheaper:
        text += f"; the next below, {' and '.join(choice.cheaper)}, does not do: {choice.why}"
    return text if choice.proven else f"{text}; a cheaper one may do, its search ended at its limit"


def _divided(choice: Choice) -> str:
    parts = []
    for part, cables, spares in zip(choice.frames, choice.cables, choice.spares, strict=True):
        kept = ", ".join(f"{count} of {format_mm(size)} mm" for size, count in spares)
        parts.append(f"frame: {part} for {', '.join(cables) or 'spares'}" + (f", spares {kept}" if kept else ""))
    return f"make {len(parts)} transits of it, each at its own place: {'; '.join(parts)}"
