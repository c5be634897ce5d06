"""Quantities of the demo against counts by hand and a recount from its layouts; its files read by other programs.

CSV is read by the standard library, XLSX by openpyxl, which tells a formula from a text.
"""

import csv
import io
import math
from collections import Counter
from decimal import Decimal

import openpyxl
import pytest

from generator.engine.quantities import add_up, joint_litres, total_up
from generator.model.catalogue import Frame, Opening
from generator.model.layout import Layout, SealLayout
from generator.model.pack import WorkPack
from generator.model.procedure import Message
from generator.model.quantities import Need, Quantities, Stock, StockLine
from generator.pages.material import LINE_COLUMNS, TRANSIT_COLUMNS, Material
from generator.pages.spreadsheets import Sheet, csv_text, workbook
from generator.pages.words import Words
from tests.demo import demo
from tests.pages.reading import Document


@pytest.fixture(scope="module")
def work() -> WorkPack:
    return demo()


def amounts(needs: tuple[Need, ...]) -> dict[str, Decimal]:
    return {need.part: need.amount for need in needs}


# -- by hand


def test_a_welded_frame_counted_by_hand(work: WorkPack) -> None:
    """B2-017, as tests/test_worked_transits.py has its layout: 72, 4 x 36, 2 x 48, 4 x 24, 8 x 18; three plates.

    19 blocks of 4 ml are 76 ml; three cloths a bay, two plates a transit.
    """
    assert amounts(work.quantities.transits["B2-017"]) == {
        "MF-144x180": 1,
        "MB-72": 1,
        "MB-48": 2,
        "MB-36": 4,
        "MB-24": 4,
        "MB-18": 8,
        "MP-144": 3,
        "MC-144": 1,
        "MK-10": 76,
        "MK-20": 3,
        "MK-30": 2,
    }


def test_a_split_seal_counted_by_hand(work: WorkPack) -> None:
    assert amounts(work.quantities.transits["B2-022"]) == {
        "MG-68": 1,
        "MH-60-22": 1,
        "MK-10": 4,
        "MK-20": 3,
        "MK-30": 2,
    }


def test_mortar_of_a_grouted_frame_by_hand(work: WorkPack) -> None:
    """B6-053: a hole of up to 216 x 252 less a frame of 166 x 202 is 20900 mm², 140 deep: 2.926 l, so 3.0.

    3.0 l at 2.1 kg are 6.3 kg. Where nothing is grouted there is none.
    """
    assert amounts(work.quantities.transits["B6-053"])["MK-50"] == Decimal("6.3")
    grouted = {name for name, pack in work.transits.items() if pack.transit.fixing == "grouted"}
    assert {name for name, needs in work.quantities.transits.items() if "MK-50" in amounts(needs)} == grouted


def test_bolts_and_strip_of_bolted_frames_by_hand(work: WorkPack) -> None:
    """B4-034 stands on 10 bolts, 3 across and 4 up, and its outer edge is 2 · (210 + 246) = 912 mm long.

    B4-036 stands on 6, 3 across and 2 up, with 2 · (134 + 173) = 614 mm. No other is bolted on.
    """
    needs = {name: amounts(found) for name, found in work.quantities.transits.items()}
    assert (needs["B4-034"]["MK-60"], needs["B4-034"]["MK-40"]) == (10, Decimal("0.912"))
    assert (needs["B4-036"]["MK-60"], needs["B4-036"]["MK-40"]) == (6, Decimal("0.614"))
    for part in ("MK-40", "MK-60"):
        assert {name for name, found in needs.items() if part in found} == {"B4-034", "B4-036"}


def test_one_spanner_does_for_two_kinds_of_bolts(work: WorkPack) -> None:
    """B4-036: its six M8 round the flange and the bolts of its clamping unit MC-72 both take 13 mm in the catalogue.

    B4-034 has the same flange bolts, and those of MC-144 take 16 mm.
    """
    spanners = {
        name: sorted(str(item.name) for item in work.transits[name].bring if str(item.name).startswith("spanner"))
        for name in ("B4-034", "B4-036")
    }
    assert spanners == {"B4-034": ["spanner, 13 mm", "spanner, 16 mm"], "B4-036": ["spanner, 13 mm"]}
    lines = [line for line in work.quantities.tools if str(line.name) == "spanner, 13 mm"]
    assert len(lines) == 1 and lines[0].transits.count("B4-036") == 1 and "B4-034" in lines[0].transits


def test_mortar_round_a_round_frame(work: WorkPack) -> None:
    """A ring of 200 to 150 in a wall of 100: π/4 (200² − 150²) · 100 = 1 374 447 mm³."""
    opening = Opening.model_validate({"diameter": 199, "plus": 1, "minus": 0})
    frame = work.definition.catalogues["marram"].frames["MO-170"].model_dump(mode="json")
    body = Frame.model_construct(**{**frame, "width": Decimal(150), "height": Decimal(150), "depth": Decimal(150)})
    assert math.isclose(joint_litres(body, opening, Decimal(100)), math.pi / 4 * (200**2 - 150**2) * 100 / 1e6)


# -- sums


def recount(work: WorkPack, names: list[str]) -> Counter[str]:
    """Count every piece that lies in the layouts, and what holds them, without the module that is judged."""
    found: Counter[str] = Counter()
    for name in names:
        pack = work.transits[name]
        layout, transit = pack.layout, pack.transit
        body = (
            pack.catalogue.frames[transit.frame]
            if transit.frame
            else pack.catalogue.split_seals[transit.split_seal or ""]
        )
        sleeve = body.fixings[transit.fixing].sleeve
        if sleeve:
            found[sleeve] += 1
        if isinstance(layout, SealLayout):
            found[layout.part] += 1
        elif isinstance(layout, Layout):
            row = pack.catalogue.frames[transit.frame or ""].row
            found[row.frame if row else transit.frame or ""] += row.count if row else 1
            for bay in layout.bays:
                found[bay.unit.part] += 1
                for plate in bay.plates:
                    found[plate.part] += 1
                for block in bay.placements:
                    found[block.part] += 1
    return found


def parts_only(needs: tuple[Need, ...]) -> dict[str, Decimal]:
    return {need.part: need.amount for need in needs if need.group != "consumable"}


def test_transits_walls_areas_days_and_job_are_a_recount_of_the_layouts(work: WorkPack) -> None:
    quantities = work.quantities
    built = [name for name, pack in work.transits.items() if pack.can_be_built]
    assert len(built) == len(quantities.transits) > 20
    for name, needs in quantities.transits.items():
        assert parts_only(needs) == recount(work, [name])
    for groups, of in (
        (quantities.walls, lambda pack: pack.wall_id),
        (quantities.areas, lambda pack: pack.wall.area),
        (quantities.days, lambda pack: pack.transit.day.isoformat() if pack.transit.day else ""),
    ):
        for key, needs in groups.items():
            assert parts_only(needs) == recount(work, [name for name in built if of(work.transits[name]) == key])
        assert set(groups) == {of(work.transits[name]) for name in built}
    assert parts_only(tuple(line.need for line in quantities.lines)) == recount(work, built)


def test_what_is_used_up_adds_up_whichever_way(work: WorkPack) -> None:
    quantities = work.quantities
    job = {line.need.part: line.need.amount for line in quantities.lines}
    for groups in (quantities.transits, quantities.walls, quantities.areas, quantities.days):
        total: Counter[str] = Counter()
        for needs in groups.values():
            for need in needs:
                total[need.part] += need.amount  # type: ignore[assignment]
        assert total == {part: amount for part, amount in job.items() if amount}


def test_a_transit_that_cannot_be_built_is_named_and_not_counted(work: WorkPack) -> None:
    from generator.model.layout import NoLayout

    none = NoLayout(what="x", why="x", mend="x")
    packs = {**work.transits, "B2-017": work.transits["B2-017"].model_copy(update={"layout": none})}
    quantities = total_up(work.definition, packs, None)
    assert quantities.left_out == ("B2-017",) and "B2-017" not in quantities.transits


# -- ordering


def line(amount: str, **changes: object) -> StockLine:
    need = Need(group="block", catalogue="c", part="P", name=Message(text="x"), amount=Decimal(amount))
    return StockLine.model_validate({"need": need, **changes})


@pytest.mark.parametrize(
    ("amount", "changes", "wanted"),
    [
        ("100", {"wastage": Decimal(5)}, 105),
        ("101", {"wastage": Decimal(5)}, 107),  # 106.05
        ("100", {}, 100),
        ("76", {"holds": Decimal(250), "wastage": Decimal(10)}, 1),  # 83.6 of 250
        ("500", {"holds": Decimal(250)}, 2),
        ("500", {"holds": Decimal(250), "wastage": Decimal(1)}, 3),  # 505
        ("6.3", {"holds": Decimal(25)}, 1),
        ("0", {"wastage": Decimal(5)}, 0),
    ],
)
def test_orders_are_whole_and_never_too_few(amount: str, changes: dict[str, Decimal], wanted: int) -> None:
    assert line(amount, **changes).to_order == wanted


def test_rows_of_the_stock_add_up_and_the_job_decides_on_wastage(work: WorkPack) -> None:
    job = work.definition.job.model_copy(update={"wastage": {"block": Decimal(0)}})
    definition = work.definition.model_copy(update={"job": job})
    stock = [
        Stock(part="MB-24", catalogue="marram", ordered=100),
        Stock(part="MB-24", catalogue="marram", ordered=20, issued=30),
        Stock(part="MB-24", catalogue="marram", returned=4),
        Stock(part="MH-60-22", catalogue="marram", ordered=9),
    ]
    lines = {line.need.part: line for line in total_up(definition, work.transits, stock).lines}
    blocks = lines["MB-24"]
    assert (blocks.ordered, blocks.issued, blocks.returned, blocks.out) == (120, 30, 4, 26)
    assert blocks.wastage == 0 and blocks.to_order == blocks.need.amount
    assert blocks.missing == blocks.to_order - 120
    assert lines["MX-48"].wastage == 5  # the catalogue's, where the job says nothing
    assert lines["MK-10"].to_order == math.ceil(lines["MK-10"].need.amount * Decimal("1.1") / 250)


def test_what_is_only_in_the_stock_stands_there_with_nothing_needed(work: WorkPack) -> None:
    unused = next(part for part in work.definition.catalogues["marram"].blocks if not _used(work, part))
    lines = total_up(work.definition, work.transits, [Stock(part=unused, catalogue="marram", ordered=3)]).lines
    (found,) = [line for line in lines if line.need.part == unused]
    assert (found.need.amount, found.to_order, found.ordered) == (0, 0, 3)


def _used(work: WorkPack, part: str) -> bool:
    return any(line.need.part == part and line.need.amount for line in work.quantities.lines)


# -- the files


def read_csv(text: str) -> list[list[str]]:
    assert text.startswith("\ufeff")
    return list(csv.reader(io.StringIO(text[1:], newline="")))


def read_xlsx(data: bytes) -> dict[str, list[tuple[object, ...]]]:
    book = openpyxl.load_workbook(io.BytesIO(data))
    return {sheet.title: [tuple(row) for row in sheet.iter_rows(values_only=True)] for sheet in book}


def test_csv_and_workbook_say_what_the_quantities_say(work: WorkPack) -> None:
    material = Material(work, Words("en"))
    head, *rows = read_csv(material.csv())
    assert tuple(head) == TRANSIT_COLUMNS
    told = {(row[0], row[6]): Decimal(row[8]) for row in rows}
    assert told == {
        (name, need.part): need.amount for name, needs in work.quantities.transits.items() for need in needs
    }
    head, *rows = read_csv(material.job_csv())
    assert tuple(head) == LINE_COLUMNS
    assert [int(row[8]) for row in rows] == [line.to_order for line in work.quantities.lines]
    sheets = read_xlsx(material.xlsx())
    assert list(sheets) == ["Job", "Walls", "Areas", "Days", "Transits", "Tools"]
    assert sheets["Transits"][0] == TRANSIT_COLUMNS
    assert [[_written(cell) for cell in row] for row in sheets["Transits"][1:]] == read_csv(material.csv())[1:]
    walls: Counter[str] = Counter()
    for row in sheets["Walls"][1:]:
        walls[str(row[3])] += row[5]  # type: ignore[assignment,operator]
    assert {part: round(amount, 6) for part, amount in walls.items()} == {
        line.need.part: float(line.need.amount) for line in work.quantities.lines if line.need.amount
    }


def _written(cell: object) -> str:
    return "" if cell is None else f"{cell:g}" if isinstance(cell, float | int) else str(cell)


HOSTILE = (
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1",
    "  =1",
    "＝1",
    '=HYPERLINK("http://x","y")',
    "{=1}",
    "http://x",
    "12",
)


def test_no_cell_is_a_formula_a_link_or_a_guess() -> None:
    data = workbook("=1+1", [Sheet("S", ("=x", "n"), [(text, Decimal("1.5")) for text in HOSTILE])])
    book = openpyxl.load_workbook(io.BytesIO(data))
    for row in book["S"].iter_rows():
        for cell in row:
            assert cell.data_type in ("s", "n") and cell.hyperlink is None
            assert not str(cell.value).lstrip(" \u00a0").startswith(("=", "+", "-", "@", "\t", "＝"))
    texts = [row[0] for row in book["S"].iter_rows(min_row=2, values_only=True)]
    assert [str(text).removeprefix("'") for text in texts] == list(HOSTILE)
    assert all(isinstance(text, str) for text in texts)
    assert [row[1] for row in book["S"].iter_rows(min_row=2, values_only=True)] == [1.5] * len(HOSTILE)
    assert [row[0] for row in read_csv(csv_text(("x",), [(text,) for text in HOSTILE]))[1:]] == texts


def test_the_workbook_is_the_same_bytes_every_time_and_has_no_clock(work: WorkPack) -> None:
    first, again = (Material(work, Words("en")).xlsx() for _ in range(2))
    assert first == again
    assert openpyxl.load_workbook(io.BytesIO(first)).properties.created.year == 2000


# -- the page


def test_the_page_shows_every_line_and_leads_to_the_files(work: WorkPack) -> None:
    page = Document(str(Material(work, Words("en")).page()))
    (table,) = page.all("table", "stock")
    rows = [row for row in table.inside if row.name == "tr"][1:]
    assert len(rows) == len(work.quantities.lines)
    for row, line in zip(rows, work.quantities.lines, strict=True):
        (to_order,) = [cell for cell in row.inside if cell.attributes.get("data-label") == "To order"]
        assert line.need.part in row.text and to_order.text.split()[0] == str(line.to_order)
    links = {item.attributes.get("href") for item in page.all("a")}
    assert {"material.csv", "material-job.csv", "material.xlsx"} <= links


def test_a_job_without_a_layout_needs_nothing(work: WorkPack) -> None:
    empty = work.model_copy(update={"quantities": Quantities(left_out=("B2-017",))})
    material = Material(empty, Words("en"))
    assert "Nothing is needed" in material.page() and "B2-017" in material.page()
    assert len(read_csv(material.csv())) == 1 and len(read_xlsx(material.xlsx())["Job"]) == 1


def test_adding_up_keeps_units_and_order() -> None:
    one = Need(group="consumable", catalogue="c", part="K", name=Message(text="x"), amount=Decimal("1.5"), unit="ml")
    two = Need(group="block", catalogue="c", part="B", name=Message(text="x"), amount=Decimal(2))
    assert [(need.part, need.amount, need.unit) for need in add_up([one, two, one])] == [
        ("B", Decimal(2), ""),
        ("K", Decimal("3.0"), "ml"),
    ]
