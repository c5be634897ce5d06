"""The figures page: every figure a page can show is on the list, and all that the list names exists."""

import ast
from dataclasses import fields, is_dataclass
from decimal import Decimal
from importlib import import_module
from inspect import getmembers
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest

from generator.engine.figures import FIGURES
from generator.model.reference import Confirmed, FigureKind
from generator.pages.reference import CONFIRMED, figure_list, figures_page
from generator.pages.words import Words
from tests.pages.reading import Document
from tests.sample_packs import JOB

ROOT = Path(__file__).parents[2]
KINDS = figure_list().figures
# Models whose numbers reach a page without a step that names them.
SHOWN = {
    "layout": ("Peel", "Fit", "DiameterRow", "DiameterTable", "Placement", "Row", "Plate", "Unit", "BayLayout", "SealLayout"),
    "closing": ("GapSum", "BayClosing", "Bolts"),
    "marking": ("Outline", "Nearest"),
    "quantities": ("Need", "StockLine"),
    "reentry": ("Addition", "AtHand", "SizeLine"),
    "desk": ("Counts",),
}  # fmt: skip


def class_named(module: str, name: str) -> Any:
    package = "pages" if module == "desk" else "model"
    return getattr(import_module(f"generator.{package}.{module}"), name)


def is_number(kind: Any) -> bool:
    return kind in (Decimal, int) or any(is_number(part) for part in get_args(kind))


def numbers(kind: Any) -> set[str]:
    """Return fields and properties of a model or dataclass that are numbers, or lists of them."""
    if is_dataclass(kind):
        return {field.name for field in fields(kind) if is_number(get_type_hints(kind)[field.name])}
    found = {name for name, field in kind.model_fields.items() if is_number(field.annotation)}
    for name, member in getmembers(kind, lambda member: isinstance(member, property)):
        if not name.startswith("model_") and "return" in (hints := get_type_hints(member.fget)):
            found |= {name} if is_number(hints["return"]) else set()
    return found


def test_every_figure_of_the_steps_is_on_the_list_once() -> None:
    named = [name for kind in KINDS for name in kind.names]
    assert len(named) == len(set(named))
    assert set(named) == set(FIGURES)


@pytest.mark.parametrize(("module", "name"), [(module, name) for module, names in SHOWN.items() for name in names])
def test_every_number_of_a_model_is_on_the_list(module: str, name: str) -> None:
    covered = {value for kind in KINDS for value in kind.values}
    if f"{module}.{name}" in covered:
        assert numbers(class_named(module, name))
        return
    wanted = {f"{module}.{name}.{field}" for field in numbers(class_named(module, name))}
    assert wanted <= covered
    assert {value for value in covered if value.startswith(f"{module}.{name}.")} == wanted


def test_nothing_on_the_list_is_of_another_model() -> None:
    known = {f"{module}.{name}" for module, names in SHOWN.items() for name in names}
    assert {".".join(value.split(".")[:2]) for kind in KINDS for value in kind.values} == known


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.id)
def test_what_computes_and_what_holds_a_figure_exists(kind: FigureKind) -> None:
    for name in kind.by:
        module, function = name.rsplit(".", 1)
        assert callable(getattr(import_module(f"generator.{module}"), function)), name
    for name in kind.tests:
        file, function = name.split("::")
        tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
        assert function in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}, name


def test_what_is_from_memory_says_so() -> None:
    assert set(get_args(Confirmed)) == set(CONFIRMED)
    for kind in KINDS:
        words = f"{kind.source} {kind.text}"
        if kind.confirmed in ("memory", "reproduction"):
            assert "memory" in words or "reproduction" in words, kind.id
        if kind.confirmed in ("text", "library", "reproduction", "memory"):
            assert kind.formula or kind.id in {"fire-classes", "ingress", "addition"}, kind.id


def test_the_page_shows_every_kind_with_formula_source_and_test() -> None:
    page = Document(str(figures_page(JOB, Words("en"))))
    entries = {entry.attributes["id"]: entry.text for entry in page.all("article", "figure-entry")}
    assert list(entries) == [
        f"figure-{kind.id}" for section in figure_list().sections for kind in KINDS if kind.section == section.id
    ]
    assert len(entries) == len(KINDS)
    ids = set(page.attributes("id"))
    for kind in KINDS:
        shown = entries[f"figure-{kind.id}"]
        for text in (kind.title, kind.source, *kind.by, *kind.tests, kind.formula or "", *kind.names):
            assert text in shown, kind.id
        assert f"confirmed-{kind.confirmed}" in ids
