"""Two loggers in one job whose clocks differ."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.verdict import ClocksApart
from tests.acceptance.cases import Case, every, lever_case


def two_loggers(folder: Path, offset_s: int, *, seed: int = 1) -> Case:
    case = lever_case(folder)
    for number, start in enumerate((0, offset_s)):
        log = case.log()
        log.epoch += start
        step = 1 if number == 0 else seed
        log.send(0x333, every(0.1), [f"{(7919 * step * (i + 1)) % 2**32:08X}00000000" for i in range(101)])
    return case


@pytest.mark.parametrize(("offset_s", "words"), [(37, "37.00 s later"), (-37, "37.00 s earlier")])
def test_the_difference_is_told(offset_s: int, words: str, tmp_path: Path) -> None:
    plan = two_loggers(tmp_path, offset_s).plan()
    (found,) = (warning for warning in plan.warnings if isinstance(warning, ClocksApart))
    assert (found.seconds, found.moments) == (pytest.approx(offset_s), 100)
    from netcheck.report import warning_text

    assert words in warning_text(found)


@pytest.mark.parametrize(("offset_s", "seed"), [(0, 1), (37, 3)])
def test_the_same_clock_or_other_traffic_is_not_told(offset_s: int, seed: int, tmp_path: Path) -> None:
    plan = two_loggers(tmp_path, offset_s, seed=seed).plan()
    assert not any(isinstance(warning, ClocksApart) for warning in plan.warnings)
