"""Layouts under every rule against every layout there is, on small frames; so are the models that judge the larger.

Judge: ``brute_force_rules``, which reads the definition off whole tilings. Seeds are fixed.
"""

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.engine.brute_force_rules import best, effort, readings
from tests.engine.instances import describe
from tests.engine.judge import judge
from tests.reference.cpsat import Apart, Bay, Kept, Problem, arcs, book, columns, expert

CLASSES = ("power", "control", "data")
MOST_WAYS = 500_000
"""Frames with more ways are left out: the judge would take minutes for them."""


def problems(seed: int, count: int) -> Iterator[Problem]:
    """Draw small frames with rules: one or two bays, sides of 1 to 6, up to four cables."""
    chance = random.Random(seed)
    while count:
        sides = tuple(sorted(chance.sample(range(1, 7), chance.randint(2, 3))))
        plate = chance.randint(1, 2)
        bays = []
        for _ in range(chance.choice((1, 2, 2))):
            heights, on_top = chance.choices(sides, k=chance.randint(1, 2)), chance.random() < 0.5
            height = sum(heights) + plate * (len(heights) if on_top else len(heights) - 1)
            width = min(6, sum(chance.choices(sides, k=chance.randint(1, 3))))
            bays.append(Bay(width, min(height, 10), plate, on_top, chance.random() < 0.6, chance.random() < 0.2))
        rows = [chance.choice(found) for bay in bays for h in sides if (found := readings(bay, h, sides))]
        there = [side for row in rows for column in row for *_, side in column] or list(sides)
        cables = []
        for side in chance.sample(there, min(len(there), chance.randint(1, 4))):
            first = chance.choice([i for i in range(len(sides)) if sides[i] <= side])
            cables.append(sides[first : max(first + chance.randint(1, 2), sides.index(side) + 1)])
        plugs = frozenset(side for side in sides if chance.random() < 0.8)
        problem = Problem(
            bays=tuple(bays),
            sides=sides,
            plugs=plugs,
            cables=tuple(cables),
            spares={side: 1 for side in plugs if chance.random() < 0.2},
            fillers=frozenset(side for side in sides if chance.random() < 0.6),
            services=tuple(chance.choice(CLASSES) for _ in cables),
            solid=chance.random() < 0.25,
            share=Fraction(chance.choice((0, 0, 0, 20, 50))),
        )
        apart = [
            Apart(
                chance.choice(("bay", "row", "zone", "zone")), frozenset(chance.sample(CLASSES, chance.randint(2, 3)))
            )
            for _ in range(chance.choice((0, 1, 1, 2)))
        ]
        problem = replace(problem, apart=tuple(apart))
        if chance.random() < 0.4:
            problem = replace(
                problem,
                circuits=tuple(chance.choice((None, "L1", "L2")) for _ in cables),
                magnetic=chance.random() < 0.8,
            )
        if problem.solid:
            problem = replace(problem, share=Fraction(0))
        if chance.random() < 0.35:
            problem = replace(problem, kept=_some_that_stay(problem, chance))
        count -= 1
        if effort(problem) <= MOST_WAYS:
            yield problem


def _some_that_stay(problem: Problem, chance: random.Random) -> tuple[Kept, ...]:
    """Take blocks out of rows that may stand at the bottom of a bay, and let them stay."""
    kept: dict[tuple[int, int, int], Kept] = {}
    free = list(range(len(problem.cables)))
    for b, bay in enumerate(problem.bays):
        for height in problem.sides:
            found = readings(bay, height, problem.sides) if height <= bay.height else ()
            if found and chance.random() < 0.4:
                squares = [square for column in chance.choice(found) for square in column]
                for x, y, side in chance.sample(squares, min(len(squares), chance.randint(1, 2))):
                    cable = next((i for i in free if side in problem.cables[i]), None)
                    if cable is not None and chance.random() < 0.7:
                        free.remove(cable)
                        kept[b, x, y] = Kept(b, x, y, side, cable)
                    elif side in problem.plugs:
                        kept[b, x, y] = Kept(b, x, y, side, None)
                break
    if kept and chance.random() < 0.2:
        # One that stands anywhere: most often nothing can be built round it.
        place = min(kept)
        bay = problem.bays[place[0]]
        moved = replace(kept[place], x=chance.randrange(bay.width), y=chance.randrange(bay.height))
        kept[place] = moved
    return tuple(kept.values())


def test_columns_of_the_models_are_those_of_all_tilings() -> None:
    """Nested columns are read off every tiling by squares here, and put together from rows there."""
    for nesting in (False, True):
        for stacking in (False, True):
            for sides in ((1, 2, 4), (2, 3, 6), (1, 2, 3, 5)):
                for width in sides:
                    for height in sides:
                        bay = Bay(width, 99, 1, True, stacking, nesting)
                        seen = {
                            tuple(sorted(Counter(side for *_, side in row[0]).items()))
                            for row in readings(bay, height, sides)
                            if len(row) == 1
                        }
                        made = {column.blocks for column in columns(bay, height, sides) if column.width == width}
                        assert made == seen, (bay, height, sides)


def test_models_agree_with_every_layout_there_is() -> None:
    kinds: Counter[str] = Counter()
    for problem in problems(seed=4711, count=130):
        truth = best(problem)
        kinds["none" if truth is None else "layout"] += 1
        if not problem.kept:
            assert book.solve(problem) == truth, problem
            assert expert.solve(problem) == truth, problem
        if not any(bay.nesting for bay in problem.bays):
            assert arcs.solve(problem) == truth, problem
    assert min(kinds["layout"], kinds["none"]) > 20, kinds


def kinds_of(seed: int, count: int) -> Counter[str]:
    """Judge the engine on problems; count the kinds of its answers."""
    return Counter(
        judge(describe(f"{seed}, {number}: {problem}", problem, unit=5), best(problem))
        for number, problem in enumerate(problems(seed, count))
    )


def test_layouts_are_the_best_of_all_there_are() -> None:
    kinds = kinds_of(2032, 400)
    assert min(kinds["proven"], kinds["none"]) > 80, kinds


@pytest.mark.long
@pytest.mark.parametrize("seed", range(10))
def test_many_layouts_are_the_best_of_all_there_are(seed: int) -> None:
    kinds = kinds_of(seed, 1_000)
    assert set(kinds) <= {"proven", "none"}, kinds
