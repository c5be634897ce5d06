"""A plain tape in the job: on the pages of work that has one, told where it is too coarse, never in what was issued."""

import json
from pathlib import Path
from typing import Any

import pytest

from generator.issue import issue
from generator.model.pack import TransitPack
from generator.pages.entering import Tables, as_data
from generator.pages.starter import write_starter
from generator.workpack import load

TRANSIT = "A1-001"
WITHOUT = "  # tape: { step: 0.5, error: 0.4 }\n"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    write_starter(tmp_path / "job")
    return tmp_path / "job"


def with_tape(job: Path, tape: str) -> None:
    file = job / "job.yaml"
    text = file.read_text(encoding="utf-8")
    assert WITHOUT in text
    file.write_text(text.replace(WITHOUT, f"  tape: {tape}\n"), encoding="utf-8", newline="\n")


def entering(pack: TransitPack) -> dict[str, Any]:
    """Read what a page gives its scripts."""
    found: dict[str, Any] = json.loads(as_data(pack, Tables()))
    return found


def test_pages_answer_to_a_girth_where_the_job_has_a_tape(job: Path) -> None:
    before = load(job).transits[TRANSIT]
    assert "tape" not in entering(before)
    with_tape(job, "{ step: 0.5, error: 0.4 }")
    after = load(job).transits[TRANSIT]
    data = entering(after)
    assert data["tape"] == 500 and all(table["tape"] for table in data["tables"].values())
    assert after.digest != before.digest  # the crew may peel by another table now


def test_a_tape_that_is_too_coarse_is_told(job: Path) -> None:
    with_tape(job, "{ step: 1, error: 4 }")
    work = load(job)
    (problem,) = [p for p in work.transits[TRANSIT].problems if "tape" in p.what]
    assert problem.severity == "look" and "no reading of the tape says how to peel" in problem.what
    assert all("tape" not in table for table in entering(work.transits[TRANSIT])["tables"].values())


def test_what_was_issued_without_a_tape_stays_so(job: Path) -> None:
    issue(job, [TRANSIT], "A")
    with_tape(job, "{ step: 0.5, error: 0.4 }")
    pack = load(job).transits[TRANSIT]
    assert pack.revision == "A" and "tape" not in entering(pack)
    assert any("The table to peel" in str(change.says) for change in pack.standing.now)
    issue(job, [TRANSIT], "B")
    again = load(job).transits[TRANSIT]
    assert again.revision == "B" and entering(again)["tape"] == 500 and again.standing.now == ()
