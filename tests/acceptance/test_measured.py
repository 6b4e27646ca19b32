"""What went wrong on real captures, rebuilt from own data: each comes out as the rules of verdicts say."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.acceptance.cases import (
    BRAKE,
    LAMPS,
    LEVER,
    PUMPS,
    SHOWN,
    Case,
    conflicts,
    during,
    every,
    expected,
    lever_case,
    missing,
    plain_dbc,
)

P, R = "00000000", "01000000"
GEARS = during(2.0, 5.0, R, P)
DOUBTFUL = expected("doubtful-network")


# The wrong vehicle's DBC --------------------------------------------------------------------------


def wrong_dbc(folder, known, seen, **need):
    """A DBC of ``known`` ids, all of one byte, and a capture of ``seen`` ids."""
    case = Case(folder)
    case.dbc = {"body": plain_dbc(*known), "drive": plain_dbc(*PUMPS)}
    case.role("lever", f"body M{known[0]:X} V")
    case.item().need("lever", **need)
    log = case.log(None)
    for can_id in seen:
        log.send(can_id, every(0.1, end=3.0), ["00", "01"] * 15 + ["00"])
    return case


@pytest.mark.parametrize("evidence", ["present", "moves", "answers"])
def test_an_older_dbc_that_explains_7_of_59_ids_is_no_go_and_no_missing(tmp_path, evidence):
    known = [0x100 + 5 * n for n in range(120)]
    case = wrong_dbc(tmp_path, known, [*known[:7], *(0x601 + n for n in range(52))], evidence=evidence)
    assert case.outcome() == DOUBTFUL
    assert str(case.plan().verdict) == "unproven"


def test_another_makers_traffic_makes_no_need_missing(tmp_path):
    # the role's message never came, though the DBC says every 100 ms
    known = [0x100 + 5 * n for n in range(120)]
    case = wrong_dbc(tmp_path, known, [*known[1:8], *(0x601 + n for n in range(52))])
    cycle = 'BA_DEF_ BO_ "GenMsgCycleTime" INT 0 65535;\nBA_DEF_DEF_ "GenMsgCycleTime" 100;\n'
    case.dbc["body"] += cycle
    assert case.outcome() == DOUBTFUL


@pytest.mark.parametrize("seed", range(12))
def test_a_fifth_vehicles_traffic_is_none_of_four_networks(tmp_path, seed):
    """60 ids at random beside DBCs of 100 to 300 messages at random: chance alone gives three to nine."""
    random = Random(seed)
    case = Case(tmp_path)
    case.dbc = {
        name: plain_dbc(*sorted(random.sample(range(0x700), random.choice([100, 150, 200, 300]))))
        for name in ("one", "two", "three", "four")
    }
    first = case.dbc["one"].split("BO_ ")[1].split(" ")[1].rstrip(":")
    case.role("any", f"one {first} V")
    case.item(network="one").need("any", evidence="present")
    log = case.log(None)
    for can_id in random.sample(range(0x700), 60):
        log.send(can_id, every(0.5, end=2.0), "00")
    assert case.outcome() in {expected("no-capture"), DOUBTFUL}


@pytest.mark.parametrize("seed", range(12))
def test_the_right_network_is_identified_with_a_third_missing_and_as_many_strangers(tmp_path, seed):
    random = Random(seed)
    case = Case(tmp_path)
    ids = random.sample(range(0x100, 0x700), 90)
    case.dbc = {"body": plain_dbc(*ids), "drive": plain_dbc(*random.sample(range(0x700), 90))}
    case.role("any", f"body M{ids[0]:X} V")
    case.item().need("any", evidence="present")
    strangers = random.sample(sorted(set(range(0x700)) - set(ids)), 30)
    log = case.log(None)
    for can_id in [*ids[:60], *strangers]:
        log.send(can_id, every(0.5, end=2.0), "00")
    assert case.outcome() == SHOWN


# A log without stamps -----------------------------------------------------------------------------


@pytest.mark.parametrize(("is_timed", "outcome"), [(True, missing("too-slow")), (False, expected("no-time"))])
def test_a_log_pasted_without_stamps_has_no_rate(tmp_path, is_timed, outcome):
    # with stamps: gaps of 503 ms, and the part tolerates 200
    case = lever_case(tmp_path, max_gap_ms=200)
    log = case.log().send(LEVER, every(0.503, end=9.9), GEARS)
    log.is_timed = is_timed
    assert case.outcome() == outcome
    assert str(case.plan().verdict) != "go"


def test_a_log_pasted_without_stamps_has_no_load(tmp_path):
    case = Case(tmp_path)
    case.bitrate = 1000
    case.item().supply("door.ajar", message_id=0x640, period_ms=1000, length=8)
    case.log().is_timed = False
    assert conflicts(case) == {"part": []}


# A person with a watch ----------------------------------------------------------------------------


ACTIONS = ((2.13, 4.61), (8.42, 10.97), (15.21, 18.06))


def watched(folder, borders):
    """A pedal pressed three times, and marks with these borders."""
    case = Case(folder).role("pedal", "drive BrakeStatus Pressed", active=[1])
    case.item(network="drive").need("pedal", evidence="answers", max_gap_ms=100)
    log = case.log(None)
    for can_id in PUMPS:
        log.send(can_id, every(0.1, end=22.0), "00")
    pressed = lambda t: "01" if any(start <= t <= end for start, end in ACTIONS) else "00"  # noqa: E731
    log.send(BRAKE, every(0.05, end=22.0), pressed)
    for start, end in borders:
        log.mark("pedal", start, end)
    return case


@settings(max_examples=25, deadline=None)
@given(offs=st.lists(st.floats(-0.35, 0.35), min_size=6, max_size=6))
def test_marks_that_are_off_by_up_to_a_third_of_a_second_are_answered(tmp_path_factory, offs):
    borders = [
        (round(start + offs[2 * n], 6), round(end + offs[2 * n + 1], 6))
        for n, (start, end) in enumerate(ACTIONS)
    ]
    assert watched(tmp_path_factory.mktemp("watch"), borders).outcome() == SHOWN


def test_marks_rounded_to_seconds_are_answered(tmp_path):
    assert watched(tmp_path, [(2, 5), (8, 11), (15, 18)]).outcome() == SHOWN


@pytest.mark.parametrize("off", [1.2, -1.2])
def test_marks_that_are_off_by_more_than_a_second_are_answered_in_part(tmp_path, off):
    borders = [(start + off, end + off) for start, end in ACTIONS]
    assert watched(tmp_path, borders).outcome() == expected("some-answers")


# Every second, and at changes besides -----------------------------------------------------------------


def reverse_at_changes(folder, **need):
    """Reverse repeats every second and comes at changes besides, seven times in a minute."""
    case = lever_case(folder, evidence="answers", **need)
    log = case.log(None)
    for lamp in LAMPS:
        log.send(lamp, every(0.1, end=60.0), "00")
    presses = [(8.0 * n + 3.37, 8.0 * n + 6.81) for n in range(7)]
    moments = [moment for press in presses for moment in press]
    data = lambda t: R if any(start <= t < end for start, end in presses) else P  # noqa: E731
    log.send(LEVER, sorted({*every(1.012, end=60.0), *moments}), data)
    for start, end in presses:
        log.mark("reverse", start + 0.3, end - 0.2)
    return case


def test_a_message_every_second_and_at_changes_reaches_the_part_at_once(tmp_path):
    assert reverse_at_changes(tmp_path, max_delay_ms=500).outcome() == SHOWN


def test_the_same_message_is_too_slow_for_a_time_out_of_half_a_second(tmp_path):
    assert reverse_at_changes(tmp_path, max_gap_ms=500).outcome() == missing("too-slow")


@pytest.mark.parametrize(("period", "outcome"), [(1.005, SHOWN), (1.1, SHOWN), (1.11, missing("too-slow"))])
def test_a_nominal_second_may_be_a_tenth_longer(tmp_path, period, outcome):
    case = lever_case(tmp_path, max_gap_ms=1000)
    case.log().send(LEVER, [round(period * n, 6) for n in range(10)], GEARS)
    assert case.outcome() == outcome


# A part on another network --------------------------------------------------------------------------


def test_a_part_that_replaces_a_role_from_another_network_takes_its_source(tmp_path):
    case = Case(tmp_path).role("pedal", "drive BrakeStatus Pressed", active=[1])
    case.item("taker", "drive").need("pedal")
    case.item("remover", "body").replace(role="pedal")
    case.log("drive").send(BRAKE, every(0.1), during(2.0, 5.0, "01", "00"))
    assert conflicts(case) == {"taker": ["lost-source"], "remover": []}
    assert str(case.plan().items[0].verdict) == "no-go"


# A fifth of the bit rate ------------------------------------------------------------------------------


def test_a_worst_case_beyond_a_period_is_no_conflict_at_a_fifth_of_the_bit_rate(tmp_path):
    # the lamps every 100 ms at 10 kbit/s: 6.5 ms each in the worst case, and the DBC promises one every 20 ms
    case = Case(tmp_path)
    case.bitrate = 10_000
    cycle = 'BA_DEF_ BO_ "GenMsgCycleTime" INT 0 65535;\nBA_DEF_DEF_ "GenMsgCycleTime" 0;\n'
    case.dbc["body"] += f'{cycle}BA_ "GenMsgCycleTime" BO_ {LAMPS[2]} 20;\n'
    case.item().supply("door.ajar", message_id=0x050, period_ms=1000, length=8)
    case.log()
    assert conflicts(case) == {"part": []}
    assert str(case.plan().verdict) == "go"
