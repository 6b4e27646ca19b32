"""Files made to break a reader: an error in one line each, or counted and told; memory stays bounded."""

from __future__ import annotations

import gzip
import lzma
import os
import struct
import subprocess
import sys
import threading
import zlib
from functools import cache
from pathlib import Path

import pytest
import zstandard

from netcheck.capture import _pipe, read_capture
from netcheck.errors import InputError
from tests.capture.test_foreign import CLASSIC, write
from tests.capture.test_long_frames import ASC, TRC

MEGABYTE = 1 << 20
LINE = b"(1436509052.249713) can0 123#11\n"


def blf(*containers: bytes, method: int = 2) -> bytes:
    """A blf file with these containers, packed already if the method says so."""
    found = struct.pack("<4sLBBBBBBBBQQLL8H8H", b"LOGG", 144, *([0] * 8), 0, 0, 0, 0, *([0] * 16)).ljust(
        144, b"\0"
    )
    for data in containers:
        content = struct.pack("<H6xL4x", method, len(data)) + data
        found += struct.pack("<4sHHLL", b"LOBJ", 16, 1, 16 + len(content), 10) + content
        found += bytes((16 + len(content)) % 4)
    return found


def blf_object(kind: int, body: bytes, size: int | None = None, time_ns: int = 0) -> bytes:
    head = struct.pack("<LHHQ", 2, 0, 0, time_ns)
    size = 16 + len(head) + len(body) if size is None else size
    return struct.pack("<4sHHLL", b"LOBJ", 32, 1, size, kind) + head + body


def blf_frame(can_id: int = 0x123, length: int = 2, time_ns: int = 0) -> bytes:
    return blf_object(1, struct.pack("<HBBL8s", 1, 0, length, can_id, b"\x11\x22"), None, time_ns)


def refused(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        read_capture(path)
    text = str(caught.value)
    assert text.startswith(str(path))
    assert "\n" not in text
    assert " – " in text
    return text


# -- without an end


@pytest.mark.parametrize("kind", [1, 10, 77])
@pytest.mark.parametrize("size", [0, 15])
def test_a_blf_object_that_does_not_move_the_reader_on(tmp_path: Path, kind, size):
    path = tmp_path / "x.blf"
    path.write_bytes(blf(zlib.compress(blf_object(kind, bytes(16), size))))
    assert f"cannot be read as blf (BLFParseError: an object of {size} bytes)" in refused(path)
    path.write_bytes(blf(zlib.compress(blf_frame()), zlib.compress(blf_object(kind, bytes(16), size))))
    capture = read_capture(path)
    assert len(capture) == 1
    assert (
        f"reading stopped (BLFParseError: an object of {size} bytes): the rest is missing" in capture.warnings
    )


def test_a_blf_container_of_no_size(tmp_path: Path):
    path = tmp_path / "x.blf"
    path.write_bytes(blf() + struct.pack("<4sHHLL", b"LOBJ", 16, 1, 0, 10))
    assert "an object of 0 bytes" in refused(path)


def test_a_blf_object_over_container_after_container(tmp_path: Path):
    path = tmp_path / "x.blf"
    path.write_bytes(blf(zlib.compress(blf_object(1, bytes(16), 1 << 31))))
    assert "an object of 2,147,483,648 bytes" in refused(path)


def test_a_blf_object_over_two_containers_and_one_cut_off(tmp_path: Path):
    path = tmp_path / "x.blf"
    data = b"".join(blf_frame(can_id) for can_id in range(4))
    path.write_bytes(blf(zlib.compress(data[:70]), zlib.compress(data[70:-5])))
    capture = read_capture(path)
    assert capture.can_id.tolist() == [0, 1, 2]
    assert "the last object is cut off after 43 bytes" in capture.warnings[0]


def test_a_blf_container_packed_in_an_unknown_way(tmp_path: Path):
    path = tmp_path / "x.blf"
    path.write_bytes(blf(blf_frame(), method=7))
    assert "compression method 7 is not known" in refused(path)


def bounded(path: Path, most: int) -> subprocess.CompletedProcess[str]:
    """Reads a capture in a process that may have ``most`` MB more than it has after the first."""
    small = path.with_name("small.log")
    small.write_bytes(LINE)
    script = (
        "import resource, sys\n"
        "from netcheck.capture import read_capture\nfrom netcheck.errors import InputError\n"
        "import can.io.blf, zstandard\n"
        "read_capture(sys.argv[1])\n"
        "have = int(open('/proc/self/statm').read().split()[0]) * resource.getpagesize()\n"
        "limit = have + (int(sys.argv[3]) << 20)\n"
        "resource.setrlimit(resource.RLIMIT_AS, (limit, limit))\n"
        "try:\n    read_capture(sys.argv[2])\n"
        "except InputError as error:\n    print(error)\n    sys.exit(2)\n"
    )
    arguments = [sys.executable, "-c", script, small, path, str(most)]
    return subprocess.run(arguments, capture_output=True, text=True, check=False)


@cache
def packed_zeros(suffix: str) -> bytes:
    """1.2 GB of them."""
    pack = {"gz": gzip.compress, "xz": lzma.compress, "zst": zstandard.compress}[suffix]
    return pack(bytes(100 * MEGABYTE)) * 12


@pytest.mark.parametrize("name", ["x.asc.gz", "x.csv.gz", "x.trc.gz", "x.log.gz", "x.blf.gz", "x.asc.xz"])
def test_zeros_that_unpack_to_more_than_the_memory(tmp_path: Path, name):
    path = tmp_path / name
    path.write_bytes(packed_zeros(name[-2:]))
    ended = bounded(path, 700)
    assert (ended.returncode, ended.stderr) == (2, "")
    assert ended.stdout.startswith(f"{path}: ")
    assert ended.stdout.count("\n") == 1


def test_a_zstd_file_of_zeros(tmp_path: Path):
    path = tmp_path / "x.asc.zst"
    path.write_bytes(packed_zeros("zst"))
    ended = bounded(path, 700)
    assert (ended.returncode, ended.stderr) == (2, "")
    assert "its zstd data unpack to over 500 times their size" in ended.stdout


def test_a_recording_that_packs_well_is_read_whole(tmp_path: Path):
    path = tmp_path / "x.log.xz"
    path.write_bytes(lzma.compress(LINE * 200_000))  # 6 MB of 2 kB
    assert len(read_capture(path)) == 200_000


def test_a_blf_container_of_hundreds_of_megabytes(tmp_path: Path):
    path = tmp_path / "x.blf"
    path.write_bytes(blf(zlib.compress(bytes(400 * MEGABYTE), 1)))
    ended = bounded(path, 400)
    assert (ended.returncode, ended.stderr) == (2, "")
    assert "a container of more than 64 MB" in ended.stdout


def test_blf_containers_of_zeros_one_after_the_other(tmp_path: Path):
    path = tmp_path / "x.blf"
    path.write_bytes(blf(zlib.compress(blf_frame()), *[zlib.compress(b"LOBJ" + bytes(MEGABYTE))] * 3))
    assert "reading stopped" in read_capture(path).warnings[0]


def test_a_pipe_that_nobody_writes_to(tmp_path: Path, monkeypatch):
    monkeypatch.setattr(_pipe, "_WAIT_S", 0.1)
    path = tmp_path / "pipe"
    os.mkfifo(path)
    assert "is a pipe, and nobody wrote to it for 0 s – start what writes to it" in refused(path)


def test_a_pipe_that_says_no_more_can_be_left(tmp_path: Path):
    path = tmp_path / "pipe"
    os.mkfifo(path)
    held = os.open(path, os.O_RDWR)  # somebody who has it open, and writes once
    try:
        os.write(held, LINE * 100)
        pipe = _pipe.Pipe(str(path), stop := threading.Event())
        assert len(pipe.read(1 << 20)) == len(LINE) * 100
        threading.Timer(0.05, stop.set).start()
        assert pipe.read(1 << 20) == b""
        pipe.close()
    finally:
        os.close(held)


@pytest.mark.parametrize("device", ["/dev/zero", "/dev/null"])
def test_a_device_is_no_capture(device):
    with pytest.raises(InputError, match="is a device, not a capture"):
        read_capture(device)


# -- numbers that no bus has


@pytest.mark.parametrize(
    "row",
    [
        f"2) {time} DT 1 0123 Rx - 2 11 22"
        for time in ("nan", "inf", "-inf", "1e300", "1e18", "9300000000000.0")
    ]
    + ["2) 2.0 DT 1 -123 Rx - 2 11 22", "2) 2.0 DT 1 0800 Rx - 2 11 22"],
)
def test_trc(tmp_path: Path, row):
    path = tmp_path / "x.trc"
    path.write_text(f"{TRC}1) 1.0 DT 1 0123 Rx - 1 11\n{row.replace(')', '')}\n".replace("1)", "1"))
    capture = read_capture(path)
    assert len(capture) == 1
    assert any("line 5" in warning for warning in capture.warnings)
    path.write_text(TRC + row.replace(")", "") + "\n")
    refused(path)


@pytest.mark.parametrize("start", ["nan", "inf", "1e300", "-1e9", ""])
def test_trc_that_starts_at_no_time(tmp_path: Path, start):
    path = tmp_path / "x.trc"
    path.write_text(f";$FILEVERSION=1.1\n;$STARTTIME={start}\n1) 0.2 Rx 0123 2 11 22\n")
    refused(path)


@pytest.mark.parametrize("size", ["-1", "300"])
def test_trc_lengths(tmp_path: Path, size):
    path = tmp_path / "x.trc"
    header = ";$FILEVERSION=1.1\n;$STARTTIME=43008.920986006946\n"
    path.write_text(f"{header}1) 0.2 Rx 0123 1 11\n2) 0.3 Rx 0123 {size} {'11 ' * 300}\n")
    capture = read_capture(path)
    assert (len(capture), capture.skipped) == (1, 1)


@pytest.mark.parametrize(
    "row",
    [
        " -0.5 1 123 Rx d 1 11",
        " 99999999999.0 1 123 Rx d 1 11",
        " 0.2 1 FFFFFFFFFx Rx d 1 11",
        " 0.2 1 -12 Rx d 1 11",
        " 0.2 1 123 Rx d 8" + " 11" * 300,
    ],
)
def test_asc(tmp_path: Path, row):
    path = tmp_path / "x.asc"
    path.write_text(f"{ASC} 0.1 1 123 Rx d 1 11\n{row}\n 0.3 1 123 Rx d 1 22\n")
    capture = read_capture(path)
    assert (len(capture), capture.skipped) == (2, 1)
    assert "line 5: " in capture.warnings[0]
    path.write_text(f"{ASC}{row}\n")
    refused(path)


@pytest.mark.parametrize(
    "frame", [blf_frame(time_ns=(1 << 64) - 1), blf_frame(can_id=0x7FFFFFFF), blf_frame(length=255)]
)
def test_blf(tmp_path: Path, frame):
    path = tmp_path / "x.blf"
    path.write_bytes(blf(zlib.compress(blf_frame() + frame + blf_frame())))
    capture = read_capture(path)
    assert (len(capture), capture.skipped) == (2, 1)
    assert "1 of 3 records is not a frame: record 2: " in capture.warnings[0]
    path.write_bytes(blf(zlib.compress(frame)))
    refused(path)


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 20])
@pytest.mark.parametrize("threads", [1, 2])
def test_steps_that_add_up_to_more_than_64_bits_of_nanoseconds(tmp_path: Path, chunk_bytes, threads):
    path = tmp_path / "x.log"
    stamps = ["000.000000"] + ["900000000.000000", "000.000001"] * 20
    path.write_text("".join(f" ({stamp})  can0  123   [1]  11\n" for stamp in stamps))
    with pytest.raises(InputError, match="its times add up to more than 292 years"):
        read_capture(path, chunk_bytes=chunk_bytes, threads=threads)


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 20])
def test_frames_without_a_time_behind_the_last_time_there_is(tmp_path: Path, chunk_bytes):
    path = tmp_path / "x.log"
    path.write_text("(9223372035.999999) can0 123#11\n" + "  can0  123   [1]  11\n" * 2000)
    with pytest.raises(InputError, match="its times add up to more than 292 years"):
        read_capture(path, chunk_bytes=chunk_bytes)


@pytest.mark.parametrize("suffix", ["log", "asc", "csv"])
def test_a_file_name_that_is_not_utf_8(tmp_path: Path, suffix):
    path = os.fsencode(tmp_path) + b"/x\xff." + suffix.encode()
    write(tmp_path / f"x.{suffix}", CLASSIC).rename(os.fsdecode(path))
    assert len(read_capture(os.fsdecode(path))) == 5
    Path(os.fsdecode(path)).write_text("junk\n" * 3)
    with pytest.raises(InputError) as caught:
        read_capture(os.fsdecode(path))
    assert str(caught.value).encode("utf-8").startswith(os.fsencode(tmp_path) + b"/x\\xff.")


def test_a_channel_name_of_any_bytes(tmp_path: Path):
    path = tmp_path / "x.csv"
    row = "1.0,123,11,{}\n"
    path.write_text(
        "Time (s),ID hex,Data hex,Channel\n"
        + row.format("a" * 64)
        + row.format("ü" * 33)
        + row.format("a\x1bb")
    )
    capture = read_capture(path)
    assert (capture.channels, capture.skipped) == (("a" * 64,), 2)
    assert "channel name cannot be read" in capture.warnings[0]
