"""Transit pages and cards: what stands on them, in which order, escaped, legible, and whole on paper."""

import json
import re
from collections.abc import Iterator
from io import BytesIO
from itertools import pairwise
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Browser, Page

from generator.model.layout import Layout, SealLayout
from generator.model.pack import TransitPack
from generator.pages import addresses
from generator.pages.assets import assets
from generator.pages.cards import count_lines
from generator.pages.render import POLICY, Pages
from generator.pages.view import STANDING_SENTENCE, Readings, view
from generator.pages.words import Words
from tests.pages.page_samples import EVIL, HOSTILE, STOPPED, make_work, write_site
from tests.pages.reading import Document, leads_to

WORK = make_work()
PAGES = Pages(WORK, "en")
IDS = tuple(WORK.transits)
BUILT = tuple(id for id in IDS if id != STOPPED)


@pytest.fixture(scope="module")
def transits() -> dict[str, str]:
    return {id: PAGES.transit(id) for id in IDS}


@pytest.fixture(scope="module")
def cards() -> dict[str, str]:
    return {id: PAGES.card(id) for id in IDS}


def peeled(pack: TransitPack) -> list[tuple[str, str, str, str]]:
    """Return position, tag, layers A and B of every cable whose layers are known, straight from the layout."""
    if isinstance(pack.layout, SealLayout):
        fit = pack.layout.fit
        return [("", pack.layout.cable, str(fit.likely.a), str(fit.likely.b))]
    assert isinstance(pack.layout, Layout)
    return [
        (one.position, one.cable or "", str(one.fit.likely.a), str(one.fit.likely.b))
        for one in pack.layout.placements
        if one.fit and not one.fit.measure
    ]


def rows_of(html: str, table: str) -> list[list[str]]:
    """Return the cells' text of every body row of the tables with a class."""
    found = []
    for element in Document(html).all("table", table):
        for row in (inside for inside in element.inside if inside.name == "tr"):
            found.append([" ".join(cell.text.split()) for cell in row.inside if cell.name in ("td", "th")])
    return found


# -- what stands on the page ---------------------------------------------------------------------------


@pytest.mark.parametrize("id", BUILT)
def test_every_cable_stands_with_its_layers(id: str, transits: dict[str, str]) -> None:
    pack = WORK.transits[id]
    rows = [row for row in rows_of(transits[id], "cables") if len(row) == 6 and row[3].isdigit()]
    shown = [(row[0], row[1].split(" ")[0], row[3], row[4]) for row in rows]
    assert shown == peeled(pack)
    measured = [row for row in rows_of(transits[id], "cables") if row[-1] == "Measure"]
    assert len(measured) + len(shown) == len(pack.cables)


@pytest.mark.parametrize("id", BUILT)
def test_every_cable_stands_on_the_cards_too(id: str, cards: dict[str, str]) -> None:
    pack = WORK.transits[id]
    rows: list[list[str]] = []
    document = Document(cards[id])
    for table in (e for box in document.all("div", "card-table") for e in box.inside if e.name == "table"):
        rows += [[cell.text.strip() for cell in row.inside if cell.name in ("td", "th")] for row in table.inside
                 if row.name == "tr"][1:]  # fmt: skip
    assert [(row[0], row[1], row[4], row[5]) for row in rows if row[4] != "measure"] == peeled(pack)
    assert len(rows) == len(pack.cables)
    notes = " ".join(note.text for note in document.all("p", "card-note"))
    for row in rows:
        if row[4] == "measure":
            assert f"{row[0]} {row[1]}, " in notes and "measure first:" in notes


def test_a_second_card_has_the_cautions_that_the_first_has_no_room_for(cards: dict[str, str]) -> None:
    """Three of four on the first card, by rank; the other on the second."""
    document = Document(cards["B2-017"])
    first, second = document.all("article", "card")
    for number, caution in enumerate(sorted(WORK.transits["B2-017"].cautions, key=lambda caution: caution.rank)):
        title = str((caution.card or (caution.title,))[0])
        assert (title in first.text, title in second.text) == (number < 3, number >= 3)


def test_what_a_fitter_needs_first_comes_first(transits: dict[str, str]) -> None:
    html = transits["B2-017"]
    order = [
        ">B2-017</bdi></h1>", "not issued", "SEEN FROM WORKING SIDE", "Start with step 1", "MIRRORED",
        'id="cables"', 'id="table-SB-18"', 'id="where"', "column face, grid 4", 'id="figures"', "170 × 206 mm, ±2",
        "The wall demands", "The certificate says", "A-60", "Sample 0", 'id="bring"', 'id="steps"',
        STANDING_SENTENCE, 'id="step-1"', 'id="step-5"', "QR code of",
    ]  # fmt: skip
    places = [html.find(text) for text in order]
    assert -1 not in places, order[places.index(-1)]
    assert places == sorted(places)


def test_cautions_come_before_their_step(transits: dict[str, str]) -> None:
    html = transits["B2-017"]
    for caution, step in (("Live cables kill", "Cut the opening"), ("The spanner can slip", "Tighten the bolts")):
        panel = html.index(f"<p>{caution}", html.index('id="steps"'))
        assert panel < html.index(f"<h4>{step}")
    first = html[html.index('id="step-1"') : html.index("<h4>Cut the opening")]
    assert first.index("Danger") < first.index("Caution")


def test_notice_has_no_alert_triangle_and_others_do(transits: dict[str, str]) -> None:
    """ANSI Z535.4, 4.14: NOTICE is not about personal injury and carries no safety alert symbol."""
    panels = re.findall(r'<aside class="safety (\w+)">(.*?)</aside>', transits["B2-017"], re.S)
    assert {signal: "i-alert" in panel for signal, panel in panels} == {
        "danger": True, "caution": True, "warning": True, "notice": False,
    }  # fmt: skip


def test_hold_points_and_what_is_written_down(transits: dict[str, str]) -> None:
    text = " ".join(Document(transits["B2-017"]).text.split())
    assert "Hold point. Stop here until released by the quality inspector" in text
    assert "Write down" in text and "width of the bay: 143 to 145 mm" in text
    assert "<input" not in transits["B2-017"] and "<textarea" not in transits["B2-017"]


def test_diameter_tables_mark_where_cables_are_expected(transits: dict[str, str]) -> None:
    """C-202 lies between 26.6 and 28.6 mm: by hand, the readings of block 48 that meet it."""
    pack = WORK.transits["B2-017"]
    table = next(table for table in view(pack, Words("en"), Readings()).tables if table.part == "SB-48")
    marked = [(row.least, row.most) for row, tags in table.rows if any(tag == "C-202" for tag, _ in tags)]
    assert marked == [("26.0", "26.7"), ("26.8", "27.5"), ("27.6", "28.3"), ("28.4", "29.1")]
    likely = [row.least for row, tags in table.rows if ("C-202", True) in tags]
    assert likely == ["27.6"]
    assert "Measure again, try the gap" in transits["B2-017"]


def test_a_cable_not_known_yet_says_so(transits: dict[str, str]) -> None:
    assert transits["B2-017"].count("Not known yet: ask before you peel.") == 1
    assert "Not known yet" not in transits["B2-019"]


def test_coordinates_say_from_where_and_seen_from_which_side(transits: dict[str, str]) -> None:
    """B2-019 is worked from the second side, its coordinates still belong to the first."""
    text = " ".join(Document(transits["B2-019"]).text.split())
    assert "2300 mm from column face, grid 4" in text and "seen from Pump hall" in text
    assert re.search("<dt>Working side</dt><dd><bdi>Cable cellar</bdi>", transits["B2-019"])


def test_demands_stand_beside_what_the_certificate_says(transits: dict[str, str]) -> None:
    """The sample's certificate gives A-60 in steel from 6 mm and 1 m of water; the wall demands 1.2 m."""
    (table,) = Document(transits["B2-017"]).all("table", "compared")
    rows = [[cell.text.strip() for cell in row.inside if cell.name in ("td", "th")]
            for row in table.inside if row.name == "tr"]  # fmt: skip
    assert rows[1:4] == [
        ["Fire: A-60", "A-60", "covered"],
        ["steel", "steel", "covered"],
        ["8 mm thick", "6 mm thick or more", "covered"],
    ]
    assert rows[4][0].startswith("Water: 1.2 m") and rows[4][1].startswith("Water: 1 m")
    assert rows[4][2] == "not covered It holds less water."


def test_nothing_is_ever_called_approved(transits: dict[str, str]) -> None:
    for html in transits.values():
        text = Document(html).text
        assert "is for the approving authority to say" in text
        assert not re.search(r"\b(approved|compliant|certified for|safe to)\b", text, re.I)


# -- no layout ------------------------------------------------------------------------------------------


def test_without_a_layout_nothing_can_be_installed_from_it(transits: dict[str, str], cards: dict[str, str]) -> None:
    for html in (transits[STOPPED], cards[STOPPED]):
        text = Document(html).text
        assert "Do not install from this" in text
        for problem in ("Row 3 is 6 mm too wide", "move D-403 to another transit", "C-240 is 61 mm thick"):
            assert problem in text
        assert 'class="drawing' not in html and "peel" not in html and "step-1" not in html
        assert "Start with" not in text
    assert "no block of the catalogue holds it" in transits[STOPPED]
    assert "cables.csv:88:7" in transits[STOPPED]


def test_a_problem_that_stops_hides_a_layout_that_is_there() -> None:
    pack = WORK.transits["B2-017"].model_copy(update={"problems": WORK.transits[STOPPED].problems})
    work = WORK.model_copy(update={"transits": {"B2-017": pack}})
    html = Pages(work, "en").transit("B2-017")
    assert "Do not install from this page" in html and 'class="n peel"' not in html and "drawing-screen" not in html


def test_a_problem_to_look_at_is_shown_and_the_work_goes_on(transits: dict[str, str]) -> None:
    text = Document(transits[HOSTILE]).text
    assert "Look at this first: C-202 may need any of three numbers of layers" in text
    assert "Start with step 1" in text


# -- hostile text, links, policy ------------------------------------------------------------------------


def _everything() -> Iterator[tuple[str, str]]:
    for id in IDS:
        yield addresses.transit_page(id), PAGES.transit(id)
        yield addresses.card_page(id), PAGES.card(id)
    for wall_id in WORK.definition.walls:
        yield addresses.label_page(wall_id), PAGES.labels(wall_id)
        yield addresses.label_page(wall_id, 300), PAGES.labels(wall_id, 300)


@pytest.fixture(scope="module")
def everything() -> dict[str, str]:
    return dict(_everything())


def test_hostile_text_is_text(everything: dict[str, str]) -> None:
    html = everything[addresses.transit_page(HOSTILE)]
    assert EVIL in Document(html).text
    for path, page in everything.items():
        document = Document(page)
        scripts = document.all("script")
        for script in scripts:
            if script.attributes.get("type") == "application/json":
                json.loads(script.text)  # data, whole: no text of the job ended it
            else:
                assert re.fullmatch(r"\.\./\.\./assets/[a-z-]+\.js", script.attributes["src"] or ""), path
                assert script.text == ""
        assert not document.all("img") and not document.all("style") and not document.all("i", "x")
        for element in document.elements:
            assert not [name for name in element.attributes if name.startswith("on") or name == "style"], path
        assert "1522756" not in page  # {{ 1234 * 1234 }} is not computed


def test_text_of_the_job_is_isolated_for_both_directions(transits: dict[str, str]) -> None:
    assert "<bdi>" in transits[HOSTILE] and "שלום" in transits[HOSTILE]
    for piece in re.findall(r"[^>]*שלום[^<]*<[^>]*>", transits[HOSTILE]):
        assert piece.endswith("</bdi>")


def test_links_lead_to_files_of_the_site(everything: dict[str, str]) -> None:
    known = {path for path, _ in assets()} | set(everything)
    known |= {addresses.OVERVIEW, addresses.SAFETY, addresses.FINDER, addresses.FIGURES}
    known |= {addresses.wall_page(wall_id) for wall_id in WORK.definition.walls}
    known |= {addresses.quality_page(wall_id) for wall_id in WORK.definition.walls}
    for path, html in everything.items():
        document = Document(html)
        ids = document.attributes("id")
        assert len(ids) == len(set(ids)), path
        for href in document.attributes("href") + document.attributes("src"):
            assert leads_to(path, href) in known or href == "#step-1", (path, href)
            if href.startswith("#"):
                assert href[1:] in ids, (path, href)


def test_policy_stands_before_anything_is_loaded(everything: dict[str, str]) -> None:
    for html in everything.values():
        assert html.index(POLICY.replace("'", "&#39;")) < html.index("<link")
    assert "Content-Security-Policy" not in Pages(WORK, "en", policy=False).transit("B2-017")


@pytest.mark.parametrize("id", IDS)
def test_a_page_is_built_for_every_reader(id: str, transits: dict[str, str]) -> None:
    document = Document(transits[id])
    assert document.elements[0].attributes == {"lang": "en", "dir": "ltr"}
    heads = [int(element.name[1]) for element in document.elements if re.fullmatch("h[1-4]", element.name)]
    assert heads[0] == 1 and heads.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(heads))
    assert all(cell.attributes.get("scope") for cell in document.all("th"))
    assert document.all("a", "skip")[0].attributes["href"] == "#steps"


def test_pages_are_the_same_every_time(everything: dict[str, str]) -> None:
    assert dict(_everything()) == everything


# -- what can be seen -----------------------------------------------------------------------------------


def _luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance (terms/20/relative-luminance.html)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_measured_right() -> None:
    """Worked values of the library wcag-contrast-ratio."""
    for colour, ratio in (("#000000", 21), ("#767676", 4.54), ("#777777", 4.48), ("#595959", 7.0), ("#ff0000", 4.0)):
        assert round(contrast(colour, "#ffffff"), 2) == ratio


def _tokens() -> dict[str, dict[str, str]]:
    css = dict(assets())["assets/wallwork.css"].decode()
    blocks = re.findall(r":root([^{,]*)\{([^}]*)\}", css)
    schemes = [dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", body)) for _, body in blocks if "--ink:" in body]
    day, night, chosen_night = schemes
    assert night == chosen_night
    return {"day": day, "night": day | night}


@pytest.mark.parametrize("scheme", ["day", "night"])
def test_every_pair_of_colours_is_seven_to_one(scheme: str) -> None:
    colours = _tokens()[scheme]
    pairs = [("ink", "paper"), ("ink", "ground"), ("ink", "quiet"), ("second", "paper"), ("second", "ground"),
             ("second", "quiet"), ("out", "paper"), ("mark", "paper"), ("mark", "ground"), ("on-mark", "mark"),
             ("on-solid", "solid"), ("on-band", "band"), ("on-danger", "danger"), ("on-warning", "warning"),
             ("on-caution", "caution"), ("on-notice", "notice")]  # fmt: skip
    low = {pair: round(contrast(colours[pair[0]], colours[pair[1]]), 2) for pair in pairs}
    assert {pair: ratio for pair, ratio in low.items() if ratio < 7} == {}
    go = colours["ground"] if colours["go"].startswith("t") or scheme == "night" else colours["go"]
    assert contrast(colours["on-go"], go) >= 7
    assert contrast(colours["line"], colours["paper"]) >= 3


def test_assets_have_the_typeface_with_its_licence() -> None:
    names = [path for path, _ in assets()]
    assert names == sorted(names)
    assert "assets/fonts/LICENSE-OFL.txt" in names
    css = dict(assets())["assets/wallwork.css"].decode()
    for font in re.findall(r'url\("(fonts/[^"]+)"\)', css):
        assert f"assets/{font}" in names
    assert not re.search(r"url\(\"?(https?:)?//", css)


# -- in a browser and on paper --------------------------------------------------------------------------


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_site(tmp_path_factory.mktemp("site"), dict(_everything()))


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    page = browser.new_page(viewport={"width": 360, "height": 740})
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    yield page
    page.close()
    assert said == []


def show(page: Page, site: Path, path: str) -> None:
    """Open a page from the disk and wait for its typeface."""
    page.goto((site / path).as_uri())
    page.evaluate("document.fonts.ready")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_phone_scrolls_one_way_and_thumbs_find_every_target(site: Path, page: Page, scheme: str) -> None:
    page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    for id in IDS:
        show(page, site, addresses.transit_page(id))
        for width in (360, 412, 1280):
            page.set_viewport_size({"width": width, "height": 740})
            assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, (id, width)
        small = page.evaluate("""() => [...document.querySelectorAll('a:not(.skip), button, summary')]
            .map(e => [e.textContent.trim().slice(0, 30), e.getBoundingClientRect()])
            .filter(([, box]) => box.width && (box.height < 48 || box.width < 44)).map(([text]) => text)""")
        assert small == [], id


def test_no_type_is_smaller_than_it_may_be(site: Path, page: Page) -> None:
    """13 px is the least on a phone; drawings have their own rule."""
    for id in IDS:
        show(page, site, addresses.transit_page(id))
        page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        small = page.evaluate("""() => [...document.querySelectorAll('body *:not(svg *)')]
            .filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()))
            .filter(e => parseFloat(getComputedStyle(e).fontSize) < 13).map(e => e.outerHTML.slice(0, 80))""")
        assert small == []


def test_day_and_night_by_hand(site: Path, page: Page) -> None:
    show(page, site, addresses.transit_page("B2-017"))
    paper = "getComputedStyle(document.querySelector('.rest')).backgroundColor"
    day = page.evaluate(paper)
    page.click("#scheme")
    assert page.inner_text("#scheme") == "Day"
    night = page.evaluate(paper)
    assert (day, night) == ("rgb(255, 255, 255)", "rgb(20, 25, 27)")
    page.reload()
    assert page.evaluate(paper) == night
    page.click("#scheme")
    assert page.evaluate(paper) == day


def test_a_link_leads_to_the_open_table(site: Path, page: Page) -> None:
    """ "Measure" is such a link where no script takes the reading itself."""
    show(page, site, addresses.transit_page("B2-017"))
    table = page.locator("#table-SB-48 table")
    assert not table.is_visible()
    assert page.locator('.cables a[href="#table-SB-48"]').count()
    page.evaluate("location.hash = '#table-SB-48'")
    table.wait_for(state="visible")
    box, strip = table.bounding_box(), page.locator(".strip").bounding_box()
    assert box and strip and strip["y"] + strip["height"] <= box["y"] < 740


def test_without_script_the_page_is_whole(site: Path, browser: Browser) -> None:
    page = browser.new_page(java_script_enabled=False)
    page.goto((site / addresses.transit_page("B2-017")).as_uri())
    assert page.locator("#scheme").is_hidden()
    assert page.locator("#step-5").is_visible()
    page.close()


def _pdf(page: Page) -> tuple[list[tuple[float, float]], bytes]:
    """Print a page; return the sizes of its sheets in mm."""
    pdf = page.pdf(prefer_css_page_size=True, print_background=True)
    boxes = re.findall(rb"/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]", pdf)
    return [(float(width) * 25.4 / 72, float(height) * 25.4 / 72) for width, height in boxes], pdf


# Cards by hand: B2-017 has 14 cables and room for them beside its drawing, but not for the two lines of
# C-202's readings; D1-004 has a card for each of its two bays, each followed by one with its cables.
CARDS = {"B2-017": 2, "B2-019": 1, "B2-022": 1, "D1-004": 4, STOPPED: 1}


@pytest.mark.parametrize("id", IDS)
def test_cards_are_a6_and_nothing_is_cut_off(id: str, site: Path, page: Page) -> None:
    """ISO 216: A6 is 105 × 148 mm. Type is never made smaller: what is too much is on another card."""
    show(page, site, addresses.card_page(id))
    page.emulate_media(media="print")
    over = page.evaluate("""() => [...document.querySelectorAll('.card')].map(card => {
        const foot = card.querySelector('.card-foot'), note = foot && foot.previousElementSibling;
        const names = [...card.querySelectorAll('th.card-cable, .card-wall')];
        return [card.scrollHeight - card.clientHeight, card.scrollWidth - card.clientWidth,
            note ? Math.max(0, note.getBoundingClientRect().bottom - foot.getBoundingClientRect().top - 0.5) : 0,
            Math.max(0, ...names.map(name => Math.max(name.scrollWidth - name.clientWidth - 1,
                                                      name.scrollHeight - name.clientHeight - 2)))];
    })""")
    assert over == [[0, 0, 0, 0]] * len(over)
    sizes, _pdf_bytes = _pdf(page)
    assert len(sizes) == len(over) == CARDS.get(id, len(over))
    assert all(abs(width - 105) < 0.5 and abs(height - 148) < 0.5 for width, height in sizes)
    least = page.evaluate("""() => Math.min(...[...document.querySelectorAll('.card *:not(svg *)')]
        .filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()))
        .map(e => parseFloat(getComputedStyle(e).fontSize)))""")
    assert least >= 2.5 * 96 / 25.4 - 0.01


def test_the_code_on_a_card_is_read(site: Path, browser: Browser) -> None:
    page = browser.new_page(device_scale_factor=3)
    for id in BUILT:
        show(page, site, addresses.card_page(id))
        picture = Image.open(BytesIO(page.locator(".card").first.screenshot())).convert("L")
        (found,) = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
        assert found.text == f"HTTPS://PACKS.EXAMPLE.ORG/T/{id}"
    page.close()


def test_cards_are_pure_black(site: Path, page: Page) -> None:
    show(page, site, addresses.card_page("B2-017"))
    page.emulate_media(media="print")
    colours = page.evaluate("""() => [...new Set([...document.querySelectorAll('.card, .card *')].flatMap(e => {
        const s = getComputedStyle(e);
        return [s.color, s.fill, s.stroke, s.borderTopColor, s.backgroundColor]; }))]""")
    pure = re.compile(r"rgb\((0, 0, 0|255, 255, 255)\)|rgba\(0, 0, 0, 0\)|none|url.*")
    grey = [colour for colour in colours if not pure.fullmatch(colour)]
    assert grey == []


@pytest.mark.parametrize("id", ["B2-017", STOPPED])
def test_the_page_prints_on_a4_with_every_table_open(id: str, site: Path, page: Page) -> None:
    page.emulate_media(color_scheme="dark")
    show(page, site, addresses.transit_page(id))
    sizes, _pdf_bytes = _pdf(page)
    assert all(abs(width - 210) < 0.5 and abs(height - 297) < 0.5 for width, height in sizes)
    assert len(sizes) == {"B2-017": 5, STOPPED: 2}[id]
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    if id == "B2-017":
        heights = page.evaluate("[...document.querySelectorAll('details table')].map(t => t.checkVisibility())")
        assert heights and all(heights)
        assert page.evaluate("document.querySelector('.tabs').checkVisibility()") is False


# -- the card's arithmetic ------------------------------------------------------------------------------


def test_lines_are_counted_as_a_browser_breaks_them(site: Path, page: Page) -> None:
    """The count is an upper bound, and at most one line too many, for the site's own typeface in Chromium."""
    show(page, site, addresses.card_page("B2-017"))
    texts = [STANDING_SENTENCE, "word " * 60, "W" * 90, "2.2 C-202, measure first: " + "26.0–26.7 A 4 B 3 · " * 9]
    for text in texts:
        height = page.evaluate(
            """text => { const p = document.createElement('p'); p.textContent = text;
            p.className = 'card-note'; document.querySelector('.card').append(p);
            const height = p.getBoundingClientRect().height; p.remove(); return height; }""",
            text,
        )
        lines = round(height / (3.8 * 96 / 25.4))
        assert lines <= count_lines(text, 97) <= lines + 1, text


def test_what_is_covered_does_not_look_like_an_alarm() -> None:
    """The table of demands has its look from one sheet: another one's class of that name once made "covered" red."""
    styled = {path for path, data in assets() if path.endswith(".css") and ".verdict" in data.decode("utf-8")}
    assert styled == {"assets/transit.css", addresses.TRANSIT_STYLES}  # the second has the first in it
