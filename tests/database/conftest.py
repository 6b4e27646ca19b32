"""Databases of these tests come from the loader, not from the cache folder of whoever runs them."""

from __future__ import annotations

import pytest

from netcheck.database import _load


@pytest.fixture(autouse=True)
def no_kept_layouts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_load, "read_layout", lambda _content, _path: None)
    monkeypatch.setattr(_load, "keep_layout", lambda _content, _loaded: None)
