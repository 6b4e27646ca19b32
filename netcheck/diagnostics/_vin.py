"""Check digit and model-year letter of a vehicle identification number (49 CFR 565.15).

Both are binding where that rule holds: numbers that begin with 1 to 5. Elsewhere makers may use them or not.
"""

from __future__ import annotations

from typing import Final

from netcheck.records import dataclass

LENGTH: Final = 17
_VALUES: Final = {
    **{str(digit): digit for digit in range(10)},
    **dict(zip("ABCDEFGH", range(1, 9), strict=True)),
    **dict(zip("JKLMN", range(1, 6), strict=True)),
    "P": 7,
    "R": 9,
    **dict(zip("STUVWXYZ", range(2, 10), strict=True)),
}
_WEIGHTS: Final = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
_YEARS: Final = "ABCDEFGHJKLMNPRSTVWXY123456789"  # A is 1980 and 2010
_CHECK, _KIND, _YEAR = 8, 6, 9  # places, from 0


@dataclass(frozen=True)
class VinFacts:
    """What a number tells of itself.

    is_bound:  the rule holds where the number was given out; else all this is a hint
    has_check: whether the check digit fits
    years:     model years that its letter stands for, the likelier one first; () for a letter that is none
    """

    is_bound: bool
    has_check: bool
    years: tuple[int, ...]


def vin_facts(vin: str) -> VinFacts | None:
    """The facts of a number; None where it is none: 17 digits and capital letters without I, O and Q."""
    if len(vin) != LENGTH or not set(vin) <= _VALUES.keys():
        return None
    rest = sum(_VALUES[sign] * weight for sign, weight in zip(vin, _WEIGHTS, strict=True)) % 11
    place = _YEARS.find(vin[_YEAR])
    years: tuple[int, ...] = ()
    if place >= 0:
        old, new = 1980 + place, 2010 + place
        # Cars and light vehicles have a letter in place 7 from 2010 on, and a digit before.
        years = (new, old) if vin[_KIND].isalpha() else (old, new)
    return VinFacts(vin[0] in "12345", vin[_CHECK] == ("X" if rest == 10 else str(rest)), years)
