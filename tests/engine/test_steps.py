"""Steps and cautions: complete, in the order of the work, and an addition of data."""

import re
from collections.abc import Iterator
from functools import cache
from itertools import product
from pathlib import Path

import pytest

from generator import workpack
from generator.engine.facts import Situation, facts_of
from generator.engine.steps import check_procedure, named_in, plan_steps
from generator.errors import WorkPackError
from generator.model.facts import SITE_CONDITIONS
from generator.model.layout import NoLayout
from generator.model.procedure import Caution, CautionRule, Message, Phase, ProcedureFile, Step, StepRule
from generator.pages.starter import write_starter
from tests.engine.situations import BODIES, conditions, everything, shipped, situation

Plan = tuple[tuple[Step, ...], tuple[Caution, ...]]


@cache
def plans() -> tuple[tuple[Situation, Plan], ...]:
    again = situation("welded", adding=True, transit={"conditions": list(SITE_CONDITIONS)})
    cases = (*everything(), *conditions(*SITE_CONDITIONS), again)
    return tuple((case, plan_steps(shipped(), case)) for case in cases)


def rule_of(step: Step) -> str:
    return step.key.split(".")[0]


def text_of(message: Message) -> str:
    return re.sub(r"\{([a-z0-9_]+)\}", lambda name: message.values[name[1]], message.text)


def messages(steps: tuple[Step, ...]) -> Iterator[Message]:
    for step in steps:
        yield from (step.title, step.text, *step.reads, *step.tools)
        for caution in step.cautions:
            yield from (caution.title, caution.text, *(caution.card or ()))


# -- the shipped procedure -------------------------------------------------------------------------


def test_the_shipped_procedure_is_right_in_itself() -> None:
    assert check_procedure(shipped()) == ()


def test_every_shipped_rule_applies_somewhere() -> None:
    """A rule whose condition can't hold, or a caution whose steps never come, would be dead text."""
    used = {rule_of(step) for _, (steps, _) in plans() for step in steps}
    warned = {caution.id for _, (_, cautions) in plans() for caution in cautions}
    assert {rule.id for rule in shipped().steps} - used == set()
    assert {rule.id for rule in shipped().cautions} - warned == set()


def test_no_figure_is_left_open() -> None:
    assert {
        message.text
        for _, (steps, _) in plans()
        for message in messages(steps)
        if set(named_in(message.text)) != set(message.values)
    } == set()


def test_steps_are_numbered_and_named_once_in_the_order_of_the_phases() -> None:
    order = [phase.id for phase in shipped().phases]
    for _, (steps, _) in plans():
        assert [step.number for step in steps] == list(range(1, len(steps) + 1))
        assert len({step.key for step in steps}) == len(steps)
        ranks = [order.index(step.phase) for step in steps]
        assert ranks == sorted(ranks)


# Of one round no language says rounds; a title is of one only where the figure it counts is 1.
@pytest.mark.parametrize(("rounds", "ends"), [(1, "in 1 round"), (2, "in 2 rounds"), (11, "in 11 rounds")])
@pytest.mark.parametrize("order", ["in-turn", "crosswise"])
@pytest.mark.parametrize("turns", [None, 2])
def test_a_title_counts_one_as_one(rounds: int, ends: str, order: str, turns: int | None) -> None:
    how = {"bolts": 4, "thread": "M8", "key": 13, "order": order, "rounds": rounds, "torque_nm": 5}
    if turns:
        how["turns_each_round"] = turns
    case = situation("bolted", closing=how, holding=how)
    titles = [str(step.title) for step in plan_steps(shipped(), case)[0] if "Tighten the 4" in str(step.title)]
    assert len(titles) == 2 and all(title.endswith(ends) for title in titles), titles


def test_a_title_of_one_names_the_figures_of_its_title() -> None:
    rule = next(rule for rule in shipped().steps if rule.title_of_one)
    for titles in (
        {"closing_rounds": "Tighten"},
        {"closing_rounds": "{closing_bolts} {closing_rounds} {id}"},
        {"id": rule.title},
    ):
        spoilt = rule.model_copy(update={"title_of_one": titles})
        steps = tuple(spoilt if one is rule else one for one in shipped().steps)
        found = check_procedure(shipped().model_copy(update={"steps": steps}))
        assert [one.field for one in found][:1] == ["title_of_one"], titles


CUT_METAL = ("cut-round-metal", "cut-rectangle-metal")
CUT_MINERAL = ("cut-round-mineral", "cut-rectangle-mineral")
TIGHTEN = ("tighten-turns-in-turn", "tighten-turns-crosswise", "tighten-in-turn", "tighten-crosswise")
# What must stand before what, wherever both stand. Left: what is needed; right: what needs it.
NEEDS = [
    # Position and structural approval, both sides clear, before anything is cut
    ("permits", "pilot"),
    ("permits", "mark-centre"),
    ("permit-hot", "tack"),
    ("permit-sparks", "cut-round-metal"),
    ("structure-approval", "pilot"),
    ("structure-look", "pilot"),
    ("both-sides", "pilot"),
    ("both-sides", "clear-existing"),
    ("position", "pilot"),
    ("mark-centre", "position"),
    ("outline-rectangle", "position"),
    ("open-boundary", "pilot"),
    ("close-below", "pilot"),
    ("cover-inside", "pilot"),
    ("far-watch", "pilot"),
    ("shield-cut", "drill-corners"),
    ("pilot", "thickness"),
    *product(("thickness", "far-watch"), (*CUT_METAL, *CUT_MINERAL, "cut-board")),
    *product(("secure-piece",), (*CUT_METAL, *CUT_MINERAL)),
    *product(("secure-piece-unknown",), (*CUT_MINERAL, "cut-board")),
    ("drill-corners", "cut-rectangle-metal"),
    ("cut-round-metal", "take-out"),
    ("take-out", "deburr"),
    ("deburr", "measure-round"),
    ("deburr", "measure-rectangle"),
    ("measure-rectangle", "set-frame-weld"),
    ("measure-round", "set-sleeve"),
    ("coat-edge", "set-frame-sleeve"),
    # Existing rubber shielded, blocks only after cooling, bays measured after welding
    ("empty-frame", "tack"),
    ("shield", "tack"),
    ("clean-weld", "set-frame-weld"),
    ("tack", "weld-both"),
    ("weld-both", "fire-watch"),
    ("weld-both", "cool"),
    ("cool", "measure-bay"),
    ("measure-bay", "coat-weld"),
    ("cool", "pull"),
    ("coat-weld", "frame-ready"),
    ("set-frame-sleeve", "holding-crosswise"),
    ("holding-torque", "frame-ready"),
    # Frame fixed, square, clean, before cables; tags before blocks; counts before closing
    ("frame-ready", "pull"),
    ("seal-place-ready", "pull"),
    ("pull", "tags"),
    ("tags", "place-row"),
    ("tags", "place-seal"),
    ("to-come-no-plug", "place-row"),
    ("pipes", "place-row"),
    ("clean-cables", "fit-type"),
    ("peel-how", "fit-type"),
    ("gap-how", "fit-type-round"),
    ("fit-type", "place-row"),
    ("fit-type", "place-seal"),
    ("lubricate", "place-row"),
    ("lubricate", "place-seal"),
    ("packed", "unit-in"),
    ("packed", "unit-in-known"),
    ("packed", "press-rows"),
    ("packed", "press-rows-unsaid"),
    ("press-rows", "unit-in-pressed"),
    ("press-rows-unsaid", "unit-in-pressed"),
    ("packed-seal", "tighten-turns-crosswise"),
    *product(("packed", "packed-seal"), (*TIGHTEN, "torque", "protrusion")),
    ("tighten-turns-in-turn", "protrusion"),
    ("tighten-turns-crosswise", "torque"),
    ("tighten-in-turn", "torque"),
    ("tighten-crosswise", "protrusion"),
    ("protrusion", "protrusion-again"),
    ("torque", "torque-again"),
    ("protrusion-again", "closed"),
    ("torque-later", "closed"),
    ("closed", "test-water"),
    ("test-water", "closed-boundary"),
    ("closed", "test-water-plan"),
    ("closed", "test-gas-plan"),
    ("test-water-plan", "closed-boundary"),
    ("plates", "register"),
    ("photos", "register"),
]


def test_nothing_comes_before_what_it_needs() -> None:
    seen: set[tuple[str, str]] = set()
    wrong = []
    for case, (steps, _) in plans():
        by_rule: dict[str, list[Step]] = {}
        for step in steps:
            by_rule.setdefault(rule_of(step), []).append(step)
        for before, after in NEEDS:
            for needed, step in product(by_rule.get(before, ()), by_rule.get(after, ())):
                if needed.bay == step.bay or None in (needed.bay, step.bay):
                    seen.add((before, after))
                    if needed.number >= step.number:
                        wrong.append((case.id, needed.key, step.key))
    assert wrong == []
    assert set(NEEDS) - seen == set()


def test_rows_go_from_the_bottom_bay_by_bay_each_with_its_plate() -> None:
    steps, _ = plan_steps(shipped(), situation("deck_two_bays"))
    order = [
        (step.bay, step.row, rule_of(step))
        for step in steps
        if rule_of(step) in ("wipe-bay", "place-row", "row-plate", "packed")
    ]
    assert order == [
        line
        for bay in (1, 2)
        for line in (
            (bay, None, "wipe-bay"),
            *((bay, row, rule) for row in (1, 2, 3) for rule in ("place-row", "row-plate")),
            (bay, None, "packed"),
        )
    ]


def test_every_kind_has_its_hold_points() -> None:
    """Design 4.8 names them; every one is released by someone other than the crew, but for the fire watch."""
    for body in BODIES:
        steps, _ = plan_steps(shipped(), situation(body))
        holds = {rule_of(step) for step in steps if step.kind == "hold"}
        frame = "seal" not in body
        assert holds >= {
            "permits",
            "structure-approval-cast" if body == "cast" else "structure-approval",
            "both-sides",
            "position-form" if body == "cast" else "position",
            ("frame-ready-cables" if body == "split" else "frame-ready") if frame else "seal-place-ready",
            "tags",
            "packed" if frame else "packed-seal",
            "closed",
        }
        assert {rule_of(step) for step in steps if step.kind == "hold" and step.party == "crew"} <= {
            "watch-cut",
            "fire-watch",
            "weld-repair",
        }


def test_nothing_is_cut_marked_or_coated_where_the_opening_is_there_already() -> None:
    for case in conditions():
        steps, _ = plan_steps(shipped(), case)
        cutting = {rule_of(step) for step in steps} & {
            rule.id for rule in shipped().steps if "opening:cut" in rule.when
        }
        cast = case.transit.fixing == "cast"  # nothing is cut for a frame that is cast in either
        assert bool(cutting) == (not case.transit.existing_opening and not cast)


def test_each_kind_is_set_in_its_own_way() -> None:
    """What belongs to one kind stands on no other's page; in the order in which it can be done."""
    own = {
        "welded": ["set-frame-weld", "tack", "weld-both", "cool", "measure-bay"],
        "bolted": ["bolt-holes", "gasket", "set-frame-bolted", "holding-crosswise", "holding-torque"],
        "split": ["bolt-holes", "set-frame-split", "set-frame-split-bolted", "holding-crosswise", "holding-torque"],
        "grouted": ["set-frame-grouted", "fill", "cure", "measure-bay-set"],
        "cast": ["set-frame-form", "position-form", "pour", "cure", "measure-bay-set"],
        "row_welded": ["join-row-weld", "set-frame-weld", "tack", "weld-both", "cool", "measure-bay"],
        "row_bolted": ["bolt-holes", "set-frame-bolted", "holding-crosswise", "holding-torque"],
    }
    every = {name for names in own.values() for name in names} | {"join-row"}
    for body, names in own.items():
        steps, _ = plan_steps(shipped(), situation(body))
        found = [rule_of(step) for step in steps if rule_of(step) in every]
        wanted = ["join-row", *names] if body == "row_bolted" else names
        assert list(dict.fromkeys(found)) == wanted, body
        assert ("pull" in {rule_of(step) for step in steps}) == (body != "split")
        assert ("in-place" in {rule_of(step) for step in steps}) == (body == "split")


def test_cables_that_lie_there_are_warned_of_before_each_step_that_can_hurt_them() -> None:
    case = situation("split", transit={"existing_opening": True, "conditions": ["live-cables"]})
    steps, _ = plan_steps(shipped(), case)
    before = {rule_of(step): {caution.id for caution in step.cautions} for step in steps}
    for name in ("clear-around-cables", "bolt-holes", "set-frame-split"):
        assert "cables-in-opening" in before[name]
    for name in ("clear-around-cables", "set-frame-split", "in-place"):
        assert "live-cables" in before[name]
    assert "clear-existing" not in before


def test_every_bolt_is_read_and_read_again() -> None:
    """One reading for each bolt of each bay, in the first and in the second round of readings."""
    for case, (steps, _) in plans():
        for number in range(1, max(1, len(case.bays)) + 1):
            closing = case.closing(number)
            own = [step for step in steps if step.bay in (None, number)]
            for word, value in (
                ("torque", closing and closing.torque_nm),
                ("thread", closing and closing.protrusion),
            ):
                reads = [text_of(read) for step in own if step.phase in ("close", "again") for read in step.reads]
                found = [read for read in reads if re.search(rf"\b{word}\b.*\bbolt ", read)]
                expected = 2 * closing.bolts if closing and value is not None else 0
                assert len(set(found)) == len(found) == expected


def test_a_welded_bay_is_measured_at_three_places_each_way() -> None:
    steps, _ = plan_steps(shipped(), situation("welded"))
    (step,) = [step for step in steps if rule_of(step) == "measure-bay"]
    reads = [text_of(read) for read in step.reads]
    assert [read for read in reads if read.startswith("width") and read.endswith("143–145 mm")] == reads[:3]
    assert [read for read in reads if read.startswith("height") and read.endswith("179–181 mm")] == reads[3:]


def test_there_are_no_steps_without_a_layout() -> None:
    case = situation("welded")
    none = NoLayout(what="too many", why="full", mend="a larger frame")
    assert plan_steps(shipped(), type(case)(**{**case.__dict__, "layout": none})) == ((), ())


# -- cautions --------------------------------------------------------------------------------------


def test_every_caution_has_a_source_and_stands_before_the_first_of_its_steps() -> None:
    """What can hurt is read before the step that can do it, and no caution is listed that stands nowhere."""
    rules = {rule.id: rule for rule in shipped().cautions}
    assert [rule.id for rule in rules.values() if len(rule.source) < 10] == []
    for case, (steps, cautions) in plans():
        facts = facts_of(case)
        shown = {caution.id for step in steps for caution in step.cautions}
        assert {caution.id for caution in cautions} == shown
        for rule in rules.values():
            first = {name: step for step in reversed(steps) if (name := rule_of(step)) in rule.before}
            for step in first.values():
                assert (rule.id in {caution.id for caution in step.cautions}) == rule.holds(facts)


def test_the_gravest_stand_first() -> None:
    for _, (steps, cautions) in plans():
        for shown in (cautions, *(step.cautions for step in steps)):
            assert [caution.rank for caution in shown] == sorted(caution.rank for caution in shown)
    ranks = {"danger": [], "warning": [], "caution": [], "notice": []}  # type: dict[str, list[int]]
    for rule in shipped().cautions:
        ranks[rule.signal].append(rule.rank)
    assert max(ranks["danger"]) < min(ranks["caution"])
    assert max(ranks["warning"]) < min(ranks["notice"])


@pytest.mark.parametrize("condition", SITE_CONDITIONS)
def test_a_condition_of_the_site_is_answered_everywhere(condition: str) -> None:
    """Stating it adds a caution to every kind of transit, cut or existing (hot pipes, too, are looked for)."""
    for case in conditions(condition):
        _, cautions = plan_steps(shipped(), case)
        answering = {rule.id for rule in shipped().cautions if condition in rule.when}
        assert answering & {caution.id for caution in cautions}


def test_signal_words_tell_harm_to_people_from_harm_to_things() -> None:
    """ANSI Z535.4: a notice is not about injury; a falling piece and fire are warnings at least."""
    signals = {rule.id: rule.signal for rule in shipped().cautions}
    assert {name for name, signal in signals.items() if signal == "notice"} == {"one-system", "not-approved"}
    for name in ("falling-piece", "falling-piece-unknown", "hot-work", "watch-time", "sparks"):
        assert signals[name] in ("warning", "danger")


def test_times_of_the_fire_watch_stand_in_no_text() -> None:
    """They are figures of the rules that the job names; only NFPA 51B-2019 speaks of up to 3 hours in its own step."""
    texts = [(rule.id, rule.text) for rule in (*shipped().steps, *shipped().cautions)]
    assert [name for name, text in texts if re.search(r"\d+ minutes|\d hour", text)] == ["hot-look-nfpa-51b-2019"]


# -- words -----------------------------------------------------------------------------------------


def written() -> Iterator[tuple[str, str]]:
    for step in shipped().steps:
        for text in (step.title, step.text, *step.reads, *step.tools):
            yield step.id, text
    for caution in shipped().cautions:
        for text in (caution.title, caution.text, *(caution.card or ())):
            yield caution.id, text


def test_sentences_are_short_and_words_are_ours() -> None:
    """A tired fitter reads no sentence of more than 28 words. The word for a block is block (design 2)."""
    long = [
        (name, sentence)
        for name, text in written()
        for sentence in re.split(r"(?<=[.:;?]) ", text)
        if len(sentence.split()) > 28
    ]
    assert long == []
    assert [name for name, text in written() if re.search(r"\bmodules?\b|\bcompression\b|\bstay\s?plate", text)] == []


def test_lines_for_the_card_are_short() -> None:
    lines = [line for rule in shipped().cautions for line in rule.card or ()]
    assert [line for line in lines if len(line) > 32] == []


def test_nothing_is_called_approved_by_the_page() -> None:
    """The page says what was read; it never says that a seal is approved (design 6)."""
    claims = [name for name, text in written() if re.search(r"seal is (now )?approved|is certified|guarantee", text)]
    assert claims == []


# -- an addition of data ---------------------------------------------------------------------------

OWN = """
steps:
  - id: feed-the-cat
    after: permits
    phase: prepare
    kind: do
    party: crew
    when: [ships-cat]
    title: Feed the cat of {id}
    text: The cat sleeps behind wall {wall}. It bites when it is hungry.
    reads: [cat fed at]
    tools: [tin of fish]
cautions:
  - id: cat-bites
    when: [ships-cat]
    before: [feed-the-cat]
    signal: caution
    title: The cat bites
    text: Put the dish down and step back.
    card: [Cat, It bites.]
    rank: 0
    source: common practice, no source
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    write_starter(tmp_path / "job")
    return tmp_path / "job"


def test_a_made_up_condition_brings_its_step_and_caution_by_data_alone(job: Path) -> None:
    before = workpack.load(job)
    (job / "procedure.yaml").write_text(OWN, encoding="utf-8", newline="\n")
    walls = (job / "walls.yaml").read_text(encoding="utf-8")
    stated = walls.replace("    structural: yes\n", "    structural: yes\n    conditions: [ships-cat]\n", 1)
    assert stated != walls
    (job / "walls.yaml").write_text(stated, encoding="utf-8", newline="\n")
    after = workpack.load(job)
    for name, pack in after.transits.items():
        keys = [step.key for step in pack.steps]
        if pack.wall_id != "W1":
            assert keys == [step.key for step in before.transits[name].steps]
            continue
        old = [step.key for step in before.transits[name].steps]
        at = old.index("permits") + 1
        assert keys == [*old[:at], "feed-the-cat", *old[at:]]
        step = pack.steps[at]
        assert text_of(step.title) == f"Feed the cat of {name}"
        assert [caution.id for caution in step.cautions] == ["cat-bites"]
        assert pack.cautions[0].id == "cat-bites"
        assert "tin of fish" in [text_of(item.name) for item in pack.bring if item.group == "tool"]


def test_a_mistake_in_a_jobs_own_steps_has_its_place(job: Path) -> None:
    wrong = OWN.replace("{wall}", "{wal}").replace("[ships-cat]", "[fixing:weldet]", 1)
    (job / "procedure.yaml").write_text(wrong, encoding="utf-8", newline="\n")
    with pytest.raises(WorkPackError) as caught:
        workpack.load(job)
    found = {(problem.where.file, problem.what, problem.mend) for problem in caught.value.problems}
    assert found == {
        ("procedure.yaml", "the step feed-the-cat names the figure {wal}", "did you mean wall?"),
        ("procedure.yaml", "the step feed-the-cat asks for fixing:weldet", "did you mean fixing:welded?"),
    }
    assert all(problem.where.line > 1 for problem in caught.value.problems)


def rule(**fields: object) -> StepRule:
    common = {"id": "a", "phase": "p", "kind": "do", "party": "crew", "title": "A", "text": "A."}
    return StepRule.model_validate({**common, **fields})


def warning(**fields: object) -> CautionRule:
    common = {"id": "c", "before": ["a"], "signal": "notice", "title": "C", "text": "C.", "source": "no source"}
    return CautionRule.model_validate({**common, **fields})


@pytest.mark.parametrize(
    ("steps", "cautions", "what", "mend"),
    [
        ([rule(), rule()], [], "the step a stands there twice", "rename one"),
        ([rule(phase="q")], [], "the step a stands under q", "name one of the phases"),
        ([rule(text="{openin}")], [], "the step a names the figure {openin}", "did you mean opening?"),
        ([rule(text="{weld_leg}")], [], "the step a names the figure {weld_leg}", "add fixing:welded to when:"),
        ([rule(text="{bay}")], [], "the step a names the figure {bay}, which stands for one bay", "write each: bay"),
        (
            [rule(each="bay", when=["seal:frame"], title="{row}")],
            [],
            "the step a names the figure {row}, which stands for one row",
            "write each: row",
        ),
        (
            [rule(each="type", tools=["{closing_key}"])],
            [],
            "the step a names the figure {closing_key}, which stands for one bay",
            "write each: bay",
        ),
        (
            [rule(text="Say {this and that}.")],
            [],
            "the text of the step a has a brace that names no figure",
            "write {opening} for the figure opening, and no other braces",
        ),
        ([rule(when=["seal:fram"])], [], "the step a asks for seal:fram", "did you mean seal:frame?"),
        (
            [rule(unless=["row:cables"])],
            [],
            "the step a is left out when row:cables",
            "write each: row, or ask for the opposite in when:",
        ),
        ([rule()], [warning(before=["aa"])], "the caution c is shown before aa", "did you mean a?"),
        (
            [rule()],
            [warning(text="{type}")],
            "the caution c names the figure {type}, which stands for one type",
            "leave the figure out",
        ),
        (
            [rule(), rule(id="b", each="row"), rule(id="d"), rule(id="e", each="row")],
            [],
            "the step e is repeated for each row, apart from the other steps for each row",
            "put it beside them, or move what stands between",
        ),
    ],
)
def test_what_is_wrong_in_a_procedure_is_found(
    steps: list[StepRule], cautions: list[CautionRule], what: str, mend: str
) -> None:
    procedure = ProcedureFile(phases=(Phase(id="p", title="P"),), steps=tuple(steps), cautions=tuple(cautions))
    found = check_procedure(procedure)
    assert [(finding.what, finding.mend) for finding in found] == [(what, mend)]


def test_the_name_of_a_step_does_not_move_when_others_come_and_go() -> None:
    """Records are filed under it: one more cable, or cables of another type, rename nothing."""
    case = situation("welded")
    fewer = type(case)(**{**case.__dict__, "cables": case.cables[3:]})
    before = {step.key for step in plan_steps(shipped(), fewer)[0]}
    after = {step.key for step in plan_steps(shipped(), case)[0]}
    assert before < after
    assert {key.split(".")[0] for key in after - before} == {"fit-type"}


def test_a_type_that_is_called_like_a_tag_is_another_step() -> None:
    case = situation("welded")
    first, second, *others = case.cables
    alike = (first, second.model_copy(update={"type": first.tag}), *others)
    steps, _ = plan_steps(shipped(), type(case)(**{**case.__dict__, "cables": alike}))
    titles = [step.key for step in steps if text_of(step.title) == f"{first.tag}: measure, peel, try the gap"]
    assert len(set(titles)) == 2
