"""Captures and readouts of another vehicle than the job's: told at once, by the number that they tell."""

from __future__ import annotations

from pathlib import Path

import pytest

import netcheck
from netcheck.plan import Plan, make_plan
from netcheck.report import plan_text
from netcheck.verdict import OtherDevices, OtherIds, OtherVin, VehicleDoubt
from tests.acceptance.cases import Case, every, lever_case

MINE, OTHER = "ZZZ24000000000017", "ZZZ24000000000025"


def with_answer(case: Case, vin: str) -> Case:
    """The case with one more capture, in which a module tells the number."""
    data = (b"\x62\xf1\x90" + vin.encode()).hex().upper()
    frames = ["1014" + data[:12], "21" + data[12:26], "22" + data[26:40]]
    log = case.log()
    log.send(0x7E0, [1.05], "300000")
    for at, frame in enumerate(frames):
        log.send(0x7E8, [1.0 + at / 10], frame)
    return case


def plan(case: Case, vin: str | None = None) -> Plan:
    file = case.write()
    if vin is not None:
        file.write_text(f'{file.read_text(encoding="utf-8")}\n[identity]\nvin = "{vin}"\n', encoding="utf-8")
    return make_plan(netcheck.load_job(file))


def told(found: Plan) -> list[tuple[str, str, str]]:
    return [
        (warning.vin, warning.expected, warning.other)
        for warning in found.warnings
        if isinstance(warning, OtherVin)
    ]


def test_a_capture_that_tells_another_number_is_told_with_the_verdict(tmp_path: Path) -> None:
    found = plan(with_answer(lever_case(tmp_path), OTHER), MINE)
    assert told(found) == [(OTHER, MINE, "")]
    text = " ".join(plan_text(found).split())
    assert "A capture tells another VIN: is it of this vehicle?" in text.split("Why")[0]
    assert f"1. Clear up first which vehicle {found.captures[-1].file} is of: it tells VIN {OTHER}" in text


def test_the_same_number_or_none_is_not_told(tmp_path: Path) -> None:
    assert told(plan(with_answer(lever_case(tmp_path), MINE), MINE)) == []
    assert told(plan(lever_case(tmp_path), MINE)) == []
    assert told(plan(with_answer(lever_case(tmp_path), MINE))) == []


def test_without_a_number_in_the_job_captures_are_compared_with_each_other(tmp_path: Path) -> None:
    case = with_answer(with_answer(lever_case(tmp_path), MINE), OTHER)
    ((vin, expected, other),) = told(plan(case))
    assert (vin, expected) == (OTHER, MINE)
    assert other


def test_the_head_of_the_text_names_the_vehicle(tmp_path: Path) -> None:
    assert plan_text(plan(lever_case(tmp_path), MINE)).splitlines()[1] == f"VIN {MINE}"


# ---------------------------------------------------------------------------- messages of the network


def with_parts(case: Case, vin: str, can_id: int = 0x3C6, when: str = "before") -> Case:
    """The case with one more capture, in which a message sends the number in three numbered parts."""
    parts = [bytes([part]) + vin[7 * part : 7 * part + 7].encode().ljust(7, b"\0") for part in range(3)]
    times = every(0.5)
    payloads = [parts[number % 3].hex().upper() for number in range(len(times))]
    case.log(**({} if when == "before" else {"when": when})).send(can_id, times, payloads)
    return case


def test_a_number_that_a_message_sends_in_parts_is_told(tmp_path: Path) -> None:
    assert told(plan(with_parts(lever_case(tmp_path), OTHER), MINE)) == [(OTHER, MINE, "")]
    assert told(plan(with_parts(lever_case(tmp_path), MINE), MINE)) == []
    two = plan(with_parts(with_parts(lever_case(tmp_path), MINE), OTHER))
    assert told(two) == [(OTHER, MINE, two.captures[-2].file)]


def test_parts_that_change_or_are_no_number_tell_nothing(tmp_path: Path) -> None:
    case = with_parts(lever_case(tmp_path), OTHER)
    case.logs[-1].send(0x3C6, [9.9], "0141424344454647")
    assert told(plan(case, MINE)) == []
    assert told(plan(with_parts(lever_case(tmp_path), "not a number 0017"), MINE)) == []
    assert told(plan(with_parts(lever_case(tmp_path), OTHER, when="after"), MINE)) == []


def claim(case: Case, *names: int) -> Case:
    """The case with one more capture, in which devices claim addresses from 0x10 on."""
    log = case.log()
    for number, name in enumerate(names):
        claimed = name.to_bytes(8, "little").hex().upper()
        log.send(0x18EEFF10 + number, [1.0 + number / 10], claimed, extended=True)
    return case


ENGINE, BRAKES, OTHER_ENGINE = 0x0000_0000_0020_1A2B, 0x0000_0B00_0020_1A2C, 0x0000_0000_0020_7777


def doubts(found: Plan) -> list[VehicleDoubt]:
    return [warning for warning in found.warnings if isinstance(warning, VehicleDoubt)]


def test_captures_without_one_device_number_in_common_are_told(tmp_path: Path) -> None:
    found = plan(claim(claim(lever_case(tmp_path), ENGINE, BRAKES), OTHER_ENGINE))
    first, second = (use.file for use in found.captures[-2:])
    assert doubts(found) == [OtherDevices(second, first, "body", 1, 2)]
    text = " ".join(plan_text(found).split())
    assert "Two captures look like two vehicles: are both of this one?" in text.split("Why")[0]
    assert (
        f"1. Clear up first whether {second} and {first} are of one vehicle: no J1939 device number" in text
    )
    assert doubts(plan(claim(claim(lever_case(tmp_path), ENGINE, BRAKES), BRAKES))) == []


def strangers(case: Case, ids: range, length: int = 1) -> Case:
    """The case with one more capture: the network's background, and messages of other ids."""
    log = case.log()
    for can_id in ids:
        log.send(can_id, every(1.0), "00" * length)
    return case


def test_captures_with_too_few_ids_in_common_are_told(tmp_path: Path) -> None:
    # Both are body (its three lamps), identified by half of the DBC (4 of 9 ids) and by half of the ids.
    case = strangers(strangers(Case(tmp_path), range(0x300, 0x305)), range(0x400, 0x403))
    case.role("door-open", "body DoorStatus Open", active=["open"]).item().need("door-open")
    case.logs[0].send(0x120, every(1.0), "0000")
    found = plan(case)
    assert doubts(found) == [OtherIds("log0.log", "log1.log", "body", 3, 12, (4, 9), (3, 6))]


@pytest.mark.parametrize(("ids", "count"), [(range(0x400, 0x402), 0), (range(0x400, 0x403), 1)])
def test_a_capture_that_lacks_ids_or_has_less_than_three_of_its_own_is_not_told(
    tmp_path: Path, ids: range, count: int
) -> None:
    assert doubts(plan(strangers(lever_case(tmp_path), range(0)))) == []
    case = strangers(strangers(Case(tmp_path), range(0x300, 0x305)), ids)
    case.logs[0].send(0x120, every(1.0), "0000")
    case.role("door-open", "body DoorStatus Open", active=["open"]).item().need("door-open")
    assert len(doubts(plan(case))) == count


def test_messages_of_another_length_are_not_alike(tmp_path: Path) -> None:
    case = strangers(strangers(Case(tmp_path), range(0x300, 0x303)), range(0x300, 0x303), 2)
    case.role("door-open", "body DoorStatus Open", active=["open"]).item().need("door-open")
    assert doubts(plan(case)) == [OtherIds("log1.log", "log0.log", "body", 3, 6, (3, 6), (3, 6))]


# ---------------------------------------------------------------------------- readouts


def with_readout(case: Case, vin: str, when: str = "before", did: str = "0xF190") -> Case:
    """The case with the identification of its module "gateway"."""
    if not case.readouts:
        case.module("gateway")
    case.readouts.append(
        f'[[readout]]\nmodule = "gateway"\nidentification = {{ {did} = "{vin}" }}\nwhen = "{when}"\n'
    )
    return case


@pytest.mark.parametrize("did", ["0xF190", "0xF802"])
def test_a_readout_that_tells_another_number_is_told_with_the_verdict(tmp_path: Path, did: str) -> None:
    found = plan(with_readout(lever_case(tmp_path), OTHER, did=did), MINE)
    assert told(found) == [(OTHER, MINE, "")]
    text = " ".join(plan_text(found).split())
    assert "A readout tells another VIN: is it of this vehicle?" in text.split("Why")[0]
    assert (
        f"1. Clear up first which vehicle was read out (readout[0]): module gateway tells VIN {OTHER}" in text
    )
    assert f"readout[0]: module gateway tells VIN {OTHER}, the job {MINE}: read from another" in text


def test_a_readout_from_after_the_fitting_or_with_the_same_number_is_not_told(tmp_path: Path) -> None:
    assert told(plan(with_readout(lever_case(tmp_path), OTHER, "after"), MINE)) == []
    assert told(plan(with_readout(lever_case(tmp_path), MINE), MINE)) == []
    assert told(plan(with_readout(lever_case(tmp_path), OTHER))) == []


def test_without_a_number_in_the_job_a_readout_is_compared_with_the_captures(tmp_path: Path) -> None:
    found = plan(with_readout(with_answer(lever_case(tmp_path), MINE), OTHER))
    assert told(found) == [(OTHER, MINE, found.captures[-1].file)]
    two = with_readout(with_readout(lever_case(tmp_path), MINE), OTHER)
    assert told(plan(two)) == [(OTHER, MINE, "readout[0]")]
