"""``netcheck coding`` from job files on disk."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netcheck.cli import main
from tests.cli.jobs import (
    AFTER_CLUSTER,
    AFTER_GATEWAY,
    CLUSTER,
    GATEWAY,
    READOUTS,
    RETROFIT,
    write_job,
)
from tests.report.layout import overlong

Capsys = pytest.CaptureFixture[str]

AFTER = ' \nwhen = "after"\n'


def run(capsys: Capsys, *arguments: str) -> tuple[int, str, str]:
    status = main(["coding", *arguments])
    printed = capsys.readouterr()
    return status, printed.out, printed.err


def test_what_to_write_and_the_way_back(tmp_path: Path, capsys: Capsys) -> None:
    job = write_job(tmp_path, GATEWAY + CLUSTER)
    status, out, err = run(capsys, str(job))
    assert (status, err) == (0, "")
    assert "TO DO: 2 blocks to write." in out
    assert out.index("1. cluster (Instrument cluster) block 0x2240") < out.index("2. gateway block 0x0600")
    assert "  Last: it asks every module it lists at the next ignition-on.\n" in out
    assert (
        "  old, to revert  03 00 1F 00\n"
        "  new             03 00 3F 00\n"
        "                        ^^\n"
        "  byte 2 bit 5: 0 → 1, park_distance_module: absent → fitted\n"
        "    for park-sensors: the gateway lists the new module\n"
    ) in out
    assert "netcheck writes nothing to a vehicle" in out
    assert "battery support unit" in out
    assert overlong(out, 80) == []
    assert "\x1b" not in out


def test_without_readouts_nothing_is_written(tmp_path: Path, capsys: Capsys) -> None:
    status, out, _ = run(capsys, str(write_job(tmp_path)))
    assert status == 3
    assert "NOT ALL KNOWN: 2 present values unknown." in out
    assert "to revert" not in out
    assert "? gateway 0x0600: park_distance_module should become fitted, for park-sensors" in out


def test_nothing_to_do(tmp_path: Path, capsys: Capsys) -> None:
    status, out, _ = run(capsys, str(write_job(tmp_path, AFTER_GATEWAY + AFTER_CLUSTER)))
    assert status == 0
    assert "DONE: 2 values are already there." in out
    assert "+ gateway 0x0600: park_distance_module is fitted, for park-sensors" in out


def test_a_job_that_codes_nothing(tmp_path: Path, capsys: Capsys) -> None:
    job = write_job(tmp_path, sensors__retrofit__toml=RETROFIT.partition("[[code]]")[0])
    status, out, _ = run(capsys, str(job))
    assert status == 0
    assert "NOTHING TO CODE" in out


def test_two_items_that_want_different_values(tmp_path: Path, capsys: Capsys) -> None:
    other = RETROFIT.replace('"park-sensors"', '"no-sensors"').replace('"fitted"', '"absent"')
    item = '\n[[item]]\nretrofit = "none.retrofit.toml"\nnetwork = "comfort"\n'
    job = write_job(tmp_path, item + GATEWAY + CLUSTER, none__retrofit__toml=other)
    status, out, _ = run(capsys, str(job))
    assert status == 1
    assert "BLOCKED: " in out
    assert "── Blocked by" in out
    assert "03 00 3F 00" not in out
    stop = "Do not write this block: it contains a change for park-sensors and no-sensors"  # the cluster's
    assert stop in " ".join(out.split())


def test_a_field_that_the_vehicle_file_lacks(tmp_path: Path, capsys: Capsys) -> None:
    retrofit = RETROFIT.replace('"park_display"', '"picture_display"')
    job = write_job(tmp_path, GATEWAY + CLUSTER, sensors__retrofit__toml=retrofit)
    status, out, _ = run(capsys, str(job))
    assert status == 1
    assert "picture_display" in out


@pytest.mark.parametrize(
    ("after", "status", "texts"),
    [
        (AFTER_GATEWAY + AFTER_CLUSTER, 0, ["HOLDS: 2 of 2 wanted values hold; no other bit changed"]),
        (
            GATEWAY + AFTER_CLUSTER,
            1,
            ["DOES NOT HOLD: 1 of 2", "park_distance_module should be fitted, is absent"],
        ),
        (
            AFTER_GATEWAY.replace("3F 00", "3F 04") + AFTER_CLUSTER,
            1,
            [
                "DOES NOT HOLD: 2 of 2",
                "byte 3 bit 2: 0 → 1, no field of the vehicle file",
                "to revert the whole block",
            ],
        ),
        (
            AFTER_GATEWAY.replace("03 00", "01 00") + AFTER_CLUSTER,
            1,
            ["other bits changed too", "byte 0: 03 → 01, market: mainland → island"],
        ),
        (
            AFTER_GATEWAY,
            3,
            ["NOT ALL KNOWN: 1 of 2", "NOT READ   cluster 0x2240 park_display should be bars"],
        ),
    ],
)
def test_read_back(tmp_path: Path, capsys: Capsys, after: str, status: int, texts: list[str]) -> None:
    job = write_job(tmp_path, GATEWAY + CLUSTER, after__toml=READOUTS + after)
    found, out, err = run(capsys, str(job), "--readback", str(tmp_path / "after.toml"))
    assert (found, err) == (status, "")
    for text in texts:
        assert text in out
    assert "old, to revert  03 00 1F 00" in out


def test_without_an_earlier_readout_other_bits_cannot_be_told(tmp_path: Path, capsys: Capsys) -> None:
    job = write_job(tmp_path, after__toml=READOUTS + AFTER_GATEWAY + AFTER_CLUSTER)
    status, out, _ = run(capsys, str(job), "--readback", str(tmp_path / "after.toml"))
    assert status == 3
    assert "2 of 2 wanted values hold; for some blocks nothing tells whether other bits changed" in " ".join(
        out.split()
    )
    assert "Read first" not in out


def test_the_job_s_own_later_readouts(tmp_path: Path, capsys: Capsys) -> None:
    later = AFTER_GATEWAY + AFTER + AFTER_CLUSTER + AFTER
    status, out, _ = run(capsys, str(write_job(tmp_path, GATEWAY + CLUSTER + later)))
    assert status == 0
    assert "── Read back: the job's readouts from after the fitting" in out


def test_json(tmp_path: Path, capsys: Capsys) -> None:
    job = write_job(
        tmp_path, GATEWAY + CLUSTER, after__toml=READOUTS + AFTER_GATEWAY.replace("3F 00", "3F 04")
    )
    status, out, err = run(capsys, str(job), "--format", "json", "--readback", str(tmp_path / "after.toml"))
    assert (status, err) == (1, "")
    found = json.loads(out)
    assert (found["schema"], found["vehicle"], found["model_year"]) == (
        "netcheck.coding/1",
        "Skerry 240",
        2020,
    )
    assert found["coding"][0] == {
        "item": "park-sensors",
        "module": "gateway",
        "did": "0x0600",
        "field": "park_distance_module",
        "from": "absent",
        "to": "fitted",
        "byte": 2,
        "before": "1F",
        "after": "3F",
        "mask": "20",
        "status": "to-do",
        "unlock": None,
        "why": "the gateway lists the new module",
    }
    assert [(write["module"], write["before"]) for write in found["writes"]][1] == ("gateway", "03001F00")
    assert found["writes"][1]["changes"] == [
        {
            "byte": 2,
            "bytes": 1,
            "bit": 5,
            "width": 1,
            "before": 0,
            "after": 1,
            "field": "park_distance_module",
            "from": "absent",
            "to": "fitted",
            "for": ["for park-sensors: the gateway lists the new module"],
        }
    ]
    back = found["readback"]
    assert back["holds"] is False
    assert [check["status"] for check in back["fields"]] == ["holds", "unread"]
    assert back["blocks"][0]["expected"] == "03003F00"
    assert [(change["byte"], change["bit"], change["field"]) for change in back["blocks"][0]["foreign"]] == [
        (3, 2, None)
    ]


def test_json_without_a_readback(tmp_path: Path, capsys: Capsys) -> None:
    status, out, _ = run(capsys, str(write_job(tmp_path, GATEWAY)), "--format", "json")
    assert status == 3
    assert json.loads(out)["readback"] is None


def test_into_a_file_and_never_over_an_input(tmp_path: Path, capsys: Capsys) -> None:
    job = write_job(tmp_path, GATEWAY + CLUSTER, after__toml=READOUTS + AFTER_GATEWAY)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    status, out, err = run(capsys, str(job), "-o", str(tmp_path / "coding.txt"))
    assert (status, out, err) == (0, "", "")
    assert "TO DO" in (tmp_path / "coding.txt").read_text(encoding="utf-8")
    for name in ("van.job.toml", "skerry.vehicle.toml", "comfort.dbc", "sensors.retrofit.toml", "after.toml"):
        target = str(tmp_path / name)
        status, out, err = run(capsys, str(job), "--readback", str(tmp_path / "after.toml"), "-o", target)
        assert (status, out) == (2, "")
        assert err == f"netcheck: {target}: -o: is an input of this command – name another file to write\n"
    (tmp_path / "coding.txt").unlink()
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


@pytest.mark.parametrize(
    ("name", "text", "message"),
    [
        ("van.job.toml", "", "van.job.toml: the file is empty"),
        ("skerry.vehicle.toml", None, "van.job.toml: vehicle: no such file"),
        ("comfort.dbc", None, "skerry.vehicle.toml: network.comfort.dbc: no such file"),
        ("after.toml", None, "after.toml: no such file"),
        ("after.toml", READOUTS + GATEWAY.replace("1F", "1G"), "'G' is not a hex digit"),
        (
            "after.toml",
            READOUTS + GATEWAY.replace("gateway", "gatewy"),
            "'gatewy' is not a module of the vehicle",
        ),
        ("after.toml", 'kind = "marks"\nformat = 1\n', "this is a marks file, not a readouts file"),
    ],
)
def test_bad_input_is_one_line(
    tmp_path: Path, capsys: Capsys, name: str, text: str | None, message: str
) -> None:
    job = write_job(tmp_path, GATEWAY, after__toml=READOUTS + AFTER_GATEWAY)
    if text is None:
        (tmp_path / name).unlink()
    else:
        (tmp_path / name).write_text(text, encoding="utf-8")
    status, out, err = run(capsys, str(job), "--readback", str(tmp_path / "after.toml"))
    assert (status, out) == (2, "")
    assert message in err
    assert err.startswith(f"netcheck: {tmp_path}")
    assert err.count("\n") == 1
