"""Today's pages against the pictures that were approved, and the comparison against spoilt pictures."""

import re
from collections.abc import Callable

import pytest
from PIL import Image, ImageDraw, ImageFilter
from playwright.sync_api import Browser

from tests.browser.pictures import APPROVED, PICTURES, Picture, are_alike, take

LAYOUT = APPROVED / "b2-017-phone-layout.png"
SCALE = 2


@pytest.mark.parametrize("picture", PICTURES, ids=lambda picture: picture.name)
def test_a_page_looks_as_it_was_approved(browser: Browser, address: str, picture: Picture) -> None:
    today = take(browser, address, picture)
    with Image.open(APPROVED / f"{picture.name}.png") as approved:
        assert are_alike(approved, today, picture.scale), (
            "it looks otherwise: run python -m tests.browser.approve, look at the picture, and keep it or mend the page"
        )


def test_every_picture_says_what_was_looked_at() -> None:
    lines = (APPROVED / "README.md").read_text(encoding="utf-8").splitlines()
    said = {match[1]: match[2] for line in lines if (match := re.fullmatch(r"- `([a-z0-9-]+)\.png`: (.{20,})", line))}
    names = {picture.name for picture in PICTURES}
    assert said.keys() == names == {path.stem for path in APPROVED.glob("*.png")}
    assert all(path.stat().st_size < 200_000 for path in APPROVED.glob("*.png"))


def _shifted(picture: Image.Image, by: tuple[float, float]) -> Image.Image:
    return picture.transform(
        picture.size, Image.Transform.AFFINE, (1, 0, by[0], 0, 1, by[1]), Image.Resampling.BICUBIC
    )


def _part(picture: Image.Image, box: tuple[int, int, int, int]) -> tuple[int, int, int, int]:
    left, top, right, bottom = (edge * SCALE for edge in box)
    assert right <= picture.width and bottom <= picture.height
    return left, top, right, bottom


def _blanked(picture: Image.Image, box: tuple[int, int, int, int]) -> Image.Image:
    spoilt = picture.copy()
    ImageDraw.Draw(spoilt).rectangle(_part(picture, box), fill="white")
    return spoilt


def _moved(picture: Image.Image, box: tuple[int, int, int, int], across: int) -> Image.Image:
    spoilt = _blanked(picture, box)
    left, top, right, bottom = _part(picture, box)
    spoilt.paste(picture.crop((left, top, right, bottom)), (left + across * SCALE, top))
    return spoilt


# As another version of the browser on another machine may draw the same page.
HARMLESS: dict[str, Callable[[Image.Image], Image.Image]] = {
    "smoother": lambda picture: picture.filter(ImageFilter.GaussianBlur(0.5 * SCALE)),
    "sharper": lambda picture: picture.filter(ImageFilter.UnsharpMask(1 * SCALE, 60)),
    "half a pixel over": lambda picture: _shifted(picture, (0.5 * SCALE, 0)),
    "half a pixel down": lambda picture: _shifted(picture, (0, 0.5 * SCALE)),
    "another gamma": lambda picture: picture.point(lambda level: round(255 * (level / 255) ** 1.08)),
}
# px of the window of 360 x 740: the block of P-101 with its figures, a line of the plate, the clamping unit.
SPOILT: dict[str, Callable[[Image.Image], Image.Image]] = {
    "a block blank": lambda picture: _blanked(picture, (60, 500, 150, 590)),
    "a line of words missing": lambda picture: _blanked(picture, (10, 170, 300, 190)),
    "a part moved": lambda picture: _moved(picture, (60, 250, 320, 330), 6),
    "everything lower": lambda picture: _shifted(picture, (0, -4 * SCALE)),
    "mirrored": lambda picture: picture.transpose(Image.Transpose.FLIP_LEFT_RIGHT),
    "cut": lambda picture: picture.crop((0, 0, picture.width, picture.height - 2)),
}


@pytest.mark.parametrize("how", HARMLESS)
def test_another_browsers_edges_are_alike(how: str) -> None:
    with Image.open(LAYOUT) as approved:
        picture = approved.convert("RGB")
    assert are_alike(picture, HARMLESS[how](picture), SCALE)


@pytest.mark.parametrize("how", SPOILT)
def test_what_is_lost_or_moved_is_seen(how: str) -> None:
    with Image.open(LAYOUT) as approved:
        picture = approved.convert("RGB")
    assert not are_alike(picture, SPOILT[how](picture), SCALE)
