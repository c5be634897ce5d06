"""A block with what is in it, as markup round its own middle.

Words are placed by their widths alone, and all figures are equally wide: P-101 and P-204 stand in the same
places. So markup is made once for every *shape* of a block (sizes, and texts with their figures levelled)
and kept; a drawing only puts its own words in. Both views of a transit, and blocks of other transits, share it.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from generator.drawing.canvas import Canvas, escape
from generator.drawing.labels import Word, label_bores, label_cable, label_filler, label_spare
from generator.drawing.sheet import Sheet
from generator.drawing.symbols import (
    CLASS_LETTERS,
    draw_block,
    draw_diagonals,
    draw_face,
    draw_flag,
    draw_halos,
    draw_rings,
    draw_split,
    write_words,
)
from generator.model.scalars import ServiceClass

# Marks that stand for a drawing's own words in kept markup. They are control characters, which no text of
# a job holds (model.scalars refuses them).
_PREFIX, _TAG, _DIAMETER, _POSITION, _LAST, _A, _B = (chr(number) for number in range(1, 8))
_LEVELLED = str.maketrans("123456789", "000000000")


class BlockText(NamedTuple):
    """What is written on a block: tag, diameter, position, layers of A and B (None: measure first)."""

    tag: str
    diameter: str
    position: str
    layers: tuple[int, int] | None


def draw_cable_block(
    sheet: Sheet, prefix: str, side: float, radius: float, service: ServiceClass, assumed: bool, text: BlockText
) -> str:
    """Return the markup of a block with a cable of ``radius`` in it; ``prefix`` is that of the drawing's ids."""
    tag, diameter, position, layers = text
    a, b = ("", "") if layers is None else (str(layers[0]), str(layers[1]))
    markup = _cable_shape(
        sheet,
        side,
        radius,
        service,
        assumed,
        tag.translate(_LEVELLED),
        diameter.translate(_LEVELLED),
        position.translate(_LEVELLED),
        a.translate(_LEVELLED),
        b.translate(_LEVELLED),
    )
    markup = markup.replace(_PREFIX, prefix).replace(_TAG, escape(tag)).replace(_DIAMETER, diameter)
    markup = markup.replace(_POSITION, position).replace(_LAST, position.rsplit(".", 1)[-1])
    return markup.replace(_A, a).replace(_B, b)


@lru_cache(maxsize=16384)
def _cable_shape(
    sheet: Sheet,
    side: float,
    radius: float,
    service: ServiceClass,
    assumed: bool,
    tag: str,
    diameter: str,
    position: str,
    a: str,
    b: str,
) -> str:
    pen = Canvas(sheet.looks)
    measure = not a
    flag = min(0.75 * sheet.least, side * 0.22) if measure else 0.0
    layers = None if measure else (a, b)
    labels = label_cable(sheet, side, radius, tag, diameter, position, CLASS_LETTERS[service], layers, flag)
    draw_block(pen, side, radius)
    draw_face(pen, service, radius, assumed, f"{_PREFIX}-{service}")
    if flag:
        draw_flag(pen, side, flag)
    solid = service == "power" and not assumed
    if not (solid or assumed):
        draw_halos(pen, labels.inside, 1.5 * sheet.step)
    draw_halos(pen, labels.over, 0.8 * sheet.step)
    inside = [_marked(word, position) for word in labels.inside]
    beside = [_marked(word, position) for word in labels.words + labels.over]
    if solid:
        write_words(pen, inside, "solid-words")
        write_words(pen, beside)
    else:
        write_words(pen, inside + beside)
    return pen.markup()


def _marked(word: Word, position: str) -> Word:
    """Put the mark that stands for a drawing's own text into a word."""
    (first, weight), *rest = word.parts
    if word.kind in ("A", "B"):
        mark = _A if word.kind == "A" else _B
        return word._replace(parts=((first, weight), (mark, rest[0][1])))
    marks = {"tag": _TAG, "diameter": _DIAMETER, "position": _POSITION if first == position else _LAST}
    return word._replace(parts=((marks.get(word.kind, first), weight),))


class DrawnBore(NamedTuple):
    """A bore as it is drawn: its middle from the block's middle and its radius, in sheet units; ``tag`` or ''."""

    x: float
    radius: float
    letter: str
    tag: str
    assumed: bool


def draw_shared_block(
    sheet: Sheet,
    prefix: str,
    side: float,
    bores: Sequence[DrawnBore],
    service: ServiceClass,
    position: str,
    measure: bool,
) -> str:
    """Return the markup of a block that cables share; its bores come from left to right on this drawing."""
    pen = Canvas(sheet.looks)
    flag = min(0.75 * sheet.least, side * 0.22) if measure else 0.0
    words = label_bores(
        sheet,
        side,
        [(bore.x, bore.radius, bore.letter, bore.tag) for bore in bores],
        position,
        CLASS_LETTERS[service],
        flag,
    )
    draw_split(pen, side, [(bore.x, bore.radius) for bore in bores])
    for bore in bores:
        pen.begin("bore", at=(bore.x, 0.0))
        if bore.tag:
            draw_face(pen, service, bore.radius, bore.assumed, f"{prefix}-{service}")
        else:
            draw_rings(pen, bore.radius)
        pen.end()
    if flag:
        draw_flag(pen, side, flag)
    solid = service == "power"
    if not solid:
        draw_halos(pen, words.inside, 0.6 * sheet.step)
    write_words(pen, list(words.inside), "solid-words" if solid else "words")
    write_words(pen, words.words)
    return pen.markup()


@lru_cache(maxsize=4096)
def draw_spare_block(sheet: Sheet, side: float, word: str, position: str) -> str:
    """Return the markup of a spare: rings for its plug, and ``word`` for what it is."""
    pen = Canvas(sheet.looks)
    labels = label_spare(sheet, side, word, position)
    draw_block(pen, side, labels.ring)
    draw_rings(pen, labels.ring)
    draw_halos(pen, labels.inside, 1.5 * sheet.step)
    write_words(pen, labels.inside + labels.words)
    return pen.markup()


@lru_cache(maxsize=4096)
def draw_filler_block(sheet: Sheet, side: float, position: str) -> str:
    """Return the markup of a filler: thin diagonals."""
    pen = Canvas(sheet.looks)
    labels = label_filler(sheet, side, position)
    draw_block(pen, side, None)
    draw_diagonals(pen, side)
    draw_halos(pen, labels.inside, 2 * sheet.step)
    write_words(pen, labels.inside)
    return pen.markup()
