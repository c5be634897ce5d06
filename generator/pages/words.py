"""The words of a page in the reader's language. Text of the job never passes here, figures only as values."""

import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from functools import cache
from gettext import GNUTranslations, NullTranslations
from importlib.resources import files
from io import BytesIO

from babel import Locale, UnknownLocaleError
from babel.dates import format_date
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from markupsafe import Markup, escape

from generator.model.procedure import Message

SOURCE_LANGUAGE = "en"
"""The language the words are written in: every message is its own English."""

PSEUDO_LANGUAGE = "qps"
"""Brackets and accents every message, so that a word nobody gave for translation stands out."""

DRAFT = b"X-Checked-By-Native-Speaker: no"
"""The line in the head of a .po by which it is a draft."""

_VALUE = re.compile(r"\{([A-Za-z_][A-Za-z0-9_]*)\}")
_ACCENTS = str.maketrans(
    "AaCcDdEeGgIiKkLlNnOoRrSsTtUuYyZz",
    "ÅåÇçĎďÉéĞğÎîĶķĻļÑñÖöŘřŠšŤťÜüÝýŽž",
)


def _(text: str) -> str:
    """Mark ``text`` as a message where it is stored, to be said later."""
    return text


def _put_in(text: str, values: Mapping[str, str]) -> str:
    """Put values in their places; a place nobody has a value for stays as it is written."""
    return _VALUE.sub(lambda place: values.get(place[1], place[0]), text)


class _Pseudo(NullTranslations):
    def gettext(self, message: str) -> str:
        parts = re.split(r"(\{[A-Za-z_][A-Za-z0-9_]*\})", message)
        return "⟦" + "".join(p if p.startswith("{") else p.translate(_ACCENTS) for p in parts) + "⟧"

    def ngettext(self, one: str, many: str, number: int) -> str:
        return self.gettext(one if number == 1 else many)


def languages() -> tuple[str, ...]:
    """Return the languages there are words for, English first."""
    folder = files("site_templates") / "locale"
    found = sorted(entry.name[:-3] for entry in folder.iterdir() if entry.name.endswith(".po"))
    return (SOURCE_LANGUAGE, *found)


def compile_po(po: bytes, language: str) -> GNUTranslations:
    """Return the translations of a .po, compiled in memory; messages marked fuzzy are left in English."""
    compiled = BytesIO()
    write_mo(compiled, read_po(BytesIO(po), locale=language.replace("-", "_")))
    compiled.seek(0)
    return GNUTranslations(compiled)


def language_name(language: str) -> str:
    """Return what a language is called by those who speak it; the code where nobody knows."""
    try:
        name = Locale.parse(language, sep="-").get_display_name()
    except (UnknownLocaleError, ValueError):
        name = None
    return name[:1].upper() + name[1:] if name else language


@cache
def _po(language: str) -> bytes:
    return (files("site_templates") / "locale" / f"{language}.po").read_bytes()


def is_draft(po: bytes) -> bool:
    """Whether a .po says of itself that no native speaker has checked it."""
    return DRAFT in po


@cache
def _translations(language: str) -> NullTranslations:
    if language == PSEUDO_LANGUAGE:
        return _Pseudo()
    if language == SOURCE_LANGUAGE:
        return NullTranslations()
    return compile_po(_po(language), language)


def spoken(locales: Iterable[str]) -> tuple[str, ...]:
    """Return the languages that the pages of these locales are really in, each once, in their order."""
    return tuple(dict.fromkeys(Words(locale).language for locale in locales))


class Words:
    """Says every message in one language.

    ``language`` is what is really spoken: a locale without a catalogue of its own falls back to the one
    of its language (pt for pt-BR), then to English. ``translations`` stand in for the ones of the program.
    """

    def __init__(self, locale: str, translations: NullTranslations | None = None) -> None:
        known = (*languages(), PSEUDO_LANGUAGE)
        self.language = next(
            (code for code in (locale, locale.split("-")[0]) if code in known),
            SOURCE_LANGUAGE,
        )
        self.is_draft = False
        if translations is None:
            translations = _translations(self.language)
            self.is_draft = self.language in languages()[1:] and is_draft(_po(self.language))
        else:
            self.language = locale
        self._find: Callable[[str], str] = cache(translations.gettext)
        self._find_count = translations.ngettext
        # Words and names of places by turns: the first is words, already escaped.
        self._pieces: Callable[[str], list[Markup]] = cache(
            lambda text: [Markup(piece) for piece in _VALUE.split(str(escape(self.say(text))))]
        )

    @property
    def direction(self) -> str:
        """The way this language runs: ltr or rtl."""
        try:
            return "rtl" if Locale.parse(self.language, sep="-").character_order == "right-to-left" else "ltr"
        except (UnknownLocaleError, ValueError):
            return "ltr"

    def say(self, text: str, **values: object) -> str:
        """Translate ``text``, then put the values in its {places}. The result is text, not HTML.

        A translation that asks for a value the English does not have is not used.
        """
        found = self._find(text)
        if found is not text and not self._same_places(text, found):
            found = text
        return _put_in(found, {name: str(value) for name, value in values.items()}) if values else found

    def say_count(self, one: str, many: str, number: int, **values: object) -> str:
        """Translate a message that counts something; {number} stands for the count."""
        found = self._find_count(one, many, number)
        if not self._same_places(many, found):
            found = one if number == 1 else many
        return _put_in(found, {"number": str(number), **{name: str(value) for name, value in values.items()}})

    def tell(self, message: Message) -> Markup:
        """Translate a message of the work pack and put its values in as escaped, isolated text."""
        pieces = self._pieces(message.text)
        if len(pieces) == 1:
            return pieces[0]
        values = message.values
        # Safe: the words are escaped before the only markup, the <bdi> around escaped values, is added.
        return Markup(
            "".join(
                piece
                if number % 2 == 0
                else f"<bdi>{escape(values[piece])}</bdi>"
                if piece in values
                else f"{{{piece}}}"
                for number, piece in enumerate(pieces)
            )
        )

    def tell_all(self, messages: Iterable[Message]) -> Markup:
        """Translate several messages as a list within a line."""
        return Markup(", ").join([self.tell(message) for message in messages])

    def tell_plain(self, message: Message) -> str:
        """Translate a message and put its values in, as plain text for an attribute or a title."""
        return _put_in(self.say(message.text), message.values)

    def day(self, day: date) -> str:
        """Return a day as this language writes it: 14 May 2031."""
        if self.language == PSEUDO_LANGUAGE:
            return f"⟦{day.isoformat()}⟧"
        # Short months of other languages aren't inflected: 14 maja 2031, not 14 maj 2031.
        form = "d MMM y" if self.language == SOURCE_LANGUAGE else "d MMMM y"
        return format_date(day, form, locale=self.language.replace("-", "_"))

    @staticmethod
    def _same_places(text: str, found: str) -> bool:
        return set(_VALUE.findall(found)) <= set(_VALUE.findall(text))
