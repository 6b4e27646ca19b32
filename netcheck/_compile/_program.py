"""Kernels of a module, translated to one text for LLVM, with the helpers that they call."""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final, TypeVar

from numpy.typing import NDArray

from netcheck._compile._expressions import MEMORY
from netcheck._compile._function import AgainError, Facts
from netcheck._compile._helpers import Helper
from netcheck._compile._statements import HelperBody, KernelBody, Statements
from netcheck._compile._types import ArrayType, Signature, TupleType
from netcheck._compile._values import Reference, UntranslatableError, llvm_of, value_of
from netcheck.records import dataclass

_Body = TypeVar("_Body", bound=Statements)
_DECLARED: Final = """\
declare i64 @llvm.bswap.i64(i64)
declare i64 @llvm.cttz.i64(i64, i1)
declare i64 @llvm.ctlz.i64(i64, i1)
"""


@dataclass(frozen=True)
class Source:
    """A function as written: its parameters, what it assigns to, and its statements."""

    parameters: tuple[str, ...]
    assigned: frozenset[str]
    body: list[ast.stmt]


@dataclass(frozen=True)
class Callee:
    """A helper for arguments of some kinds. result: LLVM's type of what it gives"""

    name: str
    result: str
    gives: Any
    can_fail: bool


class Program:
    """A text for LLVM that grows with each kernel."""

    def __init__(self) -> None:
        self._constants: dict[tuple[str, bytes], str] = {}
        self._constant_lines: list[str] = []
        self._functions: list[str] = []
        self._callees: dict[Any, Callee | None] = {}
        self._files: dict[str, dict[int, Source]] = {}

    def text(self, head: str) -> str:
        """All of it, behind what LLVM wants to know of the processor."""
        return "\n".join([head, _DECLARED, *self._constant_lines, *self._functions])

    def array(self, array: NDArray[Any]) -> str:
        """The address of an array that is part of the program."""
        key = array.dtype.name, array.tobytes()
        if key not in self._constants:
            kind = MEMORY[array.dtype.name]
            name = f"@constant{len(self._constants)}"
            cells = ", ".join(f"{kind} {int(cell)}" for cell in array.ravel().tolist())
            self._constant_lines.append(
                f"{name} = private unnamed_addr constant [{array.size} x {kind}] [{cells}], align 8"
            )
            self._constants[key] = name
        return self._constants[key]

    def kernel(self, symbol: str, function: Callable[..., Any], signature: Signature) -> None:
        """A kernel, with all that it calls. Raises UntranslatableError."""

        def begun(facts: Facts, names: set[str]) -> KernelBody:
            return KernelBody(facts, function.__globals__, names, self, gives=signature.gives)

        kinds = tuple(_kind_of_declared(declared) for declared in signature.takes)
        written, parameters = self._written(function, kinds, begun)
        head = f"define i32 @{symbol}({', '.join(['ptr %result', *parameters])})"
        self._functions.append(f"{head} nounwind {{\n{written.text()}\n}}")

    def helper(self, helper: Helper, kinds: tuple[Any, ...]) -> Callee:
        """A helper for arguments of some kinds."""
        key = helper, kinds
        if key not in self._callees:
            self._callees[key] = None
            self._callees[key] = self._translated(helper, kinds, f"helper{len(self._callees)}")
        callee = self._callees[key]
        if callee is None:
            raise UntranslatableError(f"{helper.function.__name__} calls itself, or was refused")
        return callee

    def _translated(self, helper: Helper, kinds: tuple[Any, ...], name: str) -> Callee:
        def begun(facts: Facts, names: set[str]) -> HelperBody:
            return HelperBody(facts, helper.function.__globals__, names, self)

        written, parameters = self._written(helper.function, kinds, begun)
        how = "alwaysinline nounwind" if helper.is_inlined else "nounwind"
        head = f"define internal {written.result} @{name}({', '.join(parameters)}) {how}"
        self._functions.append(f"{head} {{\n{written.text()}\n}}")
        return Callee(name, written.result, written.facts.gives, written.facts.can_fail)

    def _written(
        self,
        function: Callable[..., Any],
        kinds: tuple[Any, ...],
        begun: Callable[[Facts, set[str]], _Body],
    ) -> tuple[_Body, list[str]]:
        """A function, written as often as it takes to know its variables, and its parameters."""
        source, facts = self._source(function), Facts()
        if len(source.parameters) != len(kinds):
            raise UntranslatableError(f"{function.__name__} takes {len(source.parameters)} arguments")
        while True:
            written = begun(facts, {*source.assigned, *source.parameters})
            parameters: list[str] = []
            try:
                for name, kind in zip(source.parameters, kinds, strict=True):
                    value = value_of(kind, _parameters(kind, parameters))
                    if name in source.assigned:
                        written.assign(name, value)
                    else:
                        written.variables[name] = value
                written.body(source.body)
            except AgainError:
                continue
            except UntranslatableError as error:
                if not error.is_placed:
                    error.is_placed = True
                    place = f"{function.__module__}.{function.__name__}, line {error.line}"
                    error.args = (f"{place}: {error}",)
                raise
            return written, parameters

    def _source(self, function: Callable[..., Any]) -> Source:
        code = function.__code__
        if code.co_filename not in self._files:
            self._files[code.co_filename] = dict(_sources_in(Path(code.co_filename)))
        return self._files[code.co_filename][code.co_firstlineno]


def _sources_in(path: Path) -> Iterator[tuple[int, Source]]:
    """The functions of a file, by the line where they begin."""
    for node in ast.parse(path.read_bytes()).body:
        if isinstance(node, ast.FunctionDef):
            stored = (
                name.id
                for name in ast.walk(node)
                if isinstance(name, ast.Name) and isinstance(name.ctx, ast.Store)
            )
            parameters = tuple(argument.arg for argument in node.args.args)
            line = min([node.lineno, *(decorator.lineno for decorator in node.decorator_list)])
            yield line, Source(parameters, frozenset(stored), node.body)


def _parameters(kind: Any, parameters: list[str]) -> Iterator[Reference]:
    for llvm in llvm_of(kind):
        name = f"%a{len(parameters)}"
        parameters.append(f"{llvm} {name}")
        yield name


def _kind_of_declared(declared: Any) -> Any:
    if isinstance(declared, ArrayType):
        return ("array", declared.dtype, declared.dimensions, declared.is_writable)
    if isinstance(declared, TupleType):
        return ("tuple", declared.fields, tuple(map(_kind_of_declared, declared.members)))
    return declared
