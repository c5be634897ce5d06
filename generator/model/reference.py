"""Where the site's figures come from: for every kind of figure its formula, source, function and test."""

from typing import Literal

from pydantic import Field

from generator.model.scalars import Model, Name, Note, Slug

Confirmed = Literal["text", "library", "reproduction", "memory", "practice", "entered", "counted"]
"""How far a formula or its figures are confirmed."""


class FigureSection(Model):
    """A heading of the list, after the part of a transit's page where its figures stand."""

    id: Slug
    title: Name


class FigureKind(Model):
    """One kind of figure.

    ``names`` are the figures that steps and cautions may name; ``values`` are the classes or fields of models,
    each with its module, whose numbers it covers. ``by`` and ``tests`` name functions: those that compute it,
    and those that hold it against an outside judge.
    """

    id: Slug
    section: Slug
    title: Name
    text: Note
    formula: Name | None = None
    names: tuple[Name, ...] = ()
    values: tuple[Name, ...] = ()
    confirmed: Confirmed
    source: Note
    by: tuple[Name, ...] = Field(min_length=1)
    tests: tuple[Name, ...] = Field(min_length=1)


class FigureList(Model):
    """``reference/figures.yaml``, which comes with Wallwork."""

    sections: tuple[FigureSection, ...]
    figures: tuple[FigureKind, ...]
