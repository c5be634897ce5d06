"""The work digest: whether two definitions ask for the very same work at the wall, whatever their words.

It is the SHA-256 of a canonical form: JSON with sorted keys, every length (and every other decimal) a whole
number of thousandths, texts as they are. What is counted, and what is not, stands below field by field
(``COUNTED`` and ``LEFT_OUT``: every field of every model stands in one of them, and a test holds that), so a
field that a later version adds changes no digest until someone decides that it counts. A field that says
nothing (none, no, an empty list) is left out of the form.

Counted, because the crew would do something else:

- the ID, the wall it passes and what the wall is made of, how thick it is, what it demands, whether it
  carries load; its rooms, landmarks, datum edges and deck mark, since they say where to stand, which way
  round the drawing is held and where the hole comes;
- working side, frame or split seal, how it is held, where it is, whether the opening is there already, and
  the conditions that steps and cautions ask for (as a set);
- the sealing system and its edition, what it says about lubricant, and of its parts only those that lie in
  the transit, with every figure;
- each cable's tag, class, type, drum, range, nominal diameter (where it is not the range's middle), bond,
  and whether it only stands for one to come; cables as a set, since their order in the schedule counts only
  through the layout (cables of a class lie in a row in that order);
- every block's place, part, cable, layers and whether it is measured first; plates, clamping units; the
  readings and layers of every table that is peeled by;
- of each step, in the order of the work: key, kind, party, the figures it names, how many values are written
  down and their figures, and the cautions before it by name and signal word. Steps that are repeated for
  each cable type count in the order of their keys.

Not counted: the words of steps and cautions, notes, names of the job, the wall and the place, the day, the
area, the wall's size on its drawing, keep-outs, distances, room and bends (a place is refused by them or worked
all the same), certificates and conductors (a step that compares them names its number, which counts; which step
it is says what came of it), how a catalogue is called or sourced, what was asked for (spares, placeholders, classes
kept apart, shared blocks, circuits, the ladder, blocks that stay: the layout says what came of it), the list of what
to bring, and whether the layout is proven the best.
"""

from collections.abc import Iterable, Iterator
from decimal import Decimal
from itertools import groupby
from typing import Any, TypeVar

from pydantic import BaseModel

from generator.model import catalogue as parts
from generator.model import job as asked
from generator.model import layout as laid
from generator.model import procedure as done
from generator.model.canonical import digest_of
from generator.model.catalogue import Catalogue, FixingKind, Frame, SplitSeal
from generator.model.layout import Layout
from generator.model.pack import TransitPack
from generator.model.procedure import Message, Step
from generator.model.ratings import LRating
from generator.model.scalars import Window

_Body = TypeVar("_Body", Frame, SplitSeal)

FORMAT = 1
"""The version of the canonical form: it is part of it, so two forms never give one digest."""

COUNTED: dict[type[BaseModel], tuple[str, ...]] = {
    Window: ("least", "most"),
    asked.Wall: (
        "division",
        "sides",
        "landmarks",
        "up",
        "material",
        "thickness",
        "datum",
        "demands",
        "structural",
        "conditions",
        "insulation",
    ),
    asked.Landmarks: ("left", "right"),
    asked.Datum: ("x", "y"),
    asked.Demands: (
        "fire",
        "l_rating",
        "w_rating",
        "water_head_m",
        "water_bar",
        "gas",
        "gas_mbar",
        "pressure_from",
        "ip",
        "other",
    ),
    LRating: ("ambient", "hot", "unit"),
    asked.Insulation: ("sides", "length"),
    asked.Transit: (
        "working_side",
        "frame",
        "split_seal",
        "fixing",
        "at",
        "existing_opening",
        "cables_in_place",
        "conditions",
        "authority_accepts",
    ),
    asked.Spot: ("x", "y", "to"),
    asked.Cable: ("tag", "service", "type", "drum", "diameter", "least", "most", "bonded", "assumed"),
    parts.Catalogue: (
        "system",
        "edition",
        "lubricate",
        "seat",
        "blocks",
        "fillers",
        "row_plates",
        "clamping_units",
        "frames",
        "sleeves",
        "split_seals",
        "consumables",
    ),
    parts.PeelLayers: ("bore", "layer", "layers_per_half", "odd_layer", "halves_differ_by", "gap"),
    parts.PeelRow: ("least", "most", "a", "b", "gap"),
    parts.Block: ("size", "layers", "table", "not_round", "plug", "pipes", "bonds", "bores", "bores_differ"),
    parts.Filler: ("size",),
    parts.RowPlate: ("length", "thickness"),
    parts.Tightening: (
        "bolts",
        "thread",
        "key",
        "order",
        "rounds",
        "turns_each_round",
        "torque_nm",
        "protrusion",
        "settle_minutes",
    ),
    parts.Pressing: ("tool", "most"),
    parts.Travel: ("turned_back", "closed", "squeeze_percent", "pressing"),
    parts.ClampingUnit: ("width", "height", "travel", "tightening"),
    parts.Bay: ("width", "height", "x", "y", "row_plate", "plate_under_unit", "clamping_unit"),
    parts.Opening: ("width", "height", "diameter", "plus", "minus", "corner_radius"),
    parts.Weld: ("leg", "sides", "run", "bay_deviation", "cool_to_c", "stands_out"),
    parts.Flange: ("across", "up", "inset", "hole", "gasket"),
    parts.Setting: ("fill", "joint", "cure_hours", "bay_deviation"),
    parts.Fixing: ("opening", "plate", "materials", "sleeve", "weld", "flange", "setting", "tightening"),
    parts.Split: ("at", "joined"),
    parts.FrameRow: ("frame", "count", "joint", "joined"),
    parts.Frame: ("shape", "width", "height", "depth", "bays", "fixings", "split", "row"),
    parts.Sleeve: ("opening", "plate", "materials", "tightening"),
    parts.SplitSeal: ("diameter", "layers", "table", "not_round", "pipes", "bonds", "fixings"),
    parts.Consumable: ("amount", "unit", "per", "thread"),
    laid.Peel: ("a", "b"),
    laid.Fit: ("part", "size", "window", "likely", "measure"),
    laid.DiameterRow: ("least", "most", "peel"),
    laid.DiameterTable: ("part", "size", "window", "rows", "tape"),
    laid.Placement: ("position", "bay", "row", "place", "x", "y", "size", "role", "part", "cable", "fit", "others"),
    laid.Bore: ("cable", "fit"),
    laid.Row: ("number", "y", "height", "placements"),
    laid.Plate: ("part", "y", "thickness", "above_row"),
    laid.Unit: ("part", "y", "height"),
    laid.BayLayout: ("bay", "width", "height", "rows", "plates", "unit"),
    laid.Layout: ("kind", "bays"),
    laid.SealLayout: ("kind", "part", "diameter", "cable", "fit"),
    laid.NoLayout: ("kind",),
    done.Step: ("key", "kind", "party", "bay", "row"),
    done.Caution: ("id", "signal"),
}
"""The fields that count, of every model that a digest reads."""

LEFT_OUT: dict[type[BaseModel], tuple[str, ...]] = {
    asked.Wall: (
        "name",
        "area",
        "width",
        "height",
        "note",
        "keep_outs",
        "edge_distance",
        "tests",
        "opening_distance",
        "room",
    ),
    asked.Transit: (
        "wall",
        "tag",
        "catalogue",
        "spares",
        "placeholders",
        "day",
        "note",
        "room",
        "bend",
        "rest",
        "keep",
        "shared",
        "apart",
    ),
    parts.Tightening: ("shares", "property_class", "nut_factor", "proof_percent"),
    asked.Cable: ("transits", "note", "bend_factor", "circuit", "ladder", "out_of_round_mm", "conductor_mm2"),
    parts.Catalogue: ("source", "wastage"),
    parts.Bay: ("stacking", "nesting"),
    parts.Fixing: ("edge_distance", "opening_distance", "reach"),
    parts.Frame: ("corner_radius", "certificate", "webs_not_magnetic", "price"),
    parts.SplitSeal: ("certificate",),
    parts.Consumable: ("name", "holds"),
    laid.Peel: ("gap",),
    laid.DiameterRow: ("gap_least", "gap_most"),
    laid.DiameterTable: ("pairs",),  # the same rule as rows, for two readings at once
    laid.Layout: ("proven", "note"),
    laid.NoLayout: ("what", "why", "mend", "gave_up"),
    done.Step: ("number", "phase", "title", "text", "reads", "tools", "cautions"),
    done.Caution: ("title", "text", "card", "rank", "source", "when", "unless"),
}
"""The fields that don't count, or count in a form of their own (a step's figures, its cautions)."""

_SETS = frozenset({"conditions", "materials", "other"})
"""Fields whose order says nothing."""

UNCOUNTED_FIGURES = frozenset({"wall", "instrument", "type_cables", "consumables", "edge_speed_source"})
"""Figures that repeat names, or what is counted elsewhere in an order of its own."""


def work_digest(pack: TransitPack) -> str:
    """Return the work digest of a transit: 64 hexadecimal digits."""
    return digest_of(canonical_work(pack))


def canonical_work(pack: TransitPack) -> dict[str, Any]:
    """Return what the digest is taken over, as plain values. See the top of this module."""
    return {
        "format": FORMAT,
        "id": pack.id,
        "wall": {"id": pack.wall_id, **_form(pack.wall)},
        "transit": _form(pack.transit),
        "catalogue": _form(parts_in_use(pack)),
        "cables": sorted((_cable(cable) for cable in pack.cables), key=lambda cable: str(cable["tag"])),
        "layout": _form(pack.layout),
        "tables": sorted((_form(table) for table in pack.tables), key=lambda table: str(table["part"])),
        "steps": [_step(step) for step in _in_fixed_order(pack.steps)],
    }


def parts_in_use(pack: TransitPack) -> Catalogue:
    """Return the sealing system with those parts only that lie in the transit, and how it is held."""
    whole, transit, layout = pack.catalogue, pack.transit, pack.layout
    placed = {p.part for p in layout.placements} if isinstance(layout, Layout) else set()
    bays = layout.bays if isinstance(layout, Layout) else ()
    frames = {k: _held(v, transit.fixing) for k, v in whole.frames.items() if k == transit.frame}
    seals = {k: _held(v, transit.fixing) for k, v in whole.split_seals.items() if k == transit.split_seal}
    sleeves = {
        fixing.sleeve
        for fixings in (*(frame.fixings for frame in frames.values()), *(seal.fixings for seal in seals.values()))
        for fixing in fixings.values()
    }
    plates = {plate.part for bay in bays for plate in bay.plates}
    # A frame names its row plates and units even where none lies in it, and a page may look them up.
    plates |= {bay.row_plate for frame in frames.values() for bay in frame.bays}
    units = {bay.clamping_unit for frame in frames.values() for bay in frame.bays}
    return whole.model_copy(
        update={
            "blocks": {k: v for k, v in whole.blocks.items() if k in placed},
            "fillers": {k: v for k, v in whole.fillers.items() if k in placed},
            "row_plates": {k: v for k, v in whole.row_plates.items() if k in plates},
            "clamping_units": {k: v for k, v in whole.clamping_units.items() if k in units},
            "frames": frames,
            "sleeves": {k: v for k, v in whole.sleeves.items() if k in sleeves},
            "split_seals": seals,
        }
    )


def _held(body: _Body, fixing: FixingKind) -> _Body:
    return body.model_copy(update={"fixings": {k: v for k, v in body.fixings.items() if k == fixing}})


def _form(value: Any) -> Any:
    if isinstance(value, BaseModel):
        return dict(_fields(value))
    if isinstance(value, Decimal):
        return thousandths(value)
    if isinstance(value, tuple | list):
        return [_form(item) for item in value]
    if isinstance(value, dict):
        return {key: _form(item) for key, item in value.items()}
    return value


def _fields(model: BaseModel) -> Iterator[tuple[str, Any]]:
    for name in COUNTED[type(model)]:
        value = getattr(model, name)
        if value is None or value is False or value == () or value == {}:
            continue
        form = _form(value)
        yield name, sorted(set(form)) if name in _SETS else form


def thousandths(value: Decimal) -> int:
    """Return a decimal as a whole number of thousandths. Raises ValueError where it is none."""
    scaled = value * 1000
    if scaled != scaled.to_integral_value():
        raise ValueError(f"{value} lies between two thousandths")
    return int(scaled)


def _cable(cable: asked.Cable) -> dict[str, Any]:
    form = dict(_fields(cable))
    if cable.diameter is not None and cable.diameter * 2 == cable.least + cable.most:
        del form["diameter"]  # a nominal diameter with a tolerance, or its range: the same cable
    return form


def _step(step: Step) -> dict[str, Any]:
    figures: dict[str, str] = {}
    for message in (step.title, step.text, *step.tools):
        figures |= _figures(message)
    return {
        **dict(_fields(step)),
        "figures": figures,
        "reads": [_figures(read) for read in step.reads],
        "cautions": sorted(f"{caution.signal} {caution.id}" for caution in step.cautions),
    }


def _figures(message: Message) -> dict[str, str]:
    return {name: value for name, value in message.values.items() if name not in UNCOUNTED_FIGURES}


def _in_fixed_order(steps: Iterable[Step]) -> Iterator[Step]:
    """Yield steps in the order of the work; those repeated for each cable type by the names of the types."""
    for repeated, run in groupby(steps, key=lambda step: step.bay is None and "." in step.key):
        together = list(run)
        if repeated:
            together.sort(key=lambda step: step.key.rpartition(".")[2])  # the steps of one type keep their order
        yield from together
