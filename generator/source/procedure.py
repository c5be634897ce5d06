"""The steps and cautions that come with Wallwork, joined with a job's own."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from generator.errors import Problem
from generator.model.procedure import CautionRule, DefectRule, Phase, ProcedureFile, StepRule
from generator.model.scalars import quoted
from generator.source.lookalikes import did_you_mean, one_of
from generator.source.positions import Map, place_of


@dataclass(frozen=True)
class ReadProcedure:
    """One procedure file: as a model, and as it stands in its file."""

    model: ProcedureFile
    root: Map


def join_procedures(
    shipped: Sequence[ReadProcedure], own: ReadProcedure | None
) -> tuple[ProcedureFile, list[Problem]]:
    """Join the shipped files in their order, then put each of the job's own steps after the step it names.

    Own steps that name the same step keep their order; own figures of a material, and own rules
    for hot work, stand for the shipped ones. The problems name what leads nowhere.
    """
    problems: list[Problem] = []
    phases: dict[str, Phase] = {}
    steps: dict[str, StepRule] = {}
    cautions: dict[str, CautionRule] = {}
    defects: dict[str, DefectRule] = {}
    for file in shipped:
        for kind, rules, known in (
            ("phases", file.model.phases, phases),
            ("steps", file.model.steps, steps),
            ("cautions", file.model.cautions, cautions),
            ("defects", file.model.defects, defects),
        ):
            problems += _add_new(kind, rules, known, file.root)  # type: ignore[arg-type]
    ordered = list(steps.values())
    if own:
        problems += _add_own_phases(own, phases, steps)
        problems += _add_new("cautions", own.model.cautions, cautions, own.root)  # type: ignore[arg-type]
        problems += _add_new("defects", own.model.defects, defects, own.root)  # type: ignore[arg-type]
        ordered, faults = _insert(own, steps)
        problems += faults
        problems += _judge_order(own, ordered, list(phases))
    files = (*shipped, own) if own else tuple(shipped)
    step_ids = [*steps, *(step.id for step in own.model.steps)] if own else list(steps)
    for file in files:
        problems += _judge_references(file, phases, step_ids)
    joined = ProcedureFile(
        phases=tuple(phases.values()),
        steps=tuple(ordered),
        cautions=tuple(cautions.values()),
        defects=tuple(defects.values()),
        materials={name: figures for file in files for name, figures in file.model.materials.items()},
        hot_work={name: rules for file in files for name, rules in file.model.hot_work.items()},
    )
    return joined, problems


def _add_new(
    kind: str,
    rules: Sequence[Phase | StepRule | CautionRule | DefectRule],
    known: dict[str, Phase | StepRule | CautionRule | DefectRule],
    root: Map,
) -> list[Problem]:
    problems = []
    for index, rule in enumerate(rules):
        if rule.id in known:
            problems.append(_taken(kind, index, rule.id, root))
        else:
            known[rule.id] = rule
    return problems


def _taken(kind: str, index: int, name: str, root: Map) -> Problem:
    return Problem(
        place_of(root, (kind, index, "id")),
        f"id is {quoted(name)} a second time among the {kind}",
        "an id names one of them for ever",
        "choose another id",
    )


def _add_own_phases(own: ReadProcedure, phases: dict[str, Phase], steps: dict[str, StepRule]) -> list[Problem]:
    """Put each new phase behind the phase of the step that its first step is put after, else at the end."""
    problems = []
    phase_of = {step.id: step.phase for step in (*steps.values(), *own.model.steps)}
    for index, phase in enumerate(own.model.phases):
        if phase.id in phases:
            problems.append(_taken("phases", index, phase.id, own.root))
            continue
        names = list(phases)
        first = next((step for step in own.model.steps if step.phase == phase.id), None)
        before = phase_of.get(first.after or "") if first else None
        at = names.index(before) + 1 if before in names else len(names)
        entries = list(phases.items())
        phases.clear()
        phases.update([*entries[:at], (phase.id, phase), *entries[at:]])
    return problems


def _judge_order(own: ReadProcedure, ordered: Sequence[StepRule], phases: list[str]) -> list[Problem]:
    """Name own steps that stand under a phase which is over before, or begins after, the steps around them."""
    problems = []
    rank = {phase: number for number, phase in enumerate(phases)}
    places = {step.id: place for place, step in enumerate(ordered)}
    mine = {step.id for step in own.model.steps}
    for index, step in enumerate(own.model.steps):
        place = places.get(step.id)
        if place is None or step.phase not in rank:
            continue
        before = next((other for other in reversed(ordered[:place]) if other.id not in mine), None)
        after = next((other for other in ordered[place:] if other.id not in mine), None)
        low = rank.get(before.phase, 0) if before else 0
        high = rank.get(after.phase, len(rank)) if after else len(rank)
        if not low <= rank[step.phase] <= high:
            problems.append(
                Problem(
                    place_of(own.root, ("steps", index, "phase")),
                    f"phase is {quoted(step.phase)} for step {step.id}",
                    f"it is put after step {step.after}, which stands under {phases[low]}",
                    f"write {phases[low]}, or put it after a step of {step.phase}",
                )
            )
    return problems


def _insert(own: ReadProcedure, steps: dict[str, StepRule]) -> tuple[list[StepRule], list[Problem]]:
    """Put own steps in their places; ``steps`` learns them."""
    problems = []
    followers: dict[str, list[StepRule]] = {}
    shipped = list(steps.values())
    for index, step in enumerate(own.model.steps):
        if step.id in steps:
            problems.append(_taken("steps", index, step.id, own.root))
            continue
        if step.after is None or step.after not in steps:
            problems.append(
                Problem(
                    place_of(own.root, ("steps", index, "after")),
                    f"after is {quoted(step.after)} for step {step.id}"
                    if step.after
                    else f"after is missing for step {step.id}",
                    "a step of the job is put after a shipped one, or after one of its own further up",
                    did_you_mean(step.after or "", steps, "name such a step"),
                )
            )
        else:
            followers.setdefault(step.after, []).append(step)
        steps[step.id] = step
    ordered: list[StepRule] = []
    waiting = shipped[::-1]
    while waiting:
        step = waiting.pop()
        ordered.append(step)
        waiting += followers.get(step.id, [])[::-1]
    return ordered, problems


def _judge_references(file: ReadProcedure, phases: Iterable[str], steps: Iterable[str]) -> list[Problem]:
    problems = []
    for index, step in enumerate(file.model.steps):
        if step.phase not in phases:
            problems.append(
                Problem(
                    place_of(file.root, ("steps", index, "phase")),
                    f"phase is {quoted(step.phase)} for step {step.id}",
                    "a step stands under one of the phases",
                    did_you_mean(step.phase, phases, f"write {one_of(phases)}"),
                )
            )
    for index, caution in enumerate(file.model.cautions):
        for number, before in enumerate(caution.before):
            if before not in steps:
                problems.append(
                    Problem(
                        place_of(file.root, ("cautions", index, "before", number)),
                        f"before names {quoted(before)} for caution {caution.id}",
                        "a caution is shown before steps that exist",
                        did_you_mean(before, steps, "name the id of a step"),
                    )
                )
    for index, defect in enumerate(file.model.defects):
        for number, caught_by in enumerate(defect.steps):
            if caught_by not in steps:
                problems.append(
                    Problem(
                        place_of(file.root, ("defects", index, "steps", number)),
                        f"steps names {quoted(caught_by)} for defect {defect.id}",
                        "a defect is caught by steps that exist",
                        did_you_mean(caught_by, steps, "name the id of a step"),
                    )
                )
    return problems
