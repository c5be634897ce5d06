"""How fast layouts are found: ``python -m tests.bench.packing [SHARE]``, everything in one command and one run.

Against the two models for CP-SAT (``tests/reference/cpsat/book.py``, ``expert.py``; one worker, making the model
included), on instances with fixed seeds (``tests/engine/instances.py``); then by itself. Warm is with the tables of
the frame in memory, cold with nothing. ``SHARE`` is how much of the full number of instances is taken: 0.1 by
default, 1 for the record. What is printed is for a person to read; no test is decided by it.
"""

import statistics
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from typing import Any

import ortools

from generator.engine.packing import pack_frame
from generator.model.layout import Layout, NoLayout
from tests.bench.choice import __main__ as choice
from tests.engine import invented
from tests.engine.instances import Instance, draw_all, in_one_bay
from tests.reference.cpsat import Unanswered, Value, book, expert

LIMIT = 200_000
SECONDS = 20
"""A model that has no answer by then is taken at this time: the ratio is at least what is printed."""
FULL = {"small": 300, "medium": 200, "large": 100, "tight": 200, "infeasible": 200}
FULL |= {"zones small": 100, "zones medium": 60, "zones large": 30}
TARGETS = {
    "small": ("50 x median", "30 x median"),
    "medium": ("200 x median, 40 x p99", "60 x median"),
    "large": ("200 x median, 40 x p99", "70 x median"),
    "infeasible": ("150 x median", "-"),
    "zones small": ("15 x median", "-"),
    "zones medium": ("50 x median", "-"),
    "zones large": ("50 x median", "-"),
}
BOOK_SHARE = {"large": 0.15, "zones large": 0.15}
"""The model by the book takes long on large ones: so much of them is given to it."""


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Run once; return milliseconds and the answer."""
    start = time.perf_counter()
    answer = work()
    return (time.perf_counter() - start) * 1_000, answer


def pack(instance: Instance) -> Layout | NoLayout:
    """Pack one instance as the engine does it; a proof that there is none without what would mend it, as models do."""
    return pack_frame(
        instance.frame,
        instance.catalogue,
        instance.demands,
        instance.spares,
        LIMIT,
        rules=instance.rules,
        reasons=False,
    )


def engine(instance: Instance) -> tuple[float, float, Layout | NoLayout]:
    """Return cold and warm milliseconds, and the answer. Warm is the best of three: the machine has others, too."""
    invented.forget()
    cold, _ = timed(lambda: pack(instance))
    runs = [timed(lambda: pack(instance)) for _ in range(3)]
    return cold, min(time for time, _ in runs), runs[0][1]


def reference(solve: Callable[..., Value | None], instance: Instance) -> float:
    """Return the milliseconds of a model, making it included."""

    def run() -> None:
        with suppress(Unanswered):
            solve(instance.problem, SECONDS)

    return timed(run)[0]


def part(values: Iterable[float], share: float) -> float:
    """Return the value that so much of all do not pass."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def kind(answer: Layout | NoLayout) -> str:
    """Say what kind of answer it is."""
    if isinstance(answer, Layout):
        return "layout" if answer.proven else "limit"
    return "limit" if answer.gave_up else "none"


def spread(values: Sequence[float]) -> str:
    """Return median and p99."""
    return f"{statistics.median(values):8.2f} {part(values, 0.99):9.2f}"


def against(name: str, instances: Sequence[Instance], least_ms: float = 0.0) -> None:
    """Print one family against both models: the ratios are taken instance by instance."""
    found = [(instance, *engine(instance)) for instance in instances]
    if name == "infeasible":
        found = [one for one in found if kind(one[3]) == "none"]
    kinds = Counter(kind(answer) for *_, answer in found)
    said = ", ".join(f"{count} {word}" for word, count in sorted(kinds.items()))
    print(
        f"{name:12} {said:32} warm {spread([w for _, _, w, _ in found])}   cold {spread([c for _, c, _, _ in found])}"
    )
    for title, solve, target in zip(
        ("book", "expert"), (book.solve, expert.solve), TARGETS.get(name, ("-", "-")), strict=True
    ):
        taken = found[: max(3, int(len(found) * BOOK_SHARE.get(name, 1)))] if title == "book" else found
        times = [reference(solve, instance) for instance, *_ in taken]
        ratios = [slow / max(warm, least_ms) for slow, (_, _, warm, _) in zip(times, taken, strict=True)]
        print(
            f"{'':12} {title + ', ' + str(len(taken)) + ' instances':32} takes {spread(times)}  "
            f"{statistics.median(ratios):7.0f} x median {part(ratios, 0.01):7.1f} x p99   target {target}",
            flush=True,
        )


def one_bay(share: float) -> None:
    """Print the times for 10 to 100 cables in one bay of 288 x 288."""
    print("\n10 to 100 cables in one bay of 288 x 288, ms: median p99 (target: median <= 10 throughout)")
    for count in range(10, 101, 10):
        found = [engine(in_one_bay(count, seed)) for seed in range(max(5, int(100 * share)))]
        kinds = Counter(kind(answer) for *_, answer in found)
        said = ", ".join(f"{number} {word}" for word, number in sorted(kinds.items()))
        print(
            f"{count:4} cables {said:28} warm {spread([w for _, w, _ in found])}   cold {spread([c for c, *_ in found])}",
            flush=True,
        )


def fuzz(count: int) -> None:
    """Print the time of many small and medium instances, every answer judged by check.py in the tests."""
    times, kinds = [], Counter[str]()
    for family, part_of in (("small", 5), ("medium", 3), ("tight", 1), ("infeasible", 1)):
        for instance in draw_all(family, count * part_of // 10, 100_000):
            spent, answer = timed(lambda instance=instance: pack(instance))
            times.append(spent)
            kinds[kind(answer)] += 1
    said = ", ".join(f"{number} {word}" for word, number in sorted(kinds.items()))
    print(
        f"\nrandom, {len(times)} instances (full: 100,000): {said}; ms: median {statistics.median(times):.2f}, "
        f"p99 {part(times, 0.99):.2f}, p99.9 {part(times, 0.999):.2f}, worst {max(times):.1f} (target: p99.9 <= 15)"
    )


def main(share: float) -> None:
    """Print the whole table."""
    print(
        f"ortools {ortools.__version__}, one worker; limit {LIMIT} steps; {share:g} of the full number of instances"
    )
    print(
        "models: tests/reference/cpsat/book.py and expert.py; instances: tests/engine/instances.py, seeds from 0 on"
    )
    print("ms: median, p99; ratio: the model's time by the engine's warm time, instance by instance\n")
    for family, full in FULL.items():
        against(family, list(draw_all(family, max(5, int(full * share)))))
    one_bay(share)
    fuzz(int(100_000 * share * 0.1) if share < 1 else 100_000)
    print(
        "\nframe choice, 100 cables, sets of up to three frames, cold (target: <= 100 ms; not compared with a joint model)"
    )
    choice.main(max(5, int(50 * share)))
    print("ladder order: not compared with CP-SAT yet")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 0.1)
