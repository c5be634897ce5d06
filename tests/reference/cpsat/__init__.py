"""The packing as two models for OR-Tools' CP-SAT, written from the statement of the problem alone.

``book`` is what an engineer who knows the textbook writes in an afternoon: row slots, columns, one variable a
cable. ``expert`` is what one writes who has done it before: patterns listed beforehand, equal bays, rows and
cables counted, not told apart. Both share nothing with the engine's solver, and find the same optimum.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ortools.sat.python import cp_model

Value = tuple[int, int, int]
"""Growth, pieces (blocks and row plates), different sizes."""


@dataclass(frozen=True)
class Bay:
    """A bay in whole units: ``height`` without its clamping unit."""

    width: int
    height: int
    plate: int
    on_top: bool
    stacking: bool


@dataclass(frozen=True)
class Problem:
    """A frame, what may stand in it, and what must. ``cables``: the sides of the blocks that hold each."""

    bays: tuple[Bay, ...]
    sides: tuple[int, ...]
    fills: frozenset[int]
    cables: tuple[tuple[int, ...], ...]
    spares: Mapping[int, int]


class Unanswered(Exception):
    """The time was over before the solver knew."""


def minimize(model: cp_model.CpModel, parts: tuple[Any, Any, Any], most: Value, seconds: float) -> Value | None:
    """Minimize the three parts in their order; None when there is no layout. Raises Unanswered.

    ``most`` bounds each part, so that one sum with weights keeps the order exactly.
    """
    sizes, pieces = most[2] + 1, most[1] + 1
    growth, count, different = parts
    model.minimize(growth * (sizes * pieces) + count * sizes + different)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    if status != cp_model.OPTIMAL:
        raise Unanswered(str(status))
    value = round(solver.objective_value)
    return value // (sizes * pieces), value // sizes % pieces, value % sizes
