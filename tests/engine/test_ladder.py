"""Ladder order: how crossings are counted, and how near the best the order comes on rows small enough to try all."""

import random
from itertools import permutations

from hypothesis import given
from hypothesis import strategies as st

from generator.engine.ladder import crossings
from generator.engine.packing import pack_frame
from generator.model.layout import Layout
from tests.engine import invented


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=30))
def test_crossings_are_pairs_that_stand_the_wrong_way_round(middles: list[tuple[int, int]]) -> None:
    counted = sum(1 for a in middles for b in middles if a[1] < b[1] and a[0] > b[0])
    assert crossings(middles) == counted


def test_one_row_is_as_well_ordered_as_any_order_of_its_columns() -> None:
    """A row of 48 over 144: 48s and stacks of two 24s. Every order of its columns is tried, and every sharing out."""
    draw = random.Random(9)
    for _ in range(25):
        large = draw.randint(1, 2)
        options = [(48,)] * large + [(24,)] * (2 * (6 - 2 * large))
        system = invented.catalogue(
            (24, 48), options, {"frame": invented.frame([invented.bay(144, 84)])}, plugs=(24, 48)
        )
        ranks = draw.sample(range(20), len(options))
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
