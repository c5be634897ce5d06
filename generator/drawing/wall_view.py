"""A wall in elevation, or a deck in plan, to scale from one of its sides: where its transits are, and what else.

Coordinates run from the two datum edges X and Y, so that one end of the tape stays where it is; lines lead
to what is measured (a corner or the middle of the opening). Numbers are spread along their axis until none
meets another; where there are more than the axis holds, the most crowded are left to the list. IDs stand
where they meet nothing; one that finds no place is left to the list too. Keep-outs carry a sparse hatch as far
as they are to stay clear, with a dash-dot edge there, and what is there itself is drawn in it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import ceil, sqrt

from generator.drawing.banner import draw_banner, draw_up_mark
from generator.drawing.canvas import Box, Canvas, View, own_id
from generator.drawing.lettering import reach, text_width, wrap
from generator.drawing.parts import opening_of, opening_words
from generator.drawing.sheet import SCREEN
from generator.drawing.symbols import define
from generator.model.job import KeepOut, Wall
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


@dataclass(frozen=True)
class Paper:
    """A sheet of paper, upright or lying: what a drawing may take of it, mm."""

    name: str
    width: float
    tallest: float


SCALES = (1, 2, 5, 10, 20, 25, 50, 100, 200, 500, 1000)
"""Scales of drawings, 1 to each of these: those of ISO 5455, and the 25 of building sites."""
PX = 96 / 25.4
"""Px of a sheet in a mm of paper, as browsers print."""


def draw_wall(wall_id: str, wall: Wall, packs: Sequence[TransitPack], side: str, say: Say, width: int = 860) -> str:
    """Draw a wall from the room ``side`` (one of the wall's two) and return an ``<svg>`` for inlining.

    ``packs`` are its transits. ``width`` of the sheet in px: 860 for a desk and for A4 upright, 344 for a phone. A
    wall whose width or height is not given is drawn as far as its openings reach, with open ends.
    """
    holes = [_hole_of(pack) for pack in packs]
    frame = _measure(wall, holes, float(width), 0.75 * width)
    return _draw(wall_id, wall, packs, side, say, float(width), frame, str(width))


def draw_on_paper(wall_id: str, wall: Wall, packs: Sequence[TransitPack], say: Say, paper: Paper) -> tuple[str, int]:
    """Draw a wall from its first side to a usual scale and return the ``<svg>`` and n, where the scale is 1 to n.

    The drawing is ``paper.width`` mm wide when it is printed, and the elevation at most ``paper.tallest`` mm high.
    """
    width = paper.width * PX
    frame = _measure(wall, [_hole_of(pack) for pack in packs], width, paper.tallest * PX)
    usual = next((n for n in SCALES if PX / n <= frame.scale), SCALES[-1])
    frame = replace(frame, scale=min(frame.scale, PX / usual))
    return _draw(wall_id, wall, packs, wall.sides[0], say, width, frame, paper.name), usual


def _draw(
    wall_id: str,
    wall: Wall,
    packs: Sequence[TransitPack],
    side: str,
    say: Say,
    width: float,
    frame: "_Extent",
    name: str,
) -> str:
    first = side == wall.sides[0]
    marks = (wall.landmarks.left, wall.landmarks.right)
    canvas = Canvas(SCREEN.looks, own_id("wall", wall_id, "first" if first else "second", name))
    define(canvas, SCREEN, ("metal",))
    caption = say("PLAN SEEN FROM") if wall.division == "deck" else say("SEEN FROM")
    top = draw_banner(canvas, SCREEN, width, caption, side, marks if first else marks[::-1])
    behind = wall.sides[1] if first else wall.sides[0]
    told = [say("{id} seen from {room}. Behind it lies {other}.").format(id=wall_id, room=side, other=behind)]
    if wall.up is not None:
        top += draw_up_mark(canvas, SCREEN, width, top, wall.up, say)
        told.append(say("The upper edge points to {direction}.").format(direction=wall.up))
    holes = [_hole_of(pack) for pack in packs]
    told += [_describe(pack, wall, say) for pack in packs]
    told += [_describe_keep_out(name, keep_out, say) for name, keep_out in wall.keep_outs.items()]
    bottom = _draw_face(canvas, wall, holes, not first, width, top + 16, frame, say)
    title = wall_id + ": " + say("where the transits are")
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


def _describe_keep_out(name: str, keep_out: KeepOut, say: Say) -> str:
    clear = format_mm(keep_out.clear)
    x, y = format_mm(keep_out.x), format_mm(keep_out.y)
    if keep_out.diameter is not None:
        text = say("Keep-out {name}: Ø {diameter}, x {x}, y {y} to its centre, {clear} mm clear round it.")
        return text.format(name=name, diameter=format_mm(keep_out.diameter), x=x, y=y, clear=clear)
    wide, high = format_mm(keep_out.width or keep_out.clear), format_mm(keep_out.height or keep_out.clear)
    text = say(
        "Keep-out {name}: {width} × {height}, x {x}, y {y} to its lower left corner, {clear} mm clear round it."
    )
    return text.format(name=name, width=wide, height=high, x=x, y=y, clear=clear)


@dataclass(frozen=True)
class _Extent:
    """What of a wall is drawn, mm, the lane for the numbers of y, px, and the scale, px per mm."""

    left: float
    right: float
    low: float
    high: float
    lane: float
    scale: float


def _measure(wall: Wall, holes: list[_Hole], width: float, tallest: float) -> _Extent:
    lefts, rights = [0.0], [float(wall.width or 0)]
    lows, highs = [0.0], [float(wall.height or 0)]
    shapes = [(hole.left, hole.bottom, hole.width, hole.height) for hole in holes]
    kept = [_box_of(keep_out) for keep_out in wall.keep_outs.values()]
    for left, low, wide, high in shapes + (kept if wall.width is None else []):
        lefts.append(left)
        rights.append(left + wide)
        if wall.height is None or (left, low, wide, high) in shapes:
            lows.append(low)
            highs.append(low + high)
    spread = 0.06 * max(max(rights) - min(lefts), max(highs) - min(lows), 100)
    right = max(rights) + (spread if wall.width is None else 0)
    top = max(highs) + (spread if wall.height is None else 0)
    lane = max([text_width(format_mm(hole.y), _SMALL, 600) for hole in holes] + [20]) + 26
    room = width - lane - 14 - 2 * SCREEN.band
    scale = min(room / (right - min(lefts)), tallest / (top - min(lows)))
    return _Extent(min(lefts), right, min(lows), top, lane, scale)


def _box_of(keep_out: KeepOut) -> tuple[float, float, float, float]:
    """Return a keep-out's left and lower edge, width and height, mm."""
    if keep_out.diameter is not None:
        side = float(keep_out.diameter)
        return float(keep_out.x) - side / 2, float(keep_out.y) - side / 2, side, side
    return float(keep_out.x), float(keep_out.y), float(keep_out.width or 0), float(keep_out.height or 0)


def _draw_face(
    canvas: Canvas,
    wall: Wall,
    holes: list[_Hole],
    mirrored: bool,
    width: float,
    top: float,
    extent: _Extent,
    say: Say,
) -> float:
    step, band = SCREEN.step, SCREEN.band
    left, right, low, high = extent.left, extent.right, extent.low, extent.high
    lane, scale = extent.lane, extent.scale
    open_x, open_y = wall.width is None, wall.height is None
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
    kept = _draw_keep_outs(canvas, wall, view, face)
    canvas.rect(face, "dashed" if open_x or open_y else "heavy")
    canvas.end()

    floor = max(face.bottom, view.up(low)) + band + 8 * step
    side_x = view.right(left) + (band + 8 * step) * (1 if mirrored else -1)
    _draw_lines(canvas, view, holes, floor, side_x)
    free = Box(0, top, side_x - 4, floor - top) if mirrored else Box(side_x + 4, top, width - side_x - 4, floor - top)
    _draw_holes(canvas, view, holes, free, kept)
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


_Kept = dict[str, tuple[Box, Box]]
"""By name, what of a keep-out is on the face: itself, and with what is to stay clear round it."""


def _draw_keep_outs(canvas: Canvas, wall: Wall, view: View, face: Box) -> _Kept:
    """Draw keep-outs as far as they lie on the face; what stays clear only where it is wide enough to be seen."""
    kept: _Kept = {}
    for name, keep_out in wall.keep_outs.items():
        left, low, wide, high = _box_of(keep_out)
        clear = float(keep_out.clear) if float(keep_out.clear) * view.scale >= 4 else 0.0
        there = _cut(view.box(left, low, wide, high), face)
        around = _cut(view.box(left - clear, low - clear, wide + 2 * clear, high + 2 * clear), face)
        if there is None or around is None:
            continue
        kept[name] = there, around
        canvas.begin(f"keep-out keep-out-{keep_out.kind}", {"keep-out": name})
        if keep_out.diameter is not None:
            x, y = view.right(keep_out.x), view.up(keep_out.y)
            if clear:
                rim = (wide / 2 + clear) * view.scale
                canvas.path(_hatch_circle(x, y, rim), "hair")
                canvas.circle(x, y, rim, "dash-dot")
            canvas.circle(x, y, wide / 2 * view.scale, "there edge")
        else:
            if clear or keep_out.kind == "other":
                canvas.path(_hatch(around), "hair")
                canvas.rect(around, "dash-dot")
            if keep_out.kind == "door":
                canvas.rect(there, "there edge")
                x, y = there.middle
                hinge, lock = (there.right, there.x) if view.mirrored else (there.x, there.right)
                canvas.path(["M", hinge, there.y, "L", lock, y, "L", hinge, there.bottom], "hair")
            elif keep_out.kind == "weld-seam":
                _draw_seam(canvas, there)
            elif keep_out.kind in ("stiffener", "service"):
                canvas.rect(there, "there edge" if min(there.width, there.height) >= 5 else "there fine")
            elif clear:
                canvas.rect(there, "fine")
        canvas.end()
    return kept


_PITCH = 18.0
"""Between the lines of a keep-out's hatch, along the edge, px. They are lines: printers make patterns coarse."""


def _hatch(box: Box) -> list[str | float]:
    """Return lines from upper left to lower right that fill a box; those of boxes side by side meet."""
    steps: list[str | float] = []
    for number in range(ceil((box.x - box.bottom) / _PITCH), ceil((box.right - box.y) / _PITCH)):
        off = number * _PITCH  # x − y of the line
        start, end = max(box.x, off + box.y), min(box.right, off + box.bottom)
        if start < end:
            steps += ["M", start, start - off, "L", end, end - off]
    return steps


def _hatch_circle(x: float, y: float, radius: float) -> list[str | float]:
    """Return the same lines within a circle."""
    steps: list[str | float] = []
    for number in range(ceil((x - y - 1.42 * radius) / _PITCH), ceil((x - y + 1.42 * radius) / _PITCH)):
        away = (x - y - number * _PITCH) / 2  # from the middle to the line, along x and along y
        chord = radius**2 - 2 * away**2
        if chord > 0:
            half = sqrt(chord / 2)
            steps += ["M", x - away - half, y + away - half, "L", x - away + half, y + away + half]
    return steps


def _cut(box: Box, face: Box) -> Box | None:
    """Return what of a box lies on the face."""
    x, y = max(box.x, face.x), max(box.y, face.y)
    wide, high = min(box.right, face.right) - x, min(box.bottom, face.bottom) - y
    return Box(x, y, wide, high) if wide > 0 and high > 0 else None


def _draw_seam(canvas: Canvas, box: Box) -> None:
    """Draw a weld seam: its line, and short bows across it as drawings show a weld."""
    x, y = box.middle
    steps: list[str | float] = []
    if box.height >= box.width:
        steps += ["M", x, box.y, "V", box.bottom]
        at = box.y + 5
        while at < box.bottom - 3:
            steps += ["M", x - 3, at + 2, "L", x + 3, at - 2]
            at += 9
    else:
        steps += ["M", box.x, y, "H", box.right]
        at = box.x + 5
        while at < box.right - 3:
            steps += ["M", at - 2, y + 3, "L", at + 2, y - 3]
            at += 9
    canvas.path(steps, "fine")


def _draw_holes(canvas: Canvas, view: View, holes: list[_Hole], face: Box, kept: _Kept) -> None:
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
        label = _place_name(hole.id, boxes[hole.id], taken, face, [there for there, _ in kept.values()])
        if label is not None:
            taken.append(label.grown(2))
            words.append((hole.id, label))
    plain = []
    for name, (box, around) in kept.items():
        others = [cleared for other, (_, cleared) in kept.items() if other != name]
        label = _place_inside(name, box, around, taken + others, face) or _place_inside(
            name, box, around, taken, face
        )
        if label is not None:
            taken.append(label.grown(2))
            plain.append((name, label))
    for _, label in words + plain:
        canvas.rect(label.grown(1.5), "halo")
    canvas.begin("words")
    for text, label in words:
        canvas.text(label.x + label.width / 2, label.y + reach(text)[0] * _NAME, text, _NAME, 700)
    for text, label in plain:
        canvas.text(label.x + label.width / 2, label.y + reach(text)[0] * _SMALL, text, _SMALL)
    canvas.end()


def _place_inside(text: str, box: Box, around: Box, taken: list[Box], face: Box) -> Box | None:
    """Find a place for a keep-out's name: on it, along it, right or left of it, else above or below it."""
    wide, high = text_width(text, _SMALL, 400), 0.74 * _SMALL
    shares = (0.5, 0.25, 0.75, 0.12, 0.88)
    if wide <= box.width:
        spots = [(box.x + across * box.width, box.y + up * box.height) for up in shares for across in shares]
    else:
        heights = [box.y + up * box.height for up in shares]
        beside = [(around.right + 5 + wide / 2, y) for y in heights] + [(around.x - 5 - wide / 2, y) for y in heights]
        along = [(box.middle[0], y) for y in heights]
        spots = along + beside if wide < around.width + 12 else beside + along
    spots += [(box.middle[0], around.y - 5 - high / 2), (box.middle[0], around.bottom + 5 + high / 2)]
    for x, y in spots:
        label = Box(x - wide / 2, y - high / 2, wide, high)
        inside = label.x >= face.x and label.right <= face.right and label.y >= face.y and label.bottom <= face.bottom
        if inside and not any(label.meets(other) for other in taken):
            return label
    return None


_HIDDEN = 0.1
"""The share of a keep-out that an ID may cover while another place is free: a long one is still seen then."""


def _place_name(text: str, hole: Box, taken: list[Box], face: Box, kept: list[Box]) -> Box | None:
    """Find a place for an ID beside its opening that meets nothing: above, below, right, left.

    One that hides a keep-out of ``kept`` is taken only where there is no other.
    """
    wide, high = text_width(text, _NAME, 700), 0.74 * _NAME
    x, y = hole.middle
    gap = 5.0
    last = None
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
            if not any(_hides(box, there) for there in kept):
                return box
            last = last or box
    return last


def _hides(label: Box, there: Box) -> bool:
    both = _cut(there, label)
    return both is not None and both.width * both.height > _HIDDEN * there.width * there.height


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
    lines += [say("Behind it") + ": " + (wall.sides[0] if view.mirrored else wall.sides[1])]
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
