"""How large a plan may become: jobs, retrofits and captures that no vehicle has are refused in one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck import load_job, make_plan
from netcheck.catalogue import assemble_job
from netcheck.errors import InputError, UsageError
from netcheck.evidence import _observe
from netcheck.files import MOST_ITEMS
from netcheck.verdict import _items
from tests.cli.jobs import write_job

ITEM = '[[item]]\nretrofit = "sensors.retrofit.toml"\nnetwork = "comfort"\n'
HEAD = 'kind = "job"\nformat = 1\nvehicle = "skerry.vehicle.toml"\nmodel_year = 2020\n'
SUPPLY = '[[supply]]\nroles = ["park.rear"]\nmessage_id = 0x4A1\nperiod_ms = 100\nlength = 8\n'


def job(folder: Path, items: int) -> Path:
    path = write_job(folder)
    path.write_text(HEAD + ITEM * items)
    return path


def test_a_job_of_as_many_parts_as_it_may_have(tmp_path: Path):
    """Each conflicts with each other one: by its id, by its role."""
    path = job(tmp_path, MOST_ITEMS)
    retrofit = tmp_path / "sensors.retrofit.toml"
    retrofit.write_text(retrofit.read_text() + SUPPLY)
    plan = make_plan(load_job(path))
    assert {len(item.conflicts) for item in plan.items} == {2 * (MOST_ITEMS - 1)}


def test_a_job_of_one_part_more(tmp_path: Path):
    path = job(tmp_path, MOST_ITEMS + 1)
    with pytest.raises(InputError) as caught:
        load_job(path)
    assert str(caught.value) == (
        f"{path}: item: 65 parts are more than a plan can compare – at most 64; split them into several jobs"
    )
    with pytest.raises(UsageError, match="65 retrofits were given – give at most 64"):
        assemble_job(tmp_path / "skerry.vehicle.toml", ["dash-camera"] * 65, network="comfort", year=2020)


def test_a_retrofit_of_too_many_entries(tmp_path: Path):
    path = job(tmp_path, 1)
    retrofit = tmp_path / "sensors.retrofit.toml"
    steps = '[[step]]\nphase = "fit"\ntext = "Turn it."\n'
    retrofit.write_text(retrofit.read_text() + steps * 500)
    load_job(path)
    retrofit.write_text(retrofit.read_text() + steps)
    with pytest.raises(InputError) as caught:
        load_job(path)
    assert str(caught.value) == (
        f"{retrofit}: step: 501 entries are more than one part can have – at most 500"
    )


def test_more_conflicts_than_anybody_reads(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    path = job(tmp_path, 3)
    retrofit = tmp_path / "sensors.retrofit.toml"
    retrofit.write_text(retrofit.read_text() + SUPPLY)
    monkeypatch.setattr(_items, "MOST_FINDINGS", 12)
    assert sum(len(item.conflicts) for item in make_plan(load_job(path)).items) == 12
    monkeypatch.setattr(_items, "MOST_FINDINGS", 11)
    with pytest.raises(InputError) as caught:
        make_plan(load_job(path))
    assert str(caught.value) == (
        f"{path}: its parts have more than 11 conflicts and questions – plan fewer parts at a time"
    )


def test_a_capture_of_more_ids_than_a_network_has(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    log = tmp_path / "noise.log"
    log.write_text("".join(f"(1.{number:06}) can0 {number:08X}#00\n" for number in range(101)))
    write_job(tmp_path)
    monkeypatch.setattr(_observe, "MOST_ENTRIES", 101)
    job_of = {"network": "comfort", "captures": [log], "year": 2020}
    make_plan(assemble_job(tmp_path / "skerry.vehicle.toml", ["dash-camera"], **job_of))
    monkeypatch.setattr(_observe, "MOST_ENTRIES", 100)
    with pytest.raises(InputError) as caught:
        make_plan(assemble_job(tmp_path / "skerry.vehicle.toml", ["dash-camera"], **job_of))
    assert str(caught.value) == (
        f"{log}: has more than 100 different ids and lengths: no vehicle network has so many – "
        "leave it out, or keep the ids of the network with netcheck trim --id"
    )
