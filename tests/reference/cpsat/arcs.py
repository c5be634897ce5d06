"""The model with places: rows are steps up each bay, columns are steps across each row, and blocks may stay.

A row is an arc from the height where it begins to the one where the next begins; so is a column across. Every arc
that lies on some whole path is a variable, and exactly one path is chosen. Nested columns it does not know.
"""

from dataclasses import dataclass
from typing import Any

from ortools.sat.python import cp_model

from tests.reference.cpsat import REST, Bay, Group, Kept, Problem, Value, columns, fill_rest, minimize, widest


@dataclass(frozen=True)
class Row:
    """A row that may be there: its bay, the height of its lower edge, and its own."""

    bay: int
    y: int
    height: int


def _useful(length: int, steps: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return (start, step) for every step on some path from 0 to ``length``. Steps are (size, what it advances)."""
    ahead = {0}
    for at in range(length):
        if at in ahead:
            ahead |= {at + advance for _, advance in steps if at + advance <= length}
    back = {length}
    for at in range(length, -1, -1):
        if any(at + advance in back for _, advance in steps):
            back.add(at)
    return [(at, size) for at in sorted(ahead & back) for size, advance in steps if at + advance in back]


def _rows(b: int, bay: Bay, sides: tuple[int, ...]) -> list[Row]:
    # A plate follows every row; where none lies on the last one the bay is counted as a plate higher.
    length = bay.height + (0 if bay.on_top else bay.plate)
    return [Row(b, y, h) for y, h in _useful(length, [(h, h + bay.plate) for h in sides])]


def _flow(model: cp_model.CpModel, arcs: list[tuple[int, int, Any]], end: int, amount: Any) -> None:
    """Make arcs (from, to, variable) one path from 0 to ``end``, or none."""
    for node in {at for start, stop, _ in arcs for at in (start, stop)} | {0, end}:
        out = sum(arc for start, _, arc in arcs if start == node)
        into = sum(arc for _, stop, arc in arcs if stop == node)
        model.add(out - into == (amount if node == 0 else 0) - (amount if node == end else 0))


def solve(problem: Problem, seconds: float = 60) -> Value | None:
    """Return the least (growth, pieces, different sizes); None when there is no layout. Raises Unanswered."""
    places = {(kept.bay, kept.x, kept.y, kept.side) for kept in problem.kept}
    if len(places) < len(set(problem.kept)):
        return None  # one block can't hold two cables, or a cable and its plug
    assert not any(bay.nesting for bay in problem.bays), "the model of places knows no nested columns"
    if problem.hopeless:
        return None
    model = cp_model.CpModel()
    supply: dict[int, list[Any]] = {side: [] for side in problem.sides}
    held: dict[int, list[Any]] = {side: [] for side in problem.sides}
    growth: list[Any] = []
    plates: list[Any] = []
    standing: dict[Kept, list[Any]] = {kept: [] for kept in problem.kept}
    shares: dict[Group, list[Any]] = {group: [] for group in problem.groups}
    met: dict[tuple[Row | int, str], Any] = {}
    through: dict[tuple[str, int], Any] = {}
    most = 0
    for b, bay in enumerate(problem.bays):
        rows = {row: model.new_bool_var(f"{row}") for row in _rows(b, bay, problem.sides)}
        length = bay.height + (0 if bay.on_top else bay.plate)
        _flow(model, [(row.y, row.y + row.height + bay.plate, there) for row, there in rows.items()], length, 1)
        plates.append(sum(rows.values()) - (0 if bay.on_top else 1))
        most += bay.width * bay.height // min(problem.sides) ** 2 + bay.height // min(problem.sides) + 1
        for row, there in rows.items():
            steps = [(c.width, c.width) for c in columns(bay, row.height, problem.sides)]
            arcs = {
                (x, side, label): model.new_bool_var(f"{row} {x} {side} {label}")
                for x, side in _useful(bay.width, steps)
                for label in problem.labels
            }
            _flow(model, [(x, x + side, arc) for (x, side, _), arc in arcs.items()], bay.width, there)
            for label in problem.labels[1:]:
                starts = []
                for x in sorted({x for x, *_ in arcs}):
                    start = model.new_bool_var(f"{row} {x} {label} starts")
                    out = sum(arc for (at, _, own), arc in arcs.items() if at == x and own == label)
                    into = sum(arc for (at, s, own), arc in arcs.items() if at + s == x and own == label)
                    model.add(start >= out - into)
                    starts.append(start)
                model.add(sum(starts) <= 1)
            room: dict[tuple[str, int], list[Any]] = {}
            least: dict[tuple[str, int], list[Any]] = {}
            inside: dict[Kept, list[Any]] = {}
            for (x, side, label), arc in arcs.items():
                stack = row.height // side
                supply[side].append(stack * arc)
                here = [
                    kept
                    for kept in problem.kept
                    if (kept.bay, kept.x, kept.side) == (b, x, side)
                    and kept.y in range(row.y, row.y + row.height, side)
                ]
                spares = sum(1 for kept in here if kept.cable is None)
                own = 0
                for kept in here:
                    standing[kept].append(arc)
                    if kept.cable is not None:
                        inside.setdefault(kept, []).append(arc)
                        group = next(group for group in problem.groups if group.kept == kept)
                        own += 1
                        if problem.label(group) != label:
                            model.add(arc == 0)
                room.setdefault((label, side), []).append((stack - spares) * arc)
                least.setdefault((label, side), []).append(max(1, own) * arc)
            taken: dict[tuple[str, int], list[Any]] = {place: [] for place in room}
            for g, (group, cables) in enumerate(problem.groups.items()):
                label = problem.label(group)
                for side in group.options:
                    if (label, side) not in room or (group.kept is not None and group.kept.side != side):
                        continue
                    share: Any
                    if group.kept is not None:
                        share = sum(inside.get(group.kept, [0]))
                    else:
                        share = model.new_int_var(0, cables, f"{row} {g} {side}")
                    taken[label, side].append(share)
                    shares[group].append(share)
                    held[side].append(share)
                    growth.append((side - group.options[0]) * share)
                    for at in (row, b):
                        if (at, group.service) not in met:
                            met[at, group.service] = model.new_bool_var(f"met {at} {group.service}")
                        model.add(share <= cables * met[at, group.service])
                    if group.circuit is not None:
                        if (group.circuit, b) not in through:
                            through[group.circuit, b] = model.new_bool_var(f"circuit {group.circuit} {b}")
                        model.add(share <= cables * through[group.circuit, b])
            for (label, side), own_shares in taken.items():
                model.add(sum(own_shares) <= sum(room[label, side]))
                if label != REST:
                    # A column of a zone has a cable, or it would part the zone.
                    model.add(sum(own_shares) >= sum(least[label, side]))
    for arcs_there in standing.values():
        model.add(sum(arcs_there) == 1)
    for group, cables in problem.groups.items():
        model.add(sum(shares[group]) == cables)
    for level in ("row", "bay"):
        for one, two in problem.rivals(level):
            for at, service in list(met):
                if service == one and isinstance(at, Row) == (level == "row") and (at, two) in met:
                    model.add_at_most_one(met[at, one], met[at, two])
    for circuit in {circuit for circuit, _ in through}:
        model.add(sum(there for (name, _), there in through.items() if name == circuit) <= 1)
    pieces, different = fill_rest(
        model,
        problem,
        {side: sum(parts) for side, parts in supply.items()},
        {side: sum(parts) for side, parts in held.items()},
        most,
    )
    limits = (widest(problem), most, len(problem.sides))
    return minimize(model, (sum(growth), pieces + sum(plates), different), limits, seconds)
