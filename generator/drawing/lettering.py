"""How wide and high words are in the site's typeface: label rules are computed, never guessed."""

from functools import lru_cache

from generator.drawing.plex_widths import BY_WIDTH

CAPITAL = 0.7
"""Height of capitals and figures, share of the type size (0.698 in the fonts' OS/2 table)."""
TALL = 0.82
"""How far b, d, h, brackets and the highest signs reach above the baseline (measured on the outlines)."""
DEEP = 0.22
"""How far g, Q, commas and brackets reach below it (measured on the outlines)."""

_WIDTHS = {
    weight: {letter: width for width, letters in table.items() for letter in letters}
    for weight, table in BY_WIDTH.items()
}
_UNKNOWN = 1000  # a letter the typeface lacks comes from another: at most as wide as the size, as CJK is
_LOW = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-–.,;:·Ø+±×~= acemnorsuvwxzgpqy_&%#")
_FLAT = frozenset("ABCDEFGHIJKLMNOPRSTUVWXYZ0123456789-–.:·+±×~= abcdefhiklmnorstuvwxz%#&*'\"?!<>^") | {"Ø"}


@lru_cache(maxsize=65536)
def _thousandths(text: str, weight: int) -> int:
    widths = _WIDTHS[weight]
    return sum([widths.get(letter, _UNKNOWN) for letter in text])


def text_width(text: str, size: float, weight: int = 400) -> float:
    """Return the width of a line of text, in the unit of ``size``; drawing.css turns kerning off."""
    return _thousandths(text, weight) * size / 1000


@lru_cache(maxsize=65536)
def reach(text: str) -> tuple[float, float]:
    """Return how far a line reaches above and below its baseline, as shares of the type size."""
    return (CAPITAL if _LOW.issuperset(text) else TALL, 0.04 if _FLAT.issuperset(text) else DEEP)


def wrap(text: str, width: float, size: float, weight: int = 400) -> list[str]:
    """Break text into lines no wider than ``width``: at spaces, else inside a word that is too long alone.

    A figure or a letter is not left alone on the last line: it takes the word before with it.
    """
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if text_width(longer, size, weight) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        while text_width(word, size, weight) > width and len(word) > 1:
            keep = len(word) - 1
            while keep > 1 and text_width(word[:keep], size, weight) > width:
                keep -= 1
            lines.append(word[:keep])
            word = word[keep:]
        line = word
    lines.append(line)
    if len(lines) > 1 and len(line) <= 2 and " " in lines[-2]:
        before, word = lines[-2].rsplit(" ", 1)
        if text_width(f"{word} {line}", size, weight) <= width:
            lines[-2:] = [before, f"{word} {line}"]
    return lines
