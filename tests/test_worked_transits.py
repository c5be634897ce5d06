"""Transits of the demo job, worked out by hand, held against what is computed.

Every expected figure is a literal, and the comment beside it is the arithmetic: a reader can follow it with a
pocket calculator and the two files it starts from, ``workpacks/catalogues/marram.yaml`` and
``workpacks/tide-gate/cables.csv``. Nothing of ``generator`` is asked for an expected figure.

What is used throughout (invented system, lengths in mm):

    bore(k) = bore + 0.8 k             k layers peeled in all, A takes the odd one
    gap     = diameter - bore(k)       good from 0.2 to 1.2, best nearest to the middle, 0.7

    block    18    24    36    48    72    96        seal MH-60-22: 22.4
    bore      4     6    12    20    32    48

    Readings are to 0.1; a reading is 0.05 out up to 25, 0.1 above. So k layers answer a reading from
    bore(k) + 0.2 + error to bore(k) + 1.2 - error, and where two do, the gap nearer 0.7 wins; at the same
    distance the one with fewer layers. The change from k to k + 1 lies where the two gaps are as far from
    0.7, one above it and one below: at bore(k) + 0.7 + 0.4 = bore(k) + 1.1, which still belongs to k.
"""

import csv
import re
from collections import Counter
from decimal import Decimal

import pytest

from generator.model.layout import BayLayout, DiameterTable, Layout, SealLayout
from generator.model.pack import TransitPack, WorkPack
from tests.demo import DEMO, demo


@pytest.fixture(scope="module")
def work() -> WorkPack:
    return demo()


def mm(text: str) -> list[Decimal]:
    return [Decimal(word) for word in text.split()]


def frame_of(work: WorkPack, transit: str) -> tuple[TransitPack, Layout]:
    pack = work.transits[transit]
    assert isinstance(pack.layout, Layout), pack.layout
    assert pack.can_be_built, pack.problems
    return pack, pack.layout


def heights(bay: BayLayout) -> list[Decimal]:
    return [row.height for row in bay.rows]


def answers(pack: TransitPack) -> dict[str, str]:
    """Cable -> 'part A/B gap', with 'measure' where the diameter is read before peeling."""
    layout = pack.layout
    if isinstance(layout, SealLayout):
        placed = [(layout.cable, layout.part, layout.fit)]
    else:
        assert isinstance(layout, Layout)
        placed = [(p.cable, p.part, p.fit) for p in layout.placements if p.role == "cable"]
    found = {}
    for cable, part, fit in placed:
        assert cable is not None and fit is not None and fit.part == part
        peel = fit.likely
        found[cable] = f"{part} {peel.a}/{peel.b} {peel.gap:f}" + (" measure" if fit.measure else "")
    return found


def pieces(layout: Layout) -> Counter[str]:
    """How many pieces of each size, whatever lies in them."""
    return Counter(f"{placement.size:f}" for placement in layout.placements)


def kept_free(layout: Layout) -> Counter[str]:
    """How many spares and fillers of each size."""
    return Counter(f"{p.size:f}" for p in layout.placements if p.role != "cable")


def spares(layout: Layout) -> Counter[str]:
    return Counter(f"{p.size:f}" for p in layout.placements if p.role == "spare")


def fills_its_rows(bay: BayLayout, width: int) -> bool:
    """Every row holds as much area as it has: with no block over another (check.py), that is no void."""
    return all(sum(p.size**2 for p in row.placements) == row.height * width for row in bay.rows)


def table(pack: TransitPack, part: str) -> DiameterTable:
    (found,) = [table for table in pack.tables if table.part == part]
    return found


def row(of: DiameterTable, index: int) -> str:
    """'from to A/B gaps' of a row; -1 is the last."""
    line = of.rows[index]
    assert line.peel is not None
    return f"{line.least:f}-{line.most:f} {line.peel.a}/{line.peel.b} gap {line.gap_least:f}-{line.gap_most:f}"


def to_bring(pack: TransitPack) -> dict[str, str]:
    return {bring.part: bring.amount for bring in pack.bring if bring.part}


def expect(pack: TransitPack, *figures: str) -> None:
    """The crew is told each figure, with its unit, in what steps say or ask to be written down."""
    messages = [m for step in pack.steps for m in (step.title, step.text, *step.reads)]
    said = [message.text.format_map(message.values) for message in messages]
    for figure in figures:
        whole = re.compile(rf"(?<![\d.]){re.escape(figure)}(?![\d])")
        assert any(whole.search(text) for text in said), f"no step says {figure}"


def test_b2_017_welded_frame_in_a_steel_wall(work: WorkPack) -> None:
    pack, layout = frame_of(work, "B2-017")

    # Bay 144 x 180. Rows that fill it: 72 + 48 + 18 = 138, three plates 3 x 3 = 9, unit 33: 138 + 9 + 33 = 180.
    # P-101 (47.0) needs a block 72, since 48 ends at 20 + 0.8 x 24 + 1.2 = 40.4; no other sum with a 72 comes
    # to 180: 72 + one row + 6 + 33 leaves a row of 69, and three more rows 180 - 33 - 12 - 72 = 63 = no sum of
    # three of 18, 24, 36 (18 + 18 + 24 = 60, 18 + 24 + 24 = 66).
    (bay,) = layout.bays
    assert heights(bay) == mm("72 48 18")  # large ones away from the clamping unit, which is on top
    assert [r.y for r in bay.rows] == mm("0 75 126")  # 72 + 3 = 75, 75 + 48 + 3 = 126
    assert [plate.y for plate in bay.plates] == mm("72 123 144")  # 75 + 48 = 123, 126 + 18 = 144
    assert (bay.unit.y, bay.unit.height) == (Decimal(147), Decimal(33))  # 144 + 3 = 147, 147 + 33 = 180
    assert fills_its_rows(bay, 144)

    # Row 72: P-101 and two columns of two 36: 72 + 36 + 36 = 144. Row 48: 48 + 48 and two columns of two 24:
    # 96 + 48 = 144. Row 18: 8 x 18 = 144.
    assert pieces(layout) == {"72": 1, "36": 4, "48": 2, "24": 4, "18": 8}
    # 4 blocks 36 less P-103, P-104, E-001; 4 blocks 24 less I-301 to I-303; 8 blocks 18 less 3 D and 2 F.
    assert kept_free(layout) == {"36": 1, "24": 1, "18": 3}
    assert spares(layout) >= Counter({"36": 1, "24": 1, "18": 1})

    assert answers(pack) == {
        "P-101": "MB-72 9/9 0.6",  # 47.0 - (32 + 0.8 x 18 = 46.4)
        "P-103": "MB-36 6/6 0.8",  # 22.4 - (12 + 0.8 x 12 = 21.6)
        "P-104": "MB-36 6/5 0.5",  # 21.3 - (12 + 0.8 x 11 = 20.8)
        "E-001": "MB-36 7/7 0.8",  # 24.0 - (12 + 0.8 x 14 = 23.2)
        # 36 ends at 12 + 0.8 x 18 + 1.2 = 27.6, so up to 30.0 and up to 28.2 ask for 48.
        "C-201": "MB-48 6/5 0.6 measure",  # middle 29.4 - (20 + 0.8 x 11 = 28.8); 28.8 to 30.0 spans answers
        "C-202": "MB-48 5/4 0.4 measure",  # middle 27.6 - (20 + 0.8 x 9 = 27.2); 27.0 to 28.2 spans answers
        "I-301": "MB-24 4/3 0.6",  # 12.2 - (6 + 0.8 x 7 = 11.6)
        "I-302": "MB-24 4/3 0.6",
        "I-303": "MB-24 4/3 1.0 measure",  # 12.6 - 11.6; k = 8 would leave 0.2, farther from 0.7
        "D-401": "MB-18 2/2 0.5",  # 7.7 - (4 + 0.8 x 4 = 7.2)
        "D-402": "MB-18 2/2 0.5",
        "D-403": "MB-18 2/2 0.8",  # 8.0 - 7.2
        "F-501": "MB-18 1/1 0.6",  # 6.2 - (4 + 0.8 x 2 = 5.6)
        "F-502": "MB-18 1/1 0.6",
    }

    # Block 48. Least reading: 20.2 + 0.05, so 20.3; k = 0 lasts to 20 + 1.1 = 21.1. Gaps 0.3 and 1.1.
    forty_eight = table(pack, "MB-48")
    assert row(forty_eight, 0) == "20.3-21.1 0/0 gap 0.3-1.1"
    # C-202: bore(8) = 26.4 lasts to 27.5, from bore(7) + 1.1 = 26.7 onward; bore(9) = 27.2 to 28.3.
    assert row(forty_eight, 8) == "26.8-27.5 4/4 gap 0.4-1.1"
    assert row(forty_eight, 9) == "27.6-28.3 5/4 gap 0.4-1.1"
    # Last: bore(24) = 39.2; from bore(23) + 1.1 = 39.5 onward, to 39.2 + 1.2 - 0.1 = 40.3. Rows 0 to 24.
    assert row(forty_eight, -1) == "39.6-40.3 12/12 gap 0.4-1.1"
    assert len(forty_eight.rows) == 25
    # Block 18: 4.2 + 0.05, so 4.3; last bore(6) = 8.8, from 8.0 + 1.1 = 9.1 onward, to 10.0 - 0.05, so 9.9.
    assert row(table(pack, "MB-18"), 0) == "4.3-5.1 0/0 gap 0.3-1.1"
    assert row(table(pack, "MB-18"), -1) == "9.2-9.9 3/3 gap 0.4-1.1"

    # Closing. Place for the unit: 180 - 138 - 9 = 33. Lines by the columns of the three rows: from 96 to 108 stand
    # P-103 and P-104 (0.8 + 0.5), I-301 and I-302 (0.6 + 0.6) and a spare: 2.5; no other line has more. From 54 to
    # 72 P-101 (0.6), C-202 (0.4), F-501 (0.6): 1.6, the least. Turned back the unit is 29: 33 - 2.5 - 29 = 1.5 to
    # spare. Four gaps of 1.2 could be 4.8, and welding may lower the bay by 1: then 29 + 4.8 - 32 = 1.8 must be
    # pressed. Closed it is 40 and squeezes by 7 + 1.6 where it squeezes least, 40 - 34 + 0.4 at the windows' ends in a
    # bay that is 1 higher (from 120 on, E-001 and I-303 at 0.2); the catalogue asks for 4 % of 138 = 5.52.
    (closing,) = pack.closings
    assert (closing.place, closing.fullest.expected, closing.most) == (Decimal(33), Decimal("2.5"), Decimal("4.8"))
    assert (closing.play, closing.press, closing.press_most) == (Decimal("1.5"), Decimal(0), Decimal("1.8"))
    assert (closing.squeeze, closing.squeeze_least) == (Decimal("8.6"), Decimal("6.4"))
    assert closing.squeeze_asked == Decimal("5.52")
    expect(pack, "2.5 mm", "1.5 mm", "29 mm")

    bring = to_bring(pack)
    assert bring["MF-144x180"] == "1" and bring["MC-144"] == "1" and bring["MP-144"] == "3"
    assert (bring["MB-72"], bring["MB-48"], bring["MB-36"], bring["MB-24"]) == ("1", "2", "4", "4")
    assert bring["MK-10"] == "76 ml"  # 19 pieces of 1 + 4 + 2 + 4 + 8, 4 ml each

    # C-201, 28.8 to 30.0, may read 28.7 to 30.1. bore(9) = 27.2 lasts to 28.3, bore(10) = 28.0 to 29.1, bore(11) = 28.8
    # to 29.9, bore(12) = 29.6 to 30.7. I-303, 12.2 to 13.0, may read 12.2 to 13.0 with 0.05 more: bore(7) = 11.6 lasts
    # to 12.7, bore(8) = 12.4 to 13.5.
    expect(pack, "28.4–29.1 A 5 B 5 · 29.2–29.9 A 6 B 5 · 30.0–30.7 A 6 B 6", "12.0–12.7 A 4 B 3 · 12.8–13.5 A 4 B 4")

    # The frame is 60 deep and stands out 26 of it; the wall takes 8: 60 - 26 - 8 = 26. Opening 170 +-2 round a frame of
    # 166: (168 - 166) / 2 = 1 to (172 - 166) / 2 = 3.
    expect(pack, "stands out in Cable cellar: 26 mm", "gap, narrowest and widest: 1–3 mm")

    # Frame: bay and bar 11 on each side, 144 + 22 = 166 by 180 + 22 = 202; opening 4 more: 170 x 206, each +-2.
    # Diagonal: root of (28900 + 42436 = 71336) = 267.1. The bay may differ by 1 after welding.
    # The piece that falls out: four corners of radius 8 take (4 - 3.1416) x 64 = 55 off 170 x 206 = 35020:
    # 34965 x 8 x 7850 / 10^9 = 2.196 kg of steel, rounded up.
    expect(
        pack,
        "170 × 206 mm",
        "168–172 mm",
        "204–208 mm",
        "267 mm",
        "2.2 kg",
        "143–145 mm",
        "179–181 mm",
        "in 4 rounds",  # two bolts, 1.5 turns each in a round: 4 · 1.5 · 1.5 mm = 9 of 10 mm travel
        "count 1.5 turns on each bolt in each round, in this order: 1, 2.",
        "bolt 2: 14–16 mm",
        "rows: 3",
        "row plates: 3",
        "blocks in two halves, spares included: 19",
    )


def test_b2_018_two_bays_side_by_side(work: WorkPack) -> None:
    pack, layout = frame_of(work, "B2-018")
    one, two = layout.bays

    # 34 cables. Blocks they ask for: 72: P-140. 48: P-141, P-142, P-143. 36: P-144 to P-147, P-151,
    # P-152, E-005 = 7 and a spare = 8. 24: ten C, eight I = 18 and three spares = 21. 18: two D, two F, E-006
    # = 5 and a spare = 6.
    assert sum(1 for p in layout.placements if p.role == "cable") == 34
    assert spares(layout) >= Counter({"36": 1, "24": 3, "18": 1})
    # Area: 5184 + 3 x 2304 + 8 x 1296 + 21 x 576 + 6 x 324 = 36504, of at most 2 x 138 x 144 = 39744 in rows.
    assert sum(p.size**2 for p in layout.placements) >= 36504

    # One bay has the 72, so its rows are 72, 48 and 18; the row of 48 holds no spare, so it lies deepest, away from
    # the clamping unit. Left over for the other bay: four 36 and the 24s: 36 + 4 x 24 = 132, 5 plates, 33: 180.
    assert [heights(one), heights(two)] == [mm("48 72 18"), mm("36 24 24 24 24")]
    assert pieces(layout) == {"72": 1, "48": 3, "36": 8, "24": 24, "18": 8}
    assert kept_free(layout) == {"36": 1, "24": 6, "18": 3}  # 8 - 7, 24 - 18, 8 - 5
    for bay in (one, two):
        assert sum(heights(bay)) + 3 * len(bay.rows) + 33 == 180
        assert len(bay.plates) == len(bay.rows)
        assert fills_its_rows(bay, 144)

    # In each bay places are counted anew, and the bay stands first: 1.1.1 is bay 1, row 1, first block.
    assert layout.placements[0].position == "1.1.1"
    assert two.placements[0].position == "2.1.1"

    found = answers(pack)
    assert found["P-140"] == "MB-72 9/9 0.6"  # drum P12, as P-101: 47.0 - 46.4
    assert found["P-143"] == "MB-48 7/7 0.6"  # 31.8 - (20 + 0.8 x 14 = 31.2)
    assert found["P-141"] == "MB-48 7/7 1.0 measure"  # 32.2 - 31.2; k = 15 leaves 0.2
    assert found["P-151"] == "MB-36 9/8 0.5 measure"  # 26.1 - (12 + 0.8 x 17 = 25.6)
    assert found["C-241"] == "MB-24 5/5 0.9"  # 14.9 - (6 + 0.8 x 10 = 14.0)
    assert found["C-249"] == "MB-24 5/5 0.7 measure"  # 14.7 - 14.0, not measured yet: 14.1 to 15.3
    assert found["E-006"] == "MB-18 2/2 1.0 measure"  # 8.2 - 7.2; k = 5 leaves 0.2

    # Opening: two bays, bar 11, web 8, bar 11: 11 + 144 + 8 + 144 + 11 = 318, and 4 more: 322 x 206.
    assert pack.catalogue.frames["MF-2x144x180"].width == 318
    assert to_bring(pack)["MC-144"] == "2"
    assert to_bring(pack)["MP-144"] == "8"  # 3 + 5
    assert to_bring(pack)["MK-10"] == "176 ml"  # 1 + 3 + 8 + 24 + 8 = 44 pieces, 4 ml each
    expect(
        pack,
        "322 × 206 mm",
        "blocks in two halves, spares included: 16",  # 3, then 1 + 4, then 8
        "blocks in two halves, spares included: 28",  # 4 and 4 x 6
        "in this order: 1.1, 1.2.",
        "bolt 2.2: 14–16 mm",
    )


def test_d1_002_frame_in_a_deck(work: WorkPack) -> None:
    pack, layout = frame_of(work, "D1-002")
    assert pack.wall.up == "north" and pack.far_side == "Cable cellar"

    # 28 cables: 48: C-201, C-202. 24: eight C, six I = 14 and two spares = 16. 18: six D, four F, two E = 12 and
    # two spares = 14. Rows 48 + 24 + 24 + 18 + 18 = 132, five plates 15, unit 33: 132 + 15 + 33 = 180.
    # With only one row of 18 there are 8 places, and a row of 72 leaves no width for six more beside the 24s.
    # Rows without spares lie deepest, large ones first; then the 24 with two spares, then the 18 with four.
    (bay,) = layout.bays
    assert heights(bay) == mm("48 24 18 24 18")
    assert [r.y for r in bay.rows] == mm("0 51 78 99 126")  # 48 + 3, + 24 + 3, + 18 + 3, + 24 + 3
    assert (bay.unit.y, len(bay.plates)) == (Decimal(147), 5)  # 126 + 18 + 3 = 147
    assert fills_its_rows(bay, 144)
    # Row 48: two 48, then 48 of width left for four 24. Rows 24: 6 + 6. Rows 18: 8 + 8.
    assert pieces(layout) == {"48": 2, "24": 16, "18": 16}
    assert kept_free(layout) == {"24": 2, "18": 4}  # 16 - 14, 16 - 12

    found = answers(pack)
    assert found["C-203"] == "MB-24 4/4 0.9 measure"  # 13.3 - (6 + 0.8 x 8 = 12.4)
    assert found["C-207"] == "MB-24 5/5 0.9"  # 14.9 - 14.0
    assert found["I-304"] == "MB-24 4/3 0.6"  # 12.2 - 11.6
    assert found["E-003"] == "MB-18 1/1 0.9 measure"  # 6.5 - 5.6; k = 3 leaves 0.1, out of the window

    # Block 24: 6.2 + 0.05, so 6.3, to 7.1; last bore(14) = 17.2, from 16.4 + 1.1 = 17.5 onward, to 18.4 - 0.05.
    assert row(table(pack, "MB-24"), 0) == "6.3-7.1 0/0 gap 0.3-1.1"
    assert row(table(pack, "MB-24"), -1) == "17.6-18.3 7/7 gap 0.4-1.1"

    assert to_bring(pack)["MP-144"] == "5"
    assert to_bring(pack)["MK-10"] == "136 ml"  # 2 + 16 + 16 = 34 pieces, 4 ml each
    # 34965 (as B2-017) x 10 x 7850 / 10^9 = 2.745 kg falls into the cellar: rounded up, 2.8.
    expect(pack, "2.8 kg", "row plates: 5", "blocks in two halves, spares included: 34")


def test_b2_016_round_frame_in_a_gripping_sleeve(work: WorkPack) -> None:
    pack, layout = frame_of(work, "B2-016")

    # Bay 96 x 108: 48 + 24 = 72, two plates 6, unit 30: 72 + 6 + 30 = 108. Two rows of 36 come to 108 as well,
    # but a row of 36 is filled with 36 and 18 only, and 96 is no sum of those (18 x 5 = 90, 18 x 6 = 108).
    (bay,) = layout.bays
    assert heights(bay) == mm("48 24")
    assert [r.y for r in bay.rows] == mm("0 51")
    assert [plate.y for plate in bay.plates] == mm("48 75")
    assert (bay.unit.y, bay.unit.height) == (Decimal(78), Decimal(30))
    assert fills_its_rows(bay, 96)
    # Row 48: P-121 and two columns of two 24: 48 + 48 = 96. Row 24: four.
    assert pieces(layout) == {"48": 1, "24": 8}
    assert kept_free(layout) == {"24": 2}  # 8 less two C, one I, two D, one F

    assert answers(pack) == {
        "P-121": "MB-48 7/7 0.6",  # 31.8 - 31.2
        "C-221": "MB-24 5/5 0.9",  # 14.9 - 14.0
        "C-222": "MB-24 5/4 0.9 measure",  # 14.1 - (6 + 0.8 x 9 = 13.2)
        "I-321": "MB-24 4/3 0.6",  # 12.2 - 11.6
        # A block 18 would do for these three, but 96 is no multiple of 18: they take 24.
        "D-421": "MB-24 1/0 0.9",  # 7.7 - (6 + 0.8 = 6.8)
        "D-422": "MB-24 1/0 0.9",
        "F-521": "MB-24 0/0 0.8",  # 6.8 - 6
    }

    # The bay lies in the body: half diagonal = root of (48 x 48 + 54 x 54) = 72.2, less than 170 / 2 = 85.
    assert to_bring(pack)["MG-178"] == "1" and to_bring(pack)["MC-96-R"] == "1"
    # Sleeve MG-178: hole 178 +1, plate 4 to 9, W3 is 8. The piece: 3.1416 / 4 x 178 x 178 = 24885, x 8 x 7850 /
    # 10^9 = 1.563 kg, rounded up. High-speed steel in mild steel runs at 20 to 30 m/min (materials.yaml names the
    # source): 20000 / (3.1416 x 178) = 35.8 and 30000 / 559.2 = 53.6 turns a minute.
    # Eight screws numbered round the ring: n and n + 4 are opposite, so 1 5, then a quarter on 3 7, then 2 6, 4 8.
    expect(
        pack,
        "Ø 178 mm",
        "178–179 mm",
        "thickness of the wall: 4–9 mm",
        "1.6 kg",
        "36–54 turns a minute",
        "in this order: 1, 5, 3, 7, 2, 6, 4, 8.",
        "screw 8: 6 N·m",
        "bolt 2: 10–12 mm",
    )


def test_b2_022_split_seal_in_a_gripping_sleeve(work: WorkPack) -> None:
    pack = work.transits["B2-022"]
    assert pack.can_be_built, pack.problems
    layout = pack.layout
    assert isinstance(layout, SealLayout)
    # 28.7 - (22.4 + 0.8 x 7 = 28.0) = 0.7, the middle of the window itself.
    assert answers(pack) == {"P-131": "MH-60-22 4/3 0.7"}
    # 22.4 + 0.2 + 0.05, so 22.7; k = 0 to 22.4 + 1.1 = 23.5. Last bore(18) = 36.8: from 36.0 + 1.1 = 37.1
    # onward, to 36.8 + 1.2 - 0.1 = 37.9.
    (only,) = pack.tables
    assert row(only, 0) == "22.7-23.5 0/0 gap 0.3-1.1"
    assert row(only, -1) == "37.2-37.9 9/9 gap 0.4-1.1"
    assert len(only.rows) == 19  # k from 0 to 18
    # Sleeve MG-68: hole 68 +0.5, plate 3 to 8, W3 is 8: the end belongs to the window.
    assert to_bring(pack)["MH-60-22"] == "1" and to_bring(pack)["MG-68"] == "1"
    # The piece: 3.1416 / 4 x 68 x 68 = 3632, x 8 x 7850 / 10^9 = 0.228 kg, rounded up. 20000 / (3.1416 x 68) =
    # 93.6 and 30000 / 213.6 = 140.4 turns a minute. Four screws: 1 and 3 are opposite, 2 and 4.
    expect(
        pack,
        "Ø 68 mm",
        "68–68.5 mm",
        "thickness of the wall: 3–8 mm",
        "0.23 kg",
        "94–140 turns a minute",
        "in this order: 1, 3, 2, 4.",
        "bolt 4: 3 N·m",
    )


def test_b1_003_round_frame_in_a_plain_hole(work: WorkPack) -> None:
    pack, layout = frame_of(work, "B1-003")
    (bay,) = layout.bays
    # Rows 48 + 24 as in B2-016. P-150 takes a 48; four 24 fill the row of 24; what is left of the row of 48 is one
    # 48 wide: a filler, since a block 48 has no plug, and one piece rather than four spares of 24.
    assert heights(bay) == mm("48 24")
    assert fills_its_rows(bay, 96)
    assert pieces(layout) == {"48": 2, "24": 4}
    assert kept_free(layout) == {"48": 1} and not spares(layout)
    assert answers(pack) == {
        "P-150": "MB-48 5/5 0.5 measure",  # 28.5 - (20 + 0.8 x 10 = 28.0)
        "C-247": "MB-24 5/5 0.9",
        "C-248": "MB-24 5/5 0.9",
        "I-335": "MB-24 4/3 0.6",
        "I-336": "MB-24 4/3 0.6",
    }
    assert to_bring(pack)["MX-48"] == "1"
    # Hole 172 +1.5 -0.5 in 400 of concrete at 2400: 3.1416 / 4 x 172 x 172 = 23235, x 400 x 2400 / 10^9 = 22.31 kg,
    # rounded up.
    expect(pack, "Ø 172 mm", "171.5–173.5 mm", "23 kg", "fillers: 1", "in this order: 1, 3, 2, 4.", "12 N·m")


def test_b4_033_split_seal_with_its_own_table(work: WorkPack) -> None:
    pack = work.transits["B4-033"]
    assert pack.can_be_built, pack.problems
    # The table's lines: least 40 + 0.8 k, most 41 + 0.8 k, gap from 0.2 to 1.2 along each. 47.1 lies in
    # k = 8: 46.4 to 47.4, gap 0.2 + 0.7 = 0.9, and k = 9 would be 47.2 to 48.2. It may be 45.9 to 48.3.
    assert answers(pack) == {"P-162": "MH-94 4/4 0.9 measure"}
    # First reading 40.0 + 0.1; k = 0 to 40 + 0.9 = 40.9 (gap 1.1). Last line 55.2 to 56.2: from 54.4 + 0.9 = 55.3
    # onward, to 56.2 - 0.1.
    assert row(pack.tables[0], 0) == "40.1-40.9 0/0 gap 0.3-1.1"
    assert row(pack.tables[0], -1) == "55.4-56.1 10/9 gap 0.4-1.1"
    assert len(pack.tables[0].rows) == 20


# BS 5467, approximate overall diameter in mm by cores and mm²: a trade copy, not checked against the standard.
SIZES = mm("1.5 2.5 4 6 10 16 25 35 50 70 95 120 150 185 240 300 400")
BS_5467 = {
    "2": mm("12.1 13.6 14.7 15.9 18.0 20.4"),
    "3": mm("12.6 14.1 15.3 16.6 19.5 21.6 23.6 25.7 28.5 32.2 37.0 40.4"),
    "4": mm("13.3 15.0 16.4 18.7 21.1 23.4 26.1 28.6 32.0 37.7 41.7 47.1 51.4 56.6 63.0 68.8 78.1"),
}
# NFPA 70 (2008), chapter 9, table 5: THHN, inches. ASME B36.10M, mm.
THHN = {"6 AWG": ("0.254", "6.45"), "4 AWG": ("0.324", "8.23"), "500 kcmil": ("0.949", "24.1")}
PIPES = {"1/2": "21.3", "1": "33.4"}


def test_schedule_starts_from_published_diameters() -> None:
    """The note of a cable quotes its table; the schedule stays within 6 % of it, as makes differ by some percent."""
    with (DEMO / "cables.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    published = 0
    for line in rows:
        kind, _, size = line["type"].rpartition(" ")
        if line["type"].startswith("BS 5467"):
            cores = kind.removeprefix("BS 5467 ").removesuffix(" x")
            value = BS_5467[cores][SIZES.index(Decimal(size))]
            assert line["note"].startswith(f"Table {value}, not confirmed")
        elif line["type"].startswith("THHN "):
            inches, rounded = THHN[line["type"].removeprefix("THHN ")]
            value = Decimal(inches) * Decimal("25.4")
            assert line["note"].startswith(f"NEC 2008 table 5: {inches} in = {rounded}")
        elif kind == "Pipe NPS":
            value = Decimal(PIPES[size])
            assert f" NPS {size}: {value}, " in line["note"]
        else:
            assert line["note"].startswith("No published value")
            continue
        published += 1
        assert abs(Decimal(line["diameter_mm"]) - value) <= value * Decimal("0.06")
        assert Decimal(line["tolerance_mm"]) > 0  # a table is never exact
    assert published >= 60


def test_b7_061_a_cable_that_is_not_round_enough(work: WorkPack) -> None:
    """C-303 of 14.9 would go in a block 24, which allows 0.6; it is 0.7 out of round, and block 36 allows 0.8.

    k in 36: 14.9 - 12 = 2.9, less 0.8 x 3 = 0.5 (k = 2 would leave 1.3, beyond the window): A takes the odd layer.
    """
    pack, _ = frame_of(work, "B7-061")
    assert answers(pack)["C-302"].startswith("MB-24 ") and answers(pack)["C-303"] == "MB-36 2/1 0.5"
    (told,) = [problem for problem in pack.problems if "C-303" in problem.what]
    assert told.severity == "look" and "0.7 mm" in told.what and "block 36" in told.what


def test_b4_034_keeps_the_phases_of_a_circuit_in_one_opening(work: WorkPack) -> None:
    """P-021, P-022 and P-023 are L1 to L3 of TR1, single-core, and the wall is of steel: all lie in the one bay."""
    pack, layout = frame_of(work, "B4-034")
    phases = [cable for cable in pack.cables if cable.circuit == "TR1"]
    assert [cable.tag for cable in phases] == ["P-021", "P-022", "P-023"]
    assert all(cable.transits == ("B4-034",) for cable in phases) and pack.wall.material == "steel"
    assert {p.bay for p in layout.placements if p.cable in {cable.tag for cable in phases}} == {1}


def test_b1_011_and_b1_012_hold_pipes_in_blocks_for_pipes(work: WorkPack) -> None:
    """W-601 of 33.4 (NPS 1): k = 15 opens 20 + 12 = 32, gap 1.4; k = 16: 32.8, gap 0.6. W-602 of 21.3 (NPS 1/2): 36."""
    wide, _ = frame_of(work, "B1-011")
    narrow, _ = frame_of(work, "B1-012")
    assert answers(wide)["W-601"].startswith("MB-48-P 8/8 0.6")
    assert answers(narrow)["W-602"].startswith("MB-36-P ")
    for pack in (wide, narrow):
        assert "pipes:yes" in pack.facts and any(step.key == "pipes" for step in pack.steps)


def test_b8_071_holds_f_t_l_and_w_ratings_against_the_certificate(work: WorkPack) -> None:
    """The wall's demands beside MRM-F 0440, read off both files; A-60 or a head of water would be other systems."""
    pack = work.transits["B8-071"]
    told = {
        found.about: [(str(line.wall), str(line.certificate)) for line in found.lines] for found in pack.comparisons
    }
    assert told["fire"][0] == ("Fire: F 2 h / T 1 h", "F 2 h / T 1.5 h")
    assert told["air"][:2] == [
        ("Air that leaks: L 5 cfm/ft² at most", "L 3.2 cfm/ft²"),
        ("Air that leaks when hot: L 5 cfm/ft² at most", "L 1.9 cfm/ft² when hot"),
    ]
    assert told["w"][:2] == [("Water: a W rating", "a W rating"), ("from either side", "from either side")]
    assert {found.verdict for found in pack.comparisons if found.about in ("fire", "air", "w")} == {"covered"}
