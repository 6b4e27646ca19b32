"""Compiled kernels: taken as machine code from the user's cache folder, compiled when they are not there.

The machine code of a module of kernels (see ``netcheck._compile.define``) is kept, with what it was made
from, and called through llvmlite:

    kernels("netcheck.capture._kernels").parse(text, …)

numba is not imported for that, neither to compile nor to call: it takes longer to start than most captures
take to read, and ten times as long to compile.

The arguments are checked as strictly as numba would. Code is taken only from a file that no other user of
the machine could have written. Calls run without the interpreter lock.

Off Linux and macOS, and with ``NETCHECK_KERNELS=numba``, numba runs the kernels, and keeps them in a folder
of their own in the same cache.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable
from functools import cache
from typing import Any, Final

from netcheck._compile import _sources as sources
from netcheck._compile._code import CODE_FORMAT, CompiledModule, pack, unpack
from netcheck._compile._load import load
from netcheck._compile._notice import compiling
from netcheck.cache import can_keep, entry_folder, installed, key_of, read_entry, write_entry
from netcheck.errors import UsageError

KIND: Final = "kernels"
NUMBA_KIND: Final = "numba"
SWITCH: Final = "NETCHECK_KERNELS"
_NUMBA: Final = "numba"
_LOCK: Final = threading.RLock()


class Kernels:
    """The kernels of one module, each loaded when it is first asked for."""

    def __init__(self, module: str) -> None:
        self._module = module
        self._compiled: CompiledModule | None = None

    def prepare(self) -> None:
        """Compile what is not kept yet."""
        if not runs_by_numba():
            with _LOCK:
                self._compiled = _compiled(self._module)
            return
        from netcheck._compile._build import written_in

        for name in written_in(self._module):
            getattr(self, name)

    def __getattr__(self, name: str) -> Callable[..., Any]:
        with _LOCK:
            if self._compiled is None and not runs_by_numba():
                self._compiled = _compiled(self._module)
            compiled = self._compiled
            if compiled is not None and name in compiled.codes:
                kernel = load(name, compiled.codes[name], compiled.object_code)
            else:
                kernel = _by_numba(self._module, name)
        setattr(self, name, kernel)
        return kernel


@cache
def kernels(module: str) -> Kernels:
    """The kernels of a module, by its full name; the module itself is imported only to compile."""
    return Kernels(module)


def runs_by_numba() -> bool:
    """Whether numba itself is to run all kernels: by the switch, or where machine code cannot be kept."""
    chosen = os.environ.get(SWITCH, "")
    if chosen not in ("", _NUMBA):
        raise UsageError(f"{SWITCH} is '{chosen}'", remedy=f"it must be '{_NUMBA}', or not be set")
    if chosen == _NUMBA or _is_plain_python():
        return True
    return sys.platform not in ("linux", "darwin") or sys.byteorder != "little"


def _is_plain_python() -> bool:
    return os.environ.get("NUMBA_DISABLE_JIT", "0") != "0"


def _compiled(module: str) -> CompiledModule:
    """The module's kernels as code, those that can be had so."""
    key = _key(module)
    body = read_entry(KIND, key)
    found = unpack(body) if body is not None else None
    if found is not None and all(sources.source_digest(path) == was for path, was in found.sources.items()):
        return found
    from netcheck._compile._build import build

    _tell(KIND)
    made = build(module)
    write_entry(KIND, key, pack(made))
    return made


def _by_numba(module: str, name: str) -> Callable[..., Any]:
    """A kernel run by numba. What numba keeps is found again only while all its sources are the same."""
    from netcheck._compile._build import built_by_numba, written_in

    if name not in written_in(module):
        raise AttributeError(f"{module} has no kernel {name}")
    if _is_plain_python():
        return built_by_numba(module, name, None)
    made_from = [part for pair in _digests(module).items() for part in pair]
    folder = entry_folder(NUMBA_KIND, key_of(_key(module), name, *made_from))
    if folder is None or not any(folder.iterdir()):
        _tell(NUMBA_KIND)
    return built_by_numba(module, name, folder)


@cache
def _digests(module: str) -> dict[str, str]:
    return sources.digests_of(module)


def _tell(kind: str) -> None:
    if compiling:
        is_kept = can_keep(kind)
        for told in compiling:
            told(is_kept)


def _key(module: str) -> str:
    versions = f"{CODE_FORMAT} {installed('numba')} {installed('llvmlite')}"
    return key_of(module, str(sources.ROOT), versions, _processor())


@cache
def _processor() -> str:
    import llvmlite.binding as llvm  # type: ignore[import-untyped]

    features = llvm.get_host_cpu_features().flatten()
    return f"{llvm.get_process_triple()} {llvm.get_host_cpu_name()} {features}"
