"""What was ordered, handed out and brought back: the rows of ``stock.csv``, which a job may leave out."""

from collections.abc import Iterable

from pydantic import ValidationError

from generator.errors import Problem
from generator.model.job import Definition
from generator.model.quantities import PartKey, Stock
from generator.model.scalars import quoted
from generator.source.csv_text import Column
from generator.source.explain import explain
from generator.source.lookalikes import Names
from generator.source.positions import Map, Text

STOCK_COLUMNS = tuple(Column(name, name == "part") for name in Stock.model_fields)
"""The columns of ``stock.csv``, in the order in which they are best written."""


def read_stock(rows: Iterable[Map]) -> tuple[list[tuple[Stock, Map]], list[Problem]]:
    """Turn rows into entries, each beside its row; the problems hold every row's own faults."""
    entries = []
    problems: list[Problem] = []
    for row in rows:
        part = row["part"]
        subject = f"part {quoted(part)[1:-1]}" if part else f"the part of line {row.where.line}"
        try:
            stock = Stock.model_validate(Map(row.where, ((key, value) for key, value in row.items() if value)))
        except ValidationError as error:
            problems += explain(error, Stock, row, subject)
        else:
            entries.append((stock, row))
    return entries, problems


def place_stock(
    entries: Iterable[tuple[Stock, Map]], definition: Definition
) -> tuple[tuple[Stock, ...], list[Problem]]:
    """Find the part that each entry speaks of; every entry comes back with its sealing system.

    The problems hold parts that no system has, and (to be looked at) sums that can't be.
    """
    known = {name: set(definition.catalogues[name].groups) for name in definition.job.catalogues}
    every = Names(part for parts in known.values() for part in parts)
    placed: list[Stock] = []
    problems: list[Problem] = []
    sums: dict[PartKey, tuple[int, int, int, Map]] = {}
    for stock, row in entries:
        systems = (stock.catalogue,) if stock.catalogue else definition.job.catalogues
        system = next((name for name in systems if stock.part in known.get(name, ())), None)
        if system is None:
            problems.append(_unknown(stock, row, known, every))
            continue
        placed.append(stock.model_copy(update={"catalogue": system}))
        key = (system, stock.part)
        ordered, issued, returned, _ = sums.get(key, (0, 0, 0, row))
        sums[key] = (ordered + stock.ordered, issued + stock.issued, returned + stock.returned, row)
    for (_, part), (ordered, issued, returned, row) in sums.items():
        if returned > issued:
            problems.append(_doubt(row, "returned", f"of {part} {returned} came back, and {issued} were handed out"))
        if issued > ordered:
            problems.append(_doubt(row, "issued", f"of {part} {issued} were handed out, and {ordered} were ordered"))
    return tuple(placed), problems


def _unknown(stock: Stock, row: Map, known: dict[str, set[str]], every: Names) -> Problem:
    if stock.catalogue and stock.catalogue not in known:
        return Problem(
            _cell(row, "catalogue").where,
            f"catalogue names {quoted(stock.catalogue)} for part {stock.part}",
            "the job has no sealing system of that name",
            Names(known).did_you_mean(stock.catalogue, "name one that job.yaml lists, or leave it empty"),
        )
    return Problem(
        _cell(row, "part").where,
        f"part is {quoted(stock.part)}",
        f"{'this sealing system has' if stock.catalogue else 'the sealing systems of the job have'} no such part",
        every.did_you_mean(stock.part, "write the part number as the catalogue has it"),
    )


def _doubt(row: Map, column: str, what: str) -> Problem:
    where = _cell(row, column).where if column in row else row.where
    return Problem(
        where,
        what,
        "the rows of a part are added up",
        "mend a row, or add the one that is missing",
        severity="look",
    )


def _cell(row: Map, column: str) -> Text:
    cell = row[column]
    assert isinstance(cell, Text)
    return cell
