"""What scripts say, for the languages that are not English: only the words that scripts ask for, as a script."""

from functools import cache
from importlib.resources import files
from io import BytesIO

from babel.messages.extract import extract

from generator.pages import addresses
from generator.pages.finder import script_literal
from generator.pages.words import Words


@cache
def script_messages() -> tuple[str, ...]:
    """Return every message that a script among the assets says, in the order of files and lines."""
    found: dict[str, None] = {}
    for entry in sorted((files("site_templates") / addresses.ASSETS).iterdir(), key=lambda entry: entry.name):
        if entry.name.endswith(".js"):
            for _line, message, _comments, _context in extract(
                "javascript", BytesIO(entry.read_bytes()), keywords={"say": None}
            ):
                found[message if isinstance(message, str) else message[0]] = None
    return tuple(found)


def script_words(words: Words) -> str:
    """Write what scripts say in one language as a classic script that sets ``wallworkWords``.

    A message without a translation is left out: the script then says its English.
    """
    said = {message: told for message in script_messages() if (told := words.say(message)) != message}
    return f"var wallworkWords = {script_literal(said)};\n"
