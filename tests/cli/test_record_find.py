"""``netcheck record --find`` on a real socket: a van that is worked when the recorder asks for it."""

from __future__ import annotations

import itertools
import json
import os
import pty
from pathlib import Path

import cantools
import pytest

from netcheck.capture import read_capture
from netcheck.cli import main
from netcheck.cli._record_find import FindRecording
from netcheck.cli._screen import Screen
from netcheck.files import load_marks, load_vehicle
from netcheck.find import AskKind, Pace, SearchGuide
from netcheck.report._record_find import ASK_WORDS
from netcheck.report.recording import RecordStop, StopKind
from tests.captures import Frame, hand_made
from tests.cli.recording import Recorder, Van
from tests.live import GROUP


def words(folder: Path, port: int, *more: str) -> list[str]:
    tap = ["--interface", "udp_multicast", "--channel", GROUP, "--option", f"port={port}"]
    pace = ["--still", "0.2", "--press", "0.4", "--seed", "1", "--bitrate", "500000"]
    log = ["-o", str(folder / "new.log")]
    return ["record", "--find", "reverse-engaged", *tap, *pace, *log, *more]


def test_worked_when_asked_it_stands_clear_and_is_drafted(tmp_path: Path, port: int) -> None:
    with Van(port) as van:
        recorder = Recorder(words(tmp_path, port, "--draft", str(tmp_path / "d.dbc"), "--format", "json"))
        follow(van, recorder)
        code, out = recorder.end()
    told = json.loads(out)
    assert code == 0
    assert told["separated"] is True
    best = told["candidates"][0]
    assert (best["id"], best["byte"], best["bit"], best["edges_matched"]) == ("0x123", 0, 0, 6)
    assert "1. " in recorder.said
    assert "stands clear" in recorder.said
    assert len(load_marks(tmp_path / "new.marks.toml")) == 3
    assert read_capture(tmp_path / "new.log").skipped == 0
    (message,) = cantools.database.load_file(tmp_path / "d.dbc").messages
    (source,) = load_vehicle(tmp_path / "d.vehicle.toml").model.role["reverse-engaged"]
    assert (message.frame_id, message.signals[0].name) == (0x123, source.signal)


def follow(van: Van, recorder: Recorder) -> None:
    """Work the lever as it is asked for, until the recorder is through."""
    asked = let_go = 0
    while recorder.process.poll() is None:
        said = recorder.heard()
        if (now := said.count(": NOW, and hold")) > asked:
            asked, van.lever = now, 1
        if (now := said.count("Let go.")) > let_go:
            let_go, van.lever = now, 0


def test_stopped_before_a_press_leaves_a_log_and_no_marks(tmp_path: Path, port: int) -> None:
    ours, theirs = pty.openpty()
    with Van(port):
        recorder = Recorder(words(tmp_path, port), theirs).listen(ours)
        recorder.until("[Enter] starts the recording")
        os.write(ours, b"\n")
        recorder.until("First press in")
        os.write(ours, b"q")
        code, out = recorder.end()
    os.close(ours)
    os.close(theirs)
    assert (code, out) == (3, "")
    assert not (tmp_path / "new.marks.toml").exists()
    assert read_capture(tmp_path / "new.log").skipped == 0


class FakeLive:
    """A bus in memory whose clock goes on by 0.2 s a look, and jumps once where it is told to."""

    frames, error_frames, has_ended, fault, first_ns = 1, 0, False, None, 0

    def __init__(self, jump_at: int = -1, jump_ns: int = 0) -> None:
        self._looks, self._jump = 0, (jump_at, jump_ns)

    def now_ns(self) -> int:
        looks, (jump_at, jump_ns) = self._looks, self._jump
        return looks * 200_000_000 + (jump_ns if 0 <= jump_at <= looks else 0)

    def take(self):
        self._looks += 1
        return hand_made([Frame(0x123, bytes([self._looks & 1]), time_ns=self.now_ns())])


class FakeKeys:
    """Keys at the looks at which they are pressed."""

    present = True

    def __init__(self, **pressed: str) -> None:
        self._pressed = {int(look.removeprefix("at_")): key for look, key in pressed.items()}
        self._looks = 0

    def wait(self, _: float) -> str:
        self._looks += 1
        return self._pressed.get(self._looks, "")


def run_fake(live: FakeLive, keys: FakeKeys) -> tuple[FindRecording, RecordStop]:
    guide = SearchGuide(["a"], Pace(quiet=0.2), seed=1)
    recording = FindRecording(live, guide, wait=1.0, bitrate=500_000)
    looks = itertools.count()
    return recording, recording.run(keys, Screen(), lambda: next(looks) * 0.2)


@pytest.mark.parametrize("jump_ns", [-3_000_000_000, 30_000_000_000])
def test_a_clock_that_was_set_ends_it_and_leaves_no_marks(jump_ns) -> None:
    recording, stop = run_fake(FakeLive(60, jump_ns), FakeKeys())
    assert stop.kind is StopKind.CLOCK_SET
    assert recording.marks == []


def test_a_key_takes_back_a_press_and_another_ends_it() -> None:
    recording, stop = run_fake(FakeLive(), FakeKeys(at_150="q"))
    marks = len(recording.marks)
    assert (stop.kind, marks >= 2) == (StopKind.QUIT, True)
    recording, _ = run_fake(FakeLive(), FakeKeys(at_149="r", at_150="q"))
    assert len(recording.marks) in {marks - 1, marks}  # during a press it takes back only that


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (["--find", "Reverse!"], "is not a role name"),
        (["x.job.toml"], "--find needs no job file"),
        (["--draft", "x.txt"], "does not end in .dbc"),
        (["-o", "x.asc"], "does not end in .log"),
    ],
)
def test_what_is_wrong(tmp_path, port, capsys, change, said) -> None:
    assert main([*words(tmp_path, port), *change]) == 2
    assert said in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_without_a_vehicle_file_the_bit_rate_has_to_be_given(tmp_path, port, capsys) -> None:
    asked = words(tmp_path, port)
    at = asked.index("--bitrate")
    assert main(asked[:at] + asked[at + 2 :]) == 2
    assert "--bitrate is missing" in capsys.readouterr().err


def test_without_a_job_and_without_a_role(capsys) -> None:
    assert main(["record", "--interface", "virtual", "--channel", "a"]) == 2
    assert "no job file given" in capsys.readouterr().err


def test_silence_is_told(tmp_path: Path, port: int, capsys) -> None:
    code = main(words(tmp_path, port, "--wait", "1"))
    assert code == 3
    assert "silence: no frame came in 1 s" in capsys.readouterr().err
    assert not (tmp_path / "new.marks.toml").exists()


def test_every_kind_has_its_words() -> None:
    assert set(ASK_WORDS) == set(AskKind)
