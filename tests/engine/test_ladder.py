"""Ladder order: how crossings are counted, and how near the best the order comes on rows small enough to try all."""

import random
from collections import Counter
from itertools import permutations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.engine.ladder import crossings
from generator.engine.packing import pack_frame
from generator.engine.row_order import Sort, order_row
from generator.model.layout import Layout
from tests.engine import invented
from tests.engine.instances import draw, on_a_ladder
from tests.engine.judge import crossings_of, faults, pack, rows_and_cables, value_of
from tests.reference.cpsat.ladder import fewest_crossings


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=30))
def test_crossings_are_pairs_that_stand_the_wrong_way_round(middles: list[tuple[int, int]]) -> None:
    counted = sum(1 for a in middles for b in middles if a[1] < b[1] and a[0] > b[0])
    assert crossings(middles) == counted


def test_one_row_is_as_well_ordered_as_any_order_of_its_columns() -> None:
    """A row of 48 over 144: 48s and stacks of two 24s. Every order of its columns is tried, and every sharing out."""
    chance = random.Random(9)
    for _ in range(25):
        large = chance.randint(1, 2)
        options = [(48,)] * large + [(24,)] * (2 * (6 - 2 * large))
        system = invented.catalogue(
            (24, 48), options, {"frame": invented.frame([invented.bay(144, 84)])}, plugs=(24, 48)
        )
        ranks = chance.sample(range(20), len(options))
        cables = [
            cable.model_copy(update={"ladder": rank})
            for cable, rank in zip(invented.cables(options), ranks, strict=True)
        ]
        frame = invented.only_frame(system)
        answer = pack_frame(frame, system, invented.demands(cables, system), (), 100_000)
        assert isinstance(answer, Layout)
        rank_of = {cable.tag: cable.ladder for cable in cables}
        found = [(int(2 * p.x + p.size), rank_of[p.cable] or 0) for p in answer.placements if p.cable]
        assert len(found) == len(options)
        # Cables of one size in ascending order are best for a given order of columns (see the module).
        best = min(
            _crossing(order, ranks, options) for order in set(permutations([48] * large + [24] * (6 - 2 * large)))
        )
        assert crossings(found) == best


def _crossing(order: tuple[int, ...], ranks: list[int], options: list[tuple[int, ...]]) -> int:
    waiting = {
        side: sorted(rank for rank, own in zip(ranks, options, strict=True) if own == (side,)) for side in (24, 48)
    }
    x, stood = 0, []
    for side in order:
        for _ in range(48 // side):
            stood.append((x + side / 2, waiting[side].pop(0)))
        x += side
    return sum(1 for a in stood for b in stood if a[1] < b[1] and a[0] > b[0])


def test_a_row_stands_in_the_best_order_beside_the_others() -> None:
    """Every order of the columns of small rows is tried, with every number of cables in each: pairs are counted."""
    chance = random.Random(5)
    for _ in range(60):
        sorts = [
            Sort(
                width,
                columns,
                blocks,
                tuple(sorted(chance.sample(range(0, 30, 2), chance.randint(0, columns * blocks)))),
            )
            for width, columns, blocks in ((18, chance.randint(0, 2), 4), (24, chance.randint(1, 2), 3), (36, 1, 2))
        ]
        others = sorted((chance.randint(0, 300), chance.randrange(1, 31, 2)) for _ in range(8))
        steps = order_row(0, sorts, others, dict.fromkeys(range(30), 0))
        assert Counter(number for number, _ in steps) == {n: s.columns for n, s in enumerate(sorts) if s.columns}
        columns = [number for number, sort in enumerate(sorts) for _ in range(sort.columns)]
        best = min(
            _beside(list(zip(order, taken, strict=True)), sorts, others)
            for order in set(permutations(columns))
            for taken in product(*(range(sorts[number].blocks + 1) for number in order))
            if all(
                sum(t for own, t in zip(order, taken, strict=True) if own == number) == len(sort.ranks)
                for number, sort in enumerate(sorts)
            )
        )
        assert _beside(steps, sorts, others) == best


def _beside(steps: list[tuple[int, int]], sorts: list[Sort], others: list[tuple[int, int]]) -> int:
    """Count the pairs that cross, at least one of the two in the row."""
    waiting = [list(sort.ranks) for sort in sorts]
    x, stood = 0, []
    for number, taken in steps:
        stood += [(2 * x + sorts[number].width, waiting[number].pop(0)) for _ in range(taken)]
        x += sorts[number].width
    everything = [*stood, *others]
    all_pairs = sum(1 for a in everything for b in everything if a[1] < b[1] and a[0] > b[0])
    return all_pairs - sum(1 for a in others for b in others if a[1] < b[1] and a[0] > b[0])


def test_the_order_is_near_the_best_that_cp_sat_finds() -> None:
    """Judge: ``tests/reference/cpsat/ladder.py``, which proves these optimal; the engine's search has a fixed end."""
    near, found, least = [], 0, 0
    for family, count in (("small", 40), ("medium", 10)):
        for seed in range(count):
            instance = on_a_ladder(draw(family, seed), seed)
            answer = pack(instance)
            if isinstance(answer, Layout):
                assert faults(instance, answer) == ()
                own = crossings_of(instance, answer)
                best, bound = fewest_crossings(*rows_and_cables(instance, answer), seconds=20)
                assert best == bound <= own, instance.name
                near.append(own <= 1.05 * best)
                found, least = found + own, least + best
    assert found <= 1.05 * least, (found, least)
    assert near.count(False) <= len(near) // 10, near


@pytest.mark.parametrize("family", ["zones small", "zones medium", "circuits", "nested", "all rules"])
def test_the_order_on_the_ladder_breaks_no_rule(family: str) -> None:
    """Judge: ``check.py``. What is proven without a ladder is so with one: the order comes after all that is proven."""
    kept = 0
    for seed in range(12):
        plain = draw(family, seed)
        instance = on_a_ladder(plain, seed)
        answer = pack(instance)
        if isinstance(answer, Layout):
            assert faults(instance, answer) == (), instance.name
            without = pack(plain)
            assert isinstance(without, Layout)
            assert value_of(instance, answer) == value_of(plain, without)
            assert answer.proven == without.proven
            kept += 1
    assert kept > 2
