"""Where a quantity ends at the top: bits that never moved do not help, so it is a guess by what is usual."""

from __future__ import annotations

from typing import Final

import numpy as np

from netcheck.find._fit import MOST_WIDTH, Fit
from netcheck.find._model import FoundField

# Counted over 6,994 signals of six bits or more of open DBCs: share of each width, and of each bit of a byte
# as the highest one
_WIDTHS: Final = {
    6: 0.140, 7: 0.047, 8: 0.296, 9: 0.020, 10: 0.087, 11: 0.091, 12: 0.075, 13: 0.029, 14: 0.041, 15: 0.008,
    16: 0.069, 20: 0.002, 24: 0.005, 28: 0.002, 32: 0.006,
}  # fmt: skip
_HIGHEST_BIT: Final = (0.018, 0.077, 0.077, 0.060, 0.040, 0.099, 0.027, 0.602)
_RARE: Final = 0.0005
_UNUSED: Final = 0.7  # for each further bit that never moved


def with_top(fit: Fit) -> tuple[FoundField, int, int]:
    """The field, how many bits at its top never moved, and the raw value that these add."""
    bits = list(fit.bits)
    best, likely = 0, _likelihood(len(bits), bits[-1], 0)
    for more, bit in enumerate(_above(fit), 1):
        found = _likelihood(len(bits) + more, bit, more)
        if found > likely:
            best, likely = more, found
    order = fit.order
    message, low = fit.message, bits[0]
    field = FoundField(
        message.channel, message.frame_id, low // 8, low % 8, len(bits) + best, order, fit.is_signed
    )
    base = sum(
        1 << place
        for place, bit in enumerate(field.bits)
        if place >= len(bits) and message.lanes[bit // 64].first >> (bit % 64) & 1
    )
    return field, best, base


def _above(fit: Fit) -> list[int]:
    """Bits above it, up to its byte's end, that never moved; of a signed field there are none."""
    if fit.is_signed:
        return []
    message, top = fit.message, fit.bits[-1]
    flips = message.flips()
    found: list[int] = []
    for bit in range(top + 1, 8 * (top // 8) + 8):
        if flips[bit] or len(fit.bits) + len(found) >= MOST_WIDTH:
            break
        found.append(bit)
    return found


def _likelihood(width: int, highest: int, unmoved: int) -> float:
    return float(_WIDTHS.get(width, _RARE) * np.array(_HIGHEST_BIT)[highest % 8] * _UNUSED**unmoved)
