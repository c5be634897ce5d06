"""The demo's site, from a disk and from a host, for every test that opens it in a browser."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.browser.demo_site import build_once, serve


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Path:
    """The demo's site as a folder."""
    own = tmp_path_factory.getbasetemp()
    return build_once(own if worker_id == "master" else own.parent)


@pytest.fixture(scope="session")
def address(site: Path) -> Iterator[str]:
    """The demo's site as a host serves it."""
    with serve(site) as address:
        yield address
