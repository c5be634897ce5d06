"""The only place that writes SVG: numbers, ids, escaping, millimetres to the sheet.

A drawing has two spaces. The *sheet* is what is looked at: x right, y down, in px for a screen or mm of
paper for a card. A ``View`` puts the wall's millimetres on it: x right, y up, mirrored for the far side;
it is the only place that flips. Classes and presentation attributes only, so that a strict content
policy changes nothing.

svgwrite is not used. In one run on a busy machine, 180 bare elements (no lettering, no numbers of ours) cost
it 2.4 ms of CPU, and two views of a transit have some 560 elements: too much of a page's 5 ms. Written
straight, both views with all their lettering cost 1.0 ms in the same run, 1.9 ms when no shape of block was
known before (tests/drawing/bench_drawing.py prints this). svgwrite stays the judge: the tests hand every
element and attribute to its validator.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import lru_cache
from typing import NamedTuple

Number = float | Decimal

_ESCAPES = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"})


@lru_cache(maxsize=65536)
def number(value: Number) -> str:
    """Return a number as the sheet shows it: at most two decimals, no trailing zeros, no minus zero."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def path_data(steps: Sequence[str | float]) -> str:
    """Return a path's data: letters as SVG has them, numbers in sheet units, no more space than is needed."""
    data = ""
    gap = ""
    for step in steps:
        if isinstance(step, str):
            data += step
            gap = ""
        else:
            data += gap + number(step)
            gap = " "
    return data


def escape(text: str) -> str:
    """Return text that is safe as content and in a quoted attribute."""
    return text.translate(_ESCAPES)


@lru_cache(maxsize=4096)
def own_id(*words: str) -> str:
    """Return an id made of words: letters, digits and hyphens, beginning with a letter."""
    name = "-".join(words)
    safe = "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in name)
    return safe if safe[:1].isalpha() else f"d-{safe}"


class View(NamedTuple):
    """Millimetres on the sheet: (x, y) of its origin on the sheet, sheet units per mm, mirrored or not.

    The origin is the lower left corner seen from the working side; mirrored, it lies at the right.
    """

    x: float
    y: float
    scale: float
    mirrored: bool = False

    def right(self, x: Number) -> float:
        """Return the sheet's x of a point x mm from the origin."""
        return self.x - float(x) * self.scale if self.mirrored else self.x + float(x) * self.scale

    def up(self, y: Number) -> float:
        """Return the sheet's y of a point y mm above the origin."""
        return self.y - float(y) * self.scale

    def box(self, x: Number, y: Number, width: Number, height: Number) -> "Box":
        """Return the box on the sheet of a rectangle with its lower left corner at (x, y) mm."""
        left = self.right(x)
        wide, high = float(width) * self.scale, float(height) * self.scale
        return Box(left - wide if self.mirrored else left, self.up(y) - high, wide, high)


class Box(NamedTuple):
    """A rectangle on the sheet: upper left corner, width, height."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """Lower edge."""
        return self.y + self.height

    @property
    def middle(self) -> tuple[float, float]:
        """Its middle point."""
        return self.x + self.width / 2, self.y + self.height / 2

    def grown(self, by: float) -> "Box":
        """Return the box larger by ``by`` on every side."""
        return Box(self.x - by, self.y - by, self.width + 2 * by, self.height + 2 * by)

    def meets(self, other: "Box") -> bool:
        """Tell whether the two have more than an edge in common."""
        return self.x < other.right and other.x < self.right and self.y < other.bottom and other.y < self.bottom


@dataclass
class Canvas:
    """Collects elements. ``looks`` names how things look: a class, and the attributes that stand in for CSS."""

    looks: dict[str, str]
    prefix: str = ""
    _out: list[str] = field(default_factory=list)
    _open: int = 0

    def id(self, *words: str) -> str:
        """Return an id of this drawing."""
        return own_id(self.prefix, *words)

    def look(self, name: str) -> str:
        """Return class and attributes of a look (one class or several), ready to stand in a tag."""
        known = self.looks.get(f"={name}")
        if known is None:
            known = f' class="{name}"' + "".join([self.looks.get(one, "") for one in name.split()])
            self.looks[f"={name}"] = known
        return known

    def raw(self, markup: str) -> None:
        """Take in markup that a canvas wrote before."""
        self._out.append(markup)

    def named(self, name: str, markup: str) -> None:
        """Take in markup that a canvas wrote before, under an id by which ``use`` shows it once more."""
        self._out.append(f'<g id="{name}">{markup}</g>')

    def use(self, name: str) -> None:
        """Show once more what stands under an id of the same page, here."""
        self._out.append(f'<use href="#{name}"/>')

    def rect(self, box: Box, look: str, fill: str = "") -> None:
        """Draw a rectangle; ``fill`` is the id of a pattern."""
        filled = f' fill="url(#{fill})"' if fill else ""
        self._out.append(
            f'<rect{self.look(look)} x="{number(box.x)}" y="{number(box.y)}"'
            f' width="{number(box.width)}" height="{number(box.height)}"{filled}/>'
        )

    def circle(self, x: float, y: float, radius: float, look: str, fill: str = "") -> None:
        """Draw a circle; ``fill`` is the id of a pattern."""
        filled = f' fill="url(#{fill})"' if fill else ""
        self._out.append(f'<circle{self.look(look)} cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"{filled}/>')

    def path(self, steps: Sequence[str | float], look: str, fill: str = "") -> None:
        """Draw a path: letters as SVG has them, numbers in sheet units."""
        data = path_data(steps)
        filled = f' fill="url(#{fill})"' if fill else ""
        self._out.append(f'<path{self.look(look)} d="{data}"{filled}/>')

    def line(self, x1: float, y1: float, x2: float, y2: float, look: str) -> None:
        """Draw a straight line."""
        self._out.append(f'<path{self.look(look)} d="M{number(x1)} {number(y1)}L{number(x2)} {number(y2)}"/>')

    def text(
        self, x: float, y: float, text: str, size: float, weight: int = 400, anchor: str = "middle", look: str = ""
    ) -> None:
        """Write text with its baseline at y; ``anchor`` is start, middle or end."""
        self.spans(x, y, ((text, weight),), size, anchor, look)

    def spans(
        self,
        x: float,
        y: float,
        parts: Sequence[tuple[str, int]],
        size: float,
        anchor: str = "middle",
        look: str = "",
    ) -> None:
        """Write one line of text of several weights."""
        first, weight = parts[0]
        held = "" if anchor == "middle" else f' text-anchor="{anchor}"'
        heavy_first = "" if weight == 400 else f' font-weight="{weight}"'
        rest = "".join([f'<tspan font-weight="{heavy}">{escape(part)}</tspan>' for part, heavy in parts[1:]])
        self._out.append(
            f'<text{self.look(look) if look else ""} x="{number(x)}" y="{number(y)}" font-size="{number(size)}"'
            f"{heavy_first}{held}>{escape(first)}{rest}</text>"
        )

    def begin(self, look: str, data: dict[str, str] | None = None, at: tuple[float, float] | None = None) -> None:
        """Open a group: its look, ``data-`` attributes, and where it stands."""
        moved = f' transform="translate({number(at[0])} {number(at[1])})"' if at else ""
        told = "".join([f' data-{key}="{escape(value)}"' for key, value in data.items()]) if data else ""
        self._out.append(f"<g{self.look(look)}{told}{moved}>")
        self._open += 1

    def end(self) -> None:
        """Close the group opened last."""
        self._out.append("</g>")
        self._open -= 1

    def markup(self) -> str:
        """Return what was drawn so far, without the outer element."""
        assert self._open == 0, "a group is open"
        return "".join(self._out)

    def svg(
        self, width: float, height: float, unit: str, title: str, text: str, root: str, data: dict[str, str]
    ) -> str:
        """Return the whole drawing as an ``<svg>`` for a page: named and told in words for those who cannot see it.

        ``unit`` is the unit of the sheet: "" (px, grows with its place) or "mm" (paper, true size).
        """
        size = f' width="{number(width)}{unit}" height="{number(height)}{unit}"' if unit else ""
        told = "".join([f' data-{key}="{escape(value)}"' for key, value in data.items()])
        title_id, text_id = self.id("title"), self.id("text")
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg"{self.look(root)}{told} role="img"'
            f' aria-labelledby="{title_id} {text_id}"{size} viewBox="0 0 {number(width)} {number(height)}">'
            f'<title id="{title_id}">{escape(title)}</title><desc id="{text_id}">{escape(text)}</desc>'
            f"{self.markup()}</svg>"
        )


def pattern(id: str, pitch: float, turned: int, inside: str) -> str:
    """Return a pattern for ``<defs>``: a square of side ``pitch``, turned by degrees, with markup inside."""
    turn = f' patternTransform="rotate({turned})"' if turned else ""
    side = number(pitch)
    return f'<pattern id="{id}" width="{side}" height="{side}" patternUnits="userSpaceOnUse"{turn}>{inside}</pattern>'
