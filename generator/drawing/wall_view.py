"""A wall in elevation, or a deck in plan, to scale from one of its sides: where its transits are.

Coordinates run from the two datum edges X and Y, so that one end of the tape stays where it is; lines lead
to what is measured (a corner or the middle of the opening). Numbers are spread along their axis until none
meets another; where there are more than the axis holds, the most crowded are left to the list. IDs stand
where they meet nothing; one that finds no place is left to the list too.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from generator.drawing.banner import draw_banner, draw_up_mark
from generator.drawing.canvas import Box, Canvas, View, own_id
from generator.drawing.lettering import reach, text_width, wrap
from generator.drawing.parts import opening_of, opening_words
from generator.drawing.sheet import SCREEN
from generator.drawing.symbols import define
from generator.model.job import Wall
from generator.model.pack import TransitPack
from generator.model.scalars import format_mm

Say = Callable[[str], str]

_SMALL, _NAME = 12.0, 13.0


@dataclass(frozen=True)
class _Hole:
    """One opening: box in mm from the datum edges, and the point that is measured to."""

    id: str
    x: Decimal
    y: Decimal
    left: float
    bottom: float
    width: float
    height: float
    is_round: bool


def draw_wall(wall_id: str, wall: Wall, packs: Sequence[TransitPack], side: str, say: Say, width: int = 860) -> str:
    """Draw a wall from the room ``side`` (one of the wall's two) and return an ``<svg>`` for inlining.

    ``packs`` are its transits. ``width`` of the sheet in px: 860 for a desk and for A4 upright, 344 for a phone. A
    wall whose width or height is not given is drawn as far as its openings reach, with open ends.
    """
    first = side == wall.sides[0]
    marks = (wall.landmarks.left, wall.landmarks.right)
    canvas = Canvas(SCREEN.looks, own_id("wall", wall_id, "first" if first else "second", str(width)))
    define(canvas, SCREEN, ("metal",))
    caption = say("PLAN SEEN FROM") if wall.division == "deck" else say("SEEN FROM")
    top = draw_banner(canvas, SCREEN, width, caption, side, marks if first else marks[::-1])
    told = [say("{id} seen from {room}.").format(id=wall_id, room=side)]
    if wall.up is not None:
        top += draw_up_mark(canvas, SCREEN, width, top, wall.up, say)
        told.append(say("The upper edge points to {direction}.").format(direction=wall.up))
    holes = [_hole_of(pack) for pack in packs]
    told += [_describe(pack, wall, say) for pack in packs]
    bottom = _draw_face(canvas, wall, holes, not first, float(width), top + 16, say)
    title = f"{wall_id}: {say('where the transits are')}"
    data = {"wall": wall_id, "side": "first" if first else "second"}
    return canvas.svg(width, bottom, "", title, " ".join(told), "drawing drawing-screen drawing-wall", data)


def _hole_of(pack: TransitPack) -> _Hole:
    opening, at = opening_of(pack), pack.transit.at
    wide = high = Decimal(0)
    if opening is not None:
        wide = opening.diameter or opening.width or wide
        high = opening.diameter or opening.height or high
    left, low = (at.x - wide / 2, at.y - high / 2) if at.to == "centre" else (at.x, at.y)
    is_round = opening is not None and opening.diameter is not None
    return _Hole(pack.id, at.x, at.y, float(left), float(low), float(wide), float(high), is_round)


def _describe(pack: TransitPack, wall: Wall, say: Say) -> str:
    opening, at = opening_of(pack), pack.transit.at
    if at.to == "centre":
        text = say("{id}: opening {opening}, x {x}, y {y} to its centre.")
    else:
        text = say("{id}: opening {opening}, x {x}, y {y} to its lower left corner as seen from {room}.")
    return text.format(
        id=pack.id,
        opening="–" if opening is None else opening_words(opening),
        x=format_mm(at.x),
        y=format_mm(at.y),
        room=wall.sides[0],
    )


def _draw_face(
    canvas: Canvas, wall: Wall, holes: list[_Hole], mirrored: bool, width: float, top: float, say: Say
) -> float:
    step, band = 1.0, SCREEN.band
    lefts, rights = [0.0], [float(wall.width or 0)]
    lows, highs = [0.0], [float(wall.height or 0)]
    for hole in holes:
        lefts.append(hole.left)
        rights.append(hole.left + hole.width)
        lows.append(hole.bottom)
        highs.append(hole.bottom + hole.height)
    open_x, open_y = wall.width is None, wall.height is None
    spread = 0.06 * max(max(rights) - min(lefts), max(highs) - min(lows), 100)
    left, right = min(lefts), max(rights) + (spread if open_x else 0)
    low, high = min(lows), max(highs) + (spread if open_y else 0)
    lane = max([text_width(format_mm(hole.y), _SMALL, 600) for hole in holes] + [20]) + 26
    scale = min((width - lane - 14 - 2 * band) / (right - left), 0.75 * width / (high - low))
    wide = (right - left) * scale
    inner = lane + band + (width - lane - 14 - 2 * band - wide) / 2
    x = width - inner + left * scale if mirrored else inner - left * scale
    view = View(x, top + band + high * scale, scale, mirrored)

    edges_x = (min(0.0, left) if open_x else 0.0, right if open_x else float(wall.width or 0))
    edges_y = (min(0.0, low) if open_y else 0.0, high if open_y else float(wall.height or 0))
    face = view.box(edges_x[0], edges_y[0], edges_x[1] - edges_x[0], edges_y[1] - edges_y[0])
    canvas.begin("face-of-wall", {"scale": f"{scale:.6f}"})
    if not (open_x or open_y):
        canvas.rect(face.grown(band), "wall", canvas.id("metal"))
    canvas.rect(face, "paper")
    canvas.rect(face, "dashed" if open_x or open_y else "heavy")
    canvas.end()

    floor = max(face.bottom, view.up(low)) + band + 8 * step
    side_x = view.right(left) + (band + 8 * step) * (1 if mirrored else -1)
    _draw_lines(canvas, view, holes, floor, side_x)
    free = Box(0, top, side_x - 4, floor - top) if mirrored else Box(side_x + 4, top, width - side_x - 4, floor - top)
    _draw_holes(canvas, view, holes, free)
    base = _draw_axis_x(canvas, view, holes, floor, side_x, width)
    _draw_axis_y(canvas, view, holes, floor, side_x, top, mirrored)
    return _draw_notes(canvas, wall, view, base, lane if not mirrored else 14, width, say)


def _draw_lines(canvas: Canvas, view: View, holes: list[_Hole], floor: float, side_x: float) -> None:
    highest: dict[float, float] = {}
    farthest: dict[float, float] = {}
    for hole in holes:  # openings that share a coordinate share its line
        x, y = view.right(hole.x), view.up(hole.y)
        highest[x] = min(y, highest.get(x, y))
        known = farthest.get(y, x)
        farthest[y] = x if abs(x - side_x) > abs(known - side_x) else known
    canvas.begin("coordinates")
    for x, y in sorted(highest.items()):
        canvas.line(x, floor, x, y, "hair")
    for y, x in sorted(farthest.items()):
        canvas.line(x, y, side_x, y, "hair")
    canvas.end()


def _draw_holes(canvas: Canvas, view: View, holes: list[_Hole], face: Box) -> None:
    boxes = {hole.id: view.box(hole.left, hole.bottom, hole.width, hole.height) for hole in holes}
    for hole in holes:
        box = boxes[hole.id]
        canvas.begin("transit", {"transit": hole.id})
        if hole.is_round:
            canvas.circle(*box.middle, box.width / 2, "opening edge")
        elif hole.width:
            canvas.rect(box, "opening edge")
        else:
            x, y = box.middle
            canvas.path(["M", x - 4, y - 4, "L", x + 4, y + 4, "M", x - 4, y + 4, "L", x + 4, y - 4], "edge")
        canvas.end()
    taken = [box.grown(2) for box in boxes.values()]
    words = []
    for hole in sorted(holes, key=lambda hole: (-hole.bottom - hole.height, hole.left)):
        label = _place_name(hole.id, boxes[hole.id], taken, face)
        if label is not None:
            taken.append(label.grown(2))
            words.append((hole.id, label))
    for _, label in words:
        canvas.rect(label.grown(1.5), "halo")
    canvas.begin("words")
    for text, label in words:
        canvas.text(label.x + label.width / 2, label.y + reach(text)[0] * _NAME, text, _NAME, 700)
    canvas.end()


def _place_name(text: str, hole: Box, taken: list[Box], face: Box) -> Box | None:
    """Find a place for an ID beside its opening that meets nothing: above, below, right, left."""
    wide, high = text_width(text, _NAME, 700), 0.74 * _NAME
    x, y = hole.middle
    gap = 5.0
    for left, top in (
        (x - wide / 2, hole.y - gap - high),
        (x - wide / 2, hole.bottom + gap),
        (hole.right + gap, y - high / 2),
        (hole.x - gap - wide, y - high / 2),
        (hole.x, hole.y - gap - high),
        (hole.right - wide, hole.y - gap - high),
        (hole.x, hole.bottom + gap),
        (hole.right - wide, hole.bottom + gap),
    ):
        box = Box(left, top, wide, high)
        inside = left >= face.x and box.right <= face.right and top >= face.y and box.bottom <= face.bottom
        if inside and not any(box.meets(other) for other in taken):
            return box
    return None


def spread_out(places: Sequence[float], sizes: Sequence[float], low: float, high: float) -> list[float]:
    """Move labels apart along an axis: middles near ``places`` (ascending), each ``sizes`` long, within low..high.

    Everything must fit: the sum of the sizes is at most high − low.
    """
    middles: list[float] = []
    edge = low
    for place, size in zip(places, sizes, strict=True):
        middle = max(place, edge + size / 2)
        middles.append(middle)
        edge = middle + size / 2
    edge = high
    for number in range(len(middles) - 1, -1, -1):
        middles[number] = min(middles[number], edge - sizes[number] / 2)
        edge = middles[number] - sizes[number] / 2
    return middles


def _choose(places: dict[float, str], room: float, size: Callable[[str], float]) -> list[tuple[float, str]]:
    """Return the labels that fit into ``room``, in order; the most crowded are left out first."""
    chosen = sorted(places.items())
    while chosen and sum([size(text) for _, text in chosen]) > room:
        gaps = [
            min([abs(place - other) for other, _ in chosen[max(0, n - 1) : n + 2] if other != place] or [room])
            for n, (place, _) in enumerate(chosen)
        ]
        chosen.pop(gaps.index(min(gaps)))
    return chosen


def _draw_axis_x(canvas: Canvas, view: View, holes: list[_Hole], floor: float, side_x: float, width: float) -> float:
    places = {round(view.right(hole.x), 2): format_mm(hole.x) for hole in holes}
    low, high = 22.0, width - 22
    chosen = _choose(places, high - low, lambda text: text_width(text, _SMALL, 600) + 6)
    sizes = [text_width(text, _SMALL, 600) + 6 for _, text in chosen]
    middles = spread_out([place for place, _ in chosen], sizes, low, high)
    base = floor + 32
    zero = view.right(0)
    ends = [view.right(hole.x) for hole in holes] + [zero]
    canvas.begin("axis")
    canvas.line(min(ends), floor, max(ends), floor, "fine")
    canvas.circle(zero, floor, 4, "datum")
    for (place, _), middle in zip(chosen, middles, strict=True):
        canvas.path(["M", place - 3, floor + 3, "L", place + 3, floor - 3], "fine")
        canvas.path(["M", place, floor, "V", floor + 6, "L", middle, base - 12], "hair")
    canvas.begin("words")
    for (_, text), middle in zip(chosen, middles, strict=True):
        canvas.text(middle, base, text, _SMALL, 600)
    clear = all(abs(middle - zero) > size / 2 + 10 for middle, size in zip(middles, sizes, strict=True))
    canvas.text(zero, base + (4 if clear else 20), "X", 16, 700)
    canvas.end()
    canvas.end()
    return base + (10 if clear else 26)


def _draw_axis_y(
    canvas: Canvas, view: View, holes: list[_Hole], floor: float, side_x: float, top: float, mirrored: bool
) -> None:
    places = {round(view.up(hole.y), 2): format_mm(hole.y) for hole in holes}
    zero = view.up(0)
    pitch = _SMALL * 1.15
    low, high = top - 4, max(zero - 12, top + 20)
    chosen = _choose(places, high - low, lambda text: pitch)
    middles = spread_out([place for place, _ in chosen], [pitch] * len(chosen), low, high)
    turn = 1 if mirrored else -1
    ends = [view.up(hole.y) for hole in holes] + [zero]
    canvas.begin("axis")
    canvas.line(side_x, min(ends), side_x, max(ends), "fine")
    canvas.circle(side_x, zero, 4, "datum")
    anchor = "start" if mirrored else "end"
    for (place, _), middle in zip(chosen, middles, strict=True):
        canvas.path(["M", side_x - 3, place + 3, "L", side_x + 3, place - 3], "fine")
        canvas.path(["M", side_x, place, "L", side_x + turn * 12, middle], "hair")
    canvas.begin("words")
    for (_, text), middle in zip(chosen, middles, strict=True):
        canvas.text(side_x + turn * 14, middle + 0.35 * _SMALL, text, _SMALL, 600, anchor)
    canvas.text(side_x + turn * 8, zero + 5.6, "Y", 16, 700, anchor)
    canvas.end()
    canvas.end()


def _draw_notes(canvas: Canvas, wall: Wall, view: View, base: float, left: float, width: float, say: Say) -> float:
    """Write what the datum edges are, and draw a scale bar."""
    metre = next((m for m in (0.1, 0.2, 0.5, 1, 2, 5, 10) if m * 1000 * view.scale >= 70), 20)
    long = metre * 1000 * view.scale
    at = base + 18
    bar = width - 14 - long - 20
    lines = [f"X: {wall.datum.x}", f"Y: {wall.datum.y}"]
    canvas.begin("words")
    y = at
    for line in [part for edge in lines for part in wrap(edge, bar - left - 20, _SMALL)]:
        canvas.text(left, y, line, _SMALL, 400, "start")
        y += 1.3 * _SMALL
    canvas.text(bar, at + 12, "0", _SMALL, 400)
    text = f"{metre:g} m"
    canvas.text(bar + long, at + 12, text, _SMALL, 400)
    canvas.end()
    for number in range(4):
        piece = Box(bar + number * long / 4, at - 8, long / 4, 6)
        canvas.rect(piece, "plate" if number % 2 == 0 else "fine")
    return max(y - 0.6 * _SMALL, at + 18) + 6
