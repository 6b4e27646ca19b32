"""Standard streams that are closed, full or broken: no verdict's exit status, and no traceback."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from netcheck.cli._screen import Screen
from netcheck.words import clean
from tests.bench.vans import put
from tests.cli.jobs import AFTER_GATEWAY, CLUSTER, GATEWAY, write_job
from tests.cli.recording import Van, words
from tests.live import LONGEST, until

FULL = Path("/dev/full")
needs_full = pytest.mark.skipif(not FULL.exists(), reason="needs a device that is always full")
needs_shell = pytest.mark.skipif(os.name != "posix", reason="closes streams by a shell")

COMMANDS: dict[str, tuple[str, int]] = {
    "help": ("--help", 0),
    "help of a command": ("plan --help", 0),
    "version": ("--version", 0),
    "guide": ("guide safety", 0),
    "plan": ("plan van.job.toml", 0),
    "plan, several": ("plan van.job.toml open.job.toml --format json", 3),
    "survey": ("survey x.log --dbc comfort.dbc", 0),
    "tap": ("tap van.job.toml", 3),
    "decode": ("decode x.log --dbc comfort.dbc --format csv", 0),
    "trim": ("trim x.log -o cut.log --force", 0),
    "coding": ("coding wrong.job.toml", 1),
    "simulate": ("simulate gull.vehicle.toml --script s.script.toml", 0),
    "simulate, summary": ("simulate gull.vehicle.toml --script s.script.toml -o s.log", 0),
    "replay": ("replay x.log --interface virtual --channel a --listen 0 --speed 0 --transmit", 0),
    "schema": ("schema job", 0),
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    put(tmp_path, "", seconds=0.5)
    readouts = GATEWAY + CLUSTER
    write_job(tmp_path, readouts)
    (tmp_path / "open.job.toml").write_text((tmp_path / "van.job.toml").read_text().replace(readouts, ""))
    wrong = AFTER_GATEWAY.replace("3F", "00") + 'when = "after"\n'
    (tmp_path / "wrong.job.toml").write_text((tmp_path / "van.job.toml").read_text() + wrong)
    lines = (f"({1_600_000_000 + n / 100:.6f}) can0 123#0{n % 2}00000000000000\n" for n in range(200))
    (tmp_path / "x.log").write_text("".join(lines))
    return tmp_path


def run(folder: Path, arguments: str, streams: str) -> tuple[int, str, str]:
    """The command in a shell that sets its streams; what it printed where they lead to us."""
    script = f'exec "$0" -m netcheck {arguments} {streams}'
    done = subprocess.run(
        ["sh", "-c", script, sys.executable], cwd=folder, capture_output=True, text=True, check=False,
        stdin=subprocess.DEVNULL, env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )  # fmt: skip
    return done.returncode, done.stdout, done.stderr


@needs_shell
@needs_full
@pytest.mark.parametrize("name", COMMANDS)
def test_a_result_that_cannot_be_written_is_no_verdict(folder: Path, name: str) -> None:
    arguments, code = COMMANDS[name]
    found, _, err = run(folder, arguments, ">/dev/full")
    assert err.splitlines()[-1] == "netcheck: standard output: cannot be written: No space left on device"
    assert "Traceback" not in err
    assert found == 2
    assert run(folder, arguments, ">&- 2>&- <&-") == (2, "", "")
    found, out, _ = run(folder, arguments, "2>&-")  # messages alone are lost
    assert found == code
    assert out


@needs_shell
@pytest.mark.parametrize("name", ["help", "plan"])
def test_each_stream_in_each_state(folder: Path, name: str) -> None:
    arguments, code = COMMANDS[name]
    assert run(folder, arguments, ">&-") == (2, "", "netcheck: standard output: is closed\n")
    found, out, _ = run(folder, arguments, "")
    assert (found, bool(out)) == (code, True)
    for streams in ("2>/dev/full", "<&-", "<&- 2>&-"):
        assert run(folder, arguments, streams) == (code, out, "")
    assert run(folder, arguments, "-o p.txt >&-" if name == "plan" else "2>&1")[0] == code


@needs_shell
@needs_full
def test_unbuffered_it_is_the_same(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONUNBUFFERED", "1")
    for arguments in ("--help", "plan van.job.toml"):
        code, _, err = run(folder, arguments, ">/dev/full")
        assert (code, err) == (2, "netcheck: standard output: cannot be written: No space left on device\n")


@needs_shell
def test_a_message_that_cannot_be_written_changes_no_status(folder: Path) -> None:
    for streams in ("2>&-", "2>/dev/full", ""):
        assert run(folder, "plan nowhere.job.toml", streams)[:2] == (2, "")
        assert run(folder, "", streams)[:2] == (2, "")


@needs_shell
def test_no_file_of_ours_gets_the_number_of_a_closed_stream(folder: Path) -> None:
    found, _, err = run(folder, "trim x.log -o cut.log", ">&-")
    assert (found, err) == (2, "netcheck: standard output: is closed\n")
    assert (folder / "cut.log").read_bytes() == (folder / "x.log").read_bytes()


@needs_shell
def test_a_fault_that_is_looked_into_is_no_verdict(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NETCHECK_TRACEBACK", "1")
    (folder / "sitecustomize.py").write_text("import netcheck.cli._app as app\napp.run = lambda _: 1 // 0\n")
    monkeypatch.setattr(sys, "path", [str(folder), *sys.path])
    code, out, err = run(folder, "plan van.job.toml", "")
    assert (code, out) == (70, "")
    assert "ZeroDivisionError" in err
    assert "Traceback" in err


@needs_full
def test_record_on_a_full_stream(job: Path, port: int) -> None:
    arguments = words(job, port, "--timeout", "1", "--format", "json")
    with Van(port), FULL.open("wb") as full:
        command = [sys.executable, "-m", "netcheck", *arguments]
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 2
    last = done.stderr.splitlines()[-1]
    assert last == "netcheck: standard output: cannot be written: No space left on device"
    assert (job.parent / "new.log").stat().st_size > 0


EVIL = "a\x1b]52;c;ZWNobw==\x07\u202eb\x9b31m\x7f"


def test_no_message_takes_a_control_character_to_the_terminal(
    tmp_path: Path, run_cli: Callable[..., tuple[int, str, str]]
) -> None:
    toml = "".join(f"\\u{ord(char):04x}" for char in EVIL)
    (tmp_path / "key.job.toml").write_text(f'kind = "job"\nformat = 1\n"{toml}" = 1\n')
    (tmp_path / "value.job.toml").write_text(f'kind = "{toml}"\nformat = 1\n')
    (tmp_path / f"{EVIL}.log").write_text("nothing\n")
    for arguments in (
        ["plan", str(tmp_path / "key.job.toml")],
        ["plan", str(tmp_path / "value.job.toml")],
        ["plan", str(tmp_path / "key.job.toml"), str(tmp_path / "value.job.toml")],
        ["survey", str(tmp_path / f"{EVIL}.log")],
        ["survey", str(tmp_path / f"{EVIL}.gone")],
        ["decode", str(tmp_path / f"{EVIL}.log"), "--dbc", EVIL],
        ["schema", EVIL],
        [EVIL],
        ["plan", "--vehicle", EVIL, "--retrofit", "x"],
        [f"--{EVIL}"],
    ):
        code, out, err = run_cli(*arguments)
        assert (code, out) == (2, "")
        assert "a\ufffd]52" in err or r"a\x1b]52" in err  # as it is cleaned, or as the framework quotes it
        assert all(clean(line) == line for line in err.splitlines())


@pytest.fixture
def run_cli(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    from netcheck.cli import main

    def call(*arguments: str) -> tuple[int, str, str]:
        code = main(arguments)
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return call


@needs_shell
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_an_end_from_outside_leaves_no_part_of_a_file(tmp_path: Path, number: signal.Signals) -> None:
    """A simulation of a day, ended while it writes."""
    vehicle = put(tmp_path, "", seconds=86_400.0)
    target = tmp_path / "x.log"
    target.write_text("from yesterday")
    command = ["simulate", str(vehicle), "--script", str(tmp_path / "s.script.toml"), "-o", str(target)]
    before = {path.name for path in tmp_path.iterdir()}
    process = subprocess.Popen(
        [sys.executable, "-m", "netcheck", *command],
        stderr=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    until(lambda: any(path.stat().st_size for path in tmp_path.glob(".x.log.*.part")))
    process.send_signal(number)
    out, err = process.communicate(timeout=LONGEST)
    assert (process.returncode, out, err) == (130, "", "netcheck: interrupted\n")
    assert target.read_text() == "from yesterday"
    assert {path.name for path in tmp_path.iterdir()} == before


@needs_shell
def test_what_ignores_the_end_of_its_terminal_goes_on(folder: Path) -> None:
    script = 'trap "" HUP; exec "$0" -c "$1"'
    code = (
        "import signal; from netcheck.cli._signals import ended_gently\n"
        "with ended_gently(): print(signal.getsignal(signal.SIGHUP) is signal.SIG_IGN)"
    )
    done = subprocess.run(["sh", "-c", script, sys.executable, code], capture_output=True, check=True)
    assert done.stdout == b"True\n"


def test_the_screen_of_a_recording_keeps_its_colours_and_nothing_else(
    capsys: pytest.CaptureFixture[str],
) -> None:
    screen = Screen()
    screen.say("\x1b[1mHands off\x1b[0m a\x1b]52;c;x\x07\u202eb\r\x1b[2J\n")
    assert capsys.readouterr().err == "\x1b[1mHands off\x1b[0m a\\u001b]52;c;x\\u0007\\u202eb\\r\\u001b[2J\n"


def test_a_simulated_log_takes_no_control_character_to_the_terminal(
    tmp_path: Path, run_cli: Callable[..., tuple[int, str, str]]
) -> None:
    vehicle = put(tmp_path, "", seconds=0.1)
    toml = "".join(f"\\u{ord(char):04x}" for char in EVIL)
    vehicle.write_text(vehicle.read_text().replace("Gull 3", toml))
    code, out, _ = run_cli("simulate", str(vehicle), "--script", str(tmp_path / "s.script.toml"))
    assert code == 0
    assert out.startswith("# Simulated, no real vehicle: a\ufffd]52;")
    assert all(char.isprintable() or char == "\n" for char in out)
