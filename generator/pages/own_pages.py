"""The planner's own pages and settings: what of them can't be published, as Problems with a place."""

import os
import re
from collections.abc import Iterator
from pathlib import Path

from generator.errors import Problem, Where, WorkPackError
from generator.model.pack import WorkPack
from generator.source.settings import read_settings
from generator.workpack import Progress, load

FOLDER = "pages"
"""The folder of a job whose files are published as they are."""

_LARGEST = 1024 * 1024
"""Bytes of one Markdown page: a long book is half of it."""

# Places at the top of a site that pages of the job have. Compared without case: some disks don't tell it.
_TAKEN_FOLDERS = {"t", "w", "find", "safety", "assets", "register", "photos"}
_TAKEN_FILES = {
    "index.md",
    "index.html",
    "readme.md",
    "404.md",
    "404.html",
    "problems.md",
    "problems.html",
    "sitemap.xml",
    "sitemap.xml.gz",
    "wallwork-site.json",
}
_MARKDOWN = {".md", ".markdown", ".mdown", ".mkdn", ".mkd"}


def load_whole(folder: Path, progress: Progress | None = None, settings: str = "mkdocs.yml") -> WorkPack:
    """Load the job in ``folder`` and look at its settings and own pages too.

    Raises WorkPackError with the problems of all three at once.
    """
    problems: list[Problem] = []
    work = None
    try:
        work = load(folder, progress)
    except WorkPackError as error:
        problems += error.problems
    try:
        read_settings(folder, settings)
    except WorkPackError as error:
        problems += error.problems
    problems += look_through(folder)
    if problems or work is None:
        raise WorkPackError(problems)
    return work


def look_through(folder: Path) -> list[Problem]:
    """Return what in ``pages/`` of the job in ``folder`` can't be published.

    Only plain files and folders are: what a link leads to may lie outside the job.
    """
    return list(_problems(folder / FOLDER))


def _problems(top: Path) -> Iterator[Problem]:
    if top.is_symlink():
        yield _link(Where(FOLDER))
        return
    for place, folders, names in os.walk(top, followlinks=False):
        for name in sorted(folders + names):
            path = Path(place, name)
            where = Where(_shown(f"{FOLDER}/{path.relative_to(top).as_posix()}"))
            if path.is_symlink():
                yield _link(where)
            elif Path(place) == top and name.casefold() in (_TAKEN_FOLDERS if path.is_dir() else _TAKEN_FILES):
                yield Problem(
                    where,
                    f"{where.file} has the place of a page that Wallwork makes",
                    "two pages can't have one address",
                    "give it another name",
                )
            elif path.is_dir():
                continue
            elif not path.is_file():
                yield Problem(where, f"{where.file} is no file", "only files are published", "remove it")
            elif path.suffix.lower() in _MARKDOWN:
                yield from _unreadable(path, where)


def _link(where: Where) -> Problem:
    return Problem(
        where,
        f"{where.file} is a link to another place",
        "what it leads to may lie outside the job, and everything in pages/ is published",
        "put the file itself there",
    )


def _unreadable(path: Path, where: Where) -> Iterator[Problem]:
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST + 1)
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        column = len(data[: error.start].rpartition(b"\n")[2].decode("utf-8", "replace")) + 1
        yield Problem(
            Where(where.file, line, column), "a byte that is not UTF-8 text", "pages are UTF-8", "save it as UTF-8"
        )
    except OSError as error:
        yield Problem(where, f"{where.file} can't be read", error.strerror or "it can't", "mend its permissions")
    else:
        if len(data) > _LARGEST:
            yield Problem(where, f"{where.file} is larger than 1 MB", "that is no page to read", "split it")


_SAID = re.compile(r"Doc file '(?P<page>[^\n]*?)' contains (?P<what>.*)", re.DOTALL)
_QUOTED = re.compile(r"'([^\n]*?)'")


def problem_of(message: str, folder: Path) -> Problem:
    """Turn what MkDocs says of a page or of the settings into a Problem, at the place of what it quotes."""
    said = _SAID.fullmatch(message)
    if said is None:
        return Problem(
            _place_of_quoted(message, folder, "mkdocs.yml"),
            _shown(message),
            "the site can't be made as it asks",
            "mend what this names",
        )
    what = said["what"]
    return Problem(
        _place_of_quoted(what, folder, f"{FOLDER}/{said['page']}"),
        _shown(f"the page contains {what}"),
        "a page leads only to pages of this site or to plain addresses, and shows only its own pictures",
        "mend it; a transit's page is T/<ID>/index.html, a wall's W/<ID>/index.html",
    )


def _place_of_quoted(message: str, folder: Path, file: str) -> Where:
    quoted = _QUOTED.search(message)
    try:
        text = (folder / file).read_text(encoding="utf-8") if quoted else ""
    except (OSError, ValueError):
        text = ""
    index = text.find(quoted[1]) if quoted else -1
    if index < 0:
        return Where(_shown(file))
    return Where(_shown(file), text.count("\n", 0, index) + 1, index - text.rfind("\n", 0, index))


def _shown(text: str) -> str:
    return "".join(ch if ch.isprintable() else "?" for ch in text)
