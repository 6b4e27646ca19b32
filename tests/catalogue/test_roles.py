"""The vocabulary of roles."""

from __future__ import annotations

from pathlib import Path

from netcheck.catalogue import RoleInfo, load_retrofit, roles, shipped
from netcheck.files import load_vehicle

DEMO = Path(__file__).parents[2] / "dbc" / "skerry_240.vehicle.toml"


def test_a_role() -> None:
    assert roles()["reverse-engaged"] == RoleInfo(
        title="Reverse engaged",
        meaning="the gear lever or selector is in reverse",
        states=("not engaged", "engaged"),
        usual_ms=(10, 100),
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


def test_kinds() -> None:
    kinds = {name: role.kind for name, role in roles().items()}
    assert kinds["reverse-engaged"] == "state"
    assert kinds["wheel.mute"] == "state"
    assert kinds["vehicle-speed"] == "value"
    assert kinds["radio.station-text"] == "text"


def test_the_usual_rate_is_a_span() -> None:
    for name, role in roles().items():
        assert 0 < role.usual_ms[0] < role.usual_ms[1] <= 5000, name


def test_shipped_retrofits_use_no_other_role() -> None:
    used = set()
    for name in shipped():
        retrofit, _ = load_retrofit(name)
        used |= {need.role for need in retrofit.need} | {exercise.role for exercise in retrofit.exercise}
        used |= {role for supply in retrofit.supply for role in supply.roles}
        used |= {entry.role for entry in retrofit.replace if entry.role}
    assert used
    assert used <= set(roles())
