"""A function of LLVM while it is written: blocks, registers, variables."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import field
from typing import Any

from netcheck._compile._values import (
    BITS,
    LLVM,
    ArrayValue,
    Group,
    Number,
    Reference,
    Slot,
    UntranslatableError,
    Value,
    is_unsigned,
    joined,
    kind_of,
    leaves,
    llvm_of,
    value_of,
)
from netcheck.records import dataclass


class AgainError(Exception):
    """More is known of a function than when it was begun: it is written again."""


@dataclass
class Facts:
    """What is known of a function, from writing it before.

    kinds:    of its variables
    gives:    kind of its result; None while nothing is known
    can_fail: it can divide by zero, or call what can
    """

    kinds: dict[str, Any] = field(default_factory=dict)
    gives: Any = None
    can_fail: bool = False


@dataclass
class BasicBlock:
    """A stretch of instructions that ends with a jump."""

    label: str
    lines: list[str] = field(default_factory=list)
    is_ended: bool = False


class Function:
    """The body of a function of LLVM. Variables live in memory; LLVM puts them into registers."""

    def __init__(self, facts: Facts) -> None:
        self.facts = facts
        self.variables: dict[str, Value] = {}
        self._entry = BasicBlock("entry")
        self._blocks: list[BasicBlock] = []
        self._count = 0
        self.begin(self.block())

    def text(self) -> str:
        """All blocks."""
        first = self._blocks[0].label
        parts = ["entry:", *self._entry.lines, f"  br label %{first}"]
        for block in self._blocks:
            parts += [f"{block.label}:", *block.lines]
            if not block.is_ended:
                parts.append("  unreachable")
        return "\n".join(parts)

    # -- blocks

    def block(self) -> BasicBlock:
        """A block, not begun."""
        self._count += 1
        return BasicBlock(f"b{self._count}")

    def begin(self, block: BasicBlock) -> BasicBlock:
        """What is written next goes to the block."""
        self._blocks.append(block)
        self.now = block
        return block

    def do(self, instruction: str) -> None:
        """An instruction without a result."""
        if self.now.is_ended:  # nothing gets here
            self.begin(self.block())
        self.now.lines.append(f"  {instruction}")

    def make(self, instruction: str) -> str:
        """An instruction's result."""
        self._count += 1
        register = f"%r{self._count}"
        self.do(f"{register} = {instruction}")
        return register

    def end(self, instruction: str) -> None:
        """The last instruction of a block."""
        if not self.now.is_ended:
            self.do(instruction)
            self.now.is_ended = True

    def jump(self, block: BasicBlock) -> None:
        """On to a block."""
        self.end(f"br label %{block.label}")

    def branch(self, condition: Reference, yes: BasicBlock, no: BasicBlock) -> None:
        """To one block or another."""
        self.end(f"br i1 {condition}, label %{yes.label}, label %{no.label}")

    # -- variables

    def slots(self, kind: Any) -> Value:
        """Places for a value of a kind, with zeros in them."""
        return value_of(kind, self._new_slots(kind))

    def _new_slots(self, kind: Any) -> Iterator[Slot]:
        for llvm in llvm_of(kind):
            self._count += 1
            address = f"%v{self._count}"
            zero = {"ptr": "null", "double": "0.0", "i1": "false"}.get(llvm, "0")
            self._entry.lines.append(f"  {address} = alloca {llvm}")
            self._entry.lines.append(f"  store {llvm} {zero}, ptr {address}")
            yield Slot(address, llvm)

    def assign(self, name: str, value: Value) -> None:
        """A value to a variable."""
        kind = kind_of(value)
        if name not in self.variables:
            self.variables[name] = self.slots(self.facts.kinds.get(name, kind))
        known = kind_of(self.variables[name])
        wider = joined(known, kind)
        if wider != known:
            self.facts.kinds[name] = wider
            raise AgainError
        self.keep(self.variables[name], self.converted(value, known))

    def keep(self, slots: Value, value: Value) -> None:
        """A value to places for its kind."""
        for slot, part in zip(leaves(slots), leaves(self.loaded(value)), strict=True):
            assert isinstance(slot, Slot)
            self.do(f"store {slot.llvm} {part}, ptr {slot.address}")

    def loaded(self, value: Value) -> Value:
        """A value with all its parts out of their places."""
        if isinstance(value, Number):
            return value if isinstance(value.at, str) else Number(value.kind, self.part(value.at))
        return value_of(kind_of(value), (self.part(leaf) for leaf in leaves(value)))

    def part(self, leaf: Reference) -> str:
        """A leaf, out of its place."""
        return leaf if isinstance(leaf, str) else self.make(f"load {leaf.llvm}, ptr {leaf.address}")

    # -- numbers

    def converted(self, value: Value, kind: Any) -> Value:
        """A value of a wider kind."""
        if kind_of(value) == kind:
            return value
        if isinstance(value, Number):
            return self.cast(value, kind)
        if isinstance(value, ArrayValue) and joined(kind_of(value), kind) == kind:
            return ArrayValue(value.dtype, value.address, value.shape, kind[3])
        if kind[0] != "tuple":
            raise UntranslatableError(f"{kind_of(value)} in place of {kind}")
        whole: Any = value
        members = tuple(self.converted(*pair) for pair in zip(whole.members, kind[2], strict=True))
        return Group(kind[1], members)

    def cast(self, number: Number, kind: str) -> Number:
        """A number as one of another kind: cut, or filled up with its sign or zeros."""
        was, at = number.kind, self.part(number.at)
        if was == kind:
            return Number(kind, at, number.literal)
        if "float64" in {was, kind}:
            return Number(kind, self._float_or_back(was, at, kind))
        if kind == "bool":
            return Number(kind, self.make(f"icmp ne {LLVM[was]} {at}, 0"))
        if number.literal is not None:
            cut = number.literal & ((1 << BITS[kind]) - 1)
            if not is_unsigned(kind) and cut >> (BITS[kind] - 1):
                cut -= 1 << BITS[kind]
            return Number(kind, str(cut), cut)
        if BITS[was] == BITS[kind]:
            return Number(kind, at)
        word = "zext" if is_unsigned(was) or was == "bool" else "sext"
        word = "trunc" if BITS[was] > BITS[kind] else word
        return Number(kind, self.make(f"{word} {LLVM[was]} {at} to {LLVM[kind]}"))

    def _float_or_back(self, was: str, at: str, kind: str) -> str:
        if kind == "float64":
            word = "uitofp" if is_unsigned(was) or was == "bool" else "sitofp"
            return self.make(f"{word} {LLVM[was]} {at} to double")
        if is_unsigned(kind) or kind == "bool":
            raise UntranslatableError(f"a float as {kind}")
        return self.make(f"fptosi double {at} to {LLVM[kind]}")

    def fail_if(self, condition: str, failing: str) -> None:
        """Ends the function where a condition holds. failing: the instruction that does it"""
        if not self.facts.can_fail:
            self.facts.can_fail = True
            raise AgainError
        wrong, right = self.block(), self.block()
        self.branch(condition, wrong, right)
        self.begin(wrong)
        self.end(failing)
        self.begin(right)
