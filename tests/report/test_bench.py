"""What is told of a replay."""

from __future__ import annotations

from netcheck.bench import Lateness, Played, Replay, ReplayChoice
from netcheck.report.bench import replay_text


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
    assert "  as fast as they were taken, 800 a second\n" in text
    assert "late" not in text


def test_how_far_it_got() -> None:
    text = replayed(1400, rounds=0, stopped="interrupted")
    assert "x.log: 1,400 frames sent, 7 left out\n  1 whole round of 1,000 frames, and 400 more\n" in text
    assert "STOPPED interrupted, after 1,400 frames\n" in text
    assert "  2 whole rounds of 1,000 frames, and 1 more\n" in replayed(2001, rounds=3)
