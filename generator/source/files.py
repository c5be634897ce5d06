"""Bytes of a job's files become text, or a Problem. No path leads outside the folders it may read."""

import re
from collections.abc import Iterable
from pathlib import Path

from generator.errors import Problem, Where, WorkPackError

LARGEST = 16 * 1024 * 1024
"""Bytes; some 300,000 lines of cables or transits."""

# What no text file holds: control characters, and the line ends that editors count differently.
_STRANGE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")
LINE_END = re.compile("\r\n|\r|\n")


def refused(where: Where, what: str, why: str, mend: str) -> WorkPackError:
    """Return the error of a file that can't be read past one place."""
    return WorkPackError([Problem(where, what, why, mend)])


def shown(path: Path, folder: Path) -> str:
    """Return a path as messages name it: relative to the job folder, forward slashes, printable."""
    try:
        text = path.relative_to(folder).as_posix()
    except ValueError:
        text = f"../{path.parent.name}/{path.name}"
    return "".join(ch if ch.isprintable() else "?" for ch in text)


def place_in(text: str, index: int, file: str) -> Where:
    """Return the place of the character at ``index``."""
    line, start = 1, 0
    for end in LINE_END.finditer(text, 0, index):
        line, start = line + 1, end.end()
    return Where(file, line, index - start + 1)


def stays_inside(path: Path, roots: Iterable[Path]) -> bool:
    """Tell whether a path, all links followed, lies in one of ``roots`` (real paths). Raises OSError."""
    real = path.resolve()
    return any(real.is_relative_to(root) for root in roots)


def links_outside(folder: Path, name: str) -> list[Problem]:
    """Find what of ``folder/name``, itself and the folders in it, is a link that leads out of ``folder``."""
    top = folder / name
    found = []
    for path in (top, *(sorted(top.iterdir()) if top.is_dir() else ())):
        shown = path.relative_to(folder).as_posix()
        try:
            inside = stays_inside(path, [folder.resolve()])
        except (OSError, RuntimeError):
            inside = False
        if not inside:
            found.append(
                Problem(
                    Where(shown),
                    f"{shown} is a link that leads outside the job's folder",
                    "what was issued and recorded is kept in the job, and nothing outside it is read or written",
                    "put the folder itself there instead of a link",
                )
            )
    return found


def read_text(path: Path, roots: Iterable[Path], file: str) -> str:
    """Read a file under one of ``roots`` as UTF-8, without a byte order mark, with its own line ends.

    Raises WorkPackError for what is no such text: missing, outside, too large, binary.
    """
    start = Where(file)
    try:
        if not stays_inside(path, roots):
            raise refused(
                start,
                f"{file} is a link that leads outside its folder",
                "a job is read from its own folder and from the catalogues beside it, nowhere else",
                "put the file itself there instead of a link",
            )
        if not path.is_file():
            raise refused(start, f"{file} is not a file", "a file is wanted here", f"put a text file at {file}")
        with path.open("rb") as stream:
            data = stream.read(LARGEST + 1)
    except (OSError, RuntimeError, ValueError) as error:
        reason = (error.strerror if isinstance(error, OSError) else None) or "its path leads nowhere"
        raise refused(start, f"{file} can't be read", reason, "mend its permissions or its path") from None
    if len(data) > LARGEST:
        raise refused(
            start,
            f"{file} is larger than {LARGEST // 1024 // 1024} MB",
            "a file of this size is no job file",
            "split it (transits fit in a folder transits/), or remove what does not belong in it",
        )
    return decode(data, file)


def decode(data: bytes, file: str) -> str:
    """Return bytes as text. Raises WorkPackError naming the first place that is not."""
    start = Where(file)
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise refused(start, f"{file} is UTF-16 text", "job files are UTF-8 text", "save it again as UTF-8")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8")
        raise refused(
            place_in(before, len(before), file),
            f"{file} is not UTF-8 text: the byte {data[error.start]:02X} does not belong here",
            "job files are UTF-8 text",
            "save it again as CSV UTF-8" if file.endswith(".csv") else "save it again as UTF-8, if it is text at all",
        ) from None
    text = text.removeprefix("\ufeff")
    strange = _STRANGE.search(text)
    if strange:
        raise refused(
            place_in(text, strange.start(), file),
            f"{file} holds the invisible character U+{ord(strange.group()):04X}",
            "job files are plain text",
            "delete that character; if the file is not text at all, put the right file there",
        )
    return text
