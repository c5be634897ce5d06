"""JSON that programs wrote (pins, records) becomes plain values, or Problems that point into it.

Decimals stay text, so that 14.50 is exact; a key that stands twice, NaN and depths that nobody writes are
refused. What a model refuses is named by its JSON pointer (RFC 6901), such as /steps/fit-type.1/values/0.
"""

import json
from typing import Any

import yaml
from pydantic import ValidationError

from generator.errors import Problem, Where, WorkPackError
from generator.model.scalars import quoted

_PLACES: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)

DEEPEST = 40
"""How deep lists and objects may lie in each other: no pin and no record comes near it."""


def parse_json(data: bytes, file: str, noun: str) -> Any:
    """Read JSON. ``noun`` says what the file is ('pin'). Raises WorkPackError with the place of the first fault."""
    where = Where(file)
    mend = f"get the {noun} again from where it was made; don't mend it by hand"
    try:
        text = data.decode("utf-8").removeprefix("\ufeff")
        value = json.loads(text, parse_float=str, parse_int=_int, parse_constant=_refuse, object_pairs_hook=_object)
    except UnicodeDecodeError as error:
        raise WorkPackError(
            [Problem(where, f"the {noun} is not UTF-8 text at byte {error.start}", "JSON is UTF-8", mend)]
        ) from None
    except json.JSONDecodeError as error:
        place = Where(file, error.lineno, error.colno)
        raise WorkPackError(
            [Problem(place, f"the {noun} is broken off or no JSON: {error.msg}", "programs wrote it whole", mend)]
        ) from None
    except (_Refused, ValueError) as error:
        raise WorkPackError(
            [Problem(where, f"the {noun} {error}", "a reader could take it in two ways", mend)]
        ) from None
    except RecursionError:
        raise WorkPackError([Problem(where, f"the {noun} is nested too deep", "nobody writes that", mend)]) from None
    if _depth(value) > DEEPEST:
        raise WorkPackError([Problem(where, f"the {noun} is nested too deep", "nobody writes that", mend)])
    return value


class _Refused(Exception):
    """What JSON allows and we don't."""


def _int(text: str) -> int | str:
    return int(text) if len(text) < 16 else text


def _refuse(text: str) -> None:
    raise _Refused(f"holds {text}, which is no number")


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise _Refused(f"has the key {quoted(twice)} twice")
    return found


def _depth(value: Any) -> int:
    level, deep = [value], 0
    while level and deep <= DEEPEST:
        below = [item.values() if isinstance(item, dict) else item for item in level if isinstance(item, dict | list)]
        level = [item for items in below for item in items]
        deep += 1
    return deep


def pointer(path: tuple[int | str, ...]) -> str:
    """Return a path into JSON as RFC 6901 writes it; '' is the whole."""
    return "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in path)


def place_of(data: bytes, file: str, path: tuple[int | str, ...]) -> Where:
    """Return where a value of JSON that was read begins; the file's beginning where that can't be said.

    JSON is met as YAML here, whose parser keeps places.
    """
    try:
        node: Any = yaml.compose(data.decode("utf-8").removeprefix("\ufeff"), Loader=_PLACES)
        for step in path:
            if isinstance(node, yaml.MappingNode):
                node = next(value for key, value in node.value if key.value == step)
            else:
                node = node.value[step]
    except (yaml.YAMLError, StopIteration, TypeError, IndexError, AttributeError, UnicodeError, RecursionError):
        return Where(file)
    return Where(file, node.start_mark.line + 1, node.start_mark.column + 1)


def explain_json(error: ValidationError, file: str, noun: str, mend: str) -> list[Problem]:
    """Turn what a model refused into Problems, each with the pointer to it, at most twenty of them."""
    found = []
    for fault in error.errors(include_url=False)[:20]:
        path = tuple(step for step in fault["loc"] if step != "[key]")
        context: dict[str, Any] = fault.get("ctx") or {}
        what = str(context.get("what", fault["msg"][:1].lower() + fault["msg"][1:]))
        place = pointer(path) or "the whole"
        shown = "".join(ch if ch.isprintable() else "?" for ch in place[:200])
        found.append(Problem(Where(file), f"{shown} of the {noun} {_said(what)}", str(context.get("why", "")), mend))
    return found


def _said(what: str) -> str:
    return what if what.startswith(("is ", "has ", "holds ", "runs ", "says ")) else f"is refused: {what}"
