"""The quality plan: who stops the work or looks, what is written down, and what catches each usual defect."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from markupsafe import Markup

from generator.model.asbuilt import AsBuilt, Deviation
from generator.model.facts import meaning_of
from generator.model.pack import TransitPack, WorkPack
from generator.model.procedure import DefectRule, Message, Step, StepKind, StepRule
from generator.pages import addresses
from generator.pages.desk import LISTED, VARIES, merge_messages, sorted_packs
from generator.pages.render import make_environment
from generator.pages.states import built_of
from generator.pages.view import KINDS, PARTIES, STANDING_SENTENCE
from generator.pages.words import Words, _

PROOFS = frozenset({"photos", "plates"})
"""Steps that are done, not judged, and still belong to the plan: what they leave behind is looked for later."""

JUDGED = frozenset({"hold", "witness", "review"})
"""Points whose entry in a record is somebody's word; a measuring point's is its figures, on the transit's page."""

ASKS_WHO = " by"
"""How a line to write down ends that asks for a name, such as "witnessed by"."""

SAYS_DONE = {"hold": _("released"), "witness": _("witnessed"), "review": _("reviewed")}
SAYS_NOT_DONE = {"hold": _("not released"), "witness": _("not witnessed"), "review": _("not reviewed")}
"""What an entry in a record says about a point, by its kind."""

KIND_WORDS: dict[StepKind, str] = {
    "hold": _("The work stops until the party named has released it."),
    "witness": _("The party named is told in time and may be there. The work waits for them as agreed, not longer."),
    "review": _("The party named looks at it, or at its papers. The work goes on."),
    "measure": _("A figure is read, written down and held against its window by whoever does the work."),
}
"""What each kind of point means, the gravest first. Common practice, no source."""


@dataclass(frozen=True)
class Point:
    """One line of a transit's plan: one step, or the same step for every cable type.

    ``number`` is the step's, ``last`` the last one's where there are several, ``key`` the first one's in records.
    ``reads`` is what is written down, each with its window; "…" stands where types differ.
    """

    number: int
    last: int
    key: str
    kind: StepKind
    party: str
    title: Message
    reads: tuple[Message, ...]

    @property
    def many(self) -> int:
        """How many cable types it is done for; 1 where it is done once."""
        return self.last - self.number + 1


@dataclass(frozen=True)
class Release:
    """What one collected record says about a hold, witness or review point. All text is what was typed.

    ``done`` is no where it was left out with a ``reason``. ``by`` is who released it, saw it or looked, ``named``
    what a line that asks for a name has. ``revision`` is that of other work which it was recorded against, else None.
    """

    done: bool
    by: str
    role: str
    at: str
    named: tuple[tuple[Message, str], ...]
    reason: str
    note: str
    revision: str | None


@dataclass(frozen=True)
class JobPoint:
    """One point as it reads for the whole job: where it applies, and on which condition."""

    rule: StepRule
    title: Message
    transits: tuple[str, ...]


@dataclass(frozen=True)
class CatchingStep:
    """A step that catches a defect: ``at`` has (transit, number) of its first place, ``transits`` how many have it.

    ``title`` is that of the rule where no transit of the job has it.
    """

    title: Message
    at: tuple[str, int] | None
    transits: int


@dataclass(frozen=True)
class Defect:
    """A defect with the steps that catch it in this job."""

    rule: DefectRule
    steps: tuple[CatchingStep, ...]


def belongs(step: Step) -> bool:
    """Tell whether a step is a point of the quality plan: it is not only done, or it leaves a proof behind."""
    return step.kind != "do" or step.rule in PROOFS


def points_of(pack: TransitPack) -> tuple[Point, ...]:
    """Return the plan of one transit in the order of the work; none where it can't be built."""
    if not pack.can_be_built:
        return ()
    return tuple(_points([step for step in pack.steps if belongs(step)]))


def _points(steps: Sequence[Step]) -> Iterator[Point]:
    def run(step: Step) -> str:
        return f"types of {step.phase}" if step.is_of_type and step.kind == "measure" else step.key

    for _run, group in groupby(steps, key=run):
        same = list(group)
        first = same[0]
        yield Point(
            number=first.number,
            last=same[-1].number,
            key=first.key,
            kind=first.kind,
            party=first.party,
            title=first.title,
            reads=tuple(_merged(read for step in same for read in step.reads)),
        )


def _merged(messages: Iterable[Message]) -> Iterator[Message]:
    by_text: dict[str, list[Message]] = {}
    for message in messages:
        # What is written down for each bolt has the same words, and stays as many lines as there are bolts.
        bolt = message.values.get("closing_bolt") or message.values.get("holding_bolt") or ""
        by_text.setdefault(f"{message.text}\0{bolt}", []).append(message)
    yield from (merge_messages(same) for same in by_text.values())


def releases_of(point: Point, pack: TransitPack, built: AsBuilt) -> tuple[Release, ...]:
    """Return what every record (its last export) says about a point that somebody releases, sees or looks at.

    Records of this very work come first.
    An entry that is neither done nor has a reason releases nothing and is left out: the phone makes one as soon
    as a figure is written down.
    """
    if point.kind not in JUDGED:
        return ()
    reads = next((step.reads for step in pack.steps if step.key == point.key), ())
    found = []
    for sheet in built.sheets:
        record = sheet.kept.record
        entry = record.steps.get(point.key) if record else None
        if record is None or entry is None or not (entry.done or entry.reason):
            continue
        who = record.people.get(entry.by or "")
        asked = [(reads[value.read - 1], value.value) for value in entry.values if value.read <= len(reads)]
        found.append(
            Release(
                done=entry.done,
                by=who.name if who else "",
                role=(who.role if who else None) or "",
                at=entry.at or "",
                # A line of other work may ask for something else under the same number.
                named=tuple(item for item in asked if sheet.current and item[0].text.endswith(ASKS_WHO)),
                reason=entry.reason or "",
                note=entry.note or "",
                revision=None if sheet.current else record.revision or "–",
            )
        )
    return tuple(sorted(found, key=lambda release: release.revision is not None))


def missing_at(point: Point, built: AsBuilt) -> tuple[Deviation, ...]:
    """Return what records of this very work lack at a point that they say is done, explained or not."""
    if not built.judged_now:
        return ()
    return tuple(item for item in built.deviations if item.step and point.number <= item.step <= point.last)


def count_released(pack: TransitPack, built: AsBuilt) -> int:
    """Return how many hold points are released: some record of this very work says so, and none that it was not."""
    said = [
        [release.done for release in releases_of(point, pack, built) if release.revision is None]
        for point in points_of(pack)
        if point.kind == "hold"
    ]
    return sum(bool(words) and all(words) for words in said)


def job_points(work: WorkPack) -> tuple[JobPoint, ...]:
    """Return every point that any transit of the job has, in the order of the work."""
    found: dict[str, dict[str, Message]] = {}
    for pack in sorted_packs(work):
        for step in pack.steps if pack.can_be_built else ():
            if belongs(step):
                found.setdefault(step.rule, {}).setdefault(pack.id, step.title)
    return tuple(
        JobPoint(rule, merge_messages(list(found[rule.id].values())), tuple(found[rule.id]))
        for rule in work.procedure.steps
        if rule.id in found
    )


def list_defects(work: WorkPack) -> tuple[Defect, ...]:
    """Return every usual defect with the steps of this job that catch it, each with its first place.

    Where no transit of the job has any of them (nothing can be built yet) they are named without a place.
    """
    titles = {rule.id: rule.title for rule in work.procedure.steps}
    wanted = {step for rule in work.procedure.defects for step in rule.steps}
    found: dict[str, dict[str, Step]] = {}
    for pack in sorted_packs(work):
        for step in pack.steps if pack.can_be_built else ():
            if step.rule in wanted:
                found.setdefault(step.rule, {}).setdefault(pack.id, step)

    def catching(step_id: str) -> CatchingStep:
        here = found.get(step_id, {})
        if not here:
            return CatchingStep(_without_figures(titles[step_id]), None, 0)
        transit, first = next(iter(here.items()))
        return CatchingStep(
            merge_messages([step.title for step in here.values()]), (transit, first.number), len(here)
        )

    def caught(rule: DefectRule) -> tuple[CatchingStep, ...]:
        every = [catching(step) for step in rule.steps if step in titles]
        return tuple(step for step in every if step.at) or tuple(every)

    return tuple(Defect(rule, caught(rule)) for rule in work.procedure.defects)


def _without_figures(text: str) -> Message:
    return Message(text=text, values=dict.fromkeys(re.findall(r"\{([a-z0-9_]+)\}", text), VARIES))


class Quality:
    """The quality plan's pages: one for the job, one with a section a transit for every wall. All escaped."""

    def __init__(self, work: WorkPack, words: Words) -> None:
        self.work = work
        self.words = words
        self._environment = make_environment("desk", words)
        self._environment.filters["meaning"] = self._meaning
        self._environment.globals.update(
            say=words.say,
            say_count=words.say_count,
            tell=words.tell,
            addresses=addresses,
            standing=STANDING_SENTENCE,
            kinds=KINDS,
            parties=PARTIES,
        )

    def job(self) -> Markup:
        """Return the job's page: what the kinds mean, the walls' plans, every point, the usual defects."""
        return self._render(
            "quality.html",
            addresses.QUALITY,
            kind_words=KIND_WORDS,
            recorded=any(built.sheets for built in self.work.as_built.values()),
            walls=[(wall_id, self._counts(wall_id)) for wall_id in sorted(self.work.definition.walls)],
            points=job_points(self.work),
            defects=list_defects(self.work),
            built=sum(pack.can_be_built for pack in self.work.transits.values()),
            listed=LISTED,
            by_wall=self._count_by_wall,
        )

    def wall(self, wall_id: str) -> Markup:
        """Return the plan of a wall, a section for each transit. KeyError if unknown."""
        packs = self.work.on_wall(wall_id)
        return self._render(
            "quality-wall.html",
            addresses.quality_page(wall_id),
            wall_id=wall_id,
            wall=self.work.definition.walls[wall_id],
            recorded=any(built_of(self.work, pack.id).sheets for pack in packs),
            plans=[(pack, self._with_releases(pack)) for pack in packs],
            says=(SAYS_NOT_DONE, SAYS_DONE),
        )

    def _with_releases(self, pack: TransitPack) -> list[tuple[Point, tuple[Release, ...], tuple[Deviation, ...]]]:
        built = built_of(self.work, pack.id)
        return [(point, releases_of(point, pack, built), missing_at(point, built)) for point in points_of(pack)]

    def _counts(self, wall_id: str) -> Counter[str]:
        packs = self.work.on_wall(wall_id)
        counts: Counter[str] = Counter(point.kind for pack in packs for point in points_of(pack))
        counts["transits"] = len(packs)
        counts["released"] = sum(count_released(pack, built_of(self.work, pack.id)) for pack in packs)
        return counts

    def _count_by_wall(self, transits: Iterable[str]) -> list[tuple[str, int]]:
        return sorted(Counter(self.work.transits[transit_id].wall_id for transit_id in transits).items())

    def _meaning(self, fact: str) -> str:
        meaning = meaning_of(fact)
        return self.words.say(meaning) if meaning else fact

    def _render(self, template: str, here: str, **values: Any) -> Markup:
        def link(there: str) -> str:
            return addresses.link(here, there)

        text = self._environment.get_template(template).render(
            work=self.work, job=self.work.definition.job, link=link, **values
        )
        return Markup(text)  # from an escaping environment
