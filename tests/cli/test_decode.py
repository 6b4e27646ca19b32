"""``netcheck decode`` as it is typed."""

import csv
import json
from pathlib import Path

import pytest

from netcheck.cli import main
from tests.network.logs import Line, text_of
from tests.network.test_survey import CHANGES, repeats

DBC = """VERSION ""

NS_ :

BS_:

BU_: COLUMN

BO_ 256 Selector: 2 COLUMN
 SG_ Lever : 0|4@1+ (1,0) [0|0] "" COLUMN
 SG_ Speed : 15|8@0+ (0.5,0) [0|0] "km/h" COLUMN

VAL_ 256 Lever 0 "P" 1 "R" ;
"""
LOG = "(1.000000) can0 100#0110\n(1.100000) can1 100#0020\nnothing\n(1.200000) can0 100#01\n"


@pytest.fixture
def files(tmp_path: Path) -> tuple[str, str]:
    (tmp_path / "x.log").write_text(LOG)
    (tmp_path / "x.dbc").write_text(DBC)
    return str(tmp_path / "x.log"), str(tmp_path / "x.dbc")


def test_text(files: tuple[str, str], capsys: pytest.CaptureFixture[str]):
    log, dbc = files
    assert main(["decode", log, "--dbc", dbc]) == 0
    out, err = capsys.readouterr()
    assert "  Lever                            3  1× P, 2× R; last R\n" in out
    assert "  Speed                            2        8.0       16.0       16.0  km/h\n" in out
    assert "  - Selector.Speed: 1 of 3 frames\n" in out
    assert "  - 1 line skipped that hold no frame\n" in out
    assert err == ""


def test_csv(files: tuple[str, str], capsys: pytest.CaptureFixture[str]):
    log, dbc = files
    assert main(["decode", log, "--dbc", dbc, "--format", "csv", "--signal", "Selector.S*"]) == 0
    out, err = capsys.readouterr()
    assert out == (
        "time,channel,message,signal,raw,value,label\n"
        "1.000000,can0,Selector,Speed,16,8,\n"
        "1.100000,can1,Selector,Speed,32,16,\n"
    )
    assert f"netcheck: {log}: 1 line without a frame skipped\n" in err


def test_json_of_one_channel_into_a_file(files: tuple[str, str], tmp_path: Path):
    log, dbc = files
    target = tmp_path / "out.json"
    assert (
        main(["decode", log, "--dbc", dbc, "--format", "json", "--channel", "can1", "-o", str(target)]) == 0
    )
    found = json.loads(target.read_text())
    assert [one["raw"] for one in found["signals"]] == [[0], [32]]
    assert (found["schema"], found["skipped_lines"], found["frames"]) == ("netcheck.decode/1", 1, 3)


def test_parquet(files: tuple[str, str], tmp_path: Path):
    import pyarrow.parquet as pq

    log, dbc = files
    target = tmp_path / "out.parquet"
    assert main(["decode", log, "--dbc", dbc, "--format", "parquet", "-o", str(target)]) == 0
    assert pq.read_metadata(target).num_rows == 5


@pytest.mark.parametrize("form", ["text", "json", "csv", "parquet"])
@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["--signal", "Lver"], "no signal of {dbc} matches 'Lver' – did you mean Lever?"),
        (["--channel", "can7"], "{log} has no channel can7 – it has can0, can1"),
    ],
)
def test_nothing_fits_is_one_line_and_no_half_a_file(
    files: tuple[str, str],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    form: str,
    arguments: list[str],
    expected: str,
):
    log, dbc = files
    target = tmp_path / "out"
    assert main(["decode", log, "--dbc", dbc, "--format", form, "-o", str(target), *arguments]) == 2
    assert capsys.readouterr() == ("", "netcheck: " + expected.format(log=log, dbc=dbc) + "\n")
    assert not target.exists()


def test_csv_on_standard_output_begins_with_the_error_or_not_at_all(
    files: tuple[str, str], capsys: pytest.CaptureFixture[str]
):
    log, dbc = files
    assert main(["decode", log, "--dbc", dbc, "--format", "csv", "--signal", "Lver"]) == 2
    assert capsys.readouterr().out == ""


def test_missing_files_are_one_line(files: tuple[str, str], capsys: pytest.CaptureFixture[str]):
    log, dbc = files
    for arguments in (
        ["decode", log + "x", "--dbc", dbc],
        ["decode", log, "--dbc", dbc + "x"],
        ["decode", log],
    ):
        assert main(arguments) == 2
        out, err = capsys.readouterr()
        assert (out, err.count("\n")) == ("", 1)


def test_output_may_not_be_an_input(files: tuple[str, str], capsys: pytest.CaptureFixture[str]):
    log, dbc = files
    for target in files:
        assert main(["decode", log, "--dbc", dbc, "--format", "csv", "-o", target]) == 2
        assert "is an input of this command" in capsys.readouterr().err
    assert Path(log).read_text() == LOG


def test_several_dbc_files_are_one(
    files: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    log, dbc = files
    other = tmp_path / "y.dbc"
    other.write_text(DBC.replace("BO_ 256 Selector", "BO_ 256 Doubled").replace("BS_:", "BS_:\n"))
    assert main(["decode", log, "--dbc", dbc, "--dbc", str(other), "--format", "csv"]) == 0
    out, err = capsys.readouterr()
    assert {row["message"] for row in csv.DictReader(out.splitlines())} == {"Selector"}
    assert f"netcheck: {other}: message Doubled is left out, its id 0x100 is Selector of {dbc}\n" in err


def test_a_spreadsheet_gets_no_formulas(
    files: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    log, _ = files
    dbc = tmp_path / "formula.dbc"
    dbc.write_text(DBC.replace('1 "R"', '1 "=R"'))
    arguments = ["decode", log, "--dbc", str(dbc), "--signal", "Lever", "--format", "csv"]
    assert main(arguments) == 0
    assert ",1,1,=R\n" in capsys.readouterr().out
    assert main([*arguments, "--spreadsheet"]) == 0
    assert ",1,1,'=R\n" in capsys.readouterr().out
    assert main([*arguments[:-2], "--spreadsheet"]) == 2
    assert "--spreadsheet without --format csv" in capsys.readouterr().err


@pytest.mark.parametrize(("channel", "said"), [(None, True), ("can0", True), ("can1", False)])
def test_a_message_sent_at_changes_is_called_that(
    files: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str], channel, said
):
    """Its base period is told, not its rate while the lever is held."""
    log = tmp_path / "lever.log"
    seen = [line._replace(can_id=0x100) for line in repeats(*CHANGES, held=50)]
    other = [Line(100 * n, 0x100, b"\0\0", "can1") for n in range(100)]
    log.write_text(text_of([*seen, *other]))
    assert main(["decode", str(log), "--dbc", files[1], *(["--channel", channel] if channel else [])]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert (", every 1000 ms and at changes" in out) is said


OTHER = DBC.replace("BO_ 256 Selector", "BO_ 512 Rear").replace("VAL_ 256", "VAL_ 512")


def test_a_folder_of_dbc_files(files: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    log, _ = files
    folder = tmp_path / "dbc"
    folder.mkdir()
    (folder / "a.dbc").write_text(DBC)
    (folder / "B.DBC").write_text(OTHER)
    (folder / "notes.txt").write_text("no DBC")
    assert main(["decode", log, "--dbc", str(folder), "--format", "json", "--signal", "LEVER"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [(one["message"], one["samples"]) for one in found["signals"]] == [("Rear", 0), ("Selector", 3)]
    assert main(["decode", log, "--dbc", str(folder), "-o", str(folder / "a.dbc")]) == 2
    assert (folder / "a.dbc").read_text() == DBC


def test_a_folder_without_a_dbc_file(
    files: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    (tmp_path / "empty").mkdir()
    assert main(["decode", files[0], "--dbc", str(tmp_path / "empty")]) == 2
    assert "empty: has no DBC file – name a folder with *.dbc files" in capsys.readouterr().err
