"""Vehicle numbers in spoilt traffic: what cannot be put together goes, and the report says no more."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from netcheck.capture import EXTENDED
from netcheck.edit import Cut, Edit, EditRemarkKind, IdSpan, capture_lines
from tests.bench.frames import rows
from tests.captures import Frame, hand_made
from tests.diagnostics.test_groups import ALL, ONE
from tests.diagnostics.test_segments import READ, VIN, frames_of, sent
from tests.edit.test_anonymise import hidden
from tests.edit.words import told

DATA = Path(__file__).parents[1] / "data"
_, FIRST, _, CF1, CF2 = frames_of(READ)
DONE = Frame(0x7E8, bytes.fromhex("02 7E 00"))
DTC = Frame(0x7E8, bytes.fromhex("10 14 59 02 FF 81 82 83"))
DTC1 = Frame(0x7E8, bytes.fromhex("21 84 85 86 87 88 89 8A"))
DTC2 = Frame(0x7E8, bytes.fromhex("22 8B 8C 8D 8E 8F 90 91"))


def facts(edit: Edit) -> list[tuple]:
    return [
        (it.kind.value, it.name or ", ".join(it.names), it.count, it.text)
        for it in edit.remarks
        if it.kind is not EditRemarkKind.VIN_ONLY
    ]


UNKNOWN = ("vin-unknown", "", 0, "")


def test_late_consecutive_frames(tmp_path):
    late = [
        FIRST._replace(time_ns=0),
        CF1._replace(time_ns=1_500_000_000),
        CF2._replace(time_ns=1_510_000_000),
    ]
    payloads, edit = hidden(tmp_path, [*late, DONE])
    assert payloads == [FIRST.data[:5] + b"XXX", b"\x21XXXXXXX", b"\x22XXXXXXX", DONE.data]
    assert facts(edit) == [("vin-incomplete", "0x7E8", 3, "timed-out, no-first-frame"), UNKNOWN]


@pytest.mark.parametrize(
    "order", [(FIRST, DTC, CF1, CF2, DTC1, DTC2), (DTC, FIRST, CF1, CF2), (DTC, DTC1, FIRST, CF1, CF2, CF2)]
)
def test_a_second_first_frame(tmp_path, order):
    payloads, edit = hidden(tmp_path, [*order, DONE, DTC, DTC1, DTC2])
    for frame, payload in zip(order, payloads, strict=False):
        kept = 5 if frame is FIRST else 2 if frame is DTC else 1
        assert payload == frame.data[:kept] + b"X" * (8 - kept)
    assert payloads[len(order) :] == [DONE.data, DTC.data, DTC1.data, DTC2.data]
    assert told(edit)[0].endswith(f"may hold a vehicle number: {len(order)} frames became X's")


def test_what_a_broken_run_tells_is_looked_for_but_not_said_to_be_known(tmp_path):
    payloads, edit = hidden(tmp_path, [FIRST, FIRST, CF1, CF2, Frame(0x3F3, VIN[3:11])])
    assert payloads[4] == b"XXXXXXXX"
    assert ("vin-hidden", "0x3F3", 1, "") in facts(edit)
    assert UNKNOWN in facts(edit)


@pytest.mark.parametrize("zeros", [b"\0", b"\0\0\0", b"000"])
@pytest.mark.parametrize("head", [b"\x49\x02\x01", b"\x62\xf1\x90", b"\x5a\x90"])
def test_zeros_before_the_number(tmp_path, zeros, head):
    some = sent([head + zeros + VIN], long_frames=False, block=0, padding=None)
    payloads, edit = hidden(tmp_path, [*some, Frame(0x3F3, VIN[9:])])
    cross = b"X" * (17 + zeros.count(b"0"))
    expected = sent([head + zeros.replace(b"0", b"") + cross], long_frames=False, block=0, padding=None)
    assert payloads == [*(row.data for row in expected), b"XXXXXXXX"]
    changed = sum(frame.data != row.data for frame, row in zip(some, expected, strict=True))
    assert facts(edit) == [("vin-hidden", "0x3F3, 0x7E8", changed + 1, "")]


@pytest.mark.parametrize("target", [0x01, 0x12, 0x21, 0xF1])
def test_extended_addressing(tmp_path, target):
    message = b"\x62\xf1\x90" + VIN
    some = sent([b"\x7e", message], long_frames=False, block=0, padding=None, target=target)
    payloads, edit = hidden(tmp_path, some)
    again = sent([b"\x7e", message[:3] + b"X" * 17], long_frames=False, block=0, padding=None, target=target)
    assert payloads == [row.data for row in again]
    assert facts(edit) == [("vin-hidden", "0x7E8", 4, "")]


@pytest.mark.parametrize("target", [0x01, 0x12, 0x21, 0xF1])
def test_extended_addressing_without_its_first_frame(tmp_path, target):
    some = sent([b"\x62\xf1\x90" + VIN], long_frames=False, block=0, padding=None, target=target)
    some = [frame for frame in some if frame.data[1] >> 4 == 2]
    payloads, edit = hidden(tmp_path, some)
    assert not any(window in b"".join(payload[2:] for payload in payloads) for window in windows(VIN))
    assert facts(edit)[0][:2] == ("vin-incomplete", "0x7E8")


@pytest.mark.parametrize(
    ("message", "after"),
    [
        (b"\x5a\x90" + VIN, b"\x5a\x90" + b"X" * 17),
        (b"\x3b\x90" + VIN, b"\x3b\x90" + b"X" * 17),
        (b"\x5a\x80" + VIN + b"\x01\x02", b"\x5a\x80" + b"X" * 17 + b"\x01\x02"),
        (b"\x61\x81\x07" + VIN, b"\x61\x81\x07" + b"X" * 17),
        (b"\x63" + VIN + b"\xff", b"\x63" + b"X" * 17 + b"\xff"),
        (b"\x61\x81\x07" + b"9" * 17, None),  # a counter
    ],
)
def test_other_read_services(tmp_path, message, after):
    payloads, _ = hidden(tmp_path, sent([message], long_frames=False, block=0, padding=None))
    again = sent([after or message], long_frames=False, block=0, padding=None)
    assert payloads == [row.data for row in again]


def test_a_known_number_in_a_message_about_something_else(tmp_path):
    # Three characters in the first frame are no piece by themselves.
    part = b"\x62\xf1\xa5" + VIN[:12] + b"\x80\x81"
    messages = [b"\x62\xf1\x90" + VIN, part]
    payloads, _ = hidden(tmp_path, sent(messages, long_frames=False, block=0, padding=None))
    after = [messages[0][:3] + b"X" * 17, part[:3] + b"X" * 12 + b"\x80\x81"]
    again = sent(after, long_frames=False, block=0, padding=None)
    assert payloads == [row.data for row in again]


def test_what_might_be_a_number_is_said(tmp_path):
    some = sent([b"\x62\xf1\xa5" + VIN], long_frames=False, block=0, padding=None)
    payloads, edit = hidden(tmp_path, some)
    assert payloads == [frame.data for frame in some]
    assert facts(edit) == [("no-vin", "", 0, ""), ("vin-look-alike", "0x7E8", 0, "")]
    assert "messages on 0x7E8 that begin with 62 F1 A5 hold 17 or more letters and digits" in told(edit)[1]
    payloads, edit = hidden(tmp_path, some, VIN.decode())
    assert facts(edit) == [("vin-hidden", "0x7E8", 3, "")]


def test_a_message_about_the_number_that_tells_none(tmp_path):
    some = sent([b"\x62\xf1\x90" + b"\x1f" * 17], long_frames=False, block=0, padding=None)
    payloads, edit = hidden(tmp_path, some)
    assert payloads[0] == some[0].data[:5] + b"XXX"
    assert facts(edit) == [("vin-unread", "0x7E8", 3, ""), UNKNOWN]
    assert told(edit)[0].startswith("a message on 0x7E8 is about the vehicle number")


def test_a_capture_that_begins_mid_transfer(tmp_path):
    payloads, edit = hidden(tmp_path, [CF1, CF2, DONE, DTC, DTC1, DTC2])
    assert payloads == [b"\x21XXXXXXX", b"\x22XXXXXXX", DONE.data, DTC.data, DTC1.data, DTC2.data]
    assert facts(edit) == [("vin-incomplete", "0x7E8", 2, "no-first-frame"), UNKNOWN]


def test_consecutive_frames_of_an_id_that_nobody_knows(tmp_path):
    text = [CF1._replace(can_id=0x3F0), CF2._replace(can_id=0x3F0)]
    numbers = [Frame(0x123, bytes([0x20 + n % 16, n, 0x55, 3 * n % 256, 0, 0, 1, 2])) for n in range(20)]
    payloads, edit = hidden(tmp_path, [*text, *numbers])
    assert payloads == [b"\x21XXXXXXX", b"\x22XXXXXXX", *(frame.data for frame in numbers)]
    assert facts(edit)[0][:3] == ("vin-incomplete", "0x3F0", 2)


@pytest.mark.parametrize("name", ["rav4_2016_3s.log.gz", "rav4_2016_wheels.log.xz"])
def test_a_drive_without_diagnostics_stays_as_it_is(name):
    path = DATA / name
    before = [row[5] for chunk in Edit([path], Cut()) for row in rows(chunk)]
    edit = Edit([path], Cut(hide_vin=True))
    assert [row[5] for chunk in edit for row in rows(chunk)] == before
    assert EditRemarkKind.NO_VIN in {remark.kind for remark in edit.remarks}


def test_a_short_first_frame_and_what_follows(tmp_path):
    # After a lesson that prints a read with six bytes a frame.
    text = """
    3F0  10 14 62 F1 90 31
    3F0  21 4D 38 47 44 4D
    3F0  22 39 41 58 4B 50
    3F0  23 30 34 32 37 38 38
    """
    payloads, _ = hidden(tmp_path, frames_of(text))
    assert [payload.hex(" ") for payload in payloads] == [
        "10 14 58 58 58 58",
        "21 58 58 58 58 58",
        "22 58 58 58 58 58",
        "23 58 58 58 58 58 58",
    ]


def test_four_characters_a_message(tmp_path):
    parts = [b"\0\0\0" + VIN[:1], *(VIN[i : i + 4] for i in range(1, 17, 4))]
    some = [Frame(0x3F0, bytes([7, 0x49, 2, n]) + part) for n, part in enumerate(parts, 1)]
    payloads, edit = hidden(tmp_path, [*some, Frame(0x3F0, bytes.fromhex("44 00"))])
    assert {payload[3:] for payload in payloads[:5]} == {b"XXXXX"}
    assert payloads[5] == bytes.fromhex("44 00")
    assert facts(edit)[0][:2] == ("vin-unread", "0x3F0")


@pytest.mark.parametrize(("text", "count"), [(ALL, 3), (ONE, 3)])
def test_vehicle_identification_of_j1939(tmp_path, text, count):
    payloads, edit = hidden(tmp_path, [*frames_of(text), Frame(0x3F3, VIN[3:11])])
    packets = [
        payload for frame, payload in zip(frames_of(text), payloads, strict=False) if frame.data[0] < 4
    ]
    assert packets == [b"\x01XXXXXXX", b"\x02XXXXXXX", b"\x03XXX*\xff\xff\xff"]
    assert payloads[-1] == b"XXXXXXXX"
    assert facts(edit)[0][2] == count + 1


def test_vehicle_identification_in_one_frame(tmp_path):
    payloads, _ = hidden(
        tmp_path, [Frame(0x18FEEC00, VIN[:8], EXTENDED), Frame(0x18FEED00, VIN[:8], EXTENDED)]
    )
    assert payloads == [b"XXXXXXXX", VIN[:8]]


def test_spoilt_vehicle_identification_takes_its_neighbours_along(tmp_path):
    first, one, two, three = frames_of(ALL)
    other = first._replace(data=bytes.fromhex("20 0E 00 02 FF CA FE 00"))
    quiet = [other, *(Frame(one.can_id, bytes([n]) + b"\x80" * 7, EXTENDED) for n in (1, 2))]
    payloads, edit = hidden(tmp_path, [*quiet, *quiet, first, two, three, *quiet, *quiet])
    gone = [n for n, payload in enumerate(payloads) if b"XXXXXXX" in payload]
    assert gone == [4, 5, 7, 8, 10, 11]
    assert facts(edit) == [("vin-incomplete", "0x18EBFF00", 6, "wrong-sequence"), UNKNOWN]
    payloads, edit = hidden(tmp_path, [two, three])
    assert payloads == [b"\x02XXXXXXX", b"\x03XXXXXXX"]
    assert facts(edit)[0] == ("vin-incomplete", "0x18EBFF00", 2, "no-first-frame")


def test_only_frames_of_the_result_are_claimed(tmp_path):
    path = tmp_path / "x.log"
    path.write_bytes(capture_lines(hand_made([FIRST, CF1, CF2, DONE, CF1, CF2])))
    edit = Edit([path], Cut(end_s=0.02, hide_vin=True))
    assert [len(chunk) for chunk in edit] == [2]
    assert facts(edit) == [("vin-hidden", "0x7E8", 2, "")]
    edit = Edit([path], Cut(begin_s=0.05, hide_vin=True))
    assert [len(chunk) for chunk in edit] == [1]
    assert facts(edit) == [("vin-incomplete", "0x7E8", 1, "no-first-frame")]
    edit = Edit([path], Cut(blank=(IdSpan(0x7E8, 0x7E8, False),), hide_vin=True))
    assert {int(flag) for chunk in edit for flag in chunk.flags} == {0}
    assert facts(edit) == []


# ------------------------------------------------------------ any form, spoilt at random

SIGNS = "ABCDEFGHJKLMNPRSTUVWYZ0123456789"  # no X: it is what numbers become


NUMBERS = (
    st.tuples(st.text(SIGNS[:22], min_size=3, max_size=3), st.text(SIGNS, min_size=14, max_size=14))
    .map(lambda parts: "".join(parts).encode())
    .filter(lambda number: len(set(number)) > 5)
)


def windows(number: bytes) -> list[bytes]:
    return [number[i : i + 4] for i in range(14) if b"X" not in number[i : i + 4]]


HEADS = [b"\x62\xf1\x90", b"\x2e\xf1\x90", b"\x49\x02\x01", b"\x49\x02\x01\0\0\0", b"\x5a\x90", b"\x3b\x90",
         b"\x61\x91", b"\x62\xf1\x87PN-7\xf1\x90"]  # fmt: skip
KINDS = st.one_of(
    st.tuples(st.sampled_from(HEADS), st.booleans(), st.sampled_from([None, 0x01, 0x12, 0x21, 0xF1])),
    st.sampled_from([ALL, ONE]),
)


def traffic(kind, number: bytes, can_id: int) -> list[Frame]:
    if isinstance(kind, str):
        rows = frames_of(kind)
        parts = iter([number[:7], number[7:14], number[14:] + b"*\xff\xff\xff"])
        return [
            row._replace(data=row.data[:1] + next(parts)) if row.can_id >> 16 & 0xFF == 0xEB else row
            for row in rows
        ]
    head, long_frames, target = kind
    rows = sent([head + number], long_frames=long_frames, block=0, padding=0xAA, target=target)
    own = can_id + (target is not None)  # an id has one addressing
    return [row._replace(can_id=own if row.can_id == 0x7E8 else 0x7E0) for row in rows]


def lenient(frames: list[Frame], payloads: list[bytes]) -> list[bytes]:
    """What readers that look at no time, no order and no number of bytes put together."""
    texts = list(payloads)
    rows: dict[tuple, list[bytes]] = {}
    for frame, payload in zip(frames, payloads, strict=True):
        for skip in (0, 1):
            kind = frame.data[skip : skip + 1]
            key = frame.can_id, skip, frame.data[:skip]
            if frame.flags & EXTENDED and frame.can_id >> 16 & 0xFF == 0xEB:
                rows.setdefault((frame.can_id, "packets"), []).append(payload[1:])
            elif kind and kind[0] >> 4 == 1:
                rows.setdefault(key, []).append(payload[skip + 2 :])
                rows.setdefault((*key, "own", len(texts)), []).append(payload[skip + 2 :])
            elif kind and kind[0] >> 4 == 2:
                for other, some in rows.items():
                    own = other[: len(key)] == key and "own" in other
                    if own and kind[0] & 15 == len(some) & 15:
                        some.append(payload[skip + 1 :])
                rows.setdefault(key, []).append(payload[skip + 1 :])
    return texts + [b"".join(row) for row in rows.values()]


SPOILS = st.lists(
    st.tuples(st.sampled_from(["lose", "late", "again", "swap"]), st.integers(0, 40), st.integers(1, 6)),
    max_size=4,
)


def spoilt(wire: list[Frame], spoils) -> list[Frame]:
    rows = [frame._replace(time_ns=n * 10_000_000) for n, frame in enumerate(wire)]
    for how, where, by in spoils:
        at = where % max(len(rows), 1)
        if how == "late":
            rows[at:] = [row._replace(time_ns=row.time_ns + 1_300_000_000) for row in rows[at:]]
        elif rows:
            row = rows[at]
            if how != "again":
                del rows[at]
            if how != "lose":
                rows.insert(at + by, row)
    times = sorted(row.time_ns for row in rows)
    return [row._replace(time_ns=time) for row, time in zip(rows, times, strict=True)]


@settings(max_examples=250, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    NUMBERS,
    st.lists(st.tuples(KINDS, st.sampled_from([0x7E8, 0x612, 0x3F0])), min_size=1, max_size=3),
    st.lists(st.sampled_from(["dtc", "plain", "single"]), max_size=3),
    st.lists(st.integers(0, 5), min_size=40, max_size=40),
    SPOILS,
    st.booleans(),
)
def test_no_four_characters_of_a_spoilt_number_remain(
    tmp_path, number, kinds, others, turns, spoils, is_given
):
    feeds = [traffic(kind, number, can_id) for kind, can_id in kinds]
    feeds += [
        {"dtc": [DTC, DTC1, DTC2], "plain": [Frame(0x123, b"\x80" + number[5:12])], "single": [DONE]}[each]
        for each in others
    ]
    wire: list[Frame] = []
    for turn in [*turns, *[0] * 200]:
        live = [feed for feed in feeds if feed]
        if live:
            feed = live[turn % len(live)]
            wire.append(feed.pop(0))
    wire = spoilt(wire, spoils)
    if not wire:
        return
    payloads, edit = hidden(tmp_path, wire, *([number.decode()] if is_given else []))
    found = {remark.kind for remark in edit.remarks}
    leaks = [text for text in lenient(wire, payloads) if any(each in text for each in windows(number))]
    confessed = found & {EditRemarkKind.NO_VIN, EditRemarkKind.VIN_UNKNOWN, EditRemarkKind.VIN_LOOK_ALIKE}
    if is_given or not confessed or not {"dtc", "plain"} & set(others):
        assert not leaks
    changed = sum(frame.data != payload for frame, payload in zip(wire, payloads, strict=True))
    claims = {remark.name: remark.count for remark in edit.remarks if remark.name and remark.count}
    claims[""] = sum(it.count for it in edit.remarks if it.kind is EditRemarkKind.VIN_HIDDEN)
    assert sum(claims.values()) == changed
