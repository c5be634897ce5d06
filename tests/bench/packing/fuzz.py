"""Many random instances: how long each takes, and whether any answer is wrong.

Every layout goes through ``check.py``, which knows nothing of the solver; every fiftieth answer, layouts and proofs
that there is none alike, is compared with the expert's model as well.
"""

import sys
import time
from collections import Counter
from dataclasses import dataclass, field

from generator.model.layout import Layout, NoLayout
from tests.bench.measure import spent
from tests.engine.instances import Instance, draw
from tests.engine.judge import faults, judge, pack, truth_of
from tests.reference.cpsat import Unanswered

MIX = ("small", "small", "small", "small", "small", "medium", "medium", "medium", "tight", "infeasible")
FIRST = 100_000
COMPARED = 50
PROGRESS_S = 10


@dataclass
class Fuzzed:
    """What came of it: milliseconds, kinds of answers, and the names of instances whose answer is wrong."""

    times: list[float] = field(default_factory=list)
    kinds: Counter[str] = field(default_factory=Counter)
    compared: int = 0
    unanswered: int = 0
    wrong: list[str] = field(default_factory=list)


def kind(answer: Layout | NoLayout) -> str:
    """Say what kind of answer it is."""
    if isinstance(answer, Layout):
        return "proven" if answer.proven else "best found"
    return "gave up" if answer.gave_up else "none"


def fuzz(count: int) -> Fuzzed:
    """Pack so many instances, one after the other, nothing forgotten in between; tell on stderr how far it is."""
    found = Fuzzed()
    said = time.monotonic()
    for number in range(count):
        instance = draw(MIX[number % len(MIX)], FIRST + number)
        try:
            milliseconds, answer = spent(lambda instance=instance: pack(instance))
        except Exception as error:  # a long run tells of a crash, too, and goes on
            found.wrong.append(f"{instance.name}: {type(error).__name__} {error}")
            continue
        found.times.append(milliseconds)
        found.kinds[kind(answer)] += 1
        if isinstance(answer, Layout) and faults(instance, answer):
            found.wrong.append(instance.name)
        if number % COMPARED == 0:
            _compare(instance, found)
        if time.monotonic() - said > PROGRESS_S:
            said = time.monotonic()
            print(f"{number + 1} of {count}, {len(found.wrong)} wrong", file=sys.stderr, flush=True)
    return found


def _compare(instance: Instance, found: Fuzzed) -> None:
    try:
        judge(instance, truth_of(instance, seconds=20))
        found.compared += 1
    except Unanswered:
        found.unanswered += 1
    except AssertionError as error:
        found.wrong.append(f"{instance.name}: {error}")
