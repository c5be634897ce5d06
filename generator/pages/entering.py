"""What a transit's page gives the scripts by which a crew enters what it did: keys, figures and tags, no words.

Lengths are whole thousandths of a mm, as in a work digest: a script that compares them needs no decimals.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from json import JSONEncoder
from typing import Any

from jinja2.utils import htmlsafe_json_dumps
from markupsafe import Markup

import generator
from generator.model.catalogue import PeelRule
from generator.model.job import Cable
from generator.model.layout import DiameterRow, DiameterTable, Fit, Layout, SealLayout
from generator.model.pack import TransitPack
from generator.model.procedure import Message, Step
from generator.model.scalars import format_mm
from generator.model.windows import unit_of, window_of

_COUNTS = {f"bay_{field}": field for field in ("rows", "plates", "blocks", "spares", "fillers")}
_TORQUE = re.compile(r"([0-9]+(?:\.[0-9]+)?) N·m")
_BOLT = re.compile(r"(?:[0-9]+\.)?([0-9]+)")
_AGAIN = ("protrusion-again", "torque-again", "protrusion-later", "torque-later", "holding-again")
_FORMS = {"place-row": "row", "tags": "cables"}


@dataclass(frozen=True)
class Asked:
    """What a line to write down is, as attributes: an ``ask`` and whatever belongs to it."""

    ask: str
    values: dict[str, str]

    @property
    def attributes(self) -> dict[str, str]:
        """What it is, by the names of data- attributes; what is empty is left out."""
        return {"ask": self.ask, **self.values}


def form_of(step: Step) -> str:
    """Return which form a step opens besides its tick: measure, row, cables, test, or ''."""
    if "type_cables" in step.text.values:
        return "measure"
    name = step.key.split(".")[0]
    return _FORMS.get(name, "test" if name.startswith("test-") and name != "test-none" else "")


def asked(step: Step) -> tuple[Asked, ...]:
    """Return for each line that a step writes down what kind of value it is, and its window."""
    found = [_asked(step, read) for read in step.reads]
    return tuple(Asked(line.ask, {"read": str(number), **line.values}) for number, line in enumerate(found, 1))


def _asked(step: Step, read: Message) -> Asked:
    name = step.key.split(".")[0]
    form = form_of(step)
    if form in ("measure", "test") or (form == "cables" and "(tags" in read.text):
        return Asked("form", {})
    for figure, field in _COUNTS.items():
        if figure in read.values:
            planned = read.values[figure]
            return Asked("count", {"field": field, "least": planned, "most": planned, "bay": str(step.bay or 1)})
    for of in ("closing", "holding"):
        bolt = _BOLT.fullmatch(read.values.get(f"{of}_bolt", ""))
        torque = _TORQUE.fullmatch(read.values.get(f"{of}_torque", ""))
        window = window_of(read)
        if bolt and (torque or window):
            least, most = (torque[1], torque[1]) if torque else _ends(window)
            return Asked(
                "bolt",
                {
                    "field": "torque_nm" if torque else "protrusion",
                    "of": of,
                    "bay": str(step.bay or 1),
                    "bolt": bolt[1],
                    "again": "yes" if name in _AGAIN else "",
                    "least": least,
                    "most": most,
                    "unit": "N·m" if torque else "mm",
                },
            )
    if read.text.startswith("photo from {"):
        return Asked("photo", {"side": "working" if "{working_side}" in read.text else "far"})
    if window := window_of(read):
        least, most = _ends(window)
        return Asked("number", {"least": least, "most": most, "unit": unit_of(read)})
    return Asked("person" if read.text.endswith(" by") else "text", {})


def _ends(window: tuple[Decimal | None, Decimal | None] | None) -> tuple[str, str]:
    least, most = window or (None, None)
    return ("" if least is None else format_mm(least), "" if most is None else format_mm(most))


def entering(pack: TransitPack) -> dict[str, Any]:
    """Return what the scripts of a transit's page know of its work besides its tables, as plain values for JSON."""
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


def as_data(pack: TransitPack, tables: Tables) -> Markup:
    """Return what scripts know as JSON, each block, type and table on a line: packs share equal lines."""
    parts = []
    for key, value in entering(pack).items():
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
