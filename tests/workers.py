"""How the tests are shared out to workers: a file that sets something up once runs whole in one of them.

Else every worker would set it up again. All other tests go out one by one, so that all workers end together.
"""

import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from xdist.scheduler import LoadScopeScheduling

ROOT = Path(__file__).parents[1]
SET_UP_ONCE = re.compile(r'scope="module"|^@cache', re.MULTILINE)
WAITING = "tests/test_wheel.py"
"""Waits for the network most of its time: begun first, it costs the others nothing."""


@cache
def _is_one_unit(file: str) -> bool:
    return SET_UP_ONCE.search((ROOT / file).read_text(encoding="utf-8")) is not None


class ByFile(LoadScopeScheduling):
    """Sends files that set something up once whole, other tests by themselves, in the order of ``in_turn``."""

    def __init__(self, config: pytest.Config, log: Any = None) -> None:
        config.option.loadscopereorder = False
        super().__init__(config, log)

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.split("::")[0]
        return file if _is_one_unit(file) else nodeid


def in_turn(items: list[pytest.Item]) -> list[pytest.Item]:
    """Order tests: what waits, then whole files, then the many others."""
    files = {item: item.nodeid.split("::")[0] for item in items}
    return sorted(items, key=lambda item: (files[item] != WAITING, not _is_one_unit(files[item])))
