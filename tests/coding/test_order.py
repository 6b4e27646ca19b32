"""The order of blocks: places of modules, fields that wait for others, and blocks that belong together."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from netcheck.coding import CodingRow, CodingStatus, order_blocks
from netcheck.files import Vehicle

ORDERS = {"a": 900, "b": None, "c": "first", "d": None, "e": "last"}


def vehicle(afters: dict[str, object]) -> Vehicle:
    modules = {}
    for name, order in ORDERS.items():
        fields = {}
        for number in range(2):
            key = f"f{number}"
            fields[key] = {"byte": number}
            if f"{name}.{key}" in afters:
                fields[key]["after"] = afters[f"{name}.{key}"]
        modules[name] = {"coding": {"0x100": {"length": 2, "field": fields}, "0x101": {"length": 1}}}
        if order is not None:
            modules[name]["coding_order"] = order
    return Vehicle.model_validate(
        {
            "kind": "vehicle", "format": 1, "name": "x", "model_years": [2020, 2020], "module": modules,
            "network": {"body": {"bitrate": 500_000, "dbc": "x.dbc"}},
        }
    )  # fmt: skip


def row(name: str, status=CodingStatus.TO_DO) -> CodingRow:
    module, field = name.split(".")
    return CodingRow(module, "0x0100", field, 0, 1, 0, "00", "01", "FF", status)


def order(afters: dict[str, object], *names: str) -> list[str]:
    return [place.module for place in order_blocks(vehicle(afters), 2020, map(row, names))]


ALL = [f"{module}.f0" for module in ORDERS]


def test_places_then_the_order_of_the_file():
    assert order({}, *ALL) == ["c", "b", "d", "a", "e"]
    assert order({}, *reversed(ALL)) == ["c", "b", "d", "a", "e"]


def test_a_field_waits_for_another():
    assert order({"c.f0": "e.f0"}, *ALL) == ["b", "d", "a", "e", "c"]
    assert order({"b.f0": ["d.f0", "a.f0"]}, *ALL) == ["c", "d", "a", "b", "e"]


def test_a_field_that_is_not_to_be_coded_is_not_waited_for():
    assert order({"c.f0": "e.f1"}, *ALL) == ["c", "b", "d", "a", "e"]
    rows = [row("c.f0"), row("e.f0", CodingStatus.ALREADY)]
    (place,) = order_blocks(vehicle({"c.f0": "e.f0"}), 2020, rows)
    assert (place.module, place.afters) == ("c", ())


def test_an_unknown_value_is_waited_for():
    rows = [row("c.f0"), row("e.f0", CodingStatus.UNKNOWN)]
    assert [place.module for place in order_blocks(vehicle({"c.f0": "e.f0"}), 2020, rows)] == ["e", "c"]


def test_blocks_that_wait_for_each_other_are_one_step():
    afters = {"b.f0": "d.f0", "d.f1": "b.f1"}
    places = order_blocks(vehicle(afters), 2020, map(row, ["b.f0", "b.f1", "d.f0", "d.f1", "c.f0"]))
    assert [(place.module, place.together) for place in places] == [
        ("c", ()),
        ("b", (("d", "0x0100"),)),
        ("d", (("b", "0x0100"),)),
    ]
    assert [place.afters for place in places] == [(), ("d.f0",), ("b.f1",)]


NAMES = [f"{module}.f{number}" for module in ORDERS for number in range(2)]


@given(st.data())
def test_no_block_comes_before_one_that_it_waits_for(data):
    """Fields wait for fields further on in a shuffled list, so that there is no ring of fields."""
    names = data.draw(st.permutations(NAMES))
    afters = {
        name: wanted
        for index, name in enumerate(names)
        if (
            wanted := data.draw(
                st.lists(st.sampled_from(names[index + 1 :] or [""]), max_size=2, unique=True)
            )
        )
        and "" not in wanted
    }
    chosen = data.draw(st.lists(st.sampled_from(NAMES), unique=True))
    places = order_blocks(vehicle(afters), 2020, map(row, chosen))
    assert sorted(place.module for place in places) == sorted({name[0] for name in chosen})
    at = {place.module: index for index, place in enumerate(places)}
    together = {place.module: {module for module, _ in place.together} for place in places}
    for name in chosen:
        for wanted in afters.get(name, []):
            if wanted in chosen and wanted[0] != name[0]:
                assert at[wanted[0]] < at[name[0]] or wanted[0] in together[name[0]]
