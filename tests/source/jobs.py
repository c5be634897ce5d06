"""The good job of tests/bad_jobs, and ways to read a variant of it."""

import shutil
from pathlib import Path

from generator.source.folder import JobSource, read_job

BAD_JOBS = Path(__file__).parents[1] / "bad_jobs"
GOOD = BAD_JOBS / "_good"

PROCEDURE = """\
phases:
  - {id: prepare, title: Prepare}
  - {id: close, title: Close}
steps:
  - {id: check-place, phase: prepare, kind: do, party: crew, title: Check the place, text: Compare it.}
  - {id: check-tags, phase: prepare, kind: review, party: crew, title: Check the tags, text: Compare them.}
  - {id: tighten, phase: close, kind: do, party: crew, title: Tighten, text: In turn.}
hot_work:
  us-shipyard: {title: A rule for hot work}
"""


def read(folder: Path) -> JobSource:
    """Read a job with a procedure of three steps in the place of the shipped one."""
    return read_job(folder, [("procedure/10-test.yaml", PROCEDURE)])


def copy_good(target: Path) -> Path:
    """Copy the good job to ``target``."""
    return Path(shutil.copytree(GOOD, target))


def change(folder: Path, file: str, old: str, new: str) -> None:
    """Replace the first ``old``, which must be there, in a file of a job."""
    path = folder / file
    text = path.read_bytes().decode("utf-8")
    assert old in text, f"{old!r} is not in {file}"
    path.write_bytes(text.replace(old, new, 1).encode("utf-8"))
