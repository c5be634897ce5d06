"""Fit against counting: every number of layers on a fine grid of diameters and readings."""

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from generator.engine.fit import PI_BETWEEN, diameter_table, explain_no_fit, fit_cable, fit_seal, unanswered
from generator.model.catalogue import Block, Catalogue, PeelRule, SplitSeal
from generator.model.job import Cable, Job, Tape
from generator.model.layout import DiameterTable, Fit, NoFit
from tests.engine.invented import JOB

D = Decimal
# IEC 60811-203:2012, 4.2: to 0.1 mm up to 25 mm, to 0.5 mm above. See tests/reference/iec-60811-203.
AS_STANDARD = [{"up_to": "25", "step": "0.1", "error": "0.05"}, {"step": "0.5", "error": "0.25"}]
FINE = [{"step": "0.1", "error": "0.1"}]
# BS 5467 nominal diameters, three cores, 1.5 to 120 mm². See tests/reference/bs-5467.
PUBLISHED = ["12.6", "14.1", "15.3", "16.6", "19.5", "21.6", "23.6", "25.7", "28.5", "32.2", "37", "40.4"]


def job(readings: list[dict[str, str]]) -> Job:
    return Job.model_validate({**JOB.model_dump(), "readings": readings})


def layers(bore: object, layer: object, count: int, least: object, most: object, **more: Any) -> dict[str, Any]:
    gap = {"least": least, "most": most}
    return {
        "bore": bore,
        "layer": layer,
        "layers_per_half": count,
        "odd_layer": "A",
        "halves_differ_by": 1,
        "gap": gap,
    } | more


def block(size: int, rule: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"size": size, "plug": True, "layers": rule, **more}


def system(blocks: dict[str, dict[str, Any]]) -> Catalogue:
    return Catalogue.model_validate({"system": "Invented", "edition": "1", "source": "Invented.", "blocks": blocks})


SYSTEM = system(
    {
        "M-24": block(24, layers("4.0", "1", 5, "0.2", "1.4")),
        "M-36": block(36, layers("12.0", "0.8", 9, "0.2", "1.2")),
        "M-48": block(48, layers("20.0", "0.8", 12, "0.2", "1.2")),
    }
)


def cable(least: object, most: object, tag: str = "W-1", **more: Any) -> Cable:
    return Cable.model_validate({"tag": tag, "service": "power", "least": least, "most": most} | more)


def count_layers(rule: PeelRule, least: Decimal, most: Decimal) -> set[tuple[int, int]]:
    """Try every pair of layers: those whose gap lies in the window for both ends of an interval."""
    layers = rule.layers
    assert layers is not None
    found = set()
    for a in range(layers.layers_per_half + 1):
        for b in range(layers.layers_per_half + 1):
            if abs(a - b) > min(1, layers.halves_differ_by) or (b > a if layers.odd_layer == "A" else a > b):
                continue
            bore = layers.bore + layers.layer * (a + b)
            if layers.gap.least <= least - bore and most - bore <= layers.gap.most:
                found.add((a, b))
    return found


def answer(table: DiameterTable, reading: Decimal) -> tuple[int, int] | None:
    """Look a reading up as the crew does."""
    (row,) = [row for row in table.rows if row.least <= reading <= row.most]
    return (row.peel.a, row.peel.b) if row.peel else None


rules = st.builds(
    lambda bore, layer, count, least, width, odd, differ: Block.model_validate(
        block(
            24,
            layers(D(bore) / 10, D(layer) / 10, count, D(least) / 10, D(least + width) / 10)
            | {"odd_layer": odd, "halves_differ_by": differ},
        )
    ),
    bore=st.integers(30, 200),
    layer=st.integers(2, 15),
    count=st.integers(0, 6),
    least=st.integers(0, 5),
    width=st.integers(0, 14),
    odd=st.sampled_from("AB"),
    differ=st.integers(0, 2),
)
instruments = st.sampled_from([JOB.model_dump()["readings"], FINE, AS_STANDARD, [{"step": "0.5", "error": "0.3"}]])


# -- the diameter table -------------------------------------------------------------------------------


@given(rule=rules, readings=instruments)
@settings(max_examples=150, deadline=None)
def test_table_against_every_number_of_layers(rule: Block, readings: list[dict[str, str]]) -> None:
    here = job(readings)
    table = diameter_table("M", rule.size, rule, here)
    assert rule.layers is not None
    middle = (rule.layers.gap.least + rule.layers.gap.most) / 2
    expected: dict[Decimal, tuple[int, int] | None] = {}
    for tenth in range(1, 500):
        reading = D(tenth) / 10
        band = here.reading_at(reading)
        if reading % band.step:
            continue
        # 25.0 may be read on the tape too, for a cable a little thicker.
        error = D("0.25") if readings is AS_STANDARD and reading == 25 else band.error
        found = count_layers(rule, reading - error, reading + error)
        best = min(
            found,
            key=lambda k: (abs(reading - rule.layers.bore - rule.layers.layer * sum(k) - middle), sum(k)),
            default=None,
        )
        expected[reading] = best
    answered = [reading for reading, best in expected.items() if best]
    if not answered:
        assert table.rows == ()
        return
    assert (table.rows[0].least, table.rows[-1].most) == (min(answered), max(answered))
    inside = {r: best for r, best in expected.items() if min(answered) <= r <= max(answered)}
    assert {reading: answer(table, reading) for reading in inside} == inside
    holes = unanswered(rule, here)
    assert {r for r, best in inside.items() if best is None} == {
        r for r in inside if any(least <= r <= most for least, most in holes)
    }
    # Neighbouring rows differ, and no row is split for nothing.
    shown = [(row.peel.a, row.peel.b) if row.peel else None for row in table.rows]
    assert all(one != two for one, two in pairwise(shown))
    for row in table.rows:
        if row.peel:
            bore = rule.layers.bore + rule.layers.layer * (row.peel.a + row.peel.b)
            assert (row.gap_least, row.gap_most) == (row.least - bore, row.most - bore)
            assert row.peel.gap == (row.least + row.most) / 2 - bore


def test_table_by_hand() -> None:
    """Bore 4.0, one layer 1.0, two in all, window 0.2 to 1.4, read to 0.1 within 0.05.

    k layers hold 4.2 + k to 5.4 + k, so readings 4.3 + k to 5.3 + k. 5.3 is held by none (0.95 gap 1.3) and by
    one (gap 0.3): middle 0.8 is equally far, so the fewer layers: none up to 5.3, one from 5.4, two from 6.4.
    """
    rule = Block.model_validate(block(24, layers("4.0", "1", 1, "0.2", "1.4")))
    table = diameter_table("M", D(24), rule, JOB)
    assert [(str(r.least), str(r.most), r.peel and (r.peel.a, r.peel.b, str(r.peel.gap))) for r in table.rows] == [
        ("4.3", "5.3", (0, 0, "0.8")),
        ("5.4", "6.3", (1, 0, "0.85")),
        ("6.4", "7.3", (1, 1, "0.85")),
    ]


def test_a_thick_layer_leaves_holes_with_a_name() -> None:
    """Layer 1.5, window 1.0 wide: diameters 0.5 wide between answers have none."""
    rule = Block.model_validate(block(24, layers("4.0", "1.5", 1, "0.2", "1.2")))
    # None holds 4.2 to 5.2, one 5.7 to 6.7, two 7.2 to 8.2; a reading must lie 0.05 inside.
    assert unanswered(rule, JOB) == ((D("5.2"), D("5.7")), (D("6.7"), D("7.2")))


def test_the_bands_meet_at_25() -> None:
    """Bore 24, window 0.2 to 1.4: diameters 24.2 to 25.4. On the tape 25.0 stands for up to 25.25."""
    rule = Block.model_validate(block(48, layers("24", "1", 0, "0.2", "1.4")))
    table = diameter_table("M", D(48), rule, job(AS_STANDARD))
    assert [(row.least, row.most) for row in table.rows] == [(D("24.3"), D("25.0"))]
    shorter = Block.model_validate(block(48, layers("24", "1", 0, "0.2", "1.2")))  # to 25.2 only
    table = diameter_table("M", D(48), shorter, job(AS_STANDARD))
    assert [(row.least, row.most) for row in table.rows] == [(D("24.3"), D("24.9"))]


# -- a tape round the cable ------------------------------------------------------------------------

# Archimedes, Measurement of a Circle, proposition 3, as far as a ten-thousandth; then Machin's formula of 1706,
# pi = 16 arctan(1/5) - 4 arctan(1/239), whose alternating sums lie above and below it in turn.
ARCHIMEDES = (Fraction(3) + Fraction(10, 71), Fraction(3) + Fraction(1, 7))


def machin(terms: int) -> Fraction:
    return sum(
        (16 * Fraction(1, 5) ** (2 * n + 1) - 4 * Fraction(1, 239) ** (2 * n + 1)) * Fraction((-1) ** n, 2 * n + 1)
        for n in range(terms)
    ) or Fraction(0)


def test_pi_lies_between_its_bounds() -> None:
    low, high = machin(20), machin(19)
    assert low < high < low + Fraction(1, 10**25)
    assert ARCHIMEDES[0] < Fraction(PI_BETWEEN[0]) < low < high < Fraction(PI_BETWEEN[1]) < ARCHIMEDES[1]


tapes = st.sampled_from(
    [{"step": "1", "error": "0.8"}, {"step": "0.5", "error": "0.4"}, {"step": "0.5", "error": "0"}]
)


@given(rule=rules, tape=tapes)
@settings(max_examples=60, deadline=None)
def test_a_girth_against_every_number_of_layers(rule: Block, tape: dict[str, str]) -> None:
    """Brute force in fractions: layers count when every girth the tape may stand for is pi times a diameter they hold."""
    here = JOB.model_copy(update={"tape": Tape.model_validate(tape)})
    rows = diameter_table("M", rule.size, rule, here).tape
    assert rule.layers is not None and here.tape is not None
    step, error = Fraction(here.tape.step), Fraction(here.tape.error)
    low, high = machin(20), machin(19)
    window = (Fraction(rule.layers.gap.least), Fraction(rule.layers.gap.most))
    halves = range(rule.layers.layers_per_half + 1)
    peels = {
        (a, b): Fraction(rule.layers.bore) + Fraction(rule.layers.layer) * (a + b)
        for a in halves
        for b in halves
        if abs(a - b) <= min(1, rule.layers.halves_differ_by)
        and (a == b or (a > b) == (rule.layers.odd_layer == "A"))
    }
    expected: dict[Fraction, tuple[int, int] | None] = {}
    for number in range(1, int(140 / step)):
        girth = number * step
        held = [
            (abs(girth / low - bore - sum(window) / 2), sum(peel), peel)
            for peel, bore in peels.items()
            if girth - error >= (bore + window[0]) * high and girth + error <= (bore + window[1]) * low
        ]
        expected[girth] = min(held)[2] if held else None
    answered = [girth for girth, peel in expected.items() if peel]
    assert bool(rows) == bool(answered)
    shown = {
        girth: row.peel and (row.peel.a, row.peel.b)
        for row in rows
        for girth in expected
        if Fraction(row.least) <= girth <= Fraction(row.most)
    }
    assert shown == {
        girth: expected[girth] for girth in expected if answered and answered[0] <= girth <= answered[-1]
    }
    for row in rows:
        if row.peel and row.gap_least is not None and row.gap_most is not None:
            bore = peels[row.peel.a, row.peel.b]
            for end, gap in ((row.least, row.gap_least), (row.most, row.gap_most)):
                assert abs(Fraction(end) / low - bore - Fraction(gap)) <= Fraction(6, 10_000)


def test_a_girth_by_hand() -> None:
    """Bore 4.0, one layer 1.0, window 0.2 to 1.4: none holds 4.2 to 5.4, girths 13.19 to 16.96; read to 1 within 0.5.

    So none holds readings 14 (13.5 to 14.5) to 16 (15.5 to 16.5). One holds 5.2 to 6.4, 16.34 to 20.11: 17 to 19.
    """
    rule = Block.model_validate(block(24, layers("4.0", "1", 1, "0.2", "1.4")))
    tape = Tape.model_validate({"step": "1", "error": "0.5"})
    table = diameter_table("M", D(24), rule, JOB.model_copy(update={"tape": tape}))
    found = [(str(r.least), str(r.most), r.peel and (r.peel.a, r.peel.b)) for r in table.tape]
    assert found[:2] == [("14", "16", (0, 0)), ("17", "19", (1, 0))]
    assert diameter_table("M", D(24), rule, JOB).tape == ()


# -- the promise of a fit -----------------------------------------------------------------------------


@given(rule=rules, readings=instruments, least=st.integers(300, 2600), width=st.integers(0, 300))
@settings(max_examples=300, deadline=None)
def test_fit_keeps_its_promise(rule: Block, readings: list[dict[str, str]], least: int, width: int) -> None:
    """On a grid of 0.01 mm: a block is offered exactly when both parts of the promise hold."""
    here, one = job(readings), cable(D(least) / 100, D(least + width) / 100)
    fits = fit_cable(one, Catalogue(system="x", edition="1", source="x", blocks={"M": rule}), here)
    closes = all(count_layers(rule, D(d) / 100, D(d) / 100) for d in range(least, least + width + 1))
    table = diameter_table("M", rule.size, rule, here)
    possible = list(readings_of(one, here))
    known = bool(table.rows) and all(table.rows[0].least <= r <= table.rows[-1].most for r in possible)
    # The grid of 0.01 sees every hole but one narrower than it: bores and windows are whole tenths.
    assert bool(fits) == (closes and known and bool(possible))
    for fit in fits:
        assert rule.layers is not None
        k = fit.likely.a + fit.likely.b
        assert (fit.likely.a, fit.likely.b) in count_layers(rule, one.likely, one.likely)
        assert fit.likely.gap == one.likely - rule.layers.bore - rule.layers.layer * k
        assert fit.window == rule.layers.gap
        answers = {answer(table, reading) for reading in possible}
        assert fit.measure == (answers != {(fit.likely.a, fit.likely.b)})


def readings_of(one: Cable, here: Job) -> Iterator[Decimal]:
    """Every reading (whole hundredths) that some diameter of a cable may show, hundredth by hundredth."""
    low, high = int(one.least * 100) - 60, int(one.most * 100) + 60
    for number in range(max(1, low), high + 1):
        reading = D(number) / 100
        if reading % here.reading_at(reading).step:
            continue
        for diameter in range(int(one.least * 100), int(one.most * 100) + 1):
            true = D(diameter) / 100
            if any(
                reading % band.step == 0
                and abs(reading - true) <= band.error
                and (band is here.reading_at(true) or here.reading_at(reading) is band)
                for band in here.readings
            ):
                yield reading
                break


@pytest.mark.parametrize("nominal", PUBLISHED)
def test_published_diameters_with_half_a_millimetre(nominal: str) -> None:
    """BS 5467 cables ± 0.5 mm: smallest block first, and one answer is never enough for a whole millimetre."""
    one = cable(D(nominal) - D("0.5"), D(nominal) + D("0.5"), diameter=nominal)
    fits = fit_cable(one, SYSTEM, job(FINE))
    by_hand = [
        part
        for part, (least, most) in {
            "M-24": ("4.2", "15.4"),
            "M-36": ("12.2", "27.6"),
            "M-48": ("20.2", "40.4"),
        }.items()
        # readings up to 0.1 beyond the cable, each to be held 0.1 further
        if D(least) + D("0.2") <= one.least and one.most <= D(most) - D("0.2")
    ]
    assert [fit.part for fit in fits] == by_hand
    assert all(fit.measure for fit in fits)
    assert [fit.size for fit in fits] == sorted(fit.size for fit in fits)


def test_one_answer_needs_no_table() -> None:
    (fit,) = fit_cable(
        cable("20.0", "20.1", diameter="20.0"), system({"M-36": SYSTEM.blocks["M-36"].model_dump()}), JOB
    )
    # 20 - 12 = 8 = 9 x 0.8 + 0.8: gap 0.8, nearest the middle 0.7 of all.
    assert (fit.likely.a, fit.likely.b, fit.likely.gap, fit.measure) == (5, 4, D("0.8"), False)


def test_a_table_rules_and_agrees_with_the_formula_it_was_made_from() -> None:
    formula = SYSTEM.blocks["M-36"]
    assert formula.layers is not None
    window = {"least": "0.2", "most": "1.2"}
    table = [
        {
            "least": 12 + D("0.8") * k + D("0.2"),
            "most": 12 + D("0.8") * k + D("1.2"),
            "a": (k + 1) // 2,
            "b": k // 2,
            "gap": window,
        }
        for k in range(19)
    ]
    tabled = Block.model_validate({"size": 36, "plug": True, "table": table})
    for readings in (AS_STANDARD, FINE):
        here = job(readings)
        assert diameter_table("M", D(36), tabled, here) == diameter_table("M", D(36), formula, here)
    # Where both stand, the table rules: half of it, and the block closes around half of the diameters.
    both = Block.model_validate({**formula.model_dump(), "table": table[:9]})
    assert diameter_table("M", D(36), both, JOB).rows[-1].most == D("19.5")  # 12 + 8 x 0.8 + 1.2 - 0.05, on the grid


def test_a_table_whose_gap_does_not_follow_the_diameter() -> None:
    rows = [{"least": 10, "most": 12, "a": 2, "b": 2, "gap": {"least": 1, "most": 2}}]
    rule = Block.model_validate({"size": 24, "plug": True, "table": rows})
    (row,) = diameter_table("M", D(24), rule, JOB).rows
    assert (row.least, row.most) == (D("10.1"), D("11.9"))  # 10.0 may be 9.95
    assert row.peel is not None
    assert (row.gap_least, row.peel.gap, row.gap_most) == (D("1.05"), D("1.5"), D("1.95"))


@pytest.mark.parametrize(
    ("least", "most"),
    [("0.1", "1"), ("0", "1")],
    ids=["block: common practice, no source", "split seal: common practice, no source"],
)
def test_windows_of_common_practice(least: str, most: str) -> None:
    """Gaps of 0.1 to 1 mm in a block and 0 to 1 mm in a split seal are common practice, no source.

    With layers that open the bore by 0.8 neighbours overlap, and every diameter has its answer; with 1.0 a
    window of 0.9 leaves holes, one of 1.0 none for the cable, though a reading between two must be tried.
    """
    thin = Block.model_validate(block(36, layers("10", "0.8", 6, least, most)))
    assert fit_cable(cable("10.5", "20"), system({"M": thin.model_dump()}), JOB)
    thick = Block.model_validate(block(36, layers("10", "1", 6, least, most)))
    closed = bool(fit_cable(cable("10.5", "20"), system({"M": thick.model_dump()}), JOB))
    assert closed == (least == "0")
    # 11, 12 … 22: with 0 to 1 a reading of just that may be either; with 0.1 to 1 nothing holds 11.0 to 11.1.
    width = 0 if closed else D("0.1")
    assert unanswered(thick, JOB) == tuple((D(11 + k), D(11 + k) + width) for k in range(12))


def test_halves() -> None:
    """Which half gives the odd layer, and whether the halves may differ, is the catalogue's."""
    even = layers("10", "0.5", 3, "0.1", "1.2", halves_differ_by=0)
    odd_b = layers("10", "0.5", 3, "0.1", "1.2", odd_layer="B")
    rows = diameter_table("M", D(24), Block.model_validate(block(24, even)), JOB).rows
    assert [(r.peel.a, r.peel.b) for r in rows if r.peel] == [(0, 0), (1, 1), (2, 2), (3, 3)]
    rows = diameter_table("M", D(24), Block.model_validate(block(24, odd_b)), JOB).rows
    assert [(r.peel.a, r.peel.b) for r in rows if r.peel] == [(0, 0), (0, 1), (1, 1), (1, 2), (2, 2), (2, 3), (3, 3)]


def test_pipes_and_bonds_ask_for_a_block_that_can() -> None:
    plain = layers("12.0", "0.8", 9, "0.2", "1.2")
    both = system(
        {
            "A-36-bond": block(36, plain, bonds=True, plug=False),
            "B-36-pipe": block(36, plain, pipes=True, plug=False),
            "C-36": block(36, plain),
        }
    )
    assert [f.part for f in fit_cable(cable(15, 16, service="pipe"), both, JOB)] == ["B-36-pipe"]
    assert [f.part for f in fit_cable(cable(15, 16, bonded="yes"), both, JOB)] == ["A-36-bond"]
    # A plain cable takes the plain block first, whatever the part numbers are.
    assert next(f.part for f in fit_cable(cable(15, 16), both, JOB)) == "C-36"


def test_a_window_narrower_than_the_error_answers_nothing() -> None:
    narrow = system({"M-24": block(24, layers("10", "0.1", 9, "0.2", "0.5"))})
    coarse = job([{"step": "0.5", "error": "0.25"}])
    assert fit_cable(cable(11, 11), narrow, coarse) == ()
    assert diameter_table("M-24", D(24), narrow.blocks["M-24"], coarse).rows == ()
    assert "finer instrument" in explain_no_fit(cable(11, 11), narrow, coarse).mend


def test_an_instrument_that_contradicts_itself_fits_nothing() -> None:
    """Read to whole millimetres but 0.1 out at most: no reading at all can be shown for 15.5."""
    odd = job([{"step": "1", "error": "0.1"}])
    assert fit_cable(cable("15.5", "15.5"), SYSTEM, odd) == ()
    assert "half their step" in explain_no_fit(cable("15.5", "15.5"), SYSTEM, odd).mend


def test_explaining_what_does_fit_is_the_callers_fault() -> None:
    with pytest.raises(ValueError, match="fits a block"):
        explain_no_fit(cable(15, 15), SYSTEM, JOB)
    assert explain_no_fit(cable(15, 15), system({}), JOB).why == "the sealing system has no blocks"


# -- split seals --------------------------------------------------------------------------------------


def seal(**more: Any) -> SplitSeal:
    fixing = {
        "opening": {"diameter": 60, "plus": 1, "minus": 0},
        "plate": {"least": 3, "most": 8},
        "materials": ["steel"],
    }
    return SplitSeal.model_validate(
        {"diameter": 60, "layers": layers("12.0", "0.8", 9, "0.2", "1.2"), "fixings": {"plain-hole": fixing}} | more
    )


def test_a_split_seal_promises_the_same_as_a_block() -> None:
    one = cable("19.5", "20.5", diameter="20.1")
    fit = fit_seal(one, "H-60", seal(), JOB)
    assert isinstance(fit, Fit)
    (same,) = fit_cable(one, system({"M-36": SYSTEM.blocks["M-36"].model_dump()}), JOB)
    assert (fit.likely, fit.measure, fit.window) == (same.likely, same.measure, same.window)
    assert (fit.part, fit.size) == ("H-60", D(60))


def test_a_split_seal_that_does_not_fit_says_why() -> None:
    no = fit_seal(cable(30, 31, "W-7"), "H-60", seal(), JOB)
    assert isinstance(no, NoFit)
    assert (no.cable, no.what) == ("W-7", "cable W-7 (30 to 31 mm) does not fit the split seal H-60")
    assert no.why == "H-60 closes around 12.2 to 27.6 mm: the cable is too thick for it"
    pipe = fit_seal(cable(15, 16, "P-1", service="pipe"), "H-60", seal(), JOB)
    assert isinstance(pipe, NoFit)
    assert "not allowed around pipes" in pipe.why
    assert isinstance(fit_seal(cable(15, 16, service="pipe"), "H-60", seal(pipes="yes"), JOB), Fit)


# -- why nothing fits ---------------------------------------------------------------------------------

GAPPED = system(
    {
        "M-24": block(24, layers("4.0", "0.8", 5, "0.2", "1.2")),  # 4.2 to 13.2
        "M-36": block(36, layers("15.0", "0.8", 9, "0.2", "1.2")),  # 15.2 to 30.6
    }
)


@pytest.mark.parametrize(
    ("asked", "why", "mend"),
    [
        (
            cable(3, 4),
            "M-24 (24 mm) closes around 4.2 to 13.2 mm: the cable is too thin for it",
            "choose a system with blocks for thinner cables",
        ),
        (
            cable(40, 41),
            "M-36 (36 mm) closes around 15.2 to 30.6 mm: the cable is too thick for it",
            "choose a system with blocks for thicker cables",
        ),
        (
            cable(14, 15),
            "M-24 (24 mm) closes around 4.2 to 13.2 mm: the cable is too thick for it; "
            "M-36 (36 mm) closes around 15.2 to 30.6 mm: the cable is too thin for it",
            "no block of the system closes around it: check its diameter, or choose another system",
        ),
        (
            cable("13", "15.5"),
            "M-24 (24 mm) closes around 4.2 to 13.2 mm: the cable may be as thick as 15.5 mm; "
            "M-36 (36 mm) closes around 15.2 to 30.6 mm: the cable may be as thin as 13 mm",
            "measure the drum and narrow its range, allowing for the reading: "
            "from 4.2 to 13.2 mm it takes M-24; from 15.2 to 30.6 mm it takes M-36",
        ),
        (
            cable("12.9", "13.2"),
            "M-24 (24 mm) closes around 4.2 to 13.2 mm: a reading of 13.2 mm has no answer, its answered readings "
            "run from 4.3 to 13.1 mm; M-36 (36 mm) closes around 15.2 to 30.6 mm: the cable is too thin for it",
            "measure the drum and narrow its range, or measure with a finer instrument",
        ),
        (
            cable(10, 11, service="pipe"),
            "no block of the system is allowed around pipes",
            "choose a system with a part for pipes (pipes: yes)",
        ),
        (
            cable(10, 11, bonded="yes"),
            "no block of the system can bond or seal a braid or screen",
            "choose a system with a part that can (bonds: yes)",
        ),
    ],
    ids=["too thin", "too thick", "between two", "straddles two", "reading", "pipe", "bond"],
)
def test_why_no_block_fits(asked: Cable, why: str, mend: str) -> None:
    assert fit_cable(asked, GAPPED, JOB) == ()
    no = explain_no_fit(asked, GAPPED, JOB)
    assert (no.cable, no.why, no.mend) == ("W-1", why, mend)


def test_a_hole_in_the_range_is_named() -> None:
    thick = system({"M-24": block(24, layers("4.0", "1.5", 3, "0.2", "1.2"))})
    no = explain_no_fit(cable("5.0", "5.5"), thick, JOB)
    assert "between 5.2 and 5.7 mm no number of layers closes to its window" in no.why


def test_the_catalogue_in_another_order_fits_the_same() -> None:
    turned = Catalogue(**{**SYSTEM.model_dump(), "blocks": dict(reversed(SYSTEM.blocks.items()))})
    for nominal in PUBLISHED:
        assert fit_cable(cable(nominal, nominal), SYSTEM, JOB) == fit_cable(cable(nominal, nominal), turned, JOB)


# -- out of round


def test_a_cable_out_of_round_takes_the_block_that_allows_as_much() -> None:
    """Limits by hand: 0.6 on 24, 0.8 on 36, none said on 48. The same cable, rounder or less round."""
    limited = system(
        {
            "M-24": block(24, layers("4.0", "1", 10, "0.2", "1.4"), not_round="0.6"),
            "M-36": block(36, layers("12.0", "0.8", 9, "0.2", "1.2"), not_round="0.8"),
            "M-48": block(48, layers("14.0", "0.8", 12, "0.2", "1.2")),
        }
    )
    smallest = {
        flat: fit_cable(cable("15.0", "15.6", out_of_round_mm=flat), limited, JOB)[0].part
        for flat in (None, "0", "0.6", "0.61", "0.8", "0.9")
    }
    assert smallest == {None: "M-24", "0": "M-24", "0.6": "M-24", "0.61": "M-36", "0.8": "M-36", "0.9": "M-48"}


def test_a_cable_no_block_allows_is_told_what_they_allow() -> None:
    limited = system({"M-24": block(24, layers("4.0", "1", 10, "0.2", "1.4"), not_round="0.6")})
    oval = cable("15.0", "15.6", out_of_round_mm="1.3")
    assert fit_cable(oval, limited, JOB) == ()
    told = explain_no_fit(oval, limited, JOB)
    assert "may differ by 1.3 mm, it allows 0.6 mm" in told.why and "round enough" in told.mend
    seal = SplitSeal.model_validate(
        {
            "diameter": 60,
            "not_round": "1.2",
            "layers": layers("4.0", "1", 10, "0.2", "1.4"),
            "fixings": {
                "plain-hole": {
                    "opening": {"diameter": 61, "plus": 1, "minus": 0},
                    "plate": {"least": 5, "most": 50},
                    "materials": ["steel"],
                }
            },
        }
    )
    assert isinstance(fit_seal(oval, "S-60", seal, JOB), NoFit)
