"""Rules become the numbered steps of one transit, each with the cautions to read before it."""

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from itertools import groupby

from generator.engine.facts import (
    CableType,
    Situation,
    cable_types,
    facts_of,
    facts_of_bay,
    facts_of_row,
    facts_of_type,
)
from generator.engine.figures import FIGURES, MANY, figures_of, figures_of_bay, figures_of_row, figures_of_type
from generator.errors import Finding
from generator.model.facts import IMPLIES, KNOWN_FACTS
from generator.model.layout import BayLayout, NoLayout, Row
from generator.model.procedure import Caution, CautionRule, Message, ProcedureFile, Step, StepRule

_NAME = re.compile(r"\{([a-z][a-z0-9_]*)\}", re.ASCII)
_LOCAL = ("closing:", "press:", "row:", "type:")
"""Facts that may differ from bay to bay, row to row, type to type."""


@dataclass(frozen=True)
class _Turn:
    """One turn of a rule that is repeated: where it is, what is true there, and its figures."""

    facts: frozenset[str]
    figures: Mapping[str, str]
    key: str = ""
    bay: int | None = None
    row: int | None = None


def plan_steps(procedure: ProcedureFile, situation: Situation) -> tuple[tuple[Step, ...], tuple[Caution, ...]]:
    """Return the steps of one transit in the order of the work, and its cautions, lowest rank first.

    Rules that stand together and are repeated are taken bay by bay and row by row (rows from the bottom),
    or type by type. A caution is attached to the first step of every rule it names. There are no steps
    without a layout. Raises KeyError for a figure that ``check_procedure`` would have refused.
    """
    if isinstance(situation.layout, NoLayout):
        return (), ()
    whole = _Turn(facts_of(situation), figures_of(situation))
    cautions = [(rule, _caution(rule, whole)) for rule in procedure.cautions if rule.holds(whole.facts)]
    steps: list[Step] = []
    shown: set[tuple[str, str]] = set()
    for rule, turn in _turns(procedure, situation, whole):
        first = [
            caution for wanted, caution in cautions if rule.id in wanted.before and (wanted.id, rule.id) not in shown
        ]
        shown |= {(caution.id, rule.id) for caution in first}
        gravest = tuple(sorted(first, key=lambda caution: caution.rank))
        steps.append(_step(rule, turn, len(steps) + 1, gravest))
    used = {name for name, _ in shown}
    ranked = sorted((caution for _, caution in cautions if caution.id in used), key=lambda caution: caution.rank)
    return tuple(steps), tuple(ranked)


def rules_for_adding(procedure: ProcedureFile) -> ProcedureFile:
    """Return those rules by which a closed transit is opened for one more cable: they ask for adding:yes."""
    return procedure.model_copy(
        update={
            "steps": tuple(rule for rule in procedure.steps if "adding:yes" in rule.when),
            "cautions": tuple(rule for rule in procedure.cautions if "adding:yes" in rule.when),
        }
    )


def _turns(procedure: ProcedureFile, situation: Situation, whole: _Turn) -> Iterator[tuple[StepRule, _Turn]]:
    phases = [phase.id for phase in procedure.phases]
    ordered = sorted(procedure.steps, key=lambda rule: phases.index(rule.phase))
    for (_, each), run in groupby(ordered, key=lambda rule: (rule.phase, _family(rule))):
        rules = tuple(run)
        if each == "transit":
            repeated: Iterable[tuple[StepRule, _Turn]] = ((rule, whole) for rule in rules)
        elif each == "type":
            repeated = _by_type(rules, situation, whole)
        else:
            repeated = _by_bay(rules, situation, whole)
        yield from ((rule, turn) for rule, turn in repeated if rule.holds(turn.facts))


def _family(rule: StepRule) -> str:
    return "bay" if rule.each == "row" else rule.each


def _by_type(rules: tuple[StepRule, ...], situation: Situation, whole: _Turn) -> Iterator[tuple[StepRule, _Turn]]:
    for cables in cable_types(situation):
        turn = _Turn(
            _without(whole.facts, "type:") | facts_of_type(situation, cables),
            {**whole.figures, **figures_of_type(situation, cables)},
            f".{_short(cables)}",
        )
        yield from ((rule, turn) for rule in rules)


def _by_bay(rules: tuple[StepRule, ...], situation: Situation, whole: _Turn) -> Iterator[tuple[StepRule, _Turn]]:
    base = _without(_without(whole.facts, "closing:"), "press:")
    bays: tuple[BayLayout | None, ...] = situation.bays or (None,)
    for number, bay in enumerate(bays, 1):
        turn = _Turn(
            base | facts_of_bay(situation, number),
            {**whole.figures, **figures_of_bay(situation, number)},
            f".{number}" if bay else "",
            number if bay else None,
        )
        for each, run in groupby(rules, key=lambda rule: rule.each):
            if each == "bay":
                yield from ((rule, turn) for rule in run)
            elif bay:
                together = tuple(run)
                for row in bay.rows:
                    in_row = _in_row(situation, turn, bay, row)
                    yield from ((rule, in_row) for rule in together)


def _in_row(situation: Situation, turn: _Turn, bay: BayLayout, row: Row) -> _Turn:
    return _Turn(
        _without(turn.facts, "row:") | facts_of_row(situation, bay, row),
        {**turn.figures, **figures_of_row(situation, bay, row)},
        f"{turn.key}.{row.number}",
        turn.bay,
        row.number,
    )


def _without(facts: frozenset[str], prefix: str) -> frozenset[str]:
    return frozenset(fact for fact in facts if not fact.startswith(prefix))


def _short(cables: CableType) -> str:
    """Return a short name of a type and drum that does not move when other cables come and go."""
    named = "type" if cables.cables[0].type else "tag"
    return hashlib.sha256(f"{named}\0{cables.name}\0{cables.drum}".encode()).hexdigest()[:8]


def _step(rule: StepRule, turn: _Turn, number: int, cautions: tuple[Caution, ...]) -> Step:
    return Step(
        number=number,
        key=f"{rule.id}{turn.key}",
        phase=rule.phase,
        kind=rule.kind,
        party=rule.party,
        title=_message(_title(rule, turn.figures), turn.figures),
        text=_message(rule.text, turn.figures),
        reads=tuple(message for read in rule.reads for message in _each_value(read, turn.figures)),
        tools=tuple(_message(tool, turn.figures) for tool in rule.tools),
        bay=turn.bay,
        row=turn.row,
        cautions=cautions,
    )


def _title(rule: StepRule, figures: Mapping[str, str]) -> str:
    """Return a step's title: that of one where the figure it counts is 1, since no language counts one as many."""
    return next((title for name, title in rule.title_of_one.items() if figures.get(name) == "1"), rule.title)


def _caution(rule: CautionRule, whole: _Turn) -> Caution:
    card = rule.card and (_message(rule.card[0], whole.figures), _message(rule.card[1], whole.figures))
    return Caution(
        id=rule.id,
        signal=rule.signal,
        title=_message(rule.title, whole.figures),
        text=_message(rule.text, whole.figures),
        card=card,
        rank=rule.rank,
        source=rule.source,
        when=rule.when,
        unless=rule.unless,
    )


@cache
def named_in(text: str) -> tuple[str, ...]:
    """Return the figures that a text names, each once, in its order."""
    return tuple(dict.fromkeys(_NAME.findall(text)))


def _message(text: str, figures: Mapping[str, str]) -> Message:
    # Rules and figures were checked when they were read: building without a second check is four times faster.
    return Message.model_construct(text=text, values={name: figures[name] for name in named_in(text)})


def _each_value(text: str, figures: Mapping[str, str]) -> Iterator[Message]:
    listed = [name for name in named_in(text) if name in MANY]
    if not listed:
        yield _message(text, figures)
        return
    for value in figures[listed[0]].split(", "):
        yield _message(text, {**figures, **dict.fromkeys(listed, value)})


# -- is the procedure itself right? ----------------------------------------------------------------


def check_procedure(procedure: ProcedureFile) -> tuple[Finding, ...]:
    """Find what would go wrong in any transit: unknown figures, facts, phases and steps, broken order.

    Every figure must exist in every transit on which its rule holds: its facts stand in ``when`` or
    follow from it. A condition without a colon may be any word a planner states.
    """
    return tuple(_check(procedure))


def _check(procedure: ProcedureFile) -> Iterator[Finding]:
    phases = [phase.id for phase in procedure.phases]
    steps = {rule.id for rule in procedure.steps}
    for rules, word in ((procedure.steps, "step"), (procedure.cautions, "caution")):
        seen: set[str] = set()
        for rule in rules:
            if rule.id in seen:
                yield _found(
                    rule, "id", f"the {word} {rule.id} stands there twice", "an ID is used once", "rename one"
                )
            seen.add(rule.id)
    for step in procedure.steps:
        if step.phase not in phases:
            yield _found(
                step,
                "phase",
                f"the step {step.id} stands under {step.phase}",
                "there is no such phase",
                _perhaps(step.phase, phases, "name one of the phases"),
            )
        for name, title in step.title_of_one.items():
            if set(named_in(title)) != set(named_in(step.title)) or name not in named_in(title):
                yield _found(
                    step,
                    "title_of_one",
                    f"the step {step.id} has a title of one {name} with other figures than its title",
                    "the two are one title, and only their words differ",
                    f"name the same figures in both, {{{name}}} among them",
                )
        yield from _check_facts(step)
        for field, texts in (
            ("title", (step.title,)),
            ("title_of_one", tuple(step.title_of_one.values())),
            ("text", (step.text,)),
            ("reads", step.reads),
            ("tools", step.tools),
        ):
            for text in texts:
                yield from _check_figures(step, field, text, step.each)
    for caution in procedure.cautions:
        yield from _check_facts(caution)
        for name in caution.before:
            if name not in steps:
                yield _found(
                    caution,
                    "before",
                    f"the caution {caution.id} is shown before {name}",
                    "there is no such step",
                    _perhaps(name, steps, "name a step"),
                )
        for field, texts in (("title", (caution.title,)), ("text", (caution.text,)), ("card", caution.card or ())):
            for text in texts:
                yield from _check_figures(caution, field, text, "transit")
    yield from _check_runs(procedure)


_SEEN_IN = {"transit": {"transit"}, "bay": {"transit", "bay"}, "row": {"transit", "bay", "row"}}


def _check_figures(rule: StepRule | CautionRule, field: str, text: str, each: str) -> Iterator[Finding]:
    kind = "step" if isinstance(rule, StepRule) else "caution"
    if "{" in _NAME.sub("", text) or "}" in _NAME.sub("", text):
        yield _found(
            rule,
            field,
            f"the {field} of the {kind} {rule.id} has a brace that names no figure",
            "{ and } stand around the name of a figure",
            "write {opening} for the figure opening, and no other braces",
        )
    known = _follows(rule.when) | ({"seal:frame", "closing:yes"} if each == "row" else set())
    for name in named_in(text):
        figure = FIGURES.get(name)
        if figure is None:
            yield _found(
                rule,
                field,
                f"the {kind} {rule.id} names the figure {{{name}}}",
                "there is no such figure",
                _perhaps(name, FIGURES, "leave it out"),
            )
        elif figure.each not in _SEEN_IN.get(each, {"transit", "type"}):
            yield _found(
                rule,
                field,
                f"the {kind} {rule.id} names the figure {{{name}}}, which stands for one {figure.each}",
                f"it is shown once a {each}" if kind == "step" else "a caution speaks of the whole transit",
                f"write each: {figure.each}" if kind == "step" else "leave the figure out",
            )
        elif missing := [fact for fact in figure.needs if fact not in known]:
            yield _found(
                rule,
                field,
                f"the {kind} {rule.id} names the figure {{{name}}}",
                f"only a transit with {', '.join(missing)} has it",
                f"add {', '.join(missing)} to when:",
            )


def _follows(when: Iterable[str]) -> set[str]:
    known: set[str] = set()
    wanted = list(when)
    while wanted:
        fact = wanted.pop()
        if fact not in known:
            known.add(fact)
            wanted += IMPLIES.get(fact, ())
    return known


def _check_facts(rule: StepRule | CautionRule) -> Iterator[Finding]:
    kind = "step" if isinstance(rule, StepRule) else "caution"
    local = {"closing": ("bay", "row"), "press": ("bay", "row"), "row": ("row",), "type": ("type",)}
    for field, facts in (("when", rule.when), ("unless", rule.unless)):
        for fact in facts:
            if ":" in fact and fact not in KNOWN_FACTS:
                yield _found(
                    rule,
                    field,
                    f"the {kind} {rule.id} asks for {fact}",
                    "Wallwork states no such fact",
                    _perhaps(fact, KNOWN_FACTS, "leave it out, or use a word of your own without a colon"),
                )
            scopes = local.get(fact.partition(":")[0])
            if isinstance(rule, StepRule) and field == "unless" and scopes and rule.each not in scopes:
                yield _found(
                    rule,
                    field,
                    f"the step {rule.id} is left out when {fact}",
                    f"that may hold for one {scopes[0]} and not for the next, and this step is once a {rule.each}",
                    f"write each: {scopes[0]}, or ask for the opposite in when:",
                )


def _check_runs(procedure: ProcedureFile) -> Iterator[Finding]:
    """Repeated steps of a phase stand together: else one of several rows would be finished too late."""
    for phase in procedure.phases:
        ended: set[str] = set()
        last = None
        for rule in (step for step in procedure.steps if step.phase == phase.id):
            if rule.each == "row" and last != "row" and "row" in ended:
                yield _found(
                    rule,
                    "each",
                    f"the step {rule.id} is repeated for each row, apart from the other steps for each row",
                    "what is done row by row stands together, or a row would be closed before it is done",
                    "put it beside them, or move what stands between",
                )
            if last and last != rule.each:
                ended.add(last)
            last = rule.each


def _perhaps(name: str, known: Iterable[str], otherwise: str) -> str:
    near = get_close_matches(name, list(known), 1)
    return f"did you mean {near[0]}?" if near else otherwise


def _found(rule: StepRule | CautionRule, field: str, what: str, why: str, mend: str) -> Finding:
    return Finding(
        what, why, mend, kind="step" if isinstance(rule, StepRule) else "caution", key=rule.id, field=field
    )
