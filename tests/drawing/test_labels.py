"""The rungs of lettering, one example each, and what must hold for every block."""

from hypothesis import given, settings
from hypothesis import strategies as st

from generator.drawing.labels import Labels, label_cable, label_filler, label_spare
from generator.drawing.sheet import CARD, SCREEN


def cable(side: float, radius: float, tag: str = "C-201", layers: tuple[str, str] | None = ("6", "5")) -> Labels:
    return label_cable(SCREEN, side, radius, tag, "Ø29.4", "2.1", "C", layers, 0)


def kinds(labels: Labels) -> tuple[set[str], set[str], set[str]]:
    return tuple({word.kind for word in words} for words in (labels.inside, labels.words, labels.over))  # type: ignore[return-value]


def test_first_rung_tag_and_diameter_inside() -> None:
    assert kinds(cable(100, 30)) == ({"tag", "diameter"}, {"position", "class", "A", "B"}, set())


def test_second_rung_tag_inside_diameter_under() -> None:
    assert kinds(cable(68, 18)) == ({"tag"}, {"diameter", "position", "class", "A", "B"}, set())


def test_third_rung_tag_under() -> None:
    assert kinds(cable(50, 11)) == (set(), {"tag", "position", "class"}, set())


def test_fourth_rung_tag_alone() -> None:
    inside, _, over = kinds(cable(37, 9))
    assert (inside, over) == (set(), {"tag"})


def test_fifth_rung_last_figure_of_the_position() -> None:
    found = cable(30, 7)
    assert kinds(found) == (set(), {"position", "class"}, set())
    assert found.words[0].parts[0][0] == "1"


def test_a_long_tag_leaves_position_and_layers() -> None:
    assert kinds(cable(100, 30, "W" * 40)) == (set(), {"position", "class", "A", "B"}, set())


def test_layers_are_not_said_when_they_are_measured_first() -> None:
    assert not {"A", "B"} & kinds(cable(100, 30, layers=None))[1]


def test_spares_and_fillers() -> None:
    assert kinds(label_spare(SCREEN, 75, "SPARE", "1.5"))[0] == {"spare"}
    assert kinds(label_spare(SCREEN, 48, "SPARE", "2.6"))[1] == {"spare", "position"}
    assert kinds(label_spare(SCREEN, 36, "SPARE", "3.6"))[1] == {"position"}
    assert label_filler(SCREEN, 36, "3.7").inside[0].parts[0][0] == "3.7"
    assert label_filler(SCREEN, 16, "3.7").inside[0].parts[0][0] == "7"
    assert not label_filler(SCREEN, 8, "3.7").inside


@settings(max_examples=300, deadline=None)
@given(
    st.sampled_from([SCREEN, CARD]),
    st.floats(0.3, 12),
    st.floats(0.05, 0.97),
    st.text("W1-gQ(", min_size=1, max_size=40),
    st.sampled_from(["1.1", "12.34", "3.12.40"]),
    st.sampled_from([None, ("0", "0"), ("12", "11")]),
    st.booleans(),
)
def test_words_of_any_block_stay_in_it_and_apart(sheet, blocks, share, tag, position, layers, flagged) -> None:  # type: ignore[no-untyped-def]
    side = blocks * 2 * sheet.least
    flag = side * 0.2 if flagged else 0
    found = label_cable(sheet, side, side * share / 2, tag, "Ø12.5–18.25", position, "C", layers, flag)
    words = found.words + found.over + found.inside
    for number, word in enumerate(words):
        assert word.size >= sheet.least
        assert max(-word.box.x, word.box.right, -word.box.y, word.box.bottom) <= side / 2
        assert not [other for other in words[number + 1 :] if other.box.meets(word.box)]
