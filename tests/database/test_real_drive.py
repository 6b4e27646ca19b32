"""A minute of a real drive: wheel speeds, steering angle and speed must fit together.

``tests/data/rav4_2016_wheels.log.xz`` holds the frames 0x025, 0x0AA and 0x0B4 of one channel of a drive
from the comma2k19 data set (MIT, see ``tests/data/LICENSE.comma2k19``). The DBC is opendbc's.
"""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from opendbc.dbc.generator.generator import generate_all

from netcheck.capture import read_capture
from netcheck.database import Series, decode, load_database

LOG = Path(__file__).parents[1] / "data" / "rav4_2016_wheels.log.xz"
DBC = "toyota_nodsu_pt_generated"
SECOND = 83  # frames of 0x0AA in a second


@pytest.fixture(scope="module")
def series(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Series]:
    path = tmp_path_factory.mktemp("dbc") / f"{DBC}.dbc"
    path.write_text(generate_all()[DBC], encoding="utf-8")
    decoded = decode(read_capture(LOG), load_database(path))
    return {name: one for (_, name), one in decoded.items() if len(one)}


def wheels(series: dict[str, Series]) -> NDArray[np.float64]:
    """float64[4, n], km/h: front left, front right, rear left, rear right."""
    return np.stack([series[f"WHEEL_SPEED_{corner}"].value for corner in ("FL", "FR", "RL", "RR")])


def smooth(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean over a second."""
    return np.convolve(values, np.full(SECOND, 1 / SECOND), "valid")


def test_every_frame_gives_a_value(series: dict[str, Series]):
    counts = {name: (len(one), one.frames, one.short) for name, one in series.items()}
    assert counts["WHEEL_SPEED_FL"] == counts["STEER_ANGLE"] == (4974, 4974, 0)
    assert counts["SPEED"] == (2487, 2487, 0)


def test_layout_worked_by_hand(series: dict[str, Series]):
    # 0x0AA: four 16-bit big-endian speeds in front right, front left, rear right, rear left order,
    # 0.01 km/h a bit, offset -67.67
    payload = read_capture(LOG).payload(int(series["WHEEL_SPEED_FR"].frame[0]))
    for number, corner in enumerate(("FR", "FL", "RR", "RL")):
        raw = payload[2 * number] << 8 | payload[2 * number + 1]
        assert series[f"WHEEL_SPEED_{corner}"].raw[0] == raw
        assert series[f"WHEEL_SPEED_{corner}"].value[0] == pytest.approx(raw / 100 - 67.67)


def test_the_four_wheels_agree(series: dict[str, Series]):
    speeds = wheels(series)
    assert speeds.min() > 25
    assert speeds.max() < 75
    spread = np.ptp(speeds, axis=0)
    assert np.percentile(spread, 50) < 0.3
    assert np.percentile(spread, 99) < 1.5
    assert spread.max() < 5  # slip at full acceleration


def test_vehicle_speed_is_that_of_the_wheels(series: dict[str, Series]):
    speed = series["SPEED"]
    mean = np.interp(speed.time_ns, series["WHEEL_SPEED_FL"].time_ns, wheels(series).mean(axis=0))
    difference = speed.value - mean
    assert np.percentile(abs(difference), 99) < 2.5
    assert (
        abs(difference.mean() / mean.mean()) < 0.03
    )  # a speedometer may not show less; it shows a little more


def test_steering_angle_and_rear_wheels_turn_the_same_way(series: dict[str, Series]):
    # a positive angle is to the left: the right wheel then goes the longer way. Taken over a second, as
    # single frames of a nearly straight road are noise.
    angle = series["STEER_ANGLE"].value + series["STEER_FRACTION"].value
    assert abs(angle).max() < 6
    time_ns = series["WHEEL_SPEED_RL"].time_ns
    angle = smooth(np.interp(time_ns, series["STEER_ANGLE"].time_ns, angle))
    _, _, left, right = wheels(series)
    difference = smooth(right - left)
    assert np.corrcoef(angle, difference)[0, 1] > 0.7
    assert difference[angle > 1].mean() > difference[abs(angle) < 0.5].mean() > difference[angle < -1].mean()
