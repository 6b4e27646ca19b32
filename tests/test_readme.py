"""The README tells the truth: and so does the guide: the console blocks are what the commands print."""

from __future__ import annotations

import re

import pytest

from tests.readme_blocks import ELLIPSIS, PAGES, ROOT, Block, blocks, matches, printed_by

API = (ROOT / "netcheck" / "guide" / "python.md").read_text(encoding="utf-8")
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
    code = re.search(r"```python\n(.*?)```", API, re.DOTALL)
    said = re.search(r"```text\n(.*?)```", API, re.DOTALL)
    assert code is not None
    assert said is not None
    exec(compile(code[1], "python.md", "exec"), {})
    assert capsys.readouterr().out == said[1]


@pytest.mark.parametrize("page", [*PAGES, ROOT / "DEVELOPERS.md"], ids=lambda page: page.stem)
def test_every_link_leads_somewhere(page):
    text = page.read_text(encoding="utf-8")
    headings = {
        "#" + re.sub(r"[^\w -]", "", heading).lower().replace(" ", "-")
        for heading in re.findall(r"^##+ (.*)", text, re.MULTILINE)
    }
    for target in re.findall(r"\]\(([^)]+)\)", text):
        assert target in headings if target.startswith("#") else (page.parent / target).exists(), target


def test_the_cautions_are_those_of_the_guide():
    """Who has only the package reads them there."""
    safety = (ROOT / "netcheck" / "guide" / "safety.md").read_text(encoding="utf-8")
    cautions = README.partition("## Before you touch a vehicle\n")[2].partition("\n## ")[0].strip()
    assert cautions.count("\n- ") == 8
    assert cautions in safety


def test_ci_runs_the_commands_of_the_readme():
    commands = re.findall(r"```sh\n(.*?)\n```", README)
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert len(commands) == 2
    for command in commands:
        assert command in script
