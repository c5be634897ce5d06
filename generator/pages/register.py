"""The register: one line a transit for whoever looks after the building, as a page and as CSV."""

from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from generator.model.asbuilt import State
from generator.model.job import Demands
from generator.model.layout import Layout
from generator.model.pack import TransitPack, WorkPack
from generator.model.scalars import format_mm
from generator.pages import addresses
from generator.pages.render import make_environment
from generator.pages.spreadsheets import csv_text
from generator.pages.states import STATES, built_of, tell_deviation
from generator.pages.words import Words

COLUMNS = (
    "transit",
    "wall",
    "wall_demands",
    "fitted",
    "cables",
    "spares",
    "state",
    "closed_on",
    "closed_by",
    "revision",
    "changed_since",
    "records",
    "open_points",
)
"""The columns of register.csv: fixed names, whatever the language of the pages."""


@dataclass(frozen=True)
class RegisterRow:
    """One transit as a line of the register: text, '' for what is not known."""

    id: str
    wall: str
    demands: str
    fitted: str
    cables: int
    spares: int
    state: State
    closed_on: str
    closed_by: str
    revision: str
    changed: bool
    records: int
    open: tuple[str, ...]


class Register:
    """Makes the register of a work pack in one language."""

    def __init__(self, work: WorkPack, words: Words) -> None:
        self.work = work
        self.words = words
        self._environment = make_environment("desk", words)
        self._environment.globals.update(
            say=words.say, say_count=words.say_count, addresses=addresses, states=STATES, mm=format_mm
        )

    def rows(self) -> tuple[RegisterRow, ...]:
        """Return a line for each transit, those withdrawn and gone among them, in the order of the IDs."""
        every = {**self.work.transits, **self.work.gone}
        return tuple(self._row(pack) for _id, pack in sorted(every.items()))

    def page(self) -> Markup:
        """Return the body of the register's page, escaped."""

        def link(there: str) -> str:
            return addresses.link(addresses.REGISTER, there)

        values: dict[str, Any] = {
            "rows": self.rows(),
            "job": self.work.definition.job,
            "walls": self.work.definition.walls,
            "link": link,
        }
        return Markup(
            self._environment.get_template("register.html").render(**values)
        )  # from an escaping environment

    def csv(self) -> str:
        """Return the register as CSV, with a byte order mark so that spreadsheets read UTF-8."""
        return csv_text(COLUMNS, (self._cells(row) for row in self.rows()))

    @staticmethod
    def _cells(row: RegisterRow) -> tuple[str, ...]:
        return (
            row.id,
            row.wall,
            row.demands,
            row.fitted,
            str(row.cables),
            str(row.spares),
            row.state,
            row.closed_on,
            row.closed_by,
            row.revision,
            "yes" if row.changed else "no",
            str(row.records),
            "; ".join(row.open),
        )

    def _row(self, pack: TransitPack) -> RegisterRow:
        built = built_of(self.work, pack.id)
        placements = pack.layout.placements if isinstance(pack.layout, Layout) else ()
        changed = bool(pack.standing and pack.standing.now)
        say = self.words.say
        points = [tell_deviation(deviation, self.words) for deviation in built.open]
        if pack.withdrawn:
            points.insert(0, say("withdrawn: {why}", why=pack.withdrawn))
        if changed:
            points.append(say("the definition has changed since it was issued"))
        points += [say("a record of a newer format is kept and not shown") for _kept in built.newer]
        return RegisterRow(
            id=pack.id,
            wall=pack.wall_id,
            demands=_demands(pack.wall.demands, say),
            fitted=self._fitted(pack),
            cables=sum(not cable.assumed for cable in pack.cables),
            spares=sum(placement.role == "spare" for placement in placements),
            state=built.state,
            closed_on=built.closed_on,
            closed_by=built.closed_by,
            revision=pack.revision,
            changed=changed,
            records=len(built.sheets) + len(built.newer),
            open=tuple(points),
        )

    def _fitted(self, pack: TransitPack) -> str:
        transit, catalogue, say = pack.transit, pack.catalogue, self.words.say
        if transit.split_seal:
            seal = catalogue.split_seals[transit.split_seal]
            return say("split seal {diameter}", diameter=format_mm(seal.diameter))
        frame = catalogue.frames[transit.frame or ""]
        if frame.shape == "round":
            return say("round frame {diameter}", diameter=format_mm(frame.width))
        sizes = [f"{format_mm(bay.width)} × {format_mm(bay.height)}" for bay in frame.bays]
        same = len(set(sizes)) == 1 and len(sizes) > 1
        size = f"{len(sizes)} × {sizes[0]}" if same else ", ".join(sizes)
        return say("frame {size}", size=size)


def _demands(demands: Demands, say: Any) -> str:
    told = [demands.fire or "", demands.l_rating.text if demands.l_rating else "", "W" if demands.w_rating else ""]
    if demands.water_head_m is not None:
        told.append(say("{head} m of water", head=format_mm(demands.water_head_m)))
    if demands.water_bar is not None:
        told.append(say("{pressure} bar of water", pressure=format_mm(demands.water_bar)))
    if demands.gas_mbar is not None:
        told.append(say("gas at {pressure} mbar", pressure=format_mm(demands.gas_mbar)))
    elif demands.gas:
        told.append(say("gas"))
    told += [demands.ip or "", *demands.other]
    return ", ".join(item for item in told if item)
