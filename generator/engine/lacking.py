"""What records lack: entries that the steps of a transit's work ask for, of steps that were ticked without them.

A tick says that a step was done, not what was found. So a ticked step whose lines nobody filled in stays open, and so
does one that was passed over. What one device lacks another may have. Where a list of its own has an entry (bolts,
counts, gaps, diameters, tests), it stands there; under its step's line it counts too. Not asked for: photos where a
step has no line for one, the name of who ticked where nothing is judged, tags that are not on the list where there
are none.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from generator.model.asbuilt import Deviation
from generator.model.asked import Asked, asked, form_of
from generator.model.job import Cable
from generator.model.layout import Layout, Placement
from generator.model.pack import TransitPack
from generator.model.procedure import Message, Step
from generator.model.record import Measured, Record, StepEntry, girth_of

Said = tuple[Record, TransitPack]
"""A record, and the work it was made against."""


def _(text: str) -> str:
    return text


_NAMES = {
    "hold": _("name of who released it"),
    "witness": _("name of who witnessed it"),
    "review": _("name of who looked"),
}
"""What a point that somebody answers for lacks without a name, by its kind."""


@dataclass
class _Entries:
    """Everything that records have, by what a line of a step asks for."""

    ticked: dict[str, list[tuple[StepEntry, str]]] = field(default_factory=dict)
    """By a step's key: its entries that say it was done, each with the name of who did it ('' for nobody)."""
    begun: dict[str, list[StepEntry]] = field(default_factory=dict)
    values: set[tuple[str, int]] = field(default_factory=set)
    counts: set[tuple[int, str]] = field(default_factory=set)
    bolts: set[tuple[str, int, int, bool, str]] = field(default_factory=set)
    photos: set[tuple[str, str]] = field(default_factory=set)
    rows: set[tuple[int, int]] = field(default_factory=set)
    measured: list[Measured] = field(default_factory=list)
    tests: int = 0
    figureless: list[str] = field(default_factory=list)
    """Kinds of tests without figures."""
    not_pulled: set[str] = field(default_factory=set)
    moved: dict[str, str | None] = field(default_factory=dict)
    """Places that are not as planned, with the cable that lies there."""


def lacking(pack: TransitPack, records: Sequence[Said], is_closed: bool) -> Iterator[Deviation]:
    """Yield what ``records`` of a transit lack of what the steps of ``pack`` ask for, in the order of the work.

    Steps without any entry are told together: those before the last one that was ticked, all where it
    ``is_closed``. A reason on a step answers for all it lacks.
    """
    entries = _gather(pack, records)
    last = max((step.number for step in pack.steps if step.key in entries.ticked), default=0)
    passed = [step for step in pack.steps if step.key not in entries.begun and (is_closed or step.number < last)]
    if passed:
        text = _("No entry at step {numbers}") if len(passed) == 1 else _("No entry at steps {numbers}")
        yield Deviation(
            says=_say(text, numbers=_runs([step.number for step in passed])),
            of=tuple(step.title for step in passed) if len(passed) <= 5 else (),
        )
    tags = _tags_by_step(pack)
    workers = _workers(pack, entries)
    found = list(_tests(pack, entries))
    for step in pack.steps:
        if step.key in entries.ticked:
            found += _of_step(step, pack, entries, tags, workers)
    yield from sorted(found, key=lambda deviation: deviation.step or len(pack.steps) + 1)


def _gather(pack: TransitPack, records: Sequence[Said]) -> _Entries:
    found = _Entries()
    steps = {step.key: step for step in pack.steps}
    for record, own in records:
        own_steps = steps if own is pack else {step.key: step for step in own.steps}
        for key, entry in record.steps.items():
            found.begun.setdefault(key, []).append(entry)
            if entry.done:
                who = record.people[entry.by].name if entry.by else ""
                found.ticked.setdefault(key, []).append((entry, who))
            for value in entry.values:
                # A line of other work may ask for something else under the same number.
                if _text(own_steps.get(key), value.read) == _text(steps.get(key), value.read):
                    found.values.add((key, value.read))
        for count in record.counts:
            fields = ("rows", "plates", "blocks", "spares", "fillers")
            found.counts |= {(count.bay, name) for name in fields if getattr(count, name) is not None}
        for bolt in record.bolts:
            for name in ("protrusion", "torque_nm"):
                if getattr(bolt, name) is not None:
                    found.bolts.add((bolt.of, bolt.bay, bolt.bolt, bolt.again, name))
        found.photos |= {(photo.step or "", photo.side or "") for photo in record.photos}
        found.rows |= {(row.bay, row.row) for row in record.rows}
        found.measured += record.measured
        found.tests += len(record.tests)
        found.figureless += [test.kind for test in record.tests if not (test.figures or test.note)]
        found.not_pulled |= {cable.tag for cable in record.not_pulled}
        found.moved |= {place.position: place.cable for place in record.places}
    return found


def _text(step: Step | None, number: int) -> str:
    return step.reads[number - 1].text if step and number <= len(step.reads) else ""


def _of_step(
    step: Step, pack: TransitPack, entries: _Entries, tags: dict[str, tuple[str, ...]], workers: set[str]
) -> Iterator[Deviation]:
    missing: list[Message] = []
    form = form_of(step)
    lines = asked(step)
    for number, (read, line) in enumerate(zip(step.reads, lines, strict=True), 1):
        if line.ask == "form" or (line.ask != "photo" and (step.key, number) in entries.values):
            continue
        if not _is_there(step, line, lines, entries):
            missing.append(read)
    if form == "row" and _has_cables(step, pack) and (step.bay, step.row) not in entries.rows:
        missing.append(Message(text=_("gaps of its blocks")))
    missing += _names(step, entries, workers)
    if missing:
        yield _deviation(step, missing, entries)
    if form == "measure":
        yield from _unmeasured(step, pack, entries, tags.get(step.key, ()))


def _is_there(step: Step, line: Asked, lines: Sequence[Asked], entries: _Entries) -> bool:
    set_ = line.values
    if line.ask == "count":
        return (int(set_["bay"]), set_["field"]) in entries.counts
    if line.ask == "bolt":
        bolt = (set_["of"], int(set_["bay"]), int(set_["bolt"]), bool(set_["again"]), set_["field"])
        return bolt in entries.bolts
    if line.ask == "photo":
        return (step.key, set_["side"]) in entries.photos
    if line.ask == "person" and step.kind in ("hold", "witness"):
        # Who releases it is named by the tick: a line that asks for the same name once more is no second one.
        alone = sum(other.ask == "person" for other in lines) == 1
        return alone and any(who for _entry, who in entries.ticked[step.key])
    return False


def _has_cables(step: Step, pack: TransitPack) -> bool:
    if not isinstance(pack.layout, Layout) or step.bay is None:
        return False
    known = {cable.tag for cable in pack.cables if not cable.assumed}
    row = next((row for row in pack.layout.bays[step.bay - 1].rows if row.number == step.row), None)
    return row is not None and any(not known.isdisjoint(placed.cables) for placed in row.placements)


def _names(step: Step, entries: _Entries, workers: set[str]) -> Iterator[Message]:
    if step.kind not in _NAMES:
        return
    names = {who for _entry, who in entries.ticked[step.key] if who}
    if not names:
        yield Message(text=_NAMES[step.kind])
    elif step.kind != "review" and step.party != "crew" and len(workers) == 1 and names == workers:
        (name,) = names
        yield _say(_("name of a second person: {name} did the work too"), name=name)


def _workers(pack: TransitPack, entries: _Entries) -> set[str]:
    """Return who did what the crew does: one person alone can't also release it."""
    return {
        who
        for step in pack.steps
        if step.kind in ("do", "measure") and step.party == "crew"
        for _entry, who in entries.ticked.get(step.key, ())
        if who
    }


# -- diameters, layers and gaps --------------------------------------------------------------------


def _tags_by_step(pack: TransitPack) -> dict[str, tuple[str, ...]]:
    """Return the tags of the cables that each step of measuring is for, by the step's key."""

    def kind(cable: Cable) -> tuple[str, str, str]:
        return (cable.type or cable.tag, cable.drum or "", "" if cable.type else cable.tag)

    known = [cable for cable in pack.cables if not cable.assumed]
    groups: dict[str, tuple[str, ...]] = {}
    for name in dict.fromkeys(map(kind, known)):
        tags = tuple(cable.tag for cable in known if kind(cable) == name)
        groups[", ".join(tags)] = tags
    steps = [(step.key, step.text.values.get("type_cables", "")) for step in pack.steps]
    return {key: groups[listed] for key, listed in steps if listed in groups}


def _unmeasured(step: Step, pack: TransitPack, entries: _Entries, tags: tuple[str, ...]) -> Iterator[Deviation]:
    """Yield what cables of a type lack, those together that lack the same."""
    positions = {tag: p.position for p in _placed(pack) for tag in p.cables}
    left_out = {tag for tag in tags if tag in entries.not_pulled}
    lies = set(entries.moved.values())
    left_out |= {tag for tag in tags if positions.get(tag) in entries.moved and tag not in lies}
    asked_for = [tag for tag in tags if tag not in left_out]
    by_tag = {tag: _measures_missing(tag, step, entries) for tag in asked_for}
    for lines in dict.fromkeys(by_tag.values()):
        those = [tag for tag in asked_for if by_tag[tag] == lines]
        if lines:
            missing = [step.reads[number - 1] for number in lines]
            yield _deviation(step, missing, entries, those if len(those) < len(tags) else ())


def _placed(pack: TransitPack) -> tuple[Placement, ...]:
    return pack.layout.placements if isinstance(pack.layout, Layout) else ()


def _measures_missing(tag: str, step: Step, entries: _Entries) -> tuple[int, ...]:
    """Return the lines of a step of measuring, from 1, that a cable lacks: its readings, layers, gaps."""
    own = [entry for entry in entries.measured if tag in entry.cables]
    readings = sum(len(entry.diameters) for entry in own)
    there = (
        readings >= 2 or any(girth_of(entry) is not None for entry in own),
        any(entry.a is not None and entry.b is not None for entry in own),
        # Of a single cable the smallest gap is the largest.
        any(len(entry.gaps) >= min(2, len(entry.cables)) for entry in own),
    )
    numbered = enumerate(there[: len(step.reads)], 1)
    return tuple(number for number, is_in in numbered if not is_in and (step.key, number) not in entries.values)


# -- tests -----------------------------------------------------------------------------------------


def _tests(pack: TransitPack, entries: _Entries) -> Iterator[Deviation]:
    """Yield what tests lack. A record lists them beside the steps, by kinds in words of its own: they are counted."""
    steps = [step for step in pack.steps if form_of(step) == "test" and step.key in entries.ticked]
    steps = [s for s in steps if any((s.key, number) not in entries.values for number in range(1, len(s.reads) + 1))]
    if len(steps) == 1 and not entries.tests:
        yield _deviation(steps[0], [Message(text=_("result of the test"))], entries)
    elif len(steps) > entries.tests:
        yield Deviation(
            says=_say(
                _("Steps {numbers} ask for a test each, results entered: {count}"),
                numbers=_runs([step.number for step in steps]),
                count=entries.tests,
            ),
            of=tuple(step.title for step in steps),
        )
    for kind in entries.figureless if steps else ():
        yield Deviation(
            says=_say(_("Not entered for the test {kind}"), kind=kind), of=(Message(text=_("pressure and time")),)
        )


# -- words -----------------------------------------------------------------------------------------


def _deviation(step: Step, missing: Sequence[Message], entries: _Entries, cables: Sequence[str] = ()) -> Deviation:
    reasons = [entry.reason for entry in entries.begun[step.key] if entry.reason]
    if cables:
        says = _say(_("Not entered at step {number} for {cables}"), number=step.number, cables=", ".join(cables))
    else:
        says = _say(_("Not entered at step {number}"), number=step.number)
    return Deviation(
        says=says, about=step.title, of=tuple(missing), step=step.number, reason=reasons[0] if reasons else ""
    )


def _runs(numbers: Sequence[int]) -> str:
    """Return numbers in rising order as 3, 5, 12–15."""
    found = []
    for _offset, run in groupby(enumerate(numbers), key=lambda item: item[1] - item[0]):
        same = [number for _place, number in run]
        found.append(str(same[0]) if len(same) == 1 else f"{same[0]}–{same[-1]}")
    return ", ".join(found)


def _say(text: str, **values: object) -> Message:
    return Message(text=text, values={name: str(value) for name, value in values.items()})
