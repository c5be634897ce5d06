"""What a browser makes of drawings and colours: the far side is the mirror image, night is dark, cautions stay bright."""

import itertools
from typing import Any

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.visit import visiting

KINDS = ["B2-017", "B2-018", "B2-016", "B2-022", "D1-001"]  # welded, two bays, round, split seal, deck

# Every block of both sides where it lies in the window, and what stands in the banners, left to right.
SEEN = """() => [...document.querySelectorAll("#layout svg.drawing")].map((drawing) => {
  const middle = (element) => {
    const box = element.getBoundingClientRect(), whole = drawing.getBoundingClientRect();
    const scale = whole.width / drawing.viewBox.baseVal.width;
    return [(box.x + box.width / 2 - whole.x) / scale, (box.y + box.height / 2 - whole.y) / scale, box.width / scale];
  };
  const words = [...drawing.querySelectorAll(".banner-words text, .banner-far ~ .words text, text")]
    .filter((text) => text.getAttribute("text-anchor") && middle(text)[1] < 80);
  return {
    side: drawing.dataset.side,
    blocks: Object.fromEntries([...drawing.querySelectorAll(".block")].map((block) => {
      // The far side shows what the first drawing has in a block once more: its edge lies where that one lies.
      const lent = block.querySelector(":scope > use");
      const edge = (lent ? document.querySelector(lent.getAttribute("href")) : block).querySelector(".edge");
      if (!edge) return [block.dataset.position || block.dataset.cable, middle(block)];
      const box = edge.getBBox(), whole = drawing.getScreenCTM().inverse().multiply((lent || edge).getScreenCTM());
      const at = new DOMPoint(box.x + box.width / 2, box.y + box.height / 2).matrixTransform(whole);
      return [block.dataset.position || block.dataset.cable, [at.x, at.y, box.width * whole.a]];
    })),
    landmarks: words.sort((one, other) => middle(one)[0] - middle(other)[0]).map((text) => text.textContent),
  };
})"""


@pytest.mark.parametrize("transit", KINDS)
def test_the_far_side_is_the_mirror_image(browser: Browser, address: str, transit: str) -> None:
    with visiting(browser, address, viewport={"width": 360, "height": 740}) as visit:
        visit.goto(f"{address}/T/{transit}/index.html")
        visit.open_all()
        sides: list[dict[str, Any]] = visit.page.evaluate(SEEN)
    working, far = sides
    assert (working["side"], far["side"]) == ("working", "far")
    assert len(working["landmarks"]) == (
        3 if transit.startswith("D") else 2
    )  # a deck says where its upper edge points
    assert working["landmarks"] == far["landmarks"][::-1]
    near, back = working["blocks"], far["blocks"]
    assert near.keys() == back.keys() and near
    for one, other in itertools.pairwise(near):
        # A tenth of the drawing's px: the canvas rounds to a hundredth.
        across, up = (near[other][axis] - near[one][axis] for axis in (0, 1))
        assert back[other][0] - back[one][0] == pytest.approx(-across, abs=0.1), (one, other)
        assert back[other][1] - back[one][1] == pytest.approx(up, abs=0.1), (one, other)
        assert back[one][2] == pytest.approx(near[one][2], abs=0.1)
    if len(near) > 1:  # not its own mirror image, so the comparison can fail
        assert any(abs(back[b][0] - back[a][0] - near[b][0] + near[a][0]) > 5 for a, b in itertools.pairwise(near))


PANELS = """() => Object.fromEntries(["danger", "warning", "caution", "notice"].map((word) => {
  const panel = document.querySelector(".safety." + word + " .signal");
  return [word, panel && [getComputedStyle(panel).backgroundColor, getComputedStyle(panel).color]];
}))"""
GROUND = "getComputedStyle(document.body).backgroundColor"
DAY, NIGHT = "rgb(235, 238, 231)", "rgb(10, 14, 15)"  # the two grounds


def test_night_is_dark_and_cautions_stay_bright(browser: Browser, address: str) -> None:
    with visiting(browser, address, viewport={"width": 360, "height": 740}) as visit:
        visit.goto(f"{address}/T/B2-017/index.html")
        page = visit.page
        day = page.evaluate(PANELS)
        assert page.evaluate(GROUND) == DAY
        page.emulate_media(color_scheme="dark")
        night = page.evaluate(PANELS)
        assert page.evaluate(GROUND) == NIGHT
        # Orange and yellow as safety signs have them, under dark ink, at any hour.
        assert day["warning"] == night["warning"] == ["rgb(255, 138, 31)", "rgb(17, 24, 28)"]
        assert day["caution"] == night["caution"] == ["rgb(255, 210, 31)", "rgb(17, 24, 28)"]
        for word in ("danger", "notice"):
            assert night[word] and _is_reddish(night[word][0]) == _is_reddish(day[word][0]) == (word == "danger")
        for other in ("index.html", "W/W3/index.html", "find/index.html", "safety/index.html"):
            visit.goto(f"{address}/{other}")
            assert page.evaluate(GROUND) == NIGHT, other
        assert visit.heard == []


def _is_reddish(colour: str) -> bool:
    red, green, blue = (int(part) for part in colour.strip("rgb()").split(","))
    return red > green and red > blue


def test_night_by_hand_outlasts_the_page_and_never_reaches_paper(browser: Browser, address: str) -> None:
    with visiting(browser, address, viewport={"width": 360, "height": 740}) as visit:
        page = visit.page
        visit.goto(f"{address}/T/B2-017/index.html")
        button = page.locator("#scheme")
        expect(button).to_have_text("Night")
        button.click()
        expect(button).to_have_text("Day")
        assert page.evaluate(GROUND) == NIGHT
        visit.goto(f"{address}/T/B2-018/index.html")
        expect(button).to_have_text("Day")
        assert page.evaluate(GROUND) == NIGHT
        page.emulate_media(media="print")
        assert page.evaluate(GROUND) == "rgb(255, 255, 255)"
        # The clamping unit's words: a drawing by night has light ink, on paper it must be black.
        ink = page.evaluate("getComputedStyle(document.querySelector('.drawing .words')).fill")
        assert ink in ("rgb(0, 0, 0)", "rgb(17, 24, 28)")
        page.emulate_media(media="screen")
        button.click()
        expect(button).to_have_text("Night")
        assert page.evaluate(GROUND) == DAY
        assert visit.heard == []
