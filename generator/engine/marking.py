"""Where openings come on a wall, and whether they may: keep-outs, edges, other openings, room and bends.

Every outline is a rectangle that lies along the datum edges, or a circle. Both are a box (of no size for a
circle) with a rim of one width all round, so the distance of any two is that of their boxes less both rims:

    hypot(max(0, |dx| − a1 − a2), max(0, |dy| − b1 − b2)) − r1 − r2

with the halves a, b of the boxes and the rims r. All lengths are mm; nothing here has a default.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Literal

from generator.engine.fixing import Held, held
from generator.errors import Finding
from generator.model.catalogue import Catalogue, Opening
from generator.model.job import Definition, KeepOut, Transit, Wall
from generator.model.marking import Mark, Nearest, Outline
from generator.model.pack import TransitPack
from generator.model.scalars import format_mm

BOUNDS = ("stiffener", "weld-seam")
"""Keep-outs that bound the flat on which a frame lies."""


# -- outlines --------------------------------------------------------------------------------------


def outline_of(transit: Transit, opening: Opening) -> Outline:
    """Return the outline of a transit's opening at its nominal size."""
    wide = opening.diameter or opening.width or Decimal(0)
    high = opening.diameter or opening.height or Decimal(0)
    at = transit.at
    x, y = (at.x, at.y) if at.to == "centre" else (at.x + wide / 2, at.y + high / 2)
    return Outline(x=x, y=y, width=wide, height=high, round=opening.diameter is not None)


def body_of(transit: Transit, catalogue: Catalogue, opening: Outline) -> Outline:
    """Return what lies on the wall: the frame where it is larger than its opening, else the opening."""
    frame = catalogue.frames.get(transit.frame or "")
    if frame is None or (frame.width <= opening.width and frame.height <= opening.height):
        return opening
    return Outline(
        x=opening.x,
        y=opening.y,
        width=max(frame.width, opening.width),
        height=max(frame.height, opening.height),
        round=frame.shape == "round" and opening.round,
    )


def outline_of_keep_out(keep_out: KeepOut) -> Outline:
    """Return the outline of a keep-out, without what is to stay clear round it."""
    if keep_out.diameter is not None:
        side = keep_out.diameter
        return Outline(x=keep_out.x, y=keep_out.y, width=side, height=side, round=True)
    assert keep_out.width is not None and keep_out.height is not None
    return Outline(
        x=keep_out.x + keep_out.width / 2,
        y=keep_out.y + keep_out.height / 2,
        width=keep_out.width,
        height=keep_out.height,
        round=False,
    )


def distance(one: Outline, other: Outline) -> Decimal:
    """Return how far two outlines are apart, mm: 0 where they touch or overlap. The formula stands above."""
    return max(Decimal(0), _apart(one, other))


def overlap(one: Outline, other: Outline) -> bool:
    """Tell whether two outlines have more than their edges in common."""
    inside = all(
        abs(delta) < half + more
        for delta, half, more in zip((one.x - other.x, one.y - other.y), one.straight, other.straight, strict=True)
    )
    return inside or _apart(one, other) < 0


def _apart(one: Outline, other: Outline) -> Decimal:
    across = max(Decimal(0), abs(one.x - other.x) - one.straight[0] - other.straight[0])
    up = max(Decimal(0), abs(one.y - other.y) - one.straight[1] - other.straight[1])
    between = max(across, up) if not across or not up else (across**2 + up**2).sqrt()
    return between - one.radius - other.radius


def from_edges(outline: Outline, wall: Wall) -> dict[str, Decimal]:
    """Return how far an outline is from each edge of the wall whose place is known; less than 0 is beyond it."""
    found = {}
    if wall.width is not None:
        found["left"] = outline.x - outline.width / 2
        found["right"] = wall.width - outline.x - outline.width / 2
    if wall.height is not None:
        found["lower"] = outline.y - outline.height / 2
        found["upper"] = wall.height - outline.y - outline.height / 2
    return found


def mark_out(wall: Wall, packs: Sequence[TransitPack]) -> dict[str, Mark]:
    """Return for each transit of a wall its opening's outline and what lies nearest to it."""
    outlines = {pack.id: outline_of(pack.transit, held(pack.transit, pack.catalogue).opening) for pack in packs}
    kept = {name: outline_of_keep_out(keep_out) for name, keep_out in wall.keep_outs.items()}
    return {
        name: Mark(outline=outline, nearest=_nearest(name, outlines, kept, wall))
        for name, outline in outlines.items()
    }


def _nearest(name: str, outlines: dict[str, Outline], kept: dict[str, Outline], wall: Wall) -> Nearest | None:
    mine = outlines[name]
    found: list[tuple[Decimal, Literal["opening", "keep-out", "edge"], str]] = []
    found += [(distance(mine, outline), "opening", other) for other, outline in outlines.items() if other != name]
    found += [(distance(mine, outline), "keep-out", other) for other, outline in kept.items()]
    found += [(max(Decimal(0), away), "edge", edge) for edge, away in from_edges(mine, wall).items()]
    if not found:
        return None
    away, what, other = min(found, key=lambda one: one[0])
    return Nearest(what=what, name=other, distance=away)


# -- may it be there? ------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Place:
    """A transit on its wall: how it is held, the outline of its opening, and of what lies on the wall."""

    id: str
    transit: Transit
    how: Held
    opening: Outline
    body: Outline

    @property
    def part(self) -> str:
        return self.transit.frame or self.transit.split_seal or ""


def _place(transit_id: str, definition: Definition) -> _Place:
    transit = definition.transits[transit_id]
    catalogue = definition.catalogue_of(transit)
    how = held(transit, catalogue)
    opening = outline_of(transit, how.opening)
    return _Place(transit_id, transit, how, opening, body_of(transit, catalogue, opening))


def judge_places(wall_id: str, definition: Definition) -> dict[str, tuple[Finding, ...]]:
    """Hold every place on a wall against the wall, the other openings, the room and the bends there.

    What is found of an opening that is there already stops nothing: it is to be looked at.
    """
    wall = definition.walls[wall_id]
    places = [_place(name, definition) for name in definition.transits_on(wall_id)]
    judged = {}
    for place in places:
        found = [*_on_keep_outs(place, wall), *_at_edges(place, wall), *_beside_others(place, wall, places)]
        if place.transit.existing_opening:
            found = [replace(finding, severity="look") for finding in found]
        judged[place.id] = (*found, *_in_reach(place, wall), *_round_bends(place, definition))
    return judged


def _on_keep_outs(place: _Place, wall: Wall) -> Iterator[Finding]:
    transit_id, transit, opening, body, part = place.id, place.transit, place.opening, place.body, place.part
    bounding: set[str] = set()
    for across in (True, False):
        flat = _flat(wall, body, across)
        size = body.width if across else body.height
        if flat is not None and flat[1] < size:
            names, free = flat
            bounding |= set(names)
            yield Finding(
                f"{part} of {transit_id} takes {format_mm(size)} mm {'across' if across else 'up'}, and the flat"
                f" between {names[0]} and {names[1]} has {format_mm(max(Decimal(0), free))} mm",
                f"a frame lies flat on {transit.wall}, clear of stiffeners and weld seams",
                f"choose a {'narrower' if across else 'lower'} frame, or a place with a wider flat",
                field="at",
            )
    for name, keep_out in wall.keep_outs.items():
        if name in bounding:
            continue
        there = outline_of_keep_out(keep_out)
        away = distance(opening, there)
        if overlap(opening, there) or away < keep_out.clear:
            said = f"is {_down(away)} mm from" if away > 0 or not overlap(opening, there) else "reaches into"
            clear = f" and keeps {format_mm(keep_out.clear)} mm clear round it" if keep_out.clear else ""
            yield Finding(
                f"the opening of {transit_id} {said} {name}",
                f"{name} is a keep-out of {transit.wall} ({keep_out.kind.replace('-', ' ')}){clear}",
                _way_out(opening, there, keep_out.clear),
                field="at",
            )
        elif body is not opening and overlap(body, there):
            yield Finding(
                f"{part} of {transit_id} is larger than its opening and lies on {name}",
                f"{name} is a keep-out of {transit.wall} ({keep_out.kind.replace('-', ' ')})",
                _way_out(body, there, Decimal(0)),
                field="at",
            )


def _flat(wall: Wall, body: Outline, across: bool) -> tuple[tuple[str, str], Decimal] | None:
    """Return what bounds the flat that a body lies on, on both sides along one axis, and its clear size, mm."""
    before: tuple[Decimal, str] | None = None
    after: tuple[Decimal, str] | None = None
    for name, keep_out in wall.keep_outs.items():
        there = outline_of_keep_out(keep_out)
        if keep_out.kind not in BOUNDS or not _in_the_way(there, body, across):
            continue
        middle, half = (there.x, there.width / 2) if across else (there.y, there.height / 2)
        mine = body.x if across else body.y
        if middle < mine and (before is None or middle + half + keep_out.clear > before[0]):
            before = middle + half + keep_out.clear, name
        elif middle > mine and (after is None or middle - half - keep_out.clear < after[0]):
            after = middle - half - keep_out.clear, name
    return ((before[1], after[1]), after[0] - before[0]) if before and after else None


def _in_the_way(there: Outline, body: Outline, across: bool) -> bool:
    if across:
        return abs(there.y - body.y) < (there.height + body.height) / 2
    return abs(there.x - body.x) < (there.width + body.width) / 2


def _way_out(mine: Outline, there: Outline, clear: Decimal) -> str:
    """Say the shorter of the two straight ways that bring an outline clear of another."""
    across = (mine.width + there.width) / 2 + clear - abs(mine.x - there.x)
    up = (mine.height + there.height) / 2 + clear - abs(mine.y - there.y)
    if 0 < across <= up or up <= 0:
        axis, by, less = "x", across, mine.x < there.x
    else:
        axis, by, less = "y", up, mine.y < there.y
    way = "smaller" if less else "larger"
    return f"make its {axis} {way} by {format_mm(by.quantize(Decimal(1), ROUND_CEILING))} mm, or choose another place"


def _at_edges(place: _Place, wall: Wall) -> Iterator[Finding]:
    transit_id, transit, opening = place.id, place.transit, place.opening
    asked, by = _most(
        (wall.edge_distance, transit.wall), (place.how.fixing.edge_distance, f"the fixing {transit.fixing}")
    )
    for edge, away in from_edges(opening, wall).items():
        if away < 0:
            yield Finding(
                f"the opening of {transit_id} reaches {format_mm(-away)} mm beyond the {edge} edge of {transit.wall}",
                "an opening lies in its wall",
                f"mend its coordinates, or {'width' if edge in ('left', 'right') else 'height'}: of {transit.wall}",
                field="at",
            )
        elif away < asked:
            axis, way = (
                ("x" if edge in ("left", "right") else "y"),
                ("larger" if edge in ("left", "lower") else "smaller"),
            )
            yield Finding(
                f"the opening of {transit_id} is {_down(away)} mm from the {edge} edge of {transit.wall}",
                f"{by} asks for {format_mm(asked)} mm to an edge",
                f"make its {axis} {way} by {format_mm(asked - away)} mm, or choose another place",
                field="at",
            )


def _beside_others(place: _Place, wall: Wall, places: Sequence[_Place]) -> Iterator[Finding]:
    """Judge an opening against every other."""
    mine, own = place.opening, place.how.fixing.opening_distance
    for other in places:
        both = place.transit.existing_opening and other.transit.existing_opening
        if other.id == place.id or both:
            continue
        asked, by = _most(
            (wall.opening_distance, place.transit.wall),
            (own, f"the fixing {place.transit.fixing} of {place.id}"),
            (other.how.fixing.opening_distance, f"the fixing {other.transit.fixing} of {other.id}"),
        )
        there = other.opening
        away = distance(mine, there)
        if overlap(mine, there):
            yield Finding(
                f"the openings of {place.id} and {other.id} overlap",
                "each opening is cut by itself",
                _way_out(mine, there, asked),
                field="at",
            )
        elif away < asked:
            yield Finding(
                f"the openings of {place.id} and {other.id} are {_down(away)} mm apart",
                f"{by} asks for {format_mm(asked)} mm between openings",
                _way_out(mine, there, asked),
                field="at",
            )
        elif overlap(place.body, other.body):
            yield Finding(
                f"{place.part} of {place.id} and {other.part} of {other.id} overlap",
                "they are larger than their openings",
                _way_out(place.body, other.body, Decimal(0)),
                field="at",
            )


def _most(*asked: tuple[Decimal | None, str]) -> tuple[Decimal, str]:
    """Return the most that is asked for, and who asks; 0 where nobody does."""
    return max(
        ((least, by) for least, by in asked if least is not None), default=(Decimal(0), ""), key=lambda a: a[0]
    )


def _in_reach(place: _Place, wall: Wall) -> Iterator[Finding]:
    transit_id, transit, reach = place.id, place.transit, place.how.fixing.reach
    if reach is None:
        return
    room = transit.room or wall.room
    if room is None:
        yield Finding(
            f"nobody has said how much room there is in front of {transit_id}",
            f"the fixing {transit.fixing} needs {format_mm(reach.working)} mm on the working side and"
            f" {format_mm(reach.far)} mm on the far side",
            f"measure it on both sides and write room: for {transit.wall} or for {transit_id}",
            severity="look",
        )
        return
    first = transit.working_side == wall.sides[0]
    free = (room.first, room.second) if first else (room.second, room.first)
    sides = wall.sides if first else wall.sides[::-1]
    turned = reach.working <= free[1] and reach.far <= free[0]
    for need, have, side, word in zip((reach.working, reach.far), free, sides, ("working", "far"), strict=True):
        if have < need:
            yield Finding(
                f"{transit_id} has {format_mm(have)} mm of room in {side}, and its fixing needs {format_mm(need)} mm",
                f"the fixing {transit.fixing} needs {format_mm(need)} mm on the {word} side",
                f"work from {sides[1]}, where there is room, if the wall allows it"
                if turned
                else "clear the place, choose another, or choose another fixing",
                field="working_side",
            )


def _round_bends(place: _Place, definition: Definition) -> Iterator[Finding]:
    transit_id, bend = place.id, place.transit.bend
    if bend is None:
        return
    cables = [cable for cable in definition.cables_through(transit_id) if cable.service != "pipe"]
    needs = [(cable.bend_factor * cable.most, cable) for cable in cables if cable.bend_factor is not None]
    need, stiffest = max(needs, key=lambda item: item[0], default=(Decimal(0), None))
    if stiffest is not None and bend < need:
        yield Finding(
            f"{stiffest.tag} bends to {format_mm(bend)} mm beside {transit_id}, and may bend to {format_mm(need)} mm",
            f"its radius at the inside is {format_mm(stiffest.bend_factor or need)} times its diameter or more,"
            f" and it may be {format_mm(stiffest.most)} mm thick",
            "lead the cables round a wider bend, move the transit, or choose another cable",
            field="bend",
        )
    unknown = [cable.tag for cable in cables if cable.bend_factor is None and not cable.assumed]
    if unknown:
        yield Finding(
            f"{_some(unknown)} of {transit_id} cannot be held against the bend of {format_mm(bend)} mm",
            "the schedule does not say how tightly they may bend",
            "write it in bend_factor, as their makers give it",
            severity="look",
            field="bend",
        )


def _some(tags: Iterable[str]) -> str:
    listed = list(tags)
    return ", ".join(listed[:3]) + (f" and {len(listed) - 3} more" if len(listed) > 3 else "")


def _down(value: Decimal) -> str:
    """Say a distance without making it larger than it is, to 0.1 mm."""
    return format_mm(value.quantize(Decimal("0.1"), ROUND_FLOOR))
