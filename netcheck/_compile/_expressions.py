"""Expressions of a kernel, translated to LLVM. What they mean is what numba makes of them.

Refused is what mixes signed and unsigned numbers of 64 bits. Division by zero ends the kernel as failed. An
index below zero counts from the end if it is signed. Like numba, nothing here checks bounds.
"""

from __future__ import annotations

import ast
import builtins
from collections.abc import Callable, Iterator, Mapping
from types import ModuleType
from typing import Any, Final

import numpy as np

from netcheck._compile._arithmetic import Arithmetic, a_number
from netcheck._compile._function import BasicBlock, Facts
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
    literal,
    llvm_of,
    value_of,
)

_COMPARED: Final = {ast.Eq: "eq", ast.NotEq: "ne", ast.Lt: "lt", ast.LtE: "le", ast.Gt: "gt", ast.GtE: "ge"}
MEMORY: Final = {**LLVM, "bool": "i8"}  # of a number in an array


class Expressions(Arithmetic):
    """What a function computes."""

    def __init__(self, facts: Facts, names: Mapping[str, Any], locals_: set[str], program: Any) -> None:
        """Names are those of the function's module, and those of its own."""
        super().__init__(facts)
        self._names = names
        self._locals = locals_
        self._program = program

    # -- what is known before a kernel runs

    def known(self, node: ast.expr) -> Any:
        """What an expression stands for; ``NotImplemented`` for what only the kernel knows."""
        if isinstance(node, ast.Name) and node.id not in self._locals:
            found = self._names.get(node.id, NotImplemented)
            return getattr(builtins, node.id, NotImplemented) if found is NotImplemented else found
        if isinstance(node, ast.Attribute):
            base = self.known(node.value)
            return getattr(base, node.attr) if isinstance(base, ModuleType) else NotImplemented
        if isinstance(node, ast.Constant):
            return node.value
        return self._written_out(node)

    def _written_out(self, node: ast.expr) -> Any:
        """A number with a minus, or a tuple of numbers."""
        if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
            number = self.known(node.operand)
            return -number if type(number) is int else NotImplemented
        if isinstance(node, ast.Tuple) and isinstance(node.ctx, ast.Load):
            members = tuple(self.known(member) for member in node.elts)
            return members if all(type(member) is int for member in members) else NotImplemented
        return NotImplemented

    def constant(self, known: Any) -> Value:
        """Something known, as a value."""
        if isinstance(known, bool | int):
            return literal(known)
        if isinstance(known, np.integer):
            return self.cast(literal(int(known)), known.dtype.name)
        if isinstance(known, float | np.floating):
            return Number("float64", "0x" + np.float64(known).tobytes()[::-1].hex())
        if isinstance(known, bytes):
            known = np.frombuffer(known, np.uint8)
        elif isinstance(known, tuple) and all(type(member) is int for member in known):
            known = np.array(known, np.int64)
        if isinstance(known, np.ndarray):
            return ArrayValue(
                known.dtype.name, self._program.array(known), tuple(map(str, known.shape)), False
            )
        raise UntranslatableError(f"the constant {known!r}")

    # -- values

    def value(self, node: ast.expr) -> Value:
        """What an expression comes to."""
        return self.loaded(self.tree(node))

    def number(self, node: ast.expr) -> Number:
        """The same, for one that must be a number."""
        return a_number(self.value(node))

    def tree(self, node: ast.expr) -> Value:
        """The same, with what lies in variables still there."""
        if isinstance(node, ast.Name) and node.id in self._locals:
            if node.id not in self.variables:
                raise UntranslatableError(f"{node.id} has no value yet")
            return self.variables[node.id]
        if isinstance(node, ast.Tuple):
            return Group((), tuple(self.tree(member) for member in node.elts))
        known = self.known(node)
        if known is not NotImplemented:
            return self.constant(known)
        kind = type(node).__name__
        translate: Callable[[Any], Value] | None = getattr(self, f"_{kind.lower()}", None)
        if translate is None:
            raise UntranslatableError(kind)
        return translate(node)

    def _attribute(self, node: ast.Attribute) -> Value:
        base = self.tree(node.value)
        if isinstance(base, Group) and node.attr in base.fields:
            member: Value = base.members[base.fields.index(node.attr)]
            return member
        if isinstance(base, ArrayValue) and node.attr == "shape":
            return Group((), tuple(Number("int64", size) for size in base.shape))
        raise UntranslatableError(f".{node.attr}")

    def _subscript(self, node: ast.Subscript) -> Value:
        base = self.tree(node.value)
        if isinstance(base, Group):
            index = self.known(node.slice)
            if type(index) is not int:
                raise UntranslatableError("a place in a tuple that is not written out")
            member: Value = base.members[index]
            return member
        rows = self.item(base, node.slice)
        return rows if rows.shape else self.read(rows)

    def read(self, rows: ArrayValue) -> Number:
        """The number at an address."""
        read = self.make(f"load {MEMORY[rows.dtype]}, ptr {rows.address}")
        if rows.dtype == "bool":
            read = self.make(f"icmp ne i8 {read}, 0")
        return Number(rows.dtype, read)

    def write(self, rows: ArrayValue, number: Number) -> None:
        """A number to an address, cut to what lies there."""
        if not rows.is_writable:
            raise UntranslatableError("a write to an array that is only read")
        if rows.dtype == "bool" and number.kind != "bool":
            raise UntranslatableError("a number for a truth")
        at = self.cast(number, rows.dtype).at
        if rows.dtype == "bool":
            at = self.make(f"zext i1 {at} to i8")
        self.do(f"store {MEMORY[rows.dtype]} {at}, ptr {rows.address}")

    def item(self, base: Value, index: ast.expr) -> ArrayValue:
        """What stands at an index: a part of an array; one without axes for a number."""
        if not isinstance(base, ArrayValue):
            raise UntranslatableError("an index of what is no array")
        indices = index.elts if isinstance(index, ast.Tuple) else [index]
        if len(indices) > len(base.shape):
            raise UntranslatableError("too many indices")
        shape = [self.part(size) for size in base.shape]
        sizes = shape[len(indices) :]
        if isinstance(indices[-1], ast.Slice):
            place, size = self._slice(indices[-1], shape[len(indices) - 1])
            sizes = [size, *sizes]
        else:
            place = self._place(indices[-1], shape[len(indices) - 1])
        before = [self._place(one, shape[axis]) for axis, one in enumerate(indices[:-1])]
        at = ""
        for axis, one in enumerate([*before, place]):
            if at:
                at = self.make(f"mul nsw i64 {at}, {shape[axis]}")
            at = self.make(f"add nsw i64 {at}, {one}") if at else one
        for size in shape[len(indices) :]:
            at = self.make(f"mul nsw i64 {at}, {size}")
        kind, data = MEMORY[base.dtype], self.part(base.address)
        address = self.make(f"getelementptr inbounds {kind}, ptr {data}, i64 {at}")
        return ArrayValue(base.dtype, address, tuple(sizes), base.is_writable)

    def _place(self, node: ast.expr, size: str) -> str:
        if isinstance(node, ast.Slice):
            raise UntranslatableError("a slice before the last axis")
        number = self.number(node)
        if number.kind in {"float64", "bool"}:
            raise UntranslatableError(f"a {number.kind} as index")
        at = str(self.cast(number, "int64").at)
        if is_unsigned(number.kind) or (number.literal is not None and number.literal >= 0):
            return at
        return self._from_end(at, size)

    def _from_end(self, at: str, size: str) -> str:
        below = self.make(f"icmp slt i64 {at}, 0")
        behind = self.make(f"add nsw i64 {at}, {size}")
        return self.make(f"select i1 {below}, i64 {behind}, i64 {at}")

    def _slice(self, node: ast.Slice, size: str) -> tuple[str, str]:
        """Start and length of a slice of an axis."""
        if node.step is not None:
            raise UntranslatableError("a slice with steps")
        bounds = []
        for bound, otherwise in ((node.lower, "0"), (node.upper, size)):
            at = otherwise
            if bound is not None:
                at = self._from_end(str(self.cast(self.number(bound), "int64").at), size)
                at = self._chosen("slt", at, size)
                at = self._chosen("sgt", at, "0")
            bounds.append(at)
        length = self.make(f"sub nsw i64 {bounds[1]}, {bounds[0]}")
        return bounds[0], self._chosen("sgt", length, "0")

    def _chosen(self, order: str, one: str, other: str) -> str:
        holds = self.make(f"icmp {order} i64 {one}, {other}")
        return self.make(f"select i1 {holds}, i64 {one}, i64 {other}")

    # -- arithmetic

    def _binop(self, node: ast.BinOp) -> Value:
        return self.combined(node.op, self.number(node.left), self.number(node.right))

    def _unaryop(self, node: ast.UnaryOp) -> Value:
        if isinstance(node.op, ast.Not):
            truth = self.truth(self.value(node.operand))
            return Number("bool", self.make(f"xor i1 {truth}, true"))
        number = self.number(node.operand)
        if number.kind == "bool":
            raise UntranslatableError("a truth as a number")
        if isinstance(node.op, ast.USub):
            if number.kind == "float64":
                return Number("float64", self.make(f"fneg double {number.at}"))
            if is_unsigned(number.kind):
                raise UntranslatableError("a number without sign made negative")
            return Number("int64", self.make(f"sub i64 0, {self.cast(number, 'int64').at}"))
        if isinstance(node.op, ast.Invert) and number.kind != "float64":
            kind = "uint64" if is_unsigned(number.kind) else "int64"
            return Number(kind, self.make(f"xor i64 {self.cast(number, kind).at}, -1"))
        raise UntranslatableError(type(node.op).__name__)

    # -- truths

    def decide(self, node: ast.expr, yes: BasicBlock, no: BasicBlock) -> None:
        """To one block or another by a condition, of which no more is looked at than needed."""
        if isinstance(node, ast.BoolOp):
            for part in node.values[:-1]:
                following = self.block()
                if isinstance(node.op, ast.And):
                    self.decide(part, following, no)
                else:
                    self.decide(part, yes, following)
                self.begin(following)
            self.decide(node.values[-1], yes, no)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            self.decide(node.operand, no, yes)
        else:
            self.branch(self.truth(self.value(node)), yes, no)

    def _boolop(self, node: ast.BoolOp) -> Value:
        """As a value, where all parts are truths."""
        result, behind = self.slots("bool"), self.block()
        for part in node.values:
            truth = self.number(part)
            if truth.kind != "bool":
                raise UntranslatableError("and, or of what is no truth")
            self.keep(result, truth)
            following = self.block()
            if isinstance(node.op, ast.And):
                self.branch(truth.at, following, behind)
            else:
                self.branch(truth.at, behind, following)
            self.begin(following)
        self.jump(behind)
        self.begin(behind)
        return self.loaded(result)

    def _compare(self, node: ast.Compare) -> Value:
        left = self.value(node.left)
        if len(node.ops) == 1:
            return self._compared(node.ops[0], left, node.comparators[0])[0]
        result = self.slots("bool")
        behind = self.block()
        for place, (operator, right) in enumerate(zip(node.ops, node.comparators, strict=True)):
            holds, left = self._compared(operator, left, right)
            self.keep(result, holds)
            if place + 1 < len(node.ops):
                following = self.block()
                self.branch(holds.at, following, behind)
                self.begin(following)
        self.jump(behind)
        self.begin(behind)
        return self.loaded(result)

    def _compared(self, operator: ast.cmpop, left: Value, node: ast.expr) -> tuple[Number, Value]:
        """Whether one comparison holds, and its right side."""
        one = a_number(left)
        if isinstance(operator, ast.In | ast.NotIn):
            if not isinstance(node, ast.Tuple):
                raise UntranslatableError("in what is not written out")
            found = "false"
            for member in node.elts:
                same = self.ordered("eq", one, self.number(member))
                found = self.make(f"or i1 {found}, {same}")
            if isinstance(operator, ast.NotIn):
                found = self.make(f"xor i1 {found}, true")
            return Number("bool", found), left
        if type(operator) not in _COMPARED:
            raise UntranslatableError(type(operator).__name__)
        other = self.number(node)
        return Number("bool", self.ordered(_COMPARED[type(operator)], one, other)), other

    def _ifexp(self, node: ast.IfExp) -> Value:
        blocks = self.block(), self.block()
        behind = self.block()
        self.decide(node.test, *blocks)
        values, ends = [], []
        for block, part in zip(blocks, (node.body, node.orelse), strict=True):
            self.begin(block)
            values.append(self.value(part))
            ends.append(self.now)
        kind = joined(*map(kind_of, values))
        sides = []
        for value, end in zip(values, ends, strict=True):
            self.now = end
            sides.append([*leaves(self.converted(value, kind))])
            self.jump(behind)
        self.begin(behind)
        return value_of(kind, self._either(kind, sides, ends))

    def _either(self, kind: Any, sides: list[Any], ends: list[BasicBlock]) -> Iterator[str]:
        for llvm, one, other in zip(llvm_of(kind), *sides, strict=True):
            yield self.make(f"phi {llvm} [ {one}, %{ends[0].label} ], [ {other}, %{ends[1].label} ]")
