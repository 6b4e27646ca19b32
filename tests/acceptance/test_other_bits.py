"""A signal that never moved, and what moved instead: its place in the DBC may be wrong.

The lever's message has Gear in byte 0, Turn and Turn10 in byte 1, and no signal in bytes 2 and 3.
"""

from __future__ import annotations

import os
import threading

import netcheck
from netcheck.report import plan_json, plan_text
from tests.acceptance.cases import (
    BODY_DBC,
    DOOR,
    LEVER,
    MENU,
    Case,
    during,
    every,
    expected,
    lever_case,
    missing,
)

P, R = "00000000", "01000000"


def other(case):
    return case.need().facts.other_bits


def moved(case):
    found = other(case)
    return None if found is None else [(byte.byte, byte.bits, byte.changes) for byte in found.moved]


def followers(case):
    return [(str(byte.frame_id), byte.message, byte.byte, byte.bits) for byte in other(case).followers]


def text(case):
    return plan_json(case.plan())["items"][0]["needs"][0]["seen"]


def case_next(case):
    return plan_json(case.plan())["items"][0]["needs"][0]["next"]


def in_byte_2(time):
    """On from 2 to 3, 5 to 6, 8 to 9 s, in a byte that the DBC leaves empty."""
    return "00001000" if int(time) in (2, 5, 8) else P


def test_bits_that_the_dbc_leaves_empty_moved_and_the_signals_own_never(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), in_byte_2)
    assert case.outcome() == expected("not-exercised")
    assert moved(case) == [(2, 0x10, 6)]
    assert other(case).own == (0,)
    assert (
        "byte 2 of this message changed 6 times, this signal's bits (byte 0) never: the position may be wrong"
        in text(case)
    )


def test_a_signal_that_the_dbc_knows_may_move_as_it_likes_while_nothing_was_marked(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), during(2, 3, "00030000", P))
    assert moved(case) == [(1, 0x03, 2)]
    assert text(case).endswith("it never moved: P (0) throughout")
    assert "bits that moved" not in case_next(case)


def test_with_a_mark_it_counts(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), during(2, 3, "00030000", P)).mark("reverse", 5.0, 7.0)
    assert case.outcome() == missing("no-answer")
    assert (
        "byte 1 of this message (Turn by the DBC) changed 2 times, this signal's bits (byte 0) never: the "
        "position may be wrong"
    ) in text(case)


def test_a_byte_in_which_the_dbc_has_a_signal_for_some_of_the_bits(tmp_path):
    case = lever_case(tmp_path)
    case.dbc["body"] = BODY_DBC.replace("SG_ Turn10 : 12|4@1", "SG_ Turn10 : 12|2@1")
    case.log().send(LEVER, every(0.1), lambda time: "00410000" if 2 <= time < 3 else P)
    assert [(byte.bits, byte.free, byte.signals) for byte in other(case).moved] == [(0x41, 0x40, ("Turn",))]
    assert "byte 1 of this message (in part Turn by the DBC) changed 2 times, " in text(case)


def test_where_nothing_else_moved_nothing_is_said(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), P)
    assert case.outcome() == expected("not-exercised")
    assert other(case) is None
    assert text(case).endswith("it never moved: P (0) throughout")


def test_a_signal_whose_bits_moved_between_other_states_is_not_in_a_wrong_place(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), lambda time: "02001000" if 2 <= time < 3 else P)
    assert case.outcome() == expected("not-exercised")
    assert other(case) is None


def test_a_signal_that_moved_is_not_looked_at(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), during(2, 3, "01001000", P))
    assert case.outcome() == ("shown", "ok")
    assert other(case) is None


def test_counters_and_checksums_run_by_themselves(tmp_path):
    """A counter in the low nibble of byte 2, a sum in byte 3; byte 2's high nibble moves with the lever."""

    def data(time, lever):
        count = round(time * 10) % 16
        second = count | (0x10 if lever and int(time) in (2, 5) else 0)
        return f"0000{second:02X}{(7 * second + 3) % 256:02X}"

    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), lambda time: data(time, lever=False))
    assert other(case) is None
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), lambda time: data(time, lever=True))
    assert moved(case) == [(2, 0x10, 4)]


def test_a_byte_that_changes_in_just_a_quarter_of_the_frames_still_counts(tmp_path):
    def quarter(frames):
        return ["00000000"] * 60 + ["00000100", "00000000"] * (frames // 2) + ["00000000"] * (41 - frames)

    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), quarter(24))
    assert moved(case) == [(2, 0x01, 24)]
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), quarter(26))
    assert other(case) is None


def test_a_step_from_one_capture_to_the_next_is_no_change(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), P)
    case.log().send(LEVER, every(0.1), "00001000")
    assert other(case) is None


def test_changes_of_several_captures_add_up(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), in_byte_2)
    case.log().send(LEVER, every(0.1), in_byte_2)
    assert moved(case) == [(2, 0x10, 12)]


def test_each_channel_has_its_own_changes(tmp_path):
    case = lever_case(tmp_path)
    log = case.log(channels={"can0": "body", "can1": "body"})
    for lamp in (0x601, 0x602, 0x603):
        log.send(lamp, every(0.1), "00", channel="can1")
    log.send(LEVER, every(0.1), P).send(LEVER, every(0.1), "00001000", channel="can1")
    assert other(case) is None


def test_a_byte_that_one_of_two_frames_lacks_did_not_change(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), during(2, 3, "0000", "000010"))
    assert other(case) is None


def test_other_pages_of_a_multiplexed_message_do_not_count(tmp_path):
    case = Case(tmp_path).role("volume", "body MenuStatus Volume")
    case.item().need("volume")
    case.log().send(
        MENU, every(0.1), lambda time: f"0{1 + round(time * 10) % 2}0000{round(time * 10) % 2:02X}"
    )
    assert case.outcome() == expected("not-exercised")
    assert other(case) is None
    case = Case(tmp_path).role("volume", "body MenuStatus Volume")
    case.item().need("volume")
    case.log().send(
        MENU, every(0.1), lambda time: "02FF0000" if round(time * 10) % 2 else f"0100000{int(time) // 5}"
    )
    assert moved(case) == [(3, 0x03, 2)]


def test_marks_tell_which_bits_follow_them(tmp_path):
    """Nothing of the lever moves. The door's byte 1 does as marked; its byte 0 is on in one mark only."""
    case = lever_case(tmp_path, evidence="answers")
    log = case.log().send(LEVER, every(0.1), P)
    log.send(
        DOOR,
        every(0.1),
        lambda time: f"0{int(2 <= time < 4)}{'04' if 2 <= time < 4 or 6 <= time < 8 else '00'}",
    )
    log.mark("reverse", 2.1, 3.8).mark("reverse", 5.8, 8.2)
    assert case.outcome() == missing("no-answer")
    assert moved(case) == []
    assert followers(case) == [("0x120", "DoorStatus", 1, 0x04)]
    assert (
        "this signal's bits (byte 0) never changed: the position may be wrong; these bits follow the marks: "
        "byte 1 bit 2 of DoorStatus 0x120"
    ) in text(case)


def test_where_other_bits_follow_the_marks_the_place_is_checked_not_the_marks(tmp_path):
    case = lever_case(tmp_path, evidence="answers")
    log = case.log().send(LEVER, every(0.1), lambda time: "00001000" if int(time) in (2, 3, 6, 7) else P)
    log.mark("reverse", 2.0, 4.0).mark("reverse", 6.0, 8.0)
    assert case_next(case) == (
        "Other bits follow the marks: compare the signal's place with a DBC of this vehicle, or correct it "
        "in a copy and plan again (netcheck find ranks the bits)."
    )
    lines = " ".join(plan_text(case.plan(), width=100).split())
    assert lines.count("byte 2 of this message changed 4 times") == 2  # the verdict's reason, and the need
    assert "1. Check where the DBC of body has reverse: other bits follow its marks." in lines
    assert "longer marks" not in lines


def test_after_one_mark_a_second_one_is_asked_for(tmp_path):
    """All that an exercise moves follows a single mark."""
    case = lever_case(tmp_path, evidence="answers")
    log = case.log().send(LEVER, every(0.1), during(2, 4, "00001000", P))
    log.mark("reverse", 2.0, 4.0)
    assert case_next(case) == (
        "Mark a second exercise (after one mark, all that it moves follows). If they follow again, compare "
        "the signal's place with a DBC of this vehicle, or correct it in a copy and plan again (netcheck "
        "find ranks the bits)."
    )


def test_where_nothing_follows_the_marks_they_are_checked(tmp_path):
    case = lever_case(tmp_path, evidence="answers")
    case.log().send(LEVER, every(0.1), P).mark("reverse", 2.0, 4.0)
    assert case_next(case).startswith("Check the marks' times against what was done")


def test_bits_of_the_signals_own_message_come_first_and_inverted_bits_follow_too(tmp_path):
    case = lever_case(tmp_path, evidence="answers")
    inside = lambda time: 2 <= time < 5  # noqa: E731
    log = case.log().send(LEVER, every(0.1), lambda time: "00000000" if inside(time) else "00004000")
    log.send(0x050, every(0.1), lambda time: "80" if inside(time) else "00").mark("reverse", 2.0, 5.0)
    assert followers(case) == [("0x100", "LeverStatus", 2, 0x40), ("0x050", None, 0, 0x80)]
    assert moved(case) == [(2, 0x40, 2)]
    assert "byte 2 bit 6 of LeverStatus 0x100 and byte 0 bit 7 of 0x050" in text(case)


def test_a_bit_that_is_on_outside_the_marks_too_does_not_follow(tmp_path):
    case = lever_case(tmp_path, evidence="answers")
    log = case.log().send(LEVER, every(0.1), P).mark("reverse", 2.0, 4.0)
    log.send(DOOR, every(0.1), lambda time: "0004" if 2 <= time < 4 or 6 <= time < 8 else "0000")
    assert other(case) is None


def test_a_press_shorter_than_a_second_is_followed_by_a_single_frame(tmp_path):
    case = lever_case(tmp_path, evidence="answers")
    log = case.log().send(LEVER, every(0.1), P).mark("reverse", 2.0, 2.6)
    log.send(DOOR, every(0.1), during(2.2, 2.4, "0004", "0000"))
    assert followers(case) == [("0x120", "DoorStatus", 1, 0x04)]


def test_a_mark_without_a_frame_of_an_id_is_not_followed_by_it(tmp_path):
    case = lever_case(tmp_path, evidence="answers")
    log = case.log().send(LEVER, every(0.1), P).mark("reverse", 2.0, 4.0).mark("reverse", 6.0, 8.0)
    log.send(DOOR, [*every(0.1, 0, 5), *every(0.1, 9, 10)], during(2, 4, "0004", "0000"))
    assert other(case) is None


def test_a_capture_without_marks_says_nothing_of_following(tmp_path):
    """The second capture has the door's bit on all the time: what was done there nobody says."""
    case = lever_case(tmp_path, evidence="answers")
    log = case.log().send(LEVER, every(0.1), P).mark("reverse", 2.0, 4.0)
    log.send(DOOR, every(0.1), during(2, 4, "0004", "0000"))
    case.log().send(LEVER, every(0.1), P).send(DOOR, every(0.1), "0004")
    assert followers(case) == [("0x120", "DoorStatus", 1, 0x04)]


def test_a_doubtful_network_is_not_looked_at(tmp_path):
    case = lever_case(tmp_path)
    log = case.log(None).send(LEVER, every(0.1), in_byte_2)
    for number in (0x601, 0x602, *range(0x300, 0x310)):
        log.send(number, every(0.1), "00")
    assert case.outcome() == expected("doubtful-network")
    assert other(case) is None


def test_a_long_frame_is_looked_at_whole(tmp_path):
    dbc = BODY_DBC.replace("BO_ 256 LeverStatus: 4", "BO_ 256 LeverStatus: 12")
    case = lever_case(tmp_path)
    case.dbc["body"] = dbc
    case.log().send(LEVER, every(0.1), lambda time: "#1" + "00" * 11 + ("01" if 2 <= time < 3 else "00"))
    assert moved(case) == [(11, 0x01, 2)]


def test_json_has_the_facts(tmp_path):
    case = lever_case(tmp_path, evidence="answers")
    log = case.log().send(LEVER, every(0.1), during(2, 5, "00030000", P)).mark("reverse", 2.0, 5.0)
    log.send(DOOR, every(0.1), during(2, 5, "0100", "0000"))
    facts = plan_json(case.plan())["items"][0]["needs"][0]["facts"]["other_bits"]
    lever = {"byte": 1, "bits": [0, 1], "free_bits": [], "signals": ["Turn"]}
    door = {"byte": 0, "bits": [0], "free_bits": [], "signals": ["Open"]}
    assert facts == {
        "own_bytes": [0],
        "moved": [{**lever, "changes": 2}],
        "follow_marks": [
            {"id": "0x100", "message": "LeverStatus", **lever},
            {"id": "0x120", "message": "DoorStatus", **door},
        ],
    }


def test_the_text_of_a_plan_says_it(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), in_byte_2)
    lines = " ".join(plan_text(case.plan(), width=100).split())
    assert "byte 2 of this message changed 6 times" in lines
    assert "If it stays still again, look for it in the bits that moved." in lines


def test_a_capture_that_cannot_be_read_twice_is_planned_without(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), in_byte_2)
    job = case.write()
    log = tmp_path / "log0.log"
    text = log.read_bytes()
    log.unlink()
    os.mkfifo(log)
    writer = threading.Thread(target=log.write_bytes, args=(text,))
    writer.start()
    need = netcheck.make_plan(netcheck.load_job(job)).items[0].needs[0]
    writer.join()
    assert str(need.reason) == "not-exercised"
    assert need.facts.other_bits is None
