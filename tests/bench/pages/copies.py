"""Many transits out of a few: solved once, then copied with IDs and tags of their own, so that no cache helps."""

from itertools import cycle, islice
from typing import Any

from pydantic import BaseModel

from generator.model.pack import TransitPack, WorkPack
from generator.model.quantities import Quantities

_SHARED = {"wall", "job", "catalogue", "phases", "tables"}
"""What copies have in common in a real job too."""


def many(work: WorkPack, count: int) -> WorkPack:
    """Return a work pack of ``count`` transits, copied in turn from those of ``work`` that can be built."""
    packs = [pack for pack in work.transits.values() if pack.can_be_built]
    copies = [_copy(pack, number) for number, pack in enumerate(islice(cycle(packs), count))]
    of = dict(zip((copy.id for copy in copies), cycle(packs)))
    marks = {copy: work.marks[pack.id] for copy, pack in of.items() if pack.id in work.marks}
    definition = work.definition.model_copy(update={"transits": {copy.id: copy.transit for copy in copies}})
    update = {"definition": definition, "transits": {pack.id: pack for pack in copies}, "marks": marks}
    update["quantities"] = Quantities()  # counted from what is copied, and no page of a transit
    return work.model_copy(update=update)


def _copy(pack: TransitPack, number: int) -> TransitPack:
    names = {pack.id: f"{pack.id}-{number}"}
    for place, cable in enumerate(pack.cables):
        names[cable.tag] = f"{cable.tag[:1]}-{number:04}{place:02}"
    update = {name: _renamed(getattr(pack, name), names) for name in TransitPack.model_fields if name not in _SHARED}
    return pack.model_copy(update=update)


def _renamed(value: Any, names: dict[str, str]) -> Any:
    if isinstance(value, str):
        return names.get(value, value)
    if isinstance(value, BaseModel):
        return value.model_copy(
            update={name: _renamed(getattr(value, name), names) for name in type(value).model_fields}
        )
    if isinstance(value, tuple):
        return tuple(_renamed(item, names) for item in value)
    if isinstance(value, dict):
        return {_renamed(key, names): _renamed(item, names) for key, item in value.items()}
    return value
