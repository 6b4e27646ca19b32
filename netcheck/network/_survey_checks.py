"""Checksums and counters looked for while frames go by. Kernels: arrays only.

A checksum byte is found by what stays the same. For a frame that is right, the CRC of the other bytes
exclusive-or the checksum, or the sum, gives a number that depends only on what the sender starts from: 0 for
the standard start, another one where an id or a length goes into it (a CRC is linear: what stands before the
data changes it by a constant). A wrong place or kind gives a different number almost every time.

A counter of +1 a frame changes its lowest bit at every step and the next one at every second; a trial of
twelve steps finds such bits, and from then on each is looked at closely. A trial that finds none is repeated
now and then, as modules may start late.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from netcheck._compile.define import kernel_helper
from netcheck.network._crc import crc_table
from netcheck.network._survey_book import (
    CANDIDATES,
    CRC_1D,
    CRC_2F,
    I_DISTINCT,
    I_LENGTH,
    I_RUN,
    I_RUNS,
    I_STEPS,
    I_TRIAL,
    K_BIT,
    K_CARRIES,
    K_RESETS,
    K_RIGHT,
    K_SIZE,
    K_STEPS,
    K_WRAPS,
    KINDS,
    SAMPLES,
    SUM_OF_ALL,
    SUM_OF_OTHERS,
    T_FAILED,
    T_FAILED_RUNS,
    T_PASSED,
    T_PASSED_RUNS,
    T_SIZE,
    XOR_OF_ALL,
    Book,
)

TRIAL: Final = 12  # steps
_AGAIN: Final = 256  # steps or payloads between two trials
_ALL: Final = np.uint64(0xFFFFFFFFFFFFFFFF)
_ONE: Final = np.uint64(1)
POLYNOMIALS: Final = {CRC_1D: 0x1D, CRC_2F: 0x2F}
_TABLES: Final = np.stack([crc_table(POLYNOMIALS[kind]) for kind in (CRC_1D, CRC_2F)])


@kernel_helper
def _keep_sample(book: Book, number: int, length: int) -> None:
    """Keeps the payload if it is a new one."""
    known = book.rows[number, I_DISTINCT]
    if known == SAMPLES:
        return
    value = np.uint64(length)
    for byte in range(length):
        value = (value ^ np.uint64(book.last[number, byte])) * np.uint64(0x100000001B3)  # FNV-1a
    for sample in range(known):
        if book.hashes[number, sample] == value:
            return
    book.hashes[number, known] = value
    book.sample_lengths[number, known] = length
    for byte in range(length):
        book.samples[number, known, byte] = book.last[number, byte]
    book.rows[number, I_DISTINCT] = known + 1


@kernel_helper
def _note(book: Book, number: int, kind: int, byte: int, got: Any) -> None:
    """One payload's result for one kind and byte."""
    test = book.tests[number, kind, byte]
    weight = np.int32(book.rows[number, I_RUN])
    if test[T_PASSED_RUNS] == 0:
        book.constants[number, kind, byte] = got
    if got == book.constants[number, kind, byte]:
        test[T_PASSED] += weight
        test[T_PASSED_RUNS] += 1
        return
    test[T_FAILED_RUNS] += 1
    if test[T_PASSED_RUNS] == 1:  # nobody says that the first one was right
        test[T_FAILED] += test[T_PASSED]
        test[T_PASSED] = weight
        book.constants[number, kind, byte] = got
    else:
        test[T_FAILED] += weight
    if test[T_FAILED_RUNS] > 3 + test[T_PASSED_RUNS] // 4:
        book.possible[number, kind] &= ~(_ONE << np.uint64(byte))


@kernel_helper
def _test_crc(book: Book, number: int, kind: int, length: int) -> None:
    for byte in range(length):
        if not (book.possible[number, kind] >> np.uint64(byte)) & _ONE:
            continue
        crc = np.uint8(0xFF)
        for other in range(length):
            if other != byte:
                crc = _TABLES[kind, crc ^ book.last[number, other]]
        _note(book, number, kind, byte, (crc ^ np.uint8(0xFF)) ^ book.last[number, byte])


@kernel_helper
def _test_sums(book: Book, number: int, length: int) -> None:
    total = np.int64(0)
    parity = np.int64(0)
    for byte in range(length):
        total += np.int64(book.last[number, byte])
        parity ^= np.int64(book.last[number, byte])
    if book.possible[number, SUM_OF_OTHERS]:
        for byte in range(length):
            if (book.possible[number, SUM_OF_OTHERS] >> np.uint64(byte)) & _ONE:
                got = (2 * np.int64(book.last[number, byte]) - total) & 0xFF
                _note(book, number, SUM_OF_OTHERS, byte, got)
    if book.possible[number, SUM_OF_ALL] & _ONE:
        _note(book, number, SUM_OF_ALL, 0, total & 0xFF)
    if book.possible[number, XOR_OF_ALL] & _ONE:
        _note(book, number, XOR_OF_ALL, 0, parity)


@kernel_helper
def _reopen(book: Book, number: int) -> None:
    """Where no byte is possible any more all are again, and half of the samples make room."""
    for kind in range(KINDS):
        tested = 1 if kind >= SUM_OF_ALL else max(book.rows[number, I_LENGTH], 1)
        if book.possible[number, kind] << np.uint64(64 - tested):
            continue
        book.possible[number, kind] = _ALL
        book.rows[number, I_DISTINCT] = min(book.rows[number, I_DISTINCT], SAMPLES // 2)
        for byte in range(64):
            for place in range(T_SIZE):
                book.tests[number, kind, byte, place] = 0


@kernel_helper
def close_run(book: Book, number: int) -> None:
    """A payload that was sent ``I_RUN`` times in a row, and will not be again: looked at once."""
    row = book.rows[number]
    length = row[I_LENGTH]
    row[I_RUNS] += 1
    if row[I_RUNS] % _AGAIN == 0:
        _reopen(book, number)
    _keep_sample(book, number, length)
    if length < 2:
        return
    if book.possible[number, CRC_1D]:
        _test_crc(book, number, CRC_1D, length)
    if book.possible[number, CRC_2F]:
        _test_crc(book, number, CRC_2F, length)
    _test_sums(book, number, length)


@kernel_helper
def _is_counting(counter: Any) -> Any:
    return counter[K_BIT] > 0 and 4 * counter[K_RIGHT + 2] > 3 * counter[K_STEPS]


@kernel_helper
def _begin_trial(book: Book, number: int) -> None:
    """Looks for counters again, unless one is counting."""
    for candidate in range(CANDIDATES):
        if _is_counting(book.counters[number, candidate]):
            return
    for candidate in range(CANDIDATES):
        for place in range(K_SIZE):
            book.counters[number, candidate, place] = 0
    for bit in range(512):
        book.misses[number, bit] = 0
    book.rows[number, I_TRIAL] = 0


@kernel_helper
def _end_trial(book: Book, number: int, length: int) -> None:
    """Candidates: bits that nearly always changed, below one that did about every second time."""
    found = 0
    for byte in range(length):
        for bit in range(7):
            place = 8 * byte + bit
            above = book.misses[number, place + 1]
            if book.misses[number, place] <= 2 and 4 <= above <= 8 and found < CANDIDATES:
                book.counters[number, found, K_BIT] = place + 1
                found += 1


@kernel_helper
def _tally(counter: Any, before: int, after: int, bits: int) -> None:
    """One step of a candidate that may have up to ``bits`` bits; both values are shifted down to it."""
    counter[K_STEPS] += 1
    if bits >= 4 and before & 15 == 14 and after & 15 == 0:
        counter[K_RESETS] += 1
    for width in range(1, bits + 1):
        mask = (1 << width) - 1
        if (after - before) & mask != 1:
            continue
        counter[K_RIGHT + width] += 1
        if before & mask == mask:
            counter[K_WRAPS + width] += 1
            if width < bits and ((before ^ after) >> width) & 1:
                counter[K_CARRIES + width] += 1


@kernel_helper
def step(book: Book, number: int, data: Any, start: int, length: int, different: bool) -> None:
    """From the payload in ``last`` to the one at ``data[start]``; ``different``: it is another one."""
    row = book.rows[number]
    if row[I_STEPS] % _AGAIN == 0 and row[I_STEPS]:
        _begin_trial(book, number)
    row[I_STEPS] += 1
    if row[I_TRIAL] < TRIAL:
        row[I_TRIAL] += 1
        for byte in range(length):
            flipped = book.last[number, byte] ^ data[start + byte] if different else np.uint8(0)
            for bit in range(8):
                book.misses[number, 8 * byte + bit] += not flipped >> bit & 1
        if row[I_TRIAL] == TRIAL:
            _end_trial(book, number, length)
        return
    for candidate in range(CANDIDATES):
        counter = book.counters[number, candidate]
        if counter[K_BIT] == 0:
            return
        byte, bit = (counter[K_BIT] - 1) // 8, (counter[K_BIT] - 1) % 8
        if byte < length:
            before = np.int64(book.last[number, byte]) >> bit
            _tally(counter, before, np.int64(data[start + byte]) >> bit, 8 - bit)
