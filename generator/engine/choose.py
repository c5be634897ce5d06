"""Choose: the cheapest frame, or set of up to three frames, that takes a transit's cables and spares.

Cables that are not known yet count as what they are planned for: their fits hold their whole range, so a frame that
is chosen takes the worst case.

The order of sets, cheapest first:

1. where every frame that may be used has a price: the sum of the prices; then
2. fewest frames;
3. the smallest area of the frames' bodies, width x height, mm²;
4. part numbers in order.

A set works when the bays of its frames together have a layout, as ``engine.packing`` says, with nothing of the
transit left out. The conductors of one circuit then lie in one bay; only a single frame whose webs are not magnetic
may part them. Where the search for one set ended at its limit, a dearer one may be chosen: it is then not proven.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations_with_replacement, pairwise

from generator.engine.packing import Demand, Rules, pack_somehow
from generator.engine.reasons import what_is_short
from generator.engine.units import FrameInUnits
from generator.model.catalogue import Catalogue, Frame
from generator.model.job import Spare
from generator.model.layout import Layout, NoLayout
from generator.model.scalars import format_mm


@dataclass(frozen=True)
class Offer:
    """A frame of the catalogue. ``refused`` says why the wall or the place does not take it, '' where it does."""

    part: str
    frame: Frame
    price: Decimal | None = None
    refused: str = ""

    @property
    def area(self) -> Decimal:
        """Area of its body, mm²."""
        return self.frame.width * self.frame.height


@dataclass(frozen=True)
class Choice:
    """The cheapest set that works, and why the next cheaper one does not.

    ``frames`` are part numbers; ``cables`` and ``spares`` (of those asked for, by size) say what each takes.
    ``cheaper`` is the set before it in the order, () where there is none, and ``why`` why it does not do.
    """

    frames: tuple[str, ...]
    cables: tuple[tuple[str, ...], ...]
    spares: tuple[tuple[tuple[Decimal, int], ...], ...]
    price: Decimal | None
    proven: bool
    cheaper: tuple[str, ...] = ()
    why: str = ""


def choose_frames(
    offers: Sequence[Offer],
    catalogue: Catalogue,
    demands: Sequence[Demand],
    spares: Sequence[Spare],
    limit: int,
    rules: Rules = Rules(),  # noqa: B008 (frozen)
    most: int = 3,
) -> Choice | NoLayout:
    """Choose the cheapest set of at most ``most`` frames that takes all cables and spares.

    ``limit`` bounds the search for the layout of each set in steps. The order stands above. A NoLayout says that
    no set works, or that none was found.
    """
    usable = [offer for offer in offers if not offer.refused]
    priced = all(offer.price is not None for offer in usable)
    least = _least_area(demands, spares)
    undecided = False
    cheaper: list[tuple[Offer, ...]] = []
    for chosen in _in_order(usable, priced, most):
        if sum(_room(offer.frame, catalogue) for offer in chosen) < least:
            cheaper.append(chosen)
            continue
        packed = pack_somehow(together(chosen), catalogue, demands, spares, limit, rules)
        if isinstance(packed, Layout):
            return _choice(
                chosen,
                packed,
                spares,
                priced,
                not undecided,
                _before(chosen, cheaper, offers, priced),
                (catalogue, demands, spares, rules, limit),
            )
        undecided = undecided or packed.gave_up
        cheaper.append(chosen)
    return _none(offers, usable, undecided, most)


def together(chosen: Sequence[Offer]) -> Frame:
    """Return frames as one with all their bays; of several the webs between them count as magnetic."""
    if len(chosen) == 1:
        return chosen[0].frame
    bays = tuple(bay for offer in chosen for bay in offer.frame.bays)
    return chosen[0].frame.model_copy(update={"bays": bays, "webs_not_magnetic": False})


def _in_order(usable: Sequence[Offer], priced: bool, most: int) -> Iterator[tuple[Offer, ...]]:
    sets = [
        chosen
        for count in range(1, most + 1)
        for chosen in combinations_with_replacement(sorted(usable, key=lambda offer: offer.part), count)
    ]
    yield from sorted(sets, key=lambda chosen: _cost(chosen, priced))


def _cost(chosen: Sequence[Offer], priced: bool) -> tuple[object, ...]:
    price = sum((offer.price or Decimal(0) for offer in chosen), Decimal(0)) if priced else Decimal(0)
    return price, len(chosen), sum(offer.area for offer in chosen), tuple(offer.part for offer in chosen)


def _least_area(demands: Sequence[Demand], spares: Sequence[Spare]) -> Decimal:
    """Return what the smallest blocks of the cables and the counted spares cover, mm²."""
    cables = sum((min(fit.size for fit in demand.fits) ** 2 for demand in demands if demand.fits), Decimal(0))
    return cables + sum(
        (spare.size**2 * spare.count for spare in spares if spare.size is not None and spare.count is not None),
        Decimal(0),
    )


def _room(frame: Frame, catalogue: Catalogue) -> Decimal:
    """Return the most that the rows of a frame can cover: one row a bay, with a plate where it must lie, mm²."""
    total = Decimal(0)
    for bay in frame.bays:
        plate = catalogue.row_plates[bay.row_plate].thickness if bay.plate_under_unit else Decimal(0)
        total += bay.width * (bay.height - catalogue.clamping_units[bay.clamping_unit].height - plate)
    return total


# -- what is said of it ------------------------------------------------------------------------------------

_Asked = tuple[Catalogue, Sequence[Demand], Sequence[Spare], Rules, int]


def _choice(
    chosen: Sequence[Offer],
    packed: Layout,
    spares: Sequence[Spare],
    priced: bool,
    proven: bool,
    before: tuple[Offer, ...],
    asked: _Asked,
) -> Choice:
    ends = [0]
    for offer in chosen:
        ends.append(ends[-1] + len(offer.frame.bays))
    parts = [[p for bay in packed.bays[a:b] for p in bay.placements] for a, b in pairwise(ends)]
    left: Counter[Decimal] = Counter()
    for spare in spares:
        if spare.size is not None and spare.count is not None:
            left[spare.size] += spare.count
    takes = []
    for placements in parts:
        there = Counter(p.size for p in placements if p.role == "spare")
        own = {size: min(count, there[size]) for size, count in left.items() if count and there[size]}
        left.subtract(own)
        takes.append(tuple(sorted(own.items())))
    return Choice(
        frames=tuple(offer.part for offer in chosen),
        cables=tuple(tuple(tag for p in placements for tag in p.cables) for placements in parts),
        spares=tuple(takes),
        price=sum((offer.price or Decimal(0) for offer in chosen), Decimal(0)) if priced else None,
        proven=proven,
        cheaper=tuple(offer.part for offer in before),
        why=_why(before, asked) if before else "",
    )


def _before(
    chosen: Sequence[Offer], cheaper: Sequence[tuple[Offer, ...]], offers: Sequence[Offer], priced: bool
) -> tuple[Offer, ...]:
    """Return the set that stands just before the chosen one, a single frame that is refused among them."""
    refused = [(offer,) for offer in offers if offer.refused and not (priced and offer.price is None)]
    sets = [one for one in (*cheaper, *refused) if _cost(one, priced) < _cost(chosen, priced)]
    return max(sets, key=lambda one: _cost(one, priced), default=())


def _why(before: tuple[Offer, ...], asked: _Asked) -> str:
    if before[0].refused:
        return before[0].refused
    catalogue, demands, spares, rules, limit = asked
    units = FrameInUnits(together(before), catalogue, demands, spares, rules)
    what, why = what_is_short(units, limit)
    return f"{what}: {why}"


def _none(offers: Sequence[Offer], usable: Sequence[Offer], undecided: bool, most: int) -> NoLayout:
    if not usable:
        refusals = list(dict.fromkeys(offer.refused for offer in offers))
        return NoLayout(
            what="no frame of the catalogue may be used here",
            why="; ".join(refusals) or "the catalogue has none that is held this way",
            mend="choose another way to hold it, or another sealing system",
        )
    largest = max(usable, key=lambda offer: (offer.area, offer.part))
    return NoLayout(
        what=f"no set of up to {most} frames takes the cables and spares",
        why="every set was tried" if not undecided else "every set was tried, some only up to the limit of steps",
        mend=f"divide the cables over two transits; the largest frame there is is {largest.part},"
        f" {format_mm(largest.frame.width)} x {format_mm(largest.frame.height)} mm",
        gave_up=undecided,
    )
