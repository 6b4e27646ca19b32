"""A survey of lines without time stamps: what came and how it changed, and nothing that needs a clock."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from netcheck.capture import open_capture
from netcheck.network import LoadRates, RemarkKind, SurveyPlan, survey
from netcheck.report.onsite import survey_json, survey_text
from tests.network.test_identity import database, message


def screen(folder: Path, stamped: int = 0, frames: int = 400) -> Path:
    """Two messages as a screen shows them, the first with a counter; some of the lines have stamps."""
    lines = []
    for n in range(frames):
        stamp = f" ({n / 10:.6f})" if n < stamped else ""
        lines += [
            f"{stamp}  can0  100   [2]  {n % 16:02X} {n // 100:02X}\n",
            f"{stamp}  can0  101   [1]  00\n",
        ]
    path = folder / "screen.txt"
    path.write_text("".join(lines), encoding="utf-8")
    return path


def surveyed(path: Path):
    ours = [replace(message(*one), length=1, cycle_time_ms=2.0) for one in (("A", 0x100), ("B", 0x101))]
    networks = {"one": database(*ours)}
    return survey(open_capture(path), SurveyPlan(networks, stated=LoadRates(500_000)))


def test_no_period_no_load_and_no_time_is_made_up(tmp_path):
    found = surveyed(screen(tmp_path))
    (channel,) = found.channels
    assert (found.seconds, found.has_times) == (0, False)
    assert (channel.seconds, channel.awake_periods, channel.load, channel.has_times) == (0, (), None, False)
    for one in channel.messages:
        timing = one.timing
        assert (timing.period, timing.jitter, timing.cyclic, timing.gaps) == (None, None, None, 0)
        assert (timing.longest, timing.at_changes) == (0, False)
    assert [remark.kind for remark in channel.remarks] == [RemarkKind.NO_TIMES]
    assert channel.recorder.counting == 0


def test_counters_counts_and_the_network_are_known_all_the_same(tmp_path):
    (channel,) = surveyed(screen(tmp_path)).channels
    assert [(str(one.frame_id), one.count) for one in channel.messages] == [("0x100", 400), ("0x101", 400)]
    assert channel.messages[0].counter is not None
    assert channel.messages[0].counter.share == 1
    assert channel.network == "one"
    assert channel.bits.total > 0


def test_made_up_times_keep_no_cycle_time(tmp_path):
    """Of 2 ms by the DBC, as frames that are 1 ms apart in turn would be."""
    (channel,) = surveyed(screen(tmp_path)).channels
    assert channel.candidates[0].timed == 0


@pytest.mark.parametrize(("stamped", "has_times"), [(396, True), (395, False)])
def test_one_line_in_a_hundred_may_lack_its_stamp(tmp_path, stamped, has_times):
    assert surveyed(screen(tmp_path, stamped)).has_times is has_times


def test_the_text_says_so_and_shows_none(tmp_path):
    text = survey_text(surveyed(screen(tmp_path)), width=400, colour=False)
    assert "screen.txt: 800 frames without time stamps on can0" in text
    assert "Frames      800\n" in text
    assert "Load        not known: the lines have no time stamps" in text
    assert " ms" not in text.replace("1 ms apart", "")
    assert "per second" not in text
    assert "give the recorder's bit rate" not in text
    assert "Record with time stamps (candump -l, or a logger that writes them)" in text


def test_json_has_null_for_what_needs_a_clock(tmp_path):
    (channel,) = survey_json(surveyed(screen(tmp_path)))["channels"]
    assert channel["has_times"] is False
    assert (channel["load"], channel["awake"]) == (None, [])
    assert channel["bits"]["peak_1s"] is None
    entry = channel["messages"][0]
    assert (entry["period_ms"], entry["jitter_ms"], entry["longest_gap_ms"]) == (None, None, None)
    assert (entry["cyclic"], entry["at_changes"]) == (None, False)
    assert entry["counter"]["share"] == 1.0
