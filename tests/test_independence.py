"""A change in one transit never moves another; and what the search's limit in job.yaml does."""

import shutil
from pathlib import Path

import pytest

from generator.model.layout import Layout, NoLayout
from generator.workpack import compute_one, load, read
from tests.demo import DEMO, demo
from tests.engine import invented


@pytest.fixture
def job(tmp_path: Path) -> Path:
    shutil.copytree(DEMO.parent, tmp_path / "packs")
    return tmp_path / "packs" / "tide-gate"


def change(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1, text.count(old)
    path.write_text(text.replace(old, new), encoding="utf-8", newline="\n")


def test_a_change_in_one_transit_never_moves_another(job: Path) -> None:
    before = load(job).transits
    change(
        job / "transits.yaml",
        "    spares: [{ size: 24, count: 2 }, { size: 18, count: 2 }]\n",  # those of D1-002
        "    spares: [{ size: 18, count: 1 }]\n    apart: [{ classes: [control, instrument], level: row }]\n",
    )
    after = load(job).transits
    assert after["D1-002"].layout != before["D1-002"].layout
    others = set(before) - {"D1-002"}
    assert {name: after[name].layout for name in others} == {name: before[name].layout for name in others}
    assert {name: after[name].digest for name in others} == {name: before[name].digest for name in others}


def test_nor_does_what_was_computed_before_it() -> None:
    whole = demo().transits
    source, _ = read(DEMO)
    for name in ("B2-018", "D1-002", "B2-017"):
        invented.forget()
        assert compute_one(source, name).layout == whole[name].layout


def test_the_limit_of_the_search_is_the_planners(job: Path) -> None:
    change(job / "job.yaml", "  readings:\n", "  layout_steps: 400\n  readings:\n")
    pack = load(job).transits["B2-018"]
    said = [problem for problem in pack.problems if "layout_steps" in problem.mend]
    assert said, pack.problems
    assert not (isinstance(pack.layout, Layout) and pack.layout.proven)
    assert not isinstance(pack.layout, NoLayout) or pack.layout.gave_up
    change(job / "job.yaml", "  layout_steps: 400\n", "  layout_steps: 100000\n")
    pack = load(job).transits["B2-018"]
    assert isinstance(pack.layout, Layout)
    assert pack.layout.proven
