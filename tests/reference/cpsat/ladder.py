"""The model for the order on the ladder: rows as they are, their columns in any order, cables in any block of theirs.

What stays is what was settled before it: which columns a row has, which cable has a block of which side, and how
many spares and fillers of each side every row has. Nested columns, classes and blocks that stay it does not know.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from ortools.sat.python import cp_model

from tests.reference.cpsat import Unanswered


@dataclass(frozen=True)
class LadderRow:
    """A row: where its bay begins from the left of the frame, how wide and high it is, its columns, its cables.

    ``columns``: how many columns there are of each side; ``cables``: how many blocks of each side hold a cable that
    has a place on the ladder.
    """

    left: int
    width: int
    height: int
    columns: tuple[tuple[int, int], ...]
    cables: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class LadderCable:
    """A cable: the side of its block, and its place on the ladder."""

    side: int
    rank: int


def fewest_crossings(
    rows: Sequence[LadderRow], cables: Sequence[LadderCable], seconds: float = 15, most: int | None = None
) -> tuple[int, int]:
    """Return (fewest pairs that cross of those found, fewest there can be). Raises Unanswered.

    Of two cables in blocks of one side the lower on the ladder is never put farther right: to exchange two that stand
    so takes their own crossing away, and whatever lies between them crosses as often as before or less. ``most`` is
    what is known to be possible.
    """
    model = cp_model.CpModel()
    middles: list[list[Any]] = [[] for _ in cables]
    chosen: list[list[Any]] = [[] for _ in cables]
    for r, row in enumerate(rows):
        ahead = {0}
        for x in range(row.width):
            if x in ahead:
                ahead |= {x + side for side, _ in row.columns if x + side <= row.width}
        arcs = {
            (x, side): model.new_bool_var(f"{r} {x} {side}")
            for x in sorted(ahead)
            for side, _ in row.columns
            if x + side in ahead
        }
        for node in ahead:
            out = sum(arc for (x, _), arc in arcs.items() if x == node)
            into = sum(arc for (x, side), arc in arcs.items() if x + side == node)
            model.add(out - into == (node == 0) - (node == row.width))
        for side, count in row.columns:
            model.add(sum(arc for (_, own), arc in arcs.items() if own == side) == count)
        in_row: dict[int, list[Any]] = {side: [] for side, _ in row.cables}
        in_column: dict[tuple[int, int], list[Any]] = {}
        for i, cable in enumerate(cables):
            for x, side in arcs:
                if side == cable.side and side in in_row:
                    there = model.new_bool_var(f"cable {i} {r} {x}")
                    chosen[i].append(there)
                    middles[i].append((2 * (row.left + x) + side) * there)
                    in_row[side].append(there)
                    in_column.setdefault((x, side), []).append(there)
        for side, count in row.cables:
            model.add(sum(in_row[side]) == count)
        for (x, side), own in in_column.items():
            model.add(sum(own) <= (row.height // side) * arcs[x, side])
    for own in chosen:
        model.add_exactly_one(own)
    middle = [sum(parts) for parts in middles]
    widest = 2 * max(row.left + row.width for row in rows)
    crossings = []
    for (i, one), (j, two) in combinations(sorted(enumerate(cables), key=lambda c: c[1].rank), 2):
        if one.side == two.side:
            model.add(middle[i] <= middle[j])
        elif one.rank < two.rank:
            cross = model.new_bool_var(f"{i} crosses {j}")
            model.add(middle[i] - middle[j] <= widest * cross)
            crossings.append(cross)
    if most is not None:
        model.add(sum(crossings) <= most)
    model.minimize(sum(crossings))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        raise Unanswered(str(status))
    return round(solver.objective_value), round(solver.best_objective_bound)
