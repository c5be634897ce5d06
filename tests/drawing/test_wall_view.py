"""Walls parsed back and compared with where their transits are."""

import xml.etree.ElementTree as ElementTree
from decimal import Decimal

import pytest

from generator.drawing.wall_view import draw_wall, spread_out
from generator.model.job import Spot
from generator.model.pack import TransitPack
from tests import sample_packs
from tests.drawing.svg_reader import Box, box_of, elements, read, words_of


def same(text: str) -> str:
    return text


def placed(pack: TransitPack, id: str, x: int, y: int, to: str) -> TransitPack:
    spot = Spot.model_validate({"x": x, "y": y, "to": to})
    return pack.model_copy(update={"id": id, "transit": pack.transit.model_copy(update={"at": spot})})


FRAME, ROUND, SEAL = sample_packs.welded(), sample_packs.round_frame(), sample_packs.split_seal()
TEN = (
    placed(FRAME, "B2-014", 620, 2480, "lower-left"),
    placed(FRAME, "B2-015", 1180, 2480, "lower-left"),
    placed(ROUND, "B2-016", 1790, 2585, "centre"),
    placed(FRAME, "B2-017", 2300, 2480, "lower-left"),
    placed(FRAME, "B2-018", 2860, 2480, "centre"),
    placed(ROUND, "B2-019", 5640, 1440, "centre"),
    placed(FRAME, "B2-020", 6040, 1340, "lower-left"),
    placed(FRAME, "B2-021", 7680, 2860, "lower-left"),
    placed(SEAL, "B2-022", 8420, 2960, "centre"),
    placed(SEAL, "B2-023", 8960, 2960, "lower-left"),
)
CROWD = tuple(
    placed(SEAL, f"C9-CROWD-{number:03}", 300 + number * 90, 300 + 37 * (number * 7 % 100), "centre")
    for number in range(100)
)
WALLS = {
    "ten": (sample_packs.WALL, TEN),
    "crowd": (sample_packs.WALL, CROWD),
    "deck": (sample_packs.DECK, (sample_packs.deck_two_bays(),)),
    "bare": (sample_packs.WALL, ()),
    "outside": (sample_packs.WALL, (placed(SEAL, "B2-099", -400, -150, "centre"),)),
}
every_wall = pytest.mark.parametrize("name", list(WALLS))
both_widths = pytest.mark.parametrize("width", [344, 960])


def drawn(name: str, first: bool, width: int) -> ElementTree.Element:
    wall, packs = WALLS[name]
    return read(draw_wall("W3", wall, packs, wall.sides[0 if first else 1], same, width))


def openings(root: ElementTree.Element) -> dict[str, Box]:
    return {
        element.groups[-1]["data-transit"]: box_of(element)
        for element in elements(root)
        if element.tag in ("rect", "circle") and "opening" in element.classes
    }


@every_wall
@both_widths
@pytest.mark.parametrize("first", [True, False])
def test_openings_stand_to_scale_where_they_are_measured(name: str, width: int, first: bool) -> None:
    """Scale and origin come from the wall's own outline, or from the opening's size where it has none."""
    wall, packs = WALLS[name]
    root = drawn(name, first, width)
    shown = openings(root)
    assert shown.keys() == {pack.id for pack in packs}
    datum = [box_of(element) for element in elements(root) if "datum" in element.classes]
    zero_x, zero_y = (datum[0].left + datum[0].right) / 2, (datum[1].top + datum[1].bottom) / 2
    scale = float(next(e.node.attrib["data-scale"] for e in elements(root) if "data-scale" in e.node.attrib))
    if wall.width is not None:
        outline = next(box_of(e) for e in elements(root) if e.tag == "rect" and "heavy" in e.classes)
        assert outline.right - outline.left == pytest.approx(float(wall.width) * scale, abs=0.02)
    holes = {"SW-144x180": (170, 206), "SO-170": (172, 172), "SZ-68": (68, 68), "SW-2x144x180": (324, 206)}
    for pack in packs:
        wide, high = (Decimal(v) for v in holes[pack.transit.frame or pack.transit.split_seal or ""])
        at = pack.transit.at
        left = at.x - wide / 2 if at.to == "centre" else at.x
        low = at.y - high / 2 if at.to == "centre" else at.y
        x = float(left + wide / 2) * scale
        box = shown[pack.id]
        assert (box.left + box.right) / 2 == pytest.approx(zero_x + x if first else zero_x - x, abs=0.03)
        assert (box.top + box.bottom) / 2 == pytest.approx(zero_y - float(low + high / 2) * scale, abs=0.03)
        assert box.right - box.left == pytest.approx(float(wide) * scale, abs=0.02)


@every_wall
@both_widths
def test_words_stay_apart_and_on_the_sheet(name: str, width: int) -> None:
    for first in (True, False):
        root = drawn(name, first, width)
        _, _, wide, high = map(float, root.attrib["viewBox"].split())
        words = [box for _, box in words_of(root)]
        for number, box in enumerate(words):
            assert Box(0, 0, wide, high).holds(box, 0.2), box
            assert not [other for other in words[number + 1 :] if box.meets(other, 0.3)], box
        ids = {pack.id for pack in WALLS[name][1]}
        holes = openings(root).values()
        for box in words:
            if box.what in ids:
                assert not [hole for hole in holes if hole.meets(box, 0.1)]


def test_ten_transits_have_their_names_and_coordinates() -> None:
    words = [box.what for _, box in words_of(drawn("ten", True, 960))]
    assert {pack.id for pack in TEN} <= set(words)
    assert {f"{pack.transit.at.x}" for pack in TEN} <= set(words)
    assert {f"{pack.transit.at.y}" for pack in TEN} <= set(words)


def test_the_words_name_every_transit() -> None:
    for name, (_, packs) in WALLS.items():
        told = drawn(name, True, 960).findtext("{http://www.w3.org/2000/svg}desc") or ""
        assert all(f"{pack.id}: opening " in told for pack in packs)


def test_labels_spread_only_as_far_as_they_must() -> None:
    assert spread_out([10, 50, 90], [20, 20, 20], 0, 100) == [10, 50, 90]
    assert spread_out([50, 50, 50], [20, 20, 20], 0, 200) == [50, 70, 90]
    assert spread_out([95, 99], [20, 20], 0, 100) == [70, 90]
