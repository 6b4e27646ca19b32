"""The grammar of one candump line, for numba: the bytes of a line to a record. See ``read_line``.

After the forms that can-utils prints and reads (candump.c, and sprint_long_canframe and parse_canframe of
lib.c). Characters are compared by their ASCII code, with the character beside it where it is not a digit.
"""

# ruff: noqa: PLR0911, PLR1714 - a grammar is a row of cases, and numba has no sets

from __future__ import annotations

from typing import Final

import numpy as np

from netcheck._compile.define import inlined_helper, kernel_helper
from netcheck.capture._arrays import Cells, Text
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
from netcheck.capture._stamp import ABSOLUTE, SHORT, UNTIMED, number, read_stamp

# places in a line's record
R_TIME: Final = 0  # ns
R_KIND: Final = 1
R_NAME: Final = 2  # place of the channel name
R_NAME_END: Final = 3
R_ID: Final = 4
R_FLAGS: Final = 5
R_LENGTH: Final = 6
R_BYTES: Final = 7  # payload bytes written


def _hex_values() -> Text:
    table = np.full(256, 255, np.uint8)
    for digits in (b"0123456789abcdef", b"0123456789ABCDEF"):
        for value, digit in enumerate(digits):
            table[digit] = value
    return table


_HEX = _hex_values()


@inlined_helper
def is_blank(c: int) -> bool:
    """Whether a character may stand between the parts of a line."""
    return c == 32 or c == 9 or c == 13


@kernel_helper
def skip_blank(text: Text, p: int, e: int) -> int:
    """The first place from p on that is not blank; e if there is none."""
    while p < e and is_blank(text[p]):
        p += 1
    return p


@kernel_helper
def _token_end(text: Text, p: int, e: int) -> int:
    while p < e and not is_blank(text[p]):
        p += 1
    return p


@kernel_helper
def _identifier(text: Text, p: int, q: int, record: Cells) -> int:
    """Hex digits p…q, a reason or 0: three are an 11-bit id, eight a 29-bit one or an error frame."""
    if q - p != 3 and q - p != 8:
        return CAN_XL if q - p == 5 and q < len(text) and text[q] == 35 else BAD_ID
    value = 0
    for i in range(p, q):
        digit = _HEX[text[i]]
        if digit > 15:
            return BAD_ID
        value = value * 16 + digit
    flags = 0
    if q - p == 3:
        if value > 0x7FF:
            return ID_11
    elif 0x20000000 <= value <= 0x3FFFFFFF:
        flags = ERROR
    elif value > 0x1FFFFFFF:
        return ID_29
    else:
        flags = EXTENDED
    record[R_ID] = value & 0x1FFFFFFF
    record[R_FLAGS] = flags
    return 0


@kernel_helper
def _remote(text: Text, p: int, e: int, record: Cells) -> int:
    """What follows the R of ``R``, ``R4`` or ``R8_B``; a reason or 0."""
    if record[R_FLAGS] & ERROR:
        return BAD_REMOTE
    record[R_FLAGS] |= REMOTE
    record[R_LENGTH] = 0
    if p == e:
        return 0
    if not 48 <= text[p] <= 56:
        return BAD_REMOTE
    record[R_LENGTH] = text[p] - 48
    if p + 1 == e:
        return 0
    raw = e == p + 3 and text[p] == 56 and text[p + 1] == 95  # 8_
    return 0 if raw and 9 <= _HEX[text[p + 2]] <= 15 else BAD_REMOTE


@kernel_helper
def _compact_data(text: Text, p: int, e: int, data: Text, at: int, most: int) -> tuple[int, int]:
    """Hex pairs, a full stop allowed between them: (place behind, bytes), place -1 - reason if wrong."""
    count = 0
    while p < e and text[p] != 95:  # _
        if count and text[p] == 46:  # .
            p += 1
        if p == e or _HEX[text[p]] > 15:
            return -1 - BAD_DATA, count
        if p + 1 == e or text[p + 1] == 46 or text[p + 1] == 95:
            return -1 - ODD_DIGITS, count
        if _HEX[text[p + 1]] > 15:
            return -1 - BAD_DATA, count
        if count == most:
            return -1 - (TOO_LONG_CLASSIC if most == 8 else TOO_LONG_FD), count
        data[at + count] = _HEX[text[p]] * 16 + _HEX[text[p + 1]]
        count += 1
        p += 2
    return p, count


@kernel_helper
def _compact(text: Text, p: int, e: int, data: Text, at: int, record: Cells) -> int:
    """``123#1122``, ``123##11122``, ``123#R4``, ``123#1122334455667788_B``: the token p…e; a reason or 0."""
    q = p
    while text[q] != 35:  # #
        q += 1
    reason = _identifier(text, p, q, record)
    if reason:
        return reason
    q += 1
    if q < e and (text[q] == 82 or text[q] == 114):  # R r
        return _remote(text, q + 1, e, record)
    most = 8
    if q < e and text[q] == 35:
        q += 1
        if q == e or _HEX[text[q]] > 15 or record[R_FLAGS] & ERROR:
            return BAD_DATA
        nibble = _HEX[text[q]]
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
        if not right or not 9 <= _HEX[text[q + 1]] <= 15:
            return BAD_RAW_LENGTH
    return 0


@kernel_helper
def _directions(text: Text, p: int, e: int) -> tuple[int, int]:
    """``RX - -``, ``TX B E``: (place behind, flags), p where there are none, -1 where they are wrong."""
    q = _token_end(text, p, e)
    if q - p != 2 or text[p + 1] != 88 or (text[p] != 82 and text[p] != 84):  # RX TX
        return p, 0
    flags = 0
    for turn in range(2):
        q = skip_blank(text, q, e)
        mark, flag = (66, BRS) if turn == 0 else (69, ESI)  # B E
        if q >= e or _token_end(text, q, e) != q + 1 or (text[q] != 45 and text[q] != mark):
            return -1, 0
        if text[q] == mark:
            flags |= flag
        q += 1
    return skip_blank(text, q, e), flags


@kernel_helper
def _brackets(text: Text, p: int, q: int, record: Cells) -> int:
    """``[8]``, ``[08]`` (two digits: CAN FD) or ``{B}`` (raw length code): the length, or -1 - reason."""
    wide = q - p
    opened = wide > 2 and text[p] == 91 and text[q - 1] == 93  # [ ]
    if opened and wide == 6:
        return -1 - CAN_XL
    if wide == 3 and text[p] == 123 and text[q - 1] == 125:  # { }
        code: int = _HEX[text[p + 1]]
        if code > 15:
            return -1 - BAD_BRACKETS
        return min(code, 8)
    end, length, digits = number(text, p + 1, q - 1)
    if not opened or end != q - 1 or not 1 <= digits <= 2:
        return -1 - BAD_BRACKETS
    if digits == 1:
        return length if length <= 8 else -1 - TOO_LONG_CLASSIC
    if record[R_FLAGS] & ERROR:
        return -1 - BAD_BRACKETS
    record[R_FLAGS] |= FD
    return length if length <= 64 else -1 - TOO_LONG_FD


@kernel_helper
def _is_word(text: Text, p: int, e: int, word: bytes) -> bool:
    if e - p != len(word):
        return False
    for i in range(len(word)):  # noqa: SIM110 - numba has no all() of a generator
        if text[p + i] != word[i]:
            return False
    return True


@kernel_helper
def _end(text: Text, p: int, e: int) -> int:
    """What may stand behind a frame, and blanks before it: nothing or a comment. A reason or 0."""
    q = skip_blank(text, p, e)
    if q == e:
        return 0
    slashes = text[q] == 47 and q + 1 < e and text[q + 1] == 47  # //
    return 0 if q > p and (text[q] == 35 or text[q] == 59 or slashes) else TAIL  # # ;


@kernel_helper
def _screen_tail(text: Text, p: int, e: int, count: int, record: Cells) -> int:
    """What may stand behind the data and a blank: ``ERRORFRAME``, or the bytes as quoted characters."""
    if p == e:
        return 0
    q = p
    if e - p >= 10 and _is_word(text, p, p + 10, b"ERRORFRAME"):
        record[R_FLAGS] = ERROR
        q = p + 10
    elif text[p] == 39:  # '
        q = p + count + 2
        if q > e or text[q - 1] != 39:
            return TAIL
    return _end(text, q if q > p else p - 1, e)


@kernel_helper
def _screen_data(text: Text, p: int, e: int, data: Text, at: int, record: Cells) -> int:
    """As many hex pairs as the record's length, each by itself, then the tail; a reason or 0."""
    count = record[R_LENGTH]
    for i in range(count):
        if p >= e:
            return WRONG_COUNT
        q = _token_end(text, p, e)
        if q - p != 2 or _HEX[text[p]] > 15 or _HEX[text[p + 1]] > 15:
            return BAD_DATA
        data[at + i] = _HEX[text[p]] * 16 + _HEX[text[p + 1]]
        p = skip_blank(text, q, e)
    if p < e and _token_end(text, p, e) == p + 2 and _HEX[text[p]] <= 15 and _HEX[text[p + 1]] <= 15:
        return WRONG_COUNT
    record[R_BYTES] = count
    return _screen_tail(text, p, e, count, record)


@kernel_helper
def _screen(text: Text, p: int, e: int, data: Text, at: int, record: Cells) -> int:
    """``RX - -  123   [2]  11 22   '.."'`` from behind the channel on; a reason or 0."""
    p, marks = _directions(text, p, e)
    if p < 0:
        return NOT_CANDUMP
    q = _token_end(text, p, e)
    following = skip_blank(text, q, e)
    if following >= e or (text[following] != 91 and text[following] != 123):  # [ {
        return NOT_CANDUMP
    reason = _identifier(text, p, q, record)
    if reason:
        return reason
    q = _token_end(text, following, e)
    count = _brackets(text, following, q, record)
    if count < 0:
        return -1 - count
    if record[R_FLAGS] & FD:
        record[R_FLAGS] |= marks
    record[R_LENGTH] = count
    p = skip_blank(text, q, e)
    if e - p >= 6 and _is_word(text, p, p + 6, b"remote"):
        q = skip_blank(text, p + 6, e)
        if q == p + 6 or q + 7 > e or not _is_word(text, q, q + 7, b"request"):
            return TAIL
        record[R_FLAGS] |= REMOTE
        return TAIL if record[R_FLAGS] & (FD | ERROR) else _end(text, q + 7, e)
    return _screen_data(text, p, e, data, at, record)


@kernel_helper
def _hash_in(text: Text, p: int, q: int) -> bool:
    for i in range(p, q):  # noqa: SIM110 - numba has no any() of a generator
        if text[i] == 35:
            return True
    return False


@kernel_helper
def _is_name(text: Text, p: int, q: int) -> bool:
    """Whether p…q may be a channel name: anything printable, as every driver names its own."""
    for i in range(p, q):
        if text[i] < 33 or text[i] == 127:
            return False
    return q - p <= LONGEST_NAME


@kernel_helper
def _log_tail(text: Text, p: int, e: int) -> int:
    """What may stand behind ``123#1122``: a letter for the direction."""
    q = skip_blank(text, p, e)
    if q < e and (text[q] == 82 or text[q] == 84 or text[q] == 114 or text[q] == 116):  # R T r t
        return _end(text, q + 1, e)
    return _end(text, p, e)


@kernel_helper
def read_line(text: Text, p: int, e: int, data: Text, at: int, record: Cells) -> int:
    """One line p…e without blanks at either end, neither empty nor a comment, to the record; a reason or 0.

    Payload bytes go to ``data`` from ``at`` on, as many as R_BYTES says; a line that is no frame may have
    written some, too.
    """
    stamped = text[p] == 40  # (
    record[R_TIME] = 0
    record[R_KIND] = UNTIMED
    record[R_BYTES] = 0
    if stamped:
        p, record[R_TIME], record[R_KIND] = read_stamp(text, p, e)
        if p < 0 or p >= e or not is_blank(text[p]):
            return BAD_TIME
        p = skip_blank(text, p, e)
    q = _token_end(text, p, e)
    record[R_NAME] = p
    record[R_NAME_END] = q
    if not stamped and _is_word(text, p, q, b"DROPCOUNT:"):
        return DROPPED
    if q == e:
        return NOT_CANDUMP
    if not _is_name(text, p, q):
        return BAD_CHANNEL
    p = skip_blank(text, q, e)
    q = _token_end(text, p, e)
    if not _hash_in(text, p, q):
        return _screen(text, p, e, data, at, record)
    if not stamped:
        return NO_TIME
    if record[R_KIND] == SHORT:
        record[R_KIND] = ABSOLUTE
    reason = _compact(text, p, q, data, at, record)
    if reason:
        return reason
    return _log_tail(text, q, e)
