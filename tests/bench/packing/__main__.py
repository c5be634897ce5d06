"""Time to fit and to pack: ``python -m tests.bench.packing [SEEDS]``.

Invented systems with six sizes, a plug in each; cables drawn by fixed seeds. Printed per shape of frame and
number of cables: how many instances have a layout, have none, or ended at the limit; median and worst time of
``pack_frame`` with everything in memory (warm) and, in a row of its own, with nothing (cold). What is printed
is for a person to read; no test is decided by it.
"""

import random
import statistics
import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence

from generator.engine.packing import pack_frame
from generator.engine.solver import rows
from generator.engine.units import Demand
from generator.model.catalogue import Catalogue, Frame
from generator.model.job import Spare
from generator.model.layout import Layout
from tests.engine import invented

LIMIT = 200_000
SIZES = (18, 24, 36, 48, 72, 96)
WEIGHTS = (3.0, 5.0, 4.0, 2.0, 1.0, 0.3)
"""How often a cable's smallest block is each of the sizes."""
SHAPES: dict[str, Sequence[tuple[int, int]]] = {
    "1 bay 72 x 111": [(72, 111)],
    "1 bay 144 x 180": [(144, 180)],
    "2 bays 144 x 180": [(144, 180)] * 2,
    "3 bays 144 x 180": [(144, 180)] * 3,
    "1 bay 288 x 288": [(288, 288)],
    "2 bays 288 x 288": [(288, 288)] * 2,
}
COUNTS = (4, 10, 20, 40, 80)
Instance = tuple[Frame, Catalogue, list[Demand], list[Spare]]


def draw(seed: int, count: int, bays: Sequence[tuple[int, int]]) -> Instance:
    """Draw an instance: every fourth cable may stand in the next larger block too, every second has spares."""
    chance = random.Random(seed)
    options = []
    for _ in range(count):
        first = chance.choices(range(len(SIZES)), WEIGHTS)[0]
        options.append(SIZES[first : first + (2 if chance.random() < 0.25 else 1)])
    spares = {chance.choice(SIZES[:4]): chance.randint(1, 3)} if chance.random() < 0.5 else {}
    described, x = [], 0
    for width, height in bays:
        described.append(invented.bay(width, height, x))
        x += width
    system = invented.catalogue(SIZES, options, {"frame": invented.frame(described)}, plugs=SIZES)
    demands = invented.demands(invented.cables(options), system)
    return invented.only_frame(system), system, demands, invented.spares(spares)


def forget() -> None:
    """Empty every memory the solver keeps."""
    for kept in (rows._fillings, rows._row_sets):
        kept.cache_clear()


def milliseconds(work: Callable[[], object]) -> float:
    """Time one run."""
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1_000


def main(seeds: int) -> None:
    """Print the table."""
    print(f"{seeds} instances each, limit {LIMIT} steps; ms: median / worst")
    print(f"{'frame':18} {'cables':>6} {'layout':>6} {'none':>5} {'limit':>5} {'warm':>15} {'cold':>15}")
    for name, bays in SHAPES.items():
        for count in COUNTS:
            kinds: Counter[str] = Counter()
            warm, cold = [], []
            for seed in range(seeds):
                instance = draw(seed, count, bays)

                def run(instance: Instance = instance) -> object:
                    return pack_frame(*instance, LIMIT)

                forget()
                cold.append(milliseconds(run))
                answer = pack_frame(*instance, LIMIT)
                warm.append(milliseconds(run))
                if isinstance(answer, Layout):
                    kinds["layout" if answer.proven else "limit"] += 1
                else:
                    kinds["limit" if answer.gave_up else "none"] += 1
            if kinds["none"] == seeds:
                continue  # far too many cables: area alone says so
            print(
                f"{name:18} {count:6} {kinds['layout']:6} {kinds['none']:5} {kinds['limit']:5} "
                f"{statistics.median(warm):7.1f} /{max(warm):6.0f} {statistics.median(cold):7.1f} /{max(cold):6.0f}",
                flush=True,
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 30)
