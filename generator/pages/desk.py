"""The desk's pages: the job, each wall, safety and the finder, as escaped HTML for the theme to frame."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, get_args

from markupsafe import Markup

from generator.drawing.parts import opening_of
from generator.drawing.wall_view import draw_wall
from generator.errors import Problem
from generator.model.asbuilt import State
from generator.model.facts import meaning_of
from generator.model.job import Demands
from generator.model.layout import Layout, NoLayout, SealLayout
from generator.model.pack import TransitPack, WorkPack
from generator.model.procedure import Caution, HotRules, Message, Signal, Stated
from generator.model.scalars import format_mm
from generator.pages import addresses
from generator.pages.finder import by_letter, cable_passages
from generator.pages.places import keep_out_rows, name_of, nearest_text, size_text, tolerance_text
from generator.pages.render import make_environment
from generator.pages.states import STATES, built_of, progress_of
from generator.pages.view import STANDING_SENTENCE
from generator.pages.words import Words

SEVERITY: tuple[Signal, ...] = get_args(Signal)
"""Signal words, the gravest first."""


@dataclass(frozen=True)
class Counts:
    """The job in numbers. ``to_measure`` counts cables, ``without_layout`` transits."""

    walls: int
    transits: int
    cables: int
    assumed: int
    blocks: int
    spares: int
    fillers: int
    seals: int
    to_measure: int
    without_layout: int
    problems: int


def count_job(work: WorkPack) -> Counts:
    """Count a job. Blocks are those around a cable and the spares; fillers and split seals stand apart."""
    packs = work.transits.values()
    roles = Counter(
        placement.role for pack in packs if isinstance(pack.layout, Layout) for placement in pack.layout.placements
    )
    fits = [(tag, fit) for pack in packs for tag, fit in pack.fits.items()]
    return Counts(
        walls=len(work.definition.walls),
        transits=len(work.transits),
        cables=len(work.definition.cables),
        assumed=sum(cable.assumed for pack in packs for cable in pack.cables),
        blocks=roles["cable"] + roles["spare"],
        spares=roles["spare"],
        fillers=roles["filler"],
        seals=sum(isinstance(pack.layout, SealLayout) for pack in packs),
        to_measure=len({tag for tag, fit in fits if getattr(fit, "measure", False)}),
        without_layout=sum(isinstance(pack.layout, NoLayout) for pack in packs),
        problems=len(work.problems),
    )


VARIES = "…"
"""Stands in a shared text where a figure differs from transit to transit."""

LISTED = 30
"""Up to so many transits are named one by one; more are counted by wall, or 5,000 would fill the page."""


@dataclass(frozen=True)
class CautionEntry:
    """One caution as it reads for the whole job.

    ``caution`` has "…" for every figure that differs; ``transits`` gives those figures, a text for each
    transit ('' where none differs). ``steps`` are the steps it comes before.
    """

    caution: Caution
    steps: tuple[Message, ...]
    transits: dict[str, str]


def merge_messages(messages: Sequence[Message]) -> Message:
    """Return the one message that holds for all of ``messages``, which share their words."""
    first = messages[0]
    same = {
        name: value if all(other.values.get(name) == value for other in messages) else VARIES
        for name, value in first.values.items()
    }
    return Message(text=first.text, values=same)


def list_cautions(work: WorkPack) -> dict[Signal, tuple[CautionEntry, ...]]:
    """Collect every caution of every transit by signal word, the gravest first, each once."""
    found: dict[tuple[Any, ...], dict[str, Caution]] = {}
    steps: dict[tuple[Any, ...], dict[str, list[Message]]] = {}
    for pack in sorted_packs(work):
        before: dict[str, list[Message]] = {}
        for step in pack.steps:
            for caution in step.cautions:
                before.setdefault(caution.id, []).append(step.title)
        for caution in pack.cautions:
            key = (caution.rank, caution.id, caution.signal, caution.title.text, caution.text.text)
            found.setdefault(key, {})[pack.id] = caution
            titles = steps.setdefault(key, {})
            for title in before.get(caution.id, ()):
                titles.setdefault(title.text, []).append(title)
    entries = [
        _entry(found[key], tuple(merge_messages(same) for same in steps[key].values())) for key in sorted(found)
    ]
    return {signal: tuple(entry for entry in entries if entry.caution.signal == signal) for signal in SEVERITY}


def _entry(cautions: dict[str, Caution], steps: tuple[Message, ...]) -> CautionEntry:
    first = next(iter(cautions.values()))
    title = merge_messages([caution.title for caution in cautions.values()])
    text = merge_messages([caution.text for caution in cautions.values()])
    varying = [name for name, value in {**title.values, **text.values}.items() if value is VARIES]
    figures = {
        transit_id: ", ".join({**caution.title.values, **caution.text.values}[name] for name in varying)
        for transit_id, caution in cautions.items()
    }
    return CautionEntry(first.model_copy(update={"title": title, "text": text}), steps, figures)


@dataclass(frozen=True)
class TransitRow:
    """One transit as a row of its wall's table: text only, lengths in mm."""

    id: str
    tag: str
    kind: str
    fixing: str
    side: str
    x: str
    y: str
    to: str
    opening: str
    tolerance: str
    nearest: str
    existing: bool
    cables: int
    assumed: int
    spares: str
    problems: tuple[Problem, ...]
    state: State = "planned"
    revision: str = ""


def sort_problems(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Order problems: what stops the work first, then what wants a look; each by transit and place."""
    return tuple(sorted(set(problems), key=lambda p: (p.severity != "stop", p.transit or "", p.where, p.what)))


def sorted_packs(work: WorkPack) -> list[TransitPack]:
    """Return the transits of a job in the order of their IDs."""
    return [work.transits[transit_id] for transit_id in sorted(work.transits)]


class Desk:
    """The pages of one job at the desk. Each method returns the body of one page, escaped."""

    def __init__(self, work: WorkPack, words: Words) -> None:
        self.work = work
        self.words = words
        self._environment = make_environment("desk", words)
        self._environment.filters["meaning"] = self._meaning
        self._environment.globals.update(
            say=words.say,
            say_count=words.say_count,
            tell=words.tell,
            day_text=words.day,
            name_of=self._name_of,
            meaning=self._meaning,
            mm=format_mm,
            addresses=addresses,
            standing=STANDING_SENTENCE,
            states=STATES,
            state_of=lambda pack: built_of(work, pack.id).state,
        )

    def overview(self) -> Markup:
        """Return the job's page: counts, walls, what needs the planner, areas and days."""
        definition = self.work.definition
        walls = {wall_id: self.work.on_wall(wall_id) for wall_id in sorted(definition.walls)}
        areas: dict[str, list[str]] = {}
        for wall_id in walls:
            areas.setdefault(definition.walls[wall_id].area, []).append(wall_id)
        days: dict[date | None, list[TransitPack]] = {}
        for pack in sorted_packs(self.work):
            days.setdefault(pack.transit.day, []).append(pack)
        return self._render(
            "overview.html",
            addresses.OVERVIEW,
            counts=count_job(self.work),
            done=progress_of(self.work, sorted_packs(self.work)),
            closed_on={wall_id: progress_of(self.work, list(packs)).closed for wall_id, packs in walls.items()},
            walls=walls,
            areas={area: [pack for wall_id in ids for pack in walls[wall_id]] for area, ids in sorted(areas.items())},
            area_walls=areas,
            days=sorted(days.items(), key=lambda item: (item[0] is None, item[0] or date.min)),
            problems=sort_problems(self.work.problems),
        )

    def wall(self, wall_id: str) -> Markup:
        """Return a wall's page: what it is and demands, its elevation, its transits. KeyError if unknown."""
        wall = self.work.definition.walls[wall_id]
        packs = self.work.on_wall(wall_id)
        return self._render(
            "wall.html",
            addresses.wall_page(wall_id),
            wall_id=wall_id,
            wall=wall,
            demands=self._demands(wall.demands),
            conditions=sorted({*wall.conditions}),
            rows=[self._row(pack) for pack in packs],
            keep_outs=keep_out_rows(wall, self.words),
            notes=[pack for pack in packs if pack.transit.note or pack.transit.conditions],
            elevations=self._draw(wall_id),
        )

    def safety(self) -> Markup:
        """Return the safety page: what comes first, whom to call, every caution, what is not known."""
        return self._render(
            "safety.html",
            addresses.SAFETY,
            cautions=list_cautions(self.work),
            signals=SEVERITY,
            listed=LISTED,
            by_wall=self._count_by_wall,
            hot_work=[(rules, self._hot_figures(rules)) for rules in self.work.hot_work.values()],
        )

    def _hot_figures(self, rules: HotRules) -> list[tuple[str, str, Stated]]:
        """Return what rules for hot work say, a line each: what, its figure, where it stands."""
        say = self.words.say
        lines: list[tuple[str, str, Stated]] = []
        if far := rules.clear_m:
            lines.append((say("What can burn goes so far away"), say("{m} m", m=format_mm(far.value)), far))
        for what, time in (
            (say("Fire watch after the work"), rules.watch_min),
            (say("After the watch, look again for"), rules.checks_min),
            (say("These looks lie apart at most"), rules.every_min),
        ):
            if time:
                lines.append((what, say("{time} min", time=format_mm(time.value)), time))
        if far := rules.far_m:
            lines.append((say("Other side of walls, so far away"), say("{m} m", m=format_mm(far.value)), far))
        if rules.looks:
            lines.append((say("What else is looked at: its steps say it"), "", rules.looks))
        return lines

    def finder(self) -> Markup:
        """Return the finder: a search box for a browser with scripts, and the whole list for any."""
        return self._render(
            "finder.html",
            addresses.FINDER,
            packs=sorted_packs(self.work),
            letters=by_letter(cable_passages(self.work)),
        )

    def _render(self, template: str, here: str, **values: Any) -> Markup:
        def link(there: str) -> str:
            return addresses.link(here, there)

        text = self._environment.get_template(template).render(
            work=self.work, job=self.work.definition.job, link=link, **values
        )
        return Markup(text)  # from an autoescaping environment

    def _draw(self, wall_id: str) -> list[tuple[str, list[Markup]]]:
        """Draw a wall from both its sides.

        Each drawing comes twice, for a desk and for a phone: a drawing made smaller can't be read.
        """
        wall, packs = self.work.definition.walls[wall_id], self.work.on_wall(wall_id)
        return [
            # Safe: the drawing escapes every text it is given.
            (side, [Markup(draw_wall(wall_id, wall, packs, side, self.words.say, width)) for width in (860, 344)])
            for side in (wall.sides if packs or wall.keep_outs else ())
        ]

    def _count_by_wall(self, transits: Iterable[str]) -> list[tuple[str, int]]:
        return sorted(Counter(self.work.transits[transit_id].wall_id for transit_id in transits).items())

    def _meaning(self, fact: str) -> str:
        """Say what a condition means; a word of the planner's own stays as it is."""
        meaning = meaning_of(fact)
        return self.words.say(meaning) if meaning else fact

    def _name_of(self, kind: str, word: str) -> str:
        return name_of(self.words, kind, word)

    def _demands(self, demands: Demands) -> list[str]:
        """Say what a wall demands, a line each; what its owner wrote stays word for word."""
        say = self.words.say
        lines = []
        if demands.fire:
            lines.append(say("fire {rating}", rating=demands.fire))
        if demands.l_rating:
            lines.append(say("air that leaks, {rating}", rating=demands.l_rating.text))
        if demands.w_rating:
            lines.append(say("water, a W rating"))
        if demands.water_head_m is not None:
            lines.append(say("water, {head} m head", head=format_mm(demands.water_head_m)))
        if demands.water_bar is not None:
            lines.append(say("water, {pressure} bar", pressure=format_mm(demands.water_bar)))
        if demands.gas_mbar is not None:
            lines.append(say("gas, {pressure} mbar", pressure=format_mm(demands.gas_mbar)))
        elif demands.gas:
            lines.append(say("gas"))
        if demands.pressure_from:
            lines.append(say("pressed from {room}", room=demands.pressure_from))
        if demands.ip:
            lines.append(demands.ip)
        return [*lines, *demands.other]

    def _row(self, pack: TransitPack) -> TransitRow:
        transit, opening = pack.transit, opening_of(pack)
        body = "seal" if transit.split_seal else pack.catalogue.frames[transit.frame or ""].shape
        placements = pack.layout.placements if isinstance(pack.layout, Layout) else ()
        return TransitRow(
            id=pack.id,
            tag=transit.tag or "",
            kind=self._name_of("kind", body),
            fixing=self._name_of("fixing", transit.fixing),
            side=transit.working_side,
            x=format_mm(transit.at.x),
            y=format_mm(transit.at.y),
            to=self._name_of("end", transit.at.to),
            opening=size_text(opening),
            tolerance=tolerance_text(opening),
            nearest=nearest_text(self.work.marks.get(pack.id), self.words),
            existing=transit.existing_opening,
            cables=sum(not cable.assumed for cable in pack.cables),
            assumed=sum(cable.assumed for cable in pack.cables),
            spares="–"
            if isinstance(pack.layout, NoLayout)
            else str(sum(placement.role == "spare" for placement in placements)),
            problems=sort_problems(pack.problems),
            state=built_of(self.work, pack.id).state,
            revision=pack.revision,
        )
