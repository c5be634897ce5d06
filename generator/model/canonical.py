"""One spelling for one thing: the bytes that digests are taken over and pins are written in."""

import hashlib
import json
from collections.abc import Iterator, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from pydantic import BaseModel

from generator.model.scalars import format_mm


def plain(value: Any) -> Any:
    """Return models, decimals, days, sets and tuples as what JSON knows; None is left out of mappings.

    A decimal becomes text without trailing zeros, a set a sorted list. Raises TypeError for anything else.
    """
    if value is None or isinstance(value, str | bool | int):
        return value if value is None or isinstance(value, bool | int) else str(value)
    if isinstance(value, Decimal):
        return format_mm(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, BaseModel):
        return {name: plain(item) for name, item in value if item is not None}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items() if item is not None}
    if isinstance(value, frozenset | set):
        return sorted(plain(item) for item in value)
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    raise TypeError(f"{type(value).__name__} has no plain form")


def canonical(value: Any) -> bytes:
    """Return the one JSON of ``value``: UTF-8, keys sorted, no spaces, nothing escaped that need not be."""
    return _written(plain(value))


def _written(value: Any) -> bytes:
    text = json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return text.encode("utf-8")


def digest_of(value: Any) -> str:
    """Return the SHA-256 of the canonical JSON of ``value``."""
    return digest_of_bytes(canonical(value))


def digest_of_plain(value: Any) -> str:
    """Return the same for what is plain already, such as JSON that was read: ten times as fast."""
    return digest_of_bytes(_written(value))


MARK = 2
"""Digits of a value's mark: it only says where to look, the digest over all says that something is wrong.

One in 256 edits has the mark of what stood there before, and then no place is told; four digits would make what is
packed of a pin half as large again."""


def leaves_of(value: Any, path: tuple[int | str, ...] = ()) -> Iterator[tuple[tuple[int | str, ...], Any]]:
    """Yield every value of plain JSON that holds no other, with the path to it, in the canonical order."""
    if isinstance(value, Mapping) and value:
        for key in sorted(value):
            yield from leaves_of(value[key], (*path, key))
    elif isinstance(value, list) and value:
        for place, item in enumerate(value):
            yield from leaves_of(item, (*path, place))
    else:
        yield path, value


def mark_of(path: tuple[int | str, ...], value: Any) -> str:
    """Return the mark of one value: the beginning of a digest of its place and of what it says."""
    return digest_of_plain([list(path), value])[:MARK]


def digest_of_bytes(data: bytes) -> str:
    """Return the SHA-256 of ``data``."""
    return hashlib.sha256(data).hexdigest()
