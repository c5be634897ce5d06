"""What is published about squares in rectangles, and what it says about rows of blocks.

Sequences of the On-Line Encyclopedia of Integer Sequences (https://oeis.org), given from memory except A045846; each
is recomputed here. A bay takes rows over its whole width, so most tilings of its area are no layouts at all: a packer
that looks at area and overlap alone calls bays packable that nobody can fill.
"""

from decimal import Decimal
from functools import cache

import pytest
from ortools.sat.python import cp_model

from generator.engine.packing import pack_frame
from generator.model.layout import Layout, NoLayout
from tests.engine import invented
from tests.engine.brute_force import free_tilings

SQUARED = {
    18: (0, 0),
    15: (18, 0),
    7: (18, 15),
    8: (25, 15),
    14: (0, 18),
    4: (14, 18),
    10: (14, 22),
    1: (24, 22),
    9: (24, 23),
}
"""The least perfect squared rectangle, 33 × 32 (Moroń 1925): side -> lower left corner."""


def fits_freely(sides: list[int], width: int, height: int) -> bool:
    """Ask a general rectangle packer: squares anywhere, no two on each other, as CP-SAT sees it."""
    model = cp_model.CpModel()
    across, up = [], []
    for number, side in enumerate(sides):
        for length, into in ((width, across), (height, up)):
            start = model.new_int_var(0, length - side, f"{number}")
            into.append(model.new_fixed_size_interval_var(start, side, f"{number}"))
    model.add_no_overlap_2d(across, up)
    model.add_cumulative(across, sides, height)
    model.add_cumulative(up, sides, width)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    return solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE)


def test_strips_are_tiled_as_often_as_published() -> None:
    """A219924, rows 2 and 3: Fibonacci's numbers (A000045), and 1, 3, 6, 13, 28, 60, 129 (A002478)."""
    two = [sum(1 for _ in free_tilings(n, 2, (1, 2))) for n in range(1, 8)]
    three = [sum(1 for _ in free_tilings(n, 3, (1, 2, 3))) for n in range(1, 8)]
    assert two == [1, 2, 3, 5, 8, 13, 21]
    assert three == [1, 3, 6, 13, 28, 60, 129]


LEAST_SQUARES = {3: 5, 4: 7, 5: 9, 6: 11, 7: 13, 8: 15, 9: 18, 10: 21, 11: 24}
"""A005842: the side of the least square that holds squares of sides 1 to n; see tests/reference/oeis/A005842.md."""


@pytest.mark.parametrize(("most", "side"), LEAST_SQUARES.items())
def test_the_general_packer_knows_the_least_square_for_1_to_n(most: int, side: int) -> None:
    """The packer is a fair rival."""
    squares = list(range(most, 0, -1))
    assert fits_freely(squares, side, side)
    assert not fits_freely(squares, side - 1, side - 1)


@cache
def widest_sum(sides: tuple[int, ...], room: int) -> int:
    """Return the largest sum of some of these sides that is no more than ``room``."""
    sums = 1
    for side in sides:
        sums |= sums << side
    return (sums & ((1 << (room + 1)) - 1)).bit_length() - 1


def lie_in_a_square(most: int, width: int) -> bool:
    """Try every place of squares 1 to ``most``: the lowest free cell has the corner of one, or it stays empty."""
    tops = [0] * width
    dead: set[tuple[tuple[int, ...], tuple[int, ...]]] = set()

    def place(left: tuple[int, ...], empty: int) -> bool:
        if not left:
            return True
        low = min(tops)
        x = tops.index(low)
        room = next((i for i in range(x, width) if tops[i] != low), width) - x
        if width - low < left[0] or room - widest_sum(left, room) > empty or (tuple(tops), left) in dead:
            return False
        for number, side in enumerate(left):
            if side > min(room, width - low) or (side == most and 2 * max(x, low) + side > width):
                continue  # turned or mirrored, the largest has its middle in the lower left quarter
            tops[x : x + side] = [low + side] * side
            if place(left[:number] + left[number + 1 :], empty):
                return True
            tops[x : x + side] = [low] * side
        if empty:
            tops[x] = low + 1
            if place(left, empty - 1):
                return True
            tops[x] = low
        dead.add((tuple(tops), left))
        return False

    empty = width**2 - sum(side**2 for side in range(1, most + 1))
    return empty >= 0 and place(tuple(range(most, 0, -1)), empty)


@pytest.mark.parametrize(
    ("most", "side"),
    [
        pytest.param(most, side, marks=pytest.mark.long if most > 9 else ())
        for most, side in LEAST_SQUARES.items()
        if most < 11
    ],
)
def test_the_least_square_for_1_to_n_by_every_place_of_every_square(most: int, side: int) -> None:
    """That 1 to 11 do not lie in a square of 23 takes longer than this: only the packer says so."""
    assert lie_in_a_square(most, side)
    assert not lie_in_a_square(most, side - 1)


def test_the_squared_rectangle_is_one() -> None:
    covered = [(x + i, y + j) for side, (x, y) in SQUARED.items() for i in range(side) for j in range(side)]
    assert len(covered) == len(set(covered)) == 33 * 32
    assert set(covered) == {(x, y) for x in range(33) for y in range(32)}


@pytest.mark.parametrize("rows", range(1, 9))
def test_rows_refuse_the_squared_rectangle_that_a_general_packer_fills(rows: int) -> None:
    """No cut goes across it, so no row does. Plates of a thousandth of a side leave every number of rows possible."""
    sides = sorted(SQUARED)
    scale, plate = 1_000, 1
    options = [(side * scale,) for side in sides]
    height = 32 * scale + (rows - 1) * plate
    bay = invented.bay(33 * scale, height + 5, 0, on_top=False, stacking=True)
    system = invented.catalogue(
        [side * scale for side in sides], options, {"frame": invented.frame([bay])}, plate=plate, unit=5
    )
    asked = invented.cables(options)
    answer = pack_frame(invented.only_frame(system), system, invented.demands(asked, system), [], 200_000)
    assert isinstance(answer, NoLayout)
    assert not answer.gave_up
    assert fits_freely(sides, 33, 32)


@cache
def fewest_by_cuts(width: int, height: int) -> int:
    """Return the fewest squares into which cuts from edge to edge divide a rectangle."""
    if width == height:
        return 1
    across = [fewest_by_cuts(x, height) + fewest_by_cuts(width - x, height) for x in range(1, width // 2 + 1)]
    up = [fewest_by_cuts(width, y) + fewest_by_cuts(width, height - y) for y in range(1, height // 2 + 1)]
    return min(across + up)


def can_be_tiled_by(width: int, height: int, most: int) -> bool:
    """Tell whether so many squares tile a rectangle freely: the lowest gap is filled first."""
    tops = [0] * width

    def place(left: int) -> bool:
        low = min(tops)
        if low == height:
            return True
        if left == 0:
            return False
        x = tops.index(low)
        room = next((i for i in range(x, width) if tops[i] != low), width) - x
        for side in range(min(room, height - low), 0, -1):
            tops[x : x + side] = [low + side] * side
            if place(left - 1):
                return True
            tops[x : x + side] = [low] * side
        return False

    return place(most)


def test_eleven_by_thirteen_takes_six_squares_freely_and_eight_by_cuts() -> None:
    """Published (A219158 for the free ones): the least rectangle of which cuts from edge to edge take more by two."""
    assert can_be_tiled_by(11, 13, 6)
    assert not can_be_tiled_by(11, 13, 5)
    assert fewest_by_cuts(11, 13) == 8


def test_rows_of_blocks_take_no_fewer_than_cuts_do() -> None:
    """Rows and stacks are cuts from edge to edge: the engine never finds fewer pieces than they allow."""
    for width, height in ((6, 6), (6, 9), (8, 12), (10, 15), (12, 8)):
        sides = range(1, height + 1)
        bay = invented.bay(width, height + 5, 0, on_top=False, stacking=True)
        system = invented.catalogue(sides, [], {"frame": invented.frame([bay])}, plugs=sides, plate=1000, unit=5)
        answer = pack_frame(invented.only_frame(system), system, [], [], 200_000)
        # Plates thicker than the bay leave one row.
        assert isinstance(answer, Layout)
        assert len(answer.bays[0].rows) == 1
        assert len(answer.placements) >= fewest_by_cuts(width, height)
        assert sum(p.size**2 for p in answer.placements) == Decimal(width * height)
