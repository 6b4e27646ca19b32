"""What was read from modules: in a job, in a file that a job includes, and in a later readback."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.errors import InputError
from netcheck.files import (
    Edition,
    EditionMatch,
    FaultCode,
    LoadedVehicle,
    ReadoutEntry,
    Vehicle,
    edition_of,
    json_schema,
    load_readback,
    load_readouts,
)

HEAD = 'kind = "readouts"\nformat = 1\n'


def vehicle() -> LoadedVehicle:
    model = Vehicle.model_validate(
        {
            "kind": "vehicle",
            "format": 1,
            "name": "Skerry 240",
            "model_years": [2017, 2022],
            "network": {"comfort": {"bitrate": 500_000, "dbc": "comfort.dbc"}},
            "module": {
                "gateway": {"coding": {"0x0600": {"length": 2}}},
                "cluster": {"years": [2019, 2022], "coding": {"0x0600": {"length": 1}}},
            },
        }
    )
    return LoadedVehicle(Path("skerry.vehicle.toml"), model)


def written(folder: Path, text: str) -> Path:
    path = folder / "after.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_blocks_in_file_order_and_each_once(tmp_path: Path) -> None:
    entry = '[[readout]]\nmodule = "gateway"\ndid = 0x0600\ndata = "3f 00"\n'
    text = HEAD + entry + '[[readout]]\nmodule = "cluster"\ndid = 1536\ndata = "0A"\nwhen = "after"\n' + entry
    found = load_readback(written(tmp_path, text), vehicle(), 2020).blocks
    assert [(r.module, r.did, r.data, r.when) for r in found] == [
        ("gateway", 0x0600, b"\x3f\x00", "after"),
        ("cluster", 0x0600, b"\x0a", "after"),
    ]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "the file is empty"),
        ('kind = "job"\nformat = 1\n', "this is a job file, not a readouts file"),
        ('kind = "readouts"\nformat = 2\n', "this version reads format 1"),
        (HEAD, "readout: is missing"),
        (HEAD + '[[readout]]\nmodule = "gateway"\ndid = 0x0600\ndata = "3F"\n', "1 bytes, but block 0x0600"),
        (HEAD + '[[readout]]\nmodule = "gateway"\ndid = 0x0600\ndata = "3F 0x"\n', "'x' is not a hex digit"),
        (HEAD + '[[readout]]\nmodule = "gateway"\ndid = 0x0601\ndata = "3F"\n', "no coding block 0x0601"),
        (HEAD + '[[readout]]\nmodule = "cluster"\ndid = 0x0600\ndata = "3F"\n', "model year 2018"),
        (
            HEAD + '[[readout]]\nmodule = "gateway"\ndid = 0x0600\ndata = "3F00"\nwhen = "before"\n',
            "readout[0].when: the text 'before' is not possible here",
        ),
        (
            HEAD
            + '[[readout]]\nmodule = "gateway"\ndid = 0x0600\ndata = "3F 00"\n'
            + '[[readout]]\nmodule = "gateway"\ndid = 0x0600\ndata = "3F 01"\n',
            "differs from readout[0]",
        ),
    ],
)
def test_a_faulty_file_is_one_line(tmp_path: Path, text: str, message: str) -> None:
    path = written(tmp_path, text)
    with pytest.raises(InputError) as caught:
        load_readback(path, vehicle(), 2018)
    assert message in str(caught.value)
    assert str(caught.value).startswith(f"{path}: ")
    assert "\n" not in str(caught.value)


def test_it_has_a_schema() -> None:
    schema = json_schema("readouts")
    assert schema["properties"]["kind"]["const"] == "readouts"
    assert "readout" in schema["required"]


BEFORE = (
    HEAD
    + """
[[readout]]
module = "gateway"
did = 0x0600
data = "3F00"
when = "before"
identification = { 0xF187 = "SK-GAT-1" }
faults = ["U012187/2F"]
[[readout]]
module = "gateway"
did = 0x0600
data = "3F01"
when = "after"
[[readout]]
module = "cluster"
faults = []
"""
)


def included(folder: Path, *entries: dict) -> tuple:
    written(folder, BEFORE)
    found = load_readouts(
        folder / "van.job.toml", [ReadoutEntry.model_validate(entry) for entry in entries], vehicle(), 2020
    )
    assert found.files == (folder / "after.toml",) * sum("file" in entry for entry in entries)
    return found.blocks, found.modules


def test_a_job_includes_a_file_and_says_when_where_the_file_does_not(tmp_path: Path) -> None:
    blocks, modules = included(tmp_path, {"file": "after.toml", "when": "after"})
    assert [(r.module, r.data.hex(), r.when, r.where) for r in blocks] == [
        ("gateway", "3f00", "before", "after.toml: readout[0]"),
        ("gateway", "3f01", "after", "after.toml: readout[1]"),
    ]
    assert [(r.module, r.when, dict(r.identification), r.faults) for r in modules] == [
        ("gateway", "before", {0xF187: "SK-GAT-1"}, (FaultCode("U012187", 0x2F),)),
        ("cluster", "after", {}, ()),
    ]
    assert included(tmp_path, {"file": "after.toml"})[1][1].when == "before"


def test_two_files_that_differ_are_named(tmp_path: Path) -> None:
    entry = {"module": "gateway", "did": 0x600, "data": "3F02", "when": "after"}
    with pytest.raises(InputError) as caught:
        included(tmp_path, entry, {"file": "after.toml"})
    assert str(caught.value).startswith(
        f"{tmp_path / 'after.toml'}: readout[1].data: differs from readout[0]"
    )
    with pytest.raises(InputError) as caught:
        included(tmp_path, {"file": "after.toml"}, entry)
    assert "differs from after.toml: readout[1]" in str(caught.value)


def test_a_readback_leaves_out_what_is_from_before(tmp_path: Path) -> None:
    found = load_readback(written(tmp_path, BEFORE), vehicle(), 2020)
    assert [block.data for block in found.blocks] == [b"\x3f\x01"]
    assert [(entry.module, entry.when) for entry in found.modules] == [("cluster", "after")]


@pytest.mark.parametrize(
    ("status", "is_stored"),
    [(None, True), (0x00, False), (0x50, False), (0x01, True), (0x04, True), (0x08, True), (0x2F, True)],
)
def test_a_fault_is_stored_unless_its_status_says_otherwise(status, is_stored) -> None:
    assert FaultCode("P0123", status).is_stored is is_stored


COLUMN = Edition(part="SK-COL", software=("0100..0199", "02"))
LATE = Edition(hardware="H7", years=(2021, 2022))


@pytest.mark.parametrize(
    ("reported", "year", "expected"),
    [
        ({0xF187: "SK-COL-A", 0xF189: "0142"}, 2020, EditionMatch.MATCHES),
        ({0xF187: "sk-col a", 0xF195: "0199 b"}, 2020, EditionMatch.MATCHES),
        ({0xF187: "SK-COL-A", 0xF189: "0200"}, 2020, EditionMatch.MATCHES),
        ({0xF187: "SK-COL-A", 0xF189: "0300"}, 2020, EditionMatch.OTHER),
        ({0xF187: "SK-GAT-A"}, 2020, EditionMatch.OTHER),
        ({0xF187: "SK-COL-A"}, 2020, EditionMatch.UNKNOWN),
        ({}, 2020, EditionMatch.UNKNOWN),
        ({0xF191: "H71"}, 2021, EditionMatch.MATCHES),
        ({0xF191: "H71", 0xF187: "SK-GAT-A"}, 2020, EditionMatch.OTHER),
        ({0xF191: "H6", 0xF187: "SK-GAT-A"}, 2021, EditionMatch.OTHER),
    ],
)
def test_an_edition_is_told_by_what_the_module_reports(reported, year, expected) -> None:
    assert edition_of((COLUMN, LATE), reported, year) is expected


def test_without_editions_there_is_nothing_to_tell() -> None:
    assert edition_of((), {}, 2020) is EditionMatch.MATCHES
