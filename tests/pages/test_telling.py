"""A caution stands before every step that it names: in full, or in a line that leads to where it is told in full."""

from generator.model.procedure import Step
from generator.pages.render import Pages
from generator.pages.telling import told_before
from tests.engine.situations import shipped
from tests.engine.test_steps import plans
from tests.pages.page_samples import make_work


def _wanted(step: Step, known: set[str]) -> set[str]:
    """What the rules themselves name before a step, among the cautions of its transit."""
    return {rule.id for rule in shipped().cautions if step.rule in rule.before and rule.id in known}


def test_no_step_lacks_a_caution_and_every_line_leads_back_to_the_full_one() -> None:
    lines = 0
    for _, (steps, cautions) in plans():
        told = told_before(steps)
        known = {caution.id for caution in cautions}
        in_full: dict[str, tuple[str, int]] = {}
        for step in steps:
            here = told.get(step.key, ())
            assert {one.caution.id for one in here} == _wanted(step, known)
            assert [one.caution.rank for one in here] == sorted(one.caution.rank for one in here)
            for one in here:
                if not one.in_full:
                    lines += 1
                    assert in_full[one.anchor] == (one.caution.id, one.at) and one.at < step.number
                elif one.anchor:
                    assert one.anchor not in in_full
                    in_full[one.anchor] = (one.caution.id, step.number)
    assert lines > 1_000


def test_after_a_phase_without_it_a_caution_is_told_in_full_again() -> None:
    for _, (steps, _) in plans():
        told = told_before(steps)
        phases = list(dict.fromkeys(step.phase for step in steps))
        asked: dict[str, list[int]] = {}
        full: dict[str, list[int]] = {}
        for step in steps:
            for one in told.get(step.key, ()):
                asked.setdefault(one.caution.id, []).append(phases.index(step.phase))
                if one.in_full:
                    full.setdefault(one.caution.id, []).append(phases.index(step.phase))
        for name, places in asked.items():
            assert full[name] == [place for place in sorted(set(places)) if place - 1 not in places]


def test_a_line_has_signal_word_and_title_and_stands_before_its_step() -> None:
    work = make_work()
    pack = work.transits["B2-017"]
    (again, *_) = pack.steps[0].cautions
    second = pack.steps[1].model_copy(update={"cautions": (again,), "phase": pack.steps[0].phase})
    steps = (pack.steps[0], second, *pack.steps[2:])
    changed = pack.model_copy(update={"steps": steps})
    html = Pages(work.model_copy(update={"transits": {**work.transits, pack.id: changed}}), "en").transit(pack.id)
    full, line = html.index(f'id="caution-{again.id}"'), html.index(f'href="#caution-{again.id}"')
    second_step = html.index('id="step-2"')
    assert html.index('id="step-1"') < full < second_step < line < html.index("<h4>", second_step)
    assert html.count(str(again.text)) == 1
    panel = html[line : html.index("</a>", line)]
    assert (
        "in full before step 1" in panel
        and "i-alert" in panel
        and "<strong>Danger</strong>" in panel
        and str(again.title) in panel
    )
