"""Frames and cables drawn by fixed seeds, in families, for the packing's judges and benches.

small 3 to 8 cables, medium 10 to 25, large 30 to 80, each with room to spare; tight: drawn from a filling of the
frame, with next to nothing left; infeasible: what area alone would often allow, and there is no layout. Sizes are
invented. An instance is the same on every machine and in every run.
"""

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from generator.engine.units import Demand
from generator.model.catalogue import Catalogue, Frame
from generator.model.job import Cable, Spare
from tests.engine import invented
from tests.reference.cpsat import Bay, Problem
from tests.reference.cpsat.expert import patterns, row_sets

SIZES = (18, 24, 36, 48, 72, 96)
WEIGHTS = (3.0, 5.0, 4.0, 2.0, 1.0, 0.3)
"""How often a cable's smallest block is each of the sizes."""
UNIT, PLATE = 33, 3
BAYS = {
    "72 x 111": (72, 111),
    "144 x 180": (144, 180),
    "144 x 234": (144, 234),
    "216 x 180": (216, 180),
    "288 x 288": (288, 288),
}
SHAPES = {
    "small": ("72 x 111", "144 x 180", "144 x 234", "2 of 72 x 111"),
    "medium": ("144 x 180", "144 x 234", "216 x 180", "2 of 144 x 180", "2 of 144 x 234", "288 x 288"),
    "large": ("288 x 288", "3 of 144 x 180", "2 of 216 x 180", "2 of 288 x 288", "4 of 144 x 234"),
    "tight": ("72 x 111", "144 x 180", "2 of 144 x 180", "216 x 180"),
    "infeasible": ("72 x 111", "144 x 180", "2 of 144 x 180", "216 x 180"),
}
COUNTS = {"small": (3, 8), "medium": (10, 25), "large": (30, 80)}
FAMILIES = tuple(SHAPES)


@dataclass(frozen=True)
class Instance:
    """One drawn case: as the reference models take it, and as the engine takes it."""

    name: str
    problem: Problem
    frame: Frame
    catalogue: Catalogue
    demands: tuple[Demand, ...]
    spares: tuple[Spare, ...]
    cables: tuple[Cable, ...]


def draw(family: str, seed: int) -> Instance:
    """Draw one instance of a family."""
    chance = random.Random(f"{family} {seed}")
    cables: tuple[tuple[int, ...], ...] = ()
    shapes: Sequence[str] = SHAPES[family]
    if family in COUNTS:
        cables = tuple(_cable(chance) for _ in range(chance.randint(*COUNTS[family])))
        need = 1.15 * sum(options[0] ** 2 for options in cables)
        shapes = [shape for shape in shapes if _area(shape) > need] or shapes[-1:]
    shape = chance.choice(shapes)
    bays = _bays(shape)
    on_top, stacking = chance.random() < 0.8, chance.random() < 0.85
    plain = Bay(bays[0][0], bays[0][1] - UNIT, PLATE, on_top, stacking)
    fills = frozenset(SIZES if chance.random() < 0.8 else chance.sample(SIZES, 5))
    spares: dict[int, int] = {}
    if family in COUNTS:
        if chance.random() < 0.5:
            spares = {chance.choice(sorted(fills)[:4]): chance.randint(1, 3)}
    else:
        cables = _from_a_filling(chance, plain, len(bays), fills)
        if family == "infeasible":
            larger = chance.choice([2, 2, 3])
            cables = tuple(
                (SIZES[min(SIZES.index(options[0]) + 1, 5)],) if number < larger else options
                for number, options in enumerate(cables)
            )
    return _instance(f"{family} {seed}: {shape}", [plain] * len(bays), bays, cables, fills, spares)


def draw_all(family: str, count: int, first: int = 0) -> Iterator[Instance]:
    """Draw so many instances of a family, seeds from ``first`` on."""
    return (draw(family, seed) for seed in range(first, first + count))


def in_one_bay(cables: int, seed: int) -> Instance:
    """Draw cables for one bay of 288 x 288, so small that even a hundred have room."""
    chance = random.Random(f"288 {cables} {seed}")
    weights = (5.0, 4.0, 2.0, 1.0, 0.2, 0.05) if cables > 40 else WEIGHTS
    asked = tuple(_cable(chance, weights) for _ in range(cables))
    bay = Bay(288, 288 - UNIT, PLATE, True, True)
    return _instance(f"288 x 288, {cables} cables {seed}", [bay], [(288, 288)], asked, frozenset(SIZES), {})


def _bays(shape: str) -> list[tuple[int, int]]:
    count, _, bay = shape.rpartition(" of ")
    return [BAYS[bay]] * int(count or 1)


def _area(shape: str) -> int:
    return sum(width * (height - UNIT - 3 * PLATE) for width, height in _bays(shape))


def _cable(chance: random.Random, weights: tuple[float, ...] = WEIGHTS) -> tuple[int, ...]:
    """Draw the blocks that hold a cable: every fourth may stand in the next larger one too."""
    first = chance.choices(range(len(SIZES)), weights)[0]
    return SIZES[first : first + (2 if chance.random() < 0.25 else 1)]


def _from_a_filling(chance: random.Random, bay: Bay, bays: int, fills: frozenset[int]) -> tuple[tuple[int, ...], ...]:
    there: Counter[int] = Counter()
    sets = row_sets(bay, SIZES)
    for _ in range(bays):
        for height in chance.choice(sets) if sets else ():
            for side, columns in chance.choice(patterns(bay.width, height, SIZES, bay.stacking)):
                there[side] += columns * (height // side)
    blocks = sorted(there.elements(), reverse=True)
    kept = chance.randint(0, 2)
    for side in sorted(fills):
        while kept and side in blocks:
            blocks.remove(side)
            kept -= 1
    cables = []
    for side in blocks:
        at = SIZES.index(side)
        first = at - (1 if at and chance.random() < 0.15 else 0)
        cables.append(SIZES[first : at + 1])
    chance.shuffle(cables)
    return tuple(cables)


def _instance(
    name: str,
    plain: list[Bay],
    bays: list[tuple[int, int]],
    cables: tuple[tuple[int, ...], ...],
    fills: frozenset[int],
    spares: dict[int, int],
) -> Instance:
    described, x = [], 0
    for one, (width, height) in zip(plain, bays, strict=True):
        described.append(invented.bay(width, height, x, on_top=one.on_top, stacking=one.stacking))
        x += width
    system = invented.catalogue(
        SIZES, cables, {"frame": invented.frame(described)}, plugs=fills, plate=PLATE, unit=UNIT
    )
    asked = invented.cables(cables, ("power", "control", "data"))
    return Instance(
        name,
        Problem(tuple(plain), SIZES, fills, cables, spares),
        invented.only_frame(system),
        system,
        tuple(invented.demands(asked, system)),
        tuple(invented.spares(spares)),
        tuple(asked),
    )
