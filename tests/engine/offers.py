"""Frames left open, drawn by fixed seeds from the demo's catalogue, for the judge and the bench of the choice."""

import random
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path

from generator.engine.choose import Choice, Offer
from generator.engine.fit import fit_cable
from generator.engine.units import Demand
from generator.model.catalogue import Catalogue, Frame
from generator.model.job import Cable, Definition, Spare
from generator.workpack import read
from tests.engine import invented
from tests.reference.cpsat import Bay, Problem
from tests.reference.cpsat.choice import Cost

DEMO = Path(__file__).parents[2] / "workpacks" / "tide-gate"


@dataclass(frozen=True)
class Opening:
    """What a frame is chosen for: as the engine takes it, and as the joint model takes it."""

    offers: tuple[Offer, ...]
    catalogue: Catalogue
    demands: tuple[Demand, ...]
    spares: tuple[Spare, ...]
    frames: dict[str, tuple[Bay, ...]]
    costs: dict[str, Cost]
    problem: Problem

    def cost_of(self, choice: Choice) -> Cost:
        """Return what a chosen set costs, added up here."""
        own = [self.costs[part] for part in choice.frames]
        return sum(c[0] for c in own), sum(c[1] for c in own), sum(c[2] for c in own)


@cache
def _demo() -> Definition:
    return read(DEMO)[0].definition


def draw_opening(seed: int, cables: int) -> Opening:
    """Draw cables of the demo's diameters for its welded frames; prices are invented where the seed is odd."""
    definition = _demo()
    (catalogue,) = definition.catalogues.values()
    draw = random.Random(seed)
    known = [cable for cable in definition.cables if not cable.bonded and cable.service != "pipe"]
    asked = [
        Cable(tag=f"C{i}", service="power", least=like.likely, most=like.likely)
        for i, like in enumerate(draw.choices(known, k=cables))
    ]
    demands = tuple(Demand(cable, fit_cable(cable, catalogue, definition.job)) for cable in asked)
    offers = tuple(
        Offer(part, frame, Decimal(draw.randint(200, 900)) if seed % 2 else None)
        for part, frame in catalogue.frames.items()
        if "welded" in frame.fixings
    )
    spares = {24: draw.randint(1, 4)} if draw.random() < 0.5 else {}
    sides = {int(block.size) for block in catalogue.blocks.values()}
    return Opening(
        offers,
        catalogue,
        demands,
        tuple(invented.spares(spares)),
        {offer.part: _bays(offer.frame, catalogue) for offer in offers},
        {offer.part: (int(offer.price or 0), 1, int(offer.area)) for offer in offers},
        Problem(
            bays=(),
            sides=tuple(sorted(sides | {int(filler.size) for filler in catalogue.fillers.values()})),
            plugs=frozenset(int(block.size) for block in catalogue.blocks.values() if block.plug),
            cables=tuple(tuple(sorted({int(fit.size) for fit in demand.fits})) for demand in demands),
            spares=spares,
            fillers=frozenset(int(filler.size) for filler in catalogue.fillers.values()),
        ),
    )


def _bays(frame: Frame, catalogue: Catalogue) -> tuple[Bay, ...]:
    return tuple(
        Bay(
            int(bay.width),
            int(bay.height - catalogue.clamping_units[bay.clamping_unit].height),
            int(catalogue.row_plates[bay.row_plate].thickness),
            bay.plate_under_unit,
            bay.stacking,
            bay.nesting,
        )
        for bay in frame.bays
    )
