"""The loop over a channel's frames that looks for what the recorder did to them. Arrays only.

A counter is four bits that went up by one eight times in a row. A step of another size is a skip: of the
numbers of frames that fit it, the one nearest to the time that went by is taken.

What takes the columns is put in line: else they are handed over, array by array, at each call.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from netcheck._compile.define import (
    GRID,
    I64,
    ROW,
    array,
    cached_kernel,
    columns_of,
    inlined_helper,
    kernel_helper,
    slot_of,
    tuple_of,
)
from netcheck.capture import EXTENDED, NON_DATA, Columns
from netcheck.network._recorder_book import (
    ALL_GAPS,
    ALL_TIME,
    ALWAYS,
    AWAKE_NS,
    BATCHED,
    FOLLOWED,
    FRAMES,
    GAP_TIME,
    GAPS,
    GOOD,
    GOOD_TIME,
    KEY,
    KNOWN_GAPS,
    LAST,
    LATEST,
    LONGEST,
    MISSING,
    MOMENTS,
    MOST_FOLLOWED,
    NIBBLE,
    OVER,
    OVER_COUNTING,
    OVER_LATE,
    OVER_SKIPPED,
    REPEATS,
    RESETS_14,
    RESETS_15,
    RUN,
    SEEN,
    SINCE,
    SKIP_TIME,
    SKIPPED,
    SKIPS,
    STALL,
    STALL_BEGIN,
    STALL_END,
    STALL_GAPS,
    STALL_NS,
    STALL_NUMBER,
    STALL_SUMS,
    STALLS,
    TAKEN,
    TIME_14,
    TIME_15,
    TIMES_MISSED,
    TOGETHER,
    TOGETHER_NS,
    TRIAL,
    WARM,
    RecorderBook,
)

_COLUMNS = columns_of(Columns, is_read_only=True)
_BOOK = tuple_of(RecorderBook, GRID, array(np.uint64, 2), ROW)
_LOW: Final = np.uint64(0x1111111111111111)
_THREE: Final = np.uint64(0x7777777777777777)
_HIGH: Final = np.uint64(0x8888888888888888)
_ONE: Final = np.uint64(1)
_TWO: Final = np.uint64(2)
_FIFTEEN: Final = np.uint64(15)
_EIGHT: Final = np.uint64(8)


@kernel_helper
def _payload_of(columns: Columns, frame: int) -> Any:
    """The first eight bytes; those that a shorter frame lacks are 0."""
    word = np.uint64(0)
    start = columns.start[frame]
    length: Any = columns.length[frame]
    for byte in range(min(np.int64(length), np.int64(8))):
        word |= np.uint64(columns.data[start + byte]) << (_EIGHT * np.uint64(byte))
    return word


@kernel_helper
def _counted(before: Any, after: Any) -> Any:
    """The lowest bit of each four that went up by one, modulo 16."""
    expected = ((before & _THREE) + _LOW) ^ (before & _HIGH)
    other = expected ^ after
    other |= other >> _ONE
    other |= other >> _TWO
    return ~other & _LOW


@kernel_helper
def _try(slot: Any, words: Any, before: Any, after: Any) -> None:
    """A step of an id of which no counter is known."""
    mask = _counted(before, after)
    alive = words[1] & mask if slot[RUN] else mask
    slot[RUN] = slot[RUN] + 1 if alive else 0
    if not alive and mask:
        alive = mask
        slot[RUN] = 1
    words[1] = alive
    if slot[RUN] >= TRIAL:
        place = np.int64(0)
        while not (alive >> np.uint64(4 * place)) & _ONE:
            place += 1
        slot[NIBBLE] = place + 1
        words[0] = (after >> np.uint64(4 * place)) & _FIFTEEN


@inlined_helper
def _value_of(slot: Any, columns: Columns, frame: int) -> Any:
    """The counter's four bits; 0 where the frame is too short."""
    place = slot[NIBBLE] - 1
    if place >= 2 * np.int64(columns.length[frame]):
        return np.int64(0)
    return (np.int64(columns.data[columns.start[frame] + place // 2]) >> (4 * (place & 1))) & 15


@kernel_helper
def _count(slot: Any, before: Any, now: Any, gap: Any) -> Any:
    """A step of an id's counter; whether it skipped frames."""
    slot[SEEN] |= np.int64(1) << now
    difference = (now - before) & 15
    if difference == 1:
        slot[GOOD] += 1
        slot[GOOD_TIME] += gap
        return False
    if difference == 0:
        slot[REPEATS] += 1
    elif before == 14 and now == 0:
        slot[RESETS_14] += 1
        slot[TIME_14] += gap
        return False
    elif before == 15 and now == 1:
        slot[RESETS_15] += 1
        slot[TIME_15] += gap
        return False
    elif slot[GOOD] >= TRIAL and slot[GOOD_TIME] > 0:
        steps = difference
        mean = slot[GOOD_TIME] / slot[GOOD]
        while (steps + 8) * mean < gap:
            steps += 16
        slot[SKIPS] += 1
        slot[SKIP_TIME] += gap
        slot[MISSING] += steps - 1
    if slot[SKIPS] + slot[REPEATS] > 2 * slot[GOOD] + 32:  # it only looked like a counter
        for place in range(RUN, STALL):
            slot[place] = 0
        return False
    return difference > 1


@kernel_helper
def _skip(row: Any, last: Any, now: Any) -> None:
    """A counter skipped between two times: at one moment with others, or alone."""
    if row[SKIPPED] and last < row[SINCE] and now - row[SINCE] < AWAKE_NS:
        row[SKIPPED] += 1
        if row[SKIPPED] == TOGETHER:
            row[MOMENTS] += 1
    else:
        row[SINCE] = now
        row[SKIPPED] = 1


@kernel_helper
def _after_stall(slot: Any, row: Any, now: Any, gap: Any, skipped: Any) -> None:
    """An id's first frame after a silence of all ids, and the one that follows it."""
    if slot[STALL] and slot[STALL] == row[STALL_NUMBER]:
        row[OVER_LATE] += 2 * gap * slot[GAPS] < slot[GAP_TIME]
        slot[STALL] = 0
        return
    length = row[STALL_END] - row[STALL_BEGIN]
    begin, end = row[STALL_BEGIN], row[STALL_END]
    if not length or slot[LAST] > begin or slot[LAST] < begin - length or now - end > length:
        return
    if slot[GAPS] < KNOWN_GAPS or slot[GAP_TIME] * TIMES_MISSED > length * slot[GAPS]:
        return
    slot[STALL] = row[STALL_NUMBER]
    row[OVER] += 1
    if slot[NIBBLE]:
        row[OVER_COUNTING] += 1
        row[OVER_SKIPPED] += skipped


@kernel_helper
def _end_stall(row: Any) -> None:
    """Adds the stall at hand to those that were one."""
    if row[OVER] >= TOGETHER:
        row[STALLS] += 1
        row[LONGEST] = max(row[LONGEST], row[STALL_END] - row[STALL_BEGIN])
        for place in range(4):
            row[STALL_SUMS + place] += row[OVER + place]
    for place in range(4):
        row[OVER + place] = 0
    row[STALL_BEGIN] = row[STALL_END]


@kernel_helper
def _take_time(row: Any, now: Any) -> None:
    """The time between a frame of any id and the one before."""
    gap = now - row[LATEST]
    if row[TAKEN] and 0 <= gap < AWAKE_NS:
        row[BATCHED] += gap < TOGETHER_NS
        if gap >= STALL_NS and row[ALL_GAPS] >= WARM and gap * row[ALL_GAPS] >= STALL_GAPS * row[ALL_TIME]:
            _end_stall(row)
            row[STALL_NUMBER] += 1
            row[STALL_BEGIN] = row[LATEST]
            row[STALL_END] = now
        row[ALL_GAPS] += 1
        row[ALL_TIME] += gap
    row[LATEST] = now
    row[TAKEN] += 1


@inlined_helper
def _take_step(slot: Any, words: Any, columns: Columns, frame: int, gap: Any) -> Any:
    """What the payload says of frames that are missing; gap: since the id's last frame, -1 for no step."""
    if slot[NIBBLE]:
        before, now = np.int64(words[0]), _value_of(slot, columns, frame)
        words[0] = np.uint64(now)
        return gap >= 0 and _count(slot, before, now, gap)
    place = slot[FRAMES] & 255
    if slot[FRAMES] < ALWAYS or place < 64:
        after = _payload_of(columns, frame)
        if gap >= 0 and (slot[FRAMES] < ALWAYS or place > 0):
            _try(slot, words, words[0], after)
        else:
            slot[RUN] = 0
        if not slot[NIBBLE]:
            words[0] = after
    return False


@inlined_helper
def _take_frame(slot: Any, words: Any, row: Any, columns: Columns, frame: int) -> None:
    now = columns.time_ns[frame]
    gap = now - slot[LAST]
    if not slot[FRAMES] or gap < 0 or gap >= AWAKE_NS:
        gap = np.int64(-1)
    skipped = _take_step(slot, words, columns, frame, gap)
    if gap >= 0:
        if skipped:
            _skip(row, slot[LAST], now)
        if row[STALL_NUMBER]:
            _after_stall(slot, row, now, gap, skipped)
        slot[GAPS] += 1
        slot[GAP_TIME] += gap
    slot[FRAMES] += 1
    slot[LAST] = now


@cached_kernel(_COLUMNS, I64, _BOOK)
def take_channel(columns: Columns, rows: Any, book: RecorderBook) -> None:
    """Takes the frames of one channel, those at ``rows``; frames of no message are left out."""
    row = book.row
    for place in range(len(rows)):
        frame = rows[place]
        flags = columns.flags[frame]
        if flags & NON_DATA:
            continue
        now = columns.time_ns[frame]
        _take_time(row, now)
        wide = np.int64(1 if flags & EXTENDED else 0)
        key = wide << 29 | np.int64(columns.can_id[frame])
        at = slot_of(key, book.slots)
        if book.slots[at, KEY] < 0:
            if row[FOLLOWED] == MOST_FOLLOWED:
                continue
            row[FOLLOWED] += 1
            book.slots[at, KEY] = key
        _take_frame(book.slots[at], book.words[at], row, columns, frame)
