"""Asking modules live: what may leave, in which order, and when it stops; on a clock that tests turn."""

from __future__ import annotations

import ast
import inspect
from collections import deque
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.diagnostics import _asking, read_conversation
from netcheck.diagnostics.live import (
    MAY_LEAVE,
    AskedModule,
    LiveEnd,
    LiveReading,
    ReadingLine,
    WireFrame,
    may_leave,
)
from netcheck.errors import UsageError
from tests.diagnostics.talk import VEHICLE, VIN, segments

GATEWAY = AskedModule("gateway", (0x6A0, False), (0x6B0, False), (0x2210,))
COLUMN = AskedModule("column", (0x6A3, False), (0x6B3, False), (0x2230,))
BLOCK = "4C011F028000"


class Bench:
    """A wire without time: frames of a module's answers are due after some milliseconds."""

    def __init__(self, answer: Callable[[bytes], list[str]], *, delay_ms: float = 5.0) -> None:
        self.now = 0
        self.sent: list[tuple[int, bytes]] = []
        self.due: deque[tuple[int, int, bytes]] = deque()
        self.answer, self.delay = answer, round(delay_ms * 1e6)
        self.held: list[tuple[int, bytes]] = []

    def send(self, address: tuple[int, bool], data: bytes) -> None:
        self.sent.append((address[0], data))
        if data[0] >> 4 == 3:
            self._queue(self.held)
            self.held = []
            return
        for text in self.answer(data[1 : 1 + data[0]]):
            rows = segments(address[0] + 0x10, address[0], bytes.fromhex(text))
            rows = [row for row in rows if row[0] != address[0]]
            self._queue(rows[:1])
            self.held += rows[1:]

    def _queue(self, rows: list[tuple[int, bytes]]) -> None:
        last = max([self.now, *(due for due, _, _ in self.due)])
        for number, (can_id, data) in enumerate(rows, 1):
            self.due.append((last + number * self.delay, can_id, data))

    def receive(self, seconds: float) -> WireFrame | None:
        end = self.now + max(round(seconds * 1e9), 1)
        if self.due and self.due[0][0] <= end:
            at, can_id, data = self.due.popleft()
            self.now = max(self.now, at)
            return WireFrame(self.now, (can_id, can_id > 0x7FF), data)
        self.now = end
        return None

    def now_ns(self) -> int:
        return self.now


def answers(request: bytes) -> list[str]:
    known = {
        "3E00": ["7E00"],
        "22F190": ["62F190" + VIN.encode().hex()],
        "22F187": ["62F187" + b"SK24-GAT-B".hex()],
        "222210": ["7F2278", "7F2278", "622210" + BLOCK],
        "1902FF": ["5902FFC121872F"],
    }
    return known.get(request.hex().upper(), [f"7F{request[0]:02X}31"])


def run(bench: Bench, *modules: AskedModule) -> LiveReading:
    reading = LiveReading(ReadingLine(bench), modules or (GATEWAY,))
    reading.listen(3.0)
    reading.run()
    return reading


def test_a_module_is_read_out():
    bench = Bench(answers)
    reading = run(bench)
    (module,) = read_conversation(reading.capture("bench"), VEHICLE).modules
    assert {text.did: text.last for text in module.identification} == {0xF187: "SK24-GAT-B", 0xF190: VIN}
    assert [block.last.hex().upper() for block in module.blocks] == [BLOCK]
    assert [str(fault.fault) for fault in module.faults.last or ()] == ["U012187/2F"]
    assert {refusal.did for refusal in module.refusals} == {0xF188, 0xF189, 0xF191}
    assert (reading.end, reading.silent, module.findings) == (LiveEnd.DONE, [], ())


def test_all_that_leaves_reads_and_is_eight_bytes_long():
    bench = Bench(answers)
    run(bench, GATEWAY, COLUMN)
    assert {can_id for can_id, _ in bench.sent} == {0x6A0, 0x6A3}
    for _, data in bench.sent:
        assert len(data) == 8
        assert data[0] >> 4 == 3 or data[1] in {0x22, 0x19, 0x3E}


@given(st.binary(max_size=64))
def test_no_other_frame_can_leave(data):
    """Whatever is handed to the only way out: one of three services in a single frame, or flow control."""
    bench = Bench(lambda request: [])
    line = ReadingLine(bench)
    reads = len(data) == 8 and 1 <= data[0] <= 7 and data[1] in (0x22, 0x19, 0x3E)
    if reads or data == bytes.fromhex("3000055555555555"):
        line.send((0x6A0, False), data)
        assert bench.sent == [(0x6A0, data)]
    else:
        with pytest.raises(UsageError, match="was not sent"):
            line.send((0x6A0, False), data)
        assert bench.sent == []


@pytest.mark.parametrize("service", range(256))
def test_every_service_byte_but_three_is_held_back(service):
    for size in range(1, 8):
        frame = bytes([size, service, 0x22, 0x10, 0x55, 0x55, 0x55, 0x55])
        assert may_leave(frame) == (service in {0x22, 0x19, 0x3E})
    assert not may_leave(bytes([0x10, 0x0A, service, 0x22, 0x10, 1, 2, 3]))


def test_the_code_sends_in_one_place_and_knows_no_other_service():
    assert {0x22, 0x19, 0x3E} == MAY_LEAVE
    tree = ast.parse(inspect.getsource(_asking))
    wires = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and node.attr == "send" and ast.unparse(node.value) == "self._wire"
    ]
    assert len(wires) == 1
    named = {name.name for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) for name in node.names}
    assert not named & {"WRITE", "RESET", "ROUTINE", "SECURITY", "SESSION", "AUTHENTICATION", "CLEAR_FAULTS"}


def test_one_request_is_in_flight():
    bench = Bench(answers)
    reading = run(bench)
    waiting = 0
    for frame in reading.line.frames:
        if frame.address == (0x6A0, False) and frame.data[0] >> 4 == 0:
            assert waiting == 0
            waiting = 1
        elif frame.address == (0x6B0, False) and frame.data[:4] != b"\x03\x7f\x22\x78":
            waiting = 0


def test_a_silent_module_is_asked_once():
    bench = Bench(lambda request: [])
    reading = run(bench, GATEWAY, COLUMN)
    assert [can_id for can_id, _ in bench.sent] == [0x6A0, 0x6A3]
    assert reading.silent == ["gateway", "column"]


def test_a_busy_module_is_asked_again_later_and_not_for_ever():
    bench = Bench(lambda request: [f"7F{request[0]:02X}21"])
    run(bench)
    asked = [data[1:4] for _, data in bench.sent if data[0] >> 4 == 0]
    assert asked == [b"\x3e\x00\x55"] * 4
    assert bench.now >= 3_000_000_000 + 3_500_000_000


def test_pending_for_ever_ends():
    bench = Bench(lambda request: ["7E00"] if request[0] == 0x3E else [f"7F{request[0]:02X}78"] * 40)
    reading = run(bench)
    assert reading.end is LiveEnd.DONE


@pytest.mark.parametrize("can_id", [0x6A0, 0x6B0, 0x7DF, 0x7E0, 0x18DA40F1])
def test_another_tester_is_heard_before(can_id):
    bench = Bench(answers)
    bench.due.append((1_000_000_000, can_id, bytes.fromhex("023E000000000000")))
    with pytest.raises(UsageError, match="another tester is talking"):
        run(bench)
    assert bench.sent == []


def test_nothing_heard_and_nothing_asked_is_an_empty_readout():
    reading = LiveReading(ReadingLine(Bench(answers)), ())
    assert read_conversation(reading.capture("bench"), VEHICLE).modules == ()


def test_ordinary_traffic_is_no_tester():
    bench = Bench(answers)
    bench.due.append((1_000_000_000, 0x123, b"\x02\x10\x03"))
    assert run(bench).end is LiveEnd.DONE


def test_another_tester_that_begins_meanwhile_stops_it():
    bench = Bench(lambda request: [])
    bench.due.append((3_060_000_000, 0x6A0, bytes.fromhex("0322F19055555555")))
    reading = run(bench, GATEWAY, COLUMN)
    assert reading.end is LiveEnd.OTHER_TESTER
    assert len(bench.sent) == 1
