"""What a drawing is drawn on: a phone's screen or an A6 card. Sizes, and how each kind of line looks.

Screen: px, when the drawing is 344 px wide (a 360 px phone less its page edge); it grows with its place.
Card: mm of paper, pure black, no greys. Least type 11 px, and 2.6 mm, whose capitals are 1.8 mm high.
"""

from dataclasses import dataclass, field
from typing import Literal

Medium = Literal["screen", "card"]
Side = Literal["working", "far"]


@dataclass(frozen=True)
class Sheet:
    """The sizes of one medium, in its own unit."""

    medium: Medium
    unit: str
    """Unit of the sheet for the svg: none for a screen, mm for paper."""
    width: float
    """Width of every drawing."""
    step: float
    """The grid: all small distances are multiples of it."""
    margin: float
    """The margin in which rows are counted."""
    tallest: float
    """No frame is drawn higher than this, so that the whole of it is seen at once."""
    least: float
    """The smallest type: positions, classes."""
    tags: tuple[float, ...]
    """Type sizes of tags, the largest that fits."""
    diameter: float
    """Diameters are this share of the tag above them, and never below the least."""
    counts: tuple[float, ...]
    """Type sizes of layers, the largest that fits."""
    rows: tuple[float, ...]
    """Type sizes of row numbers."""
    side: float
    """Type size of 'seen from'."""
    rooms: tuple[float, ...]
    """Type sizes of the room's name."""
    landmark: float
    """Type size of landmarks."""
    band: float
    """How wide metal is hatched along its edges."""
    frame_line: float
    """Width of the frame's line."""
    edge_line: float
    """Width of edges and cables."""
    looks: dict[str, str] = field(hash=False)
    """Attributes that stand in where no CSS is at hand, by class."""

    def __hash__(self) -> int:
        return hash(self.medium)


def _looks(ink: str, mark: str, ground: str, fine: float, edge: float, frame: float, now: float) -> dict[str, str]:
    typeface = "IBM Plex Sans Condensed, Arial Narrow, sans-serif"
    return {
        "drawing": f' fill="none" stroke="{ink}" stroke-width="{edge}" text-anchor="middle" font-family="{typeface}"',
        "hatch": f' stroke-width="{fine}"',
        "dot": f' fill="{ink}" stroke="none"',
        "arrow": f' fill="{ink}" stroke="none"',
        "arrow-light": ' fill="#fff" stroke="none"',
        "hair": f' stroke-width="{0.75 * fine:g}"',
        "fine": f' stroke-width="{fine}"',
        "dashed": f' stroke-dasharray="{3 * fine + edge:g} {2 * fine:g}"',
        "dash-dot": f' stroke-width="{fine}" stroke-dasharray="{9 * fine:g} {3 * fine:g} {fine:g} {3 * fine:g}"',
        "centre-line": f' stroke-width="{fine}"',
        "heavy": f' stroke-width="{frame}"',
        "frame": f' stroke-width="{frame}"',
        "paper": ' fill="#fff" stroke="none"',
        "opening": ' fill="#fff"',
        "there": ' fill="#fff"',
        "datum": ' fill="#fff"',
        "halo": ' fill="#fff" stroke="none"',
        "unit": f' fill="{ground}"',
        "ring": f' fill="{ground}"',
        "wall": ' stroke="none"',
        "tick": f' stroke="#fff" stroke-width="{frame}"',
        "ground": f' fill="{ground}"',
        "solid": f' fill="{ink}" stroke="none"',
        "plate": f' fill="{ink}" stroke="none"',
        "words": f' fill="{ink}" stroke="none"',
        "banner": f' fill="{ink}" stroke="{ink}"',
        "solid-words": ' fill="#fff" stroke="none"',
        "banner-words": ' fill="#fff" stroke="none"',
        "banner-far": ' fill="#fff"',
        "now-mark": ' visibility="hidden"',
        "done-mark": ' visibility="hidden"',
        "now-frame": f' stroke="{mark}" stroke-width="{now}"',
        "now-solid": f' fill="{mark}" stroke="none"',
        "now-words": ' fill="#fff" stroke="none"',
    }


SCREEN = Sheet(
    medium="screen",
    unit="",
    width=344,
    step=1,
    margin=34,
    tallest=470,
    least=11,
    tags=(16, 14.5, 13, 12, 11.5),
    diameter=0.85,
    counts=(17, 15, 13, 12, 11.5),
    rows=(26, 18, 12),
    side=13,
    rooms=(19, 16, 14),
    landmark=14,
    band=7,
    frame_line=2.5,
    edge_line=1.75,
    looks=_looks("#11181C", "#98005A", "#F1F3EE", 1, 1.75, 2.5, 4),
)
CARD = Sheet(
    medium="card",
    unit="mm",
    width=64,
    step=0.18,
    margin=6.4,
    tallest=70,
    least=2.6,
    tags=(3.3, 3, 2.8, 2.6),
    diameter=0.87,
    counts=(3.5, 3, 2.6),
    rows=(5, 3.5, 2.6),
    side=2.6,
    rooms=(3.7, 3.1, 2.8),
    landmark=2.8,
    band=1.3,
    frame_line=0.5,
    edge_line=0.35,
    looks=_looks("#000", "#000", "#fff", 0.18, 0.35, 0.5, 0.7),
)
SHEETS: dict[Medium, Sheet] = {"screen": SCREEN, "card": CARD}
