"""Publishing: build beside the old site, then put the new one in its place whole.

Everything happens in a hidden workshop folder beside the site, so that every move is a rename within one
file system. ``new`` there is the site being built, ``old`` the one it replaces. Where the system can
exchange two folders in one step (Linux), the site is whole at every moment. Elsewhere two renames follow
each other, and a journal written before them tells the next start to finish the move.
"""

import ctypes
import errno
import json
import os
import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from generator.keep import lock
from generator.model.pack import WorkPack
from generator.pages.own_pages import load_whole
from generator.pages.plugin import MARKER, Progress, silent, write_site

At = Callable[[str], None]
"""Called with the name of each point of a move as it is reached; tests stop the process there."""

# What a build reads of a job: a site put into one of these would be read, or published, by the next build.
_READ = ("pages", "drawings", "issued", "records", "transits", "catalogues", "schemas")


class Refused(Exception):
    """A site can't be put where it was asked for. Nothing was touched."""

    def __init__(self, what: str, why: str, mend: str) -> None:
        self.what, self.why, self.mend = what, why, mend
        super().__init__(f"{what}\n  why:  {why}\n  mend: {mend}")


def build_site(
    folder: Path, out: Path, progress: Progress = silent, locale: str | None = None, at: At = lambda point: None
) -> WorkPack:
    """Build the site of the job in ``folder`` and put it at ``out``, whole or not at all.

    ``locale`` is the language of the pages (the job's first when None). Raises WorkPackError with all
    problems of the job, and Refused when ``out`` is no place for a site; either leaves ``out`` as it was.
    """
    job, site = folder.resolve(), out.resolve()
    _refuse_place(job, site)
    try:
        with _workshop(site) as workshop:
            recover(site, workshop, at)
            _refuse_foreign(site)
            work = load_whole(folder, partial(progress, "layouts"))
            _refuse_other_job(site, work.definition.job.uid)
            staging = workshop / "new"
            write_site(work, folder, staging, locale, progress)
            at("built")
            put_in_place(staging, site, workshop, at)
    except OSError as error:
        if error.filename and not Path(os.fsdecode(error.filename)).is_relative_to(site.parent):
            raise
        place = f": {error.filename}" if error.filename else ""
        raise Refused(
            f"{out} can't be written",
            f"{error.strerror or error}{place}",
            "mend permissions or space, close programs that hold its files, or choose another --out",
        ) from None
    return work


# -- what is refused -------------------------------------------------------------------------------


def _refuse_place(job: Path, site: Path) -> None:
    if job == site or job.is_relative_to(site):
        raise Refused(
            f"{site} holds the job itself",
            "the site takes the place of everything in its folder",
            "choose a folder that holds nothing else, such as --out site",
        )
    for name in _READ:
        if site.is_relative_to(job / name):
            raise Refused(
                f"{site} lies in {name}/ of the job",
                "what lies there is read as part of the job",
                f"choose a folder elsewhere, such as {job.parent / 'site'}",
            )


def _refuse_foreign(site: Path) -> None:
    if not site.exists() or (site.is_dir() and (not any(site.iterdir()) or (site / MARKER).is_file())):
        return
    noun = "holds something that is not a Wallwork site" if site.is_dir() else "is a file"
    raise Refused(
        f"{site} {noun}",
        "a build replaces everything at --out, and only a site that Wallwork made is safe to replace",
        "choose an empty or a new folder",
    )


def _refuse_other_job(site: Path, uid: str) -> None:
    try:
        made_for = json.loads((site / MARKER).read_text(encoding="utf-8"))["job"]
    except (OSError, ValueError, KeyError, TypeError):
        return
    if made_for != uid:
        raise Refused(
            f"{site} is the site of another job",
            "labels on its walls lead there",
            "choose another folder, or delete that one yourself first",
        )


# -- the workshop ----------------------------------------------------------------------------------


@contextmanager
def _workshop(site: Path) -> Iterator[Path]:
    """Hold the folder beside ``site`` in which its next version is made; one build at a time."""
    workshop = site.parent / f".{site.name}.wallwork"
    with _lock_held(workshop / "lock", site):
        try:
            yield workshop
        finally:
            if not (workshop / "journal").exists():  # else a move was cut short: the next start needs it
                shutil.rmtree(workshop, ignore_errors=True)


@contextmanager
def _lock_held(path: Path, site: Path) -> Iterator[None]:
    # A lock of the system's, not the file's presence: it is gone with the process, however that ends.
    while True:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("a", encoding="utf-8") as file:
            if not lock(file):
                raise Refused(
                    f"{site} is being built by another wallwork",
                    "two builds at one place would mix their pages",
                    "wait for the other to end, or choose another --out",
                )
            if path.exists() and os.path.samestat(path.stat(), os.fstat(file.fileno())):
                yield
                return
        # The build that held it has just cleared its workshop up, this file with it: begin again.


# -- the move --------------------------------------------------------------------------------------


def put_in_place(staging: Path, site: Path, workshop: Path, at: At = lambda point: None) -> None:
    """Move the finished ``staging`` to ``site``; what was there is removed afterwards. Raises OSError."""
    if not site.exists() or not any(site.iterdir()):
        if site.exists():
            site.rmdir()
        at("before first rename")
        staging.rename(site)
        at("after first rename")
        return
    at("before exchange")
    if exchange(staging, site):
        at("after exchange")
    else:
        _move_by_journal(staging, site, workshop, at)
    recover(site, workshop, at)


def _move_by_journal(staging: Path, site: Path, workshop: Path, at: At) -> None:
    old = workshop / "old"
    journal = workshop / "journal"
    with journal.open("x", encoding="utf-8", newline="\n") as file:
        file.write("new is complete; old was the site\n")
        file.flush()
        os.fsync(file.fileno())
    at("before moving the old site away")
    site.rename(old)
    at("after moving the old site away")
    try:
        staging.rename(site)
    except OSError:
        old.rename(site)
        journal.unlink()
        raise
    at("after moving the new site in")


def recover(site: Path, workshop: Path, at: At = lambda point: None) -> None:
    """Finish or undo what an earlier build left in ``workshop``: afterwards ``site`` is whole."""
    journal, new, old = workshop / "journal", workshop / "new", workshop / "old"
    if journal.exists() and not site.exists():
        # Stopped between the two renames. The journal says that the new site is complete.
        (new if new.exists() else old).rename(site)
        at("recovered")
    journal.unlink(missing_ok=True)
    for left in (new, old):
        if left.exists():
            shutil.rmtree(left)


_EXCHANGE = 2  # RENAME_EXCHANGE of linux/fs.h
_AT_FDCWD = -100
_CANNOT = {errno.ENOSYS, errno.EINVAL, errno.EOPNOTSUPP}


def exchange(one: Path, other: Path) -> bool:
    """Swap two folders in one step; return False, having done nothing, where the system can't.

    renameat2(2) with RENAME_EXCHANGE: "Atomically exchange oldpath and newpath." Raises OSError.
    """
    renameat2 = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None) if sys.platform == "linux" else None
    if renameat2 is None:
        return False
    if renameat2(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), ctypes.c_uint(_EXCHANGE)) == 0:
        return True
    code = ctypes.get_errno()
    if code in _CANNOT:
        return False
    raise OSError(code, os.strerror(code), str(other))
