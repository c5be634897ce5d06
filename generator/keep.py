"""Keep a file for good: written once, whole or not at all, and never over another.

A file is written beside its place under a name that no reader looks at, forced to the disk, and only then
given its own name, by a step that fails where that name is taken. Whoever is killed on the way leaves at
most such an unnamed part, which the next one who holds the folder removes.
"""

import contextlib
import os
import secrets
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

At = Callable[[str], None]
"""Called with the name of each point as it is reached; tests stop the process there."""

POINTS = ("before writing", "written", "synced", "before naming", "named", "part removed", "folder synced")
"""The points of one ``keep``, in their order."""

_PART = ".part"


class Held(Exception):
    """Another process holds the folder."""


def keep(path: Path, data: bytes, at: At = lambda point: None) -> bool:
    """Write ``data`` to the new file ``path``; return False, having changed nothing, where it is there already.

    Folders above it are made. Raises OSError.
    """
    if path.exists():
        return False
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.parent / f".{path.name[:80]}.{secrets.token_hex(8)}{_PART}"
    at("before writing")
    try:
        with part.open("xb") as file:
            file.write(data)
            at("written")
            file.flush()
            os.fsync(file.fileno())
        at("synced")
        at("before naming")
        named = _name(part, path)
        at("named")
    finally:
        part.unlink(missing_ok=True)
    at("part removed")
    _sync_folder(path.parent)
    at("folder synced")
    return named


def _name(part: Path, path: Path) -> bool:
    """Give ``part`` its name, never over another file."""
    try:
        os.link(part, path)  # fails where the name is taken, in one step
    except FileExistsError:
        return False
    except (OSError, NotImplementedError):
        # A disk without links (some shares, FAT). The lock of the folder keeps others of us away.
        if path.exists():
            return False
        part.rename(path)
    return True


def _sync_folder(folder: Path) -> None:
    if sys.platform == "win32":
        return  # a folder can't be opened there; its own journal keeps names
    handle = os.open(folder, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):  # some shares refuse it
            os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def holding(folder: Path) -> Iterator[None]:
    """Hold ``folder`` against other processes of ours, and remove what one that was killed left half written.

    Raises Held where another holds it, and OSError. On a share that knows no locks nobody is kept away; then
    files still never overwrite each other.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / ".lock"
    while True:
        with path.open("a", encoding="utf-8") as file:
            if not lock(file):
                raise Held(str(folder))
            if path.exists() and os.path.samestat(path.stat(), os.fstat(file.fileno())):
                try:
                    for part in folder.glob(f"**/.*{_PART}"):
                        part.unlink(missing_ok=True)
                    yield
                finally:
                    if sys.platform != "win32":
                        path.unlink(missing_ok=True)
                break
        # The one that held it has just cleared it away: begin again.
    if sys.platform == "win32":
        with contextlib.suppress(OSError):
            path.unlink(missing_ok=True)
    with contextlib.suppress(OSError):
        folder.rmdir()  # only where nothing was kept


def lock(file: IO[str]) -> bool:
    """Take the system's lock on an open file; return False where another process has it.

    The lock is gone with the process, however that ends. On a share that knows no locks it is as if taken.
    """
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return sys.platform != "win32"
    return True
