"""Machine code of kernels to functions that Python calls. numba is not imported for this."""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from functools import cache
from typing import Any

from netcheck._compile._arguments import NUMBERS, checked, ctypes_of
from netcheck._compile._code import MachineCode


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


def load(name: str, code: MachineCode) -> Callable[..., Any]:
    """A Python function for a kernel. It is called as ``_numba`` says, without the interpreter lock.

    It raises TypeError and OverflowError as ``checked``, ctypes.ArgumentError where a float is none, and
    RuntimeError where the kernel fails.
    """
    types = [kind for argument in code.arguments for kind in ctypes_of(argument)]
    function = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_void_p, ctypes.c_void_p, *types)(_address(code))
    room = NUMBERS[code.gives[0] if code.gives else "int64"] * max(len(code.gives), 1)

    def kernel(*arguments: Any) -> Any:
        values = checked(name, arguments, code.arguments)
        result, exception = room(), ctypes.c_void_p()
        if function(ctypes.addressof(result), ctypes.addressof(exception), *values):
            raise RuntimeError(f"{name} failed")
        return tuple(result) if len(code.gives) > 1 else result[0] if code.gives else None

    kernel.__name__ = name
    return kernel


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
