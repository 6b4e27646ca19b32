"""A file of coding blocks as read after they were written."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.errors import InputError
from netcheck.files import LoadedVehicle, Vehicle, json_schema, load_readback

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
    found = load_readback(written(tmp_path, text), vehicle(), 2020)
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
