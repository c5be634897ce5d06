"""The grammar of single values, as a planner may type them into YAML or a spreadsheet saves them."""

from decimal import Decimal
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from generator.model.job import Demands, Wall
from generator.model.scalars import (
    Address,
    Amount,
    Count,
    Day,
    Fact,
    Ident,
    Language,
    Mm,
    MmOrZero,
    MmSigned,
    Name,
    Note,
    PartNumber,
    Slug,
    Tag,
    Uid,
    YesNo,
)

NEVER_A_NUMBER = [
    *("12_5", "1e3", "1E3", "0x1F", "010", "00", "12,5", "1,000.5", " 12", "12 ", "12\n", "", "~", "null", "yes"),
    *("NaN", "nan", "Infinity", "-Infinity", "inf", ".nan", ".inf", "+5", ".5", "5.", "12.5.1", "1/2", "12 mm", "½"),
    *("１２", "١٢", "१२", "12.3456", "1234567", "--1", "−5", "0b1", "1_0.0", "12'5", "12:30"),
]


def accepts(kind: Any, value: object) -> bool:
    """Tell whether a scalar type takes a value; anything but a ValidationError is a failure of the test."""
    try:
        TypeAdapter(kind).validate_python(value)
    except ValidationError as error:
        assert all(details["type"] == "refused" for details in error.errors())
        return False
    return True


@pytest.mark.parametrize("text", NEVER_A_NUMBER)
def test_what_only_looks_like_a_number_is_refused(text: str) -> None:
    for kind in (Mm, MmOrZero, MmSigned, Amount, Count):
        assert not accepts(kind, text)


@pytest.mark.parametrize(
    ("kind", "good", "bad"),
    [
        (Mm, ["0.001", "12.5", "8", "999999.999", "1.50"], ["0", "0.0", "-1", "-0", "1000000", True, None, 12.5, []]),
        (MmOrZero, ["0", "0.0", "12.5"], ["-0.1", "-0", False, None]),
        (MmSigned, ["-12.5", "0", "7"], ["+7", "- 7", None]),
        (Amount, ["2.5"], ["0", "-1"]),
        (Count, ["0", "4", "999999"], ["1.0", "4.", "-1", "01", "1000000", True, 1.0]),
        (YesNo, ["yes", "no", "true", "false"], ["y", "n", "on", "off", "1", "0", "Yes", "TRUE", "", "t"]),
        (
            Day,
            ["2031-05-14", "2032-02-29"],
            ["2031-02-29", "2031-5-14", "14.05.2031", "20310514", "2031-05-14T00:00"],
        ),
        (Tag, ["12_5", "1e3", "010", "W-104", "Ø 12 µm", "~", "null", "yes", "=1+1", "x" * 40], ["", " ", "x" * 41]),
        (Name, ["a"], ["a\nb", "a\tb", "a\u202eb", "a\u200bb", "a\u00a0b", "a\x00b", "a\x7fb", "\u2028"]),
        (Note, ["a\nb\tc"], ["a\u202eb", "\n", "a\rb", "x" * 20_001]),
        (
            Ident,
            ["A", "B2-017", "0042", "A" * 24],
            ["b2", "-A", "A-", "A_B", "A.B", "CON", "LPT1", "A" * 25, "В2", "A\n"],
        ),
        (Slug, ["marram", "a", "a-1", "7"], ["../x", "a.b", "A", "a_b", "-a", "a/b", "", "a\n"]),
        (PartNumber, ["MB-24", "W-2x144", "1.5", "a/b"], ["a b", ".a", "a.", "", "a\n", "é"]),
        (Fact, ["fixing:welded", "tank-behind"], ["Tank", "a b", "a:", ":a", "", "a\n"]),
        (Language, ["en", "pl", "zh-Hant"], ["EN", "e", "en_GB", ""]),
        (Uid, ["5b0f2c1e-9a3d-4c57-8e21-6f4a7b9c0d13"], ["5B0F2C1E-9A3D-4C57-8E21-6F4A7B9C0D13", "1", ""]),
        (
            Address,
            ["https://packs.example.org", "http://10.0.0.7:8080/", "https://x.example/JOB/"],
            [
                "ftp://x",
                "https://",
                "https://x.example/job",
                "https://x.example?q",
                "javascript:alert(1)",
                "https://a b",
            ],
        ),
    ],
)
def test_grammar(kind: Any, good: list[object], bad: list[object]) -> None:
    assert [value for value in good if not accepts(kind, value)] == []
    assert [value for value in bad if accepts(kind, value)] == []


def test_numbers_are_exact() -> None:
    assert TypeAdapter(Mm).validate_python("12.345") == Decimal("12.345")
    assert TypeAdapter(Mm).validate_python("0.1") * 3 == Decimal("0.3")


def test_empty_means_not_given_and_never_no_or_nothing() -> None:
    assert Demands.model_validate({"fire": "", "gas": "", "other": ""}) == Demands()
    with pytest.raises(ValidationError) as caught:
        Wall.model_validate({"material": "", "structural": ""})
    missing = {details["loc"][0] for details in caught.value.errors() if details["type"] == "missing"}
    assert {"material", "structural"} <= missing
