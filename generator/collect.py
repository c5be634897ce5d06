"""Collect records: what crews hand in is checked and kept for good, next to what it was made against.

Nothing that is handed in is changed or removed, nothing that was kept is overwritten, and nothing bad keeps
something good from being kept.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from generator.engine.asbuilt import conflicts
from generator.errors import Problem, Where, WorkPackError
from generator.keep import At, keep
from generator.model.canonical import digest_of_bytes
from generator.model.record import KeptRecord
from generator.source.files import shown
from generator.source.folder import JobSource
from generator.source.pins import Chain
from generator.source.records import (
    FOLDER,
    LARGEST_PHOTO,
    LARGEST_ZIP,
    Loose,
    Package,
    kept_records,
    read_loose,
    read_zip,
)
from generator.workpack import compute_one, read

_PICTURES = {".jpg", ".jpeg", ".png", ".webp"}
_MOST_FILES = 20_000
_MOST_BESIDE = 1_000

What = Literal["kept", "known", "refused"]


@dataclass(frozen=True)
class Came:
    """What became of one file: ``kept`` anew at ``place``, ``known`` already, or ``refused``.

    ``looks`` has what somebody should see to although it was kept, each with what to do.
    """

    file: str
    what: What
    transit: str = ""
    place: str = ""
    problems: tuple[Problem, ...] = ()
    looks: tuple[Problem, ...] = ()


def collect(folder: Path, files: Sequence[Path], at: At = lambda point: None) -> tuple[Came, ...]:
    """Check what lies at ``files`` (zips, folders, loose JSON with pictures beside it), keep what is right.

    Each record is kept as ``records/<ID>/<SHA-256>.zip`` of the job in ``folder``, whole or not at all; what
    is kept already, however it was packed, is not kept twice. Answers in the order of the files. The caller
    holds the folder records/. Raises WorkPackError where the job itself can't be read, and OSError where it
    can't be written.
    """
    source, chains = read(folder)
    desk = _Desk(folder, source, chains, at)
    return tuple(desk.take(file) for path in files for file in _found(path))


class _Desk:
    """Where records come in: knows the job, and what is kept already."""

    def __init__(self, folder: Path, source: JobSource, chains: dict[str, Chain], at: At) -> None:
        self.folder, self.source, self.chains, self.at = folder, source, chains, at
        self.job = source.definition.job.uid
        self.kept, _unread = kept_records(folder, self.job, {*source.definition.transits, *chains})
        self._contents: dict[str, dict[str, str]] = {}
        self._now: dict[str, str] = {}

    def take(self, path: Path) -> Came:
        name = "".join(ch if ch.isprintable() else "?" for ch in str(path))
        try:
            package = self._read(path, name)
            if package.transit not in self.source.definition.transits and package.transit not in self.chains:
                raise WorkPackError(
                    [
                        Problem(
                            Where(name),
                            f"the record is of {package.transit}, and the job has no such transit",
                            "a record is kept beside the work it belongs to",
                            "put the transit back into the job and collect again; the file stays where it is",
                        )
                    ]
                )
        except WorkPackError as error:
            return Came(name, "refused", problems=error.problems)
        return self._keep(package, name)

    def _read(self, path: Path, name: str) -> Package:
        try:
            if not path.exists():
                raise WorkPackError([Problem(Where(name), "there is no such file", "", "name what was handed in")])
            if path.suffix.lower() in (".json", ".txt"):  # share sheets that take no zip take text
                return read_loose(Loose(_bytes(path, LARGEST_ZIP), _beside(path)), name, self.job)
            return read_zip(_bytes(path, LARGEST_ZIP), name, self.job)
        except OSError as error:
            raise WorkPackError(
                [Problem(Where(name), "the file can't be read", error.strerror or "it can't", "mend its permissions")]
            ) from None

    def _keep(self, package: Package, name: str) -> Came:
        place = f"{FOLDER}/{package.transit}/{package.digest}.zip"
        contents = self._contents_of(package.transit)
        if package.content in contents:
            return Came(name, "known", package.transit, contents[package.content])
        new = keep(self.folder / place, package.data, self.at)
        contents[package.content] = place
        before = self.kept.get(package.transit, ())
        item = KeptRecord(
            file=place,
            digest=package.digest,
            transit=package.transit,
            format=package.format,
            record=package.record,
        )
        looks = tuple(self._looks(package, item, before, place))
        if new:
            self.kept[package.transit] = (*before, item)
        return Came(name, "kept" if new else "known", package.transit, place, looks=looks)

    def _contents_of(self, transit: str) -> dict[str, str]:
        """Return by what they say the records of a transit that are kept, read again from their files."""
        if transit not in self._contents:
            found = {}
            for path in sorted((self.folder / FOLDER / transit).glob("[0-9a-f]*.zip")):
                try:
                    data = _bytes(path, LARGEST_ZIP)
                    found[read_zip(data, path.name, self.job).content] = shown(path, self.folder)
                except (OSError, WorkPackError):
                    continue  # check and build name it; here it only is no duplicate of anything
            self._contents[transit] = found
        return self._contents[transit]

    def _looks(
        self, package: Package, item: KeptRecord, before: tuple[KeptRecord, ...], place: str
    ) -> Iterator[Problem]:
        def look(what: str, why: str, mend: str) -> Problem:
            return Problem(Where(place), what, why, mend, "look", package.transit)

        record = package.record
        if record is None:
            yield look(
                f"the record of {package.transit} has the format {package.format}",
                "this Wallwork reads format 1: the record is kept as it is, and not shown",
                "build the site with a newer Wallwork",
            )
            return
        yield from self._against(package, look)
        exports = [kept.record.export for kept in before if kept.record and kept.record.record == record.record]
        if exports and max(exports) > record.export:
            yield look(
                f"a later export of this record, number {max(exports)}, was kept before this one ({record.export})",
                "the last export counts",
                "nothing to do",
            )
        old = [str(message) for message in conflicts(before)]
        for message in conflicts((*before, item)):
            if str(message) not in old:
                yield look(
                    f"{package.transit}: {message}",
                    "both are kept, and the site shows both",
                    "ask the crews which one holds, and have it recorded again with a reason",
                )

    def _against(self, package: Package, look: Callable[[str, str, str], Problem]) -> Iterator[Problem]:
        record = package.record
        assert record is not None
        transit, chain = record.transit, self.chains.get(record.transit, ())
        if record.revision is None:
            if not chain and record.work != self._work_now(transit):
                yield look(
                    f"{transit} was recorded against a page that was not issued, and its work has changed since",
                    "its values are shown, and not judged",
                    "compare it with the crew, then issue what was built",
                )
            elif chain and record.work != chain[-1].work_digest:
                yield look(
                    f"{transit} was recorded against a page that was not issued; it is issued as"
                    f" {chain[-1].revision} with other work",
                    "its values are shown, and not judged",
                    "compare it with the crew",
                )
            return
        pin = next((pin for pin in chain if pin.revision == record.revision), None)
        if pin is None:
            yield look(
                f"{transit} was recorded against revision {record.revision}, which was never issued here",
                "without its pin nothing can be judged",
                f"get issued/{transit}/{record.revision}.json from the one who issued it",
            )
        elif pin.work_digest != record.work:
            yield look(
                f"{transit} was recorded against a revision {record.revision} with other work than the one here",
                "two people may have issued it, or the page was changed",
                "find out which page the crew had; its values are shown, and not judged",
            )
        elif pin is not chain[-1] and pin.work_digest != chain[-1].work_digest:
            yield look(
                f"{transit} was recorded against {record.revision}, and {chain[-1].revision} is current",
                "what was built is not what is issued now",
                "have it changed on site, or take the change back and issue it again",
            )

    def _work_now(self, transit: str) -> str:
        if transit not in self._now:
            self._now[transit] = compute_one(self.source, transit).digest
        return self._now[transit]


def _found(path: Path) -> Iterable[Path]:
    """Return the records at ``path``: itself, or every zip, JSON file and record*.txt in a folder and below."""
    if not path.is_dir():
        return [path]
    found: list[Path] = []
    for item in sorted(path.rglob("*")):
        is_text = item.suffix.lower() == ".txt" and item.name.lower().startswith("record")
        named = item.suffix.lower() in (".zip", ".json") or is_text
        if named and item.is_file() and not item.name.startswith("."):
            found.append(item)
        if len(found) > _MOST_FILES:
            break
    return found


def _bytes(path: Path, most: int) -> bytes:
    with path.open("rb") as file:
        return file.read(most + 1)


def _beside(path: Path) -> dict[str, bytes]:
    """Return the pictures beside a loose record, and in photos/ beside it, by their digest: mail renames files."""
    found: dict[str, bytes] = {}
    for folder in (path.parent, path.parent / "photos"):
        names = sorted(folder.iterdir())[:_MOST_BESIDE] if folder.is_dir() else []
        for item in names:
            if item.suffix.lower() in _PICTURES and item.is_file():
                data = _bytes(item, LARGEST_PHOTO)
                if len(data) <= LARGEST_PHOTO:
                    found[digest_of_bytes(data)] = data
    return found
