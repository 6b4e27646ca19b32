"""Against python-can's candump reader, over the forms that it reads rightly.

It reads ids of other digit counts, data of any length, error frames without the bus-error bit, full stops,
raw length codes and screen output wrongly or not at all; test_line_forms has those, expected by hand.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import can
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, read_capture

FD_LENGTHS = [*range(9), 12, 16, 20, 24, 32, 48, 64]


@st.composite
def messages(draw: st.DrawFn) -> can.Message:
    extended = draw(st.booleans())
    kind = draw(st.sampled_from(["data", "data", "data", "fd", "remote"]))
    size = draw(st.sampled_from(FD_LENGTHS)) if kind == "fd" else draw(st.integers(0, 8))
    return can.Message(
        timestamp=draw(st.integers(0, 2_000_000_000_000_000)) / 1e6,
        arbitration_id=draw(st.integers(0, 0x1FFFFFFF if extended else 0x7FF)),
        is_extended_id=extended,
        is_remote_frame=kind == "remote",
        is_fd=kind == "fd",
        bitrate_switch=kind == "fd" and draw(st.booleans()),
        error_state_indicator=kind == "fd" and draw(st.booleans()),
        is_rx=draw(st.booleans()),
        channel=draw(st.sampled_from(["can0", "vcan1", "can12"])),
        data=None if kind == "remote" else draw(st.binary(min_size=size, max_size=size)),
        dlc=0 if kind == "remote" else size,
        check=True,
    )


def flags_of(message: can.Message) -> int:
    pairs = [
        (message.is_extended_id, EXTENDED),
        (message.is_fd, FD),
        (message.is_remote_frame, REMOTE),
        (message.is_error_frame, ERROR),
        (message.bitrate_switch, BRS),
        (message.error_state_indicator, ESI),
    ]
    return sum(flag for is_set, flag in pairs if is_set)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(messages(), min_size=1, max_size=30), st.sampled_from([1, 100, 1 << 20]), st.sampled_from([1, 2])
)
def test_same_frames_as_python_can(written, chunk_bytes, threads):
    written.sort(key=lambda message: message.timestamp)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.log"
        with can.CanutilsLogWriter(path) as writer:
            for message in written:
                writer.on_message_received(message)
        with can.CanutilsLogReader(path) as reader:
            theirs = list(reader)
        ours = read_capture(path, chunk_bytes=chunk_bytes, threads=threads)
    assert (len(ours), ours.skipped) == (len(theirs), 0)
    for i, message in enumerate(theirs):
        assert ours.can_id[i] == message.arbitration_id
        assert ours.flags[i] == flags_of(message)
        assert ours.length[i] == message.dlc
        assert ours.payload(i) == bytes(message.data)
        assert ours.channels[ours.channel[i]] == message.channel
        assert abs(int(ours.time_ns[i]) - round(message.timestamp * 1e6) * 1000) <= 1000
