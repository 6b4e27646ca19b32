"""Opening an interface of python-can so that it only listens. Its errors end here."""

from __future__ import annotations

import inspect
from collections.abc import Mapping
from contextlib import suppress
from typing import Any, Final, NoReturn

import can

from netcheck.capture._interfaces import check_interface, missing_library, option_value
from netcheck.capture._listen import (
    SET_OUTSIDE,
    SOFTWARE,
    SWITCHES,
    Device,
    Listening,
    ask_device,
    listening,
)
from netcheck.errors import InputError, UsageError
from netcheck.records import dataclass

_SENDING: Final = ("send", "send_periodic", "flush_tx_buffer", "_send_periodic_internal")
_REFUSED: Final = frozenset({"receive_own_messages", "local_loopback"})


@dataclass(frozen=True)
class Tapping:
    """What to open.

    interface: name of a python-can interface
    bitrate, fd_bitrate: bit/s; None leaves it to the interface
    options: further arguments of the interface, as words
    """

    interface: str
    channel: str
    bitrate: int | None = None
    fd_bitrate: int | None = None
    options: Mapping[str, str] | None = None

    @property
    def name(self) -> str:
        """For messages."""
        return f"{self.interface} {self.channel}"


@dataclass(frozen=True)
class OpenBus:
    """An open bus that cannot send, and what its controller does to the network.

    bitrate: bit/s that the controller was set to; None where that is not known, or there is no controller
    """

    bus: can.BusABC
    tapping: Tapping
    listening: Listening
    bitrate: int | None = None

    @property
    def has_wire(self) -> bool:
        """Whether a controller read the frames from a wire, so that they were at its bit rate."""
        return self.listening is not Listening.NO_WIRE

    def close(self) -> None:
        """Close it, whatever the driver says."""
        with suppress(Exception):
            self.bus.shutdown()


def open_bus(tapping: Tapping) -> OpenBus:
    """Open an interface to listen.

    Raises InputError when the interface cannot be opened, UsageError for an interface that python-can does
    not have or an option that would send.
    """
    interface = tapping.interface
    check_interface(interface)
    options = {name: option_value(word) for name, word in (tapping.options or {}).items()}
    switch = SWITCHES.get(interface, {})
    for name in options:
        if name in _REFUSED or name in switch:
            raise UsageError(f"--option {name} is not allowed", remedy="netcheck only listens")
    device = ask_device(tapping.channel) if interface == "socketcan" else None
    if device is not None:
        _check_device(tapping, device)
    try:
        bus = can.Bus(
            channel=tapping.channel,
            interface=interface,
            ignore_config=True,
            **{**_rates(tapping), **options, **switch},
        )
    except Exception as error:  # drivers raise what they like
        raise _cannot_open(tapping, error) from error
    for name in _SENDING:
        setattr(bus, name, _refuse)
    arguments = inspect.signature(type(bus).__init__).parameters
    return OpenBus(bus, tapping, listening(interface, device, arguments), rate_set(tapping, device))


def rate_set(tapping: Tapping, device: Device | None) -> int | None:
    """The bit rate that the controller has for certain."""
    if tapping.interface in SET_OUTSIDE:
        return device.bitrate if device is not None else None
    return tapping.bitrate


def _refuse(*_: Any, **__: Any) -> NoReturn:
    raise can.CanOperationError("netcheck only listens")


def _rates(tapping: Tapping) -> dict[str, Any]:
    """Bit rates as python-can takes them; where they are set outside, only whether FD frames may come."""
    if tapping.interface == "socketcan":
        return {"fd": tapping.fd_bitrate is not None}
    if tapping.interface in SET_OUTSIDE or tapping.bitrate is None:
        return {}
    if tapping.fd_bitrate is None:
        return {"bitrate": tapping.bitrate}
    return {"bitrate": tapping.bitrate, "fd": True, "data_bitrate": tapping.fd_bitrate}


def set_up_hint(tapping: Tapping) -> str:
    """How a network device of the system is made to listen at the network's bit rate."""
    name, rate = tapping.channel, tapping.bitrate or 500_000
    data = f" dbitrate {tapping.fd_bitrate} fd on" if tapping.fd_bitrate else ""
    return (
        f"as root: ip link set {name} down; ip link set {name} type can bitrate {rate}{data} listen-only on; "
        f"ip link set {name} up"
    )


def _check_device(tapping: Tapping, device: Device) -> None:
    if not device.is_up:
        raise InputError(tapping.name, "the network device is down", remedy=set_up_hint(tapping))
    if device.bitrate and tapping.bitrate and device.bitrate != tapping.bitrate:
        raise InputError(
            tapping.name,
            f"is set to {device.bitrate} bit/s, but the network runs at {tapping.bitrate}",
            remedy=set_up_hint(tapping),
        )


def _cannot_open(tapping: Tapping, error: Exception) -> InputError:
    text = " ".join(str(error).split()).rstrip(".") or type(error).__name__
    cause: BaseException | None = error.__cause__
    while cause is not None:
        text += f" ({' '.join(str(cause).split()).rstrip('.')})"
        cause = cause.__cause__
    interface = tapping.interface
    if missing := missing_library(interface, error):
        remedy = missing
    elif isinstance(error, TypeError | ValueError):
        remedy = "check --channel, --bitrate and --option against python-can's page on this interface"
    elif interface == "socketcan":
        remedy = f"'ip link' lists the devices; {set_up_hint(tapping)}"
    elif interface in SOFTWARE:
        remedy = "check --channel"
    else:
        remedy = "check that it is plugged in, that no other program uses it, and that the channel is right"
    return InputError(tapping.name, f"cannot be opened: {text}", remedy=remedy)
