"""A part that leaves a job after coding: what goes back."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netcheck.catalogue import load_job
from netcheck.cli import main
from netcheck.report import withdraw_json, withdraw_text
from netcheck.verdict import Verdict
from netcheck.withdraw import OtherItem, withdraw
from tests.acceptance.cases import Case
from tests.report.layout import overlong

JOB = Path(__file__).parents[2] / "sample_logs" / "puffin_2020_park_and_cruise.job.toml"
FIELD = {"byte": 1, "width": 1, "values": {0: "no", 1: "yes"}}


def shared_block(folder: Path) -> Case:
    """Two parts that change bits 0 and 4 of one byte."""
    case = Case(folder)
    case.module("gateway", title="Gateway")
    case.block("gateway", 0x2210, 2, first={**FIELD, "bit": 0}, second={**FIELD, "bit": 4})
    case.readout("gateway", 0x2210, "AA 40")
    case.item("one").code("gateway", "first", "yes")
    case.item("two").code("gateway", "second", "yes")
    return case


def test_only_the_bits_of_the_part_go_back(tmp_path: Path) -> None:
    found = withdraw(load_job(shared_block(tmp_path).write()), "one")
    (block,) = found.blocks
    assert (block.module, block.did, block.now, block.back, block.is_read) == (
        "gateway",
        "0x2210",
        "AA51",
        "AA50",
        False,
    )
    assert found.others == (OtherItem("two", Verdict.GO_WITH_CHANGES, Verdict.GO_WITH_CHANGES),)


def test_a_later_readout_is_what_it_starts_from(tmp_path: Path) -> None:
    case = shared_block(tmp_path).readout("gateway", 0x2210, "0B 59", when="after")
    (block,) = withdraw(load_job(case.write()), "one").blocks
    assert (block.now, block.back, block.is_read) == ("0B59", "0B58", True)


def test_what_another_part_wants_as_well_stays(tmp_path: Path) -> None:
    case = shared_block(tmp_path)
    case.item("three").code("gateway", "first", "yes")
    assert withdraw(load_job(case.write()), "one").blocks == ()


def test_the_only_part_of_a_job_leaves_nothing(tmp_path: Path) -> None:
    case = Case(tmp_path)
    case.module("gateway")
    case.block("gateway", 0x2210, 2, first={**FIELD, "bit": 0})
    case.item("one").code("gateway", "first", "yes")
    found = withdraw(load_job(case.write()), "one")
    assert (found.blocks, found.others, found.unread) == ((), (), (("gateway", "0x2210", "first"),))
    assert "gateway 0x2210 first: the old value was never read" in withdraw_text(found)


def test_what_it_gave_sent_and_replaced(tmp_path: Path) -> None:
    case = Case(tmp_path)
    case.item("radio").provide("video-in").supply("any", message_id=0x4A1).replace(role="other")
    case.item("camera").use("video-in")
    found = withdraw(load_job(case.write()), "radio")
    text = " ".join(withdraw_text(found).split())
    assert "No longer sent: 0x4A1 on body (any)." in text
    assert "Put back what it replaced: other." in text
    assert "Other parts no longer get video-in from it." in text
    assert "camera GO → UNPROVEN" in text


def test_faults_that_came_with_the_part_must_go_with_it(tmp_path: Path) -> None:
    case = shared_block(tmp_path)
    for when, faults in (("before", ["B123456"]), ("after", ["B123456", "U012187/08"])):
        case.readouts.append(f'[[readout]]\nmodule = "gateway"\nfaults = {faults}\nwhen = "{when}"\n')
    found = withdraw(load_job(case.write()), "one")
    assert [(check.fault.code, check.change) for check in found.modules.faults] == [
        ("B123456", "still"),
        ("U012187", "new"),
    ]
    text = " ".join(withdraw_text(found).split())
    assert (
        "What came since the fitting must be gone, once cleared: gateway U012187: confirmed (0x08)." in text
    )
    assert withdraw_json(found)["modules"]["faults"][1]["change"] == "new"
    assert "since the fitting" not in withdraw_text(withdraw(load_job(JOB), "cruise-stalk"))


def test_bytes_that_may_be_of_another_vehicle_are_told(tmp_path: Path) -> None:
    case = shared_block(tmp_path)
    case.readouts.append(
        '[[readout]]\nmodule = "gateway"\nwhen = "after"\nidentification = { 0xF190 = "ZZZ24000000000025" }\n'
    )
    file = case.write()
    file.write_text(f'{file.read_text("utf-8")}\n[identity]\nvin = "ZZZ24000000000017"\n', encoding="utf-8")
    text = " ".join(withdraw_text(withdraw(load_job(file), "one")).split())
    assert "gateway tells ZZZ24000000000025, the job is ZZZ24000000000017" in text


@pytest.mark.parametrize("width", [40, 80, 200])
def test_the_text_fits(width: int) -> None:
    assert overlong(withdraw_text(withdraw(load_job(JOB), "park-distance"), width=width), width) == []


def test_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", str(JOB), "--withdraw", "park-distance", "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["schema"], found["item"]) == ("netcheck.withdraw/1", "park-distance")
    assert [(block["module"], block["now"], block["back"]) for block in found["blocks"]] == [
        ("gateway", "4C011F228000", "4C011F028000"),
        ("body", "4A0013FF", "0A0013FF"),
        ("cluster", "013C700000085600", "013C500000085600"),
    ]
    assert main(["plan", str(JOB), "--withdraw", "park-distance"]) == 0
    assert "write back  4C 01 1F 02 80 00" in capsys.readouterr().out
