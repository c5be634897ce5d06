"""The order in which bolts are tightened, as a diagram: each bolt's own number in it, its turn beside it.

Bolts round a flange stand as they do on the frame; those of a ring or a line show their number, not their place.
"""

from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise
from math import copysign, cos, dist, hypot, sin, tau

from generator.drawing.canvas import Box, Canvas
from generator.drawing.parts import flange_of, flange_places
from generator.drawing.sheet import SHEETS
from generator.drawing.symbols import draw_hexagon
from generator.model.closing import Bolts
from generator.model.pack import TransitPack

_SHEET = SHEETS["screen"]
_HEAD = 26.0  # across flats, px: a number of two figures fits
_TURN = 20.0  # side of the black square with a bolt's turn
_GAP = 6.0
_RING = 100.0  # radius of the largest ring
_FLAT = (208.0, 220.0)  # the largest flange

Places = tuple[tuple[float, float], ...]


def draw_bolts(pack: TransitPack, bolts: Bolts, number: int, say: Callable[[str], str]) -> str:
    """Return the diagram of ``bolts`` as an ``<svg>``; ``number`` keeps apart those of one page."""
    words = (
        say("Order of tightening"),
        say("Bolts {order}, one after the other.").format(order=", ".join(map(str, bolts.order))),
        say("in the bolt: its number"),
        say("beside it: its turn"),
    )
    return _drawn(_places(pack, bolts), bolts.order, number, words, bolts.places)


def _places(pack: TransitPack, bolts: Bolts) -> Places:
    """Return where the bolts stand, px from the middle of the diagram, y down, in the order of their numbers."""
    count = len(bolts.order)
    held = flange_of(pack)
    if bolts.places == "flange" and held:
        frame = pack.catalogue.frames[pack.transit.frame or ""]
        width, height = float(frame.width), float(frame.height)
        scale = min(_FLAT[0] / width, _FLAT[1] / height)
        return tuple(
            ((x - width / 2) * scale, (height / 2 - y) * scale) for x, y in flange_places(held[0], width, height)
        )
    if bolts.places == "line":
        apart = min(64.0, (_SHEET.width - 2 * _HEAD) / max(count - 1, 1))
        return tuple(((place - (count - 1) / 2) * apart, 0.0) for place in range(count))
    radius = min(_RING, max(44.0, count * (_HEAD + _GAP) / tau))
    return tuple((radius * sin(tau * place / count), -radius * cos(tau * place / count)) for place in range(count))


@lru_cache(maxsize=256)
def _drawn(places: Places, order: tuple[int, ...], number: int, words: tuple[str, ...], kind: str) -> str:
    sheet = _SHEET
    canvas = Canvas(sheet.looks, f"bolts-{number}")
    highest = max(abs(y) for _, y in places)
    reach = highest + _HEAD / 2 + _GAP + _TURN + _GAP
    x0, y0 = sheet.width / 2, reach
    heads = [(x0 + x, y0 + y) for x, y in places]
    apart = min((dist(one, other) for one, other in pairwise([*heads, heads[0]]) if one != other), default=_HEAD + 2)
    size = min(_HEAD, apart - 2)
    turns = {bolt: turn for turn, bolt in enumerate(order, 1)}
    canvas.begin("screws")
    if kind != "line":
        for one, other in zip(order[::2], order[1::2], strict=False):
            canvas.line(*heads[one - 1], *heads[other - 1], "dash-dot")
    labels = []
    for bolt, (x, y) in enumerate(heads, 1):
        canvas.circle(x, y, size * 0.62, "paper")
        draw_hexagon(canvas, x, y, size, "screw edge")
        labels.append((x, y, str(bolt)))
    canvas.begin("words")
    for x, y, text in labels:
        canvas.text(x, y + 0.35 * 14, text, 14 if size >= 20 else sheet.least, 700)
    canvas.end()
    canvas.end()
    canvas.begin("turns")
    for bolt, (x, y) in enumerate(places, 1):
        left, top = _beside(x, y, highest, kind)
        canvas.rect(Box(x0 + left - _TURN / 2, y0 + top - _TURN / 2, _TURN, _TURN), "solid")
        canvas.text(x0 + left, y0 + top + 0.35 * 13, str(turns[bolt]), 13, 700, look="solid-words")
    canvas.end()
    height = y0 + (reach if kind != "line" else _HEAD / 2 + _GAP)
    canvas.begin("words")
    for line, text in enumerate(words[2:]):
        canvas.text(x0, height + 14 + 16 * line, text, 13, 400)
    canvas.end()
    return canvas.svg(
        sheet.width,
        height + 36,
        "",
        words[0],
        words[1],
        "drawing drawing-screen bolts",
        {"order": " ".join(map(str, order))},
    )


def _beside(x: float, y: float, highest: float, kind: str) -> tuple[float, float]:
    """Return where a bolt's turn stands: above a bolt of a line, else outside, away from the middle."""
    out = _HEAD / 2 + _GAP + _TURN / 2
    if kind == "line":
        return x, y - out
    if kind == "ring":
        far = 1 + out / (hypot(x, y) or 1)
        return x * far, y * far
    return (x, y + copysign(out, y)) if abs(y) > 0.99 * highest else (x + copysign(out, x), y)
