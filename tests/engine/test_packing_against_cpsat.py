"""The packing against two models for OR-Tools' CP-SAT: the same optimum, or the same proof that there is none.

Judge: ``tests/reference/cpsat``, written from the statement of the problem, on instances with fixed seeds
(``instances.py``). ``python -m tests --long`` compares many more.
"""

import pytest

from generator.engine.check import check_layout
from generator.engine.packing import pack_frame
from generator.model.layout import Layout, NoLayout
from tests.engine import invented
from tests.engine.instances import FAMILIES, Instance, draw_all
from tests.reference.cpsat import Value, book, expert

LIMIT = 200_000
DAILY = {"small": 80, "medium": 60, "large": 30, "tight": 70, "infeasible": 60}
BY_THE_BOOK = {"small": 15, "medium": 5, "large": 0, "tight": 8, "infeasible": 10}
"""So many of them are given to the slower model too, which agrees with the expert's or one of both is wrong."""


def value_of(instance: Instance, layout: Layout) -> Value:
    """Return growth, pieces and different sizes of a layout, counted from its blocks."""
    smallest = {
        cable.tag: min(options) for cable, options in zip(instance.cables, instance.problem.cables, strict=True)
    }
    growth = sum(int(p.size) - smallest[p.cable] for p in layout.placements if p.cable is not None)
    pieces = len(layout.placements) + sum(len(bay.plates) for bay in layout.bays)
    return growth, pieces, len({p.size for p in layout.placements})


def judge(instance: Instance, truth: Value | None) -> str:
    """Compare one answer with the truth; say which kind of answer it was."""
    answer = pack_frame(instance.frame, instance.catalogue, instance.demands, instance.spares, LIMIT)
    if isinstance(answer, NoLayout):
        assert answer.gave_up or truth is None, f"{instance.name} has a layout of {truth}, yet: {answer}"
        return "gave up" if answer.gave_up else "none"
    faults = check_layout(answer, instance.frame, instance.catalogue, instance.cables, instance.spares, invented.JOB)
    assert faults == (), instance.name
    assert truth is not None, f"{instance.name} has a layout, and the judge says there is none"
    found = value_of(instance, answer)
    assert found == truth if answer.proven else found >= truth, f"{instance.name}: {found}, the best is {truth}"
    return "proven" if answer.proven else "best found"


@pytest.mark.parametrize("family", FAMILIES)
def test_layouts_are_the_best_there_are(family: str) -> None:
    kinds = []
    for number, instance in enumerate(draw_all(family, DAILY[family])):
        truth = expert.solve(instance.problem)
        if number < BY_THE_BOOK[family]:
            assert book.solve(instance.problem) == truth, instance.name
        kinds.append(judge(instance, truth))
    # A judge that is asked about one kind of answer only would prove little.
    enough = {"small": ("proven", "none"), "infeasible": ("proven", "none")}.get(family, ("proven",))
    assert all(kinds.count(kind) > len(kinds) // 8 for kind in enough), kinds
    assert kinds.count("gave up") + kinds.count("best found") <= len(kinds) // 6, kinds


@pytest.mark.long
@pytest.mark.parametrize("first", range(1_000, 11_000, 500))
def test_many_layouts_are_the_best_there_are(first: int) -> None:
    """10,000 instances, none of those above among them."""
    for family in FAMILIES:
        for instance in draw_all(family, 100, first):
            judge(instance, expert.solve(instance.problem))
