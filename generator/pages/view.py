"""What a transit's page and card show, as text ready to be put in: the templates only set it."""

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal
from typing import NamedTuple

from markupsafe import Markup

from generator.model.catalogue import Certificate, Fixing, Opening, Tightening, Weld
from generator.model.closing import BayClosing, Bolts
from generator.model.job import Cable
from generator.model.layout import DiameterRow, DiameterTable, Fit, Layout, Placement, SealLayout
from generator.model.pack import TransitPack
from generator.model.procedure import Bring, Step
from generator.model.scalars import format_mm
from generator.pages.telling import Told, told_before
from generator.pages.words import Words, _

SERVICE_CLASSES = {
    "power": _("Power"),
    "control": _("Control"),
    "instrument": _("Instrument"),
    "data": _("Data"),
    "fibre": _("Fibre"),
    "earth": _("Earth"),
    "pipe": _("Pipe"),
}
DIVISIONS = {
    "wall": _("Wall"),
    "bulkhead": _("Bulkhead"),
    "deck": _("Deck"),
    "cabinet": _("Cabinet side"),
}
SIGNALS = {"danger": _("Danger"), "warning": _("Warning"), "caution": _("Caution"), "notice": _("Notice")}
KINDS = {
    "do": _("Do"),
    "measure": _("Measure"),
    "review": _("Review"),
    "witness": _("Witness"),
    "hold": _("Hold"),
}
PARTIES = {
    "crew": _("crew"),
    "quality": _("quality inspector"),
    "owner": _("owner"),
    "class": _("class surveyor"),
}
WELD_SIDES = {
    "working side": _("on the working side"),
    "far side": _("on the far side"),
    "both sides": _("on both sides"),
}
VERDICTS = {
    "covered": _("covered"),
    "not covered": _("not covered"),
    "not comparable": _("can't be compared"),
}
ORDERS = {"in-turn": _("in turn"), "crosswise": _("crosswise")}
STANDING_SENTENCE = _("Local codes, the permit and the licensed person on site come first.")


@dataclass(frozen=True)
class BlockLine:
    """One block in the list of cables: text ready to be shown, '' for what it does not have."""

    position: str
    role: str
    size: str
    part: str
    cable: Cable | None = None
    diameter: str = ""
    span: str = ""
    a: int = 0
    b: int = 0
    gap: str = ""
    measure: bool = False

    @property
    def has_long_place(self) -> bool:
        """Whether its position names the bay or a bore besides row and place."""
        return self.position.count(".") > 1 or self.position[-1:].isalpha()

    @property
    def sign(self) -> str:
        """The sign of what lies there, where no cable does: a bore without one looks as a spare does."""
        return "spare" if self.role == "plugged" else self.role


@dataclass(frozen=True)
class RowLines:
    """A row of blocks with its heading."""

    bay: int
    number: int
    height: str
    lines: tuple[BlockLine, ...]


_NO_WORDS = Markup()


@dataclass(frozen=True)
class Reading:
    """One row of a diameter table: the readings, their layers, the gaps to expect. No layers: no answer.

    ``cells`` are set for a row that names cables, ``alone`` is the whole row that names none.
    """

    least: str
    most: str
    a: int | None
    b: int | None
    gap: str
    cells: Markup = _NO_WORDS
    alone: Markup = _NO_WORDS


@dataclass(frozen=True)
class ReadingTable:
    """A diameter table as it is shown. ``anchor`` is its name on the page.

    Each row goes with the tags of this transit that may need it, and whether it is their likely answer.
    """

    anchor: str
    part: str
    size: str
    gap: str
    rows: tuple[tuple[Reading, tuple[tuple[str, bool], ...]], ...]
    not_round: str

    @property
    def runs(self) -> Iterator[tuple[Markup, tuple[tuple[str, bool], ...]]]:
        """The rows as they are set: the cells of one that names cables with its tags, whole rows that name none."""
        alone: list[Markup] = []
        for row, tags in self.rows:
            if not tags:
                alone.append(row.alone)
                continue
            if alone:
                yield _NO_WORDS.join(alone), ()
                alone = []
            yield row.cells, tags
        if alone:
            yield _NO_WORDS.join(alone), ()


class ShownStep(NamedTuple):
    """A step, the cautions to read before it, and the row that is listed with it."""

    step: Step
    cautions: tuple[Told, ...]
    row: RowLines | None


@dataclass(frozen=True)
class PhaseSteps:
    """The steps under one heading."""

    title: str
    steps: tuple[ShownStep, ...]

    @property
    def first(self) -> int:
        """The number of its first step."""
        return self.steps[0].step.number


@dataclass(frozen=True)
class Closing:
    """How one thing is closed: what it is, and its figures, each a few words."""

    what: str
    figures: tuple[str, ...]

    @property
    def line(self) -> str:
        """All of it on one line, for a card."""
        return f"{self.what}: {', '.join(self.figures)}"


@dataclass(frozen=True)
class View:
    """What the templates show of one transit."""

    pack: TransitPack
    rows: tuple[RowLines, ...]
    tables: tuple[ReadingTable, ...]
    phases: tuple[PhaseSteps, ...]
    opening: str
    corner: str
    body_corner: str
    plate: str
    weld: Weld | None
    sleeve: str
    closings: tuple[Closing, ...]
    going_in: tuple[Closing, ...]
    orders: tuple["BoltOrder", ...]
    certificate: Certificate | None
    classes: tuple[str, ...]
    roles: tuple[str, ...]
    several_bays: bool
    bring: tuple[tuple[str, str, tuple[Bring, ...]], ...] = ()

    @property
    def measured(self) -> bool:
        """Whether the layers of any block are known only once its cable is measured."""
        return any(line.measure for row in self.rows for line in row.lines)

    @property
    def has_long_places(self) -> bool:
        """Whether a position names its bay or bore."""
        return any(line.has_long_place for row in self.rows for line in row.lines)

    @property
    def signs(self) -> tuple[str, ...]:
        """The faces of classes and blocks that the page shows."""
        return self.classes + self.roles


def _tenth(value: Decimal) -> str:
    """Return a diameter or gap with one decimal, as a caliper shows it; more where there are more."""
    text = format_mm(value)
    return text if "." in text else f"{text}.0"


def _size(opening: Opening, say: Callable[..., str]) -> str:
    """Return an opening as one text: size and tolerance in mm."""
    if opening.diameter is not None:
        size = say("Ø {diameter} mm", diameter=format_mm(opening.diameter))
    else:
        assert opening.width is not None and opening.height is not None
        size = say("{width} × {height} mm", width=format_mm(opening.width), height=format_mm(opening.height))
    plus, minus = format_mm(opening.plus), format_mm(opening.minus)
    tolerance = f"±{plus}" if plus == minus else f"+{plus} / −{minus}"
    return f"{size}, {tolerance}"


def _span(cable: Cable) -> str:
    return "" if cable.least == cable.most else f"{_tenth(cable.least)}–{_tenth(cable.most)}"


def _line(position: str, role: str, size: Decimal, part: str, cable: Cable | None, fit: Fit | None) -> BlockLine:
    if cable is None or fit is None:
        return BlockLine(position, role, format_mm(size), part)
    return BlockLine(
        position,
        role,
        format_mm(size),
        part,
        cable,
        _tenth(cable.likely),
        _span(cable),
        fit.likely.a,
        fit.likely.b,
        _tenth(fit.likely.gap),
        fit.measure,
    )


def _placed(placement: Placement, pack: TransitPack, cables: dict[str, Cable]) -> Iterator[BlockLine]:
    """Yield a line for a block, or one for each bore of a block that cables share."""
    if placement.others:
        block = pack.catalogue.blocks.get(placement.part)
        for position, tag, fit in placement.bores:
            yield _line(position, placement.role, placement.size, placement.part, cables[tag], fit)
        for position in placement.plugged((block.bores or 0) if block else 0):
            yield _line(position, "plugged", placement.size, placement.part, None, None)
        return
    cable = cables[placement.cable] if placement.cable else None
    yield _line(placement.position, placement.role, placement.size, placement.part, cable, placement.fit)


def _rows(pack: TransitPack) -> tuple[RowLines, ...]:
    cables = {cable.tag: cable for cable in pack.cables}
    layout = pack.layout
    if isinstance(layout, SealLayout):
        line = _line("1", "seal", layout.diameter, layout.part, cables[layout.cable], layout.fit)
        return (RowLines(0, 0, "", (line,)),)
    if not isinstance(layout, Layout):
        return ()
    return tuple(
        RowLines(
            bay.bay,
            row.number,
            format_mm(row.height),
            tuple(line for placement in row.placements for line in _placed(placement, pack, cables)),
        )
        for bay in layout.bays
        for row in bay.rows
    )


class Readings:
    """Remembers how diameter tables read: a catalogue's few stand on every page of a job, and are most of it.

    ``set_cells`` sets the figures of a row as its first cells.
    """

    def __init__(self, set_cells: Callable[[Reading], Markup] = lambda read: Markup()) -> None:
        self._set_cells = set_cells
        self._known: dict[int, tuple[DiameterTable, tuple[Reading, ...]]] = {}

    def of(self, table: DiameterTable) -> tuple[Reading, ...]:
        """Return the rows of a table as text."""
        if id(table) not in self._known:
            # The table is kept beside its text, so that its id is not given to another.
            self._known[id(table)] = (table, tuple(self._reading(row) for row in table.rows))
        return self._known[id(table)][1]

    def _reading(self, row: DiameterRow) -> Reading:
        gap = ""
        if row.gap_least is not None and row.gap_most is not None:
            gap = f"{_tenth(row.gap_least)}–{_tenth(row.gap_most)}"
        a, b = (row.peel.a, row.peel.b) if row.peel else (None, None)
        read = Reading(_tenth(row.least), _tenth(row.most), a, b, gap)
        cells = self._set_cells(read)
        return replace(read, cells=cells, alone=Markup('<tr>%s<td class="tags"></td></tr>') % cells)


def _table(table: DiameterTable, pack: TransitPack, readings: Readings) -> ReadingTable:
    """Mark in a table where this transit's cables are expected: their likely row, and the rest of their range."""
    users = [
        (cable, fit)
        for cable in pack.cables
        if isinstance(fit := pack.fits.get(cable.tag), Fit) and fit.part == table.part
    ]
    tags: defaultdict[int, list[tuple[str, bool]]] = defaultdict(list)
    for cable, fit in users:
        answers = [
            (abs((row.least + row.most) / 2 - cable.likely), number)
            for number, row in enumerate(table.rows)
            if row.peel is not None and (row.peel.a, row.peel.b) == (fit.likely.a, fit.likely.b)
        ]
        likely = min(answers)[1] if answers else None
        for number, row in enumerate(table.rows):
            if number == likely or (row.least <= cable.most and row.most >= cable.least):
                tags[number].append((cable.tag, number == likely))
    catalogue = pack.catalogue
    rule = catalogue.blocks.get(table.part) or catalogue.split_seals.get(table.part)
    return ReadingTable(
        anchor=f"table-{table.part}",
        part=table.part,
        size=format_mm(table.size),
        gap=str(table.window),
        rows=tuple((reading, tuple(tags[number])) for number, reading in enumerate(readings.of(table))),
        not_round="" if rule is None or rule.not_round is None else format_mm(rule.not_round),
    )


def _phases(pack: TransitPack, rows: tuple[RowLines, ...]) -> tuple[PhaseSteps, ...]:
    told, shown = told_before(pack.steps), _shown_rows(pack, rows)
    by_phase: defaultdict[str, list[ShownStep]] = defaultdict(list)
    for step in pack.steps:
        by_phase[step.phase].append(ShownStep(step, told.get(step.key, ()), shown.get(step.key)))
    return tuple(PhaseSteps(phase.title, tuple(by_phase[phase.id])) for phase in pack.phases if by_phase[phase.id])


def _tightening(what: str, how: Tightening, pack: TransitPack, words: Words) -> Closing:
    say = words.say
    order = next((bolts.order for bolts in pack.bolts if bolts.tightening == how), ())
    crossing = how.order == "crosswise" and order
    figures = [
        words.say_count("{number} bolt {thread}", "{number} bolts {thread}", how.bolts, thread=how.thread),
        say("key {key} mm", key=format_mm(how.key)),
        f"{say(ORDERS[how.order])} {' '.join(map(str, order))}" if crossing else say(ORDERS[how.order]),
    ]
    if how.turns_each_round is not None:
        turns = format_mm(how.turns_each_round)
        figures.append(
            words.say_count(
                "{number} round of {turns} turns", "{number} rounds of {turns} turns", how.rounds, turns=turns
            )
        )
    else:
        figures.append(words.say_count("{number} round", "{number} rounds", how.rounds))
    if how.torque_nm is not None:
        figures.append(say("the last to {torque} N·m", torque=format_mm(how.torque_nm)))
    if how.protrusion is not None:
        figures.append(say("until {window} mm of thread stand past the nut", window=how.protrusion))
    if how.settle_minutes is not None:
        figures.append(say("read again after {minutes} min", minutes=how.settle_minutes))
    return Closing(what, tuple(figures))


def _closings(pack: TransitPack, fixing: Fixing | None, words: Words) -> tuple[Closing, ...]:
    """Return how everything is closed, in the order of the work: what holds the body, then the clamping units."""
    say = words.say
    catalogue = pack.catalogue
    found = []
    if fixing and fixing.tightening:
        found.append(_tightening(say("Fixing"), fixing.tightening, pack, words))
    if fixing and (sleeve := catalogue.sleeves.get(fixing.sleeve or "")):
        found.append(_tightening(say("Sleeve"), sleeve.tightening, pack, words))
    if isinstance(pack.layout, Layout):
        for part in dict.fromkeys(bay.unit.part for bay in pack.layout.bays):
            if unit := catalogue.clamping_units.get(part):
                found.append(_tightening(say("Clamping unit"), unit.tightening, pack, words))
    return tuple(found)


@dataclass(frozen=True)
class BoltOrder:
    """A diagram of bolts: what they do, and what their rounds come to, a few words each."""

    what: str
    bolts: Bolts
    figures: tuple[str, ...]


BOLTS = {
    "fixing": _("Bolts of the frame"),
    "sleeve": _("Screws of the sleeve"),
    "seal": _("Screws of the seal"),
    "unit": _("Bolts of the clamping unit"),
}


def _orders(pack: TransitPack, words: Words) -> Iterator[BoltOrder]:
    say = words.say
    for bolts in pack.bolts:
        what = say(BOLTS[bolts.what])
        if bolts.bays:
            what += ", " + say("bay {bay}", bay=", ".join(map(str, bolts.bays)))
        yield BoltOrder(what, bolts, tuple(_rounds(bolts, words)))


def _rounds(bolts: Bolts, words: Words) -> Iterator[str]:
    say, how = words.say, bolts.tightening
    yield say("order of each round: {order}", order=", ".join(map(str, bolts.order)))
    if bolts.turns is not None:
        turns = format_mm(bolts.turns)
        rounds = words.say_count("{number} round", "{number} rounds", how.rounds)
        yield say("{rounds}, {turns} turns of each bolt in all", rounds=rounds, turns=turns)
    else:
        yield words.say_count("{number} round", "{number} rounds", how.rounds)
    if bolts.advance is not None and bolts.pitch is not None:
        advance, pitch = format_mm(bolts.advance), format_mm(bolts.pitch)
        yield say("all turns move a bolt by {advance} mm, {pitch} mm a turn", advance=advance, pitch=pitch)
    if bolts.torques:
        yield say("torque of the rounds: {torques} N·m", torques=", ".join(format_mm(one) for one in bolts.torques))
    if bolts.limit is not None:
        yield say(
            "class {name} bears {limit} N·m at {share} % of its proof load",
            name=how.property_class,
            limit=format_mm(bolts.limit),
            share=format_mm(how.proof_percent or Decimal(0)),
        )


def _going_in(closing: BayClosing, pack: TransitPack, say: Callable[..., str]) -> Iterator[Closing]:
    """Return what a bay's gaps come to, how its clamping unit goes in, and what it squeezes."""
    several = len(pack.closings) > 1

    def head(text: str) -> str:
        return f"{text}, {say('bay {bay}', bay=closing.bay)}" if several else text

    fullest = closing.fullest
    yield Closing(
        head(say("Gaps above each other")),
        (
            say(
                "{sum} mm to expect, {x} to {to} mm from the left",
                sum=format_mm(fullest.expected),
                x=format_mm(fullest.x),
                to=format_mm(fullest.to),
            ),
            say("{sum} mm if gaps are wide", sum=format_mm(closing.most)),
        ),
    )
    yield Closing(head(say("Clamping unit goes in")), tuple(_how(closing, say)))
    yield Closing(head(say("Least squeeze")), tuple(_squeeze(closing, say)))


def _how(closing: BayClosing, say: Callable[..., str]) -> Iterator[str]:
    if closing.retracted is None or closing.play is None or closing.press is None or closing.press_most is None:
        yield say("not judged: the catalogue does not say how high it is turned back")
        return
    if closing.press:
        yield say("only when the rows are pressed down by {press} mm", press=format_mm(closing.press))
    else:
        yield say("by hand with {play} mm to spare", play=format_mm(closing.play))
    yield say(
        "{back} mm high turned back, its place {place} mm",
        back=format_mm(closing.retracted),
        place=format_mm(closing.place),
    )
    if closing.press_most and closing.press_most != closing.press:
        up_to = format_mm(closing.press_most)
        if closing.deviation:
            yield say("up to {press} mm to press down if gaps are wide and the bay as low as it may be", press=up_to)
        else:
            yield say("up to {press} mm to press down if gaps are wide", press=up_to)
    if closing.tool and closing.press_most:
        yield say(
            "with {tool}, by {most} mm at most", tool=closing.tool, most=format_mm(closing.tool_most or Decimal(0))
        )


def _squeeze(closing: BayClosing, say: Callable[..., str]) -> Iterator[str]:
    if closing.squeeze is None or closing.squeeze_least is None:
        yield say("not judged: the catalogue does not say how high it is when closed")
        return
    yield say(
        "{squeeze} mm fully closed, when it is {height} mm high",
        squeeze=format_mm(closing.squeeze),
        height=format_mm(closing.closed or Decimal(0)),
    )
    if closing.squeeze_least != closing.squeeze:
        least = format_mm(closing.squeeze_least)
        if closing.deviation:
            yield say("{squeeze} mm if gaps are narrow and the bay as high as it may be", squeeze=least)
        else:
            yield say("{squeeze} mm if gaps are narrow", squeeze=least)
    if closing.squeeze_asked is None:
        yield say("not judged: the catalogue asks for no figure")
    else:
        asked = closing.squeeze_asked.quantize(Decimal("0.01"), ROUND_CEILING)
        yield say("the catalogue asks for {asked} mm", asked=format_mm(asked))


def view(pack: TransitPack, words: Words, readings: Readings) -> View:
    """Make of a transit what the templates show. Without a layout that can be built it has no layout figures."""
    say = words.say
    transit, catalogue = pack.transit, pack.catalogue
    frame, seal = catalogue.frames.get(transit.frame or ""), catalogue.split_seals.get(transit.split_seal or "")
    body = frame or seal
    fixing = body.fixings.get(transit.fixing) if body else None
    sleeve = catalogue.sleeves.get(fixing.sleeve or "") if fixing else None
    opening = (fixing.opening if fixing else None) or (sleeve.opening if sleeve else None)
    plate = (fixing.plate if fixing else None) or (sleeve.plate if sleeve else None)
    built = pack.can_be_built
    rows = _rows(pack) if built else ()
    known = {cable.service for cable in pack.cables}
    return View(
        pack=pack,
        rows=rows,
        tables=tuple(_table(table, pack, readings) for table in pack.tables) if built else (),
        phases=_phases(pack, rows) if built else (),
        opening=_size(opening, say) if opening else "",
        corner=format_mm(opening.corner_radius) if opening and opening.corner_radius is not None else "",
        body_corner=format_mm(frame.corner_radius) if frame and frame.corner_radius else "",
        plate=str(plate) if plate else "",
        weld=fixing.weld if fixing else None,
        sleeve=(fixing.sleeve if fixing else "") or "",
        closings=_closings(pack, fixing, words) if built else (),
        orders=tuple(_orders(pack, words)) if built else (),
        going_in=tuple(line for closing in pack.closings for line in _going_in(closing, pack, say)) if built else (),
        certificate=body.certificate if body else None,
        classes=tuple(service for service in SERVICE_CLASSES if service in known),
        roles=tuple(role for role in ("spare", "filler") if any(x.sign == role for row in rows for x in row.lines)),
        several_bays=isinstance(pack.layout, Layout) and len(pack.layout.bays) > 1,
        bring=tuple(_bring(pack)),
    )


def _bring(pack: TransitPack) -> Iterator[tuple[str, str, tuple[Bring, ...]]]:
    """Yield each group of what to bring, its heading and its lines; a group without any is left out."""
    for group, heading in (("part", _("Parts")), ("consumable", _("Used up")), ("tool", _("Tools"))):
        if items := tuple(item for item in pack.bring if item.group == group):
            yield group, heading, items


def _shown_rows(pack: TransitPack, rows: tuple[RowLines, ...]) -> dict[str, RowLines]:
    """Return by step key the row that is listed with it: the first step that speaks of the row."""
    waiting = {(row.bay, row.number): row for row in rows}
    shown = {}
    for step in pack.steps if rows else ():
        if step.row is not None and (lines := waiting.pop((step.bay or 1, step.row), None)):
            shown[step.key] = lines
    return shown
