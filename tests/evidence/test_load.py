"""A plan and a survey say the same of a capture, to the digit: both have it from the one tally."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.capture import open_capture
from netcheck.evidence import observe
from netcheck.network import LoadRates, SurveyPlan, survey

SAMPLES = Path(__file__).parents[2] / "sample_logs"
RATES = LoadRates(500_000, 2_000_000)
LOGS = sorted(SAMPLES.glob("*.log*"))
assert LOGS


@pytest.mark.parametrize("log", LOGS, ids=lambda log: log.name)
def test_cyclic_messages_gaps_and_the_busiest_second_are_the_same(log: Path) -> None:
    seen = observe(open_capture(log, chunk_bytes=50_000), [], [], frozenset({4.0}))
    surveyed = survey(open_capture(log), SurveyPlan(stated=RATES))
    assert [channel.name for channel in seen.channels] == [channel.channel for channel in surveyed.channels]
    for ours, theirs in zip(seen.channels, surveyed.channels, strict=True):
        load = ours.load
        assert load is not None
        assert theirs.load is not None
        assert load.shares(RATES, theirs.seconds, theirs.awake_seconds) == theirs.load
        assert load.bits() == theirs.bits
        assert {key: (message.count, message.is_cyclic) for key, message in load.messages.items()} == {
            message.frame_id: (message.count, bool(message.timing.cyclic)) for message in theirs.messages
        }
        for message in theirs.messages:
            median = load.messages[message.frame_id].median_ns
            assert message.timing.period == (median / 1e6 if median is not None else None)
