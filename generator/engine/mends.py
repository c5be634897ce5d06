"""Mends: the cheapest changes that give a frame without a layout one, each found by packing it with that change.

The changes, cheapest first (an order of effort, common practice, without a source):

1. one spare fewer, of the smallest size that helps;
2. one spare of a smaller size instead;
3. a cable measured before it is ordered, whose diameter as written goes into a smaller block than its whole range;
4. one cable through another transit between the same rooms that has room for it beside all it has;
5. the cheapest other frame that is held the same way and that the wall takes;
6. no spares at all;
7. one cable out, through a new transit.

A change is told only when the packing finds a layout with it and ``check.py`` finds no fault in that. Every try has
the same number of steps, and there are at most ``TRIES`` of a kind: a change that takes more is not proposed.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import islice
from typing import Literal

from generator.engine.check import check_layout
from generator.engine.choose import Choice, Offer, choose_frames
from generator.engine.fit import fit_cable
from generator.engine.left_open import refusal
from generator.engine.packing import Demand, Rules, pack_somehow
from generator.engine.sharing import demands_of, fit_all
from generator.model.catalogue import Catalogue, Frame
from generator.model.job import Cable, Definition, Spare, Transit
from generator.model.layout import Layout
from generator.model.scalars import format_mm

STEPS = 20_000
"""Steps of one try."""
TRIES = 12
"""Tries of one kind of change."""
TOLD = 3
"""How many changes are told."""


@dataclass(frozen=True)
class Asked:
    """What is asked of a frame: everything that a change may change."""

    frame: Frame
    demands: tuple[Demand, ...]
    spares: tuple[Spare, ...]


@dataclass(frozen=True)
class Mend:
    """A change that gives a layout, in words, and what is then asked (of the frame, or of the other transit too)."""

    kind: Literal["spare", "smaller spare", "measure", "move", "frame", "no spares", "out"]
    says: str
    asked: Asked


@dataclass(frozen=True)
class _Stuck:
    """A transit without a layout."""

    definition: Definition
    id: str
    asked: Asked

    @property
    def transit(self) -> Transit:
        return self.definition.transits[self.id]

    @property
    def catalogue(self) -> Catalogue:
        return self.definition.catalogue_of(self.transit)


def find_mends(definition: Definition, transit_id: str, demands: Sequence[Demand]) -> tuple[Mend, ...]:
    """Find up to ``TOLD`` changes, cheapest first, that give a transit with a frame and no layout one.

    ``demands`` are its cables with all blocks that hold them. () when none of those tried does.
    """
    transit = definition.transits[transit_id]
    frame = definition.catalogue_of(transit).frames[transit.frame or ""]
    stuck = _Stuck(definition, transit_id, Asked(frame, tuple(demands), transit.spares))
    found: list[Mend] = []
    for kind in (_one_spare_fewer, _one_spare_smaller, _measured, _moved, _other_frame, _no_spares, _one_out):
        if kind is _one_out and found:
            break  # a new transit is the last resort
        mend = next(kind(stuck), None)
        if mend:
            found.append(mend)
    return tuple(found[:TOLD])


def _works(definition: Definition, transit_id: str, asked: Asked) -> bool:
    """Pack a transit with what is asked of it, and let the judge look at it."""
    transit, job = definition.transits[transit_id], definition.job
    catalogue = definition.catalogue_of(transit)
    cables = [cable for demand in asked.demands for cable in demand.cables]
    rules = _rules(definition, transit)
    layout = pack_somehow(asked.frame, catalogue, asked.demands, asked.spares, STEPS, rules)
    return isinstance(layout, Layout) and not check_layout(
        layout, asked.frame, catalogue, cables, asked.spares, job, transit
    )


def _rules(definition: Definition, transit: Transit) -> Rules:
    return Rules((*definition.job.apart, *transit.apart), transit.keep, transit.rest == "solid")


def _those_that_work(stuck: _Stuck, mends: Iterator[Mend]) -> Iterator[Mend]:
    for mend in islice(mends, TRIES):
        if _works(stuck.definition, stuck.id, mend.asked):
            yield mend


# -- spares ----------------------------------------------------------------------------------------------------


def _counted(spares: Sequence[Spare]) -> list[tuple[Decimal, int]]:
    """Return places of counted spares in the list, smallest size first."""
    return sorted((spare.size, at) for at, spare in enumerate(spares) if spare.size is not None and spare.count)


def _fewer(spares: Sequence[Spare], at: int) -> tuple[Spare, ...]:
    left = (spares[at].count or 0) - 1
    own = (spares[at].model_copy(update={"count": left}),) if left else ()
    return (*spares[:at], *own, *spares[at + 1 :])


def _one_spare_fewer(stuck: _Stuck) -> Iterator[Mend]:
    spares = stuck.asked.spares
    return _those_that_work(
        stuck,
        (
            Mend(
                "spare",
                f"ask for one spare of {format_mm(size)} mm fewer",
                replace(stuck.asked, spares=_fewer(spares, at)),
            )
            for size, at in _counted(spares)
        ),
    )


def _one_spare_smaller(stuck: _Stuck) -> Iterator[Mend]:
    spares = stuck.asked.spares
    plugs = sorted({block.size for block in stuck.catalogue.single_blocks.values() if block.plug}, reverse=True)
    return _those_that_work(
        stuck,
        (
            Mend(
                "smaller spare",
                f"ask for a spare of {format_mm(smaller)} mm in place of one of {format_mm(size)} mm",
                replace(stuck.asked, spares=(*_fewer(spares, at), Spare(size=smaller, count=1))),
            )
            for size, at in _counted(spares)
            for smaller in plugs
            if smaller < size
        ),
    )


def _no_spares(stuck: _Stuck) -> Iterator[Mend]:
    asked = stuck.asked.spares
    if sum(spare.count or 1 for spare in asked) < 2:
        return iter(())
    return _those_that_work(stuck, iter((Mend("no spares", "ask for no spares", replace(stuck.asked, spares=())),)))


# -- cables ----------------------------------------------------------------------------------------------------


def _kinds(stuck: _Stuck, alike: Callable[[Demand], object]) -> Iterator[int]:
    """Yield the last cable of each kind, largest blocks first.

    Those that stay, those of a circuit and those that share a block are none.
    """
    stay = {kept.cable for kept in stuck.transit.keep}
    last: dict[object, int] = {}
    for at, demand in enumerate(stuck.asked.demands):
        bound = demand.cable.tag in stay or demand.cable.circuit is not None or demand.others
        if demand.fits and not bound:
            last[alike(demand)] = at
    demands = stuck.asked.demands
    yield from sorted(last.values(), key=lambda at: (-demands[at].fits[0].size, at))


def _sizes(demand: Demand) -> tuple[Decimal, ...]:
    return tuple(dict.fromkeys(fit.size for fit in demand.fits))


def _measured(stuck: _Stuck) -> Iterator[Mend]:
    """A cable whose diameter as written goes into a smaller block: its tolerance takes the larger one."""
    narrowed: dict[str, Demand] = {}
    for demand in stuck.asked.demands:
        cable = demand.cable
        if cable.assumed or cable.least == cable.most or demand.others:
            continue
        sure = cable.model_copy(update={"least": cable.likely, "most": cable.likely})
        fits = fit_cable(sure, stuck.catalogue, stuck.definition.job)
        if fits and demand.fits and fits[0].size < demand.fits[0].size:
            narrowed[cable.tag] = Demand(sure, fits)

    def mends() -> Iterator[Mend]:
        for at in _kinds(stuck, lambda demand: (_sizes(demand), demand.cable.tag in narrowed)):
            demand = stuck.asked.demands[at]
            if demand.cable.tag in narrowed:
                yield _measure(stuck, {demand.cable.tag: narrowed[demand.cable.tag]})
        if len(narrowed) > 1:
            yield _measure(stuck, narrowed)

    return _those_that_work(stuck, mends())


def _measure(stuck: _Stuck, narrowed: dict[str, Demand]) -> Mend:
    demands = tuple(narrowed.get(demand.cable.tag, demand) for demand in stuck.asked.demands)
    if len(narrowed) == 1:
        ((tag, demand),) = narrowed.items()
        says = (
            f"measure {tag} before it is ordered, and narrow its tolerance in the schedule: at"
            f" {format_mm(demand.cable.likely)} mm it goes into block {format_mm(demand.fits[0].size)}"
        )
    else:
        says = (
            f"measure {', '.join(narrowed)} before they are ordered, and narrow their tolerances in the schedule:"
            " as written they go into smaller blocks"
        )
    return Mend("measure", says, replace(stuck.asked, demands=demands))


def _without(asked: Asked, at: int) -> Asked:
    return replace(asked, demands=(*asked.demands[:at], *asked.demands[at + 1 :]))


def _outs(stuck: _Stuck) -> Iterator[tuple[Cable, Asked]]:
    """Yield cables without which there is a layout, the thinnest kind first."""
    kinds = list(_kinds(stuck, lambda demand: (_sizes(demand), demand.cable.service)))[::-1]
    for at in kinds[:TRIES]:
        asked = _without(stuck.asked, at)
        if _works(stuck.definition, stuck.id, asked):
            yield stuck.asked.demands[at].cable, asked


def _moved(stuck: _Stuck) -> Iterator[Mend]:
    """A cable goes through another transit between the same rooms, beside everything that is asked there."""
    definition = stuck.definition
    rooms = set(definition.walls[stuck.transit.wall].sides)
    others = [
        name
        for name, other in sorted(
            definition.transits.items(), key=lambda item: (item[1].wall != stuck.transit.wall, item[0])
        )
        if name != stuck.id
        and set(definition.walls[other.wall].sides) == rooms
        and (other.frame or "") in definition.catalogue_of(other).frames
    ]
    tried = 0
    for cable, asked in _outs(stuck):
        for name in others:
            if name in cable.transits:
                continue
            tried += 1
            if tried > TRIES:
                return
            if _takes(definition, name, cable):
                yield Mend("move", f"move cable {cable.tag} to {name}, which has room for it", asked)


def _takes(definition: Definition, name: str, cable: Cable) -> bool:
    transit = definition.transits[name]
    catalogue, job = definition.catalogue_of(transit), definition.job
    cables = (*definition.cables_through(name), cable)
    demands = tuple(demands_of(transit, cables, fit_all(transit, cables, catalogue, job)))
    if not all(demand.fits for demand in demands):
        return False
    return _works(definition, name, Asked(catalogue.frames[transit.frame or ""], demands, transit.spares))


def _one_out(stuck: _Stuck) -> Iterator[Mend]:
    for cable, asked in _outs(stuck):
        yield Mend(
            "out", f"move cable {cable.tag} to a new transit: no other between these rooms has room for it", asked
        )


# -- frames ----------------------------------------------------------------------------------------------------


def _other_frame(stuck: _Stuck) -> Iterator[Mend]:
    transit, catalogue = stuck.transit, stuck.catalogue
    if transit.keep:
        return  # what stays in one frame is in no other
    offers = [
        Offer(part, frame, frame.price, refusal(stuck.definition, stuck.id, part))
        for part, frame in sorted(catalogue.frames.items())
        if transit.fixing in frame.fixings and part != transit.frame
    ]
    rules = _rules(stuck.definition, transit)
    found = choose_frames(offers, catalogue, stuck.asked.demands, stuck.asked.spares, STEPS, rules, most=1)
    if isinstance(found, Choice):
        asked = replace(stuck.asked, frame=catalogue.frames[found.frames[0]])
        if _works(stuck.definition, stuck.id, asked):
            yield Mend("frame", f"take frame {found.frames[0]}", asked)
