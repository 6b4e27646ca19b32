"""The vocabulary of resources."""

from __future__ import annotations

from pathlib import Path

from netcheck.catalogue import ResourceInfo, resources
from netcheck.files import RESOURCE_FACT, load_vehicle

DEMO = Path(__file__).parents[2] / "dbc" / "skerry_240.vehicle.toml"


def test_a_resource() -> None:
    assert resources()["hdmi-in"] == ResourceInfo(
        title="HDMI input", meaning="an input of a display for picture and sound of a player"
    )


def test_titles_tell_them_apart() -> None:
    titles = [resource.title for resource in resources().values()]
    assert len(titles) == len(set(titles))


def test_the_demo_vehicle_speaks_it() -> None:
    """A misspelt resource in a fact would count for nothing."""
    facts = load_vehicle(DEMO).model.facts
    stated = {name.removeprefix(RESOURCE_FACT) for name in facts if name.startswith(RESOURCE_FACT)}
    assert stated
    assert stated <= set(resources())


def test_it_cannot_be_changed() -> None:
    assert not hasattr(resources(), "__setitem__")
