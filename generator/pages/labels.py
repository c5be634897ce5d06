"""Sheets of QR labels for one wall: every length a whole number of printer dots.

A label printer of 203 or 300 dots per inch blurs whatever does not begin on a dot, so a sheet is made for
one of the two and everything on it is counted in dots: a square of the code is 4 or 6 dots on the label of
25 mm (0.50 and 0.51 mm), 6 or 9 on the one of 40 mm (0.75 and 0.76 mm).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

from generator.drawing.lettering import CAPITAL, text_width
from generator.pages.qr import QUIET, Code

Dpi = Literal[203, 300]
Size = Literal[25, 40]
SIZES: tuple[Size, ...] = get_args(Size)
PRINTERS: tuple[Dpi, ...] = get_args(Dpi)

SQUARE_DOTS: dict[tuple[Size, Dpi], int] = {(25, 203): 4, (25, 300): 6, (40, 203): 6, (40, 300): 9}
"""Dots along one square of the code."""

_LEAST_CAPITAL = 2.4
"""An ID's capitals are never lower than this, mm: the wide form comes first, then a second line."""
_BOLD, _HEAVY = 700, 600
_SHEET = (202, 289)  # A4 less an edge of 4 mm, mm
_CUT = 3  # white between two labels, with the marks to cut by, mm


def to_mm(dots: float, dpi: Dpi) -> float:
    """Return dots as mm."""
    return dots * 25.4 / dpi


def to_dots(mm: float, dpi: Dpi) -> int:
    """Return the whole number of dots nearest to a length in mm."""
    return round(mm * dpi / 25.4)


@dataclass(frozen=True)
class Line:
    """A line of text on a label: baseline and middle in dots, type size in dots."""

    text: str
    x: int
    y: int
    size: int
    weight: int
    white: bool = False


@dataclass(frozen=True)
class Label:
    """One label, in dots from its upper left corner. ``square`` is the side of one square of the code."""

    transit: str
    width: int
    height: int
    square: int
    code: Code
    code_x: int
    code_y: int
    plate: tuple[int, int, int, int]
    rule: tuple[int, int, int, int]
    lines: tuple[Line, ...]
    wide: bool


@dataclass(frozen=True)
class Placed:
    """A label on its sheet, in dots."""

    x: int
    y: int
    label: Label


@dataclass(frozen=True)
class Sheet:
    """A sheet of labels of one size. Lengths in dots; ``marks`` are lines to cut by: x1, y1, x2, y2."""

    size: Size
    width: int
    height: int
    labels: tuple[Placed, ...]
    marks: tuple[tuple[int, int, int, int], ...]


def _fitting(text: str, width: int, height: int, weight: int) -> int:
    """Return the largest type size, in dots, at which one line fits a box."""
    by_width = int(width / text_width(text, 1, weight))
    return min(by_width, int(height / CAPITAL))


def _halves(text: str) -> tuple[str, str]:
    """Cut an ID in two lines, at the hyphen nearest its middle where it has one."""
    middle = len(text) / 2
    cuts = [place + 1 for place, letter in enumerate(text) if letter == "-" and 0 < place < len(text) - 1]
    cut = min(cuts, key=lambda place: abs(place - middle)) if cuts else round(middle)
    return text[:cut], text[cut:]


def _id_lines(identifier: str, width: int, height: int, dpi: Dpi) -> list[tuple[str, int]] | None:
    """Return an ID as one line, or two, with their type size; None when they would be too small to read."""
    least = to_dots(_LEAST_CAPITAL, dpi)
    one = _fitting(identifier, width, height, _BOLD)
    if int(one * CAPITAL) >= least:
        return [(identifier, one)]
    gap = to_dots(0.6, dpi)
    two = min(_fitting(half, width, (height - gap) // 2, _BOLD) for half in _halves(identifier))
    return [(half, two) for half in _halves(identifier)] if int(two * CAPITAL) >= least else None


def make_label(
    identifier: str, wall: str, side: str, code: Code, size: Size, dpi: Dpi, rev: str, not_issued: str
) -> Label:
    """Lay out one label of 25 or 40 mm: code, revision, wall, and the ID white on black below.

    It is square where everything fits; else the plate stands beside the code.
    ``rev``, ``not_issued`` and ``side`` are text in the reader's language; ``side`` is left out where it
    would be too small to read.
    """
    square = SQUARE_DOTS[size, dpi]
    height = to_dots(size, dpi)
    code_side = code.side * square
    edge = QUIET * square // 2
    plate_height = height - code_side
    least_plate = to_dots(size * 0.18, dpi)
    column = to_dots(size * 0.22, dpi)
    lines = _id_lines(identifier, height - 2 * edge, max(plate_height, least_plate) * 3 // 4, dpi)
    fits = plate_height >= least_plate and code_side + column <= height and lines is not None
    if fits and lines is not None:
        return _square_label(identifier, wall, side, code, size, dpi, rev, not_issued, lines)
    return _wide_label(identifier, wall, side, code, size, dpi, rev, not_issued)


def _square_label(
    identifier: str,
    wall: str,
    side: str,
    code: Code,
    size: Size,
    dpi: Dpi,
    rev: str,
    not_issued: str,
    ids: list[tuple[str, int]],
) -> Label:
    square, height = SQUARE_DOTS[size, dpi], to_dots(size, dpi)
    code_side = code.side * square
    plate = (0, code_side, height, height - code_side)
    right = height - to_dots(size * 0.03, dpi)
    column, rule = _column(code_side, right, code_side, wall, size, dpi, rev, not_issued)
    below = _plate_lines(plate, ids, side, size, dpi)
    return Label(identifier, height, height, square, code, 0, 0, plate, rule, (*column, *below), False)


def _wide_label(
    identifier: str, wall: str, side: str, code: Code, size: Size, dpi: Dpi, rev: str, not_issued: str
) -> Label:
    square = SQUARE_DOTS[size, dpi]
    code_side = code.side * square
    height = max(to_dots(size, dpi), code_side)
    width = code_side + to_dots(1.2 * size, dpi)
    top = height * 9 // 20
    plate = (code_side, top, width - code_side, height - top)
    edge = to_dots(size * 0.03, dpi)
    ids = _id_lines(identifier, plate[2] - 2 * edge, plate[3] * 3 // 4, dpi)
    if ids is None:  # 24 wide capitals on the small label: two lines as large as the plate takes
        halves = _halves(identifier)
        two = min(_fitting(half, plate[2] - 2 * edge, plate[3] * 3 // 8, _BOLD) for half in halves)
        ids = [(half, two) for half in halves]
    middle = code_side + (width - code_side) // 2
    tall = top - 2 * edge
    left = _stack(code_side, middle - edge, edge, tall, ((rev, 3, _HEAVY), (not_issued, 5, _BOLD)))
    right = _stack(middle + edge, width - edge, edge, tall, ((wall, 1, _BOLD),))
    rule = (middle, edge, max(1, to_dots(0.25, dpi)), tall)
    lines = (*left, *right, *_plate_lines(plate, ids, side, size, dpi))
    code_y = (height - code_side) // 2
    return Label(identifier, width, height, square, code, 0, code_y, plate, rule, lines, True)


def _column(
    left: int, right: int, height: int, wall: str, size: Size, dpi: Dpi, rev: str, not_issued: str
) -> tuple[tuple[Line, ...], tuple[int, int, int, int]]:
    """Return revision and wall, one above the other beside the code, and the rule between them."""
    edge = to_dots(size * 0.06, dpi)
    cut = height * 3 // 5
    above = _stack(
        left,
        right,
        edge,
        cut - 2 * edge,
        ((rev, 2, _HEAVY), *((word, 3, _BOLD) for word in not_issued.split())),
    )
    below = _stack(left, right, cut + edge, height - cut - 2 * edge, ((wall, 1, _BOLD),))
    return (*above, *below), (left, cut, right - left, max(1, to_dots(0.25, dpi)))


def _stack(left: int, right: int, top: int, height: int, parts: Iterable[tuple[str, int, int]]) -> tuple[Line, ...]:
    """Set lines one below the other into a box, each in its share of the height, as large as it fits."""
    parts = tuple(parts)
    whole = sum(share for _text, share, _weight in parts)
    sizes: dict[int, int] = {}  # lines of one share are of one size
    for text, share, weight in parts:
        fitting = _fitting(text, right - left, height * share // whole * 4 // 5, weight)
        sizes[share] = min(fitting, sizes.get(share, fitting))
    lines, y = [], top
    for text, share, weight in parts:
        room, size = height * share // whole, sizes[share]
        lines.append(Line(text, (left + right) // 2, y + (room + round(size * CAPITAL)) // 2, size, weight))
        y += room
    return tuple(lines)


def _plate_lines(
    plate: tuple[int, int, int, int], ids: list[tuple[str, int]], side: str, size: Size, dpi: Dpi
) -> tuple[Line, ...]:
    """Set the ID into its plate, and the working side under it where its type is large enough to read."""
    x, y, width, height = plate
    middle = x + width // 2
    gap = to_dots(0.6, dpi)
    least = to_dots(1.8, dpi)
    side_size = _fitting(side, width - 2 * gap, height * 4 // 20, _HEAVY)
    with_side = round(side_size * CAPITAL) >= least and len(ids) == 1
    set_lines = [(text, size_, _BOLD) for text, size_ in ids]
    if with_side:
        identifier = ids[0][0]
        set_lines = [(identifier, min(ids[0][1], int(height * 0.5 / CAPITAL)), _BOLD), (side, side_size, _HEAVY)]
    tall = sum(round(size_ * CAPITAL) for _text, size_, _weight in set_lines) + gap * 2 * (len(set_lines) - 1)
    baseline = y + (height - tall) // 2
    lines = []
    for text, size_, weight in set_lines:
        baseline += round(size_ * CAPITAL)
        lines.append(Line(text, middle, baseline, size_, weight, True))
        baseline += 2 * gap
    return tuple(lines)


def lay_out_sheets(labels: Iterable[Label], size: Size, dpi: Dpi) -> tuple[Sheet, ...]:
    """Put labels of one size on A4 sheets, row by row, with marks to cut by."""
    width, height, cut = to_dots(_SHEET[0], dpi), to_dots(_SHEET[1], dpi), to_dots(_CUT, dpi)
    sheets: list[list[Placed]] = [[]]
    x = y = cut
    row = 0
    for label in labels:
        if x + label.width + cut > width:
            x, y, row = cut, y + row + cut, 0
        if y + label.height + cut > height:
            sheets.append([])
            x, y, row = cut, cut, 0
        sheets[-1].append(Placed(x, y, label))
        x += label.width + cut
        row = max(row, label.height)
    return tuple(
        Sheet(size, width, height, tuple(placed), tuple(mark for one in placed for mark in _marks(one, cut)))
        for placed in sheets
        if placed
    )


def _marks(placed: Placed, cut: int) -> list[tuple[int, int, int, int]]:
    """Return short lines outside the four corners of a label: they are cut away with the waste."""
    near, far = cut // 6, cut // 2
    x1, y1, x2, y2 = placed.x, placed.y, placed.x + placed.label.width, placed.y + placed.label.height
    return [
        mark
        for x, out in ((x1, -1), (x2, 1))
        for y, up in ((y1, -1), (y2, 1))
        for mark in ((x + out * near, y, x + out * far, y), (x, y + up * near, x, y + up * far))
    ]
