"""What scripts say, for the languages that are not English: only the words that scripts ask for, as a script."""

import json
import re
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


_SAID = re.compile(r'\bsay\(\s*("(?:[^"\\\n]|\\.)*")')
_LINE_ENDS = str.maketrans({"\u2028": "\\u2028", "\u2029": "\\u2029"})


def put_in(script: str, words: Words) -> str:
    """Return a script with each message that it says in the language of ``words``, English where one is missing.

    A page then loads no message twice. Only for a script that names its messages where it says them; it is
    loaded as a file of its own, in UTF-8 as its page.
    """

    def told(found: re.Match[str]) -> str:
        text = words.say(json.loads(found[1]))
        return "say(" + json.dumps(text, ensure_ascii=False).translate(_LINE_ENDS)

    return _SAID.sub(told, script)
