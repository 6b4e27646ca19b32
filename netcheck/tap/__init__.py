"""At the vehicle: is this the right pair of wires, and are they well?"""

from netcheck.tap._check import Recorded, check_tap, choose_item
from netcheck.tap._listen import listen
from netcheck.tap._model import Finding, Judged, Listened, MeterReading, RoleFound, State, TapCheck
from netcheck.tap._typed import parse_measured

__all__ = [
    "Finding",
    "Judged",
    "Listened",
    "MeterReading",
    "Recorded",
    "RoleFound",
    "State",
    "TapCheck",
    "check_tap",
    "choose_item",
    "listen",
    "parse_measured",
]
