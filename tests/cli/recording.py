"""A van on a real socket, and ``netcheck record`` in a process of its own on the other side."""

from __future__ import annotations

import os
import re
import select
import subprocess
import sys
import threading
from pathlib import Path

import can

from tests.live import GROUP, LONGEST, open_sender, until


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


def words(job: Path, port: int, *more: str) -> list[str]:
    log = str(job.parent / "new.log")
    tap = ["--interface", "udp_multicast", "--channel", GROUP, "--option", f"port={port}"]
    return ["record", str(job), *tap, "-o", log, "--still", "0.2", *more]


class Recorder:
    """The command in a process of its own; what it says is waited for, not slept for."""

    def __init__(self, arguments: list[str], terminal: int | None = None, lines: int = 200) -> None:
        self.said = ""
        stream = terminal if terminal is not None else subprocess.PIPE
        self.process = subprocess.Popen(
            [sys.executable, "-m", "netcheck", *arguments],
            stdin=terminal if terminal is not None else subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=stream,
            env={**os.environ, "TERM": "xterm", "COLUMNS": "80", "LINES": str(lines)},
        )
        self._source = -1

    def listen(self, source: int) -> Recorder:
        self._source = source
        return self

    def until(self, text: str) -> None:
        until(lambda: text in self.heard())

    def prompted(self) -> None:
        """The exercise was asked for so long ago that "done" is no slip, by the clock of the command."""
        self.until("1 of 1: reverse-engaged")
        prompt = self.said.rindex("1 of 1: reverse-engaged")

        def seconds() -> list[int]:
            return [int(number) for number in re.findall(r"  (\d+) s, ", self.heard()[prompt:])]

        until(lambda: len(told := seconds()) > 1 and told[-1] - told[0] >= 2)

    def answered(self, seconds: float = 0.7) -> None:
        """The role was seen in its state for so long; a loaded machine may skip a tenth on the screen."""
        begin = len(self.said)

        def held() -> list[float]:
            return [float(number) for number in re.findall(r"ANSWERS, ([0-9.]+) s", self.heard()[begin:])]

        until(lambda: max(held(), default=0.0) >= seconds)

    def heard(self) -> str:
        source = self._source if self._source >= 0 else self.process.stderr.fileno()  # type: ignore[union-attr]
        if select.select([source], [], [], 0.05)[0]:
            self.said += os.read(source, 4096).decode("utf-8", "replace")
        return self.said

    def end(self) -> tuple[int, str]:
        out, err = self.process.communicate(timeout=LONGEST)
        self.said += (err or b"").decode("utf-8", "replace")
        return self.process.returncode, out.decode("utf-8")
