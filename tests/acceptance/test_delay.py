"""How late may a change reach the part: by the period, unless a change is sent at once."""

from __future__ import annotations

import pytest

from tests.acceptance.cases import LAMPS, LEVER, SHOWN, Case, during, every, expected, lever_case, missing

P, R = "00000000", "01000000"
SLOW = missing("too-slow")
UNSURE = expected("delay-not-shown")
PRESSES = ((2.3, 2.9), (4.4, 5.2), (6.3, 7.6))  # six changes


def gears(presses=PRESSES):
    return lambda t: R if any(start <= t < end for start, end in presses) else P


def slow_lever(folder, moments, data, active=True, period=1.0, **need):
    """The lever every second for 30 s, and a frame at each of these moments besides."""
    case = Case(folder).role("reverse", "body LeverStatus Gear", **({"active": ["R"]} if active else {}))
    case.item().need("reverse", **{"max_delay_ms": 300, **need})
    log = case.log(None)
    for lamp in LAMPS:
        log.send(lamp, every(0.1, end=30.0), "00")
    log.send(LEVER, sorted({*every(period, end=30.0), *moments}), data)
    return case


def edges(presses=PRESSES):
    return [edge for press in presses for edge in press]


@pytest.mark.parametrize(("max_delay_ms", "outcome"), [(90.91, SHOWN), (90.9, SLOW)])
def test_a_delay_as_long_as_the_gaps_a_tenth_longer_is_allowed(tmp_path, max_delay_ms, outcome):
    case = lever_case(tmp_path, max_delay_ms=max_delay_ms)
    case.log().send(LEVER, every(0.1), gears())  # at whole tenths: no change comes sooner
    assert case.outcome() == outcome


def test_a_message_that_comes_at_changes_besides_is_fast_enough(tmp_path):
    case = slow_lever(tmp_path, edges(), gears())
    assert case.outcome() == SHOWN
    assert case.need().evidence == "moves"


def test_a_message_that_waits_for_its_period_is_not(tmp_path):
    assert slow_lever(tmp_path, [], gears()).outcome() == SLOW


def test_the_longest_gap_asks_for_its_period_all_the_same(tmp_path):
    assert slow_lever(tmp_path, edges(), gears(), max_gap_ms=1000).outcome() == SHOWN
    assert slow_lever(tmp_path, edges(), gears(), max_gap_ms=500).outcome() == SLOW


@pytest.mark.parametrize(("seen", "outcome"), [(3, UNSURE), (4, SHOWN)])
def test_four_changes_must_be_seen(tmp_path, seen, outcome):
    moments = edges()[:seen]
    data = lambda t: R if sum(t >= moment for moment in moments) % 2 else P  # noqa: E731
    assert slow_lever(tmp_path, moments, data).outcome() == outcome


def test_a_fast_message_shows_its_delay_without_any_change(tmp_path):
    case = lever_case(tmp_path, evidence="present", max_delay_ms=100)
    case.log().send(LEVER, every(0.1), P)
    assert case.outcome() == SHOWN


@pytest.mark.parametrize(("late", "outcome"), [(3, SHOWN), (4, SLOW)])
def test_seven_of_ten_changes_must_come_at_once(tmp_path, late, outcome):
    # ten changes, some of them only with the frame of the period that follows
    presses = [(2.0 * n + 2.3, 2.0 * n + 3.3) for n in range(5)]
    case = slow_lever(tmp_path, edges(presses)[: 10 - late], gears(presses))
    assert case.outcome() == outcome


def test_a_button_that_is_sent_only_at_changes_is_fast_enough(tmp_path):
    # nothing but changes, unevenly, and none of them sooner than usual
    moments = [round(0.5 + moment, 1) for moment in (0.0, 0.3, 2.0, 2.3, 4.0, 4.3, 6.0, 6.3, 8.0, 8.3, 9.0)]
    for active, outcome in ((True, SHOWN), (False, SLOW)):
        case = Case(tmp_path).role(
            "reverse", "body LeverStatus Gear", **({"active": ["R"]} if active else {})
        )
        case.item().need("reverse", max_delay_ms=300)
        log = case.log(None)
        for lamp in LAMPS:
            log.send(lamp, every(0.1), "00")
        log.send(LEVER, moments, [P if n % 2 else R for n in range(len(moments))])
        assert case.outcome() == outcome


def test_even_changes_are_a_period(tmp_path):
    case = lever_case(tmp_path, max_delay_ms=300)
    case.log().send(LEVER, every(0.5), [P, R] * 10 + [P])
    assert case.outcome() == SLOW


def test_a_change_to_no_value_is_none(tmp_path):
    case = lever_case(tmp_path, max_delay_ms=300)
    values = lambda t: "0F000000" if any(a <= t < b for a, b in PRESSES) else R if t > 9 else P  # noqa: E731
    case.log().send(LEVER, sorted({*every(1.0), *edges()}), values)
    assert case.outcome() == UNSURE


def test_a_change_across_a_sleep_or_from_one_capture_to_the_next_is_none(tmp_path):
    case = lever_case(tmp_path, max_delay_ms=300)
    for data in (P, R, P, R, P, R):
        case.log().send(LEVER, every(0.5), data)
    assert case.outcome() == UNSURE


@pytest.mark.parametrize(
    ("evidence", "outcome"),
    [("defined", UNSURE), ("present", UNSURE), ("moves", UNSURE), ("answers", UNSURE)],
)
def test_a_delay_is_judged_whatever_the_need_asks_for(tmp_path, evidence, outcome):
    case = lever_case(tmp_path, evidence=evidence, max_delay_ms=300)
    case.log().send(LEVER, every(0.5), during(2.0, 5.0, R, P)).mark("reverse", 2.0, 5.0)
    assert case.outcome() == outcome
