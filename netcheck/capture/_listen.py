"""Which interfaces of python-can can be told to listen only, and how."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Collection, Mapping
from enum import StrEnum
from typing import Any, Final

import can

from netcheck.records import dataclass


class Listening(StrEnum):
    """What the controller does to the network while netcheck records. netcheck itself never sends a frame."""

    ONLY = "only"  # listen-only, as the system tells: not even an acknowledgement
    ASKED = "asked"  # listen-only asked for; python-can does not tell whether the adapter obeys
    ACKNOWLEDGES = "acknowledges"  # every frame, and sends error flags at a wrong bit rate
    UNTOLD = "untold"  # it may acknowledge
    NO_WIRE = "no-wire"  # the interface is software


# The argument of python-can's interface that switches its controller to listening only (python-can 4.6).
SWITCHES: Final[Mapping[str, Mapping[str, Any]]] = {
    "cantact": {"monitor": True},
    "kvaser": {"driver_mode": False, "single_handle": True},
    "nixnet": {"listen_only": True},
    "pcan": {"state": can.BusState.PASSIVE},
    "seeedstudio": {"operation_mode": "silent"},
    "slcan": {"listen_only": True},
    "systec": {"state": can.BusState.PASSIVE},
    "vector": {"listen_only": True},
}
# Where the switch must be a named argument; an older python-can swallows it and stays as it is.
NAMED: Final = frozenset({"cantact", "pcan", "seeedstudio", "slcan", "vector"})
SOFTWARE: Final = frozenset({"udp_multicast", "virtual"})
# Interfaces whose bit rate is set outside; the rest takes it as an argument.
SET_OUTSIDE: Final = frozenset({"socketcan", "socketcand", *SOFTWARE})
# Interfaces whose error frames are those of linux/can/error.h.
LINUX_ERRORS: Final = frozenset({"gs_usb", "socketcan", "socketcand", *SOFTWARE})


@dataclass(frozen=True)
class Device:
    """A CAN network device of the system, as ``ip`` tells it; None: not told.

    can_acknowledge: it has a controller on a wire; a virtual one has not
    """

    is_up: bool
    bitrate: int | None
    is_listen_only: bool | None
    can_acknowledge: bool = True


def listening(interface: str, device: Device | None, arguments: Collection[str] = ()) -> Listening:
    """What the interface's controller will do. arguments: those that the interface's class names."""
    if interface in SOFTWARE:
        return Listening.NO_WIRE
    switch = SWITCHES.get(interface)
    if switch is not None:
        is_taken = interface not in NAMED or all(name in arguments for name in switch)
        return Listening.ASKED if is_taken else Listening.UNTOLD
    if interface != "socketcan" or device is None or device.is_listen_only is None:
        return Listening.UNTOLD
    if not device.can_acknowledge:
        return Listening.NO_WIRE
    return Listening.ONLY if device.is_listen_only else Listening.ACKNOWLEDGES


def ask_device(name: str) -> Device | None:
    """What the system knows of a network device; None if it does not tell."""
    program = shutil.which("ip")
    if program is None:
        return None
    try:
        told = subprocess.run(
            [program, "-json", "-details", "link", "show", "dev", name],
            capture_output=True,
            text=True,
            check=True,
            timeout=5,
        ).stdout
    except (OSError, subprocess.SubprocessError):
        return None
    return read_device(told)


def read_device(told: str) -> Device | None:
    """The first device of ``ip -json -details link show``; None for anything else."""
    try:
        entry = json.loads(told)[0]
        info = entry.get("linkinfo", {})
        data = info.get("info_data") or {}
        is_wire = info.get("info_kind") == "can"
        modes = [str(mode).upper() for mode in data.get("ctrlmode", [])]
        bitrate = data.get("bittiming", {}).get("bitrate")
        return Device(
            is_up="UP" in entry.get("flags", []),
            bitrate=int(bitrate) if bitrate is not None else None,
            is_listen_only="LISTEN-ONLY" in modes if is_wire or info else None,
            can_acknowledge=is_wire,
        )
    except (ValueError, LookupError, AttributeError, TypeError):
        return None
