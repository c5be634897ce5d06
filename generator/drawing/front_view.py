"""The transit as the installer sees it: to scale, from the working side, or the far side's exact mirror.

Several bays are drawn one under the other, each as large as the sheet allows, with its own bar (bay,
landmarks), under a small picture of the whole frame that says which bay is where. Why: two bays of 144 mm
side by side leave 17 px for an 18 mm block on a phone, in which no word fits, and the second bay has no
margin for its rows; one under the other they leave 34 px, the same as a frame with one bay.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt
from typing import Literal

from generator.drawing.banner import draw_banner, draw_bay_bar, draw_up_mark, side_caption
from generator.drawing.blocks import (
    BlockText,
    DrawnBore,
    draw_cable_block,
    draw_filler_block,
    draw_shared_block,
    draw_spare_block,
)
from generator.drawing.canvas import Box, Canvas, View, own_id
from generator.drawing.describe import describe_bay, describe_head, diameter_text
from generator.drawing.lettering import text_width, wrap
from generator.drawing.parts import (
    flange_of,
    flange_places,
    opening_of,
    opening_words,
    screws_of,
    setting_of,
    weld_of,
)
from generator.drawing.seal_view import draw_seal
from generator.drawing.sheet import SHEETS, Medium, Sheet, Side
from generator.drawing.symbols import (
    Pattern,
    define,
    draw_arrow,
    draw_bolt,
    draw_hexagon,
    draw_pentagon,
    draw_screws,
    draw_tick,
    draw_weld,
)
from generator.model.catalogue import Bay, Frame, Tightening
from generator.model.layout import BORE_LETTERS, BayLayout, Layout, Placement, Row, Unit
from generator.model.pack import TransitPack
from generator.model.scalars import format_mm

Say = Callable[[str], str]
Blocks = Literal["own", "lent", "taken"]


def draw_front(
    pack: TransitPack,
    side: Side,
    say: Say,
    medium: Medium,
    bay: int | None = None,
    again: str = "",
    blocks: Blocks = "own",
) -> str:
    """Draw a transit from one side and return an ``<svg>`` for inlining.

    ``say`` translates words. ``bay`` draws that bay alone (a card for each). ``again`` is a word for the ids
    of a second drawing of the same transit on one page. ``blocks`` says whether what is in its blocks is its
    own, is lent to the other drawing of a page, or is taken from there: it is the same from both sides.
    Sizes: 344 wide for a screen, growing with its place; 64 mm wide for a card. Where there is no layout the
    frame is drawn empty and
    says so. Blocks carry data-position, data-cable, data-size, data-role, data-row and data-bay.
    """
    sheet = SHEETS[medium]
    words = (pack.id, side, medium) if bay is None else (pack.id, side, medium, f"bay{bay}")
    canvas = Canvas(sheet.looks, own_id(*words, *((again,) if again else ())))
    marks = pack.landmarks if side == "working" else (pack.landmarks[1], pack.landmarks[0])
    room = pack.transit.working_side if side == "working" else pack.far_side
    define(canvas, sheet, _patterns_of(pack, side))
    border = canvas.id("border") if side == "far" else ""
    top = draw_banner(canvas, sheet, sheet.width, side_caption(side, say), room, marks, border)
    told = describe_head(pack, side, marks, say)
    if pack.wall.up is not None:
        top += draw_up_mark(canvas, sheet, sheet.width, top, pack.wall.up, say)
    top += 5 * sheet.step
    if pack.transit.split_seal is not None:
        top = draw_seal(canvas, sheet, pack, side, top, told, say)
    else:
        top = _FrontView(canvas, sheet, pack, side, marks, say, blocks).draw(top, bay, told)
    title = pack.id + ": " + say("block layout")
    data = {"transit": pack.id, "side": side, "medium": medium}
    return canvas.svg(sheet.width, top, sheet.unit, title, " ".join(told), f"drawing drawing-{medium}", data)


def _patterns_of(pack: TransitPack, side: Side) -> list[Pattern]:
    used: list[Pattern] = ["metal"]
    if side == "far":
        used.append("border")
    services = {cable.service for cable in pack.cables if not cable.assumed}
    names: tuple[Pattern, ...] = ("control", "instrument", "data", "earth")
    return used + [name for name in names if name in services]


@dataclass(frozen=True)
class _Part:
    """A part of the frame that is drawn as one picture: its edges in mm from the frame's, and its bay."""

    left: float
    bottom: float
    right: float
    top: float
    bay: int


class _FrontView:
    """A frame being drawn."""

    def __init__(
        self,
        canvas: Canvas,
        sheet: Sheet,
        pack: TransitPack,
        side: Side,
        marks: tuple[str, str],
        say: Say,
        blocks: Blocks,
    ) -> None:
        self.canvas = canvas
        self.sheet = sheet
        self.pack = pack
        self.side: Side = side
        self.marks = marks
        self.say = say
        self.frame: Frame = pack.catalogue.frames[pack.transit.frame or ""]
        self.cables = {cable.tag: cable for cable in pack.cables}
        self.layouts: dict[int, BayLayout] = (
            {layout.bay: layout for layout in pack.layout.bays} if isinstance(pack.layout, Layout) else {}
        )
        self.metal = canvas.id("metal")
        self.spare = say("SPARE")
        self.blocks: Blocks = blocks

    def draw(self, top: float, only: int | None, told: list[str]) -> float:
        """Draw the frame below ``top`` and return where the drawing ends."""
        frame = self.frame
        told.append(self._frame_words())
        cut = len(frame.bays) > 1
        if cut:
            top = self._draw_whole_small(top, only)
        for part in self._parts(only):
            if cut:
                text = self.say("Bay {bay} of {bays}").format(bay=part.bay, bays=len(frame.bays))
                top += draw_bay_bar(self.canvas, self.sheet, self.sheet.width, top, self.side, text, self.marks)
                top += 5 * self.sheet.step
            top = self._draw_part(part, top, cut)
            if part.bay in self.layouts:
                told += describe_bay(self.layouts[part.bay], cut, self.side, self.cables, self.say)
            top += 5 * self.sheet.step
        if not self.layouts:
            told.append(self.say("There is no layout for this frame yet."))
        return self._draw_foot(top - 5 * self.sheet.step, told)

    def _frame_words(self) -> str:
        frame = self.frame
        if frame.shape == "round":
            return self.say("Round frame, diameter {width} mm.").format(width=format_mm(frame.width))
        return self.say("Frame {width} × {height} mm.").format(
            width=format_mm(frame.width), height=format_mm(frame.height)
        )

    @property
    def _is_round_whole(self) -> bool:
        return self.frame.shape == "round" and len(self.frame.bays) == 1

    # -- which parts of the frame, and how large ---------------------------------------------------

    def _parts(self, only: int | None) -> list[_Part]:
        frame = self.frame
        width, height = float(frame.width), float(frame.height)
        if len(frame.bays) == 1:
            return [_Part(0, 0, width, height, 1)]
        edges = [0.0]
        for left, right in zip(frame.bays, frame.bays[1:], strict=False):
            edges.append(float(left.x + left.width + right.x) / 2)
        edges.append(width)
        parts = []
        for number, bay in enumerate(frame.bays, 1):
            if only is not None and number != only:
                continue
            bottom, top = 0.0, height
            if frame.shape == "round":
                around = 0.06 * width
                bottom, top = float(bay.y) - around, float(bay.y + bay.height) + around
            parts.append(_Part(edges[number - 1], bottom, edges[number], top, number))
        return parts

    def _room(self) -> tuple[float, float, float]:
        """Return the free width for a frame, the margin on its counted side, and its edge on every side."""
        sheet = self.sheet
        edge = sheet.frame_line / 2 + 0.5 * sheet.step
        if self._is_round_whole:
            edge += self._ring()
            if self._rows_fit_inside(sheet.width - 2 * edge):
                return sheet.width - 2 * edge, 0, edge
            return sheet.width - 2 * edge - sheet.margin, sheet.margin, edge
        return sheet.width - sheet.margin - edge, sheet.margin, edge

    def _ring(self) -> float:
        """Return the width of the ring round a round body in which its screws are drawn."""
        return 2 * self.sheet.least if screws_of(self.pack) is not None else 0

    def _rows_fit_inside(self, across: float) -> bool:
        """Tell whether row numbers and their brackets find room beside the bay, within a round body."""
        frame, sheet = self.frame, self.sheet
        if len(frame.bays) != 1 or 1 not in self.layouts:
            return False
        bay = frame.bays[0]
        radius = float(frame.width) / 2
        scale = across / float(frame.width)

        def free(y: float) -> float:
            off = float(bay.y) + y - radius
            return (sqrt(max(radius * radius - off * off, 0)) - (radius - float(bay.x))) * scale

        for row in self.layouts[1].rows:
            low, high = float(row.y), float(row.y + row.height)
            middle, reach = (low + high) / 2, 0.8 * sheet.rows[0] / scale
            if min(free(low), free(high)) < 2 * sheet.band + 10 * sheet.step:
                return False
            wide = text_width(str(row.number), sheet.rows[0], 700) / 2
            if (
                min(free(middle - reach), free(middle + reach))
                < 2 * sheet.band + sheet.margin / 2 + 3 * sheet.step + wide
            ):
                return False
        return True

    def _scale(self, part: _Part) -> float:
        """Return the scale: as wide as the sheet, not taller than seen at once, unless words would not fit."""
        widest = self._room()[0] / (part.right - part.left)
        if self._is_round_whole:
            return widest
        sheet = self.sheet
        layout = self.layouts.get(part.bay)
        smallest = min([float(block.size) for block in layout.placements]) if layout else part.right - part.left
        seen_at_once = sheet.tallest / (part.top - part.bottom)
        return min(widest, max(seen_at_once, 3.1 * sheet.least / smallest))

    # -- the parts -----------------------------------------------------------------------------------

    def _draw_whole_small(self, top: float, only: int | None) -> float:
        """Draw the whole frame small, its bays numbered, so that each bay is found."""
        canvas, sheet, frame = self.canvas, self.sheet, self.frame
        scale = min(0.5 * sheet.width / float(frame.width), 5 * sheet.landmark / float(frame.height))
        wide = float(frame.width) * scale
        far = self.side == "far"
        view = View((sheet.width + wide if far else sheet.width - wide) / 2,
                    top + float(frame.height) * scale + 2 * sheet.step, scale, far)  # fmt: skip
        canvas.begin("whole")
        around = view.box(0, 0, frame.width, frame.height)
        if frame.shape == "round":
            canvas.circle(*around.middle, around.width / 2, "frame", self.metal)
        else:
            canvas.rect(around, "frame", self.metal)
        boxes = [view.box(bay.x, bay.y, bay.width, bay.height) for bay in frame.bays]
        for left, right in self._joints():
            joint = view.box(left, 0, right - left, frame.height)
            canvas.rect(joint, "paper")
            canvas.path(
                ["M", joint.x, joint.y, "V", joint.bottom, "M", joint.right, joint.y, "V", joint.bottom], "edge"
            )
        for number, box in enumerate(boxes, 1):
            canvas.rect(box, "solid" if number == only else "paper")
            canvas.rect(box, "fine")
        for number, box in enumerate(boxes, 1):
            canvas.begin("banner-words" if number == only else "words")
            x, y = box.middle
            canvas.text(x, y + 0.35 * sheet.rows[1], str(number), sheet.rows[1], 700)
            canvas.end()
        canvas.end()
        return view.y + 7 * sheet.step

    def _draw_part(self, part: _Part, top: float, cut: bool) -> float:
        canvas, sheet = self.canvas, self.sheet
        scale = self._scale(part)
        far = self.side == "far"
        free, margin, edge = self._room()
        left = margin + (edge if self._is_round_whole else 0) + (free - (part.right - part.left) * scale) / 2
        around = edge - (self._ring() if far and self._is_round_whole else 0)
        foot = top + around + part.top * scale
        x = sheet.width - left + part.left * scale if far else left - part.left * scale
        view = View(x, foot, scale, far)
        canvas.begin("frame-part", {"scale": f"{scale:.6f}"})
        if self._is_round_whole:
            self._draw_round_body(view)
        else:
            self._draw_rectangular_body(view, part, cut)
        bay = self.frame.bays[part.bay - 1]
        at = View(view.right(bay.x), view.up(bay.y), scale, far)
        inside = self._is_round_whole and margin == 0
        beyond = self._ring() if self._is_round_whole else 0
        self._draw_bay(part.bay, bay, at, view.right(part.left) + (beyond if far else -beyond), inside)
        canvas.end()
        return view.up(part.bottom) + around

    def _draw_round_body(self, view: View) -> None:
        canvas, sheet, frame = self.canvas, self.sheet, self.frame
        radius = float(frame.width) / 2
        x, y, r = view.right(radius), view.up(radius), radius * view.scale
        screws = screws_of(self.pack)
        if screws is not None:
            ring = self._ring()
            if self.side == "working":
                canvas.circle(x, y, r + ring - 0.5 * sheet.step, "ring edge")
                flats = min(1.55 * sheet.least, 2.4 * r / max(screws.bolts, 1))
                draw_screws(canvas, sheet, (x, y), r + ring / 2, screws.bolts, flats)
        canvas.circle(x, y, r, "body frame", self.metal)
        band = min(sheet.band, r * 0.08)
        canvas.circle(x, y, r - band, "paper")
        for bay in frame.bays:
            box = view.box(bay.x, bay.y, bay.width, bay.height)
            corner = max([sqrt((cx - x) ** 2 + (cy - y) ** 2) for cx in (box.x, box.right)
                          for cy in (box.y, box.bottom)])  # fmt: skip
            around = max(min(band, (r - band - corner) * 0.7), 0)
            if around > sheet.step:
                canvas.rect(box.grown(around), "metal", self.metal)

    def _draw_rectangular_body(self, view: View, part: _Part, cut: bool) -> None:
        canvas, sheet, frame = self.canvas, self.sheet, self.frame
        box = view.box(part.left, part.bottom, part.right - part.left, part.top - part.bottom)
        if not cut:
            canvas.rect(box, "body frame", self.metal)
        else:
            canvas.rect(box, "wall", self.metal)
            whole = frame.shape == "rectangular"
            for y in (box.y, box.bottom):
                canvas.line(box.x, y, box.right, y, "frame" if whole else "break dashed")
            for edge, own in ((part.left, 0.0), (part.right, float(frame.width))):
                at = view.right(edge)
                canvas.line(at, box.y, at, box.bottom, "frame" if whole and edge == own else "break dashed")
        bays = [frame.bays[part.bay - 1]]
        least = min([float(bay.x) for bay in frame.bays] + [float(bay.y) for bay in frame.bays]) * view.scale
        if least > 3.2 * sheet.band:
            ends = [sheet.band if edge == own else 0.0 for edge, own in
                    ((part.left, 0.0), (part.right, float(frame.width)))]  # fmt: skip
            left, right = ends[::-1] if view.mirrored else ends
            inner = Box(box.x + left, box.y + sheet.band, box.width - left - right, box.height - 2 * sheet.band)
            canvas.rect(inner, "paper")
            for bay in bays:
                canvas.rect(view.box(bay.x, bay.y, bay.width, bay.height).grown(sheet.band), "metal", self.metal)
        self._draw_joints(view, part)
        if self.side == "working":
            self._draw_flange(view, part)

    def _joints(self) -> list[tuple[float, float]]:
        """Return the left and right edge of each joint in a row of frames, mm."""
        row = self.frame.row
        if row is None:
            return []
        joint = float(row.joint)
        single = (float(self.frame.width) - (row.count - 1) * joint) / row.count
        return [(n * (single + joint) - joint, n * (single + joint)) for n in range(1, row.count)]

    def _draw_joints(self, view: View, part: _Part) -> None:
        """Draw where a frame comes apart: the edges of a row's frames, and where two halves meet."""
        canvas, frame = self.canvas, self.frame
        for edge in (edge for joint in self._joints() for edge in joint if part.left < edge < part.right):
            canvas.line(view.right(edge), view.up(part.top), view.right(edge), view.up(part.bottom), "edge joint")
        if frame.split is not None:
            y, reach = view.up(frame.split.at), 3 * self.sheet.step
            for one, other in ((0, frame.bays[0].x), (frame.bays[-1].x + frame.bays[-1].width, frame.width)):
                x = sorted((view.right(one), view.right(other)))
                canvas.rect(Box(x[0], y - reach, x[1] - x[0], 2 * reach), "paper")
                canvas.path(["M", x[0], y - reach, "H", x[1], "M", x[0], y + reach, "H", x[1]], "edge joint")

    def _draw_flange(self, view: View, part: _Part) -> None:
        """Draw the bolts of a flange with their numbers, as they are seen from where they are tightened."""
        held = flange_of(self.pack)
        if held is None:
            return
        canvas, sheet, frame = self.canvas, self.sheet, self.frame
        flange, bolts = held
        least = 2 * 0.8 * sheet.least  # a number of two figures fits the head
        flats = min(max(float(bolts.key) * view.scale, least), 1.9 * float(flange.inset) * view.scale)
        canvas.begin("screws")
        words = []
        for number, (x, y) in enumerate(flange_places(flange, float(frame.width), float(frame.height)), 1):
            if part.left <= x <= part.right:
                at = view.right(x), view.up(y)
                canvas.circle(*at, flats * 0.62, "paper")
                draw_hexagon(canvas, *at, flats, "screw edge")
                words.append((at[0], at[1] + 0.35 * sheet.least, str(number)))
        canvas.begin("words")
        for left, base, text in words:
            canvas.text(left, base, text, sheet.least, 600)
        canvas.end()
        canvas.end()

    def _draw_bay(self, number: int, bay: Bay, at: View, edge: float, inside: bool) -> None:
        canvas = self.canvas
        layout = self.layouts.get(number)
        box = at.box(0, 0, bay.width, bay.height)
        canvas.begin("bay", {"bay": str(number)})
        canvas.rect(box, "paper")
        if layout is None:
            canvas.rect(box, "dashed")
            self._write_no_layout(box)
            canvas.end()
            return
        canvas.rect(box, "edge bay-edge")
        for plate in layout.plates:
            canvas.rect(at.box(0, plate.y, bay.width, plate.thickness), "plate")
        self._draw_unit(layout, at)
        for row in layout.rows:
            self._draw_row(number, layout, row, at, edge, inside)
        canvas.end()

    def _write_no_layout(self, box: Box) -> None:
        canvas, sheet = self.canvas, self.sheet
        text = self.say("No layout")
        size = next((s for s in sheet.tags if text_width(text, s, 700) <= box.width), sheet.tags[-1])
        x, y = box.middle
        canvas.begin("words")
        canvas.text(x, y + 0.35 * size, text, size, 700)
        canvas.end()

    def _draw_unit(self, layout: BayLayout, at: View) -> None:
        canvas, sheet = self.canvas, self.sheet
        box = at.box(0, layout.unit.y, layout.width, layout.unit.height)
        canvas.begin("clamping")
        canvas.rect(box, "unit edge")
        unit = self.pack.catalogue.clamping_units.get(layout.unit.part)
        free = box.width
        if unit is not None and self.side == "working":
            free = self._draw_bolts(box, at.scale, unit.tightening)
        self._write_unit(box, free - 4 * sheet.step, layout.unit)
        canvas.end()

    def _write_unit(self, box: Box, free: float, unit: Unit) -> None:
        """Write what the unit is: name and height, the name on one line or two, or nothing where no room is."""
        canvas, sheet = self.canvas, self.sheet
        name = self.say("Clamping unit")
        if self.side == "working":
            second = self.say("{height} mm high").format(height=format_mm(unit.height))
        else:
            second = self.say("worked from working side")
        choices: list[tuple[tuple[str, float, int], ...]] = []
        for size in sheet.tags[1:]:
            small = max(sheet.diameter * size, sheet.least)
            choices.append(((name, size, 600), (second, small, 400)))
        choices += [((name, size, 600),) for size in sheet.tags[1:]]
        lines_of_words = tuple((word, sheet.least, 600) for word in name.split())
        choices.append(lines_of_words)
        x, y = box.middle
        for lines in choices:
            high = 1.35 * sum([size for _, size, _ in lines]) - 0.65 * lines[-1][1]
            wide = max([text_width(text, size, weight) for text, size, weight in lines])
            if wide <= free and high <= box.height - 8 * sheet.step:
                at = y - high / 2
                canvas.begin("words")
                for text, size, weight in lines:
                    canvas.text(x, at + 0.7 * size, text, size, weight)
                    at += 1.35 * size
                canvas.end()
                return

    def _draw_bolts(self, box: Box, scale: float, tightening: Tightening) -> float:
        """Draw the unit's bolts, half of them at each end, and return how much stays free between them."""
        left = (tightening.bolts + 1) // 2
        widest = max([text_width(word, self.sheet.least, 600) for word in self.say("Clamping unit").split()])
        most = min(box.height * 0.44, box.width * 0.23 / left)
        flats = min(float(tightening.key) * scale, most * 1.2)
        # the centre lines give way to the name as far as the bolts' heads allow
        room = min(most, max(flats * 0.62, (box.width - widest - 10 * self.sheet.step) / (4.3 * left)))
        y = box.middle[1]
        pitch = 2.15 * room
        for number in range(tightening.bolts):
            if number < left:
                x = box.x + room * 1.1 + number * pitch
            else:
                x = box.right - room * 1.1 - (tightening.bolts - 1 - number) * pitch
            draw_bolt(self.canvas, x, y, flats, room)
        return box.width - 2 * (left * pitch)

    def _draw_row(self, number: int, layout: BayLayout, row: Row, at: View, edge: float, inside: bool) -> None:
        canvas, sheet = self.canvas, self.sheet
        box = at.box(0, row.y, layout.width, row.height)
        canvas.begin("row", {"bay": str(number), "row": str(row.number)})
        plates = [float(plate.thickness) for plate in layout.plates] or [0.0]
        self._draw_count(row, box, edge, inside, box.height + min(plates) * at.scale)
        for block in row.placements:
            self._draw_placement(block, at)
        if sheet.medium == "screen" and self.side == "working":
            canvas.begin("now-mark")
            canvas.rect(box.grown(1.5 * sheet.step), "now-frame")
            canvas.end()
        canvas.end()

    def _draw_count(self, row: Row, box: Box, edge: float, inside: bool, pitch: float) -> None:
        """Draw a row's number and height in the margin, with a bracket whose foot shows where the row begins."""
        canvas, sheet = self.canvas, self.sheet
        step = sheet.step
        far = self.side == "far"
        turn = -1 if far else 1  # towards the blocks
        if inside:
            near = (box.right + sheet.band if far else box.x - sheet.band) - turn * 2 * step
        else:
            near = edge - turn * (sheet.frame_line / 2 + 1.5 * step)
        rest = near - turn * 5 * step
        lane = sheet.margin - 8 * step
        x = rest - turn * lane / 2
        middle = box.middle[1]
        canvas.path(["M", near, box.y + step, "H", rest, "V", box.bottom - step, "H", near], "bracket fine")
        draw_arrow(canvas, near, box.bottom - step - 2 * step, 4 * step, "left" if far else "right")
        canvas.begin("count words")
        height = format_mm(row.height)
        size = next((s for s in sheet.rows if 0.7 * s + 1.2 * sheet.least <= box.height), 0.0)
        if size:
            base = middle - (0.7 * size + 1.1 * sheet.least) / 2 + 0.7 * size
            canvas.text(x, base, str(row.number), size, 700)
            canvas.text(x, base + 1.1 * sheet.least, height, sheet.least)
        elif 0.72 * sheet.least <= pitch:
            canvas.text(x, middle + 0.35 * sheet.least, str(row.number), sheet.least, 700)
        canvas.end()
        if sheet.medium == "screen" and not far:  # blocks go in from the working side only
            self._draw_states(row, box, x, lane)

    def _draw_states(self, row: Row, box: Box, x: float, lane: float) -> None:
        """Draw what stands in the margin while stepping, hidden until CSS shows it: now, and done."""
        canvas, sheet = self.canvas, self.sheet
        middle = box.middle[1]
        high = min(46 * sheet.step, box.height)
        two = high >= 38 * sheet.step
        now = self.say("NOW")
        if text_width(now, sheet.least, 700) > lane:
            two = False
        canvas.begin("now-mark")
        draw_pentagon(
            canvas, Box(x - lane / 2 - 2 * sheet.step, middle - high / 2, lane + 8 * sheet.step, high), "now-solid"
        )
        canvas.begin("now-words")
        size = next((s for s in sheet.rows[1:] if 0.7 * s <= high), 0.0)
        if two:
            canvas.text(x, middle - 2 * sheet.step, str(row.number), sheet.rows[0] * 0.9, 700)
            canvas.text(x, middle + 1.2 * sheet.least, now, sheet.least, 700)
        elif size:
            canvas.text(x, middle + 0.35 * size, str(row.number), size, 700)
        canvas.end()
        canvas.end()
        canvas.begin("done-mark")
        side = min(18 * sheet.step, box.height)
        beside = 0.9 * sheet.least + side <= box.height
        top = middle - (side + 1.1 * sheet.least) / 2 if beside else middle - side / 2
        draw_tick(canvas, Box(x - side / 2, top, side, side))
        if beside:
            canvas.begin("words")
            canvas.text(x, top + side + 1.1 * sheet.least, str(row.number), sheet.least, 600)
            canvas.end()
        canvas.end()

    def _draw_foot(self, top: float, told: list[str]) -> float:
        """Write below the frame how it is held, and the opening. A card says this in its own lines."""
        canvas, sheet, pack = self.canvas, self.sheet, self.pack
        step = sheet.step
        opening = opening_of(pack)
        lines: list[str] = []
        if opening is not None:
            text = self.say("Opening {opening}").format(opening=opening_words(opening))
            told.append(f"{text} mm.")
            lines += wrap(text, 0.6 * sheet.width, sheet.least, 600)
        weld = weld_of(pack)
        if weld is not None:
            told.append(self.say("Welded: leg {leg} mm.").format(leg=weld[1]))
        lines += self._held_words(told)
        if sheet.medium == "card":
            return top + step
        screws = screws_of(pack)
        if screws is not None and self.frame.shape == "round" and self.side == "working":
            lines += wrap(
                self.say("Screws: numbered clockwise from the top, not to scale."), sheet.width, sheet.least
            )
        far = self.side == "far"
        left, right = (step, sheet.width - sheet.margin) if far else (sheet.margin, sheet.width - step)
        if weld is not None:
            tip = (right - 30 * step, top) if far else (left + 30 * step, top)
            draw_weld(canvas, sheet, tip, top + 16 * step, weld[0], weld[1], far)
        canvas.begin("words")
        below = top + 4 * step
        for text in lines:
            below += 1.35 * sheet.least
            if far:
                canvas.text(left, below, text, sheet.least, 600, "start")
            else:
                canvas.text(right, below, text, sheet.least, 600, "end")
        canvas.end()
        return max(below + 5 * step, top + 26 * step if weld is not None else 0)

    def _held_words(self, told: list[str]) -> list[str]:
        """Say how a frame is bolted on or set, whether it opens, and of what frames a row is made."""
        say, frame, sheet = self.say, self.frame, self.sheet
        lines = []
        held, setting = flange_of(self.pack), setting_of(self.pack)
        if held is not None:
            text = say("{bolts} bolts {thread}, numbered clockwise from the upper left")
            lines.append(text.format(bolts=held[1].bolts, thread=held[1].thread))
        if setting is not None:
            if setting.joint is not None:
                lines.append(say("Joint of mortar {joint}").format(joint=str(setting.joint)))
            else:
                lines.append(say("Cast in with the concrete"))
        if frame.split is not None:
            lines.append(say("Two halves, which meet {at} from the lower edge").format(at=format_mm(frame.split.at)))
        if frame.row is not None:
            text = say("Row of {count} frames, {joint} apart")
            lines.append(text.format(count=frame.row.count, joint=format_mm(frame.row.joint)))
        told += [f"{line}." for line in lines]
        return [part for line in lines for part in wrap(line, 0.6 * sheet.width, sheet.least, 600)]

    # -- blocks --------------------------------------------------------------------------------------

    def _draw_placement(self, block: Placement, at: View) -> None:
        canvas, sheet = self.canvas, self.sheet
        side = float(block.size) * at.scale
        middle = at.box(block.x, block.y, block.size, block.size).middle
        data = {
            "position": block.position,
            "bay": str(block.bay),
            "row": str(block.row),
            "size": format_mm(block.size),
            "role": block.role,
        }
        if block.role == "spare":
            canvas.begin("block spare", data, middle)
            self._fill(block, lambda: draw_spare_block(sheet, side, self.spare, block.position))
        elif block.role == "filler":
            canvas.begin("block filler", data, middle)
            self._fill(block, lambda: draw_filler_block(sheet, side, block.position))
        elif block.others:
            self._draw_shared(block, side, at.scale, data, middle)
        else:
            cable = self.cables[block.cable or ""]
            data["cable"] = cable.tag
            measure = block.fit is None or block.fit.measure
            states = (" assumed" if cable.assumed else "") + (" measure" if measure else "")
            layers = None if measure or block.fit is None else (block.fit.likely.a, block.fit.likely.b)
            canvas.begin(f"block cable {cable.service}{states}", data, middle)
            sign = "Ø~" if measure and cable.diameter is not None else "Ø"
            self._fill(
                block,
                lambda: draw_cable_block(
                    sheet,
                    canvas.prefix,
                    side,
                    float(cable.likely) / 2 * at.scale,
                    cable.service,
                    cable.assumed,
                    BlockText(cable.tag, sign + diameter_text(cable), block.position, layers),
                ),
            )
        canvas.end()

    def _draw_shared(
        self, block: Placement, side: float, scale: float, data: dict[str, str], middle: tuple[float, float]
    ) -> None:
        """Draw a block that cables share: its bores stand the other way round on the far side's drawing."""
        part = self.pack.catalogue.blocks.get(block.part)
        held = block.bores
        count = max(len(held), (part.bores or 0) if part else 0)
        turn = -1 if self.side == "far" else 1
        bores = []
        for number, letter in enumerate(BORE_LETTERS[:count]):
            cable = self.cables[held[number][1]] if number < len(held) else None
            across = cable.likely if cable else min(self.cables[tag].likely for _, tag, _ in held)
            x = turn * ((number + 0.5) / count - 0.5) * side
            radius = min(float(across) / 2 * scale, 0.48 * side / count)
            bores.append(DrawnBore(x, radius, letter, cable.tag if cable else "", bool(cable and cable.assumed)))
        service = self.cables[held[0][1]].service
        measure = any(fit is None or fit.measure for _, _, fit in held)
        data["cable"] = held[0][1]
        self.canvas.begin(f"block cable {service}{' measure' if measure else ''}", data, middle)
        bores.sort(key=lambda bore: bore.x)
        self.canvas.raw(
            draw_shared_block(self.sheet, self.canvas.prefix, side, bores, service, block.position, measure)
        )

    def _fill(self, block: Placement, draw: Callable[[], str]) -> None:
        """Put in what is in a block: its own, under a name for the other drawing, or what that one lends."""
        name = own_id(self.pack.id, "block", block.position)
        if self.blocks == "taken":
            self.canvas.use(name)
        elif self.blocks == "lent":
            self.canvas.named(name, draw())
        else:
            self.canvas.raw(draw())
