"""Keep files for good: written once, whole or not at all, and never over another.

A file is written beside its place under a name that no reader looks at, forced to the disk, and only then
given its own name, by a step that fails where that name is taken. Whoever is killed on the way leaves at
most such an unnamed part, which the next one who holds the folder removes.

Several files that belong together are first written into a folder of their own, and only when the last is on the disk
does that folder get the name under which it counts: from then on all of them are kept, by whoever comes next.
"""

import contextlib
import os
import secrets
import shutil
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import IO

At = Callable[[str], None]
"""Called with the name of each point as it is reached; tests stop the process there."""

POINTS = ("before writing", "written", "synced", "before naming", "named", "part removed", "folder synced")
"""The points of one ``keep``, in their order."""

_PART = ".part"
_ORDER, _ORDERED = ".order", ".ordered"
"""Folders of what is kept together: being written, and whole on the disk. No reader looks into them."""


class Held(Exception):
    """Another process holds the folder."""


def keep(path: Path, data: bytes, at: At = lambda point: None) -> bool:
    """Write ``data`` to the new file ``path``; return False, having changed nothing, where it is there already.

    Folders above it are made. Raises OSError.
    """
    if path.exists():
        return False
    _make_folder(path.parent)
    part = path.parent / f".{path.name[:80]}.{secrets.token_hex(8)}{_PART}"
    at("before writing")
    try:
        _write(part, data, at)
        at("before naming")
        named = _name(part, path)
        at("named")
    finally:
        part.unlink(missing_ok=True)
    at("part removed")
    _sync_folder(path.parent)
    at("folder synced")
    return named


def _write(path: Path, data: bytes, at: At) -> None:
    with path.open("xb") as file:
        file.write(data)
        at("written")
        file.flush()
        os.fsync(file.fileno())
    at("synced")


class Taken(Exception):
    """A name under which something was to be kept is that of another file: its path is the first argument."""


def points_of_all(count: int) -> tuple[str, ...]:
    """Return the points of one ``keep_all`` of ``count`` files, in their order."""
    writing = [f"{point} {number}" for number in range(1, count + 1) for point in ("written", "synced")]
    keeping = [
        f"{point} {number}" for number in range(1, count + 1) for point in ("before naming", "named", "folder synced")
    ]
    return ("before writing", *writing, "all written", "ordered", "order synced", *keeping, "cleared away", "done")


def keep_all(folder: Path, files: Mapping[str, bytes], at: At = lambda point: None) -> None:
    """Write new files of ``folder``, by their paths in it (one folder deep): all of them, or none.

    The caller holds the folder, and has asked ``complete`` before. Raises OSError, and Taken where a name is taken:
    then none is written.
    """
    if not files:
        return
    for name in files:
        if (folder / name).exists():
            raise Taken(folder / name)
    _make_folder(folder)
    order = folder / _ORDER
    _clear(order)
    at("before writing")
    order.mkdir()
    for number, (name, data) in enumerate(sorted(files.items()), 1):
        path = order / name
        path.parent.mkdir(exist_ok=True)
        _write(path, data, lambda point, number=number: at(f"{point} {number}"))  # type: ignore[misc]
    for inner in (*(path for path in order.iterdir() if path.is_dir()), order):
        _sync_folder(inner)
    at("all written")
    order.rename(folder / _ORDERED)  # from here on they are kept, whoever finishes it
    at("ordered")
    _sync_folder(folder)
    at("order synced")
    complete(folder, at)


def complete(folder: Path, at: At = lambda point: None) -> tuple[str, ...]:
    """Finish what was to be kept together in ``folder`` and was cut short; return its paths there, () for nothing.

    The caller holds the folder. Raises OSError, and Taken where a name meanwhile is that of another file.
    """
    ordered = folder / _ORDERED
    if not ordered.is_dir():
        return ()
    paths = sorted(path for path in ordered.rglob("*") if path.is_file())
    for number, path in enumerate(paths, 1):
        there = folder / path.relative_to(ordered)
        _make_folder(there.parent)
        at(f"before naming {number}")
        if not _name(path, there) and there.read_bytes() != path.read_bytes():
            raise Taken(there)
        at(f"named {number}")
        _sync_folder(there.parent)
        at(f"folder synced {number}")
    names = tuple(path.relative_to(ordered).as_posix() for path in paths)
    gone = folder / f"{_ORDER}.{secrets.token_hex(8)}{_PART}"
    ordered.rename(gone)
    _clear(gone)
    at("cleared away")
    _sync_folder(folder)
    at("done")
    return names


def is_cut_short(folder: Path) -> bool:
    """Tell whether something that is to be kept together in ``folder`` is not all in its place yet."""
    return (folder / _ORDERED).is_dir()


def _make_folder(folder: Path) -> None:
    """Make a folder, and those above it, so that their names are on the disk."""
    missing = [folder]
    while not missing[-1].parent.exists():
        missing.append(missing[-1].parent)
    for one in reversed(missing):
        if not one.exists():
            one.mkdir(exist_ok=True)
            _sync_folder(one.parent)


def _clear(folder: Path) -> None:
    if folder.is_dir():
        shutil.rmtree(folder)


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
    _make_folder(folder)
    path = folder / ".lock"
    while True:
        with path.open("a", encoding="utf-8") as file:
            if not lock(file):
                raise Held(str(folder))
            if path.exists() and os.path.samestat(path.stat(), os.fstat(file.fileno())):
                try:
                    for part in folder.glob(f"**/.*{_PART}"):
                        if part.is_dir():
                            _clear(part)
                        else:
                            part.unlink(missing_ok=True)
                    _clear(folder / _ORDER)
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
