"""Quantities of a real drive, found by tracks with a person's errors; the key is the open DBC of that maker.

``tests/data/rav4_2016_wheels.log.xz`` holds three ids of a drive from the comma2k19 data set (MIT, see
``tests/data/LICENSE.comma2k19``). The DBC is opendbc's. ``python -m tests.find.real_drive`` takes a
whole drive.
"""

from pathlib import Path

import pytest

from tests.find.real_drive import Drive, by_track, fields, load_drive, matches

LOG = Path(__file__).parents[1] / "data" / "rav4_2016_wheels.log.xz"


@pytest.fixture(scope="module")
def drive(tmp_path_factory: pytest.TempPathFactory) -> Drive:
    return load_drive(LOG, tmp_path_factory.mktemp("key"))


SPEEDS = ("WHEEL_SPEEDS.WHEEL_SPEED_FL", "WHEEL_SPEEDS.WHEEL_SPEED_RR", "SPEED.SPEED")


@pytest.mark.parametrize("name", SPEEDS)
def test_speeds(drive: Drive, name: str):
    """A rough track cannot tell wheels and road speed apart: one row has them all, each with its borders."""
    found = by_track(drive, name, 1)
    assert any(matches(drive, field, name) for field in fields(found))
    assert found.candidates[0].scale.scale == pytest.approx(drive.signal(name)[1].scale, rel=0.05)


def test_steering_angle(drive: Drive):
    """It moved by 7.5 degrees, five steps of its own: found with order, sign and borders."""
    found = by_track(drive, "STEER_ANGLE_SENSOR.STEER_ANGLE", 1)
    assert matches(drive, found.candidates[0].field, "STEER_ANGLE_SENSOR.STEER_ANGLE")
