"""The survey as text: whole outputs, never wider than asked, the same with and without colour."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from netcheck.capture import open_capture
from netcheck.database import load_database
from netcheck.network import Rates, SurveyPlan, survey
from netcheck.report import survey_text
from netcheck.report._wrap import cells
from tests.network.logs import Line, survey_of

ROOT = Path(__file__).parent.parent.parent

WHOLE = """\
hand.log: 60 frames in 2.0 s on can0

── can0: network not asked for ─────────────────────────────────────────────────
Frames      60 in 2.0 s, 31 a second while awake, awake throughout
Ids         2: 1 of 11 bit, 1 of 29 bit; 0 with a checksum found, 1 with a
            counter
Load        1.8% of 125 kbit/s on average, 1.7% in the busiest second, 1.8% in
            the busiest 100 ms
Errors      no error frame in the log (a log has them only if they were
            recorded)

  id          name       frames    every  longest  len  checks
  0x100                      40    50 ms    50 ms    2  counter
  0x00000A00                 20   100 ms   100 ms    1

── What to do next ─────────────────────────────────────────────────────────────
1. To learn which network this is, give --vehicle FILE, or --dbc with DBC files
   or a folder.
"""


def small() -> list[Line]:
    lines = [Line(50 * n, 0x100, bytes([n % 16, 7])) for n in range(40)]
    lines += [Line(100 * n + 51, 0xA00, b"\0") for n in range(20)]
    return sorted(lines, key=lambda line: line.ms)


def test_a_small_survey(tmp_path):
    found = survey_of(tmp_path, small(), SurveyPlan(stated=Rates(125_000)))
    assert survey_text(replace(found, file="hand.log"), width=80, colour=False) == WHOLE


@pytest.fixture(scope="module")
def demo():
    networks = {
        name: load_database(ROOT / "dbc" / f"skerry_{name}.dbc")
        for name in ("comfort", "drive", "conversion")
    }
    rates = {"comfort": Rates(125_000), "drive": Rates(500_000), "conversion": Rates(250_000)}
    path = ROOT / "sample_logs" / "puffin_2020_comfort_drive.log.gz"
    return survey(open_capture(path), SurveyPlan(networks, rates))


@pytest.mark.parametrize("width", [40, 80, 120])
@pytest.mark.parametrize("verbose", [False, True])
def test_no_line_is_wider_than_asked_and_colour_is_only_colour(demo, width, verbose):
    plain = survey_text(demo, width=width, colour=False, verbose=verbose)
    assert max(cells(line) for line in plain.splitlines()) <= width
    coloured = survey_text(demo, width=width, colour=True, verbose=verbose)
    assert re.sub("\x1b\\[[0-9;]*m", "", coloured) == plain


def test_the_default_is_cut_and_says_so(demo):
    short = survey_text(demo, width=80, colour=False)
    assert "and 22 more messages" in short
    assert len(short.splitlines()) < 75
    full = survey_text(demo, width=80, colour=False, verbose=True)
    assert "more message" not in full
    for channel in demo.channels:
        for message in channel.messages:
            assert str(message.frame_id) in full


def test_the_network_is_named_with_its_reason_and_the_next_step(demo):
    text = " ".join(survey_text(demo, width=80, colour=False).split())
    assert "can1: drive" in text
    assert "35 of 38 ids fit the DBC of drive: clear" in text
    assert "Use the capture for drive and comfort in a job file, and run netcheck plan." in text
