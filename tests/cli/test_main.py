"""Every way a command can end: one exit status, at most one line."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Sequence

import pytest

from netcheck.cli import main
from netcheck.cli._app import COMMANDS
from netcheck.cli._status import of_verdict, worst
from netcheck.errors import InputError

Capsys = pytest.CaptureFixture[str]


def one_line(capsys: Capsys) -> str:
    """What stands on stderr: a single line; nothing on stdout."""
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith("netcheck: ")
    assert printed.err.count("\n") == 1
    assert printed.err.endswith("\n")
    return printed.err.removesuffix("\n")


def fail_with(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    def run(arguments: Sequence[str]) -> int:
        raise error

    monkeypatch.setattr("netcheck.cli._app.run", run)


def process(*arguments: str, **variables: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "netcheck", *arguments],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, "COLUMNS": "80", **variables},
        check=False,
    )


def test_help_groups_the_commands_by_what_they_serve(capsys: Capsys) -> None:
    assert main(["--help"]) == 0
    printed = capsys.readouterr().out
    assert max(map(len, printed.splitlines())) <= 80
    for command in COMMANDS:
        part = printed.index(f"{command.part}:")
        assert f"\n  {command.name} " in printed[part:]


ARCHIVE = ("add", "list", "show", "ask", "check", "forget", "export", "compact")
NAMES = [command.name for command in COMMANDS if command.name != "archive"]


def test_the_help_of_archive_names_its_commands(capsys: Capsys) -> None:
    assert main(["archive", "--help"]) == 0
    printed = capsys.readouterr().out
    assert max(map(len, printed.splitlines())) <= 80
    assert all(f"\n  {name} " in printed for name in ARCHIVE)


@pytest.mark.parametrize("name", [*NAMES, *(f"archive {name}" for name in ARCHIVE)])
def test_every_command_has_help_within_80_columns(name: str, capsys: Capsys) -> None:
    assert main([*name.split(), "--help"]) == 0
    printed = capsys.readouterr().out
    assert max(map(len, printed.splitlines())) <= 80
    assert "--format" in printed
    assert "--output" in printed
    assert not re.search(r"list\[|float|range>|<int", printed)  # types of Python tell a technician nothing


def test_version(capsys: Capsys) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("netcheck 0.")


def test_nothing_asked_shows_the_help_and_is_bad_usage(capsys: Capsys) -> None:
    assert main([]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert "Before fitting:" in printed.err


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["plam"], "netcheck: no command 'plam' – did you mean 'plan'?"),
        (["xyz"], f"netcheck: no command 'xyz' – it has {', '.join(command.name for command in COMMANDS)}"),
        (["--versoin"], "netcheck: no such option: --versoin"),
        (["plan", "--fromat", "json"], "netcheck: no such option: --fromat"),
        (["plan", "--format", "xml"], "'xml' is not one of 'text', 'json' – see 'netcheck plan --help'"),
        (["plan", "--year", "soon"], "netcheck: invalid value for '--year'"),
        (["plan"], "netcheck: nothing to plan – name a job file, or give --vehicle and --retrofit"),
        (["plan", "--vehicle", "v.toml"], "netcheck: nothing to plan"),
        (["plan", "a.job.toml", "--year", "2020"], "netcheck: a job file and --year together"),
        (["coding"], "netcheck: missing argument 'JOB' – see 'netcheck coding --help'"),
        (["schema"], "netcheck: missing argument 'KIND' – see 'netcheck schema --help'"),
    ],
)
def test_bad_usage_is_one_line(arguments: list[str], line: str, capsys: Capsys) -> None:
    assert main(arguments) == 2
    assert line in one_line(capsys)


def test_bad_input_is_one_line(monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    fail_with(monkeypatch, InputError("a.toml", "is\nempty", where="item[0]", remedy="write one"))
    assert main(["plan"]) == 2
    assert one_line(capsys) == "netcheck: a.toml: item[0]: is empty – write one"


def test_interrupt(monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    fail_with(monkeypatch, KeyboardInterrupt())
    assert main(["plan"]) == 130
    assert one_line(capsys) == "netcheck: interrupted"


def test_a_fault_of_our_own_says_so(monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    monkeypatch.delenv("NETCHECK_TRACEBACK", raising=False)
    fail_with(monkeypatch, ZeroDivisionError("division\nby zero"))
    assert main(["plan"]) == 70
    line = one_line(capsys)
    assert "ZeroDivisionError: division by zero" in line
    assert "NETCHECK_TRACEBACK=1" in line


def test_a_fault_can_be_looked_into(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NETCHECK_TRACEBACK", "1")
    fail_with(monkeypatch, ZeroDivisionError())
    with pytest.raises(ZeroDivisionError):
        main(["plan"])


def test_a_reader_that_went_away_is_no_error(monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    fail_with(monkeypatch, BrokenPipeError())
    assert main(["plan"]) == 141
    assert capsys.readouterr() == ("", "")


def test_the_worst_of_several() -> None:
    assert worst([]) == 0
    assert worst([0, 3]) == 3
    assert worst([3, 1, 0]) == 1
    assert worst([0, 1, 2, 3]) == 2
    assert [of_verdict(v) for v in ("go", "go-with-changes", "unproven", "no-go")] == [0, 0, 3, 1]


def test_as_a_process() -> None:
    done = process("--help")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("Usage: netcheck [OPTIONS] COMMAND")
    done = process("plam")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "netcheck: no command 'plam' – did you mean 'plan'?\n"


def test_a_terminal_without_unicode_is_served_too() -> None:
    done = process("plam", PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert (done.returncode, done.stderr) == (2, "netcheck: no command 'plam' ? did you mean 'plan'?\n")


def test_a_closed_pipe_as_a_process() -> None:
    read, write = os.pipe()
    os.close(read)
    with os.fdopen(write, "wb") as nobody:
        done = subprocess.run(
            [sys.executable, "-m", "netcheck", "--help"], stdout=nobody, stderr=subprocess.PIPE, check=False
        )
    assert (done.returncode, done.stderr) == (141, b"")


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys; from netcheck.cli import main; main(['--help']);"
        "print(sorted({'numpy', 'numba', 'pydantic', 'cantools', 'can', 'rich'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_too_little_memory_is_one_line(monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    fail_with(monkeypatch, MemoryError())
    assert main(["plan"]) == 2
    assert one_line(capsys).startswith("netcheck: there is not enough memory for this – ")


def test_what_the_system_says_of_a_file_is_one_line(monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    fail_with(monkeypatch, OSError(36, "File name too long", "a\udcff.log"))
    assert main(["plan"]) == 2
    assert one_line(capsys) == "netcheck: a\\xff.log: cannot be used: File name too long"


def test_what_the_system_says_of_no_file_is_a_fault(monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    monkeypatch.delenv("NETCHECK_TRACEBACK", raising=False)
    fail_with(monkeypatch, OSError(22, "Invalid argument"))
    assert main(["plan"]) == 70
    assert "a fault of netcheck's own" in one_line(capsys)
