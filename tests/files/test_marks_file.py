"""Marks files that netcheck writes are read back as they were meant, and are whole at any time."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.errors import InputError
from netcheck.files import Mark, MarksWriter, load_marks, marks_text
from tests.faults import Faults

SECONDS = st.integers(0, 10**8).map(lambda ms: ms / 1000)
STATES = st.one_of(st.text(min_size=1), st.integers(-(2**31), 2**31))
LIMITS = st.tuples(*[st.floats(-1e9, 1e9)] * 2).map(sorted).map(tuple)


@st.composite
def marks(draw):
    begin = draw(SECONDS)
    what = draw(st.one_of(st.builds(dict, state=STATES), st.builds(dict, between=LIMITS)))
    end = begin + draw(st.integers(1, 10**6)) / 1000
    return Mark.model_validate({"role": "wheel.volume-up", **what, "from": begin, "to": end})


@given(st.lists(st.tuples(marks(), st.text()), max_size=5), st.lists(st.text(), max_size=2))
def test_written_marks_are_read_as_they_were(given_marks, head):
    table = tomllib.loads(marks_text(given_marks, head))
    assert (table["kind"], table["format"]) == ("marks", 1)
    assert [Mark.model_validate(entry) for entry in table.get("mark", [])] == [
        mark for mark, _ in given_marks
    ]


def _names(folder):
    return [path.name for path in folder.iterdir()]


def _mark(to: float = 2.0) -> Mark:
    return Mark.model_validate({"role": "brake-pedal", "state": "active", "from": 1.0, "to": to})


def test_a_save_replaces_the_one_before(tmp_path):
    path = tmp_path / "a.marks.toml"
    writer = MarksWriter(path, ["invented"])
    assert load_marks(path) == ()
    writer.save([(_mark(), "by hand")])
    writer.save([(_mark(3.0), "by hand"), (_mark(4.0), "")])
    assert [loaded.mark.to for loaded in load_marks(path)] == [3.0, 4.0]
    assert path.read_text().startswith("# invented\n")
    assert _names(tmp_path) == ["a.marks.toml"]
    writer.discard()
    assert _names(tmp_path) == []


def test_a_file_that_is_there_stays(tmp_path):
    path = tmp_path / "a.marks.toml"
    path.write_text("mine")
    with pytest.raises(
        InputError, match="exists already – name a different log, or give --force to replace it"
    ):
        MarksWriter(path)
    assert path.read_text() == "mine"


def test_a_save_that_fails_leaves_the_one_before(tmp_path, monkeypatch):
    path = tmp_path / "a.marks.toml"
    writer = MarksWriter(path)
    writer.save([(_mark(), "")])

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match="cannot be written: No space left on device"):
        writer.save([(_mark(), ""), (_mark(9.0), "")])
    assert len(load_marks(path)) == 1
    assert _names(tmp_path) == ["a.marks.toml"]


@pytest.mark.parametrize("call", range(1, 6))
def test_marks_are_the_old_or_the_new_ones_whatever_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: int
) -> None:
    """Opening, writing, syncing, closing and renaming fail in turn."""
    path = tmp_path / "x.marks.toml"
    writer = MarksWriter(path)
    writer.save([(_mark(), "once")])
    old = path.read_bytes()
    with monkeypatch.context() as patch:
        faults = Faults(tmp_path, call)
        faults.install(patch)
        with pytest.raises(InputError, match="cannot be written: No space left on device"):
            writer.save([(_mark(), "once"), (_mark(3.0), "twice")])
    assert faults.seen[:call] == ["open", "write", "sync", "close", "rename"][:call]
    assert path.read_bytes() == old
    assert [found.name for found in tmp_path.iterdir()] == [path.name]
    writer.save([(_mark(3.0), "again")])
    assert path.read_bytes() != old
