"""The README's test file is the one in the examples, and fails as the guide shows."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from netcheck.cache import FOLDER_VARIABLE, cache_folder
from tests.readme_blocks import ROOT, matches
from tests.test_readme import README

pytest_plugins = ["pytester"]

CACHE = cache_folder()
TOUR = README.partition("## Developer")[2].partition("\n## ")[0]
GUIDE = (ROOT / "netcheck" / "guide" / "pytest.md").read_text(encoding="utf-8")


def block(page: str, language: str) -> str:
    found = re.search(rf"```{language}\n(.*?)```", page, re.DOTALL)
    assert found is not None
    return found[1]


EXAMPLE = Path("tests", "examples", "test_drive.py")


@pytest.fixture
def checkout(pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The example with what it reads, at the same places."""
    monkeypatch.setenv(
        FOLDER_VARIABLE, str(CACHE or "")
    )  # pytester moves the home, and with it what is kept there
    for name in ("tests/examples", "sample_logs", "dbc"):
        (pytester.path / name).mkdir(parents=True)
    for path in [*(ROOT / "dbc").iterdir(), *(ROOT / "sample_logs").glob("guillemot*")]:
        shutil.copy(path, pytester.path / path.relative_to(ROOT))
    (pytester.path / EXAMPLE).write_text(block(TOUR, "python"), encoding="utf-8")
    return pytester.path


def test_the_file_shown_is_the_example_and_passes(pytester, checkout):
    assert block(TOUR, "python") == (ROOT / EXAMPLE).read_text(encoding="utf-8")
    pytester.runpytest_subprocess("-q", "-W", "error", "tests").assert_outcomes(passed=3)


def test_the_changed_line_fails_as_shown(pytester, checkout):
    old, new = (line[1:] for line in block(GUIDE, "diff").splitlines())
    log = checkout / "sample_logs" / "guillemot_2021_conversion.log"
    text = log.read_text(encoding="utf-8")
    assert text.count(old) == 1
    log.write_text(text.replace(old, new), encoding="utf-8")
    result = pytester.runpytest_subprocess("-q", "-W", "error", "tests")
    result.assert_outcomes(passed=1, failed=2)
    assert matches(block(GUIDE, "text").splitlines(), result.outlines), result.stdout.str()
