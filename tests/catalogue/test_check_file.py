"""Every fault of a file at once. The oracle is the loader, which ends with the first."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.catalogue import check_file
from tests.files.examples import EXAMPLES, NAMES, changed, folder
from tests.files.test_faults import FAULTS

ALONE = [fault for fault in FAULTS if fault["kind"] != "readouts"]


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize("kind", EXAMPLES)
def test_a_good_file_has_none(kind: str) -> None:
    folder(Path())
    found = check_file(NAMES[kind])
    assert (found.kind, found.faults) == (kind, ())


@pytest.mark.parametrize("fault", ALONE, ids=lambda fault: f"{fault['kind']}: {fault['new'].strip()[:40]}")
def test_the_fault_that_loading_ends_with_is_there(fault: dict[str, str]) -> None:
    kind = fault["kind"]
    folder(Path(), **{kind: changed(EXAMPLES[kind], fault["old"], fault["new"])})
    said = [str(one) for one in check_file(NAMES[kind]).faults]
    head_only = 'kind = "' in fault["old"] or "kind =" in fault["new"]
    assert fault["says"] in said or head_only, said
    assert said


def test_faults_of_all_sorts_at_once() -> None:
    text = EXAMPLES["vehicle"]
    text = changed(text, 'bitrate = 500_000\ndbc = "comfort', 'bitrat = 500_000\ndbc = "gone')
    text = changed(text, 'node = "COLUMN"', 'node = 5\nnetwork_ = "x"')
    text = changed(text, 'network = ["comfort", "drive"]', 'network = ["comfort", "drivel"]')
    folder(Path(), vehicle=text)
    found = [(fault.where, fault.what) for fault in check_file(NAMES["vehicle"]).faults]
    assert ("network.comfort.bitrat", "unknown key") in found
    assert ("network.comfort.bitrate", "is missing") in found
    assert ("module.column.node", "must be a text, not the number 5") in found
    assert ("module.column.network_", "unknown key") in found
    assert ("module.gateway.network[1]", "'drivel' is not a network of this file") in found
    assert not any(what.startswith("'comfort' is not") for _, what in found)  # the file has it
    assert not any(what.startswith("'column' is not") for _, what in found)


def test_what_only_follows_from_a_fault_is_none() -> None:
    text = 'kind = "vehicle"\nformat = 1\nname = "x"\nmodel_years = [2017, 2018]\n[network.a]\ndbc = 5\n'
    Path("x.vehicle.toml").write_text(text)
    assert [fault.where for fault in check_file("x.vehicle.toml").faults] == [
        "network.a.bitrate",
        "network.a.dbc",
    ]  # not: network needs at least one entry


def test_places_in_a_list_are_those_of_the_file() -> None:
    good = '\n[[mark]]\nrole = "park-brake"\nstate = "active"\nfrom = 1.0\nto = 2.0\n'
    bad = good.replace("to = 2.0", "to = 0.5")
    missing = good.replace('role = "park-brake"\n', "")
    Path("x.marks.toml").write_text('kind = "marks"\nformat = 1\n' + good + missing + good + bad + good + bad)
    found = [fault.where for fault in check_file("x.marks.toml").faults]
    assert found == ["mark[1].role", "mark[3].to", "mark[5].to"]


def test_a_job_tells_the_faults_of_each_of_its_parts() -> None:
    text = changed(EXAMPLES["job"], "[[item]]", '[[item]]\nretrofit = "no-such"\n\n[[item]]')
    text += '\n[[capture]]\nfile = "gone.log"\n\n[[readout]]\nmodule = "nobody"\ndid = 1\ndata = "00"\n'
    folder(Path(), job=text)
    where = [fault.where for fault in check_file(NAMES["job"]).faults]
    assert where[0] == "item[0].retrofit"
    assert any(place.startswith("capture[") for place in where)
    assert any(place.startswith("readout[") and place.endswith(".module") for place in where)


def test_a_faulty_vehicle_of_a_job_is_told_once() -> None:
    folder(Path(), vehicle=changed(EXAMPLES["vehicle"], "format = 1", "format = 2"))
    [fault] = check_file(NAMES["job"]).faults
    assert Path(fault.file).name == NAMES["vehicle"]


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ("", "", "the file is empty"),
        ("format = 1\n", "kind", "is missing"),
        ('kind = "jub"\n', "kind", "the text 'jub' is not a kind of file"),
        ('kind = "job\n', "line 1", "not valid TOML: illegal character '\\n'"),
    ],
)
def test_what_is_no_file_of_netcheck(text: str, where: str, what: str) -> None:
    Path("x.toml").write_text(text)
    found = check_file("x.toml")
    assert (found.kind, [(fault.where, fault.what) for fault in found.faults]) == ("", [(where, what)])
