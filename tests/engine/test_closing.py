"""Closing arithmetic: worked by hand here, and against sums taken millimetre by millimetre.

Outside judge: arithmetic beside each literal, and a count of every line x that knows nothing of edges of blocks.
There is no published figure: the sums are geometry (see the module).
"""

import random
from decimal import Decimal
from typing import Any

import pytest

from generator.engine.closing import close_bay, close_layout, judge_closing
from generator.model.catalogue import ClampingUnit
from generator.model.layout import BayLayout, Fit, Layout, Peel, Placement, Plate, Row, Unit
from generator.model.scalars import Window
from tests.engine import invented

NO = Decimal(0)


def unit(**travel: Any) -> ClampingUnit:
    return ClampingUnit.model_validate(
        {"width": 72, "height": 33, "tightening": invented.TIGHTENING, "travel": travel or None}
    )


def block(x: int, y: int, size: int, gap: str | None) -> Placement:
    """A block; without a gap it is a spare. Its window runs from 0.2 to 1.2."""
    fit = None
    if gap is not None:
        window = Window(least=Decimal("0.2"), most=Decimal("1.2"))
        fit = Fit(part="B", size=Decimal(size), window=window, likely=Peel(a=0, b=0, gap=Decimal(gap)), measure=False)
    return Placement(
        position="1",
        bay=1,
        row=1,
        place=1,
        x=Decimal(x),
        y=Decimal(y),
        size=Decimal(size),
        role="cable" if fit else "spare",
        part="B",
        cable="C" if fit else None,
        fit=fit,
    )


def bay(rows: list[tuple[int, list[Placement]]], height: int = 111) -> BayLayout:
    """Rows with a plate of 3 on each; what is left above is the place of the unit."""
    made, plates, y = [], [], NO
    for number, (tall, blocks) in enumerate(rows, 1):
        made.append(Row(number=number, y=y, height=Decimal(tall), placements=tuple(blocks)))
        plates.append(Plate(part="P", y=y + tall, thickness=Decimal(3), above_row=number))
        y += tall + 3
    return BayLayout(
        bay=1,
        width=Decimal(72),
        height=Decimal(height),
        rows=tuple(made),
        plates=tuple(plates),
        unit=Unit(part="U", y=y, height=height - y),
    )


# Row of 48: one 48 (gap 0.9), a column of two 24 (0.5 and 0.4). Row of 24: a spare, two cables (1.0, 0.7).
# On x 0 to 24: 0.9 + spare = 0.9. 24 to 48: 0.9 + 1.0 = 1.9. 48 to 72: 0.5 + 0.4 + 0.7 = 1.6.
# At the windows' ends one gap counts 0.2 or 1.2: 0.2 or 1.2; 0.4 or 2.4; 0.6 or 3.6.
WORKED = bay(
    [
        (48, [block(0, 0, 48, "0.9"), block(48, 0, 24, "0.5"), block(48, 24, 24, "0.4")]),
        (24, [block(0, 51, 24, None), block(24, 51, 24, "1.0"), block(48, 51, 24, "0.7")]),
    ]
)


def test_worked_by_hand() -> None:
    closing = close_bay(WORKED, unit(turned_back=31, closed=38, squeeze_percent=10))
    assert closing.place == 33  # 111 - 48 - 24 - 2 x 3
    assert closing.rows == 72
    assert (closing.fullest.x, closing.fullest.to, closing.fullest.expected) == (24, 48, Decimal("1.9"))
    assert (closing.emptiest.x, closing.emptiest.to, closing.emptiest.expected) == (0, 24, Decimal("0.9"))
    assert (closing.most, closing.least) == (Decimal("3.6"), Decimal("0.2"))
    assert closing.press == 0  # 31 + 1.9 is less than 33
    assert closing.play == Decimal("0.1")  # 33 - 1.9 - 31
    assert closing.press_most == Decimal("1.6")  # 31 + 3.6 - 33
    assert closing.going_in == "perhaps"
    assert closing.squeeze == Decimal("5.9")  # 38 - 33 + 0.9
    assert closing.squeeze_least == Decimal("5.2")  # 38 - 33 + 0.2
    assert closing.squeeze_asked == Decimal("7.2")  # 10 % of 72
    (short,) = judge_closing((closing,))
    assert "squeezes bay 1 by 5.9 mm" in short.what and "asks for 7.2 mm" in short.what


def test_a_bay_that_welding_may_change_by_a_millimetre() -> None:
    exact = close_bay(WORKED, unit(turned_back=29, closed=38, squeeze_percent=10))
    welded = close_bay(WORKED, unit(turned_back=29, closed=38, squeeze_percent=10), Decimal(1))
    assert (exact.going_in, welded.going_in) == ("by hand", "perhaps")
    assert (welded.press, welded.squeeze) == (exact.press, exact.squeeze)  # of the bay as drawn
    assert welded.press_most == Decimal("0.6")  # 29 + 3.6 - (33 - 1)
    assert welded.squeeze_least == Decimal("4.2")  # 38 - (33 + 1) + 0.2


@pytest.mark.parametrize(
    ("turned_back", "going_in", "press"),
    [
        ("29.4", "by hand", "0"),  # 33 - 3.6 = 29.4: the very end still goes in
        ("29.5", "perhaps", "0"),
        ("31.1", "perhaps", "0"),  # 33 - 1.9
        ("31.2", "pressed", "0.1"),
        ("33", "pressed", "1.9"),
    ],
)
def test_the_ends_of_going_in(turned_back: str, going_in: str, press: str) -> None:
    closing = close_bay(WORKED, unit(turned_back=turned_back, closed=38))
    assert (closing.going_in, closing.press) == (going_in, Decimal(press))


def test_what_the_catalogue_leaves_out_is_not_judged() -> None:
    silent = close_bay(WORKED, unit())
    assert silent.going_in == "not judged"
    assert {silent.press, silent.press_most, silent.squeeze, silent.squeeze_asked, silent.play} == {None}
    assert silent.fullest.expected == Decimal("1.9")  # the sums stand all the same
    no_share = close_bay(WORKED, unit(turned_back=30, closed=33))
    assert (no_share.squeeze, no_share.squeeze_asked) == (Decimal("0.9"), None)
    assert not list(judge_closing((silent, no_share)))


def test_more_than_the_tool_may_press() -> None:
    press = {"tool": "screw press", "most": "1.8"}
    (found,) = judge_closing((close_bay(WORKED, unit(turned_back=33, closed=39, pressing=press)),))
    assert "pressed down by 1.9 mm" in found.what and "1.8 mm at most" in found.what
    press["most"] = "1.9"
    assert not list(judge_closing((close_bay(WORKED, unit(turned_back=33, closed=39, pressing=press)),)))


def by_millimetres(laid: BayLayout, name: str) -> list[Decimal]:
    """Add up the gaps on every line half a millimetre beside a whole one."""
    sums = []
    for millimetre in range(int(laid.width)):
        line, total = Decimal(millimetre) + Decimal("0.5"), NO
        for row in laid.rows:
            for p in row.placements:
                if p.fit and p.x < line < p.x + p.size:
                    total += p.fit.likely.gap if name == "expected" else getattr(p.fit.window, name)
        sums.append(total)
    return sums


@pytest.mark.parametrize("seed", range(60))
def test_against_every_line_of_random_bays(seed: int) -> None:
    chance = random.Random(seed)
    rows, y = [], 0
    for _ in range(chance.randint(1, 4)):
        tall = chance.choice((36, 72))
        blocks: list[Placement] = []
        x = 0
        while x < 72:
            size = chance.choice([s for s in (12, 24, 36, 72) if tall % s == 0 and x + s <= 72 and s <= tall])
            for level in range(tall // size):
                gap = chance.choice((None, "0.2", "0.5", "0.7", "1.2"))
                blocks.append(block(x, y + level * size, size, gap))
            x += size
        rows.append((tall, blocks))
        y += tall + 3
    laid = bay(rows, y + 33)
    turned_back, closed = chance.randint(25, 33), chance.randint(34, 40)
    closing = close_bay(laid, unit(turned_back=turned_back, closed=closed))
    expected = by_millimetres(laid, "expected")
    assert closing.fullest.expected == max(expected)
    assert closing.emptiest.expected == min(expected)
    assert closing.most == max(by_millimetres(laid, "most"))
    assert closing.least == min(by_millimetres(laid, "least"))
    assert closing.press == max(NO, turned_back + max(expected) - 33)
    assert closing.squeeze == closed - 33 + min(expected)
    for line in (closing.fullest, closing.emptiest):
        assert set(expected[int(line.x) : int(line.to)]) == {line.expected}


def test_every_bay_by_its_own_unit() -> None:
    system = invented.catalogue((24,), [(24,)], {"frame": invented.frame([invented.bay(72, 60)])}, plugs=(24,))
    data = system.model_dump()
    data["clamping_units"]["U-72"]["travel"] = {"turned_back": 30, "closed": 40}
    system = type(system).model_validate(data)
    one = WORKED.model_copy(update={"unit": Unit(part="U-72", y=NO, height=NO)})
    two = one.model_copy(update={"bay": 2})
    found = close_layout(Layout(bays=(one, two), proven=True), system)
    assert [(closing.bay, closing.unit, closing.retracted) for closing in found] == [(1, "U-72", 30), (2, "U-72", 30)]
