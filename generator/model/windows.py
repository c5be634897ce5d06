"""The windows that lines to write down ask for, as the engine wrote them into their figures."""

import re
from decimal import Decimal

from generator.model.procedure import Message

_WINDOW = re.compile(r"([0-9]+(?:\.[0-9]+)?)(?:–([0-9]+(?:\.[0-9]+)?))? (mm|N·m)")
_WINDOWED = re.compile(r".*_window|.*_protrusion|gap")
_MOST = re.compile(r"([0-9]+(?:\.[0-9]+)?) (.+)")


def window_of(read: Message) -> tuple[Decimal | None, Decimal | None] | None:
    """Return the least and most that a line to write down asks for; None where it asks for no window.

    A window is a figure that is one: a ``…_window``, a ``…_protrusion`` or the ``gap``, as the engine writes
    them ('14–16 mm'); or one with the words 'or less' behind it.
    """
    found = _find(read)
    return found[:2] if found else None


def unit_of(read: Message) -> str:
    """Return the unit of the window that a line asks for, such as mm; '' where it asks for none."""
    found = _find(read)
    return found[2] if found else ""


def _find(read: Message) -> tuple[Decimal | None, Decimal | None, str] | None:
    for name, value in read.values.items():
        if _WINDOWED.fullmatch(name) and (found := _WINDOW.fullmatch(value)):
            return Decimal(found[1]), Decimal(found[2] or found[1]), found[3]
        if f"{{{name}}} or less" in read.text and (at_most := _MOST.fullmatch(value)):
            return None, Decimal(at_most[1]), at_most[2]
    return None
