"""The demo as it is computed, once for all tests of a worker: it is frozen, so none can spoil it for another."""

from functools import cache
from pathlib import Path

from generator.model.pack import WorkPack
from generator.workpack import load, with_reentries

DEMO = Path(__file__).parents[1] / "workpacks" / "tide-gate"


@cache
def demo() -> WorkPack:
    """Return the demo's work pack, without what one more cable would ask for."""
    return load(DEMO)


@cache
def demo_with_reentries() -> WorkPack:
    """Return the demo's work pack, with what one more cable would ask for."""
    return with_reentries(demo())
