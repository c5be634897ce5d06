"""Sharing: which cables lie in one block, and what the layout is asked for because of it."""

from collections.abc import Mapping, Sequence

from generator.engine.fit import explain_no_fit, fit_cable, fit_seal, fit_shared
from generator.engine.units import Demand
from generator.model.catalogue import Catalogue
from generator.model.job import Cable, Job, Transit
from generator.model.layout import Fit, NoFit

Fits = Mapping[str, tuple[Fit, ...] | NoFit]
"""For each cable, by its tag, what it may lie in, smallest first; or why there is nothing."""


def fit_all(transit: Transit, cables: Sequence[Cable], catalogue: Catalogue, job: Job) -> Fits:
    """Return for each cable the blocks (or the split seal) that hold its whole range, or why there is none.

    A cable that shares a block with others has that block alone.
    """
    found: dict[str, tuple[Fit, ...] | NoFit] = {}
    passing = {cable.tag: cable for cable in cables}
    for shared in transit.shared:
        together = [passing[tag] for tag in shared.cables]
        for cable, fit in zip(together, fit_shared(together, shared.part, catalogue, job), strict=True):
            found[cable.tag] = fit if isinstance(fit, NoFit) else (fit,)
    for cable in cables:
        if cable.tag in found:
            continue
        if transit.split_seal:
            fit = fit_seal(cable, transit.split_seal, catalogue.split_seals[transit.split_seal], job)
            found[cable.tag] = fit if isinstance(fit, NoFit) else (fit,)
        else:
            found[cable.tag] = fit_cable(cable, catalogue, job) or explain_no_fit(cable, catalogue, job)
    return {cable.tag: found[cable.tag] for cable in cables}


def demands_of(transit: Transit, cables: Sequence[Cable], fits: Fits) -> list[Demand]:
    """Return what a layout is asked for, in the order of the cables: one demand for those that share a block.

    It stands where the first of them is met. A cable without a fit has a demand that nothing holds.
    """
    passing = {cable.tag: cable for cable in cables}
    with_others = {tag: shared.cables for shared in transit.shared for tag in shared.cables}
    demands: list[Demand] = []
    met: set[str] = set()
    for cable in cables:
        together = with_others.get(cable.tag, (cable.tag,))
        if together[0] in met:
            continue
        met.add(together[0])
        known = [(passing[tag], () if isinstance(fit := fits[tag], NoFit) else fit) for tag in together]
        (first, blocks), *others = known
        if all(held for _, held in others):
            demands.append(Demand(first, blocks, tuple((other, held[0]) for other, held in others)))
        else:
            demands.append(Demand(first, ()))
    return demands
