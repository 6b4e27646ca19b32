"""Bits on the wire of frames.

The exact rows are those of an independent bit model (CRC-15 0x4599, stuffing from start of frame to CRC);
no worked example with every bit was found in the literature. Sums without stuff bits are those of Linux,
include/linux/can/length.h; bounds are those of Davis, Burns, Bril and Lukkien 2007, equation 1.
"""

from __future__ import annotations

import pytest
from crccheck.crc import Crc15Can
from hypothesis import given
from hypothesis import strategies as st

from netcheck.capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE
from netcheck.network import FrameTally, worst_case_bits, worst_case_fd_bits
from tests.captures import Frame, hand_made
from tests.naive import naive_bits, naive_classic_wire, naive_crc, naive_fd_wire, naive_stuffed

FD_SIZES = [*range(9), 12, 16, 20, 24, 32, 48, 64]


def bits_of(*frames: Frame) -> tuple[int, int]:
    """By phase, of all frames together."""
    tally = FrameTally(ratios=frozenset())
    tally.add(hand_made(frames))
    load = tally.wire(0)
    return load.nominal, load.fast


def bits(can_id: int, payload: bytes = b"", flags: int = 0, length: int | None = None) -> tuple[int, int]:
    return bits_of(Frame(can_id, payload, flags, length=length))


EXACT = [
    (0x000, "", 0, 53),
    (0x7FF, "", 0, 50),
    (0x014, "01", 0, 58),
    (0x000, "00" * 8, 0, 127),
    (0x7FF, "FF" * 8, 0, 126),
    (0x555, "55" * 8, 0, 112),
    (0x123, "0011223344556677", 0, 113),
    (0x100, "00CA22FF5566AADF", 0, 117),
    (0x00000000, "00" * 8, EXTENDED, 150),
    (0x1FFFFFFF, "FF" * 8, EXTENDED, 149),
    (0x0CF00400, "FF7D7DE015FFF0FF", EXTENDED, 141),
    (0x18FEF100, "FF" * 8, EXTENDED, 146),
    (0x18DB33F1, "02010C5555555555", EXTENDED, 135),
]


@pytest.mark.parametrize(("can_id", "payload", "flags", "total"), EXACT)
def test_exact_rows(can_id, payload, flags, total):
    assert bits(can_id, bytes.fromhex(payload), flags) == (total, 0)


def test_stuff_bits_count_for_the_next_run():
    # 00000 1111 0000 1111 needs four: the worst case of the theory.
    assert len(naive_stuffed([0] * 5 + [1] * 4 + [0] * 4 + [1] * 4, at_end=True)) == 17 + 4


def test_the_twin_has_the_published_crc():
    digits = [bit for byte in b"123456789" for bit in naive_bits(byte, 8)]
    assert naive_crc(digits, 15, 0x4599) == Crc15Can.calc(b"123456789") == 0x059E


@given(st.binary(max_size=20))
def test_the_twins_crc_is_a_librarys(data):
    assert naive_crc([bit for byte in data for bit in naive_bits(byte, 8)], 15, 0x4599) == Crc15Can.calc(data)


@st.composite
def _frames(draw: st.DrawFn) -> tuple[int, bool, bytes]:
    extended = draw(st.booleans())
    top = 0x1FFFFFFF if extended else 0x7FF
    can_id = draw(st.one_of(st.integers(0, top), st.sampled_from([0, top, top & 0x0F83E0F8])))
    # Long runs of equal bits are what stuffing is about; random bytes seldom have them.
    byte = st.one_of(st.sampled_from([0x00, 0xFF, 0x0F, 0xF0, 0x1F, 0x83, 0xE0, 0x7C]), st.integers(0, 255))
    return can_id, extended, bytes(draw(st.lists(byte, max_size=64)))


@given(_frames(), st.booleans())
def test_a_classic_frame_bit_by_bit(frame, remote):
    can_id, extended, payload = frame[0], frame[1], frame[2][:8]
    flags = (EXTENDED if extended else 0) | (REMOTE if remote else 0)
    found = bits(can_id, b"" if remote else payload, flags, len(payload))
    assert found == (len(naive_classic_wire(can_id, extended, remote, len(payload), payload)), 0)
    carried = 0 if remote else len(payload)
    least = (67 if extended else 47) + 8 * carried
    assert least <= found[0] <= worst_case_bits(carried, extended=extended)


@given(_frames(), st.booleans(), st.booleans())
def test_a_fd_frame_bit_by_bit(frame, brs, esi):
    can_id, extended, payload = frame
    flags = FD | (EXTENDED if extended else 0) | (BRS if brs else 0) | (ESI if esi else 0)
    outside, inside = naive_fd_wire(can_id, extended, brs, esi, payload)
    assert bits(can_id, payload, flags) == ((outside, inside) if brs else (outside + inside, 0))
    size = next(size for size in FD_SIZES if size >= len(payload))
    stuffed = (41 if extended else 22) + 8 * size
    least = stuffed + (40 if size <= 16 else 45)
    assert least <= outside + inside <= least + (stuffed - 1) // 4
    if brs:
        worst = worst_case_fd_bits(size, extended=extended)
        assert outside <= worst[0]
        assert inside <= worst[1]


@pytest.mark.parametrize("extended", [False, True])
@pytest.mark.parametrize(("size", "short", "long"), [
    (0, 62, 81), (8, 126, 145), (16, 190, 209), (20, 227, 246), (64, 579, 598),
])  # fmt: skip
def test_fd_sums_without_stuff_bits(size, short, long, extended):
    # These ids leave no five equal bits in the header, 0x55 none in the data.
    can_id = 0x15555555 if extended else 0x555
    least = min(sum(bits(can_id, bytes([0x55]) * size, FD | (EXTENDED if extended else 0) | more))
                for more in (0, ESI, BRS, BRS | ESI))  # fmt: skip
    assert least == (long if extended else short)


def test_fd_lengths_between_two_codes_count_as_the_longer():
    assert bits(0x123, b"\x55" * 9, FD) == bits(0x123, b"\x55" * 9 + bytes(3), FD)


@pytest.mark.parametrize(("size", "short", "long"), [(0, 55, 80), (1, 65, 90), (4, 95, 120), (8, 135, 160)])
def test_worst_case_of_a_classic_frame(size, short, long):
    assert worst_case_bits(size, extended=False) == short == 55 + 10 * size
    assert worst_case_bits(size, extended=True) == long == 80 + 10 * size


def test_an_error_frame_counts_no_bits():
    assert bits(0x20, bytes(8), ERROR) == (0, 0)


def test_each_frame_of_a_capture():
    tally = FrameTally(ratios=frozenset())
    frames = [Frame(can_id, bytes.fromhex(payload), flags) for can_id, payload, flags, _ in EXACT]
    tally.add(hand_made(frames))
    placed = tally.placed
    assert placed.wire[: len(EXACT)].tolist() == [total for *_, total in EXACT]


KINDS = st.sampled_from([0, 0, 0, FD, FD | BRS, REMOTE, ERROR])
PAYLOADS = st.sampled_from([b"", b"\x00" * 3, b"\xff" * 8, b"\x0f\xf0", b"\x55" * 8])


@given(st.lists(st.tuples(st.sampled_from([0x7F, 0x555]), PAYLOADS, KINDS), min_size=1, max_size=30))
def test_a_frame_takes_the_same_bits_whatever_came_before(rows):
    """Headers and repeated payloads are looked at once: kinds, lengths and payloads of an id take turns."""
    each = [bits(*row) for row in rows]
    assert bits_of(*(Frame(*row) for row in rows)) == (
        sum(one for one, _ in each),
        sum(two for _, two in each),
    )
