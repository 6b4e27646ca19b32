"""A bus of python-can to send on. Its errors end here."""

from __future__ import annotations

import queue
import time
from collections import Counter
from collections.abc import Collection, Iterable
from contextlib import suppress
from typing import Any, Final

import can

from netcheck.bench._module import ModuleStation
from netcheck.bench._play import BusStopped, SendStop, StopReason
from netcheck.bench._target import Target, WireId, id_list
from netcheck.capture.live import SET_OUTSIDE, check_interface, missing_library, option_value
from netcheck.diagnostics.live import WireFrame
from netcheck.errors import InputError, UsageError

_BUS_OFF: Final = 0x40  # linux/can/error.h: the class bit CAN_ERR_BUSOFF in the id of an error frame
# Seconds to wait for room, where python-can would else not wait at all, or for ever.
_PATIENCE: Final = {"socketcan": 0.1, "virtual": 0.1}
# Where python-can gives what we sent back only when asked to, by receive_own_messages. Others do it unasked
# (udp_multicast), or their pages do not say.
_GIVES_NONE_BACK: Final = frozenset({"ixxat", "kvaser", "nixnet", "socketcan", "vector", "virtual"})
_MOST_DRAINED: Final = 1000  # frames taken from a bus at one look


class SendingBus:
    """An open bus. ``send`` and ``look`` raise BusStopped when it takes no more."""

    def __init__(self, target: Target, bus: can.BusABC) -> None:
        self.target = target
        self._bus = bus
        self._own: frozenset[WireId] = frozenset()
        self._stations: tuple[ModuleStation, ...] = ()

    def serve(self, stations: Iterable[ModuleStation]) -> None:
        """Have these modules answer what ``look`` takes from the bus."""
        self._stations = tuple(stations)

    def send(self, message: can.Message) -> None:
        """Hand a frame over; waits for room a moment at most."""
        try:
            self._bus.send(message, timeout=_PATIENCE.get(self.target.interface))
        except (can.CanError, queue.Full, OSError, ValueError) as error:
            raise self._stopped(StopReason.REFUSED, said=_said(error)) from error

    def look(self) -> None:
        """Take what came, and see whether the controller is off the bus, or no longer the only sender."""
        try:
            for _ in range(_MOST_DRAINED):
                message = self._bus.recv(0)
                if message is None:
                    break
                if message.is_error_frame and message.arbitration_id & _BUS_OFF:
                    raise self._stopped(StopReason.BUS_OFF)
                self._tell(message)
                if self._is_foreign(message):
                    taken = (message.arbitration_id, message.is_extended_id)
                    raise self._stopped(StopReason.FOREIGN_SENDER, (taken,))
            if self._bus.state is can.BusState.ERROR:
                raise self._stopped(StopReason.BUS_OFF)
        except (can.CanError, OSError) as error:
            raise self._stopped(StopReason.INTERFACE_LOST, said=_said(error)) from error
        self._answer()

    def _tell(self, message: can.Message) -> None:
        if self._stations and not message.is_error_frame and not message.is_remote_frame:
            address = message.arbitration_id, message.is_extended_id
            frame = WireFrame(time.monotonic_ns(), address, bytes(message.data))
            for station in self._stations:
                station.take(frame)

    def _answer(self) -> None:
        for station in self._stations:
            _, (can_id, is_extended) = station.ids
            for data in station.due(time.monotonic_ns()):
                self.send(can.Message(arbitration_id=can_id, is_extended_id=is_extended, data=data))

    def _stopped(self, reason: StopReason, ids: tuple[WireId, ...] = (), said: str = "") -> BusStopped:
        return BusStopped(SendStop(reason, self.target.name, ids, said))

    def receive(self, seconds: float) -> can.Message | None:
        """The next frame, error frames left out; None where none comes in time. Raises BusStopped."""
        try:
            message = self._bus.recv(seconds)
        except (can.CanError, OSError) as error:
            raise self._stopped(StopReason.INTERFACE_LOST, said=_said(error)) from error
        if message is not None and message.is_error_frame:
            if message.arbitration_id & _BUS_OFF:
                raise self._stopped(StopReason.BUS_OFF)
            return None
        return message

    @property
    def gives_back(self) -> bool:
        """Whether frames that were sent come back, as far as is known."""
        return self.target.interface not in _GIVES_NONE_BACK

    def check_free(self, ids: Collection[WireId], seconds: float) -> None:
        """Listen, and refuse a bus on which another node sends any of these ids.

        From then on ``look`` stops where one of them is heard. Raises UsageError that names them, InputError
        when the bus cannot be read.
        """
        self._own = frozenset(ids)
        seen: Counter[WireId] = Counter()
        end = time.monotonic() + seconds
        try:
            while (left := end - time.monotonic()) > 0:
                message = self._bus.recv(left)
                if message is not None and not message.is_error_frame:
                    seen[message.arbitration_id, message.is_extended_id] += 1
        except (can.CanError, OSError) as error:
            raise InputError(self.target.name, f"cannot be read: {_said(error)}") from error
        taken = sorted(seen.keys() & self._own, key=lambda wire_id: (wire_id[1], wire_id[0]))
        if taken:
            raise UsageError(
                f"{self.target.name}: another node sends {id_list(taken)} on this bus",
                remedy="disconnect that node, or leave these ids out: two senders of one id collide",
            )

    def _is_foreign(self, message: can.Message) -> bool:
        """Whether it has an id that only we send, on an interface that does not give back what we sent."""
        if self.target.interface not in _GIVES_NONE_BACK or message.is_error_frame:
            return False
        if any(name == "receive_own_messages" for name, _ in self.target.options):
            return False
        return (message.arbitration_id, message.is_extended_id) in self._own

    def close(self) -> None:
        """Drop what still waits to be sent, and close, whatever the driver says."""
        with suppress(Exception):
            self._bus.flush_tx_buffer()
        with suppress(Exception):
            self._bus.shutdown()


def open_target(target: Target) -> SendingBus:
    """Open a bus.

    Raises InputError when it cannot be opened, UsageError for an interface that python-can does not have.
    """
    check_interface(target.interface)
    if target.sends_fd and target.fd_bitrate is None and target.interface not in SET_OUTSIDE:
        raise UsageError(
            f"{target.name}: CAN FD frames are to be sent, but their bit rate is not known",
            remedy="give --fd-bitrate too",
        )
    options = {name: option_value(word) for name, word in target.options}
    try:
        bus = can.Bus(
            channel=target.channel,
            interface=target.interface,
            ignore_config=True,
            **{**_rates(target), **options},
        )
    except Exception as error:  # drivers raise what they like
        remedy = "is it plugged in, not used by another program, and the channel right?"
        if missing := missing_library(target.interface, error):
            remedy = missing
        elif isinstance(error, TypeError | ValueError):
            remedy = "check --channel, --bitrate and --option against python-can's page on this interface"
        raise InputError(target.name, f"cannot be opened: {_said(error)}", remedy=remedy) from error
    return SendingBus(target, bus)


def _rates(target: Target) -> dict[str, Any]:
    if target.interface == "socketcan":
        return {"fd": target.sends_fd}
    if target.interface in SET_OUTSIDE or target.bitrate is None:
        return {}
    if target.fd_bitrate is None:
        return {"bitrate": target.bitrate}
    return {"bitrate": target.bitrate, "fd": True, "data_bitrate": target.fd_bitrate}


def _said(error: BaseException) -> str:
    return " ".join(str(error).split()).rstrip(".") or type(error).__name__
