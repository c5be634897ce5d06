"""The cable schedule: rows of ``cables.csv`` become cables."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from pydantic import Field, ValidationError

from generator.errors import Problem
from generator.model.job import Cable
from generator.model.scalars import (
    Amount,
    Count,
    Ident,
    Mm,
    MmOrZero,
    Model,
    Name,
    Note,
    ServiceClass,
    Tag,
    YesNo,
    format_mm,
    quoted,
)
from generator.source.csv_text import Cell, Column
from generator.source.explain import explain
from generator.source.lookalikes import foreign_character, shape
from generator.source.positions import Items, Map, Text


class Row(Model):
    """One row of the schedule, field by field."""

    tag: Tag
    """Tag of the cable."""
    service: ServiceClass = Field(alias="class")
    """Its class; pipe for a pipe."""
    type: Name | None = None
    """Its type."""
    drum: Tag | None = None
    """The length it comes from."""
    diameter_mm: Mm | None = None
    """Outer diameter, mm."""
    tolerance_mm: MmOrZero | None = None
    """How much the diameter may differ either way, mm; 0 for a measured one."""
    least_mm: Mm | None = None
    """Thinnest it may be, mm."""
    most_mm: Mm | None = None
    """Thickest it may be, mm."""
    transits: tuple[Ident, ...] = Field(min_length=1)
    """IDs of the transits it passes, separated by spaces."""
    bonded: YesNo = False
    """yes when its braid or screen must be bonded."""
    bend_factor: Amount | None = None
    """Its least radius of bend, at the inside, as a multiple of its diameter."""
    circuit: Tag | None = None
    """The circuit it is a single-core conductor of."""
    ladder: Count | None = None
    """Its place on the ladder, counted from the left as seen from the working side."""
    out_of_round_mm: MmOrZero | None = None
    """How far two diameters across it may differ, mm."""
    conductor_mm2: Amount | None = None
    """Cross-section of its largest conductor, mm²."""
    note: Note | None = None
    """Anything the crew should know about it."""


_REQUIRED = ("tag", "class", "transits")
COLUMNS = tuple(
    Column(name, name in _REQUIRED) for name in (field.alias or name for name, field in Row.model_fields.items())
)
"""The columns of ``cables.csv``, in the order in which they are best written."""


def read_schedule(rows: Iterable[Map]) -> tuple[list[Cable], list[Map], list[Problem]]:
    """Turn rows into cables; each cable's row comes back beside it, with ``transits`` as a list of Text.

    The problems hold every row's own faults and every tag that stands twice.
    """
    cables = []
    kept = []
    problems: list[Problem] = []
    tags: dict[str, Cell] = {}
    for row in rows:
        cable, faults = _read_row(row)
        problems += faults
        tag = row["tag"]
        if tag and tag in tags:
            problems.append(
                Problem(
                    tag.where,
                    f"tag is {quoted(tag)} a second time",
                    f"a tag names one cable, and line {tags[tag].line} has it already",
                    "give the other cable its own tag, or list all transits of this one in one row",
                )
            )
        elif tag:
            tags[tag] = tag
        if cable:
            cables.append(cable)
            kept.append(row)
    return cables, kept, problems


def doubtful_tags(tags: Iterable[Text]) -> list[Problem]:
    """Point out tags that a reader could take for one another, and letters that only look Latin."""
    problems = []
    shapes: dict[str, Text] = {}
    for tag in tags:
        character = foreign_character(tag)
        if character:
            problems.append(
                Problem(
                    tag.where,
                    f"tag {quoted(tag)} holds {character}",
                    "it looks like another, and nobody who types that one will find this cable",
                    "type the tag anew if the other is meant",
                    severity="look",
                )
            )
        other = shapes.setdefault(shape(tag), tag)
        if other is not tag:
            problems.append(
                Problem(
                    tag.where,
                    f"tag {quoted(tag)} looks like {quoted(other)} of line {other.line}",
                    "they differ only by case, spaces or letters that look alike",
                    "if both are one cable, keep one row; else make the tags differ by more",
                    severity="look",
                )
            )
    return problems


def doubtful_circuits(circuits: Iterable[Text]) -> list[Problem]:
    """Point out circuits that a reader takes for one, and the layout for two."""
    problems = []
    shapes: dict[str, Text] = {}
    for circuit in circuits:
        other = shapes.setdefault(shape(circuit), circuit)
        if other != circuit:
            problems.append(
                Problem(
                    circuit.where,
                    f"circuit {quoted(circuit)} looks like {quoted(other)} of line {other.line}",
                    "written in two ways it counts as two, and steel may come between its conductors",
                    "if both are one circuit, write it in one way; else make the names differ by more",
                    severity="look",
                )
            )
    return problems


def _read_row(row: Map) -> tuple[Cable | None, list[Problem]]:
    tag = row["tag"]
    subject = f"cable {quoted(tag)[1:-1]}" if tag else f"the cable of line {row.where.line}"
    cell = row["transits"]
    if isinstance(cell, Cell) and cell:
        row["transits"] = Items(
            cell.where, (cell.part(found.start(), found.end()) for found in re.finditer(r"[^\s,;]+", cell))
        )
    problems = _judge_transits(row, subject)
    missing = _missing_diameter(row)
    if missing:
        column, what, mend = missing
        where = row[column].where if column in row else row.where
        problems.append(Problem(where, f"{what} for {subject}", _EITHER, mend))
    try:
        read = Row.model_validate(Map(row.where, ((key, value) for key, value in row.items() if value)))
    except ValidationError as error:
        return None, problems + explain(error, Row, row, subject)
    if problems:
        return None, problems
    ends = _range_of(read)
    if isinstance(ends, _Clash):
        return None, [
            Problem(row[ends.column].where, f"{ends.what} for {subject}", ends.why, "mend the one that is wrong")
        ]
    cable = Cable(
        tag=read.tag,
        service=read.service,
        type=read.type,
        drum=read.drum,
        diameter=read.diameter_mm,
        least=ends[0],
        most=ends[1],
        bonded=read.bonded,
        bend_factor=read.bend_factor,
        circuit=read.circuit,
        ladder=read.ladder,
        out_of_round_mm=read.out_of_round_mm,
        conductor_mm2=read.conductor_mm2,
        transits=read.transits,
        note=read.note,
    )
    return cable, []


def _judge_transits(row: Map, subject: str) -> list[Problem]:
    problems = []
    seen: set[str] = set()
    for transit in row["transits"] if isinstance(row["transits"], Items) else ():
        if transit in seen:
            problems.append(
                Problem(
                    transit.where,
                    f"transits names {quoted(transit)} twice for {subject}",
                    "a cable passes a transit once",
                    "remove one of the two",
                )
            )
        seen.add(transit)
    return problems


_EITHER = "a diameter is diameter_mm with tolerance_mm, or least_mm with most_mm"


def _missing_diameter(row: Map) -> tuple[str, str, str] | None:
    """Return the column, what is wrong with the four that say a diameter, and what to write; None when right."""
    diameter, tolerance, least, most = (
        bool(row.get(column)) for column in ("diameter_mm", "tolerance_mm", "least_mm", "most_mm")
    )
    if tolerance and (least or most):
        column = "least_mm" if least else "most_mm"
        return column, f"tolerance_mm and {column} are both given", "remove one of the two"
    if least != most:
        given, missing = ("least_mm", "most_mm") if least else ("most_mm", "least_mm")
        return given, f"{given} is given without {missing}", f"write {missing} too"
    if least:
        return None
    if not diameter:
        column = "tolerance_mm" if tolerance else "diameter_mm" if "diameter_mm" in row else "tag"
        return column, "no diameter is given", "write the outer diameter in diameter_mm, such as 12.5"
    if not tolerance:
        return (
            "diameter_mm",
            "diameter_mm is given without tolerance_mm",
            "write in tolerance_mm how much it may differ either way, 0 for a measured one",
        )
    return None


@dataclass(frozen=True)
class _Clash:
    column: str
    what: str
    why: str


def _range_of(row: Row) -> tuple[Decimal, Decimal] | _Clash:
    """Return the thinnest and the thickest a cable may be, mm."""
    diameter, tolerance, least, most = row.diameter_mm, row.tolerance_mm, row.least_mm, row.most_mm
    if diameter is not None and tolerance is not None:
        if tolerance >= diameter:
            return _Clash(
                "tolerance_mm",
                f"tolerance_mm is {format_mm(tolerance)} at a diameter_mm of {format_mm(diameter)}",
                "a tolerance is smaller than its diameter",
            )
        return diameter - tolerance, diameter + tolerance
    assert least is not None and most is not None  # _missing_diameter has seen to it
    if least > most:
        return _Clash(
            "least_mm",
            f"least_mm is {format_mm(least)} at a most_mm of {format_mm(most)}",
            "least must not exceed most",
        )
    if diameter is not None and not least <= diameter <= most:
        return _Clash(
            "diameter_mm",
            f"diameter_mm is {format_mm(diameter)} between a least_mm of {format_mm(least)}"
            f" and a most_mm of {format_mm(most)}",
            "a nominal diameter lies in its range",
        )
    return least, most
