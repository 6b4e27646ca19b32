"""A vehicle file against captures: each kind with its nearest miss; and peers beside a plan."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from netcheck.archive import (
    Adder,
    Archive,
    CaptureFacts,
    ClaimFinding,
    ClaimKind,
    Manifest,
    Store,
    check_claims,
    claims_by_workers,
    find_captures,
    read_vehicle,
)
from netcheck.cli import main
from netcheck.report import _archive_claims
from tests.archive.fleet import VINS, make, new_store

Capsys = pytest.CaptureFixture[str]
Edit = Callable[[str], str]


def edited(fleet: Path, folder: Path, edit: Edit) -> Path:
    """The fleet's vehicle file with something else in it."""
    for name in ("body.dbc", "rear.dbc"):
        if folder != fleet:
            shutil.copy(fleet / name, folder / name)
    path = folder / "other.vehicle.toml"
    path.write_text(edit((fleet / "gull.vehicle.toml").read_text()))
    return path


def findings(store: Store, path: Path) -> dict[tuple[str, str], ClaimFinding]:
    with Archive(store) as archive:
        found = check_claims(archive, read_vehicle(path)).findings
    return {
        (entry.kind.value, f"{entry.role} {entry.network}".strip()): entry
        for entry in found
        if entry.kind is not ClaimKind.OTHER_FILE
    }


def test_workers_find_what_this_process_finds(
    store: Store, fleet: Path, tmp_path: Path, capsys: Capsys
) -> None:
    """They ask what the archive held when it was opened."""
    distributed = pytest.importorskip("distributed")
    path = edited(fleet, tmp_path, lever_years("[2020, 2020]"))
    with distributed.LocalCluster(
        n_workers=2,
        processes=False,
        dashboard_address=None,
        scheduler_kwargs={"dashboard_address": "127.0.0.1:0"},
    ) as cluster:
        address = cluster.scheduler_address
        with Archive(store, store.manifest()) as archive:
            vehicle = read_vehicle(path)
            found = check_claims(archive, vehicle, claims_by_workers(address))
            assert found.findings
            assert found == check_claims(archive, vehicle)
        with Archive(store, Manifest()) as empty:
            assert check_claims(empty, vehicle, claims_by_workers(address)).unseen == found.entries
        words = ["archive", "check", str(path), "--store", str(store.folder)]
        assert main([*words, "--scheduler", address]) == main(words) == 0
    told = capsys.readouterr().out
    assert told[: len(told) // 2] == told[len(told) // 2 :]


def lever_years(span: str) -> Edit:
    return lambda text: text.replace(
        'counter = "LeverCounter"\n', f'counter = "LeverCounter"\nyears = {span}\n'
    )


def test_a_right_file_has_nothing_against_it(store: Store, fleet: Path) -> None:
    found = findings(store, fleet / "gull.vehicle.toml")
    assert found == {}


def test_years_that_are_too_few(store: Store, fleet: Path, tmp_path: Path) -> None:
    path = edited(fleet, tmp_path, lever_years("[2019, 2020]"))
    (finding,) = findings(store, path).values()
    assert (finding.kind, finding.years, finding.claimed) == (ClaimKind.YEARS_TOO_FEW, (2021,), (2019, 2020))
    assert [Path(name).name for name in finding.captures] == ["1.log", "2.log"]
    assert finding.against == 2
    # nearest miss: in 2019 it was there and never moved, so nothing says that the file lacks that year
    assert findings(store, edited(fleet, tmp_path, lever_years("[2020, 2021]"))) == {}


def test_a_year_span_that_is_not_borne_out(fleet: Path, tmp_path: Path) -> None:
    """In 2020 the rear copy stands still while the lever moves: it cannot be what plays the role there."""
    make(tmp_path, "2020.log", year=2020, networks=["body"])
    make(tmp_path, "2021.log", year=2021)
    still = make(tmp_path, "still.log", year=2020, body="", networks=["rear"])
    lines = [line.replace("can0", "can1") for line in still.read_text().splitlines()]
    both = sorted([*(tmp_path / "2020.log").read_text().splitlines(), *lines])
    (tmp_path / "2020.log").write_text("\n".join(both) + "\n")
    store = new_store(tmp_path / "a")
    for year in (2020, 2021):
        known = CaptureFacts(tmp_path / "gull.vehicle.toml", year)
        Adder(store).add(find_captures([str(tmp_path / f"{year}.log")], known).captures)
    (finding,) = findings(store, tmp_path / "gull.vehicle.toml").values()
    assert (finding.kind, finding.network, finding.years) == (ClaimKind.YEARS_NOT_BORNE_OUT, "rear", (2020,))
    assert finding.other == "Lever.LeverPosition on body"
    narrowed = edited(
        tmp_path,
        tmp_path,
        lambda text: text.replace('signal = "CopyReverse"', 'signal = "CopyReverse"\nyears = [2021, 2021]'),
    )
    assert findings(store, narrowed) == {}


def test_a_role_that_was_never_seen(store: Store, fleet: Path, tmp_path: Path) -> None:
    path = edited(
        fleet, tmp_path, lambda text: text.replace("years = [2020, 2021]\n[[role.horn]]", "[[role.horn]]")
    )
    found = findings(store, path)
    assert list(found) == [
        ("no-value-in-year", "tow-lamp body")
    ]  # without its module nobody sends it in 2019
    only = edited(
        fleet,
        tmp_path,
        lambda text: text.replace("[2020, 2021]\n[[role.horn]]", "[2019, 2019]\n[[role.horn]]"),
    )
    assert list(findings(store, only)) == [("never-seen", "tow-lamp body")]


def test_periods_states_limits_and_ids_that_differ(fleet: Path, tmp_path: Path) -> None:
    """The traffic of 2021 is of another edition: slower, with states that the DBC does not have."""
    make(tmp_path, "2020.log", year=2020)
    path = make(tmp_path, "2021.log", year=2021)
    lines = path.read_text().splitlines()
    slow = [line for n, line in enumerate(lines) if " 300#" not in line or n % 3 == 0]
    moved = [line.replace(" 100#02", " 100#07") for line in slow]
    path.write_text("\n".join(moved) + "\n")
    store = new_store(tmp_path / "a")
    for year in (2020, 2021):
        known = CaptureFacts(tmp_path / "gull.vehicle.toml", year)
        Adder(store).add(find_captures([str(tmp_path / f"{year}.log")], known).captures)
    found = findings(store, tmp_path / "gull.vehicle.toml")
    assert found["period-differs", "vehicle-speed body"].numbers[1][1] > 40
    states = found["states-differ", "reverse-engaged body"]
    assert (states.states, states.years, states.against) == (("7",), (2021,), 1)
    assert ("states-differ", "reverse-engaged rear") not in found


def test_every_kind_has_its_words() -> None:
    assert set(_archive_claims.CLAIMS) == set(ClaimKind)


def test_the_command_names_the_captures(store: Store, fleet: Path, tmp_path: Path, capsys: Capsys) -> None:
    path = edited(fleet, tmp_path, lever_years("[2019, 2020]"))
    assert main(["archive", "check", str(path), "--store", str(store.folder)]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert (
        "! reverse-engaged on body (Lever.LeverPosition) moved in 2 of 2 captures of 2021; the file has it"
        " for 2019 to 2020 only." in text
    )
    assert "6 of 6 captures were read with another version of this file" in text
    assert main(["archive", "check", str(path), "--store", str(store.folder), "--format", "json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [finding["kind"] for finding in told["findings"]] == ["years-too-few", "other-file"]
    assert told["captures"] == 6


def plan(fleet: Path, *more: str) -> list[str]:
    retrofit = str(fleet / "beeper.retrofit.toml")
    vehicle = str(fleet / "gull.vehicle.toml")
    return [
        "plan",
        "--vehicle",
        vehicle,
        "--retrofit",
        retrofit,
        "--network",
        "body",
        "--year",
        "2020",
        *more,
    ]


def test_peers_are_told_and_decide_nothing(store: Store, fleet: Path, capsys: Capsys) -> None:
    assert main(plan(fleet, "--format", "json")) == 3
    alone = json.loads(capsys.readouterr().out)
    assert main(plan(fleet, "--format", "json", "--archive", str(store.folder))) == 3
    beside = json.loads(capsys.readouterr().out)
    needs, before = beside["items"][0]["needs"], alone["items"][0]["needs"]
    peers = {need["role"]: need["peers"] for need in needs}
    assert (peers["reverse-engaged"]["vans"], peers["reverse-engaged"]["moved_vans"]) == (1, 1)
    assert peers["door.left-open"]["moved"] == 0
    kept = ("status", "reason", "evidence", "seen", "next")
    assert [[need[name] for name in kept] for need in needs] == [
        [need[name] for name in kept] for need in before
    ]
    assert beside["verdict"] == alone["verdict"] == "unproven"
    assert main(plan(fleet, "--archive", str(store.folder))) == 3
    text = " ".join(capsys.readouterr().out.split())
    assert "Other vans, by the archive: seen moving on 1 of 1 van of 2020" in text
    assert "That proves nothing of this van." in text


def test_peers_stand_beside_a_table_of_years(store: Store, fleet: Path, capsys: Capsys) -> None:
    more = ["--years", "2019-2021", "--archive", str(store.folder)]
    words = [word for word in plan(fleet) if word not in {"--year", "2020"}]
    assert main([*words, *more, "--format", "json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [cell["peers"] for cell in told["items"][0]["cells"]] == [[0, 3], [1, 3], [1, 3]]
    assert {cell["verdict"] for cell in told["items"][0]["cells"]} == {"unproven"}
    assert main([*words, *more]) == 0
    assert "beeper of the needs not proven: 2019 0 of 3, 2020 1 of 3" in " ".join(
        capsys.readouterr().out.split()
    )


def test_a_vans_own_captures_are_no_peers(store: Store, fleet: Path, tmp_path: Path, capsys: Capsys) -> None:
    job = fleet / "own.job.toml"
    job.write_text(
        'kind = "job"\nformat = 1\nvehicle = "gull.vehicle.toml"\nmodel_year = 2020\n'
        f'[identity]\nvin = "{VINS[1]}"\n[[item]]\nretrofit = "beeper.retrofit.toml"\nnetwork = "body"\n'
    )
    try:
        main(["plan", str(job), "--archive", str(store.folder), "--format", "json"])
    finally:
        job.unlink()
    told = json.loads(capsys.readouterr().out)
    assert [need["peers"] for need in told["items"][0]["needs"]] == [None, None, None]
