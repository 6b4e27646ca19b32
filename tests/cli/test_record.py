"""``netcheck record`` on a real socket: a van on the other side, read back with everything else we have."""

from __future__ import annotations

import json
import os
import pty
import re
import resource
import select
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import can
import pytest

from netcheck.capture import read_capture
from netcheck.cli import main
from netcheck.files import load_marks
from tests.cli.jobs import CLUSTER, DBC, GATEWAY, RETROFIT, VEHICLE, write_job
from tests.live import GROUP, free_port, open_sender, start_sender, until

Capsys = pytest.CaptureFixture[str]

EXERCISE = """
[[exercise]]
role = "reverse-engaged"
do = "Foot on the brake, select reverse for 3 seconds"
"""
ANSWERS = RETROFIT.replace('evidence = "defined"', 'evidence = "answers"') + EXERCISE
DRIVE = "".join(
    f'BO_ {800 + n} Drive{n}: 8 GATEWAY\n SG_ Value : 0|8@1+ (1,0) [0|255] "" X\n\n' for n in range(4)
)
TWO_NETWORKS = VEHICLE.replace(
    "[module.gateway]", '[network.drive]\nbitrate = 500_000\ndbc = "drive.dbc"\n\n[module.gateway]', 1
)


class Van:
    """Sends its lever's position 50 times a second, and whatever else is asked for."""

    def __init__(self, port: int, *extra: can.Message, lever: int | None = 0) -> None:
        self.lever, self.extra = lever, extra
        self._bus = open_sender(port)
        self._parked = threading.Event()
        self._thread = threading.Thread(target=self._drive)

    def _drive(self) -> None:
        while not self._parked.wait(0.02):
            if self.lever is not None:
                data = bytes([self.lever, 0, 0, 0, 0, 0, 0, 0])
                self._bus.send(can.Message(arbitration_id=291, is_extended_id=False, data=data))
            for message in self.extra:
                self._bus.send(message)

    def park(self) -> None:
        self._parked.set()
        self._thread.join()

    def __enter__(self) -> Van:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.park()
        self._bus.shutdown()


@pytest.fixture
def port() -> int:
    return free_port()


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = write_job(tmp_path, GATEWAY + CLUSTER)
    (tmp_path / "sensors.retrofit.toml").write_text(ANSWERS, encoding="utf-8")
    return path


def words(job: Path, port: int, *more: str) -> list[str]:
    log = str(job.parent / "new.log")
    tap = ["--interface", "udp_multicast", "--channel", GROUP, "--option", f"port={port}"]
    return ["record", str(job), *tap, "-o", log, "--still", "0.2", *more]


class Recorder:
    """The command in a process of its own; what it says is waited for, not slept for."""

    def __init__(self, arguments: list[str], terminal: int | None = None) -> None:
        self.said = ""
        stream = terminal if terminal is not None else subprocess.PIPE
        self.process = subprocess.Popen(
            [sys.executable, "-m", "netcheck", *arguments],
            stdin=terminal if terminal is not None else subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=stream,
            env={**os.environ, "TERM": "xterm", "COLUMNS": "80"},
        )
        self._source = -1

    def listen(self, source: int) -> Recorder:
        self._source = source
        return self

    def until(self, text: str) -> None:
        source = self._source if self._source >= 0 else self.process.stderr.fileno()  # type: ignore[union-attr]

        def came() -> bool:
            if select.select([source], [], [], 0.05)[0]:
                self.said += os.read(source, 4096).decode("utf-8", "replace")
            return text in self.said

        until(came)

    def end(self) -> tuple[int, str]:
        out, err = self.process.communicate(timeout=60)
        self.said += (err or b"").decode("utf-8", "replace")
        return self.process.returncode, out.decode("utf-8")


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
        recorder.until("ANSWERS, 0.7 s")
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


def test_done_without_an_answer_is_a_no_go(job: Path, port: int, terminal: tuple[int, int]) -> None:
    ours, theirs = terminal
    with Van(port):
        recorder = Recorder(words(job, port), theirs).listen(ours)
        recorder.until("[Enter] starts the recording")
        os.write(ours, b"\n")
        recorder.until("  2 s, ")
        os.write(ours, b"\n")
        code, out = recorder.end()
    assert code == 1
    assert "done, and it did not answer" in out


def test_limits_are_typed_where_a_role_has_no_states(job: Path, port: int, terminal: tuple[int, int]) -> None:
    vehicle = job.parent / "skerry.vehicle.toml"
    vehicle.write_text(VEHICLE.replace('active = ["R"]\n', ""), encoding="utf-8")
    ours, theirs = terminal
    with Van(port, lever=2):
        recorder = Recorder(words(job, port), theirs).listen(ours)
        recorder.until("[Enter] starts the recording")
        os.write(ours, b"\n")
        recorder.until("  2 s, ")
        os.write(ours, b"\n")
        recorder.until("keep it there")
        recorder.until("What did the vehicle show?")
        os.write(ours, b"2\n1 9\x7f3")  # one number is not enough; a slip is taken back
        recorder.until("[Enter]: 1 3_")
        os.write(ours, b"\n")
        _, out = recorder.end()
    assert "noted, with the limits you gave" in out
    (loaded,) = load_marks(job.parent / "new.marks.toml")
    assert loaded.mark.between == (1.0, 3.0)
    assert loaded.mark.to - loaded.mark.from_ > 2.5


def test_silence(job: Path, port: int, capsys: Capsys) -> None:
    code, out, err = in_process(capsys, words(job, port, "--wait", "1"))
    assert (code, out) == (3, "")
    assert "netcheck: silence: nothing came in 1 s. Switch the ignition on" in err
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
    assert f"{name}: is there already, and a recording never replaces a file" in err
    assert [path.name for path in job.parent.glob("new*")] == [name]
    assert (job.parent / name).read_text() == "mine"


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda a: [*a, "--interface", "socketcan", "--channel", "can9"], "socketcan can9: cannot be opened"),
        (lambda a: [*a, "--interface", "sockecan"], "did you mean 'socketcan'?"),
        (lambda a: [*a, "--network", "comfrt"], "no network 'comfrt'"),
        (lambda a: [*a, "--option", "port"], "--option port is no NAME=VALUE"),
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
    assert "the plan waits for no capture – to record anyway, give --network: comfort" in err
    with Van(port):
        code, out, _ = in_process(capsys, words(job, port, "--network", "comfort", "--seconds", "1"))
    assert code == 0
    assert "Recorded comfort" in out


def running(job: Path, port: int) -> tuple[Recorder, subprocess.Popen[str], Path]:
    """A recorder and a fast sender, both at work."""
    log = job.parent / "new.log"
    recorder = Recorder(words(job, port, "--timeout", "60"))
    recorder.until("Before you begin")
    until(log.exists)
    sender = start_sender(port, 400_000, 8_000)
    until(lambda: log.stat().st_size > 200_000)
    return recorder, sender, log


def whole(log: Path, *, cut: int = 0) -> int:
    """Frames of a log without a gap in their numbers."""
    capture = read_capture(log)
    assert capture.skipped <= cut
    numbers = capture.data[: len(capture) * 8].reshape(-1, 8).copy().view(">u8").ravel()
    assert (numbers[1:] - numbers[:-1] == 1).all()
    return len(capture)


def test_a_killed_recorder_leaves_a_whole_log(job: Path, port: int) -> None:
    recorder, sender, log = running(job, port)
    recorder.process.kill()
    recorder.end()
    sender.kill()
    sender.wait()
    assert whole(log, cut=1) > 3_000
    assert load_marks(job.parent / "new.marks.toml") == ()


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_an_interrupt_leaves_a_whole_log_and_a_verdict(job: Path, port: int, number: signal.Signals) -> None:
    recorder, sender, log = running(job, port)
    recorder.process.send_signal(number)
    code, out = recorder.end()
    sender.kill()
    sender.wait()
    assert code == 130
    assert recorder.said.endswith("netcheck: interrupted\n")
    assert re.search(r"ended +interrupted", out)
    assert "The plan with this capture" in out
    assert f"{whole(log):,} frames" in out


def test_a_killed_sender_leaves_a_whole_log(job: Path, port: int) -> None:
    recorder, sender, log = running(job, port)
    sender.kill()
    sender.wait()
    size = -1

    def still() -> bool:
        nonlocal size
        size, before = log.stat().st_size, size
        return size == before

    until(still)
    recorder.process.send_signal(signal.SIGINT)
    code, out = recorder.end()
    assert code == 130
    assert f"{whole(log):,} frames" in out


def _full(said: Recorder, log: Path, code: int) -> None:
    assert code == 2
    assert said.said.splitlines()[-1].startswith(f"netcheck: {log}: the disk is full – make room")
    assert log.read_bytes().endswith(b"\n")
    assert whole(log) > 3_000


def test_a_file_that_must_not_grow_leaves_whole_lines(job: Path, port: int) -> None:
    recorder, sender, log = running(job, port)
    resource.prlimit(recorder.process.pid, resource.RLIMIT_FSIZE, (log.stat().st_size + 100_003,) * 2)
    code, out = recorder.end()
    sender.kill()
    sender.wait()
    assert re.search(r"lost +at least [\d,]+ frames?: [\d,]+ that netcheck could not write", out)
    _full(recorder, log, code)


def test_a_full_disk_leaves_whole_lines(job: Path, port: int, tmp_path: Path) -> None:
    disk: Any = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=512k", "tmpfs", disk], check=False, capture_output=True
    )
    if mounted.returncode:
        pytest.skip("this user may not mount a small disk; the file size limit is tested instead")
    try:
        arguments = words(job, port, "--timeout", "60")
        log = disk / "new.log"
        arguments[arguments.index("-o") + 1] = str(log)
        recorder = Recorder(arguments)
        recorder.until("Before you begin")
        until(log.exists)
        sender = start_sender(port, 400_000, 8_000)
        code, out = recorder.end()
        sender.kill()
        sender.wait()
        _full(recorder, log, code)
        assert "marks could not be saved" not in out  # there are none
    finally:
        subprocess.run(["umount", disk], check=True)
