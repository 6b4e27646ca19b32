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
from netcheck._compile import _sources as making
from netcheck._compile import kernels
from netcheck._compile._kernels import SWITCH
from netcheck.cache import FOLDER_VARIABLE

ROOT = Path(netcheck.__file__).parent
LOGS = Path(__file__).parent.parent / "sample_logs"
DBC = LOGS.parent / "dbc"
MODULES = sorted(
    ".".join(("netcheck", *path.relative_to(ROOT).with_suffix("").parts))
    for path in ROOT.glob("*/*.py")
    if "\n@cached_kernel(" in path.read_text(encoding="utf-8")
)
COMMANDS = [
    ["plan", "puffin_2020_park_and_cruise.job.toml"],
    ["coding", "puffin_2020_park_and_cruise.job.toml"],
    ["survey", "guillemot_2021_conversion.log"],
    ["find", "puffin_2020_comfort_drive.log.gz", "--role", "reverse-engaged"],
    ["trim", "guillemot_2021_conversion.log", "--force", "-o", "{folder}/trimmed.log"],
    ["decode", "guillemot_2021_conversion.log", "--dbc", "../dbc/skerry_conversion.dbc", "--format", "csv"],
]
RUN = """
import sys
from numba.core.event import install_recorder
from netcheck.cli import main
from netcheck._compile import Kernels, compiling
told, asked, find = [], set(), Kernels.__getattr__
compiling.append(told.append)
def noting(module, name):
    asked.add(f"{module._module}.{name}")
    return find(module, name)
Kernels.__getattr__ = noting
with install_recorder("numba:compile") as recorder:
    main(sys.argv[1:])
print(len(told), len(recorder.buffer), *sorted(asked), file=sys.stderr)
"""


def written_in(module: str) -> set[str]:
    """Names of the kernels of a module."""
    build = importlib.import_module("netcheck._compile._build")
    return set(build.written_in(module))


@pytest.mark.parametrize("name", MODULES)
def test_every_kernel_runs_without_numba(name):
    written = written_in(name)
    assert written
    assert importlib.import_module("netcheck._compile._build").refused_in(name) == {}
    assert set(loading._compiled(name).codes) == written


@pytest.mark.parametrize("name", MODULES)
def test_what_a_kernel_was_made_from_is_known(name):
    sources = making.sources_of(name)
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
        compiling = {f"_compile/{path.name}" for path in (ROOT / "_compile").glob("*.py")}
        types_of_columns = {"errors.py", "records.py", "tables.py", "words.py"}  # of the capture module
        assert sources == {f"capture/{part}.py" for part in room} | compiling | types_of_columns
    assert all(making.source_digest(path) for path in sources)


def run(command: list[str], folder: Path, environment: dict[str, str]) -> tuple[str, list[str], list[str]]:
    """What a command shows, what it says, and: how often it told that it compiles, how often numba compiled,
    the kernels that it called."""
    done = subprocess.run(
        [sys.executable, "-c", RUN, *(word.format(folder=folder) for word in command)],
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        cwd=LOGS,
        check=True,
    )
    *said, counts = done.stderr.splitlines()
    return done.stdout, said, counts.split()


def test_all_commands_once_and_a_second_process_compiles_nothing(tmp_path):
    environment = {FOLDER_VARIABLE: str(tmp_path / "cache"), SWITCH: ""}
    first = [run(command, tmp_path, environment) for command in COMMANDS]
    assert first[0][1] == [
        "netcheck: compiling for this computer, which takes some seconds and is kept for the next time"
    ]  # once, though several modules are
    assert int(first[0][2][0]) > 1
    again = [run(command, tmp_path, environment) for command in COMMANDS]
    assert [(said, counts[:2]) for _, said, counts in again] == [([], ["0", "0"])] * len(COMMANDS)
    assert [shown for shown, *_ in again] == [shown for shown, *_ in first]


MANY_IDS = """
kind = "job"
format = 1
vehicle = "{dbc}/skerry_240.vehicle.toml"
model_year = 2019
[[item]]
retrofit = "dash-camera"
network = "comfort"
[[capture]]
file = "many.log"
"""


def test_every_kernel_does_the_same_by_numba(tmp_path):
    """Every command on both paths; together they call every kernel. What numba made is in the run's cache."""
    lines = [f"({number}.0) can0 {number:08X}#00\n" for number in range(5000)]
    lines += [f"(5000.{place}) can0 0B2#000000000{turn:X}00\n" for place, turn in enumerate((0, 1, 3, 6, 10))]
    (tmp_path / "many.log").write_text("".join(lines), encoding="utf-8")
    (tmp_path / "many.job.toml").write_text(MANY_IDS.format(dbc=DBC.as_posix()), encoding="utf-8")
    seldom = [
        ["report", "gannet_2019_bumper_kit.job.toml"],
        ["plan", "gannet_2019_bumper_kit.job.toml"],
        ["plan", "{folder}/many.job.toml"],
    ]
    by_path = []
    for path in ("", "numba"):
        shown, called = [], set()
        for command in [*COMMANDS, *seldom]:
            output, _, (_, _, *kernels_called) = run(command, tmp_path, {SWITCH: path})
            shown.append(output)
            called |= set(kernels_called)
        shown.append((tmp_path / "trimmed.log").read_text(encoding="utf-8"))
        (tmp_path / "trimmed.log").unlink()
        by_path.append((shown, called))
    assert by_path[0] == by_path[1]
    assert by_path[0][1] == {f"{module}.{name}" for module in MODULES for name in written_in(module)}
    _, said, counts = run(COMMANDS[0], tmp_path, {SWITCH: "numba"})
    assert (said, counts[:2]) == ([], ["0", "0"])


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
    done = plan_in({FOLDER_VARIABLE: "/proc/netcheck", SWITCH: ""})
    usual = plan_in({})
    assert done.stderr == (
        "netcheck: compiling for this computer, which takes some seconds and cannot be kept: /proc/netcheck"
        " is full, read-only, or open to other users – NETCHECK_CACHE_DIR can name a folder of your own\n"
    )
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
        environment |= {FOLDER_VARIABLE: str(home / "cache"), SWITCH: ""}
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
