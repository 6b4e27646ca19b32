"""``netcheck survey`` from the outside."""

from __future__ import annotations

import gzip
import json
from pathlib import Path

import pytest

from netcheck.cli import main
from tests.network.logs import ERROR_FLAG, Line, text_of

ROOT = Path(__file__).parent.parent.parent
VEHICLE = str(ROOT / "dbc" / "skerry_240.vehicle.toml")
BOTH = str(ROOT / "sample_logs" / "puffin_2020_comfort_drive.log.gz")
VAN = str(ROOT / "sample_logs" / "guillemot_2021_conversion.log")


def write(folder: Path, lines: list[Line], name: str = "x.log") -> str:
    path = folder / name
    path.write_text(text_of(lines), encoding="utf-8")
    return str(path)


def surveyed(capsys, *arguments: str):
    assert main(["survey", *arguments, "--format", "json"]) == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    return json.loads(printed.out)


def refused(capsys, *arguments: str) -> str:
    assert main(["survey", *arguments]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1
    return printed.err


def test_json_has_what_the_schema_promises(capsys):
    found = surveyed(capsys, BOTH, "--vehicle", VEHICLE)
    assert found["schema"] == "netcheck.survey/1"
    assert found["file"] == BOTH
    assert found["skipped_lines"] == 0
    drive, comfort = found["channels"]
    assert [(c["channel"], c["network"], c["bitrate"]) for c in (drive, comfort)] == [
        ("can1", "drive", 500_000), ("can0", "comfort", 125_000),
    ]  # fmt: skip
    assert {"network": "drive", "explained": 35, "ids": 36}.items() <= drive["candidates"][0].items()
    assert {"mean", "peak_100ms", "peak_1s"} <= drive["load"].keys()
    assert drive["load"]["mean"] < drive["load"]["peak_1s"] < drive["load"]["peak_100ms"] < 1
    assert drive["error_frames"] == 0
    angle = next(message for message in drive["messages"] if message["name"] == "SteerAngle")
    assert (angle["id"], angle["extended"], angle["lengths"], angle["cyclic"]) == ("0x08A", False, [8], True)
    assert angle["period_ms"] == pytest.approx(10, rel=0.01)
    assert angle["jitter_ms"][0] <= angle["period_ms"] <= angle["jitter_ms"][1] <= angle["longest_gap_ms"]
    assert angle["checksum"].items() >= {"kind": "crc8-sae-j1850", "share": 1.0}.items()
    assert angle["counter"].keys() >= {"bit", "width", "share"}


def test_dbc_files_and_folders_are_candidates_by_name(capsys):
    (channel,) = surveyed(capsys, VAN, "--dbc", str(ROOT / "dbc"))["channels"]
    assert channel["network"] == "skerry_conversion"
    assert channel["bitrate"] is None
    assert channel["load"] is None
    assert channel["j1939"]
    (channel,) = surveyed(
        capsys, VAN, "--dbc", str(ROOT / "dbc" / "skerry_drive.dbc"), "--bitrate", "250000"
    )["channels"]
    assert channel["network"] is None
    assert channel["load"]["mean"] > 0


def test_a_bad_dbc_in_a_folder_is_left_out_and_said(tmp_path, capsys):
    (tmp_path / "a.dbc").write_bytes((ROOT / "dbc" / "skerry_conversion.dbc").read_bytes())
    (tmp_path / "b.dbc").write_text("no dbc at all")
    assert main(["survey", VAN, "--dbc", str(tmp_path), "--format", "json"]) == 0
    printed = capsys.readouterr()
    assert json.loads(printed.out)["channels"][0]["network"] == "a"
    assert "left out" in printed.err
    assert "b.dbc" in printed.err
    assert "not a DBC file" in refused(capsys, VAN, "--dbc", str(tmp_path / "b.dbc"))


def test_several_captures_are_a_list_and_one_that_is_bad_stops_no_other(tmp_path, capsys):
    good = write(tmp_path, [Line(n, 0x100, b"\1") for n in range(20)])
    assert main(["survey", good, str(tmp_path / "gone.log"), "--format", "json"]) == 2
    printed = capsys.readouterr()
    assert [one["file"] for one in json.loads(printed.out)] == [good]
    assert "gone.log" in printed.err


@pytest.mark.parametrize("content", ["", "# recorded by the tap\n\n"])
def test_silence_has_its_own_message(tmp_path, capsys, content):
    path = tmp_path / "quiet.log"
    path.write_text(content)
    line = refused(capsys, str(path))
    assert "quiet.log" in line
    assert "silent" in line
    assert "ignition on" in line


def test_junk_is_not_silence(tmp_path, capsys):
    path = tmp_path / "junk.log"
    path.write_bytes(bytes(range(256)) * 4)
    assert "silent" not in refused(capsys, str(path))


def test_a_wrong_bit_rate_says_what_to_try(tmp_path, capsys):
    path = write(tmp_path, [Line(n, ERROR_FLAG | 8, "0000040000000000") for n in range(50)])
    assert main(["survey", path]) == 0
    text = capsys.readouterr().out
    assert "can0: no message" in text
    assert "The recorder is set to the wrong bit rate" in " ".join(text.split())
    assert "Try another bit rate (500000," in text


def test_a_data_id_is_used(tmp_path, capsys):
    from tests.network.test_profiles import protected

    path = write(tmp_path, [Line(10 * n, 0x1F0, data) for n, data in enumerate(protected("both", 0x123, 40))])
    (channel,) = surveyed(capsys, path, "--data-id", "0x1F0=0x123")["channels"]
    assert channel["messages"][0]["checksum"]["kind"] == "autosar-e2e-profile-1"
    assert channel["messages"][0]["checksum"]["mode"] == "both"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--vehicle", VEHICLE, "--dbc", VEHICLE], "--vehicle and --dbc together"),
        (["--bitrate", "500"], "500 is no bit rate"),
        (["--fd-bitrate", "2000000"], "without --bitrate"),
        (["--data-id", "123"], "such as 0x123=0x0A5F"),
        (["--data-id", "0x123=zz"], "such as 0x123=0x0A5F"),
        (["--data-id", "0x123=1,2"], "of no profile"),
        (["--dbc", str(ROOT / "netcheck" / "guide")], "has no DBC file"),
    ],
)
def test_bad_usage_is_one_line(capsys, arguments, said):
    assert said in refused(capsys, VAN, *arguments)


def test_an_input_is_not_overwritten(tmp_path, capsys):
    path = write(tmp_path, [Line(n, 0x100, b"\1") for n in range(20)])
    before = Path(path).read_text()
    assert "is an input" in refused(capsys, path, "-o", path)
    assert Path(path).read_text() == before


def test_packed_and_cut_captures_are_surveyed_as_far_as_they_go(tmp_path, capsys):
    path = tmp_path / "x.log.gz"
    whole = gzip.compress(text_of([Line(n, 0x100, bytes([n % 256])) for n in range(5000)]).encode())
    path.write_bytes(whole[:-2000])
    found = surveyed(capsys, str(path))
    assert 0 < found["frames"] < 5000
    assert found["warnings"]


def test_what_a_csv_header_leaves_open_is_asked_for(tmp_path, capsys):
    path = tmp_path / "x.csv"
    path.write_text("Time,ID,Data\n" + "".join(f"{n},{100 + n % 2},{n:02d}\n" for n in range(0, 50, 10)))
    assert "tell it with --csv id=hex or id=dec" in refused(capsys, str(path))
    assert "says nothing of the columns" in refused(capsys, str(path), "--csv", "id=octal")
    found = surveyed(capsys, str(path), "--csv", "time=ms,id=dec,data=hex")
    assert [message["id"] for message in found["channels"][0]["messages"]] == ["0x064"]
    log = tmp_path / "x.log"
    assert main(["trim", str(path), "--csv", "time=ms,id=hex,data=hex", "-o", str(log)]) == 0
    assert log.read_text().splitlines()[1] == "(0000000000.010000) can0 100#10"
