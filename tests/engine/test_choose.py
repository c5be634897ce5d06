"""Frame choice against every set of up to three frames, each judged by every layout there is.

Outside judges: tests.engine.brute_force tiles the bays of a set in every way; tests.reference.cpsat.choice decides
larger ones jointly. They share no code with the engine. The order of sets is taken here from the words of the module,
over a list of sets made by nested loops.
"""

import random
from decimal import Decimal
from itertools import product
from pathlib import Path

import pytest

from generator.engine.choose import Choice, Offer, choose_frames
from generator.model.catalogue import Catalogue
from generator.model.layout import NoLayout
from generator.workpack import load
from tests.demo import DEMO, demo
from tests.engine import invented
from tests.engine.brute_force import SmallBay, SmallProblem, best, stacks
from tests.engine.offers import draw_opening
from tests.reference.cpsat.choice import cheapest

LIMIT = 100_000
UNIT = 5


def drawn(seed: int) -> tuple[dict[str, list[SmallBay]], Catalogue, SmallProblem, list[Offer], dict[str, Decimal]]:
    """Three or four frames with a price or none, some refused; cables that fit one of them, or hardly any."""
    draw = random.Random(seed)
    sides = tuple(sorted(draw.sample(range(1, 6), 3)))
    plugs = frozenset(side for side in sides if draw.random() < 0.8)
    frames: dict[str, list[SmallBay]] = {}
    for name in "ABCD"[: draw.choice((3, 4))]:
        width = draw.choice((3, 4))
        rows = draw.choices(sides, k=draw.randint(1, 2))
        bays = [SmallBay(width, min(7, sum(rows) + len(rows)), 1, True, True)] * draw.choice((1, 1, 1, 2))
        frames[name] = bays
    there = [
        side
        for bays in draw.sample(list(frames.values()), 2)
        for bay in bays
        if stacks(bay, sides)
        for _, blocks in draw.choice(stacks(bay, sides))
        for side, count in blocks
        for _ in range(count)
    ] or list(sides)
    cables = [(side,) for side in draw.sample(there, min(len(there), draw.choice((1, 2, 4, 5, 6))))]
    spares = {side: 1 for side in plugs if draw.random() < 0.2}
    described = {
        name: invented.frame(
            [
                invented.bay(bay.width, bay.height + UNIT, number * bay.width, on_top=True, stacking=True)
                for number, bay in enumerate(bays)
            ]
        )
        for name, bays in frames.items()
    }
    system = invented.catalogue(sides, cables, described, plugs=plugs, plate=1, unit=UNIT)
    prices = {name: Decimal(draw.randint(1, 9)) for name in frames} if draw.random() < 0.6 else {}
    offers = [
        Offer(name, system.frames[name], prices.get(name), "too thick" if draw.random() < 0.15 else "")
        for name in frames
    ]
    problem = SmallProblem((), sides, plugs, plugs, tuple(cables), spares)
    return frames, system, problem, offers, prices


def works(names: tuple[str, ...], frames: dict[str, list[SmallBay]], problem: SmallProblem) -> bool:
    bays = tuple(bay for name in names for bay in frames[name])
    return (
        best(SmallProblem(bays, problem.sides, problem.fills, problem.plugs, problem.cables, problem.spares))
        is not None
    )


def in_order(offers: list[Offer], prices: dict[str, Decimal]) -> list[tuple[str, ...]]:
    """Every set of one to three usable frames, cheapest first, by the words of the module."""
    usable = {offer.part: offer for offer in offers if not offer.refused}
    sets = {(a,) for a in usable}
    sets |= {tuple(sorted(pair)) for pair in product(usable, repeat=2)}
    sets |= {tuple(sorted(three)) for three in product(usable, repeat=3)}

    def cost(names: tuple[str, ...]) -> tuple[object, ...]:
        area = sum(usable[name].frame.width * usable[name].frame.height for name in names)
        price = sum(prices[name] for name in names) if prices else 0
        return price, len(names), area, names

    return sorted(sets, key=cost)


@pytest.mark.parametrize("share", range(4))
def test_the_cheapest_set_against_every_set(share: int) -> None:
    sizes = set()
    for seed in range(share * 40, share * 40 + 40):
        frames, system, problem, offers, prices = drawn(seed)
        cables = invented.cables(problem.cables)
        found = choose_frames(
            offers, system, invented.demands(cables, system), invented.spares(dict(problem.spares)), LIMIT
        )
        expected = next((names for names in in_order(offers, prices) if works(names, frames, problem)), None)
        if expected is None:
            assert isinstance(found, NoLayout) and not found.gave_up, seed
            continue
        assert isinstance(found, Choice), seed
        assert (found.frames, found.proven) == (expected, True), seed
        assert found.price == (sum(prices[name] for name in expected) if prices else None)
        assert sorted(tag for cables_of in found.cables for tag in cables_of) == sorted(c.tag for c in cables)
        asked = {Decimal(side): count for side, count in problem.spares.items()}
        given: dict[Decimal, int] = {}
        for size, count in (entry for own in found.spares for entry in own):
            given[size] = given.get(size, 0) + count
        assert given == asked
        sizes.add(len(expected))
        order = in_order(offers, prices)
        at = order.index(expected)
        if found.cheaper and not any(o.refused for o in offers if (o.part,) == found.cheaper):
            assert at > 0 and found.cheaper == order[at - 1]
            assert found.why
        # Each frame of the set takes what it is said to take: by every layout of that frame alone.
        options = dict(zip((c.tag for c in cables), problem.cables, strict=True))
        for name, tags, own in zip(found.frames, found.cables, found.spares, strict=True):
            alone = SmallProblem(
                tuple(frames[name]),
                problem.sides,
                problem.fills,
                problem.plugs,
                tuple(options[tag] for tag in tags),
                {int(size): count for size, count in own},
            )
            assert best(alone) is not None, seed
    assert len(sizes) > 1  # single frames and sets were met


def test_the_choice_is_never_dearer_than_the_joint_model() -> None:
    """Judge: a CP-SAT model that decides frames and layouts at once (``tests/reference/cpsat/choice.py``)."""
    sizes = set()
    for cables in (5, 15, 40, 100):
        for seed in range(6):
            opening = draw_opening(seed, cables)
            found = choose_frames(opening.offers, opening.catalogue, opening.demands, opening.spares, LIMIT)
            assert isinstance(found, Choice) and found.proven, (cables, seed)
            truth = cheapest(opening.frames, opening.costs, opening.problem)
            assert opening.cost_of(found) == truth, (cables, seed)
            sizes.add(len(found.frames))
    assert sizes == {1, 2, 3}


def test_a_refused_frame_is_named_as_the_next_below() -> None:
    """A and B are alike, A is refused and comes first by name: the choice is B, and A's refusal is the reason."""
    frame = invented.frame([invented.bay(4, 4 + 1 + UNIT)])
    system = invented.catalogue((4,), [(4,)], {"A": frame, "B": frame}, plugs=(4,), plate=1, unit=UNIT)
    offers = [Offer("A", system.frames["A"], None, "the wall is too thick"), Offer("B", system.frames["B"])]
    found = choose_frames(offers, system, invented.demands(invented.cables([(4,)]), system), (), LIMIT)
    assert isinstance(found, Choice)
    assert (found.frames, found.cheaper, found.why) == (("B",), ("A",), "the wall is too thick")


def test_nothing_usable_says_why() -> None:
    frame = invented.frame([invented.bay(4, 4 + 1 + UNIT)])
    system = invented.catalogue((4,), [(4,)], {"A": frame}, plugs=(4,), plate=1, unit=UNIT)
    found = choose_frames([Offer("A", system.frames["A"], None, "too thick")], system, [], (), LIMIT)
    assert isinstance(found, NoLayout) and found.why == "too thick"


def test_a_set_whose_search_ended_at_its_limit_leaves_the_choice_unproven() -> None:
    for seed in range(160):
        _, system, problem, offers, _ = drawn(seed)
        demands = invented.demands(invented.cables(problem.cables), system)
        found = choose_frames(offers, system, demands, invented.spares(dict(problem.spares)), 1)
        if isinstance(found, NoLayout) and found.gave_up:
            return
    raise AssertionError("no search ended at one step")


def test_a_frame_left_open_is_a_problem_with_the_line_to_write(tmp_path: Path) -> None:
    """B2-017 asks for 48 twice; MF-72x111 holds one (rows of 72 width: 48 + 24), so MF-144x180 is the next."""
    import shutil

    shutil.copytree(DEMO.parent, tmp_path / "packs")
    path = tmp_path / "packs" / "tide-gate" / "transits.yaml"
    text = path.read_text(encoding="utf-8")
    before, after = text.split("  B2-017:", 1)
    path.write_text(
        before + "  B2-017:" + after.replace("frame: MF-144x180", "frame: choose", 1), encoding="utf-8", newline="\n"
    )
    work = load(path.parent)
    pack = work.transits["B2-017"]
    (told,) = [problem for problem in pack.problems if problem.severity == "stop"]
    assert "left to be chosen" in told.what
    assert "the next below, MF-72x111, does not do" in told.why and "2 are needed" in told.why
    assert told.mend == "write frame: MF-144x180"
    assert (told.where.file, told.where.line) == ("transits.yaml", before.count("\n") + 5)
    assert not pack.can_be_built
    # Nothing else moves, and when the line is written the work is that of the demo.
    assert pack.layout == demo().transits["B2-017"].layout
    assert all(work.transits[name].digest == other.digest for name, other in demo().transits.items())
