"""Limits: on frames whose rows have very many fillings the steps still bound the work, and a layout is still found.

The frames are wide, and many sizes divide one another: a row of one of them may have ten thousands of fillings.
"""

import random
import re
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from functools import partial
from types import FrameType
from typing import Any

import pytest

from generator.engine.packing import pack_frame
from generator.engine.place import lay_out
from generator.engine.solver.promotion import plainest
from generator.engine.units import FrameInUnits
from generator.model.layout import Layout, NoLayout
from tests.engine import invented
from tests.engine.instances import Instance, describe, draw_all
from tests.engine.judge import faults, value_of
from tests.reference.cpsat import Apart, Bay, Problem, Unanswered, expert

LARGEST = (60, 72, 90, 96)
LINES_A_STEP = 60
"""So many lines of code are run for one step at most, over a whole search."""


def draw(seed: int, wide: int, ruled: bool = False) -> Instance:
    """Draw a frame as wide as some of its largest blocks, with cables for half of it or more."""
    chance = random.Random(f"odd {seed}")
    largest = chance.choice(LARGEST)
    divisors = [side for side in range(6, largest) if largest % side == 0]
    sides = tuple(sorted({*chance.sample(divisors, min(len(divisors), chance.randint(3, 7))), largest}))
    plate, bays = chance.choice((2, 3, 5)), chance.choice((1, 1, 2))
    rows = [chance.choice(sides[-3:]) for _ in range(chance.randint(1, 3))]
    bay = Bay(largest * chance.randint(1, wide), sum(rows) + plate * len(rows), plate, True, chance.random() < 0.8)
    room = chance.choice((0.5, 0.7, 0.9)) * bay.width * sum(rows) * bays
    cables: list[tuple[int, ...]] = []
    while len(cables) < 60:
        at = min(int(chance.expovariate(0.7)), len(sides) - 1)
        cables.append(sides[at : at + chance.choice((1, 1, 1, 2))])
        room -= cables[-1][0] ** 2
        if room < 0:
            break
    problem = Problem((bay,) * bays, sides, frozenset(sides), tuple(cables), {})
    if ruled:
        classes = tuple(chance.choice(("power", "control", "data")) for _ in cables)
        apart = Apart(chance.choice(("zone", "row")), frozenset(("power", "control", "data")))
        problem = replace(problem, services=classes, apart=(apart,))
    return describe(f"odd {seed}, {wide} wide{', ruled' * ruled}", problem)


def pack(instance: Instance, limit: int) -> Layout | NoLayout:
    return pack_frame(
        instance.frame,
        instance.catalogue,
        instance.demands,
        instance.spares,
        limit,
        rules=instance.rules,
        reasons=False,
    )


def lines_of(work: Callable[[], object]) -> int:
    """Count the lines of the engine that are run: as good a measure of work as a clock, and the same everywhere."""
    count = 0

    def line(frame: FrameType, event: str, argument: object) -> Any:
        nonlocal count
        count += event == "line"
        return line

    def called(frame: FrameType, event: str, argument: object) -> Any:
        return line if "engine" in frame.f_code.co_filename else None

    before = sys.gettrace()
    sys.settrace(called)
    try:
        work()
    finally:
        sys.settrace(before)
    return count


@pytest.mark.parametrize("ruled", [False, True])
def test_steps_bound_the_lines_that_are_run(ruled: bool) -> None:
    limit, most = 10_000, 0
    for seed in range(12):
        instance = draw(seed, 8, ruled)
        invented.forget()
        most = max(most, lines_of(partial(pack, instance, limit)))
    assert limit < most < LINES_A_STEP * limit


def test_what_ends_at_its_limit_is_mostly_a_layout_and_never_a_wrong_one() -> None:
    kinds = []
    for seed in range(60):
        instance = draw(seed, 8, ruled=seed % 2 == 1)
        answer = pack(instance, 200_000)
        if isinstance(answer, Layout):
            assert faults(instance, answer) == (), instance.name
            kinds.append("proven" if answer.proven else "best found")
        else:
            kinds.append("gave up" if answer.gave_up else "none")
    assert kinds.count("best found") > 5, kinds
    assert kinds.count("gave up") < len(kinds) // 3, kinds


def test_how_far_it_is_from_the_best_is_told_large_enough() -> None:
    """Judge: the expert's model, at limits at which the search itself finds nothing."""
    judged = 0
    for wide, limit in ((2, 12_000), (3, 30_000)):
        for seed in range(70):
            instance = draw(seed, wide)
            answer = pack(instance, limit)
            if not isinstance(answer, Layout) or answer.proven:
                continue
            with suppress(Unanswered):
                truth = expert.solve(instance.problem, 5)
                assert truth is not None, instance.name
                growth, pieces, _ = value_of(instance, answer)
                told = re.search(r"up to ([0-9]+) pieces fewer", answer.note)
                assert growth == truth[0] or "cables in smaller blocks" in answer.note, instance.name
                assert pieces - truth[1] <= (int(told[1]) if told else 0), instance.name
                judged += 1
    assert judged > 5


@pytest.mark.parametrize("family", ["small", "medium", "large", "tight", "zones small", "zones medium", "stays"])
def test_any_layout_is_one_and_its_bound_is_one(family: str) -> None:
    """What is looked for where a search has found nothing, held against what the search finds with enough steps."""
    met = grown = 0
    for instance in draw_all(family, 12):
        best = pack(instance, 200_000)
        units = FrameInUnits(instance.frame, instance.catalogue, instance.demands, instance.spares, instance.rules)
        for first in (True, False):
            found = plainest(units.task, units.ask, 400_000, first)
            if not isinstance(best, Layout):
                assert found is None, instance.name
                continue
            if found is None:
                continue
            layout = lay_out(units, found)
            assert not layout.proven
            assert faults(instance, layout) == (), instance.name
            growth, pieces, _ = value_of(instance, best)
            assert value_of(instance, layout)[:2] >= (growth, pieces), instance.name
            assert found.floor <= pieces, instance.name
            met, grown = met + 1, grown + (found.choice.growth > growth)
    assert met > 8
    assert family != "tight" or grown


def test_the_limit_ends_at_the_same_place_warm_and_cold_with_rules_and_several_bays() -> None:
    for seed in range(8):
        instance = draw(seed, 4, ruled=True)
        warm = [pack(instance, limit) for limit in range(500, 20_000, 3_000)]
        for limit, answer in zip(range(500, 20_000, 3_000), warm, strict=True):
            invented.forget()
            assert pack(instance, limit) == answer, (instance.name, limit)
