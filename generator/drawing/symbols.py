"""One function per part: how blocks, cables, plates, units, metal and welds are drawn.

The cable's cut face carries its class: P solid, C hatched, I cross hatched, D dots, F a ring and a dot,
E upright bars, T (a tube or pipe) a wall with an open middle. No part relies on colour.
"""

from collections.abc import Sequence
from functools import lru_cache
from math import cos, radians, sin, sqrt, tau
from typing import Literal

from generator.drawing.canvas import Box, Canvas, path_data, pattern
from generator.drawing.labels import Word
from generator.drawing.lettering import text_width
from generator.drawing.sheet import Sheet
from generator.model.scalars import ServiceClass

CLASS_LETTERS: dict[ServiceClass, str] = {
    "power": "P",
    "control": "C",
    "instrument": "I",
    "data": "D",
    "fibre": "F",
    "earth": "E",
    "pipe": "T",
}
Turn = Literal["left", "right", "up"]
Pattern = Literal["control", "instrument", "data", "earth", "metal", "border"]


def define(canvas: Canvas, sheet: Sheet, names: Sequence[Pattern]) -> None:
    """Write the patterns a drawing uses, so that nothing outside it is needed."""
    canvas.raw(f"<defs>{''.join([_pattern(canvas.id(name), sheet, name) for name in names])}</defs>")


@lru_cache(maxsize=1024)
def _pattern(id: str, sheet: Sheet, name: Pattern) -> str:
    pen = Canvas(sheet.looks)
    unit = sheet.edge_line / 1.75
    pitch = {"control": 5, "instrument": 4.6, "data": 4.4, "earth": 7, "metal": 5, "border": 10}[name] * unit
    half = pitch / 2
    if name in ("control", "metal"):
        pen.path(["M", half, 0, "V", pitch], "hatch" if name == "control" else "hatch metal-hatch")
    elif name == "instrument":
        pen.path(["M", half, 0, "V", pitch, "M", 0, half, "H", pitch], "hatch")
    elif name == "data":
        radius = 0.85 * unit
        pen.circle(half / 2, half / 2, radius, "dot")
        pen.circle(1.5 * half, 1.5 * half, radius, "dot")
    elif name == "earth":
        pen.rect(Box(half / 2, 0, half, pitch), "dot")
    else:
        pen.rect(Box(0, 0, half, pitch), "dot")
    return pattern(id, pitch, 0 if name in ("data", "earth") else 45, pen.markup())


def write_words(canvas: Canvas, words: Sequence[Word], look: str = "words") -> None:
    """Write words in one group."""
    if not words:
        return
    canvas.begin(look)
    for word in words:
        canvas.spans(word.x, word.y, word.parts, word.size, word.anchor)
    canvas.end()


def draw_halos(canvas: Canvas, words: Sequence[Word], by: float) -> None:
    """Clear the ground round words: hatching stops before the lettering."""
    for word in words:
        canvas.rect(word.box.grown(by), "halo")


def draw_block(canvas: Canvas, side: float, cable: float | None) -> None:
    """Draw a block round the origin: its edge, and where its halves meet, up to the cable's radius."""
    half = side / 2
    canvas.rect(Box(-half, -half, side, side), "edge")
    if cable is not None:
        canvas.path(["M", -half, 0, "H", -cable, "M", cable, 0, "H", half], "fine")


def draw_split(canvas: Canvas, side: float, bores: Sequence[tuple[float, float]]) -> None:
    """Draw a block round the origin with several bores (middle, radius), and where its halves meet."""
    half = side / 2
    canvas.rect(Box(-half, -half, side, side), "edge")
    line: list[str | float] = ["M", -half, 0]
    for x, radius in bores:
        line += ["H", x - radius, "M", x + radius, 0]
    canvas.path([*line, "H", half], "fine")


def draw_face(canvas: Canvas, service: ServiceClass, radius: float, assumed: bool, pattern_id: str) -> None:
    """Draw a cable's cut face round the origin; one that is only assumed is dashed and has no pattern."""
    if assumed:
        canvas.circle(0, 0, radius, "face dashed")
    elif service == "power":
        canvas.circle(0, 0, radius, "face solid")
    elif service == "fibre":
        canvas.circle(0, 0, radius, "face edge")
        canvas.circle(0, 0, radius * 0.6, "mesh fine")
        canvas.circle(0, 0, radius * 0.26, "mesh solid")
    elif service == "pipe":
        canvas.circle(0, 0, radius, "face edge")
        canvas.circle(0, 0, radius * 0.78, "mesh edge")
    else:
        canvas.circle(0, 0, radius, "face edge", pattern_id)


def draw_rings(canvas: Canvas, radius: float) -> None:
    """Draw a spare's plug round the origin: three thin rings."""
    for share in (1, 0.7, 0.4):
        canvas.circle(0, 0, radius * share, "thin fine")


def draw_diagonals(canvas: Canvas, side: float) -> None:
    """Draw a filler's diagonals round the origin."""
    half = side / 2
    canvas.path(["M", -half, -half, "L", half, half, "M", -half, half, "L", half, -half], "thin fine")


def draw_flag(canvas: Canvas, side: float, leg: float) -> None:
    """Mark a block whose cable is measured first: its upper right corner is solid."""
    half = side / 2
    canvas.path(["M", half, -half, "V", -half + leg, "L", half - leg, -half, "Z"], "mesh solid")


def draw_hexagon(canvas: Canvas, x: float, y: float, flats: float, look: str) -> None:
    """Draw a bolt's head: across flats ``flats``, corners up and down."""
    r, w = flats / sqrt(3), flats / 2
    canvas.path(["M", x, y - r, "L", x + w, y - r / 2, "V", y + r / 2, "L", x, y + r, "L", x - w, y + r / 2,
                 "V", y - r / 2, "Z"], look)  # fmt: skip


def draw_bolt(canvas: Canvas, x: float, y: float, flats: float, room: float) -> None:
    """Draw a bolt from its end: head, washer and centre lines within ``room`` of its middle."""
    draw_hexagon(canvas, x, y, flats, "edge")
    canvas.circle(x, y, min(flats * 0.72, room * 0.92), "fine")
    canvas.path(["M", x - room, y, "H", x + room, "M", x, y - room, "V", y + room], "centre-line")


def draw_screws(
    canvas: Canvas, sheet: Sheet, middle: tuple[float, float], radius: float, count: int, size: float
) -> None:
    """Draw a sleeve's screws round it with their numbers, clockwise; the first stands upright."""
    canvas.begin("screws")
    words = []
    for place in range(count):
        angle = tau * place / count
        x, y = middle[0] + radius * sin(angle), middle[1] - radius * cos(angle)
        draw_hexagon(canvas, x, y, size, "screw edge")
        words.append((x, y + 0.35 * sheet.least, str(place + 1)))
    canvas.begin("words")
    for x, y, text in words:
        canvas.text(x, y, text, sheet.least, 600)
    canvas.end()
    canvas.end()


def draw_arrow(canvas: Canvas, x: float, y: float, size: float, turned: Turn, look: str = "arrow") -> None:
    """Draw a solid arrow head whose tip is at (x, y)."""
    if turned == "up":
        canvas.path(["M", x, y, "L", x + size * 0.6, y + size, "H", x - size * 0.6, "Z"], look)
        return
    back = size if turned == "left" else -size
    canvas.path(["M", x, y, "L", x + back, y - size * 0.6, "V", y + size * 0.6, "Z"], look)


def draw_weld(
    canvas: Canvas, sheet: Sheet, tip: tuple[float, float], foot: float, sides: str, leg: str, mirrored: bool
) -> None:
    """Draw a fillet weld's sign: an arrow to the seam, a line, the leg, a triangle for each side that is welded.

    ``foot`` is the height of the line. The triangle above it stands for the side that is seen, the one
    below for the other side; ``mirrored`` draws the sign to the left of ``tip``. The leg stands left of the triangle
    with the letter z, the upright side of the triangle on the left, as ISO 2553 draws it (from memory, not checked).
    """
    step = sheet.step
    x, y = tip
    turn = -1 if mirrored else 1
    start, end = x + turn * 12 * step, x + turn * 44 * step
    canvas.begin("weld")
    canvas.path(["M", x, y, "L", start, foot, "H", end], "fine")
    draw_arrow_along(canvas, tip, (start, foot), 7 * step)
    tall = 7 * step
    words = f"z{leg}"
    at = min(start, end) + 4 * step + text_width(words, sheet.least, 600)
    seen, other = ("far side", "working side") if mirrored else ("working side", "far side")
    for where, up in ((seen, -1), (other, 1)):
        if sides in (where, "both sides"):
            canvas.path(["M", at, foot, "V", foot + up * tall, "L", at + tall, foot, "Z"], "fine")
    canvas.begin("words")
    canvas.text(at - 1.5 * step, foot - 1.5 * step, words, sheet.least, 600, "end")
    canvas.end()
    canvas.end()


def draw_pentagon(canvas: Canvas, box: Box, look: str) -> None:
    """Draw the pentagon that says *now*: a tag whose point shows to the right."""
    neck = box.right - 0.26 * box.width
    middle = box.middle[1]
    canvas.path(["M", box.x, box.y, "H", neck, "L", box.right, middle, "L", neck, box.bottom, "H", box.x, "Z"], look)


def draw_tick(canvas: Canvas, box: Box) -> None:
    """Draw the sign for done: a solid square with a tick cut out of it."""
    x, y, side = box.x, box.y, box.width
    canvas.rect(box, "solid")
    canvas.path(
        ["M", x + 0.2 * side, y + 0.54 * side, "L", x + 0.42 * side, y + 0.75 * side,
         "L", x + 0.8 * side, y + 0.27 * side],
        "tick",
    )  # fmt: skip


def draw_arrow_along(canvas: Canvas, tip: tuple[float, float], back: tuple[float, float], size: float) -> None:
    """Draw a slim arrow head at ``tip`` that comes from ``back``."""
    dx, dy = back[0] - tip[0], back[1] - tip[1]
    length = sqrt(dx * dx + dy * dy)
    ux, uy = dx / length, dy / length
    bx, by = tip[0] + ux * size, tip[1] + uy * size
    w = size * 0.3
    canvas.path(["M", tip[0], tip[1], "L", bx - uy * w, by + ux * w, "L", bx + uy * w, by - ux * w, "Z"], "arrow")


@lru_cache(maxsize=64)
def face_icon(what: ServiceClass | Literal["spare", "filler"]) -> str:
    """Return a small ``<svg>`` of a class's face for lists and the key, without ids, so that it may repeat.

    20 × 20; it takes its colour from the text around it, and says nothing to a screen reader: the word
    beside it does.
    """
    pen = Canvas({})
    line, r = 1.5, 9.0
    if what == "power":
        pen.raw('<circle cx="10" cy="10" r="9" fill="currentColor"/>')
    elif what == "spare":
        pen.raw("".join([f'<circle cx="10" cy="10" r="{s}" stroke-width="1"/>' for s in ("6.5", "4", "1.6")]))
        pen.raw('<path d="M1 1H19V19H1Z"/>')
    elif what == "filler":
        pen.raw('<path d="M1 1H19V19H1Z"/><path d="M1 1L19 19M19 1L1 19" stroke-width="1"/>')
    else:
        pen.raw('<circle cx="10" cy="10" r="9"/>')
        if what == "fibre":
            pen.raw('<circle cx="10" cy="10" r="5.4"/><circle cx="10" cy="10" r="2.4" fill="currentColor"/>')
        elif what == "pipe":
            pen.raw('<circle cx="10" cy="10" r="6.6"/>')
        elif what == "data":
            for x, y in ((0, 0), (4, 0), (-4, 0), (0, 4), (0, -4), (4, 4), (-4, 4), (4, -4), (-4, -4)):
                pen.raw(f'<circle cx="{10 + x}" cy="{10 + y}" r="1.1" fill="currentColor" stroke="none"/>')
        else:
            turns = {"control": (45,), "instrument": (45, -45), "earth": (90,)}[what]
            steps: list[str | float] = []
            for turn in turns:
                c, s = cos(radians(turn)), sin(radians(turn))
                for off in (-6.0, -2.0, 2.0, 6.0) if what != "earth" else (-5.4, 0.0, 5.4):
                    chord = sqrt(r * r - off * off)
                    # the line lies across its normal (s, c); screen y runs down
                    steps += ["M", 10 + off * s - chord * c, 10 + off * c + chord * s]
                    steps += ["L", 10 + off * s + chord * c, 10 + off * c - chord * s]
            pen.raw(f'<path d="{path_data(steps)}" stroke-width="{3 if what == "earth" else 1.2}"/>')
    return (
        '<svg class="face-icon" viewBox="0 0 20 20" width="20" height="20" fill="none" stroke="currentColor"'
        f' stroke-width="{line}" aria-hidden="true" focusable="false">{pen.markup()}</svg>'
    )
