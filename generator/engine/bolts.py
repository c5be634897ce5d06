"""Bolts that are tightened together: their order, how far they move, and the torque that their class allows.

The threads are ISO 261's coarse ones, stress areas and proof stresses those of ISO 898-1 and ISO 3506-1.
"""

import math
import re
from collections.abc import Iterator
from decimal import ROUND_FLOOR, Decimal

from generator.engine.facts import Situation
from generator.errors import Finding
from generator.model.catalogue import PropertyClass, Tightening
from generator.model.closing import Bolts
from generator.model.scalars import format_mm

COARSE_PITCHES = {
    Decimal(size): Decimal(pitch)
    for size, pitch in (
        ("3", "0.5"),
        ("4", "0.7"),
        ("5", "0.8"),
        ("6", "1"),
        ("8", "1.25"),
        ("10", "1.5"),
        ("12", "1.75"),
        ("14", "2"),
        ("16", "2"),
        ("20", "2.5"),
        ("24", "3"),
    )
}
"""Pitch of each coarse thread by its diameter, mm. Source: ISO 261."""

_THREAD = re.compile(r"M([1-9][0-9]?)(?: ?[x×] ?([0-9](?:\.[0-9]{1,2})?))?", re.ASCII)


def bolts_of(situation: Situation) -> tuple[Bolts, ...]:
    """Return what is tightened at a transit, in the order of the work: what holds it, then what closes it."""
    found = []
    how = situation.held
    if how.tightening:
        what = "seal" if situation.split_seal and not how.sleeve else "sleeve" if how.sleeve else "fixing"
        places = "flange" if how.fixing.flange else "ring" if how.tightening.order == "crosswise" else "line"
        found.append(_bolts(how.tightening, what=what, places=places))
    units: dict[str, list[int]] = {}
    for bay in situation.bays:
        units.setdefault(bay.unit.part, []).append(bay.bay)
    for part, bays in units.items():
        tightening = situation.catalogue.clamping_units[part].tightening
        places = "ring" if tightening.order == "crosswise" else "line"
        told = tuple(bays) if len(situation.bays) > 1 else ()
        found.append(_bolts(tightening, what="unit", places=places, bays=told))
    return tuple(found)


def _bolts(tightening: Tightening, **where: object) -> Bolts:
    thread = read_thread(tightening.thread)
    each, torque = tightening.turns_each_round, tightening.torque_nm
    turns = each * tightening.rounds if each else None
    return Bolts.model_validate(
        {
            **where,
            "tightening": tightening,
            "order": bolt_order(tightening),
            "pitch": thread[1] if thread else None,
            "turns": turns,
            "advance": turns * thread[1] if turns and thread else None,
            "torques": tuple(torque * share / 100 for share in tightening.shares) if torque else (),
            "limit": torque_limit(tightening),
        }
    )


# -- order -----------------------------------------------------------------------------------------


def bolt_order(tightening: Tightening) -> tuple[int, ...]:
    """Return the order of one round; bolts are numbered clockwise from 1, or left to right in turn.

    Crosswise, every bolt is followed by the one opposite. Of a multiple of four the next pair lies a quarter
    round, and each four as far as can be from those before; of other even numbers each pair does:
    1 3 2 4, 1 4 2 5 3 6, 1 5 3 7 2 6 4 8. An odd number has no opposite bolts: each is followed by one about
    half way round.
    """
    bolts = tightening.bolts
    if tightening.order == "in-turn" or bolts < 4:
        return tuple(range(1, bolts + 1))
    if bolts % 2:
        step = bolts // 2
        return tuple(step * number % bolts + 1 for number in range(bolts))
    half, quarter = bolts // 2, bolts // 4
    if bolts % 4 == 0:
        jumps = (0, half, quarter, half + quarter)
        return tuple(first + jump for first in _spread(quarter) for jump in jumps)
    return tuple(first + jump for first in _spread(half) for jump in (0, half))


def _spread(count: int) -> list[int]:
    """Order places 1 to ``count`` of a circle so that each lies as far as can be from all before it.

    Of several the one farthest from the last comes first, then the lowest: 1 2 3, 1 3 2 4, 1 3 5 2 4.
    """

    def apart(one: int, other: int) -> int:
        return min((one - other) % count, (other - one) % count)

    order = [1]
    left = set(range(2, count + 1))
    while left:
        place = max(
            left, key=lambda place: (min(apart(place, done) for done in order), apart(place, order[-1]), -place)
        )
        order.append(place)
        left.discard(place)
    return order


# -- thread and torque -----------------------------------------------------------------------------


def read_thread(thread: str) -> tuple[Decimal, Decimal] | None:
    """Return diameter and pitch of a metric thread, mm (M10, or M10x1.25); None where it is another or unknown."""
    found = _THREAD.fullmatch(thread)
    if not found:
        return None
    diameter = Decimal(found[1])
    pitch = Decimal(found[2]) if found[2] else COARSE_PITCHES.get(diameter)
    return (diameter, pitch) if pitch else None


def are_same_threads(one: str, other: str) -> bool:
    """Whether two threads are one: M8 and M8x1.25 are (ISO 261); what is no metric thread must be called alike."""
    sizes = read_thread(one), read_thread(other)
    return one == other or (sizes[0] is not None and sizes[0] == sizes[1])


def stress_area(diameter: Decimal, pitch: Decimal) -> Decimal:
    """Return the stress area of a thread, mm². Formula: π/4 · (d − 0.9382 · P)². Source: ISO 898-1."""
    return Decimal(math.pi) / 4 * (diameter - Decimal("0.9382") * pitch) ** 2


def proof_stress(property_class: PropertyClass, diameter: Decimal) -> Decimal:
    """Return the proof stress of a bolt, MPa; for stainless bolts the stress at 0.2 % strain.

    Sources: ISO 898-1 (8.8: 580 up to M16, 600 above), ISO 3506-1 (-50: 210, -70: 450, -80: 600).
    """
    if property_class == "8.8":
        return Decimal(580) if diameter <= 16 else Decimal(600)
    return {"50": Decimal(210), "70": Decimal(450), "80": Decimal(600)}[property_class.partition("-")[2]]


def torque_limit(tightening: Tightening) -> Decimal | None:
    """Return the largest torque the bolts may be given, N·m down to a tenth; None where too little is said.

    Formula: T = K · d · F with F the catalogue's share of the proof load: the short form of handbooks. It is
    an upper bound: what a seal is closed to comes from its own catalogue.
    """
    thread = read_thread(tightening.thread)
    if thread is None or tightening.property_class is None:
        return None
    assert tightening.nut_factor is not None and tightening.proof_percent is not None
    proof = proof_stress(tightening.property_class, thread[0]) * stress_area(*thread)
    force = proof * tightening.proof_percent / 100
    torque = tightening.nut_factor * thread[0] / 1000 * force
    return torque.quantize(Decimal("0.1"), ROUND_FLOOR)


def judge_bolts(situation: Situation) -> Iterator[Finding]:
    """Find torques above what the class of the bolts allows, and more turns than a clamping unit has travel."""
    catalogue = situation.transit.catalogue or situation.job.catalogues[0]
    yield from _beyond_travel(situation, catalogue)
    yield from _bolts_that_do_not_fit(situation, catalogue)
    for part, field, tightening in _named(situation):
        limit = torque_limit(tightening)
        if limit is not None and tightening.torque_nm is not None and tightening.torque_nm > limit:
            yield Finding(
                f"{part} is tightened to {format_mm(tightening.torque_nm)} N·m, and its bolts bear"
                f" {format_mm(limit)} N·m",
                f"{tightening.thread} of class {tightening.property_class} at {tightening.proof_percent} % of the"
                f" proof load with nut factor {tightening.nut_factor} allow no more",
                "mend the torque or what the catalogue says of the bolts, or ask the maker of the sealing system",
                kind="part",
                key=f"{catalogue}/{part}",
                field=f"{field}.torque_nm",
            )


def _bolts_that_do_not_fit(situation: Situation, catalogue: str) -> Iterator[Finding]:
    """Find flanges for whose bolts there are none of their thread, and holes through which they do not go."""
    flange, how = situation.held.fixing.flange, situation.held.fixing.tightening
    if flange is None or how is None:
        return
    frame, field = situation.transit.frame, f"fixings.{situation.transit.fixing}"
    key = f"{catalogue}/{frame}"
    threads = {
        part: use.thread for part, use in situation.catalogue.consumables.items() if use.per == "bolt" and use.thread
    }
    if threads and not any(are_same_threads(thread, how.thread) for thread in threads.values()):
        listed = ", ".join(f"{part} ({thread})" for part, thread in threads.items())
        yield Finding(
            f"{frame} is bolted on with {how.thread}, and none of the bolts that are used up has this thread:"
            f" {listed}",
            "bolts of another thread do not go into its nuts",
            "mend thread: of the tightening or of the bolts, or list bolts of this thread among the consumables",
            kind="part",
            key=key,
            field=f"{field}.tightening.thread",
        )
    size = read_thread(how.thread)
    if size and size[0] >= flange.hole:
        yield Finding(
            f"the holes for the bolts of {frame} are {format_mm(flange.hole)} mm, and its bolts are {how.thread}",
            f"a thread of {format_mm(size[0])} mm does not go through",
            "mend hole: of the flange, or thread: of the tightening",
            kind="part",
            key=key,
            field=f"{field}.flange.hole",
        )


def _beyond_travel(situation: Situation, catalogue: str) -> Iterator[Finding]:
    """Find clamping units whose turns move the bolts farther than the unit closes: advance = turns · pitch."""
    for part in dict.fromkeys(bay.unit.part for bay in situation.bays):
        unit = situation.catalogue.clamping_units[part]
        thread, each = read_thread(unit.tightening.thread), unit.tightening.turns_each_round
        if unit.travel is None or thread is None or each is None:
            continue
        pitch, turns = thread[1], each * unit.tightening.rounds
        travel = unit.travel.closed - unit.travel.turned_back
        if turns * pitch > travel:
            most = (travel / pitch).quantize(Decimal("0.1"), ROUND_FLOOR)
            yield Finding(
                f"{part} is closed with {format_mm(turns)} turns, which move its bolts by"
                f" {format_mm(turns * pitch)} mm, and it travels {format_mm(travel)} mm",
                f"{unit.tightening.thread} moves {format_mm(pitch)} mm a turn: there is room for {format_mm(most)}",
                "mend rounds:, turns_each_round: or travel:; where a turn does not lift the unit by the pitch,"
                " leave turns_each_round: out",
                kind="part",
                key=f"{catalogue}/{part}",
                field="tightening.turns_each_round",
            )


def _named(situation: Situation) -> Iterator[tuple[str, str, Tightening]]:
    """Yield every tightening of a transit with the part and the field where the catalogue says it."""
    how, transit = situation.held, situation.transit
    if how.tightening and how.sleeve:
        yield how.sleeve, "tightening", how.tightening
    elif how.tightening:
        yield transit.frame or transit.split_seal or "", f"fixings.{transit.fixing}.tightening", how.tightening
    for part in dict.fromkeys(bay.unit.part for bay in situation.bays):
        yield part, "tightening", situation.catalogue.clamping_units[part].tightening
