"""A job folder becomes a Definition and a procedure, or all the problems of the stage that failed.

Stages: every file is text of its kind; every file says what its model wants; every name leads somewhere.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from generator.errors import Finding, Problem, Where, WorkPackError
from generator.model.catalogue import CatalogueFile
from generator.model.job import Definition, JobFile, Transit, TransitsFile, WallsFile
from generator.model.layout import NoLayout
from generator.model.procedure import ProcedureFile
from generator.model.quantities import Stock
from generator.model.scalars import quoted
from generator.source.csv_text import Column, parse_csv
from generator.source.explain import explain
from generator.source.files import decode, read_text, shown, stays_inside
from generator.source.lookalikes import did_you_mean
from generator.source.positions import Items, Map, Text, node_at, place_of
from generator.source.procedure import ReadProcedure, join_procedures
from generator.source.references import Sources, check_references
from generator.source.schedule import COLUMNS, doubtful_circuits, doubtful_tags, read_schedule
from generator.source.stock import STOCK_COLUMNS, place_stock, read_stock
from generator.source.yaml_text import parse_yaml

_Made = TypeVar("_Made")
_ModelType = TypeVar("_ModelType", bound=BaseModel)

_MISSING = {
    "job.yaml": "write job.yaml with the key job: and below it the job's name, number, client and the rest",
    "walls.yaml": "write walls.yaml with the key walls: and below it each wall under its ID",
    "transits.yaml": "write transits.yaml (or files in a folder transits/) with the key transits: and below it each"
    " transit under its ID",
    "cables.csv": f"write cables.csv, its first line {','.join(column.name for column in COLUMNS)}",
}


@dataclass(frozen=True)
class JobSource:
    """A job as it was read. ``problems`` has what deserves a look; nothing in it stops the work."""

    definition: Definition
    procedure: ProcedureFile
    problems: tuple[Problem, ...]
    sources: Sources
    procedures: tuple[ReadProcedure, ...]
    stock: tuple[Stock, ...] | None = None
    """What ``stock.csv`` says, each entry with its sealing system; None where there is no such file."""
    left_open: Mapping[str, tuple[Finding, NoLayout | None]] = field(default_factory=dict)
    """What was chosen for a transit that leaves its frame open, and why it has no layout where it has none. Reading
    leaves it empty."""

    def where(self, kind: str, key: str = "", field: str = "") -> Where:
        """Return the place of a field, or of the nearest thing that encloses it and stands in a file.

        ``kind`` and ``key``: job; wall, transit, cable (its ID or tag); placeholder (TRANSIT/NAME);
        catalogue (its name); part (CATALOGUE/PART); step, caution (its id). ``field`` is the name of a key,
        or several with a point between them, an item of a list by its index from 0; of a cable it is a column
        of the schedule, or a field of Cable.
        """
        sources = self.sources
        if kind == "cable":
            return self._where_cable(key, field)
        if kind == "wall":
            return _place(sources.walls, ("walls", key), field)
        if kind in ("transit", "placeholder"):
            name, _, hold = key.partition("/")
            top = sources.transits.get(name)
            if top is None:
                return Where("transits.yaml")
            return _place(top, ("transits", name, *(("placeholders", hold) if hold else ())), field)
        if kind in ("catalogue", "part"):
            name, _, part = key.partition("/")
            top = sources.catalogues.get(name)
            if top is None:
                return place_of(sources.job, ("job", "catalogues"))
            groups = node_at(top, ("catalogue",)) or {}
            group = [name for name, parts in groups.items() if part and isinstance(parts, Map) and part in parts]
            return _place(top, ("catalogue", *((group[0], part) if group else ())), field)
        if kind in ("step", "caution"):
            for file in self.procedures:
                for index, rule in enumerate(node_at(file.root, (f"{kind}s",)) or ()):
                    if rule.get("id") == key:
                        return _place(file.root, (f"{kind}s", index), field)
        return _place(sources.job, ("job",), field)

    @cached_property
    def _rows(self) -> dict[str, Map]:
        return {row["tag"]: row for row in self.sources.rows}

    def _where_cable(self, tag: str, field: str) -> Where:
        row = self._rows.get(tag)
        if row is None:
            return Where("cables.csv")
        names = {
            "service": ("class",),
            "diameter": ("diameter_mm", "least_mm"),
            "least": ("least_mm", "diameter_mm"),
            "most": ("most_mm", "diameter_mm"),
        }.get(field, (field,))
        return place_of(row, (next(name for name in (*names, "tag") if row.get(name)),))


def read_job(folder: Path, shipped: Sequence[tuple[str, str]]) -> JobSource:
    """Read a job folder. ``shipped`` has name and text of every procedure file that comes with Wallwork.

    Raises WorkPackError with all problems of the first stage that has any.
    """
    gathered = _Gathered()
    files = _Files(folder, gathered)
    gathered.stop()
    job = files.yaml("job.yaml")
    walls = files.yaml("walls.yaml")
    transit_files = files.transits()
    rows = files.rows("cables.csv", COLUMNS)
    stock_rows = files.rows("stock.csv", STOCK_COLUMNS, required=False)
    catalogues = files.catalogues(job) if job is not None else {}
    procedures = [gathered.take(partial(_parse_shipped, name, text)) for name, text in shipped]
    own = files.yaml("procedure.yaml", required=False)
    gathered.stop()
    assert job is not None and walls is not None and rows is not None

    job_file = gathered.model(JobFile, job)
    walls_file = gathered.model(WallsFile, walls)
    transits, homes = _join_transits(transit_files, gathered)
    cables, kept, faults = read_schedule(rows)
    gathered.problems += faults
    entries, faults = read_stock(stock_rows or ())
    gathered.problems += faults
    read_catalogues = {name: gathered.model(CatalogueFile, root) for name, root in catalogues.items()}
    read_procedures = [_procedure(root, gathered) for root in procedures if root is not None]
    read_own = _procedure(own, gathered) if own is not None else None
    gathered.stop()
    assert job_file is not None and walls_file is not None

    definition = Definition(
        job=job_file.job,
        catalogues={name: file.catalogue for name, file in read_catalogues.items() if file},
        walls=walls_file.walls,
        transits=transits,
        cables=tuple(cables),
    )
    sources = Sources(job, walls, homes, catalogues, kept)
    gathered.problems += check_references(definition, sources)
    every_procedure = [file for file in read_procedures if file]
    procedure, faults = join_procedures(every_procedure, read_own)
    gathered.problems += faults
    stock, doubts = place_stock(entries, definition)
    gathered.problems += [doubt for doubt in doubts if doubt.severity == "stop"]
    for index, name in enumerate(definition.job.hot_work):
        if name not in procedure.hot_work:
            gathered.problems.append(
                Problem(
                    place_of(job, ("job", "hot_work", index)),
                    f"hot_work names {quoted(name)} for the job",
                    "no file of the procedure has rules of that name",
                    did_you_mean(name, procedure.hot_work, "name rules that exist, or write your own"),
                )
            )
    gathered.stop()
    return JobSource(
        definition,
        procedure,
        (
            *doubtful_tags(row["tag"] for row in kept),
            *doubtful_circuits(row["circuit"] for row in kept if row.get("circuit")),
            *doubts,
        ),
        sources,
        (*every_procedure, *((read_own,) if read_own else ())),
        stock if stock_rows is not None else None,
    )


class _Gathered:
    """The problems of a stage, gathered until it ends."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def take(self, make: Callable[[], _Made]) -> _Made | None:
        """Return what ``make`` makes; its problems are gathered, and None comes back for them."""
        try:
            return make()
        except WorkPackError as error:
            self.problems += error.problems
            return None

    def model(self, model: type[_ModelType], root: Map) -> _ModelType | None:
        """Return the model of a file, or None when it has problems."""
        try:
            return model.model_validate(root)
        except ValidationError as error:
            self.problems += explain(error, model, root)
            return None

    def stop(self) -> None:
        """End the stage: raise WorkPackError when there are problems."""
        if self.problems:
            raise WorkPackError(list(dict.fromkeys(self.problems)))


class _Files:
    """The files of one job folder and of the catalogues beside it."""

    def __init__(self, folder: Path, gathered: _Gathered) -> None:
        self.gathered = gathered
        name = "".join(ch if ch.isprintable() else "?" for ch in folder.as_posix())
        where = Where(name)
        try:
            self.folder = folder.resolve()
            exists, is_folder = self.folder.exists(), self.folder.is_dir()
            self.names = sorted(path.name for path in self.folder.iterdir()) if is_folder else []
        except (OSError, RuntimeError, ValueError) as error:
            reason = (error.strerror if isinstance(error, OSError) else None) or "its path leads nowhere"
            gathered.problems.append(
                Problem(where, "the job folder can't be read", reason, "mend its permissions or its path")
            )
            return
        self.shared = self.folder.parent / "catalogues"
        if not is_folder:
            gathered.problems.append(
                Problem(
                    where,
                    "this is not a folder" if exists else "there is no such folder",
                    "a job is a folder with job.yaml, walls.yaml, transits.yaml and cables.csv",
                    "name the job's folder, or make one with 'wallwork new'",
                )
            )

    def yaml(self, name: str, required: bool = True) -> Map | None:
        """Read a YAML file of the job."""
        if not self._is_there(name, required):
            return None
        return self._yaml(self.folder / name)

    def rows(self, name: str, columns: tuple[Column, ...], required: bool = True) -> list[Map] | None:
        """Read a file of rows: the cable schedule, the stock."""
        if not self._is_there(name, required):
            return None
        path = self.folder / name
        return self.gathered.take(lambda: parse_csv(read_text(path, (self.folder,), name), name, columns))

    def transits(self) -> list[Map]:
        """Read transits.yaml, or every YAML file of the folder transits/ by name."""
        parts = self.folder / "transits"
        if not (parts.is_dir() or parts.is_symlink()):
            root = self.yaml("transits.yaml")
            return [root] if root is not None else []
        if "transits.yaml" in self.names:
            self._add(
                Where("transits.yaml"),
                "there is a file transits.yaml and a folder transits/",
                "transits stand in one of the two",
                "move the file into the folder",
            )
            return []
        try:
            inside = stays_inside(parts, (self.folder,))
            names = sorted(path.name for path in parts.iterdir() if not path.name.startswith(".")) if inside else []
        except (OSError, RuntimeError) as error:
            inside, names = False, []
            reason = (error.strerror if isinstance(error, OSError) else None) or "its path leads nowhere"
            self._add(Where("transits"), "the folder transits/ can't be read", reason, "mend its permissions")
            return []
        if not inside:
            self._add(
                Where("transits"),
                "the folder transits/ is a link that leads outside the job",
                "a job is read from its own folder and from the catalogues beside it, nowhere else",
                "put the folder itself there instead of a link",
            )
            return []
        for name in names:
            if Path(name).suffix.lower() in (".yml", ".yaml") and not name.endswith(".yaml"):
                file = shown(parts / name, self.folder)
                self._add(Where(file), f"{file} is not read", "files of transits end in .yaml", "rename it")
        read = [name for name in names if name.endswith(".yaml")]
        if not read:
            self._add(
                Where("transits"),
                "the folder transits/ holds no .yaml file",
                "it is read instead of transits.yaml",
                _MISSING["transits.yaml"],
            )
        return [root for root in (self._yaml(parts / name) for name in read) if root is not None]

    def catalogues(self, job: Map) -> dict[str, Map]:
        """Read each catalogue that the job names, by its name. What is no name is left to the model."""
        found: dict[str, Map] = {}
        named = node_at(job, ("job", "catalogues"))
        for name in named if isinstance(named, Items) else ():
            if (
                not isinstance(name, Text)
                or not re.fullmatch(r"[a-z0-9][a-z0-9-]{0,39}", name, re.ASCII)
                or name in found
            ):
                continue
            path = self._catalogue_path(name)
            root = self._yaml(path) if path else None
            if root is not None:
                found[str(name)] = root
        return found

    def _catalogue_path(self, name: Text) -> Path | None:
        folders = (self.folder / "catalogues", self.shared)
        for folder in folders:
            path = folder / f"{name}.yaml"
            if path.exists() or path.is_symlink():
                return path
        known: list[str] = []
        for folder in folders:
            try:
                known += [path.stem for path in folder.glob("*.yaml")]
            except OSError:
                continue
        self._add(
            name.where,
            f"catalogues names {quoted(name)} for the job",
            f"there is no file catalogues/{name}.yaml in the job folder or beside it",
            did_you_mean(name, sorted(known), "put its file there, or name another"),
        )
        return None

    def _yaml(self, path: Path) -> Map | None:
        file = shown(path, self.folder)
        roots = (self.folder, self.shared)
        return self.gathered.take(lambda: parse_yaml(read_text(path, roots, file), file))

    def _is_there(self, name: str, required: bool) -> bool:
        if name in self.names:
            return True
        stem = name.partition(".")[0]
        near = [other for other in self.names if other != name and other.partition(".")[0].lower() == stem]
        near = [other for other in near if Path(other).suffix.lower() in (".yaml", ".yml", ".csv", ".txt")]
        if near:
            wrong = shown(self.folder / near[0], self.folder)
            self._add(Where(name), f"{name} is missing", f"{wrong} is not read", f"rename {wrong} to {name}")
        elif required:
            self._add(Where(name), f"{name} is missing", "a job folder has this file", _MISSING[name])
        return False

    def _add(self, where: Where, what: str, why: str, mend: str) -> None:
        self.gathered.problems.append(Problem(where, what, why, mend))


def _join_transits(files: list[Map], gathered: _Gathered) -> tuple[dict[str, Transit], dict[str, Map]]:
    """Return every transit by ID, and the top of the file it stands in."""
    transits: dict[str, Transit] = {}
    homes: dict[str, Map] = {}
    places: dict[str, Where] = {}
    for root in files:
        file = gathered.model(TransitsFile, root)
        if file:
            transits |= file.transits
        given: Any = node_at(root, ("transits",))
        for name in given if isinstance(given, Map) else ():
            where = given.where_key(name)
            if name in places:
                gathered.problems.append(
                    Problem(
                        where,
                        f"transit {quoted(name)[1:-1]} stands here a second time",
                        f"an ID names one transit, and {places[name]} has it already",
                        "remove one of the two, or give it its own ID",
                    )
                )
            places.setdefault(str(name), where)
            homes.setdefault(str(name), root)
    return transits, homes


def _parse_shipped(name: str, text: str) -> Map:
    return parse_yaml(decode(text.encode(), name), name)


def _procedure(root: Map, gathered: _Gathered) -> ReadProcedure | None:
    model = gathered.model(ProcedureFile, root)
    return ReadProcedure(model, root) if model else None


def _place(root: Map, start: tuple[str | int, ...], field: str) -> Where:
    """Follow ``field`` from ``start``; a key may itself hold points, so the longest that exists is taken."""
    path = list(start)
    rest = field.split(".") if field else []
    while rest:
        node = node_at(root, path)
        if isinstance(node, Items) and rest[0].isdecimal():
            path.append(int(rest.pop(0)))
            continue
        size = next((n for n in range(len(rest), 0, -1) if isinstance(node, Map) and ".".join(rest[:n]) in node), 0)
        if not size:
            break
        path.append(".".join(rest[:size]))
        rest = rest[size:]
    return place_of(root, path)
