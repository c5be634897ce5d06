"""Drawings parsed back and compared with the layout they show."""

import json
import xml.etree.ElementTree as ElementTree
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import pytest

from generator.drawing.front_view import draw_front
from generator.model.layout import Layout, Placement, SealLayout
from generator.model.pack import TransitPack
from tests import sample_packs
from tests.drawing.odd_packs import HOSTILE, ODD
from tests.drawing.svg_reader import Box, Element, box_of, elements, read, words_of

SAMPLES: dict[str, Callable[[], TransitPack]] = {make.__name__: make for make in sample_packs.ALL}
PACKS = {**SAMPLES, **ODD}
SIDES = ("working", "far")
MEDIA = ("screen", "card")
LEAST = {"screen": 11, "card": 2.6}  # px on a phone of 360, mm on paper
ROUNDING = {"screen": 0.011, "card": 0.011}  # two decimals, twice


def same(text: str) -> str:
    return text


@lru_cache
def pack_of(name: str) -> TransitPack:
    return PACKS[name]()


@lru_cache
def drawn(name: str, side: str, medium: str) -> str:
    return draw_front(pack_of(name), side, same, medium)


@lru_cache
def parsed(name: str, side: str, medium: str) -> ElementTree.Element:
    return read(drawn(name, side, medium))


every_drawing = pytest.mark.parametrize(
    ("name", "side", "medium"), [(name, side, medium) for name in PACKS for side in SIDES for medium in MEDIA]
)


def bays_of(root: ElementTree.Element) -> dict[int, Box]:
    """Where each bay lies on the sheet: the first rectangle of its group."""
    found = {}
    for element in elements(root):
        if element.tag == "rect" and "bay" in element.groups[-1].get("class", "").split():
            found.setdefault(int(element.groups[-1]["data-bay"]), box_of(element))
    return found


@dataclass
class Block:
    """A block on the sheet: its group, what is drawn in it, the words on it."""

    group: Element
    parts: list[Element]
    words: list[Box]

    @property
    def edge(self) -> Box:
        return box_of(next(part for part in self.parts if part.tag == "rect" and "edge" in part.classes))

    @property
    def faces(self) -> list[Element]:
        return [part for part in self.parts if "face" in part.classes]


@lru_cache
def words_on(name: str, side: str, medium: str) -> list[tuple[Element, Box]]:
    return words_of(parsed(name, side, medium))


@lru_cache
def blocks_of(name: str, side: str, medium: str) -> list[Block]:
    found: dict[int, Block] = {}
    for element in elements(parsed(name, side, medium)):
        if element.tag == "g" and "block" in element.classes:
            found[id(element.node.attrib)] = Block(element, [], [])
        elif element.groups and id(element.groups[-1]) in found:
            found[id(element.groups[-1])].parts.append(element)
    for element, box in words_on(name, side, medium):
        for group in element.groups:
            if id(group) in found:
                found[id(group)].words.append(box)
    return list(found.values())


@every_drawing
def test_every_block_stands_where_the_layout_says_exactly_once(name: str, side: str, medium: str) -> None:
    layout = pack_of(name).layout
    root = parsed(name, side, medium)
    blocks = blocks_of(name, side, medium)
    if not isinstance(layout, Layout):
        assert len(blocks) == (1 if isinstance(layout, SealLayout) else 0)
        return
    bays = bays_of(root)
    cables = {cable.tag: cable for cable in pack_of(name).cables}
    assert Counter(block.group.node.get("data-position") for block in blocks) == Counter(
        placement.position for placement in layout.placements
    )
    by_position = {placement.position: placement for placement in layout.placements}
    for drawn_block in blocks:
        block = drawn_block.group
        placement: Placement = by_position[block.node.attrib["data-position"]]
        bay = next(bay for bay in layout.bays if bay.bay == placement.bay)
        shown = bays[placement.bay]
        scale = (shown.right - shown.left) / float(bay.width)
        middle_x = float(placement.x + placement.size / 2) * scale
        middle_y = float(placement.y + placement.size / 2) * scale
        expected_x = shown.left + middle_x if side == "working" else shown.right - middle_x
        assert block.x == pytest.approx(expected_x, abs=ROUNDING[medium] * 2)
        assert block.y == pytest.approx(shown.bottom - middle_y, abs=ROUNDING[medium] * 2)
        edge = drawn_block.edge
        assert edge.right - edge.left == pytest.approx(float(placement.size) * scale, abs=ROUNDING[medium] * 2)
        assert (edge.left + edge.right) / 2 == pytest.approx(block.x, abs=ROUNDING[medium])
        assert (edge.top + edge.bottom) / 2 == pytest.approx(block.y, abs=ROUNDING[medium])
        faces = drawn_block.faces
        if placement.role == "cable":
            cable = cables[placement.cable or ""]
            assert len(faces) == 1
            assert faces[0].number("r") == pytest.approx(float(cable.likely) / 2 * scale, abs=ROUNDING[medium])
            assert cable.service in block.classes
            assert ("assumed" in block.classes) == cable.assumed
            assert ("measure" in block.classes) == (placement.fit is not None and placement.fit.measure)
        else:
            assert not faces
        told = {key.removeprefix("data-"): value for key, value in block.node.attrib.items() if "data-" in key}
        assert told == {
            "position": placement.position,
            "bay": str(placement.bay),
            "row": str(placement.row),
            "size": str(placement.size),
            "role": placement.role,
            **({"cable": placement.cable} if placement.cable else {}),
        }


@every_drawing
def test_the_far_side_is_the_exact_mirror(name: str, side: str, medium: str) -> None:
    """Every block and every bay: x and x of the other side add up to the width of the sheet."""
    if side == "far":
        return
    near, far = parsed(name, "working", medium), parsed(name, "far", medium)
    width = float(near.attrib["viewBox"].split()[2])
    assert far.attrib["viewBox"].split()[2] == near.attrib["viewBox"].split()[2]
    near_bays, far_bays = bays_of(near), bays_of(far)
    assert near_bays.keys() == far_bays.keys()
    for bay, box in near_bays.items():
        assert far_bays[bay].left == pytest.approx(width - box.right, abs=0.021)
        assert far_bays[bay].bottom - far_bays[bay].top == pytest.approx(box.bottom - box.top, abs=0.021)
    there = {block.group.node.get("data-position"): block.group for block in blocks_of(name, "far", medium)}
    fall = {}
    for block in [block.group for block in blocks_of(name, "working", medium)]:
        mirrored = there[block.node.get("data-position")]
        assert mirrored.x == pytest.approx(width - block.x, abs=0.021)
        fall.setdefault(block.node.get("data-bay"), set()).add(round(mirrored.y - block.y, 1))
    for shifts in fall.values():  # the same heights, below a banner of another height
        assert max(shifts) - min(shifts) < 0.11


@every_drawing
def test_rows_are_counted_left_of_the_blocks_and_on_the_far_side_right(name: str, side: str, medium: str) -> None:
    root = parsed(name, side, medium)
    bays = bays_of(root)
    layout = pack_of(name).layout
    counted = [
        (element, box)
        for element, box in words_on(name, side, medium)
        if element.inside("count") and element.inside("row")
    ]
    for element, box in counted:
        bay = bays[int(next(group["data-bay"] for group in element.groups if "data-bay" in group))]
        assert box.right < bay.left if side == "working" else box.left > bay.right
    if isinstance(layout, Layout):
        rows = {(str(bay.bay), str(row.number)) for bay in layout.bays for row in bay.rows}
        shown = set()
        for element, box in counted:
            row = next(group for group in reversed(element.groups) if "data-row" in group)
            if box.what == row["data-row"]:
                shown.add((row["data-bay"], row["data-row"]))
        assert shown == rows


@every_drawing
def test_no_word_meets_another_or_leaves_its_place(name: str, side: str, medium: str) -> None:
    """The boxes of ink, from the typeface itself: apart, on the sheet, words of a block inside that block."""
    root = parsed(name, side, medium)
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    sheet = Box(0, 0, width, height)
    words = words_on(name, side, medium)
    slack = 0.02 * LEAST[medium]
    for element, box in words:
        assert sheet.holds(box, slack), box
        assert element.number("font-size") >= LEAST[medium], box
    for number, (_, box) in enumerate(words):
        for _, other in words[number + 1 :]:
            assert not box.meets(other, slack), (box, other)
    for block in blocks_of(name, side, medium):
        if block.group.node.get("data-position"):
            assert all(block.edge.holds(box, slack) for box in block.words), (block.edge, block.words)


@every_drawing
def test_nothing_is_drawn_outside_the_sheet(name: str, side: str, medium: str) -> None:
    root = parsed(name, side, medium)
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    sheet = Box(0, 0, width, height)
    for element in elements(root):
        if element.tag in ("rect", "circle"):
            assert sheet.holds(box_of(element), 0.02), element


@every_drawing
def test_words_beside_a_cable_keep_off_it(name: str, side: str, medium: str) -> None:
    """Inside or beside, but only the lowest three tenths of a cable's radius may lie under its own tag."""
    for found in blocks_of(name, side, medium):
        block, faces = found.group, found.faces
        if not faces:
            continue
        r = faces[0].number("r")
        for box in found.words:
            near_x = max(box.left - block.x, block.x - box.right, 0)
            near_y = max(box.top - block.y, block.y - box.bottom, 0)
            far_x = max(block.x - box.left, box.right - block.x)
            far_y = max(block.y - box.top, box.bottom - block.y)
            inside = (far_x**2 + far_y**2) ** 0.5 <= r + 0.05
            beside = (near_x**2 + near_y**2) ** 0.5 >= r - 0.05
            over = box.top >= block.y + 0.7 * r - 0.05
            assert inside or beside or over, (box, block.x, block.y, r)


@every_drawing
def test_a_strict_content_policy_changes_nothing(name: str, side: str, medium: str) -> None:
    for node in parsed(name, side, medium).iter():
        assert node.tag.rsplit("}", 1)[-1] in {
            "svg", "title", "desc", "defs", "pattern", "g", "rect", "circle", "path", "text", "tspan",
        }  # fmt: skip
        for attribute, value in node.attrib.items():
            assert attribute != "style"
            assert not attribute.lower().startswith("on")
            assert "href" not in attribute
            assert "url(" not in value or value.startswith("url(#")


@every_drawing
def test_ids_are_own_and_every_reference_leads_somewhere(name: str, side: str, medium: str) -> None:
    root = parsed(name, side, medium)
    ids = [node.attrib["id"] for node in root.iter() if "id" in node.attrib]
    assert len(ids) == len(set(ids))
    used = {value[5:-1] for node in root.iter() for value in node.attrib.values() if value.startswith("url(#")} | set(
        root.attrib["aria-labelledby"].split()
    )
    assert used <= set(ids)
    assert root.attrib["role"] == "img"


def test_drawings_of_one_page_never_share_an_id() -> None:
    seen: Counter[str] = Counter()
    for name in SAMPLES:
        for side in SIDES:
            for medium in MEDIA:
                seen.update(node.attrib["id"] for node in parsed(name, side, medium).iter() if "id" in node.attrib)
    assert max(seen.values()) == 1


@pytest.mark.parametrize("name", ["hostile", "seal-hostile"])
def test_hostile_names_are_only_text(name: str) -> None:
    for side in SIDES:
        svg = drawn(name, side, "screen")
        assert "<script" not in svg
        root = read(svg)
        told = root.findtext("{http://www.w3.org/2000/svg}desc") or ""
        assert HOSTILE in told
        assert any(node.get("data-cable") == HOSTILE for node in root.iter())


def test_a_drawing_is_the_same_every_time() -> None:
    for name in SAMPLES:
        again = draw_front(PACKS[name](), "working", same, "screen")
        assert again == drawn(name, "working", "screen")


@pytest.mark.parametrize("name", [name for name in PACKS if isinstance(PACKS[name]().layout, Layout)])
def test_the_words_say_row_by_row_what_is_where(name: str) -> None:
    """Every block, in the order of insertion, with its cable; every letter of it also for the far side."""
    layout = pack_of(name).layout
    assert isinstance(layout, Layout)
    for side in SIDES:
        told = parsed(name, side, "screen").findtext("{http://www.w3.org/2000/svg}desc") or ""
        at = 0
        for placement in layout.placements:
            name_of = {"spare": "spare", "filler": "filler"}.get(placement.role, placement.cable)
            at = min(found for found in (told.find(f"{mark} {placement.position} {name_of}", at) for mark in ":;")
                     if found >= 0)  # fmt: skip
        assert ("from left to right" if side == "working" else "from right to left") in told


@pytest.mark.parametrize("name", list(PACKS))
def test_the_banner_names_the_side_and_swaps_the_landmarks(name: str) -> None:
    pack = pack_of(name)
    for side in SIDES:
        root = parsed(name, side, "screen")
        width = float(root.attrib["viewBox"].split()[2])
        words = words_of(root)
        text = " ".join(box.what for _, box in words)
        assert ("SEEN FROM WORKING SIDE" in text) == (side == "working")
        assert ("SEEN FROM FAR SIDE — MIRRORED" in text) == (side == "far")
        if name == "long-names":
            continue  # broken into lines there
        left, right = pack.landmarks if side == "working" else pack.landmarks[::-1]
        assert all(box.right < width / 2 for _, box in words if box.what == left)
        assert all(box.left > width / 2 for _, box in words if box.what == right)
        assert {left, right} <= {box.what for _, box in words}
        assert (pack.transit.working_side if side == "working" else pack.far_side) in text
        if pack.wall.up:
            assert f"upper edge: {pack.wall.up}" in text


@pytest.mark.parametrize("name", list(PACKS))
def test_no_bolt_is_drawn_on_the_far_side(name: str) -> None:
    root = parsed(name, "far", "screen")
    assert not [element for element in elements(root) if {"centre-line", "screw", "bolt"} & element.classes]


def test_a_card_is_pure_black() -> None:
    """A card is pure black: greys print as dots."""
    for name in PACKS:
        for side in SIDES:
            for node in parsed(name, side, "card").iter():
                for attribute in ("fill", "stroke"):
                    value = node.get(attribute, "none")
                    assert value in ("none", "#000", "#fff") or value.startswith("url(#")


def test_half_the_layers_are_read_where_there_is_room() -> None:
    """The sample's big blocks show A and B with their numbers, as the fit has them."""
    layout = pack_of("welded").layout
    assert isinstance(layout, Layout)
    shown = {
        block.group.node.attrib["data-position"]: [box.what for box in block.words]
        for block in blocks_of("welded", "working", "screen")
    }
    for placement in layout.placements:
        if placement.fit and not placement.fit.measure and placement.size >= 36:
            likely = placement.fit.likely
            assert {f"A {likely.a}", f"B {likely.b}"} <= set(shown[placement.position])
        if placement.fit and placement.fit.measure:
            assert not [word for word in shown[placement.position] if word.startswith(("A ", "B "))]


def test_words_go_through_say() -> None:
    """With a say that marks its words, no English is left outside a mark (job text, numbers, classes aside)."""

    def marked(text: str) -> str:
        return "".join(f"{part}" if part.startswith("{") else part.upper() for part in _pieces(text))

    job = json.dumps([pack_of(name).model_dump_json() for name in SAMPLES])
    for name in SAMPLES:
        for side in SIDES:
            root = read(draw_front(pack_of(name), side, marked, "screen"))
            texts = [box.what for _, box in words_of(root)]
            texts += [root.findtext("{http://www.w3.org/2000/svg}desc") or ""]
            for text in texts:
                for word in text.replace(";", " ").replace(".", " ").replace(",", " ").replace(":", " ").split():
                    assert not (word.isalpha() and word.islower()) or word in job, word


def _pieces(text: str) -> list[str]:
    pieces, inside = [""], False
    for letter in text:
        if letter == "{":
            pieces.append("")
            inside = True
        pieces[-1] += letter
        if letter == "}" and inside:
            pieces.append("")
            inside = False
    return pieces


def test_one_bay_alone_for_a_card_of_its_own() -> None:
    """Each bay's drawing has its own blocks only, no id of the other, and fits above a card's list (A6: 148 mm)."""
    pack = pack_of("deck_two_bays")
    assert isinstance(pack.layout, Layout)
    ids: set[str] = set()
    for bay in pack.layout.bays:
        root = read(draw_front(pack, "working", same, "card", bay.bay))
        shown = {e.node.attrib["data-position"] for e in elements(root) if e.tag == "g" and "block" in e.classes}
        assert shown == {placement.position for placement in bay.placements}
        own = {node.attrib["id"] for node in root.iter() if "id" in node.attrib}
        assert not ids & own
        ids |= own
        assert root.attrib["width"] == "64mm"
        assert float(root.attrib["height"].removesuffix("mm")) < 110
        assert f"Bay {bay.bay} of 2" in {box.what for _, box in words_of(root)}
