"""Every change that is told gives a layout; and the cheapest kind that does is told first.

Outside judge: tests.engine.brute_force, which tries every layout of the changed frame and shares no code with the
engine. Which kind of change is cheaper is the module's own order, without a source.
"""

import random
from collections import Counter
from decimal import Decimal
from functools import cache

import pytest

from generator.engine.fit import fit_cable
from generator.engine.mends import TOLD, Asked, Mend, find_mends
from generator.engine.packing import Demand, pack_frame
from generator.model.catalogue import PeelRow
from generator.model.job import Cable, Definition
from generator.model.layout import NoLayout
from generator.model.scalars import Window
from tests.engine import invented
from tests.engine.brute_force import SmallBay, SmallProblem, best

SIDES = (12, 24, 36)
OPTIONS = [(12,), (24,), (36,), (24, 36)]
UNIT, PLATE = 33, 3
WALL = {
    "division": "bulkhead",
    "area": "A",
    "sides": ["hall", "cellar"],
    "landmarks": {"left": "river", "right": "land"},
    "material": "steel",
    "thickness": 6,
    "datum": {"x": "column", "y": "floor"},
    "structural": "no",
}
SMALL, LARGE = SmallBay(48, 66, PLATE, True, True), SmallBay(72, 96, PLATE, True, True)
"""Without the unit: 36 + 24 + 2 x 3 = 66, and 36 + 24 + 12 + 12 or 24 + 24 + 24 + 12 and 4 x 3 = 96."""


@cache
def definition(options: tuple[tuple[int, ...], ...], spares: tuple[tuple[int, int], ...], other: int) -> Definition:
    """T1 with the cables and spares in the small frame; T2 between the same rooms in the large one, with ``other``."""
    frames = {
        name: invented.frame([invented.bay(bay.width, bay.height + UNIT)])
        for name, bay in (("SMALL", SMALL), ("LARGE", LARGE))
    }
    system = invented.catalogue(SIDES, OPTIONS, frames, plugs=SIDES, plate=PLATE, unit=UNIT)
    at = invented.diameters(OPTIONS)
    cables = [
        Cable(tag=f"C{i}", service="power", diameter=at[o], least=at[o], most=at[o], transits=("T1",))
        for i, o in enumerate(options)
    ]
    cables += [
        Cable(tag=f"D{i}", service="power", diameter=at[(24,)], least=at[(24,)], most=at[(24,)], transits=("T2",))
        for i in range(other)
    ]
    transit = {"wall": "W1", "working_side": "hall", "fixing": "welded"}
    return Definition.model_validate(
        {
            "job": invented.JOB,
            "catalogues": {"invented": system},
            "walls": {"W1": WALL},
            "transits": {
                "T1": {
                    **transit,
                    "frame": "SMALL",
                    "at": {"x": 0, "y": 0, "to": "centre"},
                    "spares": [{"size": size, "count": count} for size, count in spares],
                },
                "T2": {**transit, "frame": "LARGE", "at": {"x": 2000, "y": 0, "to": "centre"}},
            },
            "cables": cables,
        }
    )


def demands_of(asked: Definition, transit: str) -> list[Demand]:
    return [
        Demand(cable, fit_cable(cable, asked.catalogues["invented"], asked.job))
        for cable in asked.cables_through(transit)
    ]


def fits_all(asked: Asked, bay: SmallBay) -> bool:
    """Whether every layout tried leaves one with room for all."""
    spares: Counter[int] = Counter()
    for spare in asked.spares:
        assert spare.size is not None and spare.count is not None
        spares[int(spare.size)] += spare.count
    options = tuple(tuple(sorted({int(fit.size) for fit in demand.fits})) for demand in asked.demands)
    return best(SmallProblem((bay,), SIDES, frozenset(SIDES), frozenset(SIDES), options, spares)) is not None


def drawn(seed: int) -> tuple[Definition, tuple[Mend, ...]] | None:
    """A transit that has no layout, and what is told of it."""
    draw = random.Random(seed)
    options = tuple(draw.choice(OPTIONS) for _ in range(draw.randint(1, 6)))
    spares = tuple((side, draw.randint(1, 2)) for side in SIDES if draw.random() < 0.4)
    asked = definition(options, spares, draw.choice((2, 6, 9)))
    demands = demands_of(asked, "T1")
    frame = asked.catalogues["invented"].frames["SMALL"]
    layout = pack_frame(
        frame, asked.catalogues["invented"], demands, asked.transits["T1"].spares, 100_000, reasons=False
    )
    return (asked, find_mends(asked, "T1", demands)) if isinstance(layout, NoLayout) else None


@pytest.mark.parametrize("share", range(3))
def test_every_change_gives_a_layout_and_the_cheapest_kind_comes_first(share: int) -> None:
    kinds: Counter[str] = Counter()
    for seed in range(share * 25, share * 25 + 25):
        case = drawn(seed)
        if case is None:
            continue
        asked, mends = case
        whole = Asked(
            asked.catalogues["invented"].frames["SMALL"],
            tuple(demands_of(asked, "T1")),
            asked.transits["T1"].spares,
        )
        assert not fits_all(whole, SMALL), seed  # it is stuck indeed
        assert len(mends) <= TOLD
        for mend in mends:
            kinds[mend.kind] += 1
            assert fits_all(mend.asked, LARGE if mend.kind == "frame" else SMALL), (seed, mend.says)
            if mend.kind == "move":
                tag = mend.says.split()[2]
                assert tag not in {demand.cable.tag for demand in mend.asked.demands}
                moved = next(demand for demand in whole.demands if demand.cable.tag == tag)
                there = (*demands_of(asked, "T2"), moved)
                assert fits_all(Asked(whole.frame, there, ()), LARGE), (seed, mend.says)
        one_fewer = []
        for at, spare in enumerate(whole.spares):
            left = [s for i, s in enumerate(whole.spares) if i != at]
            if spare.count and spare.count > 1:
                left.append(spare.model_copy(update={"count": spare.count - 1}))
            one_fewer.append(fits_all(Asked(whole.frame, whole.demands, tuple(left)), SMALL))
        assert any(one_fewer) == (bool(mends) and mends[0].kind == "spare"), seed
        if fits_all(whole, LARGE):  # the wall takes it, and it stands free: told, unless three cheaper ones are
            assert "frame" in {mend.kind for mend in mends} or len(mends) == TOLD, seed
    assert kinds


def test_every_kind_is_met() -> None:
    kinds = Counter(mend.kind for seed in range(75) if (case := drawn(seed)) for mend in case[1])
    assert {"spare", "smaller spare", "move", "frame", "no spares"} <= set(kinds), kinds


def test_a_cable_worth_measuring_by_hand() -> None:
    """One bay of 24 x 24: a cable of 10.0 ± 0.5 asks for a 36, which is no row of it; at 10.0 it goes into a 24."""
    system = invented.catalogue(
        (24, 36), [(24,)], {"F": invented.frame([invented.bay(24, 24 + 3 + 33)])}, plugs=(24,)
    )
    wide = system.blocks["B-36"].model_copy(update={"table": _row("9.0", "11.0")})
    system = system.model_copy(update={"blocks": {**system.blocks, "B-36": wide}})
    cable = Cable(
        tag="C0",
        service="power",
        diameter=Decimal(10),
        least=Decimal("9.5"),
        most=Decimal("10.5"),
        transits=("T1",),
    )
    base = definition(((24,),), (), 0)
    asked = base.model_copy(
        update={
            "catalogues": {"invented": system},
            "cables": (cable,),
            "transits": {"T1": base.transits["T1"].model_copy(update={"frame": "F"})},
        }
    )
    demands = demands_of(asked, "T1")
    assert [str(fit.size) for fit in demands[0].fits] == ["36"]
    mends = find_mends(asked, "T1", demands)
    assert [mend.kind for mend in mends] == ["measure"]
    assert (
        mends[0].says.startswith("measure C0 before it is ordered")
        and "at 10 mm it goes into block 24" in mends[0].says
    )


def _row(least: str, most: str) -> tuple[PeelRow]:
    return (
        PeelRow(
            least=Decimal(least),
            most=Decimal(most),
            a=0,
            b=0,
            gap=Window(least=Decimal("0.2"), most=Decimal("0.8")),
        ),
    )
