"""Compressed captures: known by their first bytes, read as they unpack, and what is left of broken ones."""

from __future__ import annotations

import gzip
import lzma
import random
import threading
from pathlib import Path

import pytest
import zstandard

from netcheck.capture import open_capture, read_capture
from netcheck.errors import InputError

PACK = {
    "gzip": gzip.compress,
    "xz": lzma.compress,
    "zstd": zstandard.ZstdCompressor().compress,
}


def text(lines: int) -> bytes:
    rng = random.Random(7)
    return "".join(
        f"({1_436_509_052 + i / 1000:.6f}) can{i % 2} {rng.randrange(0x800):03X}#{rng.randbytes(8).hex()}\n"
        for i in range(lines)
    ).encode()


@pytest.mark.parametrize("chunk_bytes", [1, 5000, None])
@pytest.mark.parametrize("name", PACK)
def test_packed_is_the_same_as_plain_whatever_its_name(tmp_path: Path, name, chunk_bytes):
    plain, packed = tmp_path / "plain.log", tmp_path / "packed.log"
    plain.write_bytes(text(300))
    packed.write_bytes(PACK[name](text(300)))
    one, two = read_capture(plain), read_capture(packed, chunk_bytes=chunk_bytes)
    for column in ("time_ns", "can_id", "channel", "length", "start", "data"):
        assert getattr(one, column).tobytes() == getattr(two, column).tobytes()
    assert (one.channels, two.warnings) == (two.channels, ())


@pytest.mark.parametrize("name", PACK)
def test_members_one_after_the_other(tmp_path: Path, name):
    path = tmp_path / "x.log"
    whole = text(50)
    path.write_bytes(PACK[name](whole[:1000]) + PACK[name](whole[1000:]))
    capture = read_capture(path)
    assert (len(capture), capture.warnings) == (50, ())


@pytest.mark.parametrize("chunk_bytes", [1, None])
@pytest.mark.parametrize("name", PACK)
def test_what_stands_before_the_break_is_kept(tmp_path: Path, name, chunk_bytes):
    path = tmp_path / "x.log"
    whole = text(20_000)
    packed = PACK[name](whole)
    path.write_bytes(packed[: len(packed) * 2 // 3])
    capture = read_capture(path, chunk_bytes=1 << 16 if chunk_bytes else None)
    assert 1000 < len(capture) < 20_000
    # The line that broke off is no frame, even where what is left of it could be one.
    assert capture.data.tobytes() == b"".join(
        bytes.fromhex(line.split(b"#")[1].decode()) for line in whole.splitlines()[: len(capture)]
    )
    assert f"its {name} data end early: only what comes before that was read" in capture.warnings
    assert capture.skipped <= 1


@pytest.mark.parametrize("name", PACK)
def test_damaged_data_are_said(tmp_path: Path, name):
    path = tmp_path / "x.log"
    packed = bytearray(PACK[name](text(40_000)))
    middle = len(packed) * 3 // 4
    packed[middle : middle + 400] = bytes(400)
    path.write_bytes(packed)
    try:
        warnings = read_capture(path).warnings
    except InputError as error:
        warnings = (str(error),)
    assert any(f"its {name} data are damaged" in warning for warning in warnings)


@pytest.mark.parametrize("name", PACK)
def test_broken_before_the_first_frame_is_an_error(tmp_path: Path, name):
    path = tmp_path / "x.log"
    path.write_bytes(PACK[name](text(2000))[:20])
    with pytest.raises(InputError, match=f"its {name} data (end early|are damaged)") as caught:
        read_capture(path)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", PACK)
def test_nothing_inside_is_an_error(tmp_path: Path, name):
    path = tmp_path / "x.log"
    path.write_bytes(PACK[name](b""))
    with pytest.raises(InputError, match="is empty after decompression"):
        read_capture(path)


def test_a_packed_line_of_40_megabytes_is_one_line(tmp_path: Path):
    path = tmp_path / "x.log.xz"
    good = b"(1.0) can0 123#11\n"
    path.write_bytes(lzma.compress(good + b"x" * 40_000_000 + b"\n" + good, preset=0))
    capture = read_capture(path, chunk_bytes=1000)
    assert (len(capture), capture.skipped) == (2, 1)


def test_a_packed_stream_can_be_left_early(tmp_path: Path):
    path = tmp_path / "x.log.gz"
    path.write_bytes(gzip.compress(text(60_000)))
    stream = open_capture(path, chunk_bytes=1000)
    next(iter(stream))
    stream.close()
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("netcheck-")]
