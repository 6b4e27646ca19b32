"""Statements of a kernel, translated to LLVM."""

from __future__ import annotations

import ast
from collections.abc import Callable
from typing import Any

from netcheck._compile._calls import Calls
from netcheck._compile._function import AgainError, BasicBlock
from netcheck._compile._values import (
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
)


class Statements(Calls):
    """What a function does."""

    is_draft = False  # what it gives was not known where it failed: to be written again
    _loops: list[tuple[BasicBlock, BasicBlock]]  # where ``continue`` and ``break`` go

    def body(self, statements: list[ast.stmt]) -> None:
        """All statements, and the return at the end."""
        self._loops = []
        self._all(statements)
        if not self.now.is_ended and (self.facts.gives is None or not [*llvm_of(self.facts.gives)]):
            self._returned(Group((), ()))
        if self.is_draft:
            raise AgainError

    def _all(self, statements: list[ast.stmt]) -> None:
        for statement in statements:
            translate: Callable[[Any], None] | None = getattr(
                self, f"_do_{type(statement).__name__.lower()}", None
            )
            if translate is None:
                raise UntranslatableError(type(statement).__name__)
            try:
                translate(statement)
            except UntranslatableError as error:
                error.line = error.line or statement.lineno
                raise

    # -- values into places

    def _do_expr(self, node: ast.Expr) -> None:
        if not isinstance(node.value, ast.Constant):
            self.tree(node.value)

    def _do_pass(self, node: ast.Pass) -> None:
        pass

    def _do_assign(self, node: ast.Assign) -> None:
        value = self.value(node.value)
        for target in node.targets:
            self._put(target, value)

    def _do_annassign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self._put(node.target, self.value(node.value))

    def _put(self, target: ast.expr, value: Value) -> None:
        if isinstance(target, ast.Name):
            if target.id != "_":
                self.assign(target.id, value)
        elif isinstance(target, ast.Tuple):
            for place, member in zip(target.elts, self._members(value, len(target.elts)), strict=True):
                self._put(place, member)
        elif isinstance(target, ast.Subscript) and isinstance(value, Number):
            self.write(self._cell(target), value)
        else:
            raise UntranslatableError("an assignment to this")

    def _cell(self, target: ast.Subscript) -> ArrayValue:
        cell = self.item(self.tree(target.value), target.slice)
        if cell.shape:
            raise UntranslatableError("an assignment to a part of an array")
        return cell

    def _members(self, value: Value, count: int) -> tuple[Value, ...]:
        """The members of a tuple, or the numbers or parts of an array with as many."""
        if isinstance(value, Group):
            if len(value.members) != count:
                raise UntranslatableError(f"{len(value.members)} values for {count} names")
            return value.members
        if isinstance(value, ArrayValue) and len(value.shape) == 1:
            other = self.make(f"icmp ne i64 {value.shape[0]}, {count}")
            self.fail_if(other, self.failing())
            places = [ast.Constant(place) for place in range(count)]
            return tuple(self.read(self.item(value, place)) for place in places)
        raise UntranslatableError("a value for several names")

    def _do_augassign(self, node: ast.AugAssign) -> None:
        if isinstance(node.target, ast.Name):
            before = self.number(ast.Name(node.target.id, ast.Load()))
            self.assign(node.target.id, self.combined(node.op, before, self.number(node.value)))
        elif isinstance(node.target, ast.Subscript):
            cell = self._cell(node.target)
            added = self.number(node.value)
            self.write(cell, self.combined(node.op, self.read(cell), added))
        else:
            raise UntranslatableError("an assignment to this")

    # -- the way through

    def _do_if(self, node: ast.If) -> None:
        yes, no, behind = self.block(), self.block(), self.block()
        self.decide(node.test, yes, no)
        for block, statements in ((yes, node.body), (no, node.orelse)):
            self.begin(block)
            self._all(statements)
            self.jump(behind)
        self.begin(behind)

    def _do_while(self, node: ast.While) -> None:
        head, body, behind = self.block(), self.block(), self.block()
        if node.orelse:
            raise UntranslatableError("else of a loop")
        self.jump(head)
        self.begin(head)
        self.decide(node.test, body, behind)
        self.begin(body)
        self._looped(node.body, head, behind)
        self.begin(behind)

    def _looped(self, statements: list[ast.stmt], following: BasicBlock, behind: BasicBlock) -> None:
        """What a loop does, then on to ``following``."""
        self._loops.append((following, behind))
        self._all(statements)
        self._loops.pop()
        self.jump(following)

    def _do_for(self, node: ast.For) -> None:
        if node.orelse or not isinstance(node.target, ast.Name):
            raise UntranslatableError("a loop of this form")
        if isinstance(node.iter, ast.Call) and self.known(node.iter.func) is range:
            self._count_up(node, node.target.id, node.iter.args)
            return
        members = self.known(node.iter)
        if not isinstance(members, tuple):
            raise UntranslatableError("a loop over what is no range")
        behind = self.block()
        for member in members:  # written out
            body, following = self.block(), self.block()
            self.jump(body)
            self.begin(body)
            self.assign(node.target.id, literal(member))
            self._looped(node.body, following, behind)
            self.begin(following)
        self.jump(behind)
        self.begin(behind)

    def _count_up(self, node: ast.For, name: str, arguments: list[ast.expr]) -> None:
        """A loop over a range. What is done with its variable does not change how often it goes round."""
        bounds = [self._bound(argument) for argument in arguments[:2]]
        first, last = bounds if len(bounds) == 2 else ("0", bounds[0])
        step = self.known(arguments[2]) if len(arguments) == 3 else 1
        if type(step) is not int or step == 0:
            raise UntranslatableError("steps that are not written out")
        (at,) = leaves(self.slots("int64"))
        assert not isinstance(at, str)
        head, body, following, behind = self.block(), self.block(), self.block(), self.block()
        self.do(f"store i64 {first}, ptr {at.address}")
        self.jump(head)
        self.begin(head)
        now = self.part(at)
        self.branch(self.make(f"icmp {'slt' if step > 0 else 'sgt'} i64 {now}, {last}"), body, behind)
        self.begin(body)
        self.assign(name, Number("int64", now))
        self._looped(node.body, following, behind)
        self.begin(following)
        self.do(f"store i64 {self.make(f'add nsw i64 {now}, {step}')}, ptr {at.address}")
        self.jump(head)
        self.begin(behind)

    def _bound(self, node: ast.expr) -> str:
        number = self.number(node)
        if number.kind in {"uint64", "float64", "bool"}:
            raise UntranslatableError(f"a range to {number.kind}")
        return str(self.cast(number, "int64").at)

    def _do_break(self, node: ast.Break) -> None:
        self.jump(self._loops[-1][1])

    def _do_continue(self, node: ast.Continue) -> None:
        self.jump(self._loops[-1][0])

    # -- the way out

    def _do_return(self, node: ast.Return) -> None:
        self._returned(Group((), ()) if node.value is None else self.value(node.value))

    def _returned(self, value: Value) -> None:
        kind = kind_of(value)
        if self.facts.gives is None:
            self.facts.gives = kind
        wider = joined(self.facts.gives, kind)
        if wider != self.facts.gives:
            self.facts.gives = wider
            raise AgainError
        value = self.loaded(self.converted(value, wider))
        self.give(wider, [str(leaf) for leaf in leaves(value)])

    def give(self, kind: Any, parts: list[str]) -> None:
        """Ends the function with a result."""
        raise NotImplementedError


class HelperBody(Statements):
    """A function that only kernels call."""

    @property
    def result(self) -> str:
        """LLVM's type of what it gives."""
        kinds = [*llvm_of(self.facts.gives)]
        if self.facts.can_fail:
            kinds.append("i1")
        if not kinds:
            return "void"
        return kinds[0] if len(kinds) == 1 and not self.facts.can_fail else f"{{ {', '.join(kinds)} }}"

    def give(self, kind: Any, parts: list[str]) -> None:
        """Ends the function with a result, and that it did not fail."""
        if self.result == "void":
            self.end("ret void")
        elif len(parts) == 1 and not self.facts.can_fail:
            self.end(f"ret {self.result} {parts[0]}")
        else:
            whole = "poison"
            pairs = [*zip(llvm_of(kind), parts, strict=True)]
            if self.facts.can_fail:
                pairs.append(("i1", "false"))
            for place, (llvm, part) in enumerate(pairs):
                whole = self.make(f"insertvalue {self.result} {whole}, {llvm} {part}, {place}")
            self.end(f"ret {self.result} {whole}")

    def failing(self) -> str:
        """The result of a function that failed."""
        if self.facts.gives is None:
            self.is_draft = True
            return "unreachable"
        values = [
            f"{llvm} {'null' if llvm == 'ptr' else 'zeroinitializer'}" for llvm in llvm_of(self.facts.gives)
        ]
        return f"ret {self.result} {{ {', '.join([*values, 'i1 true'])} }}"


class KernelBody(Statements):
    """A kernel: its result goes to a place, and it gives whether it failed."""

    def __init__(self, *how: Any, gives: tuple[str, ...]) -> None:
        super().__init__(*how)
        self._gives = gives

    def give(self, kind: Any, parts: list[str]) -> None:
        """The result to its place."""
        given = kind[2] if isinstance(kind, tuple) else (kind,)
        if len(given) != len(self._gives):
            raise UntranslatableError(f"a result of {given} where {self._gives} is declared")
        for place, (was, declared, part) in enumerate(zip(given, self._gives, parts, strict=True)):
            if joined(was, declared) != declared and not (is_unsigned(was) and declared == "int64"):
                raise UntranslatableError(f"a result of {was} where {declared} is declared")
            number = self.cast(Number(was, part), declared)
            address = self.make(f"getelementptr i64, ptr %result, i64 {place}")
            self.do(f"store {next(llvm_of(declared))} {number.at}, ptr {address}")
        self.end("ret i32 0")

    def failing(self) -> str:
        """What a kernel that failed gives."""
        return "ret i32 1"
