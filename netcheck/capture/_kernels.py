"""Numba kernels: candump text to columns. Arrays in, arrays out; nothing here knows files or Python objects.

``parse`` goes through a stretch of whole lines. The common line, ``(1436509052.249713) can0 123#11223344``,
is read by a short way; whatever does not fit it exactly goes to ``read_line``, which knows every form and says
why a line is no frame. Both give the same frame for the same line.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import numpy as np
from numba import njit, types

from netcheck.capture import _capture, _codes, _line
from netcheck.capture import _tally as tallied
from netcheck.capture._capture import EXTENDED, FD
from netcheck.capture._codes import LONGEST_LINE, MOST_CHANNELS, TOO_LONG_LINE
from netcheck.capture._columns import Columns
from netcheck.capture._line import (
    ABSOLUTE,
    DATED,
    HEX,
    R_BYTES,
    R_FLAGS,
    R_ID,
    R_KIND,
    R_LENGTH,
    R_NAME,
    R_NAME_END,
    R_TIME,
    SHORT,
    UNTIMED,
    is_blank,
    read_line,
    skip_blank,
)

MILLISECOND: Final = 1_000_000  # ns between frames of a log without times
_SHORT_WAY: Final = 96  # bytes; no line that takes the short way is longer


@njit(nogil=True)
def _name_index(text, p, q, names, known):
    """Index of the channel name p…q among the first ``known`` rows of names, a new row if it is none of them."""
    for i in range(known):
        at = names[i, 0]
        if names[i, 1] == q - p:
            k = 0
            while k < q - p and text[at + k] == text[p + k]:
                k += 1
            if k == q - p:
                return i
    if known < MOST_CHANNELS:
        names[known, 0] = p
        names[known, 1] = q - p
    return known


@njit(nogil=True)
def _is_discrete(length):
    return length <= 8 or length in (12, 16, 20, 24, 32, 48, 64)


_TEXT = types.Array(types.uint8, 1, "C", readonly=True)
_COLUMNS = types.NamedTuple(
    (
        types.int64[::1],
        types.uint32[::1],
        types.uint8[::1],
        types.uint8[::1],
        types.uint8[::1],
        types.int64[::1],
        types.uint8[::1],
    ),
    Columns,
)


@njit(nogil=True)
def _note_short(tally, time):
    """Keeps what tells delta from zeroed times."""
    if tally[tallied.SHORT]:
        tally[tallied.SHORT_BACK] += time < tally[tallied.SHORT_LAST]
        if tally[tallied.SHORT] > 1:
            tally[tallied.SHORT_SAME] += time == tally[tallied.SHORT_LAST]
    else:
        tally[tallied.SHORT_FIRST] = time
    tally[tallied.SHORT] += 1
    tally[tallied.SHORT_LAST] = time


@njit(nogil=True)
def _short_way(text, p, columns, at, record):
    """A common log line from p: place behind its line end and the record filled, or -1 when it is another form."""
    no = np.int64(-1)
    if text[p] != 40:
        return no
    q = p + 1
    seconds = np.int64(0)
    while 48 <= text[q] <= 57 and q - p <= 10:
        seconds = seconds * 10 + (np.int64(text[q]) - 48)
        q += 1
    if text[q] != 46 or q == p + 1 or seconds > 9_223_372_035:
        return no
    fraction = np.int64(0)
    for i in range(q + 1, q + 7):
        digit = np.int64(text[i]) - 48
        if digit < 0 or digit > 9:
            return no
        fraction = fraction * 10 + digit
    q += 7
    if text[q] != 41 or text[q + 1] != 32:
        return no
    record[R_TIME] = seconds * 1_000_000_000 + fraction * 1000
    q += 2
    record[R_NAME] = q
    while 32 < text[q] < 127 and q - record[R_NAME] <= 16:
        q += 1
    if text[q] != 32 or q == record[R_NAME]:
        return no
    record[R_NAME_END] = q
    q += 1
    digits = 3 if text[q + 3] == 35 else 8
    value = np.int64(0)
    wrong = np.uint8(0)
    for i in range(q, q + digits):
        digit = HEX[text[i]]
        wrong |= digit
        value = value * 16 + digit
    if wrong > 15 or text[q + digits] != 35 or value > (0x7FF if digits == 3 else 0x1FFFFFFF):
        return no
    record[R_ID] = value
    record[R_FLAGS] = 0 if digits == 3 else EXTENDED
    q += digits + 1
    count = 0
    while count < 8:
        high = HEX[text[q]]
        low = HEX[text[q + 1]]
        if high > 15 or low > 15:
            break
        columns.data[at + count] = high * 16 + low
        count += 1
        q += 2
    record[R_LENGTH] = count
    c = text[q]
    if c == 32:
        c = text[q + 1]
        if c != 82 and c != 84:
            return no
        q += 2
        c = text[q]
    if c == 13:
        q += 1
        c = text[q]
    return q + 1 if c == 10 else no


@njit(nogil=True)
def _parse(text, begin, end, deltas, columns, notes, tally):
    """Lines of ``text[begin:end]`` to columns; gives the number of frames.

    deltas:  0 times as written; 1 short times of screen output are steps; 2 those of log lines too
    notes:   int64, (MOST_CHANNELS + NAMED, 3). First the channel names (place, length), then the first lines
             that are no frames (line, reason, place); all local to this stretch, lines counted from 1
    tally:   int64, zeroed, one place for each member of T
    """
    record = np.zeros(8, np.int64)
    frames = np.int64(0)
    at = np.int64(0)
    lines = np.int64(0)
    now = np.int64(0)
    hanging = True
    known = np.int64(0)
    last_name = np.int64(-1)
    p = begin
    while p < end:
        lines += 1
        kind = ABSOLUTE
        count = np.int64(0)
        after = np.int64(-1)
        if end - p >= _SHORT_WAY and deltas != 2:
            after = _short_way(text, p, columns, at, record)
            count = record[R_LENGTH]
        if after < 0:
            e = p
            while e < end and text[e] != 10:
                e += 1
            after = e + 1
            first = skip_blank(text, p, min(e, p + LONGEST_LINE))
            while e > first and is_blank(text[e - 1]) and e - p <= LONGEST_LINE:
                e -= 1
            tally[tallied.LAST] = 0
            if (first == e) or text[first] == 35 or text[first] == 59:
                tally[tallied.QUIET] += 1
                p = after
                continue
            reason = (
                TOO_LONG_LINE if e - p > LONGEST_LINE else read_line(text, first, e, columns.data, at, record)
            )
            if reason:
                if tally[tallied.SKIPPED] < len(notes) - MOST_CHANNELS:
                    note = notes[MOST_CHANNELS + tally[tallied.SKIPPED]]
                    note[0] = lines
                    note[1] = reason
                    note[2] = first
                tally[tallied.SKIPPED] += 1
                tally[tallied.LAST] = 2
                p = after
                continue
            kind = record[R_KIND]
            count = record[R_BYTES]
            if record[R_FLAGS] & FD and not _is_discrete(count):
                if tally[tallied.ODD_FD] == 0:
                    tally[tallied.ODD_FD_LINE] = lines
                tally[tallied.ODD_FD] += 1
        p = after
        tally[tallied.LAST] = 1

        # time
        time = record[R_TIME]
        if kind == UNTIMED:
            tally[tallied.UNTIMED] += 1
        elif kind == DATED:
            tally[tallied.DATED] += 1
        elif kind == SHORT:
            _note_short(tally, time)
        if frames == 0:
            tally[tallied.FIRST_UNTIMED] = kind == UNTIMED
        if kind == UNTIMED:
            time = now + MILLISECOND
        elif (kind == SHORT and deltas) or (kind == ABSOLUTE and deltas == 2):
            time += now
        elif hanging:
            hanging = False
            tally[tallied.HANGING] = frames
            tally[tallied.TIMED_LINE] = lines
        elif time < now:
            if tally[tallied.BACK] == 0:
                tally[tallied.BACK_LINE] = lines
            tally[tallied.BACK] += 1
            tally[tallied.BACK_MOST] = max(tally[tallied.BACK_MOST], now - time)
        now = time

        # channel
        name = record[R_NAME]
        wide = record[R_NAME_END] - name
        same = last_name >= 0 and notes[last_name, 1] == wide
        if same:
            known_at = notes[last_name, 0]
            for i in range(wide):
                if text[known_at + i] != text[name + i]:
                    same = False
                    break
        if not same:
            last_name = _name_index(text, name, name + wide, notes, known)
            if last_name == MOST_CHANNELS:
                tally[tallied.CHANNELS] = known + 1
                return frames
            known = max(known, last_name + 1)

        columns.time_ns[frames] = time
        columns.can_id[frames] = record[R_ID]
        columns.flags[frames] = record[R_FLAGS]
        columns.channel[frames] = last_name
        columns.length[frames] = record[R_LENGTH]
        columns.start[frames] = at
        at += count
        frames += 1
    if hanging:
        tally[tallied.HANGING] = frames
    tally[tallied.OPEN] = hanging
    tally[tallied.NOW] = now
    tally[tallied.LINES] = lines
    tally[tallied.FRAMES] = frames
    tally[tallied.BYTES] = at
    tally[tallied.CHANNELS] = known
    return frames


_SIGNATURE = types.int64(
    _TEXT, types.int64, types.int64, types.int64, _COLUMNS, types.int64[:, ::1], types.int64[::1]
)


def _compiled(stamp: int) -> Any:
    """``parse``, compiled once and kept on disk.

    Numba looks at this file alone to tell whether what it kept is still good; the stamp makes it look at the
    other files that are compiled in, too.
    """

    @njit(_SIGNATURE, nogil=True, cache=True)
    def parse(text, begin, end, deltas, columns, notes, tally):
        return _parse(text, begin, end, deltas, columns, notes, tally) if stamp >= 0 else np.int64(-1)

    return parse


def _stamp() -> int:
    stamp = 0
    for module in (_capture, _codes, _line, tallied):
        status = Path(module.__file__).stat()
        stamp = (stamp * 1_000_003 + status.st_mtime_ns + status.st_size) % (1 << 61)
    return stamp


parse = _compiled(_stamp())
