"""What the engine computed for the seal itself: fits, diameter tables, placements, or why there is none."""

from decimal import Decimal
from typing import Literal

from generator.model.scalars import Model, Window

Role = Literal["cable", "spare", "filler"]
BORE_LETTERS = "abcdefghi"
"""What the bores of a block that cables share are called, from the left, seen from the working side."""


class Peel(Model):
    """How a bore is made: layers to peel from each half, and the gap to expect (mm)."""

    a: int
    b: int
    gap: Decimal


class Fit(Model):
    """A block (or split seal) that closes around every diameter the cable may have.

    ``likely`` is the answer for the most likely diameter. ``measure`` is true when the cable's range,
    with the reading's error, spans more than one answer: then the table decides at the wall.
    """

    part: str
    size: Decimal
    window: Window
    likely: Peel
    measure: bool


class NoFit(Model):
    """No block closes around the whole range of a cable."""

    cable: str
    what: str
    why: str
    mend: str


class DiameterRow(Model):
    """Readings from ``least`` to ``most`` (mm, both read on the instrument) and their answer.

    ``peel`` is None where no number of layers holds the reading: measure again, try the gap.
    ``peel.gap`` is the gap in the middle of the row; ``gap_least``/``gap_most`` those at its ends.
    """

    least: Decimal
    most: Decimal
    peel: Peel | None = None
    gap_least: Decimal | None = None
    gap_most: Decimal | None = None


class DiameterTable(Model):
    """For one block: every reading it can answer, smallest first, without holes between rows.

    ``rows`` goes by one reading, ``pairs`` by the sum of two readings across the same cable (mm; empty in
    work that was issued before there were any), ``tape`` by the girth that a plain tape shows (mm; empty where
    the crew has none).
    """

    part: str
    size: Decimal
    window: Window
    rows: tuple[DiameterRow, ...]
    pairs: tuple[DiameterRow, ...] = ()
    tape: tuple[DiameterRow, ...] = ()


class Bore(Model):
    """A further bore of a block that cables share: its cable, and how it is made."""

    cable: str
    fit: Fit


class Placement(Model):
    """One block in its bay: lower left corner in mm from the bay's lower left, seen from the working side.

    ``position`` is what pages call it: row.place (bay.row.place where the frame has several bays). Rows
    count from the bottom, places in the order of insertion: left to right, and low before high in a column.
    ``cable`` and ``fit`` are those of its bore, of several the one at the left; ``others`` are the bores beside
    it that have a cable, left to right.
    """

    position: str
    bay: int
    row: int
    place: int
    x: Decimal
    y: Decimal
    size: Decimal
    role: Role
    part: str
    cable: str | None = None
    fit: Fit | None = None
    others: tuple[Bore, ...] = ()

    @property
    def cables(self) -> tuple[str, ...]:
        """The tags of its cables, left to right; none for a spare or a filler."""
        if self.cable is None:
            return ()
        return (self.cable, *[bore.cable for bore in self.others]) if self.others else (self.cable,)

    @property
    def bores(self) -> tuple[tuple[str, str, Fit | None], ...]:
        """What pages call each bore with a cable, its cable and its fit, left to right.

        Where cables share the block, the bores are lettered: 2.3a, 2.3b.
        """
        if self.cable is None:
            return ()
        if not self.others:
            return ((self.position, self.cable, self.fit),)
        held = ((self.cable, self.fit), *((bore.cable, bore.fit) for bore in self.others))
        return tuple((self.position + letter, *one) for letter, one in zip(BORE_LETTERS, held, strict=False))

    def plugged(self, bores: int) -> tuple[str, ...]:
        """Return what pages call the bores that hold a plug only, of a shared block with so many bores."""
        return tuple(self.position + letter for letter in BORE_LETTERS[len(self.cables) : bores])


class Row(Model):
    """A row of blocks: its height and the lower edge of its blocks, mm from the bay's lower edge."""

    number: int
    y: Decimal
    height: Decimal
    placements: tuple[Placement, ...]


class Plate(Model):
    """A row plate: lower edge and thickness, mm. ``above_row`` is the row it lies on."""

    part: str
    y: Decimal
    thickness: Decimal
    above_row: int


class Unit(Model):
    """The clamping unit in its bay: lower edge and height, mm."""

    part: str
    y: Decimal
    height: Decimal


class BayLayout(Model):
    """One bay filled exactly: rows bottom to top, plates, clamping unit."""

    bay: int
    width: Decimal
    height: Decimal
    rows: tuple[Row, ...]
    plates: tuple[Plate, ...]
    unit: Unit

    @property
    def placements(self) -> tuple[Placement, ...]:
        """Every block of the bay in the order of insertion."""
        return tuple(placement for row in self.rows for placement in row.placements)


class Layout(Model):
    """A frame filled: one BayLayout a bay, in the order of the bays.

    ``proven`` is true when nothing better exists under the objective stated in ``engine.packing``;
    ``note`` then says nothing, else how far it may be from the best.
    """

    kind: Literal["frame"] = "frame"
    bays: tuple[BayLayout, ...]
    proven: bool
    note: str = ""

    @property
    def placements(self) -> tuple[Placement, ...]:
        """Every block of the frame, bay by bay in the order of insertion."""
        return tuple(placement for bay in self.bays for placement in bay.placements)


class SealLayout(Model):
    """A split seal around its one cable."""

    kind: Literal["split-seal"] = "split-seal"
    part: str
    diameter: Decimal
    cable: str
    fit: Fit


class NoLayout(Model):
    """There is no layout: what is short, why, and what would mend it. A result, not a failure."""

    kind: Literal["none"] = "none"
    what: str
    why: str
    mend: str
    gave_up: bool = False
    """True when the search was ended by its limit, so that a layout may exist."""


AnyLayout = Layout | SealLayout | NoLayout
