"""One pass for everything gives what a pass for each thing gives."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from netcheck.capture import open_capture
from netcheck.database import load_database
from netcheck.diagnostics import ConversationReader
from netcheck.errors import UsageError
from netcheck.evidence import CaptureSeen, TurnsWanted, observe
from netcheck.network import SurveyPlan, survey
from netcheck.prove import prove
from netcheck.prove._look import TURNS, FirstPasses
from netcheck.roles import Watch
from tests.network.logs import Line, text_of
from tests.prove.small import DBC, USUAL, SmallJob, log_of


def usual(folder: Path) -> Path:
    log = folder / "usual.log"
    log.write_text(log_of(USUAL), encoding="ascii")
    return log


def slow(folder: Path) -> Path:
    """A channel whose fastest message comes every 1.5 s, so that it is gone through twice."""
    lines = [Line(1500.0 * n, 0x103, bytes([n % 3 == 0, 0]), "can0") for n in range(60)]
    log = folder / "slow.log"
    log.write_text(text_of(lines), encoding="ascii")
    return log


def crowded(folder: Path) -> Path:
    """More ids than a survey tells apart, and reverse behind them."""
    lines = [Line(0.3 * n, 0x1000 + n, bytes(8), "can0") for n in range(9000)]
    lines += [Line(2700.0 + 50 * n, 0x103, bytes([n // 20 % 2, 0]), "can0") for n in range(200)]
    log = folder / "crowded.log"
    log.write_text(text_of(lines), encoding="ascii")
    return log


def watches(folder: Path) -> list[Watch]:
    (folder / "van.dbc").write_text(DBC, encoding="utf-8")
    database = load_database(folder / "van.dbc", cache=False)
    message = next(one for one in database.messages if one.name == "Lever")
    return [Watch("reverse-engaged", "body", message, message.signals[0], active=(1,))]


def without_turns(seen: CaptureSeen) -> CaptureSeen:
    return replace(seen, channels=tuple(replace(one, turns=()) for one in seen.channels))


@pytest.mark.parametrize(
    ("made", "ratios", "chunk_bytes"),
    [
        (usual, None, 20_000),
        (usual, frozenset({1.0}), 20_000),
        (slow, None, 300),
        (slow, frozenset({1.0}), 300),
        (crowded, None, 1 << 20),
    ],
)
def test_what_the_passes_find_together_each_finds_alone(
    tmp_path: Path, made: Callable[[Path], Path], ratios: frozenset[float] | None, chunk_bytes: int
) -> None:
    log, looked = made(tmp_path), watches(tmp_path)
    passes = FirstPasses(SurveyPlan(), ConversationReader())
    seen = passes.observe(open_capture(log, chunk_bytes=chunk_bytes), looked, [()], ratios, "log")
    alone = observe(open_capture(log), looked, [()], ratios, "log")
    assert without_turns(seen) == without_turns(alone)
    assert passes.surveys == [survey(open_capture(log))]


@pytest.mark.parametrize("made", [usual, slow])
@pytest.mark.parametrize("chunk_bytes", [2000, 1 << 20])
def test_turns_are_where_a_plain_walk_over_the_frames_sees_them(
    tmp_path: Path, made: Callable[[Path], Path], chunk_bytes: int
) -> None:
    log, (watch,) = made(tmp_path), watches(tmp_path)
    stream = open_capture(log, chunk_bytes=chunk_bytes)
    (channel,) = observe(stream, [watch], [()], turns=TURNS).channels
    (turns,) = channel.turns
    capture = open_capture(log).read()
    expected: list[tuple[int, bool]] = []
    for frame in np.flatnonzero(capture.can_id == 0x103).tolist():
        state = bool(capture.payload(frame)[0] & 3 == 1)
        if not expected or expected[-1][1] != state:
            expected.append((int(capture.time_ns[frame]), state))
    assert len(expected) > 2
    assert turns is not None
    assert list(zip(turns.times_ns.tolist(), turns.states.tolist(), strict=True)) == expected


def test_a_role_without_states_turns_at_a_limit_or_not_at_all(tmp_path: Path) -> None:
    log, (watch,) = usual(tmp_path), watches(tmp_path)
    plain = replace(watch, active=())
    (channel,) = observe(open_capture(log), [plain], [()], turns=TurnsWanted()).channels
    assert channel.turns == (None,)
    wanted = TurnsWanted({"reverse-engaged": 0.5})
    (channel,) = observe(open_capture(log), [plain], [()], turns=wanted).channels
    (turns,) = channel.turns
    assert turns is not None
    assert turns.states.tolist() == [False, True, False, True, False]


def test_values_that_are_none_turn_nothing(tmp_path: Path) -> None:
    log, (watch,) = usual(tmp_path), watches(tmp_path)
    blind = replace(watch, not_available=(1,))
    (channel,) = observe(open_capture(log), [blind], [()], turns=TURNS).channels
    (turns,) = channel.turns
    assert turns is not None
    assert turns.states.tolist() == [False]


def test_conversations_are_noticed_in_the_same_pass(tmp_path: Path) -> None:
    asked = Line(5000.0, 0x7E0, bytes.fromhex("0322F18755555555"), "can0")
    told = Line(5020.0, 0x7E8, bytes.fromhex("0662F18741424355"), "can0")
    (tmp_path / "talk.log").write_text(log_of(USUAL, [asked, told]), encoding="ascii")
    passes = FirstPasses(SurveyPlan(), ConversationReader())
    for log in (usual(tmp_path), tmp_path / "talk.log"):
        passes.observe(open_capture(log), [], [], None, "log")
    quiet, talking = passes.streams
    assert {(0x7E0, False), (0x7E8, False)} <= talking.keys()
    assert talking.keys() - quiet.keys() == {(0x7E0, False), (0x7E8, False)}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes")
def test_a_capture_that_can_be_read_only_once_is_refused(tmp_path: Path) -> None:
    job = SmallJob(tmp_path, log_of(USUAL), log_of(USUAL)).load()
    path = job.captures[0].path
    path.unlink()
    os.mkfifo(path)
    with pytest.raises(UsageError, match="can be read only once"):
        prove(job)
