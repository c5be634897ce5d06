"""Every folder of tests/bad_jobs is one fault: the good job with some files changed, and the exact message.

Most are found when the job is read. Those named place-... are found on the wall, those named demand-... when its demands
are held against the certificate, those named circuit-... when conductors are followed through walls, those named share-...
when cables are fitted into one block: there the job is computed, without its own procedure, which adds to steps that only these tests have.
"""

import shutil
import tempfile
from pathlib import Path

import pytest

from generator.errors import WorkPackError
from generator.workpack import load
from tests.source.jobs import BAD_JOBS, GOOD, copy_good, read

FAULTS = sorted(path for path in BAD_JOBS.iterdir() if path.is_dir() and path != GOOD)


def message(fault: Path) -> str:
    """Lay a fault's files over the good job and return what reading it says."""
    with tempfile.TemporaryDirectory() as temporary:
        folder = copy_good(Path(temporary) / "job")
        for path in sorted(fault.rglob("*")):
            target = folder / path.relative_to(fault)
            if path.suffix == ".absent":
                target.with_suffix("").unlink()
            elif path.is_file() and path.name != "expected.txt":
                target.parent.mkdir(exist_ok=True)
                shutil.copyfile(path, target)
        if fault.name.startswith(("place-", "demand-", "circuit-", "share-")):
            (folder / "procedure.yaml").unlink()
            told = [
                problem
                for problem in load(folder).problems
                if (problem.where.file == "cables.csv") == fault.name.startswith(("circuit-", "share-"))
            ]
            # The good job has no certificate, and cables to come.
            usual = ("are assumed", *(["certificate"] if fault.name.startswith("place-") else []))
            return "\n".join(str(problem) for problem in told if not any(word in problem.what for word in usual))
        try:
            return "\n".join(map(str, read(folder).problems))
        except WorkPackError as error:
            return str(error)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda path: path.name)
def test_fault_is_told_in_these_words(fault: Path) -> None:
    expected = (fault / "expected.txt").read_text(encoding="utf-8")
    assert message(fault) + "\n" == expected


def test_the_good_job_has_no_fault() -> None:
    assert message(GOOD) == ""
