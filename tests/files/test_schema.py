"""The JSON Schemas against the files: jsonschema judges what the loaders take and refuse."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from netcheck.catalogue import shipped, shipped_retrofit_path
from netcheck.errors import InputError, UsageError
from netcheck.files import KINDS, json_schema, model_of
from tests.files.examples import EXAMPLES

ROOT = Path(__file__).parents[2]
VALIDATORS = {kind: Draft202012Validator(json_schema(kind)) for kind in KINDS}
TABLES = {kind: tomllib.loads(text) for kind, text in EXAMPLES.items()}
WRITTEN = [
    *((shipped_retrofit_path(name), "retrofit") for name in shipped()),
    *((path, "vehicle") for path in sorted((ROOT / "dbc").glob("*.vehicle.toml"))),
    *((path, "job") for path in sorted((ROOT / "sample_logs").glob("*.job.toml"))),
    *((path, "marks") for path in sorted((ROOT / "sample_logs").glob("*.marks.toml"))),
]


@pytest.mark.parametrize("kind", KINDS)
def test_the_schema_is_one(kind: str) -> None:
    schema = json_schema(kind)
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert "$id" not in schema
    assert schema["title"] == f"netcheck {kind} file"


def test_an_unknown_kind_lists_the_kinds() -> None:
    with pytest.raises(UsageError) as caught:
        json_schema("vehicles")
    assert str(caught.value) == (
        "'vehicles' is not a file kind – one of vehicle, retrofit, readouts, marks, script, job"
    )


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_is_described(kind: str) -> None:
    schema = json_schema(kind)
    tables = [schema, *(part for part in schema.get("$defs", {}).values() if "properties" in part)]
    for table in tables:
        for key, written in table["properties"].items():
            assert written.get("description"), f"{table['title']}.{key}"


@pytest.mark.parametrize("kind", KINDS)
def test_the_examples_hold(kind: str) -> None:
    VALIDATORS[kind].validate(TABLES[kind])


@pytest.mark.parametrize(("path", "kind"), WRITTEN, ids=lambda value: getattr(value, "name", value))
def test_the_files_of_the_project_hold(path: Path, kind: str) -> None:
    VALIDATORS[kind].validate(tomllib.loads(path.read_text(encoding="utf-8")))


Place = tuple[str | int, ...]


def places(value: Any, above: Place = ()) -> Iterator[Place]:
    """Every key path of a table, the table itself first."""
    yield above
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in inside:
        yield from places(inner, (*above, key))


def at(table: Any, place: Place) -> Any:
    for part in place:
        table = table[part]
    return table


def leaf_places(kind: str) -> list[Place]:
    return [place for place in places(TABLES[kind]) if not isinstance(at(TABLES[kind], place), dict | list)]


@pytest.mark.parametrize(
    ("kind", "place"), [(kind, place) for kind in EXAMPLES for place in leaf_places(kind)], ids=str
)
def test_a_value_of_the_wrong_type_fails(kind: str, place: Place) -> None:
    table = copy.deepcopy(TABLES[kind])
    at(table, place[:-1])[place[-1]] = [[]]
    assert not VALIDATORS[kind].is_valid(table)


@pytest.mark.parametrize("kind", KINDS)
def test_an_unknown_key_fails_in_every_table(kind: str) -> None:
    free = {"facts", "channels", "network", "module", "coding", "field", "role", "cruise"}
    for place in places(TABLES[kind]):
        named = place and place[-1] in free and (len(place) == 1 or place[-2] != "facts")
        if isinstance(at(TABLES[kind], place), dict) and not named and "facts" not in place:
            table = copy.deepcopy(TABLES[kind])
            at(table, place)["no_such_key"] = "x"
            assert not VALIDATORS[kind].is_valid(table), place


junk = st.recursive(
    st.sampled_from(["", "active", "0x10", "Bad Name", "a.b", "comfort"])
    | st.integers(-2, 70_000)
    | st.sampled_from([10**30, -(10**30), 0x1FFFFFFF, 0x20000000])
    | st.floats()
    | st.booleans(),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["0", "0x1", "00", "role", "network", "from", "x-y", "ä"]), inner, max_size=3
        )
    ),
    max_leaves=4,
)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data(), kind=st.sampled_from(sorted(KINDS)))
def test_what_the_loader_takes_the_schema_takes(data: st.DataObject, kind: str) -> None:
    """Whatever stands in a file, the loader takes it or says one line; the schema refuses no good one."""
    table = copy.deepcopy(TABLES[kind])
    place = data.draw(st.sampled_from([place for place in places(table) if place]))
    owner = at(table, place[:-1])
    match data.draw(st.sampled_from(["change", "add", "remove"])):
        case "change":
            owner[place[-1]] = data.draw(junk)
        case "add" if isinstance(owner, dict):
            owner[data.draw(st.sampled_from(["years", "state", "between", "x", "0x600", "value"]))] = (
                data.draw(junk)
            )
        case _:
            del owner[place[-1]]
    try:
        model_of(Path("x.toml"), table, KINDS[kind])
    except InputError as error:
        assert "\n" not in str(error)  # noqa: PT017 - the line is what is tested
        assert str(error).startswith("x.toml: ")  # noqa: PT017
        assert "Error" not in str(error)  # noqa: PT017 - no word of pydantic's
    else:
        VALIDATORS[kind].validate(table)
