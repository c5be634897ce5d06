"""Circuits: which schedules lead a circuit through several rings of steel. The cases are counted by hand."""

import csv
import shutil
from pathlib import Path

import pytest
import yaml

from generator.engine.circuits import judge_circuits
from generator.source.folder import read_job
from generator.workpack import load, shipped_procedure

DEMO = Path(__file__).parents[2] / "workpacks" / "tide-gate"


def told(circuits: dict[str, str], passing: dict[str, str], material: str) -> list[tuple[str, str, str]]:
    """Return (transit, severity, what) for cables of the demo with other circuits and transits."""
    definition = read_job(DEMO, shipped_procedure()).definition
    cables = tuple(
        cable.model_copy(
            update={
                "circuit": circuits.get(cable.tag),
                "transits": tuple(passing[cable.tag].split()) if cable.tag in passing else cable.transits,
            }
        )
        for cable in definition.cables
    )
    walls = {name: wall.model_copy(update={"material": material}) for name, wall in definition.walls.items()}
    changed = definition.model_copy(update={"cables": cables, "walls": walls})
    return [
        (transit, finding.severity, finding.what)
        for transit, findings in judge_circuits(changed).items()
        for finding in findings
    ]


THREE = {"P-101": "L1", "P-103": "L1", "P-104": "L1"}


def test_all_conductors_through_one_transit_are_right() -> None:
    assert told(THREE, {}, "steel") == []


def test_one_conductor_through_another_transit_of_a_steel_wall_stops_both() -> None:
    found = told(THREE, {"P-104": "B2-014"}, "steel")  # both on W3
    assert [(transit, severity) for transit, severity, _ in found] == [("B2-014", "stop"), ("B2-017", "stop")]
    assert "P-101 and P-103 in B2-017, P-104 in B2-014" in found[1][2]


def test_in_another_wall_it_is_pointed_out() -> None:
    found = told(THREE, {"P-104": "B2-014"}, "concrete")
    assert {severity for _, severity, _ in found} == {"look"}


@pytest.mark.parametrize(("material", "told_at"), [("steel", {"B2-017"}), ("masonry", set())])
def test_a_conductor_that_passes_the_wall_nowhere(material: str, told_at: set[str]) -> None:
    found = told(THREE, {"P-104": "D1-001"}, material)
    assert {transit for transit, _, what in found if "and not with" in what} - {"D1-001"} == told_at


def test_two_cables_of_other_circuits_have_nothing_to_do_with_each_other() -> None:
    assert told({"P-101": "L1", "P-103": "L2"}, {"P-103": "B2-014"}, "steel") == []


def test_a_torn_circuit_stops_its_transits_where_the_schedule_says_it(tmp_path: Path) -> None:
    shutil.copytree(DEMO.parent, tmp_path / "packs")
    job = tmp_path / "packs" / "tide-gate"
    text = (job / "cables.csv").read_text(encoding="utf-8").splitlines()
    table = [dict(row) for row in csv.DictReader(text)]
    for row in table:
        row["circuit"] = "L1" if row["tag"] in ("P-111", "P-103") else ""
    with (job / "cables.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(table[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(table)
    assert yaml.safe_load((job / "walls.yaml").read_text(encoding="utf-8"))["walls"]["W3"]["material"] == "steel"
    pack = load(job)
    torn = [problem for problem in pack.problems if "circuit L1" in problem.what]
    assert {problem.transit for problem in torn} == {"B2-014", "B2-017"}
    assert all(problem.severity == "stop" and problem.where.file == "cables.csv" for problem in torn)
    line = next(i for i, row in enumerate(text, 1) if row.startswith("P-103,"))
    assert {problem.where.line for problem in torn} >= {line}
    assert not pack.transits["B2-017"].can_be_built
