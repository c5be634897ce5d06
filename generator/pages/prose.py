"""The planner's own Markdown is prose: HTML in it is shown as text, and nothing in it leads astray."""

import html
import re
from collections.abc import Callable
from urllib.parse import urlsplit
from xml.etree.ElementTree import Element

from markdown import Markdown
from markdown.extensions import Extension
from markdown.treeprocessors import Treeprocessor
from markdown.util import AMP_SUBSTITUTE

_LINKS = {"", "http", "https", "mailto", "tel"}
_IGNORED = re.compile(r"[\x00-\x20]")  # browsers skip these in an address: "java\nscript:" is a script


class Prose(Extension):  # type: ignore[misc]
    """Markdown without raw HTML, without images from elsewhere, without links that run something.

    ``complain`` is called with a sentence for each that was taken out; ``page_named`` may say a link in
    other words before it is looked up.
    """

    def __init__(self, complain: Callable[[str], None], page_named: Callable[[str], str]) -> None:
        super().__init__()
        self.complain = complain
        self.page_named = page_named

    def extendMarkdown(self, md: Markdown) -> None:
        """Take the two readers of raw HTML out, and look through every link before and after it is resolved."""
        md.preprocessors.deregister("html_block")
        md.inlinePatterns.deregister("html")
        md.treeprocessors.register(_Names(md, self.page_named), "wallwork_names", 10)  # MkDocs resolves at 0
        md.treeprocessors.register(_Links(md, self.complain), "wallwork_links", -100)


class _Names(Treeprocessor):  # type: ignore[misc]
    def __init__(self, md: Markdown, page_named: Callable[[str], str]) -> None:
        super().__init__(md)
        self.page_named = page_named

    def run(self, root: Element) -> None:
        for element in root.iter("a"):
            element.set("href", self.page_named(element.get("href", "")))


class _Links(Treeprocessor):  # type: ignore[misc]
    def __init__(self, md: Markdown, complain: Callable[[str], None]) -> None:
        super().__init__(md)
        self.complain = complain

    def run(self, root: Element) -> None:
        for element in root.iter():
            if element.tag == "img" and not _stays_here(element.get("src", "")):
                self.complain(f"contains an image from elsewhere, '{element.get('src')}'")
                element.attrib.pop("src")
            elif element.tag == "a" and not leads_to_a_page(element.get("href", "")):
                self.complain(f"contains a link '{element.get('href')}' that is no address of a page")
                element.attrib.pop("href")


def _parts(address: str) -> tuple[str, str] | None:
    plain = _IGNORED.sub("", html.unescape(address.replace(AMP_SUBSTITUTE, "&"))).replace("\\", "/")
    try:
        split = urlsplit(plain)
    except ValueError:
        return None
    return split.scheme.lower(), split.netloc


def leads_to_a_page(address: str) -> bool:
    """Tell whether a link leads to a page, a mailbox or a telephone, and runs nothing."""
    parts = _parts(address)
    return parts is not None and parts[0] in _LINKS


def _stays_here(address: str) -> bool:
    return _parts(address) == ("", "")
