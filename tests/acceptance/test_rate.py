"""Does the message come often enough while its network is awake?"""

from __future__ import annotations

import pytest

from netcheck.report import seen_text
from tests.acceptance.cases import LAMPS, LEVER, MENU, SHOWN, Case, during, every, lever_case, missing

GEARS = during(2.0, 3.0, "01000000", "00000000")
SLOW = missing("too-slow")


def paced(folder, max_gap_ms):
    return lever_case(folder, max_gap_ms=max_gap_ms)


@pytest.mark.parametrize(("max_gap_ms", "outcome"), [(100, SHOWN), (90.91, SHOWN), (90.9, SLOW), (90, SLOW)])
def test_a_gap_a_tenth_longer_than_allowed_is_allowed(tmp_path, max_gap_ms, outcome):
    case = paced(tmp_path, max_gap_ms)
    case.log().send(LEVER, every(0.1), GEARS)
    assert case.outcome() == outcome


def test_a_message_that_is_too_slow_is_only_defined(tmp_path):
    case = paced(tmp_path, 90)
    case.log().send(LEVER, every(0.1), GEARS)
    assert case.need().evidence == "defined"


def test_without_a_longest_gap_no_rate_is_too_slow(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, [2.5, 9.0], GEARS)
    assert case.outcome() == SHOWN


@pytest.mark.parametrize(("long_gaps", "outcome"), [(1, SHOWN), (2, SLOW)])
def test_of_a_hundred_gaps_one_may_be_longer(tmp_path, long_gaps, outcome):
    # 100 frames after the first, 50 ms late once or twice: nearest rank takes the 99th of 100 gaps
    case = paced(tmp_path, 100)
    times = [round(t + 0.05 * sum(t >= late for late in (3.0, 6.0)[:long_gaps]), 6) for t in every(0.1)]
    log = case.log(None).send(LEVER, times, GEARS)
    for lamp in LAMPS:
        log.send(lamp, times, "00")
    assert case.outcome() == outcome


@pytest.mark.parametrize(("long_gaps", "outcome"), [(2, SHOWN), (3, SLOW)])
def test_of_two_hundred_gaps_two_may_be_longer(tmp_path, long_gaps, outcome):
    case = paced(tmp_path, 50)
    late = (2.0, 4.0, 6.0)[:long_gaps]
    times = [round(t + 0.01 * sum(t >= moment for moment in late), 6) for t in every(0.05)]
    log = case.log(None).send(LEVER, times, GEARS)
    for lamp in LAMPS:
        log.send(lamp, times, "00")
    assert case.outcome() == outcome


@pytest.mark.parametrize(("away", "told"), [(0.0, ""), (4.0, " (1 of 123 gaps over 50 ms, up to 4.0 s)")])
def test_a_gap_that_is_too_seldom_to_count_is_told(tmp_path, away, told):
    case = paced(tmp_path, 50)
    log = case.log().send(LEVER, [t for t in every(0.05) if not 4.0 < t < 4.0 + away], GEARS)
    for lamp in LAMPS:
        log.send(lamp, every(0.05), "00")
    need = case.need()
    assert (str(need.status), str(need.reason)) == SHOWN
    assert seen_text(need) == f"every 50 ms{told}, 10 s on can0"


@pytest.mark.parametrize(("start", "outcome"), [(0.2, SHOWN), (0.3, SLOW), (5.0, SLOW)])
def test_the_time_to_the_first_frame_is_a_gap(tmp_path, start, outcome):
    # few frames, so that one long gap is more than one in a hundred
    case = paced(tmp_path, 200)
    case.log().send(LEVER, every(0.2, start=start), during(7.0, 8.5, "01000000", "00000000"))
    assert case.outcome() == outcome


@pytest.mark.parametrize(("end", "outcome"), [(9.8, SHOWN), (9.7, SLOW), (5.0, SLOW)])
def test_the_time_from_the_last_frame_is_a_gap(tmp_path, end, outcome):
    case = paced(tmp_path, 200)
    times = [round(10 - t, 6) for t in every(0.2, start=round(10 - end, 6))]
    case.log().send(LEVER, times, GEARS)
    assert case.outcome() == outcome


def test_an_awake_period_without_the_message_is_a_gap(tmp_path):
    case = paced(tmp_path, 200)
    log = case.log().without(4.0, 8.0).send(LEVER, every(0.1, end=4.0), GEARS)
    assert case.outcome() == SLOW
    log.send(LEVER, every(0.1, start=8.0), GEARS)
    assert case.outcome() == SHOWN


@pytest.mark.parametrize(("wake", "outcome"), [(5.0, SLOW), (5.000001, SHOWN), (8.0, SHOWN)])
def test_a_silence_of_one_second_is_awake_and_a_longer_one_is_sleep(tmp_path, wake, outcome):
    case = paced(tmp_path, 200)
    log = case.log(None)
    times = [*every(0.1, end=4.0), *every(0.1, start=wake, end=wake + 3)]
    for lamp in LAMPS:
        log.send(lamp, times, "00")
    log.send(LEVER, times, GEARS)
    assert case.outcome() == outcome


@pytest.mark.parametrize(
    ("pause", "lamps", "outcome"),
    [
        (1.999, 0.8, SLOW),
        (2.0, 0.8, SLOW),
        (2.000001, 0.8, SHOWN),
        (1.999, 0.4, SHOWN),  # one faster message: a silence of a second is sleep
        (1.0, 0.4, SLOW),
    ],
)
def test_where_every_message_is_slow_sleep_is_two_and_a_half_times_the_shortest_gap(
    tmp_path, pause, lamps, outcome
):
    case = paced(tmp_path, 800)
    log = case.log(None)
    wake = round(4.0 + pause, 6)
    for lamp, period in zip(LAMPS, (lamps, 0.8, 1.6), strict=True):
        log.send(lamp, [*every(period, end=4.0), *every(period, start=wake, end=wake + 4)], "00")
    log.send(LEVER, [*every(0.8, end=4.0), *every(0.8, start=wake, end=wake + 4)], GEARS)
    assert case.outcome() == outcome


def test_any_other_id_keeps_the_network_awake(tmp_path):
    case = paced(tmp_path, 200)
    log = case.log().without(4.0, 6.0).send(LEVER, every(0.1, end=4.0), GEARS)
    log.send(LEVER, every(0.1, start=6.0), GEARS)
    assert case.outcome() == SHOWN
    log.send(0x7E0, [4.5, 5.2], "00")  # an id that no DBC knows
    assert case.outcome() == SLOW


@pytest.mark.parametrize("later", [60, -60], ids=["a minute later", "a minute earlier"])
def test_the_time_from_one_capture_to_the_next_is_no_gap(tmp_path, later):
    case = paced(tmp_path, 100)
    for epoch in (1_700_000_000, 1_700_000_000 + later):
        log = case.log().send(LEVER, every(0.1), GEARS)
        log.epoch = epoch
    assert case.outcome() == SHOWN


def test_rates_count_over_all_captures(tmp_path):
    # two of the first capture's 100 gaps are long; of 200 in both captures two are allowed
    case = paced(tmp_path, 100)
    times = [round(t + 0.05 * ((t >= 3.0) + (t >= 6.0)), 6) for t in every(0.1)]
    log = case.log(None).send(LEVER, times, GEARS)
    for lamp in LAMPS:
        log.send(lamp, times, "00")
    assert case.outcome() == SLOW
    case.log().send(LEVER, every(0.1), GEARS)
    assert case.outcome() == SHOWN


def test_frames_without_a_value_count_for_the_rate(tmp_path):
    case = paced(tmp_path, 100)
    case.log().send(LEVER, every(0.1), ["01000000", "0F000000", "00000000", "0F000000"] * 25 + ["00000000"])
    assert case.outcome() == SHOWN


@pytest.mark.parametrize(("max_gap_ms", "outcome"), [(200, SHOWN), (150, SLOW)])
def test_frames_of_another_page_do_not(tmp_path, max_gap_ms, outcome):
    case = Case(tmp_path).role("volume", "body MenuStatus Volume")
    case.item().need("volume", max_gap_ms=max_gap_ms)
    pages = ["01070000", "02070000", "01080000", "02080000"] * 25
    case.log().send(MENU, every(0.1), [*pages, "01070000"])
    assert case.outcome() == outcome
