"""Facts: each is known, each can be stated, and what is said to follow from one follows."""

from generator.engine.facts import cable_types, facts_of
from generator.model.facts import IMPLIES, KNOWN_FACTS, SITE_CONDITIONS
from generator.model.layout import NoLayout
from tests.engine.situations import everything, shipped, situation


def test_every_fact_is_known_and_every_known_fact_is_stated_somewhere() -> None:
    """Rules for hot work go by the names that the procedure gives them."""
    stated = frozenset().union(*map(facts_of, everything()))
    rules = {f"rules-{name}" for name in shipped().hot_work}
    assert stated == set(KNOWN_FACTS) | rules


def test_what_is_said_to_follow_from_a_fact_follows() -> None:
    wrong = {
        (fact, more)
        for case in everything()
        for facts in [facts_of(case)]
        for fact in facts
        for more in IMPLIES.get(fact, ())
        if more not in facts
    }
    assert wrong == set()


def test_no_site_condition_can_be_taken_for_a_fact_of_the_engine() -> None:
    assert [name for name in SITE_CONDITIONS if ":" in name or name in KNOWN_FACTS] == []


def test_facts_of_a_welded_frame_by_hand() -> None:
    facts = facts_of(situation("welded", wall={"conditions": ["tank-behind"]}, transit={"conditions": ["own-word"]}))
    stated = {
        "seal:frame shape:rectangular fixing:welded division:bulkhead material:steel material:metal wall:structural",
        "demand:any demand:fire demand:a-class demand:water demand:open opening:cut opening:rectangular opening:rounded-corners",
        "spot:lower-left working-side:first weld:both-sides density:known cutting-speed:known bays:one plates:yes",
        "hot:yes bay:deviates cables:to-pull spares:yes fillers:yes cables:yes lubricant:said seat:unsaid consumables:yes",
        "certificate:yes measure:yes",
        "closing:yes closing:in-turn closing:turns closing:protrusion closing:settle press:unknown",
        "row:cables row:spares row:fillers row:plate type:cable type:measure tank-behind own-word",
    }
    assert facts == set(" ".join(stated).split())


def test_without_a_layout_only_what_was_asked_for_is_stated() -> None:
    case = situation("welded")
    none = NoLayout(what="too many", why="full", mend="a larger frame")
    facts = facts_of(type(case)(**{**case.__dict__, "layout": none}))
    assert "seal:frame" in facts
    assert not {fact for fact in facts if fact.startswith(("row:", "spares:", "plates:"))}


def test_cables_of_one_type_and_drum_are_measured_once() -> None:
    """Design 4.1: a diameter is measured once per cable type and drum; without a type each cable by itself."""
    case = situation("welded")
    typed = [
        cable.model_copy(update={"type": "NYY", "drum": drum})
        for cable, drum in zip(case.cables, ("D1", "D1", "D2", None), strict=False)
    ]
    case = type(case)(**{**case.__dict__, "cables": (*typed, *case.cables[4:6])})
    found = [(group.name, group.drum, [cable.tag for cable in group.cables]) for group in cable_types(case)]
    tags = [cable.tag for cable in case.cables]
    assert found == [
        ("NYY", "D1", tags[:2]),
        ("NYY", "D2", tags[2:3]),
        ("NYY", "", tags[3:4]),
        (tags[4], "", tags[4:5]),
        (tags[5], "", tags[5:6]),
    ]
