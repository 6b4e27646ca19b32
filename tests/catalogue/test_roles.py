"""The vocabulary of roles."""

from __future__ import annotations

from pathlib import Path

from netcheck.catalogue import RoleInfo, roles
from netcheck.files import load_vehicle

DEMO = Path(__file__).parents[2] / "dbc" / "skerry_240.vehicle.toml"


def test_a_role() -> None:
    assert roles()["reverse-engaged"] == RoleInfo(
        title="Reverse engaged",
        meaning="the gear lever or selector is in reverse",
        states=("not engaged", "engaged"),
    )


def test_a_role_has_states_or_a_unit_or_neither_but_not_both() -> None:
    for name, role in roles().items():
        assert not (role.states and role.unit), name
        assert len(role.states) != 1, name


def test_titles_tell_them_apart() -> None:
    titles = [role.title for role in roles().values()]
    assert len(titles) == len(set(titles))


def test_the_demo_vehicle_speaks_it() -> None:
    """A misspelt role in the demo would look like an exotic one."""
    assert set(load_vehicle(DEMO).model.role) <= set(roles())


def test_it_cannot_be_changed() -> None:
    assert not hasattr(roles(), "__setitem__")
