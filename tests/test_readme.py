"""The README tells the truth: and so does the guide: the console blocks are what the commands print."""

from __future__ import annotations

import re

import pytest

from tests.readme_blocks import ELLIPSIS, PAGES, ROOT, Block, blocks, matches, printed_by

README = (ROOT / "README.md").read_text(encoding="utf-8")
SHOWN = [(page, block) for page in PAGES for block in blocks(page.read_text(encoding="utf-8"))]


@pytest.mark.parametrize(
    "block", [block for _, block in SHOWN], ids=[f"{page.stem}: {block.command}" for page, block in SHOWN]
)
def test_a_console_block_shows_what_the_command_prints(block: Block):
    assert any(line != ELLIPSIS for line in block.shown), "nothing is shown"
    printed = printed_by(block.command)
    assert matches(block.shown, printed), "\n".join(printed)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_every_console_block_is_run(page):
    text = page.read_text(encoding="utf-8")
    assert len(blocks(text)) == text.count("```console")


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
