"""A look at one pair of wires as text, whole, and as JSON."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest

from netcheck.report.onsite import tap_json, tap_text
from netcheck.tap import Finding, Judged, Listened, MeterReading, RoleFound, State, TapCheck

R, W, U, N = State.RIGHT, State.WRONG, State.UNKNOWN, State.NOTE

ONE_MISSING = Judged(W, "one is missing", "A plug.", "Plug in.")
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
        Finding("network", R, "this is comfort: 43 of 52 ids fit the DBC of comfort"),
        Finding("nearly-silent", N, "only 3 frames", next="Ignition on."),
    ),
    roles=(
        RoleFound("reverse-engaged", R, False, "Gear", "Lever", "Gear every 100 ms, reads P (0)"),
        RoleFound("illumination", N, True, "Light", "Lamp", "Light did not come", "Switch the lamps on."),
    ),
    readings=(
        MeterReading("termination", "Ohms.", "about 60 Ω", "120 Ω", ONE_MISSING),
        MeterReading("high-idle", "Volts.", "about 2.5 V"),
    ),
    cautions=("Never measure at an airbag plug.",),
    warnings=("Something",),
)  # fmt: skip

TEXT = """\
Skerry 240, model year 2020 – puffin: sensors

X SOMETHING IS WRONG – this pair is comfort, but termination: one is missing.
  1. Plug in.

── On the wires: pair.log, can0, 1,234 frames in 62 s ──────────────────────────
  Where                   comfort: behind the glovebox, pins 4 (high) and 14
                          (low).
  + network               right: this is comfort: 43 of 52 ids fit the DBC of
                          comfort
  - traffic               note: only 3 frames
                          → Ignition on.

── What sensors needs, on this pair ────────────────────────────────────────────
  + reverse-engaged       here: Gear every 100 ms, reads P (0)
  - illumination          note (optional): Light did not come
                          → Switch the lamps on.
  Note: Something.

── Before you measure ──────────────────────────────────────────────────────────
  [!] Never measure at an airbag plug.

── Multimeter on this pair (ISO 11898-2, high speed) ───────────────────────────
  X termination           120 Ω: wrong, one is missing (should be: about 60 Ω)
                          Likely: A plug.
                          → Plug in.
  Still to measure (give it with --measured key=value):
    high-idle             Volts. Should be: about 2.5 V.
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
    wrong = Finding("network", W, "this is drive, not comfort", next="Go to comfort.")
    text = tap_text(replace(CHECK, findings=(wrong,), roles=()))
    assert "X WRONG PAIR – this is drive, not comfort.\n  1. Go to comfort.\n\n" in text


def test_what_cannot_be_told_is_said_so():
    unknown = Finding("silence", U, "not one frame was heard", next="Ignition on.")
    text = tap_text(replace(CHECK, verdict=U, findings=(unknown,), roles=(), readings=(), listened=None))
    assert "? CANNOT TELL YET – not one frame was heard.\n  1. Ignition on.\n" in text


def test_after_a_pair_that_is_right_comes_what_is_still_to_measure_and_then_the_recording():
    roles, readings = CHECK.roles[:1], CHECK.readings[1:]
    right = replace(CHECK, verdict=R, roles=roles, readings=readings)
    text = tap_text(right, then="Record.")
    headline = "+ RIGHT – this pair is comfort, and all that sensors needs is on it.\n"
    assert headline + "  1. Measure what is still to measure, see below.\n  2. Record.\n\n" in text
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
