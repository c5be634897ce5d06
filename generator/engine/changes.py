"""What differs between two states of a transit's work, in words that a crew and a planner can act on."""

from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Any, Literal

from generator.engine.digest import UNCOUNTED_FIGURES, parts_in_use
from generator.model.job import Cable
from generator.model.layout import Fit, Layout, NoLayout, SealLayout
from generator.model.pack import Change, TransitPack
from generator.model.procedure import Message
from generator.model.scalars import Window, format_mm

_About = Literal["wall", "transit", "cable", "block", "peel", "part", "step", "other"]


def _(text: str) -> str:
    return text


_WALL = {
    "division": _("The division is {new}, it was {old}"),
    "material": _("The wall is of {new}, it was of {old}"),
    "thickness": _("The wall is {new} mm thick, it was {old} mm"),
    "sides": _("The rooms are {new}, they were {old}"),
    "landmarks": _("The landmarks are {new}, they were {old}"),
    "up": _("The top of the drawing points to {new}, it pointed to {old}"),
    "datum": _("It is measured from {new}, it was measured from {old}"),
    "demands": _("The wall demands {new}, it demanded {old}"),
    "insulation": _("The insulation is {new}, it was {old}"),
    "structural": _("The wall carries load: {new}, before: {old}"),
    "conditions": _("Conditions of the wall: {new}, before: {old}"),
}
_TRANSIT = {
    "wall": _("It is in wall {new}, it was in {old}"),
    "working_side": _("The working side is {new}, it was {old}"),
    "frame": _("The frame is {new}, it was {old}"),
    "split_seal": _("The split seal is {new}, it was {old}"),
    "fixing": _("It is held by {new}, it was held by {old}"),
    "at": _("It is at {new}, it was at {old}"),
    "existing_opening": _("The opening is there already: {new}, before: {old}"),
    "authority_accepts": _("The approving authority's paper is {new}, it was {old}"),
    "conditions": _("Conditions here: {new}, before: {old}"),
}
_CABLE = {
    "service": _("{cable} is of the class {new}, it was {old}"),
    "type": _("{cable} is of the type {new}, it was {old}"),
    "drum": _("{cable} comes from drum {new}, it was {old}"),
    "bonded": _("{cable} must be bonded: {new}, before: {old}"),
    "assumed": _("{cable} is not known yet: {new}, before: {old}"),
}
WORDS = (
    *_WALL.values(),
    *_TRANSIT.values(),
    *_CABLE.values(),
    _("{cable} measures {new} mm, it was {old} mm"),
    _("{cable} passes here now, {new} mm"),
    _("{cable} no longer passes here"),
    _("There is no layout: {why}"),
    _("{cable} goes into {new} (block {size}), it was in {old} (block {before})"),
    _("{cable} goes into {new} (block {size})"),
    _("Place {place} holds {new}, it held {old}"),
    _("Place {place} is new: {new}"),
    _("Place {place} is gone; it held {old}"),
    _("{cable}: peel A {a} B {b}, it was A {was_a} B {was_b}"),
    _("{cable}: measure first, then peel"),
    _("{cable}: peel without measuring first"),
    _("Row plates and clamping units lie otherwise"),
    _("The sealing system is {new}, it was {old}"),
    _("The figures of {part} have changed"),
    _("The table to peel {part} by has changed"),
    _("New step: {title}"),
    _("Step left out: {title}"),
    _("The steps come in another order"),
    _("Step changed: {title}"),
    _("{title}: {new}, it was {old}"),
    _("The figures are the same; another version of the program counts them otherwise"),
    _("The work is the same: only words have changed"),
    _("Other words in the step: {title}"),
    _("Other words in the caution: {title}"),
)
"""Every text this module gives to be translated."""

_TOLD = UNCOUNTED_FIGURES | {
    *(
        "rows",
        "blocks",
        "spares",
        "fillers",
        "plates",
        "units",
        "spare_places",
        "shared_places",
        "assumed",
        "assumed_places",
        "cables",
    ),
    *("working_side", "far_side", "left", "right", "x", "y", "datum_x", "datum_y", "wall_thickness", "up"),
}
"""Figures that repeat what is told of the layout, the wall and the place."""


def tell_changes(old: TransitPack, new: TransitPack) -> tuple[Change, ...]:
    """Return what of the work is other in ``new`` than in ``old``; nothing where the work digests agree.

    What follows from a change is told where a crew would see it: a cable's range, and the place its block
    moved to. Lengths in mm.
    """
    if old.digest == new.digest:
        return ()
    found = tuple({(change.about, change.says.model_dump_json()): change for change in _tell(old, new)}.values())
    return found or (
        _change("other", "The figures are the same; another version of the program counts them otherwise"),
    )


def tell_words(old: TransitPack, new: TransitPack) -> tuple[Change, ...]:
    """Return where the words of steps and cautions are others, the work being the same; nothing where it is not."""
    if old.digest != new.digest:
        return ()
    steps = {step.key: (step.title.text, step.text.text, step.reads, step.tools) for step in old.steps}
    cautions = {caution.id: (caution.title.text, caution.text.text) for caution in old.cautions}
    told = [
        _step("Other words in the step: {title}", step.title)
        for step in new.steps
        if steps.get(step.key) != (step.title.text, step.text.text, step.reads, step.tools)
    ]
    told += [
        _step("Other words in the caution: {title}", caution.title)
        for caution in new.cautions
        if cautions.get(caution.id) != (caution.title.text, caution.text.text)
    ]
    return (_change("other", "The work is the same: only words have changed"), *told) if told else ()


def _tell(old: TransitPack, new: TransitPack) -> Iterator[Change]:
    yield from _fields("wall", _WALL, old.wall, new.wall)
    yield from _fields("transit", _TRANSIT, old.transit, new.transit)
    yield from _cables(old.cables, new.cables)
    yield from _layouts(old, new)
    yield from _parts(old, new)
    yield from _steps(old, new)


def _fields(about: _About, words: dict[str, str], old: Any, new: Any, **values: str) -> Iterator[Change]:
    for name, text in words.items():
        before, after = getattr(old, name), getattr(new, name)
        if name in ("conditions",):
            before, after = tuple(sorted(set(before))), tuple(sorted(set(after)))
        if before != after:
            yield _change(about, text, new=_say(after), old=_say(before), **values)


def _say(value: Any) -> str:
    if value is None or value == ():
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return format_mm(value)
    if isinstance(value, tuple):
        return ", ".join(_say(item) for item in value)
    if isinstance(value, Window):
        return str(value)
    if hasattr(value, "model_fields_set"):
        parts = [(name, item) for name, item in value if item not in (None, False, ())]
        return ", ".join(f"{name.replace('_', ' ')} {_say(item)}" for name, item in parts) or "–"
    return str(value)


def _span(cable: Cable) -> str:
    least, most = format_mm(cable.least), format_mm(cable.most)
    span = least if least == most else f"{least}–{most}"
    return span if cable.diameter is None else f"{format_mm(cable.diameter)} ({span})"


def _cables(old: Iterable[Cable], new: Iterable[Cable]) -> Iterator[Change]:
    before, after = {cable.tag: cable for cable in old}, {cable.tag: cable for cable in new}
    for tag, cable in after.items():
        if tag not in before:
            yield _change("cable", "{cable} passes here now, {new} mm", cable=tag, new=_span(cable))
        else:
            was = before[tag]
            if (was.least, was.most, was.likely) != (cable.least, cable.most, cable.likely):
                yield _change(
                    "cable", "{cable} measures {new} mm, it was {old} mm", cable=tag, new=_span(cable), old=_span(was)
                )
            yield from _fields("cable", _CABLE, was, cable, cable=tag)
    for tag in (tag for tag in before if tag not in after):
        yield _change("cable", "{cable} no longer passes here", cable=tag)


def _fits(pack: TransitPack) -> dict[str, Fit]:
    layout = pack.layout
    if isinstance(layout, SealLayout):
        return {layout.cable: layout.fit}
    if isinstance(layout, Layout):
        return {tag: fit for p in layout.placements for _, tag, fit in p.bores if fit}
    return {}


def _layouts(old: TransitPack, new: TransitPack) -> Iterator[Change]:
    if isinstance(new.layout, NoLayout):
        yield _change("block", "There is no layout: {why}", why=new.layout.what)
        return
    if isinstance(old.layout, Layout) and isinstance(new.layout, Layout):
        yield from _blocks(old.layout, new.layout)
    before, after = _fits(old), _fits(new)
    for tag in (tag for tag in after if tag in before):
        was, now = before[tag], after[tag]
        if (was.likely.a, was.likely.b) != (now.likely.a, now.likely.b):
            values = {"a": now.likely.a, "b": now.likely.b, "was_a": was.likely.a, "was_b": was.likely.b}
            yield _change("peel", "{cable}: peel A {a} B {b}, it was A {was_a} B {was_b}", cable=tag, **values)
        if was.measure != now.measure:
            text = "{cable}: measure first, then peel" if now.measure else "{cable}: peel without measuring first"
            yield _change("peel", text, cable=tag)


def _blocks(old: Layout, new: Layout) -> Iterator[Change]:
    was = {tag: (p, at) for p in old.placements for at, tag, _ in p.bores}
    told_old, told_new = set(), set()
    for placement, at, tag in ((p, at, tag) for p in new.placements for at, tag, _ in p.bores):
        before, stood = was.get(tag, (None, ""))
        size = format_mm(placement.size)
        if before is None:
            told_new.add(placement.position)
            yield _change(
                "block",
                "{cable} goes into {new} (block {size})",
                cable=tag,
                new=at,
                size=size,
            )
        elif (stood, before.part, before.size) != (at, placement.part, placement.size):
            told_new.add(placement.position)
            told_old.add(before.position)
            yield _change(
                "block",
                "{cable} goes into {new} (block {size}), it was in {old} (block {before})",
                cable=tag,
                new=at,
                size=size,
                old=stood,
                before=format_mm(before.size),
            )
    places, earlier = {p.position: p for p in new.placements}, {p.position: p for p in old.placements}
    for place, now in places.items():
        then = earlier.get(place)
        if place in told_new or now.cable:
            continue
        if then is None:
            yield _change("block", "Place {place} is new: {new}", place=place, new=f"{now.role} {now.part}")
        elif (then.role, then.part) != (now.role, now.part):
            held = ", ".join(then.cables) or f"{then.role} {then.part}"
            yield _change(
                "block",
                "Place {place} holds {new}, it held {old}",
                place=place,
                new=f"{now.role} {now.part}",
                old=held,
            )
    for place in (place for place in earlier if place not in places and place not in told_old):
        then = earlier[place]
        yield _change(
            "block",
            "Place {place} is gone; it held {old}",
            place=place,
            old=", ".join(then.cables) or f"{then.role} {then.part}",
        )
    flat = [[(bay.plates, bay.unit, [(r.y, r.height) for r in bay.rows]) for bay in x.bays] for x in (old, new)]
    if flat[0] != flat[1]:
        yield _change("block", "Row plates and clamping units lie otherwise")


def _parts(old: TransitPack, new: TransitPack) -> Iterator[Change]:
    before, after = parts_in_use(old), parts_in_use(new)
    systems = (f"{before.system}, {before.edition}", f"{after.system}, {after.edition}")
    if systems[0] != systems[1]:
        yield _change("part", "The sealing system is {new}, it was {old}", new=systems[1], old=systems[0])
    for group in ("blocks", "fillers", "row_plates", "clamping_units", "frames", "sleeves", "split_seals"):
        then, now = getattr(before, group), getattr(after, group)
        for part in sorted(then.keys() & now.keys()):
            if then[part] != now[part]:
                yield _change("part", "The figures of {part} have changed", part=part)
    tables = {table.part: (table.rows, table.tape) for table in old.tables}
    for table in new.tables:
        if table.part in tables and tables[table.part] != (table.rows, table.tape):
            yield _change("part", "The table to peel {part} by has changed", part=table.part)


def _steps(old: TransitPack, new: TransitPack) -> Iterator[Change]:
    if isinstance(new.layout, NoLayout):
        return
    before, after = {step.key: step for step in old.steps}, {step.key: step for step in new.steps}
    for key, step in after.items():
        if key not in before:
            yield _step("New step: {title}", step.title)
            continue
        was = before[key]
        kind = (step.kind, step.party, sorted(c.id for c in step.cautions))
        if kind != (was.kind, was.party, sorted(c.id for c in was.cautions)):
            yield _step("Step changed: {title}", step.title)
            continue
        if "." in key:
            continue  # what a bay, row or type shows follows from the layout, which is told above
        for message, earlier in (
            (step.title, was.title),
            (step.text, was.text),
            *zip(step.reads, was.reads, strict=False),
        ):
            for name, value in message.values.items():
                then = earlier.values.get(name)
                if then is not None and then != value and name not in _TOLD:
                    yield _step("{title}: {new}, it was {old}", step.title, new=value, old=then)
    for key, step in before.items():
        if key not in after:
            yield _step("Step left out: {title}", step.title)
    common = [key for key in after if key in before and "." not in key]
    if common != [key for key in before if key in after and "." not in key]:
        yield _change("step", "The steps come in another order")


def _step(text: str, title: Message, **values: str) -> Change:
    return _change("step", text, title=str(title), **values)


def _change(about: _About, text: str, **values: object) -> Change:
    return Change(about=about, says=Message(text=text, values={name: str(value) for name, value in values.items()}))
