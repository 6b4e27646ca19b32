"""Some inputs of each fuzz target; ``python -m tests.fuzz TARGET SECONDS`` makes more of them."""

from __future__ import annotations

import random
import tomllib
from pathlib import Path

import pytest

from netcheck import load_job, make_plan
from netcheck.bench import load_bench
from netcheck.errors import InputError
from tests.fuzz import harness
from tests.fuzz.mutate import mutated_table, toml_text
from tests.fuzz.targets import TARGETS
from tests.fuzz.van import NAMES, VAN, put_van

INPUTS = 60  # of each target, always the same ones


@pytest.mark.parametrize("name", TARGETS)
def test_spoilt_input_is_read_or_refused(name: str):
    assert harness.run(name, count=INPUTS) == INPUTS


def test_what_is_spoilt_was_whole(tmp_path: Path):
    """Else every input would be refused for the same reason."""
    put_van(tmp_path)
    plan = make_plan(load_job(tmp_path / NAMES["job"]), cache=False)
    assert {need.reason for item in plan.items for need in item.needs} >= {"by-wire"}
    assert len(list(load_bench(tmp_path / NAMES["vehicle"], tmp_path / NAMES["script"]).frames())) > 50


@pytest.mark.parametrize("kind", VAN)
def test_tables_are_written_as_they_were(kind: str):
    table = tomllib.loads(VAN[kind])
    assert tomllib.loads(toml_text(table)) == table
    spoilt = [toml_text(mutated_table(random.Random(seed), table)) for seed in range(40)]
    assert all(isinstance(tomllib.loads(text), dict) for text in spoilt)
    assert len(set(spoilt)) > 30
    assert tomllib.loads(VAN[kind]) == table


def test_a_seed_makes_the_same_input_and_a_failure_names_it(monkeypatch: pytest.MonkeyPatch):
    seen: list[tuple[int, bool]] = []

    def watched(chance: random.Random, folder: Path) -> None:
        seen.append((chance.randrange(1000), folder.is_dir()))
        if len(seen) == 6:
            raise ZeroDivisionError

    monkeypatch.setitem(TARGETS, "watched", watched)
    assert harness.run("watched", count=3) == harness.run("watched", count=2) + 1
    assert seen[:2] == seen[3:5]
    with pytest.raises(harness.Failure) as caught:
        harness.run_one("watched", 7)
    assert str(caught.value) == "target watched, seed 7: python -m tests.fuzz watched --seed 7"


@pytest.mark.parametrize("text", ["two\nlines", "x" * 5000])
def test_a_refusal_has_to_be_one_line(text: str, monkeypatch: pytest.MonkeyPatch):
    def work() -> None:
        raise InputError("a.dbc", "is wrong")

    assert harness.refused(work) is None
    monkeypatch.setattr(InputError, "__str__", lambda _: text)
    with pytest.raises(AssertionError):
        harness.refused(work)
