"""Live recording over a real socket, between processes; the log is read back with the capture reader."""

from __future__ import annotations

import importlib
import inspect
import os
import socket
from pathlib import Path

import can
import numpy as np
import pytest

from netcheck.capture import read_capture
from netcheck.capture._bus import rate_set
from netcheck.capture._listen import NAMED, SWITCHES, Device, listening, read_device
from netcheck.capture.live import Ending, Listening, LiveCapture, LogFile, OpenBus, Tapping, open_bus
from netcheck.errors import InputError, UsageError
from tests.live import GROUP, free_port, numbered, open_sender, start_sender, until


def _tapping(port: int) -> Tapping:
    return Tapping("udp_multicast", GROUP, options={"port": str(port), "hop_limit": "0"})


@pytest.fixture
def port() -> int:
    return free_port()


class FakeBus(can.BusABC):
    """Plays messages and errors; then it is silent."""

    def __init__(self, *script: can.Message | Exception) -> None:
        super().__init__("fake")
        self.script = list(script)

    def _recv_internal(self, timeout):
        if not self.script:
            return None, True
        entry = self.script[0] if isinstance(self.script[0], OSError) else self.script.pop(0)
        if isinstance(entry, Exception):
            raise entry
        return entry, True

    def send(self, msg, timeout=None):
        raise AssertionError("nothing is sent")


def fake(*script: can.Message | Exception) -> OpenBus:
    return OpenBus(FakeBus(*script), Tapping("virtual", "fake"), Listening.NO_WIRE)


def frame(number: int, stamp: float = 1000.0) -> can.Message:
    message = numbered(number)
    message.timestamp = stamp + number / 1000
    return message


def error_frame(kind: int, *data: int) -> can.Message:
    return can.Message(
        arbitration_id=kind, is_error_frame=True, dlc=8, data=bytes(data).ljust(8, b"\0"), timestamp=1000.5
    )


def recorded(path: Path, *script: can.Message | Exception) -> LiveCapture:
    """Everything of the script, or up to what ends it."""
    opened = fake(*script)
    live = LiveCapture(opened, "can0")
    live.keep(LogFile(path))
    with live:
        until(lambda: live.has_ended or not opened.bus.script)
    return live


def test_no_frame_is_lost_at_the_rate_of_a_full_bus(tmp_path, port):
    """8,000 frames a second: more than a 1 Mbit/s bus carries with 8 data bytes each."""
    count, log = 24_000, tmp_path / "a.log"
    live = LiveCapture(open_bus(_tapping(port)), "can0")
    live.keep(LogFile(log))
    chunks = []
    with live:
        sender = start_sender(port, count, 8_000)
        until(lambda: chunks.append(live.take()) or live.frames + live.losses.frames >= count)
        assert sender.wait() == 0
    chunks.append(live.take())
    assert live.losses.frames == 0
    assert live.losses.is_told
    capture = read_capture(log)
    assert (len(capture), capture.skipped, capture.warnings) == (count, 0, ())
    numbers = capture.data.reshape(count, 8).copy().view(">u8").ravel()
    assert np.array_equal(numbers, np.arange(count))
    taken = [chunk for chunk in chunks if chunk is not None]
    for name in ("time_ns", "can_id", "flags", "length"):
        joined = np.concatenate([getattr(chunk, name) for chunk in taken])
        assert np.array_equal(joined, getattr(capture, name)), name
    assert live.first_ns == capture.time_ns[0]


def test_what_the_operating_system_drops_is_counted_and_said(tmp_path, port):
    count, log = 3_000, tmp_path / "a.log"
    opened = open_bus(_tapping(port))
    live = LiveCapture(opened, "can0")
    live.keep(LogFile(log))
    with socket.socket(fileno=os.dup(opened.bus.fileno())) as below:
        below.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 20_000)
    with open_sender(port) as sender:
        for number in range(count):
            sender.send(numbered(number))
    with live:
        until(lambda: live.frames + live.losses.frames == count)
    assert live.losses.system
    assert live.losses.frames == count - live.frames > 0
    capture = read_capture(log)
    assert len(capture) == live.frames
    assert capture.warnings[-1] == "the recorder reports 1 time that it lost frames"


def test_nothing_goes_out(tmp_path, port):
    with open_sender(port) as listener:
        live = LiveCapture(open_bus(_tapping(port)), "can0")
        live.keep(LogFile(tmp_path / "a.log"))
        with live:
            for name in ("send", "send_periodic", "flush_tx_buffer"):
                with pytest.raises(can.CanOperationError, match="only listens"):
                    getattr(live._opened.bus, name)(numbered(1))
            listener.send(numbered(5))
            until(lambda: live.frames == 1)
        assert int.from_bytes(listener.recv(0).data, "big") == 5  # its own, as multicast has it
        assert listener.recv(0) is None


def test_frames_that_nobody_took_in_time_are_counted_and_in_the_log(tmp_path, monkeypatch):
    monkeypatch.setattr("netcheck.capture._live._MOST_UNTAKEN", 100)
    log = tmp_path / "a.log"
    live = recorded(log, *(frame(number) for number in range(250)))
    taken = live.take()
    assert len(read_capture(log)) == live.frames == 250
    assert live.unseen == 250 - (0 if taken is None else len(taken)) >= 150


def test_every_kind_of_frame_reads_back(tmp_path):
    messages = [
        can.Message(1000.000001, 0x7FF, is_extended_id=False, data=b"\x01\xab"),
        can.Message(1000.25, 0x1FFFFFFF, is_extended_id=True, data=b""),
        can.Message(1000.5, 0x12, is_extended_id=False, is_remote_frame=True, dlc=8),
        can.Message(1000.75, 0x13, is_fd=True, is_extended_id=False, data=bytes(64), bitrate_switch=True),
        can.Message(1001.0, 0x14, is_fd=True, is_extended_id=True, data=b"\x01", error_state_indicator=True),
        error_frame(0x8, 0, 0, 0x04),
    ]
    log = tmp_path / "a.log"
    live = recorded(log, *messages)
    assert log.read_text().splitlines() == [
        "(0000001000.000001) can0 7FF#01AB",
        "(0000001000.250000) can0 1FFFFFFF#",
        "(0000001000.500000) can0 012#R8",
        f"(0000001000.750000) can0 013##1{'00' * 64}",
        "(0000001001.000000) can0 00000014##201",
        "(0000001000.500000) can0 20000008#0000040000000000",
    ]
    read, chunk = read_capture(log), live.take()
    for name in ("time_ns", "can_id", "flags", "length", "start", "data"):
        assert np.array_equal(getattr(chunk, name), getattr(read, name)), name
    assert (live.frames, live.error_frames) == (6, 1)


def test_python_can_reads_the_log_too(tmp_path):
    log = tmp_path / "a.log"
    recorded(log, *[frame(number) for number in range(50)])
    with can.LogReader(log) as reader:
        messages = list(reader)
    assert [int.from_bytes(message.data, "big") for message in messages] == list(range(50))


@pytest.mark.parametrize(
    ("last", "ending", "says"),
    [
        (OSError(19, "No such device"), Ending.INTERFACE_LOST, "the interface disappeared: .*No such device"),
        (error_frame(0x40), Ending.BUS_OFF, "bus-off"),
    ],
)
def test_what_ends_a_recording_leaves_what_came_before(tmp_path, last, ending, says):
    log = tmp_path / "a.log"
    live = recorded(log, *[frame(number) for number in range(20)], last)
    assert live.fault.ending is ending
    with pytest.raises(InputError, match=says):
        raise live.fault.error
    assert len(read_capture(log)) == 20 + (ending is Ending.BUS_OFF)


def test_a_receive_error_that_passes_ends_nothing(tmp_path):
    live = recorded(tmp_path / "a.log", frame(0), can.CanOperationError("garbled"), frame(1))
    assert (live.frames, live.failures, live.fault) == (2, 1, None)


def test_an_overrun_of_the_controller_is_a_loss_and_a_gap_is_none(tmp_path):
    log = tmp_path / "a.log"
    live = recorded(log, frame(0), error_frame(0x4, 0, 0x01), frame(1, 5000.0))
    assert (live.losses.overruns, live.losses.frames) == (1, 1)
    assert "DROPCOUNT: dropped 1 CAN frame on 'can0' (total drops 1)" in log.read_text()
    quiet = recorded(tmp_path / "b.log", frame(0), error_frame(0x4, 0, 0x08), frame(1, 5000.0))
    assert quiet.losses.frames == 0


def test_frames_before_keep_are_counted_and_not_written(tmp_path):
    opened = fake(*[frame(number) for number in range(5)])
    live = LiveCapture(opened, "can0")
    with live:
        until(lambda: live.heard == 5)
        live.keep(LogFile(tmp_path / "a.log"))
        opened.bus.script.append(frame(9))
        until(lambda: live.frames == 1)
    assert [int(word, 16) for word in read_capture(tmp_path / "a.log").payload(0).hex(" ").split()][-1] == 9


def test_a_recording_without_a_frame_leaves_no_file(tmp_path):
    live = LiveCapture(fake(), "can0")
    live.keep(LogFile(tmp_path / "a.log"))
    with live:
        pass
    assert not (tmp_path / "a.log").exists()


def test_a_log_that_is_there_stays(tmp_path):
    log = tmp_path / "a.log"
    log.write_text("mine")
    with pytest.raises(
        InputError, match=r"a\.log: -o: exists already – name a different file, or give --force"
    ):
        LogFile(log)
    assert log.read_text() == "mine"
    with pytest.raises(InputError, match="cannot be written: No such file or directory"):
        LogFile(tmp_path / "none" / "a.log")


@pytest.mark.parametrize(
    ("tapping", "error", "says"),
    [
        (Tapping("sockeet", "can0"), UsageError, "no interface 'sockeet' – did you mean"),
        (Tapping("socketcan", "can7"), InputError, "socketcan can7: cannot be opened: .*listen-only on"),
        (Tapping("slcan", "/dev/none"), InputError, "slcan /dev/none: cannot be opened"),
        (
            Tapping("virtual", "a", options={"receive_own_messages": "true"}),
            UsageError,
            "only listens",
        ),
        (Tapping("slcan", "a", options={"listen_only": "false"}), UsageError, "only listens"),
    ],
)
def test_an_interface_that_is_not_there(tapping, error, says):
    with pytest.raises(error, match=says):
        open_bus(tapping)


# The form of `ip -json -details link show dev NAME` (iproute2), shortened; values are our own.
IP = (
    '[{"ifname":"can0","flags":["NOARP","UP","LOWER_UP"],"linkinfo":{"info_kind":"can","info_data":'
    '{"ctrlmode":["LISTEN-ONLY"],"state":"ERROR-ACTIVE","bittiming":{"bitrate":500000}}}}]'
)


@pytest.mark.parametrize(
    ("told", "device", "does"),
    [
        (IP, Device(True, 500_000, True), Listening.ONLY),
        (IP.replace("LISTEN-ONLY", "LOOPBACK"), Device(True, 500_000, False), Listening.ACKNOWLEDGES),
        (IP.replace('"UP",', ""), Device(False, 500_000, True), Listening.ONLY),
        (
            '[{"flags":["UP"],"linkinfo":{"info_kind":"vcan"}}]',
            Device(True, None, False, False),
            Listening.NO_WIRE,
        ),
        ('[{"flags":["UP"]}]', Device(True, None, None, False), Listening.UNTOLD),
        ("[]", None, Listening.UNTOLD),
        ("Device does not exist", None, Listening.UNTOLD),
    ],
)
def test_what_the_system_says_of_a_device(told, device, does):
    assert read_device(told) == device
    assert listening("socketcan", device) is does


@pytest.mark.parametrize(
    ("interface", "arguments", "does"),
    [
        ("slcan", ("channel", "listen_only"), Listening.ASKED),
        ("slcan", ("channel",), Listening.UNTOLD),  # a python-can that does not know the switch
        ("systec", ("channel",), Listening.ASKED),
        ("robotell", ("channel",), Listening.UNTOLD),
        ("udp_multicast", (), Listening.NO_WIRE),
    ],
)
def test_what_an_interface_can(interface, arguments, does):
    assert listening(interface, None, arguments) is does


@pytest.mark.parametrize(
    ("interface", "device", "rate"),
    [
        ("slcan", None, 125_000),  # an adapter is told
        ("socketcan", Device(True, 500_000, True), 500_000),  # the system tells
        ("socketcan", None, None),  # nobody tells what it was set to
        ("udp_multicast", None, None),
    ],
)
def test_the_bit_rate_is_only_what_is_known(interface, device, rate):
    assert rate_set(Tapping(interface, "can0", 125_000), device) == rate


@pytest.mark.parametrize("interface", sorted(NAMED))
def test_the_switches_are_arguments_of_this_python_can(interface):
    module, name = can.interfaces.BACKENDS[interface]
    found = getattr(importlib.import_module(module), name)
    assert set(SWITCHES[interface]) <= set(inspect.signature(found.__init__).parameters)
