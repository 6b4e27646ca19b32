"""The vocabulary of modules."""

from __future__ import annotations

from pathlib import Path

from netcheck.catalogue import ModuleInfo, modules
from netcheck.files import load_vehicle

DEMO = Path(__file__).parents[2] / "dbc" / "skerry_240.vehicle.toml"


def test_a_module() -> None:
    assert modules()["engine"] == ModuleInfo(
        title="Engine control", meaning="controls the engine or drive motor and carries out cruise control"
    )


def test_titles_tell_them_apart() -> None:
    titles = [module.title for module in modules().values()]
    assert len(titles) == len(set(titles))


def test_the_demo_vehicle_uses_it_for_all_but_its_own_conversion() -> None:
    assert set(load_vehicle(DEMO).model.module) - set(modules()) == {"library"}


def test_it_cannot_be_changed() -> None:
    assert not hasattr(modules(), "__setitem__")
