"""The record: what a crew entered at one transit. Versions 1 and 2 of the format in which it comes home.

Version 2 is version 1 with the girth that a plain tape showed; a phone writes it only where there is one.

A record is a zip with ``record.json`` and the photos it names, ``photos/<SHA-256>.jpg`` (or .png, .webp), and
nothing else. Every later version keeps the four keys ``format``, ``job``, ``transit`` and ``revision`` where
they are, so that a record of a newer version can be kept and named by a program that can't read it.

Lengths are mm. A decimal is a number or text ("14.50"); its digits are kept as they were entered. A moment is
the device's own, with its distance from UTC. What has a list of its own (diameters, gaps, counts, bolts,
tests) is written there; what else a step asks to write down goes into the step's ``values``, by the place it
has among the step's lines, from 1.
"""

import re
from datetime import datetime
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BeforeValidator, ConfigDict, Field, WithJsonSchema, model_validator

from generator.model.scalars import (
    Count,
    Digest,
    Ident,
    MmOrZero,
    Model,
    Name,
    Note,
    PartNumber,
    Slug,
    Tag,
    Uid,
    YesNo,
    quoted,
    refuse,
)

FORMAT = 2
"""The newest version of the format that this program reads and shows."""

_MOMENT = r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(?::[0-9]{2})?(?:Z|[+-][0-9]{2}:[0-9]{2})"


def _read_moment(value: object) -> str:
    if isinstance(value, str) and re.fullmatch(_MOMENT, value, re.ASCII):
        try:
            datetime.fromisoformat(value)
        except ValueError:
            pass
        else:
            return value
    raise refuse(
        f"is {quoted(value)}",
        "a moment is a day, a time and its distance from UTC",
        "write one such as 2031-05-14T09:30:00+01:00",
    )


Moment = Annotated[str, BeforeValidator(_read_moment), WithJsonSchema({"type": "string", "pattern": f"^{_MOMENT}$"})]
"""A moment by the device's clock, as the device wrote it."""

_STEP = r"[a-z0-9][a-z0-9-]{0,39}(?:\.[0-9a-z]{1,8}){0,2}"


def _read_step_key(value: object) -> str:
    if isinstance(value, str) and re.fullmatch(_STEP, value, re.ASCII):
        return value
    raise refuse(f"is {quoted(value)}", "a step is named by its key", "write one such as place-row.1.2")


StepKey = Annotated[str, BeforeValidator(_read_step_key), WithJsonSchema({"type": "string", "pattern": f"^{_STEP}$"})]
"""The key of a step, such as tags or place-row.1.2."""

_FEW, _SOME, _MANY = 50, 500, 5000


class Entered(Model):
    """Who entered something and when, and what they say about it."""

    at: Moment | None = None
    """When, by the device's clock."""
    by: Slug | None = None
    """Who: a key of people."""
    reason: Note | None = None
    """Why it is not as planned."""
    note: Note | None = None
    """Anything else."""


class Device(Model):
    """The device that made the record, and its clock."""

    name: Name | None = None
    """What it calls itself."""
    clock: Moment
    """Its clock when the record was made."""
    zone: Name | None = None
    """Its time zone, such as Europe/London."""


class Person(Model):
    """Someone who entered, checked or witnessed. A typed name is a name, not a signature."""

    name: Name
    """The name."""
    role: Name | None = None
    """What they are here, such as fitter or quality inspector."""


class Value(Entered):
    """One value that a step asks for."""

    read: Annotated[Count, Field(ge=1)]
    """Which of the step's lines, from 1."""
    value: Name
    """What was written down."""


class StepEntry(Entered):
    """One step: done or not, with the values it asks for."""

    done: YesNo
    """yes when it was done."""
    values: Annotated[tuple[Value, ...], Field(max_length=_FEW)] = ()
    """The values written down, each once."""

    @model_validator(mode="after")
    def _each_once(self) -> "StepEntry":
        reads = [value.read for value in self.values]
        if len(reads) != len(set(reads)):
            raise refuse("has two values for one line", "each is written down once", "keep the one that holds")
        return self


class Measured(Entered):
    """The diameter of a cable type and drum, and how its blocks were peeled."""

    cables: Annotated[tuple[Tag, ...], Field(min_length=1, max_length=_SOME)]
    """Tags of the cables it holds for."""
    type: Name | None = None
    """Their type."""
    drum: Tag | None = None
    """Their drum."""
    diameters: Annotated[tuple[MmOrZero, ...], Field(max_length=_FEW)] = ()
    """Readings across, mm."""
    part: PartNumber | None = None
    """The block or split seal it went into."""
    a: Count | None = None
    """Layers peeled from half A."""
    b: Count | None = None
    """Layers peeled from half B."""
    gaps: Annotated[tuple[MmOrZero, ...], Field(max_length=_FEW)] = ()
    """Gaps seen between the halves, pressed by hand, mm."""


class MeasuredAround(Measured):
    """The same, or the girth instead of the diameter: what was read says by what means."""

    girth: MmOrZero | None = None
    """What a plain tape round it showed, mm."""


class GapException(Entered):
    """A block whose gap is not within its window."""

    position: Tag
    """Its place on the drawing, such as 2.3."""
    gap: MmOrZero | None = None
    """The gap, mm."""


class RowChecked(Entered):
    """The gaps of a row, looked at before the next one."""

    bay: Annotated[Count, Field(ge=1)]
    """The bay."""
    row: Annotated[Count, Field(ge=1)]
    """The row, from below."""
    within: YesNo
    """yes when every gap but the exceptions lies in its window."""
    exceptions: Annotated[tuple[GapException, ...], Field(max_length=_SOME)] = ()
    """Those that don't."""


class Unlisted(Entered):
    """A cable that passes and is not on the list."""

    tag: Tag
    """What it is called."""
    diameter: MmOrZero | None = None
    """Its diameter, mm."""
    position: Tag | None = None
    """Where it went."""


class NotPulled(Entered):
    """A cable of the list that was not pulled."""

    tag: Tag
    """Its tag."""


class Counted(Entered):
    """What lies in a bay, counted before it was closed."""

    bay: Annotated[Count, Field(ge=1)]
    """The bay; 1 for a split seal."""
    rows: Count | None = None
    """Rows."""
    plates: Count | None = None
    """Row plates."""
    blocks: Count | None = None
    """Blocks in two halves, spares included."""
    spares: Count | None = None
    """Of these with the plug in."""
    fillers: Count | None = None
    """Solid blocks."""


class BoltRead(Entered):
    """One bolt, read when it was closed or after the rubber had settled."""

    of: Literal["closing", "holding"] = "closing"
    """What it tightens."""
    bay: Annotated[Count, Field(ge=1)] = 1
    """The bay."""
    bolt: Annotated[Count, Field(ge=1)]
    """Its number."""
    protrusion: MmOrZero | None = None
    """Thread past the nut, mm."""
    torque_nm: MmOrZero | None = None
    """Torque, N·m."""
    again: YesNo = False
    """yes for the second reading."""


class Tested(Entered):
    """One test."""

    kind: Name
    """What was done, such as air or hose."""
    result: Literal["held", "leaked", "stopped"]
    """What came of it."""
    figures: Note | None = None
    """Pressure, time and what else was measured."""
    witness: Slug | None = None
    """Who saw it: a key of people."""


class SideChanged(Entered):
    """The working side was another than planned."""

    side: Tag
    """The room from which blocks went in."""


class PlaceChanged(Entered):
    """What lies at one place of the layout, other than planned."""

    position: Tag
    """The place on the drawing, such as 2.3."""
    role: Literal["cable", "spare", "filler", "nothing"]
    """What lies there now."""
    part: PartNumber | None = None
    """The block or filler."""
    cable: Tag | None = None
    """The cable."""
    a: Count | None = None
    """Layers peeled from half A."""
    b: Count | None = None
    """Layers peeled from half B."""


class Photo(Entered):
    """A photo in the record, named by the SHA-256 of its bytes."""

    digest: Digest
    """The SHA-256 of its file."""
    step: StepKey | None = None
    """The step it belongs to."""
    side: Literal["working", "far"] | None = None
    """The side it was taken from."""


class Record(Model):
    """The file record.json, whatever its version."""

    format: int
    """The version of the format."""
    job: Uid
    """The job's UID, from the page."""
    transit: Ident
    """The transit's ID."""
    revision: Ident | None = None
    """The revision on the page; left out where the page was not issued."""
    work: Digest
    """The work digest on the page: it says against which work this was recorded."""
    record: Uid
    """A random UUID, made once for this transit on this device."""
    export: Annotated[Count, Field(ge=1)]
    """How many times it was exported, this time included: a later export replaces an earlier one."""
    made_by: Name
    """The program that wrote it."""
    device: Device
    """The device."""
    people: Annotated[dict[Slug, Person], Field(max_length=_FEW)] = {}
    """People by short names of the record's own."""
    steps: Annotated[dict[StepKey, StepEntry], Field(max_length=_MANY)] = {}
    """Steps by their keys."""
    measured: Annotated[tuple[Measured, ...], Field(max_length=_MANY)] = ()
    """Diameters, one entry a cable type and drum."""
    rows: Annotated[tuple[RowChecked, ...], Field(max_length=_SOME)] = ()
    """Gap checks, one a row."""
    unlisted: Annotated[tuple[Unlisted, ...], Field(max_length=_SOME)] = ()
    """Cables that are not on the list."""
    not_pulled: Annotated[tuple[NotPulled, ...], Field(max_length=_MANY)] = ()
    """Cables of the list that were not pulled."""
    counts: Annotated[tuple[Counted, ...], Field(max_length=_FEW)] = ()
    """Counts before closing, one a bay."""
    bolts: Annotated[tuple[BoltRead, ...], Field(max_length=_MANY)] = ()
    """Readings of bolts."""
    tests: Annotated[tuple[Tested, ...], Field(max_length=_FEW)] = ()
    """Tests."""
    working_side: SideChanged | None = None
    """Given where the working side was changed."""
    places: Annotated[tuple[PlaceChanged, ...], Field(max_length=_SOME)] = ()
    """Changes of the layout as it was built."""
    photos: Annotated[tuple[Photo, ...], Field(max_length=_SOME)] = ()
    """Photos."""
    note: Note | None = None
    """Anything else about this transit."""

    @model_validator(mode="after")
    def _people_are_named(self) -> "Record":
        for entered in entries_of(self):
            for who in (entered.by, getattr(entered, "witness", None)):
                if who is not None and who not in self.people:
                    raise refuse(
                        f"names the person {quoted(who)}",
                        "who enters something stands in people",
                        "add them to people",
                    )
        return self


class RecordOne(Record):
    """The file record.json, version 1."""

    model_config = ConfigDict(title="Record")

    format: Literal[1]
    """The version of the format."""


class RecordTwo(Record):
    """The file record.json, version 2."""

    model_config = ConfigDict(title="Record")

    format: Literal[2]
    """The version of the format."""
    measured: Annotated[tuple[MeasuredAround, ...], Field(max_length=_MANY)] = ()
    """Diameters and girths, one entry a cable type and drum."""


VERSIONS: dict[int, type[Record]] = {1: RecordOne, 2: RecordTwo}
"""What record.json must be, by the version that it says it has."""


def girth_of(measured: Measured) -> Decimal | None:
    """Return the girth that was read, mm; None where there is none, as in version 1."""
    return measured.girth if isinstance(measured, MeasuredAround) else None


def entries_of(record: Record) -> tuple[Entered, ...]:
    """Return everything that somebody entered, in the order of the format."""
    found: list[Entered] = []
    for step in record.steps.values():
        found += [step, *step.values]
    for row in record.rows:
        found += [row, *row.exceptions]
    found += [
        *record.measured,
        *record.unlisted,
        *record.not_pulled,
        *record.counts,
        *record.bolts,
        *record.tests,
        *record.places,
        *record.photos,
    ]
    return (*found, record.working_side) if record.working_side else tuple(found)


class KeptRecord(Model):
    """A record as it is kept: its file, and the digest of the file.

    record is None for one of a newer format, whose version is format.
    """

    file: str
    digest: str
    transit: str
    format: int
    record: Record | None = None
