"""Screws round a body carry their own numbers, clockwise from the top: the ones that steps and records use."""

from math import atan2, pi

import pytest

from generator.drawing.canvas import Canvas
from generator.drawing.sheet import SHEETS
from generator.drawing.symbols import draw_screws
from tests.drawing.svg_reader import elements, read


@pytest.mark.parametrize("count", [1, 3, 4, 8, 12])
def test_screws_are_numbered_clockwise_from_the_top(count: int) -> None:
    sheet = SHEETS["screen"]
    canvas = Canvas(sheet.looks)
    draw_screws(canvas, sheet, (100, 100), 50, count, 16)
    drawing = elements(read(canvas.svg(200, 200, "", "t", "d", "drawing", {})))
    at = {
        int(found.node.text or ""): (found.number("x") - 100, found.number("y") - 100 - 0.35 * sheet.least)
        for found in drawing
        if found.tag == "text"
    }
    assert sorted(at) == list(range(1, count + 1))
    turned = [atan2(round(x, 1), -round(y, 1)) % (2 * pi) for _, (x, y) in sorted(at.items())]
    assert turned == pytest.approx([2 * pi * place / count for place in range(count)], abs=0.01)
