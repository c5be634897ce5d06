"""Pins of issued work, ``issued/<ID>/<REVISION>.json``, become chains of revisions, or Problems."""

from collections.abc import Collection
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from generator.errors import Problem, Where, WorkPackError
from generator.model.canonical import digest_of_plain
from generator.model.issued import FORMAT, CalledOff, Pin, Withdrawal, call_off, expanded, find_edit
from generator.model.scalars import quoted
from generator.source.json_text import explain_json, parse_json, place_of, pointer

FOLDER = "issued"
ORDERED = ".ordered"
"""The folder in it that holds what is issued together, until all of it is in its place (keep.py)."""
WITHDRAWN = ".withdrawn.json"
"""How the file of a withdrawal ends; before it stands the revision."""
LARGEST = 16 * 1024 * 1024
"""Bytes of one pin; a large transit has a tenth of a megabyte."""

_RESTORE = "bring back the file as it was issued, from git or a backup; issued work is never edited"

Chain = tuple[Pin, ...]
"""The revisions of one transit, oldest first."""


def read_pins(folder: Path, job: str, transits: Collection[str]) -> dict[str, Chain]:
    """Read every pin of the job in ``folder`` with the UID ``job``; return the chains by transit.

    A revision that was withdrawn is a CalledOff. Raises WorkPackError with everything that is wrong with any of them:
    an edited pin, one of another job, of a transit that is gone and was not withdrawn, under a wrong name; two
    successors of one predecessor; one revision with two contents. Issued work is too dear to build without some.
    """
    problems: list[Problem] = []
    chains = {}
    top = folder / FOLDER
    if (top / ORDERED).is_dir():
        problems.append(
            Problem(
                Where(f"{FOLDER}/{ORDERED}"),
                "an order to issue was cut short, or is being carried out",
                "what is issued together counts together, and not all of it is in its place yet",
                "give the order once more: what was begun is finished first, and it says so",
            )
        )
    for place in sorted(top.iterdir()) if top.is_dir() else ():
        if place.name.startswith(".") or not place.is_dir():
            continue
        shown = _shown(f"{FOLDER}/{place.name}")
        pins: list[Pin] = []
        withdrawn: dict[str, Withdrawal] = {}
        for path in sorted(place.iterdir()):
            if path.name.startswith("."):
                continue
            file = f"{shown}/{_shown(path.name)}"
            try:
                if path.name.endswith(WITHDRAWN):
                    withdrawn[file] = _read_withdrawal(path, file, job, place.name)
                else:
                    pins.append(_read(path, file, job, place.name))
            except WorkPackError as error:
                problems += error.problems
        try:
            chain = _chain(place.name, pins) if pins else ()
        except WorkPackError as error:
            problems += error.problems
            continue
        for file, withdrawal in withdrawn.items():
            chain, wrong = _called_off(chain, withdrawal, file)
            problems += wrong
        if chain and place.name not in transits and not isinstance(chain[-1], CalledOff):
            problems.append(
                Problem(
                    Where(shown),
                    f"{place.name} was issued as {', '.join(pin.revision for pin in pins)},"
                    " and the job has no such transit",
                    "its label and its cards may be on site",
                    f"put {place.name} back into the transits; if it is called off, withdraw it"
                    f" (wallwork withdraw JOB {place.name} --why …); if nothing of it was given out,"
                    f" remove the folder {shown}",
                )
            )
        elif chain:
            chains[place.name] = chain
    if problems:
        raise WorkPackError(problems)
    return chains


def _read(path: Path, file: str, job: str, transit: str) -> Pin:
    fields = _fields(path, file, "pin")
    try:
        pin = Pin.model_validate(expanded(fields))
    except ValidationError as error:
        raise WorkPackError(explain_json(error, file, "pin", _RESTORE)) from None
    except (KeyError, TypeError, AttributeError) as error:
        raise WorkPackError(
            [Problem(Where(file), f"the pin lacks a part ({error})", "its steps name it", _RESTORE)]
        ) from None
    _check_place(pin, file, path.name, job, transit, ".json", "pin", pin.work.id)
    return pin


def _read_withdrawal(path: Path, file: str, job: str, transit: str) -> Withdrawal:
    try:
        found = Withdrawal.model_validate(_fields(path, file, "withdrawal"))
    except ValidationError as error:
        raise WorkPackError(explain_json(error, file, "withdrawal", _RESTORE)) from None
    _check_place(found, file, path.name, job, transit, WITHDRAWN, "withdrawal", found.id)
    return found


def _called_off(chain: Chain, withdrawal: Withdrawal, file: str) -> tuple[Chain, list[Problem]]:
    """Mark the revision that a withdrawal calls off."""
    name = withdrawal.revision
    if any(pin.revision == name and pin.digest == withdrawal.pin for pin in chain):
        return tuple(call_off(pin, withdrawal) if pin.revision == name else pin for pin in chain), []
    problem = Problem(
        Where(file),
        f"{withdrawal.id} {name} was withdrawn, and the {name} that was withdrawn is not here",
        "a withdrawal is kept beside the pin that it calls off",
        f"bring back {FOLDER}/{withdrawal.id}/{name}.json as it was, from git or a backup",
        transit=withdrawal.id,
    )
    return chain, [problem]


def _fields(path: Path, file: str, what: str) -> dict[str, Any]:
    """Return what a file of ``what`` says, its digest found right. Raises WorkPackError."""
    where = Where(file)
    try:
        if path.is_symlink() or not path.is_file():
            raise WorkPackError([Problem(where, f"{file} is no file", "pins are plain files", "remove it")])
        with path.open("rb") as stream:
            data = stream.read(LARGEST + 1)
    except OSError as error:
        raise WorkPackError(
            [Problem(where, f"{file} can't be read", error.strerror or "it can't", "mend its permissions")]
        ) from None
    if len(data) > LARGEST:
        raise WorkPackError([Problem(where, f"{file} is larger than any {what}", "no pin is over 16 MB", _RESTORE)])
    fields = parse_json(data, file, what)
    if not isinstance(fields, dict):
        raise WorkPackError([Problem(where, f"{file} is no {what}", f"a {what} is a JSON object", _RESTORE)])
    if fields.get("format") != FORMAT:
        raise WorkPackError(
            [
                Problem(
                    where,
                    f"the {what} has the format {quoted(fields.get('format'))}",
                    f"this Wallwork reads format {FORMAT}",
                    "use the Wallwork that issued it, or a newer one",
                )
            ]
        )
    try:
        now = digest_of_plain({name: value for name, value in fields.items() if name != "digest"})
    except UnicodeEncodeError:  # half a character, written as an escape: JSON allows it, no pin of ours has one
        now = None
    if now is None or now != fields.get("digest"):
        raise WorkPackError([_edited(fields, data, file, what)])
    return fields


def _edited(fields: dict[str, Any], data: bytes, file: str, what: str) -> Problem:
    """Say that a file was edited, and at which value, where its marks tell."""
    said, why = f"the {what} was edited", "its content and its digest don't agree"
    try:
        path = find_edit(fields)
    except (TypeError, UnicodeEncodeError):  # half a character has no mark
        path = ()
    if not path:
        return Problem(Where(file), said, why, _RESTORE)
    value: Any = fields
    for step in path:
        value = value[step]
    shown = f"{said} at {_shown(pointer(path)[:200])}, or beside it: it says {quoted(value)}"
    return Problem(place_of(data, file, path), shown, why, _RESTORE)


def _check_place(
    pin: Pin | Withdrawal, file: str, name: str, job: str, transit: str, ending: str, what: str, of: str
) -> None:
    """See that a file belongs to this job and stands under its own name. Raises WorkPackError."""
    where = Where(file)
    wrong = []
    if pin.job != job:
        wrong.append(
            Problem(
                where,
                f"the {what} was issued for the job {pin.job}",
                f"this job is {job}: its labels lead elsewhere",
                "move it to the job it belongs to; a copy of a job needs a UID and pins of its own",
            )
        )
    if pin.id != transit or of != transit or name != f"{pin.revision}{ending}":
        wrong.append(
            Problem(
                where,
                f"the {what} of {pin.id}, revision {pin.revision}, has the name {quoted(file)}",
                f"a {what} stands under its ID and its revision",
                f"name it {FOLDER}/{pin.id}/{pin.revision}{ending}; if that is there already, one of them is a copy",
            )
        )
    if wrong:
        raise WorkPackError(wrong)


def _chain(transit: str, pins: list[Pin]) -> Chain:
    """Order the pins by what each replaces. Raises WorkPackError where that is not one line."""
    by_revision = {pin.revision: pin for pin in pins}
    problems = []
    followers: dict[str, list[Pin]] = {}
    for pin in pins:
        before = pin.replaces
        followers.setdefault(before.revision if before else "", []).append(pin)
        if before and before.revision not in by_revision:
            problems.append(
                _wrong(
                    pin,
                    f"{transit} {pin.revision} replaces {before.revision}, which is not there",
                    "every revision that was issued is kept: old labels lead to it",
                    f"bring back {FOLDER}/{transit}/{before.revision}.json, from git or a backup",
                )
            )
        elif before and by_revision[before.revision].digest != before.digest:
            problems.append(
                _wrong(
                    pin,
                    f"{transit} has two contents of revision {before.revision}:"
                    f" {pin.revision} replaces another one than the one that is here",
                    "two people issued the same revision; on site one label may stand for both",
                    f"find out which {before.revision} was given out and keep that file; remove the others of"
                    " the two, and issue again under a new revision",
                )
            )
    for before_name, after in followers.items():
        if len(after) > 1:
            names = " and ".join(pin.revision for pin in after)
            problems.append(
                _wrong(
                    after[-1],
                    f"{transit} has two revisions, {names}, that both"
                    + (f" replace {before_name}" if before_name else " were issued as its first"),
                    "two people issued at the same time, and a label can lead to one of them only",
                    "keep the one whose cards were given out, remove the file of the other, and issue again",
                )
            )
    if problems:
        raise WorkPackError(problems)
    chain: list[Pin] = []
    here = followers.get("", [])
    while here and len(chain) < len(pins):
        chain.append(here[0])
        here = followers.get(here[0].revision, [])
    if len(chain) != len(pins):
        lost = next(pin for pin in pins if pin not in chain)
        raise WorkPackError(
            [_wrong(lost, f"the revisions of {transit} run in a circle", "each replaces an older one", _RESTORE)]
        )
    return tuple(chain)


def _wrong(pin: Pin, what: str, why: str, mend: str) -> Problem:
    return Problem(Where(f"{FOLDER}/{pin.id}/{pin.revision}.json"), what, why, mend, transit=pin.id)


def _shown(text: str) -> str:
    return "".join(ch if ch.isprintable() else "?" for ch in text)
