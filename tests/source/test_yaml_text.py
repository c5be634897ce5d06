"""YAML as text with positions."""

import copy
import pickle
import time

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from generator.errors import Where, WorkPackError
from generator.source.files import decode
from generator.source.positions import Items, Map, Text, node_at, place_of
from generator.source.yaml_text import parse_yaml


def at(line: int, column: int) -> Where:
    return Where("f.yaml", line, column)


def problems(text: str) -> list[tuple[Where, str]]:
    with pytest.raises(WorkPackError) as caught:
        parse_yaml(text, "f.yaml")
    return [(problem.where, problem.what) for problem in caught.value.problems]


def test_every_value_keeps_its_text_and_its_place() -> None:
    root = parse_yaml("a: 12_5\nb:\n  - 010\n  - é: ü x\n    'q': \"z\"\n", "f.yaml")
    assert root == {"a": "12_5", "b": ["010", {"é": "ü x", "q": "z"}]}
    assert root["a"].where == at(1, 4)
    assert root["b"][0].where == at(3, 5)
    assert root["b"][1]["é"].where == at(4, 8)
    assert place_of(root, ("b",)) == at(2, 1)
    assert place_of(root, ("b", 1, "q")) == at(5, 10)
    assert place_of(root, ("b", 1, "none", "further")) == at(4, 5)
    assert place_of(root, ("b", 7)) == at(2, 1)
    assert node_at(root, ("b", 1, "q")) == "z"
    assert node_at(root, ("a", "b")) is None


def test_a_copied_mapping_keeps_its_places() -> None:
    root = parse_yaml("a: 1\nb: 2\n", "f.yaml")
    copied = copy.copy(root)
    del copied["a"]
    assert isinstance(copied, Map) and root["a"] == "1"
    assert copied.where_key("b") == at(2, 1)
    assert copied["b"].where == at(2, 4)
    assert pickle.loads(pickle.dumps(root["a"])).where == at(1, 4)


@pytest.mark.parametrize(
    "text", ["a:\n", "a: \n", "a: ~\n", "a: null\n", "a: Null\n", "a: NULL\n", "a: ''\n", 'a: ""\n']
)
def test_nothing_is_an_empty_text(text: str) -> None:
    assert parse_yaml(text, "f.yaml") == {"a": ""}


@pytest.mark.parametrize("text", ["a: 'null'\n", 'a: "~"\n', "a: nUll\n", "a: 'NULL'\n"])
def test_quoted_it_is_text(text: str) -> None:
    assert parse_yaml(text, "f.yaml")["a"] in ("null", "~", "nUll", "NULL")


def test_lines_of_any_system_and_a_byte_order_mark_leave_places_as_they_are() -> None:
    for end in ("\n", "\r\n", "\r"):
        text = decode(f"\ufeffa: 1{end}b:{end}  c: 2{end}".encode(), "f.yaml")
        root = parse_yaml(text, "f.yaml")
        assert place_of(root, ("b", "c")) == at(3, 6)
        assert place_of(root, ("a",)) == at(1, 4)


def test_what_could_mislead_is_refused_all_at_once() -> None:
    text = "a: 1\na: 2\nb: &x 1\nc: *x\nd: !!str 1\ne: !run {}\n? [1]\n: 2\nf: &y [1]\n"
    assert [where for where, _ in problems(text)] == [
        *(at(2, 1), at(3, 4), at(4, 4), at(5, 4), at(6, 4), at(7, 3), at(9, 4)),
    ]


def test_keys_given_twice_are_found_at_every_level() -> None:
    assert problems("a:\n  b: 1\n  b: 2\nc:\n  - d: 1\n    d: 2\n")[0][0] == at(3, 3)
    assert problems("a:\n  b: 1\n  b: 2\nc:\n  - d: 1\n    d: 2\n")[1][0] == at(6, 5)
    assert problems("1: a\n'1': b\n")[0][0] == at(2, 1)


def test_an_alias_bomb_is_refused_before_it_grows() -> None:
    lines = ["a: &a [x, x, x, x, x, x, x, x, x, x]"]
    lines += [
        f"{now}: &{now} [{', '.join([f'*{before}'] * 10)}]"
        for before, now in zip("abcdefgh", "bcdefghi", strict=True)
    ]
    start = time.process_time()
    assert len(problems("\n".join(lines))) == 9 + 80
    assert time.process_time() - start < 1


@pytest.mark.parametrize(
    "text",
    [
        "[" * 200_000,
        "a: " + "{a: " * 50_000,
        "- " * 50_000,
        "? " * 50_000,
        "a:\n" + "".join(f"{' ' * n}a:\n" for n in range(500)),
    ],
)
def test_depth_has_a_limit_and_costs_nothing(text: str) -> None:
    start = time.process_time()
    assert problems(text)
    assert time.process_time() - start < 2


def test_sixty_thousand_lines_are_read_in_seconds() -> None:
    text = "transits:\n" + "".join(
        f"  B-{number}:\n    wall: W1\n    at:\n      x: {number}\n      y: 2\n      to: centre\n"
        for number in range(10_000)
    )
    assert text.count("\n") > 60_000
    start = time.process_time()
    root = parse_yaml(text, "f.yaml")
    assert time.process_time() - start < 5
    assert place_of(root, ("transits", "B-9999", "at", "to")) == at(60_001, 11)


values = st.recursive(
    st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S")), max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text("abc-_.1", min_size=1, max_size=4), inner, max_size=3)
    ),
    max_leaves=8,
)


@given(st.dictionaries(st.text("abcXYZ019", min_size=1, max_size=5), values, min_size=1, max_size=4), st.booleans())
def test_agrees_with_another_reader_of_text(value: dict[str, object], flow: bool) -> None:
    """The judge is PyYAML's own loader that leaves every scalar text."""
    text = yaml.dump(value, Dumper=yaml.SafeDumper, default_style='"', default_flow_style=flow, allow_unicode=True)
    text = text.replace("!!str ", "")
    root = parse_yaml(text, "f.yaml")
    assert root == yaml.load(text, Loader=yaml.BaseLoader) == value
    lines = text.splitlines()

    def check(node: object) -> None:
        if isinstance(node, Text) and node:
            assert lines[node.line - 1][node.column - 1] == '"'
        for inner in node if isinstance(node, Items) else (node.values() if isinstance(node, Map) else ()):
            check(inner)

    check(root)


@pytest.mark.parametrize(
    ("text", "place", "what"),
    [
        ("a: b: c\n", (1, 5), "a colon stands where no key can be"),
        ("a: @b\n", (1, 4), '"@" stands at the beginning of a value or key'),
        ("a: %b\n", (1, 4), '"%" stands at the beginning of a value or key'),
        ("a:\n\tb: 1\n", (2, 1), "a tab stands at the beginning of a line"),
        ("a: |\n  b\n\tc\n", (3, 1), "a tab stands at the beginning of a line"),
        ("b: 1\na: 'c\nd: 1\n", (2, 4), "a quote is opened and never closed"),
        ('a: "b\n---\nc"\n', (2, 1), "a quote is opened and not closed before this line"),
        ("a: [b,\n  c\nd: 1\n", (3, 2), "the list opened with [ in line 1 is not closed before this place"),
        ("a: {b: c,\n  d: e\nf: 1\n", (3, 2), "the mapping opened with { in line 1 is not closed before this place"),
        ("a: [b, c\n", (1, 4), "the list opened with [ in line 1 is not closed before this place"),
        ("a: - b\n", (1, 4), "a list item stands on the line of its key"),
        ("- a\nb: c\n", (2, 1), "this line is no item of the list above"),
        ("a: 1\n  b: 2\n", (2, 4), "a colon stands where no key can be"),
        ('a: "b" c\n', (1, 8), "no key begins here"),
        ("a: 1\nb\nc: 2\n", (3, 1), "a key without its colon stands before this place"),
        ('a: "\\q"\n', (1, 5), "a backslash in double quotes is followed by a character that means nothing"),
        ("a: 1\n...\nb: 2\n", (3, 1), "something stands after the end of the document"),
        ("a: * b\n", (1, 5), "an & or * stands at the beginning of a value"),
        ("a: |x\n  b\n", (1, 5), "something follows a | or > on its line"),
        ("a: ]\n", (1, 4), "a value or key is missing here"),
        ("%FOO 1\n---\na: 1\n", (1, 5), "the file can't be read past this place"),
        ("a: !x!y b\n", (1, 4), "the file can't be read past this place"),
    ],
)
def test_where_yaml_ends_is_said_in_our_words(text: str, place: tuple[int, int], what: str) -> None:
    assert problems(text) == [(at(*place), what)]
