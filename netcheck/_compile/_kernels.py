"""Compiled kernels: taken as machine code from the user's cache folder, compiled when they are not there.

A module of kernels (see ``netcheck._compile.define``) needs numba, which takes longer to start than most
captures take to read. So the machine code of its kernels is kept, with what it was made from, and called
without numba:

    kernels("netcheck.capture._kernels").parse(text, …)

The arguments are checked as strictly as numba would. Code is taken only from a file that no other user of
the machine could have written. Calls run without the interpreter lock.
"""

from __future__ import annotations

import ctypes
import hashlib
import json
import os
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import cache
from importlib import import_module
from operator import index
from pathlib import Path
from typing import Any, Final, NamedTuple, cast

from netcheck._compile._notice import compiling
from netcheck.cache import installed, key_of, read_entry, write_entry

KIND: Final = "kernels"
_FORMAT: Final = 2
_ROOT: Final = Path(__file__).parent.parent  # the package
_LOCK: Final = threading.RLock()
_NUMBERS: Final[dict[str, Any]] = {"int64": ctypes.c_int64, "float64": ctypes.c_double}


class MachineCode(NamedTuple):
    """One kernel as machine code.

    arguments: per argument "int64", "float64", a list for a tuple of these, or a dict for an array:
               dtype (name), dimensions, writable
    gives:     what it returns: nothing, "int64" or "float64", or several of one of them, as a tuple
    """

    symbol: str
    arguments: list[Any]
    gives: list[str]
    object_code: bytes


class CompiledModule(NamedTuple):
    """The kernels of a module, and digests of the files compiled into them, by path in the package."""

    sources: dict[str, str]
    codes: dict[str, MachineCode]


class Kernels:
    """The kernels of one module, each loaded when it is first asked for."""

    def __init__(self, module: str) -> None:
        self._module = module
        self._codes: dict[str, MachineCode] | None = None

    def prepare(self) -> None:
        """Compile what is not kept yet."""
        with _LOCK:
            self._codes = _codes(self._module)

    def __getattr__(self, name: str) -> Callable[..., Any]:
        with _LOCK:
            if self._codes is None:
                self._codes = _codes(self._module)
            code = self._codes.get(name)
            kernel = _callable(name, code) if code else _without_code(self._module, name)
        setattr(self, name, kernel)
        return kernel


def _without_code(module: str, name: str) -> Callable[..., Any]:
    kernel: Any = getattr(import_module(module), name)
    return cast("Callable[..., Any]", getattr(kernel, "by_numba", kernel))


@cache
def kernels(module: str) -> Kernels:
    """The kernels of a module, by its full name; the module itself is imported only to compile."""
    return Kernels(module)


def source_digest(path: str) -> str:
    """Digest of a file of the package; "" if there is none."""
    try:
        return hashlib.sha256((_ROOT / path).read_bytes()).hexdigest()
    except OSError:
        return ""


def target_machine() -> Any:
    """What emits and loads code for this processor, as numba sets it up."""
    import llvmlite.binding as llvm  # type: ignore[import-untyped]

    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    target = llvm.Target.from_default_triple()
    return target.create_target_machine(
        cpu=llvm.get_host_cpu_name(),
        features=llvm.get_host_cpu_features().flatten(),
        opt=3,
        reloc="static" if target.name.startswith("x86") else "default",
        codemodel="jitdefault",
        jit=True,
    )


def _codes(module: str) -> dict[str, MachineCode]:
    """The module's kernels as code; none where numba itself is to run them."""
    if os.environ.get("NUMBA_DISABLE_JIT", "0") != "0" or sys.platform not in ("linux", "darwin"):
        return {}
    key = _key(module)
    body = read_entry(KIND, key, own=True)
    found = _unpacked(body) if body is not None else None
    if found is not None and all(source_digest(path) == digest for path, digest in found.sources.items()):
        return found.codes
    from netcheck._compile.define import compiled

    for told in compiling:
        told()
    made = compiled(module)
    write_entry(KIND, key, _packed(made))
    return made.codes


def _key(module: str) -> str:
    import llvmlite.binding as llvm

    features = llvm.get_host_cpu_features().flatten()
    versions = f"{_FORMAT} {installed('numba')} {installed('llvmlite')}"
    processor = f"{llvm.get_process_triple()} {llvm.get_host_cpu_name()} {features}"
    return key_of(module, str(_ROOT), versions, processor)


def _packed(kept: CompiledModule) -> bytes:
    listed = {name: [*code[:3], len(code.object_code)] for name, code in kept.codes.items()}
    head = json.dumps({"sources": kept.sources, "kernels": listed}).encode()
    return b"\n".join([head, b"".join(code.object_code for code in kept.codes.values())])


def _unpacked(body: bytes) -> CompiledModule | None:
    """The opposite of ``_packed``, for a body whose digest is right."""
    with suppress(ValueError, KeyError, TypeError, AttributeError):
        head, _, objects = body.partition(b"\n")
        entry, codes, at = json.loads(head), {}, 0
        for name, (symbol, arguments, gives, size) in entry["kernels"].items():
            codes[name] = MachineCode(symbol, arguments, gives, objects[at : at + size])
            at += size
        return CompiledModule(entry["sources"], codes)
    return None


# -- calling


@cache
def _engine() -> Any:
    import llvmlite.binding as llvm

    machine = target_machine()
    return llvm.create_mcjit_compiler(llvm.parse_assembly(""), machine)


def _address(code: MachineCode) -> int:
    import llvmlite.binding as llvm

    engine = _engine()
    engine.add_object_file(llvm.ObjectFileRef.from_data(code.object_code))
    engine.finalize_object()
    address: int = engine.get_function_address(code.symbol)
    return address


def _callable(name: str, code: MachineCode) -> Callable[..., Any]:
    """A Python function for a kernel, which is called as numba's functions call each other:

    status = function(place for the result, place for an exception, arguments …), where an array is given as
    owner, parent, number and size of its items, address, shape and strides, and a tuple as its members.
    """
    types = [kind for argument in code.arguments for kind in _ctypes_of(argument)]
    function = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_void_p, ctypes.c_void_p, *types)(_address(code))
    expected = code.arguments
    room = _NUMBERS[code.gives[0] if code.gives else "int64"] * max(len(code.gives), 1)

    def kernel(*arguments: Any) -> Any:
        if len(arguments) != len(expected):
            raise TypeError(f"{name} takes {len(expected)} arguments, not {len(arguments)}")
        result, exception = room(), ctypes.c_void_p()
        values = [
            value
            for argument, kind in zip(arguments, expected, strict=True)
            for value in _flat(name, argument, kind)
        ]
        if function(ctypes.addressof(result), ctypes.addressof(exception), *values):
            raise RuntimeError(f"{name} failed")
        return tuple(result) if len(code.gives) > 1 else result[0] if code.gives else None

    kernel.__name__ = name
    return kernel


def _ctypes_of(kind: Any) -> Iterator[Any]:
    if isinstance(kind, list):
        for member in kind:
            yield from _ctypes_of(member)
    elif isinstance(kind, dict):
        yield from [ctypes.c_void_p] * 2 + [ctypes.c_int64] * 2 + [ctypes.c_void_p]
        yield from [ctypes.c_int64] * (2 * kind["dimensions"])
    else:
        yield _NUMBERS[kind]


def _flat(name: str, argument: Any, kind: Any) -> Iterator[Any]:
    """The argument as the values that stand for it."""
    if isinstance(kind, list):
        if len(argument) != len(kind):
            raise TypeError(f"{name} takes a tuple of {len(kind)}")
        for member, member_kind in zip(argument, kind, strict=True):
            yield from _flat(name, member, member_kind)
    elif isinstance(kind, dict):
        flags = argument.flags
        if (
            argument.dtype != kind["dtype"]
            or argument.ndim != kind["dimensions"]
            or not (flags.c_contiguous and flags.aligned and (flags.writeable or not kind["writable"]))
        ):
            raise TypeError(f"{name} takes an array of {kind}, not {argument.dtype} {argument.shape} {flags}")
        address, _ = argument.__array_interface__["data"]
        yield from (None, None, argument.size, argument.itemsize, address, *argument.shape, *argument.strides)
    else:
        yield index(argument) if kind == "int64" else argument
