"""Transits, cards and labels as complete HTML documents, from our own templates, which escape everything."""

import re
from collections.abc import Callable, Hashable, Iterable, Sequence
from functools import partial
from importlib.resources import files
from types import CodeType
from typing import Any, Literal

from jinja2 import BytecodeCache, Environment, FunctionLoader, StrictUndefined
from jinja2.bccache import Bucket
from markupsafe import Markup, escape

from generator.drawing.bolt_view import draw_bolts
from generator.drawing.front_view import Blocks, draw_front
from generator.drawing.lettering import text_width
from generator.drawing.sheet import Medium, Side
from generator.drawing.symbols import face_icon
from generator.model.asbuilt import AsBuilt
from generator.model.asked import Asked, asked, form_of
from generator.model.closing import Bolts
from generator.model.layout import Layout
from generator.model.names import FIXINGS, MATERIALS
from generator.model.pack import Superseded, TransitPack, WorkPack
from generator.model.procedure import Bring, Message, Step
from generator.model.scalars import format_mm
from generator.pages import addresses
from generator.pages.adding import Adding, adding_of
from generator.pages.cards import CAUTIONS, Card, ShortCaution, beside_code, lay_out
from generator.pages.entering import Tables, as_data
from generator.pages.labels import SIZES, Dpi, Sheet, lay_out_sheets, make_label, to_mm
from generator.pages.qr import label_text, make_code
from generator.pages.states import STATES, built_of
from generator.pages.telling import Told
from generator.pages.view import (
    DIVISIONS,
    KINDS,
    PARTIES,
    SERVICE_CLASSES,
    SIGNALS,
    STANDING_SENTENCE,
    VERDICTS,
    WELD_SIDES,
    Readings,
    RowLines,
    View,
    view,
)
from generator.pages.words import SOURCE_LANGUAGE, Words, language_name

POLICY = "default-src 'self'; img-src 'self' blob:; object-src 'none'; base-uri 'none'"
"""What a transit's page may load: nothing from elsewhere, nothing written into it."""


_FIXED_WORDS = re.compile(r'{{ say\("([^"{}\\]*)"\) }}')


def make_environment(folder: str, words: Words) -> Environment:
    """Return an environment for the templates in ``folder`` of site_templates: everything is escaped.

    Words that need no value are said when a template is read, not again on every page. ``as_written`` is what
    marks problems and sources, which are told in English only, on a page of another language.
    """
    root = files("site_templates") / folder

    def read(name: str) -> str | None:
        entry = root / name
        return _FIXED_WORDS.sub(said, entry.read_text(encoding="utf-8")) if entry.is_file() else None

    def said(found: re.Match[str]) -> str:
        return str(escape(words.say(found[1]))).replace("{", "&#123;")  # a translation is no template

    environment = Environment(
        loader=FunctionLoader(read),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
        bytecode_cache=_COMPILED,
    )
    environment.globals["as_written"] = Markup() if words.language == SOURCE_LANGUAGE else Markup(' lang="en"')
    return environment


class _Compiled(BytecodeCache):
    """Keeps what templates were compiled to, by their text: they are read again for every language and build."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, str], CodeType | None] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        bucket.code = self._known.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        self._known[bucket.key, bucket.checksum] = bucket.code


_COMPILED = _Compiled()


def _sign(what: Any) -> Markup:
    # Safe: made of numbers only.
    return Markup(face_icon(what))


def _plate_size(room: float, sizes: dict[str, float], identifier: str) -> str:
    """Return the largest of the plate's sizes at which an ID fits its room; the last when none does."""
    *larger, (last, _least) = sizes.items()
    return next((name for name, size in larger if text_width(identifier, size, 700) <= room), last)


_PHONE_PLATE = partial(_plate_size, 250, {"s": 60, "m": 40, "l": 30, "xl": 26})


def _card_plate(identifier: str) -> str:
    """Return the size of an ID on a card: beside the wall's name where it can, else above it."""
    beside = _plate_size(50, {"s": 14.6, "m": 9.8, "": 0}, identifier)
    return beside or _plate_size(74, {"l": 7.6, "xl": 5.4, "xxl": 3.2}, identifier)


_STEPS_KEPT = 20_000
"""Steps kept set; a job of 100 transits that share nothing has some 4,000, about 6 MB."""


def _content(said: Iterable[Message]) -> Hashable:
    """Return all that these messages become on a page."""
    return tuple([(message.text, *message.values.items()) for message in said])


def _attributes(line: Asked) -> Markup:
    """Return what a line to write down is, as attributes with a blank before each."""
    # Safe: the names are ours, the values escaped.
    return Markup("".join([f' data-{name}="{escape(value)}"' for name, value in line.attributes.items() if value]))


_KEPT = 20_000
"""Steps kept set; a job of 100 transits that share nothing has some 4,000, about 6 MB."""


def _keep(kept: dict[Hashable, Any], content: Hashable, made: object) -> None:
    if len(kept) >= _KEPT:
        kept.clear()
    kept[content] = made


class Pages:
    """Makes the pages of a work pack in one language.

    ``policy`` is left out only under ``serve``, whose live reload it would block; then nothing is kept on a
    phone either. ``languages`` are all those that the site has, the one that labels lead to first.
    """

    def __init__(self, work: WorkPack, locale: str, policy: bool = True, languages: Sequence[str] = ()) -> None:
        self.work = work
        self.words = Words(locale)
        self.languages = tuple(languages) or (self.words.language,)
        self.code = "" if self.words.language == self.languages[0] else self.words.language
        self._tables = Tables()
        self._environment = make_environment("transit", self.words)
        self._environment.globals.update(
            say=self.words.say,
            say_count=self.words.say_count,
            tell=self.words.tell,
            tell_all=self.words.tell_all,
            tell_plain=self.words.tell_plain,
            day=self.words.day,
            mm=format_mm,
            lang=self.words.language,
            in_english=Words(SOURCE_LANGUAGE).tell if self.words.is_draft else None,
            language_name=language_name,
            dir=self.words.direction,
            policy=POLICY if policy else "",
            classes=SERVICE_CLASSES,
            divisions=DIVISIONS,
            materials=MATERIALS,
            signals=SIGNALS,
            kinds=KINDS,
            parties=PARTIES,
            fixings=FIXINGS,
            weld_sides=WELD_SIDES,
            verdicts=VERDICTS,
            standing_sentence=STANDING_SENTENCE,
            id_width=_PHONE_PLATE,
            card_id_width=_card_plate,
            face_icon=_sign,
            job=work.definition.job,
            states=STATES,
        )
        self._environment.globals.update(
            set_step=self._set_step,
            show_caution=self._show_caution,
            show_bring=self._show_bring,
            draw_bolts=self._draw_bolts,
        )
        self._step: Any = self._environment.get_template("step.html").module
        self._caution: Any = self._environment.get_template("caution.html").module
        self._steps: dict[Hashable, tuple[Markup, Markup]] = {}
        self._bring: Any = self._environment.get_template("bring.html").module
        reading: Any = self._environment.get_template("reading.html").module
        self._readings = Readings(reading.cells)
        self._pieces: dict[Hashable, Markup] = {}

    def transit(self, transit_id: str) -> str:
        """Return the page of a transit."""
        pack = self.work.pack_of(transit_id)
        drawings = self._draw_both(pack)
        built = built_of(self.work, transit_id)
        here = addresses.transit_page(transit_id, self.code)
        home = [sheet.kept.record.record for sheet in built.sheets if sheet.kept.record]
        return self._show(
            "transit.html",
            here,
            pack,
            view(pack, self.words, self._readings),
            **drawings,
            built_as=built,
            built_drawings=self._draw_built(pack, built),
            adding=self._adding(pack, built),
            photo_links={digest: addresses.link(here, addresses.photo_file(digest)) for digest in built.photos},
            entering=as_data(pack, self._tables, home) if pack.can_be_built else None,
        )

    def _adding(self, pack: TransitPack, built: AsBuilt) -> Adding | None:
        found = self.work.reentries.get(pack.id)
        if found is None or found.why_not == "no layout":
            return None
        return adding_of(pack, found, built.layout is not None, self.words)

    def _draw_built(self, pack: TransitPack, built: AsBuilt) -> tuple[Markup, ...]:
        """Draw the layout as it was built, where it is another than planned: first from where it was worked."""
        if built.layout is None:
            return ()
        older = {old.revision: old.pack for old in self.work.superseded.get(pack.id, ())}
        judged = older.get(built.judged_by, pack).model_copy(update={"layout": built.layout})
        sides: tuple[Literal["working", "far"], ...] = ("far", "working") if built.side_changed else ("working",)
        # Safe: through the canvas, as in _draw. Ids of their own: the planned drawings stand on the same page.
        return tuple(Markup(draw_front(judged, side, self.words.say, "screen", again="built")) for side in sides)

    def revisions(self, transit_id: str) -> dict[str, Callable[[], str]]:
        """Return by revision how to make each page that a label may lead to: the current one leads on."""
        pack = self.work.pack_of(transit_id)
        older = self.work.superseded.get(transit_id, ())
        pages: dict[str, Callable[[], str]] = {old.revision: partial(self._superseded, old) for old in older}
        if pack.withdrawn:
            return {**pages, pack.revision: partial(self._withdrawn, pack)}
        if not pack.revision or self.code:  # a label leads to the first language; the page leads on
            return pages
        return {**pages, pack.revision: partial(self._lead, pack)}

    def answers(self) -> dict[str, Callable[[], str]]:
        """Return by address how to make each page that the worker answers with: what a phone does not have."""
        return {
            here: partial(self._answer, name, here)
            for here, name in zip(addresses.answer_pages(self.code), ("newer.html", "away.html"), strict=True)
        }

    def _answer(self, template: str, here: str) -> str:
        return self._environment.get_template(template).render(
            assets=addresses.link(here, addresses.ASSETS),
            others=self._others(here),
            entering=None,
            links={
                "overview": addresses.link(here, addresses.OVERVIEW),
                "find": addresses.link(here, addresses.FINDER),
            },
        )

    def _others(self, here: str) -> list[tuple[str, str]]:
        """Return the site's other languages, each with the link to this page in it."""
        first = here.removesuffix(f".{self.code}.html") + ".html" if self.code else here
        return [
            (language, addresses.link(here, addresses.in_language(first, language if place else "")))
            for place, language in enumerate(self.languages)
            if language != self.words.language
        ]

    def _superseded(self, old: Superseded) -> str:
        pack = old.pack
        return self._show(
            "transit.html",
            addresses.revision_page(pack.id, old.revision, self.code),
            pack,
            view(pack, self.words, self._readings),
            **self._draw_both(pack),
            revision=old.revision,
            superseded=old,
        )

    def _withdrawn(self, pack: TransitPack) -> str:
        here = addresses.revision_page(pack.id, pack.revision, self.code)
        return self._show("transit.html", here, pack, view(pack, self.words, self._readings), **self._draw_both(pack))

    def _lead(self, pack: TransitPack) -> str:
        here = addresses.revision_page(pack.id, pack.revision)
        return self._environment.get_template("lead.html").render(
            pack=pack,
            revision=pack.revision,
            assets=addresses.link(here, addresses.ASSETS),
            links={"transit": addresses.link(here, addresses.transit_page(pack.id))},
        )

    def card(self, transit_id: str) -> str:
        """Return a transit's cards for printing on A6: one, or as many as its type needs."""
        pack = self.work.pack_of(transit_id)
        say = self.words.say
        shown = view(pack, self.words, self._readings)
        code = float(make_code(label_text(pack.job.address, pack.id, pack.revision)).card_mm)
        scan = [say("Scan for the page.")]
        more = len(pack.cautions) - CAUTIONS
        if more > 0:
            scan.append(self.words.say_count("{number} more caution there.", "{number} more cautions there.", more))
        cards: tuple[Card, ...] = ()
        if pack.can_be_built and not pack.withdrawn:
            bays = [bay.bay for bay in pack.layout.bays] if isinstance(pack.layout, Layout) else [0]
            alone = len(bays) == 1
            cards = lay_out(
                {bay: self._draw(pack, "working", "card", None if alone else bay) for bay in bays},
                shown.rows,
                shown.tables,
                [closing.line for closing in shown.closings],
                self._short_cautions(pack),
                say(STANDING_SENTENCE),
                code,
                scan,
            )
        here = addresses.card_page(transit_id, self.code)
        beside = beside_code(code, scan)
        return self._show("card.html", here, pack, shown, cards=cards, scan=scan, beside=beside)

    def labels(self, wall_id: str, dpi: Dpi = 203) -> str:
        """Return a wall's sheets of labels of 25 and 40 mm, for a printer of 203 or 300 dots per inch."""
        job, say = self.work.definition.job, self.words.say
        packs = [pack for pack in self.work.on_wall(wall_id) if not pack.withdrawn]
        sheets: list[Sheet] = []
        for size in SIZES:
            labels = [
                make_label(
                    pack.id,
                    wall_id,
                    say("working side: {room}", room=pack.transit.working_side),
                    make_code(label_text(job.address, pack.id, pack.revision)),
                    size,
                    dpi,
                    say("REV"),
                    pack.revision or say("not issued"),
                )
                for pack in packs
            ]
            sheets += lay_out_sheets(labels, size, dpi)
        here = addresses.label_page(wall_id, dpi)
        other: Dpi = 300 if dpi == 203 else 203
        return self._environment.get_template("labels.html").render(
            wall_id=wall_id,
            dpi=dpi,
            other_dpi=other,
            dot=to_mm(1, dpi),
            sheets=sheets,
            not_issued=any(not pack.revision for pack in packs),
            assets=addresses.link(here, addresses.ASSETS),
            links={
                "wall": addresses.link(here, addresses.wall_page(wall_id)),
                "other": addresses.link(here, addresses.label_page(wall_id, other)),
            },
        )

    def _short_cautions(self, pack: TransitPack) -> list[ShortCaution]:
        words, english = self.words, Words(SOURCE_LANGUAGE)
        shown = []
        for caution in sorted(pack.cautions, key=lambda caution: (caution.rank, caution.id)):
            title, text = caution.card or (caution.title, None)
            beside = [english.tell_plain(message) for message in (title, text) if message and words.is_draft]
            shown.append(
                ShortCaution(
                    caution.signal,
                    words.tell_plain(title),
                    words.tell_plain(text) if text else "",
                    " ".join(part if part[-1] in ".?!" else f"{part}." for part in beside),
                )
            )
        return shown

    def _draw_both(self, pack: TransitPack) -> dict[str, Markup]:
        """Draw both sides for one page: the far one shows the blocks of the first once more."""
        return {
            "front": self._draw(pack, "working", "screen", blocks="lent"),
            "far": self._draw(pack, "far", "screen", blocks="taken"),
        }

    def _draw(
        self, pack: TransitPack, side: Side, medium: Medium, bay: int | None = None, blocks: Blocks = "own"
    ) -> Markup:
        if not pack.can_be_built:
            return Markup()
        # Safe: the drawing is made through the canvas, which escapes every text it is given.
        return Markup(draw_front(pack, side, self.words.say, medium, bay, blocks=blocks))

    def _draw_bolts(self, pack: TransitPack, bolts: Bolts, number: int) -> Markup:
        # Safe: the drawing is made through the canvas, which escapes every text it is given.
        return Markup(draw_bolts(pack, bolts, number, self.words.say))

    def _set_step(self, step: Step, row: RowLines | None) -> tuple[Markup, Markup]:
        """Set what a step is and its words. One that names nothing of its transit's own is the same on many pages."""
        said = _content([step.title, step.text, *step.reads, *step.tools])
        content = (step.key, step.kind, step.party, step.bay, step.row, len(step.reads), said)
        found = None if row else self._steps.get(content)
        if found is None:
            lines = zip(step.reads, map(_attributes, asked(step)), strict=True)
            found = self._step.opening(step, form_of(step)), self._step.words(step, lines, row)
            if row is None:
                _keep(self._steps, content, found)
        return found

    def _show_caution(self, told: Told) -> Markup:
        """Set a caution as it stands before one step."""
        caution = told.caution
        place = told.anchor if told.in_full else (told.anchor, told.at)
        content = (caution.signal, place, _content([caution.title, caution.text]))
        return self._once(content, lambda: self._caution.caution(told))

    def _show_bring(self, item: Bring) -> Markup:
        """Set a line of what to bring."""
        return self._once((item.amount, item.part, _content([item.name])), lambda: self._bring.bring(item))

    def _once(self, content: Hashable, words: Callable[[], str]) -> Markup:
        """Set once what is the same on many pages."""
        found = self._pieces.get(content)
        if found is None:
            found = Markup(words())  # from an escaping environment
            _keep(self._pieces, content, found)
        return found

    def _show(self, template: str, here: str, pack: TransitPack, shown: View, **more: object) -> str:
        def link(there: str) -> str:
            return addresses.link(here, there)

        revision = str(more.pop("revision", pack.revision))
        has_wall = pack.wall_id in self.work.definition.walls
        here_still = has_wall and pack.id in self.work.transits
        return self._environment.get_template(template).render(
            view=shown,
            pack=pack,
            revision=revision,
            superseded=more.pop("superseded", None),
            withdrawn=self.work.pack_of(pack.id).withdrawn,
            built_as=more.pop("built_as", None),
            adding=more.pop("adding", None),
            entering=more.pop("entering", None),
            code=make_code(label_text(pack.job.address, pack.id, revision)),
            assets=link(addresses.ASSETS),
            styles=link(addresses.TRANSIT_STYLES),
            scripts=link(addresses.transit_scripts(self.words.language)),
            others=self._others(here),
            links={
                "transit": link(addresses.transit_page(pack.id, self.code)),
                "card": link(addresses.card_page(pack.id, self.code)),
                "wall": link(addresses.wall_page(pack.wall_id)) if has_wall else "",
                "labels": link(addresses.label_page(pack.wall_id)) if here_still else "",
                "quality": link(addresses.quality_section(pack.wall_id, pack.id)) if here_still else "",
                "overview": link(addresses.OVERVIEW),
                "find": link(addresses.FINDER),
                "safety": link(addresses.SAFETY),
                "figures": link(addresses.FIGURES),
            },
            **more,
        )
