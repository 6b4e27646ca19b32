"""What becomes of numbers, translated to LLVM: what numba makes of them, where that is exact."""

from __future__ import annotations

import ast
from typing import Final

from netcheck._compile._function import Function
from netcheck._compile._values import (
    LLVM,
    Number,
    UntranslatableError,
    Value,
    is_unsigned,
    together,
)

_SIMPLE: Final = {
    ast.Add: "add",
    ast.Sub: "sub",
    ast.Mult: "mul",
    ast.BitAnd: "and",
    ast.BitOr: "or",
    ast.BitXor: "xor",
}
_OF_FLOATS: Final = {ast.Add: "fadd", ast.Sub: "fsub", ast.Mult: "fmul"}


class Arithmetic(Function):
    """A function, with numbers to compute."""

    def combined(self, operator: ast.operator, one: Number, other: Number) -> Number:
        """Two numbers by an operator."""
        sort = type(operator)
        if sort in {ast.LShift, ast.RShift}:
            return self._shifted(one, other, is_left=sort is ast.LShift)
        if sort is ast.Div:
            return self._divided(one, other)
        kind = together(one.kind, other.kind)
        if kind == "bool" or (one.kind == other.kind == "bool"):
            kind = "bool" if sort in {ast.BitAnd, ast.BitOr, ast.BitXor} else "int64"
        if kind == "uint64" and "bool" in {one.kind, other.kind}:
            raise UntranslatableError("a truth with a number without sign")
        one, other = self.cast(one, kind), self.cast(other, kind)
        if sort in {ast.FloorDiv, ast.Mod}:
            return self._floored(one, other, is_rest=sort is ast.Mod)
        words = _OF_FLOATS if kind == "float64" else _SIMPLE
        if sort not in words:
            raise UntranslatableError(f"{sort.__name__} of {kind}")
        return Number(kind, self.make(f"{words[sort]} {LLVM[kind]} {one.at}, {other.at}"))

    def _shifted(self, one: Number, other: Number, *, is_left: bool) -> Number:
        if "float64" in {one.kind, other.kind} or one.kind == "bool":
            raise UntranslatableError(f"{one.kind} shifted by {other.kind}")
        kind = "uint64" if is_unsigned(one.kind) else "int64"
        word = "shl" if is_left else "lshr" if kind == "uint64" else "ashr"
        one, other = self.cast(one, kind), self.cast(other, "int64")
        return Number(kind, self.make(f"{word} i64 {one.at}, {other.at}"))

    def _floored(self, one: Number, other: Number, *, is_rest: bool) -> Number:
        """Division that rounds down, or what it leaves; it fails where the divisor is 0."""
        if one.kind == "float64" or (other.literal is not None and other.literal <= 0):
            raise UntranslatableError(f"a whole division of {one.kind} by {other.literal}")
        if other.literal is None:
            self.fail_if(self.make(f"icmp eq i64 {other.at}, 0"), self.failing())
        if one.kind == "uint64":
            word = "urem" if is_rest else "udiv"
            return Number(one.kind, self.make(f"{word} i64 {one.at}, {other.at}"))
        by = str(other.at)
        turns = ""  # dividing by -1 is taking the opposite: the processor traps where that has no room
        if other.literal is None:
            turns = self.make(f"icmp eq i64 {by}, -1")
            by = self.make(f"select i1 {turns}, i64 1, i64 {by}")
        rest = self.make(f"srem i64 {one.at}, {by}")
        sides = self.make(f"icmp slt i64 {self.make(f'xor i64 {rest}, {by}')}, 0")
        low = self.make(f"and i1 {sides}, {self.make(f'icmp ne i64 {rest}, 0')}")
        if is_rest:
            lifted = self.make(f"add nsw i64 {rest}, {by}")
            return Number("int64", self.make(f"select i1 {low}, i64 {lifted}, i64 {rest}"))
        whole = self.make(f"sdiv i64 {one.at}, {by}")
        whole = self.make(f"add nsw i64 {whole}, {self.make(f'sext i1 {low} to i64')}")
        if turns:
            opposite = self.make(f"sub i64 0, {one.at}")
            whole = self.make(f"select i1 {turns}, i64 {opposite}, i64 {whole}")
        return Number("int64", whole)

    def _divided(self, one: Number, other: Number) -> Number:
        one, other = self.cast(one, "float64"), self.cast(other, "float64")
        self.fail_if(self.make(f"fcmp oeq double {other.at}, 0.0"), self.failing())
        return Number("float64", self.make(f"fdiv double {one.at}, {other.at}"))

    def truth(self, value: Value) -> str:
        """Whether a value counts as true."""
        number = a_number(value)
        if number.kind == "bool":
            return self.part(number.at)
        if number.kind == "float64":
            return self.make(f"fcmp une double {number.at}, 0.0")
        return self.make(f"icmp ne {LLVM[number.kind]} {number.at}, 0")

    def ordered(self, word: str, one: Number, other: Number) -> str:
        """Whether two numbers are in an order, or equal."""
        for here, there in ((one, other), (other, one)):
            if here.kind == "uint64" and there.literal is not None and there.literal >= 0:
                one, other = self.cast(one, "uint64"), self.cast(other, "uint64")
        kind = together(one.kind, other.kind)
        one, other = self.cast(one, kind), self.cast(other, kind)
        if kind == "float64":
            return self.make(f"fcmp {'une' if word == 'ne' else 'o' + word} double {one.at}, {other.at}")
        sign = "" if word in {"eq", "ne"} else "u" if kind == "uint64" else "s"
        return self.make(f"icmp {sign}{word} {LLVM[kind]} {one.at}, {other.at}")

    def failing(self) -> str:
        """The instruction that ends the function where it fails."""
        raise NotImplementedError


def a_number(value: Value) -> Number:
    """A value that must be a number."""
    if not isinstance(value, Number):
        raise UntranslatableError("an array or a tuple in place of a number")
    return value
