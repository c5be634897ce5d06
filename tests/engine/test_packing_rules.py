"""What the packing's hard rules do, case by case. ``test_rules_against_brute_force`` judges them all together."""

from decimal import Decimal
from typing import Any

from generator.engine.check import check_layout
from generator.engine.packing import Rules, pack_frame
from generator.model.job import Apart, Kept, Spare, Transit
from generator.model.layout import Layout, NoLayout
from tests.engine import invented
from tests.engine.instances import draw
from tests.engine.judge import judge
from tests.reference.cpsat import expert

LIMIT = 200_000
SIZES = (18, 24, 36, 48, 72)
NO_RULES = Rules()


def _transit(rules: Rules) -> Transit:
    return Transit.model_construct(keep=rules.keep, apart=rules.apart, rest="solid" if rules.solid else "spares")


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


def test_a_block_that_only_cables_may_fill_is_never_left_empty() -> None:
    # Rows that keep two classes apart; 72 has neither plug nor filler, so a row of the other class takes none.
    instance = draw("zones small", 2_043)
    assert 72 not in instance.problem.fills
    assert judge(instance, expert.solve(instance.problem)) == "proven"
