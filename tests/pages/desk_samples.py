"""A job for the desk's tests, put together from the sample transits: several walls, and some problems."""

from datetime import date
from typing import Any

from generator.engine.marking import mark_out
from generator.errors import Problem, Where
from generator.model.job import Cable, Datum, Definition, Demands, Job, Landmarks, Wall
from generator.model.layout import NoLayout
from generator.model.pack import TransitPack, WorkPack
from generator.model.procedure import Caution, Message
from tests import sample_packs

LOOK = Problem(
    where=Where("cables.csv", 14, 7),
    what="C-202 may need any of three numbers of layers",
    why="its range of 2 mm is wider than one answer",
    mend="measure the drum, or narrow the range",
    severity="look",
    transit="B2-017",
)
STOP = Problem(
    where=Where("transits.yaml", 88, 7),
    what="W3 is 8 mm thick, the fixing takes 10 to 20 mm",
    why="a fixing holds only in the thickness its catalogue names",
    mend="choose a fixing that takes 8 mm, or ask the designer of the wall",
    transit="B2-022",
)
SHORT = Problem(
    where=Where("transits.yaml", 40, 5),
    what="the bay is 6 mm too low",
    why="rows, plates and the clamping unit fill a bay without a rest",
    mend="choose a higher frame, or move I-321 to another transit",
    transit="B2-019",
)
WHOLE_JOB = Problem(
    where=Where("job.yaml", 3, 1),
    what="nobody is named to call",
    why="the crew must know whom to call",
    mend="add emergency:",
    severity="look",
)
COMMON = "common practice, no source"


def _caution(id: str, signal: Any, title: str, text: str, source: str = COMMON, rank: int = 100) -> Caution:
    return Caution(
        id=id,
        signal=signal,
        title=Message(text=title),
        text=Message(text=text),
        card=None,
        rank=rank,
        source=source,
    )


CAUTIONS = (
    _caution("hot-work", "danger", "Fire behind the wall", "Clear both sides, keep a watch after the last spark."),
    _caution("sharp-edge", "caution", "Sharp edge", "Wear gloves until the edge is deburred."),
    _caution("dust", "notice", "Chips on the seal", "Cover what lies below."),
)


def pack_work(packs: dict[str, TransitPack], walls: dict[str, Wall], **changes: Any) -> WorkPack:
    """Put transits and walls together to a job; ``changes`` may give job, problems or cables."""
    by_tag = {cable.tag: cable for pack in packs.values() for cable in pack.cables if not cable.assumed}
    passing = {tag: tuple(id for id, pack in packs.items() if tag in pack.fits) for tag in by_tag}
    cables = tuple(cable.model_copy(update={"transits": passing[tag]}) for tag, cable in by_tag.items())
    definition = Definition(
        job=changes.get("job", sample_packs.JOB),
        catalogues={"sample": sample_packs.CATALOGUE},
        walls=walls,
        transits={id: pack.transit for id, pack in packs.items()},
        cables=changes.get("cables", cables),
    )
    own = tuple(problem for pack in packs.values() for problem in pack.problems)
    return WorkPack(
        definition=definition,
        transits=packs,
        phases=sample_packs.PHASES,
        problems=changes.get("problems", (*own, WHOLE_JOB)),
        marks={
            name: mark
            for wall_id, wall in walls.items()
            for name, mark in mark_out(wall, [pack for pack in packs.values() if pack.wall_id == wall_id]).items()
        },
    )


def small_job(**changes: Any) -> WorkPack:
    """Return four transits on two walls: one is stopped, one wants a look, one has no layout, one is well."""
    welded, round_frame, seal, deck = (make() for make in sample_packs.ALL)
    assumed = Cable(tag="future-1", service="power", least="15", most="25", assumed=True, transits=("B2-017",))
    packs = {
        "B2-017": welded.model_copy(
            update={
                "problems": (LOOK,),
                "cables": (*welded.cables, assumed),
                "cautions": (*welded.cautions, *CAUTIONS),
                "transit": welded.transit.model_copy(update={"day": date(2031, 5, 14), "note": "Mind the rail."}),
            }
        ),
        "B2-019": round_frame.model_copy(
            update={"layout": NoLayout(what=SHORT.what, why=SHORT.why, mend=SHORT.mend), "problems": (SHORT,)}
        ),
        "B2-022": seal.model_copy(update={"problems": (STOP,), "cautions": CAUTIONS[1:]}),
        "D1-004": deck,
    }
    return pack_work(packs, {"W3": sample_packs.WALL, "D1": sample_packs.DECK}, **changes)


def large_job(walls: int = 7, each: int = 22) -> WorkPack:
    """Return a job of many transits, for pictures and for measuring."""
    made = [make() for make in sample_packs.ALL[:3]]
    packs: dict[str, TransitPack] = {}
    plates: dict[str, Wall] = {}
    rooms = ("Forebay", "Screen room", "Pump hall", "Cable cellar", "Switch room", "Control room", "River side")
    for wall in range(walls):
        wall_id = f"W{wall + 1}"
        update = {
            "sides": (rooms[wall % 7], rooms[(wall + 1) % 7]),
            "area": ("Cellar", "Ground floor", "Gate head")[wall % 3],
        }
        plates[wall_id] = sample_packs.WALL.model_copy(update=update)
        for place in range(each * (wall + 1) // walls + 1):
            pack = made[(wall + place) % 3]
            id = f"B{wall + 1}-{place + 11:03}"
            spot = pack.transit.at.model_copy(update={"x": 620 + 560 * place})
            transit = pack.transit.model_copy(
                update={
                    "wall": wall_id,
                    "at": spot,
                    "working_side": update["sides"][0],
                    "day": date(2031, 5, 14 + place // 9) if place < 20 else None,
                }
            )
            problems = ()
            if place == 7:
                problems = (STOP.__class__(STOP.where, STOP.what, STOP.why, STOP.mend, "stop", id),)
            packs[id] = pack.model_copy(
                update={
                    "id": id,
                    "wall_id": wall_id,
                    "wall": plates[wall_id],
                    "transit": transit,
                    "problems": problems,
                    "cautions": (*pack.cautions, *CAUTIONS) if place % 2 else pack.cautions,
                }
            )
    return pack_work(packs, plates)


def named_job(**names: Any) -> Job:
    """Return the sample job with other names in it."""
    return sample_packs.JOB.model_copy(update=names)


def endless_job() -> WorkPack:
    """Return a job whose every name is as long as its type allows, without a place to break a line."""
    tag, name, ident = "M" * 40, "W" * 160, "A" * 24
    wall = sample_packs.WALL.model_copy(
        update={
            "name": name,
            "area": tag,
            "sides": (tag, "N" * 40),
            "landmarks": Landmarks(left=tag, right=tag),
            "datum": Datum(x=name, y=name),
            "demands": Demands(other=(name,)),
            "note": "X" * 10_000,
        }
    )
    problem = Problem(Where("f" * 200 + ".csv", 3, 4), "q" * 500, "r" * 300, "s" * 300, "look", ident)
    welded = sample_packs.welded()
    transit = welded.transit.model_copy(update={"wall": ident, "tag": name, "working_side": tag, "note": "y" * 3_000})
    pack = welded.model_copy(
        update={
            "id": ident,
            "wall_id": ident,
            "wall": wall,
            "transit": transit,
            "problems": (problem,),
            "cautions": (_caution("long", "danger", name, "t" * 3_000, source=name),),
        }
    )
    job = named_job(name=name, client=name, number=tag, place=name, emergency=name, note="z" * 2_000)
    return pack_work({ident: pack}, {ident: wall}, job=job)
