"""Kernels: compiled once, then machine code from the cache folder; the same with and without it."""

from __future__ import annotations

import importlib
import json
import math
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

import netcheck
from netcheck import kernels as loading
from netcheck.cache import FOLDER_VARIABLE
from netcheck.capture import Columns
from netcheck.kernels import kernels

ROOT = Path(netcheck.__file__).parent
LOGS = Path(__file__).parent.parent / "sample_logs"
MODULES = sorted(
    ".".join(("netcheck", *path.relative_to(ROOT).with_suffix("").parts))
    for path in ROOT.glob("*/*.py")
    if "@kept(" in path.read_text(encoding="utf-8")
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
from netcheck.notice import compiling
told = []
compiling.append(lambda: told.append(1))
with install_recorder("numba:compile") as recorder:
    main(sys.argv[1:])
print(len(told), len(recorder.buffer), file=sys.stderr)
"""
MODULE = '''"""Kernels of a test."""
import math
from typing import NamedTuple
import numpy as np
from numba import njit, types
from netcheck.jit import inner, kept

class Pair(NamedTuple):
    first: np.ndarray
    second: np.ndarray

@inner
def _twice(x):
    return x + x

_IN = types.Array(types.uint8, 1, "C", readonly=True)
_PAIR = types.NamedTuple((types.int64[::1], types.float64[:, ::1]), Pair)

@kept(types.int64(_IN, types.int64, types.float64, _PAIR))
def fill(data, number, share, pair):
    """Something of every kind of argument."""
    for i in range(len(data)):
        pair.first[i] = _twice(np.int64(data[i])) + number
        for j in range(pair.second.shape[1]):
            pair.second[i, j] = share * j
    return len(data) - 2 * number

@kept(types.void(types.float64[::1]))
def calls(out):
    """Needs a function that is not in it."""
    out[0] = math.lgamma(out[0])

@kept(types.float64(types.int64))
def half(number):
    """A part of it."""
    return number / 2

@kept(types.UniTuple(types.int64, 2)(types.int64, types.int64))
def turned(one, two):
    """Gives two."""
    return two, one

@kept(types.int64(types.int64[::1], types.int64))
def fails(out, by):
    """Raises where the divisor is 0."""
    return out[0] // by
'''


def install(folder: Path, monkeypatch: pytest.MonkeyPatch) -> loading.Kernels:
    """A module of kernels in a folder that has its cache folder too."""
    (folder / "test_module_of_kernels.py").write_text(MODULE, encoding="utf-8")
    monkeypatch.syspath_prepend(folder)
    monkeypatch.setattr(loading, "_ROOT", folder)
    monkeypatch.setattr(importlib.import_module("netcheck.jit"), "_ROOT", folder)
    monkeypatch.setattr(importlib.import_module("netcheck.jit"), "_taken_from", lambda _: iter(()))
    monkeypatch.setenv(FOLDER_VARIABLE, str(folder / "cache"))
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(folder / "numba"))
    monkeypatch.delitem(sys.modules, "test_module_of_kernels", raising=False)
    return loading.Kernels("test_module_of_kernels")


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("shared")


@pytest.fixture
def module(shared: Path, monkeypatch: pytest.MonkeyPatch) -> loading.Kernels:
    """Kernels that an earlier test may have compiled."""
    return install(shared, monkeypatch)


@pytest.fixture
def fresh(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> loading.Kernels:
    """Kernels that nothing has compiled."""
    return install(tmp_path, monkeypatch)


@pytest.fixture
def compilations(monkeypatch) -> list[int]:
    told: list[int] = []
    monkeypatch.setattr(loading, "compiling", [lambda: told.append(1)])
    return told


def fill(module: object) -> tuple[int, list[int], list[list[float]]]:
    first, second = np.zeros(3, np.int64), np.zeros((3, 2))
    data = np.frombuffer(b"\1\2\3", np.uint8)
    pair = importlib.import_module("test_module_of_kernels").Pair(first, second)
    return module.fill(data, 5, 0.5, pair), first.tolist(), second.tolist()


def test_machine_code_does_what_the_kernel_says(fresh, compilations):
    expected = (3 - 10, [7, 9, 11], [[0.0, 0.5]] * 3)
    assert fill(fresh) == expected
    assert fill(loading.Kernels("test_module_of_kernels")) == expected
    assert compilations == [1]


def test_a_kernel_is_the_same_however_it_is_called(fresh, compilations):
    written = importlib.import_module("test_module_of_kernels")
    assert fill(written) == fill(fresh)
    assert fill(SimpleNamespace(fill=written.fill.by_numba)) == fill(fresh)
    assert compilations == [1]


def test_a_kernel_that_needs_numba_is_run_by_numba(module):
    out = np.array([5.0])
    module.calls(out)
    assert out[0] == pytest.approx(math.log(24))


def test_two_results_are_a_tuple_and_numbers_may_be_of_numpy(module):
    assert module.turned(np.int64(-1), np.uint8(2)) == (2, -1)
    assert module.half(5) == 2.5
    assert module.turned(1 << 62, -(1 << 63)) == (-(1 << 63), 1 << 62)


def test_a_failing_kernel_says_so(module):
    assert module.fails(np.array([7]), 2) == 3
    with pytest.raises(RuntimeError, match="fails failed"):
        module.fails(np.array([7]), 0)


@pytest.mark.parametrize(
    ("place", "wrong"),
    [
        (0, np.zeros(3, np.int8)),
        (0, np.zeros((3, 1), np.uint8)),
        (0, np.zeros(6, np.uint8)[::2]),
        (1, 1.5),
        (2, "x"),
        (3, (np.zeros(3, np.int64),)),
        (3, (np.broadcast_to(np.int64(0), 3), np.zeros((3, 2)))),
        (3, (np.frombuffer(bytes(24), np.int64), np.zeros((3, 2)))),
        (3, (np.zeros(3, np.int64), np.asfortranarray(np.zeros((3, 2))))),
        (3, (np.frombuffer(bytearray(25), np.uint8)[1:].view(np.int64), np.zeros((3, 2)))),
    ],
)
def test_what_numba_would_refuse_is_refused(module, place, wrong):
    arguments = [np.zeros(3, np.uint8), 1, 0.5, (np.zeros(3, np.int64), np.zeros((3, 2)))]
    module.fill(*arguments)
    arguments[place] = wrong
    with pytest.raises((TypeError, Exception)) as caught:
        module.fill(*arguments)
    assert issubclass(caught.type, TypeError) or caught.type.__name__ == "ArgumentError"
    with pytest.raises(TypeError):
        module.fill(*arguments[:3])


def test_a_changed_source_is_compiled_again(fresh, compilations, tmp_path):
    fill(fresh)
    path = tmp_path / "test_module_of_kernels.py"
    path.write_text(MODULE.replace("2 * number", "3 * number"), encoding="utf-8")
    del sys.modules["test_module_of_kernels"]
    importlib.invalidate_caches()
    assert fill(loading.Kernels("test_module_of_kernels"))[0] == 3 - 15
    assert compilations == [1, 1]


def test_the_type_of_columns_is_that_of_their_annotations():
    from numba import types

    from netcheck.jit import columns_of

    kind = columns_of(Columns, is_read_only=True)
    written = {
        name: (array.dtype, array.ndim, array.layout, array.mutable)
        for name, array in zip(kind.fields, kind.types, strict=True)
    }
    assert written == {
        "time_ns": (types.int64, 1, "C", False),
        "can_id": (types.uint32, 1, "C", False),
        "flags": (types.uint8, 1, "C", False),
        "channel": (types.uint8, 1, "C", False),
        "length": (types.uint8, 1, "C", False),
        "start": (types.int64, 1, "C", False),
        "data": (types.uint8, 1, "C", False),
    }
    assert all(array.mutable for array in columns_of(Columns).types)


@pytest.mark.parametrize("damage", ["truncated", "another", "no entry", "no folder"])
def test_a_damaged_or_unwritable_cache_costs_only_time(fresh, compilations, tmp_path, capfd, damage):
    expected = fill(fresh)
    (path,) = (tmp_path / "cache" / "kernels").iterdir()
    if damage == "truncated":
        path.write_bytes(path.read_bytes()[:-100])
    elif damage == "another":
        loading.write_entry(loading.KIND, loading._key("test_module_of_kernels"), b'{"sources": 1}')
    else:
        path.unlink()
    if damage == "no folder":
        path.parent.rmdir()
        path.parent.write_text("in the way")
    assert fill(loading.Kernels("test_module_of_kernels")) == expected
    assert compilations == [1, 1]
    assert capfd.readouterr() == ("", "")


def test_without_the_compiler_kernels_are_plain_python(fresh, tmp_path):
    code = "from tests.test_kernels import *; print(fill(loading.Kernels('test_module_of_kernels')))"
    environment = {
        **os.environ,
        "NUMBA_DISABLE_JIT": "1",
        "PYTHONPATH": os.pathsep.join(map(str, [tmp_path, ROOT.parent])),
    }
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=environment,
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT.parent,
    )
    assert done.stdout.strip() == str(fill(fresh))


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
    from netcheck.jit import sources_of

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
            "_words",
        ]
        assert {f"capture/{part}.py" for part in room} | {
            "jit.py",
            "kernels.py",
            "cache.py",
            "notice.py",
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


def test_the_list_of_an_entry_is_readable(fresh, tmp_path):
    fill(fresh)
    (path,) = (tmp_path / "cache" / "kernels").iterdir()
    head = json.loads(path.read_bytes()[32:].split(b"\n", 1)[0])
    assert list(head) == ["sources", "kernels"]
    assert set(head["kernels"]) == {"fill", "half", "turned", "fails"}


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
