"""The section "Add a cable later" of a transit's page, and the command that answers for one diameter.

Judge: the layout of B2-017 as tests/test_worked_transits.py works it out by hand: rows 72, 48 and 18 from below, a
plate on every row, spares 1.5 (36), 2.6 (24) and 3.6 to 3.8 (18); five cables in row 3, five in row 2, none of them
above 1.5 in its own column. Its rows of 138 leave no room for a block of 48.
"""

from functools import cache

import pytest

from generator.cli import main
from generator.model.pack import WorkPack
from generator.model.reentry import Reentry
from generator.pages.adding import WHY_NOT
from generator.pages.render import Pages
from generator.workpack import with_reentries
from tests.demo import DEMO, demo, demo_with_reentries
from tests.pages.reading import Document, Element

ROW_3 = "D-401, D-402, D-403, F-501, F-502"


@cache
def work() -> WorkPack:
    return demo_with_reentries()


def section(transit: str) -> Element:
    document = Document(Pages(work(), "en").transit(transit))
    (found,) = [element for element in document.elements if element.attributes.get("id") == "add"]
    return found


def words(element: Element) -> str:
    return " ".join(element.text.split())


def test_every_size_with_its_place_and_what_comes_out() -> None:
    lines = {
        words(body.inside[1]): words(body)
        for body in section("B2-017").inside
        if body.name == "tbody" and body.inside
    }
    assert set(lines) == {"18", "24", "36", "48", "72", "96"}
    assert "4.3–9.9" in lines["18"] and "spare 3.6" in lines["18"] and "1 row plate, no row" in lines["18"]
    assert "new halves" not in lines["18"]
    assert "spare 2.6" in lines["24"] and "row 3; 2 row plates" in lines["24"]
    assert f"new halves for 5 cables: {ROW_3}" in lines["24"]
    assert "MB-24, bonded MB-24-E" in lines["24"]
    assert "spare 1.5" in lines["36"] and "rows 3, 2; 3 row plates" in lines["36"]
    assert f"new halves for 10 cables: {ROW_3}, C-201, C-202, I-301, I-302, I-303" in lines["36"]
    assert "pipe MB-36-P" in lines["36"]
    assert "no room" in lines["48"]


def test_steps_in_order_with_cautions_before_them() -> None:
    text = words(section("B2-017"))
    order = [
        "Worked out from the layout as planned.",
        "Local codes, the permit and the licensed person",
        "Get leave to open B2-017",
        "Have the temporary closure ready",
        "Have the cables made dead, or watched",
        "Pressed rubber and tight bolts store force",
        "Loosen the clamping unit, little by little",
        "Take out row plates and rows from the top down",
        "Pull the new cable",
        "Put the rows back, count, close and test",
        "Then all from step",
    ]
    places = [text.index(words_) for words_ in order]
    assert places == sorted(places)


def test_it_is_folded_and_no_step_of_its_own_is_taken_for_one_of_the_page() -> None:
    found = section("B2-017")
    (details,) = [element for element in found.inside if element.name == "details"]
    assert "open" not in details.attributes
    named = {element.attributes["id"] for element in found.inside if "id" in element.attributes}
    assert all(name.startswith("caution-again-") for name in named)
    assert not [element for element in found.inside if "step" in element.classes]


def test_a_split_seal_says_that_it_takes_one_cable() -> None:
    assert WHY_NOT["split seal"] in words(section("B2-022"))


def test_what_was_built_with_other_parts_or_cables_is_not_worked_out() -> None:
    pack = work().transits["B2-017"]
    for changed in (
        {"catalogue": pack.catalogue.model_copy(update={"edition": "2"})},
        {"cables": pack.cables[1:]},
    ):
        other = work().model_copy(update={"transits": {**work().transits, pack.id: pack.model_copy(update=changed)}})
        found: Reentry = with_reentries(other).reentries[pack.id]
        assert found.why_not == ("another system" if "catalogue" in changed else "unknown cables")
        assert found.lines == ()


def test_without_a_layout_there_is_no_section() -> None:
    page = Pages(demo(), "en").transit("B2-017")
    assert 'id="add"' not in page  # nor where nobody worked it out


def test_the_command_says_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["one-more", str(DEMO), "B2-017", "13.5", "--class", "control"]) == 0
    said = capsys.readouterr().out
    assert "B2-017: place 2.6, block MB-24, in place of a spare" in said
    assert "rows to take out:       3\n" in said and "row plates to take out: 2\n" in said
    assert ROW_3 in said and "1 MB-24 (new cable)" in said and "5 MB-18 (new halves)" in said
    assert said.index("WARNING: Pressed rubber") < said.index("Loosen the clamping unit")


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (["B2-017", "60"], 3, "there is no room for the new cable"),
        (["B2-022", "6"], 3, "takes one cable"),
        (["B2-107", "6"], 2, "did you mean B2-017?"),
        (["B2-017", "12,5"], 2, "is no diameter"),
        (["B2-017", "6", "--class", "powr"], 2, "there is no class"),
    ],
)
def test_the_command_says_what_is_wrong(
    arguments: list[str], code: int, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["one-more", str(DEMO), *arguments]) == code
    said = capsys.readouterr()
    assert says in said.out + said.err


def test_a_bore_that_holds_a_plug_only_is_named_and_left_to_the_planner() -> None:
    """Judge: by hand. D-491 and D-492 share an MB-36-3, which has three bores; the pairs of B4-031 fill their MB-24-2."""
    assert "Bore 1.4c holds a plug only" in words(section("B7-061"))
    assert "plug only" not in words(section("B4-031"))
