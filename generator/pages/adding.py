"""What a transit's page says of one more cable: where it goes, what comes out, which halves are new."""

from collections.abc import Callable
from dataclasses import dataclass

from generator.model.pack import TransitPack
from generator.model.procedure import Step
from generator.model.reentry import Addition, Reentry, SizeLine
from generator.model.scalars import format_mm
from generator.pages.telling import Told, told_before
from generator.pages.view import SERVICE_CLASSES
from generator.pages.words import Words, _

WHY_NOT = {
    "split seal": _("A split seal takes one cable. Another cable needs another transit."),
    "no layout": _("There is no layout to add a cable to."),
    "another system": _(
        "This transit was closed with parts that the catalogue of the job no longer has, and nothing of another"
        " system goes in: ask the planner."
    ),
    "unknown cables": _(
        "The record names cables that are not on the list: once they are on the cable schedule, this is worked out."
    ),
}


@dataclass(frozen=True)
class AddLine:
    """One block size: text ready to be set, '' for what it does not have.

    ``halves`` are tags of cables with new halves; where all is packed anew their number ``everyone`` says enough.
    """

    size: str
    parts: str
    reads: str
    classes: str
    place: str
    out: str
    halves: tuple[str, ...]
    everyone: int


@dataclass(frozen=True)
class Adding:
    """The section of a page. ``again`` is the first of the page's own steps that are done anew."""

    why_not: str
    lines: tuple[AddLine, ...]
    bores: tuple[str, ...]
    steps: tuple[Step, ...]
    again: int | None
    as_built: bool

    @property
    def cautions(self) -> dict[str, tuple[Told, ...]]:
        """The cautions to read before each step that has any, by its key."""
        return told_before(self.steps)


def adding_of(pack: TransitPack, reentry: Reentry, as_built: bool, words: Words) -> Adding:
    """Make of what was worked out what the template shows."""
    phases = [phase.id for phase in pack.phases]
    packing = phases.index("pack") if "pack" in phases else len(phases)
    again = next((step.number for step in pack.steps if phases.index(step.phase) >= packing), None)
    return Adding(
        words.say(WHY_NOT[reentry.why_not]) if reentry.why_not else "",
        tuple(_line(line, words) for line in reentry.lines),
        reentry.bores,
        reentry.steps,
        again,
        as_built,
    )


def _line(line: SizeLine, words: Words) -> AddLine:
    say = words.say
    plain, bonded, pipe = line.parts
    parts = [part for part in (plain, bonded and say("bonded {part}", part=bonded)) if part]
    if line.classes == ("pipe",):
        parts = [pipe]
    elif "pipe" in line.classes:
        parts.append(say("pipe {part}", part=pipe))
    anew = line.addition is not None and line.addition.way == "repack"
    everyone = {name for name in SERVICE_CLASSES if name != "pipe"} | ({"pipe"} if pipe else set())
    classes = "" if set(line.classes) == everyone else ", ".join(say(SERVICE_CLASSES[one]) for one in line.classes)
    return AddLine(
        size=format_mm(line.size),
        parts=", ".join(parts),
        reads=f"{format_mm(line.least)}–{format_mm(line.most)}",
        classes=classes,
        place=_place(line, say),
        out=_out(line.addition, words) if line.addition else "",
        halves=line.addition.disturbed if line.addition and not anew else (),
        everyone=len(line.addition.disturbed) if line.addition and anew else 0,
    )


def _place(line: SizeLine, say: Callable[..., str]) -> str:
    found = line.addition
    if found is None:
        return say("not known: ask the planner") if line.gave_up else say("no room")
    if found.way == "spare":
        return say("spare {place}", place=found.position)
    if found.way == "filler":
        return say("filler {place}", place=found.position)
    row = found.position.rpartition(".")[0]
    if found.way == "recut":
        return say("row {row} cut anew, new place {place}", row=row, place=found.position)
    return say("all packed anew, new place {place}", place=found.position)


def _out(found: Addition, words: Words) -> str:
    plates = words.say_count("{number} row plate", "{number} row plates", found.plates_out)
    if not found.rows_out:
        return words.say("{plates}, no row", plates=plates) if found.plates_out else words.say("no row")
    rows = words.say_count("row {rows}", "rows {rows}", len(found.rows_out), rows=", ".join(found.rows_out))
    return words.say("{rows}; {plates}", rows=rows, plates=plates) if found.plates_out else rows
