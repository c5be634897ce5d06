"""A layout as it was built: a row cut anew is drawn block by block, and nothing is drawn that does not fill its row.

B2-017, row 2, is 48 high in a bay 144 wide: MB-48 twice, then MB-24 four times in two columns, by the demo's figures.
"""

from copy import deepcopy
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from generator.drawing.front_view import draw_front
from generator.engine.asbuilt import as_built
from generator.model.layout import Layout
from generator.model.pack import TransitPack
from generator.model.record import VERSIONS, KeptRecord
from generator.workpack import load
from tests.records_made import full_record

DEMO = Path(__file__).parents[2] / "workpacks" / "tide-gate"


@cache
def pack() -> TransitPack:
    return load(DEMO).transits["B2-017"]


@cache
def fields() -> dict[str, Any]:
    return full_record(pack())


def built(*places: dict[str, Any]) -> Layout | None:
    said = {**deepcopy(fields()), "places": [{"reason": "as it came", **place} for place in places]}
    record = VERSIONS[1].model_validate(said)
    kept = KeptRecord(transit="B2-017", format=1, digest="0" * 64, file="records/B2-017/0.zip", record=record)
    found = as_built(pack(), {}, [kept]).layout
    assert found is None or isinstance(found, Layout)
    return found


def spare(position: str, part: str = "MB-24") -> dict[str, Any]:
    return {"position": position, "role": "spare", "part": part}


RECUT = (spare("2.2"), spare("2.7"), spare("2.8"), spare("2.9"))


def test_a_row_that_was_cut_anew_is_laid_again() -> None:
    """C-202 never came: its 48 is gone, and four 24s lie in two columns beside the two that were planned."""
    found = built(*RECUT)
    assert found
    row = found.bays[0].rows[1]
    corners = [(b.position, str(b.x), str(b.y - row.y), str(b.size), b.part) for b in row.placements]
    assert corners == [
        ("2.1", "0", "0", "48", "MB-48"),
        ("2.2", "48", "0", "24", "MB-24"),
        ("2.3", "48", "24", "24", "MB-24"),
        ("2.4", "72", "0", "24", "MB-24"),
        ("2.5", "72", "24", "24", "MB-24"),
        ("2.6", "96", "0", "24", "MB-24"),
        ("2.7", "96", "24", "24", "MB-24"),
        ("2.8", "120", "0", "24", "MB-24"),
        ("2.9", "120", "24", "24", "MB-24"),
    ]
    squares = {
        (b.x + dx, b.y + dy)
        for b in row.placements
        for dx in map(Decimal, range(int(b.size)))
        for dy in map(Decimal, range(int(b.size)))
    }
    assert len(squares) == 144 * 48 == sum(int(b.size) ** 2 for b in row.placements)  # no void, no overlap
    assert (found.bays[0].rows[0], found.bays[0].rows[2]) == (pack().layout.bays[0].rows[0], pack().layout.bays[0].rows[2])  # type: ignore[union-attr]  # fmt: skip
    drawn = draw_front(pack().model_copy(update={"layout": found}), "working", str, "screen", again="built")
    assert all(f'data-position="2.{place}"' in drawn for place in range(1, 10))


def test_a_place_of_the_same_size_stays_where_it_is() -> None:
    found = built(spare("2.2", "MB-48"))
    assert found and isinstance(pack().layout, Layout)
    before = {b.position: (b.x, b.y, b.size) for b in pack().layout.placements}  # type: ignore[union-attr]
    assert {b.position: (b.x, b.y, b.size) for b in found.placements} == before


@pytest.mark.parametrize(
    ("places", "why"),
    [
        ([spare("2.2")], "24 mm are void"),
        ([*RECUT, spare("2.10")], "half a column"),
        ([*RECUT, spare("2.10"), spare("2.11")], "24 mm too wide"),
        ([*RECUT[:-1], spare("2.9", "MB-18")], "18 does not stack to 48"),
        ([*RECUT[:-1], spare("2.9", "MB-72")], "higher than the row"),
        ([*RECUT[:-1], spare("2.9", "PX-9")], "a part that nobody knows"),
        ([{"position": "2.2", "role": "nothing"}], "an open place"),
        ([spare("2.2", "MB-48"), spare("9.1")], "a row that is not there"),
        ([{"position": "2.6", "role": "cable", "cable": "C-202", "part": "MB-24"}], "one cable at two places"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_does_not_fill_its_row_is_not_drawn(places: list[dict[str, Any]], why: str) -> None:
    assert built(*places) is None, why


def test_a_cable_in_another_block_is_measured_again() -> None:
    """A cable of a 24 lies in a 48 at the end: its layers are those of no table any more."""
    tag = next(b.cable for b in pack().layout.placements if b.position == "2.3")  # type: ignore[union-attr]
    other = {"position": "2.2", "role": "cable", "cable": tag, "part": "MB-48"}
    found = built(other, spare("2.3"))
    assert found
    (placed,) = (b for b in found.placements if b.cable == tag)
    assert (placed.position, placed.part, placed.fit) == ("2.2", "MB-48", None)
