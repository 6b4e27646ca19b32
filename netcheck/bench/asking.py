"""A bus to ask modules on: frames in and out, and nothing else. A door of its own: it opens an interface."""

from __future__ import annotations

import time
from collections import deque
from typing import Final

import can

from netcheck.bench._bus import SendingBus, open_target
from netcheck.bench._target import Target
from netcheck.diagnostics import Address
from netcheck.diagnostics.live import WireFrame

_REMEMBERED: Final = 16  # frames that were sent and may come back


class AskingBus:
    """An open bus as ``diagnostics.live`` takes it. Use it as a context manager."""

    def __init__(self, target: Target) -> None:
        self._bus: SendingBus = open_target(target)
        self._sent: deque[tuple[Address, bytes]] = deque(maxlen=_REMEMBERED)

    def send(self, address: Address, data: bytes) -> None:
        """Hand a frame over. Raises BusStopped when the bus takes no more."""
        self._sent.append((address, data))
        can_id, is_extended = address
        self._bus.send(can.Message(arbitration_id=can_id, is_extended_id=is_extended, data=data))

    def receive(self, seconds: float) -> WireFrame | None:
        """The next data frame; None where none comes in time."""
        message = self._bus.receive(max(seconds, 0.0))
        if message is None or message.is_remote_frame:
            return None
        address, data = (message.arbitration_id, message.is_extended_id), bytes(message.data)
        if self._bus.gives_back and (address, data) in self._sent:
            self._sent.remove((address, data))
            return None
        return WireFrame(self.now_ns(), address, data)

    def now_ns(self) -> int:
        """The machine's monotonic clock."""
        return time.monotonic_ns()

    def __enter__(self) -> AskingBus:
        return self

    def __exit__(self, *_: object) -> None:
        self._bus.close()


__all__ = ["AskingBus"]
