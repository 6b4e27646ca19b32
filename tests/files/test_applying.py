"""What of a retrofit applies to a vehicle."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.files import Applying, Fact, Retrofit, applying, model_of, parse_toml
from tests.files.examples import NAMES, RETROFIT

IF = "only_if = {{ fact = {fact}, any_of = {any_of} }}\n"


def retrofit(any_of: str, fact: str = '"gearbox"') -> Retrofit:
    """One entry of each kind that always applies, and one that depends on a fact."""
    text = 'kind = "retrofit"\nformat = 1\nname = "x"\n'
    for head in (
        '[[need]]\nrole = "{}"\n',
        '[[code]]\nmodule = "engine"\nfield = "{}"\nvalue = 1\n',
        '[[exercise]]\nrole = "{}"\ndo = "x"\n',
        '[[step]]\nphase = "fit"\ntext = "{}"\n',
        '[[use]]\nresource = "{}"\n',
        '[[caution]]\ndanger = "heat"\nphase = "fit"\ntext = "{}"\n',
    ):
        text += head.format("always") + head.format("depends") + IF.format(fact=fact, any_of=any_of)
    path = Path("x.retrofit.toml")
    return model_of(path, parse_toml(path, text), Retrofit)


def names(found: Applying) -> tuple[list[str], ...]:
    return (
        [need.role for need in found.needs],
        [code.field for code in found.codes],
        [exercise.role for exercise in found.exercises],
        [step.text for step in found.steps],
        [use.resource for use in found.uses],
        [caution.text for caution in found.cautions],
    )


@pytest.mark.parametrize(
    ("any_of", "fact", "applies"),
    [
        ('["manual"]', "manual", True),
        ('["manual"]', "automatic", False),
        ('["Manual"]', "manual", False),
        ('["twin-clutch", "manual"]', "manual", True),
        ("[1]", 1, True),
        ("[1]", 1.0, True),
        ("[1]", True, False),
        ("[true]", 1, False),
        ("[true]", True, True),
        ("[false]", 0, False),
        ('["1"]', 1, False),
    ],
)
def test_an_entry_applies_if_the_fact_is_one_of_its_values(any_of: str, fact: Fact, applies: bool) -> None:
    found = applying(retrofit(any_of), {"gearbox": fact})
    expected = ["always", "depends"] if applies else ["always"]
    assert names(found) == (expected,) * 6
    assert found.unstated == ()


def test_a_fact_that_nobody_states_excludes_nothing_and_is_told_once() -> None:
    part = retrofit('["manual"]')
    found = applying(part, {"gear": "manual"})
    assert names(found) == (["always", "depends"],) * 6
    assert found.unstated == (part.need[1].only_if,)


def test_what_stands_under_no_condition_applies_to_any_vehicle() -> None:
    path = Path(NAMES["retrofit"])
    part = model_of(path, parse_toml(path, RETROFIT), Retrofit)
    found = applying(part, {"gearbox": "automatic", "wheel.button-link": "ladder"})
    assert [need.role for need in found.needs] == ["reverse-engaged"]
    assert (found.codes, found.exercises, found.uses) == ((), (), ())
    assert [step.text for step in found.steps] == [
        "Connect the plug",
        "Drive 10 m",
        "Show the driver the tone",
    ]
