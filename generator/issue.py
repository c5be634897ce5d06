"""Issue work: pin what transits ask for now under a revision, so that nothing moves it; and call it off again."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import generator
from generator.engine.changes import tell_changes, tell_words
from generator.engine.digest import parts_in_use
from generator.errors import Problem, Where, WorkPackError
from generator.keep import At, Taken, complete, keep_all
from generator.model.issued import CalledOff, Pin, make_pin, make_withdrawal, pin_bytes
from generator.model.pack import Change, TransitPack, Work
from generator.source.files import links_outside
from generator.source.pins import FOLDER, ORDERED, WITHDRAWN, Chain
from generator.workpack import Progress, compute, read


@dataclass(frozen=True)
class Issued:
    """What was issued: for each transit the revision it replaces ('' for none) and what has changed."""

    id: str
    wall: str
    revision: str
    replaces: str
    changes: tuple[Change, ...]


@dataclass(frozen=True)
class Outcome:
    """What an order to issue came to, each in the order of the IDs.

    ``unchanged`` keep the revision they have (ID and revision), ``words`` are those of them whose words have changed,
    ``stuck`` have no layout that can be built.
    ``completed`` are the files of an earlier order that was cut short, which this one finished first.
    """

    issued: tuple[Issued, ...]
    unchanged: tuple[tuple[str, str], ...]
    stuck: tuple[str, ...]
    completed: tuple[str, ...] = ()
    words: tuple[str, ...] = ()


def issue(
    folder: Path,
    transits: Sequence[str],
    revision: str,
    progress: Progress | None = None,
    at: At = lambda point: None,
    words: bool = False,
) -> Outcome:
    """Pin ``transits`` of the job in ``folder`` (all when there are none) under ``revision``.

    Only what is not issued yet, or asks for other work than its last revision, gets a pin; with ``words``, what says
    the same work in other words does, too. All of them are written,
    or none, and none is ever overwritten: what an order that was cut short had begun to put in its place, the next
    one finishes. The caller holds the folder issued/. Raises WorkPackError where the job or its pins have problems,
    an ID is not in the job, or a revision is taken: then nothing is written.
    """
    completed = _completed(folder)
    packs, chains = compute(folder, progress)
    chosen = sorted(set(transits) or packs)
    wrong = [*_unknown(chosen, packs), *_taken(chosen, packs, chains, revision, words)]
    if wrong:
        raise WorkPackError(wrong)
    issued, unchanged, stuck, otherwise, pins = [], [], [], [], {}
    for transit_id in chosen:
        pack, chain = packs[transit_id], chains.get(transit_id, ())
        if chain and not _is_other(chain[-1], pack, words):
            unchanged.append((transit_id, chain[-1].revision))
            if tell_words(chain[-1].pack(pack.job), pack):
                otherwise.append(transit_id)
        elif not pack.can_be_built:
            stuck.append(transit_id)
        else:
            before = chain[-1] if chain else None
            was = before.pack(pack.job) if before else pack
            changes = tell_changes(was, pack) or tell_words(was, pack)
            pins[f"{transit_id}/{revision}.json"] = _pin(pack, before, revision)
            issued.append(Issued(transit_id, pack.wall_id, revision, before.revision if before else "", changes))
    try:
        keep_all(folder / FOLDER, pins, at)
    except Taken as taken:
        raise WorkPackError([_meanwhile(taken)]) from None
    return Outcome(tuple(issued), tuple(unchanged), tuple(stuck), completed, tuple(otherwise))


def _pin(pack: TransitPack, before: Pin | None, revision: str) -> bytes:
    used = pack.model_copy(update={"catalogue": parts_in_use(pack)})
    work = Work.model_construct(**{name: getattr(used, name) for name in Work.model_fields})
    return pin_bytes(make_pin(pack, work, revision, before, f"wallwork {generator.__version__}"))


def _completed(folder: Path) -> tuple[str, ...]:
    """Finish an order that was cut short."""
    outside = links_outside(folder, FOLDER)
    if outside:
        raise WorkPackError(outside)
    try:
        return complete(folder / FOLDER)
    except Taken as taken:
        path: Path = taken.args[0]
        name = f"{path.parent.name}/{path.name}"
        raise WorkPackError(
            [
                Problem(
                    Where(f"{FOLDER}/{name}"),
                    f"an order that was cut short holds another {name} than the one that is here",
                    "two people issued the same revision; on site one label may stand for both",
                    f"find out which was given out; remove the other one, here or in {FOLDER}/{ORDERED}",
                    transit=path.parent.name,
                )
            ]
        ) from None


def _meanwhile(taken: Taken) -> Problem:
    path: Path = taken.args[0]
    return _there(
        path.parent.name, path.name.partition(".")[0], "another file of that name appeared while it was issued"
    )


@dataclass(frozen=True)
class Withdrawn:
    """A transit that was withdrawn: ``revisions`` have cards and labels that may be on site, oldest first.

    ``defined`` says that it still stands in the definition.
    """

    id: str
    wall: str
    revisions: tuple[str, ...]
    defined: bool


def withdraw(
    folder: Path, transits: Sequence[str], why: str, at: At = lambda point: None
) -> tuple[tuple[Withdrawn, ...], tuple[str, ...]]:
    """Call off what is issued of ``transits`` of the job in ``folder``, because of ``why``: all of them, or none.

    Returns them, and the files of an earlier order that was cut short and is finished now. The transits may be gone
    from the definition already. The caller holds the folder issued/. Raises WorkPackError where the job or its pins
    have problems, or one of the transits is not issued or withdrawn already: then nothing is written.
    """
    completed = _completed(folder)
    source, chains = read(folder, transits)
    wrong = [_not_issued(name, chains.get(name, ())) for name in sorted(set(transits))]
    problems = [problem for problem in wrong if problem is not None]
    if problems:
        raise WorkPackError(problems)
    made_by = f"wallwork {generator.__version__}"
    files, done = {}, []
    for name in sorted(set(transits)):
        chain = chains[name]
        files[f"{name}/{chain[-1].revision}{WITHDRAWN}"] = pin_bytes(make_withdrawal(chain[-1], why, made_by))
        revisions = tuple(pin.revision for pin in chain)
        done.append(Withdrawn(name, chain[-1].work.wall_id, revisions, name in source.definition.transits))
    try:
        keep_all(folder / FOLDER, files, at)
    except Taken as taken:
        raise WorkPackError([_meanwhile(taken)]) from None
    return tuple(done), completed


def _not_issued(transit_id: str, chain: Chain) -> Problem | None:
    where = Where(f"{FOLDER}/{transit_id}")
    if not chain:
        what = f"{transit_id} is not issued: there is nothing to withdraw"
        return Problem(where, what, "only what was given out is called off", "take it out of the transits instead")
    last = chain[-1]
    if isinstance(last, CalledOff):
        what = f"{transit_id} {last.revision} is withdrawn already"
        return Problem(where, what, f"the reason given was: {last.withdrawal.why}", "leave it out of this order")
    return None


def _unknown(chosen: Sequence[str], packs: dict[str, TransitPack]) -> list[Problem]:
    return [
        Problem(
            Where("transits.yaml"),
            f"the job has no transit {transit_id}",
            "only what the job defines can be issued",
            "name one of its IDs, or give none to issue all that changed",
        )
        for transit_id in chosen
        if transit_id not in packs
    ]


def _taken(
    chosen: Sequence[str], packs: dict[str, TransitPack], chains: dict[str, Chain], revision: str, words: bool
) -> list[Problem]:
    return [
        _there(transit_id, revision, "it holds other work, and labels of it may be on site")
        for transit_id in chosen
        if transit_id in packs
        for pin in chains.get(transit_id, ())
        if pin.revision == revision and _is_other(chains[transit_id][-1], packs[transit_id], words)
    ]


def _is_other(last: Pin, pack: TransitPack, words: bool) -> bool:
    """Tell whether a transit is issued again after its last revision."""
    if isinstance(last, CalledOff) or last.work_digest != pack.digest:
        return True
    return words and bool(tell_words(last.pack(pack.job), pack))


def _there(transit_id: str, revision: str, why: str) -> Problem:
    return Problem(
        Where(f"{FOLDER}/{transit_id}/{revision}.json"),
        f"{transit_id} was issued as {revision} already",
        why,
        "give the next revision: one that was issued is never written again",
        transit=transit_id,
    )
