"""Marks beside a capture."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.files import side_file, side_marks
from tests.files.examples import MARKS


@pytest.mark.parametrize(
    ("capture", "side"),
    [
        ("x.log", "x.marks.toml"),
        ("x.log.gz", "x.marks.toml"),
        ("x.log.xz", "x.marks.toml"),
        ("x.log.zst", "x.marks.toml"),
        ("X.LOG.GZ", "X.marks.toml"),
        ("x.asc", "x.marks.toml"),
        ("x.blf", "x.marks.toml"),
        ("x.trc", "x.marks.toml"),
        ("x.csv.gz", "x.marks.toml"),
        ("before.after.log", "before.after.marks.toml"),
        # No suffix of a capture: it belongs to the name, or two captures would share one file of marks.
        ("drive.2020-05-01", "drive.2020-05-01.marks.toml"),
        ("drive.2020-05-01.gz", "drive.2020-05-01.marks.toml"),
        ("drive", "drive.marks.toml"),
        (".log", ".log.marks.toml"),
    ],
)
def test_where_they_stand(capture: str, side: str) -> None:
    assert side_file(Path("logs", capture)) == Path("logs", side)


def test_none_is_no_error(tmp_path: Path) -> None:
    assert side_marks(tmp_path / "x.log") == ()


def test_they_are_read(tmp_path: Path) -> None:
    (tmp_path / "x.marks.toml").write_text(MARKS)
    (loaded,) = side_marks(tmp_path / "x.log.xz")
    assert (loaded.file, loaded.where, loaded.mark.state) == (tmp_path / "x.marks.toml", "mark[0]", "R")
