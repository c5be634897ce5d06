"""Read pages back with the standard library's parser, as a browser would see their elements and text."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from posixpath import dirname, normpath
from urllib.parse import unquote, urlsplit

VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}


@dataclass
class Element:
    """An element with its attributes and all the text inside it."""

    name: str
    attributes: dict[str, str]
    text: str = ""
    inside: list["Element"] = field(default_factory=list)

    @property
    def classes(self) -> set[str]:
        """Its classes."""
        return set(self.attributes.get("class", "").split())


class Document(HTMLParser):
    """A page taken apart. ``elements`` in the order of the page."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[Element] = []
        self._open: list[Element] = []
        self.feed(html)
        self.close()
        assert not self._open, f"not closed: {[element.name for element in self._open]}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs})
        self.elements.append(element)
        for around in self._open:
            around.inside.append(element)
        if tag not in VOID:
            self._open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self._open.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self._open and self._open[-1].name == tag, f"</{tag}> closes {self._open[-1:]}"
        self._open.pop()

    def handle_data(self, data: str) -> None:
        for element in self._open:
            element.text += data

    def all(self, name: str = "", cls: str = "") -> list[Element]:
        """Return the elements of that name and class, either may be left out."""
        return [e for e in self.elements if name in ("", e.name) and (not cls or cls in e.classes)]

    def attributes(self, name: str) -> list[str]:
        """Return every value of an attribute."""
        return [element.attributes[name] for element in self.elements if name in element.attributes]

    @property
    def text(self) -> str:
        """All text of the page, white space made single."""
        return " ".join("".join(e.text for e in self.elements if e.name in ("header", "main", "html")).split())


def leads_to(here: str, href: str) -> str:
    """Return the file that a relative link on the page ``here`` leads to, from the root of the site."""
    parts = urlsplit(href)
    assert not parts.scheme and not parts.netloc and not parts.path.startswith("/"), f"{href} is not relative"
    if not parts.path:
        return here
    return normpath(f"{dirname(here)}/{unquote(parts.path)}").lstrip("/")
