"""``netcheck guide``."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netcheck.cli import main
from netcheck.guide import guide_page, guide_pages
from netcheck.report.guide import guide_page_text

Capsys = pytest.CaptureFixture[str]


def test_alone_it_lists_the_topics_a_line_each(capsys: Capsys) -> None:
    assert main(["guide"]) == 0
    head, blank, *lines = capsys.readouterr().out.splitlines()
    assert (head, blank) == ("The guide: netcheck guide TOPIC prints a page.", "")
    assert [line.split(None, 1) for line in lines] == [[page.topic, page.title] for page in guide_pages()]


def test_a_page_on_the_screen_and_in_a_file(capsys: Capsys, tmp_path: Path) -> None:
    assert main(["guide", "tap"]) == 0
    printed = capsys.readouterr().out
    assert printed == guide_page_text(guide_page("tap").text, width=80, colour=False)
    assert main(["guide", "tap", "-o", str(tmp_path / "tap.txt")]) == 0
    assert (tmp_path / "tap.txt").read_text(encoding="utf-8") == printed


def test_json(capsys: Capsys) -> None:
    assert main(["guide", "tap", "--format", "json"]) == 0
    page = guide_page("tap")
    assert json.loads(capsys.readouterr().out) == {
        "schema": "netcheck.guide/1",
        "pages": [{"topic": "tap", "title": page.title, "text": page.text}],
    }
    assert main(["guide", "--format", "json"]) == 0
    listed = json.loads(capsys.readouterr().out)["pages"]
    assert [each["topic"] for each in listed] == [each.topic for each in guide_pages()]


def test_an_unknown_topic_is_one_line(capsys: Capsys, tmp_path: Path) -> None:
    target = tmp_path / "page.txt"
    assert main(["guide", "taps", "-o", str(target)]) == 2
    assert capsys.readouterr().err == "netcheck: the guide has no topic 'taps' – did you mean 'tap'?\n"
    assert not target.exists()
