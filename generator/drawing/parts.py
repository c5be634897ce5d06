"""What of the catalogue a drawing needs to look up: the opening, and what is tightened round it."""

from generator.model.catalogue import Fixing, Opening, Tightening
from generator.model.pack import TransitPack
from generator.model.scalars import format_mm


def _fixing_of(pack: TransitPack) -> Fixing | None:
    part = pack.transit.frame or pack.transit.split_seal or ""
    holder = pack.catalogue.frames.get(part) or pack.catalogue.split_seals.get(part)
    return holder.fixings.get(pack.transit.fixing) if holder else None


def opening_of(pack: TransitPack) -> Opening | None:
    """Return the opening a transit needs: its fixing's, or that of the sleeve which holds it."""
    fixing = _fixing_of(pack)
    if fixing is None:
        return None
    if fixing.opening is None and fixing.sleeve is not None and fixing.sleeve in pack.catalogue.sleeves:
        return pack.catalogue.sleeves[fixing.sleeve].opening
    return fixing.opening


def screws_of(pack: TransitPack) -> Tightening | None:
    """Return how a round frame or a split seal is tightened in its hole, where it has screws."""
    fixing = _fixing_of(pack)
    if fixing is None:
        return None
    if fixing.sleeve is not None and fixing.sleeve in pack.catalogue.sleeves:
        return pack.catalogue.sleeves[fixing.sleeve].tightening
    return fixing.tightening


def weld_of(pack: TransitPack) -> tuple[str, str] | None:
    """Return where a frame's weld runs (working side, far side, both sides) and its leg, mm."""
    fixing = _fixing_of(pack)
    if fixing is None or fixing.weld is None:
        return None
    return fixing.weld.sides, format_mm(fixing.weld.leg)


def opening_words(opening: Opening) -> str:
    """Return an opening's size with its tolerance: 170 × 206 ±2, Ø172 +1/0."""
    if opening.diameter is not None:
        size = f"Ø{format_mm(opening.diameter)}"
    else:
        size = f"{format_mm(opening.width or opening.plus)} × {format_mm(opening.height or opening.plus)}"
    plus, minus = format_mm(opening.plus), format_mm(opening.minus)
    if opening.plus == opening.minus:
        return f"{size} ±{plus}" if opening.plus else size
    return f"{size} {'+' + plus if opening.plus else '0'}/{'-' + minus if opening.minus else '0'}"
