"""Seeded pairs of invented vehicles: a small part of ``python -m tests.prove.scoring``."""

from __future__ import annotations

import pytest

from tests.prove.pairs import PLANTS
from tests.prove.scoring import score


@pytest.mark.parametrize("kind", PLANTS)
def test_what_is_planted_is_found(kind: str) -> None:
    found = score(300, kind)
    assert found.is_found, found
    assert found.verdict == ("not-shown" if kind == "other-vehicle" else "fail")


@pytest.mark.parametrize("seed", [500, 501, 502])
def test_nothing_is_found_where_nothing_was_planted(seed: int) -> None:
    found = score(seed, "")
    assert found.others == ()
    assert found.verdict in {"pass", "pass-with-notes"}  # keys that were pressed evenly may be noted
