"""All words of the coding report that stand for a kind or a state of coding."""

from __future__ import annotations

from typing import Final

from netcheck.coding import Held
from netcheck.report._page import Style

# Common practice in the trade, from memory; the maker's instructions and local rules come first.
BEFORE_WRITING: Final = (
    "netcheck writes nothing to a vehicle. Use your own authorised equipment, operated by someone licensed "
    "for it where that is required. The maker's instructions and local rules come first.",
    "Vehicle stationary and secured. Connect a battery support unit: a module that loses its supply during "
    "a write may not start again.",
    "Set the ignition as the maker says for that module. Switch off everything else that draws current.",
    "Read each block again and note its bytes. If they differ from the old bytes below, stop: put the new "
    "readout into the job file and run this again.",
    "Write one whole block at a time, and read it back before the next.",
)
AFTER_WRITING: Final = (
    "Check every module that was written for new stored faults. Read each fault before you clear it."
)
TO_REVERT: Final = "To revert, write the old bytes of each block, last block first."

HELD_WORDS: Final = {
    Held.HOLDS: ("holds", Style.GOOD),
    Held.DIFFERS: ("DIFFERS", Style.BAD),
    Held.UNREAD: ("NOT READ", Style.DOUBT),
    Held.UNDEFINED: ("UNDEFINED", Style.BAD),
}
