"""One fleet and one store for all tests that only read."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from netcheck.archive import Archive, Store
from tests.archive.fleet import add_fleet, fill, new_store


@pytest.fixture(scope="session")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of captures: 2019, 2020 and 2021, two each, with marks; the vehicle file beside them."""
    folder = tmp_path_factory.mktemp("fleet")
    fill(folder)
    return folder


@pytest.fixture(scope="session")
def store(fleet: Path, tmp_path_factory: pytest.TempPathFactory) -> Store:
    """All of them in a store, with frames. Not to be changed."""
    found = new_store(tmp_path_factory.mktemp("store") / "archive")
    add_fleet(found, fleet, frames=True)
    return found


@pytest.fixture
def archive(store: Store) -> Iterator[Archive]:
    """The store, to be asked."""
    with Archive(store) as opened:
        yield opened
