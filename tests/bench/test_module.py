"""A simulated module: asked by netcheck's own reading on a clock of its own, and by udsoncan on a bus."""

from __future__ import annotations

import threading
import uuid
from dataclasses import replace

import pytest

from netcheck.bench import ModuleSetting, ModuleStation, SimulatedModule, Target, load_bench, send
from netcheck.diagnostics import read_conversation
from netcheck.diagnostics.live import AskedModule, LiveReading, ReadingLine, WireFrame
from netcheck.errors import InputError
from tests.diagnostics.talk import VIN
from tests.files.examples import SCRIPT, VEHICLE, folder

SETTING = ModuleSetting(
    "gateway",
    (0x6A0, False),
    (0x6B0, False),
    blocks={0x2210: bytes.fromhex("4C011F028000")},
    identification={0xF187: b"SK24-GAT-B", 0xF190: VIN.encode()},
    faults=(bytes.fromhex("C121872F"), bytes.fromhex("01234550")),
)


class Line:
    """The wire between a reader and a module; time goes on only by waiting."""

    def __init__(self, setting: ModuleSetting) -> None:
        self.now = 0
        self.station = ModuleStation(setting)
        self.queue: list[WireFrame] = []

    def send(self, address: tuple[int, bool], data: bytes) -> None:
        self.station.take(WireFrame(self.now, address, data))

    def receive(self, seconds: float) -> WireFrame | None:
        end = self.now + max(round(seconds * 1e9), 1)
        while not self.queue and self.now < end:
            self.now = min(self.now + 1_000_000, end)
            _, response = self.station.ids
            self.queue += [WireFrame(self.now, response, data) for data in self.station.due(self.now)]
        return self.queue.pop(0) if self.queue else None

    def now_ns(self) -> int:
        return self.now


@pytest.mark.parametrize(
    "change",
    [{}, {"pending": 3}, {"answer_ms": 900.0}, {"pending": 2, "answer_ms": 400.0, "gap_ms": 20}],
)
def test_it_is_read_out_whole(change):
    line = Line(replace(SETTING, **change))
    reading = LiveReading(
        ReadingLine(line), [AskedModule("gateway", SETTING.request, SETTING.response, (0x2210,))]
    )
    reading.run()
    (module,) = read_conversation(reading.capture("bench")).modules
    assert {text.did: text.last for text in module.identification} == {0xF187: "SK24-GAT-B", 0xF190: VIN}
    assert [block.last for block in module.blocks] == [SETTING.blocks[0x2210]]
    assert [(str(fault.fault), fault.fault.is_stored) for fault in module.faults.last or ()] == [
        ("P012345/50", False),
        ("U012187/2F", True),
    ]
    assert module.findings == ()


def services(*requests: str, setting: ModuleSetting = SETTING) -> list[str]:
    module = SimulatedModule(setting)
    return [answer.hex().upper() for request in requests for answer in module.answer(bytes.fromhex(request))]


@pytest.mark.parametrize(
    ("requests", "answers"),
    [
        (["3E00"], ["7E00"]),
        (["3E80"], []),
        (["222299"], ["7F2231"]),
        (["2222"], ["7F2213"]),
        (["22"], ["7F2213"]),
        (["19020F"], ["5902FFC121872F"]),
        (["190A"], ["590AFFC121872F01234550"]),
        (["1906"], ["7F1912"]),
        (["14FFFFFF", "190A"], ["54", "590AFF"]),
        (["2E2210000000000000"], ["7F2E7F"]),
        (["1003", "2E2210010203040506", "222210"], ["5003003201F4", "6E2210", "622210010203040506"]),
        (["1003", "2E221001"], ["5003003201F4", "7F2E13"]),
        (["1003", "2E999901"], ["5003003201F4", "7F2E31"]),
        (["1002"], ["7F1012"]),
        (["2701"], ["7F2711"]),
        (["31010203"], ["7F3111"]),
    ],
)
def test_services(requests, answers):
    assert services(*requests) == answers


def test_refusals_and_pending_answers():
    setting = replace(SETTING, refuse={0x2210: 0x33}, pending=2)
    assert services("222210", setting=setting) == ["7F2278", "7F2278", "7F2233"]


def test_slow_flow_control_of_a_long_request():
    """A write in three frames: two times "wait", then one frame at a time."""
    line = Line(replace(SETTING, waits=2, block_size=1, gap_ms=50))
    data = bytes.fromhex("2E2210") + bytes(range(17))

    def sent(frame: bytes) -> list[str]:
        line.send(SETTING.request, frame)
        found = []
        while (answer := line.receive(0.02)) is not None:
            found.append(answer.data.hex().upper())
        return found

    assert sent(bytes([0x10, len(data)]) + data[:6]) == ["310132AAAAAAAAAA"] * 2 + ["300132AAAAAAAAAA"]
    assert sent(b"\x21" + data[6:13]) == ["300132AAAAAAAAAA"]
    assert sent(b"\x22" + data[13:]) == ["037F2E7FAAAAAAAA"]


def test_a_tester_that_gives_up_is_forgotten():
    line = Line(SETTING)
    line.send(SETTING.request, bytes.fromhex("0322F19055555555"))
    first = line.receive(0.1)
    assert first is not None
    assert first.data[0] == 0x10
    assert line.receive(2.0) is None
    line.send(SETTING.request, bytes.fromhex("3000000000000000"))
    assert line.receive(0.1) is None
    line.send(SETTING.request, bytes.fromhex("023E000000000000"))
    answer = line.receive(0.1)
    assert answer is not None
    assert answer.data[:3] == b"\x02\x7e\x00"


MODULE = """
[[module]]
module = "column"
blocks = { 0x0600 = "03 10 1F 00" }
identification = { 0xF187 = "SK24-COL-A" }
faults = ["U012187/2F", "P0123"]
refuse = { 0x0601 = 0x33 }
pending = 1
answer_ms = 10.0
block_size = 2
gap_ms = 5
waits = 1
"""


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        (
            '"column"',
            '"colum"',
            "module[0].module: 'colum' is not a module of model year 2022 – one of column",
        ),
        ('"column"', '"gateway"', "module[0].module: 'gateway' has no request_id and response_id"),
        ("03 10 1F 00", "03 10", "module[0].blocks.0x0600: 2 bytes, but block 0x0600 of 'column' has 4"),
        ("SK24-COL-A", "SK24-Ö", "has other characters than ASCII"),
        ("pending = 1", "pending = -1", "module[0].pending: must be at least 0, not -1"),
        ("0x33", "0x133", "module[0].refuse.0x0601: must be at most 255, not 0x133"),
    ],
)
def test_a_script_that_cannot_be(tmp_path, old, new, says):
    text = "\n".join(SCRIPT.splitlines()[:5]) + "\n" + MODULE.replace(old, new)
    paths = folder(tmp_path, vehicle=VEHICLE, script=text)
    for name in ("comfort", "drive", "engine"):
        (tmp_path / f"{name}.dbc").write_text('VERSION ""\n\nBU_: COLUMN\n')
    with pytest.raises(InputError) as caught:
        load_bench(paths["vehicle"], paths["script"])
    assert says in str(caught.value)


def test_udsoncan_reads_and_writes_it_on_a_bus(monkeypatch):
    can = pytest.importorskip("can")
    isotp = pytest.importorskip("isotp")
    udsoncan = pytest.importorskip("udsoncan")
    from udsoncan.client import Client
    from udsoncan.connections import PythonIsoTpConnection

    from tests.diagnostics.test_readout_oracle import PATIENT, Codec

    monkeypatch.setattr("netcheck.bench._module._FLOW_WAIT_NS", 20_000_000_000)

    channel, stopping = uuid.uuid4().hex, threading.Event()
    setting = replace(SETTING, pending=1, block_size=2, gap_ms=1)
    heartbeat = can.Message(arbitration_id=0x123, data=b"\0", is_extended_id=False)

    def beats():
        number = 0
        while not stopping.is_set():
            yield number * 20_000_000, (channel, heartbeat)
            number += 1

    ids = {Target("virtual", channel): [(0x123, False), setting.response]}
    thread = threading.Thread(target=lambda: send(beats(), ids, listen=0, modules=[setting]), daemon=True)
    bus = can.Bus(interface="virtual", channel=channel)
    thread.start()
    assert bus.recv(20) is not None  # the module is on the bus from its first ordinary frame on
    address = isotp.Address(isotp.AddressingMode.Normal_11bits, txid=0x6A0, rxid=0x6B0)
    config = {"data_identifiers": {"default": Codec}, "request_timeout": 20, "p2_timeout": 20}
    try:
        stack = isotp.CanStack(bus, address=address, params=PATIENT)
        with Client(PythonIsoTpConnection(stack), config=config) as client:
            read = client.read_data_by_identifier(0xF190)
            assert read.service_data.values[0xF190] == VIN.encode()
            client.change_session(3)
            client.write_data_by_identifier(0x2210, b"\1\2\3\4\5\6")
            assert client.read_data_by_identifier(0x2210).service_data.values[0x2210] == b"\1\2\3\4\5\6"
            faults = client.get_dtc_by_status_mask(0x0F).service_data.dtcs
            assert [(dtc.id, dtc.status.get_byte_as_int()) for dtc in faults] == [(0xC12187, 0x2F)]
            with pytest.raises(udsoncan.exceptions.NegativeResponseException):
                client.ecu_reset(1)
    finally:
        stopping.set()
        thread.join(20)
        bus.shutdown()
