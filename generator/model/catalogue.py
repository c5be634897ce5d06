"""A sealing system: its parts and every figure the engine works with. The engine has no defaults."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Literal, get_args

from pydantic import Field, model_validator

from generator.model.ratings import FireRating, IpRating, LRating
from generator.model.scalars import (
    Amount,
    Count,
    Day,
    Mm,
    MmOrZero,
    Model,
    Name,
    Note,
    PartNumber,
    Slug,
    Tag,
    Window,
    YesNo,
    format_mm,
    in_order,
    refuse,
)

Half = Literal["A", "B"]
Shape = Literal["rectangular", "round"]
FixingKind = Literal["welded", "sleeve", "plain-hole", "bolted", "grouted", "cast"]
"""How a frame or seal is held. A later kind is a word here, its figures in ``Fixing``, its steps as data."""
Material = Literal["steel", "stainless", "aluminium", "concrete", "masonry", "board"]
Division = Literal["wall", "bulkhead", "deck", "cabinet"]
Side = Literal["working side", "far side", "either side", "both sides"]
"""A side as a certificate names it: it does not know the rooms."""
FIXING_KINDS: tuple[str, ...] = get_args(FixingKind)
PropertyClass = Literal["8.8", "A2-50", "A2-70", "A2-80", "A4-50", "A4-70", "A4-80"]
"""Classes of steel (ISO 898-1) and stainless (ISO 3506-1) bolts whose proof stress the engine knows."""
PartGroup = Literal["sleeve", "frame", "split-seal", "block", "filler", "row-plate", "clamping-unit", "consumable"]
"""What a part is, in the order in which parts go in."""


class PeelLayers(Model):
    """A bore that grows by a layer at a time: bore(k) = bore + layer · k for k layers peeled in all."""

    bore: Mm
    """Diameter of the bore with every layer in place, mm."""
    layer: Mm
    """How much the bore's diameter grows for one layer peeled from one half, mm."""
    layers_per_half: Count = Field(le=999)
    """Layers in each half."""
    odd_layer: Half
    """The half that gives one layer more when the number is odd."""
    halves_differ_by: Count
    """How many layers the halves may differ by: 0 allows even numbers only."""
    gap: Window
    """The gap between the halves, pressed on the cable by hand, before closing."""


class PeelRow(Model):
    """One row of a catalogue's table diameter -> layers. It rules where it stands."""

    least: Mm
    """Least diameter of this row, mm; it belongs to the row."""
    most: Mm
    """Most diameter of this row, mm; it belongs to the row."""
    a: Count
    """Layers to peel from half A."""
    b: Count
    """Layers to peel from half B."""
    gap: Window
    """The gap to expect in this row."""

    @model_validator(mode="after")
    def _ordered(self) -> "PeelRow":
        in_order(self.least, self.most)
        return self


class PeelRule(Model):
    """What both blocks and split seals say about peeling: a formula, or a table, which then rules."""

    layers: PeelLayers | None = None
    """The formula: bore, layer, layers per half, gap."""
    table: tuple[PeelRow, ...] | None = None
    """The catalogue's own table; where it is given it rules."""
    not_round: MmOrZero | None = None
    """Two readings across a cable may differ by this much, mm; more is not round enough."""

    @model_validator(mode="after")
    def _has_rule(self) -> "PeelRule":
        if self.layers is None and not self.table:
            raise refuse(
                "says nothing about peeling", "a bore needs its formula or its table", "add layers: or table:"
            )
        return self


class Block(PeelRule):
    """A square block in two halves around one cable, or around several side by side where it has several bores."""

    size: Mm
    """Side of the square, mm."""
    plug: YesNo
    """yes when the centre can stay in place, so that the block serves as a spare, or a bore of several is left."""
    pipes: YesNo = False
    """yes when the catalogue allows pipes in it."""
    bonds: YesNo = False
    """yes when it can bond or seal a braid or screen."""
    bores: Count | None = Field(default=None, ge=2, le=9)
    """How many bores lie side by side where its halves meet, all alike; left out for one bore."""
    bores_differ: MmOrZero | None = None
    """How much the gaps of its bores may differ, each peeled for its own cable, mm: its halves close as one."""

    @property
    def several_bores(self) -> bool:
        """Whether cables share it: only where a transit says which."""
        return self.bores is not None

    @model_validator(mode="after")
    def _bores_lie_side_by_side(self) -> "Block":
        if (self.bores is None) != (self.bores_differ is None):
            raise refuse(
                "says half of what several bores need",
                "its halves close as one: how many bores there are, and how much their gaps may differ",
                "give both bores: and bores_differ:, or neither for one bore",
            )
        if self.bores is not None:
            ends = [row.most - row.gap.most for row in self.table or ()]
            if self.layers is not None:
                ends.append(self.layers.bore + self.layers.layer * self.layers.layers_per_half * 2)
            if self.bores * max(ends) >= self.size:
                raise refuse(
                    "has bores that do not lie side by side",
                    f"{self.bores} bores peeled to {format_mm(max(ends))} mm leave no rubber across"
                    f" {format_mm(self.size)} mm",
                    "correct bores:, size: or what its bores are peeled to",
                )
        return self


class Filler(Model):
    """A solid square block."""

    size: Mm
    """Side of the square, mm."""


class RowPlate(Model):
    """A plate that lies between rows."""

    length: Mm
    """Length: the width of the bays it fits, mm."""
    thickness: Mm
    """Thickness, mm."""


class Tightening(Model):
    """How something is tightened, and what the reading must be when it is closed."""

    bolts: Count = Field(ge=1, le=999)
    """How many bolts or screws."""
    thread: Tag
    """Thread, such as M10."""
    key: Mm
    """Key size across flats, mm."""
    order: Literal["in-turn", "crosswise"]
    """in-turn: one after the other and again; crosswise: opposite pairs."""
    rounds: Count = Field(ge=1, le=999)
    """In how many rounds."""
    turns_each_round: Amount | None = None
    """Turns per bolt in one round, counted from first resistance."""
    torque_nm: Amount | None = None
    """Torque of the last round, N·m, where the system is closed to a torque."""
    protrusion: Window | None = None
    """Thread past the nut when closed, mm, where the system is closed to a position."""
    settle_minutes: Count | None = None
    """After how many minutes the reading is repeated."""
    shares: tuple[Amount, ...] = ()
    """Percent of the torque in each round, rising; the last is 100. Left out where the catalogue gives none."""
    property_class: PropertyClass | None = None
    """Strength of the bolts as it stands on their heads; with nut_factor and proof_percent it limits the torque."""
    nut_factor: Amount | None = None
    """Torque over diameter and force of a bolt, such as 0.2 as it comes; the catalogue knows its bolts' friction."""
    proof_percent: Amount | None = None
    """Percent of its proof load that a bolt may be tightened to."""

    @model_validator(mode="after")
    def _limited(self) -> "Tightening":
        limits = (self.property_class, self.nut_factor, self.proof_percent)
        if any(limit is not None for limit in limits) and (None in limits or self.torque_nm is None):
            raise refuse(
                "limits its torque with half of what that needs",
                "a torque is held against property_class, nut_factor and proof_percent together",
                "give all three and torque_nm:, or none of the three",
            )
        if self.shares and (
            len(self.shares) != self.rounds
            or self.shares[-1] != 100
            or list(self.shares) != sorted(set(self.shares))
            or self.torque_nm is None
        ):
            raise refuse(
                "has shares that are no rounds to its torque",
                "there is one share for each round, each larger than the one before, the last 100 percent",
                "write as many as rounds: says, such as [30, 60, 100]",
            )
        return self

    @model_validator(mode="after")
    def _has_end(self) -> "Tightening":
        if self.torque_nm is None and self.protrusion is None:
            raise refuse(
                "does not say when it is closed",
                "a crew needs a torque or a protrusion to stop at",
                "add torque_nm: or protrusion:",
            )
        return self


class Pressing(Model):
    """The tool that presses rows down, so that a clamping unit goes in."""

    tool: Name
    """The tool, in the catalogue's words."""
    most: Mm
    """How far it may press them down, mm."""


class Travel(Model):
    """How far a clamping unit moves, and what it must squeeze."""

    turned_back: Mm
    """Its height turned back, before it is tightened, mm."""
    closed: Mm
    """Its height fully closed, mm."""
    squeeze_percent: Amount | None = None
    """How much it must squeeze the blocks at least when it is closed, in percent of the height of the rows."""
    pressing: Pressing | None = None
    """What presses the rows down where it does not go in by hand."""

    @model_validator(mode="after")
    def _ordered(self) -> "Travel":
        in_order(self.turned_back, self.closed)
        return self


class ClampingUnit(Model):
    """The unit that closes a bay."""

    width: Mm
    """The width of the bays it fits, mm."""
    height: Mm
    """Nominal height it takes in the bay, mm."""
    travel: Travel | None = None
    """How far it moves; left out where the catalogue says nothing, and then not judged."""
    tightening: Tightening
    """How it is closed."""


class Bay(Model):
    """A rectangular space of a frame that blocks fill."""

    width: Mm
    """Clear width, mm."""
    height: Mm
    """Clear height, mm."""
    x: MmOrZero
    """Left edge of the bay from the left edge of the frame, mm, seen from the working side."""
    y: MmOrZero
    """Lower edge of the bay from the lower edge of the frame, mm."""
    row_plate: PartNumber
    """The row plate that lies between rows."""
    plate_under_unit: YesNo
    """yes when one more row plate lies under the clamping unit."""
    clamping_unit: PartNumber
    """The clamping unit that closes it."""
    stacking: YesNo
    """yes when smaller blocks may be stacked in a column to the height of their row."""
    nesting: YesNo = False
    """yes when a column may itself be cut into rows, without row plates, and those into columns."""


class Opening(Model):
    """The hole in the wall: width and height, or a diameter, with its tolerance."""

    width: Mm | None = None
    """Width, mm."""
    height: Mm | None = None
    """Height, mm."""
    diameter: Mm | None = None
    """Diameter of a round opening, mm."""
    plus: MmOrZero
    """How much larger it may be, mm."""
    minus: MmOrZero
    """How much smaller it may be, mm."""
    corner_radius: MmOrZero | None = None
    """Radius of the corners of a rectangular opening, mm."""

    @model_validator(mode="after")
    def _one_shape(self) -> "Opening":
        if (self.diameter is None) == (self.width is None) or (self.width is None) != (self.height is None):
            raise refuse(
                "has no clear shape",
                "an opening has a width and a height, or a diameter",
                "give width: and height:, or diameter: alone",
            )
        return self


class Weld(Model):
    """How a frame is welded in."""

    leg: Mm
    """Leg length of the fillet, mm."""
    sides: Literal["working side", "far side", "both sides"]
    """Where the weld runs."""
    run: Name
    """How it runs, such as 'continuous, all round'."""
    bay_deviation: MmOrZero
    """How much the bay may differ from its size after welding, mm, measured at three places."""
    cool_to_c: Count
    """Blocks go in only when the frame is no warmer than this, °C."""
    stands_out: MmOrZero | None = None
    """How far the frame stands out of the wall on the working side, mm; the rest of its depth is on the far side."""


class Reach(Model):
    """How much free space in front of the wall the work needs, mm."""

    working: MmOrZero
    """On the working side, mm."""
    far: MmOrZero
    """On the far side, mm."""


class Flange(Model):
    """How a frame is bolted on: its bolts stand round it in a rectangle, numbered clockwise from the upper left."""

    across: Count = Field(ge=2, le=99)
    """Bolts in the upper row, corners counted; the lower row has as many."""
    up: Count = Field(ge=2, le=99)
    """Bolts up each side, corners counted."""
    inset: Mm
    """From the frame's outer edge to the middle of the bolts, mm."""
    hole: Mm
    """Diameter of the holes for them in the wall, mm."""
    gasket: Name | None = None
    """What lies between frame and wall, in the catalogue's words."""

    @property
    def bolts(self) -> int:
        """How many bolts stand round it."""
        return 2 * self.across + 2 * (self.up - 2)


class Setting(Model):
    """How a frame is set in mortar or concrete."""

    fill: Name
    """What holds it, in the catalogue's words."""
    joint: Window | None = None
    """Width of the joint round a grouted frame, mm; left out where it is cast in."""
    cure_hours: Count
    """Nothing is done to it before so many hours."""
    bay_deviation: MmOrZero
    """How much the bay may differ from its size afterwards, mm, measured at three places."""


class Fixing(Model):
    """How a frame or a split seal is held in the wall. What a kind does not use is left out."""

    opening: Opening | None = None
    """The opening; left out where a sleeve says it."""
    plate: Window | None = None
    """Thickness of the wall it fits, mm; left out where a sleeve says it."""
    materials: tuple[Material, ...] = ()
    """Walls it fits; empty where a sleeve says it."""
    sleeve: PartNumber | None = None
    """The sleeve that holds it."""
    weld: Weld | None = None
    """The weld that holds it."""
    flange: Flange | None = None
    """The flange by which it is bolted on."""
    setting: Setting | None = None
    """The mortar or concrete that holds it."""
    tightening: Tightening | None = None
    """Bolts of its own that hold it, besides clamping units and sleeves."""
    edge_distance: MmOrZero | None = None
    """Its opening comes no nearer to an edge of the wall than this, mm."""
    opening_distance: MmOrZero | None = None
    """Its opening comes no nearer to another than this, mm."""
    reach: Reach | None = None
    """Free space that the work needs on each side."""


def _check_fixings(fixings: dict[FixingKind, Fixing]) -> None:
    for kind, fixing in fixings.items():
        word = {
            "sleeve": "sleeve",
            "welded": "weld",
            "bolted": "flange",
            "grouted": "setting",
            "cast": "setting",
        }.get(kind)
        if word and getattr(fixing, word) is None:
            word += ":"
            raise refuse(
                f"has a fixing {kind} without {word}",
                f"{kind} is described by its {word}",
                f"add {word} to it",
            )
        if fixing.flange and (not fixing.tightening or fixing.tightening.bolts != fixing.flange.bolts):
            raise refuse(
                f"has a fixing {kind} with {fixing.tightening.bolts if fixing.tightening else 'no'} bolts to tighten"
                f" and {fixing.flange.bolts} round its flange",
                "the bolts round the flange are the ones that are tightened",
                "give tightening: as many bolts, or mend across: and up:",
            )
        if fixing.sleeve and fixing.tightening:
            raise refuse(
                f"has a fixing {kind} with a sleeve and bolts of its own",
                "what a sleeve holds is tightened by the sleeve's screws, and no step would speak of the others",
                "remove tightening: from the fixing, or sleeve:",
            )
        if kind == "grouted" and fixing.setting and not fixing.setting.joint:
            raise refuse(
                "has a fixing grouted without joint:",
                "the crew must know how wide the joint is that they fill",
                "add joint: to its setting:",
            )
        if fixing.sleeve is None and (fixing.opening is None or fixing.plate is None or not fixing.materials):
            raise refuse(
                f"has a fixing {kind} that names no opening, plate or materials",
                "without a sleeve the fixing itself must say which hole and wall it needs",
                "add opening:, plate: and materials:",
            )


class Thickness(Model):
    """A range of thicknesses that may be open at its upper end."""

    least: Mm
    """Thinnest, mm."""
    most: Mm | None = None
    """Thickest, mm; left out where there is no limit."""

    @model_validator(mode="after")
    def _ordered(self) -> "Thickness":
        if self.most is not None:
            in_order(self.least, self.most)
        return self


class Cover(Model):
    """One thing that a certificate covers, and under which conditions. A condition it does not name is left out."""

    fire: FireRating | None = None
    """Fire class, such as A-60, EI 90, EI 90-U/C (the ends of pipes in its test) or F 2 h / T 1 h."""
    l_rating: LRating | None = None
    """Most air that leaks: an L rating after UL 1479."""
    w_rating: YesNo = False
    """yes for a W rating after UL 1479 (3 ft of water); a class of it goes under says:."""
    water_head_m: Amount | None = None
    """Head of water, m."""
    water_bar: Amount | None = None
    """Pressure of water, bar, where it is not given as a head."""
    gas_mbar: Amount | None = None
    """Pressure of gas at which it is tight, mbar."""
    ip: IpRating | None = None
    """Ingress code, such as IP66 or IP66/IP68."""
    divisions: tuple[Division, ...] = ()
    """Kinds of wall."""
    materials: tuple[Material, ...] = ()
    """What the wall is made of."""
    thickness: Thickness | None = None
    """Thickness of the wall."""
    fixings: tuple[FixingKind, ...] = ()
    """Ways of fixing."""
    insulated: Side | None = None
    """Which side of the wall is insulated."""
    insulated_mm: Mm | None = None
    """How far the insulation runs at least along cables and round the frame, mm."""
    pressure_from: Side | None = None
    """The side from which water or gas presses."""
    conductor_mm2: Amount | None = None
    """Largest conductor, mm²."""
    fill_percent: Amount | None = None
    """Largest share of the clear area of a bay (or of a split seal) that its cables take, percent."""
    frame_width: Mm | None = None
    """Largest outer width of a frame, mm."""
    frame_height: Mm | None = None
    """Largest outer height of a frame, mm."""

    @model_validator(mode="after")
    def _one_rating(self) -> "Cover":
        ratings = ("fire", "l_rating", "w_rating", "water_head_m", "water_bar", "gas_mbar", "ip")
        given = [name for name in ratings if getattr(self, name) not in (None, False)]
        if len(given) != 1:
            raise refuse(
                f"states {' and '.join(given)}" if given else "states no rating",
                "each item of covers: is one rating with its own conditions",
                "give one of fire:, l_rating:, w_rating:, water_head_m:, water_bar:, gas_mbar: or ip: in each item",
            )
        if self.insulated_mm is not None and self.insulated is None:
            raise refuse(
                "has insulated_mm: without insulated:",
                "insulation has a side",
                "add insulated: working side, far side, either side or both sides",
            )
        if self.pressure_from is not None and given[0] in ("fire", "l_rating", "ip"):
            raise refuse(
                f"is {given[0]} with pressure_from:",
                "only water and gas press from a side",
                "remove pressure_from:",
            )
        if self.pressure_from == "both sides":
            raise refuse(
                "has pressure_from: both sides",
                "water or gas presses from one side, or from either",
                "write either side",
            )
        return self


class Certificate(Model):
    """What a certificate covers, item by item, and what it says beside that, word for word."""

    number: Name
    """Number and issuer."""
    covers: tuple[Cover, ...] = ()
    """What it covers."""
    says: tuple[Name, ...] = ()
    """What else it says, a line each; words are shown and never compared."""
    until: Day | None = None
    """Last day it is valid."""

    @model_validator(mode="after")
    def _says_something(self) -> "Certificate":
        if not self.covers and not self.says:
            raise refuse(
                "has a certificate that says nothing",
                "a number alone covers no wall",
                "add covers: with what it covers",
            )
        return self


class Split(Model):
    """A frame in two halves, which goes round cables that are there already."""

    at: Mm
    """Where its halves meet, from its lower edge, mm."""
    joined: Name
    """How the halves are joined, in the catalogue's words."""


class FrameRow(Model):
    """A row of equal frames, side by side in one opening."""

    frame: PartNumber
    """The frame that stands in it."""
    count: Count = Field(ge=2, le=99)
    """How many of them."""
    joint: MmOrZero
    """Between two of them, mm."""
    joined: Name
    """How they are joined, in the catalogue's words."""


class Frame(Model):
    """A frame with one or more bays, numbered left to right from 1, seen from the working side."""

    shape: Shape
    """rectangular or round (a round body with a rectangular bay)."""
    width: Mm
    """Outer width, or the diameter of a round body, mm."""
    height: Mm
    """Outer height, or the diameter of a round body, mm."""
    corner_radius: MmOrZero | None = None
    """Radius of the outer corners of a rectangular frame, mm; left out, nobody checks them against the opening's."""
    depth: Mm
    """Depth of the frame, mm."""
    bays: tuple[Bay, ...] = Field(min_length=1)
    """The bays, left to right."""
    webs_not_magnetic: YesNo = False
    """yes when what stands between its bays is not magnetic, or is cut through, so that the conductors of one circuit
    may lie in different bays."""
    fixings: dict[FixingKind, Fixing] = Field(min_length=1)
    """The ways it can be held."""
    split: Split | None = None
    """Its halves, where it goes round cables that are there already."""
    row: FrameRow | None = None
    """The frames it is made of, where it is a row of them; their bays are its bays."""
    certificate: Certificate | None = None
    """Its certificate."""
    price: Amount | None = None
    """What it costs, in the currency of all prices of this catalogue; only a choice among frames asks for it."""

    @model_validator(mode="after")
    def _fits_together(self) -> "Frame":
        _check_fixings(self.fixings)
        if self.shape == "round" and self.width != self.height:
            raise refuse(
                f"is round, {format_mm(self.width)} wide and {format_mm(self.height)} high",
                "a round body is as wide as high",
                "write its diameter in both",
            )
        for kind, fixing in self.fixings.items():
            if fixing.opening and self._touches(fixing.opening):
                raise refuse(
                    f"touches the rounded corners of its opening when it is {kind}",
                    f"in the smallest opening a corner of radius {format_mm(self.corner_radius or Decimal(0))} mm"
                    f" does not clear one of {format_mm(fixing.opening.corner_radius or Decimal(0))} mm",
                    "mend corner_radius: of the frame or of the opening, or make the opening larger",
                )
        for number, bay in enumerate(self.bays, 1):
            corners = [(bay.x + dx, bay.y + dy) for dx in (Decimal(0), bay.width) for dy in (Decimal(0), bay.height)]
            radius = self.width / 2
            inside = all(
                x <= self.width
                and y <= self.height
                and (self.shape != "round" or (x - radius) ** 2 + (y - radius) ** 2 <= radius**2)
                for x, y in corners
            )
            if not inside:
                raise refuse(
                    f"has bay {number} reaching out of it",
                    "a bay lies within its frame",
                    f"mend x, y, width or height of bay {number}",
                )
        if self.split and self.split.at >= self.height:
            raise refuse(
                f"is {format_mm(self.height)} mm high and meets at {format_mm(self.split.at)} mm",
                "the halves of a frame meet within it",
                "mend at: of its split:",
            )
        for left, right in zip(self.bays, self.bays[1:], strict=False):
            if left.x + left.width > right.x:
                raise refuse(
                    "has bays that overlap or are out of order",
                    "bays are listed left to right",
                    "mend their x:",
                )
        return self

    def _touches(self, opening: Opening) -> bool:
        """Tell whether a corner of the frame, in the middle of its smallest opening, meets the opening's rounding.

        Both roundings are arcs: the frame's lies inside the opening's when the distance of their centres and its own
        radius together are no more than the opening's. A frame larger than its opening lies on the wall.
        """
        if self.corner_radius is None or not opening.corner_radius or opening.width is None or opening.height is None:
            return False
        beside = (opening.width - opening.minus - self.width) / 2
        above = (opening.height - opening.minus - self.height) / 2
        apart = [opening.corner_radius - gap - self.corner_radius for gap in (beside, above)]
        if min(beside, above) < 0 or min(apart) <= 0:
            return False
        room = opening.corner_radius - self.corner_radius
        return apart[0] ** 2 + apart[1] ** 2 > room**2


class Sleeve(Model):
    """A round body through the plate that holds a round frame or a split seal."""

    opening: Opening
    """The hole it needs."""
    plate: Window
    """Thickness of the plate it grips, mm."""
    materials: tuple[Material, ...] = Field(min_length=1)
    """Walls it fits."""
    tightening: Tightening
    """Its screws."""


class SplitSeal(PeelRule):
    """A round seal in two halves around one cable."""

    diameter: Mm
    """Outer diameter, mm."""
    pipes: YesNo = False
    """yes when the catalogue allows a pipe in it."""
    bonds: YesNo = False
    """yes when it can bond or seal a braid or screen."""
    fixings: dict[FixingKind, Fixing] = Field(min_length=1)
    """The ways it can be held."""
    certificate: Certificate | None = None
    """Its certificate."""

    @model_validator(mode="after")
    def _is_held(self) -> "SplitSeal":
        _check_fixings(self.fixings)
        for kind in ("bolted", "grouted", "cast"):
            if kind in self.fixings:
                raise refuse(
                    f"is a split seal with a fixing {kind}",
                    "frames are bolted on, grouted and cast in; a split seal sits in a sleeve or a hole",
                    "write sleeve or plain-hole, or make it a frame",
                )
        return self


class Consumable(Model):
    """Something used up at the wall."""

    name: Name
    """What it is."""
    amount: Amount
    """How much is used each time."""
    unit: Tag
    """Unit of the amount, such as ml."""
    per: Literal["block", "bay", "transit", "joint", "bolt", "edge"]
    """Used for each block or seal, each bay, each transit, each litre of the joint round a grouted frame, each bolt
    that holds a frame on its wall, or each metre of the outer edge of such a frame."""
    thread: Tag | None = None
    """Thread of bolts that are used for each bolt, such as M8: they are used only where that is the flange's."""
    holds: Amount | None = None
    """How much one container of it holds, in the same unit; left out where it is not bought in containers."""

    @model_validator(mode="after")
    def _only_bolts_have_a_thread(self) -> "Consumable":
        if self.thread is not None and self.per != "bolt":
            raise refuse(
                f"has a thread and is used per {self.per}",
                "a thread is held against the bolts of a flange",
                "write per: bolt, or remove thread:",
            )
        return self


class Catalogue(Model):
    """One sealing system. Parts of different systems never meet in one transit."""

    system: Name
    """Name of the system."""
    edition: Tag
    """Edition of its documents."""
    source: Note
    """Where its figures come from."""
    lubricate: Note | None = None
    """What the system says about lubricant, in its own words."""
    seat: Note | None = None
    """How deep blocks lie in a frame, in the system's own words."""
    blocks: dict[PartNumber, Block] = {}
    """Blocks by part number."""
    fillers: dict[PartNumber, Filler] = {}
    """Solid blocks by part number."""
    row_plates: dict[PartNumber, RowPlate] = {}
    """Row plates by part number."""
    clamping_units: dict[PartNumber, ClampingUnit] = {}
    """Clamping units by part number."""
    frames: dict[PartNumber, Frame] = {}
    """Frames by part number."""
    sleeves: dict[PartNumber, Sleeve] = {}
    """Sleeves by part number."""
    split_seals: dict[PartNumber, SplitSeal] = {}
    """Split seals by part number."""
    consumables: dict[PartNumber, Consumable] = {}
    """What is used up, by part number."""
    wastage: dict[PartGroup, MmOrZero] = {}
    """How much more than is needed is ordered, in percent, by what it is; the job may say otherwise."""

    @property
    def groups(self) -> dict[str, PartGroup]:
        """What every part is, by its number."""
        kinds: tuple[tuple[PartGroup, Iterable[str]], ...] = (
            ("sleeve", self.sleeves),
            ("frame", self.frames),
            ("split-seal", self.split_seals),
            ("block", self.blocks),
            ("filler", self.fillers),
            ("row-plate", self.row_plates),
            ("clamping-unit", self.clamping_units),
            ("consumable", self.consumables),
        )
        return {part: group for group, parts in kinds for part in parts}

    @property
    def single_blocks(self) -> dict[str, Block]:
        """The blocks with one bore: those that any cable may have, and that serve as spares."""
        return {part: block for part, block in self.blocks.items() if not block.several_bores}

    def sized_blocks(self) -> list[tuple[str, Block]]:
        """Return the blocks with one bore, smallest first, part number as the second key."""
        return sorted(self.single_blocks.items(), key=lambda item: (item[1].size, item[0]))


class CatalogueFile(Model):
    """The file of one sealing system: ``catalogues/<name>.yaml``."""

    catalogue: Catalogue
    """The system."""


CatalogueName = Slug
