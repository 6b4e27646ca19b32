"""How long the wire to a new part may be.

The safe length is ``network.safe_stub``. The second column is of a wiring manual in CANopen style, far laxer:
a longer stub than that is too long by any rule we know.
"""

from __future__ import annotations

from typing import Final

from netcheck.network import safe_stub
from netcheck.tap._reading_model import ReadingReason, State, StubLength

LAX: Final = (
    (1_000_000, 1.5),
    (800_000, 2.5),
    (500_000, 5.5),
    (250_000, 11.0),
    (125_000, 22.0),
    (50_000, 55.0),
)


def lax_length(bitrate: int) -> float | None:
    """Metres of the laxer table at the next higher bit rate in it; None above 1 Mbit/s."""
    return next((metres for rate, metres in reversed(LAX) if bitrate <= rate), None)


def stub(metres: float, bitrate: int) -> StubLength:
    """A stub against the network's highest bit rate."""
    safe, lax = safe_stub(bitrate), lax_length(bitrate)
    if metres <= safe:
        return StubLength(State.RIGHT, ReadingReason.STUB_SAFE, safe, lax)
    if lax is None or metres <= lax:
        return StubLength(State.UNKNOWN, ReadingReason.STUB_LONG, safe, lax)
    return StubLength(State.WRONG, ReadingReason.STUB_TOO_LONG, safe, lax)
