"""Words: every one is given for translation, and a translation can't break a page."""

import ast
import re
from collections.abc import Iterator
from datetime import date
from html.parser import HTMLParser
from io import BytesIO
from typing import Any, get_args, get_origin

import pytest
from babel.messages.pofile import read_po
from markupsafe import Markup
from pydantic import BaseModel

from generator.model import catalogue, job, layout, procedure, scalars
from generator.model.pack import WorkPack
from generator.model.procedure import Message
from generator.pages import extraction
from generator.pages.desk import Desk
from generator.pages.render import Pages
from generator.pages.script_words import script_messages, script_words
from generator.pages.words import PSEUDO_LANGUAGE, Words, compile_po, languages
from tests.pages.page_samples import STOPPED, make_work

PO = """
msgid ""
msgstr ""
"Content-Type: text/plain; charset=utf-8\\n"
"Plural-Forms: nplurals=3; plural=(n==1 ? 0 : n%10>=2 && n%10<=4 && (n%100<10 || n%100>=20) ? 1 : 2);\\n"

msgid "Row {row}"
msgstr "Rząd {row}"

msgid "Cut {opening}, {tolerance}."
msgstr "<b>Wytnij</b> {tolerance} {opening}"

msgid "Bay {bay}"
msgstr "Wnęka {wneka}"

msgid "{number} cable"
msgid_plural "{number} cables"
msgstr[0] "{number} kabel"
msgstr[1] "{number} kable"
msgstr[2] "{number} kabli"

#, fuzzy
msgid "Gap"
msgstr "Luka?"
"""


@pytest.fixture(scope="module")
def polish() -> Words:
    return Words("pl", compile_po(PO.encode(), "pl"))


def test_the_list_for_translators_is_up_to_date() -> None:
    """Mend: python -m generator.pages.extraction."""
    assert extraction.POT.read_text(encoding="utf-8") == extraction.collect()


def test_the_list_has_words_of_code_templates_and_procedure() -> None:
    pot = extraction.collect()
    for path in (
        "generator/pages/view.py",
        "site_templates/transit/transit.html",
        "site_templates/procedure/steps.yaml",
    ):
        assert path in pot
    assert 'msgid "Do not install from this page"' in pot
    assert 'msgid "{number} step"\nmsgid_plural "{number} steps"' in pot


def test_what_a_language_lacks_is_named() -> None:
    pot = 'msgid "Row {row}"\nmsgstr ""\n\nmsgid "Gap"\nmsgstr ""\n\nmsgid "Bay"\nmsgstr ""\n'
    pot += '\nmsgid "{number} cable"\nmsgid_plural "{number} cables"\nmsgstr[0] ""\nmsgstr[1] ""\n'
    assert extraction.missing(pot, PO.encode()) == ["Gap", "Bay"]  # the one is fuzzy, the other not there


def test_no_call_is_overlooked_not_even_within_a_formatted_text() -> None:
    """Python's own parser finds every say and _ with a text; babel's reader does not look into f-strings."""
    said = {message for ids in _ids(extraction.collect()) for message in ids}
    called = set()
    for package in ("drawing", "engine", "model", "pages"):
        for path in sorted((extraction.ROOT / "generator" / package).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Call) and node.args and isinstance(text := node.args[0], ast.Constant):
                    name = getattr(node.func, "id", getattr(node.func, "attr", ""))
                    if name in ("_", "say", "say_count") and re.search(
                        r"[^\W\d_]", re.sub(r"\{\w+\}", "", text.value)
                    ):
                        called.add(text.value)
    assert len(called) > 400
    assert called - said == set()


def _ids(pot: str) -> Iterator[tuple[str, ...]]:
    for message in read_po(BytesIO(pot.encode())):
        yield (message.id,) if isinstance(message.id, str) else tuple(message.id)


def test_days_are_written_as_the_language_does() -> None:
    """Polish months after a day stand in the genitive (Unicode CLDR, months of the format context)."""
    assert Words("en").day(date(2031, 5, 14)) == "14 May 2031"
    assert [Words("pl").day(date(2031, month, 2)) for month in (5, 6)] == ["2 maja 2031", "2 czerwca 2031"]


def test_english_is_the_message_itself() -> None:
    words = Words("en")
    assert words.say("Row {row}", row=3) == "Row 3"
    assert words.say("Row {row}") == "Row {row}"
    assert words.say_count("{number} cable", "{number} cables", 1) == "1 cable"
    assert words.say_count("{number} cable", "{number} cables", 0) == "0 cables"
    assert (words.language, words.direction) == ("en", "ltr")


def test_a_language_without_words_is_english() -> None:
    assert Words("xx-YY").language == "en"
    assert languages()[0] == "en"


def test_translation_puts_values_where_it_wants_them(polish: Words) -> None:
    assert polish.say("Row {row}", row=2) == "Rząd 2"
    told = polish.tell(Message(text="Cut {opening}, {tolerance}.", values={"opening": "1 × 2", "tolerance": "±2"}))
    assert told == Markup("&lt;b&gt;Wytnij&lt;/b&gt; <bdi>±2</bdi> <bdi>1 × 2</bdi>")


def test_a_bad_place_in_a_translation_falls_back_to_english(polish: Words) -> None:
    assert polish.say("Bay {bay}", bay=2) == "Bay 2"
    assert polish.tell(Message(text="Bay {bay}", values={"bay": "2"})) == "Bay <bdi>2</bdi>"


def test_plurals_follow_the_language(polish: Words) -> None:
    """Polish has three forms (Unicode CLDR plural rules, pl: one, few, many)."""
    counted = [polish.say_count("{number} cable", "{number} cables", number) for number in (1, 2, 5, 12, 22)]
    assert counted == ["1 kabel", "2 kable", "5 kabli", "12 kabli", "22 kable"]


def test_fuzzy_messages_stay_english(polish: Words) -> None:
    assert polish.say("Gap") == "Gap"


def test_values_are_text_and_never_places() -> None:
    values = {"opening": "<b>{other}</b> {opening}", "other": "never"}
    told = Words("en").tell(Message(text="Cut {opening} & go, {unknown}", values=values))
    assert told == "Cut <bdi>&lt;b&gt;{other}&lt;/b&gt; {opening}</bdi> &amp; go, {unknown}"


# -- the languages that come with the program


@pytest.mark.parametrize("language", languages()[1:])
def test_a_translation_keeps_every_place_and_has_every_form(language: str) -> None:
    """Judged by babel's reader; plural forms as many as the head of the file says (Unicode CLDR: pl has three)."""
    with (extraction.POT.parent / f"{language}.po").open("rb") as file:
        catalog = read_po(file, locale=language)
    assert len(catalog) > 500
    for message in catalog:
        if not message.id:
            continue
        ids = [message.id] if isinstance(message.id, str) else list(message.id)
        forms = [message.string] if isinstance(message.string, str) else list(message.string)
        assert len(forms) == (1 if len(ids) == 1 else catalog.num_plurals), ids
        places = {place for text in ids for place in re.findall(r"\{\w+\}", text)}
        for form in forms:
            assert form and set(re.findall(r"\{\w+\}", form)) == places, ids


def test_polish_says_that_it_is_a_draft_and_keeps_the_english_of_cautions() -> None:
    work = make_work()
    assert (
        Words("pl").is_draft and not Words("en").is_draft and not Words("pl", compile_po(PO.encode(), "pl")).is_draft
    )
    pages = Pages(work, "pl", languages=("en", "pl"))
    html = pages.transit("B2-017")
    assert "Draft, not checked by a native speaker" in html
    cautions = [caution for step in work.transits["B2-017"].steps for caution in step.cautions]
    panels = html.count('<aside class="safety') + html.count('<a class="safety told')
    assert cautions and html.count('class="in-english" lang="en">') == panels >= len(cautions)
    for caution in cautions:
        assert str(Words("en").tell(caution.text)) in html
    assert 'lang="en"' in pages.card("B2-017")
    english = Pages(work, "en", languages=("en", "pl")).transit("B2-017")
    assert "in-english" not in english and "Draft" not in english


def test_what_is_only_told_in_english_says_so_on_another_page() -> None:
    """WCAG 2.2, 3.1.2: the language of a passage can be told by program."""
    work = make_work()
    what = work.transits[STOPPED].problems[0].what
    for language, mark in (("pl", ' lang="en"'), ("en", "")):
        pages = Pages(work, language, languages=("en", "pl"))
        for html in (pages.transit(STOPPED), pages.card(STOPPED)):
            assert f"<bdi{mark}>{what}</bdi>" in html
        assert f'<p class="what"{mark}>' in Desk(work, Words(language)).overview()


def test_scripts_have_their_words_too() -> None:
    script = script_words(Words("pl"))
    assert script.startswith("var wallworkWords = {") and '"Kept.":' in script
    assert script_words(Words("en")) == "var wallworkWords = {};\n"
    assert {"Kept.", "Take this area along"} <= set(script_messages())


# -- the language that shows what was left out -------------------------------------------------------


def _literals() -> set[str]:
    """Return every word the model chooses from: they are the program's, not the job's."""
    found: set[str] = set()

    def walk(annotation: Any) -> None:
        if get_origin(annotation) is not None:
            for argument in get_args(annotation):
                if isinstance(argument, str):
                    found.add(argument)
                walk(argument)

    for module in (catalogue, job, layout, procedure, scalars):
        for thing in vars(module).values():
            if isinstance(thing, type) and issubclass(thing, BaseModel):
                for info in thing.model_fields.values():
                    walk(info.annotation)
    return found


def _job_text(thing: Any) -> Iterator[str]:
    """Yield every text a job brings: all of the work pack but messages, phases and the model's own words."""
    if isinstance(thing, Message):
        yield from thing.values.values()
    elif isinstance(thing, procedure.Phase):
        return
    elif isinstance(thing, BaseModel):
        for name in type(thing).model_fields:
            yield from _job_text(getattr(thing, name))
    elif isinstance(thing, str):
        yield thing
    elif isinstance(thing, dict):
        yield from thing.keys()
        for value in thing.values():
            yield from _job_text(value)
    elif isinstance(thing, tuple | list | frozenset):
        for item in thing:
            yield from _job_text(item)
    elif hasattr(thing, "__dataclass_fields__"):
        for name in thing.__dataclass_fields__:
            yield from _job_text(getattr(thing, name))


def _words(text: str) -> set[str]:
    return {word.casefold() for word in re.findall(r"[^\W\d_]{2,}", text)}


UNITS = {"mm", "ml", "min"}
SHOWN = ("aria-label", "alt", "title", "placeholder", "data-day", "data-night")


class _Shown(HTMLParser):
    """Everything a page shows or reads aloud, piece by piece."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.attributes: list[str] = []
        self.text = ""
        self.is_data = False
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.attributes += [value or "" for name, value in attrs if name in SHOWN]
        self.is_data = tag == "script"  # figures and tags for scripts: nobody reads them

    def handle_data(self, data: str) -> None:
        self.text += "" if self.is_data else f" {data}"

    def handle_endtag(self, tag: str) -> None:
        self.is_data = False


def _left_out(html: str, allowed: set[str]) -> set[str]:
    page = _Shown(html)
    left: set[str] = set()
    for text in (page.text, *page.attributes):
        rest = text
        while rest != (rest := re.sub(r"⟦[^⟦⟧]*⟧", " ", rest)):  # brackets may stand in brackets
            pass
        assert not re.search("[⟦⟧]", rest), text
        left |= _words(rest) - allowed - UNITS
    return left


@pytest.fixture(scope="module")
def work() -> WorkPack:
    return make_work()


@pytest.fixture(scope="module")
def allowed(work: WorkPack) -> set[str]:
    texts = set(_job_text(work)) - _literals()
    halves = {half for transit_id in work.transits for half in (transit_id[:12], transit_id[12:])}  # on labels
    return {word for text in texts | halves for word in _words(text)}


def _every_page(work: WorkPack) -> Iterator[tuple[str, str]]:
    pages, desk = Pages(work, PSEUDO_LANGUAGE), Desk(work, Words(PSEUDO_LANGUAGE))
    for transit_id in work.transits:
        yield f"transit {transit_id}", pages.transit(transit_id)
        yield f"card {transit_id}", pages.card(transit_id)
    for wall_id in work.definition.walls:
        yield f"labels {wall_id}", pages.labels(wall_id, 203)
        yield f"wall {wall_id}", f"<main>{desk.wall(wall_id)}</main>"
    for name, made in (("overview", desk.overview()), ("safety", desk.safety()), ("finder", desk.finder())):
        yield name, f"<main>{made}</main>"


def test_no_word_of_any_page_is_left_out(work: WorkPack, allowed: set[str]) -> None:
    left = {name: found for name, html in _every_page(work) if (found := _left_out(html, allowed))}
    assert left == {}


def test_the_search_for_words_left_out_finds_one(allowed: set[str]) -> None:
    assert _left_out("<main><p>⟦Çåƀļéš⟧ <b>forgotten</b> P-101</p><p title='unsaid'></p></main>", allowed) == {
        "forgotten",
        "unsaid",
    }


def test_pseudo_language_is_only_a_tool() -> None:
    assert PSEUDO_LANGUAGE not in languages()
