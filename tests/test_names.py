"""Every material and fixing that a file may name has its word, and none is left that no file can name."""

from typing import get_args

from generator.model.catalogue import FixingKind, Material
from generator.model.names import FIXINGS, FIXINGS_IN_TABLES, MATERIALS


def test_every_material_and_fixing_has_its_word() -> None:
    assert set(MATERIALS) == set(get_args(Material))
    assert set(FIXINGS) == set(FIXINGS_IN_TABLES) == set(get_args(FixingKind))
