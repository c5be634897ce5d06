"""One answer of the packing against the truth that a judge from outside has found."""

from collections import Counter

from generator.engine.check import check_layout
from generator.engine.packing import pack_frame
from generator.model.layout import Layout, NoLayout
from tests.engine import invented
from tests.engine.instances import Instance
from tests.reference.cpsat import Value, arcs, book, expert
from tests.reference.cpsat.ladder import LadderCable, LadderRow

LIMIT = 200_000
"""Steps that the search may take; the product's own limit is larger."""


def pack(instance: Instance) -> Layout | NoLayout:
    """Pack an instance as the engine does it, without looking for what would mend it."""
    return pack_frame(
        instance.frame,
        instance.catalogue,
        instance.demands,
        instance.spares,
        LIMIT,
        rules=instance.rules,
        reasons=False,
    )


def faults(instance: Instance, layout: Layout) -> tuple[str, ...]:
    """Return what ``check.py`` finds wrong with a layout of an instance."""
    return check_layout(
        layout,
        instance.frame,
        instance.catalogue,
        instance.cables,
        instance.spares,
        invented.JOB,
        instance.transit,
    )


def value_of(instance: Instance, layout: Layout) -> Value:
    """Return growth, pieces and different sizes of a layout, counted from its blocks."""
    smallest = {
        cable.tag: min(options) for cable, options in zip(instance.cables, instance.problem.cables, strict=True)
    }
    growth = sum(int(p.size) - smallest[p.cable] for p in layout.placements if p.cable is not None)
    pieces = len(layout.placements) + sum(len(bay.plates) for bay in layout.bays)
    return growth, pieces, len({p.size for p in layout.placements})


def rows_and_cables(instance: Instance, layout: Layout) -> tuple[list[LadderRow], list[LadderCable]]:
    """Return a layout as the model for the ladder takes it: what is settled before the order on the ladder."""
    rank_of = {cable.tag: cable.ladder for cable in instance.cables}
    rows, cables = [], []
    for laid, bay in zip(layout.bays, instance.frame.bays, strict=True):
        for row in laid.rows:
            on_it = [p for p in row.placements if p.cable is not None and rank_of[p.cable] is not None]
            bottom = Counter(int(p.size) for p in row.placements if p.y == row.y)
            held = Counter(int(p.size) for p in on_it)
            rows.append(
                LadderRow(
                    int(bay.x), int(bay.width), int(row.height), tuple(bottom.items()), tuple(sorted(held.items()))
                )
            )
            cables += [LadderCable(int(p.size), rank_of[p.cable or ""] or 0) for p in on_it]
    return rows, cables


def crossings_of(instance: Instance, layout: Layout) -> int:
    """Count the pairs of cables of a layout that cross, pair by pair."""
    rank_of = {cable.tag: cable.ladder for cable in instance.cables}
    left = [bay.x for bay in instance.frame.bays]
    at = [
        (rank, left[p.bay - 1] + p.x + p.size / 2)
        for p in layout.placements
        if p.cable is not None and (rank := rank_of[p.cable]) is not None
    ]
    return sum(1 for one, x in at for two, y in at if one < two and x > y)


def truth_of(instance: Instance, by_the_book: bool = False, seconds: float = 60) -> Value | None:
    """Ask the quickest model that knows all rules of an instance, or the one by the book. Raises Unanswered."""
    if instance.problem.kept:
        return arcs.solve(instance.problem, seconds)
    return (book if by_the_book else expert).solve(instance.problem, seconds)


def judge(instance: Instance, truth: Value | None) -> str:
    """Compare one answer with the truth; say which kind of answer it was."""
    answer = pack(instance)
    if isinstance(answer, NoLayout):
        assert answer.gave_up or truth is None, f"{instance.name} has a layout of {truth}, yet: {answer}"
        return "gave up" if answer.gave_up else "none"
    assert faults(instance, answer) == (), instance.name
    assert truth is not None, f"{instance.name} has a layout, and the judge says there is none"
    found = value_of(instance, answer)
    assert found == truth if answer.proven else found >= truth, f"{instance.name}: {found}, the best is {truth}"
    return "proven" if answer.proven else "best found"
