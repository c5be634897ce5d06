"""Text, mappings and lists that know where in a file they stand."""

from collections.abc import Iterable
from typing import Any

from generator.errors import Where


class Text(str):
    """A scalar as it is written, with the place of its first character."""

    __slots__ = ("column", "file", "line")

    file: str
    line: int
    column: int

    def __new__(cls, value: str, file: str, line: int, column: int) -> "Text":
        text = super().__new__(cls, value)
        text.file = file
        text.line = line
        text.column = column
        return text

    @property
    def where(self) -> Where:
        """Its place."""
        return Where(self.file, self.line, self.column)

    def __reduce__(self) -> tuple[Any, ...]:
        return Text, (str(self), self.file, self.line, self.column)


class Map(dict[str, Any]):
    """A mapping in the order of its file. Its keys are Text."""

    __slots__ = ("_keys", "where")

    def __init__(self, where: Where, items: Iterable[tuple[str, Any]] = ()) -> None:
        super().__init__(items)
        self.where = where
        self._keys: dict[str, str] | None = None

    def __copy__(self) -> "Map":
        return Map(self.where, self.items())

    def where_key(self, name: str) -> Where:
        """Return the place of a key. Raises KeyError when there is none."""
        if self._keys is None or len(self._keys) != len(self):
            self._keys = {key: key for key in self}
        key = self._keys[name]
        return key.where if isinstance(key, Text) else self.where


class Items(list[Any]):
    """A list in the order of its file."""

    __slots__ = ("where",)

    def __init__(self, where: Where, items: Iterable[Any] = ()) -> None:
        super().__init__(items)
        self.where = where


def node_at(root: Any, path: Iterable[int | str]) -> Any:
    """Return what ``path`` leads to (Text, Map, Items), or None when it leads nowhere."""
    node = root
    for step in path:
        inside = step in node if isinstance(node, Map) else isinstance(node, Items) and step in range(len(node))
        if not inside:
            return None
        node = node[step]
    return node


def place_of(root: Map, path: Iterable[int | str]) -> Where:
    """Return the place of what ``path`` leads to, or of the nearest thing that encloses it.

    A text or an item of a list has its own place; a mapping, a list or an empty text under a key has
    the key's, since that is where a reader looks for it.
    """
    node: Any = root
    where = root.where
    for step in path:
        if isinstance(node, Map) and isinstance(step, str) and step in node:
            where = node.where_key(step)
            node = node[step]
            if isinstance(node, Text) and node:
                where = node.where
        elif isinstance(node, Items) and isinstance(step, int) and step < len(node):
            node = node[step]
            where = node.where
        else:
            break
    return where
