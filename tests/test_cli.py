"""The command: exit codes for scripts, messages a person can click, help that teaches, and no traceback."""

import json
import os
import pty
import re
import signal
import socket
import subprocess
import sys
import time
import tomllib
import urllib.error
import urllib.request
from pathlib import Path
from uuid import UUID

import jsonschema
import pytest
import yaml

from generator.cli import main
from tests.pages.site_files import digests, replace

ROOT = Path(__file__).parents[1]


def run(*arguments: str | Path, folder: Path | None = None, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """Run the command in a process of its own, its output piped."""
    return subprocess.run(
        [sys.executable, "-m", "generator", *map(str, arguments)],
        cwd=folder or ROOT,
        capture_output=True,
        check=False,
        timeout=60,
        env={**os.environ, **environment},
    )


@pytest.fixture
def job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    assert main(["new", str(tmp_path / "job")]) == 0
    capsys.readouterr()
    return tmp_path / "job"


# -- new -------------------------------------------------------------------------------------------


def test_new_writes_a_job_that_is_good(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(job)]) == 0
    said = capsys.readouterr()
    assert said.out == "2 transits, 2 ready to build\n"
    assert said.err == ""


def test_new_makes_the_uid_of_a_job_once(tmp_path: Path) -> None:
    uids = []
    for name in ("one", "two"):
        assert main(["new", str(tmp_path / name)]) == 0
        uids.append(yaml.safe_load((tmp_path / name / "job.yaml").read_text(encoding="utf-8"))["job"]["uid"])
    assert uids[0] != uids[1]
    assert all(UUID(uid).version == 4 for uid in uids)


def test_new_never_overwrites(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = digests(job)
    assert main(["new", str(job)]) == 2
    assert "never overwrites" in capsys.readouterr().err
    assert digests(job) == before


def test_new_uses_an_empty_folder_and_leaves_a_file_alone(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    assert main(["new", str(tmp_path / "empty")]) == 0
    (tmp_path / "file").write_text("keep", encoding="utf-8")
    assert main(["new", str(tmp_path / "file")]) == 2
    assert (tmp_path / "file").read_text(encoding="utf-8") == "keep"


def test_an_editor_finds_the_schema_of_every_file_and_agrees(job: Path) -> None:
    checked = 0
    for path in sorted(job.rglob("*.yaml")):
        line = path.read_text(encoding="utf-8").splitlines()[0]
        found = re.fullmatch(r"# yaml-language-server: \$schema=(\S+)", line)
        assert found, path
        schema = json.loads((path.parent / found[1]).read_text(encoding="utf-8"))
        # An outside judge of the schemas: the jsonschema library, on the file as PyYAML reads it.
        jsonschema.Draft202012Validator(schema).validate(json.loads(json.dumps(_as_json(path))))
        checked += 1
    assert checked == 4


def _as_json(path: Path) -> object:
    class Loader(yaml.SafeLoader):
        """As editors read YAML 1.2: a date is text."""

    Loader.yaml_implicit_resolvers = {
        first: [(tag, pattern) for tag, pattern in found if tag != "tag:yaml.org,2002:timestamp"]
        for first, found in yaml.SafeLoader.yaml_implicit_resolvers.items()
    }
    return yaml.load(path.read_text(encoding="utf-8"), Loader)


# -- check and build -------------------------------------------------------------------------------


def test_a_problem_is_printed_with_a_path_to_click(job: Path) -> None:
    replace(job / "cables.csv", "31.8", "31,8")
    done = run("check", "job", folder=job.parent)
    assert done.returncode == 1
    lines = done.stdout.decode("utf-8").splitlines()
    place = Path(lines[0].split(":")[0])
    assert place == Path("job", "cables.csv")
    assert (job.parent / place).is_file()
    assert lines[0].startswith(f"{place}:2:")
    assert lines[1].startswith("  why:  ") and lines[2].startswith("  mend: ")
    assert b"Traceback" not in done.stdout + done.stderr


def test_check_tells_all_problems_of_job_settings_and_pages_at_once(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    replace(job / "transits.yaml", "fixing: welded", "fixing: wedged")
    (job / "mkdocs.yml").write_text("plugins: [wallwork, search]\n", encoding="utf-8")
    (job / "pages" / "index.md").write_text("# Mine\n", encoding="utf-8")
    assert main(["check", str(job)]) == 1
    said = capsys.readouterr().out
    for file in ("transits.yaml", "mkdocs.yml", "pages/index.md"):
        assert f"{job / file}:" in said


def test_a_transit_without_a_layout_is_built_and_told(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    replace(job / "cables.csv", "31.8,0.3", "61.8,0.3")  # thicker than any block holds
    assert main(["check", str(job)]) == 3
    assert "2 transits, 1 ready to build" in capsys.readouterr().out
    assert main(["build", str(job), "--out", str(job.parent / "site")]) == 3
    assert "A1-001" in capsys.readouterr().err
    assert (job.parent / "site" / "T" / "A1-001" / "index.html").is_file()


def test_build_writes_the_site_and_says_where(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = job.parent / "site"
    assert main(["build", str(job), "--out", str(out)]) == 0
    said = capsys.readouterr()
    assert said.out == f"{out / 'index.html'}: 2 transits\n"
    assert said.err == ""


def test_build_speaks_the_language_asked_for(job: Path) -> None:
    out = job.parent / "site"
    assert main(["build", str(job), "--out", str(out), "--locale", "qps"]) == 0
    assert "⟦" in (out / "index.html").read_text(encoding="utf-8")


def test_build_with_problems_builds_nothing(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (job / "walls.yaml").write_text("walls: {", encoding="utf-8")
    assert main(["build", str(job), "--out", str(job.parent / "site")]) == 1
    assert "nothing was built" in capsys.readouterr().err
    assert sorted(path.name for path in job.parent.iterdir()) == ["job"]


# -- usage -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "COMMAND"),
        (["bild", "job"], "did you mean build?"),
        (["polish"], "there are new, check, build, serve, issue, withdraw, collect, one-more, schema"),
        (["build", "job"], "--out"),
        (["check", "no-such-job"], "is not there"),
        (["check", "pyproject.toml"], "is a file"),
        (["serve", "workpacks", "--port", "70000"], "port"),
        (["build", "workpacks/tide-gate", "--out", "site", "--locale", "tlh"], "no words for 'tlh'"),
        (["build", "workpacks/tide-gate", "--out", "workpacks"], "holds the job itself"),
        (["new", "pyproject.toml/job"], "can't be written"),
        (["schema", "--out", "pyproject.toml"], "can't be written"),
    ],
)
def test_wrong_usage(
    arguments: list[str], says: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    assert main(arguments) == 2
    assert says in capsys.readouterr().err


def test_help_teaches(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    said = capsys.readouterr().out
    for word in (
        "job.yaml",
        "cables.csv",
        "example",
        "exit codes",
        "new",
        "check",
        "build",
        "serve",
        "issue",
        "collect",
        "one-more",
        "schema",
    ):
        assert word in said or word == "example"
    for command in ("new", "check", "build", "serve", "issue", "collect", "one-more", "schema"):
        assert main([command, "--help"]) == 0
        assert f"wallwork {command}" in capsys.readouterr().out.split("example:")[1]


def test_version_is_the_one_of_the_package(capsys: pytest.CaptureFixture[str]) -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"wallwork {project['version']}\n"


def test_schema_writes_schemas(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", "--out", str(tmp_path / "schemas")]) == 0
    written = sorted((tmp_path / "schemas").iterdir())
    assert len(written) >= 4
    for path in written:
        jsonschema.Draft202012Validator.check_schema(json.loads(path.read_text(encoding="utf-8")))
        assert str(path) in capsys.readouterr().out or path != written[0]


# -- output ----------------------------------------------------------------------------------------


def test_output_is_utf8_with_plain_line_ends_on_any_code_page(job: Path) -> None:
    replace(job / "job.yaml", "A first job", "→ Größe")
    (job / "walls.yaml").write_text("walls: {W1: {name: →}}\n", encoding="utf-8")
    # A code page that has no arrow, as a pipe of Windows would have.
    done = run("check", job, PYTHONIOENCODING="cp1252", PYTHONUTF8="0")
    assert done.returncode == 1
    done.stdout.decode("utf-8")
    assert b"\r" not in done.stdout + done.stderr
    assert b"Traceback" not in done.stderr


def test_nothing_that_steers_a_terminal_is_printed(job: Path) -> None:
    (job / "pages" / "\x1b[2J.md").write_bytes(b"\xff")
    done = run("check", job)
    assert done.returncode == 1
    assert b"\x1b" not in done.stdout + done.stderr


def test_progress_is_silent_where_nobody_watches(job: Path) -> None:
    done = run("build", job, "--out", job.parent / "site")
    assert done.returncode == 0
    assert done.stderr == b""


def test_progress_is_one_line_that_goes_away(job: Path) -> None:
    terminal, end = pty.openpty()
    done = subprocess.run(
        [sys.executable, "-m", "generator", "build", str(job), "--out", str(job.parent / "site")],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=end,
        check=False,
        timeout=60,
    )
    os.close(end)
    seen = os.read(terminal, 100_000).decode("utf-8")
    os.close(terminal)
    assert done.returncode == 0
    for stage in ("layouts", "pages"):
        assert f"{stage} 2 of 2" in seen
    assert "\n" not in seen and seen.endswith("\r")


def test_a_reader_that_goes_away_is_no_fault(job: Path) -> None:
    command = f"'{sys.executable}' -m generator --help | head -n 1"
    done = subprocess.run(["bash", "-o", "pipefail", "-c", command], cwd=ROOT, capture_output=True, check=False)
    assert b"Traceback" not in done.stderr


# -- serve -----------------------------------------------------------------------------------------


def _get(address: str) -> str:
    try:
        with urllib.request.urlopen(address, timeout=20) as answer:
            return str(answer.read().decode("utf-8"))
    except urllib.error.HTTPError as error:
        with error:
            return f"{error.code}"


def _wait_for(address: str, text: str, present: bool = True) -> str:
    """Ask until the page has (or no longer has) ``text``."""
    end = time.monotonic() + 25
    page = ""
    while time.monotonic() < end:
        try:
            page = _get(address)
        except OSError:
            page = ""
        if page and (text in page) == present:
            return page
        time.sleep(0.2)
    raise AssertionError(f"{address}: {text!r} {'never came' if present else 'stayed'}: {page[:500]}")


def test_serve_survives_every_broken_file_and_ends_on_ctrl_c(job: Path, free_port: int) -> None:
    good = {path: path.read_bytes() for path in job.rglob("*") if path.is_file() and "schemas" not in path.parts}
    address = f"http://127.0.0.1:{free_port}/"
    before = digests(job)
    server = subprocess.Popen(
        [sys.executable, "-m", "generator", "serve", str(job), "--port", str(free_port)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    try:
        assert "A first job" in _wait_for(address, "A first job")
        assert "A1-001" in _get(address + "T/A1-001/index.html")
        assert digests(job) == before, "serving writes nothing under the job"

        for name, broken in {
            "cables.csv": b"tag\n",
            "job.yaml": b"job: [\xff",
            "mkdocs.yml": b"a: !!python/object/apply:os.system [id]",
        }.items():
            (job / name).write_bytes(broken)
            page = _wait_for(address, "problems.html")
            assert "A first job" in page, "the last good page stays"
            listed = _wait_for(address + "problems.html", name)
            assert "last good one" not in listed, "the list itself is no old page"
            assert "problems.html" in _get(address + "T/A1-001/index.html")
            (job / name).write_bytes(good[job / name])
            _wait_for(address, "problems.html", present=False)

        replace(job / "job.yaml", "A first job", "A changed job")
        _wait_for(address, "A changed job")
        assert _get(address + "T/Z9-999/index.html") == "404"
        server.send_signal(signal.SIGINT)
        _, said = server.communicate(timeout=20)
    finally:
        server.kill()
        server.communicate()
    assert server.returncode == 130
    assert b"Traceback" not in said
    assert f"{job / 'cables.csv'}:1:1:" in said.decode("utf-8")


def test_serve_says_when_the_port_is_taken(job: Path, free_port: int) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", free_port))
        taken.listen()
        done = run("serve", job, "--port", str(free_port))
    assert done.returncode == 2
    assert f"port {free_port} can't be had" in done.stderr.decode("utf-8")


def test_serve_begins_with_a_broken_job(job: Path, free_port: int) -> None:
    address = f"http://127.0.0.1:{free_port}/"
    replace(job / "transits.yaml", "fixing: welded", "fixing: wedged")
    server = subprocess.Popen(
        [sys.executable, "-m", "generator", "serve", str(job), "--port", str(free_port)],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        assert "transits.yaml" in _wait_for(address, "wedged")
        replace(job / "transits.yaml", "fixing: wedged", "fixing: welded")
        _wait_for(address, "A first job")
    finally:
        server.kill()
        server.wait()


@pytest.fixture
def free_port() -> int:
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return int(asked.getsockname()[1])


def test_issue_and_collect_say_what_they_did(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["issue", str(job), "--rev", "A"]) == 0
    assert "A1-001: issued as A" in capsys.readouterr().out
    cables = job / "cables.csv"
    cables.write_text(cables.read_text(encoding="utf-8").replace("D4,8.0,0.2", "D4,9.5,0.2"), encoding="utf-8")
    assert main(["issue", str(job), "--rev", "B"]) == 0
    out = capsys.readouterr().out
    assert "A1-001: issued as B, replaces A" in out and "D-001 measures 9.5" in out
    assert "wall W1: A1-001 (A by B)" in out and "1 unchanged, not issued again: A1-002 A" in out
    assert main(["issue", str(job), "--rev", "b/1"]) == 2
    assert "is no revision" in capsys.readouterr().err
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "bad.zip").write_bytes(b"PK")
    assert main(["collect", str(job), str(tmp_path / "in")]) == 1
    out = capsys.readouterr().out
    assert "bad.zip: refused" in out and "0 kept, 0 known already, 1 refused" in out
    assert not (job / "records").exists() and not (job / "issued" / ".lock").exists()
