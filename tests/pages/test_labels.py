"""Labels: whole printer dots, legible IDs, and codes that a reader finds on the very picture that is printed."""

from io import BytesIO
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Browser

from generator.drawing.lettering import text_width
from generator.pages.labels import (
    PRINTERS,
    SIZES,
    SQUARE_DOTS,
    Dpi,
    Label,
    Size,
    lay_out_sheets,
    make_label,
    to_dots,
    to_mm,
)
from generator.pages.qr import label_text, make_code
from generator.pages.render import Pages
from tests.pages.page_samples import make_work, write_site

ADDRESS = "https://packs.example.org"
IDS = ("B2-017", "A", "WWWWWWWW", "B2-017-EAST-DECK", "ABCDEFGHIJKLMNOPQRSTUVWX", "W" * 24)


def label(identifier: str, size: Size, dpi: Dpi, address: str = ADDRESS) -> Label:
    code = make_code(label_text(address, identifier))
    return make_label(identifier, "W3", "working side: Pump hall", code, size, dpi, "REV", "not issued")


def test_squares_are_the_sizes_the_design_asks_for() -> None:
    """0.5 mm on the label of 25 mm, 0.75 on 40; worked: 25.4 / 203 · 4 = 0.5005, 25.4 / 300 · 6 = 0.508."""
    found = {key: round(to_mm(dots, key[1]), 4) for key, dots in SQUARE_DOTS.items()}
    assert found == {(25, 203): 0.5005, (25, 300): 0.508, (40, 203): 0.7507, (40, 300): 0.762}
    assert (to_dots(25, 203), to_dots(25, 300), to_dots(40, 203), to_dots(40, 300)) == (200, 295, 320, 472)


@pytest.mark.parametrize("dpi", PRINTERS)
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("identifier", IDS)
def test_everything_lies_within_the_label_and_clear_of_the_code(identifier: str, size: Size, dpi: Dpi) -> None:
    one = label(identifier, size, dpi)
    side = one.code.side * one.square
    assert one.code_x + side <= one.width and one.code_y + side <= one.height
    x, y, width, height = one.plate
    assert x >= 0 and x + width <= one.width and y >= 0 and y + height <= one.height
    for line in one.lines:
        wide = text_width(line.text, line.size, line.weight)
        left, right, top = line.x - wide / 2, line.x + wide / 2, line.y - line.size * 0.698
        assert left >= -0.5 and right <= one.width + 0.5 and top >= 0 and line.y <= one.height
        beside = left >= one.code_x + side - 0.5  # the side counts four quiet squares
        below = top >= one.code_y + side
        assert beside or below, (line, side)
        if line.white:
            assert y <= top and line.y <= y + height


@pytest.mark.parametrize("dpi", PRINTERS)
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("identifier", IDS)
def test_an_id_is_whole_and_legible(identifier: str, size: Size, dpi: Dpi) -> None:
    """Capitals of 1.8 mm are the least allowed on paper; only 24 wide capitals come down to it."""
    one = label(identifier, size, dpi)
    white = [line for line in one.lines if line.white and not line.text.startswith("working")]
    assert "".join(line.text for line in white) == identifier
    capital = min(to_mm(line.size * 0.698, dpi) for line in white)
    assert capital >= (1.8 if len(identifier) > 16 else 2.4)


def test_a_long_id_or_address_takes_the_wide_form() -> None:
    assert not label("B2-017", 25, 203).wide
    assert label("ABCDEFGHIJKLMNOPQRSTUVWX", 25, 203).wide
    long_address = label("B2-017", 25, 203, f"https://{'a-rather-long-host-name.' * 3}packs.example.org")
    assert long_address.wide and long_address.height >= long_address.code.side * long_address.square


@pytest.mark.parametrize("dpi", PRINTERS)
def test_labels_never_overlap_on_a_sheet_and_all_are_there(dpi: Dpi) -> None:
    labels = [label(f"B2-{number:03}", 40, dpi) for number in range(60)]
    sheets = lay_out_sheets(labels, 40, dpi)
    assert [placed.label.transit for sheet in sheets for placed in sheet.labels] == [one.transit for one in labels]
    for sheet in sheets:
        assert to_mm(sheet.width, dpi) <= 202.1 and to_mm(sheet.height, dpi) <= 289.1
        boxes = [(p.x, p.y, p.x + p.label.width, p.y + p.label.height) for p in sheet.labels]
        for number, (x1, y1, x2, y2) in enumerate(boxes):
            assert x1 >= 0 and y1 >= 0 and x2 <= sheet.width and y2 <= sheet.height
            assert all(x2 <= a1 or a2 <= x1 or y2 <= b1 or b2 <= y1 for a1, b1, a2, b2 in boxes[number + 1 :])
        for x1, y1, x2, y2 in sheet.marks:  # marks to cut by touch no label
            assert all(not (a1 < max(x1, x2) and min(x1, x2) < a2 and b1 < max(y1, y2) and min(y1, y2) < b2)
                       for a1, b1, a2, b2 in boxes)  # fmt: skip


@pytest.mark.parametrize("dpi", PRINTERS)
def test_the_picture_that_is_printed_is_read_and_sharp(dpi: Dpi, browser: Browser, tmp_path: Path) -> None:
    """Each sheet, one pixel a dot: every code is read, and its edges lie between dots (no grey in it)."""
    work = make_work()
    site = write_site(tmp_path, {"W/W3/labels.html": Pages(work, "en").labels("W3", dpi)})
    page = browser.new_page(viewport={"width": 2600, "height": 3600})
    page.goto((site / "W/W3/labels.html").as_uri())
    page.emulate_media(media="print")
    page.evaluate("""() => { for (const sheet of document.querySelectorAll('.sheet')) {
        sheet.setAttribute('width', sheet.viewBox.baseVal.width);
        sheet.setAttribute('height', sheet.viewBox.baseVal.height); } }""")
    labels = page.locator(".label")
    seen = []
    for number, sheet in enumerate(page.locator(".sheet").all()):
        picture = Image.open(BytesIO(sheet.screenshot())).convert("L")
        left, top = (sheet.bounding_box() or {}).get("x", 0), (sheet.bounding_box() or {}).get("y", 0)
        for label_box in sheet.locator(".label .code").all():
            box = label_box.bounding_box()
            assert box is not None
            quiet = 4 * SQUARE_DOTS[SIZES[number], dpi]
            x, y, side = (
                round(box["x"] - left) - quiet,
                round(box["y"] - top) - quiet,
                round(box["width"]) + 2 * quiet,
            )
            code = picture.crop((x, y, x + side, y + side))
            assert set(code.tobytes()) == {0, 255}, "grey: an edge lies within a dot, or text in the quiet squares"
            assert set(code.crop((0, 0, side, quiet)).tobytes()) == {255}
            (found,) = zxingcpp.read_barcodes(code, formats=zxingcpp.BarcodeFormat.QRCode)
            seen.append(found.text)
    assert labels.count() == len(seen)
    page.close()
    wanted = [f"HTTPS://PACKS.EXAMPLE.ORG/T/{pack.id}" for pack in work.on_wall("W3")]
    assert seen == wanted * 2
