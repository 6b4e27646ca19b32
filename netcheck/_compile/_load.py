"""LLVM's text to machine code, and machine code to functions that Python calls.

Relied upon in llvmlite, and so capped in pyproject.toml: the pass builder (``create_pass_builder``, with
LLVM's own pipeline of level 3), ``TargetMachine.emit_object``, and MCJIT, which takes object code and gives
addresses. A kernel is called as

    int32 status = function(place for the result, arguments …)

Status 0 is success. An array is given as its address and its length along each axis, a tuple as its members,
one after the other; results are 64 bits each.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from functools import cache
from typing import Any

from netcheck._compile._arguments import NUMBERS, checker, ctypes_of
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


def module_head() -> str:
    """What LLVM wants to know of this processor at the head of a text."""
    import llvmlite.binding as llvm

    layout = str(target_machine().target_data)
    return f'target datalayout = "{layout}"\ntarget triple = "{llvm.get_process_triple()}"\n'


def object_code(text: str) -> bytes:
    """LLVM's text, made as fast as LLVM can, for this processor. It calls nothing but copying and filling."""
    import llvmlite.binding as llvm

    machine = target_machine()
    module = llvm.parse_assembly(text)
    module.verify()
    options = llvm.create_pipeline_tuning_options(speed_level=3)
    options.loop_vectorization = True
    options.inlining_threshold = (
        0  # what is to be put in the place of its call says so; the rest costs time here
    )
    builder = llvm.create_pass_builder(machine, options)
    builder.getModulePassManager().run(module, builder)
    code: bytes = machine.emit_object(module)
    return code


def load(name: str, code: MachineCode, object_code: bytes) -> Callable[..., Any]:
    """A Python function for a kernel. It is called without the interpreter lock.

    It raises TypeError and OverflowError as ``checker`` says, ctypes.ArgumentError where a float is none, and
    RuntimeError where the kernel fails.
    """
    types = [kind for argument in code.arguments for kind in ctypes_of(argument)]
    address = _address(code.symbol, object_code)
    function = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_void_p, *types)(address)
    room = NUMBERS[code.gives[0] if code.gives else "int64"] * max(len(code.gives), 1)

    checked = checker(name, code.arguments)

    def kernel(*arguments: Any) -> Any:
        values = checked(arguments)
        result = room()
        if function(ctypes.addressof(result), *values):
            raise RuntimeError(f"{name} failed")
        return tuple(result) if len(code.gives) > 1 else result[0] if code.gives else None

    kernel.__name__ = name
    return kernel


@cache
def _engine() -> Any:
    import llvmlite.binding as llvm

    machine = target_machine()
    return llvm.create_mcjit_compiler(llvm.parse_assembly(""), machine)


def _address(symbol: str, object_code: bytes) -> int:
    import llvmlite.binding as llvm

    engine = _engine()
    address: int = engine.get_function_address(symbol)
    if not address:
        engine.add_object_file(llvm.ObjectFileRef.from_data(object_code))
        engine.finalize_object()
        address = engine.get_function_address(symbol)
    return address
