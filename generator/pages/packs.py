"""Packs: pages that a phone takes along together, small because what pages share stands in them once.

Pages of one job say much the same, but further apart than the 32 KiB that DEFLATE looks back (RFC 1951). So
each page is cut in pieces at its lines and where the larger elements begin, a piece that is met again is
only named by its number, and the whole is compressed.
"""

import gzip
import hashlib
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

PLACES = 50
"""Transits in a pack, about: more make fewer requests, fewer make a page quicker to unpack."""

_CUTS = re.compile(r"(?<=\n)|(?=<(?:g|text|tr|li|path|use|h4|p|b|bdi)[ >])")


def pack(pages: Mapping[str, str]) -> bytes:
    """Return pages, by their addresses, as one compressed file.

    Unpacked it is JSON: ``pieces``, and ``pages`` with the numbers of each page's pieces in their order, each as
    its distance from the one before (from 0 for the first): mostly 1, which is small when it is compressed.
    The same pages give the same bytes.
    """
    numbers: dict[str, int] = {}
    cut = {
        address: _distances([numbers.setdefault(piece, len(numbers)) for piece in _CUTS.split(text)])
        for address, text in pages.items()
    }
    text = json.dumps({"pieces": list(numbers), "pages": cut}, ensure_ascii=False, separators=(",", ":"))
    return gzip.compress(text.encode("utf-8"), 9, mtime=0)


def _distances(numbers: list[int]) -> list[int]:
    return [number - before for before, number in pairwise([0, *numbers])]


def digest(content: bytes) -> str:
    """Return the SHA-256 of a file, as hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


@dataclass(frozen=True)
class Load:
    """What goes into one pack: walls and transits of one area. A wall with many transits is in several."""

    area: str
    walls: tuple[str, ...]
    transits: tuple[str, ...]


def share_out(walls: Iterable[tuple[str, str, tuple[str, ...]]], places: int = PLACES) -> Iterator[Load]:
    """Put walls into packs of about ``places`` transits, each pack within one area.

    ``walls`` has each wall's area, ID and transits. Areas come in the order of their names, walls and
    transits of an area as given.
    """
    areas: dict[str, list[tuple[str, str]]] = {}
    for area, wall, transits in walls:
        areas.setdefault(area, []).extend((wall, transit) for transit in transits or ("",))
    for area, entries in sorted(areas.items()):
        for start in range(0, len(entries), places):
            part = entries[start : start + places]
            yield Load(
                area,
                tuple(dict.fromkeys(wall for wall, _ in part)),
                tuple(transit for _, transit in part if transit),
            )
