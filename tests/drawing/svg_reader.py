"""Read a drawing back: every element with its place on the sheet, and the box that every word covers.

It knows SVG, not how the drawings are made: translate() on groups, inherited attributes, hidden groups.
Widths of words come from the typeface itself (FreeType through Pillow), not from generator.drawing.
"""

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from PIL import ImageFont

SVG = "{http://www.w3.org/2000/svg}"
FONTS = Path(__file__).parents[2] / "site_templates" / "assets" / "fonts"
INHERITED = ("text-anchor", "font-weight", "font-size", "fill", "stroke", "stroke-width", "visibility")


@lru_cache
def font(weight: int, extended: bool = False) -> ImageFont.FreeTypeFont:
    """Return the typeface 1000 px high, without kerning, as drawing.css asks for it."""
    name = f"plex-condensed-latin{'-ext' if extended else ''}-{weight}.woff2"
    return ImageFont.truetype(str(FONTS / name), 1000, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(maxsize=100_000)
def ink_box(text: str, weight: int) -> tuple[float, float, float, float]:
    """Return a line's ink (left, top, right, bottom) in thousandths of its size, from the start of its baseline."""
    width = sum(font(weight).getlength(letter) for letter in text)
    _, top, _, bottom = font(weight).getbbox(text, anchor="ls")
    return 0, top, width, bottom


@dataclass
class Element:
    """An element: its tag and attributes (own and inherited), the origin it stands on, its groups' attributes."""

    tag: str
    attributes: dict[str, str]
    x: float
    y: float
    groups: tuple[dict[str, str], ...]
    node: ElementTree.Element = field(repr=False)

    @property
    def classes(self) -> set[str]:
        return set(self.node.get("class", "").split())

    @property
    def is_hidden(self) -> bool:
        return self.attributes.get("visibility") == "hidden"

    def number(self, name: str) -> float:
        return float(self.attributes[name])

    def inside(self, name: str) -> bool:
        """Tell whether one of its groups has this class."""
        return any(name in group.get("class", "").split() for group in self.groups)


def read(svg: str) -> ElementTree.Element:
    """Parse a drawing; it must be well formed."""
    return ElementTree.fromstring(svg)


def elements(root: ElementTree.Element) -> Iterator[Element]:
    """Walk through a drawing, without its patterns."""
    yield from _walk(root, 0, 0, {}, ())


def _walk(
    node: ElementTree.Element, x: float, y: float, above: dict[str, str], groups: tuple[dict[str, str], ...]
) -> Iterator[Element]:
    tag = node.tag.removeprefix(SVG)
    if tag == "defs":
        return
    move = node.get("transform")
    if move:
        found = re.fullmatch(r"translate\((\S+) (\S+)\)", move)
        assert found, move
        x, y = x + float(found[1]), y + float(found[2])
    yield Element(tag, {**above, **node.attrib}, x, y, groups, node)
    handed = {**above, **{name: node.attrib[name] for name in INHERITED if name in node.attrib}}
    for child in node:
        if child.tag.removeprefix(SVG) != "tspan":
            yield from _walk(child, x, y, handed, (*groups, node.attrib))


@dataclass(frozen=True)
class Box:
    left: float
    top: float
    right: float
    bottom: float
    what: str = ""

    def meets(self, other: "Box", slack: float = 0.05) -> bool:
        return (
            self.left < other.right - slack
            and other.left < self.right - slack
            and self.top < other.bottom - slack
            and other.top < self.bottom - slack
        )

    def holds(self, other: "Box", slack: float = 0.05) -> bool:
        return (
            self.left <= other.left + slack
            and other.right <= self.right + slack
            and self.top <= other.top + slack
            and other.bottom <= self.bottom + slack
        )


def words_of(root: ElementTree.Element) -> list[tuple[Element, Box]]:
    """Return every visible line of text with the box of its ink."""
    found = []
    for element in elements(root):
        if element.tag != "text" or element.is_hidden:
            continue
        size = element.number("font-size")
        weight = int(element.attributes.get("font-weight", 400))
        runs = [(element.node.text or "", weight)]
        for span in element.node:
            assert span.tag == f"{SVG}tspan"
            runs.append((span.text or "", int(span.get("font-weight", weight))))
            assert not span.tail
        boxes = [ink_box(text, heavy) for text, heavy in runs]
        width = sum(box[2] for box in boxes) * size / 1000
        top = min(box[1] for box in boxes) * size / 1000
        bottom = max(box[3] for box in boxes) * size / 1000
        x, y = element.x + element.number("x"), element.y + element.number("y")
        anchor = element.attributes.get("text-anchor", "start")
        left = {"start": x, "middle": x - width / 2, "end": x - width}[anchor]
        found.append((element, Box(left, y + top, left + width, y + bottom, "".join(text for text, _ in runs))))
    return found


def box_of(element: Element) -> Box:
    """Return the box of a rect or a circle on the sheet."""
    if element.tag == "rect":
        left, top = element.x + element.number("x"), element.y + element.number("y")
        return Box(left, top, left + element.number("width"), top + element.number("height"))
    middle_x = element.x + float(element.attributes.get("cx", 0))
    middle_y = element.y + float(element.attributes.get("cy", 0))
    r = element.number("r")
    return Box(middle_x - r, middle_y - r, middle_x + r, middle_y + r)
