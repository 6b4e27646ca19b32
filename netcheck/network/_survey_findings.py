"""From the book of a survey to what each id does: times, bytes, counters, checksums.

What is found must be no accident:

- a counter needs 20 steps, nine of ten of +1, and must have been seen to begin at 0 again;
- a checksum needs 16 changes of the payload, 8 different payloads, and four of five frames that pass; its
  byte must change at nine of ten changes. A wrong byte or kind would pass by chance once in 256 payloads.
- a sum or an exclusive-or needs two other changing bytes, and must not be a copy or the complement of
  one of them, as doubled values are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from netcheck.network._survey_book import (
    CRC_1D,
    CRC_2F,
    FIRST_OCTAVE,
    I_COUNT,
    I_DISTINCT,
    I_GAPS,
    I_LONGEST,
    I_RUNS,
    K_BIT,
    K_CARRIES,
    K_RESETS,
    K_RIGHT,
    K_STEPS,
    K_WRAPS,
    OCTAVES,
    PAGE,
    SUM_OF_ALL,
    SUM_OF_OTHERS,
    T_FAILED,
    T_FAILED_RUNS,
    T_PASSED,
    T_PASSED_RUNS,
    XOR_OF_ALL,
    Book,
)
from netcheck.network._survey_model import ByteKind, ChecksumFinding, ChecksumKind, Counter, Timing

LEAST_STEPS: Final = 20
LEAST_CHANGES: Final = 16
LEAST_PAYLOADS: Final = 8
SHARE: Final = 0.9
PASSING: Final = 0.8  # frames with a right checksum; kinds that fail more often are given up while looking
CYCLIC_GAPS: Final = 5
CYCLIC_SHARE: Final = 0.8
CYCLIC_BAND: Final = 0.5  # of the usual gap, the mean of those that are no pauses
CYCLIC_SLACK_NS: Final = 10_000_000  # recorders stamp frames in batches: fast messages jump by that much
CYCLIC_PAUSES: Final = 0.05  # share of gaps beyond three medians: more of them are bursts

_NAMES: Final = {
    CRC_1D: ChecksumKind.CRC_J1850,
    CRC_2F: ChecksumKind.CRC_2F,
    SUM_OF_OTHERS: ChecksumKind.SUM,
    XOR_OF_ALL: ChecksumKind.XOR,
    SUM_OF_ALL: ChecksumKind.SUM_COMPLEMENT,
}


@dataclass(frozen=True)
class Buckets:
    """A message's gaps, ascending: the mean gap of each bucket in ns, and how many."""

    mean_ns: NDArray[np.float64]
    counts: NDArray[np.int64]

    def percentile_ns(self, percent: int) -> float:
        """By nearest rank."""
        rank = max(1, -(-percent * int(self.counts.sum()) // 100))
        return float(self.mean_ns[int(np.searchsorted(np.cumsum(self.counts), rank))])


def buckets_of(book: Book, number: int) -> Buckets:
    """The gaps of an id."""
    means, counts = [], []
    for octave in range(OCTAVES):
        page = book.page_of[number, octave]
        if not page:
            continue
        index = np.flatnonzero(book.page_counts[page])
        count = book.page_counts[page, index].astype(np.int64)
        shift = 10 if octave == 0 else octave + FIRST_OCTAVE - 1 - 8
        base = 0 if octave == 0 else PAGE << shift
        means.append(base + (index << shift) + book.page_sums[page, index] / count)
        counts.append(count)
    if not means:
        return Buckets(np.empty(0), np.empty(0, np.int64))
    return Buckets(np.concatenate(means), np.concatenate(counts))


def timing_of(book: Book, number: int) -> Timing:
    """Period, jitter, longest gap, and whether the message is cyclic."""
    longest = int(book.rows[number, I_LONGEST]) / 1e6
    gaps = int(book.rows[number, I_GAPS])
    if not gaps:
        return Timing(None, None, longest, None, 0)
    buckets = buckets_of(book, number)
    median = buckets.percentile_ns(50)
    steady = buckets.mean_ns <= 3 * max(median, CYCLIC_SLACK_NS)
    usual = float(np.average(buckets.mean_ns[steady], weights=buckets.counts[steady]))
    near = steady & (np.abs(buckets.mean_ns - usual) <= max(CYCLIC_BAND * usual, CYCLIC_SLACK_NS))
    pauses = int(buckets.counts[~steady].sum())
    cyclic = int(buckets.counts[near].sum()) >= CYCLIC_SHARE * gaps and pauses <= CYCLIC_PAUSES * gaps
    jitter = buckets.percentile_ns(1) / 1e6, buckets.percentile_ns(99) / 1e6
    return Timing(median / 1e6, jitter, longest, bool(cyclic) if gaps >= CYCLIC_GAPS else None, gaps)


def length_of(book: Book, number: int) -> int:
    """The most common payload length, the longest of equals."""
    counts = book.lengths[number]
    return int(np.flatnonzero(counts == counts.max())[-1])


def counter_of(book: Book, number: int) -> Counter | None:
    """The rolling counter of an id, the widest if it has several."""
    found = [counter for row in book.counters[number] if (counter := _counter(row.tolist())) is not None]
    return max(found, key=lambda counter: (counter.width, counter.share, -counter.bit), default=None)


def _counter(row: list[int]) -> Counter | None:
    bit, steps = row[K_BIT] - 1, row[K_STEPS]
    if bit < 0 or steps < LEAST_STEPS:
        return None
    resets = row[K_RESETS]
    if resets and not row[K_WRAPS + 4] and row[K_RIGHT + 4] + resets >= SHARE * steps:
        return Counter(bit, 4, 15, (row[K_RIGHT + 4] + resets) / steps, steps)
    width = _width(row, 8 - bit % 8)
    right = row[K_RIGHT + width]
    if width < 2 or not row[K_WRAPS + width] or right < SHARE * steps:
        return None
    return Counter(bit, width, 1 << width, right / steps, steps)


def _width(row: list[int], most: int) -> int:
    """A bit more as long as that bit changes whenever those below begin at 0 again, and only then."""
    width = 1
    while width < most:
        wraps, carries = row[K_WRAPS + width], row[K_CARRIES + width]
        if not wraps or carries < SHARE * wraps or row[K_RIGHT + width + 1] < SHARE * row[K_STEPS]:
            break
        width += 1
    return width


def byte_kinds(book: Book, number: int) -> tuple[ByteKind, ...]:
    """What each byte does, up to the most common length."""
    counting = {(row[K_BIT] - 1) // 8 for row in book.counters[number].tolist() if _is_counting(row)}
    return tuple(
        ByteKind.COUNTING
        if byte in counting
        else ByteKind.CHANGING
        if book.changes[number, byte]
        else ByteKind.CONSTANT
        for byte in range(length_of(book, number))
    )


def _is_counting(row: list[int]) -> bool:
    """Fewer steps than for a counter do, and nobody needs to have seen it begin at 0 again."""
    enough = SHARE * row[K_STEPS]
    right = row[K_RIGHT + 2] >= enough or (row[K_RESETS] > 0 and row[K_RIGHT + 4] + row[K_RESETS] >= enough)
    return row[K_BIT] > 0 and row[K_STEPS] >= LEAST_STEPS // 2 and right


def samples_of(book: Book, number: int) -> list[bytes]:
    """The first different payloads of an id, 16 at most."""
    return [
        book.samples[number, sample, : book.sample_lengths[number, sample]].tobytes()
        for sample in range(int(book.rows[number, I_DISTINCT]))
    ]


def checksum_of(book: Book, number: int) -> ChecksumFinding | None:
    """The checksum of an id, the likeliest if several hold."""
    row = book.rows[number]
    if row[I_RUNS] < LEAST_CHANGES or row[I_DISTINCT] < LEAST_PAYLOADS:
        return None
    length = length_of(book, number)
    payloads = [payload for payload in samples_of(book, number) if len(payload) == length]
    if len(payloads) < LEAST_PAYLOADS:
        return None
    bytes_of = np.frombuffer(b"".join(payloads), np.uint8).reshape(-1, length).astype(np.int64)
    found = list(_candidates(book, number, bytes_of))
    order = list(_NAMES.values())
    return min(found, key=lambda one: (one.constant != 0, order.index(one.kind), -one.share), default=None)


def _candidates(book: Book, number: int, payloads: NDArray[np.int64]) -> Iterator[ChecksumFinding]:
    length = payloads.shape[1]
    varying = {byte for byte in range(length) if len(np.unique(payloads[:, byte])) > 1}
    for kind in (CRC_1D, CRC_2F, SUM_OF_OTHERS):
        for byte in _restless(book, number, kind, length):
            if varying - {byte} and (kind != SUM_OF_OTHERS or _is_sum(payloads, byte, varying)):
                yield from _passing(book, number, kind, byte, byte)
    counter = counter_of(book, number)
    for kind in (SUM_OF_ALL, XOR_OF_ALL):
        places = [
            byte
            for byte in _restless(book, number, kind, length)
            if (counter is None or byte != counter.bit // 8) and _is_sum(payloads, byte, varying)
        ]
        if places:  # any byte would do; senders put it last or first
            byte = 0 if places[0] == 0 and places[-1] != length - 1 else places[-1]
            yield from _passing(book, number, kind, 0, byte)


def _restless(book: Book, number: int, kind: int, length: int) -> Iterator[int]:
    """Bytes that change nearly as often as a checksum must, since it is looked for."""
    for byte in range(length):
        test = book.tests[number, kind, 0 if kind in (SUM_OF_ALL, XOR_OF_ALL) else byte]
        runs = int(test[T_PASSED_RUNS]) + int(test[T_FAILED_RUNS])
        if book.changes[number, byte] >= SHARE * (runs - 1):
            yield byte


def _is_sum(payloads: NDArray[np.int64], byte: int, varying: set[int]) -> bool:
    """Whether two other bytes change, and none of them alone says what this one is."""
    others = sorted(varying - {byte})
    mine = payloads[:, byte]
    for other in others:
        theirs = payloads[:, other]
        for relation in ((mine - theirs) & 0xFF, (mine + theirs) & 0xFF, mine ^ theirs):
            if (relation == relation[0]).all():
                return False
    return len(others) >= 2


def _passing(book: Book, number: int, kind: int, place: int, byte: int) -> Iterator[ChecksumFinding]:
    test: Any = book.tests[number, kind, place].tolist()
    passed, failed = test[T_PASSED], test[T_FAILED]
    runs = test[T_PASSED_RUNS]
    if (
        runs < LEAST_CHANGES
        or runs < PASSING * (runs + test[T_FAILED_RUNS])
        or passed < PASSING * (passed + failed)
    ):
        return
    constant = int(book.constants[number, kind, place])
    yield ChecksumFinding(_NAMES[kind], byte, passed / (passed + failed), passed + failed, constant)


def count_of(book: Book, number: int) -> int:
    """Frames of an id."""
    return int(book.rows[number, I_COUNT])
