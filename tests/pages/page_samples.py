"""A job for the tests of transit pages: every kind, one that can't be built, one full of hostile text."""

from decimal import Decimal
from pathlib import Path
from typing import Any

from generator.errors import Problem, Where
from generator.model.comparison import ComparedLine, Comparison
from generator.model.job import Definition
from generator.model.layout import DiameterTable, NoLayout
from generator.model.pack import TransitPack, WorkPack
from generator.model.procedure import Caution, Message
from generator.pages.assets import assets
from tests import sample_packs

STOPPED, HOSTILE, LONG_TAGS = "B2-023", "ABCDEFGHIJKLMNOPQRSTUVWX", "WWWWWWWWWWWWWWWWWWWWWWWW"
EVIL = (
    "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>"
    "{{ 1234 * 1234 }}{% raw %}&amp; javascript:alert(1) ../../../x"
)
LONG = f"{EVIL} " + "long " * 1000 + "x" * 5000 + " שלום עולם"

STOP = Problem(
    where=Where("cables.csv", 88, 7),
    what="C-240 is 61 mm thick",
    why="no block of the catalogue holds it",
    mend="check the diameter, or take it through another transit",
    transit=STOPPED,
)
LOOK = Problem(
    where=Where("cables.csv", 14, 7),
    what="C-202 may need any of three numbers of layers",
    why="its range of 2 mm is wider than one answer",
    mend="measure the drum",
    severity="look",
    transit=HOSTILE,
)


def _caution(id: str, signal: Any, title: str, text: str, card: tuple[str, str] | None, rank: int) -> Caution:
    short = (Message(text=card[0]), Message(text=card[1])) if card else None
    common = {"source": "common practice, no source", "rank": rank}
    return Caution(id=id, signal=signal, title=Message(text=title), text=Message(text=text), card=short, **common)


CAUTIONS = (
    _caution(
        "live", "danger", "Live cables kill", "Ask for the permit.", ("Cables are live", "Ask for the permit."), 1
    ),
    _caution("knife", "caution", "The knife slips", "Cut away from you.", ("Knife slips", "Cut away from you."), 2),
    sample_packs.CAUTION,
    _caution("dirt", "notice", "Keep dirt out", "Dirt lets water through.", None, 50),
)


def _with_cautions(pack: TransitPack) -> TransitPack:
    steps = list(pack.steps)
    steps[0] = steps[0].model_copy(update={"cautions": CAUTIONS[:2]})
    reads = (Message(text="width of the bay: {width}", values={"width": "143 to 145 mm"}),)
    steps[1] = steps[1].model_copy(
        update={"cautions": CAUTIONS[3:], "kind": "hold", "party": "quality", "reads": reads}
    )
    return pack.model_copy(update={"cautions": CAUTIONS, "steps": tuple(steps)})


def _stopped(pack: TransitPack) -> TransitPack:
    layout = NoLayout(
        what="Row 3 is 6 mm too wide",
        why="the blocks take 150 mm, the bay is 144 mm wide",
        mend="move D-403 to another transit",
    )
    nothing: dict[str, Any] = {"steps": (), "cautions": (), "bring": (), "tables": ()}
    return pack.model_copy(update={"id": STOPPED, "layout": layout, "problems": (STOP,), **nothing})


def _hostile(pack: TransitPack) -> TransitPack:
    cables = [cable.model_copy(update={"note": EVIL, "type": EVIL[:100], "drum": "<i>7"}) for cable in pack.cables]
    cables[0] = cables[0].model_copy(update={"note": LONG})
    wall = pack.wall.model_copy(
        update={
            "name": EVIL,
            "area": "<u>area",
            "sides": ("<b>Pump & hall", pack.wall.sides[1]),
            "note": LONG,
            "datum": pack.wall.datum.model_copy(update={"x": EVIL}),
            "demands": pack.wall.demands.model_copy(update={"other": (EVIL,), "fire": "<fire>"}),
        }
    )
    evil = Message(text="{words}", values={"words": EVIL})
    compared = ComparedLine(wall=evil, certificate=evil, verdict="not comparable", why=evil)
    transit = pack.transit.model_copy(update={"note": LONG, "tag": EVIL, "working_side": "<b>Pump & hall"})
    steps = list(pack.steps)
    steps[0] = steps[0].model_copy(
        update={"text": Message(text="Cut {opening}", values={"opening": f"{EVIL} {{opening}} {{other}}"})}
    )
    job = pack.job.model_copy(update={"name": EVIL, "client": "<client>", "emergency": EVIL})
    changed: dict[str, Any] = {"wall": wall, "transit": transit, "cables": tuple(cables), "job": job}
    changed["comparisons"] = (Comparison(about="other", lines=(compared,)),)
    return pack.model_copy(update={"id": HOSTILE, "steps": tuple(steps), "problems": (LOOK,), **changed})


def _long_tags(pack: TransitPack) -> TransitPack:
    """Give every cable a tag of 40 characters, and all of them something to measure."""
    names = {cable.tag: f"{cable.tag}-{'WM' * 17}"[:40] for cable in pack.cables}
    cables = tuple(cable.model_copy(update={"tag": names[cable.tag]}) for cable in pack.cables)
    fits = {names[tag]: fit.model_copy(update={"measure": True}) for tag, fit in pack.fits.items()}
    layout = pack.layout.model_dump()
    for bay in layout["bays"]:
        for row in bay["rows"]:
            for placement in row["placements"]:
                if placement["cable"]:
                    placement["cable"] = names[placement["cable"]]
                    placement["fit"]["measure"] = True
    changed = {"cables": cables, "fits": fits, "layout": type(pack.layout).model_validate(layout)}
    return pack.model_copy(update={"id": LONG_TAGS, **changed})


def with_hole(table: DiameterTable) -> DiameterTable:
    """Return a table in which the third row has no answer."""
    rows = list(table.rows)
    rows[2] = rows[2].model_copy(update={"peel": None, "gap_least": None, "gap_most": None})
    return table.model_copy(update={"rows": tuple(rows)})


def make_work() -> WorkPack:
    """Return the whole job."""
    welded = _with_cautions(sample_packs.welded())
    welded = welded.model_copy(update={"tables": (with_hole(welded.tables[0]), *welded.tables[1:])})
    placeholder = welded.cables[0].model_copy(
        update={"assumed": True, "diameter": None, "least": Decimal("46"), "most": Decimal("48")}
    )
    welded = welded.model_copy(update={"cables": (placeholder, *welded.cables[1:])})
    packs = [
        welded,
        *(make() for make in sample_packs.ALL[1:]),
        _stopped(welded),
        _hostile(welded),
        _long_tags(welded),
    ]
    definition = Definition(
        job=sample_packs.JOB,
        catalogues={"sample": sample_packs.CATALOGUE},
        walls={"W3": sample_packs.WALL, "D1": sample_packs.DECK},
        transits={pack.id: pack.transit for pack in packs},
        cables=tuple({cable.tag: cable for pack in packs for cable in pack.cables}.values()),
    )
    return WorkPack(
        definition=definition,
        transits={pack.id: pack for pack in packs},
        phases=sample_packs.PHASES,
        problems=(STOP, LOOK),
    )


def write_site(folder: Path, pages: dict[str, str]) -> Path:
    """Write pages and everything they load, by their paths, as a browser finds them on a disk."""
    files = {path: text.encode("utf-8") for path, text in pages.items()} | dict(assets())
    for path, content in files.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(content)
    return folder
