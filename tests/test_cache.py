"""Entries in the user's cache folder: whole, bounded, and never in the way."""

from __future__ import annotations

import errno
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from netcheck import cache
from netcheck.cache import (
    FOLDER_VARIABLE,
    cache_folder,
    can_keep,
    entry_folder,
    key_of,
    read_entry,
    write_entry,
)

OWNERS = pytest.mark.skipif(not hasattr(os, "geteuid"), reason="files have no owners here")
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


@pytest.fixture
def no_owners(monkeypatch: pytest.MonkeyPatch) -> None:
    """A system such as Windows: files have no owners, and opening has no way not to follow a link."""
    monkeypatch.setattr(cache, "_HAS_OWNERS", False)
    monkeypatch.setattr(cache, "_NO_FOLLOW", 0)
    monkeypatch.delattr(os, "geteuid", raising=False)


def give_away(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Makes a path another user's; where only an administrator can do that, makes us another user."""
    if os.geteuid() == 0:
        os.chown(path, 65534, 65534)
    else:
        monkeypatch.setattr(os, "geteuid", lambda: 65534)


@OWNERS
@pytest.mark.parametrize("mode", [0o666, 0o620, 0o602])
def test_an_entry_that_others_can_write_is_not_taken(folder, mode):
    write_entry("kind", "a", b"body")
    (path,) = files(folder)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
    path.chmod(mode)
    assert read_entry("kind", "a") is None
    path.chmod(0o644)
    assert read_entry("kind", "a") == b"body"


@OWNERS
@pytest.mark.parametrize("mode", [0o777, 0o770, 0o1777])
def test_an_entry_in_a_folder_that_others_can_write_is_not_taken(folder, mode):
    write_entry("kind", "a", b"body")
    (folder / "kind").chmod(mode)
    assert read_entry("kind", "a") is None
    write_entry("kind", "b", b"body")
    assert len(files(folder)) == 1


@OWNERS
@pytest.mark.parametrize(("mode", "is_safe"), [(0o777, False), (0o775, False), (0o1777, True), (0o755, True)])
def test_no_folder_on_the_way_may_be_moved_by_others(tmp_path, monkeypatch, mode, is_safe):
    """With the sticky bit others can add to a folder, but move nothing of ours."""
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "shared" / "mine" / "cache"))
    write_entry("kind", "a", b"body")
    (tmp_path / "shared").chmod(mode)
    assert (read_entry("kind", "a") == b"body") is is_safe
    assert can_keep("kind") is is_safe
    assert (entry_folder("kind", "b") is not None) is is_safe


@OWNERS
@pytest.mark.parametrize("what", ["entry", "folder", "folder above"])
def test_what_another_user_owns_is_not_taken(folder, tmp_path, monkeypatch, what):
    write_entry("kind", "a", b"body")
    (entry,) = files(folder)
    give_away({"entry": entry, "folder": folder / "kind", "folder above": folder}[what], monkeypatch)
    assert read_entry("kind", "a") is None


@OWNERS
def test_a_link_is_as_safe_as_the_folder_it_lies_in(tmp_path, monkeypatch):
    (tmp_path / "real").mkdir()
    (tmp_path / "place").mkdir()
    (tmp_path / "place" / "inner").symlink_to(Path("..") / "real")
    (tmp_path / "outer").symlink_to(tmp_path / "place" / "inner")
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "outer"))
    write_entry("kind", "a", b"body")
    assert read_entry("kind", "a") == b"body"
    assert len(files(tmp_path / "real")) == 1
    (tmp_path / "place").chmod(0o777)  # where only the link on the way of the link lies
    assert read_entry("kind", "a") is None
    (tmp_path / "place").chmod(0o755)
    (tmp_path / "round").symlink_to("round")
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "round"))
    write_entry("kind", "a", b"body")
    assert read_entry("kind", "a") is None


def as_link(path: Path) -> None:
    whole = path.rename(path.with_suffix(".moved"))
    try:
        path.symlink_to(whole)
    except OSError:
        pytest.skip("no links can be made here")


def test_an_entry_is_opened_without_following_a_link(folder):
    write_entry("kind", "a", b"body")
    (path,) = files(folder)
    as_link(path)
    assert path.read_bytes()[32:] == b"body"
    assert read_entry("kind", "a") is None
    write_entry("kind", "a", b"new")
    assert read_entry("kind", "a") == b"new"
    assert path.with_suffix(".moved").read_bytes()[32:] == b"body"


def test_where_files_have_no_owners_entries_are_kept_and_links_not_followed(folder, no_owners):
    write_entry("kind", "a", b"body")
    assert read_entry("kind", "a") == b"body"
    assert can_keep("kind")
    assert entry_folder("kind", "b") is not None
    (path,) = (path for path in files(folder) if path.name.endswith("a"))
    as_link(path)
    assert read_entry("kind", "a") is None


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_in_the_place_of_an_entry_is_not_waited_for(folder):
    write_entry("kind", "a", b"body")
    (path,) = files(folder)
    path.unlink()
    os.mkfifo(path, 0o600)
    assert read_entry("kind", "a") is None


@OWNERS
def test_a_generous_mask_makes_no_entry_that_others_can_write(folder):
    before = os.umask(0o002)
    try:
        write_entry("kind", "a", b"body")
        place = entry_folder("kind", "b")
    finally:
        os.umask(before)
    assert read_entry("kind", "a") == b"body"
    assert place is not None
    assert stat.S_IMODE(folder.stat().st_mode) == stat.S_IMODE(place.stat().st_mode) == 0o700


def test_a_relative_folder_counts_from_where_the_command_runs(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(FOLDER_VARIABLE, "here")
    write_entry("kind", "a", b"body")
    assert read_entry("kind", "a") == b"body"
    assert len(files(tmp_path / "here")) == 1


def test_whether_an_entry_can_be_kept_is_tried_and_leaves_nothing(folder, monkeypatch):
    assert can_keep("kind")
    assert files(folder) == []

    def full(_source: Path, _target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(cache.Path, "replace", full)
    assert not can_keep("kind")
    assert files(folder) == []
    monkeypatch.setattr(cache, "cache_folder", lambda: None)
    assert not can_keep("kind")
    assert entry_folder("kind", "a") is None


def test_a_folder_for_others_files_is_ours_alone_and_comes_again(folder):
    place = entry_folder("kind", "a" * 64)
    assert place is not None
    assert len(place.name) < 50
    (place / "file").write_text("kept")
    assert entry_folder("kind", "a" * 64) == place
    assert entry_folder("kind", "b" * 64) != place
    if hasattr(os, "geteuid"):
        place.chmod(0o750)
        assert entry_folder("kind", "a" * 64) is None


def test_the_oldest_folders_go_with_what_is_in_them(folder, monkeypatch):
    monkeypatch.setattr(cache, "MOST_BYTES", 10_000)
    for age, name in enumerate("ab"):
        place = entry_folder("kind", name)
        assert place is not None
        (place / "deeper").mkdir()
        (place / "deeper" / "file").write_bytes(bytes(9000))
        os.utime(place, (1000 + age, 1000 + age))
    entry_folder("kind", "c")
    assert [path.name[-1] for path in sorted((folder / "kind").iterdir())] == ["c"]


def test_processes_that_keep_the_same_at_once_never_see_half_of_it(folder):
    running = [subprocess.Popen([sys.executable, "-c", WRITER, letter]) for letter in "abc"]
    assert [process.wait() for process in running] == [0, 0, 0]
    assert len(files(folder)) == 1


def test_whatever_call_fails_an_entry_is_the_old_one_the_new_one_or_none(folder, monkeypatch):
    """And no command ends for it."""
    old, new = b"old " * 100, b"new " * 100
    places = [(os, "open"), (os, "fstat"), (os, "utime")]
    places += [
        (Path, name) for name in ("replace", "unlink", "mkdir", "lstat", "glob", "is_symlink", "is_dir")
    ]
    failing, seen = 0, []

    def failing_at(name, real):
        def call(*rest, **named):
            seen.append(name)
            if len(seen) == failing:
                raise OSError(errno.EIO, os.strerror(errno.EIO))
            return real(*rest, **named)

        return call

    while failing <= len(seen):
        failing += 1
        write_entry("things", "a", old)
        seen.clear()
        with monkeypatch.context() as patch:
            for holder, name in places:
                patch.setattr(holder, name, failing_at(name, getattr(holder, name)))
            write_entry("things", "a", new)
            assert read_entry("things", "a") in {old, new, None}
        assert read_entry("things", "a") in {old, new}
        assert [path.name for path in (folder / "things").iterdir()] == ["netcheck-a"]
    assert {"open", "replace", "lstat", "mkdir"} & set(seen)
