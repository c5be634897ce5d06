"""Steps and cautions as data: rules with conditions, and what they become for one transit."""

import re
from typing import Literal

from pydantic import Field, model_validator

from generator.model.catalogue import Material
from generator.model.scalars import Amount, Fact, Model, Name, Note, Slug, refuse

_PLACE = re.compile(r"\{([A-Za-z_][A-Za-z0-9_]*)\}", re.ASCII)

StepKind = Literal["do", "measure", "review", "witness", "hold"]
Party = Literal["crew", "quality", "owner", "class"]
Signal = Literal["danger", "warning", "caution", "notice"]


class Condition(Model):
    """Every fact of ``when`` holds and none of ``unless``."""

    when: tuple[Fact, ...] = ()
    """Facts that must all hold, such as fixing:welded or tank-behind."""
    unless: tuple[Fact, ...] = ()
    """Facts none of which may hold."""

    def holds(self, facts: frozenset[str]) -> bool:
        """Tell whether the condition holds for a transit with these facts."""
        return facts.issuperset(self.when) and facts.isdisjoint(self.unless)


class StepRule(Condition):
    """A step, for every transit on which its condition holds. Rules stand in the order of the work."""

    id: Slug
    """Its name for ever: records are filed under it."""
    phase: Slug
    """The heading it stands under: one of the file's phases."""
    each: Literal["transit", "bay", "row", "type"] = "transit"
    """Once a transit, once a bay, once a row (bottom row first), or once per cable type and drum."""
    kind: StepKind
    """do, measure, review, witness or hold."""
    party: Party
    """Who must."""
    title: Name
    """What, as an order. {figure} stands for a computed figure."""
    title_of_one: dict[str, Name] = {}
    """Its title where a figure is 1, by the name of that figure: no language counts one as many."""
    text: Note
    """How, with every figure it needs. {figure} stands for a computed figure."""
    reads: tuple[Name, ...] = ()
    """What is written down here, each with its window, such as 'thread past the nut, bolt {bolt}: {protrusion}'.

    One that names a figure with several values ({bolt}) is written down once for each of them."""
    tools: tuple[Name, ...] = ()
    """Tools this step needs. {figure} stands for a computed figure."""
    after: Slug | None = None
    """Only in a job's own file: the step it is put after."""


class CautionRule(Condition):
    """A caution, shown before the steps it belongs to wherever its condition holds."""

    id: Slug
    """Its name."""
    before: tuple[Slug, ...] = Field(min_length=1)
    """IDs of the steps it is shown before."""
    signal: Signal
    """Severity as a signal word: danger, warning, caution, notice."""
    title: Name
    """The hazard, in a few words."""
    text: Note
    """What can happen, and what to do."""
    card: tuple[Name, Name] | None = None
    """Two short lines for the printed card."""
    rank: int = Field(default=100, ge=0)
    """On the card the lowest ranks come first."""
    source: Name
    """Its published source, or 'common practice, no source'."""


class Computed(Model):
    """A computation that catches something."""

    text: Name
    """What is computed or compared, and what becomes of it."""
    by: Name
    """The function that does it, by its place in the program, such as engine.check.check_layout."""


class DefectRule(Model):
    """A usual defect of finished transits, with the steps and computations that catch it."""

    id: Slug
    """Its name."""
    title: Name
    """What is wrong, in a few words."""
    text: Note
    """How it comes about, or what it does."""
    steps: tuple[Slug, ...] = ()
    """IDs of the steps that catch it, in the order of the work."""
    computed: tuple[Computed, ...] = ()
    """Computations that catch it before or after the work."""
    source: Name
    """Its published source, or 'common practice, no source'."""


class Phase(Model):
    """A heading of the checklist."""

    id: Slug
    """Its name."""
    title: Name
    """Its heading."""


class MaterialFigures(Model):
    """What cutting a material needs to know, and where it stands."""

    density_kg_m3: Amount
    """Density, kg/m³: it gives the mass of the piece that falls out."""
    cutting_least_m_min: Amount | None = None
    """Lowest speed of a cutter's edge, m/min; left out where it is not turned or not known."""
    cutting_most_m_min: Amount | None = None
    """Highest speed of a cutter's edge, m/min."""
    source: Name
    """Where the density stands."""
    cutting_source: Name | None = None
    """Where the speeds stand, and for which cutter they are."""

    @model_validator(mode="after")
    def _speeds_have_a_source(self) -> "MaterialFigures":
        given = [self.cutting_least_m_min, self.cutting_most_m_min, self.cutting_source]
        if any(item is None for item in given) and any(item is not None for item in given):
            raise refuse(
                "gives only a part of the cutter's speed",
                "a speed is a range with its source",
                "give cutting_least_m_min:, cutting_most_m_min: and cutting_source:, or none of them",
            )
        return self


State = Literal["read", "read in a copy", "as quoted by others", "from memory"]
"""How far a figure is confirmed."""


class Stated(Model):
    """Where something stands, and how far that is confirmed."""

    source: Name
    """Document and clause."""
    state: State
    """read, read in a copy, as quoted by others, or from memory."""


class StatedFigure(Stated):
    """A figure of a rule."""

    value: Amount
    """The figure, in the unit its name says."""


class HotRules(Model):
    """One set of rules for hot work. What it says nothing about is left out."""

    title: Name
    """What it is called."""
    clear_m: StatedFigure | None = None
    """What can burn is taken so far away, m."""
    watch_min: StatedFigure | None = None
    """How long the fire watch lasts after the work, minutes."""
    checks_min: StatedFigure | None = None
    """For how long one looks again after the watch, minutes."""
    every_min: StatedFigure | None = None
    """How far these looks lie apart at most, minutes."""
    far_m: StatedFigure | None = None
    """The other side of walls is looked at so far away, m."""
    looks: Stated | None = None
    """Where it stands what else is looked at; the steps say it."""


class ProcedureFile(Model):
    """Steps and cautions: the ones that come with Wallwork, or a job's own ``procedure.yaml``."""

    phases: tuple[Phase, ...] = ()
    """Headings in order; a job's own file may leave them out."""
    steps: tuple[StepRule, ...] = ()
    """Steps in order. In a job's own file each is put after the step it names."""
    cautions: tuple[CautionRule, ...] = ()
    """Cautions."""
    defects: tuple[DefectRule, ...] = ()
    """Usual defects, each with what catches it."""
    materials: dict[Material, MaterialFigures] = {}
    """Figures of the walls' materials, for cutting."""
    hot_work: dict[Slug, HotRules] = {}
    """Rules for hot work, by the name under which a job asks for them."""


class Message(Model):
    """Words to be translated, with the figures that go into them. Both are text, neither is HTML."""

    text: str
    values: dict[str, str] = {}

    def __str__(self) -> str:
        """The message in English, its values put in."""
        return _PLACE.sub(lambda place: self.values.get(place[1], place[0]), self.text)


class Caution(Model):
    """A caution for one transit."""

    id: str
    signal: Signal
    title: Message
    text: Message
    card: tuple[Message, Message] | None = None
    rank: int
    source: str
    when: tuple[str, ...] = ()
    """Facts for which its rule asks, so that a reader sees why it stands here."""
    unless: tuple[str, ...] = ()
    """Facts that its rule excludes."""


class Step(Model):
    """A step for one transit, numbered in the order of the work.

    ``key`` is its identity in records: the rule's ID, with bay and row where it is repeated. ``bay`` and
    ``row`` say what of the drawing it speaks of. ``cautions`` are read before it is done.
    """

    number: int
    key: str
    phase: str
    kind: StepKind
    party: Party
    title: Message
    text: Message
    reads: tuple[Message, ...] = ()
    tools: tuple[Message, ...] = ()
    bay: int | None = None
    row: int | None = None
    cautions: tuple[Caution, ...] = ()

    @property
    def rule(self) -> str:
        """The ID of the rule it comes from."""
        return self.key.partition(".")[0]

    @property
    def is_of_type(self) -> bool:
        """Tell whether it is repeated for every cable type and drum."""
        return "." in self.key and self.bay is None


class Bring(Model):
    """One line of what to bring: a part, a consumable or a tool. ``amount`` is text with its unit."""

    group: Literal["part", "consumable", "tool"]
    name: Message
    part: str | None = None
    amount: str = ""
