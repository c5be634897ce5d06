"""What the benches of the engine share: CPU time, medians and tails, and the table that is printed at the end.

CPU time of this process, since a machine with other work on it would else be measured too.
"""

import gc
import hashlib
import statistics
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

HERE = Path(__file__).parents[2]
T = TypeVar("T")


def spent(work: Callable[[], T]) -> tuple[float, T]:
    """Run once; return milliseconds of CPU and the answer. The collector rests meanwhile, as with timeit.

    A collection falls upon one run in hundreds and walks through all that instances, models and libraries hold, too.
    """
    gc.disable()
    try:
        start = time.process_time()
        answer = work()
        return (time.process_time() - start) * 1_000, answer
    finally:
        gc.enable()


def settle() -> None:
    """Leave what is in memory now out of later collections: what libraries and instances hold is not the engine's."""
    gc.collect()
    gc.freeze()


def part(values: Iterable[float], share: float) -> float:
    """Return the value that so much of all do not pass."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def spread(values: Sequence[float]) -> str:
    """Return median and p99, ms."""
    return f"{statistics.median(values):.2f} / {part(values, 0.99):.2f}"


def digest(path: str) -> str:
    """Return the beginning of a file's SHA-256, whatever its line ends are."""
    return hashlib.sha256((HERE / path).read_bytes().replace(b"\r\n", b"\n")).hexdigest()[:12]


@dataclass
class Table:
    """The rows that have a target, printed as they come and once more together."""

    rows: list[tuple[str, ...]] = field(default_factory=list)

    def add(self, what: str, seeds: str, warm: str, cold: str, found: str, target: str, met: bool | None) -> None:
        """Add a row; ``met`` is None where there is nothing to compare."""
        row = (what, seeds, warm, cold, found, target, {True: "met", False: "MISSED", None: ""}[met])
        self.rows.append(row)
        print(" | ".join(row), flush=True)

    def show(self) -> None:
        """Print all rows as a table."""
        heads = ("what", "instances", "warm ms", "cold ms", "found", "target", "")
        print(f"\n| {' | '.join(heads)} |\n|{'---|' * len(heads)}")
        for row in self.rows:
            print(f"| {' | '.join(row)} |")
        missed = sum(row[-1] == "MISSED" for row in self.rows)
        print(f"\n{missed} of {sum(bool(row[-1]) for row in self.rows)} targets missed")
