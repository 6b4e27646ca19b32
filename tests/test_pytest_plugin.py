"""What pytest users get, tried in a pytest of its own."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import get_args

import pytest

import netcheck.testing  # before a test within a test may import it, and with it numpy, once more
from netcheck.cache import FOLDER_VARIABLE, cache_folder
from netcheck.files import VerdictName
from netcheck.verdict import Verdict

pytest_plugins = ["pytester"]

CACHE = cache_folder()
ROOT = Path(__file__).parent.parent
LOG = ROOT / "sample_logs" / "guillemot_2021_conversion.log"

SUITE = """
def test_reverse_is_shown(netcheck_plan):
    from netcheck.testing import assert_shown
    assert_shown(netcheck_plan("camera.job.toml"), "reverse-engaged")

def test_reverse(netcheck_capture):
    import netcheck
    from netcheck.testing import assert_period, assert_signal
    capture = netcheck_capture("guillemot_2021_conversion.log")
    database = netcheck.load_database("skerry_conversion.dbc")
    assert_period(capture, "VanMotion", ms=100, database=database)
    assert_signal(netcheck.decode(capture, database)["VanMotion", "VanReverse"], at=6.5, is_="on")

def test_bus(replayed_bus):
    bus = replayed_bus("guillemot_2021_conversion.log", speed=0)
    assert sum(message.arbitration_id >> 8 == 0x18FF21 for message in bus) == 640
    replayed_bus("guillemot_2021_conversion.log").recv(10)

def test_nothing_is_left():
    import threading
    assert not [thread.name for thread in threading.enumerate() if thread.name.startswith("netcheck-")]
"""


@pytest.fixture
def folder(pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(
        FOLDER_VARIABLE, str(CACHE or "")
    )  # pytester moves the home, and with it what is kept there
    for path in [*(ROOT / "dbc").iterdir(), LOG]:
        shutil.copy(path, pytester.path)
    job = (ROOT / "sample_logs" / "guillemot_2021_camera.job.toml").read_text(encoding="utf-8")
    text = job.replace("../dbc/", "").replace('expect = "go"\n', "")
    (pytester.path / "camera.job.toml").write_text(text, encoding="utf-8")
    return pytester.path


def expecting(folder: Path, verdict: str, name: str = "other.job.toml") -> Path:
    text = (folder / "camera.job.toml").read_text(encoding="utf-8")
    path = folder / name
    path.write_text(
        text.replace("model_year = 2021", f'model_year = 2021\nexpect = "{verdict}"'), encoding="utf-8"
    )
    return path


def test_fixtures_count_from_the_test_file_and_clean_up(pytester, folder):
    (folder / "inner").mkdir()
    for path in list(folder.iterdir()):
        if path.is_file():
            path.rename(folder / "inner" / path.name)
    (folder / "inner" / "test_box.py").write_text(SUITE.replace('"skerry_', '"inner/skerry_'))
    result = pytester.runpytest_subprocess("-q", "-W", "error", "inner")
    result.assert_outcomes(passed=4)


def test_a_changed_line_of_the_log_fails_with_what_was_seen(pytester, folder):
    text = LOG.read_text(encoding="utf-8")
    lines = text.splitlines(keepends=True)
    frames = [n for n, line in enumerate(lines) if " 18FF21" in line]
    stamps = [float(re.match(r"\(([\d.]+)\)", lines[n])[1]) for n in frames]
    first = float(re.search(r"\((\d+\.\d+)\)", text)[1])
    changed = max(n for n, stamp in zip(frames, stamps, strict=True) if stamp - first <= 6.5)
    off = next(lines[n] for n, stamp in zip(frames, stamps, strict=True) if stamp - first < 1)
    lines[changed] = lines[changed].partition("#")[0] + "#" + off.partition("#")[2]
    (folder / LOG.name).write_text("".join(lines), encoding="utf-8")
    (folder / "test_box.py").write_text(SUITE)
    result = pytester.runpytest_subprocess("-q", "-W", "error")
    result.assert_outcomes(passed=2, failed=2)
    result.stdout.fnmatch_lines(
        [
            "E*AssertionError: reverse-engaged is not shown for reversing-camera: expected (some-answers)",
            "E*VanMotion.VanReverse on can0 of guillemot_2021_conversion.log",
            "E*[[]=*[]]*",
            "E*[[]==[]] = marks of reverse-engaged",
            "E*AssertionError: VanMotion.VanReverse is off at 6.500 s, not on",
            "E*^ 6.500 s",
            "E*nearest: on from *",
        ]
    )
    assert not [line for line in result.outlines if "netcheck/testing/" in line and line.startswith("E")]


def test_a_fault_of_a_file_is_shown_at_the_line_of_the_test(pytester, folder):
    pytester.makepyfile(
        """
        def test_capture(netcheck_capture):
            netcheck_capture("gone.log")

        def test_series(netcheck_series):
            netcheck_series("guillemot_2021_conversion.log", "gone.dbc")

        def test_plan(netcheck_plan):
            netcheck_plan("gone.job.toml")

        def test_bus(replayed_bus):
            replayed_bus("guillemot_2021_conversion.log", channel="can7")

        def test_label(netcheck_series, assert_signal):
            series = netcheck_series("guillemot_2021_conversion.log", "skerry_conversion.dbc")
            assert_signal(series["VanMotion", "VanReverse"], at=1.0, is_="ON")
        """
    )
    result = pytester.runpytest_subprocess("-W", "error")
    result.assert_outcomes(failed=5)
    told = [line for line in result.outlines if line.startswith("E ")]
    assert len(told) == 5
    for line, says in zip(
        told, ["gone.log", "gone.dbc", "gone.job.toml", "has no channel can7", "no label 'ON'"], strict=True
    ):
        assert says in line
    assert "_chunks.py" not in result.stdout.str()
    assert "_signals.py" not in result.stdout.str()


def test_job_files_that_expect_a_verdict_are_tests(pytester, folder):
    expecting(folder, "go", "good.job.toml")
    expecting(folder, "no-go", "wrong.job.toml")
    result = pytester.runpytest_subprocess("-v", "-W", "error")
    result.assert_outcomes(passed=1, failed=1)
    result.stdout.fnmatch_lines(
        [
            "good.job.toml::verdict PASSED*",
            "wrong.job.toml::verdict FAILED*",
            'wrong.job.toml: go, but expect = "no-go" needs no-go',
            "Skerry 240, model year 2021 * wrong",
            "+ GO * reversing-camera can be fitted as the job has it.",
            "  Why *",
        ]
    )
    assert "camera.job.toml" not in result.stdout.str()
    assert "Traceback" not in result.stdout.str()
    assert "pytest_plugin.py" not in result.stdout.str()


def test_a_job_file_that_is_named_need_not_expect_anything(pytester, folder):
    text = (folder / "camera.job.toml").read_text(encoding="utf-8")
    text = text.replace("from = 5.0\nto = 8.0", "from = 1.0\nto = 2.0")
    (folder / "worse.job.toml").write_text(text, encoding="utf-8")
    result = pytester.runpytest_subprocess("camera.job.toml", "worse.job.toml")
    result.assert_outcomes(passed=1, failed=1)
    result.stdout.fnmatch_lines(
        [
            "worse.job.toml: unproven, but a job file that expects nothing needs go or go-with-changes",
            "[?] UNPROVEN * do not fit reversing-camera yet.",
        ]
    )


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('expect = "go"', 'expect = "goes"', "*expect: the text 'goes' is not possible here * one of *"),
        ("kind =", "kind = [", "*line *: not valid TOML*"),
        ("guillemot_2021_conversion.log", "gone.log", "*capture[[]0[]].file: no such file: *gone.log*"),
    ],
)
def test_a_faulty_job_file_fails_with_one_line(pytester, folder, old, new, says):
    path = expecting(folder, "go")
    path.write_text(path.read_text(encoding="utf-8").replace(old, new, 1), encoding="utf-8")
    result = pytester.runpytest()
    result.assert_outcomes(failed=1)
    result.stdout.fnmatch_lines([says])
    assert "Traceback" not in result.stdout.str()


def test_a_fault_of_netcheck_itself_shows_its_traceback(pytester, folder, monkeypatch):
    def broken(path: Path) -> str:
        raise ZeroDivisionError(path.name)

    monkeypatch.setattr(netcheck.testing, "job_fault", broken)
    expecting(folder, "go")
    result = pytester.runpytest()
    result.assert_outcomes(failed=1)
    result.stdout.fnmatch_lines(["*ZeroDivisionError: other.job.toml"])


def test_the_plugin_imports_nothing_until_it_is_used(pytester):
    pytester.makepyfile(
        """
        import sys

        def test_light():
            assert "netcheck.pytest_plugin" in sys.modules
            heavy = "numpy numba pydantic cantools can rich netcheck.plan netcheck.testing".split()
            assert not [name for name in heavy if name in sys.modules]
        """
    )
    pytester.runpytest_subprocess("-p", "no:hypothesispytest", "-p", "no:cov").assert_outcomes(passed=1)


def test_it_can_be_left_out(pytester, folder):
    expecting(folder, "no-go")
    pytester.runpytest_subprocess("-p", "no:netcheck").assert_outcomes()


def test_a_job_may_expect_every_verdict_there_is():
    assert set(get_args(VerdictName)) == set(Verdict)


CONFTEST = """
import pytest

@pytest.fixture(scope="session")
def drive(netcheck_capture):
    return netcheck_capture("logs/drive.log")

@pytest.fixture(scope="session")
def reverse(netcheck_series):
    return netcheck_series("logs/drive.log", "van.dbc")["VanMotion", "VanReverse"]
"""


def test_a_fixture_in_conftest_counts_from_there_and_may_have_session_scope(pytester, folder):
    (folder / "logs").mkdir()
    (folder / "inner").mkdir()
    shutil.copy(LOG, folder / "logs" / "drive.log")
    (folder / "skerry_conversion.dbc").rename(folder / "van.dbc")
    (folder / "conftest.py").write_text(CONFTEST)
    (folder / "inner" / "test_box.py").write_text(
        """
def test_once(drive, netcheck_capture, reverse, assert_signal):
    assert_signal(reverse, at=6.5, is_="on")
    again = netcheck_capture("../logs/drive.log")
    assert again.data is drive.data

def test_own_folder(netcheck_capture):
    netcheck_capture("logs/drive.log")
"""
    )
    result = pytester.runpytest_subprocess("-q", "-W", "error")
    result.assert_outcomes(passed=1, failed=1)
    (told,) = [line for line in result.outlines if line.startswith("E ")]
    assert f"logs/drive.log: there is no such file in {folder / 'inner'}" in told
    assert "paths count from the folder of test_box.py" in told


def test_the_types_of_fixtures_are_public(pytester, folder):
    pytester.makepyfile(
        """
        from netcheck.testing import (
            AssertPeriod, AssertShown, AssertSignal, PlanJob, ReadCapture, ReadSeries, ReplayCapture,
        )
        from typing import get_type_hints

        def test_types(
            netcheck_capture: ReadCapture,
            netcheck_series: ReadSeries,
            netcheck_plan: PlanJob,
            replayed_bus: ReplayCapture,
            assert_shown: AssertShown,
            assert_signal: AssertSignal,
            assert_period: AssertPeriod,
        ) -> None:
            assert_period(netcheck_capture("guillemot_2021_conversion.log"), 0x18FF2127, ms=100)
        """
    )
    pytester.runpytest_subprocess("-W", "error").assert_outcomes(passed=1)


@pytest.mark.parametrize("key", ["expct", "Expect", "expects", '"verdict"'])
def test_a_misspelt_key_of_a_job_file_is_no_silence(pytester, folder, key):
    path = expecting(folder, "go")
    path.write_text(path.read_text(encoding="utf-8").replace("expect =", f"{key} ="), encoding="utf-8")
    result = pytester.runpytest_subprocess()
    result.assert_outcomes(failed=1)
    result.stdout.fnmatch_lines([f"*other.job.toml: {key.strip(chr(34))}: *"])
    assert "Traceback" not in result.stdout.str()


def test_job_files_of_something_else_are_left_alone(pytester, folder):
    (folder / "batch.job.toml").write_text('name = "nightly"\nschedule = "0 3 * * *"\n')
    (folder / "facts.job.toml").write_text(
        (folder / "camera.job.toml")
        .read_text(encoding="utf-8")
        .replace("model_year = 2021", 'model_year = 2021\nfacts.gearbox = "manual"  # expct = "go"'),
        encoding="utf-8",
    )
    pytester.runpytest_subprocess().assert_outcomes()
