"""What is told of a replay."""

from __future__ import annotations

import pytest

from netcheck.bench import BenchOverload, Lateness, Played, Replay, ReplayChoice, SendStop, StopReason
from netcheck.report._bench_words import STOP_WORDS, overload_text, stop_text
from netcheck.report.bench import replay_json, replay_text


def replayed(sent: int, rounds: int = 1, **more: object) -> str:
    late = Lateness()
    for micros in range(sent):
        late.add(1000 * 100 * micros)
    replay = Replay("x.log", ReplayChoice(rounds=rounds), (), 1000, 2.5, 7, 0, ("the clock was odd",))
    return replay_text(replay, Played(sent, 1.25, late, **more), 80)  # type: ignore[arg-type]


def test_all_of_it() -> None:
    assert replayed(1000) == (
        "x.log: 1,000 of 1,000 frames sent, 7 left out\n"
        "  sending took 1.250 s; 2.500 s a round in the capture\n"
        "  late by 49.91 ms in the median, 98.91 ms at the 99th percentile, 99.90 ms at\n"
        "  most\n"
        "note: the clock was odd\n"
    )


def test_as_fast_as_it_goes_nothing_is_late() -> None:
    text = replayed(1000, speed=0.0)
    assert "  as fast as the interface accepted them: 800 frames a second\n" in text
    assert "late" not in text


def test_how_far_it_got() -> None:
    text = replayed(1400, rounds=0, stop=SendStop(StopReason.INTERRUPTED))
    assert "x.log: 1,400 frames sent, 7 left out\n  1 whole round of 1,000 frames, and 400 more\n" in text
    assert "STOPPED interrupted, after 1,400 frames\n" in text
    assert "  2 whole rounds of 1,000 frames, and 1 more\n" in replayed(2001, rounds=3)


def test_every_reason_to_stop_has_its_words() -> None:
    assert set(STOP_WORDS) == set(StopReason)


@pytest.mark.parametrize(
    ("reason", "says"),
    [
        (StopReason.INTERRUPTED, "interrupted"),
        (StopReason.REFUSED, "socketcan can0 accepts no more frames: buffer full"),
        (StopReason.BUS_OFF, "socketcan can0 is bus-off"),
        (StopReason.FOREIGN_SENDER, "another node sends 0x123 on socketcan can0"),
        (StopReason.INTERFACE_LOST, "socketcan can0 no longer responds: buffer full"),
    ],
)
def test_what_ended_it_is_told_in_words_and_as_facts(reason: StopReason, says: str) -> None:
    stop = SendStop(reason, "socketcan can0", ((0x123, False),), "buffer full")
    assert stop_text(stop) == says
    replay = Replay("x.log", ReplayChoice(), (), 1000, 2.5, 7, 0, ())
    played = replay_json(replay, Played(3, 1.0, Lateness(), stop))["played"]
    assert (played["stopped"], played["stop"]["reason"]) == (says, reason.value)
    assert (played["stop"]["ids"], played["stop"]["said"]) == (["0x123"], "buffer full")


def test_an_overload_names_the_network_and_the_remedy() -> None:
    assert overload_text(BenchOverload("body", 1.25, 500_000)) == (
        "network body: all messages together take 125% of 500000 bit/s, so frames pile up; "
        "give the messages without a period in the DBC a longer one (cycle)"
    )
