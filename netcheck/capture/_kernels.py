"""Kernels: candump text to columns. Arrays in, arrays out; nothing here knows files or Python objects.

``parse`` goes through a stretch of whole lines. The common line, ``(1436509052.249713) can0 123#11223344``,
is read by ``run``; whatever does not fit it exactly goes to ``read_line``, which knows every form and says
why a line is no frame. Both give the same frame for the same line.
"""

from __future__ import annotations

import numpy as np

from netcheck._compile.define import (
    GRID,
    INT64,
    ROW,
    U8,
    array,
    cached_kernel,
    columns_of,
    kernel_helper,
    tuple_of,
)
from netcheck.capture import _tally as tallied
from netcheck.capture._arrays import Cells, Text
from netcheck.capture._capture import FD, Columns
from netcheck.capture._codes import (
    DROPPED,
    LATEST,
    LONGEST_LINE,
    MILLISECOND,
    MOST_CHANNELS,
    RUN_CHANNELS,
    TOO_LONG_LINE,
)
from netcheck.capture._columns import Workspace
from netcheck.capture._line import (
    R_BYTES,
    R_FLAGS,
    R_ID,
    R_KIND,
    R_LENGTH,
    R_NAME,
    R_NAME_END,
    R_TIME,
    is_blank,
    read_line,
    skip_blank,
)
from netcheck.capture._run import RUN_NAME, know_channel, note_back, run
from netcheck.capture._stamp import ABSOLUTE, DATED, SHORT, UNTIMED


@kernel_helper
def _name_index(text: Text, p: int, q: int, names: Cells, known: int) -> int:
    """Index of the channel name p…q among the first ``known`` rows of names, or of a new row."""
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


@kernel_helper
def _is_discrete(length: int) -> bool:
    return length <= 8 or length in (12, 16, 20, 24, 32, 48, 64)


@kernel_helper
def _note_short(tally: Cells, time: int) -> None:
    """Keeps what tells delta from zeroed times."""
    if tally[tallied.SHORT]:
        tally[tallied.SHORT_BACK] += time < tally[tallied.SHORT_LAST]
        if tally[tallied.SHORT] > 1:
            tally[tallied.SHORT_SAME] += time == tally[tallied.SHORT_LAST]
    else:
        tally[tallied.SHORT_FIRST] = time
    tally[tallied.SHORT] += 1
    tally[tallied.SHORT_LAST] = time


@kernel_helper
def _time(tally: Cells, time: int, kind: int, deltas: int) -> int:
    """The frame's time: as written, or counted from the frame before."""
    if tally[tallied.FRAMES] == 0:
        tally[tallied.FIRST_UNTIMED] = kind == UNTIMED
    now: int = tally[tallied.NOW]
    if kind == UNTIMED:
        tally[tallied.UNTIMED] += 1
        return min(now + MILLISECOND, LATEST)
    if kind == DATED:
        tally[tallied.DATED] += 1
    elif kind == SHORT:
        _note_short(tally, time)
    if (kind == SHORT and deltas) or (kind == ABSOLUTE and deltas == 2):
        return min(now, LATEST - time) + time
    if tally[tallied.OPEN]:
        tally[tallied.OPEN] = 0
        tally[tallied.HANGING] = tally[tallied.FRAMES]
        tally[tallied.TIMED_LINE] = tally[tallied.LINES]
    elif time < now:
        note_back(tally, tally[tallied.LINES], now - time)
    return time


@kernel_helper
def _channel(text: Text, at: int, wide: int, space: Workspace) -> int:
    """Index of the channel name, entered if it is new; MOST_CHANNELS when there is no room."""
    known = space.tally[tallied.CHANNELS]
    index = _name_index(text, at, at + wide, space.notes, known)
    if index == known:
        space.tally[tallied.CHANNELS] += 1
        if known < RUN_CHANNELS and wide <= RUN_NAME:
            know_channel(text, at, wide, space.rows[known])
    return index


@kernel_helper
def _bounds(text: Text, p: int, end: int) -> tuple[int, int, int]:
    """The line from p without blanks at its ends: (start, end, place of its line end)."""
    e = p
    while e < end and text[e] != 10:
        e += 1
    stop = e
    if e - p > LONGEST_LINE:
        return skip_blank(text, p, p + LONGEST_LINE), e, stop
    while e > p and is_blank(text[e - 1]):
        e -= 1
    return skip_blank(text, p, e), e, stop


@kernel_helper
def _note_skipped(notes: Cells, tally: Cells, reason: int, at: int) -> None:
    count = tally[tallied.SKIPPED]
    if count < len(notes) - MOST_CHANNELS:
        notes[MOST_CHANNELS + count, 0] = tally[tallied.LINES]
        notes[MOST_CHANNELS + count, 1] = reason
        notes[MOST_CHANNELS + count, 2] = at
    tally[tallied.SKIPPED] += 1
    tally[tallied.DROPPED] += reason == DROPPED
    tally[tallied.LAST] = 2


@kernel_helper
def _note_odd_fd(tally: Cells) -> None:
    if tally[tallied.ODD_FD] == 0:
        tally[tallied.ODD_FD_LINE] = tally[tallied.LINES]
    tally[tallied.ODD_FD] += 1


@kernel_helper
def _one_line(text: Text, p: int, end: int, deltas: int, columns: Columns, space: Workspace) -> int:
    """Any line from p: what it is goes to the columns and the tally. Gives the place behind its line end."""
    tally, record = space.tally, space.record
    tally[tallied.LINES] += 1
    begin, e, stop = _bounds(text, p, end)
    if begin == e or text[begin] == 35 or text[begin] == 59:
        tally[tallied.QUIET] += 1
        tally[tallied.LAST] = 0
        return stop + 1
    at = tally[tallied.BYTES]
    reason = TOO_LONG_LINE if e - p > LONGEST_LINE else read_line(text, begin, e, columns.data, at, record)
    if reason:
        _note_skipped(space.notes, tally, reason, begin)
        return stop + 1
    channel = _channel(text, record[R_NAME], record[R_NAME_END] - record[R_NAME], space)
    if channel == MOST_CHANNELS:
        return end
    if record[R_FLAGS] & FD and not _is_discrete(record[R_LENGTH]):
        _note_odd_fd(tally)
    frames = tally[tallied.FRAMES]
    time = _time(tally, record[R_TIME], record[R_KIND], deltas)
    columns.time_ns[frames] = time
    columns.can_id[frames] = record[R_ID]
    columns.flags[frames] = record[R_FLAGS]
    columns.channel[frames] = channel
    columns.length[frames] = record[R_LENGTH]
    columns.start[frames] = at
    tally[tallied.NOW] = time
    tally[tallied.BYTES] = at + record[R_BYTES]
    tally[tallied.FRAMES] = frames + 1
    tally[tallied.LAST] = 1
    return stop + 1


_COLUMNS = columns_of(Columns)
_SPACE = tuple_of(Workspace, ROW, GRID, array(np.uint64, 2), ROW)


@cached_kernel(U8, INT64, INT64, INT64, _COLUMNS, _SPACE, gives=INT64)
def parse(text: Text, begin: int, end: int, deltas: int, columns: Columns, space: Workspace) -> int:
    """Lines of ``text[begin:end]`` to columns; gives the number of frames.

    deltas:  0 times as written; 1 short times of screen output are steps; 2 those of log lines too
    space:   a cleared ``Workspace``; its tally and notes are the rest of the result
    """
    tally = space.tally
    tally[tallied.OPEN] = 1
    p = begin
    while p < end:
        if not tally[tallied.OPEN] and deltas != 2:
            p = run(text, p, end, columns, space)
        if p < end:
            p = _one_line(text, p, end, deltas, columns, space)
    if tally[tallied.OPEN]:
        tally[tallied.HANGING] = tally[tallied.FRAMES]
    frames: int = tally[tallied.FRAMES]
    return frames
