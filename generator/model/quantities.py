"""How much a job needs: per transit, wall, area and day, and what of it was ordered, handed out, brought back."""

from decimal import ROUND_CEILING, Decimal

from pydantic import Field

from generator.model.catalogue import PartGroup
from generator.model.procedure import Message
from generator.model.scalars import Count, Day, Model, PartNumber, Slug

PartKey = tuple[str, str]
"""A sealing system and a part number in it."""


class Stock(Model):
    """One row of ``stock.csv``: one delivery, or one hand-out. Rows of a part add up."""

    part: PartNumber
    """Part number."""
    catalogue: Slug | None = None
    """The sealing system, where the job has several."""
    ordered: Count = Field(default=0, le=999_999)
    """How many were ordered: pieces, or containers where the catalogue says what one holds."""
    issued: Count = Field(default=0, le=999_999)
    """How many were handed out to the crew."""
    returned: Count = Field(default=0, le=999_999)
    """How many the crew brought back."""
    day: Day | None = None
    """When."""


class Need(Model):
    """So much of one part. ``unit`` is empty where pieces are counted."""

    group: PartGroup
    catalogue: str
    part: str
    name: Message
    amount: Decimal
    unit: str = ""

    @property
    def key(self) -> PartKey:
        """What it is an amount of."""
        return (self.catalogue, self.part)


class StockLine(Model):
    """One part over the whole job: needed, with its wastage, and what became of it.

    ``wastage`` is percent, None where neither job nor catalogue gives one. ``holds`` is what one container
    holds: then everything but ``need`` is counted in containers.
    """

    need: Need
    wastage: Decimal | None = None
    holds: Decimal | None = None
    ordered: int = 0
    issued: int = 0
    returned: int = 0

    @property
    def to_order(self) -> int:
        """Whole pieces, units or containers to order, wastage included.

        Formula: needed · (1 + wastage / 100) / what one holds, rounded up.
        """
        amount = self.need.amount * (100 + (self.wastage or 0)) / 100 / (self.holds or 1)
        return int(amount.to_integral_value(ROUND_CEILING))

    @property
    def missing(self) -> int:
        """What is still to be ordered."""
        return max(0, self.to_order - self.ordered)

    @property
    def out(self) -> int:
        """What the crew should have, or have used."""
        return self.issued - self.returned


class ToolLine(Model):
    """One tool, and the transits whose steps ask for it."""

    name: Message
    transits: tuple[str, ...]


class Quantities(Model):
    """What a job needs. Days are written year-month-day; '' has the transits without one.

    ``left_out`` has the transits that can't be built: nothing is counted for them. ``stocked`` tells
    whether the job keeps a ``stock.csv``.
    """

    transits: dict[str, tuple[Need, ...]] = {}
    walls: dict[str, tuple[Need, ...]] = {}
    areas: dict[str, tuple[Need, ...]] = {}
    days: dict[str, tuple[Need, ...]] = {}
    lines: tuple[StockLine, ...] = ()
    tools: tuple[ToolLine, ...] = ()
    left_out: tuple[str, ...] = ()
    stocked: bool = False
