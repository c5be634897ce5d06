"""The model by the book: a slot for every row, a count of columns for every side in it, a choice for every cable."""

from ortools.sat.python import cp_model

from tests.reference.cpsat import Problem, Value, minimize


def solve(problem: Problem, seconds: float = 60) -> Value | None:
    """Return the least (growth, pieces, different sizes); None when there is no layout. Raises Unanswered."""
    model = cp_model.CpModel()
    least = min(problem.sides)
    blocks: dict[int, list[cp_model.LinearExprT]] = {side: [] for side in problem.sides}
    pieces: list[cp_model.LinearExprT] = []
    most = 0
    for b, bay in enumerate(problem.bays):
        slots = max(1, (bay.height + bay.plate) // (least + bay.plate))
        taken: list[cp_model.LinearExprT] = []
        used = []
        for r in range(slots):
            row = model.new_bool_var(f"row {b} {r}")
            is_high = {h: model.new_bool_var(f"height {b} {r} {h}") for h in problem.sides}
            model.add(sum(is_high.values()) == row)
            columns = {}
            for side in problem.sides:
                count = model.new_int_var(0, bay.width // side, f"columns {b} {r} {side}")
                columns[side] = count
                # A column fills the row's height: one block, or equal ones stacked where the bay allows it.
                fitting = [h for h in problem.sides if h == side or (bay.stacking and h % side == 0)]
                model.add(count == 0).only_enforce_if([is_high[h].Not() for h in fitting])
                for h in fitting:
                    stacked = model.new_int_var(0, bay.width // side * (h // side), f"blocks {b} {r} {side} {h}")
                    model.add(stacked == count * (h // side)).only_enforce_if(is_high[h])
                    model.add(stacked == 0).only_enforce_if(is_high[h].Not())
                    blocks[side].append(stacked)
            model.add(sum(side * count for side, count in columns.items()) == bay.width).only_enforce_if(row)
            model.add(sum(columns.values()) == 0).only_enforce_if(row.Not())
            height = sum(h * chosen for h, chosen in is_high.items())
            if used:
                # Rows may be put in any order: the tallest first, empty slots last.
                model.add_implication(row, used[-1])
                model.add(height <= taken[-1])
            taken.append(height)
            used.append(row)
        rows = sum(used)
        plates = rows if bay.on_top else rows - 1
        model.add(rows >= 1)
        model.add(sum(taken) + bay.plate * plates == bay.height)
        pieces.append(plates)
        most += bay.width * bay.height // least**2 + slots
    growth: list[cp_model.LinearExprT] = []
    held: dict[int, list[cp_model.LinearExprT]] = {side: [] for side in problem.sides}
    for number, options in enumerate(problem.cables):
        chosen = {side: model.new_bool_var(f"cable {number} {side}") for side in options}
        model.add_exactly_one(chosen.values())
        for side, choice in chosen.items():
            held[side].append(choice)
            growth.append((side - min(options)) * choice)
    different = []
    for side in problem.sides:
        supply, need = sum(blocks[side]), sum(held[side]) + problem.spares.get(side, 0)
        if side in problem.fills:
            model.add(supply >= need)
        else:
            model.add(supply == need)
        there = model.new_bool_var(f"there {side}")
        model.add(supply == 0).only_enforce_if(there.Not())
        different.append(there)
        pieces.append(supply)
    widest = sum(max(options) - min(options) for options in problem.cables)
    limits = (widest, most, len(problem.sides))
    return minimize(model, (sum(growth), sum(pieces), sum(different)), limits, seconds)
