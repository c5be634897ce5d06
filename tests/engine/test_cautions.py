"""Every hazard of the work has its caution, before the step that can hurt, and none can be dropped unseen.

The hazards are those that any such work meets; which words answer them is ours, so only the words that carry what to
do are held here.
"""

import colorsys
import re
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from typing import Any

import pytest

from generator.engine.steps import plan_steps, rules_for_adding
from generator.model.procedure import Caution
from tests.engine.situations import shipped, situation

WATER = {"demands": {"water_head_m": 1}}


def when(*conditions: str, body: str = "welded", **options: Any) -> dict[str, Any]:
    return {"body": body, "transit": {"conditions": list(conditions)}, **options}


CONCRETE = when(body="plain_frame", wall={"material": "concrete"})
OPENED = {"adding": True}

# hazard, caution, a transit where it is, the step it must stand before, and what it must tell to do
HAZARDS: list[tuple[str, str, dict[str, Any], str, tuple[str, ...]]] = [
    # cutting
    ("live services", "services-behind", when("services-behind"), "pilot", ("shuts them off", "dead")),
    ("live services unseen", "unseen", when(), "pilot", ("live cable", "both sides")),
    ("tank behind", "tank-behind", when("tank-behind"), "pilot", ("empty", "certified")),
    ("gas behind", "gas-behind", when("gas-behind"), "pilot", ("tested",)),
    ("drop zone", "falling-piece", when(), "cut-rectangle-metal", ("Hold it", "Nobody stands under it")),
    ("hole in a deck", "hole-in-deck", {"body": "deck_two_bays"}, "take-out", ("Cover it",)),
    ("structure", "structure", when(wall={"structural": True}), "pilot", ("designer has approved",)),
    ("asbestos, ceramic fibre", "old-insulation", when("old-insulation"), "pilot", ("tested first", "licensed")),
    ("sparks", "sparks", when(), "cut-rectangle-metal", ("both sides watched",)),
    # hot work
    ("rubber and cables", "hot-work", when(), "tack", ("rubber and cables", "shield them")),
    ("coating fumes", "weld-fumes", when(), "clean-weld", ("poison", "both rooms")),
    ("far side", "hot-work", when(), "shield", ("Both sides are cleared and watched",)),
    ("after the work", "watch-time", when(), "fire-watch", ("permit",)),
    # reopening
    ("open boundary", "again-boundary", OPENED, "again-permit", ("permit", "temporary closure", "time")),
    ("water behind", "again-water", {**OPENED, **WATER}, "again-loosen", ("dry", "free from pressure")),
    ("extinguishing gas", "again-gas", {**OPENED, **when("extinguishing-gas")}, "again-permit", ("isolates",)),
    ("live cables", "again-live", OPENED, "again-dead", ("licensed person has proved it dead",)),
    ("stored energy", "again-force", OPENED, "again-loosen", ("fly out", "out of line")),
    # the first time too
    ("open boundary, first time", "open-boundary", when(), "open-boundary", ("cover",)),
    ("extinguishing gas, first time", "extinguishing-gas", when("extinguishing-gas"), "both-sides", ("isolates",)),
    ("live cables, first time", "live-cables", when("live-cables"), "pull", ("licensed person",)),
    # peeling, closing, testing
    ("knife", "knife", when(), "peel-how", ("away from your body", "jacket", "slip")),
    ("overhead", "overhead", when("overhead"), "place-row", ("tied", "nobody below")),
    ("spanner and stored force", "spanner", when(), "tighten-turns-in-turn", ("springs out", "slip")),
    ("testing", "test-pressure", when(**WATER), "test-water", ("Nobody stands in front", "live")),
    ("live equipment", "live-equipment", when("live-equipment", **WATER), "test-water", ("switched it off",)),
    # everything else
    ("lifting", "lifting", when(), "bring", ("two people",)),
    ("silica", "silica", CONCRETE, "cut-round-mineral", ("water", "vacuum")),
    ("noise", "noise", when(), "cut-rectangle-metal", ("ear protection",)),
    ("confined space", "confined-space", when("confined-space"), "right-place", ("air is tested",)),
    ("height", "at-height", when("at-height"), "right-place", ("platform",)),
    ("solvents", "solvents", when(), "coat-weld", ("no flame",)),
]


@cache
def before(index: int) -> dict[str, tuple[Caution, ...]]:
    options = dict(HAZARDS[index][2])
    adding = options.get("adding", False)
    case = situation(options.pop("body", "welded"), **options)
    rules = rules_for_adding(shipped()) if adding else shipped()
    return {step.key.split(".")[0]: step.cautions for step in reversed(plan_steps(rules, case)[0])}


@pytest.mark.parametrize("index", range(len(HAZARDS)), ids=[hazard[0] for hazard in HAZARDS])
def test_each_hazard_has_its_caution_before_its_step(index: int) -> None:
    _hazard, name, _options, step, words = HAZARDS[index]
    cautions = {caution.id: caution for caution in before(index)[step]}
    assert name in cautions
    text = f"{cautions[name].title} {cautions[name].text}"
    for word in words:
        assert word in text, word
    assert cautions[name].source


def test_no_caution_of_the_list_is_a_notice() -> None:
    """ANSI Z535.4 (as reproduced): a notice has nothing to do with injury; all of these have."""
    signals = {rule.id: rule.signal for rule in shipped().cautions}
    assert {signals[hazard[1]] for hazard in HAZARDS} <= {"danger", "warning", "caution"}


def _panels() -> Iterator[tuple[str, str]]:
    css = (files("site_templates") / "assets" / "wallwork.css").read_text(encoding="utf-8")
    yield from re.findall(r"--(danger|warning|caution|notice): (#[0-9a-f]{6})", css)


def test_panels_have_the_colour_of_their_word() -> None:
    """ANSI Z535.1/.4 (as reproduced): danger red, warning orange, caution yellow, notice blue; by day and by night."""
    hues = {"danger": (345, 15), "warning": (20, 40), "caution": (45, 60), "notice": (200, 230)}
    found = list(_panels())
    assert {word for word, _colour in found} == set(hues)
    for word, colour in found:
        red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
        hue, _light, _full = colorsys.rgb_to_hls(red, green, blue)
        low, high = hues[word]
        degrees = hue * 360
        assert (low <= degrees <= high) if low < high else (degrees >= low or degrees <= high), (word, colour)
