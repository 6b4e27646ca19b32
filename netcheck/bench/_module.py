"""A simulated module: what it answers to diagnostic requests, frame by frame, on a clock of the caller's.

For developers who test their own equipment. It knows sessions, reading, writing in the extended session,
fault reports and their clearing; every other service is refused as not supported.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from typing import Final

from netcheck.diagnostics import Address, Reassembler
from netcheck.diagnostics.live import WireFrame, capture_of
from netcheck.records import dataclass

_FLOW_WAIT_NS: Final = 1_000_000_000  # for flow control (ISO 15765-2, N_Bs)
_DEFAULT, _EXTENDED = 1, 3
_LONGEST: Final = 4095


@dataclass(frozen=True)
class ModuleSetting:
    """How a module is and behaves.

    blocks, identification: bytes by data identifier; faults: three bytes and a status each
    refuse:      data identifier → code of the negative response
    pending:     "response pending" answers before each answer
    answer_ms:   until the next message of an answer begins
    block_size, gap_ms, waits: its flow control: frames until the next one, least time between them, and how
                 often it says "wait" first
    """

    name: str
    request: Address
    response: Address
    blocks: Mapping[int, bytes] = field(default_factory=dict)
    identification: Mapping[int, bytes] = field(default_factory=dict)
    faults: tuple[bytes, ...] = ()
    refuse: Mapping[int, int] = field(default_factory=dict)
    pending: int = 0
    answer_ms: float = 5.0
    block_size: int = 0
    gap_ms: int = 0
    waits: int = 0


class SimulatedModule:
    """The services. State: its session, what was written, faults that were cleared."""

    def __init__(self, setting: ModuleSetting) -> None:
        self.setting = setting
        self.session = _DEFAULT
        self.values = {**setting.identification, **setting.blocks}
        self.faults = setting.faults

    def answer(self, request: bytes) -> Sequence[bytes]:
        """The messages that it sends, in order; () for none."""
        last = self._last(request)
        if last is None:
            return ()
        return (*[bytes([0x7F, request[0], 0x78])] * self.setting.pending, last)

    def _last(self, request: bytes) -> bytes | None:
        services = {
            0x10: self._change_session,
            0x14: self._clear,
            0x19: self._report,
            0x22: self._read,
            0x2E: self._write,
            0x3E: self._stay,
        }
        service = services.get(request[0])
        return service(request) if service is not None else _refusal(request, 0x11)

    def _stay(self, request: bytes) -> bytes | None:
        if len(request) != 2:
            return _refusal(request, 0x13)
        return None if request[1] & 0x80 else b"\x7e" + request[1:]

    def _clear(self, request: bytes) -> bytes:
        self.faults = ()
        return b"\x54"

    def _change_session(self, request: bytes) -> bytes | None:
        if len(request) != 2 or request[1] & 0x7F not in {_DEFAULT, _EXTENDED}:
            return _refusal(request, 0x12)
        self.session = request[1] & 0x7F
        return None if request[1] & 0x80 else bytes([0x50, self.session, 0x00, 0x32, 0x01, 0xF4])

    def _report(self, request: bytes) -> bytes:
        if request[1:2] == b"\x02" and len(request) == 3:
            shown = [fault for fault in self.faults if fault[3] & request[2]]
        elif request[1:] == b"\x0a":
            shown = list(self.faults)
        else:
            return _refusal(request, 0x12)
        return bytes([0x59, request[1], 0xFF]) + b"".join(shown)

    def _read(self, request: bytes) -> bytes:
        dids = [int.from_bytes(request[at : at + 2], "big") for at in range(1, len(request), 2)]
        if not dids or len(request) % 2 == 0:
            return _refusal(request, 0x13)
        for did in dids:
            if did in self.setting.refuse:
                return _refusal(request, self.setting.refuse[did])
        known = [did.to_bytes(2, "big") + self.values[did] for did in dids if did in self.values]
        answer = b"\x62" + b"".join(known)
        if not known:
            return _refusal(request, 0x31)
        return answer if len(answer) <= _LONGEST else _refusal(request, 0x14)

    def _write(self, request: bytes) -> bytes:
        did, data = int.from_bytes(request[1:3], "big"), request[3:]
        if self.session != _EXTENDED:
            return _refusal(request, 0x7F)
        if did in self.setting.refuse:
            return _refusal(request, self.setting.refuse[did])
        if did not in self.values:
            return _refusal(request, 0x31)
        if len(data) != len(self.values[did]):
            return _refusal(request, 0x13)
        self.values[did] = data
        return b"\x6e" + request[1:3]


def _refusal(request: bytes, code: int) -> bytes:
    return bytes([0x7F, request[0], code])


class ModuleStation:
    """A module on the wire: takes the tester's frames, and has its own when they are due."""

    def __init__(self, setting: ModuleSetting) -> None:
        self.module = SimulatedModule(setting)
        self._reassembler = Reassembler(most=_LONGEST)
        self._due: list[tuple[int, bytes]] = []  # in the order in which they are sent
        self._waiting: list[bytes] = []  # messages behind the one that is being sent
        self._rest: list[bytes] = []  # consecutive frames that flow control has not let go yet
        self._deadline_ns = 0
        self._received = 0  # consecutive frames since the last flow control

    @property
    def ids(self) -> tuple[Address, Address]:
        """Where it is asked, and where it answers."""
        return self.module.setting.request, self.module.setting.response

    def take(self, frame: WireFrame) -> None:
        """A frame of the tester; others are nobody's."""
        setting = self.module.setting
        if frame.address != setting.request or not frame.data:
            return
        kind = frame.data[0] >> 4
        if kind == 3:
            self._go_on(frame)
            return
        if kind == 1:
            self._received = 0
            self._due += [(frame.time_ns, self._flow(1))] * setting.waits + [(frame.time_ns, self._flow(0))]
        ended = list(self._reassembler.take(capture_of([frame], ""), [0]))
        if kind == 2 and not ended:
            self._received += 1
            if setting.block_size and self._received % setting.block_size == 0:
                self._due.append((frame.time_ns, self._flow(0)))
        for transfer in ended:
            if transfer.is_whole:
                self._due, self._rest = [], []  # a new request ends what was being sent
                self._waiting = [*self.module.answer(transfer.data)]
                self._next(frame.time_ns)

    def due(self, now_ns: int) -> Iterator[bytes]:
        """The frames to send by now, in order."""
        if self._rest and now_ns > self._deadline_ns and not self._due:
            self._rest, self._waiting = [], []  # the tester gave up
        while self._due and self._due[0][0] <= now_ns:
            yield self._due.pop(0)[1]

    def _flow(self, state: int) -> bytes:
        setting = self.module.setting
        return bytes([0x30 | state, setting.block_size, setting.gap_ms]).ljust(8, b"\xaa")

    def _next(self, now_ns: int) -> None:
        """Begin to send the next message."""
        at = now_ns
        while self._waiting and not self._rest:
            at += round(self.module.setting.answer_ms * 1e6)
            message = self._waiting.pop(0)
            if len(message) <= 7:
                self._due.append((at, (bytes([len(message)]) + message).ljust(8, b"\xaa")))
                continue
            head = bytes([0x10 | len(message) >> 8, len(message) & 0xFF])
            self._due.append((at, head + message[:6]))
            rest = [message[place : place + 7] for place in range(6, len(message), 7)]
            self._rest = [
                (bytes([0x20 | number & 15]) + part).ljust(8, b"\xaa") for number, part in enumerate(rest, 1)
            ]
            self._deadline_ns = at + _FLOW_WAIT_NS

    def _go_on(self, frame: WireFrame) -> None:
        """Flow control of the tester."""
        state, size, gap = frame.data[0] & 15, frame.data[1:2], frame.data[2:3]
        self._deadline_ns = frame.time_ns + _FLOW_WAIT_NS
        if state == 2:
            self._rest, self._waiting = [], []
        if state or not self._rest:
            return
        count = size[0] if size and size[0] else len(self._rest)
        gap_ns = _gap_ns(gap[0]) if gap else 0
        for number, part in enumerate(self._rest[:count]):
            self._due.append((frame.time_ns + number * gap_ns, part))
        self._rest = self._rest[count:]
        if not self._rest:
            self._next(self._due[-1][0])


def _gap_ns(code: int) -> int:
    """The least time between frames that a code of flow control asks for; a reserved one is the longest."""
    if 0xF1 <= code <= 0xF9:
        return (code - 0xF0) * 100_000
    return min(code, 0x7F) * 1_000_000
