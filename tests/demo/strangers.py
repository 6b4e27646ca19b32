"""Frames that no DBC of the van explains: a tester reading coding blocks, and messages nobody documented."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.bench import Frame


def read_block(request_id: int, response_id: int, did: int, data: bytes, at: float) -> Iterator[Frame]:
    """A tester reads a data identifier: service 0x22 of ISO 14229-1 in the frames of ISO 15765-2.

    The answer is 0x62, the identifier and the data; above seven bytes it comes as a first frame (0x1…), the
    tester's flow control (0x30) and consecutive frames (0x21, 0x22 …). Unused bytes are 0x55.
    """
    answer = bytes([0x62, did >> 8, did & 0xFF]) + data
    yield _frame(at, request_id, bytes([0x03, 0x22, did >> 8, did & 0xFF]))
    if len(answer) <= 7:
        yield _frame(at + 0.018, response_id, bytes([len(answer)]) + answer)
        return
    yield _frame(at + 0.018, response_id, bytes([0x10, len(answer)]) + answer[:6])
    yield _frame(at + 0.021, request_id, bytes([0x30, 0x00, 0x0A]))
    for number, first in enumerate(range(6, len(answer), 7), start=1):
        part = answer[first : first + 7]
        yield _frame(at + 0.021 + 0.012 * number, response_id, bytes([0x20 | number & 15]) + part)


def undocumented(can_id: int, period: float, begin: float, end: float) -> Iterator[Frame]:
    """A message of a control unit that the database forgot: two bytes that never change, then a count."""
    for number in range(int((end - begin) / period)):
        yield Frame(
            round((begin + (number + 0.4) * period) * 1e6),
            "",
            can_id,
            False,
            bytes([0x1C, 0x80, number & 255]),
        )


def _frame(at: float, can_id: int, data: bytes) -> Frame:
    return Frame(round(at * 1e6), "", can_id, False, data.ljust(8, b"\x55"))
