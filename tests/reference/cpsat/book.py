"""The model by the book: a slot for every row, a count of columns for every kind in it, a choice for every cable.

Blocks that stay where they are it does not know; ``arcs`` does.
"""

from typing import Any

from ortools.sat.python import cp_model

from tests.reference.cpsat import Problem, Value, columns, fill_rest, minimize, widest


def solve(problem: Problem, seconds: float = 60) -> Value | None:
    """Return the least (growth, pieces, different sizes); None when there is no layout. Raises Unanswered."""
    assert not problem.kept, "the model by the book knows no places"
    if problem.hopeless:
        return None
    model = cp_model.CpModel()
    least = min(problem.sides)
    blocks: dict[tuple[int, int, str], dict[int, Any]] = {}
    """Blocks of each side by bay, row slot and label of their column."""
    plates: list[Any] = []
    most = 0
    for b, bay in enumerate(problem.bays):
        slots = max(1, (bay.height + bay.plate) // (least + bay.plate))
        taken: list[Any] = []
        used: list[Any] = []
        for r in range(slots):
            row = model.new_bool_var(f"row {b} {r}")
            is_high = {h: model.new_bool_var(f"height {b} {r} {h}") for h in problem.sides}
            model.add(sum(is_high.values()) == row)
            inside: dict[str, dict[int, list[Any]]] = {
                label: {side: [] for side in problem.sides} for label in problem.labels
            }
            across = []
            for h in problem.sides:
                for k, column in enumerate(columns(bay, h, problem.sides)):
                    for label in problem.labels:
                        count = model.new_int_var(0, bay.width // column.width, f"columns {b} {r} {h} {k} {label}")
                        model.add(count == 0).only_enforce_if(is_high[h].Not())
                        across.append(column.width * count)
                        for side, number in column.blocks:
                            inside[label][side].append(number * count)
            for label in problem.labels:
                blocks[b, r, label] = {side: sum(inside[label][side]) for side in problem.sides}
            model.add(sum(across) == bay.width * row)
            height = sum(h * chosen for h, chosen in is_high.items())
            if used:
                # Rows may be put in any order: the tallest first, empty slots last.
                model.add_implication(row, used[-1])
                model.add(height <= taken[-1])
            taken.append(height)
            used.append(row)
        rows = sum(used)
        model.add(rows >= 1)
        model.add(sum(taken) + bay.plate * (rows if bay.on_top else rows - 1) == bay.height)
        plates.append(rows if bay.on_top else rows - 1)
        most += bay.width * bay.height // least**2 + slots
    held, growth = _place(model, problem, blocks)
    supply = {side: sum(of[side] for of in blocks.values()) for side in problem.sides}
    pieces, different = fill_rest(model, problem, supply, held, most)
    limits = (widest(problem), most, len(problem.sides))
    return minimize(model, (growth, pieces + sum(plates), different), limits, seconds)


def _place(
    model: cp_model.CpModel, problem: Problem, blocks: dict[tuple[int, int, str], dict[int, Any]]
) -> tuple[dict[int, Any], Any]:
    """Choose a block for every cable: its side, and where rules ask for it its bay and row. Return held, growth."""
    held: dict[int, list[Any]] = {side: [] for side in problem.sides}
    growth = []
    rows_matter = bool(problem.apart)
    circuits_matter = problem.magnetic and len(problem.bays) > 1 and any(problem.circuits)
    in_place: dict[tuple[int, int, str, int], list[Any]] = {}
    met: dict[tuple[int, int, str], Any] = {}
    through: dict[tuple[str, int], Any] = {}
    for i, options in enumerate(problem.cables):
        service = problem.services[i] if rows_matter else ""
        label = service if service in problem.labels else problem.labels[0]
        places = [(b, r) for b, r, of in blocks if of == label] if rows_matter or circuits_matter else [(0, 0)]
        chosen = {
            (b, r, side): model.new_bool_var(f"cable {i} {b} {r} {side}") for b, r in places for side in options
        }
        model.add_exactly_one(chosen.values())
        circuit = problem.circuits[i] if circuits_matter else None
        for (b, r, side), choice in chosen.items():
            held[side].append(choice)
            growth.append((side - min(options)) * choice)
            if rows_matter or circuits_matter:
                in_place.setdefault((b, r, label, side), []).append(choice)
            if rows_matter:
                for at in ((b, r), (b, -1)):
                    if (*at, service) not in met:
                        met[*at, service] = model.new_bool_var(f"met {at} {service}")
                    model.add_implication(choice, met[*at, service])
            if circuit is not None:
                if (circuit, b) not in through:
                    through[circuit, b] = model.new_bool_var(f"circuit {circuit} {b}")
                model.add_implication(choice, through[circuit, b])
    for (b, r, label, side), choices in in_place.items():
        model.add(sum(choices) <= blocks[b, r, label][side])
    for level in ("row", "bay"):
        for one, two in problem.rivals(level):
            for b, r, service in list(met):
                if service == one and (r == -1) == (level == "bay") and (b, r, two) in met:
                    model.add_at_most_one(met[b, r, one], met[b, r, two])
    for circuit in {circuit for circuit, _ in through}:
        model.add_exactly_one(there for (name, _), there in through.items() if name == circuit)
    return {side: sum(choices) for side, choices in held.items()}, sum(growth)
