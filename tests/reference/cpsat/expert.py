"""The expert's model: row sets and row patterns are listed beforehand, and whatever is equal is only counted.

Blocks that stay where they are it does not know; ``arcs`` does.
"""

from collections import Counter
from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations
from typing import Any

from ortools.sat.python import cp_model

from tests.reference.cpsat import Bay, Problem, Value, columns, fill_rest, minimize, patterns, widest


def widths(bay: Bay, height: int, sides: tuple[int, ...]) -> tuple[int, ...]:
    """Return the widths that columns of a row may have."""
    return tuple(sorted({column.width for column in columns(bay, height, sides)}))


@lru_cache(maxsize=10_000)
def row_sets(bay: Bay, sides: tuple[int, ...]) -> tuple[tuple[int, ...], ...]:
    """List the heights, tallest first, with which rows fill a bay."""
    heights = [h for h in sides if patterns(bay.width, widths(bay, h, sides))]

    def fill(left: int, largest: int, rows: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        for height in heights:
            if height <= largest and height <= left:
                after = left - height
                if after == (bay.plate if bay.on_top else 0):
                    yield (*rows, height)
                if after > bay.plate:
                    yield from fill(after - bay.plate, height, (*rows, height))

    return tuple(fill(bay.height, max(sides), ()))


def _colours(problem: Problem) -> list[frozenset[str]]:
    """List the largest sets of classes that may meet in one row."""
    classes = sorted({group.service for group in problem.groups})
    rivals = problem.rivals("row")
    sets = [
        frozenset(some)
        for count in range(len(classes), 0, -1)
        for some in combinations(classes, count)
        if not any(one in some and two in some for one, two in rivals)
    ]
    return [some for some in sets if not any(some < other for other in sets)] or [frozenset()]


def solve(problem: Problem, seconds: float = 60) -> Value | None:
    """Return the least (growth, pieces, different sizes); None when there is no layout. Raises Unanswered."""
    assert not problem.kept, "the expert's model knows no places"
    if problem.hopeless:
        return None
    model = cp_model.CpModel()
    colours = _colours(problem)
    tell_bays_apart = any(rule.level == "bay" for rule in problem.apart) or any(
        group.circuit is not None for group in problem.groups
    )
    listed = [(bay, 1) for bay in problem.bays] if tell_bays_apart else list(Counter(problem.bays).items())
    blocks: dict[tuple[int, int, str, int], list[Any]] = {}
    """Blocks by bay, colour of the row, label of the column, and side."""
    plates: list[Any] = []
    most = 0
    for b, (bay, bays) in enumerate(listed):
        sets = row_sets(bay, problem.sides)
        if not sets:
            return None
        chosen = [model.new_int_var(0, bays, f"set {b} {number}") for number in range(len(sets))]
        model.add(sum(chosen) == bays)
        plates += [(len(rows) - (0 if bay.on_top else 1)) * count for rows, count in zip(sets, chosen, strict=True)]
        for height in sorted({height for rows in sets for height in rows}):
            rows_of = sum(rows.count(height) * count for rows, count in zip(sets, chosen, strict=True))
            limit = bays * max(rows.count(height) for rows in sets)
            ways = patterns(bay.width, widths(bay, height, problem.sides))
            kinds = columns(bay, height, problem.sides)
            all_counts: list[Any] = []
            for c, colour in enumerate(colours):
                counts = [model.new_int_var(0, limit, f"rows {b} {height} {c} {n}") for n in range(len(ways))]
                all_counts += counts
                labels = [label for label in problem.labels if label == problem.labels[0] or label in colour]
                for width in widths(bay, height, problem.sides):
                    total = sum(dict(way).get(width, 0) * count for way, count in zip(ways, counts, strict=True))
                    own = [kind for kind in kinds if kind.width == width]
                    if len(own) * len(labels) == 1:
                        shares = {(own[0], labels[0]): total}
                    else:
                        shares = {
                            (kind, label): model.new_int_var(
                                0, limit * (bay.width // width), f"columns {b} {height} {c} {width} {k} {label}"
                            )
                            for k, kind in enumerate(own)
                            for label in labels
                        }
                        model.add(sum(shares.values()) == total)
                    for (kind, label), share in shares.items():
                        for side, number in kind.blocks:
                            blocks.setdefault((b, c, label, side), []).append(number * share)
            model.add(sum(all_counts) == rows_of)
        most += bays * (bay.width * bay.height // min(problem.sides) ** 2 + max(map(len, sets)))
    held, growth = _place(model, problem, colours, len(listed), blocks)
    supply = {side: sum(sum(of) for (*_, own), of in blocks.items() if own == side) for side in problem.sides}
    pieces, different = fill_rest(model, problem, supply, held, most)
    limits = (widest(problem), most, len(problem.sides))
    return minimize(model, (growth, pieces + sum(plates), different), limits, seconds)


def _place(
    model: cp_model.CpModel,
    problem: Problem,
    colours: list[frozenset[str]],
    bays: int,
    blocks: dict[tuple[int, int, str, int], list[Any]],
) -> tuple[dict[int, Any], Any]:
    """Share the cables of each kind out to blocks; return how many each side holds, and the growth."""
    held: dict[int, list[Any]] = {side: [] for side in problem.sides}
    growth = []
    places = sorted({(b, c) for b, c, *_ in blocks})
    one_place = len(places) == 1 and len(problem.labels) == 1
    taken: dict[tuple[int, int, str, int], list[Any]] = {}
    met: dict[tuple[int, str], Any] = {}
    through: dict[tuple[str, int], Any] = {}
    tell_bays_apart = any(rule.level == "bay" for rule in problem.apart)
    for g, (group, cables) in enumerate(problem.groups.items()):
        shares = []
        label = problem.label(group)
        for b, c in places:
            if not one_place and group.service not in colours[c]:
                continue
            for side in group.options:
                share = model.new_int_var(0, cables, f"cables {g} {b} {c} {side}")
                shares.append(share)
                held[side].append(share)
                growth.append((side - group.options[0]) * share)
                taken.setdefault((b, c, label, side), []).append(share)
                if tell_bays_apart:
                    if (b, group.service) not in met:
                        met[b, group.service] = model.new_bool_var(f"met {b} {group.service}")
                    model.add(share <= cables * met[b, group.service])
                if group.circuit is not None:
                    if (group.circuit, b) not in through:
                        through[group.circuit, b] = model.new_bool_var(f"circuit {group.circuit} {b}")
                    model.add(share <= cables * through[group.circuit, b])
        model.add(sum(shares) == cables)
    if not one_place:
        for place, shares in taken.items():
            model.add(sum(shares) <= sum(blocks.get(place, [0])))
    for one, two in problem.rivals("bay"):
        for b in range(bays):
            if (b, one) in met and (b, two) in met:
                model.add_at_most_one(met[b, one], met[b, two])
    for circuit in {circuit for circuit, _ in through}:
        model.add_exactly_one(there for (name, _), there in through.items() if name == circuit)
    return {side: sum(shares) for side, shares in held.items()}, sum(growth)
