"""The bits of a frame on the wire, a byte at a step, for kernels. Slow twins are in ``tests/naive.py``.

Stuffing is an automaton: its state is the level of the last bit on the wire and how many of that level came
in a row; at five, the next bit is preceded by a stuff bit. A table gives, for a state and the next byte, how
many stuff bits come and the state after it. A field that does not fill whole bytes is filled up in front
with bits of changing level, which call for no stuff bit, the last of them recessive as the idle wire is.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from netcheck._compile.define import Column, inlined_helper, kernel_helper
from netcheck.capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE

CRC_15: Final = 0x4599  # x^15 + x^14 + x^10 + x^8 + x^7 + x^4 + x^3 + 1; start 0, not reflected, no final xor


def _stuffing_table() -> NDArray[np.uint8]:
    """uint8[10 · 256]: state · 256 + byte -> stuff bits · 16 + next state; state = 5 · level + run - 1."""
    table = np.empty(10 * 256, np.uint8)
    for place in range(len(table)):
        level, run = divmod(place >> 8, 5)
        run, count = run + 1, 0
        for position in range(7, -1, -1):
            if run == 5:
                level, run, count = 1 - level, 1, count + 1
            bit = place >> position & 1
            level, run = bit, run + 1 if bit == level else 1
        table[place] = count << 4 | 5 * level + run - 1
    return table


def _crc_table() -> NDArray[np.uint16]:
    """uint16[256]: the top eight of the fifteen bits, exclusive-or the next byte -> what they add."""
    table = np.empty(256, np.uint16)
    for byte in range(256):
        crc = byte << 7
        for _ in range(8):
            crc = (crc << 1 ^ CRC_15 if crc & 0x4000 else crc << 1) & 0x7FFF
        table[byte] = crc
    return table


_STUFFING: Final = _stuffing_table()
_CRC: Final = _crc_table()
_IDLE: Final = 5  # recessive, one in a row: where a run of fill bits begins


@inlined_helper
def _stuffed(state: Any, value: Any, size: Any) -> Any:
    """Go through the lowest ``size`` bytes; gives stuff bits · 16 + state, those before included."""
    for position in range(8 * (size - 1), -1, -8):
        step = np.int64(_STUFFING[(state & 15) << 8 | (value >> position & 0xFF)])
        state = (state & ~np.int64(15)) + step
    return state


@inlined_helper
def _checked(crc: Any, value: Any, size: Any) -> Any:
    """CRC-15 over the lowest ``size`` bytes of a value."""
    for position in range(8 * (size - 1), -1, -8):
        crc = (crc << 8 & 0x7FFF) ^ np.int64(_CRC[crc >> 7 ^ (value >> position & 0xFF)])
    return crc


@kernel_helper
def classic_header(can_id: Any, extended: Any, remote: Any, length: Any) -> Any:
    """Stuff bits · 16 + state of the stuffing, and 65536 · CRC, from SOF to the DLC of a classic frame."""
    length = min(length, 8)
    if extended:  # SOF 0, id 11, SRR 1, IDE 1, id 18, RTR, r1 0, r0 0, DLC 4: 39 bits
        value = (can_id >> 18 & 0x7FF) << 27 | 3 << 25 | (can_id & 0x3FFFF) << 7 | remote << 6 | length
        return _stuffed(_IDLE, value | 1 << 39, 5) | _checked(0, value, 5) << 16
    # SOF 0, id 11, RTR, IDE 0, r0 0, DLC 4: 19 bits
    value = (can_id & 0x7FF) << 7 | remote << 6 | length
    return _stuffed(_IDLE, value | 0b10101 << 19, 3) | _checked(0, value, 3) << 16


@kernel_helper
def classic_bits(header: Any, extended: Any, size: Any, payload: Any) -> Any:
    """Bits of a classic frame with ``size`` bytes, after its header. payload: as a little-endian uint64"""
    state, crc = header & 0xFFFF, header >> 16
    for _ in range(size):
        byte = np.int64(payload & np.uint64(0xFF))
        payload >>= np.uint64(8)
        state, crc = _stuffed(state, byte, 1), _checked(crc, byte, 1)
    # The bit put after the fifteen is none of the frame's; unlike the last of them, it calls for no stuff bit
    # of its own and brings out the one that the five before it may call for.
    stuff = _stuffed(state, crc << 1 | (~crc & 1), 2) >> 4
    return (67 if extended else 47) + 8 * size + stuff


@kernel_helper
def _fd_code(length: Any) -> Any:
    """Length code of a CAN FD frame with at least this many bytes."""
    if length <= 8:
        return length
    if length <= 24:
        return 9 + (length - 9) // 4
    return 13 if length <= 32 else 14 if length <= 48 else 15


@kernel_helper
def _fd_length(code: Any) -> Any:
    """Payload bytes of a CAN FD length code."""
    if code <= 8:
        return code
    if code <= 12:
        return 12 + 4 * (code - 9)
    return 16 * (code - 11)


@kernel_helper
def _fd_header(can_id: Any, flags: Any) -> Any:
    """Automaton after SOF to BRS, the base of the bits in front of it times 65536 added."""
    switched = np.int64((flags & BRS) != 0)
    if flags & EXTENDED:  # SOF 0, id 11, SRR 1, IDE 1, id 18, RRS 0, FDF 1, res 0, BRS: 36 bits
        value = (can_id >> 18 & 0x7FF) << 24 | 3 << 22 | (can_id & 0x3FFFF) << 4 | 2 << 1 | switched
        return _stuffed(_IDLE, value | 0b0101 << 36, 5) | 36 << 16
    # SOF 0, id 11, RRS 0, IDE 0, FDF 1, res 0, BRS: 17 bits
    value = (can_id & 0x7FF) << 5 | 2 << 1 | switched
    return _stuffed(_IDLE, value | 0b1010101 << 17, 3) | 17 << 16


@kernel_helper
def _fd_body(state: Any, esi: Any, length: Any, begin: Any, data: Column) -> Any:
    """Bits of a CAN FD frame from ESI to the CRC delimiter, after the automaton's state at BRS."""
    code = _fd_code(length)
    level, run, stuff = state // 5, state % 5 + 1, np.int64(0)
    value = esi << 4 | code
    for position in range(4, -1, -1):
        if run == 5:
            level, run, stuff = 1 - level, np.int64(1), stuff + 1
        bit = value >> position & 1
        run = run + 1 if bit == level else np.int64(1)
        level = bit
    state = stuff << 4 | 5 * level + run - 1
    size = _fd_length(code)
    for place in range(size):
        state = _stuffed(state, np.int64(data[begin + place]) if place < length else np.int64(0), 1)
    # Stuff count 4, CRC 17 with 6 fixed stuff bits or CRC 21 with 7, delimiter 1.
    return 5 + 8 * size + (state >> 4) + (28 if size <= 16 else 33)


@kernel_helper
def wire_bits(can_id: Any, kind: Any, size: Any, begin: Any, data: Column) -> Any:
    """Bits of a frame: of the nominal phase, and 65536 times those of the data phase."""
    if kind & ERROR:
        return np.int64(0)
    if not kind & FD or kind & REMOTE:
        extended, remote = np.int64((kind & EXTENDED) != 0), np.int64((kind & REMOTE) != 0)
        header = classic_header(can_id, extended, remote, size)
        size = np.int64(0) if remote else min(size, 8)
        payload = np.uint64(0)
        for byte in range(size):
            payload |= np.uint64(data[begin + byte]) << np.uint64(8 * byte)
        return classic_bits(header, extended, size, payload)
    header = _fd_header(can_id, kind)
    body = _fd_body(header & 15, np.int64((kind & ESI) != 0), size, begin, data)
    tail = 12  # ACK slot and delimiter, EOF 7, space 3
    nominal = (header >> 16) + (header >> 4 & 0xFFF) + tail
    return nominal | body << 16 if kind & BRS else nominal + body
