"""Walls parsed back and compared with where their transits are."""

import re
import xml.etree.ElementTree as ElementTree
from decimal import Decimal
from math import hypot

import pytest

from generator.drawing.wall_view import Paper, draw_on_paper, draw_wall, spread_out
from generator.model.job import KeepOut, Spot
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
KEPT: dict[str, dict[str, object]] = {
    "post": {"kind": "other", "x": 4800, "y": 0, "width": 300, "height": 4300, "clear": 120},
    "door": {"kind": "door", "x": 3620, "y": 0, "width": 960, "height": 2150, "clear": 100},
    "S1": {"kind": "stiffener", "x": 1000, "y": 0, "width": 12, "height": 4300, "clear": 60},
    "seam": {"kind": "weld-seam", "x": 0, "y": 2296, "width": 9800, "height": 8, "clear": 0},
    "rail": {"kind": "service", "x": 5220, "y": 3600, "width": 9000, "height": 200, "clear": 110},
    "pipe": {"kind": "service", "x": 7000, "y": 1480, "diameter": 410, "clear": 110},
}
HELD = sample_packs.WALL.model_copy(
    update={
        "width": Decimal(9800),
        "height": Decimal(4300),
        "keep_outs": {name: KeepOut.model_validate(what) for name, what in KEPT.items()},
    }
)
WALLS = {
    "kept": (HELD, TEN),
    "kept, open": (HELD.model_copy(update={"width": None, "height": None}), TEN[:3]),
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


@both_widths
@pytest.mark.parametrize("first", [True, False])
def test_keep_outs_stand_where_they_are_measured(width: int, first: bool) -> None:
    """A face of 9800 x 4300 is as wide as its outline: every mm of wall is 1 / 9800 of that."""
    root = drawn("kept", first, width)
    face = next(box_of(e) for e in elements(root) if e.tag == "rect" and "heavy" in e.classes)
    mm = (face.right - face.left) / 9800
    shown = {
        e.groups[-1]["data-keep-out"]: box_of(e)
        for e in elements(root)
        if e.tag in ("rect", "circle") and "there" in e.classes
    }
    edges = {  # left, right, lower, upper in mm from the datum; the rail ends where the wall does
        "door": (3620, 4580, 0, 2150),
        "S1": (1000, 1012, 0, 4300),
        "rail": (5220, 9800, 3600, 3800),
        "pipe": (6795, 7205, 1275, 1685),  # 7000 and 1480, less and more half of 410
    }
    assert shown.keys() == edges.keys()
    for name, (left, right, low, high) in edges.items():
        x = (left, right) if first else (9800 - right, 9800 - left)
        box = shown[name]
        assert box.left == pytest.approx(face.left + x[0] * mm, abs=0.03)
        assert box.right == pytest.approx(face.left + x[1] * mm, abs=0.03)
        assert box.bottom == pytest.approx(face.bottom - low * mm, abs=0.03)
        assert box.top == pytest.approx(face.bottom - high * mm, abs=0.03)
    told = root.findtext("{http://www.w3.org/2000/svg}desc") or ""
    assert "Keep-out pipe: Ø 410, x 7000, y 1480 to its centre, 110 mm clear round it." in told
    assert "Keep-out door: 960 × 2150, x 3620, y 0 to its lower left corner, 100 mm clear round it." in told


@both_widths
@pytest.mark.parametrize("first", [True, False])
def test_an_id_hides_no_short_keep_out_and_the_keep_out_has_its_name(width: int, first: bool) -> None:
    """A foot of 1200 x 60 lies 114 mm above two openings, between beams: their IDs cover at most a tenth of it."""
    foot = {"kind": "service", "x": 1000, "y": 3620, "width": 1200, "height": 60, "clear": 60}
    beams = {
        f"beam {x}": {"kind": "stiffener", "x": x, "y": 0, "width": 14, "height": 4800, "clear": 80}
        for x in (900, 2300)
    }
    kept = {name: KeepOut.model_validate(what) for name, what in {**beams, "foot": foot}.items()}
    wall = HELD.model_copy(update={"width": Decimal(6400), "height": Decimal(4800), "keep_outs": kept})
    packs = tuple(placed(FRAME, f"D1-00{n}", x, 3300, "lower-left") for n, x in ((1, 1240), (2, 1860)))
    root = read(draw_wall("D1", wall, packs, wall.sides[0 if first else 1], same, width))
    (there,) = (
        box_of(e)
        for e in elements(root)
        if e.tag == "rect" and "there" in e.classes and e.groups[-1].get("data-keep-out") == "foot"
    )
    words = {box.what: box for _, box in words_of(root)}
    assert {"D1-001", "D1-002", "foot"} <= words.keys()
    for name in ("D1-001", "D1-002"):
        wide = min(there.right, words[name].right) - max(there.left, words[name].left)
        high = min(there.bottom, words[name].bottom) - max(there.top, words[name].top)
        hidden = max(0.0, wide) * max(0.0, high)
        assert hidden <= 0.1 * (there.right - there.left) * (there.bottom - there.top)


def test_what_stays_clear_is_hatched_as_far_as_it_goes() -> None:
    root = drawn("kept", True, 960)
    face = next(box_of(e) for e in elements(root) if e.tag == "rect" and "heavy" in e.classes)
    mm = (face.right - face.left) / 9800
    dashed = {e.groups[-1]["data-keep-out"]: box_of(e) for e in elements(root) if "dash-dot" in e.classes}
    assert dashed["post"].left == pytest.approx(face.left + 4680 * mm, abs=0.03)  # 4800 - 120
    assert dashed["post"].right == pytest.approx(face.left + 5220 * mm, abs=0.03)  # 4800 + 300 + 120
    assert dashed["pipe"].right - dashed["pipe"].left == pytest.approx(630 * mm, abs=0.03)  # 410 + 2 x 110
    hatched = set()
    for element in elements(root):
        name = element.groups[-1].get("data-keep-out") if element.groups else None
        if name and element.tag == "path" and "hair" in element.classes:
            hatched.add(name)
            numbers = [float(number) for number in re.findall(r"[-.0-9]+", element.node.attrib["d"])]
            ends = [] if name == "door" else list(zip(numbers[::2], numbers[1::2], strict=True))
            for x, y in ends:
                assert dashed[name].left - 0.05 <= x <= dashed[name].right + 0.05
                assert dashed[name].top - 0.05 <= y <= dashed[name].bottom + 0.05
                if name == "pipe":  # no line leaves the circle
                    middle = (
                        (dashed[name].left + dashed[name].right) / 2,
                        (dashed[name].top + dashed[name].bottom) / 2,
                    )
                    assert hypot(x - middle[0], y - middle[1]) == pytest.approx(315 * mm, abs=0.05)
    assert hatched == {"post", "door", "S1", "rail", "pipe"}  # the seam keeps nothing clear


@pytest.mark.parametrize(
    ("tallest", "scale"),
    # The face is 9800 x 4300. Paper of 277 less some 10 for words takes 9800 at 1:50 (196) and not at 1:25 (392).
    [(88, 50), (86, 50), (85, 100), (43, 100), (42, 200)],  # 4300 / 50 = 86, / 100 = 43, / 200 = 21.5
)
def test_paper_is_to_the_usual_scale_that_fits(tallest: float, scale: int) -> None:
    svg, told = draw_on_paper("W3", HELD, TEN, same, Paper("A4", 277, tallest))
    root = read(svg)
    face = next(box_of(e) for e in elements(root) if e.tag == "rect" and "heavy" in e.classes)
    _, _, wide, _ = map(float, root.attrib["viewBox"].split())
    assert told == scale
    assert (face.right - face.left) / wide * 277 * scale == pytest.approx(9800, abs=1)


def test_the_words_name_every_transit() -> None:
    for name, (_, packs) in WALLS.items():
        told = drawn(name, True, 960).findtext("{http://www.w3.org/2000/svg}desc") or ""
        assert all(f"{pack.id}: opening " in told for pack in packs)


def test_labels_spread_only_as_far_as_they_must() -> None:
    assert spread_out([10, 50, 90], [20, 20, 20], 0, 100) == [10, 50, 90]
    assert spread_out([50, 50, 50], [20, 20, 20], 0, 200) == [50, 70, 90]
    assert spread_out([95, 99], [20, 20], 0, 100) == [70, 90]
