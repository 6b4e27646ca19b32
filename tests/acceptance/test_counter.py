"""Does the rolling counter of the message count?"""

from __future__ import annotations

import pytest

from tests.acceptance.cases import (
    LAMPS,
    LEVER,
    MENU,
    SHOWN,
    Case,
    every,
    expected,
    missing,
)

JUMPS = expected("counter-jumps")
FROZEN = missing("counter-frozen")


def counted(folder, counter="Turn", **need):
    """The lever's gear with a counter of four bits (``Turn10`` ends at 9)."""
    case = Case(folder).role("reverse", "body LeverStatus Gear", active=["R"], counter=counter)
    case.item().need("reverse", **need)
    return case


def lever(counts, counter="Turn"):
    """Data for each count: the gear goes to R once; the counter stands in its own half of byte 1."""
    digits = (f"{count:02X}" if counter == "Turn" else f"{count << 4:02X}" for count in counts)
    return [f"{'01' if i == 7 else '00'}{pair}0000" for i, pair in enumerate(digits)]


def counts(steps, modulo=16):
    """The counter's values for its steps, from 0 on."""
    values = [0]
    for step in steps:
        values.append((values[-1] + step) % modulo)
    return values


def judge(case, values, counter="Turn"):
    case.log().send(LEVER, every(0.1, end=round(0.1 * (len(values) - 1), 6)), lever(values, counter))
    return case.outcome()


def test_a_counter_that_counts_is_fine(tmp_path):
    assert judge(counted(tmp_path), counts([1] * 100)) == SHOWN


@pytest.mark.parametrize(("jumps", "outcome"), [(1, SHOWN), (2, JUMPS)])
@pytest.mark.parametrize("step", [2, 15, 0], ids=["lost frame", "back", "repeated"])
def test_one_step_in_a_hundred_may_be_wrong(tmp_path, jumps, step, outcome):
    steps = [1] * 100
    steps[20 : 20 + 10 * jumps : 10] = [step] * jumps
    assert judge(counted(tmp_path), counts(steps)) == outcome


@pytest.mark.parametrize(("still", "outcome"), [(50, JUMPS), (51, FROZEN), (100, FROZEN)])
def test_a_counter_is_frozen_when_it_stands_over_more_than_half_of_its_steps(tmp_path, still, outcome):
    assert judge(counted(tmp_path), counts([0] * still + [1] * (100 - still))) == outcome


def test_a_counter_goes_round_at_its_width(tmp_path):
    assert judge(counted(tmp_path), counts([1] * 40)) == SHOWN
    assert judge(counted(tmp_path), counts([1] * 40, modulo=10)) == JUMPS


def test_a_counter_goes_round_at_its_maximum_where_that_is_smaller(tmp_path):
    assert judge(counted(tmp_path, "Turn10"), counts([1] * 40, modulo=10), "Turn10") == SHOWN
    assert judge(counted(tmp_path, "Turn10"), counts([1] * 40), "Turn10") == JUMPS


def test_a_role_without_a_counter_is_not_judged_by_one(tmp_path):
    case = Case(tmp_path).role("reverse", "body LeverStatus Gear", active=["R"])
    case.item().need("reverse")
    assert judge(case, counts([0] * 100)) == SHOWN


def test_a_counter_counts_over_the_pages_of_its_message(tmp_path):
    case = Case(tmp_path).role("volume", "body MenuStatus Volume", counter="MenuTurn")
    case.item().need("volume")
    frames = [f"{1 + i % 2:02X}{i % 3:02X}{i % 16:02X}00" for i in range(101)]
    case.log().send(MENU, every(0.1), frames)
    assert case.outcome() == SHOWN


def test_a_counter_counts_over_frames_that_hold_it(tmp_path):
    case = counted(tmp_path)
    frames = lever(counts([1] * 67))
    for place in range(66, 0, -2):
        frames.insert(place, "00")  # one byte: holds the gear, but no counter
    case.log().send(LEVER, every(0.1), frames)
    assert case.outcome() == SHOWN


def test_a_counter_counts_also_while_the_signal_has_no_value(tmp_path):
    case = Case(tmp_path).role(
        "reverse", "body LeverStatus Gear", active=["R"], not_available=[15], counter="Turn"
    )
    case.item().need("reverse")
    frames = [("0F" if i % 3 else data[:2]) + data[2:] for i, data in enumerate(lever(counts([1] * 100)))]
    frames[9] = "01" + frames[9][2:]
    case.log().send(LEVER, every(0.1), frames)
    assert case.outcome() == SHOWN


@pytest.mark.parametrize(("wake", "outcome"), [(3.0, JUMPS), (3.000001, SHOWN)])
def test_a_step_across_a_silence_of_more_than_a_second_does_not_count(tmp_path, wake, outcome):
    # 40 steps, so that a single wrong one is more than one in a hundred
    case = counted(tmp_path)
    times = [*every(0.1, end=2.0), *every(0.1, start=wake, end=wake + 1.9)]
    log = case.log(None).send(LEVER, times, lever([*counts([1] * 20), *counts([1] * 19)]))
    for lamp in LAMPS:
        log.send(lamp, times, "00")
    assert case.outcome() == outcome


def test_a_step_across_a_silence_of_the_message_alone_counts(tmp_path):
    case = counted(tmp_path)
    times = [*every(0.1, end=2.0), *every(0.1, start=6.0, end=7.9)]
    case.log().send(LEVER, times, lever([*counts([1] * 20), *counts([1] * 19)]))
    assert case.outcome() == JUMPS


@pytest.mark.parametrize("later", [11, 0, -60])
def test_a_step_from_one_capture_to_the_next_does_not_count(tmp_path, later):
    case = counted(tmp_path)
    for number in range(3):
        log = case.log().send(LEVER, every(0.1, end=2.0), lever(counts([1] * 20)))
        log.epoch += number * later
    assert case.outcome() == SHOWN


def test_counter_steps_count_over_all_captures(tmp_path):
    case = counted(tmp_path)
    assert judge(case, counts([1] * 50 + [5] + [1] * 19)) == JUMPS  # 1 of 70
    assert judge(case, counts([1] * 80)) == SHOWN  # 1 of 150


def test_a_need_for_defined_is_judged_up_to_the_counter(tmp_path):
    assert judge(counted(tmp_path, evidence="defined"), counts([0] * 100)) == FROZEN


def test_a_need_for_defined_asks_for_no_movement(tmp_path):
    case = counted(tmp_path, evidence="defined")
    case.log().send(LEVER, every(0.1), [f"00{count:02X}0000" for count in counts([1] * 100)])
    assert case.outcome() == SHOWN


# Copies of a gateway ------------------------------------------------------------------------------


def repeated(repeats, count=60):
    """Counts that come so often each, in turn."""
    found = []
    for number in range(count):
        found += [number % 16] * repeats[number % len(repeats)]
    return found


@pytest.mark.parametrize("repeats", [(2,), (3,), (2, 2, 3), (3, 4, 2)])
def test_a_copy_that_is_sent_more_often_repeats_each_count(tmp_path, repeats):
    assert judge(counted(tmp_path), repeated(repeats)) == SHOWN


@pytest.mark.parametrize("repeats", [(2, 2, 2, 7), (1, 6)])
def test_counts_that_are_repeated_unequally_often_are_no_copy(tmp_path, repeats):
    assert judge(counted(tmp_path), repeated(repeats)) in (JUMPS, FROZEN)


@pytest.mark.parametrize(("lost", "outcome"), [(0, SHOWN), (1, JUMPS)])
def test_a_copy_that_leaves_counts_out_jumps(tmp_path, lost, outcome):
    counts_of_copy = [count for count in repeated((2,), 40) if not lost or count != 5]
    assert judge(counted(tmp_path), counts_of_copy) == outcome


@pytest.mark.parametrize("step", [2, 3, 5])
def test_a_copy_that_is_sent_less_often_has_a_constant_step(tmp_path, step):
    assert judge(counted(tmp_path), counts([step] * 60)) == SHOWN


def test_two_steps_in_turn_are_no_constant_one(tmp_path):
    assert judge(counted(tmp_path), counts([2, 3] * 30)) == JUMPS


def test_a_constant_step_of_none_is_frozen(tmp_path):
    assert judge(counted(tmp_path), counts([0] * 60)) == FROZEN
