"""Tables as files that a spreadsheet opens without running anything: CSV, and XLSX with the same bytes every time."""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal

import xlsxwriter

from generator.model.scalars import format_mm

Value = str | int | Decimal
"""What stands in a cell: text, or a number."""

_STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_WIDEST = 60  # characters of a column
_CREATED = datetime(2000, 1, 1, tzinfo=UTC)  # no clock in any file: one build gives the bytes of another


def safe_cell(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula, wherever it came from.

    A cell that begins with =, +, -, @, a tab or a line end (or their wide forms), blanks before it or not,
    gets an apostrophe before it, as OWASP's "CSV Injection" advises.
    """
    bare = text.lstrip(" \u00a0")
    return f"'{text}" if bare.startswith(_STARTS_FORMULA) else text


@dataclass(frozen=True)
class Sheet:
    """One table: its name (at most 31 characters), the names of its columns, its rows."""

    name: str
    columns: Sequence[str]
    rows: Sequence[Sequence[Value]]


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[Value]]) -> str:
    """Return a table as CSV, with a byte order mark so that spreadsheets read UTF-8."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([safe_cell(column) for column in columns])
    for row in rows:
        writer.writerow([_text(cell) for cell in row])
    return "\ufeff" + out.getvalue()


def _text(cell: Value) -> str:
    if isinstance(cell, str):
        return safe_cell(cell)
    return format_mm(cell) if isinstance(cell, Decimal) else str(cell)


def workbook(title: str, sheets: Iterable[Sheet]) -> bytes:
    """Return tables as one XLSX file: text typed as text and made safe besides, numbers as numbers, no formula.

    Text stays safe when the sheet is saved as CSV later, so it carries the same apostrophe as there.
    """
    out = io.BytesIO()
    book = xlsxwriter.Workbook(
        out,
        {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False},
    )
    book.set_properties({"title": title, "created": _CREATED})
    head = book.add_format({"bold": True, "bottom": 1})
    for sheet in sheets:
        page = book.add_worksheet(sheet.name)
        for column, name in enumerate(sheet.columns):
            page.write_string(0, column, safe_cell(name), head)
        for number, row in enumerate(sheet.rows, 1):
            for column, cell in enumerate(row):
                if isinstance(cell, str):
                    page.write_string(number, column, safe_cell(cell))
                else:
                    page.write_number(number, column, cell)
        for column, name in enumerate(sheet.columns):
            longest = max((len(str(row[column])) for row in sheet.rows), default=0)
            page.set_column(column, column, min(_WIDEST, max(len(name), longest) + 2))
        page.freeze_panes(1, 0)
        page.repeat_rows(0)
        page.set_landscape()
        page.set_paper(9)  # A4
        page.fit_to_pages(1, 0)
    book.close()
    return out.getvalue()
