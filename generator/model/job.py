"""What was asked for: the job, its walls, its transits and the cables that pass them."""

from collections.abc import Mapping
from decimal import Decimal
from functools import cached_property
from typing import Any, Literal, Self

from pydantic import Field, model_validator

from generator.model.catalogue import Catalogue, Division, FixingKind, Material, PartGroup
from generator.model.ratings import FireRating, IpRating, LRating
from generator.model.scalars import (
    Address,
    Amount,
    Count,
    Day,
    Fact,
    Ident,
    Language,
    Mm,
    MmOrZero,
    MmSigned,
    Model,
    Name,
    Note,
    PartNumber,
    ServiceClass,
    Slug,
    Tag,
    Uid,
    YesNo,
    in_order,
    refuse,
)


class Reading(Model):
    """How finely the crew's instrument reads up to a diameter, and how far a reading may be out."""

    up_to: Mm | None = None
    """Largest diameter of this band, mm; the last band leaves it out."""
    step: Mm
    """The instrument is read to this step, mm."""
    error: MmOrZero
    """A reading may differ from the true diameter by this much, mm."""


class Tape(Model):
    """A plain tape that the crew lays round a cable. It shows the girth, not the diameter."""

    step: Mm
    """It is read to this step, mm."""
    error: MmOrZero
    """A reading may differ from the cable's true girth by this much, mm, with what the tape's thickness adds."""


class Apart(Model):
    """Classes of cables that must not lie together."""

    classes: tuple[ServiceClass, ...] = Field(min_length=2)
    """The classes."""
    level: Literal["zone", "row", "bay"]
    """What no two of them share. zone: each of them has columns of its own, side by side in their row; row: no row
    has two of them; bay: no bay has two of them."""

    @model_validator(mode="after")
    def _each_once(self) -> "Apart":
        if len(set(self.classes)) != len(self.classes):
            raise refuse("names a class twice", "a class is kept apart from others", "name each class once")
        return self


Tested = Literal["water", "gas"]
"""What a finished transit is tested for."""


class Trial(Model):
    """How finished transits are tested, as the agreed test plan says."""

    method: Name
    """How: what with, how hard, how long."""
    limit: Name
    """When it has passed."""


class Job(Model):
    """The job: who it is for, where it will be served, how diameters are read."""

    name: Name
    """Name of the job."""
    number: Tag
    """Number of the job."""
    client: Name
    """Who it is done for."""
    place: Name | None = None
    """Where it is."""
    uid: Uid
    """Made once by 'wallwork new'; everything a phone keeps is filed under it."""
    address: Address
    """The address the site will be served at; labels carry it."""
    languages: tuple[Language, ...] = Field(min_length=1)
    """Languages of the pages; the first is the one they open with."""
    catalogues: tuple[Slug, ...] = Field(min_length=1)
    """Sealing systems, each a file of that name in catalogues/ of the job or beside it."""
    instrument: Name
    """What the crew measures with."""
    readings: tuple[Reading, ...] = Field(min_length=1)
    """How finely it reads, smallest diameters first."""
    tape: Tape | None = None
    """A plain tape, where the crew may lay one round cables: then the pages answer to a girth as well."""
    apart: tuple[Apart, ...] = ()
    """Classes that must not lie together in any transit of the job."""
    layout_steps: Count | None = Field(default=None, ge=1)
    """How many steps the search for one layout may take, where the usual number was too few. Counted, not timed, so
    that every machine finds the same layout."""
    tests: dict[Tested, Trial] = {}
    """How transits are tested for water and gas; left out where nothing is agreed yet. A wall may say otherwise."""
    wastage: dict[PartGroup, MmOrZero] = {}
    """How much more than is needed is ordered, in percent, by what it is; what it leaves out the catalogue says."""
    hot_work: tuple[Slug, ...] = ()
    """Rules for hot work that hold here, by name; of several the strictest figures. None: the permit says it all."""
    emergency: Name | None = None
    """Whom to call; shown on the safety page and on every transit's page."""
    note: Note | None = None
    """Anything the crew should know about the whole job."""

    @model_validator(mode="after")
    def _bands_in_order(self) -> "Job":
        ends = [band.up_to for band in self.readings]
        firm = [end for end in ends[:-1] if end is not None]
        if len(firm) != len(ends) - 1 or ends[-1] is not None or firm != sorted(set(firm)):
            raise refuse(
                "has readings out of order",
                "bands run from small to large diameters, and only the last has no up_to",
                "order them by up_to and leave it out of the last",
            )
        return self

    def reading_at(self, diameter: Decimal) -> Reading:
        """Return the band in which a diameter (mm) is read."""
        for band in self.readings:
            if band.up_to is None or diameter <= band.up_to:
                return band
        raise AssertionError("the last band has no end")


class JobFile(Model):
    """``job.yaml``."""

    job: Job
    """The job."""


class Landmarks(Model):
    """What a person sees at the ends of the drawing, from the wall's first side."""

    left: Tag
    """At the left end, seen from the first side."""
    right: Tag
    """At the right end, seen from the first side."""


class Datum(Model):
    """The two edges that coordinates are measured from."""

    x: Name
    """The edge that x is measured from, at the left seen from the first side."""
    y: Name
    """The edge that y is measured from, below."""


class KeepOut(Model):
    """A part of a wall where no opening may come: a rectangle, or a circle, in the wall's coordinates.

    Like openings it is measured from the datum edges and seen from the wall's first side.
    """

    kind: Literal["stiffener", "weld-seam", "door", "service", "other"]
    """What is there. Stiffeners and weld seams also bound the flat on which a frame can lie."""
    x: MmSigned
    """Left edge of the rectangle, or middle of the circle, from the x edge, mm."""
    y: MmSigned
    """Lower edge of the rectangle, or middle of the circle, from the y edge, mm."""
    width: Mm | None = None
    """Width of the rectangle, mm."""
    height: Mm | None = None
    """Height of the rectangle, mm."""
    diameter: Mm | None = None
    """Diameter of the circle, mm."""
    clear: MmOrZero
    """No opening comes nearer than this, mm."""

    @model_validator(mode="after")
    def _one_shape(self) -> "KeepOut":
        if (self.diameter is None) == (self.width is None) or (self.width is None) != (self.height is None):
            raise refuse(
                "has no clear shape",
                "a keep-out is a rectangle with width and height, or a circle with a diameter",
                "give width: and height:, or diameter: alone",
            )
        return self


class Room(Model):
    """How deep the free space in front of a wall is, mm, on one side and on the other."""

    first: MmOrZero
    """On the wall's first side, mm."""
    second: MmOrZero
    """On its second side, mm."""


class Demands(Model):
    """What the wall demands of everything that passes it."""

    fire: FireRating | None = None
    """Fire class, such as A-60, EI 90, EI 90-U/C (the ends of pipes) or F 2 h / T 1 h."""
    l_rating: LRating | None = None
    """Most air that may leak: an L rating after UL 1479, beside the F and T ratings."""
    w_rating: YesNo = False
    """yes when it demands a W rating after UL 1479 (3 ft of water); a class of it goes under other:."""
    water_head_m: Amount | None = None
    """Head of water it must hold, m."""
    water_bar: Amount | None = None
    """Pressure of water it must hold, bar, where it is not given as a head."""
    gas: YesNo = False
    """yes when it must hold back gas."""
    gas_mbar: Amount | None = None
    """Pressure of that gas, mbar."""
    pressure_from: Tag | None = None
    """The room from which water or gas presses, one of the wall's sides; left out when it may be either."""
    ip: IpRating | None = None
    """Ingress code, such as IP66."""
    other: tuple[Name, ...] = ()
    """Anything else, a line each, in the words of its owner."""

    @model_validator(mode="after")
    def _said_once(self) -> "Demands":
        if self.water_head_m is not None and self.water_bar is not None:
            raise refuse(
                "demands a head of water in m and a pressure in bar",
                "the two could differ",
                "keep the one that the owner states",
            )
        if self.gas_mbar is not None and not self.gas:
            raise refuse("demands gas_mbar: without gas: yes", "a pressure belongs to the gas", "add gas: yes")
        return self

    @property
    def water(self) -> bool:
        """It must hold water."""
        return self.water_head_m is not None or self.water_bar is not None

    @property
    def any(self) -> bool:
        """It demands anything at all."""
        rated = self.fire or self.l_rating or self.w_rating or self.water or self.gas or self.ip
        return bool(rated or self.other)


class Insulation(Model):
    """The insulation of a wall around what passes it."""

    sides: tuple[Tag, ...] = Field(min_length=1, max_length=2)
    """The rooms in which it is."""
    length: Mm | None = None
    """How far it runs along cables and round the frame, mm."""


class Wall(Model):
    """A wall, bulkhead, deck or cabinet side, with two sides named by their rooms."""

    name: Name | None = None
    """A name of its own; else the rooms name it."""
    division: Division
    """What it is."""
    area: Tag
    """The group of walls it belongs to."""
    sides: tuple[Tag, Tag]
    """The rooms on its two sides; for a deck the room above first."""
    landmarks: Landmarks
    """What lies at the left and right end, seen from the first side."""
    up: Tag | None = None
    """On a deck: where the drawing's upper edge points, such as forward or north."""
    material: Material
    """What it is made of."""
    thickness: Mm
    """Thickness of the plate or wall, mm."""
    width: Mm | None = None
    """Width of its elevation, mm."""
    height: Mm | None = None
    """Height of its elevation, mm."""
    datum: Datum
    """Where coordinates are measured from."""
    demands: Demands = Demands()
    """What it demands."""
    insulation: Insulation | None = None
    """Its insulation around what passes it; left out when there is none, or nobody knows."""
    tests: dict[Tested, Trial] = {}
    """How transits in this wall are tested, where it is not as the job says."""
    structural: YesNo
    """yes when cutting it needs the approval of the structure's designer."""
    keep_outs: dict[Tag, KeepOut] = {}
    """Where no opening may come, by what it is called on the wall."""
    edge_distance: MmOrZero | None = None
    """No opening comes nearer to an edge of the wall than this, mm. Needs the edges: width and height."""
    opening_distance: MmOrZero | None = None
    """No two openings come nearer to each other than this, mm."""
    room: Room | None = None
    """Free space in front of it on each side."""
    conditions: tuple[Fact, ...] = ()
    """Conditions of this wall that steps and cautions ask for, such as tank-behind."""
    note: Note | None = None
    """Anything the crew should know here."""

    @model_validator(mode="after")
    def _deck_has_up(self) -> "Wall":
        if self.division == "deck" and self.up is None:
            raise refuse(
                "is a deck without up",
                "a deck has no lower edge, so the drawing needs a mark",
                "add up: north",
            )
        if self.sides[0] == self.sides[1]:
            raise refuse(
                f'has the room "{self.sides[0]}" on both sides',
                "sides are told apart by their rooms",
                "name the two sides differently",
            )
        pressed = (self.demands.pressure_from,) if self.demands.pressure_from else ()
        for word, rooms in (
            ("pressure_from", pressed),
            ("insulation", self.insulation.sides if self.insulation else ()),
        ):
            for room in rooms:
                if room not in self.sides:
                    raise refuse(
                        f'names the room "{room}" under {word}',
                        f"its sides are {self.sides[0]} and {self.sides[1]}",
                        "name one of them",
                    )
        return self


class WallsFile(Model):
    """``walls.yaml``."""

    walls: dict[Ident, Wall]
    """Walls by ID."""


class Spot(Model):
    """Where a transit is on its wall, measured from the datum edges, seen from the wall's first side."""

    x: MmSigned
    """From the x edge, mm."""
    y: MmSigned
    """From the y edge, mm."""
    to: Literal["centre", "lower-left"]
    """What of the opening is measured to (lower left as seen from the wall's first side)."""


class Spare(Model):
    """Blocks whose plug stays in, for cables to come."""

    size: Mm | None = None
    """Side of the block, mm; left out where a share of all is asked for."""
    count: Count | None = Field(default=None, ge=1, le=999)
    """How many of that size."""
    share: Amount | None = None
    """So many percent instead: of the number of cables whose smallest block has that size, rounded up; without a
    size, of the area of every cable's smallest block, covered by spares of any size."""

    @model_validator(mode="after")
    def _one_amount(self) -> "Spare":
        if (self.count is None) == (self.share is None):
            raise refuse(
                "names both count and share" if self.count else "names neither count nor share",
                "spares are counted, or are a share of the cables",
                "give one of the two",
            )
        if self.size is None and self.count is not None:
            raise refuse(
                "has a count and no size", "blocks that are counted have a size", "add size:, or give share: instead"
            )
        return self


class Kept(Model):
    """A block that stays where it is: what is built already, or a place that was promised."""

    bay: Count = Field(default=1, ge=1, le=999)
    """Bay, counted from the left, seen from the working side."""
    x: MmOrZero
    """Left edge of the block from the left edge of its bay, mm, seen from the working side."""
    y: MmOrZero
    """Lower edge of the block from the lower edge of its bay, mm."""
    size: Mm
    """Side of the block, mm."""
    cable: Tag | None = None
    """The cable in it; left out for a spare."""


class Shared(Model):
    """Cables that lie in one block with several bores."""

    part: PartNumber
    """The block: one of the catalogue's with bores."""
    cables: tuple[Tag, ...] = Field(min_length=2, max_length=9)
    """Its cables from left to right, seen from the working side. Bores without one keep their plug."""


class Placeholder(Model):
    """Cables that are not known yet: the frame must take the worst case."""

    count: Count = Field(ge=1, le=999)
    """How many."""
    service: ServiceClass
    """Their class."""
    least: Mm
    """Thinnest to be expected, mm."""
    most: Mm
    """Thickest to be expected, mm."""

    @model_validator(mode="after")
    def _ordered(self) -> "Placeholder":
        in_order(self.least, self.most)
        return self


CHOOSE = "choose"
"""In the place of a frame's part number: the planner leaves it open."""


class Transit(Model):
    """One transit as it was asked for."""

    wall: Ident
    """The wall it passes."""
    tag: Name | None = None
    """What the drawings call this place."""
    working_side: Tag
    """The room from which blocks go in: one of the wall's sides."""
    catalogue: Slug | None = None
    """The sealing system; may be left out when the job has one."""
    frame: PartNumber | None = None
    """The frame; choose while it is left open, and the cheapest that works is named."""
    split_seal: PartNumber | None = None
    """The split seal, for one cable."""
    fixing: FixingKind
    """How it is held."""
    at: Spot
    """Where it is."""
    existing_opening: YesNo = False
    """yes when the opening is there already and nothing is cut."""
    cables_in_place: YesNo = False
    """yes when the cables are there already and the frame or seal goes round them."""
    room: Room | None = None
    """Free space in front of this place on each side, where it is not that of the wall."""
    authority_accepts: Name | None = None
    """The paper in which the approving authority accepts this transit although its certificate does not cover it."""
    bend: Mm | None = None
    """Radius of the tightest bend that the cables make beside this place, at the inside of the bend, mm."""
    spares: tuple[Spare, ...] = ()
    """Spares to leave, besides those that fill a row."""
    rest: Literal["spares", "solid"] = "spares"
    """What fills a row besides: more spares where blocks have a plug, or only solid blocks, so that the spares asked
    for are the only ones."""
    shared: tuple[Shared, ...] = ()
    """Cables that share a block with several bores: every other cable has a block of its own."""
    keep: tuple[Kept, ...] = ()
    """Blocks that stay where they are, whatever else moves."""
    apart: tuple[Apart, ...] = ()
    """Classes that must not lie together here, besides those of the job."""
    placeholders: dict[Tag, Placeholder] = {}
    """Cables to come, by a name of their own."""
    day: Day | None = None
    """Planned day."""
    conditions: tuple[Fact, ...] = ()
    """Conditions of this place that steps and cautions ask for, such as overhead."""
    note: Note | None = None
    """Anything the crew should know here."""

    @model_validator(mode="after")
    def _one_seal(self) -> "Transit":
        if (self.frame is None) == (self.split_seal is None):
            raise refuse(
                "names both frame and split_seal" if self.frame else "names neither frame nor split_seal",
                "a transit is a frame or a split seal",
                "give one of the two",
            )
        if self.split_seal and (self.spares or self.placeholders or self.keep or self.shared):
            raise refuse(
                "is a split seal with spares, placeholders, keep or shared",
                "a split seal takes one cable",
                "remove them, or choose a frame",
            )
        if self.frame == CHOOSE and self.keep:
            raise refuse(
                "leaves its frame to be chosen, and keeps blocks in place",
                "a block stays in a bay that is there",
                "name the frame, or leave keep: out",
            )
        if self.rest == "solid" and any(spare.size is None for spare in self.spares):
            raise refuse(
                "is solid beside its spares, and asks for spares of any size",
                "what is left solid must be known block by block",
                "give those spares a size:, or leave rest: out",
            )
        return self


class TransitsFile(Model):
    """``transits.yaml``, or each file of the folder ``transits/``."""

    transits: dict[Ident, Transit]
    """Transits by ID."""


class Cable(Model):
    """One cable or pipe, with the range its diameter lies in. A row of the schedule, or a placeholder's share."""

    tag: Tag
    """Its tag."""
    service: ServiceClass
    """Its class; pipe for a pipe."""
    type: Name | None = None
    """Its type: a diameter is measured once per type and drum."""
    drum: Tag | None = None
    """The length it comes from."""
    diameter: Mm | None = None
    """Nominal outer diameter, mm; left out when only a range is known."""
    least: Mm
    """Thinnest it may be, mm."""
    most: Mm
    """Thickest it may be, mm."""
    bend_factor: Amount | None = None
    """Its least radius of bend, at the inside, as a multiple of its diameter; left out where its maker gives none."""
    circuit: Tag | None = None
    """The alternating current circuit it is a single-core conductor of: all of them pass one opening in steel."""
    ladder: Count | None = None
    """Its place on the ladder that brings it, counted from the left as seen from the working side."""
    out_of_round_mm: MmOrZero | None = None
    """How far two diameters across it may differ, mm: its block must allow as much. Left out where nobody knows."""
    conductor_mm2: Amount | None = None
    """Cross-section of its largest conductor, mm²; left out where nobody knows, and for what has none."""
    bonded: YesNo = False
    """yes when its braid or screen must be bonded or leaks along its length, and asks for a block that can."""
    assumed: bool = False
    """It stands for a cable that is not known yet."""
    transits: tuple[Ident, ...] = ()
    """The transits it passes, in its order."""
    note: Note | None = None
    """Anything the crew should know about it."""

    @property
    def likely(self) -> Decimal:
        """The diameter that is most likely, mm: the nominal one, or the middle of the range."""
        return self.diameter if self.diameter is not None else (self.least + self.most) / 2


class Definition(Model):
    """A whole job as it was asked for: every reference in it leads somewhere."""

    job: Job
    catalogues: dict[Slug, Catalogue]
    walls: dict[Ident, Wall]
    transits: dict[Ident, Transit]
    cables: tuple[Cable, ...]

    @cached_property
    def _placed(self) -> dict[str, tuple[str, ...]]:
        """IDs of transits by their wall, in their order."""
        placed: dict[str, list[str]] = {}
        for transit_id, transit in sorted(self.transits.items()):
            placed.setdefault(transit.wall, []).append(transit_id)
        return {wall_id: tuple(ids) for wall_id, ids in placed.items()}

    def transits_on(self, wall_id: str) -> tuple[str, ...]:
        """Return the IDs of the transits of a wall, in their order."""
        return self._placed.get(wall_id, ())

    @cached_property
    def _known(self) -> dict[str, list[Cable]]:
        """The schedule's cables by the transits they pass: a job has thousands of both."""
        passing: dict[str, list[Cable]] = {}
        for cable in self.cables:
            for transit_id in dict.fromkeys(cable.transits):
                passing.setdefault(transit_id, []).append(cable)
        return passing

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """Return a copy, as pydantic does, that forgets what was computed before."""
        copied = super().model_copy(update=update, deep=deep)
        copied.__dict__.pop("_known", None)
        copied.__dict__.pop("_placed", None)
        return copied

    def catalogue_of(self, transit: Transit) -> Catalogue:
        """Return the sealing system of a transit (the job's only one when it names none)."""
        return self.catalogues[transit.catalogue or self.job.catalogues[0]]

    def cables_through(self, transit_id: str) -> tuple[Cable, ...]:
        """Return the cables of a transit: the schedule's in its order, then placeholders one by one."""
        known = tuple(self._known.get(transit_id, ()))
        assumed = tuple(
            Cable(
                tag=f"{name}-{number}",
                service=hold.service,
                least=hold.least,
                most=hold.most,
                assumed=True,
                transits=(transit_id,),
            )
            for name, hold in self.transits[transit_id].placeholders.items()
            for number in range(1, hold.count + 1)
        )
        return known + assumed
