"""Task: a frame's bays and what may and must stand in them, in whole units."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from generator.engine.solver.rows import Space, Supply

Options = tuple[int, ...]
"""The sizes (as places in the task's sizes, ascending) whose blocks hold a cable."""


@dataclass(frozen=True, slots=True)
class Task:
    """A frame's bays and what may stand in them, in whole units."""

    spaces: tuple[Space, ...]
    sizes: tuple[int, ...]
    heights: tuple[int, ...]
    """Heights a row may have: sides of blocks and fillers."""
    fills: int
    """Bit mask over ``sizes``: sizes that may fill a bay beyond what is needed."""


@dataclass(frozen=True, slots=True)
class Ask:
    """What must stand in the bays: how many cables have which options, and spares asked for by size."""

    cables: tuple[tuple[Options, int], ...]
    spares: Supply

    @classmethod
    def of(cls, options: Sequence[Options], spares: Supply) -> "Ask":
        """Count cables with the same options."""
        return cls(tuple(sorted(Counter(options).items())), spares)
