"""J1939 messages put together from packets: hand-made transfers, faults by hand."""

from __future__ import annotations

import pytest

from netcheck.capture import ERROR, EXTENDED
from netcheck.diagnostics import GroupReassembler, Lapse, group_frames
from tests.captures import Frame, hand_made
from tests.diagnostics.test_segments import VIN, frames_of

ALL = """
18ECFF00 20 12 00 03 FF EC FE 00
18EBFF00 01 31 4D 38 47 44 4D 39
18EBFF00 02 41 58 4B 50 30 34 32
18EBFF00 03 37 38 38 2A FF FF FF
"""
ONE = """
1CECF900 10 12 00 03 FF EC FE 00
1CEC00F9 11 03 01 FF FF EC FE 00
1CEBF900 01 31 4D 38 47 44 4D 39
1CEBF900 02 41 58 4B 50 30 34 32
1CEBF900 03 37 38 38 2A FF FF FF
1CEC00F9 13 12 00 03 FF EC FE 00
"""


def groups(frames: list[Frame]) -> list:
    capture = hand_made(frames)
    reassembler = GroupReassembler()
    chosen = group_frames(capture).nonzero()[0]
    return [*reassembler.take(capture, chosen), *reassembler.finish()]


@pytest.mark.parametrize(("text", "destination", "frames"), [(ALL, 0xFF, (1, 2, 3)), (ONE, 0xF9, (2, 3, 4))])
def test_a_vehicle_identification(text, destination, frames):
    (found,) = groups(frames_of(text))
    assert (found.source, found.destination, found.group) == (0x00, destination, 65260)
    assert (found.received, found.frames, found.is_whole) == (VIN + b"*", frames, True)


def test_two_senders_and_frames_of_nobody():
    first, one, two, three = frames_of(ALL)
    other = [frame._replace(can_id=frame.can_id + 0x21) for frame in (first, one, two, three)]
    nobody = [one._replace(flags=EXTENDED | ERROR), one._replace(can_id=0x7E8, flags=0)]
    mixed = [first, other[0], one, *nobody, other[1], two, other[2], three, other[3]]
    assert [(each.source, each.received) for each in groups(mixed)] == [
        (0x00, VIN + b"*"),
        (0x21, VIN + b"*"),
    ]


def spoilt(*order: int, **late: int) -> list:
    rows = frames_of(ALL)
    frames = [rows[i]._replace(time_ns=n * 10_000_000 + late.get(f"n{n}", 0)) for n, i in enumerate(order)]
    return [(each.lapse, len(each.received), each.frames) for each in groups(frames)]


def test_what_is_not_whole_says_why():
    assert spoilt(0, 1, 2, 3) == [(None, 18, (1, 2, 3))]
    assert spoilt(0, 1, 3) == [(Lapse.WRONG_SEQUENCE, 7, (1, 2))]
    assert spoilt(0, 1, 1, 2, 3) == [(Lapse.WRONG_SEQUENCE, 7, (1, 2, 3, 4))]
    assert spoilt(1, 2) == [(Lapse.NO_FIRST_FRAME, 0, (0, 1))]
    assert spoilt(0, 1) == [(Lapse.CUT_OFF, 7, (1,))]
    assert spoilt(0, 0, 1, 2, 3) == [(Lapse.OVERLAPPED, 0, ()), (None, 18, (2, 3, 4))]
    assert spoilt(0, 1, n1=1_240_000_000) == [(Lapse.CUT_OFF, 7, (1,))]
    assert spoilt(0, 1, n1=1_250_000_000) == [
        (Lapse.TIMED_OUT, 0, ()),
        (Lapse.NO_FIRST_FRAME, 0, (1,)),
    ]


@pytest.mark.parametrize(
    ("first", "lapse"),
    [
        ("18ECFF00 20 12 00 04 FF EC FE 00", Lapse.BAD_LENGTH),
        ("18ECFF00 20 08 00 02 FF EC FE 00", Lapse.BAD_LENGTH),
        ("18ECFF00 20 FF 07 25 FF EC FE 00", Lapse.BAD_LENGTH),
        ("18ECFF00 20 12 00 03 FF EC FE", Lapse.SHORT_FRAME),
    ],
)
def test_announcements_that_cannot_be(first, lapse):
    (found,) = groups([*frames_of(first), *frames_of(ALL)[1:]])
    assert (found.lapse, found.received) == (lapse, b"")


def test_a_short_packet():
    first, one, *_ = frames_of(ALL)
    (found,) = groups([first, one._replace(data=one.data[:7])])
    assert found.lapse is Lapse.SHORT_FRAME
