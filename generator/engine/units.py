"""Units: a frame and its cables in whole numbers for the solver, and the way back to millimetres."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal
from functools import lru_cache, reduce
from math import gcd

from generator.engine.solver.rows import Pin, Space
from generator.engine.solver.task import FREE, NO_RULE, Apart, Ask, Options, Tag, Task
from generator.model.catalogue import Catalogue, Frame
from generator.model.job import Apart as Rule
from generator.model.job import Cable, Kept, Spare
from generator.model.layout import Fit, Role


@dataclass(frozen=True, slots=True)
class Demand:
    """A cable and every block that holds its whole range, smallest first.

    Where cables share a block, one demand stands for them: ``cable`` is the one at the left, ``fits`` has that
    block alone, and ``others`` are the cables beside it with their fits.
    """

    cable: Cable
    fits: tuple[Fit, ...]
    others: tuple[tuple[Cable, Fit], ...] = ()

    @property
    def cables(self) -> tuple[Cable, ...]:
        """All its cables, left to right."""
        return (self.cable, *(cable for cable, _ in self.others))


@dataclass(frozen=True, slots=True)
class Rules:
    """What a transit asks of its layout besides cables and spares."""

    apart: tuple[Rule, ...] = ()
    """Classes that are kept apart: the job's and the transit's."""
    keep: tuple[Kept, ...] = ()
    """Blocks that stay where they are."""
    solid: bool = False
    """Whether the spares asked for are the only ones."""


class _Asked:
    """A frame of a catalogue and other lengths, the same as another where all is that goes into their scale."""

    __slots__ = ("catalogue", "figures", "frame", "others")

    def __init__(self, frame: Frame, catalogue: Catalogue, others: tuple[Decimal, ...]) -> None:
        self.frame, self.catalogue, self.others = frame, catalogue, others
        plates, units = catalogue.row_plates, catalogue.clamping_units
        self.figures = (
            tuple(
                [
                    (part, block.size, block.plug, block.bonds, block.pipes, block.bores)
                    for part, block in catalogue.blocks.items()
                ]
            ),
            tuple([(part, filler.size) for part, filler in catalogue.fillers.items()]),
            tuple(
                [
                    (
                        bay.width,
                        bay.height,
                        plates[bay.row_plate].thickness,
                        bay.plate_under_unit,
                        units[bay.clamping_unit].height,
                        bay.stacking,
                        bay.nesting,
                    )
                    for bay in frame.bays
                ]
            ),
            others,
        )

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Asked) and other.figures == self.figures

    def __hash__(self) -> int:
        return hash(self.figures)


class _Lengths(dict[int, Decimal]):
    """Lengths in mm by whole units, each made once."""

    def __init__(self, unit: Decimal) -> None:
        super().__init__()
        self.unit = unit

    def __missing__(self, length: int) -> Decimal:
        value = length * self.unit
        whole = value == value.to_integral_value()
        made = self[length] = value.quantize(Decimal(1)) if whole else value.normalize()
        return made


class Scale:
    """A frame and its catalogue in whole units, whatever is asked to stand in it.

    The unit is the largest length of which every side, width, height and thickness is a whole multiple.
    ``plugs`` and ``fillers`` say which part fills a size: of several the plain one, then the first by number.
    """

    def __init__(self, frame: Frame, catalogue: Catalogue, others: Iterable[Decimal]) -> None:
        self.plugs = _first_of_size(
            (block.size, block.bonds, block.pipes, part)
            for part, block in catalogue.single_blocks.items()
            if block.plug
        )
        self.fillers = _first_of_size((filler.size, False, False, part) for part, filler in catalogue.fillers.items())
        self.sizes = sorted({block.size for block in catalogue.blocks.values()} | set(self.fillers))
        lengths = [*self.sizes, *others]
        for bay in frame.bays:
            plate, unit = catalogue.row_plates[bay.row_plate], catalogue.clamping_units[bay.clamping_unit]
            lengths += [bay.width, bay.height, plate.thickness, unit.height]
        self.unit = _common_unit(lengths)
        self.place = {size: i for i, size in enumerate(self.sizes)}
        self.place_of_part = {part: self.place[block.size] for part, block in catalogue.blocks.items()}
        self.whole_sizes = tuple(map(self.whole, self.sizes))
        self.plugged = sum(1 << i for i, size in enumerate(self.sizes) if size in self.plugs)
        self.filled = sum(1 << i for i, size in enumerate(self.sizes) if size in self.fillers)
        self.spaces = tuple(
            Space(
                width=self.whole(bay.width),
                height=self.whole(bay.height - catalogue.clamping_units[bay.clamping_unit].height),
                plate=self.whole(catalogue.row_plates[bay.row_plate].thickness),
                plate_on_top=bay.plate_under_unit,
                stacking=bay.stacking,
                nesting=bay.nesting,
            )
            for bay in frame.bays
        )
        self.filling: tuple[list[tuple[str, Role]], list[tuple[str, Role]]] = (
            [self._filling(size, solid=False) for size in self.sizes],
            [self._filling(size, solid=True) for size in self.sizes],
        )
        """By size what fills: where spares may, and where the rest is solid."""
        self.lengths = _Lengths(self.unit)
        """Lengths in mm by whole units."""

    def _filling(self, size: Decimal, solid: bool) -> tuple[str, Role]:
        if size in self.plugs and not solid:
            return self.plugs[size], "spare"
        return self.fillers.get(size, ""), "filler"

    def whole(self, length: Decimal) -> int:
        """Return a length of this frame or catalogue in units."""
        return int(length / self.unit)

    def mm(self, length: int) -> Decimal:
        """Return a length in mm, exact."""
        return self.lengths[length]


@lru_cache(maxsize=256)
def _scale(asked: _Asked) -> Scale:
    return Scale(asked.frame, asked.catalogue, asked.others)


class FrameInUnits:
    """A frame, its cables and its spares as the solver takes them."""

    def __init__(
        self,
        frame: Frame,
        catalogue: Catalogue,
        demands: Sequence[Demand],
        spares: Sequence[Spare],
        rules: Rules = Rules(),
    ) -> None:
        self.frame, self.catalogue, self.demands, self.rules = frame, catalogue, tuple(demands), rules
        others = {length for kept in rules.keep for length in (kept.x, kept.y) if length}
        scale = _scale(_Asked(frame, catalogue, tuple(sorted(others))))
        self.scale, self.unit, self.whole, self.mm = scale, scale.unit, scale.whole, scale.mm
        self.plugs, self.fillers, self.sizes = scale.plugs, scale.fillers, scale.sizes
        self.filling = scale.filling
        place, of_part = scale.place, scale.place_of_part
        fitting: list[Options] = [
            (of_part[d.fits[0].part],) if len(d.fits) == 1 else tuple(sorted({of_part[fit.part] for fit in d.fits}))
            for d in self.demands
        ]
        self.smallest = [options[0] for options in fitting]
        """For every demand the smallest size that holds it."""
        stays = {kept.cable: (which, place[kept.size]) for which, kept in enumerate(rules.keep) if kept.cable}
        self.options: list[Options] = (
            [
                (stays[d.cable.tag][1],) if d.cable.tag in stays else options
                for d, options in zip(self.demands, fitting, strict=True)
            ]
            if stays
            else fitting
        )
        """For every demand the sizes it may take: where its block stays, that one."""
        self.on_a_ladder = sum([demand.cable.ladder is not None for demand in self.demands]) > 1
        classes = self._classes() if rules.apart else []
        self.tags = self._tags(stays, classes)
        asked, kept_spares = [0] * len(self.sizes), [0] * len(self.sizes)
        for kept in rules.keep:
            kept_spares[place[kept.size]] += kept.cable is None
        for spare in spares:
            if spare.size is not None:
                asked[place[spare.size]] += self._count(spare, place[spare.size])
        if rules.keep:
            asked = list(map(max, asked, kept_spares))
        self.ask = Ask.of(self.options, tuple(asked), self.tags if classes or stays or self.bound else ())
        self.task = Task(
            spaces=self._spaces(),
            sizes=scale.whole_sizes,
            heights=scale.whole_sizes,
            fills=scale.filled if rules.solid else scale.filled | scale.plugged,
            spare_sizes=self.spare_sizes,
            spare_area=self._spare_area(spares, asked),
            kept=tuple((self.options[i][0], tag) for i, tag in enumerate(self.tags) if tag.kept >= 0)
            if stays
            else (),
            kept_spares=tuple(kept_spares) if any(kept_spares) else (),
            apart=self._apart(classes) if classes else NO_RULE,
        )

    def _spaces(self) -> tuple[Space, ...]:
        if not self.rules.keep:
            return self.scale.spaces
        return tuple(
            replace(
                space,
                pins=tuple(
                    Pin(self.whole(kept.y), self.whole(kept.x), self.whole(kept.size), which)
                    for which, kept in enumerate(self.rules.keep)
                    if kept.bay == number
                ),
            )
            for number, space in enumerate(self.scale.spaces, 1)
        )

    def fit(self, demand: int, size: int) -> Fit:
        """Return how a cable lies in its block of a size."""
        fits = self.demands[demand].fits
        if len(fits) == 1:
            return fits[0]
        of_part = self.scale.place_of_part
        return next(fit for fit in fits if of_part[fit.part] == size)

    # -- what rules see of cables --------------------------------------------------------------------

    def _classes(self) -> list[str]:
        """Return the classes on which a rule has a bearing here, in a fixed order."""
        there = {demand.cable.service for demand in self.demands}
        met = [(rule.level, there & set(rule.classes)) for rule in self.rules.apart]
        # One class alone has to stand together too, round what stays and where the ladder orders columns.
        ladder = any(demand.cable.ladder is not None for demand in self.demands)
        zoned = len(there) > 1 or bool(self.rules.keep) or ladder
        bearing = [own for level, own in met if len(own) > 1 or (level == "zone" and zoned)]
        return sorted(set[str]().union(*bearing))

    def _tags(self, stays: Mapping[str, tuple[int, int]], classes: Sequence[str]) -> list[Tag]:
        cables = [demand.cable for demand in self.demands]
        # One bay, or bays that are one opening: then a circuit binds nothing.
        one_opening = len(self.frame.bays) == 1 or self.frame.webs_not_magnetic
        counted = Counter([] if one_opening else [cable.circuit for cable in cables if cable.circuit is not None])
        self.bound = bound = {circuit: i for i, circuit in enumerate(counted)}
        if not (stays or classes or bound):
            return [FREE] * len(cables)
        which = {name: i for i, name in enumerate(classes)}
        return [
            Tag(
                kept=stays[cable.tag][0] if cable.tag in stays else -1,
                circuit=bound[cable.circuit] if cable.circuit in bound and counted[cable.circuit] > 1 else -1,
                service=which.get(cable.service, -1),
            )
            for cable in cables
        ]

    def _apart(self, classes: Sequence[str]) -> Apart:
        rows, bays = [0] * len(classes), [0] * len(classes)
        zones = 0
        for rule in self.rules.apart:
            own = [i for i, name in enumerate(classes) if name in rule.classes]
            mask = sum(1 << i for i in own)
            for i in own:
                if rule.level == "zone":
                    zones |= 1 << i
                else:
                    (rows if rule.level == "row" else bays)[i] |= mask & ~(1 << i)
        return Apart(tuple(rows) if any(rows) else (), tuple(bays) if any(bays) else (), zones)

    # -- spares ----------------------------------------------------------------------------------------

    def _spare_area(self, spares: Sequence[Spare], asked: Sequence[int]) -> int:
        """Return the area that spares must cover beyond those that are asked for by size, in square units."""
        share = max((spare.share or Decimal(0) for spare in spares if spare.size is None), default=Decimal(0))
        if not share:
            return 0
        least = sum((self.sizes[size] ** 2 for size in self.smallest), Decimal(0)) * share / 100
        covered = sum((size**2 * count for size, count in zip(self.sizes, asked, strict=True)), Decimal(0))
        return max(0, int(((least - covered) / self.unit**2).to_integral_value(ROUND_CEILING)))

    def _count(self, spare: Spare, size: int) -> int:
        """Return how many spares of a size an entry asks for."""
        if spare.count is not None:
            return spare.count
        assert spare.share is not None
        cables = self.smallest.count(size)
        return int((spare.share * cables / 100).to_integral_value(ROUND_CEILING))

    @property
    def spare_sizes(self) -> int:
        """The sizes whose blocks are spares where they fill, as a bit mask."""
        return 0 if self.rules.solid else self.scale.plugged

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
