"""Kernels: compiled once, then machine code from the cache folder; the same with it and run by numba."""

from __future__ import annotations

import importlib
import json
import math
import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import NamedTuple

import numpy as np
import pytest

import netcheck
from netcheck._compile import _arguments
from netcheck._compile import _kernels as loading
from netcheck._compile import _sources as sources
from netcheck._compile._kernels import SWITCH
from netcheck.cache import FOLDER_VARIABLE
from netcheck.capture import Columns
from netcheck.errors import UsageError

ROOT = Path(netcheck.__file__).parent
MODULE = '''"""Kernels of a test."""
import math
import numpy as np
from netcheck._compile.define import (
    FLOAT64, I64, INT64, ROW, U8, array, cached_kernel, kernel_helper, tuple_of
)
from tests.test_kernels import Alike, Pair

@kernel_helper
def _twice(x):
    return x + x

_PAIR = tuple_of(Pair, ROW, array(np.float64, 2))

@cached_kernel(U8, INT64, FLOAT64, _PAIR, gives=INT64)
def fill(data, number, share, pair):
    """Something of every kind of argument."""
    for i in range(len(data)):
        pair.first[i] = _twice(np.int64(data[i])) + number
        for j in range(pair.second.shape[1]):
            pair.second[i, j] = share * j
    return len(data) - 2 * number

@cached_kernel(array(np.float64))
def calls(out):
    """Needs a function that is not in it."""
    out[0] = math.lgamma(out[0])

@cached_kernel(INT64, gives=FLOAT64)
def half(number):
    """A part of it."""
    return number / 2

@cached_kernel(INT64, INT64, gives=(INT64, INT64))
def turned(one, two):
    """Gives two."""
    return two, one

@cached_kernel(tuple_of(Alike, I64, I64), gives=INT64)
def total(pair):
    """All members of the tuple are of one type. Needs a method."""
    return pair.one.sum() + pair.two.sum()

@kernel_helper
def _half(whole, by):
    return np.int64(whole / by)

@cached_kernel(ROW, INT64, gives=INT64)
def fails(out, by):
    """Raises where the divisor is 0."""
    return _half(out[0], by)
'''


# numba takes two classes of named tuples with one name for the same, so these are not in the module above,
# which is imported anew for every test.
class Pair(NamedTuple):
    """Columns of two types."""

    first: np.ndarray
    second: np.ndarray


class Alike(NamedTuple):
    """Columns of one type."""

    one: np.ndarray
    two: np.ndarray


def install(folder: Path, monkeypatch: pytest.MonkeyPatch) -> loading.Kernels:
    """A module of kernels in a folder that has its cache folder too."""
    (folder / "test_module_of_kernels.py").write_text(MODULE, encoding="utf-8")
    monkeypatch.syspath_prepend(folder)
    monkeypatch.setattr(sources, "ROOT", folder)
    monkeypatch.setattr(sources, "_taken_from", lambda _: iter(()))
    loading._digests.cache_clear()
    sources.file_digest.cache_clear()
    monkeypatch.setenv(FOLDER_VARIABLE, str(folder / "cache"))
    monkeypatch.delitem(sys.modules, "test_module_of_kernels", raising=False)
    return loading.Kernels("test_module_of_kernels")


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("shared")


@pytest.fixture(autouse=True)
def as_machine_code(monkeypatch: pytest.MonkeyPatch) -> None:
    """The path that a test is about is the test's own choice, not that of the run."""
    monkeypatch.delenv(SWITCH, raising=False)


@pytest.fixture(params=["", "numba"], ids=["machine-code", "numba"])
def either(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both paths, one after the other."""
    monkeypatch.setenv(SWITCH, request.param)


@pytest.fixture
def module(shared: Path, either: None, monkeypatch: pytest.MonkeyPatch) -> loading.Kernels:
    """Kernels that an earlier test may have compiled."""
    return install(shared, monkeypatch)


@pytest.fixture
def fresh(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> loading.Kernels:
    """Kernels that nothing has compiled."""
    return install(tmp_path, monkeypatch)


@pytest.fixture
def compilations(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """Whether what was compiled could be kept, one for each time."""
    told: list[bool] = []
    monkeypatch.setattr(loading, "compiling", [told.append])
    return told


def fill(module: object) -> tuple[int, list[int], list[list[float]]]:
    first, second = np.zeros(3, np.int64), np.zeros((3, 2))
    data = np.frombuffer(b"\1\2\3", np.uint8)
    return module.fill(data, 5, 0.5, Pair(first, second)), first.tolist(), second.tolist()


EXPECTED = (3 - 10, [7, 9, 11], [[0.0, 0.5]] * 3)


def test_a_kernel_does_what_it_says_and_is_compiled_once(either, fresh, compilations):
    assert fill(fresh) == EXPECTED
    assert fill(loading.Kernels("test_module_of_kernels")) == EXPECTED
    assert compilations == [True]


def test_preparing_compiles_all(either, fresh, compilations):
    fresh.prepare()
    told = len(compilations)
    again = loading.Kernels("test_module_of_kernels")
    assert (fill(again), again.half(3)) == (EXPECTED, 1.5)
    assert told == len(compilations) >= 1


def test_another_system_runs_kernels_by_numba(fresh, tmp_path, monkeypatch):
    monkeypatch.setattr(loading, "sys", SimpleNamespace(platform="win32", byteorder="little"))
    assert fill(fresh) == EXPECTED
    assert not (tmp_path / "cache" / "kernels").exists()
    assert list((tmp_path / "cache" / "numba").iterdir())


def test_a_misspelt_path_is_refused(fresh, monkeypatch):
    monkeypatch.setenv(SWITCH, "nubma")
    with pytest.raises(UsageError, match="NETCHECK_KERNELS is 'nubma' – it must be 'numba', or not be set"):
        fill(fresh)


def test_what_is_no_kernel_is_not_found(module):
    with pytest.raises(AttributeError, match="no kernel nothing"):
        module.nothing  # noqa: B018


def test_numba_too_takes_writable_arrays_for_read_only_ones_and_plain_tuples_for_named(module):
    first, second = np.zeros(3, np.int64), np.zeros((3, 2))
    assert module.fill(np.array([1, 2, 3], np.uint8), 5, 0.5, (first, second)) == 3 - 10
    assert module.total(Alike(np.array([1, 2]), np.array([3]))) == 6
    assert module.total(Alike(*(np.broadcast_to(np.int64(2), n) for n in (0, 1)))) == 2


def test_a_kernel_that_needs_numba_is_run_by_numba(module):
    out = np.array([5.0])
    module.calls(out)
    assert out[0] == pytest.approx(math.log(24))


def test_two_results_are_a_tuple_and_numbers_may_be_of_numpy(module):
    assert module.turned(np.int64(-1), np.uint8(2)) == (2, -1)
    assert module.half(5) == 2.5
    assert module.turned(1 << 62, -(1 << 63)) == (-(1 << 63), 1 << 62)
    for number in (1 << 63, -(1 << 63) - 1):
        with pytest.raises(OverflowError):
            module.half(number)


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


def test_a_changed_source_is_compiled_again(either, fresh, compilations, tmp_path):
    fill(fresh)
    path = tmp_path / "test_module_of_kernels.py"
    path.write_text(MODULE.replace("2 * number", "3 * number"), encoding="utf-8")
    del sys.modules["test_module_of_kernels"]
    importlib.invalidate_caches()
    loading._digests.cache_clear()
    sources.file_digest.cache_clear()
    assert fill(loading.Kernels("test_module_of_kernels"))[0] == 3 - 15
    assert compilations == [True, True]


def test_the_type_of_columns_is_that_of_their_annotations():
    from netcheck._compile.define import columns_of, read_only

    kind = columns_of(Columns, is_read_only=True)
    assert dict(zip(kind.fields, kind.members, strict=True)) == {
        "time_ns": read_only(np.int64),
        "can_id": read_only(np.uint32),
        "flags": read_only(np.uint8),
        "channel": read_only(np.uint8),
        "length": read_only(np.uint8),
        "start": read_only(np.int64),
        "data": read_only(np.uint8),
    }
    assert all(member.is_writable for member in columns_of(Columns).members)


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
    assert compilations == [True, damage != "no folder"]
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


def test_the_list_of_an_entry_is_readable(fresh, tmp_path):
    fill(fresh)
    (path,) = (tmp_path / "cache" / "kernels").iterdir()
    head = json.loads(path.read_bytes()[32:].split(b"\n", 1)[0])
    assert list(head) == ["sources", "kernels"]
    assert set(head["kernels"]) == {"fill", "half", "turned", "fails"}  # two need numba


@pytest.mark.parametrize(
    "array",
    [
        np.zeros(0, np.int32),
        np.arange(6).reshape(2, 3)[1:],
        np.frombuffer(b"read only", np.uint8)[3:],
        np.zeros(4).view(np.recarray),
        np.array(3.0),
    ],
)
def test_an_array_is_where_numpy_says(array):
    assert _arguments._address_finder() is not _arguments.told_address
    assert _arguments._address_finder()(array) == _arguments.told_address(array) == array.ctypes.data


def test_where_arrays_are_made_otherwise_numpy_is_asked(monkeypatch):
    class Heads:
        c_size_t = SimpleNamespace(from_address=lambda _: SimpleNamespace(value=1))

    monkeypatch.setattr(_arguments, "ctypes", Heads)
    assert _arguments._address_finder.__wrapped__() is _arguments.told_address
