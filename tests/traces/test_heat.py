"""Bytes over time, against a walk that keeps the last payload of each column."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from netcheck.capture import read_capture
from netcheck.network import FrameId
from netcheck.traces import CaptureHeat, read_heat
from netcheck.traces import _heat as module
from tests.network.logs import ERROR_FLAG, Line, text_of


def log(folder: Path, lines: list[Line]) -> Path:
    path = folder / "heat.log"
    path.write_text(text_of(lines), encoding="ascii")
    return path


def naive(path: Path, column_s: float) -> dict[tuple[str, FrameId], dict[int, bytes]]:
    frames = list(read_capture(path))
    found: dict[tuple[str, FrameId], dict[int, bytes]] = {}
    for frame in frames:
        if frame.is_error or frame.is_remote:
            continue
        column = int((frame.time_ns - frames[0].time_ns) // round(column_s * 1e9))
        key = frame.channel, FrameId(frame.can_id, frame.is_extended)
        found.setdefault(key, {})[column] = frame.data
    return found


def check(path: Path, heat: CaptureHeat) -> None:
    expected = naive(path, heat.column_s)
    assert [(one.channel, one.frame_id) for one in heat.messages] == sorted(expected)
    for one in heat.messages:
        columns = expected[one.channel, one.frame_id]
        assert np.flatnonzero(one.seen).tolist() == sorted(columns)
        for column, data in columns.items():
            assert one.value[:, column].tobytes() == data.ljust(len(one.value), b"\0")


LINES = sorted(
    [
        *(Line(10.0 * n, 0x123, bytes([n % 256, n // 256])) for n in range(900)),
        *(Line(7.0 + 333.0 * n, 0x18DA00F1, bytes([n]) * (n % 9)) for n in range(20)),
        *(Line(500.0 * n, 0x123, bytes(8), "can1") for n in range(5)),
        Line(100.0, 0x200, "R4"),
        Line(120.0, ERROR_FLAG | 0x80, bytes(8)),
        Line(4000.0, 0x321, "#1" + "A5" * 64),
    ]
)


@pytest.mark.parametrize("chunk_bytes", [600, 1 << 20])
def test_each_column_has_the_last_frame_in_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, chunk_bytes: int
) -> None:
    path = log(tmp_path, LINES)
    monkeypatch.setattr("netcheck.capture._reader.CHUNK_BYTES", chunk_bytes)
    heat = read_heat(path)
    check(path, heat)
    assert heat.column_s == 0.064
    assert heat.left_out == 0
    assert 128 <= len(heat.messages[0].seen) <= 256


def test_a_short_capture_keeps_its_milliseconds(tmp_path: Path) -> None:
    path = log(tmp_path, [Line(1.0 * n, 0x100, bytes([n])) for n in range(50)])
    heat = read_heat(path)
    check(path, heat)
    assert heat.column_s == 0.001


def test_ids_beyond_the_most_are_counted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_MESSAGES", 10)
    heat = read_heat(log(tmp_path, [Line(n, 0x100 + n % 30, b"\1") for n in range(90)]))
    assert (len(heat.messages), heat.left_out) == (10, 20)
