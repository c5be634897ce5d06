"""Transits, cards and labels as complete HTML documents, from our own templates, which escape everything."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from generator.model.catalogue import Certificate, Opening
from generator.model.job import Cable
from generator.model.layout import DiameterTable, Fit, Layout, Placement, SealLayout
from generator.model.pack import TransitPack, WorkPack
from generator.model.procedure import Step
from generator.model.scalars import format_mm
from generator.pages import addresses
from generator.pages.qr import label_text, make_code
from generator.pages.words import Words, _

try:
    from generator.drawing.front_view import draw_front
except ModuleNotFoundError:  # until the drawing is there

    def draw_front(pack: TransitPack, side: Any, say: Callable[[str], str], medium: Any) -> str:
        """Stand in for the drawing."""
        return '<svg viewBox="0 0 352 460"><path fill="none" stroke="currentColor" d="M2 2h348v456H2z"/></svg>'


POLICY = "default-src 'self'; img-src 'self' blob:; object-src 'none'; base-uri 'none'"
"""What a transit's page may load: nothing from elsewhere, nothing written into it."""

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
MATERIALS = {
    "steel": _("steel"),
    "stainless": _("stainless steel"),
    "aluminium": _("aluminium"),
    "concrete": _("concrete"),
    "masonry": _("masonry"),
    "board": _("board"),
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
STANDING_SENTENCE = _("Local codes, the permit and the licensed person on site come first.")


def make_environment(folder: str) -> Environment:
    """Return an environment for the templates in ``folder`` of site_templates: everything is escaped."""
    root = files("site_templates") / folder

    def read(name: str) -> str | None:
        entry = root / name
        return entry.read_text(encoding="utf-8") if entry.is_file() else None

    return Environment(
        loader=FunctionLoader(read),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )


def assets() -> Iterator[tuple[str, bytes]]:
    """Yield every file that pages load, as (path from the root of the site, content), in a fixed order."""
    yield from _below(files("site_templates") / addresses.ASSETS, addresses.ASSETS)


def _below(folder: Traversable, path: str) -> Iterator[tuple[str, bytes]]:
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.is_dir():
            if not entry.name.startswith("__"):
                yield from _below(entry, f"{path}/{entry.name}")
        else:
            yield f"{path}/{entry.name}", entry.read_bytes()


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


@dataclass(frozen=True)
class RowLines:
    """A row of blocks with its heading."""

    bay: int
    number: int
    height: str
    lines: tuple[BlockLine, ...]


@dataclass(frozen=True)
class Reading:
    """One row of a diameter table. ``tags`` are (tag, is it the likely answer)."""

    least: str
    most: str
    a: int | None
    b: int | None
    gap: str
    tags: tuple[tuple[str, bool], ...]


@dataclass(frozen=True)
class ReadingTable:
    """A diameter table as it is shown. ``anchor`` is its name on the page."""

    anchor: str
    part: str
    size: str
    gap: str
    rows: tuple[Reading, ...]
    not_round: str


@dataclass(frozen=True)
class PhaseSteps:
    """A phase and its steps."""

    title: str
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class View:
    """What the templates show of one transit."""

    pack: TransitPack
    rows: tuple[RowLines, ...]
    tables: tuple[ReadingTable, ...]
    phases: tuple[PhaseSteps, ...]
    opening: str
    corner: str
    certificate: Certificate | None
    classes: tuple[str, ...]
    roles: frozenset[str]
    several_bays: bool
    shown_rows: dict[str, RowLines] = field(default_factory=dict)


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
    return "" if cable.least == cable.most else f"{format_mm(cable.least)}–{format_mm(cable.most)}"


def _line(position: str, role: str, size: Decimal, part: str, cable: Cable | None, fit: Fit | None) -> BlockLine:
    if cable is None or fit is None:
        return BlockLine(position, role, format_mm(size), part)
    return BlockLine(
        position,
        role,
        format_mm(size),
        part,
        cable,
        format_mm(cable.likely),
        _span(cable),
        fit.likely.a,
        fit.likely.b,
        format_mm(fit.likely.gap),
        fit.measure,
    )


def _placed(placement: Placement, cables: dict[str, Cable]) -> BlockLine:
    cable = cables[placement.cable] if placement.cable else None
    return _line(placement.position, placement.role, placement.size, placement.part, cable, placement.fit)


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
            tuple(_placed(placement, cables) for placement in row.placements),
        )
        for bay in layout.bays
        for row in bay.rows
    )


def _table(table: DiameterTable, pack: TransitPack) -> ReadingTable:
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
        rows=tuple(
            Reading(
                format_mm(row.least),
                format_mm(row.most),
                row.peel.a if row.peel else None,
                row.peel.b if row.peel else None,
                ""
                if row.gap_least is None or row.gap_most is None
                else f"{format_mm(row.gap_least)}–{format_mm(row.gap_most)}",
                tuple(tags[number]),
            )
            for number, row in enumerate(table.rows)
        ),
        not_round="" if rule is None or rule.not_round is None else format_mm(rule.not_round),
    )


def _phases(pack: TransitPack) -> tuple[PhaseSteps, ...]:
    by_phase: defaultdict[str, list[Step]] = defaultdict(list)
    for step in pack.steps:
        by_phase[step.phase].append(step)
    return tuple(PhaseSteps(phase.title, tuple(by_phase[phase.id])) for phase in pack.phases if by_phase[phase.id])


def view(pack: TransitPack, say: Callable[..., str]) -> View:
    """Make of a transit what the templates show. Without a layout that can be built it has no layout figures."""
    transit, catalogue = pack.transit, pack.catalogue
    body = (
        catalogue.frames.get(transit.frame) if transit.frame else catalogue.split_seals.get(transit.split_seal or "")
    )
    fixing = body.fixings.get(transit.fixing) if body else None
    opening = fixing.opening if fixing else None
    if fixing and fixing.sleeve and opening is None and fixing.sleeve in catalogue.sleeves:
        opening = catalogue.sleeves[fixing.sleeve].opening
    rows = _rows(pack) if pack.can_be_built else ()
    first_steps: dict[str, RowLines] = {}
    if rows:
        waiting = {(row.bay, row.number): row for row in rows}
        for step in pack.steps:
            if step.row is not None and (lines := waiting.pop((step.bay or 1, step.row), None)):
                first_steps[step.key] = lines
    known = {cable.service for cable in pack.cables}
    return View(
        pack=pack,
        rows=rows,
        tables=tuple(_table(table, pack) for table in pack.tables) if rows else (),
        phases=_phases(pack) if pack.can_be_built else (),
        opening=_size(opening, say) if opening else "",
        corner=format_mm(opening.corner_radius) if opening and opening.corner_radius is not None else "",
        certificate=body.certificate if body else None,
        classes=tuple(service for service in SERVICE_CLASSES if service in known),
        roles=frozenset(line.role for row in rows for line in row.lines),
        several_bays=isinstance(pack.layout, Layout) and len(pack.layout.bays) > 1,
        shown_rows=first_steps,
    )


def _id_width(identifier: str) -> str:
    """Return the step of the plate's type that an ID of this length takes."""
    return next((name for name, most in (("s", 7), ("m", 11), ("l", 16)) if len(identifier) <= most), "xl")


class Pages:
    """Makes the pages of a work pack in one language.

    ``policy`` is left out only under ``serve``, whose live reload it would block.
    """

    def __init__(self, work: WorkPack, locale: str, policy: bool = True) -> None:
        self.work = work
        self.words = Words(locale)
        self._environment = make_environment("transit")
        self._environment.globals.update(
            say=self.words.say,
            say_count=self.words.say_count,
            tell=self.words.tell,
            tell_plain=self.words.tell_plain,
            day=self.words.day,
            mm=format_mm,
            lang=self.words.language,
            dir=self.words.direction,
            policy=POLICY if policy else "",
            classes=SERVICE_CLASSES,
            divisions=DIVISIONS,
            materials=MATERIALS,
            signals=SIGNALS,
            kinds=KINDS,
            parties=PARTIES,
            standing_sentence=STANDING_SENTENCE,
            id_width=_id_width,
            job=work.definition.job,
        )

    def transit(self, transit_id: str) -> str:
        """Return the page of a transit."""
        pack = self.work.transits[transit_id]
        return self._show(
            "transit.html",
            addresses.transit_page(transit_id),
            view(pack, self.words.say),
            front=self._draw(pack, "working", "screen"),
            far=self._draw(pack, "far", "screen"),
        )

    def _draw(self, pack: TransitPack, side: Any, medium: Any) -> Markup:
        if not pack.can_be_built:
            return Markup()
        # Safe: the drawing is made through the canvas, which escapes every text it is given.
        return Markup(draw_front(pack, side, self.words.say, medium))

    def _show(self, template: str, here: str, shown: View, **more: object) -> str:
        pack = shown.pack

        def link(there: str) -> str:
            return addresses.link(here, there)

        return self._environment.get_template(template).render(
            view=shown,
            pack=pack,
            code=make_code(label_text(pack.job.address, pack.id)),
            assets=link(addresses.ASSETS),
            links={
                "transit": link(addresses.transit_page(pack.id)),
                "card": link(addresses.card_page(pack.id)),
                "wall": link(addresses.wall_page(pack.wall_id)),
                "labels": link(addresses.label_page(pack.wall_id)),
                "overview": link(addresses.OVERVIEW),
                "find": link(addresses.FINDER),
                "safety": link(addresses.SAFETY),
            },
            **more,
        )

    def assets(self) -> Iterable[tuple[str, bytes]]:
        """Return every file that pages load, as (path from the root of the site, content)."""
        return assets()
