"""Task: a frame's bays and what may and must stand in them, in whole units."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from generator.engine.solver.rows import Space, Supply

Options = tuple[int, ...]
"""The sizes (as places in the task's sizes, ascending) whose blocks hold a cable."""


class Tag(NamedTuple):
    """What the rules see of a cable: its class, its circuit, the block that it stays in; -1 where none of them is."""

    kept: int = -1
    circuit: int = -1
    service: int = -1


Item = tuple[int, Tag]
"""Blocks of one size for cables of one tag."""
OTHERS = -1
"""The columns of a row that no class has to itself."""
FREE = Tag()
"""The tag of a cable that no rule speaks of."""


@dataclass(frozen=True, slots=True)
class Apart:
    """Classes that are kept apart: for each class a bit mask of those it shares no row, or no bay, with."""

    rows: tuple[int, ...] = ()
    bays: tuple[int, ...] = ()
    zones: int = 0
    """The classes that have columns of their own, as a bit mask."""


NO_RULE = Apart()


@dataclass(frozen=True, slots=True)
class Task:
    """A frame's bays and what may stand in them, in whole units."""

    spaces: tuple[Space, ...]
    sizes: tuple[int, ...]
    heights: tuple[int, ...]
    """Heights a row may have: sides of blocks and fillers."""
    fills: int
    """Bit mask over ``sizes``: sizes that may fill a bay beyond what is needed."""
    spare_sizes: int = 0
    """Bit mask over ``sizes``: sizes whose blocks are spares where they fill."""
    spare_area: int = 0
    """Area that spares cover beyond those asked for by size."""
    kept: tuple[tuple[int, Tag], ...] = ()
    """Size and tag of each cable whose block stays."""
    kept_spares: Supply = ()
    """How many of the spares asked for stay where they are, by size; empty where none does."""
    apart: Apart = NO_RULE


@dataclass(frozen=True, slots=True)
class Ask:
    """What must stand in the bays: how many cables have which options and tag, and spares asked for by size."""

    cables: tuple[tuple[Options, int], ...]
    spares: Supply
    tags: tuple[Tag, ...] = ()
    """The tag of each entry of ``cables``; empty where no rule speaks of any."""

    @property
    def ruled(self) -> bool:
        """Whether rules speak of any cable."""
        return bool(self.tags)

    @classmethod
    def of(cls, options: Sequence[Options], spares: Supply, tags: Sequence[Tag] = ()) -> "Ask":
        """Count cables with the same options and the same tag."""
        if not any(tag is not FREE and tag != FREE for tag in tags):
            alike: dict[Options, int] = {}
            for one in options:
                alike[one] = alike.get(one, 0) + 1
            return cls(tuple(sorted(alike.items())), spares)
        counted = sorted(Counter(zip(options, tags, strict=True)).items())
        return cls(
            tuple((kind, count) for (kind, _), count in counted), spares, tuple(tag for (_, tag), _ in counted)
        )
