"""Names that nearly agree: suggestions for typing errors, letters that only look Latin."""

import difflib
import re
import unicodedata
from collections.abc import Iterable

# Cyrillic and Greek letters that most typefaces draw like the Latin letter below them.
_SHAPES = str.maketrans(
    "АВЕЅІЈКМНОРСТУХЗаеѕіјкмнорстухгԛԝΑΒΕΖΗΙΚΜΝΟΡΤΥΧαικνορτυχ",
    "ABESIJKMHOPCTYX3aesijkmhopctyxrqwABEZHIKMNOPTYXaiKvoptux",
)


class Names:
    """Known names, ready to be searched for what was meant.

    Searching thousands of names for thousands of words would take minutes, and nobody reads so many
    suggestions: a word is searched for once, and after the first words a large collection finds no more.
    """

    _LARGE = 200
    _WORDS = 50

    def __init__(self, known: Iterable[str]) -> None:
        self._names = {_bare(name): name for name in known}
        self._found: dict[str, str | None] = {}

    def nearest(self, word: str) -> str | None:
        """Return the known name that was most likely meant, or None when none is near."""
        if word not in self._found:
            if len(self._names) > self._LARGE and len(self._found) >= self._WORDS:
                return None
            close = difflib.get_close_matches(_bare(word[:80]), self._names, n=1, cutoff=0.6)
            self._found[word] = self._names[close[0]] if close else None
        return self._found[word]

    def did_you_mean(self, word: str, otherwise: str) -> str:
        """Return what to write instead: the nearest known name, else ``otherwise``."""
        name = self.nearest(word)
        return f"did you mean {name}?" if name else otherwise


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known name that was most likely meant, or None when none is near."""
    return Names(known).nearest(word)


def did_you_mean(word: str, known: Iterable[str], otherwise: str) -> str:
    """Return what to write instead: the nearest known name, else ``otherwise``."""
    return Names(known).did_you_mean(word, otherwise)


def listed(words: Iterable[str], limit: int = 24) -> str:
    """Return names as a message lists them."""
    names = list(words)
    if len(names) > limit:
        return ", ".join(names[:limit]) + f" and {len(names) - limit} more"
    return ", ".join(names)


def shape(text: str) -> str:
    """Return what a hurried reader sees: no case, no spaces, letters of other scripts as they look."""
    plain = unicodedata.normalize("NFKC", text).translate(_SHAPES)
    return re.sub(r"\s+", "", plain).casefold()


def one_of(words: Iterable[str]) -> str:
    """Return the choice as a mend says it: 'one of a, b', or the only one."""
    names = list(words)
    return f"one of {listed(names)}" if len(names) > 1 else listed(names)


def foreign_character(text: str) -> str | None:
    """Name the first letter that only looks Latin or digit that only looks plain, or None.

    A text wholly in another script is no mix: it is named only when every letter of it looks Latin.
    """
    if text.isascii():
        return None
    digit = next((ch for ch in text if ch.isdigit() and not ch.isascii()), None)
    if digit:
        return f"the digit {digit} (U+{ord(digit):04X})"
    letters = [ch for ch in text if ch.isalpha()]
    posing = [ch for ch in letters if ord(ch) in _SHAPES]
    if not posing:
        return None
    latin = any(unicodedata.name(ch, "").startswith("LATIN") for ch in letters)
    if not latin and len(posing) < len(letters):
        return None
    script = unicodedata.name(posing[0]).split()[0].capitalize()
    return f"the {script} letter {posing[0]} (U+{ord(posing[0]):04X})"


def _bare(word: str) -> str:
    return shape(word).replace("_", "-")
