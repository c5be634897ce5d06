"""Hot work by the rules that a job names: of several the strictest figure, beside the rules it comes from.

Without a rule that is named there is no figure: the permit says it. Figures of rules are never mixed: a figure is
taken whole from the rules that ask for most, and these are named with it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from generator.model.procedure import HotRules


@dataclass(frozen=True)
class Strictest:
    """One figure, and the titles of the rules that ask for it."""

    value: Decimal
    titles: tuple[str, ...]


def strictest(rules: Sequence[HotRules], name: str) -> Strictest | None:
    """Return the strictest ``name`` of some rules: the longest time or distance, the shortest interval.

    None where none of them names it. m and minutes, as in ``HotRules``.
    """
    found = [(figure.value, one.title) for one in rules if (figure := getattr(one, name)) is not None]
    if not found:
        return None
    choose: Callable[[list[Decimal]], Decimal] = min if name == "every_min" else max
    value = choose([value for value, _title in found])
    return Strictest(value, tuple(title for own, title in found if own == value))


def check_times(watch: Decimal, checks: Decimal, every: Decimal) -> tuple[int, ...]:
    """Return when to look again, in minutes after the last spark: at most ``every`` apart, the last at the end.

    ``watch`` is kept without a break; ``checks`` is how long is looked after that. Times are rounded up, so the
    last comes never too early, and no two lie further apart than ``every`` rounded down.
    """
    step = int(every)
    if step < 1:
        raise ValueError("looks can't be less than a minute apart")
    start = int(watch.to_integral_value(ROUND_CEILING))
    end = int((watch + checks).to_integral_value(ROUND_CEILING))
    return (*range(start + step, end, step), end) if end > start else ()


def named_rules(names: Sequence[str], known: Mapping[str, HotRules]) -> tuple[HotRules, ...]:
    """Return the rules that a job names, in its order. Every name is known (KeyError)."""
    return tuple(known[name] for name in names)


def figures_of_hot_work(rules: Sequence[HotRules]) -> dict[str, str]:
    """Return the figures of hot work as text with their unit and, in brackets, the rules that ask for them."""
    if not rules:
        return {}
    figures = {"hot_rules": "; ".join(one.title for one in rules)}
    clear, far = strictest(rules, "clear_m"), strictest(rules, "far_m")
    watch, checks, every = (strictest(rules, name) for name in ("watch_min", "checks_min", "every_min"))
    if clear:
        figures["hot_clear"] = f"{_metres(clear.value)} ({'; '.join(clear.titles)})"
    if far:
        figures["hot_far"] = f"{_metres(far.value)} ({'; '.join(far.titles)})"
    if watch:
        figures["hot_watch"] = f"{_minutes(watch.value)} ({'; '.join(watch.titles)})"
    if watch and checks and every:
        times = " · ".join(str(time) for time in check_times(watch.value, checks.value, every.value))
        titles = dict.fromkeys((*checks.titles, *every.titles))
        figures["hot_checks"] = f"{times} min ({'; '.join(titles)})"
    return figures


def _metres(value: Decimal) -> str:
    """Round up to a tenth: a distance is never said to be shorter than the rule asks for."""
    text = f"{value.quantize(Decimal('0.1'), ROUND_CEILING):f}"
    return f"{text.removesuffix('.0')} m"


def _minutes(value: Decimal) -> str:
    return f"{value.to_integral_value(ROUND_CEILING):f} min"
