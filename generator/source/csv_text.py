"""CSV as text with positions: commas, semicolons or tabs, quoted fields, what spreadsheets save."""

import re
from dataclasses import dataclass

from generator.errors import Problem, Where, WorkPackError
from generator.model.scalars import quoted
from generator.source.files import LINE_END, refused
from generator.source.lookalikes import did_you_mean, listed
from generator.source.positions import Map, Text

_SEPARATORS = ",;\t"


class Cell(Text):
    """A field of a row, with the text it was read from, so that a place inside it can be named."""

    __slots__ = ("raw",)

    raw: str
    """As it stands in the file, from ``column`` on: its opening quote, doubled quotes, line ends."""

    def part(self, start: int, end: int) -> Text:
        """Return the characters from ``start`` to ``end`` with their own place."""
        inset = 1 if self.raw.startswith('"') else 0
        line, column, index = self.line, self.column + inset, inset
        for _ in range(start):
            end_of_line = LINE_END.match(self.raw, index)
            if end_of_line:
                line, column, index = line + 1, 1, end_of_line.end()
            else:
                width = 2 if self.raw.startswith('""', index) else 1
                column, index = column + width, index + width
        return Text(self[start:end], self.file, line, column)


@dataclass(frozen=True)
class Column:
    """A column the file may have."""

    name: str
    required: bool = False


def parse_csv(text: str, file: str, columns: tuple[Column, ...]) -> list[Map]:
    """Read rows below a header line; each row is a Map of the columns to Cells, empty ones too.

    A key of such a Map has the place of its cell, so that an empty cell has a place too.

    Rows without any text are skipped; columns without a name are skipped while they are empty. Raises
    WorkPackError with every problem of the header and of the rows' shape.
    """
    lines = _Lines(text, file)
    header = lines.row()
    while header is not None and not any(header):
        header = lines.row()
    if header is None:
        raise refused(
            Where(file),
            f"{file} is empty",
            "its first line names the columns",
            f"write the line {','.join(column.name for column in columns)}",
        )
    problems = _judge_header(header, columns, file)
    rows = []
    while (cells := lines.row()) is not None:
        if not any(cells):
            continue
        if len(cells) < len(header) and any(header[len(cells) :]):
            problems.append(
                Problem(
                    Where(file, cells[0].line, 1),
                    f"this row has {len(cells)} fields",
                    f"the header line has {len(header)}",
                    "add what is missing; an empty field still has its separator",
                )
            )
            continue
        row = Map(cells[0].where)
        for index, cell in enumerate(cells):
            if index < len(header) and header[index]:
                row[Text(header[index], file, cell.line, cell.column)] = cell
            elif cell:
                problems.append(
                    Problem(
                        cell.where,
                        f"{quoted(cell)} stands in a field without a column",
                        "every field belongs to a column that the header line names",
                        "put text that holds a separator in double quotes, or remove it",
                    )
                )
        rows.append(row)
    problems += lines.problems
    if problems:
        raise WorkPackError(problems)
    return rows


def _judge_header(header: list[Cell], columns: tuple[Column, ...], file: str) -> list[Problem]:
    known = [column.name for column in columns]
    problems = []
    seen: dict[str, Cell] = {}
    for cell in header:
        if cell and cell in seen:
            problems.append(
                Problem(
                    cell.where,
                    f"the column {quoted(cell)} stands here a second time",
                    f"a column stands once, and it begins at character {seen[cell].column} of this line already",
                    "remove one of the two",
                )
            )
        elif cell and cell not in known:
            problems.append(
                Problem(
                    cell.where,
                    f"{quoted(cell)} is not a column of {file}",
                    f"its columns are {listed(known)}",
                    did_you_mean(cell, known, "remove the column, or name it as one of these"),
                )
            )
        seen.setdefault(cell, cell)
    for column in columns:
        if column.required and column.name not in seen:
            problems.append(
                Problem(
                    Where(file, header[0].line, 1),
                    f"the column {column.name} is missing",
                    "every row needs it",
                    f"add {column.name} to the header line and its value to every row",
                )
            )
    return problems


class _Lines:
    """Rows of cells, one at a time; rows that no quote complicates are split at once."""

    def __init__(self, text: str, file: str) -> None:
        self.text = text
        self.file = file
        self.index = 0
        self.line = 1
        self.problems: list[Problem] = []
        self.separator = self._find_separator()

    def row(self) -> list[Cell] | None:
        """Return the next row, None at the end."""
        if self.index >= len(self.text):
            return None
        end = LINE_END.search(self.text, self.index)
        stop = end.start() if end else len(self.text)
        if '"' in self.text[self.index : stop]:
            return self._quoted_row()
        cells = []
        column = 1
        for piece in self.text[self.index : stop].split(self.separator):
            cells.append(self._cell(piece, self.line, column))
            column += len(piece) + 1
        self._go_on(end.end() if end else stop)
        return cells

    def _quoted_row(self) -> list[Cell]:
        cells = []
        line_start = self.index
        text, separator = self.text, self.separator
        while True:
            start = self.index
            while text[self.index : self.index + 1] == " ":
                self.index += 1
            if text[self.index : self.index + 1] == '"':
                opened = Where(self.file, self.line, self.index - line_start + 1)
                cell, line_start = self._quoted_cell(line_start)
                cells.append(cell)
                rest = self.index
                self._skip_to_end_of_cell()
                if text[rest : self.index].strip(" "):
                    self.problems.append(
                        Problem(
                            Where(self.file, self.line, rest - line_start + 1),
                            f"{quoted(text[rest : self.index])} follows a closing quote",
                            f"the field that opens at {opened.line}:{opened.column} ends with its quote",
                            "write a quote inside quoted text twice",
                        )
                    )
            else:
                self.index = start
                self._skip_to_end_of_cell()
                cells.append(self._cell(text[start : self.index], self.line, start - line_start + 1))
            if text[self.index : self.index + 1] != separator:
                break
            self.index += 1
        end = LINE_END.match(text, self.index)
        self._go_on(end.end() if end else len(text))
        return cells

    def _quoted_cell(self, line_start: int) -> tuple[Cell, int]:
        """Read from an opening quote to past the closing one; return the cell and where its last line starts."""
        opened = self.index
        where = Where(self.file, self.line, opened - line_start + 1)
        close = opened + 1
        while True:
            close = self.text.find('"', close)
            if close < 0:
                raise WorkPackError(
                    [
                        *self.problems,
                        Problem(
                            where,
                            "a double quote is opened and never closed",
                            "a field that begins with a double quote ends with one",
                            "close the quote; write a quote inside quoted text twice",
                        ),
                    ]
                )
            if self.text[close + 1 : close + 2] != '"':
                break
            close += 2
        raw = self.text[opened + 1 : close]
        cell = Cell(LINE_END.sub("\n", raw).replace('""', '"'), where.file, where.line, where.column)
        cell.raw = self.text[opened:close]
        for end in LINE_END.finditer(self.text, opened, close):
            self.line += 1
            line_start = end.end()
        self.index = close + 1
        return cell, line_start

    def _cell(self, piece: str, line: int, column: int) -> Cell:
        """A field without quotes: spaces around it are no part of it."""
        bare = piece.strip(" ")
        cell = Cell(bare, self.file, line, column + len(piece) - len(piece.lstrip(" ")) if bare else column)
        cell.raw = bare
        return cell

    def _skip_to_end_of_cell(self) -> None:
        ends = self.separator + "\r\n"
        while self.index < len(self.text) and self.text[self.index] not in ends:
            self.index += 1

    def _go_on(self, index: int) -> None:
        self.index = index
        self.line += 1

    def _find_separator(self) -> str:
        """The header decides: the separator it uses most often, the comma when it uses none."""
        first = self.text.lstrip("\r\n,;\t ") or ""
        header = re.sub(r'"[^"]*"', "", LINE_END.split(first, maxsplit=1)[0])
        return max(_SEPARATORS, key=header.count)
