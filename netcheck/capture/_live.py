"""A live bus to a candump log: every frame goes to disk first, then to whoever looks.

    bus → reader thread → waiting frames → writer thread → log
                                                         → chunks → take()

The reader does nothing but receive. The writer formats and writes some 20 times a second and has the disk
sync once a second, so that a pulled plug costs a second at most. Both queues are bounded: what does not fit
is counted, never silently gone.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Sequence
from contextlib import suppress
from enum import StrEnum
from typing import Final

import can

from netcheck.capture._bus import OpenBus
from netcheck.capture._capture import Capture
from netcheck.capture._listen import LINUX_ERRORS
from netcheck.capture._logfile import LogFile
from netcheck.capture._losses import LossCounter, Losses
from netcheck.capture._wire_lines import columns, join, log_lines
from netcheck.errors import InputError
from netcheck.records import dataclass

_TURN: Final = 0.05  # s between two writes
_SYNC: Final = 1.0  # s between two syncs, and between two looks at the losses
_MOST_WAITING: Final = 1 << 18  # frames; half a minute of a full 1 Mbit/s bus
_MOST_UNTAKEN: Final = 1 << 19
_BATCH: Final = 1 << 13  # frames formatted at once
_FAILURES: Final = 20  # receive errors in a row that mean the interface is gone
_PATIENCE: Final = 3.0  # s that a driver has to come back from receiving
# linux/can/error.h: classes in the id, details of the controller in data byte 1
_CONTROLLER: Final = 0x004
_OVERFLOW: Final = 0x01
_BUS_OFF: Final = 0x040


class Ending(StrEnum):
    """Why a recording ended by itself."""

    INTERFACE_LOST = "interface-lost"
    BUS_OFF = "bus-off"
    DISK = "disk"


@dataclass(frozen=True)
class BusFault:
    """What ended a recording, with the one line to say about it."""

    ending: Ending
    error: InputError


class LiveCapture:
    """Frames of one bus into one log, from ``keep`` on; before that they are only counted.

    The bus belongs to it from here on and is closed by ``stop``. Use it as a context manager.
    """

    def __init__(self, opened: OpenBus, channel: str) -> None:
        """channel: the name of the channel in the log, without blanks."""
        self._opened = opened
        self.channel = channel
        tapping = opened.tapping
        device = tapping.channel if tapping.interface == "socketcan" else None
        self._counter = LossCounter(opened.bus, device)
        self._counter.widen()
        self._has_linux_errors = tapping.interface in LINUX_ERRORS
        self._waiting: deque[can.Message] = deque()
        self._chunks: deque[Capture] = deque()
        self._untaken = 0
        self._lock = threading.Lock()
        self._log: LogFile | None = None
        self._stopping = threading.Event()
        self._threads: list[threading.Thread] = []
        self._unkept = self._overruns = self._said = 0
        self._clock: tuple[float, float] | None = None  # time stamp, monotonic time of arrival
        self.fault: BusFault | None = None
        self.losses = Losses()
        self.heard = 0  # data and remote frames, kept or not
        self.frames = self.error_frames = 0  # in the log
        self.failures = 0  # receive errors that passed
        self._crash: Exception | None = None
        self.unseen = 0  # frames in the log that ``take`` no longer had room for
        self.first_ns: int | None = None

    def start(self) -> None:
        """Begin to listen."""
        for name, run in (("netcheck-receive", self._receive), ("netcheck-write", self._write)):
            thread = threading.Thread(target=run, name=name, daemon=True)
            self._threads.append(thread)
            thread.start()

    def keep(self, log: LogFile) -> None:
        """Write every frame from now on."""
        self._counter.start()
        with self._lock:
            self._log = log

    def take(self) -> Capture | None:
        """The frames written since the last call, in order; None if there are none."""
        with self._lock:
            chunks, self._chunks, self._untaken = list(self._chunks), deque(), 0
        return join(chunks) if chunks else None

    def now_ns(self) -> int:
        """The present in the time of the log: that of the last frame, and what has passed since it came."""
        clock = self._clock
        if clock is None:
            return 0
        stamp, arrived = clock
        return round((stamp + time.monotonic() - arrived) * 1e9)

    @property
    def has_ended(self) -> bool:
        """Whether it ended by itself; ``fault`` says why."""
        return self.fault is not None or self._crash is not None

    def stop(self) -> None:
        """Write what has come, sync, close bus and log."""
        self._stopping.set()
        for thread in self._threads:
            thread.join(2 * _PATIENCE)
        self._opened.close()
        self._counter.close()
        if self._log is not None:
            self._log.close()
        if self._crash is not None:
            raise self._crash

    def __enter__(self) -> LiveCapture:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    # the receiving thread

    def _receive(self) -> None:
        receive, waiting, stopping = self._opened.bus.recv, self._waiting, self._stopping
        failures = 0
        while not stopping.is_set():
            try:
                message = receive(0.2)
            except Exception as error:  # drivers raise what they like
                failures += 1
                self.failures += 1
                if failures >= _FAILURES:
                    self._end(Ending.INTERFACE_LOST, self._lost(error))
                    return
                continue
            if message is None:
                continue
            failures = 0
            self._clock = (message.timestamp, time.monotonic())
            if len(waiting) < _MOST_WAITING:
                waiting.append(message)
            else:
                self._unkept += 1

    def _lost(self, error: Exception) -> InputError:
        text = " ".join(str(error).split()).rstrip(".") or type(error).__name__
        return InputError(
            self._opened.tapping.name,
            f"the interface disappeared: {text}",
            remedy="check its plug and its supply, then record again",
        )

    def _end(self, ending: Ending, error: InputError) -> None:
        if self.fault is None:
            self.fault = BusFault(ending, error)
        self._stopping.set()

    # the writing thread

    def _write(self) -> None:
        due = time.monotonic()
        try:
            while not self._stopping.wait(_TURN):
                self._drain()
                if time.monotonic() >= due:
                    due = time.monotonic() + _SYNC
                    self._look_after()
            self._threads[0].join(_PATIENCE)
            self._drain()
            self._look_after()
        except InputError as error:
            self._end(Ending.DISK, error)
            self._unkept += len(self._waiting)
            self._count_losses()
        except Exception as error:  # a fault of our own must not end in a thread nobody sees
            self._crash = error
            self._stopping.set()

    def _drain(self) -> None:
        while self._waiting:
            count = min(len(self._waiting), _BATCH)
            self._put([self._waiting.popleft() for _ in range(count)])

    def _put(self, messages: list[can.Message]) -> None:
        errors = [message for message in messages if message.is_error_frame]
        self.heard += len(messages) - len(errors)
        self._stamp(messages)
        with self._lock:
            log = self._log
        if log is not None:
            self._keep(log, messages)
        if errors and self._has_linux_errors:
            self._read_errors(errors)

    def _stamp(self, messages: Sequence[can.Message]) -> None:
        """An interface without a clock gets the time of day, once a batch."""
        for message in messages:
            if message.timestamp <= 0:
                message.timestamp = time.time()

    def _keep(self, log: LogFile, messages: list[can.Message]) -> None:
        before = log.size
        try:
            log.write(log_lines(messages, self.channel))
        except InputError:
            kept = _lines_in(messages, self.channel, log.size - before)
            self._unkept += len(messages) - kept
            self._hand_on(log, messages[:kept])
            raise
        self._hand_on(log, messages)

    def _hand_on(self, log: LogFile, messages: Sequence[can.Message]) -> None:
        if not messages:
            return
        chunk = columns(messages, self.channel, str(log.path))
        if self.first_ns is None:
            self.first_ns = int(chunk.time_ns[0])
        errors = int(chunk.is_error.sum())
        self.frames += len(chunk)
        self.error_frames += errors
        with self._lock:
            self._chunks.append(chunk)
            self._untaken += len(chunk)
            while self._untaken > _MOST_UNTAKEN:
                gone = len(self._chunks.popleft())
                self._untaken -= gone
                self.unseen += gone

    def _read_errors(self, errors: Sequence[can.Message]) -> None:
        for message in errors:
            kind = message.arbitration_id
            if kind & _CONTROLLER and len(message.data) > 1 and message.data[1] & _OVERFLOW:
                self._overruns += self._log is not None
            if kind & _BUS_OFF:
                self._end(Ending.BUS_OFF, self._bus_off())

    def _bus_off(self) -> InputError:
        return InputError(
            self._opened.tapping.name,
            "the controller is bus-off: it counted too many errors and left the network",
            remedy="check the bit rate, the plug, and that high and low are not swapped or shorted; use a "
            "listen-only interface; then open it again",
        )

    def _look_after(self) -> None:
        self._count_losses()
        with suppress(Exception):  # not every driver can tell
            if self._opened.bus.state is can.BusState.ERROR:
                self._end(Ending.BUS_OFF, self._bus_off())
        if self._log is not None and self.frames:
            self._say_losses(self._log)
            self._log.sync()

    def _count_losses(self) -> None:
        if self._log is None:
            return
        system, device = self._counter.read()
        self.losses = Losses(self._overruns, device, system, self._unkept)

    def _say_losses(self, log: LogFile) -> None:
        """A line in the log, as candump writes it, so that whoever reads the log later knows it too."""
        lost = self.losses.frames
        if lost > self._said:
            more, self._said = lost - self._said, lost
            plural = "" if more == 1 else "s"
            text = f"DROPCOUNT: dropped {more} CAN frame{plural} on '{self.channel}' (total drops {lost})\n"
            log.write(text.encode())


def _lines_in(messages: Sequence[can.Message], channel: str, size: int) -> int:
    """How many of the messages' lines are in ``size`` bytes."""
    count = used = 0
    for message in messages:
        used += len(log_lines([message], channel))
        if used > size:
            break
        count += 1
    return count
