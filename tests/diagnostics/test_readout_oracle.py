"""Conversations that udsoncan has over can-isotp on python-can's virtual bus, read back from their log."""

from __future__ import annotations

import threading
import uuid
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from netcheck.diagnostics import read_diagnostics
from tests.diagnostics.talk import VIN

can = pytest.importorskip("can")
isotp = pytest.importorskip("isotp")
udsoncan = pytest.importorskip("udsoncan")

from udsoncan.client import Client  # noqa: E402
from udsoncan.connections import PythonIsoTpConnection  # noqa: E402
from udsoncan.exceptions import NegativeResponseException  # noqa: E402

REQUEST, RESPONSE = 0x6A0, 0x6B0


# Milliseconds; a machine that stands still for a while is no fault of the conversation.
PATIENT = {"rx_flowcontrol_timeout": 20_000, "rx_consecutive_frame_timeout": 20_000}


class Station:
    """A module that answers from a table, on a thread of its own."""

    def __init__(self, channel: str, blocks: dict[int, bytes], faults: bytes) -> None:
        self.bus = can.Bus(interface="virtual", channel=channel)
        address = isotp.Address(isotp.AddressingMode.Normal_11bits, txid=RESPONSE, rxid=REQUEST)
        self.stack = isotp.CanStack(self.bus, address=address, params={"stmin": 0, "blocksize": 3, **PATIENT})
        self.blocks, self.faults = blocks, faults
        self.stopping, self.ready = threading.Event(), threading.Event()
        self.thread = threading.Thread(target=self.run, daemon=True)

    def run(self) -> None:
        self.stack.start()
        self.ready.set()
        while not self.stopping.is_set():
            request = self.stack.recv(block=True, timeout=0.05)
            if request:
                for answer in self.answers(bytes(request)):
                    self.stack.send(answer, send_timeout=5)
        self.stack.stop()

    def answers(self, request: bytes) -> list[bytes]:
        did = int.from_bytes(request[1:3], "big")
        if request[0] == 0x22:
            if did not in self.blocks:
                return [bytes([0x7F, 0x22, 0x31])]
            return [bytes([0x7F, 0x22, 0x78]), b"\x62" + request[1:3] + self.blocks[did]]
        if request[0] == 0x2E:
            self.blocks[did] = request[3:]
            return [b"\x6e" + request[1:3]]
        if request[0] == 0x19:
            return [b"\x59" + request[1:2] + b"\xff" + self.faults]
        if request[0] == 0x10:
            return [b"\x50" + request[1:2] + b"\x00\x32\x01\xf4"]
        if request[0] == 0x3E:
            return [b"\x7e" + request[1:2]]
        return [bytes([0x7F, request[0], 0x11])]


class Codec(udsoncan.DidCodec):
    def encode(self, value):  # type: ignore[override]
        return value

    def decode(self, payload):  # type: ignore[override]
        return payload

    def __len__(self) -> int:
        raise udsoncan.DidCodec.ReadAllRemainingData


def conversation(log: Path, blocks: dict[int, bytes], faults: bytes, written: dict[int, bytes]) -> None:
    channel = uuid.uuid4().hex
    recorder = can.Bus(interface="virtual", channel=channel)
    station = Station(channel, dict(blocks), faults)
    bus = can.Bus(interface="virtual", channel=channel)
    address = isotp.Address(isotp.AddressingMode.Normal_11bits, txid=REQUEST, rxid=RESPONSE)
    stack = isotp.CanStack(bus, address=address, params=PATIENT)
    station.thread.start()
    assert station.ready.wait(20)
    config = {
        "data_identifiers": {"default": Codec},
        "request_timeout": 20,
        "p2_timeout": 20,
        "p2_star_timeout": 20,
    }
    try:
        with Client(PythonIsoTpConnection(stack), config=config) as client:
            for did in blocks:
                client.read_data_by_identifier(did)
            client.get_dtc_by_status_mask(0xFF)
            with pytest.raises(NegativeResponseException):
                client.read_data_by_identifier(0x4444)
            client.change_session(3)
            for did, data in written.items():
                client.write_data_by_identifier(did, data)
                client.read_data_by_identifier(did)
    finally:
        station.stopping.set()
        station.thread.join(20)
        with can.CanutilsLogWriter(log) as writer:
            time_s = 1_600_000_000.0
            while (message := recorder.recv(0)) is not None:
                time_s += 0.001  # in the order of the bus; when a loaded machine came to it says nothing
                message.timestamp = time_s
                writer.on_message_received(message)
        for each in (recorder, bus, station.bus):
            each.shutdown()


DIDS = st.integers(0x2000, 0x2FFF)
DATA = st.binary(min_size=1, max_size=40)


@settings(max_examples=6, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(
    blocks=st.dictionaries(DIDS, DATA, min_size=1, max_size=3),
    faults=st.lists(st.binary(min_size=4, max_size=4), max_size=4, unique_by=lambda row: row[:3]),
    change=st.binary(min_size=1, max_size=20),
)
def test_what_udsoncan_reads_and_writes_is_what_netcheck_reads_back(tmp_path_factory, blocks, faults, change):
    log = tmp_path_factory.mktemp("uds") / "talk.log"
    written = {next(iter(blocks)): change}
    conversation(log, {**blocks, 0xF190: VIN.encode()}, b"".join(faults), written)
    (module,) = read_diagnostics([log]).modules
    assert (module.request, module.response) == ((REQUEST, False), (RESPONSE, False))
    assert {block.did: block.before for block in module.blocks} == blocks
    assert {block.did: block.after for block in module.blocks if block.after is not None} == written
    assert [text.last for text in module.identification] == [VIN]
    theirs = {(udsoncan.Dtc(int.from_bytes(row[:3], "big")).id, row[3]) for row in faults}
    ours = {
        ("PCBU".index(f.fault.code[0]) << 22 | int(f.fault.code[1:], 16) & 0x3FFFFF, f.fault.status)
        for f in module.faults.last or ()
    }
    assert ours == theirs
    assert [(write.did, write.data, write.accepted, write.session) for write in module.writes] == [
        (did, data, True, 3) for did, data in written.items()
    ]
    assert [(refusal.did, refusal.code) for refusal in module.refusals] == [(0x4444, 0x31)]
    assert module.findings == ()
