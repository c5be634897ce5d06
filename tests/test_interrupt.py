"""Ctrl-C at any time ends a build cleanly and leaves the site as it was, or the new one whole."""

import signal
import subprocess
import sys
import time
from pathlib import Path

from generator.pages.starter import write_starter
from tests.pages.site_files import digests

ROOT = Path(__file__).parents[1]


def _start(job: Path, site: Path) -> "subprocess.Popen[bytes]":
    return subprocess.Popen(
        [sys.executable, "-m", "generator", "build", str(job), "--out", str(site)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )


def test_ctrl_c_at_any_time_keeps_the_good_site(tmp_path: Path) -> None:
    job, site = tmp_path / "job", tmp_path / "site"
    write_starter(job)
    started = time.monotonic()
    first = _start(job, site)
    first.communicate()
    took = time.monotonic() - started
    good = digests(site)
    text = (job / "job.yaml").read_text(encoding="utf-8")
    (job / "job.yaml").write_text(text.replace("A first job", "A changed job"), encoding="utf-8", newline="\n")
    stopped = 0
    shares, tries = [0.4, 0.7, 0.9], 0
    while shares:
        share, tries = shares[0], tries + 1
        building = _start(job, site)
        time.sleep(took * share)
        building.send_signal(signal.SIGINT)
        _, said = building.communicate(timeout=60)
        # A machine is not always as busy as for the first build: a signal too late or too early comes once more.
        if stopped or building.returncode == 130 or tries > 12:
            shares.pop(0)
        else:
            took *= 0.7 if building.returncode in (0, 3) else 1.3
        assert b"Traceback" not in said, said.decode("utf-8")
        if building.returncode == 130:
            stopped += 1
            assert b"stopped" in said
            assert digests(site) == good, share
        else:
            # It was whole already, or the signal met the interpreter before or after the command.
            assert building.returncode in (0, 3, -signal.SIGINT)
            changed = "A changed job" in (site / "index.html").read_text(encoding="utf-8")
            assert changed or digests(site) == good, share
            good = digests(site)
    assert stopped
    again = _start(job, site)
    again.communicate()
    assert again.returncode in (0, 3)
    assert "A changed job" in (site / "index.html").read_text(encoding="utf-8")
