"""J1939 ids, against published worked examples.

0x18F0010B and 0x0C820E0F: gist of A. Mangas, 4f8ef5fe (priority, group, source, destination); the others
follow SAE J1939-21's layout, worked out by hand.
"""

from __future__ import annotations

import pytest

from netcheck.network._j1939 import is_j1939, take_apart
from tests.network.logs import Line, channel_of


@pytest.mark.parametrize(
    ("can_id", "priority", "group", "source", "destination"),
    [
        (0x18F0010B, 6, 61441, 0x0B, None),
        (0x0C820E0F, 3, 33280, 0x0F, 0x0E),
        (0x0CF00400, 3, 61444, 0x00, None),
        (0x18FEF100, 6, 65265, 0x00, None),
        (0x18F00503, 6, 61445, 0x03, None),
        (0x18EA00F9, 6, 59904, 0xF9, 0x00),
        (0x18FEEE00, 6, 65262, 0x00, None),
    ],
)
def test_ids(can_id, priority, group, source, destination):
    found = take_apart(can_id)
    assert (found.priority, found.group, found.source, found.destination) == (
        priority, group, source, destination,
    )  # fmt: skip
    assert found.group_name or group == 33280


@pytest.mark.parametrize(
    ("ids", "is_it"),
    [
        ({0x0CF00400: 100, 0x18FEF100: 10, 0x18F00503: 50}, True),
        ({0x0CF00400: 100, 0x18FEF100: 10, 0x18FF2127: 300}, True),  # proprietary ones besides
        ({0x18FF2127: 300, 0x18FF2227: 300}, False),  # nothing but those
        ({0x18DA10F1: 50, 0x18DAF110: 50, 0x18DB33F1: 5}, False),  # diagnostics on any network
        ({0x12345678: 50, 0x0CF00400: 1, 0x18FEF100: 1}, False),
        ({0x18DA10F1: 900, 0x0CF00400: 100, 0x18FEF100: 10}, True),
        ({}, False),
    ],
)
def test_recognition(ids, is_it):
    assert is_j1939(ids) is is_it
    assert is_j1939(ids, declared=True)


def test_a_channel_names_senders_and_groups(tmp_path):
    lines = [Line(10 * n, (0x0CF00400, 0x18FEF100, 0x18F00503)[n % 3], bytes(8)) for n in range(30)]
    channel = channel_of(tmp_path, lines)
    assert channel.is_j1939
    parts = {message.j1939.group: message.j1939 for message in channel.messages}
    assert parts[61444].group_name == "engine controller 1"
    assert parts[61445].source_name == "transmission 1"
