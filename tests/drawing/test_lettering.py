"""Widths and heights against the typeface itself, read by FreeType."""

import pytest

from generator.drawing.lettering import reach, text_width, wrap
from generator.drawing.plex_widths import BY_WIDTH
from tests.drawing.svg_reader import font, ink_box


@pytest.mark.parametrize("weight", [300, 400, 600, 700])
def test_every_width_is_the_typefaces(weight: int) -> None:
    """Judge: FreeType's advance of every letter of the committed fonts."""
    for width, letters in BY_WIDTH[weight].items():
        for letter in letters:
            known = {font(weight).getlength(letter), font(700 if weight >= 600 else 400, True).getlength(letter)}
            assert width in known, letter


@pytest.mark.parametrize("weight", [300, 400, 600, 700])
def test_no_letter_reaches_farther_than_is_said(weight: int) -> None:
    for letters in BY_WIDTH[weight].values():
        for letter in letters:
            if not letter.isascii() and letter not in "Ø–×±·~":
                continue  # accents reach farther; lines are set apart by more than they need
            _, top, _, bottom = ink_box(letter, weight)
            above, below = reach(letter)
            slack = 55 if letter == "Ø" else 25  # the ends of its bar: half a px at 11 px
            assert -top <= above * 1000 + slack, letter
            assert bottom <= below * 1000 + slack, letter


def test_a_line_is_as_wide_as_its_letters() -> None:
    for text in ("C-201", "Ø27.6", "SPARE", "1.2.10", "Clamping unit"):
        assert text_width(text, 16, 600) == pytest.approx(16 * ink_box(text, 600)[2] / 1000)


def test_wrapped_lines_fit_and_lose_nothing() -> None:
    for text in ("the long quay with the two yellow cranes", "W" * 40, "a", "MM " * 13, "x" * 39 + " y"):
        for width in (20, 60, 140, 1000):
            lines = wrap(text, width, 12, 600)
            assert "".join(lines).replace(" ", "") == text.replace(" ", "")
            assert all(text_width(line, 12, 600) <= width or len(line) == 1 for line in lines)
