"""What to do where an interface of python-can cannot be opened for want of a library."""

from __future__ import annotations

import can
import pytest

from netcheck.capture.live import missing_library


@pytest.mark.parametrize(
    ("interface", "error", "remedy"),
    [
        ("slcan", can.CanInterfaceNotImplementedError("The serial module is not installed"), "[serial]"),
        ("udp_multicast", can.CanInterfaceNotImplementedError("msgpack not installed"), "[multicast]"),
        ("gs_usb", ImportError("No module named 'usb'"), "[gs-usb]"),
        ("neovi", ImportError("ics not found"), "python-can's page on this interface"),
        ("slcan", OSError("could not open port /dev/none"), None),
        ("socketcan", ValueError("bad channel"), None),
    ],
)
def test_what_to_install(interface: str, error: Exception, remedy: str | None) -> None:
    found = missing_library(interface, error)
    assert (remedy in found) if remedy else not found
