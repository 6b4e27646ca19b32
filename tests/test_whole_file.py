"""Files that are read whole: regular ones of a bounded size, and nothing that has no end."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from netcheck import whole_file
from netcheck.errors import InputError
from netcheck.whole_file import read_whole


def test_a_file_is_read_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    path = tmp_path / "x"
    path.write_bytes(bytes(range(256)) * 40)
    monkeypatch.setattr(whole_file, "_PIECE", 1000)
    assert read_whole(path, 10_240) == bytes(range(256)) * 40
    (tmp_path / "link").symlink_to(path)
    assert read_whole(tmp_path / "link", 10_240) == bytes(range(256)) * 40
    path.write_bytes(b"")
    assert read_whole(path, 0) == b""


def test_one_byte_more_than_allowed(tmp_path: Path):
    path = tmp_path / "x"
    path.write_bytes(bytes((1 << 20) + 1))
    with pytest.raises(InputError) as caught:
        read_whole(path, 1 << 20)
    assert str(caught.value) == f"{path}: 1 MB is too large for this kind of file"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with a name here")
def test_a_pipe_that_nobody_writes_to_is_not_waited_for(tmp_path: Path):
    path = tmp_path / "pipe"
    os.mkfifo(path)
    with pytest.raises(InputError, match="is a device or a pipe, not a file – copy it into a file first"):
        read_whole(path, 100)


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no such device here")
@pytest.mark.parametrize("device", ["/dev/zero", "/dev/null"])
def test_a_device_is_not_read(device: str):
    with pytest.raises(InputError, match="is a device or a pipe"):
        read_whole(device, 100)


def test_what_the_system_says(tmp_path: Path):
    with pytest.raises(IsADirectoryError):
        read_whole(tmp_path, 100)
    with pytest.raises(FileNotFoundError):
        read_whole(tmp_path / "none", 100)
    with pytest.raises(ValueError, match="null"):
        read_whole("a\0b", 100)
