"""A split seal as the installer sees it: two halves round one cable, the layers that stay in, the hole.

The seal, the hole, the cable and the layers are to scale. The screws show their numbers,
clockwise from the top; where exactly they sit is the sleeve's own business, and the drawing says so.
"""

from collections.abc import Callable
from math import sqrt

from generator.drawing.canvas import Box, Canvas
from generator.drawing.describe import describe_seal, diameter_text
from generator.drawing.labels import label_face
from generator.drawing.lettering import wrap
from generator.drawing.parts import opening_of, opening_words, screws_of
from generator.drawing.sheet import Sheet, Side
from generator.drawing.symbols import draw_face, draw_halos, draw_screws, write_words
from generator.model.job import Cable
from generator.model.layout import Fit, SealLayout
from generator.model.pack import TransitPack
from generator.model.scalars import format_mm

Say = Callable[[str], str]


def draw_seal(
    canvas: Canvas, sheet: Sheet, pack: TransitPack, side: Side, top: float, told: list[str], say: Say
) -> float:
    """Draw a split seal below ``top``, add it in words to ``told``, and return where the drawing ends."""
    seal = pack.catalogue.split_seals[pack.transit.split_seal or ""]
    opening = opening_of(pack)
    screws = screws_of(pack)
    step = sheet.step
    far = side == "far"
    outer = float(seal.diameter)
    hole = float(opening.diameter) if opening is not None and opening.diameter is not None else outer
    ring = 2 * sheet.least if screws is not None else 0

    lane = 0.235 * sheet.width  # for what the leader lines name
    square = sheet.width - lane - 2 * step
    border = 8 * step
    scale = (square / 2 - border - ring) / (max(hole, outer) / 2)
    left = lane + step if far else step
    x, y = left + square / 2, top + square / 2
    lines: list[str] = []
    canvas.begin("seal", {"scale": f"{scale:.6f}"})
    canvas.rect(Box(left, top, square, square), "wall", canvas.id("metal"))
    r = outer / 2 * scale
    r_hole = max(hole, outer) / 2 * scale
    if screws is not None and not far:
        canvas.circle(x, y, r_hole + ring, "ring edge")
        flats = min(1.5 * sheet.least, 2.4 * r_hole / max(screws.bolts, 1))
        draw_screws(canvas, sheet, (x, y), r_hole + ring / 2, screws.bolts, flats)
    canvas.circle(x, y, r_hole, "paper")
    canvas.circle(x, y, r_hole, "hole edge")
    canvas.circle(x, y, r, "ground body heavy")
    if isinstance(pack.layout, SealLayout):
        cable = next(cable for cable in pack.cables if cable.tag == pack.layout.cable)
        fit = pack.layout.fit
        told.append(describe_seal(pack.layout, cable, fit, say))
        radius = float(cable.likely) / 2 * scale
        known = None if fit.measure or cable.assumed else fit
        reached = _draw_layers(canvas, sheet, pack, (x, y), scale, r, radius, known)
        canvas.path(["M", x - r, y, "H", x - radius, "M", x + radius, y, "H", x + r], "halves edge")
        if not _draw_cable(canvas, sheet, cable, fit, (x, y), radius):
            lines += wrap(f"{cable.tag}, Ø{diameter_text(cable)}", sheet.width - 2 * step, sheet.least, 600)
        _draw_leaders(canvas, sheet, left - lane if far else left + square, lane, far, (x, y),
                      (reached + r) / 2, known, say)  # fmt: skip
    else:
        told.append(say("There is no layout for this seal yet."))
        canvas.path(["M", x - r, y, "H", x + r], "halves edge")
        canvas.begin("words")
        canvas.text(x, y - 0.4 * sheet.tags[0], say("No layout"), sheet.tags[0], 700)
        canvas.end()
    canvas.end()
    below = top + square
    if opening is not None:
        hole_words = say("Hole {opening} through {thickness} mm").format(
            opening=opening_words(opening), thickness=format_mm(pack.wall.thickness)
        )
        lines += wrap(hole_words, sheet.width - 2 * step, sheet.least, 600)
        told.append(f"{hole_words}.")
    if screws is not None and not far:
        note = say("Screws: numbered clockwise from the top, not to scale.")
        told.append(note)
        lines += wrap(note, sheet.width - 2 * step, sheet.least, 600)
    canvas.begin("words")
    for text in lines:
        below += 1.35 * sheet.least
        if far:
            canvas.text(sheet.width - step, below, text, sheet.least, 600, "end")
        else:
            canvas.text(step, below, text, sheet.least, 600, "start")
    canvas.end()
    return below + 0.5 * sheet.least


def _draw_layers(
    canvas: Canvas, sheet: Sheet, pack: TransitPack, middle: tuple[float, float], scale: float, r: float,
    radius: float, fit: Fit | None,
) -> float:  # fmt: skip
    """Draw the layers that stay in each half, and return the radius they reach to."""
    seal = pack.catalogue.split_seals[pack.transit.split_seal or ""]
    x, y = middle
    if seal.layers is None:
        return radius
    first, thick = float(seal.layers.bore) / 2 * scale, float(seal.layers.layer) * scale
    count = seal.layers.layers_per_half
    last = min(first + count * thick, r)
    every = 1
    while thick * every < 2.6 * sheet.edge_line / 1.75:
        every += 1
    peeled = (0, 0) if fit is None else (fit.likely.a, fit.likely.b)
    for number in range(count, -1, -every):
        at = first + number * thick
        if at > r - sheet.edge_line:
            continue
        for half, gone in zip(("A", "B"), peeled, strict=True):
            if number < gone or at <= radius + sheet.edge_line:
                continue
            end = y
            sweep = 1 if half == "A" else 0
            canvas.path(["M", x - at, end, "A", at, at, 0, 0, sweep, x + at, end], "layer fine")
    return max(last, radius)


def _draw_cable(
    canvas: Canvas, sheet: Sheet, cable: Cable, fit: Fit, middle: tuple[float, float], radius: float
) -> bool:
    """Draw the cable, and return whether its tag stands inside it."""
    states = (" assumed" if cable.assumed else "") + (" measure" if fit.measure else "")
    data = {"cable": cable.tag, "size": format_mm(fit.size), "role": "cable"}
    canvas.begin(f"block cable {cable.service}{states}", data, middle)
    if cable.assumed or cable.service in ("fibre", "pipe"):
        canvas.circle(0, 0, radius, "paper")
    draw_face(canvas, cable.service, radius, cable.assumed, canvas.id(cable.service))
    sign = "Ø~" if fit.measure and cable.diameter is not None else "Ø"
    words = label_face(sheet, radius, cable.tag, sign + diameter_text(cable))
    solid = cable.service == "power" and not cable.assumed
    if not solid and not cable.assumed:
        draw_halos(canvas, words, 1.5 * sheet.step)
    write_words(canvas, words, "solid-words" if solid else "words")
    canvas.end()
    return bool(words)


def _draw_leaders(
    canvas: Canvas, sheet: Sheet, at: float, lane: float, far: bool, middle: tuple[float, float], reach: float,
    fit: Fit | None, say: Say,
) -> None:  # fmt: skip
    """Name both halves beside the seal: the layers to peel from each, and the gap between them."""
    x, y = middle
    step = sheet.step
    size = sheet.rows[0] * 1.15
    turn = -1 if far else 1
    off = reach / sqrt(2)
    start = at + (lane if far else 0) + turn * 6 * step
    anchor = "end" if far else "start"
    small = sheet.least
    layers_out = wrap(say("layers out"), lane - 8 * step, small)
    canvas.begin("leaders")
    for name, above in (("A", True), ("B", False)):
        dot_x, dot_y = x + turn * off, y - off if above else y + off
        base = y - 2.2 * size if above else y + 2.2 * size
        canvas.path(["M", dot_x, dot_y, "L", start - turn * 3 * step, base - 0.35 * size], "fine")
        canvas.circle(dot_x, dot_y, 2.2 * step, "dot")
        count = None if fit is None else (fit.likely.a if above else fit.likely.b)
        canvas.begin("words")
        if count is None:
            canvas.text(start, base, name, size, 300, anchor)
        else:
            canvas.spans(start, base, ((f"{name} ", 300), (str(count), 700)), size, anchor)
            for number, text in enumerate(layers_out):
                canvas.text(start, base + (1.3 + 1.15 * number) * small, text, small, 400, anchor)
        canvas.end()
    text = say("measure first") if fit is None else say("gap {gap}").format(gap=format_mm(fit.likely.gap))
    canvas.begin("words")
    for number, line in enumerate(wrap(text, lane - 8 * step, small * 1.1, 600)):
        canvas.text(start, y + 0.35 * small + 1.25 * number * small, line, small * 1.1, 600, anchor)
    canvas.end()
    canvas.end()
