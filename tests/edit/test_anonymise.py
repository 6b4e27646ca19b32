"""Vehicle numbers are hidden wherever they are, and nothing else is touched."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from netcheck.capture import EXTENDED, FD, REMOTE
from netcheck.edit import Cut, Edit, capture_lines
from netcheck.errors import UsageError
from tests.bench.frames import rows
from tests.captures import Frame, hand_made
from tests.diagnostics.test_segments import READ, VIN, frames_of, sent
from tests.edit.words import told

DID = b"\xf1\x90"
OTHER = b"1J9RP1A36A1644345"  # another published example number


def hidden(
    folder: Path, some: list[Frame], *vins: str, chunk_bytes: int | None = None
) -> tuple[list[bytes], Edit]:
    path = folder / "x.log"
    path.write_bytes(capture_lines(hand_made(some)))
    edit = Edit([path], Cut(hide_vin=True, vins=vins), chunk_bytes=chunk_bytes)
    found = [row for chunk in edit for row in rows(chunk)]
    before = rows(hand_made(some))
    assert [row[:5] for row in found] == [row[:5] for row in before]  # nothing but payloads changes
    return [row[5] for row in found], edit


def test_the_answer_of_a_worked_read(tmp_path):
    payloads, edit = hidden(tmp_path, frames_of(READ), chunk_bytes=30)
    assert [payload.hex(" ").upper() for payload in payloads] == [
        "03 22 F1 90 55 55 55 55",
        "10 14 62 F1 90 58 58 58",
        "30 00 0A 55 55 55 55 55",
        "21 58 58 58 58 58 58 58",
        "22 58 58 58 58 58 58 58",
    ]
    assert told(edit) == [
        "vehicle numbers (VIN) became X's in 3 frames (0x7E8); checksums in these frames are no longer valid",
        "serial numbers, positions and dates are not looked for: check the result before you pass it on",
    ]


def test_a_number_sent_in_plain_frames_as_well(tmp_path):
    plain = [
        Frame(0x3F3, b"\x02" + VIN[14:] + b"788\x00"),  # the end first; 788 again is chance
        Frame(0x3F3, b"\x00" + VIN[:7]),
        Frame(0x3F3, b"\x01" + VIN[7:14]),
        Frame(0x3F4, VIN[14:] + b"\x00"),  # three characters of another id: left alone
        Frame(0x3F5, b"", REMOTE, length=8),
        Frame(0x3F6, b"GDM"),
        Frame(0x18FF1234, b"\x11" + VIN[9:14], EXTENDED),
    ]
    payloads, edit = hidden(tmp_path, [*plain, *frames_of(READ)])
    assert payloads[:7] == [
        b"\x02XXX788\x00",
        b"\x00XXXXXXX",
        b"\x01XXXXXXX",
        b"788\x00",
        b"",
        b"GDM",
        b"\x11XXXXX",
    ]
    assert "became X's in 7 frames (0x18FF1234, 0x3F3, 0x7E8)" in told(edit)[0]


def test_a_given_number_needs_no_answer(tmp_path):
    plain = [Frame(0x3F3, b"\x00" + VIN[:7]), Frame(0x3F3, b"\x01" + VIN[7:14])]
    payloads, _ = hidden(tmp_path, plain, VIN.decode().lower())
    assert payloads == [b"\x00XXXXXXX", b"\x01XXXXXXX"]


def test_nothing_found_is_said(tmp_path):
    plain = [Frame(0x3F3, b"\x00" + VIN[:7])]
    payloads, edit = hidden(tmp_path, plain)
    assert payloads == [plain[0].data]
    assert told(edit)[0].startswith("no vehicle number (VIN) was found in diagnostic messages")
    _, edit = hidden(tmp_path, plain, OTHER.decode())
    assert told(edit)[0] == "the given vehicle number was not seen"


def test_an_incomplete_answer_hides_all_it_may_hold(tmp_path):
    some = frames_of(READ)
    del some[3]
    payloads, edit = hidden(tmp_path, some)
    assert payloads[1] == bytes.fromhex("10 14 62 F1 90") + b"XXX"
    assert payloads[3] == b"\x22XXXXXXX"
    assert told(edit)[:2] == [
        "messages on 0x7E8 could not be put together (wrong-sequence) and may hold a vehicle number: "
        "2 frames became X's",
        "no vehicle number could be read for certain, so other frames were not searched for it: give it with "
        "--vin",
    ]


@pytest.mark.parametrize(
    ("message", "after"),
    [
        (b"\x62\xf1\x90" + VIN, b"\x62\xf1\x90" + b"X" * 17),
        (b"\x2e\xf1\x90" + VIN, b"\x2e\xf1\x90" + b"X" * 17),
        (b"\x49\x02\x01" + VIN, b"\x49\x02\x01" + b"X" * 17),
        (b"\x62\xf1\x87PN-7" + DID + VIN + b"\xf1\x8c", b"\x62\xf1\x87PN-7" + DID + b"X" * 17 + b"\xf1\x8c"),
        (b"\x62\xf1\x90" + b"\xff" * 17, None),  # never written
        (b"\x62\xf1\x87" + b"PARTNUMBER1234567", None),
        (b"\x59\x02" + VIN, None),
    ],
)  # fmt: skip
@pytest.mark.parametrize("long_frames", [False, True])
def test_messages_about_a_number_and_about_others(tmp_path, message, after, long_frames):
    some = sent([message], long_frames=long_frames, block=0, padding=None)
    payloads, _ = hidden(tmp_path, some)
    assert payloads == [
        row.data for row in sent([after or message], long_frames=long_frames, block=0, padding=None)
    ]


NOISE = st.lists(
    st.tuples(
        st.integers(0x100, 0x103),
        st.one_of(
            st.binary(max_size=8),
            st.tuples(st.integers(0, 13), st.integers(4, 7), st.binary(max_size=1)).map(
                lambda cut: cut[2] + VIN[cut[0] : cut[0] + cut[1]]
            ),
        ),
    ).map(lambda row: Frame(*row)),
    max_size=20,
)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(NOISE, NOISE, st.sampled_from([1, 80, None]))
def test_no_four_characters_in_a_row_remain(tmp_path, one, two, chunk_bytes):
    payloads, _ = hidden(tmp_path, [*one, *frames_of(READ), *two], chunk_bytes=chunk_bytes)
    windows = [VIN[i : i + 4] for i in range(14)]
    assert not [payload for payload in payloads if any(window in payload for window in windows)]
    before = [frame.data for frame in [*one, *frames_of(READ), *two]]
    for new, old in zip(payloads, before, strict=True):
        assert all(a in (b, 0x58) for a, b in zip(new, old, strict=True))


def test_several_captures_share_what_is_known(tmp_path):
    (tmp_path / "a.log").write_bytes(capture_lines(hand_made(frames_of(READ))))
    (tmp_path / "b.log").write_bytes(capture_lines(hand_made([Frame(0x3F3, VIN[:8], FD)])))
    edit = Edit([tmp_path / "b.log", tmp_path / "a.log"], Cut(hide_vin=True))
    assert b"XXXXXXXX" in [row[5] for chunk in edit for row in rows(chunk)]


def test_a_given_number_that_is_none(tmp_path):
    with pytest.raises(UsageError, match="'1M8GDM9AXKP04278O' is not a vehicle identification number"):
        hidden(tmp_path, frames_of(READ), "1M8GDM9AXKP04278O")


def test_a_capture_that_can_be_read_only_once(tmp_path):
    os.mkfifo(tmp_path / "pipe.log")
    with pytest.raises(UsageError, match=r"pipe.log can be read only once – save it as a file first"):
        list(Edit([tmp_path / "pipe.log"], Cut(hide_vin=True)))
