"""The loops over all frames of a chunk, arrays only. Slow twins are in ``tests/naive.py``."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from netcheck._compile.define import (
    GRID,
    INT64,
    ROW,
    Column,
    array,
    cached_kernel,
    columns_of,
    inlined_helper,
    kernel_helper,
    slot_of,
    tuple_of,
)
from netcheck.capture import ERROR, EXTENDED, FD, NON_DATA, REMOTE, Columns
from netcheck.network._gap_kernels import GAP_BOOK, add_gap, has_pages
from netcheck.network._gaps import GapBook
from netcheck.network._tally_book import (
    BREAKS,
    C_BEYOND,
    C_EARLIEST,
    C_ERRORS,
    C_FD,
    C_FIRST,
    C_FRAMES,
    C_LAST,
    C_LATEST,
    C_NUMBER,
    C_PERIOD,
    C_REMOTES,
    C_SILENCE,
    DONE,
    E_FRAMES,
    E_KEY,
    E_MESSAGE,
    ENTRIES,
    IS_BOUNDED,
    M_COUNT,
    M_KEY,
    M_LAST,
    M_LONGEST,
    M_PERIOD,
    MESSAGES,
    MOST_IDS,
    P_BEFORE,
    P_CHANNEL,
    P_DEPTH,
    P_END,
    P_JUMP,
    P_LONGER,
    P_START,
    PERIODS,
    Placed,
    TallyTables,
)
from netcheck.network._traffic import SLOW_NS

_COLUMNS = columns_of(Columns, is_read_only=True)
TABLES: Final = tuple_of(TallyTables, GRID, GRID, GRID, GRID, GRID, GRID, ROW)
PLACED: Final = tuple_of(
    Placed, array(np.int32), array(np.int32), ROW, array(np.int32), GRID, array(np.int32, 2), ROW
)


@kernel_helper
def _new_message(tables: TallyTables, key: Any) -> Any:
    """The number of an id, given now if it has none; -1 where there are too many."""
    slot = slot_of(key, tables.by_id)
    if tables.by_id[slot, 0] >= 0:
        return tables.by_id[slot, 1]
    number = tables.state[MESSAGES]
    if number == MOST_IDS:
        return np.int64(-1)
    tables.by_id[slot, 0] = tables.messages[number, M_KEY] = key
    tables.by_id[slot, 1] = number
    tables.state[MESSAGES] = number + 1
    return number


@kernel_helper
def _new_entry(tables: TallyTables, key: Any, slot: Any) -> None:
    """An entry for a key that goes into a slot; none for one that is not told apart."""
    message = _new_message(tables, key >> 8)
    if message < 0 and tables.state[IS_BOUNDED]:
        return
    entry = tables.state[ENTRIES]
    tables.state[ENTRIES] = entry + 1
    tables.by_length[slot, 0] = tables.entries[entry, E_KEY] = key
    tables.by_length[slot, 1] = entry
    tables.entries[entry, E_MESSAGE] = message


@inlined_helper
def _duration(periods: Any, row: Any) -> Any:
    return periods[row, P_END] - periods[row, P_START]


@kernel_helper
def _close(periods: Any, row: Any, end: Any) -> None:
    """An awake period that is over: it is linked to the last one before that was longer.

    Along these links jumps of growing width are kept (a skew binary list, Myers 1983), so that the way to
    any of them takes a number of steps that grows with the logarithm only.
    """
    periods[row, P_END] = end
    longer = periods[row, P_BEFORE]
    while longer and _duration(periods, longer) <= _duration(periods, row):
        longer = periods[longer, P_LONGER]
    jump = periods[longer, P_JUMP]
    even = periods[longer, P_DEPTH] - periods[jump, P_DEPTH]
    odd = periods[jump, P_DEPTH] - periods[periods[jump, P_JUMP], P_DEPTH]
    periods[row, P_LONGER] = longer
    periods[row, P_JUMP] = periods[jump, P_JUMP] if even == odd else longer
    periods[row, P_DEPTH] = periods[longer, P_DEPTH] + 1


@kernel_helper
def longest_after(periods: Any, row: Any, mine: Any) -> Any:
    """The longest of the periods behind ``mine`` up to ``row``, which are over, ns."""
    if row <= mine:
        return np.int64(0)
    while periods[row, P_LONGER] > mine:
        row = periods[row, P_JUMP] if periods[row, P_JUMP] > mine else periods[row, P_LONGER]
    return _duration(periods, row)


@kernel_helper
def _begin_period(tables: TallyTables, breaks: Column, channel: Any, now: Any) -> None:
    row = tables.channels[channel]
    period = tables.state[PERIODS]
    tables.state[PERIODS] = period + 1
    if row[C_PERIOD]:
        _close(tables.periods, row[C_PERIOD], row[C_LAST])
        row[C_NUMBER] += 1
        found = breaks[tables.state[BREAKS]]
        found[0], found[1], found[2] = channel, row[C_LAST], now
        tables.state[BREAKS] += 1
    else:
        row[C_FIRST] = now
    tables.periods[period, P_CHANNEL] = channel
    tables.periods[period, P_START] = now
    tables.periods[period, P_BEFORE] = row[C_PERIOD]
    row[C_PERIOD] = period


@kernel_helper
def _outside(tables: TallyTables, message: Any, period: Any) -> Any:
    """The longest time awake without the message in periods before ``period``, ns."""
    mine = tables.messages[message, M_PERIOD]
    longest = longest_after(tables.periods, tables.periods[period, P_BEFORE], mine)
    if mine:
        longest = max(longest, tables.periods[mine, P_END] - tables.messages[message, M_LAST])
    return longest


@kernel_helper
def _add_slow(slow: GapBook, message: Any, gap: Any) -> Any:
    """Counts a gap over SLOW_NS; gives whether there is room for another one."""
    add_gap(slow, message, gap)
    return has_pages(slow.pages, slow.page_counts)


@kernel_helper
def _begin_message(tables: TallyTables, message: Any, period: Any, now: Any) -> None:
    """The first frame of a message in an awake period."""
    row = tables.messages[message]
    row[M_LONGEST] = max(row[M_LONGEST], _outside(tables, message, period))
    row[M_LONGEST] = max(row[M_LONGEST], now - tables.periods[period, P_START])
    row[M_PERIOD] = period


@kernel_helper
def _has_room(tables: TallyTables, slow: GapBook) -> Any:
    state = tables.state
    return (
        state[ENTRIES] < len(tables.entries)
        and state[MESSAGES] < len(tables.messages)
        and state[PERIODS] < len(tables.periods)
        and has_pages(slow.pages, slow.page_counts)
    )


@inlined_helper
def _count(row: Any, kind: Any, now: Any) -> None:
    """A frame of any kind. row: of its channel"""
    if row[C_FRAMES] == 0:
        row[C_EARLIEST] = row[C_LATEST] = now
    row[C_FRAMES] += 1
    row[C_EARLIEST] = min(row[C_EARLIEST], now)
    row[C_LATEST] = max(row[C_LATEST], now)
    if kind & ERROR:
        row[C_ERRORS] += 1
    elif kind & REMOTE:
        row[C_REMOTES] += 1
    elif kind & FD:
        row[C_FD] += 1


@inlined_helper
def _follow(
    tables: TallyTables, placed: Placed, frame: Any, message: Any, now: Any, gap: Any, period: Any
) -> None:
    """A frame of a message, for its shard. gap: to the frame before, whenever that was"""
    seen = tables.messages[message]
    if seen[M_PERIOD] == period:
        placed.gap[frame] = gap
        seen[M_LONGEST] = max(seen[M_LONGEST], gap)
    else:
        placed.gap[frame] = -1
        _begin_message(tables, message, period, now)
    shard = message & (len(placed.counts) - 1)
    placed.rows[shard, placed.counts[shard]] = frame
    placed.counts[shard] += 1


@cached_kernel(_COLUMNS, TABLES, GAP_BOOK, PLACED)
def place_frames(columns: Columns, tables: TallyTables, slow: GapBook, placed: Placed) -> None:
    """Counts frames from the state's DONE on, by channel, id width, id and length; finds awake periods.

    slow: gaps of each message over SLOW_NS, whether the channel was awake in between or not
    Stops before a frame for which there may be no room.
    """
    time_ns, can_id, flags, channel, length, _, _ = columns
    is_shared = len(placed.counts) > 0
    frame = tables.state[DONE]
    has_room = _has_room(tables, slow)
    while frame < len(time_ns) and has_room:
        at = np.uint64(frame)  # nothing is counted from the end
        number, now, kind = np.int64(channel[at]), time_ns[at], flags[at]
        row = tables.channels[number]
        _count(row, kind, now)
        placed.entry[at] = -1
        if is_shared:
            placed.wire[at] = -1
        if kind & NON_DATA:
            frame += 1
            continue
        if row[C_PERIOD] == 0 or abs(now - row[C_LAST]) > row[C_SILENCE]:
            _begin_period(tables, placed.breaks, number, now)
            has_room = _has_room(tables, slow)
        row[C_LAST] = now
        placed.awake[at] = row[C_NUMBER]
        wide = np.int64((kind & EXTENDED) != 0)
        key = ((number << 1 | wide) << 29 | np.int64(can_id[at])) << 8 | np.int64(length[at])
        slot = slot_of(key, tables.by_length)
        if tables.by_length[slot, 0] < 0:
            _new_entry(tables, key, slot)
            has_room = _has_room(tables, slow)
        entry = tables.by_length[slot, 1] if tables.by_length[slot, 0] >= 0 else np.int64(-1)
        message = np.int64(-1)
        if entry >= 0:
            placed.entry[at] = entry
            tables.entries[entry, E_FRAMES] += 1
            message = tables.entries[entry, E_MESSAGE]
        if message < 0:
            row[C_BEYOND] += 1
        else:
            seen = tables.messages[message]
            gap = max(now - seen[M_LAST], 0) if seen[M_COUNT] else np.int64(0)
            if gap > SLOW_NS:
                has_room &= _add_slow(slow, message, gap)
            if is_shared:
                _follow(tables, placed, frame, message, now, gap, row[C_PERIOD])
            seen[M_COUNT] += 1
            seen[M_LAST] = now
        frame += 1
    tables.state[DONE] = frame


@cached_kernel(TABLES)
def close_awake(tables: TallyTables) -> None:
    """The time from each message's last frame to the end of its channel's last awake period."""
    for number in range(tables.state[MESSAGES]):
        row = tables.messages[number]
        channel = tables.channels[row[M_KEY] >> 30]
        period = channel[C_PERIOD]
        if row[M_PERIOD] == period:
            outside = channel[C_LAST] - row[M_LAST]
        else:
            outside = _outside(tables, number, period)
            outside = max(outside, channel[C_LAST] - tables.periods[period, P_START])
        row[M_LONGEST] = max(row[M_LONGEST], outside)


@cached_kernel(GRID, GRID, INT64)
def enter(table: Column, rows: Column, count: int) -> None:
    """The first ``count`` rows, by their keys, into an empty table that has room for them."""
    for number in range(count):
        slot = slot_of(rows[number, 0], table)
        table[slot, 0] = rows[number, 0]
        table[slot, 1] = number
