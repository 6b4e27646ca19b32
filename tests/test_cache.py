"""Entries in the user's cache folder: whole, bounded, and never in the way."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from netcheck import cache
from netcheck.cache import FOLDER_VARIABLE, cache_folder, key_of, read_entry, write_entry

WRITER = """
import sys
from netcheck.cache import read_entry, write_entry
body = sys.argv[1].encode() * 100_000
for _ in range(40):
    write_entry("kind", "same", body)
    found = read_entry("kind", "same")
    assert found is not None and len(set(found)) == 1 and len(found) == 100_000, found
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "cache"))
    return tmp_path / "cache"


def files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file())


@pytest.mark.parametrize(
    ("platform", "stated", "expected"),
    [
        ("linux", {}, ".cache/netcheck"),
        ("linux", {"XDG_CACHE_HOME": "/x"}, "/x/netcheck"),
        ("linux", {"XDG_CACHE_HOME": "relative"}, ".cache/netcheck"),  # base directory specification
        ("darwin", {"XDG_CACHE_HOME": "/x"}, "Library/Caches/netcheck"),
        ("win32", {"LOCALAPPDATA": "/local"}, "/local/netcheck/Cache"),
        ("win32", {}, "AppData/Local/netcheck/Cache"),
        ("linux", {FOLDER_VARIABLE: "/mine", "XDG_CACHE_HOME": "/x"}, "/mine"),
        ("linux", {FOLDER_VARIABLE: ""}, ".cache/netcheck"),
    ],
)
def test_the_folder_is_where_the_platform_keeps_caches(monkeypatch, tmp_path, platform, stated, expected):
    for name in (FOLDER_VARIABLE, "XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    for name, value in stated.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(cache.sys, "platform", platform)
    monkeypatch.setattr(cache.Path, "home", lambda: tmp_path)
    assert cache_folder() == tmp_path / expected


def test_without_a_home_nothing_is_kept(monkeypatch):
    def homeless() -> Path:
        raise RuntimeError("Could not determine home directory.")

    for name in (FOLDER_VARIABLE, "XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(cache.Path, "home", homeless)
    assert cache_folder() is None
    write_entry("kind", "a", b"body")
    assert read_entry("kind", "a") is None


def test_what_is_kept_comes_back(folder):
    write_entry("kind", "a", b"body")
    write_entry("other", "a", b"")
    assert read_entry("kind", "a") == b"body"
    assert read_entry("other", "a") == b""
    assert read_entry("kind", "b") is None
    assert len(files(folder)) == 2


def test_keys_tell_parts_apart():
    assert len({key_of("ab", "c"), key_of("a", "bc"), key_of("abc"), key_of(b"c", "ab"), key_of("")}) == 5


@pytest.mark.parametrize("damage", [b"", b"short", b"\0" * 40, None])
def test_a_damaged_entry_is_none_and_can_be_kept_anew(folder, damage):
    write_entry("kind", "a", b"body")
    (path,) = files(folder)
    whole = path.read_bytes()
    path.write_bytes(whole[:-1] + b"Y" if damage is None else damage)
    assert read_entry("kind", "a") is None
    write_entry("kind", "a", b"body")
    assert read_entry("kind", "a") == b"body"


def test_a_folder_in_the_place_of_an_entry_is_no_error(folder):
    write_entry("kind", "a", b"body")
    (path,) = files(folder)
    path.unlink()
    path.mkdir()
    write_entry("kind", "a", b"body")
    assert read_entry("kind", "a") is None
    assert not [path for path in files(folder) if path.suffix == ".part"]


def test_a_file_in_the_place_of_the_folder_is_no_error(folder):
    folder.write_text("in the way")
    write_entry("kind", "a", b"body")
    assert read_entry("kind", "a") is None


def test_a_full_disk_is_no_error(folder, monkeypatch):
    def full(_source: Path, _target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(cache.Path, "replace", full)
    write_entry("kind", "a", b"body")
    assert read_entry("kind", "a") is None
    assert files(folder) == []


def test_the_oldest_go_when_there_are_too_many(folder, monkeypatch):
    monkeypatch.setattr(cache, "MOST_ENTRIES", 3)
    for age, name in enumerate("abc"):
        write_entry("kind", name, b"body")
        (path,) = (path for path in files(folder) if path.name.endswith(name))
        os.utime(path, (1000 + age, 1000 + age))
    read_entry("kind", "a")  # used now, and so the youngest
    write_entry("kind", "d", b"body")
    assert [name for name in "abcd" if read_entry("kind", name)] == ["a", "c", "d"]


def test_the_oldest_go_when_they_are_too_large(folder, monkeypatch):
    monkeypatch.setattr(cache, "MOST_BYTES", 1000)
    write_entry("kind", "a", bytes(600))
    os.utime(files(folder)[0], (1000, 1000))
    write_entry("kind", "b", bytes(600))
    assert read_entry("kind", "a") is None
    assert read_entry("kind", "b") == bytes(600)


def test_no_other_file_of_the_folder_is_dropped(folder, monkeypatch):
    monkeypatch.setattr(cache, "MOST_ENTRIES", 1)
    (folder / "kind").mkdir(parents=True)
    (folder / "kind" / "letter.txt").write_text("not ours")
    write_entry("kind", "a", b"body")
    write_entry("kind", "b", b"body")
    assert (folder / "kind" / "letter.txt").exists()
    assert len(files(folder)) == 2


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="no permission bits here")
def test_an_entry_that_others_can_write_is_not_our_own(folder):
    write_entry("kind", "a", b"body")
    (path,) = files(folder)
    assert stat.S_IMODE(path.parent.stat().st_mode) & 0o077 == 0
    assert read_entry("kind", "a", own=True) == b"body"
    path.chmod(0o666)
    assert read_entry("kind", "a", own=True) is None
    path.chmod(0o600)
    path.parent.chmod(0o777)
    assert read_entry("kind", "a", own=True) is None
    assert read_entry("kind", "a") == b"body"


def test_processes_that_keep_the_same_at_once_never_see_half_of_it(folder):
    running = [subprocess.Popen([sys.executable, "-c", WRITER, letter]) for letter in "abc"]
    assert [process.wait() for process in running] == [0, 0, 0]
    assert len(files(folder)) == 1
