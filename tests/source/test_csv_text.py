"""CSV as text with positions; Python's own csv module is the judge of what a row says."""

import csv
import io
import re
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.errors import Where, WorkPackError
from generator.source.csv_text import Cell, Column, parse_csv

AB = (Column("a", required=True), Column("b"), Column("c"))


def rows(text: str, columns: tuple[Column, ...] = AB) -> list[dict[str, str]]:
    return [dict(row) for row in parse_csv(text, "f.csv", columns)]


def places(text: str) -> list[Where]:
    with pytest.raises(WorkPackError) as caught:
        parse_csv(text, "f.csv", AB)
    return [problem.where for problem in caught.value.problems]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_separators_and_line_ends(separator: str, end: str) -> None:
    text = end.join(separator.join(row) for row in (["a", "b"], ["1", "2"], ["", ""], ["3", ""])) + end
    assert rows(text) == [{"a": "1", "b": "2"}, {"a": "3", "b": ""}]


def test_what_spreadsheets_leave_behind_is_no_fault() -> None:
    assert rows("\n,,\na,b,,\n1,2,,\n,,,\n\n,,\n") == [{"a": "1", "b": "2"}]
    assert rows("a,b\n1,2") == [{"a": "1", "b": "2"}]
    assert rows("a;b\n1,5;2\n") == [{"a": "1,5", "b": "2"}]
    assert rows('"a" , b\n "1" , "2"\n') == [{"a": "1", "b": "2"}]


def test_places_are_lines_and_characters_of_the_file() -> None:
    text = 'a,b,c\né,"x\ny, ""z""",  k\n1,2,3\n'
    first, second = parse_csv(text, "f.csv", AB)
    assert [first[name].where for name in "abc"] == [
        Where("f.csv", 2, 1),
        Where("f.csv", 2, 3),
        Where("f.csv", 3, 13),
    ]
    assert first["b"] == 'x\ny, "z"'
    assert second["c"].where == Where("f.csv", 4, 5)


def test_parts_of_a_cell_have_their_own_places() -> None:
    text = 'a,b\n1,"B1 ""q"" B2\r\n  B3;B4"\n'
    cell = parse_csv(text, "f.csv", AB)[0]["b"]
    assert isinstance(cell, Cell)
    found = [cell.part(match.start(), match.end()) for match in re.finditer(r"[^\s;]+", cell)]
    assert found == ["B1", '"q"', "B2", "B3", "B4"]
    assert [(part.line, part.column) for part in found] == [(2, 4), (2, 7), (2, 13), (3, 3), (3, 6)]


def test_every_fault_of_shape_has_its_place() -> None:
    assert places("a,d,a,b\n1,2,3,4\n") == [Where("f.csv", 1, 3), Where("f.csv", 1, 5)]
    assert places("b\n1\n") == [Where("f.csv", 1, 1)]
    assert places("a,b,c\n1,2\n1,2,3,4\n1,2,3,,5\n") == [
        Where("f.csv", 2, 1),
        Where("f.csv", 3, 7),
        Where("f.csv", 4, 8),
    ]
    assert places('a,b\n1,"2\n3,4\n') == [Where("f.csv", 2, 3)]
    assert places('a,b\n1,"2"x\n3,"4\n') == [Where("f.csv", 2, 6), Where("f.csv", 3, 3)]
    assert places("") == places("\n\n") == places(",,\n") == [Where("f.csv", 1, 1)]


cells = st.text(st.sampled_from("ab1é \",;\n\t'"), max_size=6).map(lambda text: text.strip(" "))


@given(st.lists(st.tuples(cells, cells, cells), max_size=6), st.sampled_from(",;\t"), st.booleans())
def test_says_what_another_reader_says(table: list[tuple[str, str, str]], separator: str, every: bool) -> None:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, delimiter=separator, quoting=csv.QUOTE_ALL if every else csv.QUOTE_MINIMAL)
    writer.writerows([("a", "b", "c"), *table])
    text = stream.getvalue()
    expected = list(csv.DictReader(io.StringIO(text, newline=""), delimiter=separator))
    assert rows(text) == [row for row in expected if any(row.values())]


def test_sixty_thousand_rows_are_read_in_seconds() -> None:
    text = "a,b,c\n" + "".join(f'W-{number},12.5,"B1 B2"\n' for number in range(60_000))
    start = time.process_time()
    assert parse_csv(text, "f.csv", AB)[-1]["b"].where == Where("f.csv", 60_001, 9)
    assert time.process_time() - start < 5
