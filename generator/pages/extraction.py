"""Collects every message of the program into site_templates/locale/wallwork.pot, for translators.

Run it after a text was changed, from a checkout: ``python -m generator.pages.extraction``. For a language,
copy the .pot to ``<language>.po`` beside it and fill it in; it is read as it is, nothing is compiled.
"""

import re
from collections.abc import Iterable, Iterator
from io import BytesIO
from pathlib import Path

import yaml
from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.pofile import read_po, write_po

ROOT = Path(__file__).parents[2]
POT = ROOT / "site_templates" / "locale" / "wallwork.pot"

KEYWORDS: dict[str, tuple[int, ...] | None] = {"say": None, "_": None, "Message": None, "say_count": (1, 2)}
"""Calls whose first text is a message; ``say_count`` has one text for one and one for many."""

_HEADER = """# Messages of Wallwork. Made by: python -m generator.pages.extraction
msgid ""
msgstr ""
"Content-Type: text/plain; charset=utf-8\\n"

"""
_TEXTS = ("title", "title_of_one", "text", "reads", "tools", "card")


def collect() -> str:
    """Return the text of the .pot: messages in a fixed order, with the files they are from, no dates or lines."""
    found: dict[str | tuple[str, ...], set[str]] = {}
    for path, message in _messages():
        if isinstance(message, str) and not re.search(r"[^\W\d_]", re.sub(r"\{\w+\}", "", message)):
            continue  # nothing but places for values: no words to translate
        found.setdefault(message, set()).add(path.relative_to(ROOT).as_posix())
    catalog = Catalog(project="wallwork", charset="utf-8", header_comment="# Messages of Wallwork.")
    for message, paths in sorted(found.items(), key=lambda item: (sorted(item[1]), str(item[0]))):
        catalog.add(message, locations=[(path, 0) for path in sorted(paths)])
    out = BytesIO()
    write_po(out, catalog, width=100, omit_header=True, include_lineno=False)
    header = 'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=utf-8\\n"\n\n'
    return (
        "# Messages of Wallwork. Made by: python -m generator.pages.extraction\n" + header + out.getvalue().decode()
    )


def _messages() -> Iterator[tuple[Path, str | tuple[str, ...]]]:
    for path in sorted((ROOT / "generator").rglob("*.py")):
        if path.name != "cli.py":  # the command speaks English
            yield from _called("python", path)
    for path in sorted((ROOT / "site_templates").rglob("*.html")):
        yield from _called("jinja2", path)
    for path in sorted((ROOT / "site_templates" / "assets").glob("*.js")):
        yield from _called("javascript", path)
    folders = (ROOT / "site_templates" / "procedure", ROOT / "site_templates" / "reference")
    for path in sorted(path for folder in folders for path in folder.glob("*.yaml")):
        for message in _of_procedure(yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader)):
            yield path, message


def _called(method: str, path: Path) -> Iterator[tuple[Path, str | tuple[str, ...]]]:
    source = BytesIO(path.read_bytes())
    for _line, message, _comments, _context in extract(method, source, keywords=KEYWORDS):
        yield path, tuple(message) if isinstance(message, tuple | list) else message


def _of_procedure(content: object) -> Iterator[str]:
    """Yield titles, texts, readings, tools and card lines of steps and cautions, wherever they stand."""
    if isinstance(content, dict):
        for key, value in content.items():
            if key in _TEXTS:
                yield from _strings(value)
            else:
                yield from _of_procedure(value)
    elif isinstance(content, list):
        for item in content:
            yield from _of_procedure(item)


def _strings(value: object) -> Iterable[str]:
    if isinstance(value, str):
        return [value]
    several = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return [item for item in several if isinstance(item, str)]


def missing(pot: str, po: bytes) -> list[str]:
    """Return the messages of a .pot that a .po has no words for: those are shown in English. Fuzzy ones count."""
    known = read_po(BytesIO(po))
    found = []
    for message in read_po(BytesIO(pot.encode("utf-8"))):
        told = known.get(message.id) if message.id else message
        if told is None or told.fuzzy or not all([told.string] if isinstance(told.string, str) else told.string):
            found.append(message.id if isinstance(message.id, str) else message.id[0])
    return [text for text in found if text]


def main() -> None:
    """Write the .pot anew, and say what each language has no words for."""
    POT.parent.mkdir(parents=True, exist_ok=True)
    pot = collect()
    POT.write_text(pot, encoding="utf-8", newline="\n")
    for path in sorted(POT.parent.glob("*.po")):
        left = missing(pot, path.read_bytes())
        print(f"{path.name}: {len(left)} messages without words", *left, sep="\n  ")


if __name__ == "__main__":
    main()
