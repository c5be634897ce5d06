"""Records that come home: zips and loose files from anywhere become checked packages, or Problems.

Nothing of a zip is believed: names, sizes and types are checked against the content, everything is read
within limits, and nothing is ever unpacked to a disk.
"""

import io
import re
import stat
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from generator.errors import Problem, Where, WorkPackError
from generator.model.canonical import digest_of_bytes, digest_of_plain
from generator.model.record import FORMAT, VERSIONS, KeptRecord, Record
from generator.model.scalars import Ident, quoted
from generator.source.json_text import explain_json, parse_json
from generator.source.pictures import NoPicture, judge_picture

FOLDER = "records"
JSON_NAME = "record.json"
LARGEST_ZIP = 256 * 1024 * 1024
LARGEST_JSON = 8 * 1024 * 1024
LARGEST_PHOTO = 32 * 1024 * 1024
LARGEST_WHOLE = 512 * 1024 * 1024
MOST_ENTRIES = 600
_PHOTO = re.compile(r"photos/([0-9a-f]{64})\.(jpg|jpeg|png|webp)", re.ASCII)
_SAFE = re.compile(r"(?!\.)[A-Za-z0-9._-]{1,100}(?:/(?!\.)[A-Za-z0-9._-]{1,100}){0,4}", re.ASCII)
_STORED = (1980, 1, 1, 0, 0, 0)
_AGAIN = "ask for the record again; the file stays where it is"


@dataclass(frozen=True)
class Package:
    """A record that was checked: the zip to keep, and what it says.

    ``content`` is the digest of what it says, however it was packed. ``record`` is None for a newer format.
    """

    data: bytes
    digest: str
    content: str
    transit: str
    revision: str
    format: int
    record: Record | None


@dataclass
class Loose:
    """What lay on a disk: ``record.json`` under any name, and pictures beside it by their digest."""

    json: bytes
    photos: dict[str, bytes] = field(default_factory=dict)


def read_zip(data: bytes, file: str, job: str) -> Package:
    """Check a zip and return its package. Raises WorkPackError with what is wrong."""
    if len(data) > LARGEST_ZIP:
        raise _wrong(file, "the file is larger than any record", f"at most {LARGEST_ZIP >> 20} MB", _AGAIN)
    content = _unpack(data, file)
    return _package(data, content, file, job)


def read_loose(loose: Loose, file: str, job: str) -> Package:
    """Check a loose record and pack it: the same content always gives the same zip. Raises WorkPackError."""
    if len(loose.json) > LARGEST_JSON:
        raise _wrong(file, "the file is larger than any record", f"at most {LARGEST_JSON >> 20} MB", _AGAIN)
    fields = _fields(loose.json, file)
    wanted = [photo.get("digest") for photo in _list(fields.get("photos")) if isinstance(photo, dict)]
    content = {JSON_NAME: loose.json}
    for digest in wanted:
        if isinstance(digest, str) and digest in loose.photos:
            try:
                kind = judge_picture(loose.photos[digest])
            except NoPicture as error:
                raise _wrong(file, f"the photo {digest[:12]}… is none: {error}", "", _AGAIN) from None
            content[f"photos/{digest}.{kind}"] = loose.photos[digest]
    return _package(pack(content), content, file, job)


def pack(content: dict[str, bytes]) -> bytes:
    """Return a zip of ``content``: no dates of its own, nothing compressed, names in order."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as made:
        for name in sorted(content):
            info = zipfile.ZipInfo(name, _STORED)
            info.external_attr = 0o644 << 16
            made.writestr(info, content[name])
    return out.getvalue()


# -- the zip ---------------------------------------------------------------------------------------


def _unpack(data: bytes, file: str) -> dict[str, bytes]:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as opened:
            entries = opened.infolist()
            _check_entries(entries, file)
            content: dict[str, bytes] = {}
            total = 0
            for entry in entries:
                most = LARGEST_JSON if entry.filename == JSON_NAME else LARGEST_PHOTO
                with opened.open(entry) as stream:
                    read = stream.read(most + 1)
                total += len(read)
                if len(read) > most or total > LARGEST_WHOLE:
                    raise _wrong(
                        file,
                        f"{quoted(entry.filename)} in it unpacks to more than any record holds",
                        f"record.json has at most {LARGEST_JSON >> 20} MB, a photo {LARGEST_PHOTO >> 20} MB,"
                        f" the whole {LARGEST_WHOLE >> 20} MB",
                        "don't open it; ask who sent it",
                    )
                if len(read) != entry.file_size:
                    raise _wrong(file, f"{quoted(entry.filename)} in it is not as long as it says", "", _AGAIN)
                content[entry.filename] = read
    except WorkPackError:
        raise
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        OSError,
        ValueError,
        RuntimeError,
        NotImplementedError,
    ) as error:
        raise _wrong(file, "the zip is broken or cut short", _reason(error), _AGAIN) from None
    except Exception as error:  # zipfile meets hostile headers with errors of many kinds
        raise _wrong(file, "the zip can't be read", type(error).__name__, _AGAIN) from None
    return content


def _check_entries(entries: list[zipfile.ZipInfo], file: str) -> None:
    why = "a record holds record.json and photos/<SHA-256>.jpg, .png or .webp, and nothing else"
    hands = "don't unpack it by hand; ask who sent it"
    if len(entries) > MOST_ENTRIES:
        raise _wrong(file, f"the zip has {len(entries)} entries", f"a record has at most {MOST_ENTRIES}", hands)
    seen: set[str] = set()
    for entry in entries:
        name = entry.filename
        if not _SAFE.fullmatch(name) or entry.is_dir() or entry.orig_filename != name:
            raise _wrong(file, f"the zip holds the name {quoted(entry.orig_filename)}", why, hands)
        mode = entry.external_attr >> 16
        if stat.S_IFMT(mode) not in (0, stat.S_IFREG):
            raise _wrong(file, f"{quoted(name)} in the zip is a link or a device", why, hands)
        if name.lower() in seen:
            raise _wrong(file, f"the zip holds {quoted(name)} twice", "nobody could say which one counts", hands)
        if entry.flag_bits & 0x1:
            raise _wrong(file, f"{quoted(name)} in the zip is encrypted", "a record is open", _AGAIN)
        if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise _wrong(file, f"{quoted(name)} in the zip is packed in a way nobody uses", why, _AGAIN)
        seen.add(name.lower())
    if JSON_NAME not in seen:
        raise _wrong(file, "the zip holds no record.json", why, "hand in the file that the page exported")


def _reason(error: Exception) -> str:
    return "".join(ch if ch.isprintable() else "?" for ch in str(error))[:120] or type(error).__name__


# -- what it says ----------------------------------------------------------------------------------


def _fields(data: bytes, file: str) -> dict[str, Any]:
    fields = parse_json(data, file, "record")
    if not isinstance(fields, dict):
        raise _wrong(file, "the record is no JSON object", "a record is one", _AGAIN)
    return fields


def _list(value: object) -> list[Any]:
    return value if isinstance(value, list) else []


def _package(data: bytes, content: dict[str, bytes], file: str, job: str) -> Package:
    fields = _fields(content[JSON_NAME], file)
    version = fields.get("format")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise _wrong(file, f"/format of the record is {quoted(version)}", "it is a whole number, 1 or more", _AGAIN)
    _check_job(fields, file, job)
    photos = {name: read for name, read in content.items() if name != JSON_NAME}
    said = digest_of_plain([fields, sorted(digest_of_bytes(read) for read in photos.values())])
    if version > FORMAT:
        transit = _ident(fields.get("transit"), file)
        revision = fields.get("revision")
        return Package(
            data,
            digest_of_bytes(data),
            said,
            transit,
            revision if isinstance(revision, str) else "",
            version,
            None,
        )
    try:
        record = VERSIONS[version].model_validate(fields)
    except ValidationError as error:
        raise WorkPackError(explain_json(error, file, "record", _AGAIN)) from None
    problems = list(_photo_problems(record, photos, file))
    if problems:
        raise WorkPackError(problems)
    return Package(data, digest_of_bytes(data), said, record.transit, record.revision or "", version, record)


def _check_job(fields: dict[str, Any], file: str, job: str) -> None:
    if fields.get("job") != job:
        raise _wrong(
            file,
            f"the record belongs to the job {quoted(fields.get('job'))}",
            f"this job is {job}",
            "collect it into the job it was made for",
        )


def _ident(value: object, file: str) -> str:
    try:
        return TypeAdapter(Ident).validate_python(value)
    except ValidationError:
        raise _wrong(file, f"/transit of the record is {quoted(value)}", "it is a transit's ID", _AGAIN) from None


def _photo_problems(record: Record, photos: dict[str, bytes], file: str) -> Iterator[Problem]:
    named = {photo.digest for photo in record.photos}
    there: set[str] = set()
    for name, read in photos.items():
        found = _PHOTO.fullmatch(name)
        if not found:
            yield _problem(file, f"{quoted(name)} is no photo of a record", "photos are named photos/<SHA-256>.jpg")
            continue
        digest, ending = found.groups()
        if digest_of_bytes(read) != digest:
            yield _problem(file, f"the photo {digest[:12]}… is not what it was", "its bytes and its name don't agree")
            continue
        try:
            kind = judge_picture(read)
        except NoPicture as error:
            yield _problem(file, f"the photo {digest[:12]}… is none: {error}", "photos are JPEG, PNG or WebP, whole")
            continue
        if kind != ending.replace("jpeg", "jpg"):
            yield _problem(
                file, f"the photo {digest[:12]}… is called {ending} and is {kind}", "its type is its content"
            )
            continue
        if digest not in named:
            yield _problem(file, f"the photo {digest[:12]}… is not named in the record", "nobody said what it shows")
        there.add(digest)
    for digest in sorted(named - there):
        if not any(digest in name for name in photos):
            yield _problem(file, f"the photo {digest[:12]}… is missing", "the record names it")


# -- what was kept ---------------------------------------------------------------------------------


def kept_records(
    folder: Path, job: str, transits: Iterable[str]
) -> tuple[dict[str, tuple[KeptRecord, ...]], list[Problem]]:
    """Read the records that ``records/`` of the job keeps, by transit, in the order of their digests.

    A record that can't be read stops nothing: it comes back as a Problem to look at. Photos are not opened,
    and the digest in a file's name is not taken again over the whole file, which may be large.
    """
    found: dict[str, list[KeptRecord]] = {}
    problems: list[Problem] = []
    top = folder / FOLDER
    known = set(transits)
    for path in sorted(top.glob("*/*.zip")) if top.is_dir() else ():
        file = _shown(f"{FOLDER}/{path.parent.name}/{path.name}")
        if path.name.startswith("."):
            continue
        try:
            kept = _kept(path, file, job)
            if kept.transit != path.parent.name or path.name != f"{kept.digest}.zip":
                raise _wrong(file, "the record lies under another name than its own", "", "put it where it was kept")
            if kept.transit not in known:
                raise _wrong(
                    file,
                    f"there is a record of {kept.transit}, and the job has no such transit",
                    "what was built is still there",
                    f"put {kept.transit} back into the transits",
                )
        except WorkPackError as error:
            problems += [Problem(p.where, p.what, p.why, p.mend, "look", p.transit) for p in error.problems]
            continue
        found.setdefault(kept.transit, []).append(kept)
    return {name: tuple(records) for name, records in found.items()}, problems


def _kept(path: Path, file: str, job: str) -> KeptRecord:
    mend = "bring it back from git or a backup"
    digest = path.name.removesuffix(".zip")
    try:
        if path.is_symlink():
            raise _wrong(file, "the record is a link", "what is kept are files", mend)
        with zipfile.ZipFile(path) as opened, opened.open(JSON_NAME) as stream:
            data = stream.read(LARGEST_JSON + 1)
    except WorkPackError:
        raise
    except Exception as error:  # zipfile meets broken headers with errors of many kinds
        raise _wrong(file, "the kept record can't be read", _reason(error), mend) from None
    fields = _fields(data, file)
    _check_job(fields, file, job)
    transit = _ident(fields.get("transit"), file)
    version = fields.get("format")
    version = version if isinstance(version, int) and version > 0 else 1  # the first model says what is wrong
    if version > FORMAT:
        return KeptRecord(file=file, digest=digest, transit=transit, format=version)
    try:
        record = VERSIONS[version].model_validate(fields)
    except ValidationError as error:
        raise WorkPackError(explain_json(error, file, "record", mend)) from None
    return KeptRecord(file=file, digest=digest, transit=transit, format=version, record=record)


def photo_of(path: Path, digest: str) -> bytes | None:
    """Return the bytes of a photo of a kept record, None where it is gone or not what it was."""
    try:
        with zipfile.ZipFile(path) as opened:
            name = next((name for name in opened.namelist() if name.startswith(f"photos/{digest}.")), None)
            if name is None:
                return None
            with opened.open(name) as stream:
                data = stream.read(LARGEST_PHOTO + 1)
    except Exception:  # whatever is wrong with it: there is no photo to show
        return None
    return data if digest_of_bytes(data) == digest else None


def _wrong(file: str, what: str, why: str, mend: str) -> WorkPackError:
    return WorkPackError([Problem(Where(file), what, why, mend)])


def _problem(file: str, what: str, why: str) -> Problem:
    return Problem(Where(file), what, why, _AGAIN)


def _shown(text: str) -> str:
    return "".join(ch if ch.isprintable() else "?" for ch in text)
