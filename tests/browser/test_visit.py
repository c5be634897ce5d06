"""The measurements themselves: a page spoilt on purpose is found out, fault by fault."""

import time

import pytest
from playwright.sync_api import Browser

from tests.browser.chromium import PATIENCE
from tests.browser.visit import visiting

PAGE = "T/B2-017/index.html"
SPOILT = {
    "scrolls sideways": "document.querySelector('h2').style.width = '400px'",
    "controls overlap": "document.querySelector('.go').style.marginBottom = '-30px'",
    "target of": "document.querySelector('.tabs a').style.cssText = 'width: 40px; flex: none'",
    "text of 12.0 px, least 13": "document.querySelector('.hint').style.fontSize = '12px'",
    "text of 10.0 px, least 11": "document.querySelector('.drawing .block text').setAttribute('font-size', '10')",
    "block without a name": "document.querySelectorAll('.drawing .block')[3].querySelectorAll('text').forEach((t) => t.remove())",
    "cut off": "document.querySelector('.step-words').style.cssText = 'height: 20px; overflow: hidden'",
}
HEARD = {
    "asked for https://elsewhere.example/": "new Image().src = 'https://elsewhere.example/x.png'",
    "error: policy: img-src": "document.body.append(Object.assign(new Image(), {src: 'data:image/gif;base64,R0lGODlhAQABAAAAACw='}))",
    "error: policy: script-src": "document.body.append(Object.assign(document.createElement('script'), {textContent: '1'}))",
    "404: ": "document.body.append(Object.assign(new Image(), {src: 'no-such.png'}))",
    "error: no good": "setTimeout(() => { throw new Error('no good') })",
}


@pytest.mark.parametrize("fault", SPOILT)
def test_a_spoilt_page_is_found_out(browser: Browser, address: str, fault: str) -> None:
    with visiting(browser, address, viewport={"width": 360, "height": 740}) as visit:
        visit.goto(f"{address}/{PAGE}")
        assert visit.faults(least=13, drawn=11, target=48) == []
        visit.page.evaluate(SPOILT[fault])
        found = visit.faults(least=13, drawn=11, target=48)
    assert [line for line in found if line.startswith(fault)], found


@pytest.mark.parametrize("word", HEARD)
def test_what_a_page_must_not_say_or_ask_is_heard(browser: Browser, address: str, word: str) -> None:
    # The policy stops a request to elsewhere before it leaves, so that one is asked of a page without it.
    root = f"{address}/assets/icons/plate.svg" if word.startswith("asked") else f"{address}/{PAGE}"
    with visiting(browser, address) as visit:
        visit.page.goto(root)
        visit.page.evaluate(HEARD[word].replace("document.body", "(document.body ?? document.documentElement)"))
        until = time.monotonic() + PATIENCE / 1000
        while not any(line.startswith(word) for line in visit.heard):
            assert time.monotonic() < until, visit.heard
            visit.page.wait_for_timeout(20)
