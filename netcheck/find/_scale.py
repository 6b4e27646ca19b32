"""Scale and offset of a field, with their errors, so that late and wrong notes do little harm."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.find._quantity_model import FittedScale

_ROUNDS: Final = 6
_HUBER: Final = 1.345  # of the spread, beyond which a value counts less (P. J. Huber, 1964: 95 % efficiency)
_MAD: Final = 1.4826  # median of absolute deviations to standard deviation of a normal distribution
_LEAST_ERROR: Final = 0.02  # of the scale: a person's watch
_DECIMALS: Final = (1.0, 2.0, 2.5, 4.0, 5.0)
_BINARY: Final = tuple(2.0**-power for power in range(1, 17))


def fitted_scale(
    raw: NDArray[np.float64], target: NDArray[np.float64], points: float
) -> tuple[FittedScale, float]:
    """The line through raw values and targets, and the root mean square of what is left.

    points: independent ones, for the errors
    """
    weights = np.ones(len(raw))
    scale, offset = _line(raw, target, weights)
    for _ in range(_ROUNDS):
        rest = target - scale * raw - offset
        spread = _MAD * float(np.median(np.abs(rest)))
        if spread <= 0:
            break
        weights = np.minimum(1.0, _HUBER * spread / np.maximum(np.abs(rest), 1e-300))
        scale, offset = _line(raw, target, weights)
    rest = target - scale * raw - offset
    residual = math.sqrt(float(np.mean(rest**2)))
    mean, spread_raw = float(raw.mean()), float(raw.std())
    error = residual / math.sqrt(max(points, 1.0))
    scale_error = error / spread_raw if spread_raw else math.inf
    offset_error = error * math.hypot(1.0, mean / spread_raw) if spread_raw else math.inf
    return FittedScale(scale, offset, scale_error, offset_error, _usual(scale, scale_error)), residual


def _line(
    raw: NDArray[np.float64], target: NDArray[np.float64], weights: NDArray[np.float64]
) -> tuple[float, float]:
    total = weights.sum()
    raw_mean, target_mean = (weights * raw).sum() / total, (weights * target).sum() / total
    variance = (weights * (raw - raw_mean) ** 2).sum()
    if not variance:
        return 0.0, float(target_mean)
    scale = (weights * (raw - raw_mean) * (target - target_mean)).sum() / variance
    return float(scale), float(target_mean - scale * raw_mean)


def _usual(scale: float, error: float) -> float | None:
    """The nearest of 1, 2, 2.5, 4, 5 times a power of ten and of the powers of 1/2, within two errors."""
    size = abs(scale)
    if not size or not math.isfinite(error):
        return None
    ten = 10.0 ** math.floor(math.log10(size))
    usual = [part * ten * more for part in _DECIMALS for more in (1.0, 10.0)]
    best = min([*usual, *_BINARY], key=lambda each: abs(each - size))
    return math.copysign(best, scale) if abs(best - size) <= max(2 * error, _LEAST_ERROR * size) else None
