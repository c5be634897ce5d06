"""How far transits are, in words and numbers, for every page that says so."""

from dataclasses import dataclass

from generator.model.asbuilt import AsBuilt, Deviation, State
from generator.model.pack import TransitPack, WorkPack
from generator.pages.words import Words, _

STATES: dict[State, str] = {
    "planned": _("planned"),
    "issued": _("issued"),
    "cut": _("opening cut"),
    "packed": _("packed"),
    "closed": _("closed"),
    "recorded": _("closed, record in"),
    "withdrawn": _("withdrawn"),
}
"""What the states are called."""


def built_of(work: WorkPack, transit_id: str) -> AsBuilt:
    """Return what the records of a transit come to; as planned or issued where there are none."""
    pack = work.pack_of(transit_id)
    built = work.as_built.get(transit_id) or AsBuilt(state="issued" if pack.revision else "planned")
    return built.model_copy(update={"state": "withdrawn"}) if pack.withdrawn else built


def tell_deviation(deviation: Deviation, words: Words) -> str:
    """Return a deviation in one line of plain text; record.html says the same with its parts marked."""
    about = f" ({words.tell_plain(deviation.about)})" if deviation.about else ""
    missing = "; ".join(words.tell_plain(message) for message in deviation.of)
    return f"{words.tell_plain(deviation.says)}{about}" + (f": {missing}" if missing else "")


@dataclass(frozen=True)
class Progress:
    """How far some transits are. ``changed`` are issued and the definition would now give other work."""

    total: int
    issued: int
    changed: int
    closed: int
    recorded: int
    open: int


def progress_of(work: WorkPack, packs: list[TransitPack]) -> Progress:
    """Count how far ``packs`` are."""
    built = [built_of(work, pack.id) for pack in packs]
    states = [item.state for item in built]
    return Progress(
        total=len(packs),
        issued=sum(bool(pack.revision) and not pack.withdrawn for pack in packs),
        changed=sum(bool(pack.standing and pack.standing.now) for pack in packs),
        closed=sum(state in ("closed", "recorded") for state in states),
        recorded=states.count("recorded"),
        open=sum(len(item.open) for item in built),
    )
