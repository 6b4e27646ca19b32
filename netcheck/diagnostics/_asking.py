"""Asking modules what they are: reading services only, one request at a time.

Everything that leaves goes through ``ReadingLine.send``, which lets three services and flow control pass. No
other service exists here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import field
from enum import StrEnum
from typing import Final, NamedTuple, Protocol

import numpy as np

from netcheck.capture import EXTENDED, Capture
from netcheck.diagnostics._ids import Address, is_customary
from netcheck.diagnostics._segments import Reassembler
from netcheck.diagnostics._services import (
    BUSY,
    FUNCTIONAL,
    NEGATIVE,
    PENDING,
    READ,
    READ_FAULTS,
    TESTER_PRESENT,
    answers,
)
from netcheck.errors import UsageError
from netcheck.records import dataclass
from netcheck.words import id_text

MAY_LEAVE: Final = frozenset((READ, READ_FAULTS, TESTER_PRESENT))
IDENTIFICATION: Final = (0xF187, 0xF188, 0xF189, 0xF191, 0xF190)
_BY_MASK: Final = 0x02  # fault codes by status; all bits are asked for
_FLOW: Final = bytes.fromhex("3000055555555555")  # go on, all frames, 5 ms apart
_LENGTH: Final = 8  # bytes of every frame that leaves
_FILL: Final = b"\x55"
_ANSWER_S: Final = 1.0  # twenty times what a module may take (ISO 14229-2: 50 ms)
_PENDING_S: Final = 5.0  # what it may take after "response pending"
_MOST_PENDING: Final = 12
_BETWEEN_S: Final = 0.05
_BUSY_S: Final = (0.5, 1.0, 2.0)  # waits before asking a busy module again


class WireFrame(NamedTuple):
    """A classic data frame. time_ns: on the clock of the wire"""

    time_ns: int
    address: Address
    data: bytes


class FrameWire(Protocol):
    """What asking needs of an open bus."""

    def send(self, address: Address, data: bytes) -> None:
        """Hand a frame over."""

    def receive(self, seconds: float) -> WireFrame | None:
        """The next frame; None where none comes in time. Frames that were sent do not come back."""

    def now_ns(self) -> int:
        """The clock of the frames."""


class LiveEnd(StrEnum):
    """Why asking ended."""

    DONE = "done"
    OTHER_TESTER = "other-tester"  # somebody else began to ask


@dataclass(frozen=True)
class AskedModule:
    """A module to ask. blocks: data identifiers of its coding"""

    name: str
    request: Address
    response: Address
    blocks: tuple[int, ...] = ()

    def requests(self) -> tuple[bytes, ...]:
        """All that it is asked, in this order: is it there, identification, coding, fault codes."""
        reads = (bytes([READ]) + did.to_bytes(2, "big") for did in (*IDENTIFICATION, *self.blocks))
        return bytes([TESTER_PRESENT, 0]), *reads, bytes([READ_FAULTS, _BY_MASK, 0xFF])


def may_leave(data: bytes) -> bool:
    """Whether netcheck may send a frame: a short request of a reading service, or flow control."""
    if len(data) != _LENGTH:
        return False
    if data == _FLOW:
        return True
    return 1 <= data[0] < _LENGTH and data[1] in MAY_LEAVE


class ReadingLine:
    """The only way out. Keeps all diagnostic frames, in both directions."""

    def __init__(self, wire: FrameWire) -> None:
        self._wire = wire
        self.frames: list[WireFrame] = []

    def send(self, address: Address, data: bytes) -> None:
        """Send a frame of eight bytes. Raises UsageError for one that does not only read."""
        if not may_leave(data):
            raise UsageError(
                f"{id_text(*address)}: this frame is no reading request, so it was not sent",
                remedy="netcheck sends the services 0x22, 0x19 and 0x3E only",
            )
        self.frames.append(WireFrame(self._wire.now_ns(), address, data))
        self._wire.send(address, data)

    def receive(self, seconds: float) -> WireFrame | None:
        """The next frame; None where none comes in time."""
        frame = self._wire.receive(seconds)
        if frame is not None:
            self.frames.append(frame)
        return frame

    def now_ns(self) -> int:
        """The clock of the frames."""
        return self._wire.now_ns()

    def wait(self, seconds: float) -> None:
        """Let time pass, and keep what comes."""
        end = self.now_ns() + round(seconds * 1e9)
        while (left := end - self.now_ns()) > 0:
            self.receive(left / 1e9)


@dataclass
class LiveReading:
    """Asks modules one after another. frames: of the whole conversation"""

    line: ReadingLine
    modules: Sequence[AskedModule]
    end: LiveEnd = LiveEnd.DONE
    silent: list[str] = field(default_factory=list)

    def listen(self, seconds: float) -> None:
        """Make sure that nobody else asks. Raises UsageError where somebody does."""
        self.line.wait(seconds)
        heard = {frame.address for frame in self.line.frames if self._is_testers(frame.address)}
        if heard:
            names = ", ".join(id_text(*address) for address in sorted(heard))
            raise UsageError(
                f"another tester is talking on this bus: {names}",
                remedy="unplug it; two testers at once disturb each other",
            )
        self.line.frames.clear()

    def run(self, told: Callable[[str], None] = lambda name: None) -> LiveEnd:
        """Ask everything. told: called with the name of each module before it is asked"""
        for module in self.modules:
            told(module.name)
            for number, request in enumerate(module.requests()):
                answer = self._ask(module, request)
                if self.end is not LiveEnd.DONE:
                    return self.end
                if answer is None and number == 0:
                    self.silent.append(module.name)
                    break
        return self.end

    def capture(self, channel: str) -> Capture:
        """The conversation as a capture."""
        return capture_of(self.line.frames, channel)

    def _is_testers(self, address: Address) -> bool:
        """Whether only a tester sends on this id, or a module that somebody asks."""
        ends = {end for module in self.modules for end in (module.request, module.response)}
        return address in ends or address in FUNCTIONAL or is_customary(address)

    def _ask(self, module: AskedModule, request: bytes) -> bytes | None:
        """The answer; None where the module is silent, or stays busy."""
        for wait in (*_BUSY_S, None):
            self.line.wait(_BETWEEN_S)
            frame = (bytes([len(request)]) + request).ljust(_LENGTH, _FILL)
            self.line.send(module.request, frame)
            answer = self._answer(module, request)
            is_busy = answer is not None and answer[:1] == bytes([NEGATIVE]) and answer[2:3] == bytes([BUSY])
            if not is_busy or self.end is not LiveEnd.DONE:
                return answer
            if wait is not None:
                self.line.wait(wait)
        return None

    def _answer(self, module: AskedModule, request: bytes) -> bytes | None:
        reassembler = Reassembler(most=1 << 12)
        deadline, pending = self.line.now_ns() + round(_ANSWER_S * 1e9), 0
        while (left := deadline - self.line.now_ns()) > 0:
            frame = self.line.receive(left / 1e9)
            if frame is None:
                continue
            if frame.address == module.request or frame.address in FUNCTIONAL:
                self.end = LiveEnd.OTHER_TESTER
                return None
            if frame.address != module.response or not frame.data:
                continue
            message = self._message(module, request, frame, reassembler)
            if message is None:
                if frame.data[0] >> 4 in {1, 2}:
                    deadline = self.line.now_ns() + round(_ANSWER_S * 1e9)
                continue
            if message[0] != NEGATIVE or message[2:3] != bytes([PENDING]) or pending == _MOST_PENDING:
                return message
            pending += 1
            deadline = self.line.now_ns() + round(_PENDING_S * 1e9)
        return None

    def _message(
        self, module: AskedModule, request: bytes, frame: WireFrame, reassembler: Reassembler
    ) -> bytes | None:
        """The answer that ends with a frame of the module; a first frame is let go on."""
        if frame.data[0] >> 4 == 1:
            self.line.send(module.request, _FLOW)
        for transfer in reassembler.take(capture_of([frame], ""), [0]):
            if transfer.is_whole and answers(request, transfer.data):
                return transfer.data
        return None


def capture_of(frames: Sequence[WireFrame], channel: str) -> Capture:
    """Frames as columns."""
    lengths = np.array([len(frame.data) for frame in frames], np.int64)
    return Capture(
        file=channel,
        channels=(channel,),
        time_ns=np.array([frame.time_ns for frame in frames], np.int64),
        can_id=np.array([frame.address[0] for frame in frames], np.uint32),
        flags=np.array([EXTENDED if frame.address[1] else 0 for frame in frames], np.uint8),
        channel=np.zeros(len(frames), np.uint8),
        length=lengths.astype(np.uint8),
        start=np.cumsum(lengths) - lengths,
        data=np.frombuffer(b"".join(frame.data for frame in frames), np.uint8),
    )
