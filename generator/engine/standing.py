"""Standing: the rows of a bay as they come to stand, column by column, before they are put into words."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from operator import itemgetter


@dataclass(slots=True)
class Cell:
    """One block: its place in its column, its size, and what is in it."""

    dx: int
    dy: int
    size: int
    which: int = -1
    """The entry of ``keep`` by which it stays; -1 where none says so."""
    cable: int | None = None
    solid: bool = False


@dataclass(slots=True)
class StandingColumn:
    """A column of a row; ``owner`` is the class that has it to itself."""

    width: int
    owner: int
    cells: list[Cell] = field(default_factory=list)
    nested: bool = False


@dataclass(slots=True)
class StandingRow:
    """A row: its columns from left to right; those of one part may change places."""

    height: int
    parts: list[list[StandingColumn]]

    def columns(self) -> Iterator[tuple[int, StandingColumn]]:
        """Yield left edge and column, from left to right."""
        x = 0
        for part in self.parts:
            for column in part:
                yield x, column
                x += column.width

    def cells(self) -> list[tuple[int, int, Cell]]:
        """Return (x, y in the row, block), left to right and low before high."""
        found: list[tuple[int, int, Cell]] = []
        for x, column in self.columns():
            cells = [(x + cell.dx, cell.dy, cell) for cell in column.cells]
            if column.nested:
                cells.sort(key=itemgetter(0, 1))
            found += cells
        return found
