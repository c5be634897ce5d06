"""The wheel is all that a machine needs: installed into an empty environment, the command works anywhere."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(folder), str(ROOT))
    (found,) = folder.glob("wallwork-*.whl")
    return found


def run(*command: str, folder: Path = ROOT) -> str:
    # Nothing of the surrounding environment may help: neither a path of packages nor the checkout as folder.
    surroundings = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    done = subprocess.run(
        command, cwd=folder, capture_output=True, text=True, encoding="utf-8", check=False, env=surroundings
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_the_wheel_holds_every_file_of_both_packages(wheel: Path) -> None:
    listed = run("git", "ls-files", "generator", "site_templates").splitlines()
    assert len(listed) > 50
    with zipfile.ZipFile(wheel) as packed:
        names = set(packed.namelist())
    assert set(listed) <= names
    assert not {name for name in names if name.startswith(("tests/", "workpacks/"))}


def test_installed_into_an_empty_environment_it_makes_a_job_and_builds_it(wheel: Path, tmp_path: Path) -> None:
    # Our own pip fills it: one of its own would only be unpacked, and what nobody imports need not be compiled.
    run(sys.executable, "-m", "venv", "--without-pip", str(tmp_path / "env"))
    programs = tmp_path / "env" / ("Scripts" if sys.platform == "win32" else "bin")
    python = str(programs / "python")
    run(sys.executable, "-m", "pip", "--python", python, "install", "--quiet", "--no-compile", str(wheel))
    (tmp_path / "elsewhere").mkdir()
    wallwork = str(programs / "wallwork")
    run(wallwork, "new", "harbour", folder=tmp_path / "elsewhere")
    said = run(wallwork, "build", "harbour", "--out", "site", folder=tmp_path / "elsewhere")
    assert "2 transits" in said
    site = tmp_path / "elsewhere" / "site"
    assert "A1-001" in (site / "T" / "A1-001" / "index.html").read_text(encoding="utf-8")
    assert list((site / "assets" / "fonts").glob("*.woff2"))
    # It is the installed package that did this, and plain MkDocs finds the plugin.
    where = run(python, "-c", "import generator; print(generator.__file__)", folder=tmp_path)
    assert Path(where.strip()).is_relative_to(tmp_path / "env")
    run(str(programs / "mkdocs"), "build", "--quiet", folder=tmp_path / "elsewhere" / "harbour")
