"""What each line that a step writes down asks for: what a page's scripts enter, and where a record then has it."""

import re
from dataclasses import dataclass
from decimal import Decimal

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
