"""What every test may use, and the switch between the default suite and the long run."""

from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import settings
from playwright.sync_api import Browser, expect, sync_playwright

from tests.browser.chromium import FLAGS, PATIENCE, find_or_install
from tests.workers import ByFile, in_turn

# A busy machine decides no test: what is shown is waited for, and an example takes as long as it takes.
expect.set_options(timeout=PATIENCE)
settings.register_profile("wallwork", deadline=None)
settings.load_profile("wallwork")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--long", action="store_true", help="run the long tests as well")


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "long: runs only with --long")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave the long tests out of the default suite: deselected and counted, never 'skipped'.

    A test in a browser that fails is run once more, and told under "rerun test summary" where that passes: it is
    looked into all the same, but one missed beat of a shared machine does not hold up everybody's work.
    """
    long = [item for item in items if item.get_closest_marker("long")]
    if long and not config.getoption("--long"):
        config.hook.pytest_deselected(items=long)
        items[:] = [item for item in items if not item.get_closest_marker("long")]
    for item in items:
        if "browser" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.flaky(reruns=1))
    if hasattr(config, "workerinput"):
        items[:] = in_turn(items)


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> ByFile:
    """Share the tests out as tests/workers.py says, whatever --dist says."""
    return ByFile(config, log)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One headless Chromium for the session; a missing browser is an error, not a skip."""
    options: dict[str, Any] = {"executable_path": str(find_or_install()), "args": FLAGS}
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(**options)
        yield chromium
        chromium.close()
