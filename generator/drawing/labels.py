"""Which words a block carries, and where: the first rung that fits, computed from the letters' widths.

Tag and diameter inside the cable; tag inside, diameter under; tag under; tag over the cable's lowest part;
no tag, only the position, at last only its last figure (the row stands in the margin). Position, class and
layers are added where they keep clear of the cable and of each other. Words are never shrunk below the
sheet's least type, turned or mirrored: both sides of a wall carry the same words in a block, so one answer
serves both.

Everything here is measured from the middle of the block, x right, y down, in sheet units.
"""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from math import hypot
from typing import NamedTuple

from generator.drawing.canvas import Box
from generator.drawing.lettering import reach, text_width
from generator.drawing.sheet import Sheet

_NEARLY = 1e-6
"""A word in a corner ends at the edge, whatever comes of adding and taking away its height."""


class Word(NamedTuple):
    """One line of text: parts with their weight, the baseline's point, and the box it covers."""

    kind: str
    parts: tuple[tuple[str, int], ...]
    x: float
    y: float
    size: float
    anchor: str
    box: Box


class Labels(NamedTuple):
    """The words of a block: beside the cable, inside it, over its lower edge; ``ring`` is a spare's outer radius."""

    words: tuple[Word, ...]
    inside: tuple[Word, ...] = ()
    over: tuple[Word, ...] = ()
    ring: float = 0


def write(
    kind: str, parts: tuple[tuple[str, int], ...], x: float, y: float, size: float, anchor: str = "middle"
) -> Word:
    """Return a word with the box it covers; y is its baseline."""
    share, above, below = _measure(parts)
    width = share * size
    left = x - width / 2 if anchor == "middle" else x if anchor == "start" else x - width
    return Word(kind, parts, x, y, size, anchor, Box(left, y - above * size, width, (above + below) * size))


@lru_cache(maxsize=16384)
def _measure(parts: tuple[tuple[str, int], ...]) -> tuple[float, float, float]:
    """Return width, reach above and below of a line in parts, as shares of the type size."""
    return (
        sum([text_width(text, 1, weight) for text, weight in parts]),
        *reach("".join([text for text, _ in parts])),
    )


def _reaches(box: Box) -> float:
    """How far the box's farthest corner is from the middle of the block."""
    return hypot(max(-box.x, box.right), max(-box.y, box.bottom))


class _Desk:
    """One block being lettered: what is on it, and what still fits."""

    def __init__(self, sheet: Sheet, side: float, radius: float) -> None:
        self.sheet = sheet
        self.radius = radius
        self.pad = sheet.edge_line / 2 + 0.8 * sheet.step
        self.clear = sheet.edge_line / 2 + 0.5 * sheet.step
        self.half = side / 2 - self.pad
        self.words: list[Word] = []
        self.inside: list[Word] = []
        self.over: list[Word] = []

    def fits(self, word: Word) -> bool:
        """Tell whether a word fits on the block beside the cable and the words that are there."""
        left, top, width, height = word.box
        half = self.half + _NEARLY
        right, bottom = left + width, top + height
        if left < -half or right > half or top < -half or bottom > half:
            return False
        if hypot(max(left, -right, 0.0), max(top, -bottom, 0.0)) < self.radius + self.clear:
            return False
        if not (self.words or self.over):
            return True
        roomy = word.box.grown(self.sheet.step)
        return not any(roomy.meets(other.box) for other in self.words + self.over)

    def put_first(self, choices: Iterator[Sequence[Word]]) -> bool:
        """Put down the first choice of which every word fits."""
        for words in choices:
            apart = len(words) < 2 or not words[0].box.grown(2 * self.sheet.step).meets(words[1].box)
            if apart and all(self.fits(word) for word in words):
                self.words.extend(words)
                return True
        return False

    def under(self, kind: str, parts: tuple[tuple[str, int], ...], size: float) -> Word:
        """Write a word below the cable: close to it in a large block, in the middle of a narrow strip."""
        text = "".join([part for part, _ in parts])
        above, below = reach(text)
        top = self.radius + self.clear
        strip = self.half - top
        high = (above + below) * size
        gap = min((strip - high) / 2, 0.45 * size)
        return write(kind, parts, 0, top + gap + above * size, size)

    def corner(self, kind: str, parts: tuple[tuple[str, int], ...], size: float, right: bool, low: bool) -> Word:
        """Write a word into a corner of the block."""
        above, below = reach("".join([part for part, _ in parts]))
        y = self.half - below * size if low else -self.half + above * size
        x = self.half if right else -self.half
        return write(kind, parts, x, y, size, "end" if right else "start")


def label_cable(
    sheet: Sheet,
    side: float,
    radius: float,
    tag: str,
    diameter: str,
    position: str,
    letter: str,
    layers: tuple[str, str] | None,
    flag: float,
) -> Labels:
    """Choose the words of a block with a cable.

    ``side`` of the block and ``radius`` of the cable in sheet units; ``layers`` to peel from A and B, None
    when they are measured first; ``flag`` is the leg of the corner mark then, else 0.
    """
    desk = _Desk(sheet, side, radius)
    _put_tag(desk, tag, diameter)
    _put_position(desk, position)
    drawn = desk.corner("class", ((letter, 600),), sheet.least, right=True, low=False)
    if flag:
        drawn = write("class", drawn.parts, drawn.x - flag, drawn.y, drawn.size, "end")
    if desk.fits(drawn):
        desk.words.append(drawn)
    if layers:
        desk.put_first(_layer_choices(desk, layers))
    return Labels(tuple(desk.words), tuple(desk.inside), tuple(desk.over))


def label_face(sheet: Sheet, radius: float, tag: str, diameter: str) -> tuple[Word, ...]:
    """Choose the words that stand inside a cable's face: tag and diameter, the tag alone, or none."""
    desk = _Desk(sheet, 2 * radius, radius)
    _put_tag(desk, tag, diameter)
    return tuple(desk.inside)


def _put_tag(desk: _Desk, tag: str, diameter: str) -> None:
    sheet, step = desk.sheet, desk.sheet.step
    room = desk.radius - sheet.edge_line / 2 - step
    wide = text_width(tag, 1, 700)
    above, below = reach(tag)
    sizes = [size for size in sheet.tags if wide * size <= 2 * room]
    for size in sizes:
        small = max(size * sheet.diameter, sheet.least)
        high = (above + below) * size + 1.6 * step + reach(diameter)[0] * small
        first = write("tag", ((tag, 700),), 0, -high / 2 + above * size, size)
        second = write("diameter", ((diameter, 400),), 0, high / 2, small)
        if _reaches(first.box) <= room and _reaches(second.box) <= room:
            desk.inside = [first, second]
            return
    for size in sizes:
        inside = write("tag", ((tag, 700),), 0, (above - below) * size / 2, size)
        if _reaches(inside.box) <= room:
            desk.inside = [inside]
            under = desk.under("diameter", ((diameter, 400),), max(size * sheet.diameter, sheet.least))
            if desk.fits(under):
                desk.words.append(under)
            return
    beside = [size for size in sheet.tags[1:] if wide * size <= 2 * desk.half]
    if desk.put_first((desk.under("tag", ((tag, 700),), size),) for size in beside):
        return
    # a tag is worth more than the lowest part of the cable's edge: it may cover four tenths of the radius
    size = sheet.tags[-1]
    low = write("tag", ((tag, 700),), 0, desk.half - below * size, size)
    if low.box.right <= desk.half and low.box.y - desk.clear >= 0.6 * desk.radius:
        desk.over = [low]


def _put_position(desk: _Desk, position: str) -> None:
    last = position.rsplit(".", 1)[-1]
    least = desk.sheet.least
    alone = not (desk.words or desk.inside or desk.over)
    choices = [(desk.corner("position", ((position, 400),), least, False, False),)]
    if alone:
        choices += [(desk.corner("position", ((last, 700),), least, False, low),) for low in (True, False)]
    else:
        choices.append((desk.corner("position", ((last, 400),), least, False, False),))
    if desk.put_first(iter(choices)) or not alone:
        return
    # a block without any word can't be found in the list: the figure may lie on the cable's rim, as a tag may
    figure = desk.corner("position", ((last, 700),), least, False, low=True)
    left, top, width, height = figure.box
    on_rim = hypot(max(left, -(left + width), 0.0), max(top, -(top + height), 0.0)) >= 0.7 * desk.radius
    if on_rim and left + width <= desk.half and top >= -desk.half:
        desk.over = [figure]


def _layer_choices(desk: _Desk, layers: tuple[str, str]) -> Iterator[Sequence[Word]]:
    a, b = layers
    gap = desk.pad + 0.5 * desk.sheet.step
    for size in desk.sheet.counts:
        upper = (("A ", 300), (a, 700))
        lower = (("B ", 300), (b, 700))
        x = desk.half - desk.sheet.step
        yield (
            write("A", upper, x, -gap, size, "end"),
            write("B", lower, x, gap + reach("B")[0] * size, size, "end"),
        )
        yield (
            desk.corner("A", upper, size, right=False, low=True),
            desk.corner("B", lower, size, right=True, low=True),
        )


def label_bores(
    sheet: Sheet, side: float, bores: Sequence[tuple[float, float, str, str]], position: str, letter: str, flag: float
) -> Labels:
    """Choose the words of a block that cables share.

    ``bores`` are (middle from the block's middle, radius, letter, tag), in sheet units and in their order on the
    drawing; the letters stand in the bores, or under them where those are small, and the tags under lettered bores
    where all fit: the list beside the drawing names them by position and letter. ``flag`` as for one cable.
    """
    desk = _Desk(sheet, side, 0)
    deepest = max(radius for _, radius, _, _ in bores)
    edge = deepest + desk.clear  # what lies above and below the bores
    _put_position(desk, position)
    drawn = desk.corner("class", ((letter, 600),), sheet.least, right=True, low=False)
    if flag:
        drawn = write("class", drawn.parts, drawn.x - flag, drawn.y, drawn.size, "end")
    if desk.fits(drawn):
        desk.words.append(drawn)
    desk.words = [word for word in desk.words if word.box.bottom <= -edge]
    inside: list[Word] = []
    for size in (*sheet.tags, sheet.least):
        inside = [write("bore", ((name, 700),), x, reach(name)[0] * size / 2, size) for x, _, name, _ in bores]
        if all(
            hypot(w.box.width, w.box.height) / 2 <= b[1] - sheet.edge_line / 2
            for w, b in zip(inside, bores, strict=True)
        ):
            break
        inside = []
    wide, low = side / len(bores) - 2 * sheet.step, desk.half - edge
    told = [(x, tag if inside else name) for x, _, name, tag in bores]  # what the bores themselves do not say
    for size in (*sheet.tags[1:], sheet.least):
        under = [
            write("tag", ((text, 700),), x, edge + (low + reach(text)[0] * size) / 2, size)
            for x, text in told
            if text
        ]
        if all(word.box.width <= wide and word.box.y >= edge and word.box.bottom <= desk.half for word in under):
            return Labels((*desk.words, *under), tuple(inside))
    return Labels(tuple(desk.words), tuple(inside))


def label_spare(sheet: Sheet, side: float, word: str, position: str) -> Labels:
    """Choose the words of a spare and the radius of its rings."""
    for share, whole in ((0.38, True), (0.34, True), (0.3, True), (0.38, False), (0.3, False)):
        desk = _Desk(sheet, side, share * side)
        for size in sheet.tags[1:]:
            inside = write("spare", ((word, 600),), 0, reach(word)[0] * size / 2, size)
            if inside.box.width + 4 * sheet.step <= 2 * share * side:
                _put_position(desk, position)
                if whole and not any(said.parts[0][0] == position for said in desk.words):
                    break
                return Labels(tuple(desk.words), (inside,), (), desk.radius)
    for share in (0.28, 0.22):
        desk = _Desk(sheet, side, share * side)
        if desk.put_first(iter([(desk.under("spare", ((word, 600),), size),) for size in sheet.tags[1:]])):
            _put_position(desk, position)
            return Labels(tuple(desk.words), (), (), desk.radius)
    for share in (0.34, 0.26, 0.2):
        desk = _Desk(sheet, side, share * side)
        choices = [
            (desk.corner("position", ((position, 400),), sheet.least, False, False),),
            (desk.under("position", ((position, 400),), sheet.least),),
        ]
        if desk.put_first(iter(choices)):
            return Labels(tuple(desk.words), (), (), desk.radius)
    for share in (0.24, 0.2, 0.16):
        desk = _Desk(sheet, side, share * side)
        _put_position(desk, position)
        if desk.words:
            break
    return Labels(tuple(desk.words), (), (), desk.radius)


def label_filler(sheet: Sheet, side: float, position: str) -> Labels:
    """Choose the words of a filler: its position in the middle, or its last figure, or none."""
    desk = _Desk(sheet, side, 0)
    for text in (position, position.rsplit(".", 1)[-1]):
        word = write("position", ((text, 400),), 0, reach(text)[0] * sheet.least / 2, sheet.least)
        box = word.box.grown(2 * sheet.step)
        if box.right <= desk.half and box.bottom <= desk.half:
            return Labels((), (word,))
    return Labels(())
