"""What every opening of a python-can interface begins with, to listen or to send."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from typing import Final

import can

from netcheck.errors import UsageError
from netcheck.words import meant

# What python-can calls the extra that brings an interface's library (python-can 4.6).
_EXTRAS: Final[Mapping[str, str]] = {
    "gs_usb": "gs-usb",
    "serial": "serial",
    "slcan": "serial",
    "udp_multicast": "multicast",
}


def check_interface(interface: str) -> None:
    """Refuse an interface that python-can does not have. Its log is silenced: exceptions say what matters."""
    if interface not in can.VALID_INTERFACES:
        hint = meant(interface, sorted(can.VALID_INTERFACES))
        raise UsageError(f"--interface: python-can has no interface '{interface}'", remedy=hint)
    logging.getLogger("can").setLevel(logging.CRITICAL + 1)


def option_value(word: str) -> str | int | bool:
    """An option of an interface as typed: true, false, a number or a text."""
    if word.lower() in {"true", "false"}:
        return word.lower() == "true"
    try:
        return int(word, 0)
    except ValueError:
        return word


def missing_library(interface: str, error: Exception) -> str:
    """What to install where an interface cannot be opened without it; "" where that is not the cause.

    python-can tells it by errors of several kinds, ImportError among them.
    """
    said = f"{error} {error.__cause__ or ''}"
    is_missing = "msgpack" in said or "not installed" in said
    if not (is_missing or isinstance(error, ImportError | NotImplementedError)):
        return ""
    if interface in _EXTRAS:
        return f"pip install 'python-can[{_EXTRAS[interface]}]'"
    return "its driver or library is not installed; see python-can's page on this interface"
