"""QR codes of labels, cards and pages: level Q, capitals only, as an SVG path of whole squares."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import segno

QUIET = 4
"""White squares on each side: less than four and readers fail (ISO/IEC 18004)."""


@dataclass(frozen=True)
class Code:
    """One code. ``side`` counts its squares along an edge, the quiet ones included.

    ``path`` is the ``d`` of an SVG path in units of one square, its origin at the corner of the quiet zone.
    """

    text: str
    version: int
    side: int
    path: str

    @property
    def card_mm(self) -> str:
        """Its side on a card, in mm: squares of 6 whole dots at 300 per inch, 0.508 mm."""
        return f"{self.side * 6 * 25.4 / 300:.3f}"


def label_text(address: str, transit_id: str, revision: str = "") -> str:
    """Return what a label carries: the address of the page, or of its revision where it is issued, in capitals.

    Capitals keep the code in its alphanumeric form, whose squares are coarse enough for a dirty label.
    """
    return f"{address}/T/{transit_id}{f'/{revision}' if revision else ''}".upper()


@lru_cache(maxsize=4096)
def make_code(text: str) -> Code:
    """Return the code of ``text``. ValueError when a character has no place in an alphanumeric code."""
    # Level Q and no boost: the version, so the size of a square, is the same for every ID of one length.
    first = _segno(text, mask=0)
    version = int(first.version)
    rows = [bytes(row) for row in first.matrix]
    side = len(rows)
    across, down = _as_number(rows), _as_number(zip(*rows, strict=True))
    # segno would try the eight masks square by square, 1.7 ms; as numbers of some 1000 bits they take 0.1.
    best = min(_changes(version), key=lambda change: _penalty(across ^ change[0], down ^ change[1], side))
    return Code(text=text, version=version, side=side + 2 * QUIET, path=_path(across ^ best[0], side))


def _segno(text: str, **more: Any) -> Any:
    return segno.make(text, error="q", mode="alphanumeric", boost_error=False, micro=False, **more)


# A code as one number: its squares from the least bit on, row after row, dark ones set, with four light
# squares before each row and after the last, so that no run and no pattern reaches from row to row.
_GUARD = 4


def _as_number(rows: Iterable[Iterable[int]]) -> int:
    guard = "0" * _GUARD
    text = guard.join("".join(map(str, row)) for row in rows)
    return int((guard + text + guard)[::-1], 2)


@lru_cache(maxsize=64)
def _changes(version: int) -> tuple[tuple[int, int], ...]:
    """Return what each mask changes against the first, along rows and along columns.

    It is the same for every text of a version and level: the masks themselves and the bits that name them.
    """
    codes = []
    for mask in range(8):
        rows = [bytes(row) for row in _segno("A", version=version, mask=mask).matrix]
        codes.append((_as_number(rows), _as_number(zip(*rows, strict=True))))
    return tuple((across ^ codes[0][0], down ^ codes[0][1]) for across, down in codes)


@lru_cache(maxsize=64)
def _fields(side: int) -> tuple[int, int, int]:
    """Return as bits: every square, those with a neighbour in their row, those with one in the next row."""
    stride = side + _GUARD
    squares = sum(((1 << side) - 1) << (_GUARD + row * stride) for row in range(side))
    pairs = sum(((1 << (side - 1)) - 1) << (_GUARD + row * stride) for row in range(side))
    return squares, pairs, squares & (squares >> stride)


def _penalty(across: int, down: int, side: int) -> int:
    """Return the penalty of a code, the lower the better for a reader.

    Source: ISO/IEC 18004:2015, 7.8.3.1, table 11, with N1 = 3, N2 = 3, N3 = 40, N4 = 10.
    """
    squares, pairs, over = _fields(side)
    stride = side + _GUARD
    score = 0
    for dark in (across, down):
        light = ~dark
        same = ~(dark ^ (dark >> 1)) & pairs
        five = same & (same >> 1) & (same >> 2) & (same >> 3)  # set where five of one colour begin
        score += five.bit_count() + 2 * (five & ~(five << 1)).bit_count()
        found = dark & light >> 1 & dark >> 2 & dark >> 3 & dark >> 4 & light >> 5 & dark >> 6
        before = ~(dark << 1 | dark << 2 | dark << 3 | dark << 4)
        after = light >> 7 & light >> 8 & light >> 9 & light >> 10
        score += 40 * (found & (before | after)).bit_count()
        if dark is across:
            score += 3 * (same & (same >> stride) & ~(dark ^ (dark >> stride)) & over).bit_count()
    share = across.bit_count() * 100 / squares.bit_count()
    return score + 10 * int(abs(share - 50) / 5)


def _path(code: int, side: int) -> str:
    """Return dark runs as rectangles, row by row."""
    parts = []
    stride = side + _GUARD
    for y in range(side):
        row = code >> (_GUARD + y * stride) & ((1 << side) - 1)
        x = QUIET
        while row:
            light = (row & -row).bit_length() - 1
            row >>= light
            x += light
            wide = (~row & (row + 1)).bit_length() - 1
            parts.append(f"M{x} {y + QUIET}h{wide}v1h-{wide}z")
            row >>= wide
            x += wide
    return "".join(parts)
