"""A caution stands before every step that it names: in full, or in a line that leads to where it is told in full."""

import pytest

from generator.engine.steps import plan_steps
from generator.model.facts import SITE_CONDITIONS
from generator.model.procedure import Caution, Step
from generator.pages.render import Pages
from generator.pages.telling import told_before
from tests.engine.situations import BODIES, shipped, situation
from tests.pages.page_samples import make_work

Plans = list[tuple[tuple[Step, ...], tuple[Caution, ...]]]


@pytest.fixture(scope="module")
def plans() -> Plans:
    """Every kind of transit, with every condition of the site at once: as many cautions as can be."""
    every = {"conditions": list(SITE_CONDITIONS)}
    return [plan_steps(shipped(), situation(body, transit=every)) for body in BODIES]


def _named() -> dict[str, set[str]]:
    """Return by rule of a step what the rules of cautions themselves say stands before it."""
    before: dict[str, set[str]] = {}
    for rule in shipped().cautions:
        for name in rule.before:
            before.setdefault(name, set()).add(rule.id)
    return before


def test_no_step_lacks_a_caution_and_every_line_leads_back_to_the_full_one(plans: Plans) -> None:
    lines, named = 0, _named()
    for steps, cautions in plans:
        told = told_before(steps)
        known = {caution.id for caution in cautions}
        in_full: dict[str, tuple[str, int]] = {}
        for step in steps:
            here = told.get(step.key, ())
            assert {one.caution.id for one in here} == named.get(step.rule, set()) & known
            assert [one.caution.rank for one in here] == sorted(one.caution.rank for one in here)
            for one in here:
                if not one.in_full:
                    lines += 1
                    assert in_full[one.anchor] == (one.caution.id, one.at) and one.at < step.number
                elif one.anchor:
                    assert one.anchor not in in_full
                    in_full[one.anchor] = (one.caution.id, step.number)
    assert lines > 100


def test_after_a_phase_without_it_a_caution_is_told_in_full_again(plans: Plans) -> None:
    for steps, _ in plans:
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
