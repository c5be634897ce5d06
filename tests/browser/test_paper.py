"""What leaves the printer: cards of A6, labels in whole dots, pages on A4. Codes are read by another's reader."""

import io
import re
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Browser

from tests.browser.visit import listing, visiting
from tests.demo import demo

DOTS_OF_CSS = 96  # px an inch: a mm of CSS is 96 / 25.4 px on every screen
POINTS_OF_MM = 72 / 25.4
A6, A4 = (105, 148), (210, 297)
MM = DOTS_OF_CSS / 25.4
# mm of type: 2.5 on a card, 2.6 in its drawing; a position inside a small block is a capital or figure of 1.8.
CARD_TYPE, CAPITAL_OF_TYPE, CARD_CAPITAL = 2.5, 0.698, 1.8
ADDRESS = re.compile(r"HTTPS://GATE-2\.EXAMPLE\.ORG/T/([A-Z0-9-]+)")
KEPT = "[...document.fonts].filter((font) => font.status === 'loaded').map((font) => font.weight)"


def read_codes(picture: bytes) -> list[str]:
    """Return the text of every QR code of Model 2 on a picture: readers find Micro QR in mere noise."""
    image = Image.open(io.BytesIO(picture)).convert("L")
    return sorted(code.text for code in zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCodeModel2))


def sheets_of(pdf: bytes) -> list[tuple[float, float]]:
    """Return the size of every page of Chromium's PDF in mm: its page objects are not compressed."""
    boxes = re.findall(rb"/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]", pdf)
    assert len(boxes) == len(re.findall(rb"/Type /Page\b", pdf)) > 0
    return [(float(width) / POINTS_OF_MM, float(height) / POINTS_OF_MM) for width, height in boxes]


def is_size(sheet: tuple[float, float], size: tuple[int, int]) -> bool:
    """Whether a sheet has a size, to what Chromium rounds a page to."""
    return all(abs(one - other) < 0.4 for one, other in zip(sheet, size, strict=True))


def test_every_card_holds_its_words_and_its_code(browser: Browser, site: Path, address: str) -> None:
    cards = sorted(path.relative_to(site).as_posix() for path in site.glob("T/*/card*.html"))
    faults: dict[str, list[str]] = {}
    # 300 dots an inch, as an office printer has.
    options = {"viewport": {"width": 900, "height": 700}, "device_scale_factor": 300 / DOTS_OF_CSS}
    with visiting(browser, address, **options) as visit:
        visit.as_paper()
        for card in cards:
            visit.goto(f"{address}/{card}")
            transit = card.split("/")[1]
            found = visit.faults(least=CARD_TYPE * MM, drawn=CARD_CAPITAL / CAPITAL_OF_TYPE * MM)
            found += [f"{number} on {size}" for number, size in visit.page.evaluate(TALL)]
            if set(visit.page.evaluate(KEPT)) < {"400", "600", "700"}:
                found.append("typeface missing")
            codes = read_codes(visit.page.locator(".card").first.screenshot())
            if codes != [f"HTTPS://GATE-2.EXAMPLE.ORG/T/{transit}"]:
                found.append(f"code reads {codes}")
            if found + visit.heard:
                faults[card] = found + visit.heard
            visit.heard.clear()
    assert not faults, listing(faults)


# Cards that are not the size they say, in mm.
TALL = """[...document.querySelectorAll(".card")].map((card) => card.getBoundingClientRect())
  .map((box, place) => ["card " + (place + 1), (box.width * 25.4 / 96).toFixed(1) + " x " + (box.height * 25.4 / 96).toFixed(1)])
  .filter(([, size]) => size !== "97.0 x 140.0")"""


@pytest.mark.parametrize("transit", ["B2-017", "B2-016", "B2-022"])  # welded, round in a sleeve, split seal
def test_a_card_is_a6_and_as_many_sheets_as_it_says(browser: Browser, address: str, transit: str) -> None:
    with visiting(browser, address) as visit:
        visit.goto(f"{address}/T/{transit}/card.html")
        cards = visit.page.locator(".card").count()
        last = visit.page.locator(".card").last.inner_text()
        pdf = visit.page.pdf(prefer_css_page_size=True)
    sheets = sheets_of(pdf)
    assert len(sheets) == cards <= 2
    assert (f"Card {cards} of {cards}" in last) == (cards > 1)
    assert all(is_size(sheet, A6) for sheet in sheets), sheets
    assert pdf.count(b"/FontFile2") + pdf.count(b"/FontFile3") >= 3  # the typeface goes with it


# The part of a sheet that has labels, in whole dots from the sheet's corner; most of A4 is white.
LABELLED = """(sheet) => {
  const box = sheet.getBoundingClientRect();
  const low = Math.max(...[...sheet.querySelectorAll(".label")].map((label) => label.getBoundingClientRect().bottom));
  return {x: box.x, y: box.y + scrollY, width: box.width, height: low - box.y + 8};
}"""


@pytest.mark.parametrize("dpi", [203, 300])
def test_labels_read_at_the_printers_own_dots(browser: Browser, site: Path, address: str, dpi: int) -> None:
    work = demo()
    name = "labels.html" if dpi == 203 else f"labels-{dpi}.html"
    options = {"viewport": {"width": 800, "height": 1200}, "device_scale_factor": dpi / DOTS_OF_CSS}
    faults: dict[str, list[str]] = {}
    with visiting(browser, address, **options) as visit:
        visit.as_paper()
        for wall in work.definition.walls:
            visit.goto(f"{address}/W/{wall}/{name}")
            own = [transit for transit, pack in work.transits.items() if pack.wall_id == wall]
            found = list(visit.heard)
            sizes = {}
            for sheet in visit.page.locator(".sheet").all():
                picture = visit.page.screenshot(full_page=True, clip=sheet.evaluate(LABELLED))
                size = int(re.sub(r"\D", "", sheet.locator("..").get_attribute("aria-label") or ""))
                sizes[size] = sorted(match[1] for code in read_codes(picture) if (match := ADDRESS.fullmatch(code)))
            if sizes != {25: sorted(own), 40: sorted(own)}:
                found.append(f"reads {sizes}, has {sorted(own)}")
            if found:
                faults[wall] = found
            visit.heard.clear()
    assert not faults, listing(faults)


@pytest.mark.parametrize(
    "page", ["T/B2-017/index.html", "T/D1-001/index.html", "T/B2-022/index.html", "W/W3/index.html"]
)
def test_a_page_prints_on_a4_whole(browser: Browser, address: str, page: str) -> None:
    # Chromium lays paper out at the width inside the margins; 12 mm on each side of a transit's page.
    inside = round((A4[0] - 24) * MM)
    with visiting(browser, address, viewport={"width": inside, "height": 1000}, color_scheme="dark") as visit:
        visit.goto(f"{address}/{page}")
        visit.as_paper()
        visit.open_all()  # as beforeprint does
        # 2.6 mm of type at least, and in drawings the capitals of 1.8 mm that cards have.
        assert visit.faults(least=2.6 * MM, drawn=CARD_CAPITAL / CAPITAL_OF_TYPE * MM) == []
        assert set(visit.page.evaluate(KEPT)) >= {"400", "600", "700"}
        ground = visit.page.evaluate(
            "[document.body, document.querySelector('main')].map((e) => getComputedStyle(e).backgroundColor)"
        )
        assert set(ground) <= {"rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"}
        sheets = sheets_of(visit.page.pdf(prefer_css_page_size=True))
        assert visit.heard == []
    assert all(is_size(sheet, A4) for sheet in sheets), sheets
    assert len(sheets) <= 17


@pytest.mark.parametrize(("sheet", "size"), [("a4", (297, 210)), ("a3", (420, 297))])
@pytest.mark.parametrize("wall", ["W3", "D1"])
def test_a_marking_out_sheet_lies_on_its_paper_to_scale(
    browser: Browser, address: str, wall: str, sheet: str, size: tuple[int, int]
) -> None:
    inside = round((size[0] - 20) * MM)
    with visiting(browser, address, viewport={"width": inside, "height": 700}, color_scheme="dark") as visit:
        visit.goto(f"{address}/W/{wall}/marking-{sheet}.html")
        visit.as_paper()
        assert visit.faults(least=2.6 * MM, drawn=CARD_CAPITAL / CAPITAL_OF_TYPE * MM) == []
        # The scale that is written, and the wall's own outline as it comes on paper.
        scale = int(visit.page.locator(".head-block dd").first.inner_text().removeprefix("1:"))
        face = visit.page.locator(".face-of-wall rect.heavy").bounding_box()
        sheets = sheets_of(visit.page.pdf(prefer_css_page_size=True))
        assert visit.heard == []
    assert face is not None
    width = {"W3": 9800, "D1": 6400}[wall]
    assert face["width"] / MM * scale == pytest.approx(width, abs=0.7 * scale)  # the outline is 0.66 mm thick
    assert all(is_size(page, size) for page in sheets), sheets
    assert len(sheets) <= 2


def test_paper_is_told_to_open_what_is_closed(browser: Browser, address: str) -> None:
    with visiting(browser, address) as visit:
        visit.goto(f"{address}/T/B2-017/index.html")
        closed = "document.querySelectorAll('details:not([open])').length"
        before = visit.page.evaluate(closed)
        assert before >= 3
        visit.page.evaluate("dispatchEvent(new Event('beforeprint'))")
        assert visit.page.evaluate(closed) == 0
        visit.page.evaluate("dispatchEvent(new Event('afterprint'))")
        assert visit.page.evaluate(closed) == before
