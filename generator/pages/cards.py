"""How a transit fits on A6 cards: what is too much for one goes to the next, never to smaller type.

All lengths in mm of paper; site_templates/assets/card.css draws the same figures.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from markupsafe import Markup

from generator.drawing.lettering import text_width
from generator.pages.view import BlockLine, Reading, ReadingTable, RowLines

WIDTH, HEIGHT = 97.0, 140.0
"""What an A6 card holds inside its edge of 4 mm."""

_PLATE, _SMALL_PLATE = 14.8, 11.0
_SIDE = 30.0  # width of the column beside the drawing: code, three cautions, standing sentence
# Of the code's quiet squares, so much lies over the white around its column, above and below, and at its left.
_CODE_CUT, _CODE_LEFT = 3.2, 2.3
_TABLE_HEAD, _TABLE_ROW = 4.8, 3.9
_LINE, _FOOT = 3.8, 4.4
_TEXT = 3.0  # type size of notes
_TAG = 3.2  # type size of tags
_TAG_WIDTH, _TAG_WIDTH_LONG_PLACE, _WIDE_TAG_WIDTH = 11.4, 9.0, 58.0  # their room in two columns, and in one
CAUTIONS = 3
"""So many cautions stand on a card, by rank."""
_MORE_HEAD, _MORE_SIGNAL = 8.5, 38.0  # heading of further cautions, and the room of their signal words
_LEAST_ROWS = 3  # a shorter piece of a table is left to the next card


@dataclass(frozen=True)
class Note:
    """What cables that must be measured take: the readings to expect, with their layers.

    ``cables`` are (position, tag) of all that share them.
    """

    cables: tuple[tuple[str, str], ...]
    readings: tuple[Reading, ...]


@dataclass(frozen=True)
class ShortCaution:
    """A caution in the few words of a card."""

    signal: str
    title: str
    text: str
    english: str = ""
    """The same in English, where the language of the card is a draft."""


@dataclass
class Card:
    """One card. ``drawing`` is its <svg>, '' on a card that carries only what was too much for the others.

    ``columns`` are one or two columns of the cable table, left first; ``wide`` when tags need the whole width.
    ``more_cautions`` are those of lower rank for which the last of several cards has room.
    """

    bay: int
    drawing: Markup
    room: float
    columns: tuple[tuple[BlockLine, ...], ...] = ()
    wide: bool = False
    notes: list[Note] = field(default_factory=list)
    closing: tuple[str, ...] = ()
    cautions: tuple[ShortCaution, ...] = ()
    more_cautions: tuple[ShortCaution, ...] = ()


def drawing_height(drawing: str) -> float:
    """Return the height in mm that an <svg> for a card says it has."""
    found = re.search(r'height="([0-9.]+)mm"', drawing)
    if found is None:
        raise ValueError("a drawing for a card says its height in mm")
    return float(found[1])


def count_lines(text: str, width: float, size: float = _TEXT, weight: int = 600) -> int:
    """Return how many lines a text takes; the heavier weight makes it an upper bound."""
    lines, used = 1, 0.0
    for word in text.split():
        wide = text_width(word + " ", size, weight)
        if used and used + wide > width:
            lines, used = lines + 1, 0.0
        lines += int(wide // width)
        used += wide % width if wide > width else wide
    return lines


def beside_code(code: float, texts: Sequence[str]) -> bool:
    """Tell whether every word of some texts fits the width that a code leaves of its column."""
    room = _SIDE - code + _CODE_LEFT
    return all(text_width(word, _TEXT, 600) <= room for text in texts for word in text.split())


def side_height(code: float, scan: Sequence[str], cautions: Sequence[ShortCaution], standing: str) -> float:
    """Return how high the column beside the drawing is: code, cautions, standing sentence."""
    if beside_code(code, scan):
        lines = sum(count_lines(text, _SIDE - code + _CODE_LEFT) for text in scan)
        height = max(code - _CODE_CUT, lines * 3.5)
    else:
        height = code - _CODE_CUT + sum(count_lines(text, _SIDE) for text in scan) * 3.5
    height += 1.2 + count_lines(standing, _SIDE, 3.0, 700) * 3.5 + 1.2
    for caution in cautions:
        height += 6.0 + count_lines(caution.title, _SIDE, 3.7, 700) * 4.1
        height += count_lines(caution.text, _SIDE, 3.0, 400) * 3.5 if caution.text else 0
        height += count_lines(caution.english, _SIDE, 2.6, 400) * 3.0 if caution.english else 0
    return height


def lay_out(
    drawings: Mapping[int, Markup],
    rows: Sequence[RowLines],
    tables: Sequence[ReadingTable],
    closing: Sequence[str],
    cautions: Sequence[ShortCaution],
    standing: str,
    code: float,
    scan: Sequence[str],
) -> tuple[Card, ...]:
    """Put everything on cards: a card for each bay's drawing with its cables, then cards for the rest.

    ``drawings`` goes by bay (0 for a split seal), ``closing`` are the lines that say how it is closed,
    ``cautions`` come with the lowest rank first, ``code`` is the side of the QR code and
    ``scan`` what stands beside it.
    """
    chosen = tuple(cautions[:CAUTIONS])
    side = side_height(code, scan, chosen, standing)
    by_part = {table.part: table for table in tables}
    needed = sum(count_lines(text, WIDTH) for text in closing) * _LINE + 0.6
    cards: list[Card] = []
    first = True
    for bay, its_rows in groupby(rows, key=lambda row: row.bay):
        lines = [line for row in its_rows for line in row.lines if line.cable]
        drawing = drawings[bay]
        room = HEIGHT - _PLATE - max(drawing_height(drawing), side) - _FOOT
        card = Card(bay, drawing, room, cautions=chosen)
        if first and needed <= card.room:
            card.closing = tuple(closing)
            card.room -= needed
        first = False
        cards.append(card)
        _put_lines(cards, lines)
        shared: dict[tuple[Reading, ...], list[tuple[str, str]]] = {}
        for line in lines:
            if line.cable and line.measure and (table := by_part.get(line.part)):
                shared.setdefault(_expected(line, table), []).append((line.position, line.cable.tag))
        for readings, cables in shared.items():
            _put_note(cards, Note(tuple(cables), readings))
    if cards and closing and not cards[0].closing:  # too much beside what a first card must carry
        if cards[-1].room < needed:
            cards.append(_more(cards[-1].bay))
        cards[-1].closing = tuple(closing)
        cards[-1].room -= needed
    if len(cards) > 1 and not cards[-1].drawing:
        cards[-1].more_cautions = tuple(_with_room(cautions[CAUTIONS:], cards[-1].room))
    return tuple(cards)


def _with_room(cautions: Sequence[ShortCaution], room: float) -> Iterator[ShortCaution]:
    room -= _MORE_HEAD
    for caution in cautions:
        words = " ".join((caution.title, caution.text, caution.english))
        room -= count_lines(words, WIDTH - _MORE_SIGNAL, _TEXT, 700) * _LINE + 0.6
        if room < 0:
            return
        yield caution


def _put_lines(cards: list[Card], lines: list[BlockLine]) -> None:
    widest = max((text_width(line.cable.tag, _TAG, 700) for line in lines if line.cable), default=0)
    room = _TAG_WIDTH if not any(line.has_long_place for line in lines) else _TAG_WIDTH_LONG_PLACE
    many = 1 if widest > room else 2
    while lines:
        card = cards[-1]
        # In one column a tag may run over several lines; the longest decides for all.
        deep = _TABLE_ROW if many == 2 else _TABLE_ROW * max(1, -(-widest // _WIDE_TAG_WIDTH))
        fit = int((card.room - _TABLE_HEAD) // deep)
        if fit >= min(_LEAST_ROWS, -(-len(lines) // many)):
            # Rows that all fit are shared between the columns, so that both are equally long.
            deepest = min(fit, -(-len(lines) // many))
            taken = [tuple(lines[column * deepest : (column + 1) * deepest]) for column in range(many)]
            card.columns = tuple(column for column in taken if column)
            card.wide = many == 1
            card.room -= _TABLE_HEAD + deepest * deep
            lines = lines[many * deepest :]
        if lines:
            cards.append(_more(card.bay))


def _more(bay: int) -> Card:
    return Card(bay, Markup(), HEIGHT - _SMALL_PLATE - _FOOT)


def _put_note(cards: list[Card], note: Note) -> None:
    deep = count_lines(note_text(note), WIDTH) * _LINE
    if cards[-1].room < deep + 1:
        cards.append(_more(cards[-1].bay))
    cards[-1].notes.append(note)
    cards[-1].room -= deep


def note_text(note: Note) -> str:
    """Return a note as one line of text, for measuring it."""
    cables = ", ".join(f"{position} {tag}" for position, tag in note.cables)
    answers = " · ".join(f"{r.least}–{r.most} A {r.a} B {r.b}" for r in note.readings)
    return f"{cables}, measure first: {answers}"


def _expected(line: BlockLine, table: ReadingTable) -> tuple[Reading, ...]:
    wanted = line.cable.tag if line.cable else ""
    return tuple(row for row, tags in table.rows if any(tag == wanted for tag, _likely in tags))
