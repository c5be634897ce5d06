"""Frames and cables drawn by fixed seeds, in families, for the packing's judges and benches.

small 3 to 8 cables, medium 10 to 25, large 30 to 80, each with room to spare; tight: drawn from a filling of the
frame, with next to nothing left; infeasible: what area alone would often allow, and there is no layout. Then those
with rules (``RULED``): classes that are kept apart, circuits that pass one bay, spares by share and solid rests,
nested columns, blocks that stay, and everything but nesting at once. Sizes are invented. An instance is the same on
every machine and in every run.
"""

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from math import ceil

from generator.engine.units import Demand, Rules
from generator.model import job as asked_for
from generator.model.catalogue import Catalogue, Frame
from generator.model.job import Cable, Spare, Transit
from tests.engine import invented
from tests.reference.cpsat import Apart, Bay, Kept, Problem, patterns
from tests.reference.cpsat.expert import row_sets, widths

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
ZONES = ("zones small", "zones medium", "zones large")
RULED = (*ZONES, "circuits", "spares", "nested", "stays", "all rules")
RULED_SHAPES = {
    "zones small": ("72 x 111", "144 x 180", "2 of 72 x 111", "144 x 234"),
    "zones medium": ("144 x 234", "216 x 180", "2 of 144 x 180", "288 x 288"),
    "zones large": ("288 x 288", "2 of 216 x 180", "4 of 144 x 180", "2 of 288 x 288"),
    "circuits": ("2 of 72 x 111", "2 of 144 x 180", "3 of 72 x 111", "4 of 72 x 111"),
    "spares": ("72 x 111", "144 x 180", "2 of 72 x 111", "144 x 234"),
    "nested": ("72 x 111", "144 x 180", "2 of 72 x 111"),
    "stays": ("72 x 111", "144 x 180", "2 of 72 x 111"),
    "all rules": ("72 x 111", "2 of 72 x 111", "144 x 180"),
}
RULED_COUNTS = {"zones small": (3, 8), "zones medium": (10, 25), "zones large": (30, 80)}
CLASSES = ("power", "control", "data", "fibre")


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
    rules: Rules = field(default_factory=Rules)

    @property
    def transit(self) -> Transit:
        """The transit as it would be asked for; only what the judge of layouts reads is true."""
        return Transit(
            wall="W",
            working_side="here",
            frame="frame",
            fixing="welded",
            at=asked_for.Spot(x=Decimal(1), y=Decimal(1), to="centre"),
            spares=self.spares,
            rest="solid" if self.rules.solid else "spares",
            keep=self.rules.keep,
            apart=self.rules.apart,
        )


def draw(family: str, seed: int) -> Instance:
    """Draw one instance of a family."""
    if family in RULED:
        return draw_ruled(family, seed)
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
    return describe(f"{family} {seed}: {shape}", Problem((plain,) * len(bays), SIZES, fills, cables, spares))


def draw_all(family: str, count: int, first: int = 0) -> Iterator[Instance]:
    """Draw so many instances of a family, seeds from ``first`` on."""
    return (draw(family, seed) for seed in range(first, first + count))


def in_one_bay(cables: int, seed: int) -> Instance:
    """Draw cables for one bay of 288 x 288, so small that even a hundred have room."""
    chance = random.Random(f"288 {cables} {seed}")
    weights = (5.0, 4.0, 2.0, 1.0, 0.2, 0.05) if cables > 40 else WEIGHTS
    asked = tuple(_cable(chance, weights) for _ in range(cables))
    bay = Bay(288, 288 - UNIT, PLATE, True, True)
    return describe(f"288 x 288, {cables} cables {seed}", Problem((bay,), SIZES, frozenset(SIZES), asked, {}))


def on_a_ladder(instance: Instance, seed: int) -> Instance:
    """Give the cables of an instance places on the ladder, in an order that has nothing to do with their size."""
    order = random.Random(f"ladder {seed}").sample(range(1, len(instance.cables) + 1), len(instance.cables))
    cables = tuple(
        cable.model_copy(update={"ladder": rank}) for cable, rank in zip(instance.cables, order, strict=True)
    )
    demands = tuple(invented.demands(cables, instance.catalogue))
    return replace(instance, name=f"{instance.name}, ladder {seed}", cables=cables, demands=demands)


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
            for side, columns in chance.choice(patterns(bay.width, widths(bay, height, SIZES))):
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


def draw_ruled(family: str, seed: int) -> Instance:
    """Draw one instance of a family with rules."""
    chance = random.Random(f"{family} {seed}")
    if family in ("stays", "all rules"):
        return describe(*_with_blocks_that_stay(family, seed, chance))
    least, most = RULED_COUNTS.get(family, (3, 12))
    cables = tuple(_cable(chance) for _ in range(chance.randint(least, most)))
    need = (1.25 if family in ZONES else 1.1) * sum(options[0] ** 2 for options in cables)
    shapes = [shape for shape in RULED_SHAPES[family] if _area(shape) > need] or RULED_SHAPES[family][-1:]
    shape = chance.choice(shapes)
    on_top, stacking = chance.random() < 0.8, chance.random() < 0.85
    bays = tuple(
        Bay(width, height - UNIT, PLATE, on_top, stacking, family == "nested") for width, height in _bays(shape)
    )
    plugs = frozenset(SIZES if chance.random() < 0.8 else chance.sample(SIZES, 5))
    problem = Problem(bays, SIZES, plugs, cables, {})
    if family in ZONES or (family == "nested" and chance.random() < 0.5):
        problem = _with_classes(problem, chance)
    if family == "circuits":
        problem = _with_circuits(problem, chance)
    if family == "spares" or (family == "circuits" and chance.random() < 0.3):
        return describe(f"{family} {seed}: {shape}", *_with_spares(problem, chance))
    if chance.random() < 0.4:
        problem = replace(problem, spares={chance.choice(sorted(plugs)[:4]): chance.randint(1, 2)})
    return describe(f"{family} {seed}: {shape}", problem)


def _with_classes(problem: Problem, chance: random.Random) -> Problem:
    """Give cables classes, mostly many of one after the other, and say which are kept apart."""
    some = chance.sample(CLASSES, chance.randint(2, 4))
    services, now = [], chance.choice(some)
    for _ in problem.cables:
        now = chance.choice(some) if chance.random() < 0.4 else now
        services.append(now)
    apart = []
    for _ in range(chance.choice((1, 1, 2))):
        levels = ("zone", "zone", "row", "bay") if len(problem.bays) > 1 else ("zone", "zone", "row")
        apart.append(Apart(chance.choice(levels), frozenset(chance.sample(some, chance.randint(2, len(some))))))
    return replace(problem, services=tuple(services), apart=tuple(apart))


def _with_circuits(problem: Problem, chance: random.Random) -> Problem:
    """Make cables one after the other the conductors of a circuit, three or more of them."""
    circuits: list[str | None] = []
    while len(circuits) < len(problem.cables):
        name = f"L{len(circuits)}" if chance.random() < 0.7 else None
        circuits += [name] * chance.choice((3, 3, 4, 6))
    # Conductors of a circuit are alike.
    cables = list(problem.cables)
    for number in range(1, len(cables)):
        if circuits[number] is not None and circuits[number] == circuits[number - 1]:
            cables[number] = cables[number - 1]
    return replace(
        problem,
        cables=tuple(cables),
        circuits=tuple(circuits[: len(cables)]),
        magnetic=chance.random() < 0.85,
    )


def _with_spares(problem: Problem, chance: random.Random) -> tuple[Problem, tuple[Spare, ...]]:
    """Ask for spares by count and by share, fill with solid blocks; return the entries of the request as well."""
    plugs = frozenset(chance.sample(SIZES, chance.randint(4, 6)))
    fillers = frozenset(chance.sample(SIZES, chance.randint(3, 6)))
    solid = chance.random() < 0.5
    entries, counts = [], Counter[int]()
    for _ in range(chance.randint(0, 2)):
        size = chance.choice(sorted(plugs)[:4])
        if chance.random() < 0.5:
            count = chance.randint(1, 3)
            entries.append(Spare(size=Decimal(size), count=count))
        else:
            share = chance.choice((10, 25, 50))
            count = ceil(Fraction(share, 100) * sum(options[0] == size for options in problem.cables))
            entries.append(Spare(size=Decimal(size), share=Decimal(share)))
        counts[size] += count
    share_of_all = 0
    if not solid and chance.random() < 0.5:
        share_of_all = chance.choice((10, 20, 30, 60))
        entries.append(Spare(share=Decimal(share_of_all)))
    found = replace(
        problem, plugs=plugs, fillers=fillers, solid=solid, spares=dict(counts), share=Fraction(share_of_all)
    )
    return found, tuple(entries)


def _with_blocks_that_stay(family: str, seed: int, chance: random.Random) -> tuple[str, Problem, tuple[Spare, ...]]:
    """Fill a frame at random, put cables into some of its blocks, and let a few of them stay."""
    shape = chance.choice(RULED_SHAPES[family])
    on_top, stacking = chance.random() < 0.8, chance.random() < 0.9
    bays = tuple(Bay(width, height - UNIT, PLATE, on_top, stacking) for width, height in _bays(shape))
    plugs = frozenset(SIZES if chance.random() < 0.8 else chance.sample(SIZES, 5))
    blocks: list[Kept] = []
    for b, bay in enumerate(bays):
        y = 0
        for height in chance.sample(heights := chance.choice(row_sets(bay, SIZES)), len(heights)):
            columns = [
                side
                for side, count in chance.choice(patterns(bay.width, widths(bay, height, SIZES)))
                for _ in range(count)
            ]
            chance.shuffle(columns)
            x = 0
            for side in columns:
                blocks += [Kept(b, x, y + level * side, side, None) for level in range(height // side)]
                x += side
            y += height + bay.plate
    chance.shuffle(blocks)
    held = blocks[: min(len(blocks) * chance.choice((2, 4, 5)) // 6, 14)]
    cables, kept, often = [], [], chance.choice((0.1, 0.2, 0.4))
    for number, block in enumerate(held):
        at = SIZES.index(block.side)
        first = at - (1 if at and chance.random() < 0.15 else 0)
        cables.append(SIZES[first : at + 1 + (1 if chance.random() < 0.2 else 0)])
        if chance.random() < often:
            kept.append(replace(block, cable=number))
    kept += [block for block in blocks[len(held) :] if block.side in plugs and chance.random() < often / 2]
    if kept and chance.random() < 0.15:
        # One that may stand in the way: the solver must see it.
        one = chance.randrange(len(kept))
        kept[one] = replace(kept[one], x=max(0, kept[one].x + chance.choice((-18, -12, 6, 18, 24))))
    problem = Problem(bays, SIZES, plugs, tuple(cables), {}, kept=tuple(kept))
    name = f"{family} {seed}: {shape}"
    if family == "stays":
        return name, problem, ()
    if chance.random() < 0.7:
        problem = _with_classes(problem, chance)
    if chance.random() < 0.5:
        # No two options are made alike here, what stays has its place.
        circuits = [f"L{number // 3}" if chance.random() < 0.5 else None for number in range(len(cables))]
        problem = replace(problem, circuits=tuple(circuits), magnetic=chance.random() < 0.85)
    if chance.random() < 0.5:
        fewer = replace(problem, kept=tuple(block for block in kept if block.cable is not None))
        problem, entries = _with_spares(fewer, chance)
        stay = tuple(block for block in kept if block.cable is not None or block.side in problem.plugs)
        return name, replace(problem, kept=stay), entries
    return name, problem, ()


def _entries(problem: Problem) -> tuple[Spare, ...]:
    share = Decimal(problem.share.numerator) / problem.share.denominator
    return (*invented.spares(problem.spares), *([Spare(share=share)] if share else []))


def describe(name: str, problem: Problem, spares: tuple[Spare, ...] | None = None, unit: int = UNIT) -> Instance:
    """Describe a problem in the engine's terms. ``spares`` are its entries where they are not counts alone."""
    described, x = [], 0
    for one in problem.bays:
        bay = invented.bay(one.width, one.height + unit, x, on_top=one.on_top, stacking=one.stacking)
        described.append({**bay, "nesting": one.nesting})
        x += one.width
    system = invented.catalogue(
        problem.sides,
        problem.cables,
        {"frame": {**invented.frame(described), "webs_not_magnetic": not problem.magnetic}},
        plugs=problem.plugs,
        fillers=problem.fillers,
        plate=problem.bays[0].plate,
        unit=unit,
    )
    asked = [
        cable.model_copy(
            update={
                "service": problem.services[number] if problem.services else cable.service,
                "circuit": problem.circuits[number] if problem.circuits else None,
            }
        )
        for number, cable in enumerate(invented.cables(problem.cables, ("power", "control", "data")))
    ]
    return Instance(
        name,
        problem,
        invented.only_frame(system),
        system,
        tuple(invented.demands(asked, system)),
        _entries(problem) if spares is None else spares,
        tuple(asked),
        Rules(
            apart=tuple(
                asked_for.Apart(classes=tuple(sorted(rule.classes)), level=rule.level) for rule in problem.apart
            ),
            keep=tuple(
                asked_for.Kept(
                    bay=kept.bay + 1,
                    x=Decimal(kept.x),
                    y=Decimal(kept.y),
                    size=Decimal(kept.side),
                    cable=None if kept.cable is None else asked[kept.cable].tag,
                )
                for kept in problem.kept
            ),
            solid=problem.solid,
        ),
    )
