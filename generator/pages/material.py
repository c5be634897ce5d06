"""The page Material: what the job needs, by wall, area and day, and the same as files for a spreadsheet."""

from collections.abc import Iterator, Sequence
from typing import Any

from markupsafe import Markup

from generator.model.job import Definition
from generator.model.pack import WorkPack
from generator.model.quantities import Need, StockLine
from generator.model.scalars import format_mm
from generator.pages import addresses
from generator.pages.render import make_environment
from generator.pages.spreadsheets import Sheet, Value, csv_text, workbook
from generator.pages.words import Words, _

GROUPS = {
    "sleeve": _("sleeve"),
    "frame": _("frame"),
    "split-seal": _("split seal"),
    "block": _("block"),
    "filler": _("filler"),
    "row-plate": _("row plate"),
    "clamping-unit": _("clamping unit"),
    "consumable": _("used up"),
}
"""What a part is called in the files."""

NEED_COLUMNS = ("kind", "system", "part", "what", "amount", "unit")
LINE_COLUMNS = (
    *NEED_COLUMNS,
    "wastage_percent",
    "container_holds",
    "to_order",
    "ordered",
    "still_to_order",
    "handed_out",
    "brought_back",
    "out",
)
TRANSIT_COLUMNS = ("transit", "wall", "area", "day", *NEED_COLUMNS)
"""The columns of the files: fixed names, whatever the language of the pages."""


class Material:
    """Makes the page of a work pack's quantities in one language, and its files."""

    def __init__(self, work: WorkPack, words: Words) -> None:
        self.work = work
        self.words = words
        self._quantities = work.quantities
        self._environment = make_environment("desk", words)
        self._environment.globals.update(
            say=words.say, say_count=words.say_count, tell=words.tell, addresses=addresses, mm=format_mm
        )

    def page(self) -> Markup:
        """Return the body of the page, escaped."""

        def link(there: str) -> str:
            return addresses.link(addresses.MATERIAL, there)

        definition = self.work.definition
        values: dict[str, Any] = {
            "job": definition.job,
            "quantities": self._quantities,
            "several": len(definition.catalogues) > 1,
            "system": lambda name: _system(definition, name),
            "days": [
                (day, self._day(day), needs)
                for day, needs in sorted(self._quantities.days.items(), key=lambda item: (not item[0], item[0]))
            ],
            "on_day": self._on_day,
            "link": link,
        }
        return Markup(self._environment.get_template("material.html").render(**values))  # an escaping environment

    def csv(self) -> str:
        """Return what every transit needs, a row for each of its parts, as CSV."""
        return csv_text(TRANSIT_COLUMNS, self._transit_rows())

    def job_csv(self) -> str:
        """Return what the job needs and what became of it, a row for each part, as CSV."""
        return csv_text(LINE_COLUMNS, self._line_rows())

    def xlsx(self) -> bytes:
        """Return everything as one XLSX file: the job, walls, areas, days, transits and tools, a sheet each."""
        quantities, tell = self._quantities, self.words.tell_plain
        tools = [(tell(tool.name), len(tool.transits), " ".join(tool.transits)) for tool in quantities.tools]
        grouped = (
            ("Walls", "wall", quantities.walls),
            ("Areas", "area", quantities.areas),
            ("Days", "day", quantities.days),
        )
        return workbook(
            self.work.definition.job.name,
            (
                Sheet("Job", LINE_COLUMNS, tuple(self._line_rows())),
                *(
                    Sheet(
                        name,
                        (column, *NEED_COLUMNS),
                        [(key, *self._need(need)) for key, needs in groups.items() for need in needs],
                    )
                    for name, column, groups in grouped
                ),
                Sheet("Transits", TRANSIT_COLUMNS, tuple(self._transit_rows())),
                Sheet("Tools", ("tool", "transits", "where"), tools),
            ),
        )

    def _transit_rows(self) -> Iterator[Sequence[Value]]:
        for transit_id, needs in self._quantities.transits.items():
            pack = self.work.transits[transit_id]
            for need in needs:
                yield (transit_id, pack.wall_id, pack.wall.area, self._written(transit_id), *self._need(need))

    def _line_rows(self) -> Iterator[Sequence[Value]]:
        for line in self._quantities.lines:
            yield (
                *self._need(line.need),
                "" if line.wastage is None else line.wastage,
                "" if line.holds is None else line.holds,
                line.to_order,
                *(self._stock(line) if self._quantities.stocked else ("",) * 5),
            )

    @staticmethod
    def _stock(line: StockLine) -> tuple[Value, ...]:
        return (line.ordered, line.missing, line.issued, line.returned, line.out)

    def _need(self, need: Need) -> tuple[Value, ...]:
        return (
            self.words.say(GROUPS[need.group]),
            _system(self.work.definition, need.catalogue),
            need.part,
            self.words.tell_plain(need.name),
            need.amount,
            need.unit,
        )

    def _day(self, day: str) -> str:
        known = {pack.transit.day for pack in self.work.transits.values() if pack.transit.day}
        return next((self.words.day(one) for one in known if one.isoformat() == day), day)

    def _on_day(self, day: str) -> list[str]:
        return [name for name in self._quantities.transits if self._written(name) == day]

    def _written(self, transit_id: str) -> str:
        day = self.work.transits[transit_id].transit.day
        return day.isoformat() if day else ""


def _system(definition: Definition, name: str) -> str:
    catalogue = definition.catalogues.get(name)
    return catalogue.system if catalogue else name
