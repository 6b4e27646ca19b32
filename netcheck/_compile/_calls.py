"""What a kernel may call: helpers, primitives, casts, and a few functions of Python."""

from __future__ import annotations

import ast
from typing import Any, Final

import numpy as np

from netcheck._compile._expressions import Expressions
from netcheck._compile._helpers import Helper, Primitive
from netcheck._compile._values import (
    LLVM,
    ArrayValue,
    Group,
    Number,
    UntranslatableError,
    Value,
    is_unsigned,
    joined,
    kind_of,
    leaves,
    llvm_of,
    value_of,
)

_CASTS: Final[dict[Any, str]] = {
    float: "float64",
    **{getattr(np, kind): kind for kind in LLVM if kind != "bool"},
}


class Calls(Expressions):
    """Expressions, with calls in them."""

    def _call(self, node: ast.Call) -> Value:
        function = self.known(node.func)
        if node.keywords or any(isinstance(argument, ast.Starred) for argument in node.args):
            raise UntranslatableError("named arguments")
        if isinstance(function, Primitive):
            return self._primitive(function, [self.value(argument) for argument in node.args])
        if isinstance(function, Helper):
            return self._helper(function, [self.value(argument) for argument in node.args])
        if function is len:
            rows = self.tree(node.args[0])
            if not isinstance(rows, ArrayValue):
                raise UntranslatableError("the length of what is no array")
            return Number("int64", rows.shape[0])
        if function not in {*_CASTS, int, abs, min, max}:
            raise UntranslatableError(f"a call of {ast.unparse(node.func)}")
        return self._of_numbers(function, [self.number(argument) for argument in node.args])

    def _of_numbers(self, function: Any, numbers: list[Number]) -> Number:
        """A cast, or what Python itself says of numbers."""
        if function in {min, max}:
            return self._extreme(numbers, "lt" if function is min else "gt")
        (number,) = numbers
        if function is int:
            if is_unsigned(number.kind) or number.kind == "float64":
                raise UntranslatableError(f"int of {number.kind}")
            return self.cast(number, "int64")
        if function is abs:
            return self._distance(number)
        return self.cast(number, _CASTS[function])

    def _extreme(self, numbers: list[Number], word: str) -> Number:
        """The least or the greatest number, the first of those that are equal."""
        best = numbers[0]
        for number in numbers[1:]:
            kind = joined(best.kind, number.kind)
            best, other = self.cast(best, kind), self.cast(number, kind)
            holds = self.ordered(word, other, best)
            best = Number(
                kind, self.make(f"select i1 {holds}, {LLVM[kind]} {other.at}, {LLVM[kind]} {best.at}")
            )
        return best

    def _distance(self, number: Number) -> Number:
        if is_unsigned(number.kind) or number.kind in {"float64", "bool"}:
            raise UntranslatableError(f"abs of {number.kind}")
        at = self.cast(number, "int64").at
        below = self.make(f"icmp slt i64 {at}, 0")
        turned = self.make(f"sub i64 0, {at}")
        return Number("int64", self.make(f"select i1 {below}, i64 {turned}, i64 {at}"))

    def _primitive(self, primitive: Primitive, arguments: list[Value]) -> Value:
        if len(arguments) != len(primitive.takes):
            raise UntranslatableError(f"{primitive.name} takes {len(primitive.takes)} arguments")
        for argument, kind in zip(arguments, primitive.takes, strict=True):
            given = kind_of(argument)
            if (given[:3] != ("array", "uint8", 1)) if kind == "array" else (given != kind):
                raise UntranslatableError(f"{primitive.name} of {given}")
            if isinstance(argument, ArrayValue) and not primitive.gives and not argument.is_writable:
                raise UntranslatableError("a write to an array that is only read")
        parts = [str(leaf) for argument in arguments for leaf in leaves(argument)]
        made = ""
        for line in primitive.lines:
            text = line.format(*parts, made=made)
            if line.startswith("store"):
                self.do(text)
            else:
                made = self.make(text)
        return Number(primitive.gives, made) if primitive.gives else Group((), ())

    def _helper(self, helper: Helper, arguments: list[Value]) -> Value:
        callee = self._program.helper(helper, tuple(kind_of(argument) for argument in arguments))
        passed = [
            f"{llvm} {leaf}"
            for argument in arguments
            for llvm, leaf in zip(llvm_of(kind_of(argument)), leaves(argument), strict=True)
        ]
        call = f"call {callee.result} @{callee.name}({', '.join(passed)})"
        kinds = [*llvm_of(callee.gives)]
        if callee.result == "void":
            self.do(call)
            return value_of(callee.gives, iter(()))
        made = self.make(call)
        if callee.can_fail:
            self.fail_if(self.make(f"extractvalue {callee.result} {made}, {len(kinds)}"), self.failing())
        elif len(kinds) == 1:
            return value_of(callee.gives, iter((made,)))
        parts = [self.make(f"extractvalue {callee.result} {made}, {place}") for place in range(len(kinds))]
        return value_of(callee.gives, iter(parts))
