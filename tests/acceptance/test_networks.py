"""Is the need's network in the captures at all?"""

from __future__ import annotations

import pytest

from netcheck.report import next_texts, warning_text
from tests.acceptance.cases import (
    DOOR,
    LAMPS,
    LEVER,
    PUMPS,
    SHOWN,
    Case,
    during,
    every,
    expected,
    lever_case,
    missing,
    plain_dbc,
)

GEARS = during(2.0, 5.0, "01000000", "00000000")


def one_of(folder, ours, theirs):
    """A need on the network ``body`` whose DBC has the ids ``ours``; ``drive`` has ``theirs``."""
    case = Case(folder)
    case.dbc = {"body": plain_dbc(*ours), "drive": plain_dbc(*theirs)}
    case.role("any", f"body M{ours[0]:X} V")
    case.item().need("any", evidence="present")
    return case


def test_without_any_capture_the_need_is_only_expected(tmp_path):
    case = lever_case(tmp_path)
    assert case.outcome() == expected("no-capture")
    assert case.need().evidence == "defined"


def test_a_capture_of_another_network_is_no_capture(tmp_path):
    case = lever_case(tmp_path)
    case.log("drive").send(LEVER, every(0.1), GEARS)
    assert case.outcome() == expected("no-capture")


def test_a_capture_of_the_network_is_judged(tmp_path):
    case = lever_case(tmp_path)
    case.log("body").send(LEVER, every(0.1), GEARS)
    assert case.outcome() == SHOWN


def test_a_capture_after_the_fitting_does_not_count(tmp_path):
    case = lever_case(tmp_path)
    case.log("body", when="after").send(LEVER, every(0.1), GEARS)
    assert case.outcome() == expected("no-capture")


def test_the_message_on_the_channel_of_another_network_is_not_the_message(tmp_path):
    case = lever_case(tmp_path)
    log = case.log("body").send(LEVER, every(0.1), GEARS, channel="can1")
    for pump in PUMPS:
        log.send(pump, every(0.1), "00", channel="can1")
    log.mark("reverse", 2.0, 5.0)
    assert case.outcome() == missing("message-absent")


def test_three_ids_identify_a_channel(tmp_path):
    case = one_of(tmp_path, [1, 2, 3, 4], [11, 12, 13])
    log = case.log(None)
    for can_id in (1, 2, 3):
        log.send(can_id, every(0.1), "00")
    assert case.outcome() == SHOWN


def test_two_ids_do_not(tmp_path):
    case = one_of(tmp_path, [1, 2, 3, 4], [11, 12, 13])
    log = case.log(None)
    for can_id in (1, 2):
        log.send(can_id, every(0.1), "00")
    assert case.outcome() == expected("no-capture")


def test_all_ids_of_a_smaller_network_identify_it(tmp_path):
    case = one_of(tmp_path, [1, 2], [11, 12, 13])
    case.log(None).send(1, every(0.1), "00").send(2, every(0.1), "00")
    assert case.outcome() == SHOWN


def test_one_id_of_two_does_not(tmp_path):
    case = one_of(tmp_path, [1, 2], [11, 12, 13])
    case.log(None).send(1, every(0.1), "00")
    assert case.outcome() == expected("no-capture")


@pytest.mark.parametrize(
    ("ours", "theirs", "outcome"),
    [
        ([1, 2, 3], [11, 12], SHOWN),  # 3 to 2 is exactly half as many again
        ([1, 2, 3, 4], [11, 12, 13], expected("no-capture")),  # 4 to 3 is less
        ([1, 2, 3, 4, 5, 6], [11, 12, 13, 14], SHOWN),
        ([1, 2, 3, 4, 5], [11, 12, 13, 14], expected("no-capture")),
    ],
)
def test_a_channel_needs_half_as_many_ids_again_as_the_next_network(tmp_path, ours, theirs, outcome):
    case = one_of(tmp_path, [*ours, 7, 8], [*theirs, 17, 18])
    log = case.log(None)
    for can_id in [*ours, *theirs]:
        log.send(can_id, every(0.1), "00")
    assert case.outcome() == outcome


def test_an_id_that_both_networks_know_counts_for_both(tmp_path):
    case = one_of(tmp_path, [1, 2, 3], [2, 3, 11])
    log = case.log(None)
    for can_id in (1, 2, 3):
        log.send(can_id, every(0.1), "00")
    assert case.outcome() == SHOWN  # 3 to 2
    for can_id in (11, 12):
        log.send(can_id, every(0.1), "00")
    assert case.outcome() == expected("no-capture")  # 3 to 3


def test_an_id_whose_frames_are_mostly_too_short_explains_nothing(tmp_path):
    case = lever_case(tmp_path)
    log = case.log(None).send(LEVER, every(0.1), GEARS).send(LAMPS[0], every(0.1), "00")
    log.send(LAMPS[1], every(0.1, end=9.9), ["", "", "", "00", "00"] * 20)
    assert case.outcome() == expected("no-capture")


def test_an_id_whose_frames_are_now_and_then_too_short_still_does(tmp_path):
    case = lever_case(tmp_path)
    log = case.log(None).send(LEVER, every(0.1), GEARS).send(LAMPS[0], every(0.1), "00")
    log.send(LAMPS[1], every(0.1, end=9.9), ["", "", "00", "00", "00"] * 20)
    assert case.outcome() == SHOWN


def test_frames_longer_than_the_dbc_says_explain_an_id(tmp_path):
    case = lever_case(tmp_path)
    log = case.log(None).send(LEVER, every(0.1), GEARS)
    for lamp in LAMPS[:2]:
        log.send(lamp, every(0.1), "0000000000000000")
    assert case.outcome() == SHOWN


def test_an_extended_id_is_not_the_standard_one_of_the_same_number(tmp_path):
    case = lever_case(tmp_path)
    log = case.log(None).send(LEVER, every(0.1), GEARS)
    for lamp in LAMPS:
        log.send(lamp, every(0.1), "00", extended=True)
    assert case.outcome() == expected("no-capture")


def test_two_dbc_files_of_one_network_count_together(tmp_path):
    case = one_of(tmp_path, [1, 2], [11, 12, 13])
    case.dbc["body"] = [plain_dbc(1, 2), plain_dbc(3, 4)]
    case.log(None).send(1, every(0.1), "00").send(3, every(0.1), "00")
    assert case.outcome() == expected("no-capture")
    case.logs[0].send(4, every(0.1), "00")
    assert case.outcome() == SHOWN


def test_a_declared_channel_with_other_traffic_is_the_wrong_tap(tmp_path):
    case = lever_case(tmp_path)
    case.log("drive", channels={"can0": "body"}).send(LEVER, every(0.1), GEARS)
    assert case.outcome() == expected("wrong-tap")


def test_a_declared_channel_with_two_ids_of_its_network_is_the_wrong_tap(tmp_path):
    case = lever_case(tmp_path)
    log = case.log(None, channels={"can0": "body"}).send(LEVER, every(0.1), GEARS)
    log.send(LAMPS[0], every(0.1), "00")
    assert case.outcome() == expected("wrong-tap")
    log.send(LAMPS[1], every(0.1), "00")
    assert case.outcome() == SHOWN


def test_a_declared_channel_need_not_beat_the_other_networks(tmp_path):
    case = lever_case(tmp_path)
    log = case.log("drive", channels={"can0": "body"}).send(LEVER, every(0.1), GEARS)
    for lamp in LAMPS[:2]:
        log.send(lamp, every(0.1), "00")
    assert case.outcome() == SHOWN
    del log.entry["channels"]
    assert case.outcome() == expected("no-capture")


def test_a_wrong_tap_is_forgiven_when_another_channel_is_the_network(tmp_path):
    case = lever_case(tmp_path)
    log = case.log("drive", channels={"can0": "body"}).send(LEVER, every(0.1), GEARS, channel="can1")
    for lamp in LAMPS:
        log.send(lamp, every(0.1), "00", channel="can1")
    assert case.outcome() == SHOWN
    log.entry["channels"] = {"can0": "body", "can1": "body"}
    assert case.outcome() == SHOWN


def test_a_wrong_tap_is_forgiven_when_a_channel_of_another_capture_is_the_network(tmp_path):
    case = lever_case(tmp_path)
    case.log("drive", channels={"can0": "body"})
    case.log("body").send(LEVER, every(0.1), GEARS)
    assert case.outcome() == SHOWN


def test_the_frames_of_a_wrong_tap_are_not_judged(tmp_path):
    case = lever_case(tmp_path)
    case.log("drive", channels={"can0": "body"}).send(LEVER, every(0.1), GEARS)
    case.log("body").mark("reverse", 2.0, 5.0)
    assert case.outcome() == missing("message-absent")


def test_channels_that_are_not_declared_are_identified_by_their_traffic(tmp_path):
    case = lever_case(tmp_path)
    log = case.log("drive", channels={"can0": "drive"}).send(LEVER, every(0.1), GEARS, channel="can1")
    for lamp in LAMPS:
        log.send(lamp, every(0.1), "00", channel="can1")
    assert case.outcome() == SHOWN


def test_seen_in_any_capture_is_seen(tmp_path):
    case = lever_case(tmp_path)
    case.log("body").send(DOOR, every(0.1), "0000")
    case.log("body").send(LEVER, every(0.1), GEARS)
    assert case.outcome() == SHOWN


def test_a_network_is_captured_whichever_the_channel(tmp_path):
    case = lever_case(tmp_path)
    log = case.log(None)
    for can_id in LAMPS:
        log.send(can_id, every(0.1), "00", channel="vcan3")
    log.send(LEVER, every(0.1), GEARS, channel="vcan3")
    plan = case.plan()
    assert plan.items[0].needs[0].status == "shown"
    assert [(use.channel, use.network, use.frames) for use in plan.captures] == [("vcan3", "body", 404)]


def test_a_channel_that_is_no_network_is_listed_as_none(tmp_path):
    case = lever_case(tmp_path)
    case.log(None).send(0x7E0, every(0.1), "00").send(0x7E1, every(0.1), "00", channel="can1")
    assert case.outcome() == expected("no-capture")
    assert [(use.channel, use.network) for use in case.plan().captures] == [("can0", None), ("can1", None)]


@pytest.mark.parametrize("channels", [{}, {"can0": "body"}])
@pytest.mark.parametrize(("shared", "is_doubtful"), [(3, True), (6, True), (19, True), (20, False)])
def test_a_match_that_may_be_an_accident_is_taken_and_doubted(tmp_path, channels, shared, is_doubtful):
    """Over 40 strange ids against a DBC of 40: half of its messages, or of the ids, must fit."""
    ours = [0x100 + 7 * number for number in range(40)]
    case = one_of(tmp_path, ours, [0x7F0, 0x7F1, 0x7F2])
    log = case.log(None, **({"channels": channels} if channels else {}))
    for can_id in [*ours[:shared], *range(0x500, 0x500 + 63 - shared)]:
        log.send(can_id, every(0.1), "00")
    plan = case.plan()
    assert case.outcome() == (expected("doubtful-network") if is_doubtful else SHOWN)
    (use,) = plan.captures
    assert (use.network, use.is_doubtful) == ("body", is_doubtful)
    doubts = [warning for warning in map(warning_text, plan.warnings) if "is doubtful" in warning]
    assert len(doubts) == is_doubtful
    assert (
        next_texts(plan.next)[0].startswith("Make sure first that log0.log was taken from this")
        is is_doubtful
    )
