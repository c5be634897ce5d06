"""One more cable in a transit that is closed: where it goes, and what must come out for it."""

from decimal import Decimal
from typing import Literal

from generator.model.layout import Layout
from generator.model.procedure import Step
from generator.model.scalars import Model, ServiceClass

Way = Literal["spare", "filler", "recut", "repack"]
"""Least disturbance first: in place of a spare, of a filler; in a row cut anew; all of a bay or frame packed anew."""

WhyNot = Literal["split seal", "no layout", "another system", "unknown cables"]
"""Why nothing can be added: one cable only; nothing that was built; its parts are no more; cables nobody listed."""


class AtHand(Model):
    """One part to have at hand: ``why`` says for what."""

    part: str
    count: int
    why: Literal["new cable", "new halves", "cut anew"]


class Addition(Model):
    """The least disturbance that makes room for one more cable.

    ``position`` is the new cable's place in ``layout``, the layout that comes of it. ``rows_out`` are the rows
    that come out whole, from the clamping unit down, each as its number (with its bay where there are several);
    ``plates_out`` the row plates. ``disturbed`` are the cables whose blocks are opened or moved: they get new
    halves. ``at_hand`` lists what to have there. Where a row is cut anew its places are counted anew.
    """

    way: Way
    size: Decimal
    part: str
    bay: int
    row: int
    position: str
    rows_out: tuple[str, ...]
    plates_out: int
    disturbed: tuple[str, ...]
    at_hand: tuple[AtHand, ...]
    layout: Layout


class SizeLine(Model):
    """What one more cable in a block of one size asks for; classes that are answered alike stand together.

    ``parts`` are the blocks of that size for plain cables, for those that are bonded and for pipes, each ''
    where there is none. ``least`` and ``most`` are the readings that they answer, mm. ``addition`` is None where
    there is no place, or none was found in the steps that were allowed (``gave_up``).
    """

    size: Decimal
    least: Decimal
    most: Decimal
    parts: tuple[str, str, str]
    classes: tuple[ServiceClass, ...]
    addition: Addition | None = None
    gave_up: bool = False


class Reentry(Model):
    """Adding a cable to one transit: every block there is, and the steps of opening it and putting the cable in.

    ``why_not`` says why there is no answer at all: '' where there is one. ``bores`` are those of shared blocks that
    hold a plug only: whether another cable may lie there hangs on those beside it, so on a cable that is known.
    """

    lines: tuple[SizeLine, ...] = ()
    bores: tuple[str, ...] = ()
    steps: tuple[Step, ...] = ()
    why_not: WhyNot | Literal[""] = ""
