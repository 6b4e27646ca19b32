"""Messages put together from frames: worked examples, can-isotp as a second opinion, faults by hand."""

from __future__ import annotations

from collections import deque

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.capture import ERROR, EXTENDED, FD, REMOTE
from netcheck.diagnostics import Lapse, Reassembler, TransportTally, reassemble, transport_ids
from tests.captures import Frame, hand_made

VIN = b"1M8GDM9AXKP042788"  # a published example number
READ = """
7E0  03 22 F1 90 55 55 55 55
7E8  10 14 62 F1 90 31 4D 38
7E0  30 00 0A 55 55 55 55 55
7E8  21 47 44 4D 39 41 58 4B
7E8  22 50 30 34 32 37 38 38
"""  # made with can-isotp 2.0.7


def frames_of(text: str) -> list[Frame]:
    rows = [line.split() for line in text.strip().splitlines()]
    return [
        Frame(int(word, 16), bytes.fromhex("".join(data)), EXTENDED if len(word) > 3 else 0)
        for word, *data in rows
    ]


def seen(text: str) -> list[tuple]:
    return [
        (transfer.can_id, transfer.lapse, transfer.received.hex(" ").upper(), transfer.frames)
        for transfer in reassemble(hand_made(frames_of(text)), {(0x7E0, False), (0x7E8, False)})
    ]


def test_a_worked_read_of_the_vehicle_number():
    request, answer = reassemble(hand_made(frames_of(READ)))
    assert (request.can_id, request.data, request.frames) == (0x7E0, b"\x22\xf1\x90", (0,))
    assert (answer.can_id, answer.data) == (0x7E8, b"\x62\xf1\x90" + VIN)
    assert (answer.partner, answer.frames, answer.is_whole) == (0x7E0, (1, 3, 4), True)
    assert (answer.first_ns, answer.last_ns) == (10_000_000, 40_000_000)
    assert request.partner is None


def test_a_first_frame_that_is_not_full_is_no_message():
    # After a lesson that prints the read above with six bytes a frame.
    text = """
    7E8  10 14 62 F1 90 31
    7E8  21 4D 38 47 44 4D
    7E8  22 39 41 58 4B 50
    7E8  23 30 34 32 37 38 38
    """
    assert seen(text) == [(0x7E8, Lapse.SHORT_FRAME, "", (0, 1, 2, 3))]
    (transfer,) = reassemble(hand_made(frames_of(text)), {(0x7E8, False)})
    assert transfer.text == "a first frame of 6 bytes, which must have 8"
    assert transfer.data == b""


FIRST = "7E8 10 14 62 F1 90 31 4D 38\n"
ONE = "7E8 21 47 44 4D 39 41 58 4B\n"
TWO = "7E8 22 50 30 34 32 37 38 38\n"
HEAD = "62 F1 90 31 4D 38"
WITH_ONE = HEAD + " 47 44 4D 39 41 58 4B"
ALL = WITH_ONE + " 50 30 34 32 37 38 38"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (FIRST + ONE + TWO, [(None, ALL, (0, 1, 2))]),
        (FIRST + TWO, [(Lapse.WRONG_SEQUENCE, HEAD, (0, 1))]),
        (FIRST + ONE + ONE + TWO, [(Lapse.WRONG_SEQUENCE, WITH_ONE, (0, 1, 2, 3))]),
        (FIRST + TWO + ONE, [(Lapse.WRONG_SEQUENCE, HEAD, (0, 1, 2))]),
        (ONE + TWO, [(Lapse.NO_FIRST_FRAME, "", (0, 1))]),
        (FIRST + ONE, [(Lapse.CUT_OFF, WITH_ONE, (0, 1))]),
        (FIRST + ONE + FIRST + ONE + TWO, [(Lapse.OVERLAPPED, WITH_ONE, (0, 1)), (None, ALL, (2, 3, 4))]),
        (FIRST + "7E8 02 7E 00\n" + ONE, [
            (Lapse.OVERLAPPED, HEAD, (0,)), (None, "7E 00", (1,)), (Lapse.NO_FIRST_FRAME, "", (2,)),
        ]),
        (FIRST + ONE + "7E8 22 50 30 34\n", [(Lapse.SHORT_FRAME, WITH_ONE, (0, 1, 2))]),
        (FIRST + "7E0 32 00 00\n" + ONE, [
            (Lapse.REFUSED, HEAD, (0,)), (Lapse.NO_FIRST_FRAME, "", (2,)),
        ]),
        (FIRST + "7E0 31 00 00\n" + ONE + TWO, [(None, ALL, (0, 2, 3))]),
        ("7E8 10 07 62 F1 90 31 4D 38\n", [(Lapse.BAD_LENGTH, HEAD, (0,))]),
        ("7E8 00 62\n7E8 05 62 F1\n7E8 09 62 F1 90 31 4D 38 47\n", [
            (Lapse.BAD_LENGTH, "", (0,)), (Lapse.BAD_LENGTH, "62 F1", (1,)),
            (Lapse.BAD_LENGTH, "62 F1 90 31 4D 38 47", (2,)),
        ]),
        ("7E0 30 00 00\n7E8 40 00\n", []),
    ],
)  # fmt: skip
def test_what_is_not_whole_says_why(text, expected):
    assert [entry[1:] for entry in seen(text)] == expected


def test_a_second_of_silence_ends_a_message():
    def at(milliseconds: int) -> list[Frame]:
        first, one, two = frames_of(FIRST + ONE + TWO)
        return [
            first._replace(time_ns=0),
            one._replace(time_ns=1_000_000_000),
            two._replace(time_ns=1_000_000_000 + milliseconds * 1_000_000),
        ]

    (whole,) = reassemble(hand_made(at(1000)))
    assert whole.is_whole
    broken, stray = reassemble(hand_made(at(1001)))
    assert (broken.lapse, broken.text) == (
        Lapse.TIMED_OUT,
        "no frame for more than a second with 7 bytes missing",
    )
    assert stray.lapse is Lapse.NO_FIRST_FRAME


def test_nobodys_frames_and_other_channels_do_not_count():
    first, one, two = frames_of(FIRST + ONE + TWO)
    mixed = [
        first,
        Frame(0x7E8, b"\x21" * 8, ERROR),
        Frame(0x7E8, b"", REMOTE, length=8),
        first._replace(channel="can1"),
        Frame(0x7E8, b"\x25" * 8, EXTENDED),
        one,
        two,
        one._replace(channel="can1"),
        two._replace(channel="can1"),
    ]
    found = reassemble(hand_made(mixed), {(0x7E8, False)})
    assert [(transfer.channel, transfer.is_whole, transfer.frames) for transfer in found] == [
        ("can0", True, (0, 5, 6)),
        ("can1", True, (3, 7, 8)),
    ]


def test_ids_are_told_by_what_they_carry():
    fitting = "7E0 03 22 F1 90 55 55 55 55\n18DAF110 10 14 62 F1 90 31 4D 38\n7E1 30 00 00\n7E2 23 01\n"
    other = (
        "123 03 22 F1 90\n123 44 00\n124 00 11 22\n125 08 11 22 33 44 55 66 77\n126 10 08 11\n127 33 00 00\n"
    )
    capture = hand_made(
        [*frames_of(fitting), *frames_of(other), Frame(0x128, b"", REMOTE), Frame(0x129, b"")]
    )
    assert transport_ids(capture) == {(0x7E0, False), (0x18DAF110, True), (0x7E1, False), (0x7E2, False)}


def test_what_the_frames_of_an_id_look_like():
    text = """
    7E0 03 22 F1 90 55 55 55 55
    7E8 10 14 62 F1 90 31 4D 38
    612 F1 10 14 62 F1 90 31 4D
    612 F1 21 38 47 44 4D 39 41
    18DAF110 22 00
    """
    long = Frame(0x700, b"\x00\x0a" + bytes(range(0xA0, 0xAA)), FD)
    tally = TransportTally()
    for chunk in (frames_of(text), [long, Frame(0x7E0, b"\x55" * 8), Frame(0x7E0, b"", REMOTE)]):
        tally.add(hand_made(chunk))
    assert tally.counts() == {
        (0x612, False): (2, (0, 2), (0, 2)),
        (0x700, False): (1, (1, 0), (1, 0)),
        (0x7E0, False): (2, (1, 1), (0, 1)),
        (0x7E8, False): (1, (1, 1), (1, 1)),
        (0x18DAF110, True): (1, (1, 0), (1, 0)),
    }


# ------------------------------------------------------------ can-isotp, an independent implementation

PAYLOADS = st.lists(st.binary(min_size=1, max_size=150), min_size=1, max_size=4)


def sent(
    payloads: list[bytes], *, long_frames: bool, block: int, padding: int | None, target: int | None = None
) -> list[Frame]:
    """The frames with which can-isotp sends messages from 7E8 and answers them from 7E0.

    target: the address byte of extended addressing; None for normal addressing
    """
    isotp = pytest.importorskip("isotp")
    wire: list[Frame] = []
    ends: dict[int, deque] = {0x7E0: deque(), 0x7E8: deque()}

    def transmit(message) -> None:
        data = bytes(message.data)
        wire.append(Frame(message.arbitration_id, data, FD if len(data) > 8 else 0))
        ends[0x7E0 if message.arbitration_id == 0x7E8 else 0x7E8].append(message)

    def address(sender: int, receiver: int):
        if target is None:
            return isotp.Address(isotp.AddressingMode.Normal_11bits, txid=sender, rxid=receiver)
        return isotp.Address(
            isotp.AddressingMode.Extended_11bits,
            txid=sender,
            rxid=receiver,
            target_address=target if sender == 0x7E8 else 0x22,
            source_address=0x22 if sender == 0x7E8 else target,
        )

    def layer(sender: int, receiver: int):
        return isotp.TransportLayerLogic(
            rxfn=lambda timeout: ends[sender].popleft() if ends[sender] else None,
            txfn=transmit,
            address=address(sender, receiver),
            params={
                "blocksize": block,
                "stmin": 0,
                "tx_data_length": 64 if long_frames else 8,
                "can_fd": long_frames,
                "tx_padding": padding,
            },
        )

    one, other = layer(0x7E8, 0x7E0), layer(0x7E0, 0x7E8)
    for payload in payloads:
        one.send(payload)
        while one.transmitting() or ends[0x7E0] or ends[0x7E8]:
            one.process()
            other.process()
        assert bytes(other.recv()) == payload
    return wire


@settings(max_examples=60)
@given(PAYLOADS, st.booleans(), st.sampled_from([0, 1, 3]), st.sampled_from([None, 0xAA]), st.integers(1, 9))
def test_messages_that_can_isotp_sends_come_out_whole(payloads, long_frames, block, padding, cut):
    capture = hand_made(sent(payloads, long_frames=long_frames, block=block, padding=padding))
    both = reassemble(capture, {(0x7E0, False), (0x7E8, False)})
    answers = [transfer for transfer in both if transfer.can_id == 0x7E8]
    assert len(answers) == len(both)
    assert [transfer.data for transfer in answers] == payloads
    assert all(transfer.partner == 0x7E0 for transfer in answers if len(transfer.frames) > 1)
    piecewise = Reassembler()
    found = []
    for begin in range(0, len(capture), cut):
        found += piecewise.take(capture, range(begin, min(begin + cut, len(capture))))
    assert [transfer for transfer in found if transfer.can_id == 0x7E8] == answers


@settings(max_examples=40)
@given(PAYLOADS, st.booleans(), st.sampled_from([0, 2]), st.sampled_from([0x01, 0x12, 0x21, 0xF1]))
def test_messages_with_an_address_byte_come_out_whole(payloads, long_frames, block, target):
    wire = sent(payloads, long_frames=long_frames, block=block, padding=None, target=target)
    capture = hand_made(wire)
    reassembler = Reassembler(address_bytes=1)
    found = [*reassembler.take(capture, range(len(capture))), *reassembler.finish()]
    answers = [transfer for transfer in found if transfer.can_id == 0x7E8]
    assert [transfer.data for transfer in answers] == payloads
    assert {transfer.target for transfer in answers} == {target}


def test_each_address_byte_has_its_own_message():
    text = """
    612 F1 10 14 62 F1 90 31 4D
    612 40 10 08 62 01 02 03 04
    612 F1 21 38 47 44 4D 39 41
    612 40 21 05 06 07
    612 F1 22 58 4B 50 30 34 32
    612 F1 23 37 38 38
    612 12 30
    """
    capture = hand_made(frames_of(text))
    reassembler = Reassembler(address_bytes=1)
    found = list(reassembler.take(capture, range(len(capture))))
    assert [(transfer.target, transfer.data, transfer.frames) for transfer in found] == [
        (0x40, bytes.fromhex("62 01 02 03 04 05 06 07"), (1, 3)),
        (0xF1, b"\x62\xf1\x90" + VIN, (0, 2, 4, 5)),
    ]


@settings(max_examples=80)
@given(
    PAYLOADS, st.lists(st.tuples(st.integers(0, 60), st.sampled_from(["lose", "double", "swap"])), max_size=3)
)
def test_spoilt_traffic_gives_the_messages_that_can_isotp_gives(payloads, spoils):
    isotp = pytest.importorskip("isotp")
    wire = [
        frame for frame in sent(payloads, long_frames=False, block=0, padding=None) if frame.can_id == 0x7E8
    ]
    for at, how in spoils:
        if at < len(wire) - (how == "swap"):
            frame = wire.pop(at)
            wire[at:at] = {
                "lose": [],
                "double": [frame, frame],
                "swap": [wire.pop(at), frame] if how == "swap" else [],
            }[how]
    queue = deque(
        isotp.CanMessage(arbitration_id=0x7E8, data=frame.data, extended_id=False) for frame in wire
    )
    receiver = isotp.TransportLayerLogic(
        rxfn=lambda timeout: queue.popleft() if queue else None,
        txfn=lambda message: None,
        address=isotp.Address(isotp.AddressingMode.Normal_11bits, txid=0x7E0, rxid=0x7E8),
    )
    while queue:
        receiver.process()
    expected = []
    while receiver.available():
        expected.append(bytes(receiver.recv()))
    found = reassemble(hand_made(wire), {(0x7E8, False)})
    assert [transfer.data for transfer in found if transfer.is_whole] == expected
    # Every frame is in one message, whole or not.
    assert sorted(n for transfer in found for n in transfer.frames) == list(range(len(wire)))
