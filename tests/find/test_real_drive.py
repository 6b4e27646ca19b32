"""A real drive, by tracks and marks with the errors of a person; the key is the open DBC of its maker.

``tests/data/rav4_2016_wheels.log.xz`` and ``rav4_2016_brake.log.xz`` hold some ids of a drive from the
comma2k19 data set (MIT, see ``tests/data/LICENSE.comma2k19``). The DBC is opendbc's.
``python -m tests.find.real_drive`` takes a whole drive.
"""

from pathlib import Path

import pytest

from netcheck.bits import bit_positions
from tests.find.real_drive import Drive, by_marks, by_track, fields, load_drive, matches, rank

DATA = Path(__file__).parents[1] / "data"
LOG = DATA / "rav4_2016_wheels.log.xz"


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


def test_the_brake_that_the_cruise_control_asks_for(tmp_path: Path):
    """In this minute nobody braked but the cruise control: its own bits (0x1D2) go 0.1 s before, each time.

    No mark by hand tells such bits apart, so none is sure. The brake's bit follows all marks, among the first
    three, after its cause.
    """
    drive = load_drive(DATA / "rav4_2016_brake.log.xz", tmp_path)
    message, signal = drive.signal("VSC1S07.BRKON")
    bits = set(bit_positions(signal.start, signal.width, signal.is_big_endian))
    for seed in range(2):
        found = by_marks(drive, "VSC1S07.BRKON", seed)
        place = rank(found, message.can_id, bits)
        assert place in {2, 3}
        row = found.candidates[place - 1]
        assert (row.followed, row.matched, row.edges) == (4, 7, 7)
        assert row.cause is not None
        assert row.cause.field.frame_id.can_id == 0x1D2
        assert 0.05 < row.cause.delay < 0.2
        assert max(each.score for each in found.candidates) < 0.9
        assert not found.separated
