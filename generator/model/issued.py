"""Issued work: what was given out under a revision, pinned so that nothing moves it any more."""

from typing import Annotated, Any, Literal

from pydantic import Field

from generator.model.canonical import MARK, canonical, digest_of_plain, leaves_of, mark_of, plain
from generator.model.job import Job, Reading, Tape
from generator.model.pack import TransitPack, Work
from generator.model.scalars import Digest, Ident, Model, Name, Note, Uid

FORMAT = 1
"""The version of the format of pins that this program writes."""


class Predecessor(Model):
    """The pin that another one replaces: its revision, and the digest it had when it was replaced."""

    revision: Ident
    digest: Digest


class Pin(Model):
    """One transit as it was issued under one revision: ``issued/<ID>/<REVISION>.json``.

    ``work`` is complete: every figure, step and caution that a page needs, words as messages that can still
    be translated. ``work_digest`` says which work it is, whatever the words; ``digest`` is that of the pin
    itself, over the canonical JSON of all its other fields. ``marks`` has a few digits for each of its values, in
    their canonical order, so that one that was edited can be pointed at; pins of older programs have none.
    """

    format: Literal[1]
    job: Uid
    id: Ident
    revision: Ident
    replaces: Predecessor | None = None
    made_by: Name
    work_digest: Digest
    instrument: Name
    readings: tuple[Reading, ...]
    tape: Tape | None = None
    work: Work
    marks: Annotated[str, Field(pattern=r"^([0-9a-f]{2})*$")] = ""
    digest: Digest

    def pack(self, job: Job) -> TransitPack:
        """Return the issued work as a pack: its figures and steps, with the ``job`` as it is called now.

        Whom to call and where the site is served are the job's of today; how diameters are read is as issued.
        """
        measures = {"instrument": self.instrument, "readings": self.readings, "tape": self.tape}
        fields = {name: getattr(self.work, name) for name in Work.model_fields}
        said = job.model_copy(update=measures)
        return TransitPack.model_construct(**fields, job=said, problems=(), digest=self.work_digest)


class Withdrawal(Model):
    """Issued work called off: ``issued/<ID>/<REVISION>.withdrawn.json``. Nothing is done by that revision any more.

    ``pin`` is the digest of the pin that it calls off; ``digest`` is over the canonical JSON of all other fields.
    """

    format: Literal[1]
    job: Uid
    id: Ident
    revision: Ident
    pin: Digest
    why: Note
    made_by: Name
    digest: Digest


class CalledOff(Pin):
    """A pin whose work was called off."""

    withdrawal: Withdrawal


def make_pin(pack: TransitPack, work: Work, revision: str, replaces: Pin | None, made_by: str) -> dict[str, Any]:
    """Return the fields of a pin as plain values, its own digest among them.

    ``work`` is the pack's work with what of the catalogue it uses.
    """
    fields = plain(
        {
            "format": FORMAT,
            "job": pack.job.uid,
            "id": pack.id,
            "revision": revision,
            "replaces": {"revision": replaces.revision, "digest": replaces.digest} if replaces else None,
            "made_by": made_by,
            "work_digest": pack.digest,
            "instrument": pack.job.instrument,
            "readings": pack.job.readings,
            "tape": pack.job.tape,
            "work": {name: getattr(work, name) for name in Work.model_fields},
        }
    )
    for step in fields["work"]["steps"]:
        step["cautions"] = [caution["id"] for caution in step["cautions"]]  # each stands once in the pin
    fields["marks"] = "".join(mark_of(path, value) for path, value in leaves_of(fields))
    return {**fields, "digest": digest_of_plain(fields)}


def find_edit(fields: dict[str, Any]) -> tuple[int | str, ...]:
    """Return the path to the first value of a pin that is not as it was written; () where its marks don't say."""
    marks = fields.get("marks")
    if not isinstance(marks, str) or not marks:
        return ()
    said = {name: value for name, value in fields.items() if name not in ("marks", "digest")}
    for number, (path, value) in enumerate(leaves_of(said)):
        if mark_of(path, value) != marks[number * MARK : (number + 1) * MARK]:
            return path
    return ()


def call_off(pin: Pin, withdrawal: Withdrawal) -> CalledOff:
    """Return a pin together with its withdrawal."""
    fields = {name: getattr(pin, name) for name in Pin.model_fields}
    return CalledOff.model_construct(**fields, withdrawal=withdrawal)


def make_withdrawal(pin: Pin, why: str, made_by: str) -> dict[str, Any]:
    """Return the fields of the withdrawal of a pin as plain values, its own digest among them."""
    named = {"format": FORMAT, "job": pin.job, "id": pin.id, "revision": pin.revision, "pin": pin.digest}
    fields = plain({**named, "why": why, "made_by": made_by})
    return {**fields, "digest": digest_of_plain(fields)}


def pin_bytes(fields: dict[str, Any]) -> bytes:
    """Return what stands in the file of a pin, or of a withdrawal: its canonical JSON and a line end."""
    return canonical(fields) + b"\n"


def expanded(fields: dict[str, Any]) -> dict[str, Any]:
    """Return the fields of a pin with every step's cautions in full. Raises KeyError for one it lacks."""
    work = fields["work"]
    known = {caution["id"]: caution for caution in work["cautions"]}
    steps = [{**step, "cautions": [known[name] for name in step.get("cautions", ())]} for step in work["steps"]]
    return {**fields, "work": {**work, "steps": steps}}
