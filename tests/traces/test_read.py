"""Traces of captures against the decoder, which goes another way, and against the logs that were written."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import netcheck
from netcheck.plan import make_plan
from netcheck.prove import prove
from netcheck.traces import ChannelTrace, SignalTrace, read_traces
from netcheck.traces import _read as reading
from tests.network.logs import Line, text_of
from tests.prove.small import USUAL, SmallJob, changed, lever, log_of, without
from tests.test_demo import SAMPLE_LOGS

WANTED = [("reverse-engaged", "body"), ("old-source", "body")]


def traces_of(job, wanted=WANTED) -> tuple[ChannelTrace, ...]:
    return read_traces(job, {"before": make_plan(job).captures, "after": prove(job).after}, wanted)


def signal(channel: ChannelTrace, role: str) -> SignalTrace:
    return next(trace for trace in channel.signals if trace.role == role)


def test_before_and_after_have_their_signals_and_load(tmp_path: Path) -> None:
    job = SmallJob(tmp_path, log_of(USUAL), log_of(changed(USUAL, "Lever", data=lever((30.0, 31.0))))).load()
    before, after = traces_of(job)
    assert [channel.when for channel in (before, after)] == ["before", "after"]
    lever_before, lever_after = signal(before, "reverse-engaged"), signal(after, "reverse-engaged")
    assert (lever_before.changes, lever_after.changes) == (4, 2)
    edges = lever_before.time[1:-1].tolist()
    assert edges == pytest.approx([10.0, 14.0, 20.0, 24.0], abs=0.06)
    assert lever_before.value.tolist() == [0, 1, 0, 1, 0, 0]
    assert lever_before.is_whole
    assert before.load is not None
    assert before.load.width == 1
    assert 0.01 < before.load.mean.max() < 0.2
    assert before.seconds == pytest.approx(40, abs=0.1)


def test_the_frames_behind_a_state_are_those_beside_its_changes(tmp_path: Path) -> None:
    (before,) = traces_of(SmallJob(tmp_path, log_of(USUAL)).load())
    samples = signal(before, "reverse-engaged").samples
    assert len(samples) == 1 + 4 * 2 + 1
    assert all(sample.data[0] & 1 == sample.value for sample in samples)
    assert samples[2].time - samples[1].time == pytest.approx(0.05, abs=0.001)


def test_gaps_and_whether_the_channel_was_silent(tmp_path: Path) -> None:
    away = {"Old": (5.0, 9.0)}
    text = "".join(
        line
        for line in log_of(without(USUAL, "Vin")).splitlines(keepends=True)
        if not (15.0 <= moment(line) < 18.0)
        and not (" 104#" in line and away["Old"][0] <= moment(line) < away["Old"][1])
    )
    (before,) = traces_of(SmallJob(tmp_path, text).load())
    found = [(gap.begin, gap.end, gap.is_silent) for gap in signal(before, "old-source").gaps]
    assert [(round(begin), round(end), silent) for begin, end, silent in found] == [
        (5, 9, False),
        (15, 18, True),
    ]


def moment(line: str) -> float:
    return float(line[1 : line.index(")")]) - 1_600_000_000


def test_no_value_breaks_the_line(tmp_path: Path) -> None:
    lines = [Line(100 * n, 0x102, bytes([255 if 20 <= n < 30 else n, 7, 0, 9, n % 16, 0])) for n in range(60)]
    others = log_of(without(USUAL, "Status"))
    vehicle = """
[[role.level]]
network = "body"
message = "Status"
signal = "StatusValue"
not_available = [255]
"""
    small = SmallJob(tmp_path, "", vehicle=vehicle, retrofit='[[need]]\nrole = "level"\n')
    small.before = "".join(sorted((others + text_of(lines)).splitlines(keepends=True), key=moment))
    (before,) = traces_of(small.load(), [("level", "body")])
    level = signal(before, "level")
    assert not level.is_state
    assert np.isnan(level.value).sum() == 10
    assert np.nanmax(level.value) == 59


def test_a_capture_without_times_shows_nothing_over_time(tmp_path: Path) -> None:
    text = "".join(
        f"  can0  {frame_id}   [{len(data) // 2}]  {bytes.fromhex(data).hex(' ')}\n"
        for frame_id, data in (line.split()[2].split("#") for line in log_of(USUAL).splitlines())
    )
    (before,) = traces_of(SmallJob(tmp_path, text).load())
    assert not before.has_times
    assert before.signals == ()
    assert before.load is None


def test_every_row_is_the_decoders(monkeypatch: pytest.MonkeyPatch) -> None:
    job = netcheck.load_job(SAMPLE_LOGS / "guillemot_2021_camera.job.toml")
    roles = ["reverse-engaged", "steering-angle", "vehicle-speed", "trailer-coupled"]
    (before,) = traces_of(job, [(role, "conversion") for role in roles])
    capture = netcheck.read_capture(SAMPLE_LOGS / "guillemot_2021_conversion.log")
    database = netcheck.load_database(*job.vehicle.dbc_paths("conversion"))
    for trace in before.signals:
        series = netcheck.decode(capture, database)[trace.message, trace.signal]
        times = (series.time_ns - series.start_ns) / 1e9
        known = series.raw if trace.is_state else series.value
        held = np.searchsorted(times, trace.time + 1e-9) - 1
        assert known[held].tolist() == trace.value.tolist()
        assert trace.rows == len(series)
        if not trace.is_state:
            assert trace.time.tolist() == times.tolist()
    assert signal(before, "steering-angle").marks[0].between == (300.0, 500.0)
    monkeypatch.setattr(reading, "MOST_ROWS", 1)
    monkeypatch.setattr(reading, "_LEAST_ROWS", 40)
    (few,) = traces_of(job, [("steering-angle", "conversion")])
    angle, whole = signal(few, "steering-angle"), signal(before, "steering-angle")
    assert not angle.is_whole
    assert len(angle.value) <= 40
    assert (angle.value.min(), angle.value.max()) == (whole.value.min(), whole.value.max())
