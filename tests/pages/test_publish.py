"""A site is put in place whole: builds are killed at every point of the move, and what is left is looked at."""

import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from generator.errors import WorkPackError
from generator.pages import publish
from generator.pages.plugin import MARKER
from generator.pages.publish import Refused, build_site, exchange
from generator.pages.starter import write_starter
from tests.pages.site_files import digests, replace

ROOT = Path(__file__).parents[2]

# Builds a job in a process of its own and kills that process, without any clearing up, at one point of the move.
KILLED = """
import os, signal, sys
from pathlib import Path
from generator.pages import publish

job, out, proof, point, mode = sys.argv[1:]

def at(reached):
    if reached == point:
        Path(proof).write_text(reached, encoding="utf-8")
        os.kill(os.getpid(), signal.SIGKILL)

if mode == "journal":
    publish.exchange = lambda one, other: False
publish.build_site(Path(job), Path(out), at=at)
"""

EXCHANGE = ["built", "before exchange", "after exchange"]
JOURNAL = [
    "built",
    "before exchange",
    "before moving the old site away",
    "after moving the old site away",
    "after moving the new site in",
]
FIRST = ["built", "before first rename", "after first rename"]


def build_killed(job: Path, out: Path, point: str, mode: str) -> None:
    """Build, be killed at ``point``, and prove that it was there that the process ended."""
    proof = out.parent / "proof"
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(job), str(out), str(proof), point, mode],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
        cwd=ROOT,
    )
    assert done.returncode == -signal.SIGKILL, done.stderr
    assert proof.read_text(encoding="utf-8") == point


@pytest.fixture(scope="module")
def jobs(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, dict[str, str], dict[str, str]]:
    """A job as it was and as it is now, each with what its site looks like."""
    top = tmp_path_factory.mktemp("jobs")
    write_starter(top / "old")
    shutil.copytree(top / "old", top / "new")
    replace(top / "new" / "job.yaml", "A first job", "A changed job")
    for name in ("old", "new"):
        build_site(top / name, top / f"{name}-site")
    old, new = digests(top / "old-site"), digests(top / "new-site")
    # Packs are named by what is in them.
    same = [{name for name in site if not name.endswith(".pack")} for site in (old, new)]
    assert same[0] == same[1] and old != new
    return top / "old", top / "new", old, new


@pytest.mark.parametrize(
    ("point", "mode"), [(point, "exchange") for point in EXCHANGE] + [(point, "journal") for point in JOURNAL]
)
def test_a_killed_build_leaves_a_whole_site(
    jobs: tuple[Path, Path, dict[str, str], dict[str, str]], tmp_path: Path, point: str, mode: str
) -> None:
    old_job, new_job, old, new = jobs
    out = tmp_path / "site"
    shutil.copytree(old_job.parent / "old-site", out)
    build_killed(new_job, out, point, mode)

    # Between the two renames of the journal there is no site; at every other moment it is whole.
    between = point == "after moving the old site away"
    assert digests(out) in (({},) if between else (old, new))
    assert (digests(out) == new) == point.startswith(("after exchange", "after moving the new"))

    # The next start makes it whole before it reads the job, so even a job that can't be built is enough.
    broken = tmp_path / "broken"
    shutil.copytree(new_job, broken)
    (broken / "walls.yaml").write_text("walls: [", encoding="utf-8")
    with pytest.raises(WorkPackError):
        build_site(broken, out)
    assert digests(out) == (old if point in ("built", "before exchange", "before moving the old site away") else new)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["broken", "proof", "site"]

    build_site(new_job, out)
    assert digests(out) == new


@pytest.mark.parametrize("point", FIRST)
def test_a_first_build_that_is_killed_leaves_no_site_or_a_whole_one(
    jobs: tuple[Path, Path, dict[str, str], dict[str, str]], tmp_path: Path, point: str
) -> None:
    _, new_job, _, new = jobs
    out = tmp_path / "site"
    build_killed(new_job, out, point, "exchange")
    assert digests(out) == (new if point == "after first rename" else {})
    build_site(new_job, out)
    assert digests(out) == new
    assert sorted(path.name for path in tmp_path.iterdir()) == ["proof", "site"]


def test_a_kill_while_recovering_changes_nothing(
    jobs: tuple[Path, Path, dict[str, str], dict[str, str]], tmp_path: Path
) -> None:
    old_job, new_job, _, new = jobs
    out = tmp_path / "site"
    shutil.copytree(old_job.parent / "old-site", out)
    build_killed(new_job, out, "after moving the old site away", "journal")
    build_killed(new_job, out, "recovered", "journal")
    assert digests(out) == new
    build_site(new_job, out)
    assert digests(out) == new


def test_this_system_exchanges_folders(tmp_path: Path) -> None:
    # On Linux the kills above must have met the real exchange, not the fallback.
    one, other = tmp_path / "one", tmp_path / "other"
    for folder in (one, other):
        folder.mkdir()
        (folder / "name").write_text(folder.name, encoding="utf-8")
    swapped = exchange(one, other)
    assert swapped == (sys.platform == "linux")
    assert (one / "name").read_text(encoding="utf-8") == ("other" if swapped else "one")


def test_a_move_that_the_system_refuses_is_undone(
    jobs: tuple[Path, Path, dict[str, str], dict[str, str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old_job, new_job, old, _ = jobs
    out = tmp_path / "site"
    shutil.copytree(old_job.parent / "old-site", out)
    monkeypatch.setattr(publish, "exchange", lambda one, other: False)

    def take_away(point: str) -> None:
        if point == "after moving the old site away":  # so that the second rename can't be done
            shutil.rmtree(tmp_path / ".site.wallwork" / "new")

    with pytest.raises(Refused, match="can't be written"):
        build_site(new_job, out, at=take_away)
    assert digests(out) == old


def test_a_build_that_fails_leaves_the_good_site(
    jobs: tuple[Path, Path, dict[str, str], dict[str, str]], tmp_path: Path
) -> None:
    old_job, _, old, _ = jobs
    out = tmp_path / "site"
    shutil.copytree(old_job.parent / "old-site", out)
    job = tmp_path / "job"
    shutil.copytree(old_job, job)
    notes = job / "pages" / "notes.md"
    good = notes.read_text(encoding="utf-8")
    for name, text in {
        "cables.csv": "tag\n",
        "job.yaml": "job: {name: [}",
        "mkdocs.yml": "hooks: [run.py]\n",
        "pages/notes.md": good + "\n[no such transit](T/Z9-999/index.html)\n",
    }.items():
        kept = (job / name).read_text(encoding="utf-8")
        (job / name).write_text(text, encoding="utf-8")
        with pytest.raises(WorkPackError) as raised:
            build_site(job, out)
        assert {problem.where.file for problem in raised.value.problems} == {name}
        assert digests(out) == old
        (job / name).write_text(kept, encoding="utf-8")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job", "site"]


def test_a_page_that_leads_to_a_missing_transit_says_where(
    jobs: tuple[Path, Path, dict[str, str], dict[str, str]], tmp_path: Path
) -> None:
    job = tmp_path / "job"
    shutil.copytree(jobs[0], job)
    (job / "pages" / "more.md").write_text("# More\n\nSee [it](T/Z9-999/index.html).\n", encoding="utf-8")
    with pytest.raises(WorkPackError) as raised:
        build_site(job, tmp_path / "site")
    (problem,) = raised.value.problems
    assert str(problem.where) == "pages/more.md:3:10"
    assert "T/Z9-999/index.html" in problem.what
    assert not (tmp_path / "site").exists()


def test_two_builds_do_not_meet(jobs: tuple[Path, Path, dict[str, str], dict[str, str]], tmp_path: Path) -> None:
    _, new_job, _, new = jobs
    out = tmp_path / "site"

    def second(point: str) -> None:
        if point == "built":
            with pytest.raises(Refused, match="another wallwork"):
                build_site(new_job, out)

    build_site(new_job, out, at=second)
    assert digests(out) == new


# -- where a site may not go -----------------------------------------------------------------------


@pytest.fixture
def job(jobs: tuple[Path, Path, dict[str, str], dict[str, str]], tmp_path: Path) -> Path:
    shutil.copytree(jobs[0], tmp_path / "top" / "job")
    return tmp_path / "top" / "job"


@pytest.mark.parametrize("place", ["", "..", "pages", "pages/site", "records/site", "catalogues"])
def test_a_site_never_takes_the_place_of_the_job(job: Path, place: str) -> None:
    before = digests(job.parent)
    with pytest.raises(Refused):
        build_site(job, job / place)
    assert digests(job.parent) == before


def test_a_site_may_lie_beside_the_files_of_its_job(job: Path) -> None:
    build_site(job, job / "site")
    assert (job / "site" / MARKER).is_file()
    build_site(job, job / "site")  # and is not read by the next build


def test_only_a_site_is_replaced(job: Path, tmp_path: Path) -> None:
    letters = tmp_path / "letters"
    letters.mkdir()
    (letters / "to-keep.txt").write_text("keep", encoding="utf-8")
    file = tmp_path / "file"
    file.write_text("keep", encoding="utf-8")
    for out in (letters, file):
        with pytest.raises(Refused):
            build_site(job, out)
    assert digests(letters).keys() == {"to-keep.txt"}
    assert file.read_text(encoding="utf-8") == "keep"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["file", "letters", "top"]


def test_an_empty_folder_is_a_place_for_a_site(job: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    build_site(job, tmp_path / "empty")
    assert (tmp_path / "empty" / "index.html").is_file()


def test_the_site_of_another_job_is_not_replaced(job: Path, tmp_path: Path) -> None:
    write_starter(tmp_path / "other")
    build_site(job, tmp_path / "site")
    before = digests(tmp_path / "site")
    with pytest.raises(Refused, match="another job"):
        build_site(tmp_path / "other", tmp_path / "site")
    assert digests(tmp_path / "site") == before


def test_a_link_to_a_site_stays_a_link(job: Path, tmp_path: Path) -> None:
    build_site(job, tmp_path / "real")
    (tmp_path / "link").symlink_to(tmp_path / "real", target_is_directory=True)
    build_site(job, tmp_path / "link")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real" / MARKER).is_file()
    assert (tmp_path / "link").resolve() == tmp_path / "real"
