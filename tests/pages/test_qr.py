"""QR codes: read back by zxing, which shares no code with segno; capacities of ISO/IEC 18004, table 7."""

import re

import pytest
import segno
import zxingcpp
from PIL import Image, ImageDraw
from segno.encoder import evaluate_mask

from generator.pages.qr import QUIET, Code, label_text, make_code

# Alphanumeric characters, and data codewords, at level Q by version: ISO/IEC 18004 table 7.
CAPACITY_Q = {1: 16, 2: 29, 3: 47, 4: 67, 5: 87, 6: 108}
CODEWORDS_Q = {1: 13, 2: 22, 3: 34, 4: 48, 5: 62, 6: 76}


def draw(code: Code, dots: int) -> Image.Image:
    """Draw the path of a code as a printer would, ``dots`` for each square."""
    image = Image.new("1", (code.side * dots, code.side * dots), 1)
    pen = ImageDraw.Draw(image)
    pieces = re.findall(r"M(\d+) (\d+)h(\d+)v1h-(\d+)z", code.path)
    assert "".join("M{} {}h{}v1h-{}z".format(*piece) for piece in pieces) == code.path
    for x, y, wide, back in pieces:
        assert wide == back
        left, top = int(x) * dots, int(y) * dots
        pen.rectangle((left, top, left + int(wide) * dots - 1, top + dots - 1), fill=0)
    return image


def test_capacities_are_the_published_ones() -> None:
    """The published table against arithmetic, then our codes against the published table."""
    for version, codewords in CODEWORDS_Q.items():
        bits = 8 * codewords - 4 - 9  # mode and length of an alphanumeric text, versions 1 to 9
        assert bits // 11 * 2 + (bits % 11 >= 6) == CAPACITY_Q[version]
    for version, most in CAPACITY_Q.items():
        assert make_code("A" * most).version == version
        assert make_code("A" * (most + 1)).version == version + 1


def test_side_is_17_and_4_for_each_version_and_four_quiet_squares() -> None:
    for version, most in CAPACITY_Q.items():
        assert make_code("A" * most).side == 17 + 4 * version + 2 * QUIET
    assert QUIET == 4


@pytest.mark.parametrize("transit_id", ["A", "B2-017", "ABCDEFGHIJKLMNOPQRSTUVWX"])
@pytest.mark.parametrize("address", ["https://packs.example.org", "http://10.0.0.7:8000/SITE-2"])
@pytest.mark.parametrize("dots", [4, 6])
def test_another_reader_reads_the_address(address: str, transit_id: str, dots: int) -> None:
    text = label_text(address, transit_id)
    (found,) = zxingcpp.read_barcodes(draw(make_code(text), dots), formats=zxingcpp.BarcodeFormat.QRCode)
    assert found.text == text == f"{address}/T/{transit_id}".upper()
    assert found.symbology_identifier.startswith("]Q1")  # Model 2
    assert str(found.ec_level) == "Q"


def test_quiet_squares_are_white() -> None:
    image = draw(make_code("HTTPS://PACKS.EXAMPLE.ORG/T/B2-017"), 1)
    dark = image.convert("L").point(lambda value: 255 - value).getbbox()
    assert dark == (4, 4, image.width - 4, image.height - 4)


def test_what_capitals_can_not_carry_is_refused() -> None:
    with pytest.raises(ValueError):
        make_code("https://packs.example.org/T/B2-017")


def test_a_dirty_label_is_still_read() -> None:
    """Level Q: a blot over a tenth of the code's squares, away from the corners, changes nothing."""
    text = "HTTPS://PACKS.EXAMPLE.ORG/T/B2-017"
    image = draw(make_code(text), 6)
    ImageDraw.Draw(image).rectangle((90, 110, 144, 164), fill=0)
    (found,) = zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCode)
    assert found.text == text


def test_squares_on_a_card_are_half_a_millimetre_or_more() -> None:
    for version in range(1, 8):
        code = make_code("A" * (CAPACITY_Q | {7: 125})[version])
        square = float(code.card_mm) / code.side
        assert 0.5 <= square <= 0.51
        assert abs(square * 300 / 25.4 - round(square * 300 / 25.4)) < 0.001


def test_the_mask_is_the_one_the_standard_asks_for() -> None:
    """segno's own judge of ISO/IEC 18004 7.8.3 on all eight masks.

    It counts one of two finder-like patterns that overlap, we count both: N3 = 40 points, now and then.
    """
    far = []
    for number in range(40):
        text = f"HTTPS://PACKS.EXAMPLE.ORG/T/B2-{number:03}" + "-X" * (number % 9)
        codes = [
            segno.make(text, error="q", mode="alphanumeric", boost_error=False, micro=False, mask=mask).matrix
            for mask in range(8)
        ]
        paths = [squares(code) for code in codes]
        scores = [evaluate_mask(code, len(code), len(code)) for code in codes]
        far.append(scores[paths.index(dark_squares(make_code(text)))] - min(scores))
    assert max(far) <= 40 and far.count(0) >= 36


def squares(matrix: tuple[bytearray, ...]) -> set[tuple[int, int]]:
    return {(x, y) for y, row in enumerate(matrix) for x, dark in enumerate(row) if dark}


def dark_squares(code: Code) -> set[tuple[int, int]]:
    image = draw(code, 1)
    inside = range(QUIET, code.side - QUIET)
    return {(x - QUIET, y - QUIET) for y in inside for x in inside if not image.getpixel((x, y))}
