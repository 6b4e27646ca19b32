"""One pair of wires for one item of a job, from hand-built logs."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.catalogue import load_job
from netcheck.errors import InputError, UsageError
from netcheck.files import Measured
from netcheck.network import IdentityLevel
from netcheck.report._tap_words import finding_words, role_words
from netcheck.report.onsite import tap_text
from netcheck.tap import Recorded, State, TapCheck, check_tap, choose_item
from tests.acceptance.cases import BRAKE, LAMPS, LEVER, PUMPS, Case, every, lever_case, plain_dbc, with_cycle

R, W, U, N = State.RIGHT, State.WRONG, State.UNKNOWN, State.NOTE
RECORDER = {"stated": "bitrate", "has_wire": "has_wire"}


def check(case: Case, item: str | None = None, *, channel: str | None = None, **more) -> TapCheck:
    """The case's first log as the recording of the pair; without a log nobody listened."""
    job = load_job(case.write())
    log = case.folder / case.logs[0].name if case.logs else None
    recorder = {key: more.pop(name) for name, key in RECORDER.items() if name in more}
    recorded = Recorded(log, case.logs[0].name, channel, **recorder) if log else None
    return check_tap(job, choose_item(job, item), recorded, **more)


def finding(found: TapCheck, kind: str) -> tuple[State, str]:
    """Its state, and its words as ``report/`` has them."""
    entry = next(entry for entry in found.findings if entry.kind == kind)
    return entry.state, finding_words(entry).found


def role(found: TapCheck, number: int = 0) -> tuple[State, str]:
    return found.roles[number].state, role_words(found.roles[number]).found


def test_the_right_pair(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), "00000000")
    found = check(case)
    assert found.verdict is R
    assert finding(found, "network") == (R, "this is body: 4 of 4 ids match the DBC of body")
    assert finding(found, "bit-rate")[0] is R
    assert role(found) == (R, "LeverStatus every 100 ms, reads P (0)")
    assert found.listened is not None
    assert (found.listened.frames, found.listened.channel) == (404, "can0")


def test_lines_without_time_stamps_show_what_is_there_and_no_times(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), "00000000").is_timed = False
    found = check(case)
    assert found.verdict is R
    assert role(found) == (R, "LeverStatus, reads P (0)")
    assert found.listened is not None
    assert (found.listened.seconds, found.listened.has_times) == (0, False)
    text = tap_text(found)
    assert "404 frames without time stamps" in text
    assert " ms" not in text.replace("1 ms apart", "")


def test_the_pair_of_another_network(tmp_path):
    case = lever_case(tmp_path)
    case.log("drive")
    found = check(case)
    assert found.verdict is W
    assert finding(found, "network") == (
        W, "this is drive, not body: 0 of 3 ids match the DBC of body, 3 that of drive"
    )  # fmt: skip
    assert found.roles == ()


def test_two_networks_on_one_pair_are_told_apart_from_one(tmp_path):
    case = lever_case(tmp_path)
    log = case.log().send(LEVER, every(0.1), "0000")
    for pump in PUMPS[:2]:
        log.send(pump, every(0.1), "00")
    assert finding(check(case), "network")[0] is R
    log.send(PUMPS[2], every(0.1), "00")
    found = check(case)
    assert finding(found, "two-networks")[0] is U
    assert found.verdict is U


@pytest.mark.parametrize(("strangers", "state"), [(2, U), (3, W)])
def test_ids_that_no_dbc_has(tmp_path, strangers, state):
    case = lever_case(tmp_path)
    log = case.log(None)
    for number in range(strangers):
        log.send(0x300 + number, every(0.1), "00")
    assert finding(check(case), "network")[0] is state


def test_three_ids_of_two_hundred_are_no_right_pair(tmp_path):
    """The network's DBC has 8 messages, which is one in 256 of all ids: three of 203 come by chance."""
    case = lever_case(tmp_path)
    log = case.log()
    for number in range(200):
        log.send(0x300 + number, every(0.5), "00")
    found = check(case)
    state, text = finding(found, "network")
    assert state is U
    assert "whether this is body is doubtful: 3 of 203 ids" in text
    assert finding(found, "bit-rate")[0] is N  # a doubtful network says nothing of its rate
    assert found.verdict is not R


@pytest.mark.parametrize(
    ("known", "fit", "strangers", "state"),
    [
        (30, 6, 24, U),  # a fifth either way: more than by chance, but makers like the same ids
        (30, 14, 24, U),
        (30, 15, 24, R),  # half of its messages came
        (6, 6, 84, R),  # a small DBC, all of which came
    ],
)
def test_a_few_ids_of_many_are_no_right_pair(tmp_path, known, fit, strangers, state):
    case = lever_case(tmp_path)
    case.dbc["body"] = plain_dbc(LEVER, *range(0x200, 0x200 + known - 1))
    log = case.log(None).send(LEVER, every(0.1), "00")
    for can_id in [*range(0x200, 0x200 + fit - 1), *range(0x300, 0x300 + strangers)]:
        log.send(can_id, every(0.5), "00")
    assert finding(check(case), "network")[0] is state
    case.items[0].network = None
    assert finding(check(case), "network")[0] is state


def test_how_the_dbc_fits_stands_beside_the_network_and_decides_nothing(tmp_path):
    case = lever_case(tmp_path)
    log = case.log().send(LEVER, every(0.1), "00000000")
    assert finding(check(case), "fit")[0] is N
    for number in range(3):
        log.send(0x300 + number, every(0.5), "00")
    found = check(case)
    assert found.identity is IdentityLevel.IDENTIFIED
    assert finding(found, "network")[0] is R
    state, text = finding(found, "fit")
    assert state is N
    assert "another edition of this network? 3 of 7 ids are not in the DBC of body" in text


def test_ids_of_diagnostics_tell_no_network(tmp_path):
    case = lever_case(tmp_path)
    case.log(None).send(0x7E0, every(0.1), "0210030000000000").send(0x7E8, every(0.1), "0650030032000000")
    found = check(case)
    assert found.identity is IdentityLevel.NONE
    assert finding(found, "network") == (
        U, "all 2 ids are ids of diagnostics, which do not tell which network this is"
    )  # fmt: skip


def test_a_network_that_shares_its_ids_may_be_it(tmp_path):
    case = lever_case(tmp_path)
    case.dbc["copy"] = case.dbc["body"]
    case.log()
    found = check(case)
    assert finding(found, "network")[0] is U
    assert len(found.roles) == 1  # looked for all the same


def test_networks_that_fit_by_chance_only_are_no_shared_ids(tmp_path):
    """Four of 104 ids in two DBCs of 90 messages each: chance alone gives as many."""
    case = lever_case(tmp_path)
    shared = (LEVER, *range(0x2F0, 0x2F3))
    case.dbc["body"] = plain_dbc(*shared, *range(0x201, 0x257))
    case.dbc["drive"] = plain_dbc(*shared, *range(0x301, 0x357))
    case.roles = []
    log = case.role("any", f"body M{LEVER:X} V").log(None)
    case.items[0].tables = []
    case.items[0].need("any")
    for can_id in [*shared, *range(0x501, 0x565)]:
        log.send(can_id, every(0.5), "00")
    found = check(case)
    assert finding(found, "network") == (
        U,
        "which network this is cannot be told: 4 of 104 ids match the DBC of body, 4 that of drive",
    )
    assert found.roles == ()


def test_an_undecided_item_is_told_which_network_this_is(tmp_path):
    case = Case(tmp_path).role("reverse", "body LeverStatus Gear", active=["R"])
    case.item("part", network=None).need("reverse")
    case.log().send(LEVER, every(0.1), "0100")
    found = check(case)
    assert (found.verdict, found.network) == (R, "body")
    assert role(found) == (R, "LeverStatus every 100 ms, reads R (1)")


def test_only_error_frames_are_no_pair_to_judge(tmp_path):
    case = lever_case(tmp_path)
    case.log(None).send(0x20000008, every(0.1), "0000040000000000")
    found = check(case)
    assert [(entry.kind, entry.state) for entry in found.findings] == [("only-errors", W)]
    assert "500 kbit/s" in finding_words(found.findings[0]).next
    assert found.roles == ()


def test_many_error_frames_are_wrong_and_one_is_not(tmp_path):
    for errors, state in ((1, N), (20, W)):
        case = lever_case(tmp_path)
        log = case.log().send(LEVER, every(0.005), "0000")
        log.send(0x20000008, every(0.1)[:errors], "0000040000000000")
        assert finding(check(case), "errors")[0] is state


def test_traffic_that_does_not_fit_through_the_bit_rate(tmp_path):
    case = lever_case(tmp_path)
    case.bitrate = 1500  # 30 frames a second of 58 bits are more
    case.log().send(LEVER, every(0.1), "0000")
    assert finding(check(case), "bit-rate")[0] is W
    case.bitrate = 3000
    assert finding(check(case), "bit-rate")[0] is R


def test_frames_that_came_at_another_rate_than_the_vehicle_file_says(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), "0000")
    assert finding(check(case, stated=500_000), "bit-rate")[0] is R
    assert finding(check(case, stated=125_000), "bit-rate")[0] is W


def test_frames_from_software_say_nothing_of_a_bit_rate(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), "0000")
    found = check(case, has_wire=False)
    assert finding(found, "bit-rate") == (N, "not known: the frames came through software")
    assert found.verdict is R


def test_nobody_listened_and_silence(tmp_path):
    case = lever_case(tmp_path)
    found = check(case)
    assert (found.verdict, found.listened) == (U, None)
    job = load_job(case.write())
    silent = check_tap(job, job.items[0], Recorded(None, "virtual 0", "0"))
    assert silent.verdict is U
    assert [entry.kind for entry in silent.findings] == ["silence"]


# Roles -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cycle_ms", "end", "state"),
    [(1000, 9.5, U), (1000, 10.0, W), (2000, 10.0, U), (None, 30.0, U)],
)
def test_a_message_that_does_not_come_is_absent_after_ten_of_its_cycles(tmp_path, cycle_ms, end, state):
    """As in a plan: one without a cycle time may be sent only when used."""
    case = lever_case(tmp_path)
    if cycle_ms:
        case.dbc["body"] = with_cycle(case.dbc["body"], LEVER, cycle_ms)
    case.log(None)
    for lamp in LAMPS:
        case.logs[0].send(lamp, every(0.1, end=end), "00")
    found = check(case)
    assert role(found)[0] is state
    assert found.verdict is state
    assert role(found)[1].endswith("awake; it may be sent only when used") is (cycle_ms is None)


def test_an_optional_need_decides_nothing(tmp_path):
    case = lever_case(tmp_path, optional=True)
    case.log()
    found = check(case)
    assert (role(found)[0], found.verdict) == (N, R)


def test_a_role_on_another_network_or_on_none(tmp_path):
    case = Case(tmp_path).role("brake", "drive BrakeStatus Pressed")
    case.item().need("brake").need("unheard-of")
    case.log().send(BRAKE, every(0.1), "00")
    found = check(case)
    assert role(found, 0) == (W, "is on drive, not here")
    assert role(found, 1)[0] is W


def test_a_role_that_the_dbc_lacks(tmp_path):
    case = Case(tmp_path).role("horn", "body HornStatus Pressed")
    case.item().need("horn")
    case.log()
    assert role(check(case)) == (W, "the DBC of body has no message HornStatus (it has DoorStatus)")


def test_a_role_that_waits_for_coding(tmp_path):
    unlock = {"module": "column", "field": "stalk", "value": 1}
    case = Case(tmp_path).module("column").block("column", 0x600, 1, stalk={"byte": 0})
    case.role("reverse", "body LeverStatus Gear", unlocked_by=unlock)
    case.item().need("reverse")
    case.log()
    state, text = role(check(case))
    assert state is U
    assert "column.stalk = 1" in text


@pytest.mark.parametrize(
    ("data", "state"), [("0F00", U), ("", W), ("0000", R), (["0F00", "0000"] * 50 + ["0F00"], R)]
)
def test_no_value_and_short_frames(tmp_path, data, state):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), data)
    assert role(check(case))[0] is state


def test_a_need_that_another_item_supplies(tmp_path):
    case = Case(tmp_path)
    case.item("taker").need("unheard-of")
    case.item("giver").supply("unheard-of")
    case.log()
    assert role(check(case, "taker")) == (N, "comes from giver, once that is fitted")


# Items, channels, readings ---------------------------------------------------------------------------


def test_the_item_is_named_where_the_job_has_several(tmp_path):
    case = Case(tmp_path)
    case.item("one")
    case.item("two")
    with pytest.raises(UsageError, match="several items – say which with --item: one, two"):
        check(case)
    with pytest.raises(UsageError, match="no item 'three' – one of"):
        check(case, "three")
    assert check(case, "two").item == "two"


def test_the_channel_is_named_where_the_recording_has_several(tmp_path):
    case = lever_case(tmp_path)
    log = case.log()
    for pump in PUMPS:
        log.send(pump, every(0.1), "00", channel="can1")
    with pytest.raises(InputError, match=r"has 2 channels.*--channel: can0, can1"):
        check(case)
    with pytest.raises(InputError, match="has no channel can7 – it has can0, can1"):
        check(case, channel="can7")
    assert finding(check(case, channel="can0"), "network")[0] is R
    assert finding(check(case, channel="can1"), "network")[0] is W


def measured_job(case: Case, *lines: str) -> Path:
    path = case.write()
    path.write_text(path.read_text() + "\n[measured]\n" + "\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_readings_decide_with_the_traffic(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), "0000")
    assert check(case, measured=Measured(termination=60)).verdict is R
    assert check(case, measured=Measured(termination=70)).verdict is U
    assert check(case, measured=Measured(termination=120)).verdict is W


def test_the_jobs_readings_are_taken_unless_others_are_given(tmp_path):
    case = lever_case(tmp_path)
    job = load_job(measured_job(case, "termination = 120.0"))
    assert check_tap(job, job.items[0]).verdict is W
    assert check_tap(job, job.items[0], measured=Measured(termination=60)).verdict is U


def test_the_jobs_readings_of_another_network_are_not_used_and_that_is_said(tmp_path):
    case = lever_case(tmp_path)
    job = load_job(measured_job(case, 'network = "drive"', "termination = 120.0"))
    found = check_tap(job, job.items[0])
    assert found.verdict is U
    assert (found.unused_readings, found.readings_network) == (True, "drive")
    taken = check_tap(job, job.items[0], measured=Measured(termination=60))
    assert not taken.unused_readings


def test_readings_of_a_job_on_several_networks_must_say_of_which(tmp_path):
    case = Case(tmp_path)
    case.item("one", "body")
    case.item("two", "drive")
    job = load_job(measured_job(case, "termination = 60.0"))
    with pytest.raises(InputError, match=r"measured\.network: is missing.*body, drive"):
        check_tap(job, job.items[0])
