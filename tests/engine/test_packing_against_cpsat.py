"""The packing against models for OR-Tools' CP-SAT: the same optimum, or the same proof that there is none.

Judge: ``tests/reference/cpsat``, written from the statement of the problem, on instances with fixed seeds
(``instances.py``). ``python -m tests --long`` compares many more.
"""

import pytest

from tests.engine.instances import FAMILIES, RULED, draw_all
from tests.engine.judge import judge, truth_of
from tests.reference.cpsat import Unanswered, book, expert

DAILY = {"small": 50, "medium": 35, "large": 15, "tight": 40, "infeasible": 40}
BY_THE_BOOK = {"small": 15, "medium": 5, "large": 0, "tight": 8, "infeasible": 10}
"""So many of them are given to the slower model too, which agrees with the expert's or one of both is wrong."""
DAILY_RULED = {"zones small": 20, "zones medium": 15, "zones large": 0, "circuits": 20, "spares": 20, "nested": 15}
DAILY_RULED |= {"stays": 20, "all rules": 35}


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


@pytest.mark.parametrize("family", [family for family, count in DAILY_RULED.items() if count])
def test_layouts_that_keep_every_rule_are_the_best_there_are(family: str) -> None:
    kinds = []
    for instance in draw_all(family, DAILY_RULED[family]):
        try:
            kinds.append(judge(instance, truth_of(instance, seconds=20)))
        except Unanswered:
            kinds.append("unanswered")
    assert kinds.count("proven") > len(kinds) // 8, kinds
    assert sum(kinds.count(kind) for kind in ("gave up", "best found", "unanswered")) <= len(kinds) // 6, kinds


@pytest.mark.long
@pytest.mark.parametrize("family", (*FAMILIES, *RULED))
@pytest.mark.parametrize("first", range(1_000, 8_700, 770))
def test_many_layouts_are_the_best_there_are(family: str, first: int) -> None:
    """10,010 instances, none of those above among them; one that no model answers in time is left out."""
    for instance in draw_all(family, 77, first):
        try:
            judge(instance, truth_of(instance, seconds=20))
        except Unanswered:
            continue
