"""On a system without what Linux has, commands do the same."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest

from netcheck.archive import _lock
from netcheck.archive._store import FOLDER_VARIABLE, default_folder
from netcheck.capture._reader import cores
from netcheck.cli import main
from netcheck.cli._keys import ENTER, ERASE, Keys
from netcheck.cli._signals import ended_gently
from tests.platforms import doubles
from tests.prove.small import OTHER_VIN, USUAL, SmallJob, changed, lever, log_of, without

COUNT = "select count(*) from captures"
COMMANDS = [
    ["survey", "before.log", "--format", "json", "-o", "{to}/survey.json"],
    ["plan", "van.job.toml", "--format", "json", "-o", "{to}/plan.json"],
    ["trim", "before.log", "--from", "1", "-o", "{to}/short.log"],
    ["trim", "before.log", "--from", "2", "-o", "{to}/short.log", "--force"],
    ["report", "van.job.toml", "-o", "{to}/x.html"],
    ["archive", "add", "before.log", "--frames", "--store", "{to}/store", "-o", "{to}/added.txt"],
    ["archive", "add", "after.log", "--vin", OTHER_VIN, "--store", "{to}/store"],
    ["archive", "compact", "--store", "{to}/store"],
    ["archive", "forget", OTHER_VIN, "--store", "{to}/store"],
    [
        "archive",
        "ask",
        "select count(*) from captures",
        "--store",
        "{to}/store",
        "--format",
        "csv",
        "-o",
        "{to}/n.csv",
    ],
]


@pytest.fixture
def van(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a job and two captures, and we in it."""
    after = changed(without(USUAL, "Vin"), "Lever", data=lever((30.0, 33.0)))
    SmallJob(tmp_path, log_of(USUAL), log_of(after)).load()
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run_all() -> dict[str, object]:
    """Every command's exit status, and what is in the files that it makes."""
    to = Path("results")
    to.mkdir()
    found: dict[str, object] = {
        " ".join(words): main([word.format(to=to) for word in words]) for words in COMMANDS
    }
    found |= {path.name: path.read_text(encoding="utf-8") for path in sorted(to.glob("*.*"))}
    shutil.rmtree(to)
    return found


def test_commands_do_the_same_without_what_only_linux_has(van: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usual = run_all()
    for take_away in doubles.DOUBLES:
        take_away(monkeypatch)
    assert run_all() == usual
    assert len(usual) == len(COMMANDS) + 6
    assert set(map(usual.get, [" ".join(words) for words in COMMANDS])) <= {0, 3}
    assert usual["n.csv"] == "count_star()\n1\n"


def test_a_file_in_use_is_told_and_what_it_held_stays(
    van: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    doubles.files_in_use_stay(monkeypatch)
    Path("x.log").write_text("old", encoding="utf-8")
    with Path("x.log").open("rb"):
        assert main(["trim", "before.log", "-o", "x.log", "--force"]) == 2
    assert capsys.readouterr().err == (
        f"netcheck: {van}/x.log: cannot be written: The process cannot access the file"
        " – choose another place with -o\n"
    )
    assert Path("x.log").read_text(encoding="utf-8") == "old"
    assert [path.name for path in van.iterdir() if ".part" in path.name] == []


def test_the_double_refuses_what_windows_refuses(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    doubles.files_in_use_stay(monkeypatch)
    path, other = tmp_path / "a", tmp_path / "b"
    other.touch()
    with path.open("w"):
        tries: list[Callable[[], object]] = [
            path.unlink,
            lambda: path.replace(other),
            lambda: other.replace(path),
        ]
        for each in tries:
            with pytest.raises(PermissionError):
                each()
    other.replace(path)
    path.unlink()


def test_the_lock_of_windows_is_waited_for_and_given_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    console = doubles.locks_of_windows(monkeypatch)
    with suppress(ZeroDivisionError), _lock.locked(tmp_path / "lock"):
        assert [mode for _, mode in console.calls] == [console.LK_LOCK]
        raise ZeroDivisionError
    assert [mode for _, mode in console.calls] == [console.LK_LOCK, console.LK_UNLCK]
    with pytest.raises(OSError, match="Bad file descriptor"):
        os.fstat(console.calls[0][0])


def test_a_lock_that_windows_cannot_give_is_an_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    console = doubles.locks_of_windows(monkeypatch)

    def refuse(*_: object) -> None:
        raise OSError(errno.EINVAL, "Invalid argument")

    monkeypatch.setattr(console, "locking", refuse)
    with pytest.raises(OSError, match="Invalid"), _lock.locked(tmp_path / "lock"):
        pass


def test_keys_of_a_windows_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "msvcrt", doubles.Console(keys="y\r\bé"))
    monkeypatch.setattr("netcheck.cli._keys.os", _OfWindows)
    keys = Keys(present=True)
    assert [keys.wait(0) for _ in range(5)] == ["y", ENTER, ERASE, "é", ""]


class _OfWindows:
    name = "nt"


def test_ending_from_outside_where_no_terminal_hangs_up(monkeypatch: pytest.MonkeyPatch) -> None:
    doubles.no_hangup(monkeypatch)
    before = signal.getsignal(signal.SIGTERM)
    with ended_gently():
        assert signal.getsignal(signal.SIGTERM) is signal.default_int_handler
    assert signal.getsignal(signal.SIGTERM) is before


@pytest.mark.parametrize("known", [3, None])
def test_processors_where_a_process_cannot_ask_for_its_own(
    monkeypatch: pytest.MonkeyPatch, known: int | None
) -> None:
    doubles.no_affinity(monkeypatch)
    monkeypatch.setattr(os, "cpu_count", lambda: known)
    assert cores() == (known or 1)


@pytest.mark.parametrize(
    ("platform", "stated", "expected"),
    [
        ("win32", {"LOCALAPPDATA": "{home}/Local"}, "Local/netcheck/Archive"),
        ("win32", {}, "AppData/Local/netcheck/Archive"),
        ("darwin", {}, "Library/Application Support/netcheck/archive"),
        ("linux", {"XDG_DATA_HOME": "{home}/data"}, "data/netcheck/archive"),
        ("linux", {"XDG_DATA_HOME": "data"}, ".local/share/netcheck/archive"),
        ("linux", {}, ".local/share/netcheck/archive"),
    ],
)
def test_the_archive_is_where_the_platform_keeps_data(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, platform: str, stated: dict[str, str], expected: str
) -> None:
    for name in (FOLDER_VARIABLE, "XDG_DATA_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    for name, value in stated.items():
        monkeypatch.setenv(name, value.format(home=tmp_path))
    monkeypatch.setattr(sys, "platform", platform)
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    assert default_folder() == tmp_path / expected
