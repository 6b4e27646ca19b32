"""The grammar of one candump line, for numba: bytes of a line to a record. See ``read_line``."""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from netcheck.capture._capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE
from netcheck.capture._codes import (
    BAD_BRACKETS,
    BAD_CHANNEL,
    BAD_DATA,
    BAD_ID,
    BAD_RAW_LENGTH,
    BAD_REMOTE,
    BAD_TIME,
    CAN_XL,
    DROPPED,
    ID_11,
    ID_29,
    LONGEST_NAME,
    NO_TIME,
    NOT_CANDUMP,
    ODD_DIGITS,
    TAIL,
    TOO_LONG_CLASSIC,
    TOO_LONG_FD,
    WRONG_COUNT,
)

# kinds of time
ABSOLUTE: Final = 0
DATED: Final = 1
SHORT: Final = 2  # screen output with fewer than ten digits of seconds: delta or zeroed
UNTIMED: Final = 3

# places in a line's record
R_TIME: Final = 0
R_KIND: Final = 1
R_NAME: Final = 2
R_NAME_END: Final = 3
R_ID: Final = 4
R_FLAGS: Final = 5
R_LENGTH: Final = 6
R_BYTES: Final = 7


def _hex_values() -> NDArray[np.uint8]:
    table = np.full(256, 255, np.uint8)
    for value, digit in enumerate(b"0123456789abcdef"):
        table[digit] = value
    for value, digit in enumerate(b"ABCDEF"):
        table[digit] = 10 + value
    return table


HEX = _hex_values()


@njit(nogil=True)
def is_blank(c):
    return c == 32 or c == 9 or c == 13


@njit(nogil=True)
def skip_blank(text, p, e):
    while p < e and is_blank(text[p]):
        p += 1
    return p


@njit(nogil=True)
def _token_end(text, p, e):
    while p < e and not is_blank(text[p]):
        p += 1
    return p


@njit(nogil=True)
def _number(text, p, e):
    """Decimal digits from p: (place behind them, value of the first 18, how many)."""
    value = np.int64(0)
    q = p
    while q < e and 48 <= text[q] <= 57:
        if q - p < 18:
            value = value * 10 + (np.int64(text[q]) - 48)
        q += 1
    return q, value, q - p


@njit(nogil=True)
def _fraction(text, p, e):
    """``.digits`` or nothing, in ns: (place behind, ns), place -1 when malformed. Below 1 ns is cut off."""
    if p >= e or text[p] != 46:
        return p, np.int64(0)
    q = p + 1
    value = np.int64(0)
    scale = np.int64(100_000_000)
    while q < e and 48 <= text[q] <= 57:
        value += (np.int64(text[q]) - 48) * scale
        scale //= 10
        q += 1
    if q == p + 1:
        return np.int64(-1), value
    return q, value


@njit(nogil=True)
def _days(year, month, day):
    """Days from 1970-01-01 in the Gregorian calendar, or -1 for a date that is none."""
    leap = (year % 4 == 0 and year % 100 != 0) or year % 400 == 0
    longest = 31
    if month in (4, 6, 9, 11):
        longest = 30
    elif month == 2:
        longest = 29 if leap else 28
    if year < 1970 or not 1 <= month <= 12 or not 1 <= day <= longest:
        return np.int64(-1)
    # Counted from 1 March, so that the leap day comes last.
    y = year - (1 if month <= 2 else 0)
    m = month - 3 if month > 2 else month + 9
    return 365 * y + y // 4 - y // 100 + y // 400 + (153 * m + 2) // 5 + day - 1 - 719468


@njit(nogil=True)
def _date(text, p, e):
    """``2024-01-31 12:34:56`` from p: (place behind, seconds since 1970), place -1 when it is none."""
    bad = (np.int64(-1), np.int64(0))
    if e - p < 19:
        return bad
    for i in range(19):
        c = text[p + i]
        if i in (4, 7):
            right = c == 45
        elif i == 10:
            right = c == 32
        elif i in (13, 16):
            right = c == 58
        else:
            right = 48 <= c <= 57
        if not right:
            return bad
    days = _days(_number(text, p, p + 4)[1], _number(text, p + 5, p + 7)[1], _number(text, p + 8, p + 10)[1])
    hour = _number(text, p + 11, p + 13)[1]
    minute = _number(text, p + 14, p + 16)[1]
    second = _number(text, p + 17, p + 19)[1]
    if days < 0 or hour > 23 or minute > 59 or second > 60:
        return bad
    return p + 19, days * 86400 + hour * 3600 + minute * 60 + second


@njit(nogil=True)
def _stamp(text, p, e):
    """``(…)`` from p: (place behind, ns, kind), place -1 when it cannot be read."""
    bad = (np.int64(-1), np.int64(0), ABSOLUTE)
    q, seconds, digits = _number(text, p + 1, e)
    kind = ABSOLUTE if digits == 10 else SHORT
    if digits == 4 and q < e and text[q] == 45:
        q, seconds = _date(text, p + 1, e)
        kind = DATED
        if q < 0:
            return bad
    elif not 1 <= digits <= 10:
        return bad
    q, fraction = _fraction(text, q, e)
    if q < 0 or q >= e or text[q] != 41 or seconds > 9_223_372_035:
        return bad
    return q + 1, seconds * 1_000_000_000 + fraction, kind


@njit(nogil=True)
def _identifier(text, p, q, record):
    """Hex digits p…q: three are an 11-bit id, eight a 29-bit one or an error frame."""
    if q - p not in (3, 8):
        return CAN_XL if q - p == 5 and q < len(text) and text[q] == 35 else BAD_ID
    value = np.int64(0)
    for i in range(p, q):
        digit = HEX[text[i]]
        if digit > 15:
            return BAD_ID
        value = value * 16 + digit
    flags = 0
    if q - p == 3:
        if value > 0x7FF:
            return ID_11
    elif value & 0xE0000000 == 0x20000000:
        flags = ERROR
    elif value > 0x1FFFFFFF:
        return ID_29
    else:
        flags = EXTENDED
    record[R_ID] = value & 0x1FFFFFFF
    record[R_FLAGS] = flags
    return 0


@njit(nogil=True)
def _remote(text, p, e, record):
    """``R``, ``R4`` or ``R8_B``; p is behind the R."""
    record[R_FLAGS] |= REMOTE
    record[R_LENGTH] = 0
    if record[R_FLAGS] & ERROR:
        return BAD_REMOTE
    if p == e:
        return 0
    if not 48 <= text[p] <= 56:
        return BAD_REMOTE
    record[R_LENGTH] = np.int64(text[p]) - 48
    if p + 1 == e:
        return 0
    raw = e == p + 3 and text[p] == 56 and text[p + 1] == 95
    return 0 if raw and 9 <= HEX[text[p + 2]] <= 15 else BAD_REMOTE


@njit(nogil=True)
def _compact_data(text, p, e, data, at, most):
    """Hex pairs, a full stop allowed between them: (place behind, bytes written), place -1 - reason if wrong."""
    count = 0
    while p < e and text[p] != 95:
        if count and text[p] == 46:
            p += 1
            if p == e:
                return np.int64(-1 - BAD_DATA), count
        high = HEX[text[p]]
        if high > 15:
            return np.int64(-1 - BAD_DATA), count
        if p + 1 == e or text[p + 1] == 46 or text[p + 1] == 95:
            return np.int64(-1 - ODD_DIGITS), count
        low = HEX[text[p + 1]]
        if low > 15:
            return np.int64(-1 - BAD_DATA), count
        if count == most:
            return np.int64(-1 - (TOO_LONG_CLASSIC if most == 8 else TOO_LONG_FD)), count
        data[at + count] = high * 16 + low
        count += 1
        p += 2
    return np.int64(p), count


@njit(nogil=True)
def _compact(text, p, e, data, at, record):
    """``123#1122``, ``123##11122``, ``123#R4``, ``123#1122334455667788_B``: the token p…e. Gives a reason or 0."""
    q = p
    while text[q] != 35:
        q += 1
    reason = _identifier(text, p, q, record)
    if reason:
        return reason
    q += 1
    if q < e and (text[q] == 82 or text[q] == 114):
        return _remote(text, q + 1, e, record)
    most = 8
    if q < e and text[q] == 35:
        q += 1
        if q == e or HEX[text[q]] > 15 or record[R_FLAGS] & ERROR:
            return BAD_DATA
        nibble = HEX[text[q]]
        record[R_FLAGS] |= FD | (BRS if nibble & 1 else 0) | (ESI if nibble & 2 else 0)
        q += 1
        most = 64
    q, count = _compact_data(text, q, e, data, at, most)
    if q < 0:
        return -1 - q
    record[R_LENGTH] = count
    record[R_BYTES] = count
    if q < e:  # a raw length code
        right = most == 8 and count == 8 and e - q == 2
        if not right or not 9 <= HEX[text[q + 1]] <= 15:
            return BAD_RAW_LENGTH
    return 0


@njit(nogil=True)
def _directions(text, p, e, record):
    """``RX - -``, ``TX B E``: place behind them, p where there are none, -1 where they are cut or wrong."""
    q = _token_end(text, p, e)
    if q - p != 2 or text[p + 1] != 88 or (text[p] != 82 and text[p] != 84):
        return p
    for mark, flag in ((66, BRS), (69, ESI)):
        q = skip_blank(text, q, e)
        if q >= e or _token_end(text, q, e) != q + 1 or (text[q] != 45 and text[q] != mark):
            return np.int64(-1)
        if text[q] == mark:
            record[R_BYTES] |= flag
        q += 1
    return skip_blank(text, q, e)


@njit(nogil=True)
def _brackets(text, p, q, record):
    """``[8]``, ``[08]`` (CAN FD) or ``{B}`` (raw length code): the length, or -1 - reason."""
    wide = q - p
    opened = wide > 2 and text[p] == 91 and text[q - 1] == 93
    if opened and wide == 6:
        return np.int64(-1 - CAN_XL)
    if wide == 3 and text[p] == 123 and text[q - 1] == 125:
        code = np.int64(HEX[text[p + 1]])
        return min(code, np.int64(8)) if code <= 15 else np.int64(-1 - BAD_BRACKETS)
    end, length, digits = _number(text, p + 1, q - 1)
    if not opened or end != q - 1 or not 1 <= digits <= 2:
        return np.int64(-1 - BAD_BRACKETS)
    if digits == 1:
        return length if length <= 8 else np.int64(-1 - TOO_LONG_CLASSIC)
    if record[R_FLAGS] & ERROR:
        return np.int64(-1 - BAD_BRACKETS)
    record[R_FLAGS] |= FD
    return length if length <= 64 else np.int64(-1 - TOO_LONG_FD)


@njit(nogil=True)
def _same(text, p, e, word):
    if e - p != len(word):
        return False
    for i in range(len(word)):
        if text[p + i] != word[i]:
            return False
    return True


@njit(nogil=True)
def _screen_tail(text, p, e, count, record):
    """What may stand behind the data: nothing, ``ERRORFRAME``, or the bytes as quoted characters."""
    if p == e:
        return 0
    if _same(text, p, e, b"ERRORFRAME"):
        record[R_FLAGS] |= ERROR
        return 0
    quote = text[p]
    if (quote == 39 or quote == 34) and e - p == count + 2 and text[e - 1] == quote:
        return 0
    return TAIL


@njit(nogil=True)
def _screen(text, p, e, data, at, record):
    """``123   [2]  11 22   '.."'`` from the id on. Gives a reason or 0."""
    fd_marks = record[R_BYTES]
    record[R_BYTES] = 0
    q = _token_end(text, p, e)
    reason = _identifier(text, p, q, record)
    if reason:
        return reason
    p = skip_blank(text, q, e)
    q = _token_end(text, p, e)
    count = _brackets(text, p, q, record)
    if count < 0:
        return -1 - count
    if fd_marks and record[R_FLAGS] & FD:
        record[R_FLAGS] |= fd_marks
    record[R_LENGTH] = count
    p = skip_blank(text, q, e)
    if e - p >= 6 and _same(text, p, p + 6, b"remote"):
        q = skip_blank(text, p + 6, e)
        if not _same(text, q, e, b"request") or record[R_FLAGS] & (FD | ERROR):
            return TAIL
        record[R_FLAGS] |= REMOTE
        return 0
    for i in range(count):
        if p >= e:
            return WRONG_COUNT
        q = _token_end(text, p, e)
        if q - p != 2 or HEX[text[p]] > 15 or HEX[text[p + 1]] > 15:
            return BAD_DATA
        data[at + i] = HEX[text[p]] * 16 + HEX[text[p + 1]]
        p = skip_blank(text, q, e)
    if e - p >= 2 and _token_end(text, p, e) == p + 2 and HEX[text[p]] <= 15 and HEX[text[p + 1]] <= 15:
        return WRONG_COUNT
    record[R_BYTES] = count
    return _screen_tail(text, p, e, count, record)


@njit(nogil=True)
def read_line(text, p, e, data, at, record):
    """One line p…e without blanks at either end, not empty, no comment: a reason or 0, and the record."""
    stamped = text[p] == 40
    record[R_TIME] = 0
    record[R_KIND] = UNTIMED
    record[R_BYTES] = 0
    if stamped:
        p, record[R_TIME], record[R_KIND] = _stamp(text, p, e)
        if p < 0 or p >= e or not is_blank(text[p]):
            return BAD_TIME
        p = skip_blank(text, p, e)
    name = p
    p = _token_end(text, p, e)
    record[R_NAME] = name
    record[R_NAME_END] = p
    if not stamped and _same(text, name, p, b"DROPCOUNT:"):
        return DROPPED
    p = skip_blank(text, p, e)
    if p >= e:
        return NOT_CANDUMP
    if record[R_NAME_END] - name > LONGEST_NAME:
        return BAD_CHANNEL
    for i in range(name, record[R_NAME_END]):
        if text[i] < 33 or text[i] == 127:
            return BAD_CHANNEL
    q = _token_end(text, p, e)
    for i in range(p, q):
        if text[i] == 35:
            if not stamped:
                return NO_TIME
            if record[R_KIND] == SHORT:
                record[R_KIND] = ABSOLUTE
            reason = _compact(text, p, q, data, at, record)
            if reason:
                return reason
            p = skip_blank(text, q, e)
            letter = p + 1 == e and (text[p] == 82 or text[p] == 84 or text[p] == 114 or text[p] == 116)
            return 0 if p == e or letter else TAIL
    p = _directions(text, p, e, record)
    if p < 0:
        return NOT_CANDUMP
    q = _token_end(text, p, e)
    following = skip_blank(text, q, e)
    if following >= e or (text[following] != 91 and text[following] != 123):
        return NOT_CANDUMP
    return _screen(text, p, e, data, at, record)
