"""The banner over every drawing: which side is seen, from which room, and what lies at its ends.

It is part of the drawing, so that no picture of a wall is ever seen without its side. From the far side
it is white with a hatched border, the landmarks swapped: a mirrored reading catches the eye twice.
"""

from collections.abc import Callable

from generator.drawing.canvas import Box, Canvas
from generator.drawing.lettering import reach, text_width, wrap
from generator.drawing.sheet import Sheet, Side
from generator.drawing.symbols import Turn, draw_arrow

Say = Callable[[str], str]


def side_caption(side: Side, say: Say) -> str:
    """Return what the banner says about the side that is seen."""
    return say("SEEN FROM FAR SIDE — MIRRORED") if side == "far" else say("SEEN FROM WORKING SIDE")


def draw_banner(
    canvas: Canvas, sheet: Sheet, width: float, caption: str, room: str, marks: tuple[str, str], border: str = ""
) -> float:
    """Draw the banner at the top of the sheet and return its height.

    ``marks`` are what lies at the left and right as seen in this drawing; ``border`` is the id of the
    pattern that hatches the border of a far side's banner, which is white.
    """
    step = sheet.step
    far = bool(border)
    arrows = "arrow" if far else "arrow-light"
    inset = 8 * step if far else 0
    pad = 8 * step
    free = width - 2 * inset - 2 * pad
    size = next((size for size in sheet.rooms if text_width(room, size, 700) <= free), sheet.rooms[-1])
    lines = [(text, sheet.side, 600) for text in wrap(caption, free, sheet.side, 600)]
    rooms = wrap(room, free, size, 700)
    lines += [(text, size, 700) for text in rooms]
    arrow = 8 * step
    reached = [text_width(mark, sheet.landmark, 600) + arrow + 4 * step for mark in marks]
    beside = len(rooms) == 1 and text_width(room, size, 700) / 2 + max(reached) + 8 * step <= free / 2

    y = inset + pad * 0.9
    baselines = []
    for text, high, weight in lines:
        y += 0.74 * high
        baselines.append((text, high, weight, y))
        y += (0.46 * high) if len(baselines) < len(lines) else 0
    half = free / 2 - arrow - 10 * step
    ends = [[mark] if beside else wrap(mark, half, sheet.landmark, 600) for mark in marks]
    if not beside:
        y += 0.5 * sheet.landmark
    else:
        y -= 0.74 * sheet.landmark
    first = y + 0.74 * sheet.landmark
    bottom = max([first + (len(end) - 1) * 1.25 * sheet.landmark for end in ends] + [baselines[-1][3]])
    height = bottom + pad + inset

    if far:
        line = sheet.edge_line
        outer = Box(0, 0, width, height).grown(-line / 2)
        canvas.rect(outer, "banner-far")
        canvas.rect(outer, "border edge", border)
        canvas.rect(Box(0, 0, width, height).grown(-inset + step), "paper")
    else:
        canvas.rect(Box(0, 0, width, height).grown(-sheet.edge_line / 2), "banner")
    canvas.begin("words" if far else "banner-words")
    for text, high, weight, at in baselines:
        canvas.text(width / 2, at, text, high, weight)
    turns: tuple[Turn, Turn] = ("left", "right")
    for end, anchor, turned in zip(ends, ("start", "end"), turns, strict=True):
        edge = inset + pad if anchor == "start" else width - inset - pad
        inward = arrow + 4 * step if anchor == "start" else -(arrow + 4 * step)
        draw_arrow(
            canvas, edge, first - 0.35 * sheet.landmark, arrow, "left" if turned == "left" else "right", arrows
        )
        for number, text in enumerate(end):
            canvas.text(edge + inward, first + number * 1.25 * sheet.landmark, text, sheet.landmark, 600, anchor)
    canvas.end()
    return height


def draw_bay_bar(
    canvas: Canvas, sheet: Sheet, width: float, y: float, side: Side, text: str, marks: tuple[str, str]
) -> float:
    """Draw the bar over one bay of several, with the landmarks again, and return its height."""
    step = sheet.step
    size = sheet.landmark
    height = 1.9 * size
    box = Box(0, y, width, height).grown(-sheet.edge_line / 2)
    far = side == "far"
    arrows = "arrow" if far else "arrow-light"
    canvas.rect(box, "banner-far" if far else "banner")
    canvas.begin("words" if far else "banner-words")
    base = y + height / 2 + 0.35 * size
    canvas.text(width / 2, base, text, size, 700)
    arrow, pad = 8 * step, 8 * step
    free = width / 2 - text_width(text, size, 700) / 2 - pad - arrow - 12 * step
    left, right = marks
    draw_arrow(canvas, pad, base - 0.35 * size, arrow, "left", arrows)
    draw_arrow(canvas, width - pad, base - 0.35 * size, arrow, "right", arrows)
    for mark, x, anchor in ((left, pad + arrow + 4 * step, "start"), (right, width - pad - arrow - 4 * step, "end")):
        if text_width(mark, sheet.least, 600) <= free:
            canvas.text(x, base, mark, sheet.least, 600, anchor)
    canvas.end()
    return height


def draw_up_mark(canvas: Canvas, sheet: Sheet, width: float, y: float, up: str, say: Say) -> float:
    """Draw a deck's datum mark: an arrow to the upper edge and where that points. Returns its height."""
    size = sheet.landmark
    text = say("upper edge: {direction}").format(direction=up)
    arrow = 12 * sheet.step
    lines = wrap(text, width - 4 * arrow, size, 600)
    wide = max([text_width(line, size, 600) for line in lines])
    left = (width - wide) / 2
    base = y + 6 * sheet.step + reach(text)[0] * size
    canvas.begin("words")
    draw_arrow(canvas, left - arrow, base - 0.85 * size, arrow, "up")
    for number, line in enumerate(lines):
        canvas.text(left, base + number * 1.25 * size, line, size, 600, "start")
    canvas.end()
    return base + (len(lines) - 1) * 1.25 * size + 0.3 * size - y
