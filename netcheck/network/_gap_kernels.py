"""Gaps into a ``GapBook``, arrays only.

What is done for each frame is put in line: else a whole book is handed over, array by array, at each call.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from netcheck._compile.define import (
    GRID,
    I64,
    INT64,
    ROW,
    Column,
    array,
    cached_kernel,
    inlined_helper,
    kernel_helper,
    slot_of,
    tuple_of,
    zeros_above,
)
from netcheck.network._gaps import FIRST_OCTAVE, IN_CLASSES, OCTAVES, GapBook

GAP_BOOK = tuple_of(
    GapBook,
    array(np.int64, 3),
    ROW,
    array(np.int32, 2),
    array(np.int32, 2),
    GRID,
    ROW,
)


@inlined_helper
def _add_to_class(page_of: Column, counts: Column, sums: Column, pages: Column, gap: Any, count: Any) -> None:
    """A gap into its class. page_of: of the message; the rest as in the book."""
    octave, index = np.int64(0), gap >> 10
    low = index << 10
    if gap >> FIRST_OCTAVE:
        top = min(63 - zeros_above(np.uint64(gap)), np.int64(FIRST_OCTAVE + OCTAVES - 2))
        octave = top - FIRST_OCTAVE + 1
        index = min((gap - (np.int64(1) << top)) >> (top - 8), np.int64(255))
        low = (np.int64(1) << top) + (index << (top - 8))
    page = np.int64(page_of[octave])
    if page == 0:
        page = pages[0]
        pages[0] = page + 1
        page_of[octave] = page
    counts[page, index] += count
    sums[page, index] += (gap - low) * count


@kernel_helper
def _spill(book: GapBook, number: Any) -> None:
    """From rows of their own to classes."""
    table = book.exact[number]
    for row in range(len(table)):
        if table[row, 0] >= 0:
            _add_to_class(
                book.page_of[number],
                book.page_counts,
                book.page_sums,
                book.pages,
                table[row, 0],
                table[row, 1],
            )
    book.known[number] = IN_CLASSES


@inlined_helper
def has_pages(pages: Column, counts: Column) -> Any:
    """Whether a book has room for a gap whatever it is."""
    return pages[0] + OCTAVES <= len(counts)


@inlined_helper
def add_gap(book: GapBook, number: Any, gap: Any) -> None:
    """Count one gap, of 0 or more, in row ``number``; the book has pages."""
    is_counted = False
    known = book.known[number]
    if known != IN_CLASSES:
        table = book.exact[number]
        slot = slot_of(gap, table)
        if table[slot, 0] == gap:
            table[slot, 1] += 1
            is_counted = True
        elif 2 * known < len(table):
            table[slot, 0] = gap
            table[slot, 1] = 1
            book.known[number] = known + 1
            is_counted = True
        else:
            _spill(book, number)
    if not is_counted:
        page_of = book.page_of[number]
        _add_to_class(page_of, book.page_counts, book.page_sums, book.pages, gap, np.int64(1))


@cached_kernel(I64, INT64, GAP_BOOK, gives=INT64)
def add_gaps(gaps: Column, begin: int, book: GapBook) -> int:
    """Counts gaps from place ``begin`` on in row 0. Gives the place of the first one for which there may be
    no room.
    """
    place = begin
    while place < len(gaps) and has_pages(book.pages, book.page_counts):
        add_gap(book, 0, gaps[place])
        place += 1
    return place
