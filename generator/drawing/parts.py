"""What of the catalogue a drawing needs to look up: the opening, and what is tightened round it."""

from generator.model.catalogue import Fixing, Flange, Opening, Setting, Tightening
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


def flange_of(pack: TransitPack) -> tuple[Flange, Tightening] | None:
    """Return the flange by which a frame is bolted on, and its bolts."""
    fixing = _fixing_of(pack)
    if fixing is None or fixing.flange is None or fixing.tightening is None:
        return None
    return fixing.flange, fixing.tightening


def flange_places(flange: Flange, width: float, height: float) -> list[tuple[float, float]]:
    """Return where the bolts of a flange stand, mm from its lower left corner: clockwise from the upper left."""
    low, high = float(flange.inset), height - float(flange.inset)
    left, right = float(flange.inset), width - float(flange.inset)
    across = [left + (right - left) * n / (flange.across - 1) for n in range(flange.across)]
    up = [low + (high - low) * n / (flange.up - 1) for n in range(1, flange.up - 1)]
    upper, lower = [(x, high) for x in across], [(x, low) for x in reversed(across)]
    return [*upper, *((right, y) for y in reversed(up)), *lower, *((left, y) for y in up)]


def setting_of(pack: TransitPack) -> Setting | None:
    """Return the mortar or concrete that holds a frame."""
    fixing = _fixing_of(pack)
    return fixing.setting if fixing else None


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
