"""How long the choice of frames takes, cold: ``python -m tests.bench.choice [INSTANCES]`` (30).

Each instance is chosen for in a process of its own, so nothing is remembered from another: 100 cables of the demo's
diameters, the demo's welded frames in sets of up to three, with invented prices in one half of the instances. Times
are CPU time of the one call, after everything is imported. Every choice is compared with a model for CP-SAT that
decides frames and layouts at once (``tests/reference/cpsat/choice.py``).
"""

import statistics
import subprocess
import sys
from dataclasses import dataclass

from generator.engine.choose import Choice, choose_frames
from generator.workpack import SEARCH_LIMIT
from tests.bench.measure import spent
from tests.engine.offers import draw_opening
from tests.reference.cpsat.choice import cheapest

CABLES = 100


@dataclass(frozen=True)
class Measured:
    """One choice: its time, whether it is proven, whether the joint model has a cheaper one, how many frames."""

    milliseconds: float
    proven: bool
    dearer: bool
    frames: int


def one(seed: int) -> None:
    """Choose once and print what ``Measured`` has."""
    opening = draw_opening(seed, CABLES)
    milliseconds, found = spent(
        lambda: choose_frames(opening.offers, opening.catalogue, opening.demands, opening.spares, SEARCH_LIMIT)
    )
    truth = cheapest(opening.frames, opening.costs, opening.problem)
    if isinstance(found, Choice):
        proven, frames = found.proven, len(found.frames)
        dearer = truth is None or opening.cost_of(found) > truth
    else:
        proven, frames, dearer = not found.gave_up, 0, truth is not None
    print(f"{milliseconds:.1f} {int(proven)} {int(dearer)} {frames}")


def measured(instances: int) -> list[Measured]:
    """Choose for so many instances, seeds from 0 on."""
    found = []
    for seed in range(instances):
        command = [sys.executable, "-m", "tests.bench.choice", "--one", str(seed)]
        milliseconds, proven, dearer, frames = subprocess.run(
            command, capture_output=True, text=True, check=True
        ).stdout.split()
        found.append(Measured(float(milliseconds), proven == "1", dearer == "1", int(frames)))
    return found


def main(instances: int) -> None:
    """Print the median, the worst, how many choices are proven, and how many are dearer than need be."""
    found = measured(instances)
    times = [choice.milliseconds for choice in found]
    print(f"frame choice, {CABLES} cables, sets of up to three, {instances} instances, cold")
    print(f"  median {statistics.median(times):.0f} ms, worst {max(times):.0f} ms")
    print(
        f"  proven {sum(one.proven for one in found)}, dearer than the joint model {sum(one.dearer for one in found)}"
    )
    print(f"  most often {' or '.join(map(str, statistics.multimode(one.frames for one in found)))} frames")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        one(int(sys.argv[2]))
    else:
        main(int(sys.argv[1]) if sys.argv[1:] else 30)
