"""Cables that share a block: the gaps of its bores by hand and by trying everything, and the layout they lie in."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from generator.drawing.front_view import draw_front
from generator.engine.changes import tell_changes
from generator.engine.check import check_layout
from generator.engine.fit import fit_shared
from generator.engine.packing import Rules, pack_frame
from generator.engine.sharing import demands_of, fit_all
from generator.model.catalogue import Catalogue
from generator.model.job import Cable, Job, Shared, Transit
from generator.model.layout import Bore, Fit, Layout, NoFit
from tests.demo import demo_with_reentries
from tests.engine import invented

D = Decimal
EXACT = [{"step": "0.1", "error": "0.05"}]


def job(readings: list[dict[str, str]] = EXACT) -> Job:
    return Job.model_validate({**invented.JOB.model_dump(), "readings": readings})


def system(differ: object = "0.6", bores: int = 3, plug: bool = True, layer: object = "0.8") -> Catalogue:
    """A bore of 4 that grows by a layer at a time; gaps from 0.2 to 1.2."""
    rule = {"bore": 4, "layer": layer, "layers_per_half": 3, "odd_layer": "A", "halves_differ_by": 1}
    block = {"plug": plug, "layers": {**rule, "gap": {"least": "0.2", "most": "1.2"}}}
    frame = invented.frame([invented.bay(144, 132)])
    several = {"M-36-3": {"size": 36, **block, "bores": bores, "bores_differ": differ}}
    base = invented.catalogue((18, 36), [], {"F": frame}, plugs=(18, 36), fillers=(18, 36))
    single = {f"M-{size}": {"size": size, **block, "plug": True} for size in (18, 36)}
    return Catalogue.model_validate({**base.model_dump(exclude_none=True), "blocks": {**single, **several}})


def cable(tag: str, least: object, most: object | None = None, service: str = "data") -> Cable:
    return Cable.model_validate({"tag": tag, "service": service, "least": least, "most": most or least})


def transit(*shared: Shared, **more: object) -> Transit:
    frame = {"wall": "W", "working_side": "hall", "frame": "F", "fixing": "welded"}
    at = {"x": 0, "y": 0, "to": "centre"}
    return Transit.model_validate({**frame, "at": at, "shared": [s.model_dump() for s in shared], **more})


# -- the gaps of one block -------------------------------------------------------------------------------


def test_a_shared_block_by_hand() -> None:
    """Bores 4 + 0.8 k. 7.7: k = 4 opens 7.2, gap 0.5. 6.2: k = 2 opens 5.6, gap 0.6. The block shows the larger."""
    found = fit_shared([cable("A", "7.7"), cable("B", "6.2")], "M-36-3", system(), job())
    assert [(fit.likely.a, fit.likely.b, fit.likely.gap) for fit in found if isinstance(fit, Fit)] == [
        (2, 2, D("0.6")),
        (1, 1, D("0.6")),
    ]


def test_gaps_too_far_apart_are_refused_and_told_by_hand() -> None:
    """7.7: gap 0.5. 4.4: k = 0 opens 4, gap 0.4; at k = 0 nothing smaller helps. 0.1 apart, 0.05 is allowed."""
    no, other = fit_shared([cable("A", "7.7"), cable("B", "4.4")], "M-36-3", system(differ="0.05"), job())
    assert isinstance(no, NoFit) and isinstance(other, Fit)
    assert "0.1 mm apart: it allows 0.05 mm" in no.why


def test_one_cable_that_no_bore_holds_is_told_by_itself() -> None:
    held, no = fit_shared([cable("A", "7.7"), cable("B", "14")], "M-36-3", system(), job())
    assert isinstance(held, Fit)
    assert isinstance(no, NoFit) and no.cable == "B" and "too thick" in no.why


def gaps_by_trying(one: Cable, catalogue: Catalogue, error: Decimal) -> set[Decimal]:
    """Every gap that may come of any reading of any diameter: layers tried one by one, on a grid of 0.05 mm."""
    layers = catalogue.blocks["M-36-3"].layers
    assert layers is not None
    gaps = set()
    diameter = one.least
    while diameter <= one.most:
        for tenth in range(int((diameter - error) * 10), int((diameter + error) * 10) + 2):
            reading = D(tenth) / 10
            if abs(reading - diameter) > error:
                continue
            held, possible = {}, set()
            for k in range(7):
                bore = layers.bore + layers.layer * k
                low, high = bore + layers.gap.least, bore + layers.gap.most
                if low <= reading - error and reading + error <= high:
                    held[k] = abs(reading - bore - (layers.gap.least + layers.gap.most) / 2), k
                if low <= diameter <= high:
                    possible.add(diameter - bore)
            if held:
                best = min(held.values())[1]
                gaps.add(diameter - layers.bore - layers.layer * best)
            else:
                gaps |= possible
        diameter += D("0.05")
    return gaps


SIZES = st.integers(88, 176).map(lambda n: D(n) / 20)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(SIZES, st.integers(0, 6)), min_size=2, max_size=3),
    st.integers(0, 10).map(lambda n: D(n) / 10),
    st.sampled_from(["0.05", "0.1"]),
)
def test_gaps_of_two_bores_never_come_farther_apart_than_allowed(
    ranges: list[tuple[Decimal, int]], differ: Decimal, error: str
) -> None:
    """Whatever each cable measures and the instrument shows, within the catalogue's figure; refused only when not.

    A reading without an answer may be peeled to any gap of its window, which trying single diameters does not reach:
    so a refusal is held against the whole window there.
    """
    cables = [cable(f"C{n}", least, least + D(wide) / 20) for n, (least, wide) in enumerate(ranges)]
    catalogue = system(differ=differ)
    found = fit_shared(cables, "M-36-3", catalogue, job([{"step": "0.1", "error": error}]))
    if any(isinstance(fit, NoFit) and fit.what.endswith("a bore of M-36-3") for fit in found):
        return  # one of them by itself: judged with single blocks
    tried = [gaps_by_trying(one, catalogue, D(error)) for one in cables]
    apart = max(max(a) - min(b) for x, a in enumerate(tried) for y, b in enumerate(tried) if x != y)
    if all(isinstance(fit, Fit) for fit in found):
        assert apart <= differ
        natural = [
            one.likely - D(4) - D("0.8") * (fit.likely.a + fit.likely.b)
            for one, fit in zip(cables, found, strict=True)
            if isinstance(fit, Fit)
        ]
        assert {fit.likely.gap for fit in found if isinstance(fit, Fit)} == {max(natural)}
    else:
        assert max(apart, D(1)) > differ


# -- the layout ------------------------------------------------------------------------------------------


SHARED = Shared(part="M-36-3", cables=("A", "B"))
CABLES = [cable("C", "7.7"), cable("A", "7.7"), cable("B", "6.2"), cable("E", "6.2")]


def packed(asked: Transit, cables: list[Cable] = CABLES, catalogue: Catalogue | None = None) -> Layout:
    catalogue = catalogue or system()
    fits = fit_all(asked, cables, catalogue, job())
    rules = Rules(solid=asked.rest == "solid")
    layout = pack_frame(
        catalogue.frames["F"], catalogue, demands_of(asked, cables, fits), asked.spares, 1_000_000, rules
    )
    assert isinstance(layout, Layout)
    return layout


def faults(layout: Layout, asked: Transit, catalogue: Catalogue | None = None) -> str:
    catalogue = catalogue or system()
    return "; ".join(check_layout(layout, catalogue.frames["F"], catalogue, CABLES, asked.spares, job(), asked))


def test_cables_that_share_lie_in_one_block_and_others_alone() -> None:
    asked = transit(SHARED)
    layout = packed(asked)
    held = {p.cables: p.part for p in layout.placements if p.cable}
    assert held == {("A", "B"): "M-36-3", ("C",): "M-18", ("E",): "M-18"}
    assert faults(layout, asked) == ""
    (block,) = (p for p in layout.placements if p.others)
    assert [(at, tag) for at, tag, _ in block.bores] == [(block.position + "a", "A"), (block.position + "b", "B")]


def test_no_spare_is_made_of_a_block_with_several_bores() -> None:
    asked = transit(SHARED, spares=[{"size": 36, "count": 2}])
    assert {p.part for p in packed(asked).placements if p.role == "spare"} <= {"M-18", "M-36"}


def test_a_share_of_spares_counts_a_shared_block_once() -> None:
    """Two cables in one block of 36, and 60 percent of that one as spares: 0.6, rounded up to 1."""
    asked = transit(SHARED, spares=[{"size": 36, "share": 60}], rest="solid")
    layout = packed(asked)
    assert sum(p.role == "spare" and p.size == 36 for p in layout.placements) == 1
    assert faults(layout, asked) == ""


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda p: {"others": ()}, "stands in no block"),
        (lambda p: {"cable": "B", "fit": p.others[0].fit, "others": (Bore(cable="A", fit=p.fit),)}, "not said to"),
        (lambda p: {"part": "M-36", "fit": p.fit.model_copy(update={"part": "M-36"})}, "has one bore, and holds 2"),
        (lambda p: {"fit": _gap(p.fit, "0.5")}, "the gap to expect is 0.6"),
        (lambda p: {"role": "spare"}, "a spare holds a cable"),
        (lambda p: {"role": "spare", "cable": None, "fit": None, "others": ()}, "is no spare"),
        (lambda p: {"others": (p.others[0].model_copy(update={"fit": p.fit}),)}, "do not close around"),
    ],
)
def test_the_judge_finds_what_is_wrong_with_a_shared_block(change, told) -> None:  # type: ignore[no-untyped-def]
    asked = transit(SHARED)
    layout = packed(asked)
    bay = layout.bays[0]
    rows = tuple(
        row.model_copy(
            update={"placements": tuple(p.model_copy(update=change(p)) if p.others else p for p in row.placements)}
        )
        for row in bay.rows
    )
    wrong = layout.model_copy(update={"bays": (bay.model_copy(update={"rows": rows}),)})
    assert told in faults(wrong, asked)


def test_the_judge_knows_how_far_gaps_may_differ_and_that_a_bore_left_needs_a_plug() -> None:
    asked = transit(SHARED)
    layout = packed(asked)
    assert "0.1 mm apart" in faults(layout, asked, system(differ="0.05"))
    assert "no plug for a bore without a cable" in faults(layout, asked, system(plug=False))


def _gap(fit: Fit, gap: str) -> Fit:
    return fit.model_copy(update={"likely": fit.likely.model_copy(update={"gap": D(gap)})})


# -- the demo --------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def work():  # type: ignore[no-untyped-def]
    return demo_with_reentries()


def test_the_demo_shares_blocks_and_their_figures_by_hand(work) -> None:  # type: ignore[no-untyped-def]
    """7.7 mm in bores of 4 + 0.8 k: four layers open 7.2, two from each half, gap 0.5."""
    pack = work.transits["B7-061"]
    (block,) = (p for p in pack.layout.placements if p.others)
    assert (block.part, block.cables) == ("MB-36-3", ("D-491", "D-492"))
    assert {(f.likely.a, f.likely.b, f.likely.gap) for _, _, f in block.bores if f} == {(2, 2, D("0.5"))}
    (step,) = (step for step in pack.steps if step.key == "shared-how")
    assert f"{block.position}a D-491, {block.position}b D-492" in str(step.title)


def test_one_more_cable_leaves_shared_blocks_together(work) -> None:  # type: ignore[no-untyped-def]
    for name in ("B7-061", "B4-031"):
        pack = work.transits[name]
        added = [line.addition for line in work.reentries[name].lines if line.addition]
        assert added
        for addition in added:
            before = sorted(p.cables for p in pack.layout.placements if p.others)
            assert sorted(p.cables for p in addition.layout.placements if p.others) == before
            tags = [tag for p in addition.layout.placements for tag in p.cables]
            assert len(tags) == len(set(tags)) == len(pack.cables) + 1


def test_both_views_show_the_bores_each_its_own_way_round(work) -> None:  # type: ignore[no-untyped-def]
    pack = work.transits["B7-061"]
    working, far = (draw_front(pack, side, str, "screen") for side in ("working", "far"))
    assert ">a<" in working and ">b<" in working

    def middle(drawing: str, letter: str) -> float:
        start = drawing[: drawing.index(f">{letter}</text>")].rindex("<text")
        return float(drawing[start:].split('x="')[1].split('"')[0])

    assert middle(working, "a") == -middle(far, "a") < 0
    assert middle(working, "b") == 0
    (block,) = (p for p in pack.layout.placements if p.others)
    assert f"{block.position}a D-491" in working and f"{block.position}b D-492" in far


def test_bores_that_change_places_are_told(work) -> None:  # type: ignore[no-untyped-def]
    pack = work.transits["B7-061"]
    bay = pack.layout.bays[0]
    rows = tuple(
        row.model_copy(
            update={
                "placements": tuple(
                    p.model_copy(
                        update={
                            "cable": p.others[0].cable,
                            "fit": p.others[0].fit,
                            "others": (Bore(cable=p.cable, fit=p.fit),),
                        }
                    )
                    if p.others
                    else p
                    for p in row.placements
                )
            }
        )
        for row in bay.rows
    )
    turned = pack.model_copy(
        update={
            "digest": "other",
            "layout": pack.layout.model_copy(update={"bays": (bay.model_copy(update={"rows": rows}),)}),
        }
    )
    told = [str(change.says) for change in tell_changes(pack, turned)]
    assert "D-491 goes into 1.4b (block 36), it was in 1.4a (block 36)" in told
