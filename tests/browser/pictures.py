"""The pictures that someone has looked at and approved, how each is taken, and when two are alike."""

import io
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import pypdfium2
from PIL import Image, ImageChops
from playwright.sync_api import Browser, expect

from tests.browser.visit import Scheme, visiting

APPROVED = Path(__file__).parent / "approved"
COLOURS = 128  # of a kept picture: flat pages need no more, and so it stays small
TILE = 8  # px of CSS along a tile; type moves by less on another machine, a moved part by more
STEP = 40  # of 255: how far the mean colour of a tile may be off
SHARE = 0.004  # of all tiles may be off by more
CARD = (367, 529)  # 97 x 140 mm


@dataclass(frozen=True)
class Picture:
    """One picture: which page, how wide and high a window in px, and what is brought into view first.

    ``open`` is clicked first, then ``fill`` typed, and ``at`` is brought to the top. All are selectors; ``do`` is
    run in the page before. ``sheet`` is the first sheet of what the browser prints to PDF, drawn from that.
    """

    name: str
    page: str
    size: tuple[int, int]
    scheme: Scheme = "light"
    medium: Literal["screen", "print", "sheet"] = "screen"
    do: str = ""
    open: str = ""
    fill: tuple[tuple[str, str], ...] = ()
    at: str = ""
    scale: float = 2


PHONE, DESK = (360, 740), (1280, 800)
B2_017 = "T/B2-017/index.html"
C_201 = "#cables .measure-cell a[data-tag='C-201']"
ROW_2 = """location.hash = document.querySelector("[data-key='place-row.1.2']").id"""
PICTURES = (
    Picture("b2-017-phone-layout", B2_017, PHONE),
    Picture("b2-017-phone-night", B2_017, PHONE, scheme="dark"),
    Picture("b2-017-phone-far-side", B2_017, PHONE, open="details.far summary", at="details.far"),
    Picture("b2-017-phone-cables", B2_017, PHONE, at="#cables"),
    Picture("b2-017-phone-caution", B2_017, PHONE, at=".step:has(.safety.warning):has(.safety.caution)"),
    Picture("b2-017-phone-steps", B2_017, PHONE, at=".step.hold:has(.safety.danger)"),
    Picture("b2-017-phone-steps-night", B2_017, PHONE, scheme="dark", at=".step.hold:has(.safety.danger)"),
    Picture("b2-017-phone-told", B2_017, PHONE, at=".step:has(> .told.danger)"),
    Picture("b2-017-phone-row", B2_017, PHONE, at=".step:has(.row-now)"),
    Picture("b2-017-phone-measure", B2_017, PHONE, open=C_201, fill=(("#entry-one", "29.4"), ("#entry-two", "29.5"))),
    Picture("b2-017-phone-measure-night", B2_017, PHONE, scheme="dark", open=C_201, fill=(("#entry-one", "29.4"),)),
    Picture("b2-017-phone-too-thick", B2_017, PHONE, open=C_201, fill=(("#entry-one", "50"),)),
    Picture("b2-017-phone-stepping", B2_017, PHONE, do=ROW_2, open=".list-or-one button"),
    Picture("b2-017-phone-record", B2_017, PHONE, at="#entered"),
    Picture("b2-017-phone-block", B2_017, PHONE, open="#layout .block[data-position='2.2']"),
    Picture("b2-022-phone-layout", "T/B2-022/index.html", PHONE),
    Picture("b2-016-phone-layout", "T/B2-016/index.html", PHONE),
    Picture("b7-061-phone-layout", "T/B7-061/index.html", PHONE),
    Picture("b7-061-phone-block", "T/B7-061/index.html", PHONE, open="#layout .block[data-position='1.4']"),
    Picture("b7-061-card", "T/B7-061/card.html", CARD, medium="print"),
    Picture("b8-071-phone-demands", "T/B8-071/index.html", PHONE, at="#demands"),
    Picture("d1-001-phone-layout", "T/D1-001/index.html", PHONE),
    Picture("b2-018-desk", "T/B2-018/index.html", DESK, scale=1),
    Picture("overview-desk", "index.html", DESK, scale=1),
    Picture("wall-w3-desk", "W/W3/index.html", (1280, 1200), scale=1),
    Picture("wall-w3-phone", "W/W3/index.html", PHONE, at=".elevation.narrow"),
    Picture("safety-phone", "safety/index.html", PHONE),
    Picture("b2-017-card", "T/B2-017/card.html", CARD, medium="print"),
    Picture("b2-017-card-more", "T/B2-017/card.html", CARD, medium="print", at=".card:last-child"),
    Picture("b2-016-card", "T/B2-016/card.html", CARD, medium="print"),
    Picture("b2-022-card", "T/B2-022/card.html", CARD, medium="print"),
    Picture("w3-marking-a4", "W/W3/marking-a4.html", (1047, 733), medium="print", scale=1),
    *(
        Picture(f"{wall}-sheet-{size}", f"W/{wall.upper()}/marking-{size}.html", DESK, medium="sheet", scale=1)
        for wall, size in (("w3", "a4"), ("w3", "a3"), ("d1", "a4"), ("w5", "a4"), ("w6", "a4"))
    ),
    Picture("w3-marking-phone", "W/W3/marking-a4.html", PHONE),
    Picture("w3-labels", "W/W3/labels.html", (560, 125), medium="print"),
    Picture("w3-labels-40", "W/W3/labels.html", (700, 180), medium="print", at="section:last-of-type"),
    Picture("b2-017-a4", B2_017, (703, 1000), medium="print", scale=1),
)
BY_NAME = {picture.name: picture for picture in PICTURES}


def take(browser: Browser, address: str, picture: Picture) -> Image.Image:
    """Take a picture of the site at ``address``."""
    width, height = picture.size
    options = {"viewport": {"width": width, "height": height}, "device_scale_factor": picture.scale}
    # Paper says nothing of a copy: only screens need the worker, which fetches the whole site.
    workers = "allow" if picture.medium == "screen" else "block"
    phone = {"service_workers": workers, "locale": "en-GB", "timezone_id": "UTC"}
    with visiting(browser, address, color_scheme=picture.scheme, **options, **phone) as visit:
        visit.page.clock.set_fixed_time("2031-04-14T06:40:00Z")  # the page says when it was last found current
        visit.page.emulate_media(media="screen" if picture.medium == "screen" else "print")
        visit.goto(f"{address}/{picture.page}")
        if picture.medium == "sheet":
            visit.settle()
            with pypdfium2.PdfDocument(visit.page.pdf(prefer_css_page_size=True)) as printed:
                return printed[0].render(scale=picture.scale * 96 / 72).to_pil().convert("RGB")
        if picture.medium == "screen" and visit.page.locator("#copy").count():
            expect(visit.page.locator(".copy-state")).to_have_text("Kept. Current at 06:40.")
        if picture.do:
            visit.page.evaluate(picture.do)
        if picture.open:
            visit.page.locator(picture.open).first.click()
            if picture.fill:
                expect(visit.page.locator("dialog.entry")).to_be_visible()
        for field, text in picture.fill:
            visit.page.fill(field, text)
        if picture.at:
            visit.page.evaluate("(at) => document.querySelector(at).scrollIntoView()", picture.at)
            visit.page.mouse.move(0, 0)
        visit.settle()
        return Image.open(io.BytesIO(visit.page.screenshot())).convert("RGB")


def kept(picture: Image.Image) -> Image.Image:
    """Return a picture as it is kept: few colours, so that it is a small file."""
    return picture.quantize(COLOURS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)


def difference(one: Image.Image, other: Image.Image, scale: float) -> float:
    """Return the share of tiles whose mean colour is off by more than STEP; 1 when the sizes differ.

    Means of tiles, since every version of a browser smooths the edges of letters in its own way.
    """
    if one.size != other.size:
        return 1.0
    tile = round(TILE * scale)
    off = ImageChops.difference(one.convert("RGB").reduce(tile), other.convert("RGB").reduce(tile))
    red, green, blue = off.split()
    worst = ImageChops.lighter(ImageChops.lighter(red, green), blue)
    counts = worst.histogram()
    return sum(counts[STEP + 1 :]) / sum(counts)


def are_alike(one: Image.Image, other: Image.Image, scale: float) -> bool:
    """Whether someone who has approved one need not look at the other."""
    return difference(one, other, scale) <= SHARE
