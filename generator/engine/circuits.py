"""Circuits: single-core conductors of one alternating current circuit pass one opening in magnetic metal together.

Around a conductor that passes a closed ring of steel by itself the ring carries eddy currents and grows hot; where
all conductors of a circuit pass the same ring, their fields cancel. Within one frame the layout sees to it
(``engine.packing``); whether the schedule leads all of them to one transit is judged here.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from generator.errors import Finding
from generator.model.catalogue import Material
from generator.model.job import Cable, Definition

MAGNETIC: tuple[Material, ...] = ("steel",)
"""Walls whose plate closes a magnetic ring round an opening. Others may hide one: a frame, or bars in concrete."""


def judge_circuits(definition: Definition) -> dict[str, tuple[Finding, ...]]:
    """Return for every transit what is wrong with the circuits that pass it.

    A circuit that passes a wall in several transits stops both in a steel wall, and is pointed out in any other.
    A circuit some of whose conductors pass a steel wall's transit and the others no transit of that wall is
    pointed out as well.
    """
    circuits: dict[str, list[Cable]] = defaultdict(list)
    for cable in definition.cables:
        if cable.circuit is not None:
            circuits[cable.circuit].append(cable)
    found: dict[str, list[Finding]] = {transit_id: [] for transit_id in definition.transits}
    for circuit, cables in circuits.items():
        for transit_id in dict.fromkeys(name for cable in cables for name in cable.transits):
            found[transit_id] += _about(circuit, cables, transit_id, definition)
    return {transit_id: tuple(findings) for transit_id, findings in found.items()}


def _about(circuit: str, cables: Sequence[Cable], transit_id: str, definition: Definition) -> Iterator[Finding]:
    wall_id = definition.transits[transit_id].wall
    wall = definition.walls[wall_id]
    here = [cable for cable in cables if transit_id in cable.transits]
    others = [cable for cable in cables if transit_id not in cable.transits]
    beside = {cable.tag: _beside(cable, transit_id, wall_id, definition) for cable in others}
    apart = [cable for cable in others if beside[cable.tag]]
    gone = [cable for cable in others if not beside[cable.tag]]
    steel = wall.material in MAGNETIC
    if apart:
        yield Finding(
            f"conductors of circuit {circuit} pass wall {wall_id} in several transits:"
            f" {_tags(here)} in {transit_id}, {_where(apart, beside)}",
            "a steel ring round some conductors of a circuit grows hot from eddy currents"
            if steel
            else f"a steel frame, or bars in {wall.material}, round some conductors of a circuit grow hot from eddy"
            " currents",
            "lead all conductors of the circuit through one transit",
            severity="stop" if steel else "look",
            kind="cable",
            key=here[0].tag,
            field="circuit",
        )
    if gone and steel:
        yield Finding(
            f"circuit {circuit} passes steel wall {wall_id} in {transit_id} with {_tags(here)}, and not with"
            f" {_tags(gone)}",
            "a steel ring round some conductors of a circuit grows hot from eddy currents",
            f"add {transit_id} to the transits of the others, or mend their circuit",
            severity="look",
            kind="cable",
            key=here[0].tag,
            field="circuit",
        )


def _beside(cable: Cable, transit_id: str, wall_id: str, definition: Definition) -> tuple[str, ...]:
    return tuple(name for name in cable.transits if name != transit_id and definition.transits[name].wall == wall_id)


def _tags(cables: Sequence[Cable]) -> str:
    tags = [cable.tag for cable in cables]
    return " and ".join([", ".join(tags[:-1]), tags[-1]] if len(tags) > 1 else tags)


def _where(cables: Sequence[Cable], beside: Mapping[str, Sequence[str]]) -> str:
    return ", ".join(f"{cable.tag} in {beside[cable.tag][0]}" for cable in cables)
