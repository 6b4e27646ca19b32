"""Readings against the bands in which they should lie."""

from __future__ import annotations

from collections.abc import Callable

from netcheck.tap._model import Judged, State

Band = tuple[float, float]  # least and most, both allowed


def within(value: float, band: Band, right: str, wrong: Judged) -> Judged:
    """Right, with these words, inside the band; else what is said of it outside."""
    return Judged(State.RIGHT, right) if band[0] <= value <= band[1] else wrong


def taken(*readings: tuple[str, float | None, Callable[[float], Judged]]) -> dict[str, Judged]:
    """Judgements by key of the readings that were taken."""
    return {key: judge(value) for key, value, judge in readings if value is not None}


def span(band: Band) -> str:
    """The band in words."""
    return f"{band[0]} to {band[1]}"
