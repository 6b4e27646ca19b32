"""How sure it is that a channel is a network: identified, doubtful or none, by ids that fit its DBC."""

from __future__ import annotations

from math import sqrt

import pytest

import netcheck
from tests.acceptance.cases import (
    DOOR,
    LAMPS,
    LEVER,
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
STRANGE = range(0x501, 0x601)


def wired(folder, ids, seen, strange=0, **entry):
    """A need on ``body``, whose DBC has ``ids``, and a capture of ``seen`` and of ids that no DBC knows."""
    case = Case(folder)
    case.dbc = {"body": plain_dbc(*ids), "drive": plain_dbc(0x701, 0x702, 0x703)}
    case.role("any", f"body M{ids[0]:X} V")
    case.item().need("any", evidence="present")
    log = case.log(None, **entry)
    for can_id in [*seen, *STRANGE[:strange]]:
        log.send(can_id, every(0.1, end=3.0), "00", extended=can_id > 0x7FF)
    return case


# Half of the ids, or of the DBC -------------------------------------------------------------------


@pytest.mark.parametrize("channels", [{}, {"channels": {"can0": "body"}}], ids=["by traffic", "declared"])
@pytest.mark.parametrize(
    ("fit", "strange", "outcome"),
    [
        (4, 4, SHOWN),  # half of the ids of the channel
        (4, 5, DOUBTFUL),
        (5, 6, SHOWN),  # half of the messages of the DBC
        (5, 60, SHOWN),
    ],
)
def test_half_of_the_ids_or_half_of_the_dbc_must_fit(tmp_path, channels, fit, strange, outcome):
    ids = list(range(0x101, 0x10B))  # ten of them
    assert wired(tmp_path, ids, ids[:fit], strange, **channels).outcome() == outcome


def test_fewer_than_three_ids_are_no_doubt_but_nothing(tmp_path):
    ids = list(range(0x101, 0x10B))
    assert wired(tmp_path, ids, ids[:2], 5).outcome() == expected("no-capture")
    case = wired(tmp_path, ids, ids[:2], 5, channels={"can0": "body"})
    assert case.outcome() == expected("wrong-tap")


# Chance -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("fit", [3, 4])
def test_as_many_ids_as_chance_gives_are_doubtful(tmp_path, fit):
    # 6 or 8 ids against 180 messages: chance alone gives 0.5 or 0.7, and four deviations more are above 3
    ids = list(range(0x001, 0x0B5))
    mean = 2 * fit * len(ids) / 2048
    assert fit < mean + 4 * sqrt(mean)
    assert wired(tmp_path, ids, ids[:fit], fit).outcome() == DOUBTFUL


def test_more_ids_than_chance_gives_are_enough(tmp_path):
    ids = list(range(0x001, 0x0B5))
    mean = 5 * len(ids) / 2048
    assert mean + 4 * sqrt(mean) < 5
    assert wired(tmp_path, ids, ids[:5]).outcome() == SHOWN


def test_a_29_bit_id_that_fits_is_never_chance(tmp_path):
    ids = [*range(0x001, 0x0B5), 0x18FF0102]
    assert wired(tmp_path, ids[:-1], ids[:3], 3).outcome() == DOUBTFUL
    wide = plain_dbc(*ids[:-1]) + plain_dbc(0x18FF0102 | 1 << 31).split("BU_:\n")[1]
    case = wired(tmp_path, ids, [*ids[:2], ids[-1]], 3)
    case.dbc["body"] = wide
    assert case.outcome() == SHOWN


# Diagnostics --------------------------------------------------------------------------------------


def test_ids_of_diagnostics_are_no_strangers(tmp_path):
    ids = list(range(0x101, 0x10B))
    case = wired(tmp_path, ids, ids[:4], 4)
    for can_id in (0x7DF, 0x7E0, 0x7EF, 0x6A1, 0x6A9, 0x18DAF110, 0x18DB33F1):
        case.logs[0].send(can_id, every(0.5), "00", extended=can_id > 0x7FF)
    case.module("column", request_id=0x6A1, response_id=0x6A9)
    assert case.outcome() == SHOWN
    case.logs[0].send(0x7F0, every(0.5), "00")  # the first id above them is one more that does not fit
    assert case.outcome() == DOUBTFUL


def test_messages_of_diagnostics_explain_nothing(tmp_path):
    ids = [0x101, 0x102, 0x7E0, 0x7E8]
    case = wired(tmp_path, ids, [0x101, 0x7E0, 0x7E8])
    assert case.outcome() == expected("no-capture")
    case.logs[0].send(0x102, every(0.1), "00")  # two of two that count
    assert case.outcome() == SHOWN


@pytest.mark.parametrize(("ids", "outcome"), [((0x7DF, 0x7E8), "no-capture"), ((0x7DF, 0x7F8), "wrong-tap")])
def test_a_declared_channel_with_nothing_but_diagnostics_is_no_wrong_tap(tmp_path, ids, outcome):
    case = lever_case(tmp_path)
    log = case.log(None, channels={"can0": "body"})
    for can_id in ids:
        log.send(can_id, every(0.5), "0000")
    assert case.outcome() == expected(outcome)


# What the job's items send ------------------------------------------------------------------------


def test_messages_that_only_the_jobs_items_send_do_not_count(tmp_path):
    ids = list(range(0x101, 0x10B))
    case = wired(tmp_path, ids, ids[:4], 5)
    assert case.outcome() == DOUBTFUL
    part = case.item("sender").supply("park.left", message_id=ids[8])
    assert case.outcome() == DOUBTFUL  # four of nine
    part.supply("park.right", message_id=ids[9])
    assert case.outcome() == SHOWN  # four of eight
    part.network = "drive"
    assert case.outcome() == DOUBTFUL


# Declared -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("copied", "outcome"), [(3, expected("wrong-tap")), (4, SHOWN)])
def test_another_network_with_twice_as_many_ids_makes_it_a_wrong_tap(tmp_path, copied, outcome):
    """A gateway copied those few: six or seven ids of ``drive`` beside three or four of ``body``."""
    ours, theirs = list(range(0x101, 0x105)), list(range(0x201, 0x208))
    case = wired(tmp_path, ours, ours[:copied], channels={"can0": "body"})
    case.dbc["drive"] = plain_dbc(*theirs)
    for can_id in theirs[: 3 + copied]:
        case.logs[0].send(can_id, every(0.1, end=3.0), "00")
    assert case.outcome() == outcome


def test_a_wrong_tap_is_forgiven_where_another_channel_is_doubtful(tmp_path):
    ids = list(range(0x101, 0x10B))
    case = wired(tmp_path, ids, ids[:4], 5)
    log = case.log("drive", channels={"can0": "body"})
    assert case.outcome() == DOUBTFUL
    log.entry["channels"] = {"can0": "drive"}
    assert case.outcome() == DOUBTFUL


# Identified before doubtful -----------------------------------------------------------------------


def test_an_identified_channel_leaves_a_doubtful_one_out(tmp_path):
    case = lever_case(tmp_path)
    log = case.log().mark("reverse", 2.0, 5.0)
    doubtful = case.log(None).send(LEVER, every(0.1), GEARS)
    for can_id in [*LAMPS[:2], *STRANGE[:5]]:
        doubtful.send(can_id, every(0.1), "00")
    assert case.outcome() == missing("message-absent")
    log.send(LEVER, every(0.1), GEARS)
    assert case.outcome() == SHOWN
    case.logs.remove(log)
    assert case.outcome() == DOUBTFUL


# What a doubtful network says ---------------------------------------------------------------------


def doubtful(folder, **need):
    """The lever and two lamps, three of the eight ids of ``body``, among five strangers."""
    case = lever_case(folder, **need)
    log = case.log(None).send(LEVER, every(0.1), lambda t: R if 2 <= t <= 4 or 6 <= t <= 8 else P)
    for can_id in [*LAMPS[:2], *STRANGE[:5]]:
        log.send(can_id, every(0.1), "00")
    return case


@pytest.mark.parametrize(
    ("evidence", "outcome"),
    [("defined", SHOWN), ("present", DOUBTFUL), ("moves", DOUBTFUL), ("answers", DOUBTFUL)],
)
def test_on_a_doubtful_network_only_what_is_defined_is_shown(tmp_path, evidence, outcome):
    assert doubtful(tmp_path, evidence=evidence).outcome() == outcome


def test_a_need_for_defined_does_not_look_at_a_doubtful_network(tmp_path):
    assert doubtful(tmp_path, evidence="defined", max_gap_ms=10).outcome() == SHOWN


@pytest.mark.parametrize("evidence", ["present", "moves", "answers"])
def test_a_role_that_answered_two_marks_is_better_evidence_than_ids(tmp_path, evidence):
    case = doubtful(tmp_path, evidence=evidence)
    case.logs[0].mark("reverse", 2.0, 4.0)
    assert case.outcome() == DOUBTFUL
    case.logs[0].mark("reverse", 6.0, 8.0)
    assert case.outcome() == SHOWN
    case.logs[0].mark("reverse", 9.0, 9.5)
    assert case.outcome() == DOUBTFUL


def test_a_role_that_answered_is_judged_by_all_other_rules(tmp_path):
    case = doubtful(tmp_path, max_gap_ms=50)
    case.logs[0].mark("reverse", 2.0, 4.0).mark("reverse", 6.0, 8.0)
    assert case.outcome() == missing("too-slow")


def test_a_role_that_never_moved_does_not_remove_the_doubt(tmp_path):
    case = lever_case(tmp_path)
    log = case.log(None).send(LEVER, every(0.1), P)
    for can_id in [*LAMPS[:2], *STRANGE[:5]]:
        log.send(can_id, every(0.1), "00")
    log.mark("reverse", 2.0, 4.0, "inactive").mark("reverse", 6.0, 8.0, "inactive")
    assert case.outcome() == DOUBTFUL


def test_conflicts_are_judged_on_a_doubtful_network_too(tmp_path):
    case = doubtful(tmp_path)
    case.item("sender").supply("reverse", message_id=STRANGE[0], period_ms=100, length=8)
    assert conflicts(case)["sender"] == ["id-in-use", "two-sources"]
    case.bitrate = 1000
    assert conflicts(case)["sender"] == ["id-in-use", "overload", "two-sources"]


def test_an_item_without_a_network_takes_a_captured_one(tmp_path):
    case = Case(tmp_path).role("any", "drive BrakeStatus Pressed").role("any", "body DoorStatus Open")
    case.item(network=None).need("any")
    assert case.need().network == "drive"
    case.log("body")
    need = case.need()
    assert (need.network, str(need.reason)) == ("body", "not-exercised")
    case.log("drive")
    assert case.need().network == "drive"
    case.logs[0].send(DOOR, every(0.1), during(2.0, 5.0, "0100", "0000"))
    assert (case.need().network, case.outcome()) == ("body", SHOWN)


def small_network(folder, *others):
    """A network of four messages, of which two came, and perhaps strangers."""
    case = Case(folder).role("wheel", "small M400 V")
    case.dbc["small"] = plain_dbc(0x400, 0x410, 0x420, 0x430)
    case.item("part", "small").need("wheel")
    log = case.log(None, channels={"can0": "small"})
    for number in (0x400, 0x410, *others):
        log.send(number, every(0.1), "00000000")
    return case


def test_too_few_ids_of_a_small_network_are_not_called_another_one(tmp_path):
    case = small_network(tmp_path)
    assert case.outcome() == expected("wrong-tap")
    text = " ".join(netcheck.plan_text(case.plan()).split())
    assert "DBC fit: small 2 of 2 ids, TOO FEW TO TELL." in text
    assert (
        "can0 of log0.log has too few ids to tell whether it is small, as the job says: 2 of 2 ids fit the "
        "DBC of small"
    ) in text
    assert "1 more must fit" in text
    assert "is not small" not in text
    assert "Capture small again with all of it awake" in text


def test_strangers_speak_against_a_small_network(tmp_path):
    case = small_network(tmp_path, 0x201, 0x202, 0x203)
    assert case.outcome() == expected("wrong-tap")
    text = " ".join(netcheck.plan_text(case.plan()).split())
    assert "DBC fit: small 2 of 5 ids, NOT IT." in text
    assert "can0 of log0.log is not small as the job says" in text
