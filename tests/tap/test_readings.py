"""Readings of a pair against what it should be.

Levels of 1.5, 3.0, 0.5 and 0.9 V, 120 Ω at each end, 0.3 m of stub at 1 Mbit/s and the laxer table are
published (transceiver data sheets that restate ISO 11898-2, a wiring manual); 60, 120 and 40 Ω are two, one
and three terminators of 120 Ω. Single-wire limits and all of ISO 11898-3 are common practice from memory.
"""

from __future__ import annotations

import pytest

from netcheck.errors import UsageError
from netcheck.files import Measured, Network
from netcheck.network import safe_stub
from netcheck.report._tap_keys import expected_text, measured_text
from netcheck.report._tap_readings import assessment_words
from netcheck.tap import State, parse_measured
from netcheck.tap._readings import readings
from netcheck.tap._stub import lax_length

R, W, U, N = State.RIGHT, State.WRONG, State.UNKNOWN, State.NOTE


def network(bitrate: int = 500_000, **more) -> Network:
    return Network(bitrate=bitrate, dbc="x.dbc", **more)


def states_of(text: str, wires: Network | None = None) -> dict[str, State]:
    found = readings(parse_measured([text]), wires or network())
    return {entry.key: entry.assessment.state for entry in found if entry.assessment is not None}


def texts(text: str, wires: Network | None = None) -> str:
    found = readings(parse_measured([text]), wires or network())
    words = [assessment_words(entry.assessment) for entry in found if entry.assessment is not None]
    return " ".join(f"{one.found} {one.cause}" for one in words)


@pytest.mark.parametrize(
    ("ohms", "state", "says"),
    [
        ("60.4", R, "two terminators"),
        ("50", R, "two terminators"),
        ("65", R, "two terminators"),
        ("120", W, "one of the two terminators is missing"),
        ("40", W, "third terminator"),
        ("0.3", W, "shorted"),
        ("20", W, "below 50"),
        ("48", U, "below 50"),
        ("70", U, "neither one"),
        ("90", W, "neither one"),
        ("400", W, "neither one"),
        ("5000", W, "no terminator"),
        ("open", W, "no terminator"),
        ("OL", W, "no terminator"),
    ],
)
def test_termination(ohms, state, says):
    assert states_of(f"termination={ohms}") == {"termination": state}
    assert says in texts(f"termination={ohms}")


def test_120_ohms_at_each_end_in_parallel_are_60():
    for count, state in ((1, W), (2, R), (3, W)):
        assert states_of(f"termination={120 / count}") == {"termination": state}


@pytest.mark.parametrize(
    ("text", "states"),
    [
        ("high-idle=2.51 low-idle=2.49", {"high-idle": R, "low-idle": R, "difference-idle": R}),
        ("high-idle=2.3 low-idle=2.3", {"high-idle": R, "low-idle": R, "difference-idle": R}),
        ("high-idle=2.75 low-idle=2.25", {"high-idle": R, "low-idle": R, "difference-idle": U}),
        ("high-idle=0.02 low-idle=0.03", {"high-idle": U, "low-idle": U}),
        ("high-idle=0.1 low-idle=5.0", {"high-idle": W, "low-idle": W}),
        ("high-idle=12.4", {"high-idle": W}),
        ("low-idle=0", {"low-idle": W}),
        ("low-idle=1.9", {"low-idle": W}),
        ("difference-idle=0.3", {"difference-idle": U}),
        ("difference-idle=0.49", {"difference-idle": U}),
        ("difference-idle=0.7", {"difference-idle": U}),
        ("difference-idle=0.9", {"difference-idle": U}),
        ("difference-idle=0.91", {"difference-idle": W}),
        ("difference-idle=-0.6", {"difference-idle": W}),
    ],
)
def test_quiet_wires(text, states):
    assert states_of(text) == states


def test_what_the_standard_leaves_open_is_said_so():
    assert "undefined" in texts("difference-idle=0.7")
    assert "undefined" in texts("difference-dominant=0.7")
    assert "ISO 11898-3" in texts("high-idle=0.1 low-idle=5.0")
    assert "asleep" in texts("high-idle=0.02 low-idle=0.03")


@pytest.mark.parametrize(
    ("text", "states"),
    [
        ("high-busy=2.68 low-busy=2.33", {"high-busy": R, "low-busy": R}),
        ("high-busy=2.33 low-busy=2.58", {"high-busy": W, "low-busy": W}),  # swapped
        ("high-busy=2.4 low-busy=1.6", {"high-busy": U, "low-busy": U}),
        ("high-busy=4.1", {"high-busy": W}),
        ("high-dominant=3.5 low-dominant=1.5", dict.fromkeys(
            ("high-dominant", "low-dominant", "difference-dominant"), R)),
        ("difference-dominant=1.5", {"difference-dominant": R}),
        ("difference-dominant=3.0", {"difference-dominant": R}),
        ("difference-dominant=3.1", {"difference-dominant": W}),
        ("difference-dominant=1.4", {"difference-dominant": U}),
        ("difference-dominant=0.7", {"difference-dominant": U}),
        ("difference-dominant=0.4", {"difference-dominant": W}),
        ("high-dominant=2.6", {"high-dominant": W}),
        ("high-shorted=no low-shorted=ground", {"high-shorted": R, "low-shorted": W}),
        ("high-shorted=supply", {"high-shorted": W}),
    ],
)  # fmt: skip
def test_wires_under_traffic_and_shorts(text, states):
    assert states_of(text) == states


@pytest.mark.parametrize(
    ("text", "states"),
    [
        ("termination=120", {"termination": N}),
        ("termination=open", {"termination": N}),
        ("termination=1", {"termination": W}),
        ("high-idle=0.1 low-idle=4.9", {"high-idle": R, "low-idle": R, "difference-idle": R}),
        ("high-idle=0.1 low-idle=12.3", {"high-idle": U, "low-idle": U}),
        ("low-idle=12.3", {"low-idle": U}),
        ("high-idle=2.5 low-idle=2.5", {"high-idle": W, "low-idle": W}),
        ("low-idle=0.2", {"low-idle": W}),
        ("difference-idle=-5", {"difference-idle": R}),
        (
            "high-dominant=4 low-dominant=1",
            {"high-dominant": R, "low-dominant": R, "difference-dominant": R},
        ),
        ("high-dominant=2", {"high-dominant": W}),
        ("high-busy=1", {"high-busy": N}),
        ("stub=3", {"stub": N}),
        ("high-shorted=ground", {"high-shorted": W}),
    ],
)
def test_a_fault_tolerant_pair_has_its_own_rules(text, states):
    assert states_of(text, network(125_000, physical="fault-tolerant")) == states


@pytest.mark.parametrize(
    ("bitrate", "metres", "state"),
    [
        (1_000_000, 0.3, R),
        (1_000_000, 0.31, U),
        (1_000_000, 1.5, U),
        (1_000_000, 1.6, W),
        (500_000, 0.6, R),
        (500_000, 5.5, U),
        (500_000, 5.6, W),
        (125_000, 2.4, R),
        (83_333, 22, U),  # the stricter of its neighbours in the table
        (83_333, 22.1, W),
    ],
)
def test_stub_length(bitrate, metres, state):
    assert states_of(f"stub={metres}", network(bitrate)) == {"stub": state}


def test_the_faster_phase_of_can_fd_counts_for_the_stub():
    wires = network(500_000, fd_bitrate=2_000_000)
    assert safe_stub(2_000_000) == pytest.approx(0.15)
    assert lax_length(2_000_000) is None
    assert states_of("stub=0.15", wires) == {"stub": R}
    assert states_of("stub=2", wires) == {"stub": U}
    assert "guidance" in texts("stub=2", wires)


def test_what_was_not_measured_is_asked_for_with_the_battery_off_first():
    found = readings(None, network())
    assert [entry.key for entry in found][:3] == ["termination", "high-shorted", "low-shorted"]
    assert all(
        entry.assessment is None and expected_text(entry, "high-speed") and entry.measured is None
        for entry in found
    )


def test_a_difference_is_worked_out_where_both_wires_were_measured():
    found = {entry.key: entry for entry in readings(Measured(high_idle=2.51, low_idle=2.49), network())}
    assert measured_text(found["difference-idle"]) == "0.02 V"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("terminaton=60", "unknown reading 'terminaton' – one of termination"),
        ("termination", "'termination' must be KEY=VALUE"),
        ("termination=", "'termination=' must be KEY=VALUE"),
        ("termination=sixty", "termination=sixty is not a number"),
        ("termination=-1", "termination=-1.0 is not possible"),
        ("high-idle=nan", "high-idle=nan is not possible"),
        ("high-shorted=earth", "high-shorted=earth is not possible – no, ground or supply"),
        ("stub=1 stub=2", "'stub' is given twice"),
        ("network=comfort", "unknown reading 'network'"),
    ],
)
def test_readings_that_are_none(text, says):
    with pytest.raises(UsageError) as caught:
        parse_measured([text])
    assert says in str(caught.value)


def test_commas_units_and_several_options_are_taken():
    both = parse_measured(["termination=60.4,high-idle=2.5V", "stub=0.8m"])
    assert both == Measured(termination=60.4, high_idle=2.5, stub=0.8)
