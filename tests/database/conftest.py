"""Databases of these tests come from the loader, not from the cache folder of whoever runs them."""

from __future__ import annotations

import pytest

from netcheck.cache import FOLDER_VARIABLE


@pytest.fixture(autouse=True)
def own_cache_folder(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path_factory.mktemp("cache")))
