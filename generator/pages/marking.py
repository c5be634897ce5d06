"""The marking-out sheet of a wall: its elevation to a usual scale and every opening in a table, on A4 or A3."""

from dataclasses import dataclass
from typing import Literal, get_args

from markupsafe import Markup

from generator.drawing.parts import opening_of
from generator.drawing.wall_view import Paper, draw_on_paper
from generator.model.marking import Mark
from generator.model.pack import TransitPack, WorkPack
from generator.model.scalars import format_mm
from generator.pages import addresses
from generator.pages.places import keep_out_rows, name_of, nearest_text, size_text, tolerance_text
from generator.pages.render import POLICY, make_environment
from generator.pages.words import Words

Sheet = Literal["a4", "a3"]
SHEETS: tuple[Sheet, ...] = get_args(Sheet)
PAPERS: dict[Sheet, Paper] = {"a4": Paper("A4", 277, 88), "a3": Paper("A3", 400, 160)}
"""Lying sheets less 10 mm at each end; the elevation leaves room for its words and a short table."""


@dataclass(frozen=True)
class MarkRow:
    """One opening as it is marked out: text only, lengths in mm from the datum edges X and Y."""

    id: str
    revision: str
    x: str
    y: str
    to: str
    opening: str
    tolerance: str
    corner: str
    diagonal: str
    across: str
    up: str
    nearest: str
    existing: bool


def mark_row(pack: TransitPack, mark: Mark, words: Words) -> MarkRow:
    """Return what is marked out for one transit."""
    opening, outline, at = opening_of(pack), mark.outline, pack.transit.at
    diagonal = outline.diagonal
    radius = opening.corner_radius if opening else None
    return MarkRow(
        id=pack.id,
        revision=pack.revision,
        x=format_mm(at.x),
        y=format_mm(at.y),
        to=name_of(words, "end", at.to),
        opening=size_text(opening),
        tolerance=tolerance_text(opening),
        corner="–" if radius is None or outline.round else f"R {format_mm(radius)}",
        diagonal="–" if diagonal is None else format_mm(diagonal),
        across=f"{format_mm(outline.x - outline.width / 2)}–{format_mm(outline.x + outline.width / 2)}",
        up=f"{format_mm(outline.y - outline.height / 2)}–{format_mm(outline.y + outline.height / 2)}",
        nearest=nearest_text(mark, words),
        existing=pack.transit.existing_opening,
    )


class Marking:
    """Makes the marking-out sheets of a job in one language."""

    def __init__(self, work: WorkPack, words: Words, policy: bool = True) -> None:
        self.work = work
        self.words = words
        self._environment = make_environment("transit", words)
        self._environment.globals.update(
            say=words.say,
            mm=format_mm,
            lang=words.language,
            dir=words.direction,
            policy=POLICY if policy else "",
            job=work.definition.job,
        )

    def sheet(self, wall_id: str, sheet: Sheet) -> str:
        """Return a wall's marking-out sheet for lying paper of A4 or A3. KeyError for an unknown wall."""
        wall, packs = self.work.definition.walls[wall_id], self.work.on_wall(wall_id)
        drawing, scale = draw_on_paper(wall_id, wall, packs, self.words.say, PAPERS[sheet])
        here = addresses.marking_page(wall_id, sheet)
        other: Sheet = "a3" if sheet == "a4" else "a4"
        return self._environment.get_template("marking.html").render(
            wall_id=wall_id,
            wall=wall,
            sheet=sheet,
            paper=PAPERS[sheet].name,
            other=PAPERS[other].name,
            drawing=Markup(drawing),  # safe: the drawing escapes every text it is given
            scale=scale,
            rows=[mark_row(pack, self.work.marks[pack.id], self.words) for pack in packs],
            keep_outs=keep_out_rows(wall, self.words),
            issued=bool(packs) and all(pack.revision for pack in packs),
            assets=addresses.link(here, addresses.ASSETS),
            links={
                "wall": addresses.link(here, addresses.wall_page(wall_id)),
                "other": addresses.link(here, addresses.marking_page(wall_id, other)),
            },
        )
