"""The long comparison, 10,000 instances: ``python -m tests.reference.cpsat [--share SHARE] [--until HH:MM]``.

Every answer of the packing is judged by a model for CP-SAT; the record of the run is written to ``long_run.md`` beside
this file after every hundred instances, so that a run that is ended early leaves what it found. An instance that the
model does not answer in time is counted, and so is one at which the packing gave up: none is left out. The exit code
is 1 when an answer was wrong.
"""

import argparse
import platform
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import ortools

from tests.bench.measure import HERE, digest
from tests.engine.instances import FAMILIES, RULED, draw
from tests.engine.judge import LIMIT, judge, truth_of
from tests.reference.cpsat import Unanswered

FIRST = 1_000
"""Seeds from here on: none of those of the default suite is among them."""
COUNTS = dict.fromkeys((*FAMILIES, *RULED), 825) | {"zones large": 100}
SECONDS = 20
BLOCK = 100
KINDS = ("proven", "none", "best found", "gave up", "unanswered", "wrong")
RECORD = Path(__file__).with_name("long_run.md")


def compare(family: str, seed: int) -> tuple[str, str]:
    """Judge one answer; return its kind, and what is wrong with it."""
    instance = draw(family, seed)
    try:
        return judge(instance, truth_of(instance, seconds=SECONDS)), ""
    except Unanswered:
        return "unanswered", ""
    except Exception as error:  # a run of an hour tells of a crash, too, and goes on
        return "wrong", f"{instance.name}: {type(error).__name__} {error}"


def in_blocks(share: float) -> Iterator[tuple[str, range]]:
    """Yield seeds by family, a hundred at a time, the slowest family last."""
    for family, full in sorted(COUNTS.items(), key=lambda item: item[1], reverse=True):
        end = FIRST + max(1, int(full * share))
        for start in range(FIRST, end, BLOCK):
            yield family, range(start, min(start + BLOCK, end))


def record(found: dict[str, Counter[str]], wrong: list[str], cpu: float) -> str:
    """Say in Markdown what came of it."""
    git = ["git", "-C", str(HERE), "describe", "--always", "--dirty"]
    commit = subprocess.run(git, capture_output=True, text=True, check=True).stdout.strip()
    total = sum((Counter(kinds) for kinds in found.values()), Counter[str]())
    lines = [
        f"# The packing against CP-SAT, {total.total():,} instances",
        "",
        "Written by `python -m tests.reference.cpsat`: every answer is judged by a model that shares nothing with the",
        "engine. *proven* is the model's optimum, *none* its proof that there is none, both agreed on; *best found* and",
        f"*gave up* ended at the packing's limit of {LIMIT:,} steps; *unanswered* are those that the model did not",
        f"answer in {SECONDS} s; *wrong* are those on which the two do not agree, or the packing failed.",
        "",
        f"{datetime.now(UTC):%Y-%m-%d}, commit {commit}, Python {platform.python_version()}, ortools"
        f" {ortools.__version__}, one worker, {cpu / 60:.0f} min of CPU.",
        "",
        *(
            f"- `{name}` {digest(name)}"
            for name in (
                "tests/engine/instances.py",
                *(f"tests/reference/cpsat/{own}.py" for own in ("__init__", "expert", "arcs")),
            )
        ),
        "",
        f"| family | seeds | {' | '.join(KINDS)} |",
        f"|---|---|{'---|' * len(KINDS)}",
        *(
            f"| {family} | {FIRST} to {FIRST + kinds.total() - 1} | {' | '.join(str(kinds[k]) for k in KINDS)} |"
            for family, kinds in found.items()
        ),
        f"| together | {total.total()} | {' | '.join(str(total[k]) for k in KINDS)} |",
        *(["", "Wrong:", "", *(f"- {line}" for line in wrong)] if wrong else []),
    ]
    return "\n".join(lines) + "\n"


def main() -> int:
    """Run the whole comparison, or a share of it, or until a time of day."""
    asked = argparse.ArgumentParser(prog="python -m tests.reference.cpsat")
    asked.add_argument("--share", type=float, default=1)
    asked.add_argument("--until", metavar="HH:MM")
    asked.add_argument("--record", type=Path, default=RECORD)
    arguments = asked.parse_args()
    found: dict[str, Counter[str]] = {}
    wrong: list[str] = []
    for family, seeds in in_blocks(arguments.share):
        for seed in seeds:
            if arguments.until and time.strftime("%H:%M") >= arguments.until:
                return bool(wrong)
            kind, fault = compare(family, seed)
            found.setdefault(family, Counter())[kind] += 1
            if fault:
                wrong.append(fault)
        arguments.record.write_text(record(found, wrong, time.process_time()), encoding="utf-8", newline="\n")
        print(f"{family}, seeds to {seeds[-1]}: {dict(found[family])}", flush=True)
    return bool(wrong)


if __name__ == "__main__":
    sys.exit(main())
