"""The short way through candump text, for numba: consecutive lines of the commonest form."""

from __future__ import annotations

from typing import Final

import numpy as np

from netcheck._compile.define import kernel_helper, put_word, word_at, zeros_below
from netcheck.capture import _tally as tallied
from netcheck.capture._arrays import Cells, Text, Words
from netcheck.capture._capture import EXTENDED, Columns
from netcheck.capture._codes import RUN_CHANNELS
from netcheck.capture._columns import Workspace
from netcheck.capture._swar import (
    U,
    hex_bytes,
    hex_value,
    low_bytes,
    not_hex,
    six_are_digits,
    six_digits,
)

RUN_NAME: Final = 15  # bytes of the longest channel name that ``run`` knows
REACH: Final = (
    96  # bytes behind a line's start that may be looked at; the last lines of a stretch are not for run
)


@kernel_helper
def know_channel(text: Text, at: int, wide: int, row: Words) -> None:
    """Fills a row for ``run``: two words of the name with the blank behind it, each with its mask."""
    for half in range(2):
        word = U(0)
        for i in range(8 * half, min(wide + 1, 8 * half + 8)):
            character = U(text[at + i]) if i < wide else U(32)
            word |= character << U(8 * (i - 8 * half))
        row[2 * half] = word
        row[2 * half + 1] = low_bytes(wide + 1 - 8 * half)


@kernel_helper
def _find_channel(text: Text, q: int, rows: Words, guess: int, known: int) -> int:
    """Index of the channel whose name and a blank stand at q, the guess tried first; ``known`` if none."""
    one, two = word_at(text, q), word_at(text, q + 8)
    row = rows[guess]
    if (one & row[1]) == row[0] and (two & row[3]) == row[2]:
        return guess
    for i in range(known):
        row = rows[i]
        if (one & row[1]) == row[0] and (two & row[3]) == row[2]:
            return i
    return known


@kernel_helper
def _seconds(text: Text, p: int) -> tuple[int, int]:
    """``(digits.`` from p on: (number, how many digits), 0 digits when it is something else."""
    seconds = 0
    q = p + 1
    while 48 <= text[q] <= 57 and q - p <= 10:
        seconds = seconds * 10 + (text[q] - 48)
        q += 1
    good = text[p] == 40 and text[q] == 46 and seconds <= 9_223_372_035  # ( .
    return seconds, (q - p - 1 if good else 0)


@kernel_helper
def _id(text: Text, q: int) -> tuple[int, int, int]:
    """``123#`` or ``12345678#`` from q on: (place behind, id, flags), place -1 when it is neither."""
    word = word_at(text, q)
    short = text[q + 3] == 35  # #
    if short:
        word = ((word & U(0xFFFFFF)) << U(40)) | U(0x3030303030)  # five zeros before it
    value: int = np.int64(hex_value(word))  # type: ignore[assignment]
    if not_hex(word) or value > (0x7FF if short else 0x1FFFFFFF):
        return -1, 0, 0
    if short:
        return q + 4, value, 0
    return (q + 9 if text[q + 8] == 35 else -1), value, EXTENDED


@kernel_helper
def _data(text: Text, q: int, data: Text, at: int) -> tuple[int, int]:
    """Up to 16 hex digits and the line end: (place behind, payload bytes), place -1 for another form."""
    one, two = word_at(text, q), word_at(text, q + 8)
    put_word(data, at, hex_bytes(one) | (hex_bytes(two) << U(32)))
    digits = zeros_below(not_hex(one)) >> 3
    if digits == 8:
        digits += zeros_below(not_hex(two)) >> 3
    q += digits
    c = text[q]
    if c == 32 and (text[q + 1] == 82 or text[q + 1] == 84):  # R T
        q += 2
        c = text[q]
    if c == 13:
        q += 1
        c = text[q]
    return (q + 1 if c == 10 and not digits & 1 else -1), digits >> 1


@kernel_helper
def note_back(tally: Cells, line: int, step: int) -> None:
    """Counts a step backwards in time."""
    if tally[tallied.BACK] == 0:
        tally[tallied.BACK_LINE] = line
    tally[tallied.BACK] += 1
    tally[tallied.BACK_MOST] = max(tally[tallied.BACK_MOST], step)


@kernel_helper
def run(text: Text, p: int, end: int, columns: Columns, space: Workspace) -> int:  # noqa: PLR0915 - one hot loop
    """Reads lines ``(seconds.micros) channel id#data[ R|T]`` from p on, of channels known already.

    Stops, and gives the place, at the first line of any other form; the tally holds the state before and
    after. Every byte of a line is looked at, so that no wrong line can pass.
    """
    tally = space.tally
    frames = tally[tallied.FRAMES]
    at = tally[tallied.BYTES]
    now = tally[tallied.NOW]
    ahead = tally[tallied.LINES] - frames
    known = min(tally[tallied.CHANNELS], RUN_CHANNELS)
    channel = int(np.int64(0))  # with a bare 0, numba would compile for that 0 and again for any number
    prefix = 0  # bytes of "(seconds."
    base = 0  # ns
    first = second = first_mask = second_mask = U(0)
    while p <= end - REACH:
        # The seconds seldom change from line to line: compare with those before.
        if (
            (word_at(text, p) & first_mask) != first
            or (word_at(text, p + 8) & second_mask) != second
            or not prefix
        ):
            base, digits = _seconds(text, p)
            if not digits:
                break
            base *= 1_000_000_000
            prefix = digits + 2
            first_mask = low_bytes(prefix)
            second_mask = low_bytes(prefix - 8)
            first = word_at(text, p) & first_mask
            second = word_at(text, p + 8) & second_mask
        q = p + prefix
        word = word_at(text, q)
        if (word >> U(48)) != U(0x2029) or not six_are_digits(word):  # ) and a blank
            break
        time = base + six_digits(word) * 1000
        q += 8
        found = _find_channel(text, q, space.rows, channel, known)
        if found == known:
            break
        channel = found
        q, value, flags = _id(text, q + space.notes[channel, 1] + 1)
        if q < 0:
            break
        q, count = _data(text, q, columns.data, at)
        if q < 0:
            break
        if time < now:
            note_back(tally, frames + ahead + 1, now - time)
        now = time
        columns.time_ns[frames] = time
        columns.can_id[frames] = value
        columns.flags[frames] = flags
        columns.channel[frames] = channel
        columns.length[frames] = count
        columns.start[frames] = at
        at += count
        frames += 1
        p = q
    if frames > tally[tallied.FRAMES]:
        tally[tallied.LAST] = 1
    tally[tallied.FRAMES] = frames
    tally[tallied.BYTES] = at
    tally[tallied.NOW] = now
    tally[tallied.LINES] = frames + ahead
    return p
