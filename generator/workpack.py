"""One job folder becomes a work pack: the story in order. Read this file first.

Read the job (source). Whether each transit may be where it is on its wall (engine.marking), and whether its
certificate covers what the wall demands (engine.demands); then for each which
blocks hold each cable (engine.fit), which block goes where (engine.packing), an independent judgement of that
(engine.check), the steps and cautions (engine.steps) and what to bring (engine.quantities). What is issued
stays as it was issued (source.pins): the definition then only says what it would give instead
(engine.changes). What crews recorded (source.records) is held against it (engine.asbuilt). Problems that
belong to one transit stay with it; the others are built.
"""

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from importlib.resources import files
from itertools import pairwise
from pathlib import Path

from generator.engine.asbuilt import as_built
from generator.engine.bolts import bolts_of, judge_bolts
from generator.engine.changes import tell_changes, tell_words
from generator.engine.check import check_layout
from generator.engine.circuits import judge_circuits
from generator.engine.closing import judge_closing
from generator.engine.demands import judge_demands
from generator.engine.digest import work_digest
from generator.engine.facts import Situation, facts_of
from generator.engine.fit import diameter_table, fit_cable
from generator.engine.fixing import judge_wall
from generator.engine.left_open import choose_for, is_left_open
from generator.engine.marking import judge_places, mark_out
from generator.engine.mends import find_mends
from generator.engine.packing import Rules, pack_frame
from generator.engine.quantities import list_bring, total_up
from generator.engine.reasons import no_room, what_is_short
from generator.engine.reentry import BlockSize, Built, add_cable, block_sizes, every_size
from generator.engine.sharing import Fits, demands_of, fit_all
from generator.engine.steps import check_procedure, plan_steps, rules_for_adding
from generator.engine.units import FrameInUnits
from generator.errors import Finding, Problem, Where, WorkPackError
from generator.model.catalogue import Catalogue
from generator.model.issued import CalledOff
from generator.model.job import Cable, Definition, Job, Transit
from generator.model.layout import AnyLayout, DiameterTable, Fit, Layout, NoFit, NoLayout, SealLayout
from generator.model.pack import Change, Standing, Superseded, TransitPack, WorkPack
from generator.model.procedure import Step
from generator.model.reentry import Addition, Reentry, WhyNot
from generator.model.scalars import ServiceClass, format_mm
from generator.source.files import links_outside
from generator.source.folder import JobSource, read_job
from generator.source.pins import FOLDER, Chain, read_pins
from generator.source.records import FOLDER as RECORDS
from generator.source.records import kept_records

SEARCH_LIMIT = 3_000_000
"""How many steps the search for one layout may take: counted, so that every machine gives the same answer."""

NEW_CABLE = "the new cable"

REENTRY_LIMIT = 5_000
"""How many steps each search for the place of one more cable may take; every page asks for several."""

Progress = Callable[[int, int], None]


def load(folder: Path, progress: Progress | None = None) -> WorkPack:
    """Compute the work pack of the job in ``folder``.

    ``progress`` is told how many transits are done, and of how many. Raises WorkPackError with every
    problem of the first stage that has any; what is wrong with a single transit is in its pack instead.
    """
    source, packs, chains = _compute_all(folder, progress)
    stuck = [problem for chain in chains.values() for problem in _wall_gone(chain, source)]
    if stuck:
        raise WorkPackError(stuck)
    job = source.definition.job
    superseded = {transit_id: _superseded(job, chain) for transit_id, chain in chains.items()}
    gone = {name: _called_off(job, chain) for name, chain in chains.items() if name not in packs}
    packs |= {name: _as_issued(packs[name], chain, source) for name, chain in chains.items() if name in packs}
    records, unread = kept_records(folder, job.uid, {*packs, *gone})
    revisions = {name: {pin.revision: pin.pack(job) for pin in chain} for name, chain in chains.items()}
    every = {**packs, **gone}
    built = {name: as_built(pack, revisions.get(name, {}), records.get(name, ())) for name, pack in every.items()}
    to_do = {name: pack for name, pack in packs.items() if not pack.withdrawn}
    on_walls = {
        wall_id: [pack for pack in packs.values() if pack.wall_id == wall_id] for wall_id in source.definition.walls
    }
    problems = [*source.problems, *unread, *(problem for pack in packs.values() for problem in pack.problems)]
    return WorkPack(
        definition=source.definition,
        transits=packs,
        phases=source.procedure.phases,
        problems=tuple(sorted(problems, key=lambda p: (p.severity != "stop", p))),
        superseded=superseded,
        hot_work={name: source.procedure.hot_work[name] for name in source.definition.job.hot_work},
        as_built=built,
        quantities=total_up(source.definition, to_do, source.stock),
        procedure=source.procedure,
        marks={
            name: mark
            for wall_id, wall in source.definition.walls.items()
            for name, mark in mark_out(wall, on_walls[wall_id]).items()
        },
        adding=rules_for_adding(source.procedure),
        gone=gone,
    )


def with_reentries(work: WorkPack) -> WorkPack:
    """Return ``work`` with what one more cable in each of its transits would ask for.

    It takes about twice as long as a page, and only pages show it, so ``load`` leaves it out.
    """
    definition = work.definition
    sizes = {name: block_sizes(catalogue, definition.job) for name, catalogue in definition.catalogues.items()}
    found = {
        transit_id: _reentry(work, transit_id, sizes[transit.catalogue or definition.job.catalogues[0]])
        for transit_id, transit in sorted(definition.transits.items())
    }
    return work.model_copy(update={"reentries": found})


def find_place(
    work: WorkPack, transit_id: str, diameter: Decimal, service: ServiceClass, bonded: bool
) -> Addition | NoLayout:
    """Find the place of one more cable of ``diameter`` mm in a transit, with the least disturbance."""
    built = as_it_stands(work, transit_id)
    if isinstance(built, str):
        whys = {
            "split seal": "it is a split seal, and takes one cable",
            "no layout": "there is no layout to add a cable to",
            "another system": "it was closed with parts that the catalogue no longer has, and others never go in",
            "unknown cables": "the record names cables that are not on the schedule",
        }
        mend = (
            "put them on the schedule first"
            if built == "unknown cables"
            else "take the cable through another transit"
        )
        return NoLayout(what="nothing can be added", why=whys[built], mend=mend)
    cable = Cable(tag=NEW_CABLE, service=service, least=diameter, most=diameter, bonded=bonded)
    if NEW_CABLE in built.cables:
        cable = cable.model_copy(update={"tag": f"{NEW_CABLE} 2"})
    return add_cable(built, cable, built.job.layout_steps or SEARCH_LIMIT)


def _reentry(work: WorkPack, transit_id: str, sizes: Sequence[BlockSize]) -> Reentry:
    """Work it out for a transit as it was built where a record says so, else as planned."""
    built = as_it_stands(work, transit_id)
    if isinstance(built, str):
        return Reentry(why_not=built)
    return Reentry(
        lines=every_size(built, sizes, REENTRY_LIMIT), bores=built.free_bores, steps=steps_of_adding(work, transit_id)
    )


def steps_of_adding(work: WorkPack, transit_id: str) -> tuple[Step, ...]:
    """Return the steps of opening a closed transit and putting one more cable in."""
    pack = work.transits[transit_id]
    situation = Situation(
        id=transit_id,
        transit=pack.transit,
        wall_id=pack.wall_id,
        wall=pack.wall,
        job=pack.job,
        catalogue=pack.catalogue,
        cables=pack.cables,
        layout=pack.layout,
        hot_work=work.hot_work,
        adding=True,
    )
    return plan_steps(work.adding, situation)[0]


def as_it_stands(work: WorkPack, transit_id: str) -> Built | WhyNot:
    """Return a closed transit with all that a new layout of it must keep; or why nothing can be added to it.

    The parts are those of the sealing system as its catalogue is now: the same system and edition as it was
    closed with, since parts of another never go in.
    """
    pack, definition = work.transits[transit_id], work.definition
    recorded = work.as_built[transit_id].layout if transit_id in work.as_built else None
    layout = recorded if recorded is not None else pack.layout
    if isinstance(layout, SealLayout):
        return "split seal"
    if isinstance(layout, NoLayout) or not pack.can_be_built:
        return "no layout"
    now = definition.catalogue_of(definition.transits[transit_id])
    frame, then = now.frames.get(pack.transit.frame or ""), pack.catalogue.frames[pack.transit.frame or ""]
    if (now.system, now.edition) != (pack.catalogue.system, pack.catalogue.edition) or frame is None:
        return "another system"
    if frame.bays != then.bays:
        return "another system"
    cables = {cable.tag: cable for cable in pack.cables}
    placed = {tag for p in layout.placements for tag in p.cables}
    if not placed <= cables.keys():
        return "unknown cables"
    return Built(
        layout=layout,
        frame=frame,
        catalogue=now,
        job=pack.job,
        cables={tag: cable for tag, cable in cables.items() if tag in placed},
        apart=(*pack.job.apart, *pack.transit.apart),
        keep=pack.transit.keep,
    )


def compute(folder: Path, progress: Progress | None = None) -> tuple[dict[str, TransitPack], dict[str, Chain]]:
    """Compute every transit of the job in ``folder`` as it is defined now, whatever is issued; and the pins.

    Raises WorkPackError.
    """
    _, packs, chains = _compute_all(folder, progress)
    return packs, chains


def read(folder: Path, gone: Collection[str] = ()) -> tuple[JobSource, dict[str, Chain]]:
    """Read the job in ``folder`` and its pins without computing anything.

    ``gone`` are transits that may have pins although the definition has them no more. Raises WorkPackError.
    """
    source = read_job(folder, shipped_procedure())
    wrong = [_placed(finding, source) for finding in check_procedure(source.procedure)]
    wrong += [*links_outside(folder, FOLDER), *links_outside(folder, RECORDS)]
    if wrong:
        raise WorkPackError(wrong)
    source = _with_frames(source)
    return source, read_pins(folder, source.definition.job.uid, {*source.definition.transits, *gone})


def _with_frames(source: JobSource) -> JobSource:
    """Give every transit that leaves its frame open one to go on with; what was chosen is told as a problem."""
    definition = source.definition
    limit = definition.job.layout_steps or SEARCH_LIMIT
    chosen = {
        name: choose_for(definition, name, limit)
        for name, transit in definition.transits.items()
        if is_left_open(transit, definition.catalogue_of(transit))
    }
    if not chosen:
        return source
    transits = {name: chosen[name].transit if name in chosen else t for name, t in definition.transits.items()}
    left_open = {name: (one.finding, one.layout) for name, one in chosen.items()}
    return replace(source, definition=definition.model_copy(update={"transits": transits}), left_open=left_open)


def compute_one(source: JobSource, transit_id: str) -> TransitPack:
    """Compute one transit as it is defined now."""
    definition = source.definition
    about_place = judge_places(definition.transits[transit_id].wall, definition)[transit_id]
    return _compute(transit_id, source, (*about_place, *judge_circuits(definition)[transit_id]))


def _compute_all(
    folder: Path, progress: Progress | None
) -> tuple[JobSource, dict[str, TransitPack], dict[str, Chain]]:
    source, chains = read(folder)
    packs = {}
    definition = source.definition
    total = len(definition.transits)
    places = {name: found for wall in definition.walls for name, found in judge_places(wall, definition).items()}
    circuits = judge_circuits(definition)
    for done, transit_id in enumerate(sorted(definition.transits), 1):
        packs[transit_id] = _compute(transit_id, source, (*places[transit_id], *circuits[transit_id]))
        if progress:
            progress(done, total)
    return source, packs, chains


def shipped_procedure() -> list[tuple[str, str]]:
    """Return name and text of every procedure file that comes with Wallwork, in the order of their names."""
    found = [item for item in files("site_templates").joinpath("procedure").iterdir() if item.name.endswith(".yaml")]
    return [(item.name, item.read_text(encoding="utf-8")) for item in sorted(found, key=lambda item: item.name)]


def _compute(transit_id: str, source: JobSource, about_place: tuple[Finding, ...]) -> TransitPack:
    definition = source.definition
    transit = definition.transits[transit_id]
    wall = definition.walls[transit.wall]
    catalogue = definition.catalogue_of(transit)
    cables = definition.cables_through(transit_id)

    fits = fit_all(transit, cables, catalogue, definition.job)
    left_open, no_frame = source.left_open.get(transit_id, (None, None))
    layout = no_frame or _lay_out(definition, transit_id, cables, fits)
    situation = Situation(
        id=transit_id,
        transit=transit,
        wall_id=transit.wall,
        wall=wall,
        job=definition.job,
        catalogue=catalogue,
        cables=cables,
        layout=layout,
        materials=source.procedure.materials,
        hot_work=source.procedure.hot_work,
    )
    steps, cautions = plan_steps(source.procedure, situation)
    tables = _tables(layout, catalogue, definition.job)
    findings = [
        *([left_open] if left_open else []),
        *judge_wall(transit, wall, transit.wall, catalogue),
        *judge_demands(transit, transit.wall, catalogue, situation.comparisons),
        *about_place,
        *_about_cables(transit_id, transit, cables, fits, definition),
        *([] if no_frame else _about_layout(layout, fits, definition.job)),
        *judge_closing(situation.closings),
        *judge_bolts(situation),
        *_about_tape(tables, definition.job),
    ]
    pack = TransitPack(
        id=transit_id,
        transit=transit,
        wall_id=transit.wall,
        wall=wall,
        job=definition.job,
        catalogue=catalogue,
        cables=cables,
        fits=_in_use(layout, fits),
        layout=layout,
        tables=tables,
        comparisons=situation.comparisons,
        facts=facts_of(situation),
        phases=source.procedure.phases,
        steps=steps,
        cautions=cautions,
        bring=list_bring(situation, steps),
        closings=situation.closings,
        bolts=bolts_of(situation),
        problems=tuple(_placed(finding, source, transit_id) for finding in findings),
    )
    return pack.model_copy(update={"digest": work_digest(pack)})


def _lay_out(definition: Definition, transit_id: str, cables: tuple[Cable, ...], fits: Fits) -> AnyLayout:
    """Give every block its place, and let the judge have the last word; without a layout, say what mends it."""
    transit, job = definition.transits[transit_id], definition.job
    catalogue = definition.catalogue_of(transit)
    misfits = [fit for fit in fits.values() if isinstance(fit, NoFit)]
    if misfits:
        first = misfits[0]
        more = f", and {len(misfits) - 1} more without a block" if len(misfits) > 1 else ""
        return NoLayout(what=f"{first.what}{more}", why=first.why, mend=first.mend)
    layout: AnyLayout
    frame = None
    if transit.split_seal:
        (cable,) = cables
        (fit,) = fits[cable.tag]
        assert isinstance(fit, Fit)
        seal = catalogue.split_seals[transit.split_seal]
        layout = SealLayout(part=transit.split_seal, diameter=seal.diameter, cable=cable.tag, fit=fit)
    else:
        assert transit.frame
        frame = catalogue.frames[transit.frame]
        demands = demands_of(transit, cables, fits)
        rules = Rules((*job.apart, *transit.apart), transit.keep, transit.rest == "solid")
        limit = job.layout_steps or SEARCH_LIMIT
        layout = pack_frame(frame, catalogue, demands, transit.spares, limit, rules, reasons=False)
        if layout == no_room():
            units = FrameInUnits(frame, catalogue, demands, transit.spares, rules)
            what, why = what_is_short(units, limit)
            mends = find_mends(definition, transit_id, demands)
            mend = "; or ".join(mend.says for mend in mends) or "divide the cables over two transits"
            layout = NoLayout(what=what, why=why, mend=mend)
    if isinstance(layout, NoLayout):
        return layout
    faults = check_layout(layout, frame, catalogue, cables, transit.spares, job, transit)
    if faults:
        return NoLayout(
            what="the layout was refused by the check that follows every computation",
            why="; ".join(faults),
            mend="do not install; report this with the job folder, it is a fault of the program",
        )
    return layout


def _in_use(layout: AnyLayout, fits: Fits) -> dict[str, Fit | NoFit]:
    """Return for each cable the fit it has in the layout; without a layout, its smallest."""
    placements = layout.placements if isinstance(layout, Layout) else ()
    used = {tag: fit for p in placements for _, tag, fit in p.bores if fit}
    return {tag: used.get(tag) or (fit if isinstance(fit, NoFit) else fit[0]) for tag, fit in fits.items()}


def _tables(layout: AnyLayout, catalogue: Catalogue, job: Job) -> tuple[DiameterTable, ...]:
    """Return the table of readings of every block that holds a cable or will (a spare), smallest first."""
    if isinstance(layout, SealLayout):
        return (diameter_table(layout.part, layout.diameter, catalogue.split_seals[layout.part], job),)
    if isinstance(layout, NoLayout):
        return ()
    parts = {(p.size, p.part) for p in layout.placements if p.role != "filler"}
    return tuple(diameter_table(part, size, catalogue.blocks[part], job) for size, part in sorted(parts))


def _about_tape(tables: tuple[DiameterTable, ...], job: Job) -> Iterator[Finding]:
    blind = [table.part for table in tables if job.tape and table.rows and not table.tape]
    if blind:
        yield Finding(
            f"no reading of the tape says how to peel {', '.join(blind)}",
            "their windows are narrower than the tape's error round the cable",
            "measure there with the instrument, or give the job a finer tape (tape: in job.yaml)",
            severity="look",
        )


def _about_cables(
    transit_id: str, transit: Transit, cables: tuple[Cable, ...], fits: Fits, definition: Definition
) -> Iterator[Finding]:
    catalogue = definition.catalogue_of(transit)
    sharing = {tag for shared in transit.shared for tag in shared.cables}
    for cable in cables:
        fit = fits[cable.tag]
        if cable.assumed or isinstance(fit, NoFit) or transit.split_seal or cable.tag in sharing:
            continue
        nominal = cable.model_copy(update={"least": cable.likely, "most": cable.likely})
        smallest = fit_cable(nominal, catalogue, definition.job)
        if smallest and smallest[0].size < fit[0].size:
            yield Finding(
                f"{cable.tag} of {format_mm(cable.likely)} mm would go in block {format_mm(smallest[0].size)},"
                f" its range {format_mm(cable.least)} to {format_mm(cable.most)} mm asks for block"
                f" {format_mm(fit[0].size)}",
                "the plan fixes the size of the block, so it takes the one that holds the whole range",
                "measure the cable before ordering, and narrow its tolerance in the schedule",
                severity="look",
                kind="cable",
                key=cable.tag,
                field="diameter",
            )
        flat = cable.out_of_round_mm
        round_one = cable.model_copy(update={"out_of_round_mm": None})
        smallest = fit_cable(round_one, catalogue, definition.job) if flat else ()
        if flat and smallest and smallest[0].size < fit[0].size:
            yield Finding(
                f"{cable.tag} is not round enough for block {format_mm(smallest[0].size)}, two diameters across it"
                f" may differ by {format_mm(flat)} mm: it takes block {format_mm(fit[0].size)}",
                "a block closes round a cable only as far as its catalogue allows the cable to be out of round",
                "measure it twice across, a quarter turn apart, and write the difference in out_of_round_mm",
                severity="look",
                kind="cable",
                key=cable.tag,
                field="out_of_round_mm",
            )
    for name, hold in transit.placeholders.items():
        yield Finding(
            f"{hold.count} {'cable' if hold.count == 1 else 'cables'} of {transit_id} are assumed:"
            f" {name}, {format_mm(hold.least)} to {format_mm(hold.most)} mm",
            "their blocks are planned for the thickest",
            "put the real cables in the schedule when they are known, and remove the placeholder",
            severity="look",
            kind="placeholder",
            key=f"{transit_id}/{name}",
        )


def _about_layout(layout: AnyLayout, fits: Fits, job: Job) -> Iterator[Finding]:
    misfits = [fit for fit in fits.values() if isinstance(fit, NoFit)]
    for fit in misfits:
        yield Finding(fit.what, fit.why, fit.mend, kind="cable", key=fit.cable, field="diameter")
    if isinstance(layout, NoLayout) and not misfits:
        yield Finding(layout.what, layout.why, layout.mend, field="frame")
    if isinstance(layout, Layout) and not layout.proven:
        yield Finding(
            "this layout is right, but a better one may exist",
            layout.note,
            f"use it as it is, or write layout_steps: with more than {job.layout_steps or SEARCH_LIMIT} in job.yaml",
            severity="look",
            field="frame",
        )


def _placed(finding: Finding, source: JobSource, transit_id: str | None = None) -> Problem:
    key = finding.key or transit_id or ""
    where = source.where(finding.kind, key, finding.field)
    return Problem(where, finding.what, finding.why, finding.mend, finding.severity, transit_id)


# -- what is issued --------------------------------------------------------------------------------


def _as_issued(current: TransitPack, chain: Chain, source: JobSource) -> TransitPack:
    """Return an issued transit as it was issued, with what the definition would give instead.

    What the planner says beside the work (notes, names, the day) is of today: it moves nothing.
    """
    pin = chain[-1]
    issued = pin.pack(current.job)
    before = chain[-2] if len(chain) > 1 else None
    now = tell_changes(issued, current)
    notes = {cable.tag: cable.note for cable in current.cables}
    asked, wall = current.transit, current.wall
    said: dict[str, object] = {
        "transit": issued.transit.model_copy(update={"note": asked.note, "tag": asked.tag, "day": asked.day}),
        "cables": tuple(cable.model_copy(update={"note": notes.get(cable.tag)}) for cable in issued.cables),
        "standing": Standing(
            revision=pin.revision,
            pin=pin.digest,
            replaces=before.revision if before else None,
            since=_differences(before.pack(current.job), issued) if before else (),
            now=now,
            words=tell_words(issued, current),
            withdrawn=pin.withdrawal.why if isinstance(pin, CalledOff) else "",
        ),
    }
    if current.wall_id == issued.wall_id:
        said["wall"] = issued.wall.model_copy(update={"name": wall.name, "note": wall.note, "area": wall.area})
    # What does not touch the work (a keep-out found later) stops nothing that is issued, but it is shown.
    problems = [] if now else [replace(problem, severity="look") for problem in current.problems]
    if isinstance(pin, CalledOff):
        problems = [
            Problem(
                source.where("transit", current.id),
                f"{current.id} {pin.revision} was withdrawn: {pin.withdrawal.why}",
                "its pages say so, and that nothing is done by its card; the definition still has it",
                f"take {current.id} out of the transits, or issue it again under a new revision",
                "look",
                current.id,
            )
        ]
    elif now:
        # What stops the definition does not stop what was issued: its page stays as it is on site.
        stops = [problem for problem in current.problems if problem.severity == "stop"]
        shown = "; ".join([problem.what for problem in stops] or [str(change.says) for change in now[:3]])
        more = f"; and {len(now) - 3} more changes" if not stops and len(now) > 3 else ""
        problems.append(
            Problem(
                stops[0].where if stops else source.where("transit", current.id),
                f"{current.id} is issued as {pin.revision}; the definition has changed since: {shown}{more}",
                "nothing that is issued moves by itself: its page, its cards and its label stay as they are",
                stops[0].mend if stops else f"issue {current.id} again under a new revision, or take the change back",
                "look",
                current.id,
            )
        )
    return issued.model_copy(update={**said, "problems": tuple(problems)})


def _called_off(job: Job, chain: Chain) -> TransitPack:
    """Return a transit that was withdrawn and is gone from the definition, as it was issued last."""
    pin = chain[-1]
    assert isinstance(pin, CalledOff)
    standing = Standing(revision=pin.revision, pin=pin.digest, withdrawn=pin.withdrawal.why)
    return pin.pack(job).model_copy(update={"standing": standing})


def _superseded(job: Job, chain: Chain) -> tuple[Superseded, ...]:
    packs = [pin.pack(job) for pin in chain]
    changes = [_differences(old, new) for old, new in pairwise(packs)]
    return tuple(
        Superseded(
            revision=pin.revision,
            pack=pack,
            later=tuple(
                (later.revision, change) for later, change in zip(chain[index + 1 :], changes[index:], strict=True)
            ),
        )
        for index, (pin, pack) in enumerate(zip(chain[:-1], packs[:-1], strict=True))
    )


def _differences(old: TransitPack, new: TransitPack) -> tuple[Change, ...]:
    return tell_changes(old, new) or tell_words(old, new)


def _wall_gone(chain: Chain, source: JobSource) -> Iterator[Problem]:
    for pin in chain[-1:]:
        wall = pin.work.wall_id
        if wall not in source.definition.walls and not isinstance(pin, CalledOff):
            yield Problem(
                Where(f"{FOLDER}/{pin.id}/{pin.revision}.json"),
                f"{pin.id} is issued as {pin.revision} on wall {wall}, and the job has no such wall",
                "its page leads to the wall's page",
                f"put {wall} back into walls.yaml until {pin.id} is issued again on another wall",
                transit=pin.id,
            )
