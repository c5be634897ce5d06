"""Which cautions a step tells in full, and which in a line that leads to where they were told."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from generator.model.procedure import Caution, Step


@dataclass(frozen=True)
class Told:
    """A caution as it stands before one step.

    ``anchor`` is the name on the page of the one told in full, '' for one that no line leads to; ``at`` is the
    number of the step it stands before.
    """

    caution: Caution
    anchor: str
    in_full: bool
    at: int


def told_before(steps: Sequence[Step]) -> dict[str, tuple[Told, ...]]:
    """Return by key of the step, in the order of the work, the cautions to read before it.

    A rule that is repeated, row by row for one, has its cautions before every turn. A caution is told in full
    before the first step of a run, then in one line. A run lasts while every phase has a step that asks for
    the caution: where a whole phase lies between, others may be at work, and it is told in full again.
    """
    phases = {phase: number for number, phase in enumerate(dict.fromkeys(step.phase for step in steps))}
    of_rule: dict[str, tuple[Caution, ...]] = {}
    for step in steps:
        of_rule.setdefault(step.rule, step.cautions)
    # By caution: the phase it was last told in, its runs so far, the step at which this one began.
    last: dict[str, tuple[int, int, int]] = {}
    found: dict[str, list[Told]] = {}
    for step in steps:
        phase = phases[step.phase]
        for caution in step.cautions or of_rule[step.rule]:
            before, runs, at = last.get(caution.id, (-2, 0, 0))
            in_full = phase - before > 1
            runs += in_full
            at = step.number if in_full else at
            last[caution.id] = phase, runs, at
            anchor = f"caution-{caution.id}" if runs == 1 else f"caution-{caution.id}.{runs}"
            found.setdefault(step.key, []).append(Told(caution, anchor, in_full, at))
    led_to = {told.anchor for line in found.values() for told in line if not told.in_full}
    return {
        key: tuple(told if told.anchor in led_to else replace(told, anchor="") for told in line)
        for key, line in found.items()
    }
