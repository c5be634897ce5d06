"""The transit as the installer sees it: to scale, from the working side, or the far side's exact mirror.

Several bays: the frame is drawn whole where its smallest block still takes a tag; else bay under bay, each
as large as the sheet allows, with its own bar (bay, landmarks), under a small picture of the whole frame
that says which bay is where. Two bays of 144 mm side by side leave 17 px for an 18 mm block on a phone,
and no word fits in that; one under the other they leave 34 px, the same as a frame with one bay.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

from generator.drawing.banner import draw_banner, draw_bay_bar, draw_up_mark
from generator.drawing.canvas import Box, Canvas, View, own_id
from generator.drawing.describe import describe_bay, describe_head, diameter_text
from generator.drawing.labels import Labels, label_cable, label_filler, label_spare
from generator.drawing.lettering import text_width
from generator.drawing.seal_view import draw_seal
from generator.drawing.sheet import SHEETS, Medium, Sheet, Side
from generator.drawing.symbols import (
    CLASS_LETTERS,
    Pattern,
    define,
    draw_block,
    draw_bolt,
    draw_diagonals,
    draw_face,
    draw_flag,
    draw_halos,
    draw_rings,
    draw_screws,
    draw_weld,
    write_words,
)
from generator.model.catalogue import Bay, Fixing, Frame, Opening, Tightening
from generator.model.job import Cable
from generator.model.layout import BayLayout, Layout, Placement, Row, SealLayout
from generator.model.pack import TransitPack
from generator.model.scalars import format_mm

Say = Callable[[str], str]

_WHOLE_BLOCK = 30
"""A frame with several bays is drawn whole while its smallest block is this many px (a tag of four fits)."""


def draw_front(pack: TransitPack, side: Side, say: Say, medium: Medium, bay: int | None = None) -> str:
    """Draw a transit from one side and return an ``<svg>`` for inlining.

    ``say`` translates words. ``bay`` draws that bay alone (a card for each). Sizes: 344 wide for a screen,
    growing with its place; 64 mm wide for a card. Where there is no layout the frame is drawn empty and
    says so. Blocks carry data-position, data-cable, data-size, data-role, data-row and data-bay.
    """
    sheet = SHEETS[medium]
    words = (pack.id, side, medium) if bay is None else (pack.id, side, medium, f"bay{bay}")
    canvas = Canvas(sheet.looks, own_id(*words))
    marks = pack.landmarks if side == "working" else (pack.landmarks[1], pack.landmarks[0])
    room = pack.transit.working_side if side == "working" else pack.far_side
    define(canvas, sheet, _patterns_of(pack, side))
    top = draw_banner(canvas, sheet, sheet.width, side, room, marks, canvas.id("border"), say)
    told = describe_head(pack, side, marks, say)
    if pack.wall.up is not None:
        top += draw_up_mark(canvas, sheet, sheet.width, top, pack.wall.up, say)
    top += 5 * sheet.step
    if pack.transit.split_seal is not None:
        top = draw_seal(canvas, sheet, pack, side, top, told, say)
    else:
        top = _FrontView(canvas, sheet, pack, side, marks, say).draw(top, bay, told)
    title = f"{pack.id}: {say('block layout')}"
    data = {"transit": pack.id, "side": side, "medium": medium}
    return canvas.svg(
        sheet.width, top, sheet.unit, title, " ".join(told), f"drawing drawing-{medium}", data
    )


def _patterns_of(pack: TransitPack, side: Side) -> list[Pattern]:
    used: list[Pattern] = ["metal"]
    if side == "far":
        used.append("border")
    services = {cable.service for cable in pack.cables if not cable.assumed}
    names: tuple[Pattern, ...] = ("control", "instrument", "data", "earth")
    return used + [name for name in names if name in services]


def opening_of(pack: TransitPack) -> Opening | None:
    """Return the opening a transit needs: its fixing's, or that of the sleeve which holds it."""
    fixing = _fixing_of(pack)
    if fixing is None:
        return None
    if fixing.opening is None and fixing.sleeve is not None and fixing.sleeve in pack.catalogue.sleeves:
        return pack.catalogue.sleeves[fixing.sleeve].opening
    return fixing.opening


def _fixing_of(pack: TransitPack) -> Fixing | None:
    part = pack.transit.frame or pack.transit.split_seal or ""
    holder = pack.catalogue.frames.get(part) or pack.catalogue.split_seals.get(part)
    return holder.fixings.get(pack.transit.fixing) if holder else None


def screws_of(pack: TransitPack) -> Tightening | None:
    """Return how a round frame or a split seal is tightened in its hole, where it has screws."""
    fixing = _fixing_of(pack)
    if fixing is None:
        return None
    if fixing.sleeve is not None and fixing.sleeve in pack.catalogue.sleeves:
        return pack.catalogue.sleeves[fixing.sleeve].tightening
    return fixing.tightening


@dataclass(frozen=True)
class _Slice:
    """A part of the frame that is drawn as one picture: from x to x in the frame, and the bays in it."""

    left: float
    right: float
    bays: tuple[int, ...]


class _FrontView:
    """A frame being drawn."""

    def __init__(
        self, canvas: Canvas, sheet: Sheet, pack: TransitPack, side: Side, marks: tuple[str, str], say: Say
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
        self.several = len(self.frame.bays) > 1
        self.metal = canvas.id("metal")
        self.spare = say("SPARE")

    def draw(self, top: float, only: int | None, told: list[str]) -> float:
        """Draw the frame below ``top`` and return where the drawing ends."""
        frame = self.frame
        told.append(self._frame_words())
        slices = self._slices(only)
        if len(slices) > 1 or only is not None:
            top = self._draw_whole_small(top, only)
        for part in slices:
            if len(slices) > 1 or only is not None:
                text = self.say("Bay {bay} of {bays}").format(bay=part.bays[0], bays=len(frame.bays))
                top += draw_bay_bar(self.canvas, self.sheet, self.sheet.width, top, self.side, text, self.marks)
                top += 5 * self.sheet.step
            top = self._draw_slice(part, top, whole=len(part.bays) == len(frame.bays))
            for number in part.bays:
                if number in self.layouts:
                    told += describe_bay(self.layouts[number], self.several, self.side, self.cables, self.say)
            top += 5 * self.sheet.step
        if not self.layouts:
            told.append(self.say("There is no layout for this frame yet."))
        return self._draw_foot(top - 5 * self.sheet.step)

    def _frame_words(self) -> str:
        frame = self.frame
        if frame.shape == "round":
            return self.say("Round frame, diameter {width} mm.").format(width=format_mm(frame.width))
        return self.say("Frame {width} × {height} mm.").format(
            width=format_mm(frame.width), height=format_mm(frame.height)
        )

    # -- which parts of the frame, and how large ---------------------------------------------------

    def _slices(self, only: int | None) -> list[_Slice]:
        frame = self.frame
        width = float(frame.width)
        numbers = tuple(range(1, len(frame.bays) + 1))
        whole = _Slice(0, width, numbers)
        if len(numbers) == 1:
            return [whole]
        if only is None:
            smallest = min([float(block.size) for bay in self.layouts.values() for block in bay.placements] or [20])
            unit = self.sheet.edge_line / 1.75
            if smallest * self._scale(whole) >= _WHOLE_BLOCK * unit or frame.shape == "round":
                return [whole]
        edges = [0.0]
        for left, right in zip(frame.bays, frame.bays[1:], strict=False):
            edges.append(float(left.x + left.width + right.x) / 2)
        edges.append(width)
        return [
            _Slice(edges[number - 1], edges[number], (number,))
            for number in numbers
            if only is None or number == only
        ]

    def _room(self) -> tuple[float, float, float]:
        """Return the free width for a frame, the margin on its counted side, and its edge on every side."""
        sheet = self.sheet
        edge = sheet.frame_line / 2 + 0.5 * sheet.step
        if self.frame.shape == "round":
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
            if min(free(middle - reach), free(middle + reach)) < 2 * sheet.band + sheet.margin:
                return False
        return True

    def _scale(self, part: _Slice) -> float:
        wide = self._room()[0]
        tall = self.sheet.tallest if self.frame.shape != "round" else self.sheet.width
        return min(wide / (part.right - part.left), tall / float(self.frame.height))

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
        canvas.rect(view.box(0, 0, frame.width, frame.height), "frame", self.metal)
        boxes = [view.box(bay.x, bay.y, bay.width, bay.height) for bay in frame.bays]
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

    def _draw_slice(self, part: _Slice, top: float, whole: bool) -> float:
        canvas, sheet, frame = self.canvas, self.sheet, self.frame
        scale = self._scale(part)
        far = self.side == "far"
        wide = (part.right - part.left) * scale
        free, margin, edge = self._room()
        left = (margin if frame.shape != "round" else margin + edge) + (free - wide) / 2
        foot = top + edge + float(frame.height) * scale
        x = sheet.width - left + part.left * scale if far else left - part.left * scale
        view = View(x, foot, scale, far)
        canvas.begin("frame-part", {"scale": f"{scale:.6f}"})
        if frame.shape == "round":
            self._draw_round_body(view)
        else:
            self._draw_rectangular_body(view, part, whole)
        for number in part.bays:
            bay = frame.bays[number - 1]
            at = View(view.right(bay.x), view.up(bay.y), scale, far)
            inside = frame.shape == "round" and margin == 0
            self._draw_bay(number, bay, at, view, inside)
        canvas.end()
        return foot + edge

    def _draw_round_body(self, view: View) -> None:
        canvas, sheet, frame = self.canvas, self.sheet, self.frame
        radius = float(frame.width) / 2
        x, y, r = view.right(radius), view.up(radius), radius * view.scale
        screws = screws_of(self.pack)
        if screws is not None:
            ring = self._ring()
            if self.side == "working":
                canvas.circle(x, y, r + ring - 0.5 * sheet.step, "ground edge")
                flats = min(1.55 * sheet.least, 2.4 * r / max(screws.bolts, 1))
                draw_screws(
                    canvas, sheet, (x, y), r + ring / 2, screws.bolts, screws.order == "crosswise", flats
                )
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

    def _draw_rectangular_body(self, view: View, part: _Slice, whole: bool) -> None:
        canvas, sheet, frame = self.canvas, self.sheet, self.frame
        box = view.box(part.left, 0, part.right - part.left, frame.height)
        if whole:
            canvas.rect(box, "body frame", self.metal)
        else:
            canvas.rect(box, "metal", self.metal)
            top, bottom = box.y, box.bottom
            canvas.path(["M", box.x, top, "H", box.right, "M", box.x, bottom, "H", box.right], "frame")
            for edge, own in ((part.left, 0.0), (part.right, float(frame.width))):
                at = view.right(edge)
                canvas.line(at, top, at, bottom, "frame" if edge == own else "break dashed")
        bays = [frame.bays[number - 1] for number in part.bays]
        least = min([float(bay.x) for bay in frame.bays] + [float(bay.y) for bay in frame.bays]) * view.scale
        if least > 3.2 * sheet.band:
            canvas.rect(box.grown(-sheet.band), "paper")
            for bay in bays:
                canvas.rect(view.box(bay.x, bay.y, bay.width, bay.height).grown(sheet.band), "metal", self.metal)

    def _draw_bay(self, number: int, bay: Bay, at: View, frame: View, inside: bool) -> None:
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
            self._draw_row(number, layout, row, at, frame, inside)
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
        name = self.say("Clamping unit")
        if self.side == "working":
            second = self.say("{height} mm high").format(height=format_mm(layout.unit.height))
        else:
            second = self.say("worked from working side")
        x, y = box.middle
        size = next((s for s in sheet.tags[1:] if text_width(name, s, 600) <= free - 4 * sheet.step), 0)
        small = max(0.85 * size, sheet.least)
        if size and size * 0.9 < box.height:
            two = text_width(second, small) <= free - 4 * sheet.step and size + small * 1.3 < box.height
            canvas.begin("words")
            canvas.text(x, y - 0.2 * size if two else y + 0.35 * size, name, size, 600)
            if two:
                canvas.text(x, y + 0.95 * small, second, small)
            canvas.end()
        canvas.end()

    def _draw_bolts(self, box: Box, scale: float, tightening: Tightening) -> float:
        """Draw the unit's bolts, half of them at each end, and return how much stays free between them."""
        room = min(box.height * 0.44, box.width * 0.44 / max(tightening.bolts, 2))
        flats = min(float(tightening.key) * scale, room * 1.2)
        y = box.middle[1]
        pitch = 2.15 * room
        left = (tightening.bolts + 1) // 2
        for number in range(tightening.bolts):
            if number < left:
                x = box.x + room * 1.1 + number * pitch
            else:
                x = box.right - room * 1.1 - (tightening.bolts - 1 - number) * pitch
            draw_bolt(self.canvas, x, y, flats, room)
        return box.width - 2 * (left * pitch)

    def _draw_row(
        self, number: int, layout: BayLayout, row: Row, at: View, frame: View, inside: bool
    ) -> None:
        canvas, sheet = self.canvas, self.sheet
        box = at.box(0, row.y, layout.width, row.height)
        canvas.begin("row", {"bay": str(number), "row": str(row.number)})
        self._draw_count(row, box, frame, inside)
        for block in row.placements:
            self._draw_placement(block, at)
        if sheet.medium == "screen":
            canvas.begin("now-mark")
            canvas.rect(box.grown(1.5 * sheet.step), "now-frame")
            canvas.end()
        canvas.end()

    def _draw_count(self, row: Row, box: Box, frame: View, inside: bool) -> None:
        """Draw a row's number and height in the margin, with a bracket whose foot shows where the row begins."""
        canvas, sheet = self.canvas, self.sheet
        step = sheet.step
        far = self.side == "far"
        turn = -1 if far else 1  # towards the blocks
        if inside:
            near = (box.right + sheet.band if far else box.x - sheet.band) - turn * 2 * step
        else:
            near = frame.right(0) if not self.several else (box.right if far else box.x)
            near -= turn * (sheet.frame_line / 2 + 1.5 * step)
        rest = near - turn * 5 * step
        canvas.begin("count")
        canvas.path(["M", near, box.y + step, "H", rest, "V", box.bottom - step, "H", near], "fine")
        x = rest - turn * (sheet.margin - 8 * step) / 2
        middle = box.middle[1]
        height = format_mm(row.height)
        size = next((s for s in sheet.rows if 0.72 * s + 1.35 * sheet.least <= box.height), 0.0)
        canvas.begin("words")
        if size:
            total = 0.7 * size + 0.4 * sheet.least + 0.7 * sheet.least
            base = middle - total / 2 + 0.7 * size
            canvas.text(x, base, str(row.number), size, 700)
            canvas.text(x, base + 1.1 * sheet.least, height, sheet.least)
        elif 0.72 * sheet.least <= box.height:
            canvas.text(x, middle + 0.35 * sheet.least, str(row.number), sheet.least, 700)
        canvas.end()
        canvas.end()

    def _draw_foot(self, top: float) -> float:
        """Draw what stands below the frame: the weld's sign, the opening."""
        return top + self.sheet.step

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
            canvas.raw(_spare(sheet, side, self.spare, block.position))
        elif block.role == "filler":
            canvas.begin("block filler", data, middle)
            canvas.raw(_filler(sheet, side, block.position))
        else:
            cable = self.cables[block.cable or ""]
            data["cable"] = cable.tag
            measure = block.fit is None or block.fit.measure
            states = (" assumed" if cable.assumed else "") + (" measure" if measure else "")
            layers = None if measure or block.fit is None else (block.fit.likely.a, block.fit.likely.b)
            canvas.begin(f"block cable {cable.service}{states}", data, middle)
            canvas.raw(_cable(sheet, side, at.scale, cable, block.position, layers, measure, canvas.prefix))
        canvas.end()


@lru_cache(maxsize=4096)
def _spare(sheet: Sheet, side: float, word: str, position: str) -> str:
    pen = Canvas(sheet.looks)
    labels = label_spare(sheet, side, word, position)
    draw_block(pen, side, labels.ring)
    draw_rings(pen, labels.ring)
    draw_halos(pen, labels.inside, 1.5 * sheet.step)
    write_words(pen, labels.inside + labels.words)
    return pen.markup()


@lru_cache(maxsize=4096)
def _filler(sheet: Sheet, side: float, position: str) -> str:
    pen = Canvas(sheet.looks)
    labels = label_filler(sheet, side, position)
    draw_block(pen, side, None)
    draw_diagonals(pen, side)
    draw_halos(pen, labels.inside, 2 * sheet.step)
    write_words(pen, labels.inside)
    return pen.markup()


def _cable(
    sheet: Sheet,
    side: float,
    scale: float,
    cable: Cable,
    position: str,
    layers: tuple[int, int] | None,
    measure: bool,
    prefix: str,
) -> str:
    pen = Canvas(sheet.looks, prefix)
    radius = float(cable.likely) / 2 * scale
    flag = min(0.75 * sheet.least, side * 0.22) if measure else 0.0
    sign = "Ø~" if measure and cable.diameter is not None else "Ø"
    letter = CLASS_LETTERS[cable.service]
    labels = label_cable(
        sheet, side, radius, cable.tag, sign + diameter_text(cable), position, letter, layers, flag
    )
    draw_block(pen, side, radius)
    draw_face(pen, cable.service, radius, cable.assumed, pen.id(cable.service))
    if flag:
        draw_flag(pen, side, flag)
    solid = cable.service == "power" and not cable.assumed
    if labels.inside and not (solid or cable.assumed):
        draw_halos(pen, labels.inside, 1.5 * sheet.step)
    draw_halos(pen, labels.over, 0.8 * sheet.step)
    if solid:
        write_words(pen, labels.inside, "banner-words")
        write_words(pen, labels.words + labels.over)
    else:
        write_words(pen, labels.inside + labels.words + labels.over)
    return pen.markup()



