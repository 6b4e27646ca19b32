"""A module of kernels, compiled."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

from netcheck._compile._code import CompiledModule, MachineCode
from netcheck._compile._load import module_head, object_code
from netcheck._compile._program import Program
from netcheck._compile._sources import digests_of
from netcheck._compile._types import packed
from netcheck._compile._values import UntranslatableError
from netcheck._compile.define import Kernel


def written_in(module: str) -> dict[str, Kernel]:
    """The kernels of a module, by name."""
    found = vars(import_module(module)).items()
    return {name: value for name, value in found if isinstance(value, Kernel)}


def build(module: str) -> CompiledModule:
    """All kernels of a module that can be run without numba, as machine code."""
    sources = digests_of(module)
    tag = hashlib.sha256(f"{module} {sources}".encode()).hexdigest()[:16]
    program, codes = Program(), {}
    for name, kernel in written_in(module).items():
        signature, symbol = kernel.signature, f"{name}_{tag}"
        try:
            program.kernel(symbol, kernel.function, signature)
        except UntranslatableError:
            continue
        codes[name] = MachineCode(symbol, [packed(taken) for taken in signature.takes], [*signature.gives])
    return CompiledModule(sources, codes, object_code(program.text(module_head())))


def refused_in(module: str) -> dict[str, str]:
    """Why kernels of a module cannot be translated, by name."""
    refused = {}
    for name, kernel in written_in(module).items():
        try:
            Program().kernel(name, kernel.function, kernel.signature)
        except UntranslatableError as error:
            refused[name] = str(error)
    return refused


def built_by_numba(module: str, name: str, folder: Path | None) -> Callable[..., Any]:
    """One kernel of a module, run by numba itself, which may keep it in a folder."""
    from netcheck._compile._numba import numba_function

    kernel = written_in(module)[name]
    return numba_function(kernel.function, kernel.signature, folder)
