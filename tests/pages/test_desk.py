"""The desk's pages: counts against the samples counted by hand, hostile text, links, and what must be said."""

import re
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from generator.errors import Problem, Where
from generator.model.catalogue import Opening
from generator.model.job import Demands
from generator.model.layout import Layout
from generator.model.pack import WorkPack
from generator.model.procedure import Caution, Message
from generator.pages import addresses
from generator.pages.desk import (
    Desk,
    count_job,
    list_cautions,
    size_text,
    sort_problems,
    tolerance_text,
)
from generator.pages.words import Words
from tests import sample_packs
from tests.pages.desk_samples import CAUTIONS, LOOK, STOP, WHOLE_JOB, large_job, named_job, pack_work, small_job
from tests.pages.reading import Document, leads_to

ASSETS = Path(__file__).parents[2] / "site_templates" / "assets"


def pages(work: WorkPack, language: str = "en") -> dict[str, str]:
    desk = Desk(work, Words(language))
    made = {addresses.OVERVIEW: desk.overview(), addresses.SAFETY: desk.safety(), addresses.FINDER: desk.finder()}
    made |= {addresses.wall_page(wall_id): desk.wall(wall_id) for wall_id in work.definition.walls}
    return {address: str(html) for address, html in made.items()}


# -- counts


def test_counts_are_those_counted_by_hand() -> None:
    # Counted on the drawings of tests/sample_packs.py. B2-017: 14 cables, 3 spares, 2 fillers; D1-004 has
    # that twice; B2-022: one split seal; B2-019 has no layout here. Tags: 14 of B2-017 (again in bay 1 of
    # D1-004), 14 of bay 2, 7 of B2-019, 1 of B2-022. C-202 and C-9202 are to be measured.
    counts = count_job(small_job())
    assert (counts.walls, counts.transits, counts.cables, counts.assumed) == (2, 4, 14 + 14 + 7 + 1, 1)
    assert (counts.blocks, counts.spares, counts.fillers, counts.seals) == (3 * (14 + 3), 3 * 3, 3 * 2, 1)
    assert (counts.to_measure, counts.without_layout, counts.problems) == (2, 1, 4)


def test_every_count_stands_on_the_overview() -> None:
    page = Document(pages(small_job())[addresses.OVERVIEW])
    cells = [" ".join(item.text.split()) for item in page.all("ul", "counts")[0].inside if item.name == "li"]
    assert cells == [
        "2 walls and decks",
        "4 transits",
        "36 cables of the schedule 1 more assumed",
        "51 blocks of these 9 spare · 6 fillers · 1 split seal",
        "2 cables to be measured before peeling",
        "1 transit without a layout",
        "4 need you",
    ]


def test_a_wall_has_a_cell_for_each_transit_and_a_flag_for_each_that_needs_someone() -> None:
    page = Document(pages(small_job())[addresses.OVERVIEW])
    rows = [item for item in page.all("ul", "walls")[0].inside if item.name == "li"]
    seen = {}
    for row in rows:
        cells = next(item for item in row.inside if "cells" in item.classes)
        signs = Counter(cls for item in cells.inside for cls in item.classes & {"cell", "flag"})
        seen[next(item.text for item in row.inside if "wall-id" in item.classes)] = (signs["cell"], signs["flag"])
    assert seen == {"D1": (1, 0), "W3": (0, 3)}


def test_areas_and_days_add_up() -> None:
    page = Document(pages(small_job())[addresses.OVERVIEW])
    tables = [
        [
            [" ".join(c.text.split()) for c in row.inside if c.name in ("th", "td")]
            for row in t.inside
            if row.name == "tr"
        ]
        for t in page.all("table")
    ]
    assert tables[0][1:] == [["Cellar", "D1 W3", "4", "3"]]
    assert tables[1][1:] == [["14 May 2031", "1", "B2-017"], ["no day planned", "3", "B2-019 B2-022 D1-004"]]


# -- what needs the planner


def test_problems_stop_first_and_each_once() -> None:
    other = Problem(Where("a.csv"), "b", "c", "d", "look", "A-1")
    assert sort_problems([WHOLE_JOB, LOOK, other, STOP, LOOK]) == (STOP, WHOLE_JOB, other, LOOK)


def test_needs_you_gives_what_why_mend_and_place() -> None:
    page = Document(pages(small_job())[addresses.OVERVIEW])
    lines = [" ".join(item.text.split()) for item in page.all("li", "problem")]
    assert len(lines) == 4
    assert lines[1].startswith("B2-022 W3 is 8 mm thick, the fixing takes 10 to 20 mm Why: a fixing holds only in")
    assert lines[1].endswith(
        "Mend: choose a fixing that takes 8 mm, or ask the designer of the wall transits.yaml, line 88, column 7"
    )
    assert "cables.csv, line 14, column 7" in lines[3]
    assert [heading.text for heading in page.all("h3")] == ["Stops the work", "Wants a look"]


def test_a_job_without_problems_says_so_and_has_no_flag_but_the_legend_of_it() -> None:
    welded = sample_packs.welded()
    work = pack_work({welded.id: welded}, {"W3": sample_packs.WALL}, problems=())
    page = Document(pages(work)[addresses.OVERVIEW])
    assert page.all("p", "empty")[0].text.startswith("Nothing:")
    assert len(page.all("svg", "flag")) == 1
    assert not page.all("li", "now")


def test_not_issued_is_said_on_overview_and_walls() -> None:
    made = pages(small_job())
    for address in (addresses.OVERVIEW, addresses.wall_page("W3"), addresses.wall_page("D1")):
        assert "Not issued." in Document(made[address]).text, address


# -- a wall


def test_wall_table_holds_the_figures_of_the_definition() -> None:
    page = Document(pages(small_job())[addresses.wall_page("W3")])
    rows = [
        [" ".join(c.text.split()) for c in row.inside if c.name in ("th", "td")]
        for row in page.all("table", "transits")[0].inside
        if row.name == "tr"
    ][1:]
    # All three samples lie at the same place, so each is 0 from another. Openings and tolerances as in CATALOGUE of tests/sample_packs.py: the frame's own, or the sleeve's.
    assert [row[:11] for row in rows] == [
        ["B2-017 Pump feed, upper", "frame welded in", "Pump hall", "2300", "2480", "lower left",
         "170 × 206", "±2", "0 to B2-019", "14 1 assumed", "3"],
        ["B2-019", "round frame gripping sleeve", "Cable cellar", "2300", "2480", "lower left",
         "Ø 172", "+1 / −0", "0 to B2-017", "7", "–"],
        ["B2-022", "split seal gripping sleeve", "Pump hall", "2300", "2480", "lower left",
         "Ø 68", "+0.5 / −0", "0 to B2-017", "1", "0"],
    ]  # fmt: skip
    assert "6 mm too low" in rows[1][11] and "W3 is 8 mm thick" in rows[2][11]


def test_a_wall_says_what_it_demands_and_that_its_structure_needs_approval() -> None:
    text = Document(pages(small_job())[addresses.wall_page("W3")]).text
    for words in ("fire A-60", "water, 1.2 m head", "steel, 8 mm", "column face, grid 4", "left: river",
                  "designer of the structure has approved"):  # fmt: skip
        assert words in text, words
    plain = sample_packs.WALL.model_copy(update={"structural": False, "demands": Demands()})
    welded = sample_packs.welded()
    work = pack_work({welded.id: welded}, {"W3": plain})
    text = Document(pages(work)[addresses.wall_page("W3")]).text
    assert "designer of the structure" not in text and "none stated" in text


def test_a_wall_without_transits_says_so() -> None:
    work = pack_work({}, {"W9": sample_packs.WALL})
    assert "No transit passes this wall." in pages(work)[addresses.wall_page("W9")]


@pytest.mark.parametrize(
    ("given", "size", "tolerance"),
    [
        ({"width": "170", "height": "206.5", "plus": "2", "minus": "2"}, "170 × 206.5", "±2"),
        ({"diameter": "68", "plus": "0.5", "minus": "0"}, "Ø 68", "+0.5 / −0"),
    ],
)
def test_openings_are_written_as_on_a_drawing(given: dict[str, str], size: str, tolerance: str) -> None:
    opening = Opening.model_validate(given)
    assert (size_text(opening), tolerance_text(opening)) == (size, tolerance)


def test_a_wall_is_drawn_from_both_its_sides() -> None:
    made = pages(small_job())
    # Each for desk and phone; on D1 all work is done from the first side.
    for wall_id, sides in (
        ("W3", ["first", "first", "second", "second"]),
        ("D1", ["first", "first"] + ["second"] * 2),
    ):
        drawings = Document(made[addresses.wall_page(wall_id)]).all("svg", "drawing-wall")
        assert [svg.attributes["data-side"] for svg in drawings] == sides
        for svg in drawings:
            for pack in small_job().on_wall(wall_id):
                assert pack.id in svg.text


# -- safety


def test_cautions_stand_by_severity_with_place_and_source() -> None:
    entries = list_cautions(small_job())
    assert list(entries) == ["danger", "warning", "caution", "notice"]
    assert {entry.caution.title.text: tuple(entry.transits) for group in entries.values() for entry in group} == {
        "Fire behind the wall": ("B2-017",),
        "The spanner can slip under load": ("B2-017", "B2-019", "D1-004"),
        "Sharp edge": ("B2-017", "B2-022"),
        "Chips on the seal": ("B2-017", "B2-022"),
    }
    page = Document(pages(small_job())[addresses.SAFETY])
    words = [heading.text for heading in page.all("h3", "signal-word")]
    assert words == ["Danger", "Warning", "Caution", "Notice"]
    for entry in page.all("article"):
        assert "Source" in entry.text and "common practice, no source" in entry.text
    assert "Tighten the bolts in turn" in page.text


def test_figures_that_differ_stand_beside_their_transit() -> None:
    def heavy(mass: str) -> Caution:
        text = Message(text="The piece weighs {mass}; cut with {tool}.", values={"mass": mass, "tool": "a saw"})
        return CAUTIONS[0].model_copy(update={"text": text, "when": ("opening:cut",), "unless": ("overhead",)})

    welded, seal = sample_packs.welded(), sample_packs.split_seal()
    packs = {
        welded.id: welded.model_copy(update={"cautions": (heavy("14 kg"),)}),
        seal.id: seal.model_copy(update={"cautions": (heavy("0.3 kg"),)}),
    }
    work = pack_work(packs, {"W3": sample_packs.WALL})
    (entry,) = list_cautions(work)["danger"]
    assert entry.transits == {"B2-017": "14 kg", "B2-022": "0.3 kg"}
    text = Document(pages(work)[addresses.SAFETY]).text
    assert "The piece weighs …; cut with a saw." in text and "B2-017 14 kg B2-022 0.3 kg" in text
    assert "the opening is made now not: the work is above the head, or the blocks can fall on someone" in text


def test_many_transits_are_counted_by_wall() -> None:
    work = large_job()
    (entry,) = list_cautions(work)["danger"]
    by_wall = Counter(work.transits[id].wall_id for id in entry.transits)
    assert len(entry.transits) > 30
    article = Document(pages(work)[addresses.SAFETY]).all("article")[0]
    for wall_id, number in by_wall.items():
        assert f"{wall_id} {number} transit" in article.text


def test_safety_opens_with_who_comes_first_and_whom_to_call() -> None:
    work = small_job(job=named_job(emergency="Site control, telephone 0100"))
    page = Document(pages(work)[addresses.SAFETY])
    assert page.all("section")[0].text.strip().startswith("Local codes, the permit and the licensed person on site")
    text = page.text
    assert "Wallwork never says that a seal is approved" in text and "Site control, telephone 0100" in text
    assert text.index("come first") < text.index("Fire behind the wall")
    assert "The job names nobody." in Document(pages(small_job())[addresses.SAFETY]).text


# -- hostile text, links, words

HOSTILE = "<script>alert({})</script>\"'><img src=x onerror=alert(1)>{{{{7*7}}}}&amp;[x](javascript:alert(1))"


def _hostile_work() -> tuple[WorkPack, dict[str, list[str]]]:
    """Return a job with hostile text in every free field, and per page what must be read on it."""
    n = iter(range(1000))
    seen: dict[str, list[str]] = {"overview": [], "wall": [], "safety": [], "finder": []}

    def bad(*where: str) -> str:
        text = HOSTILE.format(next(n))
        for page in where:
            seen[page].append(text)
        return text

    problem = Problem(
        Where(bad("overview", "wall"), 3, 4),
        bad("overview", "wall"),
        bad("overview", "wall"),
        bad("overview", "wall"),
        "look",
        "B2-017",
    )
    caution = Caution(
        id="bad",
        signal="danger",
        title=Message(text=bad("safety")),
        text=Message(text="{figure}", values={"figure": bad("safety")}),
        card=None,
        rank=1,
        source=bad("safety"),
    )
    first, second = bad("overview", "wall"), bad("overview", "wall")
    wall = sample_packs.WALL.model_copy(
        update={
            "area": bad("overview", "wall"),
            "sides": (first, second),
            "landmarks": sample_packs.WALL.landmarks.model_copy(update={"left": bad("wall"), "right": bad("wall")}),
            "up": bad("wall"),
            "datum": sample_packs.WALL.datum.model_copy(update={"x": bad("wall"), "y": bad("wall")}),
            "demands": Demands().model_copy(update={"fire": bad("wall"), "ip": bad("wall"), "other": (bad("wall"),)}),
            "note": bad("wall"),
            "conditions": (bad("wall"),),
        }
    )
    welded = sample_packs.welded()
    step = welded.steps[0].model_copy(update={"title": Message(text=bad("safety")), "cautions": (caution,)})
    transit = welded.transit.model_copy(
        update={
            "tag": bad("wall", "finder"),
            "working_side": first,
            "note": bad("wall"),
            "conditions": (bad("wall"),),
        }
    )
    cable = welded.cables[0].model_copy(update={"tag": bad("finder"), "transits": ("B2-017",)})
    pack = welded.model_copy(
        update={
            "transit": transit,
            "wall": wall,
            "cables": (cable, *welded.cables[1:]),
            "steps": (step,),
            "cautions": (caution,),
            "problems": (problem,),
        }
    )
    job = named_job(
        name=bad("overview", "safety", "finder"),
        number=bad("overview"),
        client=bad("overview"),
        place=bad("overview"),
        emergency=bad("safety"),
        note=bad("overview"),
    )
    work = WorkPack.model_construct(
        definition=small_job().definition.model_copy(
            update={"job": job, "walls": {"W3": wall}, "transits": {"B2-017": transit}, "cables": (cable,)}
        ),
        transits={"B2-017": pack},
        phases=(),
        problems=(problem,),
    )
    return work, seen


def _page_kind(address: str) -> str:
    return {addresses.OVERVIEW: "overview", addresses.SAFETY: "safety", addresses.FINDER: "finder"}.get(
        address, "wall"
    )


def test_hostile_text_of_every_field_is_shown_as_text_and_is_nothing_else() -> None:
    work, seen = _hostile_work()
    everything = [element for html in pages(small_job()).values() for element in Document(html).elements]
    for address, html in pages(work).items():
        page, kind = Document(html), _page_kind(address)
        for text in seen[kind]:
            assert " ".join(text.split()) in page.text, f"{kind}: {text} was lost"
        assert {e.name for e in page.elements} - {"bdi"} <= {e.name for e in everything}
        assert not [name for e in page.elements for name in e.attributes if name.startswith("on") or name == "style"]
        assert all("javascript:" not in href for href in page.attributes("href"))


def test_links_are_relative_and_lead_to_pages_of_the_site() -> None:
    work = small_job()
    made = pages(work)
    there = {*made, addresses.FINDER_DATA, addresses.MATERIAL}
    there |= {addresses.transit_page(id) for id in work.transits}
    there |= {addresses.label_page(id, dpi) for id in work.definition.walls for dpi in (203, 300)}
    there |= {addresses.REGISTER}
    there |= {addresses.QUALITY, addresses.FIGURES, *(addresses.quality_page(id) for id in work.definition.walls)}
    there |= {addresses.marking_page(id, sheet) for id in work.definition.walls for sheet in ("a4", "a3")}
    there |= {f"assets/{path.relative_to(ASSETS).as_posix()}" for path in ASSETS.rglob("*")}
    for address, html in made.items():
        page = Document(html)
        for href in [*page.attributes("href"), *page.attributes("src")]:
            target = leads_to(address, href)
            assert target in there, f"{address} leads to {href}"
            name = href.partition("#")[2]
            if name and target in made:
                assert name in Document(made[target]).attributes("id"), f"{address}: nothing is called {href}"


def test_every_transit_can_be_reached_from_its_wall_and_from_the_finder() -> None:
    work = small_job()
    made = pages(work)
    for id, pack in work.transits.items():
        for address in (addresses.wall_page(pack.wall_id), addresses.FINDER, addresses.OVERVIEW):
            reached = {leads_to(address, href) for href in Document(made[address]).attributes("href")}
            assert addresses.transit_page(id) in reached, (id, address)


def test_ids_of_a_page_are_unique_and_no_page_runs_anything_inline() -> None:
    for address, html in pages(small_job()).items():
        page = Document(html)
        ids = page.attributes("id")
        assert len(ids) == len(set(ids)), address
        assert not page.all("style"), address
        for element in page.elements:
            assert not [name for name in element.attributes if name.startswith("on") or name == "style"], address
        for script in page.all("script"):
            assert script.attributes["src"] and not script.text, address


def test_every_word_of_the_desk_passes_through_gettext() -> None:
    # The pseudo-language brackets every message; what stands outside brackets must come from the job.
    work = small_job()
    allowed = re.compile(r"[\s\d·,.:/×Ø±+−–XYxy#-]*")
    own = _texts_of(work)
    for address, html in pages(work, "qps").items():
        html = re.sub(r"<svg.*?</svg>", " ", html, flags=re.DOTALL)  # drawings have a test of their own
        rest = re.sub(r"⟦[^⟦⟧]*⟧", " ", Document(html).text)
        for text in own:
            rest = rest.replace(text, " ")
        assert allowed.fullmatch(rest), f"{address}: {rest.split()}"


def _texts_of(work: WorkPack) -> list[str]:
    """Return every text of the job, longest first, for taking out of a page."""
    found: set[str] = set()

    def walk(value: Any) -> None:
        if isinstance(value, str):
            found.add(" ".join(value.split()))
        elif isinstance(value, dict):
            for key, item in value.items():
                walk(key)
                walk(item)
        elif isinstance(value, list | tuple | set | frozenset):
            for item in value:
                walk(item)

    walk(work.definition.model_dump())
    walk([cable.tag for pack in work.transits.values() for cable in pack.cables])
    walk([(p.what, p.why, p.mend, p.where.file) for p in work.problems])
    walk([[c.source, *c.when, *c.unless] for pack in work.transits.values() for c in pack.cautions])
    walk([letter for pack in work.transits.values() for letter in {cable.tag[0] for cable in pack.cables}])
    walk([[p.layout.what, p.layout.why, p.layout.mend] for p in work.transits.values() if p.layout.kind == "none"])
    walk([Words("qps").day(pack.transit.day) for pack in work.transits.values() if pack.transit.day])
    assert not any(isinstance(pack.layout, Layout) and pack.layout.note for pack in work.transits.values())
    return sorted((text for text in found if text), key=len, reverse=True)
