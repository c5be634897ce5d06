"""Every figure that a step or caution may name, as text with its unit. Nothing here has a default."""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from typing import Literal

from generator.engine.bolts import bolt_order
from generator.engine.facts import CableType, Situation, peel_rule, stand_out
from generator.engine.fit import diameter_table, expected_rows
from generator.engine.hotwork import figures_of_hot_work
from generator.engine.quantities import used_up
from generator.model.catalogue import Opening, Tightening
from generator.model.closing import BayClosing
from generator.model.layout import BayLayout, Fit, Placement, Row
from generator.model.ratings import head_text
from generator.model.scalars import Window, format_mm

Each = Literal["transit", "bay", "row", "type"]


@dataclass(frozen=True)
class Figure:
    """What a figure means, in which steps it stands (once a transit, bay, row, type), and the facts it needs.

    Where the facts hold, the figure exists: a rule that names it asks for them in its ``when``.
    """

    meaning: str
    each: Each = "transit"
    needs: tuple[str, ...] = ()


def _tightening_figures(name: str, of: str, each: Each) -> dict[str, Figure]:
    yes = f"{name}:yes"
    return {
        f"{name}_bolts": Figure(f"how many bolts {of}", each, (yes,)),
        f"{name}_bolt": Figure(f"number of each of the bolts that {of}", each, (yes,)),
        f"{name}_thread": Figure(f"thread of the bolts that {of}", each, (yes,)),
        f"{name}_key": Figure(f"key size of the bolts that {of}", each, (yes,)),
        f"{name}_order": Figure(f"order of one round of the bolts that {of}", each, (yes,)),
        f"{name}_rounds": Figure(f"rounds of the bolts that {of}", each, (yes,)),
        f"{name}_turns": Figure("turns of each bolt in a round", each, (f"{name}:turns",)),
        f"{name}_torque": Figure("torque of the last round", each, (f"{name}:torque",)),
        f"{name}_protrusion": Figure("window of the thread past the nut", each, (f"{name}:protrusion",)),
        f"{name}_settle": Figure("time until it is read again", each, (f"{name}:settle",)),
    }


FRAME, SEAL = ("seal:frame",), ("seal:split-seal",)
CUT, ROUND, CORNERS = "opening:cut", "opening:round", "opening:rectangular"

FIGURES: dict[str, Figure] = {
    "id": Figure("ID of the transit"),
    "wall": Figure("ID of the wall, with its name where it has one"),
    "working_side": Figure("room from which blocks go in"),
    "far_side": Figure("room on the other side"),
    "first_side": Figure("room from which the coordinates are seen"),
    "left": Figure("what lies at the left, seen from the working side"),
    "right": Figure("what lies at the right, seen from the working side"),
    "up": Figure("where the drawing's upper edge points on a deck", needs=("division:deck",)),
    "x": Figure("distance from the x datum"),
    "y": Figure("distance from the y datum"),
    "datum_x": Figure("the edge that x is measured from"),
    "datum_y": Figure("the edge that y is measured from"),
    "towards": Figure("which way x runs from its edge, seen from where the coordinates are seen"),
    "wall_thickness": Figure("thickness of the wall"),
    "plate_window": Figure("thickness that the fixing takes"),
    "opening": Figure("size of the opening"),
    "opening_tolerance": Figure("its tolerance"),
    "opening_diameter_window": Figure("least and most diameter of the opening", needs=(ROUND,)),
    "opening_half": Figure("half the diameter of the opening", needs=(ROUND,)),
    "opening_width_window": Figure("least and most width of the opening", needs=(CORNERS,)),
    "opening_height_window": Figure("least and most height of the opening", needs=(CORNERS,)),
    "opening_diagonal": Figure("diagonal of the opening between its straight edges' corners", needs=(CORNERS,)),
    "corner_radius": Figure("radius of the opening's corners", needs=("opening:rounded-corners",)),
    "corner_drill": Figure("drill or cutter that leaves the corner radius", needs=("opening:rounded-corners",)),
    "cutter_speed": Figure("speed of a hole cutter of the opening's diameter", needs=(ROUND, "cutting-speed:known")),
    "edge_speed": Figure("speed of a cutter's edge in the wall's material", needs=("cutting-speed:known",)),
    "edge_speed_source": Figure("where that speed stands, and for which cutter", needs=("cutting-speed:known",)),
    "falling_mass": Figure("mass of the piece that falls out", needs=(CUT, "density:known")),
    "weld_leg": Figure("leg length of the fillet weld", needs=("fixing:welded",)),
    "weld_run": Figure("how the weld runs, in the catalogue's words", needs=("fixing:welded",)),
    "frame_gap": Figure("gap between a frame and its opening, all round", needs=("fixing:welded", *FRAME, CORNERS)),
    "stand_out": Figure("how far the frame stands out on the working side", needs=("stands-out:known",)),
    "stand_out_far": Figure("how far the frame stands out on the far side", needs=("stands-out:known",)),
    "cool_to": Figure("warmest the frame may be when blocks go in", needs=("fixing:welded",)),
    "bay_deviation": Figure("how much a bay may differ once it is fixed", needs=("bay:deviates",)),
    "bolt_hole": Figure("diameter of the holes for the bolts of the flange", needs=("fixing:bolted",)),
    "gasket": Figure("what lies between frame and wall", needs=("gasket:yes",)),
    "fill": Figure("what holds the frame: mortar or concrete", needs=("fixing:set",)),
    "joint": Figure("width of the joint round a grouted frame", needs=("fixing:grouted",)),
    "cure": Figure("time until the mortar or concrete bears", needs=("fixing:set",)),
    "split_joined": Figure("how the halves of the frame are joined", needs=("frame:split",)),
    "row_frame": Figure("part number of the frames of a row", needs=("frame:row",)),
    "row_count": Figure("how many frames stand in the row", needs=("frame:row",)),
    "row_joint": Figure("between two frames of a row", needs=("frame:row",)),
    "row_joined": Figure("how the frames of a row are joined", needs=("frame:row",)),
    "system": Figure("name of the sealing system"),
    "edition": Figure("edition of its documents"),
    "frame": Figure("part number of the frame", needs=FRAME),
    "frame_size": Figure("outer size of the frame", needs=FRAME),
    "frame_depth": Figure("depth of the frame", needs=FRAME),
    "seal": Figure("part number of the split seal", needs=SEAL),
    "seal_diameter": Figure("outer diameter of the split seal", needs=SEAL),
    "sleeve": Figure("part number of the sleeve", needs=("fixing:sleeve",)),
    "seat": Figure("what the catalogue says about how deep blocks lie in a frame", needs=("seat:said",)),
    "lubricate": Figure("what the catalogue says about lubricant", needs=("lubricant:said",)),
    "consumables": Figure("what is used up, with amounts", needs=("consumables:yes",)),
    "instrument": Figure("what diameters are measured with"),
    "cables": Figure("how many known cables and pipes pass"),
    "rows": Figure("how many rows", needs=FRAME),
    "blocks": Figure("how many blocks in two halves, spares included", needs=FRAME),
    "spares": Figure("how many spares", needs=FRAME),
    "fillers": Figure("how many fillers", needs=FRAME),
    "plates": Figure("how many row plates", needs=FRAME),
    "units": Figure("how many clamping units", needs=FRAME),
    "spare_places": Figure("places of the spares", needs=("spares:yes",)),
    "shared_places": Figure("bores of the blocks that cables share, and their cables", needs=("bores:several",)),
    "shared_blocks": Figure("parts of the blocks that cables share", needs=("bores:several",)),
    "shared_gap": Figure("window of the gap of those blocks", needs=("bores:several",)),
    "assumed": Figure("how many cables are not known yet", needs=("placeholders:yes",)),
    "assumed_places": Figure("places kept for cables that are not known yet", needs=("placeholders:yes",)),
    "fire": Figure("fire class that the wall demands", needs=("demand:fire",)),
    "l_and_w": Figure("L and W ratings that the wall demands", needs=("demand:l-or-w",)),
    "water_head": Figure("head of water that the wall must hold", needs=("demand:water",)),
    "water_test": Figure("how it is tested for water", needs=("test:water",)),
    "water_limit": Figure("when it has passed the test for water", needs=("test:water",)),
    "gas_test": Figure("how it is tested for gas", needs=("test:gas",)),
    "gas_limit": Figure("when it has passed the test for gas", needs=("test:gas",)),
    "ip": Figure("ingress code that the wall demands", needs=("demand:ip",)),
    "other_demands": Figure("what else the wall demands", needs=("demand:other",)),
    "hot_rules": Figure("rules for hot work that the job names", needs=("hot:named",)),
    "hot_clear": Figure("how far away what can burn must be, and the rules that say so", needs=("hot:clear",)),
    "hot_far": Figure("how far away the other side of walls is looked at", needs=("hot:far",)),
    "hot_watch": Figure("how long the fire watch lasts, and the rules that say so", needs=("hot:watch",)),
    "hot_checks": Figure("when to look again, counted from the last spark", needs=("hot:checks",)),
    "demands": Figure("everything that the wall demands", needs=("demand:any",)),
    "accepted": Figure("the paper of the approving authority", needs=("authority:accepts",)),
    "certificate": Figure("number of the certificate", needs=("certificate:yes",)),
    **_tightening_figures("holding", "hold the frame", "transit"),
    "bay": Figure("number of the bay", "bay", FRAME),
    "bay_width": Figure("clear width of the bay", "bay", FRAME),
    "bay_height": Figure("clear height of the bay", "bay", FRAME),
    "bay_width_window": Figure("least and most width once it is fixed", "bay", ("bay:deviates", *FRAME)),
    "bay_height_window": Figure("least and most height once it is fixed", "bay", ("bay:deviates", *FRAME)),
    "bay_rows": Figure("rows in the bay", "bay", FRAME),
    "bay_blocks": Figure("blocks in two halves in the bay, spares included", "bay", FRAME),
    "bay_spares": Figure("spares in the bay", "bay", FRAME),
    "bay_fillers": Figure("fillers in the bay", "bay", FRAME),
    "bay_plates": Figure("row plates in the bay", "bay", FRAME),
    "unit": Figure("part number of the clamping unit", "bay", FRAME),
    "unit_height": Figure("height that the clamping unit takes", "bay", FRAME),
    "unit_place": Figure("height that rows and row plates leave for the clamping unit", "bay", FRAME),
    "unit_back": Figure("height of the clamping unit turned back", "bay", ("press:known",)),
    "unit_play": Figure("room left above the gaps when the clamping unit goes in", "bay", ("press:in",)),
    "gap_sum": Figure("largest sum of gaps above each other that is to be expected", "bay", FRAME),
    "gap_sum_most": Figure("the same at the windows' ends", "bay", FRAME),
    "press": Figure("how far the rows must be pressed down for it to go in", "bay", ("press:yes",)),
    "press_most": Figure("how far at the windows' ends", "bay", ("press:known",)),
    "press_tool": Figure("tool that presses the rows down", "bay", ("press:tool",)),
    "press_limit": Figure("how far it may press them", "bay", ("press:tool",)),
    **_tightening_figures("closing", "close the seal", "bay"),
    "row": Figure("number of the row, with its bay where there are several", "row"),
    "row_height": Figure("height of the row", "row"),
    "row_pieces": Figure("how many blocks and fillers lie in the row", "row"),
    "row_places": Figure("first and last place of the row", "row"),
    "row_cables": Figure("cables of the row with their places", "row", ("row:cables",)),
    "row_spares": Figure("places of the spares", "row", ("row:spares",)),
    "row_fillers": Figure("places of the fillers", "row", ("row:fillers",)),
    "row_assumed": Figure("places kept for cables that are not known yet", "row", ("row:assumed",)),
    "row_plate": Figure("part number and thickness of the row plate", "row", ("row:plate",)),
    "type": Figure("type and drum, or the tag of a cable without a type", "type"),
    "type_cables": Figure("tags of its cables", "type"),
    "type_count": Figure("how many cables", "type"),
    "part": Figure("block or split seal it goes into", "type"),
    "peel": Figure("layers to peel for the most likely diameter", "type"),
    "answers": Figure("readings to expect, each with its layers", "type", ("type:measure",)),
    "gap": Figure("window of the gap", "type"),
    "reading_step": Figure("how finely the diameter is read", "type"),
    "not_round": Figure("how far two readings may differ", "type", ("type:roundness",)),
}
"""Every figure there is."""

MANY = frozenset({"holding_bolt", "closing_bolt"})
"""Figures that list several values: what is written down for one of them is written down once for each."""


# -- text ------------------------------------------------------------------------------------------


def _mm(value: Decimal) -> str:
    return f"{_signed(value)} mm"


def _signed(value: Decimal) -> str:
    return format_mm(value).replace("-", "−")


def _window(window: Window, unit: str = "mm") -> str:
    if window.least == window.most:
        return f"{format_mm(window.least)} {unit}"
    return f"{format_mm(window.least)}–{format_mm(window.most)} {unit}"


def _around(value: Decimal, minus: Decimal, plus: Decimal) -> str:
    return f"{format_mm(value - minus)}–{format_mm(value + plus)} mm" if minus or plus else _mm(value)


def _listed(items: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(items))


def _size(width: Decimal, height: Decimal, round_body: bool) -> str:
    return f"Ø {format_mm(width)} mm" if round_body else f"{format_mm(width)} × {format_mm(height)} mm"


def _tolerance(opening: Opening) -> str:
    if opening.plus == opening.minus:
        return f"±{format_mm(opening.plus)} mm"
    return f"+{format_mm(opening.plus)} / −{format_mm(opening.minus)} mm"


# -- arithmetic ------------------------------------------------------------------------------------


def falling_mass(opening: Opening, thickness: Decimal, density: Decimal) -> Decimal:
    """Return the mass of the piece that falls out of a cut, kg.

    ``thickness`` in mm, ``density`` in kg/m³. The saw's own cut is not taken off.
    Formula: mass = area · thickness · density; each rounded corner takes (1 − π/4) · radius² off the area.
    """
    pi = Decimal(math.pi)
    if opening.diameter is not None:
        area = pi / 4 * opening.diameter**2
    else:
        assert opening.width is not None and opening.height is not None
        radius = opening.corner_radius or Decimal(0)
        area = opening.width * opening.height - (4 - pi) * radius**2
    return area * thickness * density / 10**9


def cutter_speed(diameter: Decimal, speed: Decimal) -> Decimal:
    """Return the turns per minute at which the edge of a cutter of ``diameter`` mm runs at ``speed`` m/min.

    Formula: n = 1000 · v / (π · D).
    """
    return 1000 * speed / (Decimal(math.pi) * diameter)


def _kilograms(mass: Decimal) -> str:
    """Round up to two figures: a piece is never said to be lighter than it is."""
    digits = max(0, 1 - mass.adjusted())
    return f"{format_mm(mass.quantize(Decimal(1).scaleb(-digits), ROUND_CEILING))} kg"


# -- figures ---------------------------------------------------------------------------------------


def figures_of(situation: Situation) -> dict[str, str]:
    """Return the figures of the transit as a whole: name -> text with its unit.

    A figure whose facts (see ``FIGURES``) don't hold is left out. There must be a layout.
    """
    transit, wall, catalogue, how = situation.transit, situation.wall, situation.catalogue, situation.held
    first = transit.working_side == wall.sides[0]
    marks = (wall.landmarks.left, wall.landmarks.right)
    left, right = marks if first else marks[::-1]
    figures = {
        "id": situation.id,
        "wall": f"{situation.wall_id}, {wall.name}" if wall.name else situation.wall_id,
        "working_side": transit.working_side,
        "far_side": wall.sides[1] if first else wall.sides[0],
        "first_side": wall.sides[0],
        "left": left,
        "right": right,
        "x": _mm(transit.at.x),
        "y": _mm(transit.at.y),
        "datum_x": wall.datum.x,
        "datum_y": wall.datum.y,
        "towards": wall.landmarks.right,
        "wall_thickness": _mm(wall.thickness),
        "plate_window": _window(how.plate),
        "system": catalogue.system,
        "edition": catalogue.edition,
        "instrument": situation.job.instrument,
        "cables": str(len(situation.known)),
        **_opening_figures(situation),
        **_part_figures(situation),
        **_demand_figures(situation),
        **figures_of_hot_work(situation.hot_rules),
    }
    if wall.division == "deck" and wall.up:
        figures["up"] = wall.up
    if how.sleeve:
        figures["sleeve"] = how.sleeve
    if how.fixing.weld:
        weld = how.fixing.weld
        figures["weld_leg"] = _mm(weld.leg)
        figures["weld_run"] = weld.run
        figures["cool_to"] = f"{weld.cool_to_c} °C"
        figures["bay_deviation"] = f"±{format_mm(weld.bay_deviation)} mm"
    if (reach := stand_out(situation)) is not None:
        figures["stand_out"], figures["stand_out_far"] = (_mm(side) for side in reach)
    if how.fixing.flange:
        figures["bolt_hole"] = _size(how.fixing.flange.hole, how.fixing.flange.hole, True)
        if how.fixing.flange.gasket:
            figures["gasket"] = how.fixing.flange.gasket
    if how.fixing.setting:
        setting = how.fixing.setting
        figures["fill"] = setting.fill
        figures["cure"] = f"{setting.cure_hours} h"
        figures["bay_deviation"] = f"±{format_mm(setting.bay_deviation)} mm"
        if setting.joint:
            figures["joint"] = _window(setting.joint)
    if catalogue.seat is not None:
        figures["seat"] = catalogue.seat
    if catalogue.lubricate is not None:
        figures["lubricate"] = catalogue.lubricate
    if catalogue.consumables:
        figures["consumables"] = _listed(f"{name} {amount}" for _, name, amount in used_up(situation))
    if how.certificate:
        figures["certificate"] = how.certificate.number
    if situation.holding:
        figures |= _tightened("holding", situation.holding)
    return figures


def figures_of_bay(situation: Situation, bay: int) -> dict[str, str]:
    """Return the figures of one bay, numbered from 1; of the split seal when there is none."""
    closing = situation.closing(bay)
    before = f"{bay}." if len(situation.bays) > 1 else ""
    figures = _tightened("closing", closing, before) if closing else {}
    if situation.frame is None or not situation.bays:
        return figures
    part, laid = situation.frame.bays[bay - 1], situation.bays[bay - 1]
    figures |= {
        "bay": str(bay),
        "bay_width": _mm(part.width),
        "bay_height": _mm(part.height),
        "bay_rows": str(len(laid.rows)),
        "bay_blocks": str(sum(p.role != "filler" for p in laid.placements)),
        "bay_spares": str(sum(p.role == "spare" for p in laid.placements)),
        "bay_fillers": str(sum(p.role == "filler" for p in laid.placements)),
        "bay_plates": str(len(laid.plates)),
        "unit": laid.unit.part,
        "unit_height": _mm(laid.unit.height),
    }
    figures |= _closing_figures(situation.closings[bay - 1])
    fixed = situation.held.fixing.weld or situation.held.fixing.setting
    if fixed:
        figures["bay_width_window"] = _around(part.width, fixed.bay_deviation, fixed.bay_deviation)
        figures["bay_height_window"] = _around(part.height, fixed.bay_deviation, fixed.bay_deviation)
    return figures


def _closing_figures(closing: BayClosing) -> dict[str, str]:
    figures = {
        "unit_place": _mm(closing.place),
        "gap_sum": _mm(closing.fullest.expected),
        "gap_sum_most": _mm(closing.most),
    }
    if closing.retracted is not None and closing.press is not None and closing.press_most is not None:
        figures["unit_back"] = _mm(closing.retracted)
        figures["press_most"] = _mm(closing.press_most)
        if closing.press:
            figures["press"] = _mm(closing.press)
        else:
            figures["unit_play"] = _mm(closing.place - closing.fullest.expected - closing.retracted)
    if closing.tool and closing.tool_most is not None:
        figures["press_tool"] = closing.tool
        figures["press_limit"] = _mm(closing.tool_most)
    return figures


def figures_of_row(situation: Situation, bay: BayLayout, row: Row) -> dict[str, str]:
    """Return the figures of one row."""
    places = [placement.position for placement in row.placements]
    several = len(situation.bays) > 1
    figures = {
        "row": f"{bay.bay}.{row.number}" if several else str(row.number),
        "row_height": _mm(row.height),
        "row_pieces": str(len(places)),
        "row_places": places[0] if len(places) == 1 else f"{places[0]}–{places[-1]}",
    }
    chosen: dict[str, Callable[[Placement], bool]] = {
        "row_spares": lambda p: p.role == "spare",
        "row_fillers": lambda p: p.role == "filler",
        "row_assumed": lambda p: p.role == "cable" and p.cable in situation.assumed,
    }
    for name, choose in chosen.items():
        if positions := [p.position for p in row.placements if choose(p)]:
            figures[name] = _listed(positions)
    cables = [p for p in row.placements if p.role == "cable" and p.cable not in situation.assumed]
    if cables:
        figures["row_cables"] = _listed(f"{at} {tag}" for p in cables for at, tag, _ in p.bores)
    for plate in bay.plates:
        if plate.above_row == row.number:
            figures["row_plate"] = f"{plate.part}, {_mm(plate.thickness)}"
    return figures


def figures_of_type(situation: Situation, cables: CableType) -> dict[str, str]:
    """Return the figures of the cables of one type and drum."""
    fits = cables.fits
    limits = [limit for fit in fits if (limit := peel_rule(situation, fit.part).not_round) is not None]
    figures = {
        "type": f"{cables.name} · {cables.drum}" if cables.drum else cables.name,
        "type_cables": _listed(cable.tag for cable in cables.cables),
        "type_count": str(len(cables.cables)),
        "part": _listed(f"{fit.part} ({_mm(fit.size)})" for fit in fits),
        "peel": _of_parts(fits, lambda fit: f"A {fit.likely.a}, B {fit.likely.b}"),
        "gap": _of_parts(fits, lambda fit: _window(fit.window)),
        "reading_step": _mm(min(situation.job.reading_at(cable.likely).step for cable in cables.cables)),
    }
    if any(fit.measure for fit in fits):
        figures["answers"] = _of_parts(fits, lambda fit: _answers(situation, cables, fit))
    if limits:
        figures["not_round"] = _mm(min(limits))
    return figures


def _answers(situation: Situation, cables: CableType, fit: Fit) -> str:
    """Say what readings of these cables ask for: 28.4–29.1 A 5 B 5; a dash where the table has no answer.

    A reading is written as its instrument shows it, so 30.0 keeps its zero.
    """
    table = diameter_table(fit.part, fit.size, peel_rule(situation, fit.part), situation.job)
    least, most = min(cable.least for cable in cables.cables), max(cable.most for cable in cables.cables)
    return " · ".join(
        f"{row.least:f}–{row.most:f} " + (f"A {row.peel.a} B {row.peel.b}" if row.peel else "—")
        for row in expected_rows(table, least, most, situation.job)
    )


def _of_parts(fits: tuple[Fit, ...], text: Callable[[Fit], str]) -> str:
    """Say it once where all parts agree, else part by part."""
    texts = {text(fit) for fit in fits}
    if len(texts) == 1:
        return texts.pop()
    return "; ".join(dict.fromkeys(f"{fit.part}: {text(fit)}" for fit in fits))


def _tightened(name: str, tightening: Tightening, before: str = "") -> dict[str, str]:
    """Return the figures of bolts; ``before`` stands before each number where there are several bays."""
    figures = {
        f"{name}_bolts": str(tightening.bolts),
        f"{name}_thread": tightening.thread,
        f"{name}_key": _mm(tightening.key),
        f"{name}_bolt": _listed(f"{before}{number}" for number in range(1, tightening.bolts + 1)),
        f"{name}_order": _listed(f"{before}{number}" for number in bolt_order(tightening)),
        f"{name}_rounds": str(tightening.rounds),
    }
    if tightening.turns_each_round:
        figures[f"{name}_turns"] = format_mm(tightening.turns_each_round)
    if tightening.torque_nm is not None:
        figures[f"{name}_torque"] = f"{format_mm(tightening.torque_nm)} N·m"
    if tightening.protrusion is not None:
        figures[f"{name}_protrusion"] = _window(tightening.protrusion)
    if tightening.settle_minutes:
        figures[f"{name}_settle"] = f"{tightening.settle_minutes} min"
    return figures


def _opening_figures(situation: Situation) -> dict[str, str]:
    opening, material = situation.held.opening, situation.materials.get(situation.wall.material)
    figures = {"opening_tolerance": _tolerance(opening)}
    if material and material.cutting_least_m_min and material.cutting_most_m_min and material.cutting_source:
        slow, fast = format_mm(material.cutting_least_m_min), format_mm(material.cutting_most_m_min)
        figures["edge_speed"] = f"{slow}–{fast} m/min" if slow != fast else f"{slow} m/min"
        figures["edge_speed_source"] = material.cutting_source
    if opening.diameter is not None:
        figures["opening"] = _size(opening.diameter, opening.diameter, True)
        figures["opening_half"] = _mm(opening.diameter / 2)
        figures["opening_diameter_window"] = _around(opening.diameter, opening.minus, opening.plus)
        if material and material.cutting_least_m_min and material.cutting_most_m_min:
            speeds = [
                cutter_speed(opening.diameter, speed).quantize(Decimal(1), ROUND_HALF_UP)
                for speed in (material.cutting_least_m_min, material.cutting_most_m_min)
            ]
            figures["cutter_speed"] = "–".join(f"{speed}" for speed in speeds)
    elif opening.width is not None and opening.height is not None:
        figures["opening"] = _size(opening.width, opening.height, False)
        figures["opening_width_window"] = _around(opening.width, opening.minus, opening.plus)
        frame = situation.frame
        if frame is not None and situation.held.fixing.weld:
            least = min(opening.width - frame.width, opening.height - frame.height) - opening.minus
            most = max(opening.width - frame.width, opening.height - frame.height) + opening.plus
            figures["frame_gap"] = _window(Window(least=max(least / 2, Decimal(0)), most=max(most / 2, Decimal(0))))
        figures["opening_height_window"] = _around(opening.height, opening.minus, opening.plus)
        diagonal = (opening.width**2 + opening.height**2).sqrt()
        figures["opening_diagonal"] = _mm(diagonal.quantize(Decimal(1), ROUND_HALF_UP))
        if opening.corner_radius:
            figures["corner_radius"] = _mm(opening.corner_radius)
            figures["corner_drill"] = _mm(2 * opening.corner_radius)
    if material and not situation.transit.existing_opening and situation.transit.fixing != "cast":
        mass = falling_mass(opening, situation.wall.thickness, material.density_kg_m3)
        figures["falling_mass"] = _kilograms(mass)
    return figures


def _part_figures(situation: Situation) -> dict[str, str]:
    frame, seal, transit = situation.frame, situation.split_seal, situation.transit
    if seal and transit.split_seal:
        return {"seal": transit.split_seal, "seal_diameter": _mm(seal.diameter)}
    if not frame or not transit.frame:
        return {}
    placements = situation.placements
    spares = [p.position for p in placements if p.role == "spare"]
    kept = [p.position for p in placements if p.cable in situation.assumed]
    figures = {
        "frame": transit.frame,
        "frame_size": _size(frame.width, frame.height, frame.shape == "round"),
        "frame_depth": _mm(frame.depth),
        "rows": str(sum(len(bay.rows) for bay in situation.bays)),
        "blocks": str(sum(p.role != "filler" for p in placements)),
        "spares": str(len(spares)),
        "fillers": str(sum(p.role == "filler" for p in placements)),
        "plates": str(sum(len(bay.plates) for bay in situation.bays)),
        "units": str(len(situation.bays)),
    }
    if frame.split:
        figures["split_joined"] = frame.split.joined
    if frame.row:
        figures["row_frame"] = frame.row.frame
        figures["row_count"] = str(frame.row.count)
        figures["row_joint"] = _mm(frame.row.joint)
        figures["row_joined"] = frame.row.joined
    if spares:
        figures["spare_places"] = _listed(spares)
    if shared := [p for p in placements if p.others]:
        figures["shared_places"] = _listed(f"{at} {tag}" for p in shared for at, tag, _ in p.bores)
        figures["shared_blocks"] = ", ".join(sorted({p.part for p in shared}))
        figures["shared_gap"] = ", ".join(dict.fromkeys(_window(p.fit.window) for p in shared if p.fit))
    if situation.assumed:
        figures["assumed"] = str(len(situation.assumed))
        figures["assumed_places"] = _listed(kept)
    return figures


def _demand_figures(situation: Situation) -> dict[str, str]:
    demands = situation.wall.demands
    figures = {}
    if demands.fire is not None:
        figures["fire"] = demands.fire
    l_and_w = [demands.l_rating.text if demands.l_rating else "", "W" if demands.w_rating else ""]
    if any(l_and_w):
        figures["l_and_w"] = ", ".join(rating for rating in l_and_w if rating)
    if water := head_text(demands.water_head_m, demands.water_bar):
        figures["water_head"] = water
    if water and (trial := situation.trial("water")):
        figures["water_test"], figures["water_limit"] = trial.method, trial.limit
    if demands.gas and (trial := situation.trial("gas")):
        figures["gas_test"], figures["gas_limit"] = trial.method, trial.limit
    if demands.ip is not None:
        figures["ip"] = demands.ip
    if demands.other:
        figures["other_demands"] = "; ".join(demands.other)
    if demands.any:
        gas = f"gas at {format_mm(demands.gas_mbar)} mbar" if demands.gas_mbar else "gas" if demands.gas else ""
        told = (demands.fire, figures.get("l_and_w"), water and f"{water} of water", gas, demands.ip, *demands.other)
        figures["demands"] = "; ".join(demand for demand in told if demand)
    if situation.transit.authority_accepts is not None:
        figures["accepted"] = situation.transit.authority_accepts
    return figures
