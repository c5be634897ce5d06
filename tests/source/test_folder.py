"""A whole job folder: where it is read from, what it gives back, what it refuses to touch."""

import os
import shutil
from decimal import Decimal
from pathlib import Path

import pytest

from generator.errors import Where, WorkPackError
from generator.source import files
from generator.source.folder import read_job
from tests.source.jobs import GOOD, PROCEDURE, change, copy_good, read


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return copy_good(tmp_path / "job")


def said(folder: Path) -> str:
    with pytest.raises(WorkPackError) as caught:
        read(folder)
    return str(caught.value)


def test_the_good_job_says_what_its_files_say() -> None:
    source = read(GOOD)
    definition = source.definition
    assert source.problems == ()
    assert definition.job.number == "0042"
    assert list(definition.transits) == ["B2-017", "B2-018"]
    assert [(cable.tag, cable.likely, cable.least, cable.most) for cable in definition.cables] == [
        ("W-101", Decimal("14.6"), Decimal("14.1"), Decimal("15.1")),
        ("W-102", Decimal("9.7"), Decimal("9.1"), Decimal("10.3")),
        ("W-103", Decimal("8.2"), Decimal("8.2"), Decimal("8.2")),
    ]
    assert definition.cables[2].bonded and definition.cables[2].note == "screen bonded,\nboth ends"
    assert [cable.tag for cable in definition.cables_through("B2-017")] == ["W-101", "W-102", "later-1", "later-2"]
    assert [step.id for step in source.procedure.steps] == ["check-place", "ask-for-the-key", "check-tags", "tighten"]
    assert [caution.id for caution in source.procedure.cautions] == ["wet-floor"]


@pytest.mark.parametrize(
    ("kind", "key", "field", "text"),
    [
        ("job", "", "client", "The water board"),
        ("wall", "W1", "thickness", "8"),
        ("wall", "W1", "landmarks", "landmarks:"),
        ("wall", "W1", "landmarks.left", "the stair"),
        ("wall", "W1", "sides.1", "switch room"),
        ("wall", "W1", "name", "W1:"),
        ("transit", "B2-017", "", "B2-017:"),
        ("transit", "B2-017", "at.y", "2100.5"),
        ("transit", "B2-017", "spares.0.size", "24"),
        ("placeholder", "B2-017/later", "most", "12.5"),
        ("catalogue", "heron", "system", "Heron"),
        ("part", "heron/HB-24", "", "HB-24:"),
        ("part", "heron/HB-48", "table.1.a", "1,"),
        ("part", "heron/HF-96", "bays.0.row_plate", "HR-96"),
        ("cable", "W-102", "", "W-102"),
        ("cable", "W-102", "least", "9.1"),
        ("cable", "W-101", "most", "14.6"),
        ("cable", "W-101", "service", "power"),
        ("cable", "W-101", "drum", "D7"),
        ("cable", "W-103", "note", '"screen bonded'),
        ("step", "ask-for-the-key", "title", "Fetch the key"),
        ("step", "tighten", "text", "In turn."),
        ("caution", "wet-floor", "before.0", "check-place"),
    ],
)
def test_where_leads_to_the_text_itself(kind: str, key: str, field: str, text: str) -> None:
    where = read(GOOD).where(kind, key, field)
    content = PROCEDURE if where.file.startswith("procedure/") else (GOOD / where.file).read_text(encoding="utf-8")
    assert content.splitlines()[where.line - 1][where.column - 1 :].startswith(text)


@pytest.mark.parametrize(
    "kind", ["job", "wall", "transit", "placeholder", "catalogue", "part", "cable", "step", "else"]
)
def test_where_falls_back_to_a_file_for_what_is_nowhere(kind: str) -> None:
    for key in ("", "nowhere", "nowhere/further", "heron/none", "B2-017/none"):
        where = read(GOOD).where(kind, key, "no.such.0.field")
        assert where.file.startswith("procedure/") or (GOOD / where.file).is_file()


def test_catalogues_stand_in_the_job_or_beside_it(job: Path, tmp_path: Path) -> None:
    (tmp_path / "catalogues").mkdir()
    shutil.move(job / "catalogues" / "heron.yaml", tmp_path / "catalogues" / "heron.yaml")
    source = read(job)
    assert source.definition.catalogues["heron"].system == "Heron"
    assert source.where("catalogue", "heron", "system") == Where("../catalogues/heron.yaml", 2, 11)
    shutil.copy(tmp_path / "catalogues" / "heron.yaml", job / "catalogues" / "heron.yaml")
    change(job, "catalogues/heron.yaml", "Heron", "Own Heron")
    assert read(job).definition.catalogues["heron"].system == "Own Heron"


def test_a_transit_names_its_catalogue_when_the_job_has_several(job: Path) -> None:
    shutil.copy(job / "catalogues" / "heron.yaml", job / "catalogues" / "egret.yaml")
    change(job, "job.yaml", "- heron", "- heron\n    - egret")
    text = said(job)
    assert (
        "transits.yaml:2:3: catalogue is missing for transit B2-017\n  why:  the job has several: heron, egret"
        in text
    )
    for line in ("    frame:", "    split_seal:"):
        change(job, "transits.yaml", line, "    catalogue: egret\n" + line)
    assert read(job).definition.transits["B2-018"].catalogue == "egret"
    change(job, "job.yaml", "- egret", "- heron")
    assert 'catalogues names "heron" twice for the job' in said(job)


def test_transits_in_a_folder_are_read_by_name(job: Path) -> None:
    text = (job / "transits.yaml").read_text(encoding="utf-8")
    head, second = text.split("  B2-018:")
    (job / "transits.yaml").unlink()
    (job / "transits").mkdir()
    (job / "transits" / "b.yaml").write_text(head, encoding="utf-8")
    (job / "transits" / "a.yaml").write_text("transits:\n  B2-018:" + second, encoding="utf-8")
    (job / "transits" / "notes.txt").write_text("not read", encoding="utf-8")
    (job / "transits" / ".b.yaml.swp").write_bytes(b"\0")
    source = read(job)
    assert list(source.definition.transits) == ["B2-018", "B2-017"]
    assert source.where("transit", "B2-017").file == "transits/b.yaml"
    (job / "transits" / "c.yml").write_text(head, encoding="utf-8")
    assert "transits/c.yml:1:1: transits/c.yml is not read" in said(job)
    for path in (job / "transits").iterdir():
        path.unlink()
    assert "the folder transits/ holds no .yaml file" in said(job)


def test_every_file_of_a_stage_tells_its_faults_at_once(job: Path) -> None:
    change(job, "walls.yaml", "W1:", "W1: &a")
    change(job, "cables.csv", "tag,class", "tag,clas")
    change(job, "catalogues/heron.yaml", "HB-24:", "HB-48:")
    (job / "transits.yaml").unlink()
    change(job, "procedure.yaml", "steps:", "\tsteps:")
    named = {line.split(":")[0] for line in said(job).splitlines() if not line.startswith("  ")}
    assert named == {
        "walls.yaml",
        "transits.yaml",
        "cables.csv",
        "catalogues/heron.yaml",
        "procedure.yaml",
    }


def test_a_later_stage_waits_for_the_earlier(job: Path) -> None:
    change(job, "transits.yaml", "wall: W1", "wall: W9")
    change(job, "walls.yaml", "thickness: 8", "thickness: eight")
    assert "W9" not in said(job)
    change(job, "walls.yaml", "thickness: eight", "thickness: 8")
    assert "W9" in said(job)


def test_what_is_no_job_folder(tmp_path: Path) -> None:
    assert "there is no such folder" in said(tmp_path / "none")
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert "this is not a folder" in said(tmp_path / "file")
    assert "can't be read" in said(tmp_path / ("x" * 5000))
    assert "can't be read" in said(Path("a\0b"))
    (tmp_path / "empty").mkdir()
    assert said(tmp_path / "empty").count(" is missing") == 4


def test_a_folder_where_a_file_is_wanted(job: Path) -> None:
    (job / "walls.yaml").unlink()
    (job / "walls.yaml").mkdir()
    assert "walls.yaml:1:1: walls.yaml is not a file" in said(job)


def test_a_file_beyond_all_measure(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "LARGEST", 1024 * 1024)
    (job / "walls.yaml").write_bytes(b"# padding\n" * 105_000)
    assert "walls.yaml is larger than 1 MB" in said(job)


needs_links = pytest.mark.parametrize("target", ["absolute", "relative"])


@needs_links
@pytest.mark.parametrize("name", ["job.yaml", "walls.yaml", "cables.csv", "procedure.yaml", "catalogues/heron.yaml"])
def test_links_that_lead_outside_are_refused(job: Path, tmp_path: Path, name: str, target: str) -> None:
    outside = tmp_path / "elsewhere"
    outside.mkdir()
    secret = outside / "secret"
    shutil.move(job / name, secret)
    (job / name).symlink_to(secret if target == "absolute" else os.path.relpath(secret, (job / name).parent))
    assert f"{name}:1:1: {name} is a link that leads outside its folder" in said(job)


def test_folders_that_lead_outside_are_refused(job: Path, tmp_path: Path) -> None:
    outside = tmp_path / "elsewhere"
    outside.mkdir()
    shutil.move(job / "transits.yaml", outside / "a.yaml")
    (job / "transits").symlink_to(outside)
    text = said(job)
    assert "the folder transits/ is a link that leads outside the job" in text and "a.yaml" not in text
    (job / "transits").unlink()
    shutil.move(outside / "a.yaml", job / "transits.yaml")
    shutil.move(job / "catalogues" / "heron.yaml", outside / "heron.yaml")
    (tmp_path / "catalogues").symlink_to(outside)
    assert "leads outside" in said(job)


def test_links_within_the_job_are_followed(job: Path) -> None:
    (job / "drawings").mkdir()
    shutil.move(job / "walls.yaml", job / "drawings" / "walls.yaml")
    (job / "walls.yaml").symlink_to(Path("drawings") / "walls.yaml")
    assert read(job).definition.walls
    (job / "walls.yaml").unlink()
    (job / "walls.yaml").symlink_to("walls.yaml")
    assert "walls.yaml" in said(job)


def test_a_pipe_or_device_is_never_read(job: Path) -> None:
    (job / "walls.yaml").unlink()
    os.mkfifo(job / "walls.yaml")
    assert "walls.yaml is not a file" in said(job)


@pytest.mark.parametrize(
    "name", ["../heron", "/etc/passwd", "heron.yaml", "..", "heron/../heron", "C:heron", "heron\\x"]
)
def test_a_catalogue_is_a_name_and_never_a_path(job: Path, name: str) -> None:
    change(job, "job.yaml", "- heron", f"- '{name}'")
    assert "job.yaml:9:7: entry 1 of catalogues is" in said(job)


def test_own_steps_follow_the_step_they_name_in_their_order(job: Path) -> None:
    def step(name: str, after: str, phase: str) -> str:
        return f"  - {{id: {name}, phase: {phase}, after: {after}, kind: do, party: crew, title: T, text: T}}\n"

    own = "phases:\n  - {id: wash, title: Wash}\nsteps:\n"
    own += step("a", "check-place", "prepare") + step("b", "a", "prepare") + step("c", "check-place", "prepare")
    own += step("d", "check-tags", "wash") + step("e", "tighten", "close")
    own += "materials:\n  steel: {density_kg_m3: 7850, source: ours}\n"
    (job / "procedure.yaml").write_text(own, encoding="utf-8")
    procedure = read(job).procedure
    assert [rule.id for rule in procedure.steps] == ["check-place", "a", "b", "c", "check-tags", "d", "tighten", "e"]
    assert [phase.id for phase in procedure.phases] == ["prepare", "wash", "close"]
    assert procedure.materials["steel"].source == "ours"


def test_a_fault_of_the_shipped_procedure_has_a_place_too() -> None:
    with pytest.raises(WorkPackError) as caught:
        read_job(GOOD, [("procedure/10.yaml", PROCEDURE), ("procedure/20.yaml", "steps: [{id: tighten}]\n")])
    assert {problem.where.file for problem in caught.value.problems} == {"procedure/20.yaml"}
