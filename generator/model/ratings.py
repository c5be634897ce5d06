"""Ratings that walls demand and certificates state: fire classes and ingress codes, as text with a strict grammar.

A rating is kept as its text. ``fire_class`` and ``ip_codes`` take it apart; what covers what stands in
``engine.demands``. Lists of classes: ships after the 2010 FTP Code (A, B) and the Norwegian and Canadian rules for
hydrocarbon fires (H); buildings after EN 13501-2, its list of times from memory, with the ends of pipes after
EN 1366-3 (U open, C closed; first the end in the fire, then the other), also from memory; F and T after UL 1479.
An L rating (air that leaks, UL 1479) is no text but its rates: ``LRating``.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BeforeValidator, WithJsonSchema, model_validator

from generator.model.scalars import Amount, Model, format_mm, quoted, refuse

FireSystem = Literal["ship", "building", "firestop"]
"""Whose classes they are: of ships and offshore, of European buildings, or the F and T ratings of UL 1479."""

SHIP_CLASSES: dict[str, tuple[int, ...]] = {"A": (0, 15, 30, 60), "B": (0, 15), "H": (0, 60, 120)}
_INSULATED = (15, 20, 30, 45, 60, 90, 120, 180, 240)
PIPE_ENDS = ("U/U", "C/U", "U/C", "C/C")
BUILDING_CLASSES: dict[str, tuple[int, ...]] = {
    "E": (15, 30, 45, 60, 90, 120, 180, 240),
    "EI": _INSULATED,
    "REI": _INSULATED,
}

_SHIP = re.compile(r"([ABH])-(0|[1-9][0-9]{1,2})", re.ASCII)
_BUILDING = re.compile(r"(R?EI|E) ([1-9][0-9]{1,2})(?:-([UC]/[UC]))?", re.ASCII)
_HOURS = r"(0|[1-9])(\.25|\.5|\.75)? h"
_FIRESTOP = re.compile(rf"F ({_HOURS})(?: / T ({_HOURS}))?", re.ASCII)
_IP = re.compile(r"IP([0-6X])([0-9X])", re.ASCII)


@dataclass(frozen=True)
class FireClass:
    """A fire class taken apart. ``minutes`` is its time; ``insulated`` the time of its T rating, where it has one.

    ``ends`` are the ends of pipes, one of PIPE_ENDS, where it names them.
    """

    system: FireSystem
    letters: str
    minutes: int
    insulated: int | None = None
    ends: str | None = None


@dataclass(frozen=True)
class IpCode:
    """One ingress code: its two numerals, None for an X."""

    solid: int | None
    water: int | None


def fire_class(text: str) -> FireClass:
    """Return a fire class taken apart. Raises ValueError for text that ``FireRating`` would have refused."""
    if found := _SHIP.fullmatch(text):
        if int(found[2]) in SHIP_CLASSES[found[1]]:
            return FireClass("ship", found[1], int(found[2]))
    elif found := _BUILDING.fullmatch(text):
        # R belongs to the wall, and a wall has no pipes' ends.
        if int(found[2]) in BUILDING_CLASSES[found[1]] and not (found[3] and "R" in found[1]):
            return FireClass("building", found[1], int(found[2]), ends=found[3])
    elif found := _FIRESTOP.fullmatch(text):
        flame, heat = _minutes(found[1]), _minutes(found[4]) if found[4] else None
        if flame and (heat is None or heat <= flame):
            return FireClass("firestop", "F", flame, heat)
    raise ValueError(text)


def _minutes(hours: str) -> int:
    return int(Decimal(hours.removesuffix(" h")) * 60)


def ip_codes(text: str) -> tuple[IpCode, ...]:
    """Return the codes of a rating such as IP66 or IP66/IP68. Raises ValueError for anything else."""
    codes = []
    for part in text.split("/"):
        found = _IP.fullmatch(part)
        if not found or found[1] == found[2] == "X":
            raise ValueError(text)
        codes.append(IpCode(*(None if numeral == "X" else int(numeral) for numeral in found.groups())))
    return tuple(codes)


def _read_fire(value: object) -> str:
    try:
        if isinstance(value, str):
            fire_class(value)
            return str(value)
    except ValueError:
        pass
    raise refuse(
        f"is {quoted(value)}",
        "a fire class is A-, B- or H- with its minutes, E, EI or REI with its minutes, or F and T with their hours;"
        " each has only certain times, T is never longer than F, and only E and EI name the ends of pipes",
        "write one such as A-60, EI 120, EI 120-U/C or F 2 h / T 1 h; L and W are l_rating: and w_rating:, anything"
        " else goes under other:",
    )


def _read_ip(value: object) -> str:
    try:
        if isinstance(value, str):
            ip_codes(value)
            return str(value)
    except ValueError:
        pass
    raise refuse(
        f"is {quoted(value)}",
        "an ingress code is IP and two numerals (the first 0 to 6, the second 0 to 9, X where one is not stated)",
        "write one such as IP66, or two such as IP66/IP68; letters after it go under other:",
    )


_WITH_PIPES = {letters: times for letters, times in BUILDING_CLASSES.items() if "R" not in letters}


def _any_of(classes: dict[str, tuple[int, ...]], between: str) -> str:
    return "|".join(f"{letters}{between}(?:{'|'.join(map(str, times))})" for letters, times in classes.items())


FireRating = Annotated[
    str,
    BeforeValidator(_read_fire),
    WithJsonSchema(
        {
            "type": "string",
            "pattern": (
                f"^(?:{_any_of(SHIP_CLASSES, '-')}|{_any_of(BUILDING_CLASSES, ' ')}|{_FIRESTOP.pattern}"
                f"|(?:{_any_of(_WITH_PIPES, ' ')})-[UC]/[UC])$"
            ),
        }
    ),
]
"""A fire class such as A-60, EI 120, EI 120-U/C (the ends of its pipes) or F 2 h / T 1 h."""

IpRating = Annotated[
    str,
    BeforeValidator(_read_ip),
    WithJsonSchema({"type": "string", "pattern": f"^(?!IPXX){_IP.pattern}(?:/(?!IPXX){_IP.pattern})*$"}),
]
"""An ingress code such as IP66, or several such as IP66/IP68."""


LeakUnit = Literal["cfm/ft2", "m3/h/m2", "cfm", "m3/h"]
LEAK_UNITS: dict[LeakUnit, str] = {"cfm/ft2": "cfm/ft²", "m3/h/m2": "m³/(h·m²)", "cfm": "cfm", "m3/h": "m³/h"}
"""How pages write the units of leaking air: the first two for an area of opening, the others for the whole seal."""


class LRating(Model):
    """An L rating after UL 1479: how much air leaks at most."""

    ambient: Amount | None = None
    """Rate at the temperature of the room, in unit."""
    hot: Amount | None = None
    """Rate at the raised temperature of the test, 400 °F, in unit."""
    unit: LeakUnit
    """cfm/ft2 or m3/h/m2 for each area of opening; cfm or m3/h for the whole seal."""

    @model_validator(mode="after")
    def _rates_something(self) -> "LRating":
        if self.ambient is None and self.hot is None:
            raise refuse(
                "is an L rating without a rate", "the rate is what is compared", "give ambient: or hot:, or both"
            )
        return self

    @property
    def text(self) -> str:
        """As it is told in a line: 'L 5 cfm/ft², hot L 8 cfm/ft²'."""
        told = [f"L {self.rate_text(self.ambient)}" if self.ambient is not None else ""]
        told.append(f"hot L {self.rate_text(self.hot)}" if self.hot is not None else "")
        return ", ".join(rate for rate in told if rate)

    def rate_text(self, rate: Decimal) -> str:
        """Return one of its rates as pages show it: '5 cfm/ft²'."""
        return f"{format_mm(rate)} {LEAK_UNITS[self.unit]}"


def head_text(head_m: Decimal | None, bar: Decimal | None) -> str:
    """Return a head of water or a pressure as pages show it: '1.2 m' or '0.4 bar'; '' where there is neither."""
    if head_m is not None:
        return f"{format_mm(head_m)} m"
    return f"{format_mm(bar)} bar" if bar is not None else ""
