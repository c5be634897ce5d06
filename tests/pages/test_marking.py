"""The marking-out sheet: what stands in its tables is what a person would work out from the job."""

from decimal import Decimal

from generator.engine.marking import mark_out
from generator.model.job import KeepOut
from generator.model.marking import Nearest, Outline
from generator.model.pack import TransitPack, WorkPack
from generator.pages.marking import Marking, mark_row
from generator.pages.places import keep_out_rows, nearest_text
from generator.pages.words import Words
from tests import sample_packs
from tests.pages.desk_samples import small_job
from tests.pages.reading import Document

WORDS = Words("en")
HOSTILE = '<script>alert(1)</script>"&{{7*7}}'


def marked(keep_out: str = "post") -> tuple[WorkPack, TransitPack]:
    work = small_job()
    post = KeepOut.model_validate({"kind": "other", "x": 2590, "y": 0, "width": 80, "height": 4000, "clear": 120})
    wall = work.definition.walls["W3"].model_copy(update={"keep_outs": {keep_out: post}})
    definition = work.definition.model_copy(update={"walls": {**work.definition.walls, "W3": wall}})
    work = work.model_copy(update={"definition": definition, "marks": mark_out(wall, work.on_wall("W3"))})
    return work, next(pack for pack in work.on_wall("W3") if pack.id == "B2-017")


def test_a_row_is_worked_out_by_hand() -> None:
    work, pack = marked()
    row = mark_row(pack, work.marks[pack.id], WORDS)
    # Opening 170 x 206 whose lower left corner is at 2300, 2480. Root of 28900 + 42436 = 71336: 267.09.
    assert (row.x, row.y, row.to, row.opening, row.tolerance) == ("2300", "2480", "lower left", "170 × 206", "±2")
    assert row.diagonal == "267"
    assert row.across == "2300–2470" and row.up == "2480–2686"


def test_the_nearest_is_never_said_to_be_farther_than_it_is() -> None:
    mark = mark_out(sample_packs.WALL, [sample_packs.welded()])["B2-017"]
    near = Nearest(what="keep-out", name="post", distance=Decimal("119.96"))
    assert nearest_text(mark.model_copy(update={"nearest": near}), WORDS) == "119 to post"
    edge = Nearest(what="edge", name="left", distance=Decimal(300))
    assert nearest_text(mark.model_copy(update={"nearest": edge}), WORDS) == "300 to the left edge"
    assert nearest_text(None, WORDS) == "–"


def test_diagonals() -> None:
    def diagonal(wide: int, high: int, is_round: bool = False) -> Decimal | None:
        return Outline(x=Decimal(0), y=Decimal(0), width=Decimal(wide), height=Decimal(high), round=is_round).diagonal

    assert diagonal(300, 400) == 500  # the 3, 4, 5 of builders
    assert diagonal(322, 206) == 382  # root of 103684 + 42436 = 146120: 382.3
    assert diagonal(172, 172, True) is None


def test_the_sheet_names_every_opening_and_keep_out() -> None:
    work, _ = marked(HOSTILE[:40])
    html = Marking(work, WORDS).sheet("W3", "a4")
    page = Document(html)
    for pack in work.on_wall("W3"):
        assert pack.id in page.text
    assert HOSTILE[:40] in page.text and "<script>" not in html
    assert "not issued" in page.text
    (row,) = keep_out_rows(work.definition.walls["W3"], WORDS)
    assert (row.x, row.y, row.size, row.clear, row.kind) == ("2590", "0", "80 × 4000", "120", "other")
