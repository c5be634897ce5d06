"""Issued work is called off: told wherever its labels lead, listed for collecting, kept for good, and undone by issuing."""

import json
import re
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from generator.cli import main
from generator.collect import collect
from generator.errors import WorkPackError
from generator.issue import issue, withdraw
from generator.keep import holding, points_of_all
from generator.model.canonical import canonical, digest_of_plain
from generator.pages.publish import build_site
from generator.pages.starter import write_starter
from generator.workpack import load
from tests.pages.reading import Document
from tests.records_made import full_record, packed, photo, write

ROOT = Path(__file__).parents[1]
WHY = "the pump <b>is</b> not bought"
PHOTOS = (photo(),)


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """The starter's job, both transits issued as A."""
    folder = tmp_path / "harbour"
    write_starter(folder)
    issue(folder, [], "A")
    return folder


def text_of(path: Path) -> str:
    return Document(path.read_text(encoding="utf-8")).text


def take_out(job: Path, with_wall: bool = False) -> None:
    """Take A1-002 out of the definition; its wall K1 too, on which nothing else is."""
    transits = (job / "transits.yaml").read_text(encoding="utf-8")
    start = transits.index("  # A split seal for one cable")
    (job / "transits.yaml").write_text(transits[:start], encoding="utf-8")
    cables = (job / "cables.csv").read_text(encoding="utf-8")
    (job / "cables.csv").write_text(re.sub(r".*A1-002.*\n", "", cables), encoding="utf-8")
    if with_wall:
        walls = (job / "walls.yaml").read_text(encoding="utf-8")
        found = re.search(r"\n  K1:\n(?:    .*\n|\n)*", walls)
        assert found
        (job / "walls.yaml").write_text(walls.replace(found[0], "\n"), encoding="utf-8")
    assert "A1-002" not in load_definition(job)


def load_definition(job: Path) -> str:
    return "".join((job / name).read_text(encoding="utf-8") for name in ("transits.yaml", "cables.csv"))


def assert_told(site: Path, revisions: tuple[str, ...]) -> None:
    """Every page that a label of A1-002 leads to says that nothing is done by it, and why; none says start."""
    for page in ("index.html", *(f"{revision}/index.html" for revision in revisions)):
        text = text_of(site / "T" / "A1-002" / page)
        assert "Withdrawn: do not work from this page." in text, page
        assert "Withdrawn: do not work from this card" in text and WHY in text, page
        assert "Start with step 1" not in text and "Your label is old" not in text, page
        assert 'http-equiv="refresh"' not in (site / "T" / "A1-002" / page).read_text(encoding="utf-8"), page


@pytest.mark.parametrize("gone", ["defined", "gone", "gone with its wall"])
def test_every_label_of_withdrawn_work_says_so(job: Path, tmp_path: Path, gone: str) -> None:
    cables = (job / "cables.csv").read_text(encoding="utf-8")
    (job / "cables.csv").write_text(cables.replace("D5,14.6,0.2", "D5,15.6,0.2"), encoding="utf-8")
    issue(job, [], "B")
    record = full_record(load(job).transits["A1-002"], PHOTOS)
    collect(job, [write(tmp_path / "in.zip", packed(record, PHOTOS))])
    if gone != "defined":
        take_out(job, with_wall=gone != "gone")
    done, completed = withdraw(job, ["A1-002"], WHY)
    assert [(d.id, d.wall, d.revisions, d.defined) for d in done] == [("A1-002", "K1", ("A", "B"), gone == "defined")]
    assert completed == ()
    site = tmp_path / "site"
    work = build_site(job, site)
    assert_told(site, ("A", "B"))
    assert [problem.transit for problem in work.problems] == (["A1-002"] if gone == "defined" else [])
    page = text_of(site / "T" / "A1-002" / "index.html")
    assert "What was recorded" in page and "withdrawn" in page  # what the crew did stays
    card = text_of(site / "T" / "A1-002" / "card.html")
    assert "Withdrawn: do not work from this card" in card and "Peel" not in card
    overview = Document((site / "index.html").read_text(encoding="utf-8"))
    assert "Withdrawn: collect cards and labels" in overview.text
    assert re.search(rf"A1-002 *K1 *A, B *{re.escape(WHY)}", overview.text), overview.text
    register = (site / "register" / "register.csv").read_text(encoding="utf-8-sig").splitlines()
    (row,) = (line for line in register if line.startswith("A1-002"))
    assert ",withdrawn," in row and f"withdrawn: {WHY}" in row
    other = text_of(site / "T" / "A1-001" / "index.html")
    assert "Withdrawn" not in other and "Start with step 1" in other
    kept = json.loads((site / "offline" / "list.json").read_bytes())
    assert kept["transits"]["A1-002"][1:] == ["B", "A"]


def test_labels_and_material_leave_withdrawn_work_out(job: Path, tmp_path: Path) -> None:
    before = load(job)
    withdraw(job, ["A1-002"], WHY)
    after = load(job)
    assert "A1-002" in before.quantities.transits and "A1-002" not in after.quantities.transits
    build_site(job, tmp_path / "site")
    labels = text_of(tmp_path / "site" / "W" / "K1" / "labels.html")
    assert "A1-002" not in labels


def test_issued_again_it_holds_again(job: Path, tmp_path: Path) -> None:
    withdraw(job, ["A1-002"], WHY)
    with pytest.raises(WorkPackError, match="A1-002 was issued as A already"):
        issue(job, ["A1-002"], "A")
    done = issue(job, [], "B")
    assert [(item.id, item.replaces) for item in done.issued] == [("A1-002", "A")]
    assert done.unchanged == (("A1-001", "A"),)
    site = tmp_path / "site"
    work = build_site(job, site)
    assert work.withdrawn == () and work.problems == ()
    assert "Issued as revision B" in text_of(site / "T" / "A1-002" / "index.html")
    assert "Your label is old" in text_of(site / "T" / "A1-002" / "A" / "index.html")


def test_a_transit_that_is_gone_and_was_not_withdrawn_still_stops(job: Path) -> None:
    take_out(job)
    with pytest.raises(WorkPackError, match="A1-002 was issued as A, and the job has no such transit") as caught:
        load(job)
    assert "wallwork withdraw JOB A1-002" in caught.value.problems[0].mend


@pytest.mark.parametrize(
    ("ids", "says"),
    [
        (["A1-001", "A1-009"], "A1-009 is not issued: there is nothing to withdraw"),
        (["A1-001", "A1-002"], "A1-002 A is withdrawn already"),
    ],
)
def test_a_wrong_order_withdraws_nothing(job: Path, ids: list[str], says: str) -> None:
    withdraw(job, ["A1-002"], WHY)
    with pytest.raises(WorkPackError, match=says):
        withdraw(job, ids, "again")
    assert [path.name for path in sorted((job / "issued").rglob("*.json"))] == [
        "A.json",
        "A.json",
        "A.withdrawn.json",
    ]


def edited(path: Path) -> None:
    path.write_text(path.read_text(encoding="utf-8").replace("not bought", "bought"), encoding="utf-8")


def under_another_name(path: Path) -> None:
    path.rename(path.with_name("B.withdrawn.json"))


def of_another_pin(path: Path) -> None:
    fields = {**json.loads(path.read_bytes()), "pin": "0" * 64}
    del fields["digest"]
    path.write_bytes(canonical({**fields, "digest": digest_of_plain(fields)}))


def without_a_reason(path: Path) -> None:
    fields = json.loads(path.read_bytes())
    del fields["digest"], fields["why"]
    path.write_bytes(canonical({**fields, "digest": digest_of_plain(fields)}))


def without_its_pin(path: Path) -> None:
    (path.parent / "A.json").unlink()


SPOILED: list[tuple[Callable[[Path], None], str]] = [
    (edited, "the withdrawal was edited"),
    (under_another_name, 'has the name "issued/A1-002/B.withdrawn.json"'),
    (of_another_pin, "the A that was withdrawn is not here"),
    (without_a_reason, "why"),
    (without_its_pin, "the A that was withdrawn is not here"),
]


@pytest.mark.parametrize(("spoil", "says"), SPOILED, ids=[spoil.__name__ for spoil, _ in SPOILED])
def test_what_is_wrong_with_a_withdrawal_is_a_problem(job: Path, spoil: Callable[[Path], None], says: str) -> None:
    withdraw(job, ["A1-002"], WHY)
    spoil(job / "issued" / "A1-002" / "A.withdrawn.json")
    with pytest.raises(WorkPackError) as caught:
        load(job)
    assert any(says in str(problem) for problem in caught.value.problems), str(caught.value)
    assert all(p.mend and p.where.file.startswith("issued/A1-002/") for p in caught.value.problems)


KILLED = """
import os, signal, sys
from pathlib import Path
from generator.issue import withdraw

job, point = sys.argv[1:]

def at(reached):
    if reached == point:
        print(reached, flush=True)
        os.kill(os.getpid(), signal.SIGKILL)

withdraw(Path(job), ["A1-001", "A1-002"], "called off", at=at)
"""
KEY_POINTS = ("all written", "ordered", "named 1", "cleared away")


@pytest.mark.parametrize("point", KEY_POINTS)
def test_killed_on_the_way_all_are_withdrawn_or_none(job: Path, point: str) -> None:
    """The steps are those of issuing, where each point is tried; here one of each kind."""
    every = points_of_all(2)
    run = [sys.executable, "-c", KILLED, str(job), point]
    done = subprocess.run(run, cwd=ROOT, capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == -signal.SIGKILL and done.stdout.strip() == point, done.stderr
    ordered = every.index(point) >= every.index("ordered")
    with holding(job / "issued"):
        if ordered:
            with pytest.raises(WorkPackError, match="is withdrawn already"):
                withdraw(job, ["A1-001", "A1-002"], "called off")
        else:
            withdraw(job, ["A1-001", "A1-002"], "called off")
    assert [pack.id for pack in load(job).withdrawn] == ["A1-001", "A1-002"]


def test_the_command_lists_what_to_collect(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["withdraw", str(job), "A1-002", "--why", WHY]) == 3
    said = capsys.readouterr()
    assert "A1-002: A is withdrawn" in said.out and "wall K1: A1-002 (A)" in said.out
    assert "still in the definition: A1-002" in said.err
    take_out(job)
    assert main(["check", str(job)]) == 0
    assert main(["withdraw", str(job), "A1-002", "--why", WHY]) == 1
    assert "A1-002 A is withdrawn already" in capsys.readouterr().err
    assert main(["withdraw", str(job), "A1-001", "--why", " "]) == 2
    assert main(["withdraw", str(job), "A1-001", "--why", "the wall stays shut"]) == 3
