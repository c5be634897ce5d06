"""Whether a frame clears the rounded corners of its opening. The judge is shapely, which draws both shapes."""

import itertools
from decimal import Decimal

import shapely
from pydantic import ValidationError

from generator.model.catalogue import Frame
from tests.engine import invented


def rounded(left: float, low: float, width: float, height: float, radius: float) -> shapely.Geometry:
    """Draw a rectangle with rounded corners, at most 0.002 mm inside the true one."""
    inner = shapely.box(left + radius, low + radius, left + width - radius, low + height - radius)
    return inner.buffer(radius, quad_segs=256)


def accepted(gaps: tuple[str, str], frame_radius: str | None, opening_radius: str) -> bool:
    """Tell whether the model takes a frame of 100 x 80 with these least gaps beside and above it."""
    beside, above = (Decimal(gap) for gap in gaps)
    data = invented.frame([invented.bay(72, 60)]) | {"width": 100, "height": 80, "corner_radius": frame_radius}
    ((kind, fixing),) = data["fixings"].items()
    opening = {"width": 101 + 2 * beside, "height": 81 + 2 * above, "plus": 2, "minus": 1}
    fixing = fixing | {"opening": opening | {"corner_radius": opening_radius}}
    try:
        Frame.model_validate(data | {"fixings": {kind: fixing}})
    except ValidationError as problem:
        assert "touches the rounded corners" in str(problem)
        return False
    return True


def test_the_frame_clears_the_rounding_of_its_smallest_opening() -> None:
    answers = []
    for beside, above, own, cut in itertools.product(
        ("0", "0.5", "1", "2", "6", "11"), ("0", "1", "3"), ("0", "2", "5", "8", "12"), ("4", "8", "12")
    ):
        opening = rounded(0, 0, 100 + 2 * float(beside), 80 + 2 * float(above), float(cut))
        frame = rounded(float(beside), float(above), 100, 80, float(own))
        overlap = frame.difference(opening.buffer(0.003)).area
        clear = opening.buffer(-0.01).contains(frame) if float(beside) and float(above) else overlap == 0
        if (overlap > 0) == clear:
            continue  # within a hundredth of a millimetre: drawn chords can't tell
        assert accepted((beside, above), own, cut) == clear, (beside, above, own, cut)
        answers.append(clear)
    assert len(answers) > 200 and 40 < sum(answers) < len(answers) - 40


def test_a_radius_that_nobody_gave_is_not_judged() -> None:
    assert accepted(("0", "0"), None, "12")
    assert not accepted(("1", "1"), "0", "8")  # (8 - 1) √2 = 9.9 from the centre of a rounding of 8
    assert accepted(("1", "1"), "5", "8")  # (8 - 1 - 5) √2 + 5 = 7.83
