"""Whatever a file holds, a planner reads a message in plain words: never a traceback, never pydantic's phrases."""

import json
import random
import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from generator.errors import WorkPackError
from tests.source.jobs import GOOD, copy_good, read

FILES = ["job.yaml", "walls.yaml", "transits.yaml", "cables.csv", "procedure.yaml", "catalogues/heron.yaml"]
YAML_FILES = [name for name in FILES if name.endswith(".yaml")]
GOOD_BYTES = {name: (GOOD / name).read_bytes() for name in FILES}

NOT_OURS = re.compile(
    r"input|valid|validat|pydantic|tuple|dict|model_|literal|type=|__|None|object at|instance|Traceback"
    r"|something else is wanted",
    re.IGNORECASE,
)


@contextmanager
def job_with(name: str, data: bytes) -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as temporary:
        folder = copy_good(Path(temporary) / "job")
        (folder / name).write_bytes(data)
        yield folder


def verdict(name: str, data: bytes) -> str:
    """Return what reading says, having judged that every line of it is fit to be read and leads somewhere."""
    with job_with(name, data) as folder:
        try:
            read(folder)
        except WorkPackError as error:
            for problem in error.problems:
                where = problem.where
                lines = re.split("\r\n|\r|\n", data.decode("utf-8", "replace")) if where.file == name else None
                assert where.line >= 1 and where.column >= 1
                assert lines is None or where.line <= len(lines)
                assert all(text.strip() and "\n" not in text for text in (problem.what, problem.why, problem.mend))
                assert len(problem.what) < 400
            return str(error)
    return ""


small = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.mark.parametrize("name", FILES)
@small
@given(
    data=st.binary(max_size=200)
    | st.text(st.sampled_from("ab:-,;\"'[]{}&*!|>?%@`#~ \n\t\r0é"), max_size=80).map(str.encode)
)
def test_any_bytes(name: str, data: bytes) -> None:
    verdict(name, data)


@pytest.mark.parametrize("name", FILES)
@small
@given(random=st.randoms(use_true_random=False))
def test_the_good_file_with_bytes_changed(name: str, random: random.Random) -> None:
    data = bytearray(GOOD_BYTES[name])
    for _ in range(random.randint(1, 4)):
        at = random.randrange(len(data))
        kind = random.randrange(4)
        if kind == 0:
            data[at] = random.randrange(256)
        elif kind == 1:
            del data[at : at + random.randint(1, 12)]
        elif kind == 2:
            data[at:at] = random.choice(
                [b"\t", b"\n", b": ", b"- ", b'"', b"'", b"&a ", b"*a", b"\0", "é".encode(), b","]
            )
        else:
            other = random.randrange(len(data))
            data[at:at] = data[other : other + random.randint(1, 40)]
    verdict(name, bytes(data))


def _paths(node: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    yield path
    for key, inner in node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ():
        yield from _paths(inner, (*path, key))


def _replaced(node: Any, path: tuple[Any, ...], value: Any) -> Any:
    if not path:
        return value
    copied = node.copy()
    copied[path[0]] = _replaced(node[path[0]], path[1:], value)
    return copied


HOSTILE = {
    "text": "<script>alert(1)</script>",
    "empty": "",
    "list": ["a", "b"],
    "empty list": [],
    "mapping": {"a": "b"},
    "empty mapping": {},
    "list of mappings": [{"a": "b"}],
    "list of lists": [["a"]],
    "long": "x" * 10_000,
    "path": "../../../etc/passwd",
    "turned": "a\u202eb",
    "format": "{what} %s {0} {{",
}


@pytest.mark.parametrize("name", YAML_FILES)
def test_every_value_replaced_by_what_does_not_belong_there(name: str) -> None:
    good = yaml.load(GOOD_BYTES[name], Loader=yaml.BaseLoader)
    problems: set[str] = set()
    with job_with(name, b"") as folder:
        for path in _paths(good):
            for value in HOSTILE.values():
                # JSON is YAML too, and quickly written
                text = json.dumps(_replaced(good, path, value), ensure_ascii=False)
                (folder / name).write_bytes(text.encode())
                try:
                    read(folder)
                except WorkPackError as error:
                    problems.update(f"{p.what}\n{p.why}\n{p.mend}" for p in error.problems)
    ours = [re.sub(r'"[^"]*"', "", text) for text in problems]
    assert [text for text in ours if NOT_OURS.search(text)] == []
    assert len(problems) > 20


@pytest.mark.parametrize("name", YAML_FILES)
def test_every_key_misspelt_leads_back_to_it(name: str) -> None:
    """Each key of a model, with two letters swapped, is suggested again at its place."""
    lines = GOOD_BYTES[name].decode().splitlines(keepends=True)
    suggested = 0
    with job_with(name, b"") as folder:
        for number, line in enumerate(lines, 1):
            match = re.match(r"([ -]*)([a-z]{4,}[a-z_]*):", line)
            if not match or match[2] in ("later", "sleeve", "welded"):
                continue
            key = match[2]
            wrong = key[:2] + key[3] + key[2] + key[4:]
            if wrong == key:
                continue
            changed = [*lines[: number - 1], line.replace(key, wrong, 1), *lines[number:]]
            (folder / name).write_bytes("".join(changed).encode())
            with pytest.raises(WorkPackError) as caught:
                read(folder)
            text = str(caught.value)
            assert f'{name}:{number}:{match.end(1) + 1}: "{wrong}" is not a key of ' in text
            assert f"mend: did you mean {key}?" in text
            assert len(caught.value.problems) == 1
            suggested += 1
    assert suggested >= 5


def test_hostile_text_in_the_schedule_stays_text(tmp_path: Path) -> None:
    folder = copy_good(tmp_path / "job")
    notes = [
        "<script>alert(1)</script>",
        "javascript:alert(1)",
        "../../x",
        "=1+1",
        "{{ x }}",
        "{% raw %}",
        '\'""',
        "x" * 10_000,
    ]
    table = "tag,class,diameter_mm,tolerance_mm,transits,note\nS-1,data,8.2,0,B2-018,\n"
    table += "".join(f'W-{number},power,12,0.5,B2-017,"{note}"\n' for number, note in enumerate(notes))
    (folder / "cables.csv").write_bytes(table.encode())
    assert [cable.note for cable in read(folder).definition.cables][1:] == [note.replace('""', '"') for note in notes]
