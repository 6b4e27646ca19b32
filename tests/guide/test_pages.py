"""The guide's pages: all there, each with a title, and fit for a terminal."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import netcheck.guide
from netcheck.errors import UsageError
from netcheck.guide import GuidePage, guide_page, guide_pages
from netcheck.report.guide import guide_page_text

FOLDER = Path(netcheck.guide.__file__).parent
PAGES = guide_pages()

each = pytest.mark.parametrize("page", PAGES, ids=lambda page: page.topic)


def test_every_file_is_a_topic() -> None:
    assert {page.topic for page in PAGES} == {path.stem for path in FOLDER.glob("*.md")}
    assert len({page.title for page in PAGES}) == len(PAGES)


@each
def test_a_page_begins_with_its_title(page: GuidePage) -> None:
    assert page.text.startswith(f"# {page.title}\n\n")
    assert len(f"  measurements  {page.title}") <= 80  # a line of the list of topics


@each
def test_a_page_uses_what_the_terminal_can_show(page: GuidePage) -> None:
    assert page.text.count("\n```") % 2 == 0
    prose = re.sub(r"^```.*?^```$", "", page.text, flags=re.DOTALL | re.MULTILINE)
    for line in prose.splitlines():
        assert not re.match(r" +(-|\d+\.) ", line), f"a list in a list: {line}"
        assert not re.match(r"[>*+<]|!\[|    ", line), line


@each
def test_settings_and_commands_fit_80_columns(page: GuidePage) -> None:
    for language, block in re.findall(r"^```(\w*)\n(.*?)^```$", page.text, re.DOTALL | re.MULTILINE):
        if language in ("", "sh", "toml", "python"):
            assert max(map(len, block.splitlines())) <= 80


@each
@pytest.mark.parametrize("width", [40, 80, 120])
def test_no_word_of_a_page_is_lost(page: GuidePage, width: int) -> None:
    text = guide_page_text(page.text, width=width, colour=False)
    told = re.sub(r"[\W_]+", "", text)
    for line in page.text.splitlines():
        if not line.startswith(("```", "|")) and "](" not in line:
            assert re.sub(r"[\W_]+", "", line) in told, line


@pytest.mark.parametrize(
    ("topic", "line"),
    [
        ("surwey", "the guide has no topic 'surwey' – did you mean 'survey'?"),
        ("../plan", "the guide has no topic '../plan' – did you mean 'plan'?"),
        ("", f"the guide has no topic '' – it has {', '.join(page.topic for page in PAGES)}"),
    ],
)
def test_an_unknown_topic(topic: str, line: str) -> None:
    with pytest.raises(UsageError) as caught:
        guide_page(topic)
    assert str(caught.value) == line
