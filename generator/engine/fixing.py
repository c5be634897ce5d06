"""Whether a wall suits the way a frame or seal is held in it (thickness, material, division)."""

from dataclasses import dataclass

from generator.errors import Finding
from generator.model.catalogue import Catalogue, Certificate, Fixing, Material, Opening, Tightening
from generator.model.job import Transit, Wall
from generator.model.scalars import Window, format_mm


@dataclass(frozen=True)
class Held:
    """How a transit is held: its fixing, with what a sleeve says put in its place."""

    fixing: Fixing
    opening: Opening
    plate: Window
    materials: tuple[Material, ...]
    tightening: Tightening | None
    sleeve: str | None
    certificate: Certificate | None


def held(transit: Transit, catalogue: Catalogue) -> Held:
    """Return how ``transit`` is held. Every part it names must exist in ``catalogue`` (KeyError)."""
    body = catalogue.frames[transit.frame] if transit.frame else catalogue.split_seals[transit.split_seal or ""]
    fixing = body.fixings[transit.fixing]
    if fixing.sleeve:
        sleeve = catalogue.sleeves[fixing.sleeve]
        return Held(
            fixing,
            fixing.opening or sleeve.opening,
            fixing.plate or sleeve.plate,
            fixing.materials or sleeve.materials,
            sleeve.tightening,
            fixing.sleeve,
            body.certificate,
        )
    if fixing.opening is None or fixing.plate is None:
        raise ValueError("a fixing without a sleeve names its opening and plate: the catalogue's model says so")
    return Held(fixing, fixing.opening, fixing.plate, fixing.materials, fixing.tightening, None, body.certificate)


def judge_wall(transit: Transit, wall: Wall, wall_id: str, catalogue: Catalogue) -> tuple[Finding, ...]:
    """Hold the wall against what the fixing takes: thickness in mm with both ends allowed, and material."""
    how = held(transit, catalogue)
    found = []
    if not how.plate.holds(wall.thickness):
        found.append(
            Finding(
                f"{wall_id} is {format_mm(wall.thickness)} mm thick, the fixing takes {how.plate} mm",
                f"a fixing {transit.fixing} holds only in the thickness its catalogue names",
                f"choose a fixing that takes {format_mm(wall.thickness)} mm, or ask the designer of the wall",
                field="fixing",
            )
        )
    if wall.material not in how.materials:
        found.append(
            Finding(
                f"{wall_id} is {wall.material}, the fixing is for {', '.join(how.materials)}",
                f"a fixing {transit.fixing} holds only in the materials its catalogue names",
                f"choose a fixing for {wall.material}, or ask the designer of the wall",
                field="fixing",
            )
        )
    if transit.cables_in_place and not _goes_round(transit, catalogue):
        part = transit.frame or transit.split_seal
        found.append(
            Finding(
                f"the cables of this transit are there already, and {part} does not open",
                "a frame of one piece and a sleeve go over the ends of cables only",
                "choose a frame that is split, or a split seal in a plain hole; or pull the cables out",
                field="cables_in_place",
            )
        )
    return tuple(found)


def _goes_round(transit: Transit, catalogue: Catalogue) -> bool:
    """Tell whether it can be closed round cables: a split frame, or a split seal without a sleeve."""
    if transit.frame:
        return catalogue.frames[transit.frame].split is not None
    return held(transit, catalogue).sleeve is None
