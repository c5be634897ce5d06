"""What a phone need not load is left out of scripts and style sheets; what is said stays."""

import pytest

from generator.pages.assets import lean


@pytest.mark.parametrize(
    ("written", "sent"),
    [
        ("  go();\n", "go();\n"),
        ("// why\ngo();\n", "go();\n"),
        ("/* why,\n   over two lines */\ngo();\n", "go();\n"),
        ("go(); // why\n", "go();\n"),
        ("if (on) { // why\n", "if (on) {\n"),
        ('say("stop; // go");\n', 'say("stop; // go");\n'),
        ("say('stop; // go', `now; // go`);\n", "say('stop; // go', `now; // go`);\n"),
        ('at("https://example.org/");\n', 'at("https://example.org/");\n'),
    ],
)
def test_comments_and_indents_stay_at_home(written: str, sent: str) -> None:
    assert lean(written.encode("utf-8")) == sent.encode("utf-8")
