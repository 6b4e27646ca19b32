"""A look at one pair of wires as text, whole, and as JSON."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest

from netcheck.network import FewFrames, NetworkFit, RemarkKind
from netcheck.report.onsite import tap_json, tap_text
from netcheck.tap import (
    Absence,
    Assessment,
    FindingKind,
    FindingReason,
    Listened,
    LiveValues,
    MeterReading,
    NetworkFinding,
    ReadingKey,
    ReadingReason,
    RoleFound,
    RoleReason,
    SignalValue,
    State,
    SurveyFinding,
    TapCaution,
    TapCheck,
)

R, W, U, N = State.RIGHT, State.WRONG, State.UNKNOWN, State.NOTE

COMFORT = NetworkFit("comfort", 43, 52)
FEW = FewFrames(RemarkKind.NEARLY_SILENT, 3, 0, 61.5, is_short=False)
LEVER = LiveValues(100_000_000, *[SignalValue(0, 0.0, "P", "")] * 2)
CHECK = TapCheck(
    job="puffin",
    vehicle="Skerry 240",
    model_year=2020,
    item="sensors",
    title="Sensors",
    network="comfort",
    place="behind the glovebox, pins 4 (high) and 14 (low)",
    physical="high-speed",
    bitrate=125_000,
    fd_bitrate=None,
    verdict=W,
    listened=Listened("logs/pair.log", "can0", 1234, 0, 61.5),
    findings=(
        NetworkFinding(
            FindingKind.NETWORK, R, FindingReason.RIGHT_NETWORK, "comfort", "comfort", (COMFORT,), 52
        ),
        SurveyFinding(FindingKind.NEARLY_SILENT, N, FindingReason.NEARLY_SILENT, FEW),
    ),
    roles=(
        RoleFound("reverse-engaged", R, False, "Gear", "Lever", RoleReason.SEEN, LEVER),
        RoleFound("illumination", N, True, "Light", "Lamp", RoleReason.MESSAGE_ABSENT, Absence(61.0)),
    ),
    readings=(
        MeterReading(ReadingKey.TERMINATION, (50, 65), 120.0, Assessment(W, ReadingReason.ONE_TERMINATOR)),
        MeterReading(ReadingKey.HIGH_IDLE, (2.0, 3.0)),
    ),
    cautions=(TapCaution.LOCAL_RULES,),
    warnings=("Something",),
)

TEXT = """\
Skerry 240, model year 2020 – puffin: sensors

X SOMETHING IS WRONG – this pair is comfort, but termination: about 120 Ω: one
  of the two terminators is missing.
  1. Plug in every module and measure again. Then measure at the other end of
     the network.

── On the wires: pair.log, can0, 1,234 frames in 62 s ──────────────────────────
  Where                   comfort: behind the glovebox, pins 4 (high) and 14
                          (low).
  + network               right: this is comfort: 43 of 52 ids match the DBC of
                          comfort
  - traffic               note: only 3 frames in 62 s: the network is asleep
                          → Switch the ignition on and open a door. If nothing
                            changes, try another pair.

── What sensors needs, on this pair ────────────────────────────────────────────
  + reverse-engaged       here: Gear every 100 ms, reads P (0)
  - illumination          note (optional): Light did not come in 61 s awake
                          → Switch the ignition on, operate the function, and
                            listen for a minute.
  Note: Something.

── Before you measure ──────────────────────────────────────────────────────────
  [!] Local rules come first. Leave work that needs a licence to those who hold
      one.

── Multimeter on this pair (ISO 11898-2, high speed) ───────────────────────────
  X termination           120 Ω: wrong, about 120 Ω: one of the two terminators
                          is missing (should be: about 60 Ω, 50 to 65)
                          Likely: A module with a terminator is unplugged or
                          removed, or a wire to it is broken.
                          → Plug in every module and measure again. Then measure
                            at the other end of the network.
  Still to measure (give it with --measured key=value):
    high-idle             Only if the awake pair is silent, rare in a vehicle:
                          DC volts from high to ground. Should be: about 2.5 V,
                          2 to 3.
"""


def test_the_whole_text():
    assert tap_text(CHECK) == TEXT


def test_colour_changes_no_character():
    coloured = tap_text(CHECK, colour=True)
    assert coloured != TEXT
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == TEXT


@pytest.mark.parametrize("width", [40, 60, 120])
def test_no_line_is_wider_than_asked(width):
    assert max(map(len, tap_text(CHECK, width=width).splitlines())) <= width


def test_on_a_wrong_pair_only_the_way_to_the_right_one_is_asked_for():
    fits = NetworkFit("comfort", 0, 20), NetworkFit("drive", 20, 20)
    other = FindingReason.OTHER_NETWORK
    wrong = NetworkFinding(FindingKind.NETWORK, W, other, "comfort", "drive", fits, 20, "pins 4 and 14")
    text = tap_text(replace(CHECK, findings=(wrong,), roles=()), width=200)
    headline = (
        "X WRONG PAIR – this is drive, not comfort: 0 of 20 ids match the DBC of comfort, 20 that of drive."
    )
    assert f"{headline}\n  1. Go to the pair of comfort (pins 4 and 14).\n\n" in text


def test_on_a_wrong_pair_no_table_of_the_network_that_it_is_not():
    fits = NetworkFit("comfort", 0, 20), NetworkFit("drive", 20, 20)
    other = FindingReason.OTHER_NETWORK
    wrong = NetworkFinding(FindingKind.NETWORK, W, other, "comfort", "drive", fits, 20, "pins 4 and 14")
    assert "needs, on this pair" in tap_text(CHECK)
    assert "Still to measure" in tap_text(CHECK)
    text = tap_text(replace(CHECK, findings=(wrong,)))
    assert "WRONG PAIR" in text
    assert "needs, on this pair" not in text
    assert "Still to measure" not in text
    assert "Before you measure" in text


def test_on_a_terminal_that_is_too_low_the_answer_stands_last_too():
    lines = tap_text(CHECK).splitlines()
    assert tap_text(CHECK, height=len(lines) + 1) == tap_text(CHECK)
    low = tap_text(CHECK, height=len(lines)).splitlines()
    assert low[: len(lines)] == lines
    assert low[len(lines)] == ""
    assert low[len(lines) + 1 :] == lines[2 : 2 + len(low) - len(lines) - 1]
    assert "WRONG" in low[len(lines) + 1]


def test_what_cannot_be_told_is_said_so():
    unknown = NetworkFinding(FindingKind.SILENCE, U, FindingReason.SILENT, "comfort")
    text = tap_text(replace(CHECK, verdict=U, findings=(unknown,), roles=(), readings=(), listened=None))
    assert "? CANNOT TELL YET – not one frame was received.\n  1. Switch the ignition on" in text


def test_after_a_pair_that_is_right_comes_what_is_still_to_measure_and_then_the_recording():
    roles, readings = CHECK.roles[:1], CHECK.readings[1:]
    right = replace(CHECK, verdict=R, roles=roles, readings=readings)
    text = tap_text(right, then="Record.")
    headline = "+ RIGHT – this pair is comfort, and all that sensors needs is on it.\n"
    assert headline + "  1. Take the readings that are still missing, see below.\n  2. Record.\n\n" in text
    assert headline + "  1. Record.\n\n" in tap_text(replace(right, readings=()), then="Record.")
    assert "Record." not in tap_text(CHECK, then="Record.")


def test_json_is_plain_and_keeps_the_order():
    found = json.loads(json.dumps(tap_json(CHECK)))
    assert found["schema"] == "netcheck.tap/1"
    assert (found["verdict"], found["network"], found["bitrate"]) == ("wrong", "comfort", 125_000)
    assert found["listened"]["seconds"] == 61.5
    assert [entry["key"] for entry in found["readings"]] == ["termination", "high-idle"]
    assert (found["readings"][1]["measured"], found["readings"][1]["state"]) == (None, None)
    assert [entry["role"] for entry in found["roles"]] == ["reverse-engaged", "illumination"]


def test_json_has_the_facts_beside_the_text():
    found = json.loads(json.dumps(tap_json(CHECK)))
    network, few = found["findings"]
    assert (network["kind"], network["reason"]) == ("network", "right-network")
    assert network["facts"]["fits"] == [{"network": "comfort", "explained": 43, "ids": 52}]
    assert (few["kind"], few["facts"]["remark"]["kind"], few["facts"]["remark"]["frames"]) == (
        "nearly-silent", "nearly-silent", 3,
    )  # fmt: skip
    lever, light = found["roles"]
    assert (lever["reason"], lever["facts"]["period_ns"]) == ("seen", 100_000_000)
    assert lever["facts"]["low"] == {"raw": 0, "value": 0.0, "label": "P", "unit": ""}
    assert (light["reason"], light["facts"]) == (
        "message-absent",
        {"seconds": 61.0, "may_be_unused": False},
    )
    ohms, idle = found["readings"]
    assert (ohms["measured"], ohms["value"], ohms["unit"], ohms["limits"]) == ("120 Ω", 120.0, "Ω", [50, 65])
    assert (ohms["reason"], ohms["facts"]) == ("one-terminator", {})
    assert (idle["measured"], idle["value"], idle["reason"]) == (None, None, None)
    assert found["caution_kinds"] == ["local-rules"]


def test_readings_of_another_network_are_told():
    text = tap_text(replace(CHECK, unused_readings=True, readings_network="drive"))
    assert "Note: the job file's readings are of drive and are not used." in text
    assert tap_json(replace(CHECK, unused_readings=True))["warnings"][1].endswith(
        "of an item with a network and are not used"
    )


def test_an_interface_names_its_channel_itself():
    live = replace(CHECK, listened=Listened("virtual can7", "can7", 5, 0, 1.0, is_live=True))
    assert "── On the wires: virtual can7, 5 frames in 1.0 s ──" in tap_text(live)
