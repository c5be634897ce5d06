"""How fast layouts are found: ``python -m tests.bench.packing [SHARE] [--fuzz COUNT]``, one command, one run.

Against the two models for CP-SAT (``tests/reference/cpsat/book.py``, ``expert.py``; one worker, making the model
included), on instances with fixed seeds (``tests/engine/instances.py``); then by itself, then the choice of frames and
the order on the ladder. CPU time throughout. Warm: the tables of the frame are in memory from another instance on it,
the instance itself is new. Cold: nothing is. ``SHARE`` is how much of the full number of instances is taken: 0.1 by
default, 1 for the record. ``--fuzz`` prints that row alone, with so many instances. What is printed is for a person to
read; no test is decided by it.
"""

import argparse
import platform
import statistics
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace

import ortools

from generator.model.layout import Layout, NoLayout
from tests.bench.choice import __main__ as choice
from tests.bench.measure import Table, digest, part, settle, spent, spread
from tests.bench.packing.fuzz import FIRST, fuzz, kind
from tests.engine import invented
from tests.engine.instances import Instance, describe, draw, draw_all, in_one_bay, on_a_ladder
from tests.engine.judge import LIMIT, crossings_of, pack, rows_and_cables
from tests.reference.cpsat import Problem, Unanswered, Value, book, expert
from tests.reference.cpsat.ladder import fewest_crossings

SECONDS = 20
"""A model that has no answer by then is taken at its time until then: the ratio is at least what is printed."""
FULL = {"small": 300, "medium": 200, "large": 100, "tight": 200, "infeasible": 200}
FULL |= {"zones small": 100, "zones medium": 60, "zones large": 30}
TARGETS: dict[str, dict[str, tuple[float, float]]] = {
    "small": {"book": (50, 0), "expert": (30, 0)},
    "medium": {"book": (200, 40), "expert": (60, 0)},
    "large": {"book": (200, 40), "expert": (70, 0)},
    "infeasible": {"book": (150, 0)},
    "zones small": {"book": (15, 0)},
    "zones medium": {"book": (50, 0)},
    "zones large": {"book": (50, 0)},
}
"""Least ratios: median and p99; 0 where none is asked for."""
BOOK_SHARE = {"large": 0.15, "zones large": 0.15}
"""The model by the book takes long on large ones: so much of them is given to it."""
FILES = ("__init__", "book", "expert", "choice", "ladder")
LADDERS = (("small", 20), ("medium", 20), ("large", 10))


def another(problem: Problem) -> Problem:
    """Return a problem on the same frame with other cables: the first is not there."""
    return replace(problem, cables=problem.cables[1:], services=problem.services[1:], circuits=problem.circuits[1:])


def timed(instance: Instance) -> tuple[float, float, Layout | NoLayout]:
    """Return warm and cold milliseconds, and the answer."""
    invented.forget()
    cold, _ = spent(lambda: pack(instance))
    invented.forget()
    pack(describe("warm", another(instance.problem)))
    warm, answer = spent(lambda: pack(instance))
    return warm, cold, answer


def by_model(solve: Callable[..., Value | None], instance: Instance) -> tuple[float, bool]:
    """Return the milliseconds of a model, making it included, and whether it answered."""
    answered = []

    def run() -> None:
        with suppress(Unanswered):
            solve(instance.problem, SECONDS)
            answered.append(True)

    return spent(run)[0], bool(answered)


def said(answers: Sequence[Layout | NoLayout]) -> str:
    """Count answers by their kind."""
    kinds = Counter(kind(answer) for answer in answers)
    return ", ".join(f"{count} {word}" for word, count in sorted(kinds.items()))


def against(table: Table, family: str, count: int) -> None:
    """Add the rows of one family against both models: ratios are taken instance by instance."""
    instances = list(draw_all(family, count))
    settle()
    found = [(instance, *timed(instance)) for instance in instances]
    seeds = f"seeds 0-{count - 1}"
    if family == "infeasible":
        found = [one for one in found if kind(one[3]) == "none"]
    warm, cold = spread([w for _, w, _, _ in found]), spread([c for _, _, c, _ in found])
    seeds = f"{seeds}: {said([answer for *_, answer in found])}"
    for title, solve in (("book", book.solve), ("expert", expert.solve)):
        taken = found[: max(3, int(len(found) * BOOK_SHARE.get(family, 1)))] if title == "book" else found
        times = [by_model(solve, instance) for instance, *_ in taken]
        ratios = [slow / warm for (slow, _), (_, warm, _, _) in zip(times, taken, strict=True)]
        median, tail = statistics.median(ratios), part(ratios, 0.01)
        least, least_tail = TARGETS.get(family, {}).get(title, (0, 0))
        silent = sum(not answered for _, answered in times)
        target = f">= {least:g} x" + (f", p99 >= {least_tail:g} x" if least_tail else "") if least else ""
        table.add(
            f"{family} / {title}",
            seeds if len(taken) == len(found) else f"the first {len(taken)} of them",
            warm,
            cold,
            f"{median:.1f} x, p99 {tail:.1f} x (model {spread([slow for slow, _ in times])} ms"
            + (f", {silent} unanswered)" if silent else ")"),
            target,
            median >= least and tail >= least_tail if least else None,
        )


def one_bay(table: Table, share: float) -> None:
    """Add the times for 10 to 100 cables in one bay of 288 x 288."""
    for cables in range(10, 101, 10):
        count = max(5, int(100 * share))
        settle()
        found = [timed(in_one_bay(cables, seed)) for seed in range(count)]
        times = [warm for warm, _, _ in found]
        table.add(
            f"288 x 288, {cables} cables",
            f"seeds 0-{count - 1}: {said([answer for *_, answer in found])}",
            spread(times),
            spread([cold for _, cold, _ in found]),
            f"median {statistics.median(times):.1f} ms",
            "median <= 10 ms",
            statistics.median(times) <= 10,
        )


def random_ones(table: Table, count: int) -> None:
    """Add the row of the fuzz."""
    settle()
    found = fuzz(count)
    tail = part(found.times, 0.999)
    given_up = found.kinds["gave up"] + found.kinds["best found"]
    kinds = ", ".join(f"{number} {word}" for word, number in sorted(found.kinds.items()))
    table.add(
        "random fuzz",
        f"seeds {FIRST}-{FIRST + count - 1}: {kinds}",
        spread(found.times),
        "",
        f"p99.9 {tail:.1f} ms, worst {max(found.times):.0f}; {len(found.wrong)} wrong, {given_up} given up; "
        f"{found.compared} compared with the expert's model, {found.unanswered} unanswered",
        "p99.9 <= 15 ms, none wrong, none given up",
        tail <= 15 and not found.wrong and not given_up,
    )
    for name in found.wrong[:20]:
        print(f"WRONG: {name}")


def frames(table: Table, count: int) -> None:
    """Add the row of the choice of frames."""
    found = choice.measured(count)
    worst = max(one.milliseconds for one in found)
    dearer = sum(one.dearer for one in found)
    unproven = sum(not one.proven for one in found)
    table.add(
        f"frame choice, {choice.CABLES} cables",
        f"seeds 0-{count - 1}, each in a process of its own",
        "",
        spread([one.milliseconds for one in found]),
        f"worst {worst:.0f} ms; {dearer} dearer than the joint model, {unproven} not proven",
        "<= 100 ms cold, never dearer",
        worst <= 100 and not dearer,
    )


def ladders(table: Table, share: float) -> None:
    """Add the rows of the order on the ladder."""
    for family, full in LADDERS:
        count = max(5, int(full * share))
        warm, cold, ratios, answers = [], [], [], []
        proven = silent = 0
        settle()
        for seed in range(count):
            instance = on_a_ladder(draw(family, seed), seed)
            own_warm, own_cold, answer = timed(instance)
            if not isinstance(answer, Layout):
                continue
            warm.append(own_warm)
            cold.append(own_cold)
            answers.append(answer)
            found = crossings_of(instance, answer)
            try:
                best, least = fewest_crossings(*rows_and_cables(instance, answer), seconds=15)
            except Unanswered:
                silent += 1
                continue
            proven += best == least
            ratios.append(found / best if best else found + 1.0)
        near = sum(ratio <= 1.05 for ratio in ratios)
        worst_ms = max(warm)
        table.add(
            f"ladder order, {family}",
            f"seeds 0-{count - 1}: {said(answers)}",
            spread(warm),
            spread(cold),
            f"{near} of {len(ratios)} within 5 %, median {statistics.median(ratios):.3f} x, worst {max(ratios):.2f} x "
            f"(the model: {proven} proven, {silent} unanswered), worst {worst_ms:.0f} ms",
            "median within 5 %, <= 100 ms",
            statistics.median(ratios) <= 1.05 and worst_ms <= 100,
        )


def main() -> None:
    """Print the whole table."""
    asked = argparse.ArgumentParser(prog="python -m tests.bench.packing")
    asked.add_argument("share", nargs="?", type=float, default=0.1)
    asked.add_argument("--fuzz", type=int, metavar="COUNT")
    arguments = asked.parse_args()
    table = Table()
    print(f"Python {platform.python_version()}, ortools {ortools.__version__}, one worker; limit {LIMIT} steps")
    print(
        f"{arguments.share:g} of the full number of instances; ms of CPU: median / p99; ratio: model by engine, warm"
    )
    for name in (*(f"tests/reference/cpsat/{name}.py" for name in FILES), "tests/engine/instances.py"):
        print(f"sha256 {digest(name)}  {name}")
    print(flush=True)
    if arguments.fuzz:
        random_ones(table, arguments.fuzz)
    else:
        for family, full in FULL.items():
            against(table, family, max(5, int(full * arguments.share)))
        one_bay(table, arguments.share)
        random_ones(table, int(100_000 * arguments.share * (1 if arguments.share >= 1 else 0.1)))
        frames(table, max(5, int(50 * arguments.share)))
        ladders(table, arguments.share)
    table.show()


if __name__ == "__main__":
    main()
