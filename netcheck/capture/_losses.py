"""Frames that came over the wire and are not in the log, as far as somebody tells.

Three may tell: the controller, by error frames (linux/can/error.h: CAN_ERR_CRTL, CAN_ERR_CRTL_RX_OVERFLOW);
the device driver, by the counters of its network interface; the operating system, by the drops of the socket
(SO_MEMINFO, linux/sock_diag.h). A gap in the time stamps tells nothing: a quiet bus makes gaps as well.
"""

from __future__ import annotations

import os
import socket
import struct
from contextlib import suppress
from pathlib import Path
from typing import Final

import can

from netcheck.records import dataclass

_SO_MEMINFO: Final = 55  # asm-generic/socket.h
_DROPS: Final = 8  # place of SK_MEMINFO_DROPS
_WANTED_BUFFER: Final = 1 << 22  # bytes of receive buffer asked for; the system gives what it allows
_DEVICE_COUNTERS: Final = ("rx_over_errors", "rx_fifo_errors", "rx_missed_errors", "rx_dropped")
_NETWORK_DEVICES: Final = Path("/sys/class/net")


@dataclass(frozen=True)
class Losses:
    """What is known to be lost.

    overruns: reports of the controller that its receive buffer ran over; each is one frame or more
    device:   frames the driver counted as lost; None: it does not tell
    system:   frames the operating system dropped before netcheck took them; None: it does not tell
    own:      frames that netcheck took and could not keep
    """

    overruns: int = 0
    device: int | None = None
    system: int | None = None
    own: int = 0

    @property
    def frames(self) -> int:
        """Frames lost at least. The driver counts the controller's reports too."""
        return max(self.overruns, self.device or 0) + (self.system or 0) + self.own

    @property
    def is_told(self) -> bool:
        """Whether anything below netcheck counts its losses. Error frames tell only when they come."""
        return self.device is not None or self.system is not None


class LossCounter:
    """Asks the driver and the operating system, from ``start`` on."""

    def __init__(self, bus: can.BusABC, device: str | None) -> None:
        """device: the network interface to ask, None where the bus is none."""
        self._socket = _socket_of(bus)
        self._device = device
        self._base = (0, 0)

    def widen(self) -> None:
        """Ask for a larger receive buffer, so that a busy machine loses no frame."""
        if self._socket is not None:
            with suppress(OSError):
                self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, _WANTED_BUFFER)

    def start(self) -> None:
        """What was lost before does not count."""
        self._base = (self._system() or 0, self._driver() or 0)

    def read(self) -> tuple[int | None, int | None]:
        """(dropped by the operating system, lost by the device) since the start; None: not told."""
        system, device = self._system(), self._driver()
        return (
            None if system is None else system - self._base[0],
            None if device is None else device - self._base[1],
        )

    def close(self) -> None:
        """Let go of the socket."""
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _system(self) -> int | None:
        if self._socket is None:
            return None
        try:
            raw = self._socket.getsockopt(socket.SOL_SOCKET, _SO_MEMINFO, 64)
        except OSError:
            return None
        numbers = struct.unpack(f"={len(raw) // 4}I", raw)
        return numbers[_DROPS] if len(numbers) > _DROPS else None

    def _driver(self) -> int | None:
        if self._device is None:
            return None
        folder = _NETWORK_DEVICES / self._device / "statistics"
        try:
            return sum(int((folder / name).read_text("ascii")) for name in _DEVICE_COUNTERS)
        except (OSError, ValueError):
            return None


def _socket_of(bus: can.BusABC) -> socket.socket | None:
    """The bus's own socket under a second number; None where it has none, or the system is not Linux."""
    if not os.path.exists("/proc/self"):  # noqa: PTH110 – asks for the system, not for a file
        return None
    try:
        number = bus.fileno()
        return socket.socket(fileno=os.dup(number)) if number >= 0 else None
    except (NotImplementedError, OSError):
        return None
