"""The packing as models for OR-Tools' CP-SAT, written from the statement of the problem alone.

``book`` is what an engineer who knows the textbook writes in an afternoon: row slots, columns, one variable a
cable. ``expert`` is what one writes who has done it before: patterns listed beforehand, equal bays, rows and
cables counted, not told apart. ``arcs`` knows where every row and column begins: it takes blocks that stay where
they are, and is the slowest. They share nothing with the engine's solver, and find the same optimum.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import Any, Literal

from ortools.sat.python import cp_model

Value = tuple[int, int, int]
"""Growth, pieces (blocks and row plates), different sizes."""
REST = ""
"""The label of a column whose cables are of classes that no zone rule names."""


@dataclass(frozen=True)
class Bay:
    """A bay in whole units: ``height`` without its clamping unit."""

    width: int
    height: int
    plate: int
    on_top: bool
    stacking: bool
    nesting: bool = False


@dataclass(frozen=True)
class Apart:
    """Classes that do not meet in a bay, a row or a zone."""

    level: Literal["bay", "row", "zone"]
    classes: frozenset[str]


@dataclass(frozen=True)
class Kept:
    """A block that stays: its bay (from 0), its lower left corner, its side; a cable's number, or None for a spare."""

    bay: int
    x: int
    y: int
    side: int
    cable: int | None


@dataclass(frozen=True)
class Group:
    """Cables that nothing tells apart."""

    options: tuple[int, ...]
    service: str = "power"
    circuit: str | None = None
    kept: Kept | None = None


@dataclass(frozen=True)
class Problem:
    """A frame, what may stand in it, and what must. ``cables``: the sides of the blocks that hold each."""

    bays: tuple[Bay, ...]
    sides: tuple[int, ...]
    plugs: frozenset[int]
    cables: tuple[tuple[int, ...], ...]
    spares: Mapping[int, int]
    """Spares asked for by size, shares of one size counted out."""
    fillers: frozenset[int] = frozenset()
    services: tuple[str, ...] = ()
    """The class of each cable; none: they do not matter."""
    circuits: tuple[str | None, ...] = ()
    """The circuit of each cable."""
    magnetic: bool = True
    """Whether a circuit lies in one bay."""
    apart: tuple[Apart, ...] = ()
    kept: tuple[Kept, ...] = ()
    share: Fraction = Fraction(0)
    """Spares cover at least so many percent of the area of the cables' smallest blocks."""
    solid: bool = False
    """What fills is a filler, spares are only those asked for or kept."""

    @property
    def fills(self) -> frozenset[int]:
        """The sides that may fill a bay beyond what is needed."""
        return self.fillers if self.solid else self.plugs | self.fillers

    @cached_property
    def groups(self) -> dict[Group, int]:
        """How many cables there are of each kind. A kept one is a kind of its own."""
        stays = {kept.cable: kept for kept in self.kept if kept.cable is not None}
        found: dict[Group, int] = {}
        for number, options in enumerate(self.cables):
            service = self.services[number] if self.services and self.apart else "power"
            circuit = self.circuits[number] if self.circuits and self.magnetic and len(self.bays) > 1 else None
            group = Group(tuple(sorted(options)), service, circuit, stays.get(number))
            found[group] = found.get(group, 0) + 1
        return found

    @property
    def labels(self) -> tuple[str, ...]:
        """What a column may be kept for: each class that a zone rule names, and all the others together."""
        zones = {name for rule in self.apart if rule.level == "zone" for name in rule.classes}
        return (REST, *sorted({group.service for group in self.groups} & zones))

    def label(self, group: Group) -> str:
        """Return what a column with such a cable is kept for."""
        return group.service if group.service in self.labels else REST

    def rivals(self, level: str) -> set[tuple[str, str]]:
        """Return the pairs of classes that do not meet in a row, or in a bay."""
        there = {group.service for group in self.groups}
        return {
            (one, two)
            for rule in self.apart
            if rule.level == level
            for one in rule.classes & there
            for two in rule.classes & there
            if one < two
        }

    @property
    def hopeless(self) -> bool:
        """Whether it can be seen without a model that there is no layout."""
        return (
            any(side not in self.plugs for side, count in self.spares.items() if count)
            or any(kept.cable is None and kept.side not in self.plugs for kept in self.kept)
            or any(kept.cable is not None and kept.side not in self.cables[kept.cable] for kept in self.kept)
            or not all(self.cables)
        )


class Unanswered(Exception):
    """The time was over before the solver knew."""


@dataclass(frozen=True, order=True)
class Column:
    """A column of a row: its width, and how many blocks of each side stand in it."""

    width: int
    blocks: tuple[tuple[int, int], ...]


@lru_cache(maxsize=10_000)
def columns(bay: Bay, height: int, sides: tuple[int, ...]) -> tuple[Column, ...]:
    """List the columns that a row of this height may have: a block, equal ones stacked, nested ones."""
    found = {Column(side, ((side, height // side),)) for side in _plain(height, sides, bay.stacking)}
    if bay.nesting:
        for width in sides:
            if width <= height:
                found |= {Column(width, blocks) for blocks in _nested(width, height, sides, bay.stacking)}
    return tuple(sorted(found))


def _plain(height: int, sides: Sequence[int], stacking: bool) -> list[int]:
    return [side for side in sides if side == height or (stacking and height % side == 0)]


def _nested(width: int, height: int, sides: tuple[int, ...], stacking: bool) -> set[tuple[tuple[int, int], ...]]:
    """What a nested column may be cut into: rows of one height each, and those into plain columns."""
    # Every way to fill up to some height, the rows in any one order: tallest first.
    ways: dict[tuple[int, int], set[tuple[tuple[int, int], ...]]] = {}

    def fill(left: int, largest: int) -> set[tuple[tuple[int, int], ...]]:
        if left == 0:
            return {()}
        if (left, largest) not in ways:
            found = set()
            for high in sides:
                if high <= largest and high <= left:
                    for row in patterns(width, tuple(_plain(high, sides, stacking))):
                        own = {side: count * (high // side) for side, count in row}
                        for rest in fill(left - high, high):
                            blocks = dict(rest)
                            for side, count in own.items():
                                blocks[side] = blocks.get(side, 0) + count
                            found.add(tuple(sorted(blocks.items())))
            ways[left, largest] = found
        return ways[left, largest]

    return fill(height, max(sides))


@lru_cache(maxsize=10_000)
def patterns(width: int, widths: tuple[int, ...]) -> tuple[tuple[tuple[int, int], ...], ...]:
    """List the ways in which columns of some widths fill a row: (width, columns of it)."""

    def fill(left: int, number: int) -> Iterator[tuple[tuple[int, int], ...]]:
        if left == 0:
            yield ()
        elif number < len(widths):
            side = widths[number]
            for count in range(left // side + 1):
                for rest in fill(left - count * side, number + 1):
                    yield ((side, count), *rest) if count else rest

    return tuple(fill(width, 0))


def fill_rest(
    model: cp_model.CpModel, problem: Problem, supply: Mapping[int, Any], held: Mapping[int, Any], most: int
) -> tuple[Any, Any]:
    """Say what blocks without a cable are; return how many blocks and how many different sizes there are."""
    different, spare_area = [], []
    for side in problem.sides:
        wanted = problem.spares.get(side, 0)
        stay = sum(1 for kept in problem.kept if kept.cable is None and kept.side == side)
        spares: Any = max(wanted, stay)
        free = supply[side] - held[side]
        if problem.solid or side not in problem.plugs:
            model.add(free >= spares) if side in problem.fills else model.add(free == spares)
        else:
            model.add(free >= spares)
            spares = free
        spare_area.append(side**2 * spares)
        there = model.new_bool_var(f"there {side}")
        model.add(supply[side] <= most * there)
        different.append(there)
    if problem.share:
        covered = sum(min(options) ** 2 for options in problem.cables) * problem.share / 100
        model.add(sum(spare_area) * covered.denominator >= covered.numerator)
    return sum(supply[side] for side in problem.sides), sum(different)


def minimize(model: cp_model.CpModel, parts: tuple[Any, Any, Any], most: Value, seconds: float) -> Value | None:
    """Minimize the three parts in their order; None when there is no layout. Raises Unanswered.

    ``most`` bounds each part, so that one sum with weights keeps the order exactly.
    """
    sizes, pieces = most[2] + 1, most[1] + 1
    growth, count, different = parts
    model.minimize(growth * (sizes * pieces) + count * sizes + different)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    if status != cp_model.OPTIMAL:
        raise Unanswered(str(status))
    value = round(solver.objective_value)
    return value // (sizes * pieces), value // sizes % pieces, value % sizes


def widest(problem: Problem) -> int:
    """Return the most that growth can be."""
    return sum(max(options) - min(options) for options in problem.cables)
