"""The README tells the truth: its console blocks are what the commands print, CI runs its lines."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from netcheck.cli import main

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
CONSOLE = re.findall(r"```console\n\$ netcheck (.*?)\n(.*?)```", README, re.DOTALL)
ELLIPSIS = "…"


def matches(shown: list[str], printed: list[str]) -> bool:
    """Whether the printed lines are the shown ones; a line of … stands for any number of lines."""
    if not shown:
        return not printed
    if shown[0] == ELLIPSIS:
        return any(matches(shown[1:], printed[at:]) for at in range(len(printed) + 1))
    return bool(printed) and printed[0] == shown[0] and matches(shown[1:], printed[1:])


@pytest.mark.parametrize(("command", "shown"), CONSOLE, ids=[command for command, _ in CONSOLE])
def test_a_console_block_shows_what_the_command_prints(command, shown, capsys, monkeypatch):
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("COLUMNS", "80")
    main(shlex.split(command))
    printed = capsys.readouterr().out.splitlines()
    lines = shown.splitlines()
    assert any(line != ELLIPSIS for line in lines), "nothing is shown"
    assert matches(lines, printed), "\n".join(printed)


def test_the_python_example_prints_what_it_says(capsys, monkeypatch):
    monkeypatch.chdir(ROOT)
    code = re.search(r"```python\n(.*?)```", README, re.DOTALL)
    said = re.search(r"```text\n(.*?)```", README, re.DOTALL)
    assert code is not None
    assert said is not None
    exec(compile(code[1], "README.md", "exec"), {})
    assert capsys.readouterr().out == said[1]


def test_ci_runs_the_commands_of_the_readme():
    commands = re.findall(r"```sh\n(.*?)\n```", README)
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert len(commands) == 2
    for command in commands:
        assert command in script
