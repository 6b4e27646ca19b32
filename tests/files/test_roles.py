"""Roles and facts in both spellings, in the order of the file."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.errors import InputError
from netcheck.files import Vehicle, load_vehicle
from tests.files.examples import folder

HEAD = """\
kind = "vehicle"
format = 1
name = "Skerry 240"
model_years = [2017, 2022]
[network.n]
bitrate = 500_000
dbc = "comfort.dbc"
"""


def load(root: Path, text: str) -> Vehicle:
    return load_vehicle(folder(root, vehicle=HEAD + text)["vehicle"]).model


def entry(header: str, message: str) -> str:
    return f'{header}\nnetwork = "n"\nmessage = "{message}"\nsignal = "S"\n'


def messages(vehicle: Vehicle, role: str) -> list[str]:
    return [source.message for source in vehicle.role[role]]


NESTED, QUOTED = "[[role.wheel.volume-up]]", '[[role."wheel.volume-up"]]'


def test_both_spellings_are_the_same_role(tmp_path: Path) -> None:
    nested = load(tmp_path, entry(NESTED, "A"))
    quoted = load(tmp_path, entry(QUOTED, "A"))
    assert nested == quoted
    assert list(nested.role) == ["wheel.volume-up"]


@pytest.mark.parametrize("order", ["nqn", "qnq", "nnq", "qnn", "nqqn"])
def test_entries_of_both_spellings_stand_in_file_order(tmp_path: Path, order: str) -> None:
    text = "".join(
        entry({"n": NESTED, "q": QUOTED}[spelling], f"M{index}") for index, spelling in enumerate(order)
    )
    assert messages(load(tmp_path, text), "wheel.volume-up") == [f"M{index}" for index in range(len(order))]


def test_other_ways_of_writing_a_header(tmp_path: Path) -> None:
    text = (
        entry("  [[ role . 'wheel' . \"volume-up\" ]]  # nested", "A")
        + entry("[['role'.\"wheel.volume-up\"]]", "B")
        + entry(NESTED, "C")
        + entry("[[role.other]]", "D")
    )
    assert messages(load(tmp_path, text), "wheel.volume-up") == ["A", "B", "C"]


def test_inline_entries_are_kept_too(tmp_path: Path) -> None:
    inline = '{ network = "n", message = "A", signal = "S" }'
    text = f"[role.wheel]\nvolume-up = [{inline}]\nnext = [{inline}]\n{entry(QUOTED, 'B')}"
    vehicle = load(tmp_path, text)
    assert sorted(messages(vehicle, "wheel.volume-up")) == ["A", "B"]
    assert messages(vehicle, "wheel.next") == ["A"]


def test_a_role_whose_name_begins_another(tmp_path: Path) -> None:
    """TOML puts the second table into the entry above it; the name says where it belongs."""
    text = entry("[[role.park]]", "A") + entry("[[role.park.switch]]", "B") + entry("[[role.park]]", "C")
    vehicle = load(tmp_path, text)
    assert messages(vehicle, "park") == ["A", "C"]
    assert messages(vehicle, "park.switch") == ["B"]


def test_a_role_named_like_a_key_of_an_entry(tmp_path: Path) -> None:
    vehicle = load(tmp_path, entry("[[role.belt.counter]]", "A") + entry("[[role.network.x]]", "B"))
    assert list(vehicle.role) == ["belt.counter", "network.x"]


def test_facts_in_both_spellings(tmp_path: Path) -> None:
    text = '[facts]\n"wheel.button-link" = "LIN"\nwheel.slip-ring-ways = 8\nairbag = { driver.stages = 2 }\n'
    assert load(tmp_path, text).facts == {
        "wheel.button-link": "LIN",
        "wheel.slip-ring-ways": 8,
        "airbag.driver.stages": 2,
    }


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("role = 5", "role: must be a table, not the number 5"),
        ("facts = [1]", "facts: must be a table, not a list – write [facts], with one bracket"),
        ("[role]\nx = 5", "role.x: must be a list of entries – write [[role.x]], with two brackets"),
        (
            entry("[role.wheel.next]", "A"),
            "role.wheel.next: must be a list of entries – write [[role.wheel.next]], with two brackets",
        ),
        ("[role]\nx = [5]", "role.x[0]: must be a table, not the number 5"),
        (
            "[facts]\nx = 1979-05-27",
            "facts.x: must be a text, true or false, a whole number or a number, not a date",
        ),
        (
            "[facts]\nx = [1]",
            "facts.x: must be a text, true or false, a whole number or a number, not a list",
        ),
    ],
)
def test_what_it_says(tmp_path: Path, text: str, says: str) -> None:
    head = HEAD if text.startswith("[") else f"{text}\n{HEAD}"
    body = text if text.startswith("[") else ""
    paths = folder(tmp_path, vehicle=head + body)
    with pytest.raises(InputError) as caught:
        load_vehicle(paths["vehicle"])
    assert str(caught.value) == f"{paths['vehicle']}: {says}"
