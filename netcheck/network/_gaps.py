"""Gaps between frames and how often each came: the one form of them, in little memory.

Every different gap has a row of its own at first, so that a few of them are counted exactly. Where there are
too many, they are counted in classes 0.4 % wide (256 of 1024 ns, then 256 for each doubling), each with the
sum of its gaps: a gap that keeps coming is exact there, too. When that happens depends on the gaps alone and
not on their order.
"""

from __future__ import annotations

from functools import cached_property
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.records import dataclass

_KERNELS: Final = kernels("netcheck.network._gap_kernels")

PAGE: Final = 256  # classes
OCTAVES: Final = 30
FIRST_OCTAVE: Final = 18  # gaps below 2^18 ns are on the first page
IN_CLASSES: Final = -1  # for the number of different gaps
_EXACT: Final = 1 << 13  # rows for the gaps of one message that is looked at closely; half are used
_FEW: Final = 1 << 6  # rows to begin with: most messages have few different gaps


@dataclass(frozen=True, eq=False)
class Gaps:
    """How often each gap came: ``values`` ascending and distinct, in ns, with their ``counts``."""

    values: NDArray[np.int64]
    counts: NDArray[np.int64]

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Gaps):
            return NotImplemented
        return np.array_equal(self.values, other.values) and np.array_equal(self.counts, other.counts)

    def __hash__(self) -> int:
        return hash((self.values.tobytes(), self.counts.tobytes()))

    @staticmethod
    def none() -> Gaps:
        """No gap at all."""
        return _NONE

    @staticmethod
    def of(values: NDArray[np.int64], counts: NDArray[np.int64]) -> Gaps:
        """Gaps in any order, which may be there several times."""
        order = values.argsort()
        ascending, is_new = values[order], np.ones(len(values), np.bool_)
        np.not_equal(ascending[1:], ascending[:-1], out=is_new[1:])
        begins = is_new.nonzero()[0]
        return Gaps(ascending[begins], np.add.reduceat(counts[order], begins))

    def __add__(self, other: Gaps) -> Gaps:
        if not len(self.values) or not len(other.values):
            return self if len(self.values) else other
        return Gaps.of(
            np.concatenate((self.values, other.values)), np.concatenate((self.counts, other.counts))
        )

    @cached_property
    def _ends(self) -> NDArray[np.int64]:
        """How many gaps are as long as each value or shorter."""
        return np.cumsum(self.counts)

    def __len__(self) -> int:
        return int(self._ends[-1]) if len(self.values) else 0

    def percentile_ns(self, percent: int) -> int | None:
        """The gap at a percentile by nearest rank: the ⌈percent/100·n⌉-th smallest; None without gaps."""
        total = len(self)
        if not total:
            return None
        return self.ranked_ns(max(1, -(-percent * total // 100)))

    def ranked_ns(self, rank: int) -> int:
        """The gap of a rank, 1 for the smallest; there are that many."""
        return int(self.values[int(np.searchsorted(self._ends, rank))])

    def longer_than(self, gap_ns: int) -> int:
        """How many gaps are longer than that."""
        return int(self.counts[self.values > gap_ns].sum())

    @property
    def mean_ns(self) -> float | None:
        """The mean gap; None without gaps."""
        return float((self.values * (self.counts / len(self))).sum()) if len(self.values) else None

    @property
    def longest_ns(self) -> int | None:
        """The longest gap; None without gaps."""
        return int(self.values[-1]) if len(self.values) else None


_NONE: Final = Gaps(np.empty(0, np.int64), np.empty(0, np.int64))


class GapBook(NamedTuple):
    """Arrays that kernels write, a row a message.

    exact:       int64, (n, a power of two, 2): an open-addressed table of gaps and how often each came; an
                 empty row has the gap -1
    known:       int64, (n,): different gaps in that table, IN_CLASSES once there were too many
    page_of:     int32, (n, OCTAVES): page of an octave, 0 if none
    page_counts: int32, (pages, PAGE): gaps of a class
    page_sums:   int64, likewise: by how much together they exceed its lower end, ns
    pages:       int64, (1,): pages in use
    """

    exact: NDArray[np.int64]
    known: NDArray[np.int64]
    page_of: NDArray[np.int32]
    page_counts: NDArray[np.int32]
    page_sums: NDArray[np.int64]
    pages: NDArray[np.int64]

    @classmethod
    def empty(cls, messages: int, exact: int, pages: int = 2 * OCTAVES) -> GapBook:
        """Room for so many messages, with ``exact`` rows each for different gaps."""
        return cls(
            np.full((messages, exact, 2), -1, np.int64),
            np.zeros(messages, np.int64),
            np.zeros((messages, OCTAVES), np.int32),
            np.zeros((pages, PAGE), np.int32),
            np.zeros((pages, PAGE), np.int64),
            np.ones(1, np.int64),
        )

    @property
    def is_tight(self) -> bool:
        """Whether the next gap may find no page."""
        return int(self.pages[0]) + OCTAVES > len(self.page_counts)

    def grown(self, messages: int) -> GapBook:
        """The same with room for so many messages, and for pages."""
        book = self
        if messages > len(book.known):
            more = GapBook.empty(messages, book.exact.shape[1], 1)
            for name in ("exact", "known", "page_of"):
                getattr(more, name)[: len(book.known)] = getattr(book, name)
            book = book._replace(exact=more.exact, known=more.known, page_of=more.page_of)
        if book.is_tight:
            more = GapBook.empty(1, 1, 2 * len(book.page_counts))
            more.page_counts[: len(book.page_counts)] = book.page_counts
            more.page_sums[: len(book.page_sums)] = book.page_sums
            book = book._replace(page_counts=more.page_counts, page_sums=more.page_sums)
        return book

    def copied(self) -> GapBook:
        """The same in arrays of its own."""
        return self._replace(**{name: array.copy() for name, array in self._asdict().items()})

    def gaps(self, message: int) -> Gaps:
        """The gaps of one message."""
        if self.known[message] != IN_CLASSES:
            values, counts = self.exact[message][self.exact[message, :, 0] >= 0].T
            order = np.argsort(values)
            return Gaps(values[order], counts[order])
        means, sums = [], []
        for octave in np.flatnonzero(self.page_of[message]).tolist():
            page = self.page_of[message, octave]
            index = np.flatnonzero(self.page_counts[page])
            count = self.page_counts[page, index].astype(np.int64)
            shift = 10 if octave == 0 else octave + FIRST_OCTAVE - 1 - 8
            base = 0 if octave == 0 else PAGE << shift
            means.append(base + (index << shift) + (self.page_sums[page, index] + count // 2) // count)
            sums.append(count)
        return Gaps.of(np.concatenate(means), np.concatenate(sums))


class GapTally:
    """Gaps in ns of one message while they are being added up."""

    def __init__(self) -> None:
        self._book: GapBook | None = None  # none before the first gap: many a watched message never comes

    def add(self, gaps: NDArray[np.int64]) -> None:
        """Count gaps of any order, none below 0."""
        if not len(gaps):
            return
        self._book = _counted(gaps, self._with_rows(len(gaps)))

    def _with_rows(self, more: int) -> GapBook:
        """The book with rows for so many more different gaps, as far as each is to have its own."""
        book = self._book
        rows = 0 if book is None else book.exact.shape[1]
        needed = 2 * (more if book is None else int(book.known[0]) + more)
        if book is not None and (rows == _EXACT or needed <= rows):
            return book
        rows = min(max(_FEW, 1 << needed.bit_length()), _EXACT)
        larger = GapBook.empty(1, rows, 1 + OCTAVES) if rows == _EXACT else _with_rows_only(rows)
        if book is None:
            return larger
        before = book.gaps(0)
        return _counted(np.repeat(before.values, before.counts), larger)

    def copy(self) -> GapTally:
        """One that goes its own way from here."""
        other = GapTally()
        other._book = self._book and self._book.copied()
        return other

    def result(self) -> Gaps:
        """The sum."""
        return Gaps.none() if self._book is None else self._book.gaps(0)


_UNUSED: Final = GapBook.empty(1, 1, 1 + OCTAVES)  # its pages are never written to


def _with_rows_only(rows: int) -> GapBook:
    """A book for gaps that all find rows of their own: it has no use for pages, which the kernel asks for."""
    book = GapBook.empty(1, rows, 1)
    return book._replace(page_counts=_UNUSED.page_counts, page_sums=_UNUSED.page_sums)


def _counted(gaps: NDArray[np.int64], book: GapBook) -> GapBook:
    """The book with gaps more, none below 0."""
    done = _KERNELS.add_gaps(gaps, 0, book)
    while done < len(gaps):
        book = book.grown(1)
        done = _KERNELS.add_gaps(gaps, done, book)
    return book
