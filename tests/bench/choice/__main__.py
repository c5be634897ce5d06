"""How long the choice of frames takes, cold: ``python -m tests.bench.choice [INSTANCES]`` (30).

Each instance is chosen for in a process of its own, so nothing is remembered from another: 100 cables of the demo's
diameters, the demo's welded frames in sets of up to three, with invented prices in one half of the instances. Times
are CPU time of the one call, after everything is imported.
"""

import random
import statistics
import subprocess
import sys
import time
from decimal import Decimal
from pathlib import Path

from generator.engine.choose import Choice, Offer, choose_frames
from generator.engine.fit import fit_cable
from generator.engine.packing import Demand
from generator.model.job import Cable
from generator.workpack import SEARCH_LIMIT, read

DEMO = Path(__file__).parents[3] / "workpacks" / "tide-gate"
CABLES = 100


def one(seed: int) -> None:
    """Choose once and print the milliseconds and what came of it."""
    definition = read(DEMO)[0].definition
    (catalogue,) = definition.catalogues.values()
    draw = random.Random(seed)
    known = [cable for cable in definition.cables if not cable.bonded and cable.service != "pipe"]
    cables = [
        Cable(tag=f"C{i}", service="power", least=like.likely, most=like.likely)
        for i, like in enumerate(draw.choices(known, k=CABLES))
    ]
    demands = [Demand(cable, fit_cable(cable, catalogue, definition.job)) for cable in cables]
    offers = [
        Offer(part, frame, Decimal(draw.randint(200, 900)) if seed % 2 else None)
        for part, frame in catalogue.frames.items()
        if "welded" in frame.fixings
    ]
    start = time.process_time()
    found = choose_frames(offers, catalogue, demands, (), SEARCH_LIMIT)
    milliseconds = (time.process_time() - start) * 1000
    what = f"{' '.join(found.frames)} {found.proven}" if isinstance(found, Choice) else f"none {not found.gave_up}"
    print(f"{milliseconds:.1f} {what}")


def main(instances: int) -> None:
    """Print the median, the worst, and how many choices are proven."""
    lines = [
        subprocess.run(
            [sys.executable, "-m", "tests.bench.choice", "--one", str(seed)],
            capture_output=True,
            text=True,
            check=True,
        ).stdout.split(" ")
        for seed in range(instances)
    ]
    times = sorted(float(line[0]) for line in lines)
    proven = sum(line[-1].strip() == "True" for line in lines)
    sizes = statistics.multimode(len(line) - 2 for line in lines)
    print(f"frame choice, {CABLES} cables, sets of up to three, {instances} instances, cold")
    print(f"  median {statistics.median(times):.0f} ms, worst {times[-1]:.0f} ms, proven {proven} of {instances}")
    print(f"  most often {' or '.join(map(str, sizes))} frames")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        one(int(sys.argv[2]))
    else:
        main(int(sys.argv[1]) if sys.argv[1:] else 30)
