"""What is true of one transit: the conditions that steps and cautions ask for."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property

from generator.engine.closing import close_layout
from generator.engine.demands import compare_demands
from generator.engine.fixing import Held, held
from generator.engine.hotwork import named_rules, strictest
from generator.model.catalogue import Catalogue, Frame, Material, PeelRule, SplitSeal, Tightening
from generator.model.closing import BayClosing
from generator.model.comparison import Comparison
from generator.model.job import Cable, Job, Tested, Transit, Trial, Wall
from generator.model.layout import AnyLayout, BayLayout, Fit, Layout, NoLayout, Placement, Row, SealLayout
from generator.model.procedure import HotRules, MaterialFigures
from generator.model.ratings import fire_class

METALS = ("steel", "stainless", "aluminium")


@dataclass(frozen=True)
class Situation:
    """One transit with all that its steps depend on. Every reference in it leads somewhere."""

    id: str
    transit: Transit
    wall_id: str
    wall: Wall
    job: Job
    catalogue: Catalogue
    cables: tuple[Cable, ...]
    layout: AnyLayout
    materials: Mapping[Material, MaterialFigures] = field(default_factory=dict)
    adding: bool = False
    """Whether it is closed and opened again for one more cable."""
    hot_work: Mapping[str, HotRules] = field(default_factory=dict)

    @cached_property
    def held(self) -> Held:
        """How it is held."""
        return held(self.transit, self.catalogue)

    @property
    def hot_rules(self) -> tuple[HotRules, ...]:
        """The rules for hot work that its job names."""
        return named_rules(self.job.hot_work, self.hot_work)

    @cached_property
    def comparisons(self) -> tuple[Comparison, ...]:
        """What its wall demands, beside what its certificate says."""
        return compare_demands(self.transit, self.wall, self.catalogue, self.cables, self.layout)

    @property
    def frame(self) -> Frame | None:
        """Its frame, when it is one."""
        return self.catalogue.frames[self.transit.frame] if self.transit.frame else None

    @property
    def split_seal(self) -> SplitSeal | None:
        """Its split seal, when it is one."""
        return self.catalogue.split_seals[self.transit.split_seal] if self.transit.split_seal else None

    @cached_property
    def closings(self) -> tuple[BayClosing, ...]:
        """How each bay of its layout closes; none for a split seal."""
        if not isinstance(self.layout, Layout):
            return ()
        fixed = self.held.fixing.weld or self.held.fixing.setting
        return close_layout(self.layout, self.catalogue, fixed.bay_deviation if fixed else Decimal(0))

    @property
    def bays(self) -> tuple[BayLayout, ...]:
        """The bays of its layout; none for a split seal."""
        return self.layout.bays if isinstance(self.layout, Layout) else ()

    @property
    def placements(self) -> tuple[Placement, ...]:
        """Every block of its layout."""
        return self.layout.placements if isinstance(self.layout, Layout) else ()

    @property
    def known(self) -> tuple[Cable, ...]:
        """Its cables without those that only stand for cables to come."""
        return tuple(cable for cable in self.cables if not cable.assumed)

    @property
    def assumed(self) -> frozenset[str]:
        """Tags that stand for cables to come."""
        return frozenset(cable.tag for cable in self.cables if cable.assumed)

    def trial(self, tested: Tested) -> Trial | None:
        """Return how it is tested, None where nobody has agreed on it."""
        return self.wall.tests.get(tested) or self.job.tests.get(tested)

    @property
    def holding(self) -> Tightening | None:
        """The bolts that only hold the frame; a split seal's are those that close it."""
        return self.held.tightening if self.frame else None

    def closing(self, bay: int) -> Tightening | None:
        """Return the bolts that close a bay (numbered from 1), or the split seal."""
        if self.frame:
            return self.catalogue.clamping_units[self.frame.bays[bay - 1].clamping_unit].tightening
        return self.held.tightening


@dataclass(frozen=True)
class CableType:
    """Cables of one type from one drum: one reading of the diameter serves them all."""

    name: str
    drum: str
    cables: tuple[Cable, ...]
    fits: tuple[Fit, ...]


def cable_types(situation: Situation) -> tuple[CableType, ...]:
    """Group the known cables by type and drum, in the order of the schedule.

    A cable without a type is measured by itself. ``fits`` has each different block and answer once.
    """
    fits: dict[str, Fit] = {}
    if isinstance(situation.layout, SealLayout):
        fits[situation.layout.cable] = situation.layout.fit
    for placement in situation.placements:
        fits |= {tag: fit for _, tag, fit in placement.bores if fit}
    groups: dict[tuple[str, str, str], list[Cable]] = {}
    for cable in situation.known:
        own = "" if cable.type else cable.tag
        groups.setdefault((cable.type or cable.tag, cable.drum or "", own), []).append(cable)
    return tuple(
        CableType(
            name,
            drum,
            tuple(cables),
            tuple(dict.fromkeys(fits[cable.tag] for cable in cables if cable.tag in fits)),
        )
        for (name, drum, _), cables in groups.items()
    )


def facts_of(situation: Situation) -> frozenset[str]:
    """State what is true of the transit as a whole, and the planner's conditions word for word.

    What holds for one bay, row or type only is in it too when it holds for any of them.
    """
    facts = {*situation.transit.conditions, *situation.wall.conditions, *_asked_for(situation)}
    for bay in range(1, len(situation.frame.bays) + 1 if situation.frame else 2):
        facts |= facts_of_bay(situation, bay)
    for bay_layout in situation.bays:
        for row in bay_layout.rows:
            facts |= facts_of_row(situation, bay_layout, row)
    for cables in cable_types(situation):
        facts |= facts_of_type(situation, cables)
    if not isinstance(situation.layout, NoLayout):
        facts |= _laid_out(situation)
    return frozenset(facts)


def facts_of_bay(situation: Situation, bay: int) -> frozenset[str]:
    """State what is true of one bay, numbered from 1; of the split seal when there is none."""
    closing = situation.closing(bay)
    facts = {*_tightened("closing", closing), "closing:yes" if closing else "closing:no"}
    return frozenset(facts) | (_going_in(situation.closings[bay - 1]) if situation.bays else frozenset())


def _going_in(closing: BayClosing) -> frozenset[str]:
    """State how the clamping unit of a bay goes in."""
    tests = {
        "press:hand": closing.going_in == "by hand",
        "press:perhaps": closing.going_in == "perhaps",
        "press:in": closing.going_in in ("by hand", "perhaps"),
        "press:yes": closing.going_in == "pressed",
        "press:known": closing.going_in != "not judged",
        "press:unknown": closing.going_in == "not judged",
        "press:tool": bool(closing.tool),
    }
    return _true(tests)


def facts_of_row(situation: Situation, bay: BayLayout, row: Row) -> frozenset[str]:
    """State what is true of one row."""
    tests = {
        "row:cables": any(p.role == "cable" and p.cable not in situation.assumed for p in row.placements),
        "row:assumed": any(p.role == "cable" and p.cable in situation.assumed for p in row.placements),
        "row:spares": any(p.role == "spare" for p in row.placements),
        "row:fillers": any(p.role == "filler" for p in row.placements),
        "row:plate": any(plate.above_row == row.number for plate in bay.plates),
    }
    return _true(tests)


def facts_of_type(situation: Situation, cables: CableType) -> frozenset[str]:
    """State what is true of the cables of one type and drum."""
    pipe = any(cable.service == "pipe" for cable in cables.cables)
    tests = {
        "type:pipe": pipe,
        "type:cable": not pipe,
        "type:bonded": any(cable.bonded for cable in cables.cables),
        "type:several": len(cables.cables) > 1,
        "type:measure": any(fit.measure for fit in cables.fits),
        "type:roundness": any(peel_rule(situation, fit.part).not_round is not None for fit in cables.fits),
    }
    return _true(tests)


def peel_rule(situation: Situation, part: str) -> PeelRule:
    """Return the block or split seal of that part number. Raises KeyError."""
    catalogue = situation.catalogue
    return catalogue.blocks[part] if part in catalogue.blocks else catalogue.split_seals[part]


def stand_out(situation: Situation) -> tuple[Decimal, Decimal] | None:
    """Return how far a welded frame stands out on the working and on the far side, mm; None where nobody says.

    What of its depth is neither in the wall nor on the working side is on the far side.
    """
    weld, frame = situation.held.fixing.weld, situation.frame
    if frame is None or weld is None or weld.stands_out is None:
        return None
    far = frame.depth - situation.wall.thickness - weld.stands_out
    return (weld.stands_out, far) if far >= 0 else None


def _true(tests: Mapping[str, bool]) -> frozenset[str]:
    return frozenset(fact for fact, holds in tests.items() if holds)


def _tightened(name: str, tightening: Tightening | None) -> Iterable[str]:
    if tightening is None:
        return
    yield f"{name}:{'turns' if tightening.turns_each_round else 'no-turns'}"
    yield f"{name}:{tightening.order}"
    if tightening.torque_nm is not None:
        yield f"{name}:torque"
    if tightening.protrusion is not None:
        yield f"{name}:protrusion"
    if tightening.settle_minutes:
        yield f"{name}:settle"


def _is_insulated_a(fire: str | None) -> bool:
    """It is an A class with a time in which its far side stays cool: A-0 has none."""
    found = fire_class(fire) if fire else None
    return found is not None and found.system == "ship" and found.letters == "A" and found.minutes > 0


def _asked_for(situation: Situation) -> frozenset[str]:
    transit, wall, catalogue, how = situation.transit, situation.wall, situation.catalogue, situation.held
    frame, opening, weld = situation.frame, situation.held.opening, situation.held.fixing.weld
    material = situation.materials.get(wall.material)
    demands = {
        "demand:fire": wall.demands.fire is not None,
        "demand:a-class": _is_insulated_a(wall.demands.fire),
        "demand:l-or-w": wall.demands.l_rating is not None or wall.demands.w_rating,
        "demand:water": wall.demands.water,
        "demand:gas": wall.demands.gas,
        "demand:ip": wall.demands.ip is not None,
        "demand:other": bool(wall.demands.other),
    }
    rated = [found.verdict for found in situation.comparisons if found.about != "other"]
    covered = how.certificate is not None and all(verdict == "covered" for verdict in rated)
    tests = {
        **demands,
        "test:water": demands["demand:water"] and situation.trial("water") is not None,
        "test:gas": demands["demand:gas"] and situation.trial("gas") is not None,
        "demand:any": wall.demands.any,
        "demand:covered": wall.demands.any and covered,
        "demand:open": wall.demands.any and not covered,
        "authority:accepts": transit.authority_accepts is not None,
        "insulated": wall.insulation is not None,
        "adding:yes": situation.adding,
        **_hot_work(situation),
        "seal:frame": frame is not None,
        "seal:split-seal": frame is None,
        "shape:round": frame is None or frame.shape == "round",
        "shape:rectangular": frame is not None and frame.shape == "rectangular",
        "material:metal": wall.material in METALS,
        "material:mineral": wall.material not in METALS,
        "density:known": material is not None,
        "cutting-speed:known": bool(material and material.cutting_least_m_min and material.cutting_most_m_min),
        "wall:structural": wall.structural,
        "opening:cut": not transit.existing_opening and transit.fixing != "cast",
        "opening:existing": transit.existing_opening,
        "opening:cast": not transit.existing_opening and transit.fixing == "cast",
        "fixing:set": how.fixing.setting is not None,
        "gasket:yes": bool(how.fixing.flange and how.fixing.flange.gasket),
        "frame:split": frame is not None and frame.split is not None,
        "frame:row": frame is not None and frame.row is not None,
        "stands-out:known": stand_out(situation) is not None,
        "bay:deviates": weld is not None or how.fixing.setting is not None,
        "cables:in-place": bool(situation.known) and transit.cables_in_place,
        "cables:to-pull": bool(situation.known) and not transit.cables_in_place,
        "opening:round": opening.diameter is not None,
        "opening:rectangular": opening.diameter is None,
        "opening:rounded-corners": bool(opening.diameter is None and opening.corner_radius),
        "spot:minus": transit.at.x < 0 or transit.at.y < 0,
        "working-side:first": transit.working_side == wall.sides[0],
        "working-side:second": transit.working_side != wall.sides[0],
        "bays:one": frame is not None and len(frame.bays) == 1,
        "bays:several": frame is not None and len(frame.bays) > 1,
        "cables:yes": bool(situation.known),
        "pipes:yes": any(cable.service == "pipe" for cable in situation.known),
        "bonded:yes": any(cable.bonded for cable in situation.known),
        "placeholders:yes": bool(situation.assumed),
        "lubricant:said": catalogue.lubricate is not None,
        "lubricant:unsaid": catalogue.lubricate is None,
        "seat:said": catalogue.seat is not None,
        "seat:unsaid": catalogue.seat is None,
        "consumables:yes": bool(catalogue.consumables),
        "certificate:yes": how.certificate is not None,
    }
    words = {
        f"fixing:{transit.fixing}",
        f"division:{wall.division}",
        f"material:{wall.material}",
        f"spot:{transit.at.to}",
    }
    if weld:
        words.add(f"weld:{weld.sides.replace(' ', '-')}")
    if situation.holding:
        words |= {"holding:yes", *_tightened("holding", situation.holding)}
    return _true(tests) | words


def _hot_work(situation: Situation) -> dict[str, bool]:
    transit, rules = situation.transit, situation.hot_rules
    cut = not transit.existing_opening and transit.fixing != "cast" and situation.wall.material in METALS
    named = {name: strictest(rules, name) for name in ("clear_m", "far_m", "watch_min", "checks_min", "every_min")}
    checks = bool(named["watch_min"] and named["checks_min"] and named["every_min"])
    return {
        "hot:yes": cut or transit.fixing == "welded",
        "hot:named": bool(rules),
        "hot:clear": named["clear_m"] is not None,
        "hot:far": named["far_m"] is not None,
        "hot:watch": named["watch_min"] is not None,
        "hot:checks": checks,
        **{f"rules-{name}": True for name in situation.job.hot_work},
    }


def _laid_out(situation: Situation) -> frozenset[str]:
    placements = situation.placements
    kept = {p.part for p in placements if p.role == "cable" and p.cable in situation.assumed}
    fits = [fit for cables in cable_types(situation) for fit in cables.fits]
    tests = {
        "plates:yes": any(bay.plates for bay in situation.bays),
        "spares:yes": any(p.role == "spare" for p in placements),
        "fillers:yes": any(p.role == "filler" for p in placements),
        "bores:several": any(p.others for p in placements),
        "placeholders:no-plug": any(not situation.catalogue.blocks[part].plug for part in kept),
        "measure:yes": any(fit.measure for fit in fits),
    }
    return _true(tests)
