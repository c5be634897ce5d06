"""The diagram of the order of tightening, read back as SVG: every bolt with its number, every turn beside its bolt."""

from math import dist

import pytest

from generator.drawing.bolt_view import draw_bolts
from generator.engine.bolts import bolts_of
from generator.model.closing import Bolts
from tests.drawing.svg_reader import Element, elements, read
from tests.engine.situations import situation
from tests.sample_packs import welded


def drawn(bolts: Bolts) -> list[Element]:
    return list(elements(read(draw_bolts(welded(), bolts, 1, str))))


def of(count: int, order: str = "crosswise", places: str = "ring") -> Bolts:
    holding = {"bolts": count, "thread": "M8", "key": 13, "order": order, "rounds": 3, "torque_nm": 5}
    case = situation("plain_frame", holding=holding)
    return bolts_of(case)[0].model_copy(update={"places": places})


def words(found: list[Element], group: str) -> dict[int, tuple[float, float]]:
    return {
        int(one.node.text or ""): (one.number("x"), one.number("y"))
        for one in found
        if one.tag == "text" and one.inside(group)
    }


@pytest.mark.parametrize(
    "bolts",
    [
        of(4),
        of(8),
        of(12),
        of(24),
        of(5),
        of(2, "in-turn", "line"),
        of(6, "in-turn", "line"),
        of(1, "in-turn", "line"),
    ],
    ids=lambda bolts: f"{len(bolts.order)}-{bolts.places}",
)
def test_each_turn_stands_beside_its_bolt(bolts: Bolts) -> None:
    found = drawn(bolts)
    numbers, turns = words(found, "screws"), words(found, "turns")
    assert sorted(numbers) == sorted(turns) == list(range(1, len(bolts.order) + 1))
    for turn, bolt in enumerate(bolts.order, 1):
        nearest = min(numbers, key=lambda number: dist(numbers[number], turns[turn]))
        assert nearest == bolt
    edges = [(one.number("x"), one.number("x") + one.number("width")) for one in found if one.tag == "rect"]
    assert all(left >= 0 and right <= 344 for left, right in edges)
    assert all(
        abs(x - other_x) >= 12 or abs(y - other_y) >= 12
        for number, (x, y) in {**turns}.items()
        for other, (other_x, other_y) in turns.items()
        if other != number
    )


def test_a_flange_is_drawn_as_its_bolts_stand() -> None:
    """The sample's flange has bolts in a rectangle, clockwise from the upper left (tests/engine/situations.py)."""
    case = situation("bolted")
    bolts = bolts_of(case)[0]
    assert bolts.places == "flange"
    pack = welded().model_copy(update={"catalogue": case.catalogue, "transit": case.transit})
    found = list(elements(read(draw_bolts(pack, bolts, 1, str))))
    numbers = words(found, "screws")
    flange = case.held.fixing.flange
    assert flange
    upper = [numbers[number] for number in range(1, flange.across + 1)]
    assert len({y for _, y in upper}) == 1 and [x for x, _ in upper] == sorted(x for x, _ in upper)
    assert all(y > upper[0][1] for number, (_, y) in numbers.items() if number > flange.across)
    turns = words(found, "turns")
    assert all(
        min(numbers, key=lambda number: dist(numbers[number], turns[turn])) == bolt
        for turn, bolt in enumerate(bolts.order, 1)
    )
