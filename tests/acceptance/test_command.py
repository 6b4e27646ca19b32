"""``netcheck plan --format json``: the same plan for scripts, and the exit status."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from tests.acceptance.cases import LEVER, Case, during, every


def run(*arguments):
    return subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys; from netcheck.cli import main; sys.exit(main())",
            *map(str, arguments),
        ],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )


def van(folder):
    case = Case(folder).module("gateway").facts(link="LIN")
    case.block(
        "gateway",
        0x0600,
        4,
        park={"byte": 2, "bit": 5, "width": 1, "values": {0: "absent", 1: "fitted"}},
    )
    case.readout("gateway", 0x0600, "03001F00")
    case.role("reverse", "body LeverStatus Gear", active=["R"])
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, "01000000", "00000000")).mark("reverse", 2.0, 5.0)
    return case


def test_the_json_says_what_the_plan_says(tmp_path):
    case = van(tmp_path)
    part = case.item().need("reverse", evidence="answers").code("gateway", "park", "fitted")
    part.supply("park.left", message_id=LEVER).match("stages", 2)
    done = run("plan", case.write(), "--format", "json")
    assert done.returncode == 1
    plan = json.loads(done.stdout)
    assert plan["schema"] == "netcheck.plan/1"
    assert (plan["vehicle"], plan["model_year"], plan["verdict"]) == ("Test van", 2020, "no-go")
    (item,) = plan["items"]
    assert (item["retrofit"], item["network"], item["verdict"]) == ("part", "body", "no-go")
    (need,) = item["needs"]
    assert need.pop("text")
    wanted = {
        "role": "reverse",
        "status": "shown",
        "reason": "ok",
        "evidence": "answers",
        "network": "body",
        "message": "LeverStatus",
        "signal": "Gear",
        "optional": False,
    }
    assert wanted.items() <= need.items()
    wanted = {
        "module": "gateway",
        "did": "0x0600",
        "field": "park",
        "from": "absent",
        "to": "fitted",
        "byte": 2,
        "before": "1F",
        "after": "3F",
        "status": "to-do",
    }
    assert wanted.items() <= item["coding"][0].items()
    assert [conflict["kind"] for conflict in item["conflicts"]] == ["id-in-use"]
    assert [question["fact"] for question in item["questions"]] == ["stages"]
    assert plan["writes"] == [
        {"module": "gateway", "did": "0x0600", "before": "03001F00", "after": "03003F00"}
    ]
    assert {step["phase"] for step in plan["checklist"]} <= {"before", "fit", "code", "prove", "handover"}
    assert all(step.keys() >= {"phase", "item", "text"} for step in plan["checklist"])
    (used,) = plan["captures"]
    assert (used["channel"], used["network"], used["frames"]) == ("can0", "body", 404)
    assert used["seconds"] == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("verdict", "status"), [("go", 0), ("go-with-changes", 0), ("unproven", 3), ("no-go", 1)]
)
def test_the_exit_status_is_that_of_the_verdict(tmp_path, verdict, status):
    case = van(tmp_path)
    item = case.item().need("reverse")
    if verdict == "go-with-changes":
        item.code("gateway", "park", "fitted")
    elif verdict == "unproven":
        item.match("stages", 2)
    elif verdict == "no-go":
        item.require("radio")
    done = run("plan", case.write(), "--format", "json")
    assert (json.loads(done.stdout)["verdict"], done.returncode) == (verdict, status)


def test_what_cannot_be_planned_is_one_line_and_status_2(tmp_path):
    case = van(tmp_path)
    case.year = 2040
    case.item().need("reverse")
    done = run("plan", case.write(), "--format", "json")
    assert (done.returncode, done.stdout) == (2, "")
    assert len(done.stderr.splitlines()) == 1
    assert "2040" in done.stderr


def test_a_plan_of_a_vehicle_and_a_retrofit_needs_no_job(tmp_path):
    case = van(tmp_path)
    case.item().need("reverse")
    case.write()
    files = ["--vehicle", tmp_path / "van.vehicle.toml", "--retrofit", tmp_path / "part.retrofit.toml"]
    place = ["--network", "body", "--capture", tmp_path / "log0.log", "--year", "2020"]
    done = run("plan", *files, *place, "--format", "json")
    assert done.returncode == 0, done.stderr
    (item,) = json.loads(done.stdout)["items"]
    assert (item["needs"][0]["status"], item["network"]) == ("shown", "body")
