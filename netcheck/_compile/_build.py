"""A module of kernels, compiled. Importing this module imports numba."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

from netcheck._compile._code import CompiledModule
from netcheck._compile._load import target_machine
from netcheck._compile._numba import machine_code, numba_function
from netcheck._compile._sources import digests_of
from netcheck._compile.define import Kernel


def written_in(module: str) -> dict[str, Kernel]:
    """The kernels of a module, by name."""
    found = vars(import_module(module)).items()
    return {name: value for name, value in found if isinstance(value, Kernel)}


def build(module: str) -> CompiledModule:
    """All kernels of a module that can be run without numba, as machine code."""
    machine = target_machine()
    codes = {
        name: machine_code(kernel.function, kernel.signature, machine)
        for name, kernel in written_in(module).items()
    }
    return CompiledModule(
        digests_of(module), {name: code for name, code in codes.items() if code is not None}
    )


def built_by_numba(module: str, name: str, folder: Path | None) -> Callable[..., Any]:
    """One kernel of a module, run by numba itself, which may keep it in a folder."""
    kernel = written_in(module)[name]
    return numba_function(kernel.function, kernel.signature, folder)
