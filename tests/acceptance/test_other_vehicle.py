"""Captures and readouts of another vehicle than the job's: told at once, by the number that they tell."""

from __future__ import annotations

from pathlib import Path

import pytest

import netcheck
from netcheck.plan import Plan, make_plan
from netcheck.report import plan_text
from netcheck.verdict import OtherVin
from tests.acceptance.cases import Case, lever_case

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
