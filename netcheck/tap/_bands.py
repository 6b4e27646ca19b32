"""Readings against the bands in which they should lie."""

from __future__ import annotations

from collections.abc import Callable

from netcheck.tap._reading_model import Assessment

Band = tuple[float, float]  # least and most, both allowed


def within(value: float, band: Band, right: Assessment, wrong: Assessment) -> Assessment:
    """``right`` inside the band, else ``wrong``."""
    return right if band[0] <= value <= band[1] else wrong


def assessed(*readings: tuple[str, float | None, Callable[[float], Assessment]]) -> dict[str, Assessment]:
    """Assessments by key of the readings that were taken."""
    return {key: assess(value) for key, value, assess in readings if value is not None}
