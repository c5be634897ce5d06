"""Hot work: each set of rules against what is published of it, the strictest of several, and never a figure too many.

29 CFR 1910.252 was read in a state rule that repeats it, 29 CFR 1915.504 in a public copy; NFPA 51B and the Joint Code
as others quote them. The distance of the later editions of NFPA 51B is from memory: only that it is 35 ft is held.
"""

import math
import re
from decimal import Decimal
from itertools import combinations, product

import pytest

from generator.engine.figures import figures_of
from generator.engine.hotwork import check_times, figures_of_hot_work, strictest
from generator.engine.steps import plan_steps
from generator.model.procedure import HotRules, Step
from tests.engine.situations import shipped, situation

RULES = shipped().hot_work
FOOT = Decimal("0.3048")


def steps_of(*names: str, body: str = "welded", existing: bool = False) -> dict[str, Step]:
    case = situation(body, hot_work=names, transit={"existing_opening": existing})
    return {step.key: step for step in plan_steps(shipped(), case)[0]}


def said(step: Step) -> str:
    return " ".join(str(message) for message in (step.title, step.text, *step.reads))


@pytest.mark.parametrize(
    ("name", "watch"),
    [
        ("us-general-industry", 30),  # 1910.252(a)(2)(iii)(B): "at least a half hour"
        ("us-shipyard", 30),  # 1915.504(c): "at least 30 minutes after completion of the hot work"
        ("nfpa-51b-2014", 30),  # half an hour up to this edition
        ("nfpa-51b-2019", 60),  # "increased to a minimum of 1 hour"
        ("uk-joint-code", 60),  # 16.15: "at least one hour after work is completed"
    ],
)
def test_the_watch_of_each(name: str, watch: int) -> None:
    figure = RULES[name].watch_min
    assert figure and figure.value == watch
    assert steps_of(name)["fire-watch-named"].title.values["hot_watch"] == f"{watch} min ({RULES[name].title})"


def test_thirty_five_feet_are_more_than_ten_metres() -> None:
    """35 ft = 10.668 m; OSHA prints 10.7 m. 10 m would not pass a US rule; 10.7 and 11 m do."""
    for name in ("us-general-industry", "us-shipyard", "nfpa-51b-2014", "nfpa-51b-2019"):
        figure = RULES[name].clear_m
        assert figure and figure.value == 35 * FOOT
        shown = Decimal(figures_of_hot_work([RULES[name]])["hot_clear"].split(" m")[0])
        assert 10 < 35 * FOOT <= shown == Decimal("10.7") < 11


def test_the_uk_code_looks_again_at_80_100_and_120_minutes() -> None:
    """16.15: one hour without a break, then a further hour at intervals of no more than 20 minutes, within 10 metres."""
    assert check_times(Decimal(60), Decimal(60), Decimal(20)) == (80, 100, 120)
    steps = steps_of("uk-joint-code")
    assert steps["fire-checks"].title.values["hot_checks"].startswith("80 · 100 · 120 min (")
    assert "within 10 m (UK Joint Code" in said(steps["hot-look-uk-joint-code"])
    assert not RULES["uk-joint-code"].clear_m  # its ten metres are for the other side, not a distance to clear


@pytest.mark.parametrize(
    ("watch", "checks", "every"), list(product(("30", "60", "7.5"), ("0", "60", "61", "180"), ("1", "20", "25.5")))
)
def test_looks_begin_after_the_watch_lie_close_enough_and_reach_the_end(watch: str, checks: str, every: str) -> None:
    times = check_times(Decimal(watch), Decimal(checks), Decimal(every))
    start = math.ceil(Decimal(watch))
    if not Decimal(checks):
        assert times == ()
        return
    assert times[-1] >= Decimal(watch) + Decimal(checks)
    assert list(times) == sorted(set(times))
    gaps = [b - a for a, b in zip((start, *times), times, strict=False)]
    assert all(0 < gap <= Decimal(every) for gap in gaps)


@pytest.mark.parametrize("name", ["clear_m", "watch_min", "checks_min", "far_m", "every_min"])
def test_of_several_the_strictest_stands_with_the_rules_it_comes_from(name: str) -> None:
    """Every set of rules, by brute force: no other asks for more, and those that are named ask for just that."""
    for size in range(1, len(RULES) + 1):
        for chosen in combinations(RULES.values(), size):
            found = strictest(chosen, name)
            values = {rules.title: figure.value for rules in chosen if (figure := getattr(rules, name))}
            assert (found is None) == (not values)
            if found:
                harder = [v for v in values.values() if (v < found.value if name == "every_min" else v > found.value)]
                assert harder == []
                assert set(found.titles) == {title for title, value in values.items() if value == found.value}


def test_figures_of_rules_that_are_not_named_never_stand_on_a_page() -> None:
    """One set of rules: nothing of the others. None: no title, no figure, only the permit."""
    titles = {name: rules.title for name, rules in RULES.items()}
    for name in (*RULES, ""):
        steps = steps_of(*([name] if name else []))
        text = " ".join(said(step) for step in steps.values())
        cautions = " ".join(f"{c.title} {c.text}" for step in steps.values() for c in step.cautions)
        for other, title in titles.items():
            if other != name:
                assert not re.search(rf"{re.escape(title)}(?!\d)", text + cautions), (name, other)
        hot = [
            step
            for key, step in steps.items()
            if key.startswith(("hot-", "fire-", "watch-", "weld-repair", "clear-"))
        ]
        assert hot
        if not name:
            assert not re.search(r"\d+(\.\d+)? ?(m|min|minutes|hours?)\b", " ".join(map(said, hot)) + cautions)
            assert "work permit says" in said(steps["fire-watch"])
            assert {"hot-unnamed", "watch-cut", "fire-watch", "weld-repair"} <= set(steps)
            assert not [key for key in steps if key.endswith("-named")]


def test_the_watch_follows_cutting_welding_and_a_repair_each_time() -> None:
    for names in ((), ("nfpa-51b-2019",)):
        order = list(steps_of(*names))
        tail = "-named" if names else ""
        for before, watch, after in (
            ("deburr", f"watch-cut{tail}", "tack"),
            ("weld-both", f"fire-watch{tail}", "weld-look"),
            ("weld-look", f"weld-repair{tail}", "frame-ready"),
        ):
            assert order.index(before) < order.index(watch) < order.index(after)
        # A bolted frame is not welded: only the cut is watched.
        bolted = steps_of(*names, body="bolted")
        assert f"watch-cut{tail}" in bolted and f"fire-watch{tail}" not in bolted
        assert f"watch-cut{tail}" not in steps_of(*names, body="bolted", existing=True)


def test_every_watch_has_the_caution_before_it() -> None:
    for names in ((), ("uk-joint-code",)):
        for key, step in steps_of(*names).items():
            if key.startswith(("watch-cut", "fire-watch", "weld-repair")):
                assert "watch-time" in [caution.id for caution in step.cautions], key


@pytest.mark.parametrize(
    ("name", "words"),
    [
        # 1910.252(a)(2)(iii)(A)(1) to (4)
        ("us-general-industry", ("nearer than", "farther away", "openings in walls or floors", "other side of a metal")),
        # 1915.504(b)(1) to (8)
        ("us-shipyard", ("pass through an opening", "sideways, above or below", "insulation", "coatings", "sandwich",
                         "other side of the bulkhead, deck or overhead", "pipe or cable runs", "no other duty")),
        # 5.6.3: up to 3 h more, as the person sets who authorises the permit
        ("nfpa-51b-2019", ("up to 3 hours", "Who signs the permit")),
        # 16.15
        ("uk-joint-code", ("other side of every wall, partition and ceiling", "floors below")),
    ],
)  # fmt: skip
def test_what_each_set_of_rules_has_looked_at(name: str, words: tuple[str, ...]) -> None:
    text = said(steps_of(name)[f"hot-look-{name}"])
    for word in words:
        assert word in text, word
    assert RULES[name].looks


def test_a_figure_of_ones_own_rules_stands_alone() -> None:
    own = HotRules.model_validate(
        {"title": "Works rule 7", "watch_min": {"value": "45", "source": "Works rule 7.2", "state": "read"}}
    )
    assert figures_of_hot_work([own]) == {"hot_rules": "Works rule 7", "hot_watch": "45 min (Works rule 7)"}
    assert "hot_watch" not in figures_of(situation("welded"))
