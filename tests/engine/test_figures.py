"""Figures: arithmetic against published values, text by hand, and each there exactly where it is promised."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest

from generator.engine.facts import (
    Situation,
    cable_types,
    facts_of,
    facts_of_bay,
    facts_of_row,
    facts_of_type,
)
from generator.engine.figures import (
    FIGURES,
    cutter_speed,
    falling_mass,
    figures_of,
    figures_of_bay,
    figures_of_row,
    figures_of_type,
)
from generator.model.catalogue import Opening
from tests.engine.situations import everything, situation, tightenings

STEEL, ALUMINIUM, HEAVY, CONCRETE = Decimal(7850), Decimal(2700), Decimal(8000), Decimal(2400)


def opening(**sizes: int) -> Opening:
    return Opening.model_validate({**sizes, "plus": 1, "minus": 1})


@pytest.mark.parametrize(
    ("hole", "thickness", "density", "kilograms"),
    [
        # Reckoned outside this program as m = pi/4 D² t rho, in kg to three places.
        (opening(diameter=100), 6, STEEL, "0.370"),
        (opening(diameter=100), 6, ALUMINIUM, "0.127"),
        (opening(diameter=100), 6, HEAVY, "0.377"),
        (opening(diameter=150), 10, STEEL, "1.387"),
        (opening(diameter=200), 12, STEEL, "2.959"),
        (opening(width=300, height=200), 10, STEEL, "4.710"),
        (opening(width=300, height=200, corner_radius=20), 10, STEEL, "4.683"),
        (opening(diameter=150), 200, CONCRETE, "8.482"),
    ],
)
def test_mass_of_the_piece_that_falls_out(hole: Opening, thickness: int, density: Decimal, kilograms: str) -> None:
    found = falling_mass(hole, Decimal(thickness), density)
    assert found.quantize(Decimal("0.001")) == Decimal(kilograms)


def test_a_piece_is_never_said_to_be_lighter_than_it_is() -> None:
    """4.683 kg is said as 4.7 kg, 0.3699 kg as 0.37 kg, 10.01 kg as 11 kg."""
    cases = {
        "4.7 kg": ({"width": 300, "height": 200, "corner_radius": 20}, 10),
        "0.37 kg": ({"width": 78, "height": 100, "corner_radius": 3}, 6),
        "25 kg": ({"width": 400, "height": 400, "corner_radius": 0}, "19.5"),
    }
    for said, (sizes, thickness) in cases.items():
        case = situation("welded", opening=sizes, wall={"thickness": thickness})
        figures = figures_of(case)
        exact = falling_mass(case.held.opening, case.wall.thickness, STEEL)
        assert figures["falling_mass"] == said
        assert Decimal(said.split()[0]) >= exact


@pytest.mark.parametrize(
    ("speed", "turns"),
    # Workshop table for drills of high-speed steel at 20 mm: stainless 15 to 25 m/min gives 240 to 400 turns,
    # mild steel 20 to 30 gives 320 to 480, aluminium 30 to 120 gives 480 to 1900 (rounded to ten: 1 %).
    [(15, 240), (25, 400), (20, 320), (30, 480), (30, 480), (120, 1900)],
)
def test_speed_of_a_cutter_against_a_workshop_table(speed: int, turns: int) -> None:
    assert abs(cutter_speed(Decimal(20), Decimal(speed)) - turns) <= Decimal(turns) / 100


def test_diagonal_of_the_outline_is_that_of_a_3_4_5_triangle() -> None:
    figures = figures_of(situation("welded", opening={"width": 300, "height": 400}))
    assert figures["opening_diagonal"] == "500 mm"


def turns_of(case: Situation) -> list[tuple[str, frozenset[str], dict[str, str]]]:
    """Every place where a rule can stand: how often it is repeated, what is true there, and the figures."""
    whole = facts_of(case)
    found = [("transit", whole, figures_of(case))]
    for number in range(1, max(1, len(case.bays)) + 1):
        found.append(("bay", whole - {"closing:no"} | facts_of_bay(case, number), figures_of_bay(case, number)))
    for bay in case.bays:
        for row in bay.rows:
            rows = frozenset(fact for fact in whole if not fact.startswith("row:"))
            found.append(("row", rows | facts_of_row(case, bay, row), figures_of_row(case, bay, row)))
    for cables in cable_types(case):
        types = frozenset(fact for fact in whole if not fact.startswith("type:"))
        found.append(("type", types | facts_of_type(case, cables), figures_of_type(case, cables)))
    return found


def test_every_figure_is_there_exactly_where_its_facts_hold() -> None:
    wrong = set()
    for case in everything():
        for each, facts, figures in turns_of(case):
            for name, figure in FIGURES.items():
                if figure.each == each and (name in figures) != facts.issuperset(figure.needs):
                    wrong.add((name, each, name in figures))
            wrong |= {(name, each, True) for name in figures if FIGURES[name].each != each}
    assert wrong == set()


def test_no_figure_is_empty_or_carries_a_programmers_number() -> None:
    odd = re.compile(r"Decimal|None|\dE[+-]\d|\d\.\d*0 mm|--|\{")
    found = {
        (name, text)
        for case in everything()[:: max(1, len(everything()) // 150)]
        for _, _, figures in turns_of(case)
        for name, text in figures.items()
        if not text.strip() or odd.search(text)
    }
    assert found == set()


def test_figures_of_a_welded_frame_by_hand() -> None:
    case = situation("welded")
    expected = {
        "id": "B2-017",
        "wall": "W3",
        "working_side": "Pump hall",
        "far_side": "Cable cellar",
        "first_side": "Pump hall",
        "left": "river",
        "right": "land",
        "x": "2300 mm",
        "y": "2480 mm",
        "opening": "170 × 206 mm",
        "opening_tolerance": "±2 mm",
        "opening_width_window": "168–172 mm",
        "opening_height_window": "204–208 mm",
        "corner_radius": "8 mm",
        "corner_drill": "16 mm",
        "plate_window": "5–20 mm",
        "wall_thickness": "8 mm",
        "weld_leg": "5 mm",
        "cool_to": "40 °C",
        "bay_deviation": "±1 mm",
        "frame_size": "164 × 200 mm",
        "rows": "3",
        "blocks": "17",
        "spares": "3",
        "fillers": "2",
        "plates": "3",
        "units": "1",
        "cables": "14",
        "spare_places": "1.5, 2.6, 3.6",
        "consumables": "Lubricant 95 ml",
        "water_head": "1.2 m",
    }
    figures = figures_of(case)
    assert {name: figures[name] for name in expected} == expected
    bay = figures_of_bay(case, 1)
    expected = {
        "bay_width_window": "143–145 mm",
        "bay_height_window": "179–181 mm",
        "closing_bolt": "1, 2",
        "closing_order": "1, 2",
        "closing_key": "17 mm",
        "closing_turns": "2",
        "closing_rounds": "3",
        "closing_protrusion": "14–16 mm",
        "closing_settle": "30 min",
        "unit_height": "33 mm",
    }
    assert {name: bay[name] for name in expected} == expected
    row = figures_of_row(case, case.bays[0], case.bays[0].rows[2])
    assert row["row_places"] == "3.1–3.8"
    assert row["row_cables"] == "3.1 D-401, 3.2 D-402, 3.3 D-403, 3.4 F-501, 3.5 F-502"
    assert row["row_fillers"] == "3.7, 3.8"
    assert row["row_plate"] == "SR-144, 3 mm"


def test_seen_from_the_other_side_left_and_right_change_places() -> None:
    figures = figures_of(situation("welded", transit={"working_side": "Cable cellar"}))
    assert (figures["left"], figures["right"], figures["far_side"]) == ("land", "river", "Pump hall")
    assert figures["first_side"] == "Pump hall"


def test_a_one_sided_tolerance_keeps_its_signs() -> None:
    assert figures_of(situation("round_frame"))["opening_tolerance"] == "+1 / −0 mm"
    assert figures_of(situation("round_frame"))["opening_diameter_window"] == "172–173 mm"


def test_bolts_of_several_bays_say_which_bay() -> None:
    case = situation("deck_two_bays")
    assert figures_of_bay(case, 2)["closing_bolt"] == "2.1, 2.2"
    assert figures_of_row(case, case.bays[1], case.bays[1].rows[0])["row"] == "2.1"


def test_a_type_in_blocks_that_differ_says_which_is_which() -> None:
    case = situation("welded")
    same = [cable.model_copy(update={"type": "NYY", "drum": "D1"}) for cable in case.cables[:2]]
    case = type(case)(**{**case.__dict__, "cables": (*same, *case.cables[2:])})
    figures = figures_of_type(case, cable_types(case)[0])
    first, second = (next(p for p in case.placements if p.cable == cable.tag) for cable in same)
    assert first.fit and second.fit
    assert figures["type"] == "NYY · D1"
    assert figures["part"] == f"{first.part} (72 mm), {second.part} (36 mm)"
    assert figures["peel"] == (
        f"{first.part}: A {first.fit.likely.a}, B {first.fit.likely.b}; "
        f"{second.part}: A {second.fit.likely.a}, B {second.fit.likely.b}"
    )
    assert figures["gap"] == "0.2–1.2 mm"


def test_every_way_of_tightening_was_looked_at() -> None:
    assert len(list(tightenings())) == 24


def test_a_test_is_the_wall_s_own_else_the_job_s() -> None:
    hose, air = ({"method": name, "limit": f"{name} passed"} for name in ("hose", "air"))
    case = situation("welded", demands={"water_head_m": "1.2", "gas": True}, wall={"tests": {"water": hose}})
    figures = figures_of(case)
    assert (figures["water_test"], figures["water_limit"]) == ("hose", "hose passed")
    assert "gas_test" not in figures and "test:gas" not in facts_of(case)
    job = case.job.model_validate({**case.job.model_dump(mode="json"), "tests": {"water": air, "gas": air}})
    figures = figures_of(replace(case, job=job))
    assert (figures["water_test"], figures["gas_test"], figures["gas_limit"]) == ("hose", "air", "air passed")


def test_what_nobody_demands_is_not_tested() -> None:
    case = situation("welded", demands={}, wall={"tests": {"water": {"method": "hose", "limit": "no drop"}}})
    assert "water_test" not in figures_of(case) and "test:water" not in facts_of(case)
