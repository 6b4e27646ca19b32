"""Every fault of ``faults.toml`` is one clear line: file, key path, what is wrong, what would be right."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from netcheck.catalogue import load_job, load_retrofit
from netcheck.errors import InputError
from netcheck.files import load_marks, load_readback, load_script, load_vehicle
from tests.files.examples import EXAMPLES, NAMES, changed, folder

FAULTS = tomllib.loads((Path(__file__).parent / "faults.toml").read_text(encoding="utf-8"))["fault"]

LOADERS: dict[str, Callable[[Path], Any]] = {
    "vehicle": load_vehicle,
    "retrofit": lambda path: load_retrofit(str(path)),
    "job": load_job,
    "marks": load_marks,
    "script": load_script,
    "readouts": lambda path: load_readback(path, load_vehicle(Path(NAMES["vehicle"])), 2020),
}


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize("kind", EXAMPLES)
def test_the_examples_are_good(kind: str) -> None:
    folder(Path())
    LOADERS[kind](Path(NAMES[kind]))


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: f"{fault['kind']}: {fault['new'].strip()[:40]}")
def test_a_fault_is_one_clear_line(fault: dict[str, str]) -> None:
    kind = fault["kind"]
    folder(Path(), **{kind: changed(EXAMPLES[kind], fault["old"], fault["new"])})
    with pytest.raises(InputError) as caught:
        LOADERS[kind](Path(NAMES[kind]))
    assert str(caught.value) == fault["says"]


def test_every_remedy_names_the_nearest_first_and_is_capped() -> None:
    networks = "".join(f'[network.n{i:02}]\nbitrate = 500_000\ndbc = "comfort.dbc"\n' for i in range(20))
    text = changed(
        EXAMPLES["vehicle"], "[module.trailer]\n", f'{networks}[module.trailer]\nnetwork = "n17x"\n'
    )
    folder(Path(), vehicle=text)
    with pytest.raises(InputError) as caught:
        load_vehicle(Path(NAMES["vehicle"]))
    assert caught.value.where == "module.trailer.network"
    assert caught.value.remedy.startswith("one of n17, ")
    assert caught.value.remedy.endswith(" and 14 more")


def test_a_faulty_side_file_is_named_itself() -> None:
    folder(Path(), marks=changed(EXAMPLES["marks"], "to = 33.0", "to = 30.0"))
    with pytest.raises(InputError, match=r"^comfort_before\.marks\.toml: mark\[0\]\.to: "):
        load_job(Path(NAMES["job"]))


@pytest.mark.parametrize("kind", EXAMPLES)
@pytest.mark.parametrize("other", EXAMPLES)
def test_another_kind_of_file_is_told_apart(kind: str, other: str) -> None:
    if kind == other:
        return
    folder(Path())
    with pytest.raises(InputError) as caught:
        LOADERS[kind](Path(NAMES[other]))
    assert caught.value.what == f"this is a {other} file, not a {kind} file"
