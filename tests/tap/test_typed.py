"""Readings as they are typed on a phone or at a bench: taken rightly, or refused in one line."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.errors import UsageError
from netcheck.files import Measured, Network
from netcheck.tap import OtherVolts, ReadingReason, State, parse_measured
from netcheck.tap._high_speed import DIFFERENCE_QUIET, DRIVEN, HIGH_DOMINANT, LOAD, LOW_DOMINANT, QUIET
from netcheck.tap._model import worst
from netcheck.tap._readings import readings

NETWORK = Network(bitrate=500_000, dbc="x.dbc")
TOLERANT = Network(bitrate=125_000, dbc="x.dbc", physical="fault-tolerant")


@pytest.mark.parametrize(
    ("text", "key", "value"),
    [
        ("termination=60,4", "termination", 60.4),
        ("termination=60.4 Ω", "termination", 60.4),
        ("termination=60.4\N{OHM SIGN}", "termination", 60.4),
        ("termination=60.4ohms", "termination", 60.4),
        ("termination=0,0604kΩ", "termination", 60.4),
        ("termination=60.4k", "termination", 60_400),
        ("termination=60mΩ", "termination", 0.06),
        ("termination=1.2MΩ", "termination", 1_200_000),
        ("termination=O.L", "termination", "open"),
        ("high-idle=2510mV", "high_idle", 2.51),
        ("high-idle=2.5mV", "high_idle", 0.0025),
        ("high-idle=2.5 v", "high_idle", 2.5),
        ("difference-idle=\N{MINUS SIGN}0,02", "difference_idle", -0.02),
        ("stub=80cm", "stub", 0.8),
        ("stub=0,8 m", "stub", 0.8),
        ("stub=800mm", "stub", 0.8),
        ("high-shorted=No", "high_shorted", "no"),
    ],
)
def test_units_and_decimal_commas(text: str, key: str, value: object) -> None:
    assert parse_measured([text]) == Measured.model_validate({key.replace("_", "-"): value})


def test_a_comma_between_readings_is_not_one_in_a_number() -> None:
    assert parse_measured(["high-idle=2,51,low-idle=2,49; stub=0,8 m termination=60 Ω,"]) == Measured(
        high_idle=2.51, low_idle=2.49, stub=0.8, termination=60
    )


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("high-idle=2.5m", "has an unknown unit – one of V, mV, or none"),
        ("high-idle=2.5Ω", "has an unknown unit"),
        ("high-idle=60k", "has an unknown unit"),
        ("termination=60m", "has an unknown unit"),
        ("termination=60V", "has an unknown unit"),
        ("stub=0.8V", "has an unknown unit – one of m, cm, mm, or none"),
        ("termination=1,000", "can be read in two ways – 1.000 or 1000"),
        ("termination=60.4.1", "is not a number – such as termination=60.4"),
        ("termination=6_0", "is not a number"),
        ("termination=٦٠", "is not a number"),
        ("termination=1e999", "is not a number"),
        ("termination=inf", "is not possible"),
        ("termination=-60", "is not possible"),
        ("high-idle=open", "is not a number"),
        ("termination=60 open", "has an unknown unit"),
        ("", "must be KEY=VALUE"),
        (" ,", "must be KEY=VALUE"),
    ],
)
def test_what_is_refused(text: str, says: str) -> None:
    with pytest.raises(UsageError) as caught:
        parse_measured([text])
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


@given(st.text(max_size=30), st.sampled_from(["termination", "high-idle", "stub", "low-shorted", "x"]))
def test_any_text_is_taken_or_refused(text: str, key: str) -> None:
    with suppress(UsageError):
        assert isinstance(parse_measured([f"{key}={text}"]), Measured)


VOLTS = st.one_of(st.none(), st.sampled_from([0.0, 1.5, 2.3, 2.5, 3.5, 5.0, 12.4]), st.floats(-1, 14))
WIRES = [f"{name}-{when}" for when in ("idle", "busy", "dominant") for name in ("high", "low")]
DIFFERENCES = ("difference-idle", "difference-dominant")


@given(
    st.fixed_dictionaries(
        {
            "termination": st.one_of(st.none(), st.just("open"), st.floats(0, 1e5), st.floats(30, 130)),
            "high-shorted": st.sampled_from([None, "no", "ground", "supply"]),
            "low-shorted": st.sampled_from([None, "no", "ground", "supply"]),
            "stub": st.one_of(st.none(), st.floats(0, 50)),
            **dict.fromkeys((*WIRES, *DIFFERENCES), VOLTS),
        }
    )
)
def test_readings_are_right_inside_the_bands_only_and_none_is_left_out(values: dict[str, object]) -> None:
    measured = Measured.model_validate(values)
    found = {entry.key: entry for entry in readings(measured, NETWORK) if entry.assessment is not None}
    assert {key for key, value in values.items() if value is not None} <= set(found)
    right = {
        key for key, entry in found.items() if entry.assessment and entry.assessment.state is State.RIGHT
    }
    whole = worst(entry.assessment.state for entry in found.values() if entry.assessment)
    bands = {
        "termination": LOAD,
        "high-idle": QUIET,
        "low-idle": QUIET,
        "difference-idle": DIFFERENCE_QUIET,
        "high-dominant": HIGH_DOMINANT,
        "low-dominant": LOW_DOMINANT,
        "difference-dominant": DRIVEN,
        "stub": (0, 0.6),
    }
    for key, (low, high) in bands.items():
        value = values[key]
        if value is not None and not (isinstance(value, float) and low <= value <= high):
            assert key not in right
            assert whole is not State.RIGHT
    if "ground" in values.values() or "supply" in values.values():
        assert whole is State.WRONG
    for when, (low, high) in (("idle", DIFFERENCE_QUIET), ("dominant", DRIVEN)):
        one, other = values[f"high-{when}"], values[f"low-{when}"]
        if isinstance(one, float) and isinstance(other, float):
            assert whole is not State.RIGHT or low - 0.2001 <= one - other <= high + 0.2001


@given(VOLTS, VOLTS, VOLTS, st.one_of(st.none(), st.floats(0, 4.9)))
def test_a_short_on_a_fault_tolerant_pair_is_never_right(
    high: float | None, low: float | None, difference: float | None, ohms: float | None
) -> None:
    measured = Measured(high_idle=high, low_idle=low, difference_idle=difference, termination=ohms)
    found = readings(measured, TOLERANT)
    taken = [value for value in (high, low, difference, ohms) if value is not None]
    assert len([entry for entry in found if entry.assessment is not None]) >= len(taken)
    if ohms is not None:
        assert worst(entry.assessment.state for entry in found if entry.assessment) is State.WRONG


def test_a_difference_that_is_not_that_of_the_wires_is_no_proof() -> None:
    found = {
        entry.key: entry.assessment
        for entry in readings(Measured(high_idle=2.9, low_idle=2.1, difference_idle=0.0), NETWORK)
    }
    expected = OtherVolts(State.UNKNOWN, ReadingReason.DIFFERS_FROM_WIRES, 0.8)
    assert found["difference-idle"] == expected
