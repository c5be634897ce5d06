"""What a transit's page gives the scripts by which a crew enters what it did: keys, figures and tags, no words.

Lengths are whole thousandths of a mm, as in a work digest: a script that compares them needs no decimals.
"""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from json import JSONEncoder
from typing import Any

from jinja2.utils import htmlsafe_json_dumps
from markupsafe import Markup

import generator
from generator.model.asked import form_of
from generator.model.catalogue import PeelRule
from generator.model.job import Cable
from generator.model.layout import DiameterRow, DiameterTable, Fit, Layout, SealLayout
from generator.model.pack import TransitPack
from generator.model.scalars import format_mm


def entering(pack: TransitPack, home: Sequence[str] = ()) -> dict[str, Any]:
    """Return what the scripts of a transit's page know of its work besides its tables, as plain values for JSON.

    ``home`` names the records that came home and with which the page was made.
    """
    return {
        "job": pack.job.uid,
        "transit": pack.id,
        "revision": pack.revision,
        "work": pack.digest,
        "madeBy": f"wallwork {generator.__version__}",
        "sides": [pack.transit.working_side, pack.far_side],
        "bands": [
            [None if band.up_to is None else _thousandths(band.up_to), _thousandths(band.step)]
            for band in pack.job.readings
        ],
        **({"home": list(home)} if home else {}),
        **({"tape": _thousandths(pack.job.tape.step)} if pack.job.tape else {}),
        "blocks": _blocks(pack),
        "types": _types(pack),
    }


class Tables:
    """Remembers how diameter tables are written for the scripts: a catalogue's few stand on every page of a job."""

    def __init__(self) -> None:
        self._known: dict[tuple[int, Decimal | None], tuple[DiameterTable, str]] = {}

    def of(self, pack: TransitPack) -> str:
        """Return the tables of a transit as JSON, each on a line."""
        return "{" + ",\n".join(f"{_json(table.part)}:{self._one(table, pack)}" for table in pack.tables) + "}"

    def _one(self, table: DiameterTable, pack: TransitPack) -> str:
        catalogue = pack.catalogue
        rule: PeelRule | None = catalogue.blocks.get(table.part) or catalogue.split_seals.get(table.part)
        not_round = rule.not_round if rule else None
        key = (id(table), not_round)
        if key not in self._known:
            # The table is kept beside its text, so that its id is not given to another.
            self._known[key] = (table, _json(_table(table, not_round)))
        return self._known[key][1]


def as_data(pack: TransitPack, tables: Tables, home: Sequence[str] = ()) -> Markup:
    """Return what scripts know as JSON, each block, type and table on a line: packs share equal lines."""
    parts = []
    for key, value in entering(pack, home).items():
        if value and isinstance(value, list) and isinstance(value[0], dict):
            text = "[" + ",\n".join(_json(item) for item in value) + "]"
        else:
            text = _json(value)
        parts.append(f"{_json(key)}:{text}")
    parts.append(f'"tables":{tables.of(pack)}')
    # Safe: JSON in which no < > & ' is left. The encoder is made once, so only the escaping is Jinja's.
    return htmlsafe_json_dumps("{" + ",\n".join(parts) + "}", dumps=str)


_json = JSONEncoder(separators=(",", ":"), ensure_ascii=False).encode


def _thousandths(value: Decimal) -> int:
    return int((value * 1000).to_integral_value())


def _blocks(pack: TransitPack) -> list[dict[str, Any]]:
    """List the blocks in the order of insertion; the only one of a split seal has the place 1."""
    layout = pack.layout
    if isinstance(layout, SealLayout):
        return [{"at": "1", "bay": 0, "row": 0, "role": "cable", "part": layout.part, "cable": layout.cable}]
    if not isinstance(layout, Layout):
        return []
    return [
        {
            "at": placed.position,
            "bay": placed.bay,
            "row": placed.row,
            "role": placed.role,
            "part": placed.part,
            "size": format_mm(placed.size),
            **({"cable": placed.cable} if placed.cable else {}),
            **({"others": [bore.cable for bore in placed.others]} if placed.others else {}),
        }
        for placed in layout.placements
    ]


def _types(pack: TransitPack) -> list[dict[str, Any]]:
    """Group the known cables by type, drum and block: one measurement serves them all."""
    groups: dict[tuple[str, str, str, str], list[Cable]] = {}
    order = {cable.tag: number for number, cable in enumerate(pack.cables)}
    for cable in pack.cables:
        fit = pack.fits.get(cable.tag)
        if not cable.assumed and isinstance(fit, Fit):
            own = "" if cable.type else cable.tag
            groups.setdefault((cable.type or "", cable.drum or "", own, fit.part), []).append(cable)
    steps = {step.text.values.get("type_cables"): step.key for step in pack.steps if form_of(step) == "measure"}
    together: dict[tuple[str, str, str], list[str]] = {}
    for (kind, drum, own, _part), cables in groups.items():
        together.setdefault((kind, drum, own), []).extend(cable.tag for cable in cables)
    return [
        {
            "cables": [cable.tag for cable in cables],
            "part": part,
            "step": steps.get(", ".join(sorted(together[kind, drum, own], key=order.__getitem__)), ""),
            **({"type": kind} if kind else {}),
            **({"drum": drum} if drum else {}),
            **_planned(cables[0], pack),
        }
        for (kind, drum, own, part), cables in groups.items()
    ]


def _planned(cable: Cable, pack: TransitPack) -> dict[str, Any]:
    fit = pack.fits[cable.tag]
    assert isinstance(fit, Fit)
    peel = {} if fit.measure else {"a": fit.likely.a, "b": fit.likely.b, "expect": _thousandths(fit.likely.gap)}
    return {
        "likely": format_mm(cable.likely),
        "least": format_mm(cable.least),
        "most": format_mm(cable.most),
        "gap": [_thousandths(fit.window.least), _thousandths(fit.window.most)],
        **peel,
    }


def _table(table: DiameterTable, not_round: Decimal | None) -> dict[str, Any]:
    return {
        "size": format_mm(table.size),
        "notRound": None if not_round is None else _thousandths(not_round),
        "two": _rows(table.pairs),  # by one reading the page itself shows it
        **({"tape": _rows(table.tape)} if table.tape else {}),
    }


def _rows(rows: Iterable[DiameterRow]) -> list[list[int]]:
    """Return rows as [least, most, A, B, least gap, most gap], those without an answer as [least, most]."""
    return [
        [
            _thousandths(row.least),
            _thousandths(row.most),
            *(
                [row.peel.a, row.peel.b, _thousandths(row.gap_least), _thousandths(row.gap_most)]
                if row.peel and row.gap_least is not None and row.gap_most is not None
                else []
            ),
        ]
        for row in rows
    ]
