"""Photos: what they are by their content, whether they are whole, and a small copy that says nothing of the place.

The only module that knows Pillow. A picture is judged by decoding it, not by its name; three formats are
decoded and no other, so that no rare decoder ever sees a stranger's file.
"""

import io
import warnings
from typing import Literal

from PIL import Image, ImageOps

Kind = Literal["jpg", "png", "webp"]
_FORMATS = {"JPEG": "jpg", "PNG": "png", "WEBP": "webp"}
MOST_PIXELS = 120_000_000
"""More than any phone takes; a small file that decodes to more is a bomb."""
SHOWN = 1600
"""The longer side of a photo on the site, pixels."""
QUALITY = 78


class NoPicture(Exception):
    """A file is no picture of the three formats, not whole, or too large to be one."""


def judge_picture(data: bytes) -> Kind:
    """Return what kind of picture ``data`` is. Raises NoPicture where it can't be decoded to its end."""
    with _opened(data) as picture:
        kind = _FORMATS[picture.format or ""]
        picture.load()
    return kind  # type: ignore[return-value]


def shrink(data: bytes) -> bytes:
    """Return a JPEG of ``data``, at most ``SHOWN`` pixels long, upright, without anything but its pixels.

    Position, time, owner and device, which phones write into photos, are left behind: the picture is drawn
    anew. Raises NoPicture.
    """
    with _opened(data) as picture:
        picture.draft("RGB", (SHOWN, SHOWN))  # a JPEG is decoded at a fraction of its size: several times as fast
        upright = ImageOps.exif_transpose(picture) or picture
        small = upright.convert("RGB")
    small.thumbnail((SHOWN, SHOWN), Image.Resampling.LANCZOS)
    bare = Image.frombytes("RGB", small.size, small.tobytes())
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


def blank() -> bytes:
    """Return a small grey picture, for a photo that is gone."""
    out = io.BytesIO()
    Image.new("RGB", (16, 12), (128, 128, 128)).save(out, "JPEG")
    return out.getvalue()


class _opened:
    """Opens a picture without trust; whatever goes wrong is a NoPicture."""

    def __init__(self, data: bytes) -> None:
        self.data = data

    def __enter__(self) -> Image.Image:
        self._quiet = warnings.catch_warnings()
        self._quiet.__enter__()
        warnings.simplefilter("ignore")
        try:
            self.picture = Image.open(io.BytesIO(self.data), formats=tuple(_FORMATS))
        except Exception as error:  # a decoder's faults are of many kinds
            self._quiet.__exit__(None, None, None)
            raise NoPicture("it is no JPEG, PNG or WebP") from error
        width, height = self.picture.size
        if width * height > MOST_PIXELS:
            self._quiet.__exit__(None, None, None)
            raise NoPicture(f"it has {width} × {height} pixels")
        return self.picture

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        self._quiet.__exit__(None, None, None)
        if isinstance(error, Exception) and not isinstance(error, NoPicture):
            raise NoPicture("it can't be decoded to its end") from error
