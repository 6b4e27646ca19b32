"""How much of what is known of a quantity counts: neighbouring values say nearly the same."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.find._fit import Strength
from netcheck.find._known import Known, KnownKind

_STEPS: Final = 512
_MOST_POINTS: Final = 60.0
# Share of the variance that a person's watch and eye, or another signal's filter, may leave unexplained
_FLOOR: Final = {KnownKind.TRACK: 0.015, KnownKind.MARKS: 0.015, KnownKind.SIGNAL: 0.002}


def independent_points(known: Known) -> float:
    """Bartlett's number of independent points of a series, for comparison with one that is as smooth.

    Source: M. S. Bartlett, J. Royal Stat. Soc. 98 (1935): n / Σ ρ². Of marks, their number.
    """
    if known.kind is KnownKind.MARKS:
        return float(len(known.spans))
    values = _evenly(known)
    values = values - values.mean()
    size = len(values)
    spectrum = np.abs(np.fft.rfft(values, 2 * size)) ** 2
    covariance = np.fft.irfft(spectrum)[:size]
    if covariance[0] <= 0:
        return 0.0
    shape = covariance / covariance[0]
    below = np.flatnonzero(shape <= 0)
    until = int(below[0]) if len(below) else size
    return float(min(size / (1 + 2 * np.sum(shape[1:until] ** 2)), _MOST_POINTS))


def _evenly(known: Known) -> NDArray[np.float64]:
    begin, end = known.spans[0][0], known.spans[-1][1]
    found: NDArray[np.float64] = np.interp(
        np.linspace(begin, end, _STEPS), known.samples.times, known.samples.values
    )
    return found


def strength_of(known: Known, points: float) -> Strength:
    """What a fit with it is worth."""
    return Strength(points, _FLOOR[known.kind])
