"""The figures page: for every kind of figure its formula, source, how far that is confirmed, function and test."""

from functools import cache
from importlib.resources import files

from markupsafe import Markup

from generator.model.job import Job
from generator.model.reference import Confirmed, FigureList
from generator.pages import addresses
from generator.pages.render import make_environment
from generator.pages.words import Words, _
from generator.source.yaml_text import parse_yaml

CONFIRMED: dict[Confirmed, tuple[str, str]] = {
    "text": (_("Read in the source"), _("The words or the table of the source itself were read.")),
    "library": (
        _("Recomputed"),
        _("An independent library, brute force or another method gives the same in the tests."),
    ),
    "counted": (_("Counted"), _("Counting, plain arithmetic or plane geometry, worked out by hand in the tests.")),
    "entered": (_("Entered"), _("Stands in the catalogue or the job and is shown as it was entered, not judged.")),
    "reproduction": (
        _("Read in a copy"),
        _("Read only where someone else repeats the source. Read the source before you rely on it."),
    ),
    "memory": (_("From memory"), _("Not read anywhere. Read the source before you rely on it.")),
    "practice": (_("Common practice"), _("Common practice, no source.")),
}
"""How far a figure is confirmed: in a few words, and what they mean. The firmest first."""


@cache
def figure_list() -> FigureList:
    """Return every kind of figure on the site, as the list that comes with Wallwork has it."""
    name = "figures.yaml"
    text = files("site_templates").joinpath("reference", name).read_text(encoding="utf-8")
    return FigureList.model_validate(parse_yaml(text, name))


def figures_page(job: Job, words: Words) -> Markup:
    """Return the body of the figures page, escaped."""
    listed = figure_list()
    environment = make_environment("desk", words)
    environment.globals.update(say=words.say)

    def link(there: str) -> str:
        return addresses.link(addresses.FIGURES, there)

    text = environment.get_template("figures.html").render(
        job=job,
        link=link,
        confirmed=CONFIRMED,
        sections=[
            (section, [kind for kind in listed.figures if kind.section == section.id]) for section in listed.sections
        ],
    )
    return Markup(text)  # from an escaping environment
