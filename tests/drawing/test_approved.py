"""The drawings that were looked at and found good, byte for byte. Anew: ``python -m tests.drawing.approve``."""

import pytest

from tests.drawing.approve import APPROVED, drawings, shown


@pytest.mark.parametrize(("name", "draw"), list(drawings()))
def test_the_drawing_is_the_one_that_was_approved(name, draw) -> None:  # type: ignore[no-untyped-def]
    assert shown(draw()) == (APPROVED / name).read_text(encoding="utf-8")


def test_nothing_else_is_approved() -> None:
    assert {path.name for path in APPROVED.iterdir()} == {name for name, _ in drawings()}
