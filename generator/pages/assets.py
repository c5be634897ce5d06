"""The files that pages load: styles, scripts, typefaces. A transit's page has its own put together in one file each.

On a slow network every file costs its own way there and back before anything is seen.
"""

import re
from collections.abc import Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable

from generator.pages import addresses
from generator.pages.script_words import put_in
from generator.pages.words import SOURCE_LANGUAGE, Words

STYLES = ("wallwork", "drawing", "transit", "states", "copy")
"""The styles of a transit's page, in their order; those of entering follow, on a screen only."""

ENTERING_STYLES = "record"
SCRIPTS = ("copy", "store", "measure", "handover", "record")
"""The scripts of a transit's page, in their order, each complete in itself; wallwork.js runs before them."""

_ONLY_TOGETHER = {f"{ENTERING_STYLES}.css", *(f"{name}.js" for name in SCRIPTS if name != "copy")}
_REMARK = re.compile(r"""(?<=[;,{})]) // [^"'`]*$""")
_IMPORT = re.compile(r"^@import .*\n", re.MULTILINE)


def assets() -> Iterator[tuple[str, bytes]]:
    """Yield every file that pages load, as (path from the root of the site, content), in the order of paths.

    Of a transit's scripts only the English ones: ``transit_scripts`` has those of other languages.
    """
    made = {
        addresses.TRANSIT_STYLES: transit_styles(),
        addresses.transit_scripts(): transit_scripts(Words(SOURCE_LANGUAGE)).encode("utf-8"),
    }
    yield from sorted([*_below(_folder(), addresses.ASSETS), *made.items()])


def transit_styles() -> bytes:
    """Return all styles of a transit's page but those of paper, as one sheet."""
    sheets = [_IMPORT.sub("", _read(f"{name}.css")) for name in STYLES]
    sheets += ["@media screen {\n", _read(f"{ENTERING_STYLES}.css"), "}\n"]
    return lean("".join(sheets).encode("utf-8"))


def transit_scripts(words: Words) -> str:
    """Return the scripts of a transit's page as one, with what they say in the language of ``words``.

    They run when the page is parsed; wallwork.js stays by itself, since it runs before.
    """
    return put_in(lean("".join(_read(f"{name}.js") for name in SCRIPTS).encode("utf-8")).decode("utf-8"), words)


def _folder() -> Traversable:
    return files("site_templates") / addresses.ASSETS


def _read(name: str) -> str:
    return (_folder() / name).read_text(encoding="utf-8")


def _below(folder: Traversable, path: str) -> Iterator[tuple[str, bytes]]:
    for entry in folder.iterdir():
        if entry.is_dir():
            if not entry.name.startswith("__"):
                yield from _below(entry, f"{path}/{entry.name}")
        elif entry.name not in _ONLY_TOGETHER:
            content = entry.read_bytes()
            yield f"{path}/{entry.name}", lean(content) if entry.name.endswith((".js", ".css")) else content


def lean(script: bytes) -> bytes:
    """Return a script or style sheet of ours without what a phone need not load: indents and comments.

    No text runs over a line, so lines are all this has to know: what follows "; //" without a quote is in no text.
    """
    kept = []
    in_comment = False
    for line in script.decode("utf-8").splitlines():
        text = line.strip()
        begins = text.startswith("/*")
        if text and not in_comment and not begins and not text.startswith("//"):
            kept.append(_REMARK.sub("", text))
        in_comment = (in_comment or begins) and not text.endswith("*/")
    return ("\n".join(kept) + "\n").encode("utf-8")
