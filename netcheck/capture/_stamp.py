"""Time stamps of candump text, for numba."""

from __future__ import annotations

from typing import Final

from netcheck._compile.define import kernel_helper
from netcheck.capture._arrays import Text

# kinds of time
ABSOLUTE: Final = 0
DATED: Final = 1
SHORT: Final = 2  # screen output with fewer than ten digits of seconds: delta or zeroed
UNTIMED: Final = 3

_DAY: Final = 86400  # seconds


@kernel_helper
def number(text: Text, p: int, e: int) -> tuple[int, int, int]:
    """Decimal digits from p on: (place behind them, value of the first 18, how many)."""
    value = 0
    q = p
    while q < e and 48 <= text[q] <= 57:
        if q - p < 18:
            value = value * 10 + (text[q] - 48)
        q += 1
    return q, value, q - p


@kernel_helper
def _fraction(text: Text, p: int, e: int) -> tuple[int, int]:
    """``.digits`` or nothing: (place behind, ns), place -1 when malformed. What is below 1 ns is cut off."""
    if p >= e or text[p] != 46:  # .
        return p, 0
    q = p + 1
    value = 0
    scale = 100_000_000
    while q < e and 48 <= text[q] <= 57:
        value += (text[q] - 48) * scale
        scale //= 10
        q += 1
    return (q if q > p + 1 else -1), value


@kernel_helper
def _days(year: int, month: int, day: int) -> int:
    """Days from 1970-01-01 in the Gregorian calendar, or -1 for a date that is none."""
    leap = (year % 4 == 0 and year % 100 != 0) or year % 400 == 0
    longest = 31
    if month in (4, 6, 9, 11):
        longest = 30
    elif month == 2:
        longest = 29 if leap else 28
    if year < 1970 or not 1 <= month <= 12 or not 1 <= day <= longest:
        return -1
    # Counted from 1 March, so that the leap day comes last.
    y = year - (1 if month <= 2 else 0)
    m = month - 3 if month > 2 else month + 9
    return 365 * y + y // 4 - y // 100 + y // 400 + (153 * m + 2) // 5 + day - 1 - 719468


@kernel_helper
def _two(text: Text, p: int) -> int:
    """Two decimal digits, or a number above 99."""
    high, low = text[p] - 48, text[p + 1] - 48
    return high * 10 + low if 0 <= high <= 9 and 0 <= low <= 9 else 100


@kernel_helper
def _date(text: Text, p: int, e: int) -> tuple[int, int]:
    """``2024-01-31 12:34:56`` from p on: (place behind, seconds since 1970), place -1 when it is none."""
    if e - p < 19 or text[p + 4] != 45 or text[p + 7] != 45 or text[p + 10] != 32:  # - - blank
        return -1, 0
    if text[p + 13] != 58 or text[p + 16] != 58:  # : :
        return -1, 0
    century, years = _two(text, p), _two(text, p + 2)
    hour, minute, second = _two(text, p + 11), _two(text, p + 14), _two(text, p + 17)
    days = _days(century * 100 + years, _two(text, p + 5), _two(text, p + 8))
    if century > 99 or years > 99 or days < 0 or hour > 23 or minute > 59 or second > 60:
        return -1, 0
    return p + 19, days * _DAY + hour * 3600 + minute * 60 + second


@kernel_helper
def _behind_blanks(text: Text, p: int, e: int) -> int:
    while p < e and (text[p] == 32 or text[p] == 9):
        p += 1
    return p


@kernel_helper
def read_stamp(text: Text, p: int, e: int) -> tuple[int, int, int]:
    """``(…)`` from p on: (place behind, ns, kind), place -1 when it cannot be read.

    Blanks may stand inside the brackets.
    """
    p = _behind_blanks(text, p + 1, e)
    q, seconds, digits = number(text, p, e)
    kind = ABSOLUTE if digits == 10 else SHORT
    if digits == 4 and q < e and text[q] == 45:  # -
        q, seconds = _date(text, p, e)
        kind = DATED
    elif not 1 <= digits <= 10:
        q = -1
    if q < 0:
        return -1, 0, kind
    q, fraction = _fraction(text, q, e)
    if q >= 0:
        q = _behind_blanks(text, q, e)
    if q < 0 or q >= e or text[q] != 41 or seconds > 9_223_372_035:  # ), and 64 bits of ns
        return -1, 0, kind
    return q + 1, seconds * 1_000_000_000 + fraction, kind
