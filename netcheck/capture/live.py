"""Recording from a live bus. A door of its own: reading files does not need python-can's interfaces."""

from netcheck.capture._bus import OpenBus, Tapping, open_bus
from netcheck.capture._interfaces import check_interface, missing_library, option_value
from netcheck.capture._listen import SET_OUTSIDE, SOFTWARE, Listening
from netcheck.capture._live import BusFault, Ending, LiveCapture
from netcheck.capture._logfile import LogFile
from netcheck.capture._losses import Losses

__all__ = [
    "SET_OUTSIDE",
    "SOFTWARE",
    "BusFault",
    "Ending",
    "Listening",
    "LiveCapture",
    "LogFile",
    "Losses",
    "OpenBus",
    "Tapping",
    "check_interface",
    "missing_library",
    "open_bus",
    "option_value",
]
