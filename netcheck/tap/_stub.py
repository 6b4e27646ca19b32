"""How long the wire to a new part may be.

Published: ISO 11898-2 allows 0.3 m at 1 Mbit/s (restated in transceiver data sheets). For lower rates this
scales that length with the time of a bit: guidance of our own, not the standard's. The second column is of
a wiring manual in CANopen style, far laxer: a longer stub than that is too long by any rule we know.
"""

from __future__ import annotations

from typing import Final

from netcheck.tap._model import ReadingReason, State, StubLength

PUBLISHED: Final = 0.3  # m at 1 Mbit/s
LAX: Final = (
    (1_000_000, 1.5),
    (800_000, 2.5),
    (500_000, 5.5),
    (250_000, 11.0),
    (125_000, 22.0),
    (50_000, 55.0),
)


def safe_length(bitrate: int) -> float:
    """Metres that are safe by guidance: 0.3 m at 1 Mbit/s, longer as bits are longer."""
    return PUBLISHED * 1_000_000 / bitrate


def lax_length(bitrate: int) -> float | None:
    """Metres of the laxer table at the next higher bit rate in it; None above 1 Mbit/s."""
    return next((metres for rate, metres in reversed(LAX) if bitrate <= rate), None)


def stub(metres: float, bitrate: int) -> StubLength:
    """A stub against the network's highest bit rate."""
    safe, lax = safe_length(bitrate), lax_length(bitrate)
    if metres <= safe:
        return StubLength(State.RIGHT, ReadingReason.STUB_SAFE, safe, lax)
    if lax is None or metres <= lax:
        return StubLength(State.UNKNOWN, ReadingReason.STUB_LONG, safe, lax)
    return StubLength(State.WRONG, ReadingReason.STUB_TOO_LONG, safe, lax)
