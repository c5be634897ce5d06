"""YAML as text with positions: every scalar stays as it is written, and what could mislead is refused."""

from collections.abc import Iterator
from typing import Any

import yaml

from generator.errors import Problem, Where, WorkPackError
from generator.model.scalars import quoted
from generator.source.files import LINE_END, refused
from generator.source.positions import Items, Map, Text

DEEPEST = 24
"""Levels of mappings and lists; a catalogue needs eight."""

# Where PyYAML comes without its C parser the places are the same, some messages more general.
_LOADER: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
_NULL = frozenset(("~", "null", "Null", "NULL"))

# The parser's own phrases (the beginning is enough) and what they mean to the person who wrote the file.
_MEANINGS: tuple[tuple[str, str, str, str], ...] = (
    (
        "mapping values are not allowed",
        "a colon stands where no key can be",
        "a key begins its own line, at the same distance from the left as its neighbours",
        "mend the indentation of this line, or put text that holds a colon in quotes",
    ),
    (
        "found character that cannot start any token",
        "{character} stands at the beginning of a value or key",
        "YAML keeps this character for itself",
        "put the text in quotes",
    ),
    (
        "found a tab character",
        "a tab stands at the beginning of a line",
        "lines are indented with spaces",
        "replace the tab by spaces",
    ),
    (
        "found unexpected end of stream",
        "a quote is opened and never closed",
        "text that begins with a quote ends with the same one",
        "close the quote",
    ),
    (
        "found unexpected document indicator",
        "a quote is opened and not closed before this line",
        "text that begins with a quote ends with the same one",
        "close the quote",
    ),
    (
        "did not find expected ',' or ']'",
        "the list opened with [ in line {line} is not closed before this place",
        "items are separated by commas, and the list ends with ]",
        "add the comma or the ] that is missing",
    ),
    (
        "did not find expected ',' or '}'",
        "the mapping opened with {{ in line {line} is not closed before this place",
        "entries are separated by commas, and the mapping ends with }",
        "add the comma or the } that is missing",
    ),
    (
        "block sequence entries are not allowed",
        "a list item stands on the line of its key",
        "each item of a list begins its own line with a hyphen",
        "put the item on the next line",
    ),
    (
        "did not find expected '-' indicator",
        "this line is no item of the list above",
        "every item of a list begins with a hyphen at the same distance from the left",
        "mend the indentation, or add the hyphen",
    ),
    (
        "did not find expected key",
        "no key begins here",
        "each line of a mapping is a key, a colon and a value, at the same distance from the left",
        "mend the indentation; look for a quote closed too early or a hyphen too many",
    ),
    (
        "could not find expected ':'",
        "a key without its colon stands before this place",
        "each line of a mapping is a key, a colon and a value",
        "add the colon and a space after the key",
    ),
    (
        "found unknown escape character",
        "a backslash in double quotes is followed by a character that means nothing",
        "in double quotes a backslash begins a special character",
        "use single quotes, or write two backslashes",
    ),
    (
        "did not find expected <document start>",
        "something stands after the end of the document",
        "a job file is one document",
        "remove the line ... above it, or what follows",
    ),
    (
        "did not find expected alphabetic or numeric character",
        "an & or * stands at the beginning of a value",
        "YAML keeps these characters for itself",
        "put the text in quotes",
    ),
    (
        "did not find expected comment or line break",
        "something follows a | or > on its line",
        "a text of several lines begins on the next line",
        "put the text on the next line, or in quotes",
    ),
    (
        "did not find expected node content",
        "a value or key is missing here",
        "a bracket closes that was never opened, or a comma has nothing before it",
        "remove this character, or put the text in quotes",
    ),
)


def parse_yaml(text: str, file: str) -> Map:
    """Read one YAML document whose top is a mapping; scalars become Text, an unquoted null an empty Text.

    Raises WorkPackError: one problem where the text stops being YAML, or all problems with duplicate keys,
    anchors, aliases, tags and keys that are no text.
    """
    walk = _Walk(yaml.parse(text, Loader=_LOADER), file)
    try:
        root = walk.document()
    except yaml.MarkedYAMLError as error:
        raise WorkPackError([*walk.problems, _explain(error, text, file)]) from None
    except yaml.YAMLError:  # the characters were judged before, so only the parser's own limits are left
        raise refused(
            Where(file), f"{file} can't be read", "it is no YAML text", "write the file anew, key by key"
        ) from None
    if walk.problems:
        raise WorkPackError(walk.problems)
    if isinstance(root, Map):
        return root
    if root is None or root == "":
        raise refused(
            Where(file), f"{file} is empty", "a job file says at least one thing", "write its keys, or remove it"
        )
    noun = "a list" if isinstance(root, Items) else "text"
    raise refused(
        root.where, f"{file} holds {noun}", "its top level is keys with values", "write a key, a colon and its value"
    )


def _explain(error: yaml.MarkedYAMLError, text: str, file: str) -> Problem:
    """Say in our words where the parser stopped: at the end of the file, where that began which never ends."""
    lines = LINE_END.split(text)
    places = [
        (mark.line, mark.column)
        for mark in (error.problem_mark, error.context_mark)
        if mark
        and mark.line < len(lines)
        and lines[mark.line][mark.column :].strip() + "".join(lines[mark.line + 1 :]).strip()
    ]
    line, column = places[0] if places else (len(lines) - 1, len(lines[-1]))
    where = Where(file, line + 1, column + 1)
    character = lines[line][column : column + 1]
    said = "found a tab character" if character == "\t" else error.problem or ""
    opened = error.context_mark.line + 1 if error.context_mark else where.line
    for beginning, what, why, mend in _MEANINGS:
        if said.startswith(beginning):
            return Problem(where, what.format(character=quoted(character), line=opened), why, mend)
    return Problem(
        where,
        "the file can't be read past this place",
        "it is no YAML from here on",
        "look at this line and the one above: indentation, colons, quotes, brackets",
    )


class _Walk:
    """Events in, positioned values out."""

    def __init__(self, events: Iterator[Any], file: str) -> None:
        self.events = events
        self.file = file
        self.problems: list[Problem] = []

    def document(self) -> Any:
        """Return the value of the one document, None when there is none."""
        root = None
        documents = 0
        for event in self.events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    self._refuse(
                        event,
                        "a second document begins here",
                        "a job file is one document",
                        "remove the line --- or what follows it",
                    )
                    break
            elif isinstance(event, yaml.NodeEvent):
                root = self._node(event, 1)
        return root

    def _node(self, event: Any, depth: int) -> Any:
        mark = event.start_mark
        if isinstance(event, yaml.AliasEvent):
            self._refuse_mark(event, f"*{event.anchor}")
            return Text("", self.file, mark.line + 1, mark.column + 1)
        if event.anchor is not None:
            self._refuse_mark(event, f"&{event.anchor}")
        if event.tag is not None:
            self._refuse_mark(event, event.tag if event.tag.startswith("!") else f"!<{event.tag}>")
        if isinstance(event, yaml.ScalarEvent):
            value = "" if event.value in _NULL and event.implicit[0] else event.value
            return Text(value, self.file, mark.line + 1, mark.column + 1)
        if depth > DEEPEST:
            self._refuse(
                event,
                f"more than {DEEPEST} levels stand inside each other here",
                "no job file needs so many",
                "look for brackets or indentation gone wrong",
            )
            raise WorkPackError(self.problems)
        if isinstance(event, yaml.SequenceStartEvent):
            return self._items(event, depth)
        return self._map(event, depth)

    def _items(self, start: Any, depth: int) -> Items:
        items = Items(self._where(start))
        for event in self.events:
            if isinstance(event, yaml.SequenceEndEvent):
                break
            items.append(self._node(event, depth + 1))
        return items

    def _map(self, start: Any, depth: int) -> Map:
        entries = Map(self._where(start))
        for event in self.events:
            if isinstance(event, yaml.MappingEndEvent):
                break
            key = self._node(event, depth + 1)
            value = self._node(next(self.events), depth + 1)
            if not isinstance(key, Text):
                self._refuse(
                    event, "a key is a mapping or a list", "a key is a word", "write a word before the colon"
                )
            elif not key and not isinstance(event, yaml.AliasEvent):
                self._refuse(
                    event, "a value has no key", "each value stands behind its key", "write the key before it"
                )
            elif key in entries:
                first = entries.where_key(key)
                self._refuse(
                    event,
                    f"{quoted(key)} stands here a second time",
                    f"a key stands once in a mapping, and line {first.line} has it already",
                    "remove one of the two, or rename it",
                )
            else:
                entries[key] = value
        return entries

    def _where(self, event: Any) -> Where:
        mark = event.start_mark
        return Where(self.file, mark.line + 1, mark.column + 1)

    def _refuse(self, event: Any, what: str, why: str, mend: str) -> None:
        self.problems.append(Problem(self._where(event), what, why, mend))

    def _refuse_mark(self, event: Any, mark: str) -> None:
        self._refuse(
            event,
            f"{quoted(mark)} is an instruction to the file's reader",
            "job files hold words and figures only, each written out where it is used",
            "write the value itself; if the text begins with & * or !, put it in quotes",
        )
