"""The packing's hard rules against every layout there is, on tiny frames; and what rules do, case by case."""

import random
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest

from generator.engine.check import check_layout
from generator.engine.packing import Rules, pack_frame
from generator.model.catalogue import Catalogue
from generator.model.job import Apart, Cable, Kept, Spare, Transit
from generator.model.layout import Layout, NoLayout
from tests.engine import invented
from tests.engine.brute_force_rules import RuledBay, RuledProblem, Stays, Wire, best, shapes

LIMIT = 200_000
UNIT = 5
MOST_WAYS = 120
"""Frames that can be filled in more ways are left out: the judge tries each with every cable in every block."""
CLASSES = ("power", "data", "control")


def problems(seed: int, count: int) -> Iterator[tuple[RuledProblem, Catalogue]]:
    """Draw tiny frames with rules of every sort."""
    draw = random.Random(seed)
    for _ in range(count):
        sides = tuple(sorted(draw.sample(range(1, 5), draw.randint(2, 3))))
        plate = draw.randint(1, 2)
        bays = []
        for _ in range(draw.choice((1, 1, 2, 2))):
            rows, on_top = draw.choices(sides, k=draw.randint(1, 2)), draw.random() < 0.5
            height = sum(rows) + plate * (len(rows) if on_top else len(rows) - 1)
            width = min(4, sum(draw.choices(sides, k=draw.randint(1, 3))))
            bays.append(RuledBay(width, min(height, 6), plate, on_top, draw.random() < 0.7, draw.random() < 0.4))
        plugs = frozenset(side for side in sides if draw.random() < 0.8)
        fillers = frozenset(side for side in sides if draw.random() < 0.5)
        bare = RuledProblem(tuple(bays), sides, plugs, fillers, (), {}, 0, False, False, (), ())
        there = [
            side
            for number in range(len(bays))
            for laid in [sorted(shapes(bare, number), key=str)]
            if laid
            for row in draw.choice(laid)
            for column in row
            for side, _ in column
        ] or list(sides)
        cables = []
        for side in draw.sample(there, min(len(there), draw.choice((1, 2, 3, 3, 4)))):
            first = draw.choice([i for i in range(len(sides)) if sides[i] <= side])
            options = sides[first : max(first + draw.randint(0, 2), sides.index(side) + 1)]
            circuit = draw.choice((None, None, "L1", "L2"))
            cables.append(Wire(options, draw.choice(CLASSES[: draw.randint(1, 3)]), circuit))
        apart = tuple(
            (draw.choice(("zone", "row", "bay")), frozenset(draw.sample(CLASSES, draw.randint(2, 3))))
            for _ in range(draw.choice((0, 1, 1, 2)))
        )
        solid = draw.random() < 0.2
        problem = RuledProblem(
            tuple(bays),
            sides,
            plugs,
            fillers,
            tuple(cables),
            {side: draw.randint(1, 2) for side in plugs if draw.random() < 0.25},
            0 if solid or draw.random() < 0.7 else draw.choice((10, 50, 100)),
            solid,
            draw.random() < 0.2,
            apart,
            (),
        )
        if draw.random() < 0.4:
            problem = _with_what_stays(draw, problem)
        ways = 1
        for number in range(len(bays)):
            ways *= len(shapes(problem, number))
        if ways <= MOST_WAYS:
            yield problem, _system(problem)


def _with_what_stays(draw: random.Random, problem: RuledProblem) -> RuledProblem:
    stays, taken = [], set()
    for _ in range(draw.randint(1, 2)):
        number = draw.randrange(len(problem.bays))
        bay, side = problem.bays[number], draw.choice(problem.sides)
        if side > bay.width or side > bay.height:
            continue
        holds = [i for i, cable in enumerate(problem.cables) if side in cable.options and i not in taken]
        cable = draw.choice(holds) if holds and draw.random() < 0.7 else None
        if cable is None and side not in problem.plugs:
            continue
        place = (number, draw.randint(0, bay.width - side), draw.randint(0, bay.height - side))
        if any(place == (stay.bay, stay.x, stay.y) for stay in stays):
            continue
        taken.add(cable)
        stays.append(Stays(*place, side, cable))
    return RuledProblem(**{**vars(problem), "stays": tuple(stays)})


def _system(problem: RuledProblem) -> Catalogue:
    x, described = 0, []
    for bay in problem.bays:
        one = invented.bay(bay.width, bay.height + UNIT, x, on_top=bay.on_top, stacking=bay.stacking)
        described.append({**one, "nesting": bay.nesting})
        x += bay.width
    frame = {**invented.frame(described), "webs_not_magnetic": problem.webs_not_magnetic}
    return invented.catalogue(
        problem.sides,
        [cable.options for cable in problem.cables],
        {"frame": frame},
        plugs=problem.plugs,
        fillers=problem.fillers,
        plate=problem.bays[0].plate,
        unit=UNIT,
    )


def _asked(problem: RuledProblem) -> tuple[list[Cable], list[Spare], Rules]:
    cables = [
        cable.model_copy(update={"service": wire.service, "circuit": wire.circuit})
        for cable, wire in zip(
            invented.cables([wire.options for wire in problem.cables]), problem.cables, strict=True
        )
    ]
    spares = invented.spares(problem.spares)
    if problem.share:
        spares.append(Spare(share=Decimal(problem.share)))
    keep = tuple(
        Kept(
            bay=stay.bay + 1,
            x=Decimal(stay.x),
            y=Decimal(stay.y),
            size=Decimal(stay.side),
            cable=None if stay.cable is None else cables[stay.cable].tag,
        )
        for stay in problem.stays
    )
    apart = tuple(Apart.model_validate({"classes": sorted(named), "level": level}) for level, named in problem.apart)
    return cables, spares, Rules(apart, keep, problem.solid)


def _transit(rules: Rules) -> Transit:
    return Transit.model_construct(keep=rules.keep, apart=rules.apart, rest="solid" if rules.solid else "spares")


def judge(problem: RuledProblem, system: Catalogue) -> str:
    cables, spares, rules = _asked(problem)
    frame = invented.only_frame(system)
    answer = pack_frame(frame, system, invented.demands(cables, system), spares, LIMIT, rules)
    truth = best(problem)
    if isinstance(answer, NoLayout):
        assert not answer.gave_up
        assert truth is None, f"{problem} has a layout of {truth}, yet: {answer}"
        return "none"
    assert answer.proven
    assert check_layout(answer, frame, system, cables, spares, invented.JOB, _transit(rules)) == (), problem
    growth = sum(
        int(p.size) - min(wire.options)
        for cable, wire in zip(cables, problem.cables, strict=True)
        for p in answer.placements
        if p.cable == cable.tag
    )
    pieces = len(answer.placements) + sum(len(bay.plates) for bay in answer.bays)
    assert (growth, pieces, len({p.size for p in answer.placements})) == truth, problem
    return "layout"


def test_tiny_frames_with_rules_have_the_best_layout_or_none() -> None:
    kinds = Counter(judge(problem, system) for problem, system in problems(seed=2032, count=500))
    assert min(kinds["layout"], kinds["none"]) > 100, kinds


@pytest.mark.long
@pytest.mark.parametrize("seed", range(10))
def test_many_tiny_frames_with_rules(seed: int) -> None:
    for problem, system in problems(seed=seed, count=400):
        judge(problem, system)


# -- case by case --------------------------------------------------------------------------------------------

SIZES = (18, 24, 36, 48, 72)
NO_RULES = Rules()


def packed(
    options: list[tuple[int, ...]],
    bays: list[tuple[int, int]],
    rules: Rules = NO_RULES,
    spares: tuple[Spare, ...] = (),
    fillers: tuple[int, ...] = (),
    **said: list[Any],
) -> Layout:
    """Pack cables with what is ``said`` of each (service, circuit, ladder), and let the judge look at it."""
    described, x = [], 0
    for width, height in bays:
        described.append(invented.bay(width, height, x))
        x += width
    system = invented.catalogue(SIZES, options, {"frame": invented.frame(described)}, plugs=SIZES, fillers=fillers)
    cables = [
        cable.model_copy(update={field: values[number] for field, values in said.items()})
        for number, cable in enumerate(invented.cables(options))
    ]
    frame = invented.only_frame(system)
    answer = pack_frame(frame, system, invented.demands(cables, system), spares, LIMIT, rules)
    assert isinstance(answer, Layout), answer
    assert check_layout(answer, frame, system, cables, spares, invented.JOB, _transit(rules)) == ()
    return answer


def test_three_phases_lie_in_one_bay() -> None:
    # Two bays of 72 x 111, rows of 48 + 24 in each: 48 | 24 24 and 24 24 24, so five 24s in a bay. Six cables,
    # two circuits of three: class-blind the second circuit would be torn, 5 + 1.
    layout = packed([(24,)] * 6, [(72, 111)] * 2, circuit=["L1"] * 3 + ["L2"] * 3)
    bays = {p.cable: p.bay for p in layout.placements if p.cable}
    assert len({bays[f"C{i}"] for i in range(3)}) == len({bays[f"C{i}"] for i in range(3, 6)}) == 1


def test_spares_of_a_fifth_of_the_area() -> None:
    # Ten of 24 are 5760 mm²; a fifth is 1152: two of 24, or anything as large.
    layout = packed([(24,)] * 10, [(144, 180)], spares=(Spare(share=Decimal(20)),))
    assert sum(p.size**2 for p in layout.placements if p.role == "spare") >= 1152
    # A fifth of the ten whose smallest block is 24, rounded up: two, and the rest is solid.
    layout = packed(
        [(24,)] * 10,
        [(144, 180)],
        Rules(solid=True),
        (Spare(size=Decimal(24), share=Decimal(20)),),
        SIZES,
    )
    assert [int(p.size) for p in layout.placements if p.role == "spare"] == [24, 24]
    unit = max(
        row.number for bay in layout.bays for row in bay.rows if any(int(p.size) == 24 for p in row.placements)
    )
    assert {p.row for p in layout.placements if p.role == "spare"} == {unit}


def test_cables_stand_as_they_lie_on_the_ladder() -> None:
    # Six of 24 fill a row of 144 x 24 (24 + 3 + 33 = 60): on the ladder they lie the other way round.
    layout = packed([(24,)] * 6, [(144, 60)], ladder=[6, 5, 4, 3, 2, 1])
    assert [p.cable for p in layout.placements] == ["C5", "C4", "C3", "C2", "C1", "C0"]


def test_what_is_built_stays_when_a_cable_is_added() -> None:
    options = [(24,)] * 5 + [(36,)] * 2
    before = packed(options, [(144, 180)])
    keep = tuple(
        Kept(bay=p.bay, x=p.x, y=p.y, size=p.size, cable=p.cable) for p in before.placements if p.role == "cable"
    )
    after = packed([*options, (36,)], [(144, 180)], Rules(keep=keep))
    places = {p.cable: (p.bay, p.x, p.y) for p in after.placements if p.cable}
    assert {kept.cable: (kept.bay, kept.x, kept.y) for kept in keep}.items() <= places.items()
    assert len(places) == 8


def test_a_nested_column_takes_what_a_row_alone_cannot() -> None:
    # A bay 72 wide, one row of 72 (72 + 3 + 33 = 108): a 48 with five of 24 round it is a column cut into rows.
    cables = [(48,)] + [(24,)] * 5
    described = invented.bay(72, 108)
    answers = []
    for nesting in (False, True):
        frame = invented.frame([{**described, "nesting": nesting}])
        system = invented.catalogue((24, 48, 72), cables, {"frame": frame}, plugs=(24, 48, 72))
        asked = invented.cables(cables)
        own = invented.only_frame(system)
        answers.append(pack_frame(own, system, invented.demands(asked, system), (), LIMIT))
    assert isinstance(answers[0], NoLayout)
    assert isinstance(answers[1], Layout)
    assert [int(row.height) for row in answers[1].bays[0].rows] == [72]
    assert check_layout(answers[1], own, system, asked, (), invented.JOB) == ()


def test_a_zone_stands_together_whatever_the_ladder_says() -> None:
    # Seven cables of one class in stacks and rows with room to spare; no column without one between two of theirs.
    rules = Rules((Apart(classes=("data", "power"), level="zone"),))
    for shift in range(7):
        ranks = [(place * 5 + shift) % 7 for place in range(7)]
        packed([(24,)] * 3 + [(36,)] * 2 + [(18,)] * 2, [(144, 180)], rules, ladder=ranks)
        packed(
            [(24,)] * 3 + [(36,)] * 2 + [(18,)] * 2,
            [(144, 180)],
            rules,
            ladder=ranks,
            service=["power", "data", "power", "data", "power", "power", "data"],
        )
