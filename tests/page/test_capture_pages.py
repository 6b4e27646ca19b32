"""The pages of a survey and of a search."""

from __future__ import annotations

import base64
import json
from pathlib import Path

import numpy as np
import pytest

from netcheck.capture import open_capture
from netcheck.cli import main
from netcheck.network import SurveyPlan, survey
from netcheck.report.onsite import survey_json
from tests.page.checked import check_page
from tests.page.made import write_page
from tests.test_demo import SAMPLE_LOGS

LOG = SAMPLE_LOGS / "petrel_2017_drive.log.gz"


def test_every_message_of_a_channel_has_its_row_and_picture(tmp_path: Path) -> None:
    page = check_page(write_page(tmp_path / "x.html", "--survey", str(LOG)))
    told = survey_json(survey(open_capture(LOG), SurveyPlan({})))
    (channel,) = told["channels"]
    rows = page.one("tbody").all("tr")
    assert [row.one("th").text for row in rows] == [message["id"] for message in channel["messages"]]
    assert [row.all("td")[1].attributes["data-sort"] for row in rows] == [
        str(message["count"]) for message in channel["messages"]
    ]
    data = json.loads(page.one("script", type="application/json").text)
    assert [one["id"] for one in data["messages"]] == [message["id"] for message in channel["messages"]]
    picture = data["messages"][0]
    values = np.frombuffer(base64.b64decode(picture["value"]), np.uint8)
    assert values.reshape(picture["bytes"], picture["columns"]).any()
    assert len(base64.b64decode(picture["seen"])) == -(-picture["columns"] // 8)
    assert "uPlot" not in page.whole_text


def test_candidates_stand_under_the_marks(tmp_path: Path) -> None:
    page = check_page(write_page(tmp_path / "x.html", "--find", str(LOG), "--role", "brake-pedal"))
    rows = page.one("tbody").all("tr")
    marks = rows[0].all("rect", class_="band")
    assert len(marks) == 2
    seconds = 41.0
    assert float(marks[0].attributes["x"] or 0) == pytest.approx(4.0 / seconds * 600, abs=0.5)
    assert float(marks[0].attributes["width"] or 0) == pytest.approx(3.0 / seconds * 600, abs=0.5)
    best = rows[1]
    assert "0x0BC byte 0 bit 0" in best.whole_text
    assert [len(best.all("rect", class_=kind)) for kind in ("band", "active", "unasked")] == [2, 2, 0]
    assert "One candidate stands clear" in page.whole_text


def test_several_roles_stand_on_one_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As ``find`` takes them: the buttons of one capture, each by its own marks."""
    log = str(SAMPLE_LOGS / "kittiwake_2022_comfort.log.gz")
    roles = ["--role", "wheel.mute", "--role", "wheel.voice", "--role", "wheel.mute"]
    page = check_page(write_page(tmp_path / "x.html", "--find", log, *roles))
    assert [link.text for link in page.one("nav").all("a")] == ["wheel.mute", "wheel.voice"]
    titles = ["wheel.mute: One candidate stands clear", "wheel.voice: One candidate stands clear"]
    assert [section.one("h2").text for section in page.all("section")] == titles
    assert main(["find", log, *roles, "--format", "json"]) == 0
    told = json.loads(capsys.readouterr().out)
    for section, search in zip(page.all("section"), told["searches"], strict=True):
        rows = section.one("tbody").all("tr")
        assert len(rows[0].all("rect", class_="band")) == len(search["marks"])
        assert search["candidates"][0]["id"] in rows[1].whole_text
    assert main(["report", "--find", log, *roles, "--format", "json"]) == 0
    assert json.loads(capsys.readouterr().out)["find"] == told


@pytest.mark.parametrize("words", [["--survey"], ["--role", "brake-pedal", "--find"]])
def test_a_page_names_the_capture_and_not_the_folder_it_lies_in(tmp_path: Path, words: list[str]) -> None:
    page = check_page(write_page(tmp_path / "x.html", *words, str(LOG)))
    assert LOG.name in page.whole_text
    assert LOG.parent.as_posix() not in (tmp_path / "x.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "key"),
    [(["--survey", str(LOG)], "survey"), (["--find", str(LOG), "--role", "brake-pedal"], "find")],
)
def test_the_same_as_json(capsys: pytest.CaptureFixture[str], words: list[str], key: str) -> None:
    assert main(["report", *words, "--format", "json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["schema"] == "netcheck.report/1"
    assert told[key]["schema"] == f"netcheck.{key}/1"


def test_nothing_found_is_a_page_too(tmp_path: Path) -> None:
    page = check_page(write_page(tmp_path / "x.html", "--find", str(LOG), "--role", "x", "--at", "1-1.2"))
    assert "marks cannot tell" in page.whole_text or "Nothing moved" in page.whole_text
    assert "one mark only" in page.whole_text


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "one thing to report"),
        (["a.job.toml", "--survey", "x.log"], "one thing to report"),
        (["--find", "x.log"], "--find without --role"),
        (["a.job.toml", "--role", "brake-pedal"], "--role without --find"),
        (["--find", "x.log", "--role", "r", "--dbc", "x.dbc"], "--dbc without --survey"),
    ],
)
def test_options_that_do_not_go_together(
    capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    assert main(["report", *words]) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize("source", ["--survey", "--find"])
def test_a_capture_is_never_written_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], source: str
) -> None:
    log = tmp_path / "drive.log.gz"
    log.write_bytes(LOG.read_bytes())
    role = ["--role", "brake-pedal"] if source == "--find" else []
    assert main(["report", source, str(log), *role, "-o", str(log), "--force"]) == 2
    assert "is an input" in capsys.readouterr().err
    assert log.read_bytes() == LOG.read_bytes()
