"""Units: a frame and its cables in whole numbers for the solver, and the way back to millimetres."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from functools import reduce
from math import gcd

from generator.engine.solver.rows import Space
from generator.engine.solver.task import Ask, Options, Task
from generator.model.catalogue import Catalogue, Frame
from generator.model.job import Apart, Cable, Kept, Spare
from generator.model.layout import Fit


@dataclass(frozen=True, slots=True)
class Demand:
    """A cable and every block that holds its whole range, smallest first."""

    cable: Cable
    fits: tuple[Fit, ...]


@dataclass(frozen=True, slots=True)
class Rules:
    """What a transit asks of its layout besides cables and spares."""

    apart: tuple[Apart, ...] = ()
    """Classes that are kept apart: the job's and the transit's."""
    keep: tuple[Kept, ...] = ()
    """Blocks that stay where they are."""
    solid: bool = False
    """Whether the spares asked for are the only ones."""


class FrameInUnits:
    """A frame, its cables and its spares as the solver takes them.

    The unit is the largest length of which every side, width, height and thickness is a whole multiple.
    ``plugs`` and ``fillers`` say which part fills a size: of several the plain one, then the first by number.
    """

    def __init__(
        self,
        frame: Frame,
        catalogue: Catalogue,
        demands: Sequence[Demand],
        spares: Sequence[Spare],
        rules: Rules = Rules(),
    ) -> None:
        self.frame, self.catalogue, self.demands, self.rules = frame, catalogue, tuple(demands), rules
        self.plugs = _first_of_size(
            (block.size, block.bonds, block.pipes, part) for part, block in catalogue.blocks.items() if block.plug
        )
        self.fillers = _first_of_size((filler.size, False, False, part) for part, filler in catalogue.fillers.items())
        self.sizes = sorted({block.size for block in catalogue.blocks.values()} | set(self.fillers))
        lengths = list(self.sizes)
        for bay in frame.bays:
            plate, unit = catalogue.row_plates[bay.row_plate], catalogue.clamping_units[bay.clamping_unit]
            lengths += [bay.width, bay.height, plate.thickness, unit.height]
        self.unit = _common_unit(lengths)
        self.task = Task(
            spaces=tuple(
                Space(
                    width=self.whole(bay.width),
                    height=self.whole(bay.height - catalogue.clamping_units[bay.clamping_unit].height),
                    plate=self.whole(catalogue.row_plates[bay.row_plate].thickness),
                    plate_on_top=bay.plate_under_unit,
                    stacking=bay.stacking,
                )
                for bay in frame.bays
            ),
            sizes=tuple(map(self.whole, self.sizes)),
            heights=tuple(map(self.whole, self.sizes)),
            fills=sum(1 << i for i, size in enumerate(self.sizes) if size in self.plugs or size in self.fillers),
        )
        place = {size: i for i, size in enumerate(self.sizes)}
        self.options: list[Options] = [tuple(sorted({place[fit.size] for fit in d.fits})) for d in self.demands]
        asked = [0] * len(self.sizes)
        for spare in spares:
            if spare.size is not None:
                asked[place[spare.size]] += self._count(spare, place[spare.size])
        self.ask = Ask.of(self.options, tuple(asked))

    def _count(self, spare: Spare, size: int) -> int:
        """Return how many spares of a size an entry asks for."""
        if spare.count is not None:
            return spare.count
        assert spare.share is not None
        cables = sum(1 for options in self.options if options and options[0] == size)
        return int((spare.share * cables / 100).to_integral_value(ROUND_CEILING))

    @property
    def spare_sizes(self) -> int:
        """The sizes whose blocks without a cable are spares, as a bit mask."""
        return sum(1 << i for i, size in enumerate(self.sizes) if size in self.plugs)

    def whole(self, length: Decimal) -> int:
        """Return a length of this frame or catalogue in units."""
        return int(length / self.unit)

    def mm(self, length: int) -> Decimal:
        """Return a length in mm, exact."""
        value = length * self.unit
        return value.quantize(Decimal(1)) if value == value.to_integral_value() else value.normalize()

    def mm2(self, area: int) -> Decimal:
        """Return an area in mm², exact."""
        return area * self.unit**2


def _first_of_size(parts: Iterable[tuple[Decimal, bool, bool, str]]) -> dict[Decimal, str]:
    first: dict[Decimal, str] = {}
    for size, _, _, part in sorted(parts):
        first.setdefault(size, part)
    return first


def _common_unit(lengths: Sequence[Decimal]) -> Decimal:
    exponents = [length.normalize().as_tuple().exponent for length in lengths]
    places = max(0, *(-exponent for exponent in exponents if isinstance(exponent, int)))
    return Decimal(reduce(gcd, (int(length.scaleb(places)) for length in lengths))).scaleb(-places)
