"""The bar while a large capture is read: for a terminal, and for nobody else."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from types import SimpleNamespace

import pytest

from netcheck.capture import _reader
from netcheck.catalogue import load_job
from netcheck.cli import _progress, main
from netcheck.cli._progress import LEAST_BYTES, countdown, progress_bar
from netcheck.plan import make_plan
from tests.cli.jobs import write_job

LINES = "".join(f"({100 + number / 10:.6f}) can0 123#0{number % 2}00000000000000\n" for number in range(300))
CAPTURE = '\n[[capture]]\nfile = "van.log"\nchannels = { can0 = "comfort" }\n'


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    screen = Terminal()
    monkeypatch.setattr(_progress, "sys", SimpleNamespace(stderr=screen))
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("COLUMNS", "100")
    return screen


def test_a_large_file_shows_its_name_rate_and_time_left(terminal):
    with progress_bar() as progress:
        assert progress is not None
        progress("day[1].log", 30_000_000, 300_000_000)
        progress("day[1].log", 60_000_000, 300_000_000)
        shown = terminal.getvalue()
    assert "day[1].log" in shown
    assert "60.0/300.0 MB" in shown
    assert "B/s" in shown
    assert "0:00:" in shown


def test_a_name_takes_no_control_character_to_the_terminal(terminal):
    with progress_bar() as progress:
        assert progress is not None
        progress("a\x1b]52;c;x\x07\u202e.log", 60_000_000, 300_000_000)
        shown = terminal.getvalue()
    assert "a\ufffd]52;c;x\ufffd\ufffd.log" in shown


@pytest.mark.parametrize(("total", "is_shown"), [(LEAST_BYTES, False), (LEAST_BYTES + 1, True), (0, False)])
def test_a_small_file_or_one_of_unknown_size_shows_nothing(terminal, total, is_shown):
    with progress_bar() as progress:
        assert progress is not None
        progress("x.log", total // 2, total)
    assert bool(terminal.getvalue()) is is_shown


def test_nobody_at_a_terminal_sees_nothing(monkeypatch):
    monkeypatch.setattr(_progress, "sys", SimpleNamespace(stderr=io.StringIO()))
    with progress_bar() as progress:
        assert progress is None


@pytest.mark.parametrize("why", ["a result runs over the terminal", "a terminal without a cursor"])
def test_no_bar_where_it_would_be_in_the_way(terminal, monkeypatch, why):
    is_shown = why != "a result runs over the terminal"
    if is_shown:
        monkeypatch.setenv("TERM", "dumb")
    with progress_bar(is_shown=is_shown) as progress:
        assert progress is None


def test_the_bar_goes_also_when_reading_fails(terminal):
    def read() -> None:
        with progress_bar() as progress:
            assert progress is not None
            progress("x.log", 1, LEAST_BYTES + 1)
            raise ValueError("torn")

    with pytest.raises(ValueError, match="torn"):
        read()
    assert terminal.getvalue().endswith("\x1b[2K")  # the line is erased
    assert terminal.getvalue().count("\x1b[?25h") == 1  # and the cursor is back


def test_a_plan_reports_each_capture_by_its_name(tmp_path, monkeypatch):
    monkeypatch.setattr(_reader, "_PROGRESS_S", 0.0)
    path = write_job(tmp_path, CAPTURE, van__log=LINES)
    told: list[tuple[str, int, int]] = []
    with_progress = make_plan(load_job(path), progress=lambda *report: told.append(report))
    assert {name for name, _, _ in told} == {"van.log"}
    assert told[-1] == ("van.log", len(LINES), len(LINES))
    assert with_progress == make_plan(load_job(path))


@pytest.mark.parametrize("form", ["text", "json"])
def test_the_commands_show_a_bar_beside_the_same_result(tmp_path, terminal, monkeypatch, capsys, form):
    path = write_job(tmp_path, CAPTURE, van__log=LINES)
    for command in (["plan", path], ["decode", tmp_path / "van.log", "--dbc", tmp_path / "comfort.dbc"]):
        arguments = [*map(str, command), "--format", form]
        monkeypatch.setattr(_progress, "LEAST_BYTES", LEAST_BYTES)
        code = main(arguments)
        plain = capsys.readouterr().out
        assert terminal.getvalue() == ""
        monkeypatch.setattr(_progress, "LEAST_BYTES", 0)
        assert main(arguments) == code
        assert capsys.readouterr().out == plain
        assert "van.log" in terminal.getvalue()
        terminal.seek(0)
        terminal.truncate()


def test_piped_commands_say_nothing_and_import_no_bar(tmp_path):
    path = write_job(tmp_path, CAPTURE, van__log=LINES)
    code = (
        "import sys; from netcheck.cli import main, _progress; _progress.LEAST_BYTES = 0;"
        f"main(['plan', {str(path)!r}, '-o', {str(tmp_path / 'plan.txt')!r}]); print('rich' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=os.environ
    )
    assert (done.stdout, done.stderr) == ("False\n", "")


def test_a_countdown_has_room_in_30_columns_and_goes(terminal):
    with countdown("left") as tell:
        tell(15.0, 0)
        tell(14.9, 0)
        tell(13.2, 1_234_567)
    written = terminal.getvalue()
    shown = [text for text in written.split("\r\x1b[K") if text]
    assert shown == ["left: 15 s, 0 frames", "left: 14 s, 1,234,567 frames"]
    assert max(map(len, shown)) < 30
    assert written.endswith("\r\x1b[K")


def test_without_a_terminal_nothing_counts_down(monkeypatch):
    screen = io.StringIO()
    monkeypatch.setattr(_progress, "sys", SimpleNamespace(stderr=screen))
    with countdown("left") as tell:
        assert tell is None
    assert screen.getvalue() == ""
