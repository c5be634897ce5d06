"""A record held against its work: what is measured, peeled and placed, judged by literal figures of the demo.

B2-017, position 2.2: C-202 of 27.0 to 28.2 mm goes into MB-48, bore 20, 0.8 a layer, gap 0.2 to 1.2. The caliper
reads to 0.1 and may be out by 0.1 above 25 mm. So 27.5 peels k = 8 (27.5 - 26.4 = 1.1, held with 1.0 to 1.2) and
27.6 peels k = 9 (27.6 - 27.2 = 0.4, held with 0.3 to 0.5); the last line, k = 24, ends at 40.3 (39.2 + 1.1).
"""

from functools import cache
from typing import Any

import pytest

from generator.engine.asbuilt import as_built
from generator.model.asbuilt import AsBuilt, Line
from generator.model.pack import TransitPack
from generator.model.record import VERSIONS, KeptRecord
from tests.demo import demo
from tests.records_made import full_record, photo

PHOTOS = (photo(),)


@cache
def pack() -> TransitPack:
    return demo().transits["B2-017"]


def built(**measured: Any) -> AsBuilt:
    """Return what a record comes to that is as planned but for one measured cable, C-202."""
    entry = {"cables": ["C-202"], "at": "2031-05-14T11:02:00+01:00", "by": "f2", **measured}
    version = 2 if "girth" in measured else 1
    fields = full_record(pack(), PHOTOS, format=version)
    fields["measured"] = [entry, *(other for other in fields["measured"] if other["cables"] != ["C-202"])]
    record = VERSIONS[version].model_validate(fields)
    kept = KeptRecord(transit="B2-017", format=version, digest="0" * 64, file="records/B2-017/0.zip", record=record)
    return as_built(pack(), {}, [kept])


def line(found: AsBuilt, word: str) -> Line:
    """Return the one line about diameters and layers of C-202 that says ``word``."""
    (group,) = (g for g in found.sheets[0].groups if g.title.text == "Diameters and layers")
    (only,) = (one for one in group.lines if word in str(one.what) and "C-202" in str(one.what))
    return only


def said(found: AsBuilt) -> list[str]:
    """Return what is not as planned; what was not entered is the matter of test_lacking."""
    return [str(deviation) for deviation in found.deviations if not deviation.of]


def test_as_planned_leaves_nothing_open() -> None:
    found = built(diameters=["27.6", "27.6"], part="MB-48", a=5, b=4, gaps=["0.4"])
    assert (line(found, "diameter").verdict, line(found, "diameter").window) == ("within", "27–28.2")
    assert (line(found, "layers").verdict, line(found, "layers").window) == ("within", "A 5 B 4")
    assert line(found, "gap").verdict == "within"
    assert found.deviations == () and found.state == "recorded"


@pytest.mark.parametrize(
    ("read", "verdict"),
    [("26.8", "outside"), ("26.9", "within"), ("28.3", "within"), ("28.4", "outside"), ("20.1", "outside")],
)
def test_a_diameter_is_held_against_the_schedule(read: str, verdict: str) -> None:
    found = built(diameters=[read], part="MB-48")
    assert line(found, "diameter").verdict == verdict
    assert ([f"C-202 measured {read} mm, the schedule says 27–28.2"] if verdict == "outside" else []) == said(found)


@pytest.mark.parametrize(
    ("read", "verdict"),
    [("84", "outside"), ("84.5", "within"), ("86.5", "within"), ("88.5", "within"), ("89", "outside")],
)
def test_a_girth_is_held_against_the_schedule(read: str, verdict: str) -> None:
    """27.0 to 28.2 mm are 84.823 to 88.593 mm round, and the tape may be 0.4 out: 84.423 to 88.993."""
    found = built(girth=read, part="MB-48")
    assert (line(found, "girth").verdict, line(found, "girth").window) == (verdict, "84.8–88.6")
    told = f"C-202 measured {read} mm round, the schedule's diameters come to 84.8–88.6"
    assert ([told] if verdict == "outside" else []) == said(found)


@pytest.mark.parametrize(("girth", "window"), [("85.5", "A 4 B 4"), ("86.5", "A 5 B 4"), ("140", "")])
def test_layers_are_held_against_the_girth(girth: str, window: str) -> None:
    """85.5 stands for 85.1 to 85.9, so for 27.09 to 27.34 mm (k = 8); 86.5 for 27.41 to 27.66 mm (k = 9)."""
    assert line(built(girth=girth, part="MB-48", a=5, b=4), "layers").window == window


@pytest.mark.parametrize(
    ("readings", "window"),
    [
        (["27.5"], "A 4 B 4"),
        (["27.6"], "A 5 B 4"),
        (["27.5", "27.6"], "A 4 B 4 / A 5 B 4"),  # half way: 1.15 or 0.35, both in the window
        (["40.3"], "A 12 B 12"),
        (["40.4"], ""),  # beyond the table: no guess, so nothing to judge by
        (["20.2"], ""),
    ],
)
def test_layers_are_held_against_the_table_and_never_guessed(readings: list[str], window: str) -> None:
    assert line(built(diameters=readings, part="MB-48", a=5, b=4), "layers").window == window


def test_other_layers_another_block_and_a_wide_gap_are_deviations() -> None:
    assert said(built(diameters=["27.6"], part="MB-48", a=4, b=4)) == [
        "C-202: peeled A 4 B 4, the table says A 5 B 4"
    ]
    assert said(built(diameters=["27.6"], part="MB-36")) == ["C-202 went into MB-36, planned was MB-48"]
    assert said(built(part="MB-48", gaps=["1.3"])) == ["C-202: gap, mm: 1.3, to be 0.2–1.2"]


def test_two_readings_too_far_apart_are_not_round() -> None:
    assert said(built(diameters=["27.0", "28.1"], part="MB-48")) == ["C-202 is not round enough: 27, 28.1 mm"]
    assert said(built(diameters=["27.1", "28.1"], part="MB-48")) == []  # 1.0 apart is allowed in MB-48
