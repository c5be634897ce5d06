"""As built: a transit's records held against the work they were made against, and what they come to.

Of one device's record the last export counts. Records of several devices stand side by side: where they
disagree the difference is a deviation, and nobody's value is dropped. A value is judged by the window of the
revision it was recorded against, never by a later one.
"""

import re
from collections.abc import Iterator, Mapping, Sequence, Set
from decimal import Decimal, InvalidOperation

from generator.engine.fit import PI_BETWEEN
from generator.engine.lacking import lacking
from generator.engine.rebuilt import rebuild
from generator.model.asbuilt import AsBuilt, Deviation, Group, Line, Sheet, State, Verdict
from generator.model.catalogue import Tightening
from generator.model.layout import AnyLayout, DiameterTable, Fit, Layout
from generator.model.pack import TransitPack
from generator.model.procedure import Message, Step
from generator.model.record import BoltRead, Entered, KeptRecord, Measured, Record, girth_of
from generator.model.scalars import Window, format_mm
from generator.model.windows import window_of

MILESTONES: tuple[tuple[State, tuple[str, ...]], ...] = (
    ("cut", ("opening",)),
    ("packed", ("pack",)),
    ("closed", ("close", "again")),
)
"""The phases whose steps must all be done for a state."""

_TENTH = Decimal("0.1")


def _(text: str) -> str:
    return text


def as_built(current: TransitPack, revisions: Mapping[str, TransitPack], kept: Sequence[KeptRecord]) -> AsBuilt:
    """Return what ``kept`` come to, for a transit whose work is ``current``.

    ``revisions`` has the pack of every revision that was issued. Lengths in mm.
    """
    base: State = "issued" if current.revision else "planned"
    if not kept:
        return AsBuilt(state=base)
    heads, older, twice = _last_exports(kept)
    newer = tuple(record for record in kept if record.record is None)
    records = [head.record for head in heads if head.record is not None]
    done = {key for record in records for key, step in record.steps.items() if step.done}
    sheets, deviations, judged = [], list(twice), []
    for head in heads:
        assert head.record is not None
        pack = _judge(head.record, current, revisions)
        if pack is not None:
            judged.append((head.record, pack))
        teller = _Teller(head.record, pack, done)
        is_current = head.record.work == current.digest
        groups = tuple(teller.groups())
        if pack is None or not is_current:
            deviations.append(_other_work(head.record, current, pack))
        deviations += teller.deviations
        judged_by = (head.record.revision or "") if pack is not None else ""
        sheets.append(Sheet(kept=head, judged_by=judged_by, current=is_current, groups=groups))
    deviations += _disagreements(records)
    judge = _latest([pack for _record, pack in judged], current, revisions)
    state = _state(judge, done)
    # What was made against work that nobody has can't be judged, nor what it lacks: that it is so is open anyway.
    deviations += lacking(judge, judged, state == "closed") if judged else ()
    if state == "closed" and not any(deviation.open for deviation in deviations):
        state = "recorded"
    on, by = _closed(records)
    built, changed = _built(judge, records)
    return AsBuilt(
        state=base if state == "planned" else state,
        sheets=tuple(sheets),
        older=older,
        newer=newer,
        deviations=tuple(deviations),
        closed_on=on if state in ("closed", "recorded") else "",
        closed_by=by if state in ("closed", "recorded") else "",
        layout=built,
        judged_by=judge.revision or next((r for r, p in revisions.items() if p.digest == judge.digest), ""),
        judged_now=judge.digest == current.digest,
        side_changed=changed,
        photos={photo.digest: head.file for head in heads if head.record for photo in head.record.photos},
    )


def conflicts(kept: Sequence[KeptRecord]) -> tuple[Message, ...]:
    """Return where records of one transit contradict each other, in words."""
    heads, _older, twice = _last_exports(kept)
    records = [head.record for head in heads if head.record is not None]
    return tuple(deviation.says for deviation in (*twice, *_disagreements(records)))


# -- which records ---------------------------------------------------------------------------------


def _last_exports(
    kept: Sequence[KeptRecord],
) -> tuple[tuple[KeptRecord, ...], tuple[KeptRecord, ...], list[Deviation]]:
    by_record: dict[str, list[KeptRecord]] = {}
    for item in sorted(kept, key=lambda item: item.digest):
        if item.record is not None:
            by_record.setdefault(item.record.record, []).append(item)
    heads: list[KeptRecord] = []
    older: list[KeptRecord] = []
    twice = []
    for name in sorted(by_record):
        items = by_record[name]
        last = max(item.record.export for item in items if item.record)
        of_last = [item for item in items if item.record and item.record.export == last]
        heads += of_last
        older += [item for item in items if item not in of_last]
        if len(of_last) > 1:
            says = _say(
                _("Export {number} of one record is there with {count} contents: ask who handed them in"),
                number=last,
                count=len(of_last),
            )
            twice.append(Deviation(says=says))
    return tuple(heads), tuple(older), twice


def _judge(record: Record, current: TransitPack, revisions: Mapping[str, TransitPack]) -> TransitPack | None:
    """Return the pack that a record was made against, None where nobody has it."""
    if record.work == current.digest:
        return current
    issued = revisions.get(record.revision or "")
    if issued is not None and issued.digest == record.work:
        return issued
    return next((pack for pack in revisions.values() if pack.digest == record.work), None)


def _latest(packs: Sequence[TransitPack], current: TransitPack, revisions: Mapping[str, TransitPack]) -> TransitPack:
    """Return the latest work that anything was recorded against; what holds now where nobody has that work."""
    digests = {pack.digest for pack in packs}
    found = (pack for pack in (current, *reversed(tuple(revisions.values()))) if pack.digest in digests)
    return next(found, current)


def _other_work(record: Record, current: TransitPack, pack: TransitPack | None) -> Deviation:
    was = record.revision or "–"
    if pack is None:
        says = _say(_("Recorded against revision {old}, whose work is not known here: not judged"), old=was)
    else:
        says = _say(_("Recorded against revision {old}; the work is now {new}"), old=was, new=current.revision or "–")
    return Deviation(says=says)


def _disagreements(records: Sequence[Record]) -> Iterator[Deviation]:
    said: dict[tuple[str, str], dict[str, list[str]]] = {}
    for record in records:
        for place, value in _facts(record):
            said.setdefault(place, {}).setdefault(value, []).append(_names(record))
    for (where, which), values in said.items():
        if len(values) > 1:
            text = "; ".join(f"{value} ({', '.join(dict.fromkeys(who))})" for value, who in values.items())
            yield Deviation(says=_say(_("Two records disagree on {what}: {values}"), what=f"{where} {which}".strip(),
                                      values=text))  # fmt: skip


def _names(record: Record) -> str:
    return ", ".join(person.name for person in record.people.values()) or record.record[:8]


def _facts(record: Record) -> Iterator[tuple[tuple[str, str], str]]:
    for key, step in record.steps.items():
        for value in step.values:
            yield (key, str(value.read)), _number_text(value.value)
    for bolt in record.bolts:
        for name in ("protrusion", "torque_nm"):
            read = getattr(bolt, name)
            if read is not None:
                yield (
                    (f"{bolt.of} {name}{' again' if bolt.again else ''}", f"{bolt.bay}.{bolt.bolt}"),
                    format_mm(read),
                )
    for measured in record.measured:
        for tag in measured.cables:
            if measured.a is not None and measured.b is not None:
                yield ("peel", tag), f"A {measured.a} B {measured.b}"
    for place in record.places:
        yield ("place", place.position), f"{place.role} {place.part or ''} {place.cable or ''}".strip()


def _number_text(value: str) -> str:
    number = _number(value)
    return value if number is None else format_mm(number)


# -- how far it is ---------------------------------------------------------------------------------


def _state(pack: TransitPack, done: Set[str]) -> State:
    """Return the furthest state whose phases are done."""
    reached: State = "planned"
    for state, phases in MILESTONES:
        steps = [step.key for step in pack.steps if step.phase in phases]
        if steps and all(key in done for key in steps):
            reached = state
    return reached


def _closed(records: Sequence[Record]) -> tuple[str, str]:
    """Return when and by whom it was closed: of the last entry for a step that says so."""
    entries = [
        (step.at or "", record.people[step.by].name if step.by else "")
        for record in records
        for key, step in record.steps.items()
        if step.done and key.split(".")[0] in ("closed", "register", "push-home")
    ]
    at, by = max(entries, default=("", ""))
    return at[:10], by


def _built(pack: TransitPack, records: Sequence[Record]) -> tuple[AnyLayout | None, bool]:
    """Return the layout as it was built, where something was changed that can be drawn."""
    places = {place.position: place for record in records for place in record.places}
    side = next((r.working_side.side for r in records if r.working_side), None)
    changed = side is not None and side != pack.transit.working_side and side in pack.wall.sides
    layout = pack.layout
    if isinstance(layout, Layout) and places:
        return rebuild(layout, places, pack), changed
    return (layout if changed and not places else None), changed


# -- windows ---------------------------------------------------------------------------------------


def _number(text: str) -> Decimal | None:
    found = re.match(r"-?[0-9]{1,6}(?:\.[0-9]{1,6})?(?![0-9.,])", text.strip(), re.ASCII)
    try:
        return Decimal(found[0]) if found else None
    except InvalidOperation:
        return None


def _verdict(value: Decimal | None, window: tuple[Decimal | None, Decimal | None] | None) -> Verdict:
    if value is None or window is None:
        return ""
    least, most = window
    return "within" if (least is None or value >= least) and (most is None or value <= most) else "outside"


def _window_text(window: tuple[Decimal | None, Decimal | None] | None) -> str:
    if window is None:
        return ""
    least, most = window
    if least is None:
        return f"≤ {format_mm(most or Decimal(0))}"
    return f"{format_mm(least)}–{format_mm(most or least)}" if most != least else format_mm(least)


# -- one record in lines ---------------------------------------------------------------------------


class _Teller:
    """Tells one record line by line, each value against its window, and notes what is not as planned."""

    def __init__(self, record: Record, pack: TransitPack | None, done: Set[str]) -> None:
        self.record = record
        self.pack = pack
        self.done = done
        """Keys of the steps that some record of the transit says are done."""
        self.steps = {step.key: step for step in pack.steps} if pack else {}
        self.deviations: list[Deviation] = []

    def groups(self) -> Iterator[Group]:
        record = self.record
        parts = (
            (_("Record"), self._head()),
            (_("Working side"), self._side()),
            (_("Layout as built"), self._places()),
            (_("Cables"), self._cables()),
            (_("Diameters and layers"), self._measured()),
            (_("Gaps"), self._rows()),
            (_("Counts before closing"), self._counts()),
            (_("Bolts"), self._bolts()),
            (_("Tests"), self._tests()),
            (_("Steps"), self._steps()),
            (_("Photos"), self._photos()),
        )
        for title, lines in parts:
            told = tuple(lines)
            if told:
                yield Group(title=Message(text=title), lines=told)
        if record.note:
            yield Group(title=Message(text=_("Note")), lines=(Line(what=_given(record.note)),))

    def _head(self) -> Iterator[Line]:
        record = self.record
        yield Line(what=_say(_("Revision")), value=_given(record.revision or "–"))
        yield Line(what=_say(_("Work digest")), value=_given(record.work))
        yield Line(what=_say(_("Number of this record")), value=_given(record.record))
        yield Line(what=_say(_("Device")), value=_given(record.device.name or "–"), at=record.device.clock,
                   note=record.device.zone or "")  # fmt: skip
        yield Line(what=_say(_("Export")), value=_given(str(record.export)), note=record.made_by)
        for person in record.people.values():
            yield Line(what=_given(person.role or "–"), value=_given(person.name))

    def _side(self) -> Iterator[Line]:
        side = self.record.working_side
        if side:
            planned = self.pack.transit.working_side if self.pack else ""
            yield self._line(side, _say(_("Working side")), _given(side.side), window=planned)
            self._deviate(side, _say(_("The working side was {side}"), side=side.side))

    def _places(self) -> Iterator[Line]:
        planned = {}
        if self.pack and isinstance(self.pack.layout, Layout):
            planned = {p.position: p for p in self.pack.layout.placements}
        for place in self.record.places:
            old = planned.get(place.position)
            was = " ".join(filter(None, (", ".join(old.cables) or old.role, old.part))) if old else ""
            peel = f"A {place.a if place.a is not None else '–'} B {place.b if place.b is not None else '–'}"
            lies = [place.cable or place.role, place.part, peel if (place.a, place.b) != (None, None) else None]
            now = " ".join(filter(None, lies))
            yield self._line(place, _say(_("Place {place}"), place=place.position), _given(now), window=was)
            self._deviate(
                place, _say(_("Place {place} holds {now}, planned was {old}"), place=place.position, now=now, old=was)
            )

    def _cables(self) -> Iterator[Line]:
        for cable in self.record.unlisted:
            size = f"Ø {format_mm(cable.diameter)} mm" if cable.diameter is not None else ""
            value = " ".join(filter(None, (cable.tag, size, cable.position)))
            yield self._line(cable, _say(_("Not on the list")), _given(value))
            self._deviate(cable, _say(_("{cable} passes and is not on the list"), cable=cable.tag))
        for missing in self.record.not_pulled:
            yield self._line(missing, _say(_("Listed, not pulled")), _given(missing.tag))
            self._deviate(missing, _say(_("{cable} is listed and was not pulled"), cable=missing.tag))

    def _measured(self) -> Iterator[Line]:
        for entry in self.record.measured:
            tags = ", ".join(entry.cables)
            kind = " · ".join(filter(None, (entry.type, entry.drum)))
            label = f"{tags} ({kind})" if kind else tags
            table, fit = self._table(entry)
            if entry.diameters:
                read = ", ".join(format_mm(value) for value in entry.diameters)
                planned, verdict = self._planned_diameter(entry)
                what = _say(_("{cables}: diameter, mm"), cables=label)
                yield self._line(entry, what, _given(read), _window_text(planned), verdict)
                if verdict == "outside":
                    says = _("{cables} measured {read} mm, the schedule says {old}")
                    self._deviate(entry, _say(says, cables=tags, read=read, old=_window_text(planned)))
                rule = self._not_round(entry)
                if rule is not None and max(entry.diameters) - min(entry.diameters) > rule:
                    self._deviate(entry, _say(_("{cables} is not round enough: {read} mm"), cables=tags, read=read))
            if (girth := girth_of(entry)) is not None:
                read = format_mm(girth)
                planned, verdict = self._planned_girth(entry, girth)
                what = _say(_("{cables}: girth by tape, mm"), cables=label)
                yield self._line(entry, what, _given(read), _window_text(planned), verdict)
                if verdict == "outside":
                    says = _("{cables} measured {read} mm round, the schedule's diameters come to {old}")
                    self._deviate(entry, _say(says, cables=tags, read=read, old=_window_text(planned)))
            if entry.a is not None or entry.b is not None:
                peel = f"A {entry.a if entry.a is not None else '–'} B {entry.b if entry.b is not None else '–'}"
                answers = self._answers(table, entry)
                asked = " / ".join(answers)
                yield self._line(
                    entry,
                    _say(_("{cables}: layers peeled in {part}"), cables=label, part=entry.part or "–"),
                    _given(peel),
                    window=asked,
                    verdict="" if not answers else "within" if peel in answers else "outside",
                )
                if answers and peel not in answers:
                    self._deviate(
                        entry,
                        _say(_("{cables}: peeled {now}, the table says {old}"), cables=tags, now=peel, old=asked),
                    )
            elif entry.part:
                yield self._line(entry, _say(_("{cables}: block"), cables=label), _given(entry.part))
            parts = self._planned_parts(entry)
            if entry.part and parts and entry.part not in parts:
                says = _("{cables} went into {now}, planned was {old}")
                self._deviate(entry, _say(says, cables=tags, now=entry.part, old=", ".join(parts)))
            window = (fit.window.least, fit.window.most) if fit else None
            for gap in entry.gaps:
                yield self._value(entry, _say(_("{cables}: gap, mm"), cables=label), gap, window, tags)
            read_nothing = not entry.diameters and girth is None
            if read_nothing and entry.a is None and entry.b is None and not entry.part and not entry.gaps:
                yield self._line(entry, _given(label), None)

    def _rows(self) -> Iterator[Line]:
        windows: dict[str, Window] = {}
        if self.pack and isinstance(self.pack.layout, Layout):
            windows = {p.position: p.fit.window for p in self.pack.layout.placements if p.fit}
        for row in self.record.rows:
            what = _say(_("Bay {bay}, row {row}: gaps within their windows"), bay=row.bay, row=row.row)
            yield self._line(row, what, Message(text=_("yes") if row.within else _("no")))
            if not row.within:
                self._deviate(row, _say(_("Bay {bay}, row {row}: gaps are not within"), bay=row.bay, row=row.row))
            for gap in row.exceptions:
                place = _say(_("Place {place}: gap, mm"), place=gap.position)
                window = windows.get(gap.position)
                shown = _given(format_mm(gap.gap)) if gap.gap is not None else Message(text=_("not within"))
                limits = (window.least, window.most) if window else None
                yield self._line(gap, place, shown, _window_text(limits), _verdict(gap.gap, limits))
                told = format_mm(gap.gap) if gap.gap is not None else "–"
                self._deviate(gap, _say(_("Place {place}: the gap is {gap} mm"), place=gap.position, gap=told))

    def _counts(self) -> Iterator[Line]:
        words = {
            "rows": _("Bay {bay}: rows"),
            "plates": _("Bay {bay}: row plates"),
            "blocks": _("Bay {bay}: blocks in two halves, spares included"),
            "spares": _("Bay {bay}: spares, plug in"),
            "fillers": _("Bay {bay}: fillers"),
        }
        for count in self.record.counts:
            planned = self._planned(count.bay)
            for name, text in words.items():
                value = getattr(count, name)
                if value is None:
                    continue
                asked = planned.get(name)
                limits = (Decimal(asked), Decimal(asked)) if asked is not None else None
                yield self._value(count, _say(text, bay=count.bay), Decimal(value), limits, "")

    def _planned(self, bay: int) -> dict[str, int]:
        layout = self.pack.layout if self.pack else None
        if not isinstance(layout, Layout) or bay > len(layout.bays):
            return {}
        laid = layout.bays[bay - 1]
        roles = [placement.role for placement in laid.placements]
        return {
            "rows": len(laid.rows),
            "plates": len(laid.plates),
            "blocks": len(roles) - roles.count("filler"),
            "spares": roles.count("spare"),
            "fillers": roles.count("filler"),
        }

    def _bolts(self) -> Iterator[Line]:
        for bolt in self.record.bolts:
            how = self._tightening(bolt)
            name = f"{bolt.bay}.{bolt.bolt}"
            if bolt.protrusion is not None:
                text = (
                    _("Bolt {bolt}, second reading: thread past the nut, mm")
                    if bolt.again
                    else _("Bolt {bolt}: thread past the nut, mm")
                )
                window = (how.protrusion.least, how.protrusion.most) if how and how.protrusion else None
                yield self._value(bolt, _say(text, bolt=name), bolt.protrusion, window, "")
            if bolt.torque_nm is not None:
                text = _("Bolt {bolt}, second reading: torque, N·m") if bolt.again else _("Bolt {bolt}: torque, N·m")
                asked = (how.torque_nm, how.torque_nm) if how and how.torque_nm is not None else None
                yield self._value(bolt, _say(text, bolt=name), bolt.torque_nm, asked, "")
            if bolt.protrusion is None and bolt.torque_nm is None:
                yield self._line(bolt, _say(_("Bolt {bolt}"), bolt=name), None)

    def _tightening(self, bolt: BoltRead) -> Tightening | None:
        if self.pack is None:
            return None
        catalogue, transit = self.pack.catalogue, self.pack.transit
        body = catalogue.frames.get(transit.frame or "") or catalogue.split_seals.get(transit.split_seal or "")
        fixing = body.fixings.get(transit.fixing) if body else None
        frame = catalogue.frames.get(transit.frame or "")
        if bolt.of == "closing" and frame:
            if bolt.bay > len(frame.bays):
                return None
            unit = catalogue.clamping_units.get(frame.bays[bolt.bay - 1].clamping_unit)
            return unit.tightening if unit else None
        sleeve = catalogue.sleeves.get(fixing.sleeve or "") if fixing else None
        return sleeve.tightening if sleeve else fixing.tightening if fixing else None

    def _tests(self) -> Iterator[Line]:
        words = {"held": _("held"), "leaked": _("leaked"), "stopped": _("stopped before its end")}
        for test in self.record.tests:
            seen = self.record.people[test.witness].name if test.witness else ""
            what = _say(_("Test: {kind}"), kind=test.kind)
            if seen:
                what = _say(_("Test: {kind}, witnessed by {name}"), kind=test.kind, name=seen)
            line = self._line(test, what, Message(text=words[test.result]), window=test.figures or "")
            yield line
            if test.result != "held":
                self._deviate(test, _say(_("The test {kind} was not held"), kind=test.kind))

    def _steps(self) -> Iterator[Line]:
        order = {key: place for place, key in enumerate(self.steps)}
        for key, entry in sorted(self.record.steps.items(), key=lambda item: (order.get(item[0], 10**6), item[0])):
            step = self.steps.get(key)
            title = step.title if step else _given(key)
            number = step.number if step else None
            yield self._line(
                entry, title, Message(text=_("done") if entry.done else _("not done")), step=number, key=key
            )
            if not entry.done and (entry.reason or key not in self.done):
                self._deviate(entry, _say(_("Not done: {step}"), step=str(title)))
            for value in entry.values:
                read = _read_of(step, value.read)
                window = window_of(read) if read else None
                number_read = _number(value.value)
                verdict = _verdict(number_read, window)
                what = read or _say(_("line {number}"), number=value.read)
                yield self._line(value, what, _given(value.value), _window_text(window), verdict, step=number)
                if verdict == "outside":
                    self._deviate(
                        value, _say(_("{what} — read {value}"), what=str(what), value=value.value), entry.reason or ""
                    )

    def _photos(self) -> Iterator[Line]:
        sides = {"working": _("photo from the working side"), "far": _("photo from the far side"), None: _("photo")}
        for photo in self.record.photos:
            step = self.steps.get(photo.step or "")
            line = self._line(photo, Message(text=sides[photo.side]), step.title if step else None)
            yield line.model_copy(update={"photos": (photo.digest,), "step": step.number if step else None})

    # -- parts of a line

    def _line(
        self,
        entered: Entered,
        what: Message,
        value: Message | None,
        window: str = "",
        verdict: Verdict = "",
        step: int | None = None,
        key: str = "",
    ) -> Line:
        photos = tuple(photo.digest for photo in self.record.photos if key and photo.step == key)
        return Line(
            what=what,
            value=value,
            window=window,
            verdict=verdict,
            by=self._who(entered),
            at=entered.at or "",
            reason=entered.reason or "",
            note=entered.note or "",
            step=step,
            photos=photos,
        )

    def _value(
        self,
        entered: Entered,
        what: Message,
        value: Decimal,
        window: tuple[Decimal | None, Decimal | None] | None,
        about: str,
    ) -> Line:
        verdict = _verdict(value, window)
        if verdict == "outside":
            says = _say(
                _("{what}: {value}, to be {window}"),
                what=str(what),
                value=format_mm(value),
                window=_window_text(window),
            )
            self._deviate(entered, says)
        return self._line(entered, what, _given(format_mm(value)), _window_text(window), verdict)

    def _who(self, entered: Entered) -> str:
        return self.record.people[entered.by].name if entered.by else ""

    def _deviate(self, entered: Entered, says: Message, reason: str = "") -> None:
        self.deviations.append(
            Deviation(says=says, reason=entered.reason or reason, by=self._who(entered), at=entered.at or "")
        )

    def _table(self, entry: Measured) -> tuple[DiameterTable | None, Fit | None]:
        if self.pack is None:
            return None, None
        fits = [fit for tag in entry.cables if isinstance(fit := self.pack.fits.get(tag), Fit)]
        part = entry.part or (fits[0].part if fits else "")
        table = next((table for table in self.pack.tables if table.part == part), None)
        return table, next((fit for fit in fits if fit.part == part), None)

    def _planned_parts(self, entry: Measured) -> list[str]:
        fits = [self.pack.fits.get(tag) for tag in entry.cables] if self.pack else []
        return sorted({fit.part for fit in fits if isinstance(fit, Fit)})

    def _planned_diameter(self, entry: Measured) -> tuple[tuple[Decimal, Decimal] | None, Verdict]:
        """Return the range the schedule gives these cables, and whether the mean reading may lie in it."""
        planned = self._planned_range(entry)
        if not self.pack or not planned:
            return None, ""
        mean = _mean(entry.diameters)
        error = self.pack.job.reading_at(mean).error
        return planned, _verdict(mean, (planned[0] - error, planned[1] + error))

    def _planned_girth(self, entry: Measured, girth: Decimal) -> tuple[tuple[Decimal, Decimal] | None, Verdict]:
        """Return the girths, to 0.1 mm, of the schedule's range, and whether the tape's reading may be one."""
        planned = self._planned_range(entry)
        tape = self.pack.job.tape if self.pack else None
        if not planned or not tape:
            return None, ""
        least, most = (diameter * pi for diameter, pi in zip(planned, PI_BETWEEN, strict=True))
        tenths = (least.quantize(_TENTH), most.quantize(_TENTH))
        return tenths, _verdict(girth, (least - tape.error, most + tape.error))

    def _planned_range(self, entry: Measured) -> tuple[Decimal, Decimal] | None:
        ranges = [(c.least, c.most) for c in self.pack.cables if c.tag in entry.cables] if self.pack else []
        return (min(least for least, _most in ranges), max(most for _least, most in ranges)) if ranges else None

    def _answers(self, table: DiameterTable | None, entry: Measured) -> tuple[str, ...]:
        """Return the layers the table gives for the mean of the readings; none where it gives none.

        A mean half way between two lines may take either, as a person with the table would. It is never
        carried further than half a step of the instrument: beyond the table, and in its holes, there is none.
        """
        girth = girth_of(entry)
        if table is not None and girth is not None:
            around = [row.peel for row in table.tape if row.least <= girth <= row.most]
            return tuple(f"A {peel.a} B {peel.b}" for peel in around if peel is not None)
        if table is None or self.pack is None or not entry.diameters:
            return ()
        mean = _mean(entry.diameters)
        half = self.pack.job.reading_at(mean).step / 2
        rows = [row.peel for row in table.rows if row.least - half <= mean <= row.most + half]
        return tuple(f"A {peel.a} B {peel.b}" for peel in rows if peel is not None)

    def _not_round(self, entry: Measured) -> Decimal | None:
        table, _fit = self._table(entry)
        if table is None or self.pack is None:
            return None
        catalogue = self.pack.catalogue
        rule = catalogue.blocks.get(table.part) or catalogue.split_seals.get(table.part)
        return rule.not_round if rule else None


def _mean(values: Sequence[Decimal]) -> Decimal:
    return sum(values, Decimal(0)) / len(values)


def _read_of(step: Step | None, number: int) -> Message | None:
    return step.reads[number - 1] if step and number <= len(step.reads) else None


def _given(text: str) -> Message:
    """Return what somebody wrote, which is never translated."""
    return Message(text="{text}", values={"text": text})


def _say(text: str, **values: object) -> Message:
    return Message(text=text, values={name: str(value) for name, value in values.items()})
