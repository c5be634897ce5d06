"""Take the approved pictures anew: ``python -m tests.browser.approve [NAME ...]``. Look at every one that changed.

What was looked at stands in approved/README.md, a line a picture.
"""

import sys
import tempfile
from pathlib import Path

from PIL import Image, ImageChops
from playwright.sync_api import sync_playwright

from tests.browser.chromium import FLAGS, find_or_install
from tests.browser.demo_site import build_once, serve
from tests.browser.pictures import APPROVED, BY_NAME, PICTURES, kept, take


def main(names: list[str]) -> None:
    """Write the pictures named, or all; pictures that no longer belong are removed."""
    chosen = [BY_NAME[name] for name in names] or list(PICTURES)
    APPROVED.mkdir(exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as folder,
        serve(build_once(Path(folder))) as address,
        sync_playwright() as driver,
    ):
        browser = driver.chromium.launch(executable_path=str(find_or_install()), args=FLAGS)
        for picture in chosen:
            path = APPROVED / f"{picture.name}.png"
            new = kept(take(browser, address, picture))
            if path.is_file() and _is_same(Image.open(path), new):
                print(f"{picture.name}: as it was")
                continue
            new.save(path, optimize=True)
            print(f"{picture.name}: look at {path}")
        browser.close()
    for path in APPROVED.glob("*.png"):
        if path.stem not in BY_NAME:
            path.unlink()
            print(f"{path.stem}: removed")


def _is_same(one: Image.Image, other: Image.Image) -> bool:
    if one.size != other.size:
        return False
    return ImageChops.difference(one.convert("RGB"), other.convert("RGB")).getbbox() is None


if __name__ == "__main__":
    main(sys.argv[1:])
