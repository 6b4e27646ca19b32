"""Compiled kernels are kept on disk and used again; without a folder for them, reading works all the same."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from numba import types
from numba.core import caching

from netcheck.capture._jit import kept

PROGRAM = """
from netcheck.capture._kernels import parse
print(len(parse.stats.cache_hits), len(parse.stats.cache_misses))
"""


def run(folder: Path) -> str:
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(folder)}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], env=environment, capture_output=True, text=True, check=True
    )
    return done.stdout.strip()


def test_the_second_process_compiles_nothing(tmp_path: Path):
    assert run(tmp_path) == "0 1"
    assert run(tmp_path) == "1 0"


def test_without_a_folder_that_can_be_written_it_compiles_for_itself(monkeypatch):
    monkeypatch.setattr(caching.CompileResultCacheImpl, "_locator_classes", [])

    @kept(types.int64(types.int64))
    def double(x: int) -> int:
        return 2 * x

    assert double(21) == 42


def test_importing_the_room_does_not_import_the_compiler():
    program = "import sys, netcheck.capture; print('numba' in sys.modules, 'can' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False False"
