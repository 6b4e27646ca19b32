"""Error frames by kind; the layout is that of ``include/uapi/linux/can/error.h``."""

from __future__ import annotations

import pytest

from netcheck.network._errors import error_kinds
from tests.network.logs import ERROR_FLAG, Line, channel_of


@pytest.mark.parametrize(
    ("can_id", "data", "kinds"),
    [
        (0x001, "", {"transmit-timeout"}),
        (0x002, "1F", {"arbitration-lost"}),
        (0x004, "0001", {"frames-lost-receiving"}),
        (0x004, "0008", {"warning-level"}),
        (0x004, "0030", {"error-passive"}),
        (0x004, "", {"controller"}),
        (0x008, "000004", {"bit-stuffing"}),
        (0x008, "000002", {"format"}),
        (0x008, "00000008", {"crc"}),
        (0x008, "00000019", {"no-acknowledgement"}),
        (0x088, "000001", {"single-bit"}),
        (0x080, "", {"bus-error"}),
        (0x020, "", {"no-acknowledgement"}),
        (0x040, "", {"bus-off"}),
        (0x140, "", {"bus-off", "restarted"}),
        (0x000, "", {"unspecified"}),
    ],
)
def test_kinds(can_id, data, kinds):
    assert error_kinds(can_id, bytes.fromhex(data)[1:4]) == kinds


def test_they_are_counted_over_chunks(tmp_path):
    lines = [Line(n, ERROR_FLAG | 0x8, "0000040000000000") for n in range(30)]
    lines += [Line(40 + n, ERROR_FLAG | 0x40, bytes(8)) for n in range(3)]
    channel = channel_of(tmp_path, lines, None, 100)
    assert channel.errors == {"bit-stuffing": 30, "bus-off": 3}
    assert list(channel.errors) == ["bit-stuffing", "bus-off"]
    assert channel.error_frames == 33
