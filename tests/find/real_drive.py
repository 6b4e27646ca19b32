"""The search against a real drive, with the open DBC of that maker as the key.

python -m tests.find.real_drive CAPTURE RUNS

A minute of a drive from the comma2k19 data set (MIT, see ``tests/data/LICENSE.comma2k19``); the DBC is
opendbc's (MIT). Tracks and marks are made from decoded values, with a person's errors: corners up to half a
second late or early, values off by up to 4 % of the range.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from opendbc.dbc.generator.generator import generate_all

from netcheck.bits import bit_positions
from netcheck.capture import Capture, read_capture
from netcheck.database import Database, Message, Series, Signal, decode, load_database
from netcheck.find import (
    FindMark,
    FoundField,
    Known,
    Movements,
    QuantitySearch,
    Search,
    find_quantity,
    find_states,
    known_signal,
    movements_of,
    track,
)
from tests.find.quantity_scoring import field_bits

DBC = "toyota_nodsu_pt_generated"
QUANTITIES = {
    "WHEEL_SPEEDS.WHEEL_SPEED_FR": "km/h",
    "WHEEL_SPEEDS.WHEEL_SPEED_FL": "km/h",
    "WHEEL_SPEEDS.WHEEL_SPEED_RR": "km/h",
    "WHEEL_SPEEDS.WHEEL_SPEED_RL": "km/h",
    "SPEED.SPEED": "km/h",
    "ENGINE_RPM.RPM": "rpm",
    "STEER_ANGLE_SENSOR.STEER_ANGLE": "degrees",
    "STEER_TORQUE_SENSOR.STEER_TORQUE_EPS": "",
    "GAS_PEDAL.GAS_PEDAL": "%",
    "GAS_PEDAL.ETQLVSC": "Nm",
    "GAS_PEDAL.ETQREAL": "Nm",
    "PCM_CRUISE.ACCEL_NET": "m/s²",
    "KINEMATICS.ACCEL_X": "m/s²",
    "BRAKE_MODULE.BRAKE_PRESSURE": "",
    "BODY_CONTROL_STATE_2.UI_SPEED": "km/h",
}
STATES = ("VSC1S07.BRKON",)  # the brake; the indicators did not move in this minute


@dataclass(frozen=True)
class Drive:
    """A capture with its key."""

    capture: Capture
    database: Database
    movements: Movements
    series: dict[str, Series]

    def signal(self, name: str) -> tuple[Message, Signal]:
        """By ``MESSAGE.SIGNAL``."""
        message = self.database.message(name.split(".", maxsplit=1)[0])
        assert message is not None
        signal = message.signal(name.split(".")[1])
        assert signal is not None
        return message, signal

    def seconds(self, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Times and values of a signal, on the channel that has most of it."""
        one = self.series[name]
        own = one.channel == np.bincount(one.channel).argmax()
        return (one.time_ns[own] - self.movements.start_ns) / 1e9, one.value[own]


def load_drive(path: Path, folder: Path) -> Drive:
    """All its channels."""
    file = folder / f"{DBC}.dbc"
    file.write_text(generate_all()[DBC], encoding="utf-8")
    database = load_database(file)
    capture = read_capture(path)
    series = {f"{m}.{s}": one for (m, s), one in decode(capture, database).items() if len(one)}
    return Drive(capture, database, movements_of(path.name, capture.channels, [capture]), series)


def human_track(
    times: NDArray[np.float64],
    values: NDArray[np.float64],
    rng: np.random.Generator,
    unit: str,
    most: int = 14,
) -> Known:
    """Corners that a person would note, with errors: the fewest that stay within 6 % of the range."""
    grid = np.arange(times[0], times[-1], 0.25)
    smooth = np.convolve(np.pad(np.interp(grid, times, values), 2, "edge"), np.ones(5) / 5, "valid")
    span = float(np.ptp(smooth))
    corners = _corners(grid, smooth, 0.06 * span, most)
    points = []
    for corner in corners:
        late = 0.0 if corner in (0, len(grid) - 1) else rng.uniform(-0.5, 0.5)
        points.append((grid[corner] + late, smooth[corner] + rng.uniform(-0.04, 0.04) * span))
    return track(sorted(dict(points).items()), unit)


def _corners(grid: NDArray[np.float64], values: NDArray[np.float64], least: float, most: int) -> list[int]:
    """The point farthest from the line through those chosen, again and again (Ramer, Douglas and Peucker)."""
    chosen = [0, len(grid) - 1]
    while len(chosen) < most:
        away = np.abs(values - np.interp(grid, grid[chosen], values[chosen]))
        far = int(away.argmax())
        if away[far] < least:
            break
        chosen = sorted([*chosen, far])
    return chosen


def matches(drive: Drive, field: FoundField, name: str) -> bool:
    """Whether a field has just the bits of the signal that moved, with its sign."""
    message, signal = drive.signal(name)
    if field.frame_id.can_id != message.can_id:
        return False
    (moved,) = drive.movements.by_key[field.channel, field.frame_id]
    flips = moved.flips()
    places = bit_positions(signal.start, signal.width, signal.is_big_endian)
    has_sign = signal.is_signed and bool(flips[places[-1]])
    found = [bit for bit in field_bits(field) if flips[bit]]
    return found == [bit for bit in places if flips[bit]] and field.is_signed == has_sign


def is_exact(drive: Drive, field: FoundField, name: str) -> bool:
    """Whether it has the DBC's borders."""
    message, signal = drive.signal(name)
    places = bit_positions(signal.start, signal.width, signal.is_big_endian)
    return field.frame_id.can_id == message.can_id and field_bits(field) == places


def fields(search: QuantitySearch, row: int = 0) -> Sequence[FoundField]:
    """Of a row, with its copies."""
    if len(search.candidates) <= row:
        return ()
    return search.candidates[row].field, *search.candidates[row].copies


def by_track(drive: Drive, name: str, seed: int) -> QuantitySearch:
    """The search with a person's track of a signal."""
    times, values = drive.seconds(name)
    rng = np.random.default_rng([seed, 4])
    return find_quantity(drive.movements, human_track(times, values, rng, QUANTITIES[name]), name)


def by_signal(drive: Drive, name: str, known: str) -> QuantitySearch:
    """The search with another signal of the DBC."""
    message, signal = drive.signal(known)
    return find_quantity(
        drive.movements, known_signal(drive.movements, message, signal), name, unit=QUANTITIES[name]
    )


def by_marks(drive: Drive, name: str, seed: int) -> Search:
    """The search for a state with a person's marks: up to 0.4 s late or early, and none under 1 s."""
    times, values = drive.seconds(name)
    edges = np.flatnonzero(np.diff(values)) + 1
    begins = [0, *edges.tolist()]
    ends = [*edges.tolist(), len(values) - 1]
    rng = np.random.default_rng([seed, 5])
    marks = [
        FindMark(
            "role", "active", max(times[a] + rng.uniform(-0.4, 0.4), 0.0), times[b] + rng.uniform(-0.4, 0.4)
        )
        for a, b in zip(begins, ends, strict=True)
        if values[a] and times[b] - times[a] >= 1.0
    ]
    return find_states(drive.movements, marks, "role")


def rank(search: Search, can_id: int, bits: set[int]) -> int:
    """Of the first row that names some of the bits and no others, from 1; 0 for none."""
    for number, row in enumerate(search.candidates, 1):
        for field in (row.field, *row.copies):
            if field.frame_id.can_id == can_id and field.width and set(field.bits) <= bits:
                return number
    return 0


def _row(search: QuantitySearch) -> str:
    for row in search.candidates[:1]:
        bits = f"{row.field.frame_id} {row.field.bits[0]}+{row.field.width}{row.field.order[0]}"
        scale = f"{row.scale.scale:.5g} {row.scale.offset:+.4g}"
        return f"{bits} score {row.score:.2f} fit {row.fit:.3f} {scale}, {len(row.copies)} alike"
    return "none"


def report(drive: Drive, seeds: int) -> Iterator[str]:
    """How often each is right."""
    for name in (each for each in QUANTITIES if each in drive.series):
        found = [by_track(drive, name, seed) for seed in range(seeds)]
        first = [any(matches(drive, field, name) for field in fields(each)) for each in found]
        exact = [any(is_exact(drive, field, name) for field in fields(each)) for each in found]
        yield f"{sum(first)}/{seeds} moved bits, {sum(exact)}/{seeds} exact: {name}; {_row(found[0])}"
    for name in (each for each in STATES if each in drive.series):
        states = [by_marks(drive, name, seed) for seed in range(seeds)]
        message, signal = drive.signal(name)
        bits = set(bit_positions(signal.start, signal.width, signal.is_big_endian))
        places = [rank(each, message.can_id, bits) for each in states]
        first, near = places.count(1), sum(1 <= place <= 3 for place in places)
        most = max(row.score for each in states for row in each.candidates[:1])
        yield (
            f"{first}/{seeds} first, {near}/{seeds} among three, no score above {most:.2f}: {name}, "
            f"{len(states[0].asked.active)} marks"
        )


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        drive = load_drive(Path(sys.argv[1]), Path(folder))
        for line in report(drive, int(sys.argv[2])):
            sys.stdout.write(line + "\n")


if __name__ == "__main__":
    main()
