"""netcheck's own kernels: all are kept, wherever it is installed, and a second process compiles nothing."""

from __future__ import annotations

import importlib
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

import netcheck
from netcheck._compile import _kernels as loading
from netcheck._compile import kernels
from netcheck.cache import FOLDER_VARIABLE

ROOT = Path(netcheck.__file__).parent
LOGS = Path(__file__).parent.parent / "sample_logs"
MODULES = sorted(
    ".".join(("netcheck", *path.relative_to(ROOT).with_suffix("").parts))
    for path in ROOT.glob("*/*.py")
    if "\n@cached_kernel(" in path.read_text(encoding="utf-8")
)
COMMANDS = [
    ["plan", "puffin_2020_park_and_cruise.job.toml"],
    ["coding", "puffin_2020_park_and_cruise.job.toml"],
    ["survey", "guillemot_2021_conversion.log"],
    ["trim", "guillemot_2021_conversion.log", "-o", "{folder}/trimmed.log"],
    ["decode", "guillemot_2021_conversion.log", "--dbc", "../dbc/skerry_conversion.dbc", "--format", "csv"],
]
RUN = """
import sys
from numba.core.event import install_recorder
from netcheck.cli import main
from netcheck._compile import compiling
told = []
compiling.append(lambda: told.append(1))
with install_recorder("numba:compile") as recorder:
    main(sys.argv[1:])
print(len(told), len(recorder.buffer), file=sys.stderr)
"""


@pytest.mark.parametrize("name", MODULES)
def test_every_kernel_runs_without_numba(name):
    written = {
        key for key, value in vars(importlib.import_module(name)).items() if hasattr(type(value), "by_numba")
    }
    codes = loading._codes(name)
    assert written
    assert set(codes) == written


@pytest.mark.parametrize("name", MODULES)
def test_what_a_kernel_was_made_from_is_known(name):
    from netcheck._compile.define import sources_of

    sources = sources_of(name)
    assert name.replace(".", "/").removeprefix("netcheck/") + ".py" in sources
    if name == "netcheck.capture._kernels":
        room = [
            "_arrays",
            "_capture",
            "_codes",
            "_columns",
            "_kernels",
            "_line",
            "_run",
            "_stamp",
            "_tally",
            "_swar",
        ]
        assert {f"capture/{part}.py" for part in room} | {
            "_compile/__init__.py",
            "_compile/define.py",
            "_compile/_kernels.py",
            "_compile/_notice.py",
            "cache.py",
        } >= sources
        assert {f"capture/{part}.py" for part in room} <= sources
    assert all(loading.source_digest(path) for path in sources)


def test_all_commands_once_and_a_second_process_compiles_nothing(tmp_path):
    environment = {
        **os.environ,
        FOLDER_VARIABLE: str(tmp_path / "cache"),
        "NUMBA_CACHE_DIR": str(tmp_path / "numba"),
    }

    def run(command: list[str]) -> tuple[str, list[str]]:
        done = subprocess.run(
            [sys.executable, "-c", RUN, *(word.format(folder=tmp_path) for word in command)],
            env=environment,
            capture_output=True,
            text=True,
            cwd=LOGS,
            check=True,
        )
        return done.stdout, done.stderr.splitlines()

    first = [run(command) for command in COMMANDS]
    note, counts = first[0][1]
    assert note.startswith("netcheck: compiling for this computer")  # once, though several modules are
    assert int(counts.split()[0]) > 1
    again = [run(command) for command in COMMANDS]
    assert [said for _, said in again] == [["0 0"]] * len(COMMANDS)
    assert [shown for shown, _ in again] == [shown for shown, _ in first]


def test_importing_the_rooms_does_not_import_the_compiler():
    program = (
        "import sys, netcheck.plan, netcheck.report; print('numba' in sys.modules, 'can' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False False"


def test_kernels_of_a_module_are_loaded_once():
    assert kernels("netcheck.capture._kernels").parse is kernels("netcheck.capture._kernels").parse


def plan_in(environment: dict[str, str], **how: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "netcheck", "plan", str(LOGS / "petrel_2017_cruise.job.toml")]
    return subprocess.run(
        command, env={**os.environ, **environment}, capture_output=True, text=True, check=False, **how
    )


@pytest.mark.skipif(
    not Path("/proc/self").exists(), reason="no folder here that refuses even an administrator"
)
def test_an_unwritable_folder_costs_only_time(tmp_path):
    done = plan_in({FOLDER_VARIABLE: "/proc/netcheck"})
    usual = plan_in({})
    assert done.stderr.count("\n") == 1
    assert (done.returncode, done.stdout) == (usual.returncode, usual.stdout)


def test_a_read_only_installation_works(tmp_path):
    """A copy of the package that may not be written: what is compiled goes to the user's folder alone."""
    place = Path(tempfile.mkdtemp())  # pytest's own folder is closed to other users
    try:
        place.chmod(0o755)
        shutil.copytree(ROOT, place / "netcheck", ignore=shutil.ignore_patterns("__pycache__"))
        before = sorted(place.rglob("*"))
        for path in [*before, place]:
            path.chmod(path.stat().st_mode & ~0o222)
        home = tmp_path / "home"
        home.mkdir()
        how: dict[str, object] = {}
        if hasattr(os, "getuid") and os.getuid() == 0:  # to whom everything is writable
            how = {"user": 65534, "group": 65534, "extra_groups": []}
            home = Path(tempfile.mkdtemp(dir=place.parent))
            os.chown(home, 65534, 65534)
        environment = {"PYTHONPATH": str(place), "HOME": str(home), "PYTHONDONTWRITEBYTECODE": ""}
        environment |= {FOLDER_VARIABLE: str(home / "cache"), "NUMBA_CACHE_DIR": ""}
        code = "import netcheck; print(netcheck.__file__)"
        probe = [sys.executable, "-c", code]
        try:
            started = subprocess.run(
                probe,
                env={**os.environ, **environment},
                capture_output=True,
                text=True,
                check=True,
                cwd="/",
                **how,
            )
        except (OSError, subprocess.CalledProcessError):
            pytest.skip("another user cannot run this Python, and this one may write everywhere")
        assert started.stdout.startswith(str(place))
        first, second = plan_in(environment, cwd="/", **how), plan_in(environment, cwd="/", **how)
        assert first.returncode == second.returncode == plan_in({}).returncode
        assert second.stderr == ""
        assert sorted(place.rglob("*")) == before
        assert list((home / "cache" / "kernels").iterdir())
    finally:
        for path in [place, *place.rglob("*")]:
            path.chmod(0o755)
        shutil.rmtree(place)
