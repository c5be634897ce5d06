"""Numbers, escaping, ids, millimetres to the sheet; svgwrite's validator judges what is written."""

import xml.etree.ElementTree as ElementTree
from decimal import ROUND_HALF_EVEN, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from svgwrite.validator2 import get_validator

from generator.drawing.canvas import Canvas, View, escape, number, own_id
from generator.drawing.front_view import draw_front
from generator.drawing.symbols import CLASS_LETTERS, face_icon
from tests import sample_packs
from tests.drawing.svg_reader import SVG, elements, read

SIZES = st.decimals(min_value=-100000, max_value=100000, places=4, allow_nan=False)


@given(SIZES)
def test_numbers_have_two_decimals_at_most_and_no_trailing_zeros(value: Decimal) -> None:
    """Judge: decimal's own rounding of the same value."""
    text = number(value)
    assert Decimal(text) == value.quantize(Decimal("0.01"), ROUND_HALF_EVEN)
    assert not ("." in text and text.endswith(("0", ".")))
    assert text != "-0" and "e" not in text.lower()


@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"], exclude_characters="\ufffe\uffff")))
def test_any_text_comes_back_as_it_was(text: str) -> None:
    """Judge: Python's XML parser reads the same text from content and from an attribute."""
    found = ElementTree.fromstring(f'<t a="{escape(text)}">{escape(text)}</t>')
    assert found.get("a") == text
    assert (found.text or "") == text


@given(st.text())
def test_ids_are_plain_words(text: str) -> None:
    made = own_id(text, "metal")
    assert made.isascii() and made.replace("-", "").isalnum() and made[0].isalpha()


@given(SIZES, SIZES, st.floats(min_value=0.01, max_value=10))
def test_a_mirrored_view_is_the_mirror_image(x: Decimal, y: Decimal, scale: float) -> None:
    near, far = View(20, 300, scale), View(324, 300, scale, mirrored=True)
    assert near.right(x) + far.right(x) == pytest.approx(344)
    assert near.up(y) == far.up(y)
    assert near.up(y) <= 300 if y >= 0 else near.up(y) >= 300
    box, other = near.box(x, y, 10, 20), far.box(x, y, 10, 20)
    assert box.x + other.right == pytest.approx(344)
    assert (box.width, box.height) == (10 * scale, 20 * scale)


def test_a_drawing_cannot_end_with_an_open_group() -> None:
    pen = Canvas({})
    pen.begin("row")
    with pytest.raises(AssertionError):
        pen.markup()


OURS = {"role", "aria-labelledby", "aria-hidden", "focusable", "xmlns"}
"""Attributes of HTML and ARIA, of which SVG 1.1 (what svgwrite knows) says nothing."""


@pytest.mark.parametrize("make", sample_packs.ALL)
@pytest.mark.parametrize("medium", ["screen", "card"])
def test_svgwrite_finds_every_element_and_attribute_valid(make, medium) -> None:
    """Judge: svgwrite's validator for SVG 1.1 full."""
    judge = get_validator("full", debug=True)
    for side in ("working", "far"):
        root = read(draw_front(make(), side, str, medium))
        for node in root.iter():
            tag = node.tag.removeprefix(SVG)
            for name, value in node.attrib.items():
                if not name.startswith("data-") and name not in OURS:
                    judge.check_svg_attribute_value(tag, name, value)
            for child in node:
                assert judge.is_valid_children(tag, child.tag.removeprefix(SVG))


@pytest.mark.parametrize("what", [*CLASS_LETTERS, "spare", "filler"])
def test_icons_have_no_ids_and_say_nothing(what) -> None:
    root = ElementTree.fromstring(face_icon(what))
    assert not [node for node in root.iter() if node.get("id")]
    assert root.get("aria-hidden") == "true"
    assert len(list(elements(root))) > 1


def test_icons_differ() -> None:
    icons = [face_icon(what) for what in (*CLASS_LETTERS, "spare", "filler")]
    assert len(set(icons)) == len(icons)
