"""The finder's data: every transit and cable of a job as one classic script, which a disk can load too."""

import json
from collections.abc import Iterable
from typing import NamedTuple

from generator.model.job import Cable
from generator.model.pack import WorkPack


class Passage(NamedTuple):
    """A cable and the IDs of the transits it passes, in the order of the schedule."""

    cable: Cable
    transits: tuple[str, ...]


def cable_passages(work: WorkPack) -> tuple[Passage, ...]:
    """List every cable with the transits it passes: the schedule's first, then the assumed ones."""
    known = [Passage(cable, cable.transits) for cable in work.definition.cables]
    assumed = [
        Passage(cable, (transit_id,))
        for transit_id, pack in sorted(work.transits.items())
        for cable in pack.cables
        if cable.assumed
    ]
    return tuple(known + assumed)


def finder_script(work: WorkPack) -> str:
    """Write the finder's data as a classic script that sets ``wallworkFind``.

    ``transits`` has a list [ID, the drawing's tag, wall ID, working side, far side] for each, in order
    of their IDs; ``cables`` a list [tag, numbers into ``transits``, 1 when it is only assumed].
    """
    packs = sorted(work.transits.items())
    number = {transit_id: place for place, (transit_id, _) in enumerate(packs)}
    data = {
        "transits": [
            [transit_id, pack.transit.tag or "", pack.wall_id, pack.transit.working_side, pack.far_side]
            for transit_id, pack in packs
        ],
        "cables": [
            [cable.tag, [number[transit_id] for transit_id in transits if transit_id in number], int(cable.assumed)]
            for cable, transits in cable_passages(work)
        ],
    }
    return f"var wallworkFind = {script_literal(data)};\n"


def script_literal(data: object) -> str:
    """Write data as a JavaScript literal that is safe in a .js file and inside a script element.

    Only ASCII comes out: JSON escapes U+2028 and U+2029, which older scripts read as line ends. Each
    "<" is escaped as well, so that neither </script> nor <!-- can end or open anything.
    """
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def by_letter(passages: Iterable[Passage]) -> dict[str, list[Passage]]:
    """Group passages by the first letter or digit of the tag, letters in order, other signs under '#'."""
    groups: dict[str, list[Passage]] = {}
    for passage in sorted(passages, key=lambda passage: (passage.cable.tag.casefold(), passage.cable.tag)):
        first = passage.cable.tag[0].upper()
        groups.setdefault(first if first.isalnum() else "#", []).append(passage)
    return dict(sorted(groups.items()))
