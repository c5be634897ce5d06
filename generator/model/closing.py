"""How a bay closes: what the gaps between the halves come to, and whether the clamping unit has the room."""

from decimal import Decimal
from typing import Literal

from generator.model.catalogue import Tightening
from generator.model.scalars import Model


class GapSum(Model):
    """The gaps of all blocks that a vertical line passes, added up, from ``x`` to ``to`` (mm from the bay's left).

    ``expected`` is the sum of the gaps for the most likely diameters, ``least`` and ``most`` those of the
    windows' ends. Spares and fillers have no gap.
    """

    x: Decimal
    to: Decimal
    expected: Decimal
    least: Decimal
    most: Decimal


class BayClosing(Model):
    """One bay before and after it is closed, mm. What the catalogue does not say is None: not judged.

    ``place`` is the height left for the clamping unit, ``rows`` the height of the rows without plates.
    ``fullest`` is the line with the largest sum of expected gaps, ``emptiest`` the one with the smallest;
    ``most`` and ``least`` are the largest and smallest sums of any line at the windows' ends.
    ``deviation`` is how much the height of the bay may differ once its frame is fixed. ``press`` is how far the
    rows must be pressed down for the unit to go in, 0 where it goes in by hand, and ``press_most`` the same at the
    windows' ends in a bay as low as it may be. ``squeeze`` is how far the unit squeezes the line with the least gap
    when it is fully closed, ``squeeze_least`` the same at the windows' ends in a bay as high as it may be, and
    ``squeeze_asked`` what the catalogue asks for.
    """

    bay: int
    unit: str
    place: Decimal
    rows: Decimal
    fullest: GapSum
    emptiest: GapSum
    most: Decimal
    least: Decimal
    deviation: Decimal = Decimal(0)
    retracted: Decimal | None = None
    closed: Decimal | None = None
    press: Decimal | None = None
    press_most: Decimal | None = None
    squeeze: Decimal | None = None
    squeeze_least: Decimal | None = None
    squeeze_asked: Decimal | None = None
    tool: str = ""
    tool_most: Decimal | None = None

    @property
    def going_in(self) -> Literal["by hand", "perhaps", "pressed", "not judged"]:
        """How the unit goes in: ``perhaps`` where it needs pressing only at the windows' ends."""
        if self.press is None or self.press_most is None:
            return "not judged"
        return "pressed" if self.press else "perhaps" if self.press_most else "by hand"

    @property
    def play(self) -> Decimal | None:
        """How much room is left above the fullest line when the unit goes in, mm; below 0 where there is none."""
        return None if self.retracted is None else self.place - self.fullest.expected - self.retracted


class Bolts(Model):
    """What is tightened together: numbered bolts, the order of one round, and what the rounds come to.

    ``what`` says what they do; ``bays`` are those that are closed alike. ``places`` says how the bolts stand:
    in a ring or round a flange, numbered clockwise from the top or the upper left, or in a line from the left.
    ``pitch`` (mm) is None where the thread is none of ISO 261's coarse threads and names no pitch. ``advance``
    (mm) is how far each bolt moves through its nut in all rounds, ``torques`` (N·m) the torque of each round
    and ``limit`` (N·m) the largest that the bolt's class allows, where the catalogue says enough.
    """

    what: Literal["fixing", "sleeve", "seal", "unit"]
    bays: tuple[int, ...] = ()
    places: Literal["ring", "flange", "line"]
    tightening: Tightening
    order: tuple[int, ...]
    pitch: Decimal | None = None
    turns: Decimal | None = None
    advance: Decimal | None = None
    torques: tuple[Decimal, ...] = ()
    limit: Decimal | None = None
