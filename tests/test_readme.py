"""The README keeps its word: its commands are the ones CI runs, and every command is explained in it."""

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def shell_blocks() -> list[str]:
    return [block.strip() for block in re.findall(r"```sh\n(.*?)```", README, re.DOTALL)]


def test_ci_runs_the_readme_test_command_word_for_word() -> None:
    build, tests = shell_blocks()[:2]
    assert build.startswith("python3 -m venv .venv && ")
    assert "wallwork build workpacks/tide-gate --out site" in build
    assert tests.endswith(".venv/bin/python -m tests")
    assert tests in (ROOT / ".ci/run").read_text(encoding="utf-8").splitlines()


def test_demo_command_builds_the_demo(tmp_path: Path) -> None:
    # The environment is the one that runs this test (the README's second command made it): making it again
    # would install everything twice, and running the test command here would run the suite inside itself.
    arguments = shell_blocks()[0].rsplit(".venv/bin/wallwork ", 1)[1].split()
    assert arguments == ["build", "workpacks/tide-gate", "--out", "site"]
    arguments[-1] = str(tmp_path / "site")
    done = subprocess.run(
        [sys.executable, "-m", "generator", *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        encoding="utf-8",
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert (tmp_path / "site/T/B2-017/index.html").is_file()


def test_every_command_is_in_the_readme() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "generator", "--help"], capture_output=True, text=True, check=True, encoding="utf-8"
    )
    listed = done.stdout.split("\ncommands:\n")[1].split("\n\n")[0]
    commands = re.findall(r"^    ([a-z]+) ", listed, re.MULTILINE)
    assert {"new", "check", "build", "serve", "issue", "collect", "schema"} <= set(commands)
    for command in commands:
        assert f"`wallwork {command} " in README, command


def test_pictures_and_links_of_the_readme_exist() -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", README):
        if not target.startswith("https://"):
            assert (ROOT / target).exists(), target
