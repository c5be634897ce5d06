"""What a model refused becomes Problems in the words of the person who wrote the file."""

from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from generator.errors import Problem, Where
from generator.model.scalars import quoted
from generator.source.lookalikes import did_you_mean, foreign_character, listed, nearest, one_of
from generator.source.positions import Items, Map, node_at, place_of

Path = tuple[int | str, ...]

# What the entries of a collection are called; longest first.
_NOUNS: dict[Path, str] = {
    ("catalogue", "blocks"): "block",
    ("catalogue", "fillers"): "filler",
    ("catalogue", "row_plates"): "row plate",
    ("catalogue", "clamping_units"): "clamping unit",
    ("catalogue", "frames"): "frame",
    ("catalogue", "sleeves"): "sleeve",
    ("catalogue", "split_seals"): "split seal",
    ("catalogue", "consumables"): "consumable",
    ("walls",): "wall",
    ("transits",): "transit",
    ("phases",): "phase",
    ("steps",): "step",
    ("cautions",): "caution",
}
_WHOLE: dict[Path, str] = {("job",): "the job", ("catalogue",): "the catalogue"}


def explain(error: ValidationError, model: type[BaseModel], root: Map, subject: str = "") -> list[Problem]:
    """Turn the errors of ``model`` on ``root`` into Problems, one a fault, at their places.

    ``subject`` names what the whole of ``root`` is ('cable W-104'); without it the subject is found from
    the path ('block MB-24').
    """
    faults = [_Fault(details, model, root, subject) for details in error.errors(include_url=False)]
    misspelt = {fault.meant for fault in faults}
    problems: dict[tuple[Where, str], Problem] = {}
    for fault in faults:
        if fault.is_echo or (fault.kind == "missing" and fault.path in misspelt):
            continue
        problem = fault.problem()
        problems.setdefault((problem.where, problem.what), problem)
    return list(problems.values())


def subject_of(root: Map, path: Path) -> tuple[str, Path]:
    """Return what a path speaks of ('transit B2-017') and the rest of the path within it."""
    for prefix, noun in _NOUNS.items():
        size = len(prefix)
        if path[:size] == prefix and len(path) > size:
            name: Any = path[size]
            if isinstance(name, int):
                said = node_at(root, (*path[: size + 1], "id"))
                name = said if isinstance(said, str) and said else f"number {name + 1}"
            return f"{noun} {_bare(name)}", path[size + 1 :]
    for prefix, noun in _WHOLE.items():
        if path[: len(prefix)] == prefix:
            return noun, path[len(prefix) :]
    return "", path


def phrase(path: Path) -> str:
    """Return a path as a reader would say it: 'least in entry 2 of table'."""
    for index in range(len(path) - 1, -1, -1):
        step = path[index]
        if isinstance(step, int):
            entry = f"entry {step + 1} of {phrase(path[:index])}"
            rest = phrase(path[index + 1 :])
            return f"{rest} in {entry}" if rest else entry
    return ".".join(_bare(step) for step in path)


class _Fault:
    """One error of a model, with all that is needed to tell it."""

    def __init__(self, details: ErrorDetails, model: type[BaseModel], root: Map, subject: str) -> None:
        self.kind = details["type"]
        self.input = details["input"]
        self.context: dict[str, Any] = details.get("ctx") or {}
        path = details["loc"]
        self.of_key = bool(path) and path[-1] == "[key]"
        self.path: Path = path[:-1] if self.of_key else path
        self.model = model
        self.root = root
        self.given_subject = subject

    @property
    def meant(self) -> Path | None:
        """Where an unknown key was most likely meant to lead."""
        parent = self._model_at(self.path[:-1]) if self.kind == "extra_forbidden" else None
        name = nearest(str(self.path[-1]), _keys(parent)) if parent else None
        return (*self.path[:-1], name) if name else None

    @property
    def is_echo(self) -> bool:
        """Tell whether pydantic found a list too short only because it had refused items of it."""
        return self.kind == "too_short" and len(self.input) >= int(self.context.get("min_length", 1))

    def problem(self) -> Problem:
        """Return the Problem that this error is."""
        if self.kind == "missing":
            return self._missing()
        if self.kind == "extra_forbidden":
            return self._unknown_key()
        what, why, mend = self._verdict()
        value = self.path[-1] if self.of_key and self.path else self.input
        character = foreign_character(value) if isinstance(value, str) else None
        if character:
            why = f"{why}; {character} only looks like the usual one"
        if self.of_key:
            field, subject = self._field_and_subject(self.path[:-1])
            name = f"a key of {field}" if field else "a key"
            return Problem(self._key_place(), f"{name} {what}{_for(subject)}", why, mend)
        field, subject = self._field_and_subject(self.path)
        if field and subject and self._is_whole():
            said = f"{field} of {subject} {what}"
        else:
            said = f"{field} {what}{_for(subject)}" if field else f"{subject or self.root.where.file} {what}"
        return Problem(place_of(self.root, self.path), said, why, mend)

    def _verdict(self) -> tuple[str, str, str]:
        value = self.input
        is_value = f"is {_shown(value)}"
        if self.kind == "refused":
            what, why, mend = (str(self.context[key]) for key in ("what", "why", "mend"))
            if isinstance(value, Map | Items) and not self._is_whole():
                return is_value, why, "write one value here"
            return what, why, mend
        if self.kind == "literal_error":
            choices = self._choices()
            return (
                is_value,
                f"it is {one_of(choices)}",
                did_you_mean(str(value), choices, "write one of them")
                if isinstance(value, str)
                else "write one of them",
            )
        if self.kind in ("model_type", "model_attributes_type", "dict_type", "mapping_type"):
            model = self._model_at(self.path)
            keys = f": {listed(_keys(model))}" if model else ""
            return (
                is_value,
                f"keys with their values are wanted here{keys}",
                "write each key on its own line below it",
            )
        if self.kind in ("tuple_type", "list_type"):
            return is_value, "a list is wanted here", "begin each item on its own line with a hyphen"
        if self.kind == "too_short":
            least = int(self.context.get("min_length", 1))
            return (
                "has no entry" if least == 1 else f"has fewer than {least} entries",
                ("at least one is wanted" if least == 1 else f"at least {least} are wanted"),
                "add what is missing, or remove the key if nothing is meant",
            )
        if self.kind == "too_long":
            most = self.context.get("max_length")
            return f"has {_count(len(value))}", f"exactly {most} are wanted", "remove those that do not belong here"
        if self.kind == "less_than_equal":
            most = self.context["le"]
            return is_value, f"it must be {most} or less", f"write a number that is {most} or less"
        if self.kind == "greater_than_equal":
            least = self.context["ge"]
            return is_value, f"it must be {least} or more", f"write a number that is {least} or more"
        return is_value, f"something else is wanted here{_meaning(self._description())}", "write that instead"

    def _missing(self) -> Problem:
        name = self.path[-1]
        if isinstance(name, int):  # a list of fixed length
            field, subject = self._field_and_subject(self.path[:-1])
            given = node_at(self.root, self.path[:-1])
            wanted = len(get_args(_bare_type(self._annotation(self.path[:-1]))))
            return Problem(
                place_of(self.root, self.path[:-1]),
                f"{field} has {_count(len(given) if isinstance(given, Items) else name)}{_for(subject)}",
                f"exactly {wanted} are wanted",
                "add what is missing",
            )
        empty = node_at(self.root, self.path) == ""
        field, subject = self._field_and_subject(self.path)
        return Problem(
            place_of(self.root, self.path),
            f"{field or name} is {'empty' if empty else 'missing'}{_for(subject) if field else ''}",
            f"it must be given{_meaning(self._description())}",
            f"write a value for {name}" if empty else f"add {name}:",
        )

    def _unknown_key(self) -> Problem:
        name = str(self.path[-1])
        field, subject = self._field_and_subject(self.path[:-1])
        within = " of ".join(part for part in (field, subject) if part) or "this file"
        model = self._model_at(self.path[:-1])
        keys = _keys(model) if model else []
        return Problem(
            self._key_place(),
            f"{quoted(name)} is not a key of {within}",
            f"its keys are {listed(keys)}",
            did_you_mean(name, keys, "remove it, or write one of these"),
        )

    def _key_place(self) -> Where:
        parent = node_at(self.root, self.path[:-1])
        name = self.path[-1] if self.path else ""
        if isinstance(parent, Map) and isinstance(name, str) and name in parent:
            return parent.where_key(name)
        return place_of(self.root, self.path)

    def _field_and_subject(self, path: Path) -> tuple[str, str]:
        subject, rest = (self.given_subject, path) if self.given_subject else subject_of(self.root, path)
        return phrase(rest), subject

    # -- what the model says about a place

    def _is_whole(self) -> bool:
        """Tell whether a model refused its keys together, rather than one value."""
        return self.kind == "refused" and isinstance(self.input, Map) and self._model_at(self.path) is not None

    def _annotation(self, path: Path) -> Any:
        found: Any = self.model
        for step in path:
            found = _step_into(found, step)
        return found

    def _model_at(self, path: Path) -> type[BaseModel] | None:
        found = _bare_type(self._annotation(path))
        return found if isinstance(found, type) and issubclass(found, BaseModel) else None

    def _choices(self) -> list[str]:
        annotation = self._annotation(self.path[:-1] if self.of_key else self.path)
        bare = _bare_type(annotation)
        if self.of_key:
            bare = _bare_type(get_args(bare)[0]) if get_origin(bare) is dict else None
        return [str(choice) for choice in get_args(bare)] if get_origin(bare) is Literal else []

    def _description(self) -> str:
        model = self._model_at(self.path[:-1])
        for name, field in model.model_fields.items() if model else ():
            if self.path and self.path[-1] == (field.alias or name):
                return field.description or ""
        return ""


def _step_into(annotation: Any, step: int | str) -> Any:
    bare = _bare_type(annotation)
    if isinstance(bare, type) and issubclass(bare, BaseModel):
        for name, field in bare.model_fields.items():
            if step == (field.alias or name):
                return field.annotation
        return None
    arguments = get_args(bare)
    if get_origin(bare) is dict:
        return arguments[1]
    if get_origin(bare) is tuple and isinstance(step, int):
        return arguments[0] if arguments[-1] is Ellipsis else arguments[step] if step < len(arguments) else None
    return None


def _bare_type(annotation: Any) -> Any:
    """Take off Annotated and | None."""
    while True:
        origin = get_origin(annotation)
        if origin is Annotated:
            annotation = get_args(annotation)[0]
        elif origin in (Union, UnionType):
            annotation = next(part for part in get_args(annotation) if part is not type(None))
        else:
            return annotation


def _keys(model: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def _for(subject: str) -> str:
    return f" for {subject}" if subject else ""


def _meaning(description: str) -> str:
    text = " ".join(description.split()).rstrip(".")
    if text[1:2].islower() or text[1:2] == " ":
        text = text[0].lower() + text[1:]
    return f": {text}" if text else ""


def _count(number: int) -> str:
    return {0: "no entry", 1: "1 entry"}.get(number, f"{number} entries")


def _shown(value: object) -> str:
    if isinstance(value, Map | dict):
        return "a mapping"
    if isinstance(value, Items | list):
        return "a list"
    return quoted(value) if value != "" else "empty"


def _bare(name: object) -> str:
    """A name inside a sentence: as it is, unless it is long or invisible."""
    return quoted(name, 40)[1:-1]
