"""Where a quantity ends at the top: bits that never moved do not help, so it is a guess by what is usual."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from netcheck.find._fit import MOST_WIDTH, Fit
from netcheck.find._model import FoundField
from netcheck.find._quantity_model import FittedScale

# Counted over 6,994 signals of six bits or more of open DBCs: share of each width, and of each bit of a byte
# as the highest one
_WIDTHS: Final = {
    6: 0.140, 7: 0.047, 8: 0.296, 9: 0.020, 10: 0.087, 11: 0.091, 12: 0.075, 13: 0.029, 14: 0.041, 15: 0.008,
    16: 0.069, 20: 0.002, 24: 0.005, 28: 0.002, 32: 0.006,
}  # fmt: skip
_HIGHEST_BIT: Final = (0.018, 0.077, 0.077, 0.060, 0.040, 0.099, 0.027, 0.602)
_RARE: Final = 0.0005
_UNUSED: Final = 0.7  # for each further bit that never moved
# By unit: how many unsigned signals of open DBCs, 124, 166 and 44 of them, can hold a largest value below the
# first one here, of up to twice it, of up to four times it, and so on. A speed does not end at 60 km/h.
_LARGEST: Final = {
    "km/h": (110.0, (4, 7, 46, 52, 1, 9, 5)),
    "%": (85.0, (3, 152, 9, 0, 0, 0, 2)),
    "rpm": (1500.0, (1, 2, 7, 3, 24, 2, 5)),
}
_LIKE: Final = {
    "kph": ("km/h", 1.0),
    "kmh": ("km/h", 1.0),
    "mph": ("km/h", 1.609344),
    "m/s": ("km/h", 3.6),
    "percent": ("%", 1.0),
    "1/min": ("rpm", 1.0),
}


def with_top(fit: Fit, scale: FittedScale, unit: str) -> tuple[FoundField, int, int]:
    """The field, how many bits at its top never moved, and the raw value that these add.

    scale: of the bits that moved; with the unit it tells what the field could hold
    """
    bits = list(fit.bits)
    best, likely = 0, _likelihood(len(bits), bits[-1], 0) * _holding(len(bits), fit, scale, unit)
    for more, bit in enumerate(_above(fit), 1):
        width = len(bits) + more
        found = _likelihood(width, bit, more) * _holding(width, fit, scale, unit)
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


def _holding(width: int, fit: Fit, scale: FittedScale, unit: str) -> float:
    """Share of signals that hold no larger value than so many bits; 1 where nothing is known of the unit."""
    kind, factor = _LIKE.get(unit.lower(), (unit.lower(), 1.0))
    if kind not in _LARGEST or fit.is_signed:
        return 1.0
    first, counts = _LARGEST[kind]
    ends = scale.offset, scale.offset + scale.scale * ((1 << width) - 1)
    octave = math.floor(math.log2(max(factor * max(ends), 1e-6) / first)) + 1
    return (sum(counts[: max(octave, 0) + 1]) + 1) / (sum(counts) + 1)
