"""Counters and checksums: found where they are, and nowhere else.

Check values: AUTOSAR_SWS_CRCLibrary (its seven samples and "123456789"), crccheck as a second opinion.
"""

from __future__ import annotations

import operator
import random
from functools import reduce

import pytest
from crccheck.crc import Crc8Base
from hypothesis import given
from hypothesis import strategies as st

from netcheck.network._survey_checks import crc_table
from tests.network.logs import Line, channel_of, message_of


class J1850(Crc8Base):
    _poly, _initvalue, _xor_output = 0x1D, 0xFF, 0xFF
    _reflect_input = _reflect_output = False


class H2F(Crc8Base):
    _poly, _initvalue, _xor_output = 0x2F, 0xFF, 0xFF
    _reflect_input = _reflect_output = False


SAMPLES = [
    ("00000000", 0x59, 0x12),
    ("F20183", 0x37, 0xC2),
    ("0FAA0055", 0x79, 0xC6),
    ("00FF5511", 0xB8, 0x77),
    ("332255AABBCCDDEEFF", 0xCB, 0x11),
    ("926B55", 0x8C, 0x33),
    ("FFFFFFFF", 0x74, 0x6C),
    (b"123456789".hex(), 0x4B, 0xDF),
]


def crc(data: bytes, polynomial: int) -> int:
    table, value = crc_table(polynomial).tolist(), 0xFF
    for byte in data:
        value = table[value ^ byte]
    return value ^ 0xFF


@pytest.mark.parametrize(("digits", "one", "other"), SAMPLES)
def test_published_samples(digits, one, other):
    data = bytes.fromhex(digits)
    assert (crc(data, 0x1D), crc(data, 0x2F)) == (one, other)
    assert (J1850.calc(data), H2F.calc(data)) == (one, other)


def insert(data: bytes, byte: int, value: int) -> bytes:
    return data[:byte] + bytes([value & 0xFF]) + data[byte:]


def inverted(data: bytes) -> bytes:
    return bytes(255 - byte for byte in data)


KINDS = {
    "crc8-sae-j1850": J1850.calc,
    "crc8-0x2f": H2F.calc,
    "sum8": sum,
    "xor8": lambda data: reduce(operator.xor, data),
    "sum8-complement": lambda data: -sum(data),
}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("byte", [0, 3, 7])
def test_a_checksum_is_found_where_it_is(tmp_path, kind, byte):
    chance = random.Random(f"{kind}{byte}")
    data = [chance.randbytes(7) for _ in range(40)]
    found = message_of(tmp_path, [insert(one, byte, KINDS[kind](one)) for one in data]).checksum
    assert found is not None
    assert (found.kind, found.share, found.frames, found.constant) == (kind, 1.0, 40, 0)
    # A sum over all bytes, or an exclusive-or, does not tell which byte it is: the last is taken.
    assert found.byte == (7 if kind in ("xor8", "sum8-complement") else byte)


@pytest.mark.parametrize("kind", ["crc8-sae-j1850", "crc8-0x2f", "sum8"])
def test_a_start_of_its_own_shows_as_a_constant(tmp_path, kind):
    """What goes in besides the data changes a sum, and by linearity a CRC, by a constant."""
    chance = random.Random(kind)
    data = [chance.randbytes(6) for _ in range(40)]
    salt = bytes([0x12, 0x34])
    found = message_of(tmp_path, [one + bytes([KINDS[kind](salt + one) & 0xFF]) for one in data]).checksum
    assert (found.kind, found.byte, found.share) == (kind, 6, 1.0)
    assert found.constant != 0


def test_in_long_frames_too(tmp_path):
    chance = random.Random(11)
    data = [chance.randbytes(47) for _ in range(20)]
    lines = ["#1" + (one + bytes([H2F.calc(one)])).hex() for one in data]
    (message,) = channel_of(tmp_path, [Line(10 * n, 0x42, line) for n, line in enumerate(lines)]).messages
    assert (message.checksum.kind, message.checksum.byte) == ("crc8-0x2f", 47)


def test_the_share_that_passes_counts_frames(tmp_path):
    chance = random.Random(5)
    payloads = []
    for number in range(400):
        data = chance.randbytes(5)
        payloads.append(data + bytes([J1850.calc(data) ^ (number % 20 == 7)]))
    found = message_of(tmp_path, payloads).checksum
    assert found.kind == "crc8-sae-j1850"
    assert found.share == pytest.approx(0.95)


@pytest.mark.parametrize(("failing", "share"), [(6, 5 / 6), (4, None)])
def test_one_wrong_in_six_is_still_a_checksum(tmp_path, failing, share):
    chance = random.Random(15)
    payloads = []
    for number in range(600):
        data = chance.randbytes(5)
        payloads.append(data + bytes([J1850.calc(data) ^ (0x5A if number % failing == 0 else 0)]))
    found = message_of(tmp_path, payloads).checksum
    assert (found.share if found else None) == (pytest.approx(share, abs=0.01) if share else None)


def test_repeated_frames_count_as_often_as_they_came(tmp_path):
    chance = random.Random(6)
    data = [chance.randbytes(5) for _ in range(20)]
    payloads = [one + bytes([J1850.calc(one)]) for one in data for _ in range(10)]
    assert message_of(tmp_path, payloads).checksum.frames == 200


def test_a_first_frame_that_is_wrong_does_not_hide_it(tmp_path):
    chance = random.Random(8)
    data = [chance.randbytes(5) for _ in range(40)]
    payloads = [bytes(6), *(one + bytes([J1850.calc(one)]) for one in data)]
    found = message_of(tmp_path, payloads).checksum
    assert (found.kind, found.constant) == ("crc8-sae-j1850", 0)


def test_a_module_that_starts_late_is_found(tmp_path):
    chance = random.Random(9)
    early = [chance.randbytes(4) + bytes(4) for _ in range(300)]
    late = []
    for number in range(600):
        data = chance.randbytes(6) + bytes([number % 16])
        late.append(data + bytes([J1850.calc(data)]))
    found = message_of(tmp_path, [*early, *late])
    assert found.checksum.kind == "crc8-sae-j1850"
    assert found.counter is not None


@pytest.mark.parametrize(
    "payload",
    [
        lambda n, r: bytes(8),  # constant; its sum is right all the time
        lambda n, r: bytes([n % 2]) * 8,  # two payloads only
        lambda n, r: bytes([0, r.randrange(256), 0, 0]),  # one byte changes
        lambda n, r: (a := r.randbytes(1)) + inverted(a) + b"\3\4",  # a doubled value
        lambda n, r: (a := r.randbytes(2)) + inverted(a),
        lambda n, r: 2 * r.randbytes(2),
        lambda n, r: bytes([n % 16, n % 16 + 7, 0, 0]),  # two counters
        lambda n, r: r.randbytes(8),
    ],
)
def test_no_checksum_by_accident(tmp_path, payload):
    chance = random.Random(1)
    assert message_of(tmp_path, [payload(n, chance) for n in range(400)]).checksum is None


def test_too_few_changes_prove_nothing(tmp_path):
    chance = random.Random(2)
    data = [chance.randbytes(5) for _ in range(15)]
    payloads = [one + bytes([J1850.calc(one)]) for one in data]
    assert message_of(tmp_path, payloads).checksum is None
    payloads.append(bytes(5) + bytes([J1850.calc(bytes(5))]))
    assert message_of(tmp_path, payloads).checksum is not None


@given(st.integers(0, 2**32), st.integers(2, 8), st.integers(17, 60))
def test_random_payloads_hold_nothing(tmp_path_factory, seed, length, count):
    chance = random.Random(seed)
    found = message_of(tmp_path_factory.mktemp("log"), [chance.randbytes(length) for _ in range(count)])
    assert found.checksum is None
    assert found.counter is None


@pytest.mark.parametrize(
    ("bit", "width", "modulo"),
    [(0, 2, 4), (2, 3, 8), (8, 4, 16), (12, 4, 16), (12, 4, 15), (8, 4, 15), (16, 8, 256), (22, 2, 4)],
)
def test_a_counter_is_found_where_it_is(tmp_path, bit, width, modulo):
    chance = random.Random(bit * 100 + modulo)
    payloads = []
    for number in range(600):
        value = int.from_bytes(chance.randbytes(4), "little")
        value &= ~((1 << width) - 1 << bit)
        payloads.append((value | number % modulo << bit).to_bytes(4, "little"))
    counter = message_of(tmp_path, payloads).counter
    assert counter is not None
    assert (counter.bit, counter.width, counter.modulo, counter.share) == (bit, width, modulo, 1.0)
    assert counter.steps == 600 - 1 - 12  # the trial's steps are not counted


def test_lost_frames_show_in_the_share(tmp_path):
    payloads = [bytes([number % 16, 0x55]) for number in range(1000) if number % 50 != 49]
    counter = message_of(tmp_path, payloads).counter
    assert (counter.bit, counter.width) == (0, 4)
    assert counter.share == pytest.approx(1 - 1 / 49, abs=0.002)


@pytest.mark.parametrize(
    "values",
    [
        [0] * 400,  # it stands still
        [number % 2 for number in range(400)],  # it only alternates
        list(range(15)),  # too few
        [number // 2 % 16 for number in range(400)],  # every second frame
        [3 * number % 256 for number in range(400)],  # by three
        [-number % 256 for number in range(400)],  # downwards
        [(0, 3, 1, 2)[number % 4] for number in range(400)],  # not in order
    ],
)
def test_no_counter_by_accident(tmp_path, values):
    counter = message_of(tmp_path, [bytes([value, 1]) for value in values]).counter
    assert counter is None


def test_steps_across_a_long_silence_do_not_count(tmp_path):
    lines = [Line(10 * n + 5000 * (n // 100), 0x10, bytes([(n + n // 100) % 16])) for n in range(400)]
    (message,) = channel_of(tmp_path, lines).messages
    assert message.counter.share == 1.0
