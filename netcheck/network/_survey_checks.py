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
from numpy.typing import NDArray

from netcheck._compile.define import inlined_helper, kernel_helper
from netcheck.network._crc import crc_table
from netcheck.network._tally_book import (
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
    WORDS,
    XOR_OF_ALL,
    MessageBook,
)

TRIAL: Final = 12  # steps
_AGAIN: Final = 256  # steps or payloads between two trials
_ALL: Final = np.uint64(0xFFFFFFFFFFFFFFFF)
_ONE: Final = np.uint64(1)
POLYNOMIALS: Final = {CRC_1D: 0x1D, CRC_2F: 0x2F}
_TABLES: Final = np.stack([crc_table(POLYNOMIALS[kind]) for kind in (CRC_1D, CRC_2F)])


_BYTE: Final = np.uint64(0xFF)


def _trailing_zeros() -> NDArray[np.uint8]:
    """uint8[256]: how many low bits of a byte are 0, 8 for none that is 1."""
    return np.array([(value & -value).bit_length() - 1 if value else 8 for value in range(256)], np.uint8)


_TRAILING: Final = _trailing_zeros()


@inlined_helper
def _last(book: MessageBook, number: int, byte: int) -> Any:
    """A byte of the last payload."""
    return np.int64((book.last[number, byte >> 3] >> np.uint64(8 * (byte & 7))) & _BYTE)


@kernel_helper
def _keep_sample(book: MessageBook, number: int, length: int) -> None:
    """Keeps the payload if it is a new one."""
    known = book.rows[number, I_DISTINCT]
    value = np.uint64(length)
    for word in range(WORDS if length > 8 else 1):
        value = (value ^ book.last[number, word]) * np.uint64(0x9E3779B97F4A7C15)
        value ^= value >> np.uint64(32)
    for sample in range(known):
        if book.hashes[number, sample] == value:
            return
    book.hashes[number, known] = value
    book.sample_lengths[number, known] = length
    for word in range(WORDS):
        book.samples[number, known, word] = book.last[number, word]
    book.rows[number, I_DISTINCT] = known + 1


@kernel_helper
def _note(book: MessageBook, number: int, kind: int, byte: int, got: Any) -> None:
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
def _test_crc(book: MessageBook, number: int, kind: int, length: int) -> None:
    possible = book.possible[number, kind] << np.uint64(64 - length)
    if possible == np.uint64(0):
        return
    for byte in range(length):
        if not (possible >> np.uint64(64 - length + byte)) & _ONE:
            continue
        crc = np.int64(0xFF)
        for other in range(length):
            if other != byte:
                crc = np.int64(_TABLES[kind, crc ^ _last(book, number, other)])
        _note(book, number, kind, byte, crc ^ 0xFF ^ _last(book, number, byte))


@kernel_helper
def _test_sums(book: MessageBook, number: int, length: int) -> None:
    total = np.int64(0)  # modulo 256
    joined = np.uint64(0)
    for place in range((length + 7) >> 3):
        word = book.last[number, place]
        even = word & np.uint64(0x00FF00FF00FF00FF)
        odd = (word >> np.uint64(8)) & np.uint64(0x00FF00FF00FF00FF)
        total += np.int64(((even + odd) * np.uint64(0x0001000100010001)) >> np.uint64(48))
        joined ^= word
    joined ^= joined >> np.uint64(32)
    joined ^= joined >> np.uint64(16)
    parity = np.int64((joined ^ (joined >> np.uint64(8))) & _BYTE)
    possible = book.possible[number, SUM_OF_OTHERS] << np.uint64(64 - length)
    if possible:
        for byte in range(length):
            if (possible >> np.uint64(64 - length + byte)) & _ONE:
                _note(book, number, SUM_OF_OTHERS, byte, (2 * _last(book, number, byte) - total) & 0xFF)
    if book.possible[number, SUM_OF_ALL] & _ONE:
        _note(book, number, SUM_OF_ALL, 0, total & 0xFF)
    if book.possible[number, XOR_OF_ALL] & _ONE:
        _note(book, number, XOR_OF_ALL, 0, parity)


@kernel_helper
def _reopen(book: MessageBook, number: int) -> None:
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
def _look_at(book: MessageBook, number: int, length: int) -> None:
    """The last payload, of two bytes or more, against each kind that is possible."""
    _test_crc(book, number, CRC_1D, length)
    _test_crc(book, number, CRC_2F, length)
    _test_sums(book, number, length)


@inlined_helper
def close_run(book: MessageBook, number: int) -> None:
    """A payload that was sent ``I_RUN`` times in a row, and will not be again: looked at once."""
    row, possible = book.rows[number], book.possible[number]
    length = row[I_LENGTH]
    row[I_RUNS] += 1
    if row[I_RUNS] % _AGAIN == 0:
        _reopen(book, number)
    if row[I_DISTINCT] < SAMPLES:
        _keep_sample(book, number, length)
    if length >= 2:
        any_byte = possible[CRC_1D] | possible[CRC_2F] | possible[SUM_OF_OTHERS]
        if any_byte << np.uint64(64 - length) | (possible[SUM_OF_ALL] | possible[XOR_OF_ALL]) & _ONE:
            _look_at(book, number, length)


@kernel_helper
def _is_counting(counter: Any) -> Any:
    right = 0
    for bits in range(2, 9):
        right += counter[K_RIGHT + bits]
    return counter[K_BIT] > 0 and 4 * right > 3 * counter[K_STEPS]


@kernel_helper
def _begin_trial(book: MessageBook, number: int) -> None:
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
def _end_trial(book: MessageBook, number: int, length: int) -> None:
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
def _try(book: MessageBook, number: int, data: Any, start: int, length: int, different: bool) -> None:
    """One step of the trial."""
    row = book.rows[number]
    row[I_TRIAL] += 1
    for byte in range(length):
        flipped = _last(book, number, byte) ^ np.int64(data[start + byte]) if different else 0
        for bit in range(8):
            book.misses[number, 8 * byte + bit] += not flipped >> bit & 1
    if row[I_TRIAL] == TRIAL:
        _end_trial(book, number, length)


@inlined_helper
def _tally(counter: Any, before: Any, after: Any, bits: Any) -> None:
    """One step of a candidate that may have up to ``bits`` bits; both values are shifted down to it."""
    counter[K_STEPS] += 1
    if bits >= 4 and before & 15 == 14 and after & 15 == 0:
        counter[K_RESETS] += 1
    right = min(np.int64(_TRAILING[(after - before - 1) & 0xFF]), bits)
    counter[K_RIGHT + right] += 1
    wraps = min(np.int64(_TRAILING[~before & 0xFF]), right)
    counter[K_WRAPS + wraps] += 1
    if wraps < bits and ((before ^ after) >> wraps) & 1:
        counter[K_CARRIES + wraps] += 1


@inlined_helper
def step(book: MessageBook, number: int, data: Any, start: int, length: int, different: bool) -> None:
    """From the payload in ``last`` to the one at ``data[start]``; ``different``: it is another one."""
    row = book.rows[number]
    if row[I_STEPS] % _AGAIN == 0 and row[I_STEPS]:
        _begin_trial(book, number)
    row[I_STEPS] += 1
    if row[I_TRIAL] < TRIAL:
        _try(book, number, data, start, length, different)
    else:
        for candidate in range(CANDIDATES):
            counter = book.counters[number, candidate]
            place = np.int64(counter[K_BIT]) - 1
            if place < 0:
                break
            byte, bit = place >> 3, place & 7
            if byte < length:
                word = book.last[number, byte >> 3] >> np.uint64(8 * (byte & 7))
                before = np.int64(word & _BYTE) >> bit
                _tally(counter, before, np.int64(data[start + byte]) >> bit, 8 - bit)
