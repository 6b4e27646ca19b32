"""Load second by second, against a walk over the frames that puts every bit on the wire."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from netcheck.capture import open_capture, read_capture
from netcheck.network import LoadCurve, LoadRates
from netcheck.network._curve import MOST_SECONDS
from tests.naive import naive_classic_wire, naive_fd_wire
from tests.network.logs import ERROR_FLAG, Line, text_of

RATES = LoadRates(500_000, 2_000_000)
LINES = [
    *(Line(17 * n, 0x100 + n % 7, bytes([n % 256] * (n % 9)), f"can{n % 2}") for n in range(300)),
    *(Line(5100 + 31 * n, 0x18DA00F1 + n, bytes([255 - n]) * 8) for n in range(40)),
    *(Line(9000 + n, 0x222, "#1" + "5A" * 12) for n in range(5)),
    *(Line(9500 + n, ERROR_FLAG | 0x80, bytes(8)) for n in range(3)),
    Line(9600, 0x123, "R4", "can1"),
]


def log(folder: Path, lines: list[Line]) -> Path:
    path = folder / "curve.log"
    path.write_text(text_of(lines), encoding="ascii")
    return path


def naive_shares(path: Path, channel: str) -> list[float]:
    frames = list(read_capture(path))
    start, found = frames[0].time_ns, {}
    for frame in frames:
        if frame.channel != channel or frame.is_error:
            continue
        if frame.is_fd:
            slow, fast = naive_fd_wire(frame.can_id, frame.is_extended, True, False, frame.data)
        else:
            wire = naive_classic_wire(
                frame.can_id, frame.is_extended, frame.is_remote, frame.length, frame.data
            )
            slow, fast = len(wire), 0
        second = (frame.time_ns - start) // 1_000_000_000
        found[second] = found.get(second, 0.0) + slow / RATES.nominal + fast / (RATES.data or 1)
    return [found.get(second, 0.0) for second in range(max(found) + 1)]


@pytest.mark.parametrize("chunk_bytes", [400, 1 << 20])
def test_each_second_has_the_bits_of_its_frames(tmp_path: Path, chunk_bytes: int) -> None:
    path = log(tmp_path, LINES)
    curve = LoadCurve()
    for chunk in open_capture(path, chunk_bytes=chunk_bytes):
        curve.add(chunk)
    for number, channel in enumerate(("can0", "can1")):
        assert curve.shares(number, RATES).tolist() == pytest.approx(naive_shares(path, channel))
    assert curve.outside == 0
    assert len(curve.shares(5, RATES)) == 0


def test_frames_before_the_first_and_after_a_jump_of_the_clock_are_counted_and_left_out(
    tmp_path: Path,
) -> None:
    jump = 1000.0 * (MOST_SECONDS + 1)
    path = log(tmp_path, [Line(5000, 0x100, b"\0"), Line(1000, 0x100, b"\0"), Line(jump, 0x100, b"\0")])
    curve = LoadCurve()
    curve.add(read_capture(path))
    assert curve.outside == 1
    assert np.count_nonzero(curve.shares(0, RATES)) == 2 or curve.outside == 2
