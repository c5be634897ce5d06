"""The house stays a house: imports point one way, style and types are clean."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "generator"

# What a part of the house may import from the others. DEVELOPERS.md shows the same table.
MAY_IMPORT = {
    "errors": set(),
    "model": {"errors"},
    "source": {"model", "errors"},
    "engine": {"model", "errors"},
    "drawing": {"model", "errors"},
    "workpack": {"source", "engine", "model", "errors"},
    "keep": set(),
    "issue": {"workpack", "keep", "source", "engine", "model", "errors"},
    "collect": {"workpack", "keep", "source", "engine", "model", "errors"},
    "pages": {"workpack", "drawing", "source", "keep", "model", "errors"},
    "cli": {"pages", "issue", "collect", "keep", "workpack", "source", "model", "errors"},
}
# Past active development, so each is met in one module only (svgwrite in none: it judges in the tests).
ONLY_IN = {"svgwrite": "nowhere", "mkdocs": "pages/plugin.py", "PIL": "source/pictures.py"}
# What the engine may use of the standard library: no files, no clock, no printing, no chance.
ENGINE_NEVER = {"os", "io", "pathlib", "time", "datetime", "random", "sys", "subprocess", "logging", "tempfile"}


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def imports(path: Path) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports are written in full"
            found.append(node.module or "")
            if node.module == "generator":
                found += [f"generator.{alias.name}" for alias in node.names]
    return found


def room(path: Path) -> str:
    first = path.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


def test_imports_point_one_way() -> None:
    wrong = []
    for path in modules():
        here = room(path)
        if here in ("__init__", "__main__"):
            continue
        for name in imports(path):
            parts = name.split(".")
            if (
                parts[0] == "generator"
                and len(parts) > 1
                and parts[1] not in {here, "__version__", *MAY_IMPORT[here]}
            ):
                wrong.append(f"{path.relative_to(ROOT)} imports {name}")
    assert wrong == []


def test_fading_libraries_have_one_door() -> None:
    wrong = []
    for path in modules():
        for name in imports(path):
            door = ONLY_IN.get(name.split(".")[0])
            if door and path.relative_to(PACKAGE).as_posix() != door:
                wrong.append(f"{path.relative_to(ROOT)} imports {name}")
    assert wrong == []


def test_engine_is_pure() -> None:
    wrong = []
    for path in modules():
        if room(path) != "engine":
            continue
        wrong += [f"{path.name} imports {name}" for name in imports(path) if name.split(".")[0] in ENGINE_NEVER]
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("open", "print"):
                wrong.append(f"{path.name}:{node.lineno} calls {node.func.id}")
    assert wrong == []


def test_every_room_is_known() -> None:
    assert {room(path) for path in modules()} - {"__init__", "__main__"} <= set(MAY_IMPORT)


@pytest.mark.parametrize(
    "command",
    [["ruff", "check", "."], ["ruff", "format", "--check", "."], ["mypy"]],
    ids=["ruff-check", "ruff-format", "mypy-strict"],
)
def test_style_and_types(command: list[str]) -> None:
    done = subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_top_level_holds_nothing_more() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True, encoding="utf-8"
    ).stdout.splitlines()
    top = {name.split("/")[0] for name in listed}
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "workpacks", "generator", "tests", "site_templates"}
    assert {name for name in top if not name.startswith(".")} <= allowed
