"""Hostile text in every free-text field of a job: it is shown as text, runs nothing, and reads nothing.

The fields are found through the JSON Schemas, so that one added later is tried as well. The outside judge is
the standard library's HTML parser: a page with hostile text must have the very elements and attributes of the
same page with plain text.
"""

import csv
import json
import re
import subprocess
import sys
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
import yaml

from generator.errors import WorkPackError
from generator.pages.publish import build_site
from generator.pages.starter import write_starter
from generator.source.schema import schemas

ROOT = Path(__file__).parents[2]

TAG, NAME, NOTE = 40, 160, 20_000
"""The three sorts of text a job has, by the length they may have."""

ATTACK = "\"'><script>alert(1)</script>../אב"
HOSTILE = {
    TAG: ATTACK,
    NAME: ATTACK + "javascript:alert(1)<img src=x onerror=alert(2)>&lt;b&gt;]]>--><!--\\u003c",
    NOTE: (ATTACK + "\n</svg></title></textarea></style>'onload=alert(3) x='\n[a](javascript:alert(1))\n")
    + ("../" * 3 + "etc/passwd <b>&#0;שלום</b> ") * 310,
}
# As long as the hostile text, since a page may show long text otherwise than short.
PLAIN = {sort: ("plain text " * 1000)[: len(text) - 1] + "." for sort, text in HOSTILE.items()}
assert len(HOSTILE[NOTE]) > 10_000

PROCEDURE = {
    "phases": [{"id": "own-phase", "title": "x"}],
    "materials": {
        "steel": {"density_kg_m3": 7850, "cutting_least_m_min": 20, "cutting_most_m_min": 30, "source": "x"},
    },
    "hot_work": {
        "own-rules": {
            "title": "x",
            "clear_m": {"value": 10, "source": "x", "state": "from memory"},
            "looks": {"source": "x", "state": "from memory"},
        },
    },
    "steps": [
        {
            "id": "own-step",
            "after": "right-place",
            "phase": "prepare",
            "kind": "measure",
            "party": "crew",
            "title": "x",
            "text": "x",
            "reads": ["x"],
            "tools": ["x"],
        }
    ],
    "cautions": [
        {
            "id": "own-caution",
            "before": ["own-step"],
            "signal": "danger",
            "title": "x",
            "text": "x",
            "card": ["x", "x"],
            "rank": 0,
            "source": "x",
        }
    ],
    "defects": [
        {
            "id": "own-defect",
            "title": "x",
            "text": "x",
            "steps": ["own-step"],
            "computed": [{"text": "x", "by": "x"}],
            "source": "x",
        }
    ],
}

# What the starter's catalogue has no need of: frames in a row, in two halves, bolted on, set in mortar.
BAY = {
    "width": 72,
    "height": 111,
    "y": 11,
    "row_plate": "SP-72",
    "plate_under_unit": "yes",
    "clamping_unit": "SC-72",
    "stacking": "yes",
}
HELD = {"opening": {"width": 98, "height": 137, "plus": 2, "minus": 2}, "plate": {"least": 3, "most": 300}}
MORE_FRAMES = {
    "SF-R2": {
        "shape": "rectangular",
        "width": 188,
        "height": 133,
        "depth": 60,
        "row": {"frame": "SF-72x111", "count": 2, "joint": 0, "joined": "x"},
        "bays": [{**BAY, "x": 11}, {**BAY, "x": 105}],
        "fixings": {
            "grouted": {
                **HELD,
                "materials": ["masonry"],
                "setting": {"fill": "x", "joint": {"least": 1, "most": 3}, "cure_hours": 24, "bay_deviation": 1},
            }
        },
    },
    "SF-S": {
        "shape": "rectangular",
        "width": 94,
        "height": 133,
        "depth": 60,
        "split": {"at": 60, "joined": "x"},
        "bays": [{**BAY, "x": 11}],
        "fixings": {
            "bolted": {
                **HELD,
                "materials": ["steel"],
                "flange": {"across": 2, "up": 2, "inset": 5, "hole": 6, "gasket": "x"},
                "tightening": {
                    "bolts": 4,
                    "thread": "M5",
                    "key": 8,
                    "order": "crosswise",
                    "rounds": 2,
                    "torque_nm": 3,
                },
            }
        },
    },
}
KEPT = {"x": 0, "y": 0, "size": 48}  # where its first cable lies anyway


def text_of(schema: dict[str, Any]) -> int:
    """Return the sort of free text a schema stands for, or 0."""
    for choice in (schema, *schema.get("anyOf", ())):
        if choice.get("type") == ["string", "number"] and choice.get("maxLength") in (TAG, NAME, NOTE):
            return int(choice["maxLength"])
    return 0


def field(definition: dict[str, Any], name: str) -> str:
    return f"{definition.get('description', '')} {name}"


def declared() -> set[str]:
    """Return every free-text field that any file of a job may have."""
    return {
        field(definition, name)
        for file, whole in schemas().items()
        if not file.startswith("record")  # what crews write has its own hostile test
        for definition in (whole, *whole["$defs"].values())
        for name, inner in definition.get("properties", {}).items()
        if text_of(inner)
    }


def branches(schema: dict[str, Any], whole: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for choice in (schema, *schema.get("anyOf", ())):
        while "$ref" in choice:
            choice = whole["$defs"][choice["$ref"].rsplit("/", 1)[1]]
        yield choice


def fill(value: Any, schema: dict[str, Any], whole: dict[str, Any], texts: dict[int, str], done: set[str]) -> Any:
    """Put text into every free-text field below ``value``, those that were left out included."""
    sort = text_of(schema)
    if sort:
        return texts[sort]
    for branch in branches(schema, whole):
        if isinstance(value, dict) and "properties" in branch:
            for name, inner in branch["properties"].items():
                if name in value or text_of(inner):
                    value[name] = fill(value.get(name), inner, whole, texts, done)
                    if text_of(inner):
                        done.add(field(branch, name))
        elif isinstance(value, dict) and isinstance(branch.get("additionalProperties"), dict):
            for name in value:
                value[name] = fill(value[name], branch["additionalProperties"], whole, texts, done)
        elif isinstance(value, dict) and "patternProperties" in branch:
            for name in value:
                for inner in branch["patternProperties"].values():
                    value[name] = fill(value[name], inner, whole, texts, done)
        elif isinstance(value, list) and "items" in branch and isinstance(branch["items"], dict):
            value[:] = [fill(item, branch["items"], whole, texts, done) for item in value]
        elif isinstance(value, list) and "prefixItems" in branch:
            value[:] = [
                fill(item, inner, whole, texts, done)
                for item, inner in zip(value, branch["prefixItems"], strict=False)
            ]
    return value


def write_job(folder: Path, texts: dict[int, str]) -> set[str]:
    """Write the starter's job with ``texts`` in every free-text field; return the fields by name."""
    write_starter(folder)
    done: set[str] = set()
    files = {
        "job.yaml": "job",
        "walls.yaml": "walls",
        "transits.yaml": "transits",
        "catalogues/sedge.yaml": "catalogue",
        "procedure.yaml": "procedure",
    }
    for name, sort in files.items():
        schema = schemas()[f"{sort}.schema.json"]
        path = folder / name
        data = (
            yaml.safe_load(path.read_text(encoding="utf-8")) if path.exists() else json.loads(json.dumps(PROCEDURE))
        )
        if sort == "job":
            data["job"]["tests"] = {"water": {"method": "x", "limit": "x"}}
        if sort == "walls":
            for wall in data["walls"].values():
                wall["demands"]["other"] = ["x", "x"]
                wall["insulation"] = {"sides": ["x", "x"]}
        if sort == "catalogue":
            data["catalogue"]["frames"].update(json.loads(json.dumps(MORE_FRAMES)))
            data["catalogue"]["consumables"]["SK-9"] = {"name": "x", "amount": 1, "unit": "x", "per": "bolt"}
            press = {"tool": "x", "most": 1}
            data["catalogue"]["clamping_units"]["SC-72"]["travel"] = {
                "turned_back": 33,
                "closed": 39,
                "pressing": press,
            }
            for frame in data["catalogue"]["frames"].values():
                frame["certificate"] = {"number": "x", "says": ["x", "x"]}
        if sort == "transits":
            data["transits"]["A1-001"]["placeholders"] = {
                texts[TAG][:30]: {"count": 1, "service": "data", "least": 8, "most": 9}
            }
            data["transits"]["A1-001"]["spares"] = []
            data["transits"]["A1-001"]["keep"] = [{**KEPT, "cable": "x"}]
        fill(data, schema, schema, texts, done)
        # Only bolts have a thread.
        for use in data.get("catalogue", {}).get("consumables", {}).values():
            if use["per"] != "bolt":
                del use["thread"]
        # What names something else must go on naming it: the two sides of a wall, the room one works from.
        for wall in data.get("walls", {}).values():
            wall["sides"] = [texts[TAG][:36] + " 1", texts[TAG][:36] + " 2"]
            wall["demands"]["pressure_from"] = wall["sides"][0]
            wall["insulation"]["sides"] = wall["sides"]
        for transit in data.get("transits", {}).values():
            transit["working_side"] = texts[TAG][:36] + " 1"
            for kept in transit.get("keep", ()):
                kept["cable"] = f"{texts[TAG][:36]} 0"
        path.write_text(
            yaml.safe_dump(_dates_as_text(data), allow_unicode=True, width=10**6), encoding="utf-8", newline="\n"
        )
    with (folder / "cables.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for number, row in enumerate(rows):
        row.update(tag=f"{texts[TAG][:36]} {number}", type=texts[NAME], note=texts[NOTE].replace("\n", " "))
        row.update(drum=f"{texts[TAG][:36]} {number}", circuit=f"{texts[TAG][:36]} {number}")
    with (folder / "cables.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    return done


def _dates_as_text(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _dates_as_text(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_dates_as_text(inner) for inner in value]
    return value if isinstance(value, str | int | float | bool | None) else str(value)


class Shape(HTMLParser):
    """The elements of a page with the names of their attributes, its addresses, and its text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.elements: set[tuple[str, tuple[str, ...]]] = set()
        self.addresses: list[str] = []
        self.text = ""
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.add((tag, tuple(sorted(name for name, _ in attrs))))
        self.addresses += [
            value or "" for name, value in attrs if name in ("href", "src", "action", "data", "xlink:href")
        ]

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)

    def handle_data(self, data: str) -> None:
        self.text += data

    def handle_comment(self, data: str) -> None:
        self.elements.add(("comment", (data,)))


# Builds a job and tells every file that was opened meanwhile, by the interpreter's own audit events.
WATCHED = """
import sys
from pathlib import Path
from generator.pages.publish import build_site

opened = []
sys.addaudithook(lambda event, args: opened.append(str(args[0])) if event == "open" else None)
build_site(Path(sys.argv[1]), Path(sys.argv[2]))
sys.stdout.reconfigure(encoding="utf-8")
print("\\n".join(opened))
"""


@pytest.fixture(scope="module")
def sites(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The same job with plain and with hostile text, built; and the files that were opened for the hostile one."""
    top = tmp_path_factory.mktemp("hostile")
    (top / "etc").mkdir()
    (top / "etc" / "passwd").write_text("outside", encoding="utf-8")
    plain, hostile = write_job(top / "a" / "plain", PLAIN), write_job(top / "a" / "hostile", HOSTILE)
    assert plain == hostile
    assert hostile == declared()
    build_site(top / "a" / "plain", top / "plain-site")
    done = subprocess.run(
        [sys.executable, "-c", WATCHED, str(top / "a" / "hostile"), str(top / "hostile-site")],
        capture_output=True,
        encoding="utf-8",
        check=False,
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr
    (top / "opened").write_text(done.stdout, encoding="utf-8")
    return {name: top / name for name in ("plain-site", "hostile-site", "opened", "a")}


def test_a_page_with_hostile_text_has_the_elements_of_one_with_plain_text(sites: dict[str, Path]) -> None:
    compared = attacks = 0
    for path in sorted(sites["plain-site"].rglob("*.html")):
        name = path.relative_to(sites["plain-site"])
        plain = Shape(path.read_text(encoding="utf-8"))
        hostile = Shape((sites["hostile-site"] / name).read_text(encoding="utf-8"))
        assert hostile.elements - plain.elements == set(), name
        for address in hostile.addresses:
            assert not re.match(r"(?i)\s*(javascript|data|vbscript|file|//)", address), name
            assert "passwd" not in address and "alert(" not in address, name
        attacks += hostile.text.count("<script>alert(1)</script>")
        compared += 1
    assert compared >= 20
    assert attacks > 100, "the hostile text is shown, as text"


def test_the_finder_is_data_and_nothing_else(sites: dict[str, Path]) -> None:
    script = (sites["hostile-site"] / "find" / "find-data.js").read_text(encoding="utf-8")
    found = re.fullmatch(r"var wallworkFind = (\{.*\});\n", script)
    assert found and "<" not in script
    data = json.loads(found[1])
    assert any(ATTACK[:36] in cable[0] for cable in data["cables"])


def test_nothing_outside_the_job_is_read(sites: dict[str, Path]) -> None:
    top = sites["a"].parent
    opened = [Path(line) for line in sites["opened"].read_text(encoding="utf-8").splitlines() if line.startswith("/")]
    job, site, workshop = top / "a" / "hostile", top / "hostile-site", top / ".hostile-site.wallwork"
    inside = [path for path in opened if path.is_relative_to(top)]
    assert job / "cables.csv" in inside, "the hook saw the job being read"
    for path in inside:
        assert path.is_relative_to(job) or path.is_relative_to(site) or path.is_relative_to(workshop), path
    assert not [path for path in opened if path.name == "passwd"]
    for path in sites["hostile-site"].rglob("*"):
        assert path.is_relative_to(site)


def test_hostile_names_of_own_files_are_text(tmp_path: Path) -> None:
    job = tmp_path / "job"
    write_starter(job)
    (job / "pages" / '"><script>alert(1)<.md').write_text("no heading\n", encoding="utf-8")
    (job / "pages" / "a' onclick='alert(2)").mkdir()
    (job / "pages" / "a' onclick='alert(2)" / "b.md").write_text("# B\n", encoding="utf-8")
    build_site(job, tmp_path / "site")
    for path in (tmp_path / "site").rglob("*.html"):
        shape = Shape(path.read_text(encoding="utf-8"))
        assert not [names for _, names in shape.elements if any(name.startswith("on") for name in names)]
        # Without an address it is data for scripts: with a type, which the test of scripts holds to be JSON.
        assert all("src" in names or "type" in names for tag, names in shape.elements if tag == "script")


@pytest.mark.parametrize(
    ("text", "says"),
    [("a\u202eb", "U+202E"), ("a\u200fb", "U+200F"), ("x" * 10_000, "10000 characters"), ("a\x1bb", "")],
)
def test_text_that_reads_two_ways_or_has_no_place_is_refused(tmp_path: Path, text: str, says: str) -> None:
    job = tmp_path / "job"
    write_starter(job)
    path = job / "transits.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("Level probe", text), encoding="utf-8")
    with pytest.raises(WorkPackError) as raised:
        build_site(job, tmp_path / "site")
    (problem,) = raised.value.problems
    assert problem.where.file == "transits.yaml" and says in problem.what
    assert text not in str(problem)
