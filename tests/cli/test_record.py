"""``netcheck record`` on a real socket: a van on the other side, read back with everything else we have."""

from __future__ import annotations

import json
import os
import pty
import re
import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import can
import pytest

from netcheck.capture import read_capture
from netcheck.capture.live import LiveCapture
from netcheck.cli import main
from netcheck.cli._record_run import ClockWatch
from netcheck.files import load_marks
from tests.cli.jobs import DBC, RETROFIT, VEHICLE
from tests.cli.recording import Recorder, Van, words
from tests.live import GROUP, until

Capsys = pytest.CaptureFixture[str]

DRIVE = "".join(
    f'BO_ {800 + n} Drive{n}: 8 GATEWAY\n SG_ Value : 0|8@1+ (1,0) [0|255] "" X\n\n' for n in range(4)
)
TWO_NETWORKS = VEHICLE.replace(
    "[module.gateway]", '[network.drive]\nbitrate = 500_000\ndbc = "drive.dbc"\n\n[module.gateway]', 1
)


def snapshot(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if not path.name.startswith("new")}


def in_process(capsys: Capsys, arguments: list[str]) -> tuple[int, str, str]:
    code = main(arguments)
    printed = capsys.readouterr()
    return code, printed.out, printed.err


def test_a_role_that_answers_turns_the_plan(job: Path, port: int, capsys: Capsys) -> None:
    before = snapshot(job.parent)
    assert main(["plan", str(job)]) == 3
    with Van(port) as van:
        recorder = Recorder(words(job, port))
        recorder.until("select reverse for 3 seconds")
        van.lever = 1
        until(lambda: (job.parent / "new.log").read_bytes().count(b"123#01") > 40)
        van.lever = 0
        code, out = recorder.end()
    assert code == 0
    assert "[!] Only listen" in recorder.said.split("1 of 1: reverse-engaged")[0]
    assert "no wire of its own" in recorder.said
    assert "+ reverse-engaged answered" in recorder.said
    assert "GO WITH CHANGES" in out
    assert snapshot(job.parent) == before
    (loaded,) = load_marks(job.parent / "new.marks.toml")
    assert (loaded.mark.role, loaded.mark.state) == ("reverse-engaged", "active")
    assert read_capture(job.parent / "new.log").skipped == 0
    lines = re.search(r"\[\[capture]]\n.*\n.*\n", out)
    assert lines is not None
    capsys.readouterr()
    job.write_text(job.read_text() + "\n" + lines[0].replace("  ", ""))
    assert main(["plan", str(job)]) == 0


def test_without_an_answer_it_stays_unproven(job: Path, port: int, capsys: Capsys) -> None:
    with Van(port):
        code, out, err = in_process(capsys, words(job, port, "--timeout", "1", "--format", "json"))
    told = json.loads(out)
    assert (code, told["schema"], told["plan"]["verdict"]) == (3, "netcheck.record/1", "unproven")
    assert [entry["result"] for entry in told["exercises"]] == ["timed-out"]
    assert (told["marks"], told["marks_file"], told["lost"]["frames"]) == ([], None, 0)
    assert told["frames"] == len(read_capture(job.parent / "new.log"))
    assert "did not answer in time" in err
    assert not (job.parent / "new.marks.toml").exists()


@pytest.fixture
def terminal() -> Iterator[tuple[int, int]]:
    ours, theirs = pty.openpty()
    yield ours, theirs
    for number in (ours, theirs):
        os.close(number)


def test_keys_at_a_terminal(job: Path, port: int, terminal: tuple[int, int]) -> None:
    """The lever is in reverse before anybody asks; a person confirms it afterwards."""
    ours, theirs = terminal
    with Van(port, lever=1) as van:
        recorder = Recorder(words(job, port), theirs).listen(ours)
        recorder.until("[Enter] starts the recording")
        os.write(ours, b"\n")
        recorder.until("is active already")
        van.lever = 0
        recorder.until("reverse-engaged: P (0)")
        van.lever = 1
        recorder.answered()
        van.lever = 0
        recorder.until("[y] yes, mark it")
        os.write(ours, b"y")
        recorder.until("yes: marked")
        code, out = recorder.end()
    assert code == 0
    assert "nobody confirmed" not in out
    assert len(load_marks(job.parent / "new.marks.toml")) == 2


def test_leaving_before_it_begins_leaves_nothing(job: Path, port: int, terminal: tuple[int, int]) -> None:
    ours, theirs = terminal
    recorder = Recorder(words(job, port), theirs).listen(ours)
    recorder.until("[Enter] starts the recording")
    os.write(ours, b"q")
    assert recorder.end() == (3, "")
    assert not list(job.parent.glob("new*"))


def test_cautions_come_page_by_page(job: Path, port: int, terminal: tuple[int, int]) -> None:
    ours, theirs = terminal
    recorder = Recorder(words(job, port), theirs, lines=10).listen(ours)
    recorder.until("[Enter] goes on, [q] leaves.")
    assert "[Enter] starts the recording" not in recorder.said
    while "[Enter] starts the recording" not in recorder.said:
        os.write(ours, b"\n")
        seen = recorder.said.count("[Enter]")
        until(lambda seen=seen: recorder.heard().count("[Enter]") > seen)
    os.write(ours, b"q")
    assert recorder.end() == (3, "")


def test_done_without_an_answer_is_a_no_go(job: Path, port: int, terminal: tuple[int, int]) -> None:
    ours, theirs = terminal
    with Van(port):
        recorder = Recorder(words(job, port), theirs).listen(ours)
        recorder.until("[Enter] starts the recording")
        os.write(ours, b"\n")
        recorder.prompted()
        os.write(ours, b"\n")
        recorder.until("It did not answer: [r] do it again [s] skip [y] I did it")
        os.write(ours, b"y")
        code, out = recorder.end()
    assert code == 1
    assert "done, but it did not answer" in out


def test_one_stray_enter_makes_no_verdict(job: Path, port: int, terminal: tuple[int, int]) -> None:
    """Enter starts the recording; pressed once more it said "done", and the plan was a no-go."""
    ours, theirs = terminal
    with Van(port) as van:
        recorder = Recorder(words(job, port), theirs).listen(ours)
        recorder.until("[Enter] starts the recording")
        os.write(ours, b"\n")
        recorder.prompted()
        os.write(ours, b"\n")
        recorder.until("It did not answer")
        recorder.until("P (0) – did not answer")
        os.write(ours, b"\n")  # and once more
        van.lever = 1
        recorder.answered()
        van.lever = 0
        recorder.until("\a")  # heard in the seat
        code, _ = recorder.end()
    assert code == 0
    assert "reverse-engaged answered" in recorder.said


def test_an_exercise_is_done_again_and_nothing_beeps_when_told(
    job: Path, port: int, terminal: tuple[int, int]
) -> None:
    ours, theirs = terminal
    with Van(port) as van:
        recorder = Recorder(words(job, port, "--no-beep"), theirs).listen(ours)
        recorder.until("[Enter] starts the recording")
        os.write(ours, b"\n")
        recorder.prompted()
        os.write(ours, b"\n")
        recorder.until("It did not answer")
        recorder.said = ""
        os.write(ours, b"r")
        recorder.until("1 of 1: reverse-engaged")
        van.lever = 1
        recorder.answered()
        van.lever = 0
        recorder.until("That was all")
        code, out = recorder.end()
    assert code == 0
    assert "+ reverse-engaged" in out
    assert "\a" not in recorder.said


def test_a_network_that_falls_silent_is_told_then_and_afterwards(
    job: Path, port: int, terminal: tuple[int, int]
) -> None:
    ours, theirs = terminal
    with Van(port) as van:
        recorder = Recorder(words(job, port), theirs).listen(ours)
        recorder.until("[Enter] starts the recording")
        os.write(ours, b"\n")
        recorder.until("reverse-engaged: P (0)")
        van.lever = None
        recorder.until(", check the plug")
        assert re.search(r"reverse-engaged: – no frame for \d+ s, check the plug", recorder.said)
        van.lever = 1
        recorder.answered()
        van.lever = 0
        code, out = recorder.end()
    assert code == 0
    times = re.search(r"silent +no frame from ([0-9.]+) to ([0-9.]+) s: check the plug", out)
    assert times is not None
    assert 3.0 <= float(times[2]) - float(times[1]) < 30.0


def test_limits_are_typed_where_a_role_has_no_states(job: Path, port: int, terminal: tuple[int, int]) -> None:
    vehicle = job.parent / "skerry.vehicle.toml"
    vehicle.write_text(VEHICLE.replace('active = ["R"]\n', ""), encoding="utf-8")
    ours, theirs = terminal
    with Van(port, lever=2):
        recorder = Recorder(words(job, port), theirs).listen(ours)
        recorder.until("[Enter] starts the recording")
        os.write(ours, b"\n")
        recorder.prompted()
        os.write(ours, b"\n")
        recorder.until("keep it there")
        recorder.until("What did the vehicle show?")
        os.write(ours, b"2\n0,5 9\x7f3")  # one number is not enough; a slip is taken back
        recorder.until("[Enter]: 0,5 3_")
        os.write(ours, b"\n")
        _, out = recorder.end()
    assert "marked, with the limits you gave" in out
    (loaded,) = load_marks(job.parent / "new.marks.toml")
    assert loaded.mark.between == (0.5, 3.0)
    assert loaded.mark.to - loaded.mark.from_ > 2.5


@pytest.mark.parametrize(("seconds", "says"), [(-30, "was set back by"), (30, "was set ahead by")])
def test_a_clock_that_is_set_ends_the_recording(
    job: Path, port: int, capsys: Capsys, monkeypatch: pytest.MonkeyPatch, seconds: float, says: str
) -> None:
    """No answer that came before it is lost, and nothing after it is taken for one."""
    van, count = Van(port), 0

    def stamp(_: LiveCapture, messages: Sequence[can.Message]) -> None:
        nonlocal count
        for message in messages:
            count += 1
            message.timestamp += seconds if count > 60 else 0
        van.lever = int(count > 60)

    monkeypatch.setattr(LiveCapture, "_stamp", stamp)
    with van:
        code, out, _ = in_process(capsys, words(job, port, "--format", "json"))
    told = json.loads(out)
    assert code == 3
    assert says in told["ending"]
    assert told["stop"]["seconds"] == pytest.approx(seconds, abs=1.0)  # frames may be read a little late
    assert told["silences"] == []
    assert told["marks"] == []
    assert told["plan"]["items"][0]["needs"][0]["status"] == "expected"


def test_a_clock_that_lags_and_catches_up_was_not_set() -> None:
    watch = ClockWatch()
    for stamp, steady in ((1000.0, 0.0), (1000.5, 10.0), (1020.0, 20.0), (1024.9, 21.0)):
        watch.take(round(stamp * 1e9), steady)
        assert watch.set_ahead == 0
    watch.take(round(1032e9), 22.0)
    assert watch.set_ahead == pytest.approx(6.1)


def test_silence(job: Path, port: int, capsys: Capsys) -> None:
    code, out, err = in_process(capsys, words(job, port, "--wait", "1"))
    assert (code, out) == (3, "")
    assert "netcheck: silence: no frame came in 1 s. Switch the ignition on" in err
    assert not list(job.parent.glob("new*"))


def test_only_error_frames(job: Path, port: int, capsys: Capsys) -> None:
    error = can.Message(arbitration_id=0x8, is_error_frame=True, data=bytes([0, 0, 4, 0, 0, 0, 0, 0]))
    with Van(port, error, lever=None):
        code, out, err = in_process(capsys, words(job, port, "--wait", "1"))
    told = " ".join(out.split())
    assert code == 3
    assert (
        "ended only error frames and no message in 1 s: most likely the bit rate is wrong (comfort has"
        in told
    )
    assert "only error frames" not in err
    assert "To keep it" not in out
    assert read_capture(job.parent / "new.log").is_error.all()
    assert not (job.parent / "new.marks.toml").exists()


def test_the_wrong_pair(job: Path, port: int, capsys: Capsys) -> None:
    (job.parent / "skerry.vehicle.toml").write_text(TWO_NETWORKS, encoding="utf-8")
    (job.parent / "drive.dbc").write_text(DBC[: DBC.index("BO_ 291")] + DRIVE, encoding="utf-8")
    drive = [can.Message(arbitration_id=800 + n, is_extended_id=False, data=bytes(8)) for n in range(4)]
    with Van(port, *drive, lever=None):
        code, out, err = in_process(capsys, words(job, port, "--format", "json"))
    found = json.loads(out)
    assert code == 3
    assert (
        "netcheck: this is not comfort: 0 of its 4 ids fit comfort, 4 fit drive. Clip on to the pair" in err
    )
    assert (found["network"], found["wanted"], found["plan"]) == ("drive", "comfort", None)
    assert found["job_lines"][-1] == f'channels = {{ "{GROUP}" = "drive" }}'


def test_bus_off(job: Path, port: int, capsys: Capsys) -> None:
    van = Van(port)
    with van:
        arm = threading.Timer(
            1.5, lambda: setattr(van, "extra", (can.Message(0, 0x40, is_error_frame=True),))
        )
        arm.start()
        code, out, err = in_process(capsys, words(job, port))
        arm.join()
    assert code == 2
    assert "the controller is bus-off" in err.splitlines()[-1]
    assert "The plan with this capture" in out
    assert read_capture(job.parent / "new.log").skipped == 0


@pytest.mark.parametrize("name", ["new.log", "new.marks.toml"])
def test_a_file_that_is_there_stays(job: Path, port: int, capsys: Capsys, name: str) -> None:
    (job.parent / name).write_text("mine")
    code, out, err = in_process(capsys, words(job, port))
    assert (code, out) == (2, "")
    assert f"{name}: -o: exists already – name a different file, or give --force to replace it" in err
    assert [path.name for path in job.parent.glob("new*")] == [name]
    assert (job.parent / name).read_text() == "mine"


def test_with_force_a_recording_replaces_what_is_there(job: Path, port: int, capsys: Capsys) -> None:
    log, marks = job.parent / "new.log", job.parent / "new.marks.toml"
    for path in (log, marks):
        path.write_text("mine\n" * 100)
    with Van(port):
        code, out, _ = in_process(capsys, words(job, port, "--timeout", "1", "--force", "--format", "json"))
    assert code == 3
    assert json.loads(out)["frames"] == len(read_capture(log))
    assert read_capture(log).skipped == 0
    assert not marks.exists()  # the old marks are not of this log


def test_with_force_a_recording_of_nothing_replaces_nothing(job: Path, port: int, capsys: Capsys) -> None:
    log, marks = job.parent / "new.log", job.parent / "new.marks.toml"
    for path in (log, marks):
        path.write_text("mine")
    code, out, _ = in_process(capsys, words(job, port, "--wait", "1", "--force"))
    assert (code, out) == (3, "")
    assert (log.read_text(), marks.read_text()) == ("mine", "mine")


def test_a_capture_of_the_job_is_never_replaced(job: Path, port: int, capsys: Capsys) -> None:
    log = job.parent / "new.log"
    log.write_text("(1.000000) can0 123#0000000000000000\n" * 3)
    job.write_text(job.read_text() + '\n[[capture]]\nfile = "new.log"\nchannels = { can0 = "comfort" }\n')
    before = log.read_bytes()
    code, _, err = in_process(capsys, words(job, port, "--force"))
    assert code == 2
    assert "new.log: -o: is an input of this command" in err
    assert log.read_bytes() == before


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda a: [*a, "--interface", "socketcan", "--channel", "can9"], "socketcan can9: cannot be opened"),
        (lambda a: [*a, "--interface", "sockecan"], "did you mean 'socketcan'?"),
        (lambda a: [*a, "--network", "comfrt"], "no network 'comfrt'"),
        (lambda a: [*a, "--option", "port"], "--option port must be NAME=VALUE"),
        (lambda a: [*a, "-o", "a.blf"], "does not end in .log"),
        (lambda a: [*a, "-o", "none/a.log"], "its folder does not exist"),
    ],
)
def test_bad_usage(
    job: Path, port: int, capsys: Capsys, change: Callable[[list[str]], list[str]], says: str
) -> None:
    code, out, err = in_process(capsys, change(words(job, port)))
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert says in err
    assert not list(job.parent.glob("new*"))


def test_a_job_that_waits_for_nothing_is_recorded_when_asked(job: Path, port: int, capsys: Capsys) -> None:
    (job.parent / "sensors.retrofit.toml").write_text(RETROFIT, encoding="utf-8")
    code, _, err = in_process(capsys, words(job, port))
    assert code == 2
    assert "the plan needs no further capture – to record anyway, give --network: comfort" in err
    with Van(port):
        code, out, _ = in_process(capsys, words(job, port, "--network", "comfort", "--seconds", "1"))
    assert code == 0
    assert "Recorded comfort" in out
