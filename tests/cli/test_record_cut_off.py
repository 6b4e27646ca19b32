"""A recording that is killed, interrupted or out of room leaves a log of whole lines."""

from __future__ import annotations

import re
import resource
import signal
import subprocess
from pathlib import Path
from typing import Any

import pytest

from netcheck.capture import read_capture
from netcheck.files import load_marks
from tests.cli.recording import Recorder, words
from tests.live import start_sender, until


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
    assert said.said.splitlines()[-1].startswith(f"netcheck: {log}: the disk is full – free some space")
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
