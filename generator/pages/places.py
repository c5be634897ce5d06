"""Places on walls in words: openings, keep-outs, what lies nearest, and what the model's words are called."""

from dataclasses import dataclass
from decimal import Decimal

from generator.model.catalogue import Opening
from generator.model.job import KeepOut, Wall
from generator.model.marking import Mark
from generator.model.names import FIXINGS_IN_TABLES, MATERIALS
from generator.model.scalars import format_mm
from generator.pages.view import DIVISIONS, SIGNALS
from generator.pages.words import Words, _

NAMES = {
    "kind": {"rectangular": _("frame"), "round": _("round frame"), "seal": _("split seal")},
    "fixing": FIXINGS_IN_TABLES,
    "end": {"centre": _("centre"), "lower-left": _("lower left")},
    "division": DIVISIONS,
    "material": MATERIALS,
    "signal": SIGNALS,
    "state": {
        "read": _("read in its text"),
        "read in a copy": _("read in a copy of it"),
        "as quoted by others": _("as quoted by others"),
        "from memory": _("from memory, not checked"),
    },
}
"""What the model's words are called on a page."""


def name_of(words: Words, kind: str, word: str) -> str:
    """Say what a word of the model is called on a page."""
    return words.say(NAMES[kind][word])


def size_text(opening: Opening | None) -> str:
    """Write an opening's size in mm: '170 × 206', or 'Ø 172'."""
    if opening is None:
        return "–"
    if opening.diameter is not None:
        return f"Ø {format_mm(opening.diameter)}"
    return f"{format_mm(opening.width or Decimal(0))} × {format_mm(opening.height or Decimal(0))}"


def tolerance_text(opening: Opening | None) -> str:
    """Write an opening's tolerance in mm: '±2', or '+0.5 / −0'."""
    if opening is None:
        return "–"
    if opening.plus == opening.minus:
        return f"±{format_mm(opening.plus)}"
    return f"+{format_mm(opening.plus)} / −{format_mm(opening.minus)}"


KEEP_OUTS = {
    "stiffener": _("stiffener"),
    "weld-seam": _("weld seam"),
    "door": _("door"),
    "service": _("service"),
    "other": _("other"),
}
EDGES = {
    "left": _("the left edge"),
    "right": _("the right edge"),
    "lower": _("the lower edge"),
    "upper": _("the upper edge"),
}


@dataclass(frozen=True)
class KeepOutRow:
    """One keep-out: text only, lengths in mm."""

    name: str
    kind: str
    x: str
    y: str
    size: str
    clear: str


def nearest_text(mark: Mark | None, words: Words) -> str:
    """Say what lies nearest to an opening and how far it is: '120 to door'. Never farther than it is."""
    if mark is None or mark.nearest is None:
        return "–"
    nearest = mark.nearest
    name = words.say(EDGES[nearest.name]) if nearest.what == "edge" else nearest.name
    return words.say("{distance} to {name}", distance=format_mm(nearest.whole), name=name)


def keep_out_rows(wall: Wall, words: Words) -> list[KeepOutRow]:
    """Return the keep-outs of a wall in the order of x."""
    return [
        KeepOutRow(
            name=name,
            kind=words.say(KEEP_OUTS[keep_out.kind]),
            x=format_mm(keep_out.x),
            y=format_mm(keep_out.y),
            size=_size(keep_out),
            clear=format_mm(keep_out.clear),
        )
        for name, keep_out in sorted(wall.keep_outs.items(), key=lambda item: (item[1].x, item[1].y, item[0]))
    ]


def _size(keep_out: KeepOut) -> str:
    if keep_out.diameter is not None:
        return f"Ø {format_mm(keep_out.diameter)}"
    return f"{format_mm(keep_out.width or keep_out.clear)} × {format_mm(keep_out.height or keep_out.clear)}"
