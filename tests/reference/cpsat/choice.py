"""The joint model for the choice of frames: which frames, and what stands in them, decided at once.

Frames are counted, up to so many together; their bays are filled as the expert's model fills them. Classes, circuits
and blocks that stay it does not know.
"""

from collections import Counter
from collections.abc import Mapping
from typing import Any

from ortools.sat.python import cp_model

from tests.reference.cpsat import Bay, Problem, Unanswered, fill_rest, patterns
from tests.reference.cpsat.expert import row_sets, widths

Cost = tuple[int, int, int]
"""Price, frames, area of their bodies."""


def cheapest(
    frames: Mapping[str, tuple[Bay, ...]],
    costs: Mapping[str, Cost],
    problem: Problem,
    most: int = 3,
    seconds: float = 60,
) -> Cost | None:
    """Return the least cost of at most ``most`` frames that take a problem's cables and spares; None if none does.

    ``costs`` are those of one frame, compared from the left. The problem's own bays are not looked at. Raises
    Unanswered.
    """
    assert not (problem.apart or problem.kept or any(problem.circuits))
    if problem.hopeless:
        return None
    model = cp_model.CpModel()
    taken = {name: model.new_int_var(0, most, f"taken {name}") for name in frames}
    model.add_linear_constraint(sum(taken.values()), 1, most)
    blocks: dict[int, list[Any]] = {side: [] for side in problem.sides}
    bound = 0
    for b, bay in enumerate(dict.fromkeys(bay for bays in frames.values() for bay in bays)):
        bays = sum(Counter(of)[bay] * taken[name] for name, of in frames.items())
        limit = most * max(Counter(of)[bay] for of in frames.values())
        sets = row_sets(bay, problem.sides)
        chosen = [model.new_int_var(0, limit, f"set {b} {number}") for number in range(len(sets))]
        model.add(sum(chosen) == bays)
        for height in sorted({height for rows in sets for height in rows}):
            ways = patterns(bay.width, widths(bay, height, problem.sides))
            high = limit * max(rows.count(height) for rows in sets)
            counts = [model.new_int_var(0, high, f"rows {b} {height} {number}") for number in range(len(ways))]
            model.add(sum(counts) == sum(rows.count(height) * n for rows, n in zip(sets, chosen, strict=True)))
            for way, count in zip(ways, counts, strict=True):
                for side, columns in way:
                    blocks[side].append(columns * (height // side) * count)
        bound += limit * (bay.width * bay.height // min(problem.sides) ** 2)
    held: dict[int, list[Any]] = {side: [] for side in problem.sides}
    for g, (group, cables) in enumerate(problem.groups.items()):
        shares = {side: model.new_int_var(0, cables, f"cables {g} {side}") for side in group.options}
        model.add(sum(shares.values()) == cables)
        for side, share in shares.items():
            held[side].append(share)
    supply = {side: sum(of) for side, of in blocks.items()}
    fill_rest(model, problem, supply, {side: sum(of) for side, of in held.items()}, bound)
    # One sum whose weights keep the order: nothing after the first part may outweigh a step of it.
    areas = most * max(area for *_, area in costs.values()) + 1
    frame = areas
    price = frame * (most + 1)
    model.minimize(
        sum((costs[name][0] * price + costs[name][1] * frame + costs[name][2]) * n for name, n in taken.items())
    )
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
    return value // price, value % price // frame, value % frame
