"""Transits of every kind with every option that a step or caution can ask about, made from the samples."""

import json
from collections.abc import Iterator
from functools import cache
from itertools import product
from typing import Any

from generator.engine.facts import Situation
from generator.model.catalogue import Catalogue
from generator.model.job import Cable, Transit, Wall
from generator.model.layout import BayLayout, Bore, Layout
from generator.model.pack import TransitPack
from generator.model.procedure import ProcedureFile
from generator.source.files import decode
from generator.source.procedure import ReadProcedure, join_procedures
from generator.source.yaml_text import parse_yaml
from generator.workpack import shipped_procedure
from tests import sample_packs

MATERIALS = ("steel", "stainless", "aluminium", "concrete", "masonry", "board")
BODIES = (
    *("welded", "round_frame", "plain_frame", "split_seal", "plain_seal", "deck_two_bays"),
    *("bolted", "split", "grouted", "cast", "row_welded", "row_bolted"),
)
TIGHT = {"bolts": 4, "thread": "M8", "key": 13, "order": "crosswise", "rounds": 3, "torque_nm": 12}
PLAIN = {
    "opening": {"diameter": 172, "plus": 1, "minus": 0},
    "plate": {"least": 4, "most": 300},
    "materials": list(MATERIALS),
}
LATER = {"count": 2, "service": "power", "least": 20, "most": 22}


@cache
def shipped() -> ProcedureFile:
    """Read the procedure that comes with Wallwork, as the program does."""
    roots = [parse_yaml(decode(text.encode(), name), name) for name, text in shipped_procedure()]
    joined, problems = join_procedures(
        [ReadProcedure(ProcedureFile.model_validate(root), root) for root in roots], None
    )
    assert problems == []
    return joined


def situation(body: str = "welded", **options: Any) -> Situation:
    """Return a situation: ``body`` names a sample, or a sample set in a plain hole.

    Options: hot_work (rules the job names), wall, transit (fields to change), opening (of whatever holds it), weld_sides, closing, holding
    (a tightening, or None), travel (of every clamping unit), adding, demands, catalogue (fields), cables (fields of the ``first`` so many cables, else
    of the first one), assumed (tags of cables to come), plug, not_round, rows (roles to leave out), share (two cables lie in the block of the first).
    """
    sample = {"plain_frame": "round_frame", "plain_seal": "split_seal"}.get(body, body)
    sample = sample if sample in ("welded", "round_frame", "split_seal", "deck_two_bays") else "welded"
    pack = _sample(sample)
    catalogue = pack.catalogue.model_dump(mode="json")
    frame, seal = pack.transit.frame, pack.transit.split_seal
    part = catalogue["frames"][frame] if frame else catalogue["split_seals"][seal]
    transit = pack.transit.model_dump(mode="json", exclude_defaults=True)
    if body.startswith("plain"):
        plain = {**PLAIN, "opening": {**PLAIN["opening"]}}
        part["fixings"] = {"plain-hole": {**plain, "tightening": options.get("holding", TIGHT)}}
        transit["fixing"] = "plain-hole"
    if body in ("bolted", "split", "grouted", "cast", "row_bolted"):
        transit["fixing"] = body if body in ("grouted", "cast") else "bolted"
        part["fixings"] = {transit["fixing"]: _fixing(body, options.get("holding", TIGHT) or TIGHT)}
    if body == "split":
        part["split"] = {"at": 100, "joined": "two screws at each joint, 4 N·m"}
        transit["cables_in_place"] = options.get("in_place", True)
    if body.startswith("row"):
        part["row"] = {"frame": frame, "count": 2, "joint": 4, "joined": "tack welds, 20 long, each 100"}
    fixing = part["fixings"][transit["fixing"]]
    sleeve = catalogue["sleeves"].get(fixing.get("sleeve"))
    if sleeve and options.get("holding"):
        sleeve["tightening"] = options["holding"]
    if "opening" in options:
        (sleeve or fixing)["opening"].update(options["opening"])
    if "weld_sides" in options and fixing.get("weld"):
        fixing["weld"]["sides"] = options["weld_sides"]
    if "stands_out" in options:
        fixing["weld"]["stands_out"] = options["stands_out"]
    if "closing" in options:
        for unit in catalogue["clamping_units"].values():
            unit["tightening"] = options["closing"]
        if seal and sleeve:
            sleeve["tightening"] = options["closing"]
        if seal and not sleeve:
            fixing["tightening"] = options["closing"]
    for unit in catalogue["clamping_units"].values():
        unit["travel"] = options.get("travel")
    for block in (*catalogue["blocks"].values(), *catalogue["split_seals"].values()):
        block["not_round"] = options.get("not_round")
    for block in catalogue["blocks"].values():
        block["plug"] = options.get("plug", True)
    catalogue.update(options.get("catalogue", {}))
    wall = {**pack.wall.model_dump(mode="json"), **options.get("wall", {})}
    if wall["division"] == "deck":
        wall.setdefault("up", None)
        wall["up"] = wall["up"] or "north"
    wall["demands"] = options.get("demands", wall["demands"])
    transit.update(options.get("transit", {}))
    cables = [cable.model_dump(mode="json") for cable in pack.cables]
    for cable in cables[: options.get("first", 1)]:
        cable.update(options.get("cables", {}))
    for cable in cables:
        cable["assumed"] = cable["tag"] in options.get("assumed", ())
    layout = pack.layout
    if "rows" in options and isinstance(layout, Layout):
        layout = layout.model_copy(update={"bays": tuple(_without(bay, options["rows"]) for bay in layout.bays)})
    if "share" in options and isinstance(layout, Layout):
        layout = layout.model_copy(update={"bays": (_shared(layout.bays[0]), *layout.bays[1:])})
    return Situation(
        id=pack.id,
        transit=Transit.model_validate(transit),
        wall_id=pack.wall_id,
        wall=Wall.model_validate(wall),
        job=pack.job.model_copy(update={"hot_work": tuple(options.get("hot_work", ()))}),
        catalogue=_catalogue(json.dumps(catalogue)),
        cables=_cables(json.dumps(cables)),
        layout=layout,
        materials=shipped().materials,
        adding=options.get("adding", False),
        hot_work=shipped().hot_work,
    )


def _fixing(body: str, tightening: dict[str, Any]) -> dict[str, Any]:
    """Return a fixing of each of the kinds that the samples don't have."""
    basis = {**PLAIN, "opening": {"width": 170, "height": 206, "plus": 2, "minus": 2}}
    if body in ("grouted", "cast"):
        setting = {"fill": "mortar of the system, free from shrinking", "cure_hours": 48, "bay_deviation": 1}
        joint = {"joint": {"least": 10, "most": 20}} if body == "grouted" else {}
        return {**basis, "setting": {**setting, **joint}}
    across, up = (2, tightening["bolts"] // 2) if tightening["bolts"] > 2 else (2, 2)
    bolts = 2 * across + 2 * (up - 2)
    gasket = {"gasket": "cellular rubber, 3 thick"} if body == "bolted" else {}
    return {
        **basis,
        "tightening": {**tightening, "bolts": bolts},
        "flange": {"across": across, "up": up, "inset": 8, "hole": 9, **gasket},
    }


@cache
def _sample(name: str) -> TransitPack:
    return getattr(sample_packs, name)()  # type: ignore[no-any-return]


@cache
def _catalogue(text: str) -> Catalogue:
    return Catalogue.model_validate(json.loads(text))


@cache
def _cables(text: str) -> tuple[Cable, ...]:
    return tuple(Cable.model_validate(cable) for cable in json.loads(text))


def _without(bay: BayLayout, roles: tuple[str, ...]) -> BayLayout:
    rows = tuple(
        row.model_copy(update={"placements": tuple(p for p in row.placements if p.role not in roles)})
        for row in bay.rows
    )
    return bay.model_copy(update={"rows": rows})


def _shared(bay: BayLayout) -> BayLayout:
    """Put the second cable of the first row beside the first, and a spare where it was."""
    first, second, *rest = bay.rows[0].placements
    assert second.cable and second.fit
    together = first.model_copy(update={"others": (Bore(cable=second.cable, fit=second.fit),)})
    spare = second.model_copy(update={"role": "spare", "cable": None, "fit": None})
    row = bay.rows[0].model_copy(update={"placements": (together, spare, *rest)})
    return bay.model_copy(update={"rows": (row, *bay.rows[1:])})


def tightenings() -> Iterator[dict[str, Any]]:
    """Every way in which bolts can be described."""
    ends: tuple[dict[str, Any], ...] = (
        {"torque_nm": 12},
        {"protrusion": {"least": 14, "most": 16}},
        {"torque_nm": 12, "protrusion": {"least": 14, "most": 16}},
    )
    turns: tuple[dict[str, Any], ...] = ({}, {"turns_each_round": "1.5"})
    settle: tuple[dict[str, Any], ...] = ({}, {"settle_minutes": 30})
    for bolts, order in ((2, "in-turn"), (6, "crosswise")):
        for end, turn, wait in product(ends, turns, settle):
            yield {"bolts": bolts, "thread": "M8", "key": 13, "order": order, "rounds": 3, **end, **turn, **wait}


def openings() -> Iterator[Situation]:
    """Every body, in every division and material it may meet, cut or there already, marked either way."""
    spots = ({"x": -10, "y": 5, "to": "centre"}, {"x": 10, "y": 5, "to": "lower-left"})
    for body, division, existing in product(BODIES, ("bulkhead", "deck", "cabinet"), (False, True)):
        for material in MATERIALS if body.startswith(("plain", "grouted", "cast")) else MATERIALS[:3]:
            for structural, spot in zip((False, True), spots, strict=True):
                yield situation(
                    body,
                    wall={"division": division, "material": material, "structural": structural},
                    transit={"existing_opening": existing, "at": spot},
                )
    yield situation("plain_seal", wall={"division": "wall", "material": "masonry"})
    yield situation("plain_seal", transit={"cables_in_place": True})
    yield situation("split", in_place=False)
    for radius, sides in product((0, 8), ("both sides", "working side", "far side")):
        yield situation("welded", opening={"corner_radius": radius}, weld_sides=sides)
    yield situation("welded", stands_out=20)
    yield situation(
        "plain_frame",
        opening={"diameter": None, "width": 120, "height": 130, "corner_radius": 10},
        wall={"material": "concrete"},
    )
    yield situation(
        "plain_frame",
        opening={"diameter": None, "width": 120, "height": 130},
        wall={"material": "masonry"},
    )


def closings() -> Iterator[Situation]:
    """Every body with every way of tightening; the plain seal also with nothing to tighten."""
    for body, tightening in product(BODIES, tightenings()):
        yield situation(body, closing=tightening, holding=tightening)
    yield situation("plain_seal", holding=None)
    yield situation("plain_frame", holding=None)


def contents() -> Iterator[Situation]:
    """What lies in it: pipes, braids, cables to come, spares, fillers, and what the catalogue says of them."""
    for body in BODIES:
        for cable in ({"service": "pipe"}, {"bonded": True}, {"type": "NYY 4x16", "drum": "D7"}):
            yield situation(
                body,
                cables=cable,
                first=2,
                not_round="0.4",
                catalogue={"lubricate": None, "seat": "Level with both edges."},
            )
        yield situation(body, catalogue={"consumables": {}}, rows=("spare",))
        yield situation(body, rows=("spare", "filler"))
        yield situation(body, rows=("filler",))
        yield situation(body, share=True)
    tags = tuple(cable.tag for cable in sample_packs.welded().cables)
    for plug in (True, False):
        yield situation("welded", assumed=tags[:2], plug=plug)
        yield situation("welded", assumed=tags, plug=plug)


def travels() -> Iterator[Situation]:
    """A unit of 33 mm that goes in by hand, perhaps, or when the rows are pressed, with a tool that is named or not."""
    yield situation("welded", adding=True)
    for body in BODIES:
        for turned_back, more in product((20, 28, 33), ({}, {"pressing": {"tool": "screw press", "most": 3}})):
            yield situation(body, travel={"turned_back": turned_back, "closed": 39, **more})


def demands() -> Iterator[Situation]:
    """Every set of demands."""
    one = {"fire": "A-60", "water_head_m": "1.2", "gas": True, "ip": "IP66", "other": ["No smoke", "No mice"]}
    leak = {"ambient": 5, "hot": 8, "unit": "cfm/ft2"}
    for body in ("welded", "split_seal"):
        for chosen in product((False, True), repeat=len(one)):
            yield situation(body, demands={key: one[key] for key, wanted in zip(one, chosen, strict=True) if wanted})
    for fire, l_rating, w_rating in (("F 2 h / T 1 h", leak, True), (None, leak, False), (None, None, True)):
        asked = {"fire": fire, "l_rating": l_rating, "w_rating": w_rating}
        yield situation("welded", demands={key: value for key, value in asked.items() if value})
    trial = {"method": "hose, 2 bar, 5 minutes", "limit": "no drop"}
    for tested in ({"water": trial}, {"gas": trial}, {"water": trial, "gas": trial}):
        yield situation("welded", demands={key: one[key] for key in ("water_head_m", "gas")}, wall={"tests": tested})
    yield situation("split_seal", wall={"tests": {"water": trial}}, demands={})
    yield situation("welded", demands={"fire": "A-60"}, transit={"day": "2031-05-14"})
    yield situation("welded", demands={"water_bar": "0.2"}, transit={"authority_accepts": "letter 12 of the owner"})


def hot_work() -> Iterator[Situation]:
    """Each set of rules for hot work by itself and all together, with and without welding and cutting."""
    names = tuple(shipped().hot_work)
    for body, existing in product(("welded", "bolted", "plain_seal"), (False, True)):
        for chosen in (*((name,) for name in names), names):
            yield situation(body, hot_work=chosen, transit={"existing_opening": existing})


def conditions(*names: str) -> Iterator[Situation]:
    """Every body, cut and existing, with conditions of the planner's."""
    for body, existing in product(BODIES, (False, True)):
        yield situation(body, transit={"conditions": list(names), "existing_opening": existing})


@cache
def everything() -> tuple[Situation, ...]:
    """All of them."""
    return (*openings(), *closings(), *contents(), *travels(), *demands(), *hot_work())
