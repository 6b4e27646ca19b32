"""From what a tally keeps of a message to what each id does: times, bytes, counters, checksums.

What is found must be no accident:

- a counter needs 20 steps, nine of ten of +1, and must have been seen to begin at 0 again;
- a checksum needs 16 changes of the payload, 8 different payloads, and four of five frames that pass; its
  byte must change at nine of ten changes. A wrong byte or kind would pass by chance once in 256 payloads.
- a sum or an exclusive-or needs two other changing bytes, and must not be a copy or the complement of
  one of them, as doubled values are.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from netcheck.network._gaps import Gaps
from netcheck.network._survey_model import ByteKind, ChecksumFinding, ChecksumKind, Counter, Timing
from netcheck.network._tally_book import (
    CRC_1D,
    CRC_2F,
    I_CHANGES,
    I_DISTINCT,
    I_RUNS,
    K_BIT,
    K_CARRIES,
    K_RESETS,
    K_RIGHT,
    K_STEPS,
    K_WRAPS,
    SUM_OF_ALL,
    SUM_OF_OTHERS,
    T_FAILED,
    T_FAILED_RUNS,
    T_PASSED,
    T_PASSED_RUNS,
    XOR_OF_ALL,
    MessageBook,
)

LEAST_STEPS: Final = 20
LEAST_CHANGES: Final = 16
LEAST_PAYLOADS: Final = 8
SHARE: Final = 0.9
PASSING: Final = 0.8  # frames with a right checksum; kinds that fail more often are given up while looking
CYCLIC_GAPS: Final = 5
CYCLIC_SHARE: Final = 0.8
CYCLIC_BAND: Final = 0.5  # of the usual gap, the mean of those that are no pauses
CYCLIC_SLACK_NS: Final = 10_000_000  # recorders stamp frames in batches: fast messages jump by that much
LEAST_EVENTS: Final = 4  # changes of the payload that say whether they are sent at once
LEAST_BASE: Final = 3  # gaps that make a base period, within a tenth of it; with half of the time
CYCLIC_PAUSES: Final = 0.05  # share of gaps beyond three medians: more of them are bursts

_NAMES: Final = {
    CRC_1D: ChecksumKind.CRC_J1850,
    CRC_2F: ChecksumKind.CRC_2F,
    SUM_OF_OTHERS: ChecksumKind.SUM,
    XOR_OF_ALL: ChecksumKind.XOR,
    SUM_OF_ALL: ChecksumKind.SUM_COMPLEMENT,
}


def timing_of(gaps: Gaps, longest_ns: int, change_gaps: NDArray[np.int64] | None = None) -> Timing:
    """Period, jitter, longest gap, and whether the message is cyclic or sent at changes.

    change_gaps: before some frames whose payload is another than that before, ns
    """
    longest = longest_ns / 1e6
    median, low, high = (gaps.percentile_ns(percent) for percent in (50, 1, 99))
    if median is None or low is None or high is None:
        return Timing(None, None, longest, None, 0)
    cyclic = is_cyclic(gaps) if len(gaps) >= CYCLIC_GAPS else None
    jitter = low / 1e6, high / 1e6
    if change_gaps is not None and len(change_gaps) >= LEAST_EVENTS:
        base = base_period_ns(gaps)
        if is_sent_at_changes(change_gaps, base if base is not None and cyclic is False else median):
            return Timing(base and base / 1e6, jitter, longest, cyclic, len(gaps), at_changes=True)
    return Timing(median / 1e6, jitter, longest, cyclic, len(gaps))


def is_sent_at_changes(change_gaps: NDArray[np.int64], usual_ns: int) -> bool:
    """Whether changes come sooner than the next frame would be due: 70 % of them, of which there are some.

    usual_ns: the base period of a message that comes in bursts, else the median gap. Sooner is before nine
              tenths of it, and by more than the stamps of a recorder jump

    A payload with a counter changes with every frame, so that of such a message this is never said.
    """
    due = min(0.9 * usual_ns, usual_ns - CYCLIC_SLACK_NS)
    sooner = int((change_gaps < due).sum())
    return 10 * sooner >= 7 * len(change_gaps)


def base_period_ns(gaps: Gaps) -> int | None:
    """The gap in which a message is for most of the time; None where it keeps no such gap, a tenth allowed.

    A button that is held may bring many short gaps, but they do not take long.
    """
    times = gaps.values * gaps.counts
    base = int(gaps.values[np.searchsorted(np.cumsum(times), times.sum() / 2)])
    near = np.abs(gaps.values - base) <= base / 10
    is_steady = int(gaps.counts[near].sum()) >= LEAST_BASE and 2 * times[near].sum() >= times.sum()
    return base if is_steady else None


def change_gaps_of(book: MessageBook, number: int) -> NDArray[np.int64]:
    """int64: gaps before the first frames of an id that brought another payload, 64 at most, ns."""
    return book.change_gaps[number, : book.rows[number, I_CHANGES]]


def is_cyclic(gaps: Gaps) -> bool:
    """Whether a message comes by the clock, by gaps of which there are some; see ``Timing``."""
    steady = gaps.values <= 3 * max(gaps.percentile_ns(50) or 0, CYCLIC_SLACK_NS)
    usual = float(np.average(gaps.values[steady], weights=gaps.counts[steady]))
    near = steady & (np.abs(gaps.values - usual) <= max(CYCLIC_BAND * usual, CYCLIC_SLACK_NS))
    pauses = int(gaps.counts[~steady].sum())
    return int(gaps.counts[near].sum()) >= CYCLIC_SHARE * len(gaps) and pauses <= CYCLIC_PAUSES * len(gaps)


def length_of(lengths: Mapping[int, int]) -> int:
    """The most common payload length, the longest of equals."""
    return max(lengths, key=lambda length: (lengths[length], length))


def counter_of(book: MessageBook, number: int) -> Counter | None:
    """The rolling counter of an id, the widest if it has several."""
    found = [counter for row in _counters(book, number) if (counter := _counter(row)) is not None]
    return max(found, key=lambda counter: (counter.width, counter.share, -counter.bit), default=None)


def _counters(book: MessageBook, number: int) -> list[list[int]]:
    """The candidates of an id, with the steps of so many low bits and more summed up."""
    rows = []
    found = book.counters[number]
    for row in found[found[:, K_BIT] > 0].tolist():
        right, wraps, carries = (row[place : place + 9] for place in (K_RIGHT, K_WRAPS, K_CARRIES))
        for bits in range(7, -1, -1):
            right[bits] += right[bits + 1]
            wraps[bits] += wraps[bits + 1]
            carries[bits] += wraps[bits + 1]
        rows.append([*row[:K_RIGHT], *right, *wraps, *carries])
    return rows


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


def byte_kinds(book: MessageBook, number: int, length: int) -> tuple[ByteKind, ...]:
    """What each byte does, up to the most common length."""
    counting = {(row[K_BIT] - 1) // 8 for row in _counters(book, number) if _is_counting(row)}
    return tuple(
        ByteKind.COUNTING
        if byte in counting
        else ByteKind.CHANGING
        if book.changes[number, byte]
        else ByteKind.CONSTANT
        for byte in range(length)
    )


def _is_counting(row: list[int]) -> bool:
    """Fewer steps than for a counter do, and nobody needs to have seen it begin at 0 again."""
    enough = SHARE * row[K_STEPS]
    right = row[K_RIGHT + 2] >= enough or (row[K_RESETS] > 0 and row[K_RIGHT + 4] + row[K_RESETS] >= enough)
    return row[K_BIT] > 0 and row[K_STEPS] >= LEAST_STEPS // 2 and right


def samples_of(book: MessageBook, number: int) -> list[bytes]:
    """The first different payloads of an id, 16 at most."""
    return [
        book.samples[number, sample].astype("<u8").tobytes()[: book.sample_lengths[number, sample]]
        for sample in range(int(book.rows[number, I_DISTINCT]))
    ]


def checksum_of(book: MessageBook, number: int, length: int) -> ChecksumFinding | None:
    """The checksum of an id, the likeliest if several hold. length: the most common one."""
    row = book.rows[number]
    if row[I_RUNS] < LEAST_CHANGES or row[I_DISTINCT] < LEAST_PAYLOADS:
        return None
    payloads = [payload for payload in samples_of(book, number) if len(payload) == length]
    if len(payloads) < LEAST_PAYLOADS:
        return None
    bytes_of = np.frombuffer(b"".join(payloads), np.uint8).reshape(-1, length).astype(np.int64)
    found = list(_candidates(book, number, bytes_of))
    order = list(_NAMES.values())
    return min(found, key=lambda one: (one.constant != 0, order.index(one.kind), -one.share), default=None)


def _candidates(book: MessageBook, number: int, payloads: NDArray[np.int64]) -> Iterator[ChecksumFinding]:
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


def _restless(book: MessageBook, number: int, kind: int, length: int) -> Iterator[int]:
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


def _passing(book: MessageBook, number: int, kind: int, place: int, byte: int) -> Iterator[ChecksumFinding]:
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
