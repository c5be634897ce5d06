"""Strict scalars: text from a file becomes an exact value, or an error that says how to mend it.

Plain types guess (``Decimal`` reads ``12_5`` as 125, ``int`` reads ``010`` as 10), so each type here
has its own ASCII grammar, and the JSON Schema carries the same grammar for the editor.
"""

import re
from collections.abc import Callable
from copy import copy
from datetime import date
from decimal import Decimal
from typing import Annotated, Any, Literal, Self
from urllib.parse import urlsplit

from pydantic import BaseModel, BeforeValidator, ConfigDict, WithJsonSchema, model_validator
from pydantic_core import PydanticCustomError


def refuse(what: str, why: str, mend: str) -> PydanticCustomError:
    """Return the error of a refused value: ``what`` continues the field's name ('is "12,5"')."""
    return PydanticCustomError("refused", "{what}: {why}", {"what": what, "why": why, "mend": mend})


def quoted(value: object, limit: int = 60) -> str:
    """Return a value as it is shown in a message: short, on one line, visible."""
    text = str(value)
    text = "".join(ch if ch.isprintable() else f"\\u{ord(ch):04x}" for ch in text[: limit + 1])
    return f'"{text[:limit]}…"' if len(text) > limit else f'"{text}"'


_ALL_FIELDS: dict[type[BaseModel], set[str]] = {}
"""The names of all fields of what was computed; pydantic copies such a set before it changes one."""


class Model(BaseModel):
    """The base of everything read from a job: no unknown keys, frozen, and empty means not given."""

    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=True)

    @model_validator(mode="before")
    @classmethod
    def _drop_empty(cls, data: Any) -> Any:
        if isinstance(data, dict):
            empty = [k for k, v in data.items() if isinstance(v, str) and v == "" and k in cls.model_fields]
            if empty:
                data = copy(data)  # a shallow copy keeps the positions that the mapping carries
                for key in empty:
                    del data[key]
        return data

    @classmethod
    def as_computed(cls, **fields: Any) -> Self:
        """Make one of values that were computed, not read: all fields, unchecked, several times as fast."""
        made = cls.__new__(cls)
        put = object.__setattr__
        put(made, "__dict__", fields)
        put(made, "__pydantic_fields_set__", _ALL_FIELDS.get(cls) or _ALL_FIELDS.setdefault(cls, set(fields)))
        put(made, "__pydantic_extra__", None)
        put(made, "__pydantic_private__", None)
        return made


# -- numbers ---------------------------------------------------------------------------------------

_DECIMAL = r"(?:0|[1-9][0-9]{0,5})(?:\.[0-9]{1,3})?"


def _decimal(low: Decimal | None, above: bool, noun: str) -> Callable[[object], Decimal]:
    pattern = re.compile("-?" + _DECIMAL, re.ASCII)

    def read(value: object) -> Decimal:
        if isinstance(value, Decimal):
            number = value
        elif isinstance(value, int) and not isinstance(value, bool):
            number = Decimal(value)
        elif isinstance(value, str):
            if not pattern.fullmatch(value):
                if re.fullmatch(r"-?[0-9]{1,6},[0-9]{1,3}", value, re.ASCII):
                    raise refuse(
                        f"is {quoted(value)}",
                        f"{noun} use a decimal point",
                        f"write {value.replace(',', '.')}",
                    )
                raise refuse(
                    f"is {quoted(value)}",
                    f"{noun} are plain decimals: no unit, exponent or 0 in front, at most 3 digits after the point",
                    "write a number such as 12.5",
                )
            number = Decimal(value)
        else:
            raise refuse(f"is {quoted(value)}", f"{noun} are plain decimals", "write one number such as 12.5 here")
        if low is not None and (number < low or number.is_signed() or (above and number == low)):
            least = f"more than {low}" if above else f"{low} or more"
            raise refuse(f"is {quoted(value)}", f"it must be {least}", f"write a number that is {least}")
        return number

    return read


_LARGEST = 999_999.999


def _number_schema(least: int | None, above: bool = False) -> dict[str, Any]:
    if least is None:
        bounds: dict[str, Any] = {"minimum": -_LARGEST}
    else:
        bounds = {"exclusiveMinimum" if above else "minimum": least}
    pattern = ("-?" if least is None else "(?!0(?:\\.0*)?$)" if above else "") + _DECIMAL
    return {
        "anyOf": [{"type": "number", **bounds, "maximum": _LARGEST}, {"type": "string", "pattern": f"^{pattern}$"}]
    }


Mm = Annotated[
    Decimal,
    BeforeValidator(_decimal(Decimal(0), True, "lengths")),
    WithJsonSchema({**_number_schema(0, above=True), "description": "mm, more than 0"}),
]
"""A length in mm, more than 0, exact to 0.001."""

MmOrZero = Annotated[
    Decimal,
    BeforeValidator(_decimal(Decimal(0), False, "lengths")),
    WithJsonSchema({**_number_schema(0), "description": "mm, 0 or more"}),
]
"""A length in mm, 0 or more."""

MmSigned = Annotated[
    Decimal,
    BeforeValidator(_decimal(None, False, "lengths")),
    WithJsonSchema({**_number_schema(None), "description": "mm, may be negative"}),
]
"""A coordinate in mm."""

Amount = Annotated[
    Decimal,
    BeforeValidator(_decimal(Decimal(0), True, "numbers")),
    WithJsonSchema(_number_schema(0, above=True)),
]
"""A plain positive decimal whose unit stands in the field's name (bar, m, N·m, ml)."""


def _read_count(value: object) -> int:
    if isinstance(value, int) and not isinstance(value, bool):
        number = value
    elif isinstance(value, str) and re.fullmatch(r"0|[1-9][0-9]{0,5}", value, re.ASCII):
        number = int(value)
    else:
        raise refuse(
            f"is {quoted(value)}",
            "a count is a whole number, 0 or more, without a 0 in front",
            "write digits only, such as 4",
        )
    if number < 0:
        raise refuse(f"is {quoted(value)}", "a count is 0 or more", "write digits only, such as 4")
    return number


Count = Annotated[
    int,
    BeforeValidator(_read_count),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "integer", "minimum": 0, "maximum": 999_999},
                {"type": "string", "pattern": "^(?:0|[1-9][0-9]{0,5})$"},
            ]
        }
    ),
]
"""A whole number, 0 or more."""


def _read_yes(value: object) -> bool:
    if isinstance(value, bool):
        return value
    if isinstance(value, str) and value in ("yes", "true"):
        return True
    if isinstance(value, str) and value in ("no", "false"):
        return False
    raise refuse(f"is {quoted(value)}", "this is a yes or a no", "write yes or no")


YesNo = Annotated[
    bool,
    BeforeValidator(_read_yes),
    WithJsonSchema({"anyOf": [{"type": "boolean"}, {"enum": ["yes", "no", "true", "false"]}]}),
]
"""yes or no."""


def format_mm(value: Decimal) -> str:
    """Return a length as pages show it: no exponent, no trailing zeros ('12.5', '8')."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


# -- text ------------------------------------------------------------------------------------------

# Marks that change the order in which a reader sees letters: a tag or a figure must read one way only.
_TURNING = "\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff\u200b\u2028\u2029"


def _text(limit: int, lines: bool) -> Callable[[object], str]:
    def read(value: object) -> str:
        if isinstance(value, int) and not isinstance(value, bool):
            value = str(value)
        if not isinstance(value, str):
            raise refuse(f"is {quoted(value)}", "text is wanted here", "write one piece of text")
        if not value.strip():
            raise refuse("is empty", "text is wanted here", "write it, or leave the key out")
        if len(value) > limit:
            raise refuse(
                f"is {len(value)} characters long",
                f"at most {limit} fit",
                f"shorten it to {limit} characters",
            )
        for ch in value:
            if ch in _TURNING or (not ch.isprintable() and not (lines and ch in "\n\t")):
                raise refuse(
                    f"holds the invisible character U+{ord(ch):04X}",
                    "text at the wall must read one way only",
                    "delete that character (type the text anew)",
                )
        return str(value)

    return read


def _text_schema(limit: int, lines: bool) -> dict[str, Any]:
    # An editor's pattern can't ask what is printable: the characters that matter are listed.
    control = r"\u0000-\u0008\u000b-\u001f" if lines else r"\u0000-\u001f"
    unseen = r"\u007f-\u00a0\u00ad\u061c\u1680\u2000-\u200f\u2028-\u202f\u205f-\u206f\u3000\ufeff"
    return {
        "type": ["string", "number"],
        "maxLength": limit,
        "allOf": [{"pattern": r"\S"}, {"pattern": f"^[^{control}{unseen}]*$"}],
    }


Tag = Annotated[str, BeforeValidator(_text(40, False)), WithJsonSchema(_text_schema(40, False))]
"""A short text on one line: the name a cable or a place has on the drawings."""

Name = Annotated[str, BeforeValidator(_text(160, False)), WithJsonSchema(_text_schema(160, False))]
"""A text on one line."""

Note = Annotated[str, BeforeValidator(_text(20_000, True)), WithJsonSchema(_text_schema(20_000, True))]
"""A text of any number of lines."""

_IDENT = r"[A-Z0-9](?:[A-Z0-9-]{0,22}[A-Z0-9])?"
_DEVICES = re.compile(r"CON|PRN|AUX|NUL|COM[0-9]|LPT[0-9]")


def _read_ident(value: object) -> str:
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value)
    if not isinstance(value, str) or not re.fullmatch(_IDENT, value, re.ASCII):
        raise refuse(
            f"is {quoted(value)}",
            "an ID is 1 to 24 capital letters, digits and hyphens, and begins and ends without a hyphen",
            "write an ID such as B2-017",
        )
    if _DEVICES.fullmatch(value):
        raise refuse(
            f"is {quoted(value)}",
            "Windows keeps this name for a device",
            f"write another ID, such as {value}-1",
        )
    return str(value)


Ident = Annotated[
    str,
    BeforeValidator(_read_ident),
    WithJsonSchema(
        {
            "type": ["string", "integer"],
            "minimum": 0,
            "pattern": "^(?!(?:CON|PRN|AUX|NUL|COM[0-9]|LPT[0-9])$)" + _IDENT + "$",
        }
    ),
]
"""The ID of a transit, a wall or a revision: it is a folder name, an address and a QR text."""


def _pattern(pattern: str, why: str, mend: str) -> Callable[[object], str]:
    compiled = re.compile(pattern, re.ASCII)

    def read(value: object) -> str:
        if isinstance(value, int) and not isinstance(value, bool):
            value = str(value)
        if not isinstance(value, str) or not compiled.fullmatch(value):
            raise refuse(f"is {quoted(value)}", why, mend)
        return str(value)

    return read


_SLUG = r"[a-z0-9](?:[a-z0-9-]{0,38}[a-z0-9])?"
Slug = Annotated[
    str,
    BeforeValidator(
        _pattern(_SLUG, "this is a short name of small letters, digits and hyphens", "write one such as marram")
    ),
    WithJsonSchema({"type": ["string", "integer"], "minimum": 0, "pattern": f"^{_SLUG}$"}),
]
"""A short name that is safe as a file name: small letters, digits, hyphens."""

_PART = r"[A-Za-z0-9](?:[A-Za-z0-9./x-]{0,30}[A-Za-z0-9])?"
PartNumber = Annotated[
    str,
    BeforeValidator(
        _pattern(_PART, "a part number is letters, digits, points, slashes and hyphens", "write one such as MB-24")
    ),
    WithJsonSchema({"type": ["string", "number"], "minimum": 0, "pattern": f"^{_PART}$"}),
]
"""The key of a part in the catalogue."""

_FACT = r"[a-z0-9]+(?:[-:][a-z0-9]+)*"
Fact = Annotated[
    str,
    BeforeValidator(
        _pattern(_FACT, "a condition is small letters, digits, hyphens and colons", "write one such as tank-behind")
    ),
    WithJsonSchema({"type": ["string", "integer"], "minimum": 0, "pattern": f"^{_FACT}$"}),
]
"""A condition that steps and cautions can ask for, such as fixing:welded or tank-behind."""


def _read_day(value: object) -> date:
    if isinstance(value, date):
        return value
    if isinstance(value, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value, re.ASCII):
        try:
            return date.fromisoformat(value)
        except ValueError:
            pass
    raise refuse(f"is {quoted(value)}", "a day is year-month-day and must exist", "write one such as 2031-05-14")


Day = Annotated[
    date,
    BeforeValidator(_read_day),
    WithJsonSchema({"type": "string", "format": "date", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"}),
]
"""A calendar day, year-month-day."""


def _read_address(value: object) -> str:
    why = "labels carry this address: https or http, a host, at most a path of capitals, digits and hyphens"
    mend = "write one such as https://packs.example.org"
    if not isinstance(value, str) or not re.fullmatch(
        r"https?://[A-Za-z0-9.-]{1,120}(?::[0-9]{1,5})?(?:/[A-Z0-9-]{1,40})*/?", value, re.ASCII
    ):
        raise refuse(f"is {quoted(value)}", why, mend)
    if not urlsplit(value).hostname:
        raise refuse(f"is {quoted(value)}", why, mend)
    return value.rstrip("/")


Address = Annotated[
    str,
    BeforeValidator(_read_address),
    WithJsonSchema(
        {
            "type": "string",
            "pattern": "^https?://[A-Za-z0-9.-]{1,120}(?::[0-9]{1,5})?(?:/[A-Z0-9-]{1,40})*/?$",
        }
    ),
]
"""The address a site will be served at, without a slash at its end."""

_UID = r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}"
Uid = Annotated[
    str,
    BeforeValidator(
        _pattern(
            _UID,
            "the job's UID is made once by 'wallwork new' and never changed",
            "copy it from the job it was made for",
        )
    ),
    WithJsonSchema({"type": "string", "pattern": f"^{_UID}$"}),
]
"""A random UUID."""

_DIGEST = r"[0-9a-f]{64}"
Digest = Annotated[
    str,
    BeforeValidator(_pattern(_DIGEST, "a digest is 64 digits and letters a to f", "copy it whole")),
    WithJsonSchema({"type": "string", "pattern": f"^{_DIGEST}$"}),
]
"""A SHA-256 digest in small hexadecimal letters."""

_LANGUAGE = r"[a-z]{2,3}(?:-[A-Za-z0-9]{2,8})*"
Language = Annotated[
    str,
    BeforeValidator(_pattern(_LANGUAGE, "a language is its short code", "write one such as en or pl")),
    WithJsonSchema({"type": "string", "pattern": f"^{_LANGUAGE}$"}),
]
"""A language tag such as en."""

ServiceClass = Literal["power", "control", "instrument", "data", "fibre", "earth", "pipe"]


def in_order(least: Decimal, most: Decimal) -> None:
    """Refuse a range that runs backwards."""
    if least > most:
        raise refuse(
            f"runs from {format_mm(least)} to {format_mm(most)}",
            "least must not exceed most",
            "swap the two, or mend the wrong one",
        )


class Window(Model):
    """A range with both ends in it."""

    least: MmOrZero
    """Least value, mm."""
    most: MmOrZero
    """Most value, mm."""

    @model_validator(mode="after")
    def _ordered(self) -> "Window":
        in_order(self.least, self.most)
        return self

    def holds(self, value: Decimal) -> bool:
        """Tell whether ``value`` (mm) lies in the window, its ends included."""
        return self.least <= value <= self.most

    def __str__(self) -> str:
        return f"{format_mm(self.least)} to {format_mm(self.most)}"
