"""An editor's verdict with the JSON Schemas is the program's verdict, over the same good and bad values.

The editor's side is played by the jsonschema library on values as YAML 1.2's core schema reads them
(YAML 1.2.2, section 10.3.2), which is what YAML language servers do. Where the two may differ is listed in
EXCEPTIONS, each with its reason.
"""

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator, FormatChecker
from pydantic import BaseModel, ValidationError

from generator.errors import WorkPackError
from generator.model.catalogue import CatalogueFile
from generator.model.job import JobFile, TransitsFile, WallsFile
from generator.model.procedure import ProcedureFile
from generator.source.schema import schemas
from generator.source.yaml_text import parse_yaml
from tests.source.jobs import GOOD

MODELS: dict[str, tuple[str, type[BaseModel]]] = {
    "job.yaml": ("job.schema.json", JobFile),
    "walls.yaml": ("walls.schema.json", WallsFile),
    "transits.yaml": ("transits.schema.json", TransitsFile),
    "catalogues/heron.yaml": ("catalogue.schema.json", CatalogueFile),
    "procedure.yaml": ("procedure.schema.json", ProcedureFile),
}
VALIDATORS = {
    name: Draft202012Validator(schema, format_checker=FormatChecker()) for name, schema in schemas().items()
}

RAW = [
    *("", "~", "null", "''", '""', "'null'", "yes", "no", "true", "false", "True", "on", "y", "'yes'", "'true'"),
    *("0", "-0", "1", "2", "-1", "12.5", "'12.5'", "'12'", "12.50", "1.0", "5.", ".5", "+5", "'0'", "'0.0'", "'-0'"),
    *("12_5", "1e3", "'1e3'", "010", "0x1F", "0o17", ".inf", ".nan", "NaN", "Infinity", "'12,5'", "12.3456", "１２"),
    *("999999.999", "1000000", "1234567", "'1000000'", "12 mm", "2031-05-14", "2031-02-30", "14.05.2031"),
    *("text", "a text", "B2-017", "b2", "CON", "-A", "en", "EN", "marram", "../x", "a:b", "tank-behind", "MB-24"),
    *('" "', '"a\\u202eb"', '"a\\u200bb"', '"a\\nb"', '"a\\tb"', "x" * 41, "x" * 161, "é" * 40),
    *("{}", "[]", "[1]", "[a]", "[a, b]", "[a, a]", "[a, b, c]", "[~]", "['']", "[[]]", "{a: 1}", "[{}]"),
    *("power", "pipe", "welded", "steel", "[steel]", "[steel, wood]", "deck", "round", "A", "do", "crew", "danger"),
    *("https://packs.example.org", "https://packs.example.org/job", "5b0f2c1e-9a3d-4c57-8e21-6f4a7b9c0d13"),
]

PLAIN = re.compile(r"-?(0|[1-9][0-9]{0,5})(\.[0-9]{1,3})?")
BETWEEN_NUMBERS = {
    "least must not exceed most",
    "a bay lies within its frame",
    "bays are listed left to right",
    "a round body is as wide as high",
    "bands run from small to large diameters, and only the last has no up_to",
}

EXCEPTIONS: dict[str, Callable[[str, Any, set[str]], bool]] = {
    "an editor sees a number, not how it is written: 1e3, 0x1F, 010, +5, 1.0 for a count": lambda raw, seen, _: (
        isinstance(seen, int | float)
        and not isinstance(seen, bool)
        and (not PLAIN.fullmatch(raw) or raw in ("-0", "1.0"))
    ),
    "an editor sees a truth value where text may be the word true": lambda _, seen, __: isinstance(seen, bool),
    "a schema can't compare two numbers": lambda _, __, whys: bool(whys) and whys <= BETWEEN_NUMBERS,
}

_CORE = [
    (re.compile(r"null|Null|NULL|~|"), lambda text: None),
    (re.compile(r"true|True|TRUE|false|False|FALSE"), lambda text: text.lower() == "true"),
    (re.compile(r"[-+]?[0-9]+"), int),
    (re.compile(r"0o[0-7]+"), lambda text: int(text[2:], 8)),
    (re.compile(r"0x[0-9a-fA-F]+"), lambda text: int(text[2:], 16)),
    (re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?"), float),
    (re.compile(r"[-+]?(\.inf|\.Inf|\.INF)"), lambda text: float(text.replace(".", ""))),
    (re.compile(r"\.nan|\.NaN|\.NAN"), lambda text: float("nan")),
]


def as_editor(node: yaml.Node) -> Any:
    """Read a node as the core schema of YAML 1.2 does."""
    if isinstance(node, yaml.MappingNode):
        return {str(key.value): as_editor(value) for key, value in node.value}
    if isinstance(node, yaml.SequenceNode):
        return [as_editor(value) for value in node.value]
    if not node.style and node.value.isascii():
        for pattern, read in _CORE:
            if pattern.fullmatch(node.value):
                return read(node.value)
    return node.value


def editor_accepts(name: str, text: str) -> bool:
    """Tell whether an editor with our schema finds nothing to complain about."""
    return VALIDATORS[MODELS[name][0]].is_valid(as_editor(yaml.compose(text, Loader=yaml.CBaseLoader)))


def program_refuses(name: str, text: str) -> set[str] | None:
    """Return why the program refuses a file, None when it accepts it."""
    try:
        root = parse_yaml(text, name)
        made = MODELS[name][1].model_validate(root)
    except WorkPackError as error:
        return {problem.why for problem in error.problems}
    except ValidationError as error:
        return {str(details.get("ctx", {}).get("why", details["type"])) for details in error.errors()}
    if isinstance(made, ProcedureFile) and any(step.after is None for step in made.steps):
        return {"an own step names its place"}
    return None


def paths(node: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if path:
        yield path
    for key, inner in node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ():
        yield from paths(inner, (*path, key))


GROUPS = {"blocks", "fillers", "row_plates", "clamping_units", "frames", "sleeves", "split_seals", "consumables"}
ENTRIES = GROUPS | {"walls", "transits"}


def with_raw(good: Any, path: tuple[Any, ...], raw: str) -> str:
    """Return the file with the value at ``path`` replaced by YAML text, entries beside it left out."""

    def put(node: Any, rest: tuple[Any, ...], under: Any) -> Any:
        if not rest:
            return "@@@"
        copied = {} if under in ENTRIES else node.copy()
        if rest[0] in GROUPS:
            copied = {key: value for key, value in node.items() if key not in GROUPS}
        copied[rest[0]] = put(node[rest[0]], rest[1:], rest[0])
        return copied

    return json.dumps(put(good, path, None)).replace('"@@@"', f" {raw} ")


def plain(name: str) -> Any:
    return yaml.load((GOOD / name).read_text(encoding="utf-8"), Loader=yaml.CBaseLoader)


def fields(good: Any) -> Iterator[tuple[Any, ...]]:
    """Yield one path for every field of every model: a second entry with the same keys is left out."""
    seen = set()
    for path in paths(good):
        parent = good
        for step in path[:-1]:
            parent = parent[step]
        field = (frozenset(parent), path[-1]) if isinstance(parent, dict) else (path[-2], 0)
        if field not in seen:
            seen.add(field)
            yield path


def compare(name: str, cases: Iterator[tuple[str, str]]) -> tuple[set[str], int, int]:
    """Judge (raw value, file) pairs both ways; return the exceptions met, how many were accepted and refused."""
    met: set[str] = set()
    accepted = refused = 0
    different = []
    for raw, text in cases:
        whys = program_refuses(name, text)
        editor = editor_accepts(name, text)
        accepted += whys is None
        refused += whys is not None
        if (whys is None) != editor:
            value = as_editor(yaml.compose(f"- {raw}", Loader=yaml.CBaseLoader))[0]
            reasons = [reason for reason, holds in EXCEPTIONS.items() if holds(raw, value, whys or set())]
            met.update(reasons)
            if not reasons:
                different.append(f"editor {editor}, program {whys}: {raw!r} in {text[:2000]}")
    assert different == []
    return met, accepted, refused


@pytest.mark.parametrize(
    "share", [pytest.param(4, id="a quarter"), pytest.param(1, id="all", marks=pytest.mark.long)]
)
def test_editor_and_program_agree_on_every_value_of_every_field(share: int) -> None:
    """By default each field meets a quarter of the values, by turns; with --long it meets them all."""
    met: set[str] = set()
    for name in MODELS:
        good = plain(name)
        cases = (
            (raw, with_raw(good, path, raw))
            for number, path in enumerate(fields(good))
            for raw in RAW[number % share :: share]
            if raw or path[-1] != 0
        )
        used, accepted, refused = compare(name, cases)
        met |= used
        assert accepted * share > 100 and refused * share > 300
    assert met == set(EXCEPTIONS)


@pytest.mark.parametrize("name", MODELS)
def test_editor_and_program_agree_on_keys_left_out_added_and_misnamed(name: str) -> None:
    good = plain(name)

    def cases() -> Iterator[tuple[str, str]]:
        for path in paths(good):
            mark = json.loads(with_raw(good, path, '"@"'))
            parent = mark
            for step in path[:-1]:
                parent = parent[step]
            value = good
            for step in path:
                value = value[step]
            if isinstance(parent, dict):
                for key in (
                    None,
                    "no_such_key",
                    "A-1",
                    "CON",
                    "a 1",
                    "",
                    "x" * 41,
                    "\u202e",
                    "welded",
                    "sleeve",
                    "W1",
                    "steel",
                ):
                    renamed = {
                        (key if k == path[-1] else k): (value if k == path[-1] else v) for k, v in parent.items()
                    }
                    renamed.pop(None, None)  # type: ignore[call-overload]
                    yield "key", json.dumps(_swapped(mark, path[:-1], renamed), ensure_ascii=False)

    met, accepted, refused = compare(name, cases())
    assert met <= {"a schema can't compare two numbers"}
    assert accepted + refused > 100 and refused > 50


def _swapped(node: Any, path: tuple[Any, ...], value: Any) -> Any:
    if not path:
        return value
    copied = node.copy()
    copied[path[0]] = _swapped(node[path[0]], path[1:], value)
    return copied


RULES_BETWEEN_KEYS = [
    ("transits.yaml", "    frame: HF-96\n", ""),
    ("transits.yaml", "    frame: HF-96\n", "    frame: ~\n"),
    ("transits.yaml", "    frame: HF-96\n", "    frame: HF-96\n    split_seal: HS-40\n"),
    ("transits.yaml", "    frame: HF-96\n", "    frame: HF-96\n    split_seal:\n"),
    ("transits.yaml", "    split_seal: HS-40\n", "    split_seal: HS-40\n    spares: [{size: 24, count: 1}]\n"),
    ("transits.yaml", "    split_seal: HS-40\n", "    split_seal: HS-40\n    spares: []\n    placeholders:\n"),
    ("transits.yaml", "        count: 2\n", ""),
    ("transits.yaml", "        count: 2\n", "        count: 2\n        share: 20\n"),
    ("transits.yaml", "        count: 2\n", "        share: 20\n"),
    ("transits.yaml", "      - size: 24\n        count: 2\n", "      - count: 2\n"),
    ("transits.yaml", "      - size: 24\n        count: 2\n", "      - share: 2\n"),
    ("transits.yaml", "      - size: 24\n        count: 2\n", "      - share: 2\n    rest: solid\n"),
    ("transits.yaml", "    day: 2031", "    rest: solid\n    day: 2031"),
    ("transits.yaml", "    day: 2031", "    apart: [{ classes: [data, power], level: zone }]\n    day: 2031"),
    ("transits.yaml", "    day: 2031", "    apart: [{ classes: [data, data], level: zone }]\n    day: 2031"),
    ("walls.yaml", "    up: north\n", ""),
    ("walls.yaml", "    up: north\n", "    up:\n"),
    ("walls.yaml", "pump room, switch room", "pump room, pump room"),
    ("catalogues/heron.yaml", "          weld: ", "          certificate: "),
    ("catalogues/heron.yaml", "{sleeve: HG-40}", "{}"),
    ("catalogues/heron.yaml", "{sleeve: HG-40}", "{sleeve: HG-40, opening: ~}"),
    ("catalogues/heron.yaml", "{diameter: 42, plus: 1, minus: 0}", "{width: 42, plus: 1, minus: 0}"),
    ("catalogues/heron.yaml", "{diameter: 42, plus: 1, minus: 0}", "{width: 4, height: 4, plus: 1, minus: 0}"),
    (
        "catalogues/heron.yaml",
        "{diameter: 42, plus: 1, minus: 0}",
        "{width: 4, height: 4, diameter: '', plus: 1, minus: 0}",
    ),
    (
        "catalogues/heron.yaml",
        "{diameter: 42, plus: 1, minus: 0}",
        "{width: 4, height: 4, diameter: 4, plus: 1, minus: 0}",
    ),
    ("catalogues/heron.yaml", "          materials: [steel]\n", ""),
    ("catalogues/heron.yaml", "          materials: [steel]\n", "          materials: []\n"),
    ("catalogues/heron.yaml", ", torque_nm: 4", ""),
    ("catalogues/heron.yaml", ", torque_nm: 4", ", protrusion: {least: 1, most: 2}"),
    ("catalogues/heron.yaml", "      table:\n", "      layers:\n      table: []\n      certificate:\n"),
    ("procedure.yaml", "    after: check-place\n", ""),
    ("procedure.yaml", "    after: check-place\n", "    after: ''\n"),
]


@pytest.mark.parametrize(("name", "old", "new"), RULES_BETWEEN_KEYS)
def test_editor_and_program_agree_on_rules_between_keys(name: str, old: str, new: str) -> None:
    text = (GOOD / name).read_text(encoding="utf-8")
    assert old in text
    changed = text.replace(old, new, 1)
    assert editor_accepts(name, changed) == (program_refuses(name, changed) is None)


def test_schemas_are_schemas_with_a_description_for_every_key() -> None:
    for name, schema in schemas().items():
        Draft202012Validator.check_schema(schema)
        assert name.endswith(".schema.json") and schema["$schema"] == Draft202012Validator.META_SCHEMA["$id"]
        for model in (schema, *schema.get("$defs", {}).values()):
            assert model["additionalProperties"] is False
            assert [key for key, field in model["properties"].items() if not field.get("description")] == []
        assert json.loads(json.dumps(schema)) == schema
        assert "``" not in json.dumps(schema)


def test_the_good_files_the_demo_and_the_first_job_are_good_in_an_editor_too() -> None:
    root = Path(__file__).parents[2]
    uid = "5b0f2c1e-9a3d-4c57-8e21-6f4a7b9c0d13"
    for name, found in (
        *((name, [GOOD / name]) for name in MODELS),
        *((name, sorted(root.glob(f"workpacks/*/{name}"))) for name in ("job.yaml", "walls.yaml", "transits.yaml")),
        *(
            (name, [root / "site_templates" / "starter" / name])
            for name in ("job.yaml", "walls.yaml", "transits.yaml")
        ),
        ("catalogues/heron.yaml", sorted(root.glob("workpacks/catalogues/*.yaml"))),
        ("catalogues/heron.yaml", sorted(root.glob("site_templates/starter/catalogues/*.yaml"))),
    ):
        assert found
        for path in found:
            text = path.read_text(encoding="utf-8").replace("@UID@", uid)
            assert program_refuses(name, text) is None
            assert editor_accepts(name, text), path
