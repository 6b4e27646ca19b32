"""How long a stub to a new part may be: one number for plan and tap.

Published: ISO 11898-2 allows 0.3 m at 1 Mbit/s (restated in transceiver data sheets). For lower rates this
scales that length with the time of a bit: guidance of our own, not the standard's.
"""

from __future__ import annotations

from typing import Final

PUBLISHED: Final = 0.3  # m at 1 Mbit/s


def safe_stub(bitrate: int) -> float:
    """Metres that are safe by guidance, at the network's highest bit rate in bit/s."""
    return PUBLISHED * 1_000_000 / bitrate
