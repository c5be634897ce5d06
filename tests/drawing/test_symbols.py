"""The order in which screws are tightened."""

import pytest

from generator.drawing.symbols import crosswise


def test_known_patterns() -> None:
    """Four and six bolts the way every wheel and flange is drawn: across, then beside the first pair."""
    assert crosswise(1) == (0,)
    assert crosswise(2) == (0, 1)
    assert crosswise(3) in ((0, 1, 2), (0, 2, 1))
    assert crosswise(4) == (0, 2, 1, 3)
    assert crosswise(5) in ((0, 2, 4, 1, 3), (0, 3, 1, 4, 2))


@pytest.mark.parametrize("count", range(1, 41))
def test_every_screw_once_and_pairs_lie_opposite(count: int) -> None:
    order = crosswise(count)
    assert sorted(order) == list(range(count))
    if count % 2 == 0:
        assert all((order[n] - order[n + 1]) % count == count // 2 for n in range(0, count, 2))
    elif count > 3:
        first = min((order[1] - order[0]) % count, (order[0] - order[1]) % count)
        assert first == count // 2


@pytest.mark.parametrize("count", range(6, 41, 2))
def test_the_second_pair_lies_far_from_the_first(count: int) -> None:
    """Within the rounding of places, a quarter turn: so the seal closes evenly from the second pair on."""
    order = crosswise(count)
    turn = (order[2] - order[0]) % (count // 2)
    assert min(turn, count // 2 - turn) >= count // 4
