"""Where the openings of a wall are: outlines in the wall's coordinates, and how far apart they stand."""

from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal
from typing import Literal

from generator.model.scalars import Model


class Outline(Model):
    """A rectangle or a circle on a wall, mm: its middle from the datum edges, its sides."""

    x: Decimal
    y: Decimal
    width: Decimal
    height: Decimal
    round: bool

    @property
    def straight(self) -> tuple[Decimal, Decimal]:
        """Half of what is straight of it, across and up: nothing of a circle."""
        return (Decimal(0), Decimal(0)) if self.round else (self.width / 2, self.height / 2)

    @property
    def radius(self) -> Decimal:
        """How far it reaches beyond what is straight of it."""
        return self.width / 2 if self.round else Decimal(0)

    @property
    def diagonal(self) -> Decimal | None:
        """The diagonal of a rectangle between its corners, to the nearest mm; None for a circle."""
        if self.round:
            return None
        return (self.width**2 + self.height**2).sqrt().quantize(Decimal(1), ROUND_HALF_UP)


class Nearest(Model):
    """What lies nearest to an opening, and how far its edge is from the opening's, mm."""

    what: Literal["opening", "keep-out", "edge"]
    name: str
    """ID of the transit or name of the keep-out; for an edge: left, right, lower or upper."""
    distance: Decimal

    @property
    def whole(self) -> Decimal:
        """The distance in whole mm, never more than it is."""
        return self.distance.quantize(Decimal(1), ROUND_FLOOR)


class Mark(Model):
    """One opening as it is marked out on its wall."""

    outline: Outline
    nearest: Nearest | None = None
