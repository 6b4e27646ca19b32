"""A virtual bus on which a capture plays, for tests of whatever listens on a bus."""

from __future__ import annotations

import itertools
import os
import threading
import time
from collections.abc import Iterator
from typing import Final

import can
from can.interfaces.virtual import VirtualBus

from netcheck.bench._due import Deadlines
from netcheck.capture import CaptureStream, open_capture
from netcheck.edit import messages, of_channels, only
from netcheck.errors import NetcheckError, UsageError

_AHEAD: Final = 1000  # frames that may wait for the fastest reader, when played as fast as read
_LOOK_S: Final = 0.05  # how often a reader without a timeout asks whether the capture is over
_FULL_S: Final = 0.001  # how often the sender asks whether there is room
_numbers = itertools.count(1)


class ReplayedBus(VirtualBus):
    """A bus of python-can that receives a capture's frames; more may be sent on it, and others may join.

    Whatever joins opens ``can.Bus(bus.channel_id, interface="virtual")``. The capture starts with the first
    ``recv``, ``wait`` or ``start``, so that all may join before. Its frames keep their times. Iterating ends
    with the capture, and ``recv`` then gives None.

    file:    the capture
    speed:   1 is the capture's own time, 2 twice as fast, 0 as fast as the frames are read
    channel: which channel of the capture; needed where it has several

    Raises InputError for a file that is no capture, UsageError for a channel it does not have.
    """

    def __init__(
        self, file: str | os.PathLike[str], *, speed: float = 1.0, channel: str | None = None
    ) -> None:
        if not 0 <= speed < float("inf"):
            fault = "is below 0" if speed < 0 else "is none"
            raise UsageError(f"speed {speed:g} {fault}", remedy="1 for real time, 0 for as fast as read")
        self._played = _channel_of(file, channel)
        self._speed = speed
        self._stop = threading.Event()
        self._over = threading.Event()
        self._error: NetcheckError | None = None
        self._stream = open_capture(file)
        name = f"netcheck-{os.getpid()}-{next(_numbers)}"
        super().__init__(name)
        self._sender = VirtualBus(name, preserve_timestamps=True)
        self._thread = threading.Thread(target=self._play, name=name, daemon=True)

    @property
    def is_over(self) -> bool:
        """All frames of the capture were handed over, though some may still wait to be read."""
        return self._over.is_set()

    def start(self) -> None:
        """Begin to play, if it has not begun."""
        if self._thread.ident is None:
            self._thread.start()

    def wait(self, timeout: float | None = None) -> bool:
        """Wait until the capture is over; whether it is. With speed 0, somebody must read meanwhile.

        Raises InputError when the capture cannot be read to its end.
        """
        self.start()
        over = self._over.wait(timeout)
        if over and self._error is not None:
            raise self._error
        return over

    def recv(self, timeout: float | None = None) -> can.Message | None:
        """The next frame; None after ``timeout`` seconds, or without one when the capture is over."""
        self.start()
        if timeout is not None:
            return super().recv(timeout)
        while True:
            is_last = self.is_over
            message = super().recv(0 if is_last else _LOOK_S)
            if message is not None or is_last:
                return message

    def __iter__(self) -> Iterator[can.Message]:
        while (message := self.recv()) is not None:
            yield message
        self.wait(0)

    def shutdown(self) -> None:
        """Stop playing and leave the bus; returns when the sender is gone."""
        self._stop.set()
        if self._thread.ident is not None:
            self._thread.join()
        self._stream.close()
        self._sender.shutdown()
        super().shutdown()

    def _play(self) -> None:
        """Runs in the thread."""
        try:
            for message in self._due(self._stream):
                self._sender.send(message)
        except NetcheckError as error:
            self._error = error
        finally:
            self._over.set()

    def _due(self, stream: CaptureStream) -> Iterator[can.Message]:
        """The frames of the channel, each when it is due by one common start, so that nothing drifts."""
        start, deadlines = None, Deadlines()
        for chunk in stream:
            played = only(chunk, of_channels(chunk, [self._played]))
            due = deadlines.of(played.time_ns)
            for message, due_ns in zip(messages(played), due.tolist(), strict=True):
                start = time.monotonic() if start is None else start
                if not self._has_time(start + due_ns / 1e9 / (self._speed or 1.0)):
                    return
                yield message

    def _has_time(self, due: float) -> bool:
        """Wait until a frame is due, or somebody has room for it; False when it is to stop."""
        if self._speed:
            left = due - time.monotonic()
            return not (self._stop.wait(left) if left > 0 else self._stop.is_set())
        while self._waiting() >= _AHEAD:
            if self._stop.wait(_FULL_S):
                return False
        return not self._stop.is_set()

    def _waiting(self) -> int:
        """Frames that the fastest reader has before it. One that never reads must not hold up the others."""
        others = [waiting.qsize() for waiting in tuple(self.channel) if waiting is not self._sender.queue]
        return min(others, default=0)


def _channel_of(file: str | os.PathLike[str], channel: str | None) -> str:
    """The channel to play. Looks through the whole capture, as a channel may come late."""
    with open_capture(file) as stream:
        for _ in stream:
            pass
        names = stream.channels
    if channel is None and len(names) > 1:
        remedy = "say which with channel="
        raise UsageError(f"{os.fspath(file)} has channels {', '.join(names)}", remedy=remedy)
    if channel is not None and channel not in names:
        remedy = f"it has {', '.join(names)}"
        raise UsageError(f"{os.fspath(file)} has no channel {channel}", remedy=remedy)
    return channel or names[0]
