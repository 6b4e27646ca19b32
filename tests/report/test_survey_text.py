"""The survey as text: whole outputs, never wider than asked, the same with and without colour."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from netcheck.capture import open_capture
from netcheck.database import load_database
from netcheck.network import FrameId, LoadRates, SurveyPlan, survey
from netcheck.report._survey_rows import has_moved
from netcheck.report.onsite import survey_json, survey_text
from tests.network.logs import Line, survey_of
from tests.network.test_identity import database, message
from tests.network.test_profiles import protected
from tests.network.test_remarks import PLAN, steady
from tests.network.test_survey import CHANGES, repeats
from tests.report.layout import overlong

ROOT = Path(__file__).parent.parent.parent

WHOLE = """\
hand.log: 60 frames in 2.0 s on can0

── can0: network not looked for ────────────────────────────────────────────────
Frames      60 in 2.0 s, 31 per second while awake, awake all the time
Ids         2: 1 of 11 bit, 1 of 29 bit
Checks      1 message with a counter, none with a checksum of a kind that was
            tried (one byte over all others: CRC-8 J1850, CRC-8 0x2F, sum,
            complement of the sum or XOR)
Load        1.8% of 125 kbit/s on average, 1.7% in the busiest second, 1.8% in
            the busiest 100 ms
Errors      no error frame in the log (not every recorder writes them)

  id          name       frames    every  longest  len  checks
  0x100                      40    50 ms    50 ms    2  counter
  0x00000A00                 20   100 ms   100 ms    1

── What to do next ─────────────────────────────────────────────────────────────
1. To find out which network this is, give --vehicle FILE, or --dbc FILE or
   FOLDER.
"""


def small() -> list[Line]:
    lines = [Line(50 * n, 0x100, bytes([n % 16, 7])) for n in range(40)]
    lines += [Line(100 * n + 51, 0xA00, b"\0") for n in range(20)]
    return sorted(lines, key=lambda line: line.ms)


def test_a_small_survey(tmp_path):
    found = survey_of(tmp_path, small(), SurveyPlan(stated=LoadRates(125_000)))
    assert survey_text(replace(found, file="hand.log"), width=80, colour=False) == WHOLE


@pytest.fixture(scope="module")
def demo():
    networks = {
        name: load_database(ROOT / "dbc" / f"skerry_{name}.dbc")
        for name in ("comfort", "drive", "conversion")
    }
    rates = {"comfort": LoadRates(125_000), "drive": LoadRates(500_000), "conversion": LoadRates(250_000)}
    path = ROOT / "sample_logs" / "puffin_2020_comfort_drive.log.gz"
    return survey(open_capture(path), SurveyPlan(networks, rates))


@pytest.mark.parametrize("width", [40, 80, 120])
@pytest.mark.parametrize("verbose", [False, True])
def test_no_line_is_wider_than_asked_and_colour_is_only_colour(demo, width, verbose):
    plain = survey_text(demo, width=width, colour=False, verbose=verbose)
    assert overlong(plain, width) == []
    coloured = survey_text(demo, width=width, colour=True, verbose=verbose)
    assert re.sub("\x1b\\[[0-9;]*m", "", coloured) == plain


def test_the_default_is_cut_and_says_so(demo):
    short = survey_text(demo, width=80, colour=False)
    assert "and 22 more messages" in short
    assert len(short.splitlines()) < 75
    full = survey_text(demo, width=80, colour=False, verbose=True)
    assert "more message" not in full
    for channel in demo.channels:
        for one in channel.messages:
            assert str(one.frame_id) in full


def test_the_network_is_named_with_its_reason_and_the_next_step(demo):
    text = " ".join(survey_text(demo, width=80, colour=False).split())
    assert "can1: drive" in text
    assert "35 of 38 ids match the DBC of drive: clear" in text
    assert "Use the capture for drive and comfort in a job file, and run netcheck plan." in text


def text_of_lines(tmp_path, lines, plan=None, **kwargs) -> str:
    """The text as one line; on a page wide enough for any temporary folder."""
    found = survey_of(tmp_path, lines, plan)
    return " ".join(survey_text(found, width=400, colour=False, **kwargs).split())


def test_a_log_without_a_second_claims_no_load_of_one(tmp_path):
    rates = SurveyPlan(stated=LoadRates(125_000))
    short = text_of_lines(tmp_path, [Line(n, 0x100, b"\1") for n in range(50)], rates)
    assert "in 0.049 s" in short
    assert "too short for a busiest second" in short
    assert "100 ms" not in short
    once = text_of_lines(tmp_path, [Line(0, 0x100, b"\1")], rates)
    assert "hand.log: 1 frame in 0.0 s" in once
    assert "Load not known: all frames have the same time" in once
    assert "%" not in once
    unknown = text_of_lines(tmp_path, [Line(n, 0x100, b"\1") for n in range(50)])
    assert "busiest" not in unknown


def test_kinds_of_frames_are_told_apart(tmp_path):
    lines = [
        *(Line(100 * n, 0x100, b"\1") for n in range(1500)),
        *(Line(100 * n + 1, 0x200, "R2") for n in range(1500)),
        *(Line(100 * n + 2, 0x300, "#1AABB") for n in range(1500)),
        *(Line(100 * n + 3, 0x20000008, "0000040000000000") for n in range(1500)),
    ]
    text = text_of_lines(tmp_path, sorted(lines, key=lambda line: line.ms))
    assert (
        "Frames 6,000 in 2.5 min, 20 per second while awake, awake all the time; 1,500 remote frames" in text
    )
    assert "Ids 2: 2 of 11 bit; 1 in CAN FD (1,500 frames) " in text
    assert "Errors 1,500 error frames ! 1,500 error frames, 25.0% of all (bit-stuffing 1,500)." in text


def test_a_load_that_sleep_makes_small_is_given_while_awake_too(tmp_path):
    awake = [Line(10 * n, 0x555, b"\x55" * 8) for n in range(201)]
    late = [Line(line.ms + 18_000, *line[1:]) for line in awake]
    text = text_of_lines(tmp_path, awake + late, SurveyPlan(stated=LoadRates(112_000)))
    assert "2.0% of 112 kbit/s on average, 10% while awake, 10% in the busiest second" in text


def test_a_period_of_few_gaps_is_marked(tmp_path):
    lines = [Line(100 * n, 0x100, b"\1") for n in range(20)] + [Line(500 * n, 0x200, b"\1") for n in range(4)]
    text = text_of_lines(tmp_path, sorted(lines, key=lambda line: line.ms))
    assert "100 ms 100 ms" in text
    assert "500 ms?" in text
    assert "? came too few times to be sure of the period" in text
    assert "?" not in text_of_lines(tmp_path, lines[:20])


def test_more_ids_than_are_looked_at_are_not_counted_as_those(tmp_path):
    lines = [Line(n, 0x1000 + n, b"\1") for n in range(8200)]
    assert "Ids more than 8,192: 8,192 of 29 bit" in text_of_lines(tmp_path, lines)


@pytest.mark.parametrize(
    ("ids", "headline", "reason"),
    [
        (range(0x100, 0x106), "can0: one ──", "6 of 6 ids match the DBC of one: clear"),
        ((0x300, 0x301, 0x302), "can0: none of these networks ──", "none of them"),
        ((0x100,), "can0: none of these networks ──", "1 of 1 id match the DBC of one: none of them"),
        (
            (0x100, 0x101, 0x102, 0x200, 0x201, 0x202),
            "can0: two networks mixed ──",
            ": more than one network is here",
        ),
    ],
)
def test_the_headline_says_which_network(tmp_path, ids, headline, reason):
    lines = [Line(20 * n + k, can_id, bytes(8)) for n in range(30) for k, can_id in enumerate(ids)]
    text = text_of_lines(tmp_path, lines, PLAN)
    assert headline in text
    assert reason in text


def test_messages_of_the_dbc_that_never_came_are_counted_and_named(tmp_path, demo):
    found = survey_of(tmp_path, steady(0x100, 0x102, 0x103), PLAN)
    text = survey_text(found, width=80, colour=False)
    assert "\nNot seen    3 of 6 messages of its DBC: A1, A4 and A5\n" in text
    short, long = (
        " ".join(survey_text(demo, width=80, colour=False, verbose=verbose).split())
        for verbose in (False, True)
    )
    assert "7 of 50 messages of its DBC: WheelKeys, CruiseKeys," in short
    assert "CameraState and 1 more Load" in short
    assert "CameraState and AmplifierState Load" in long


def test_a_doubtful_network_is_told_as_such_and_not_sent_to_a_plan(tmp_path):
    vast = database(*(message(f"V{n}", 3 * n) for n in range(300)))
    lines = [
        Line(20 * n + k / 4, can_id, bytes(8)) for n in range(20) for k, can_id in enumerate(range(600, 660))
    ]
    text = text_of_lines(tmp_path, lines, SurveyPlan({"vast": vast}))
    assert "can0: perhaps vast ──" in text
    assert "20 of 60 ids match the DBC of vast: doubtful" in text
    assert "netcheck plan" not in text


def test_whom_a_j1939_message_is_for(tmp_path):
    lines = []
    for n in range(20):
        at = 100 * n
        lines += [Line(at, 0x0CF00400, bytes(8)), Line(at + 1, 0x18FEF100, bytes(8))]
        lines += [Line(at + 2, 0x18EA00F9, bytes(3)), Line(at + 3, 0x18EAFFF9, bytes(3))]
    text = text_of_lines(tmp_path, lines, verbose=True)
    assert "from 249 (service tool 1) to 0 (engine 1)" in text
    assert "from 249 (service tool 1) to 255 (all)" in text


def test_how_a_data_id_goes_in(tmp_path):
    lines = [Line(10 * n, 0x1F0, data) for n, data in enumerate(protected("alternating", 0x123, 40))]
    plan = SurveyPlan(data_ids={FrameId(0x1F0, False): (0x123,)})
    text = text_of_lines(tmp_path, lines, plan, verbose=True)
    detail = (
        "AUTOSAR profile 1 in byte 0: 100.0% of 40 frames pass; with the two bytes of the data id in turn"
    )
    assert detail in text


def test_what_moved_stands_before_what_never_did(tmp_path):
    """Twenty constant messages that come often, and one that moves and comes seldom."""
    lines = [Line(20 * n + k / 2, 0x100 + k, bytes(8)) for n in range(40) for k in range(20)]
    lines += [Line(100 * n + 15, 0x700, bytes([n, 0, 7 * n % 256])) for n in range(8)]
    found = survey_of(tmp_path, sorted(lines, key=lambda line: line.ms))
    rows = [line for line in survey_text(found, width=80, colour=False).splitlines() if "  0x" in line]
    assert len(rows) == 16
    assert [row.split()[0] for row in rows[:3]] == ["0x700", "0x100", "0x101"]
    full = survey_text(found, width=80, colour=False, verbose=True)
    assert full.index("0x100") < full.index("0x700")


def test_a_counter_and_a_checksum_are_no_movement(tmp_path):
    counting = [Line(20 * n, 0x100, bytes([n % 16, 0])) for n in range(60)]
    moving = [Line(20 * n + 3, 0x200, bytes([n * n % 251, n % 7])) for n in range(60)]
    found = survey_of(tmp_path, sorted(counting + moving, key=lambda line: line.ms))
    one, two = found.channels[0].messages
    assert (has_moved(one), has_moved(two)) == (False, True)


def test_shared_stamps_are_said_beside_what_rests_on_them(tmp_path):
    lines = [Line(20 * n, 0x100 + k, bytes([n % 200])) for n in range(200) for k in range(8)]
    text = text_of_lines(tmp_path, lines, SurveyPlan(stated=LoadRates(500_000)), verbose=True)
    assert "in the busiest 100 ms (rough: frames were stamped in batches)" in text
    assert "; stamped in batches, so the jitter is rough" in text
    assert "88% of the frames are stamped closer together than frames can be sent" in text
    spread = [line._replace(ms=line.ms + (line.can_id - 0x100) / 2) for line in lines]
    rates = SurveyPlan(stated=LoadRates(500_000))
    assert "batches" not in text_of_lines(tmp_path, spread, rates, verbose=True)


def test_a_network_of_which_few_ids_match_is_not_called_clear(tmp_path):
    """10 of 40 ids, and 10 of the DBC's 30 messages."""
    plan = SurveyPlan({"some": database(*(message(f"M{n}", 0x100 + n) for n in range(30)))})
    few = text_of_lines(tmp_path, steady(*range(0x114, 0x13C)), plan)
    assert "10 of 40 ids match the DBC of some: doubtful" in few
    assert ": clear" not in few
    most = text_of_lines(tmp_path, steady(*range(0x10A, 0x132)), plan)
    assert "20 of 40 ids match the DBC of some: another edition of this network?" in most


def test_json_has_the_facts_beside_the_text(tmp_path):
    found = survey_json(survey_of(tmp_path, steady(0x100, 0x101, 0x300, 0x301, 0x302), PLAN))
    (remark,) = found["channels"][0]["remarks"]
    assert list(remark) == ["kind", "text", "cause", "next", "facts"]
    assert remark["facts"] == {
        "networks": ["one", "two"],
        "best": {"network": "one", "explained": 2, "ids": 5},
    }
    assert found["channels"][0]["recorder"]["is_batched"] is False


def test_data_ids_that_show_nothing_are_told(tmp_path):
    plan = SurveyPlan(data_ids={FrameId(0x300, False): (1,)})
    found = survey_of(tmp_path, small(), plan)
    assert "! no frame of 0x300, for which a data id is given" in survey_text(found, width=80, colour=False)
    plain = survey_json(found)
    assert plain["warnings"][-1] == "no frame of 0x300, for which a data id is given"
    assert plain["data_id_problems"] == [{"kind": "absent", "frame_id": "0x300", "frames": 0, "share": 0.0}]


def test_a_message_sent_at_changes_is_called_that(tmp_path):
    lines = repeats(*CHANGES, held=50)
    text = text_of_lines(tmp_path, lines, verbose=True)
    assert "1000 ms+" in text
    assert "+ sent at changes as well" in text
    assert "sent every 1000 ms and at changes, 98 % of the gaps from" in text
    (one,) = survey_json(survey_of(tmp_path, lines))["channels"][0]["messages"]
    assert (one["at_changes"], one["period_ms"]) == (True, 1000.0)
