"""QR codes of labels, cards and pages: level Q, capitals only, as an SVG path of whole squares."""

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
        """Its side on a card, in mm: squares of 6 or 7 whole dots at 300 per inch, so half a mm at least."""
        dots = 7 if self.side < 40 else 6
        return f"{self.side * dots * 25.4 / 300:.3f}"


def label_text(address: str, transit_id: str) -> str:
    """Return what the label of work that is not issued carries: the page's address, in capitals.

    Capitals keep the code in its alphanumeric form, whose squares are coarse enough for a dirty label.
    """
    return f"{address}/T/{transit_id}".upper()


@lru_cache(maxsize=4096)
def make_code(text: str) -> Code:
    """Return the code of ``text``. ValueError when a character has no place in an alphanumeric code."""
    # Level Q and no boost: the version, so the size of a square, is the same for every ID of one length.
    code: Any = segno.make(text, error="q", mode="alphanumeric", boost_error=False, micro=False)
    rows = [bytes(row) for row in code.matrix]
    return Code(text=text, version=int(code.version), side=len(rows) + 2 * QUIET, path=_path(rows))


def _path(rows: list[bytes]) -> str:
    """Return dark runs as rectangles, row by row."""
    parts = []
    for y, row in enumerate(rows, QUIET):
        x = 0
        while x < len(row):
            if not row[x]:
                x += 1
                continue
            start = x
            while x < len(row) and row[x]:
                x += 1
            parts.append(f"M{start + QUIET} {y}h{x - start}v1h{start - x}z")
    return "".join(parts)
