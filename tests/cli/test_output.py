"""Results go out whole or not at all."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import pytest

from netcheck.cli._output import check_target, json_text, look, open_output
from netcheck.errors import InputError, UsageError


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_standard_output(capsys: pytest.CaptureFixture[str]) -> None:
    with open_output(None) as out:
        out.write("old → new\n")
    assert capsys.readouterr().out == "old → new\n"


def test_a_file_is_utf_8_with_plain_line_ends(tmp_path: Path) -> None:
    target = tmp_path / "plan.txt"
    with open_output(target) as out:
        out.write("old → new\n")
        assert not target.exists()  # not before it is whole
    assert target.read_bytes() == "old → new\n".encode()
    assert [path.name for path in tmp_path.iterdir()] == ["plan.txt"]


def test_bytes(tmp_path: Path) -> None:
    target = tmp_path / "a.parquet"
    with open_output(target, binary=True) as out:
        out.buffer.write(b"PAR1")
    assert target.read_bytes() == b"PAR1"


@pytest.mark.parametrize("failure", [ValueError, KeyboardInterrupt])
def test_a_failure_leaves_nothing_behind_and_keeps_what_was_there(
    tmp_path: Path, failure: type[BaseException]
) -> None:
    target = tmp_path / "plan.txt"
    target.write_text("from yesterday")

    def half_written() -> None:
        with open_output(target) as out:
            out.write("half")
            raise failure

    with pytest.raises(failure):
        half_written()
    assert target.read_text() == "from yesterday"
    assert [path.name for path in tmp_path.iterdir()] == ["plan.txt"]


def test_what_stood_there_is_replaced_and_keeps_its_permissions(tmp_path: Path) -> None:
    target = tmp_path / "plan.txt"
    target.write_text("from yesterday")
    target.chmod(0o600)
    with open_output(target) as out:
        out.write("today")
    assert target.read_text() == "today"
    assert target.stat().st_mode & 0o777 == 0o600


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real.txt").write_text("from yesterday")
    (tmp_path / "link.txt").symlink_to("real.txt")
    with open_output(tmp_path / "link.txt") as out:
        out.write("today")
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real.txt").read_text() == "today"


def test_an_input_is_never_overwritten(tmp_path: Path) -> None:
    job = tmp_path / "a.job.toml"
    job.write_text("kind")
    (tmp_path / "link").symlink_to("a.job.toml")
    for name in ("a.job.toml", "./a.job.toml", "link"):
        with (
            pytest.raises(InputError, match="is an input of this command"),
            open_output(tmp_path / name, inputs=[job]) as out,
        ):
            out.write("gone")
    assert job.read_text() == "kind"


def test_inputs_that_are_not_there_do_not_matter(tmp_path: Path) -> None:
    target = tmp_path / "plan.txt"
    target.write_text("")
    check_target(target, [tmp_path / "missing"])


def test_targets_that_cannot_be(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is a folder"):
        check_target(tmp_path, [])
    with pytest.raises(InputError, match="its folder does not exist"):
        check_target(tmp_path / "nowhere" / "plan.txt", [])
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="its folder does not exist"):
        check_target(tmp_path / "file" / "plan.txt", [])


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_is_one_line() -> None:
    target = Path("/dev/full")
    with pytest.raises(InputError, match="cannot be written: No space left"), open_output(target) as out:
        out.write("x" * 100_000)


def test_bytes_are_not_for_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", Terminal())
    with pytest.raises(UsageError, match="name a file with -o"), open_output(None, binary=True):
        pass
    with open_output(None) as out:
        out.write("text is")


def test_a_pipe_gets_plain_text_at_80_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "132")
    assert look(None) == look(Path("plan.txt"))
    assert (look(None).width, look(None).colour) == (80, False)


@pytest.mark.parametrize(
    ("variables", "columns", "width", "colour"),
    [
        ({}, "100", 100, True),
        ({}, "20", 40, True),
        ({}, "400", 120, True),
        ({"NO_COLOR": "1"}, "80", 80, False),
        ({"NO_COLOR": ""}, "80", 80, True),  # an empty value does not count
        ({"TERM": "dumb"}, "80", 80, False),
    ],
)
def test_a_terminal(
    monkeypatch: pytest.MonkeyPatch, variables: dict[str, str], columns: str, width: int, colour: bool
) -> None:
    monkeypatch.setattr(sys, "stdout", Terminal())
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", columns)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    assert (look(None).width, look(None).colour) == (width, colour)
    assert not look(Path("plan.txt")).colour


def test_json_is_readable_and_strict(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(io.BytesIO(), encoding="utf-8"))
    assert json_text({"b": "→", "a": 1}) == '{\n  "b": "→",\n  "a": 1\n}\n'
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(io.BytesIO(), encoding="latin-1"))
    assert json_text({"b": "→"}) == '{\n  "b": "\\u2192"\n}\n'
    with pytest.raises(ValueError, match="not JSON compliant"):
        json_text(float("nan"))


def test_json_shows_no_terminal_what_it_would_act_upon(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(io.BytesIO(), encoding="utf-8"))
    name = "é\x1b]52;c;x\x07\x7f\x9b31m\u202eb\u2067\U000e0041\udcff\n"
    text = json_text({name: [name]})
    assert json.loads(text) == {name: [name]}
    assert all(char.isprintable() or char == "\n" for char in text)
    assert '"é\\u001b]52;c;x\\u0007\\u007f\\u009b31m\\u202eb' in text
