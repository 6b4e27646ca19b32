"""Multiplexers: a field of a message that says what its other bits mean.

On each of its pages the other bits hold still, or move slowly; from page to page they change. So a bit that
changes often from sample to sample, but hardly between samples of one page, is paged.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.find._movements import MessageMovements
from netcheck.records import dataclass

_LEAST_SAMPLES: Final = 64
_LEAST_FLIPS: Final = 0.15  # share of samples in which a paged bit differs from the one before
_STILL: Final = 0.2  # of that share, which may be left between samples of one page
_LEAST_PAGED: Final = 4  # bits
_PAGES: Final = (2, 64)
_WIDTHS: Final = (8, 4, 5, 6, 3, 2, 1)
_EVENLY: Final = 4  # samples of a page at least, on average


@dataclass(frozen=True)
class Pages:
    """Bits of the field that selects, and of those whose meaning it selects."""

    selector: tuple[int, ...]
    paged: frozenset[int]


def pages_of(message: MessageMovements) -> Pages | None:
    """The multiplexer of a message of up to eight bytes, if it has one.

    A counter is none: from one of its values to the same value the other bits changed as they always do.
    """
    if message.length > 8 or len(message.sampled) < _LEAST_SAMPLES:
        return None
    words = message.lanes[0].samples
    rates = _rates(words, message.length)
    often = rates >= _LEAST_FLIPS
    if np.count_nonzero(often) < _LEAST_PAGED + 1:
        return None
    best: Pages | None = None
    for byte in range(message.length):
        for low, width in ((low, width) for width in _WIDTHS for low in (0, 4) if low + width <= 8):
            found = _with(words, rates, often, 8 * byte + low, width)
            if found is not None and (best is None or _gain(found) > _gain(best)):
                best = found
    return best


def _gain(pages: Pages) -> tuple[int, int]:
    """Where pages differ in all bits, each of their bytes tells the page: then it is the first one."""
    return len(pages.paged | set(pages.selector)), -pages.selector[0]


def _with(
    words: NDArray[np.uint64], rates: NDArray[np.float64], often: NDArray[np.bool_], low: int, width: int
) -> Pages | None:
    if not often[low : low + width].any():
        return None
    chosen = (words >> np.uint64(low)) & np.uint64((1 << width) - 1)
    values = np.unique(chosen)
    least, most = _PAGES
    if not least <= len(values) <= most or len(words) < _EVENLY * len(values):
        return None
    order = np.argsort(chosen, kind="stable")
    within = _rates(words[order], len(rates) // 8, chosen[order])
    paged = often & (within <= _STILL * rates)
    paged[low : low + width] = False
    bits = tuple(bit for bit in range(low, low + width) if rates[bit])
    if np.count_nonzero(paged) < _LEAST_PAGED:
        return None
    return Pages(bits, frozenset(np.flatnonzero(paged).tolist()))


def _rates(
    words: NDArray[np.uint64], length: int, groups: NDArray[np.uint64] | None = None
) -> NDArray[np.float64]:
    """float64[8 · length]: share of samples in which a bit differs from the one before; of a group only."""
    changed = words[1:] ^ words[:-1]
    if groups is not None:
        changed = changed[groups[1:] == groups[:-1]]
    bits = np.unpackbits(changed.astype("<u8").view(np.uint8).reshape(-1, 8), axis=1, bitorder="little")
    if not len(bits):
        return np.ones(8 * length)
    found: NDArray[np.float64] = bits[:, : 8 * length].mean(axis=0)
    return found
