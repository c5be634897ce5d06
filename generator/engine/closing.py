"""Closing: the column sums of the gaps, what must be pressed down first, and the least squeeze.

Rows need not line up: on each vertical line x of a bay G(x) is the sum of the gaps of the blocks it passes,
stacked blocks each counted. With H the bay's height, h the rows', p the thickness of each of n row plates:

- the unit goes in when its height turned back is at most H - sum h - n p - max G; else the rows are pressed
  down first by what is missing;
- fully closed it squeezes the line with the least gap by its closed height - (H - sum h - n p) + min G.

At the windows' ends a bay that welding or mortar may change by d is H - d high for going in, H + d for the squeeze.

A row plate is stiff and spreads the load over its row, so the lines bound what happens; they promise nothing.
The arithmetic is geometry and has no other source.
"""

from collections.abc import Iterator
from decimal import ROUND_CEILING, Decimal
from itertools import pairwise

from generator.errors import Finding
from generator.model.catalogue import Catalogue, ClampingUnit
from generator.model.closing import BayClosing, GapSum
from generator.model.layout import BayLayout, Layout
from generator.model.scalars import format_mm

_NONE = Decimal(0)


def close_layout(layout: Layout, catalogue: Catalogue, deviation: Decimal = _NONE) -> tuple[BayClosing, ...]:
    """Work out for every bay, in order, how its clamping unit goes in and what it squeezes. Lengths in mm.

    ``deviation`` is how much the height of a bay may differ once its frame is fixed.
    """
    return tuple(close_bay(bay, catalogue.clamping_units[bay.unit.part], deviation) for bay in layout.bays)


def close_bay(bay: BayLayout, unit: ClampingUnit, deviation: Decimal = _NONE) -> BayClosing:
    """Work out how a bay that may differ by ``deviation`` closes with ``unit``. Lengths in mm.

    What the catalogue leaves out is not judged.
    """
    rows = sum((row.height for row in bay.rows), _NONE)
    place = bay.height - rows - sum((plate.thickness for plate in bay.plates), _NONE)
    lines = tuple(_lines(bay))
    fullest = max(lines, key=lambda line: (line.expected, line.most, -line.x))
    emptiest = min(lines, key=lambda line: (line.expected, line.least, line.x))
    most, least = max(line.most for line in lines), min(line.least for line in lines)
    closing = BayClosing(
        bay=bay.bay,
        unit=bay.unit.part,
        place=place,
        rows=rows,
        fullest=fullest,
        emptiest=emptiest,
        most=most,
        least=least,
        deviation=deviation,
    )
    travel = unit.travel
    if travel is None:
        return closing
    asked = None if travel.squeeze_percent is None else rows * travel.squeeze_percent / 100
    return closing.model_copy(
        update={
            "retracted": travel.turned_back,
            "closed": travel.closed,
            "press": max(_NONE, travel.turned_back - place + fullest.expected),
            "press_most": max(_NONE, travel.turned_back - (place - deviation) + most),
            "squeeze": travel.closed - place + emptiest.expected,
            "squeeze_least": travel.closed - (place + deviation) + least,
            "squeeze_asked": asked,
            "tool": travel.pressing.tool if travel.pressing else "",
            "tool_most": travel.pressing.most if travel.pressing else None,
        }
    )


def _lines(bay: BayLayout) -> Iterator[GapSum]:
    """Yield the sums between each two neighbouring edges of blocks, left to right: there nothing changes."""
    edges = sorted({edge for p in bay.placements for edge in (p.x, p.x + p.size)})
    for x, to in pairwise(edges):
        fits = [p.fit for p in bay.placements if p.fit and p.x <= x < p.x + p.size]
        yield GapSum(
            x=x,
            to=to,
            expected=sum((fit.likely.gap for fit in fits), _NONE),
            least=sum((fit.window.least for fit in fits), _NONE),
            most=sum((fit.window.most for fit in fits), _NONE),
        )


def judge_closing(closings: tuple[BayClosing, ...]) -> Iterator[Finding]:
    """Find bays that can't be closed as the catalogue asks, judged with the gaps to expect.

    What only the windows' ends could bring about is shown on the page and stops nothing.
    """
    for closing in closings:
        if closing.press and closing.tool_most is not None and closing.press > closing.tool_most:
            yield Finding(
                f"the rows of bay {closing.bay} must be pressed down by {format_mm(closing.press)} mm for"
                f" {closing.unit} to go in, and {closing.tool} presses {format_mm(closing.tool_most)} mm at most",
                f"{closing.unit} is {format_mm(closing.retracted or _NONE)} mm high turned back, its place"
                f" {format_mm(closing.place)} mm, and the gaps above each other come to"
                f" {format_mm(closing.fullest.expected)} mm between {format_mm(closing.fullest.x)} and"
                f" {format_mm(closing.fullest.to)} mm from the left",
                "ask for fewer spares, or take another frame: fewer cables above each other leave smaller gaps",
                field="frame",
            )
        if (
            closing.squeeze is not None
            and closing.squeeze_asked is not None
            and closing.squeeze < closing.squeeze_asked
        ):
            yield Finding(
                f"fully closed, {closing.unit} squeezes bay {closing.bay} by {format_mm(closing.squeeze)} mm where it"
                f" squeezes least, and the catalogue asks for {_rounded(closing.squeeze_asked)} mm",
                f"it is {format_mm(closing.closed or _NONE)} mm high fully closed, its place"
                f" {format_mm(closing.place)} mm, and the gaps there come to"
                f" {format_mm(closing.emptiest.expected)} mm",
                "ask the maker of the sealing system, or take a frame whose clamping unit closes further",
                field="frame",
            )


def _rounded(value: Decimal) -> str:
    return format_mm(value.quantize(Decimal("0.01"), ROUND_CEILING))
