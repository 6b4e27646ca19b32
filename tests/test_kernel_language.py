"""What kernels say means the same compiled and as plain Python; what is not exact is refused."""

from __future__ import annotations

import ast
import operator
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck._compile._arithmetic import Arithmetic
from netcheck._compile._code import MachineCode
from netcheck._compile._function import Facts
from netcheck._compile._load import load, module_head, object_code
from netcheck._compile._program import Program
from netcheck._compile._types import packed
from netcheck._compile._values import Number, UntranslatableError
from netcheck._compile.define import Kernel
from tests import kernels_to_try as trying

WORD = (1 << 64) - 1
SMALL = st.integers(-1000, 1000)
FEW = st.integers(-9, 9)


@cache
def compiled() -> dict[str, Any]:
    """All kernels that can be compiled, by name."""
    program, codes = Program(), {}
    for name, kernel in vars(trying).items():
        if isinstance(kernel, Kernel) and name not in REFUSED:
            signature = kernel.signature
            program.kernel(f"tried_{name}", kernel.function, signature)
            codes[name] = MachineCode(
                f"tried_{name}", [packed(taken) for taken in signature.takes], [*signature.gives]
            )
    code = object_code(program.text(module_head()))
    return {name: load(name, machine, code) for name, machine in codes.items()}


def copied(argument: Any) -> Any:
    if isinstance(argument, np.ndarray):
        return argument.copy()
    if isinstance(argument, tuple):
        members = [copied(member) for member in argument]
        return type(argument)(*members) if hasattr(argument, "_fields") else tuple(members)
    return argument


def listed(argument: Any) -> Any:
    if isinstance(argument, tuple):
        return [listed(member) for member in argument]
    return argument.tolist() if isinstance(argument, np.ndarray) else argument


def same(name: str, *arguments: Any) -> Any:
    """Runs a kernel both ways and compares all that it wrote and gave; what it wrote."""
    ours, plain = copied(arguments), copied(arguments)
    with np.errstate(over="ignore"):
        expected = getattr(trying, name).function(*plain)
    assert compiled()[name](*ours) == expected
    assert listed(ours) == listed(plain)
    return ours


def zeros(kind: Any = np.int64, *shape: int) -> Any:
    return np.zeros(shape or 20, kind)


@given(SMALL, SMALL)
def test_arithmetic(a, b):
    same("arithmetic", a, b, zeros())


@given(SMALL, FEW.filter(bool))
def test_whole_division(a, b):
    same("divided", a, b, zeros())


def test_whole_division_at_the_ends():
    out = zeros()
    compiled()["divided"](-(1 << 63), -1, out)
    assert out[:2].tolist() == [-(1 << 63), 0]  # it wraps; the processor itself would trap
    with pytest.raises(RuntimeError, match="divided failed"):
        compiled()["divided"](5, 0, out)


def test_numbers_of_64_bits_wrap():
    out = zeros()
    compiled()["arithmetic"](1 << 62, 1 << 62, out)
    assert out[:3].tolist() == [-(1 << 63), 0, 0]


@given(st.integers(0, WORD), st.integers(0, WORD), st.integers(0, 63))
def test_numbers_without_sign(a, b, shift):
    signed = [value - (1 << 64) if value >> 63 else value for value in (a, b)]
    out = zeros(np.uint64)
    compiled()["unsigned"](*signed, shift, out)
    moved = signed[0] >> 3
    expected = [a + b, a - b, a * b, a & b, a | b, ~a, a << shift, a >> shift, (a < b) | (a >= b) << 1]
    expected += [a // 7, a % 7, moved, a > 100]
    assert out[:13].tolist() == [value & WORD for value in expected]


@given(st.integers(-8, 7), st.integers(-20, 20), st.integers(-20, 20))
def test_indices_and_slices(at, begin, end):
    same("indexing", np.arange(8) ** 2, at, begin, end, zeros())


@pytest.mark.parametrize("at", [0, 1, -1])
def test_several_axes(at):
    same("axes", np.arange(24, dtype=np.int32).reshape(2, 3, 4), at, zeros())


@pytest.mark.parametrize("n", [-3, 0, 1, 3, 5, 7, 12, 40000])
def test_loops(n):
    same("loops", min(n, 60), zeros()) if n < 100 else same("loops", 65, zeros())


@given(FEW, FEW)
def test_truths(a, b):
    same("truths", a, b, zeros())


@given(SMALL, st.integers(0, 9), st.integers(0, 255))
def test_tuples_and_helpers(a, b, byte):
    book = trying.Book(zeros(np.int64, 2, 3), zeros(np.uint64, 1, 2), zeros(np.bool_, 2))
    given_a = max(a, 0)  # numpy's uint64 takes no number below 0
    ours = (np.array([1, 2, 3]), np.array([min(byte, 100), byte // 3], np.uint8))
    out = zeros()
    compiled()["tuples"](given_a, b, book, ours, out)
    whole = 0 if given_a < 0 else given_a & 0xFF if b == 7 else given_a >> b
    assert out[:4].tolist() == [whole, b == 7 or given_a & 1, 3 * given_a, 3 * b]
    assert out[4:9].tolist() == [
        321,
        min(byte, 100) + byte // 3,
        min(byte, 100) + 1 + (min(byte, 100) > 10),
        1000,
        b - given_a,
    ]
    assert book.rows[0].tolist() == [given_a, given_a + 1, -1 if given_a > 10 else 0]
    assert book.words.tolist() == [[given_a, min(byte, 100)]]
    assert book.marks.tolist() == [given_a > 10, min(byte, 100) > 10]


@given(st.integers(-(1 << 40), 1 << 40))
def test_numbers_are_cut_to_what_holds_them(value):
    kinds = [np.int8, np.uint8, np.int16, np.uint16, np.int32, np.uint32]
    arrays, out = [zeros(kind, 1) for kind in kinds], zeros()
    compiled()["widths"](value, *arrays, out)
    cut = [int(np.array([value]).astype(kind)[0]) for kind in kinds]
    assert out[:6].tolist() == cut
    lifted = int(np.array([cut[4] + 7]).astype(np.int32)[0])
    expected = [cut[1] << 3, cut[4] * cut[0] + cut[3], cut[1] + cut[2] + cut[5]]
    expected += [(cut[1] | 0x81) * lifted, -1 if value & 1 else lifted, -1]
    assert out[6:12].tolist() == expected


@given(SMALL, st.floats(-1e6, 1e6))
def test_floats(a, x):
    same("floats", a, x, zeros(np.float64))


def test_what_divides_by_zero_or_has_another_length_fails():
    assert compiled()["fails"](7, 2, np.array([10, 20])) == (13, 27)
    for wrong in [(7, 0, np.array([10, 20])), (7, 2, np.array([10])), (7, 2, np.arange(3))]:
        with pytest.raises(RuntimeError, match="fails failed"):
            compiled()["fails"](*wrong)


@given(st.binary(min_size=24, max_size=24), st.integers(0, 15))
def test_words(data, at):
    same("words", np.frombuffer(data, np.uint8), at, zeros(np.uint64))


REFUSED = {
    "mixed_signs": "int64 .*cast",
    "two_signs_in_a_variable": "cast",
    "divided_by_less_than_zero": "a whole division",
    "steps_not_written_out": "steps",
    "a_method": "a call of out.sum",
    "calls_itself": "_forever calls itself",
    "truth_and_number": "bool",
    "a_number_out_of_and": "no truth",
    "slice_before_the_last_axis": "a slice before the last axis",
    "named_arguments": "named arguments",
    "another_result": "float64",
    "no_result": "result",
    "before_it_has_a_value": "later has no value yet",
    "text": "'abc'",
    "an_exception": "Raise",
    "writes_what_it_only_reads": "only read",
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_not_exact_is_refused(name):
    kernel = getattr(trying, name)
    with pytest.raises(UntranslatableError, match=f"kernels_to_try.*line.*{REFUSED[name]}"):
        Program().kernel(name, kernel.function, kernel.signature)


KINDS = ["bool", "int8", "uint8", "int16", "uint16", "int32", "uint32", "int64", "uint64", "float64"]
OPERATORS = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.BitAnd: operator.and_,
    ast.BitOr: operator.or_,
    ast.BitXor: operator.xor,
    ast.LShift: operator.lshift,
    ast.RShift: operator.rshift,
}


@pytest.mark.parametrize("sort", OPERATORS)
def test_kinds_are_those_of_numba(sort):
    """The oracle is numba's typing."""
    from numba import types
    from numba.core.registry import cpu_target

    typing = cpu_target.typing_context
    typing.refresh()
    told = 0
    for one in KINDS:
        for other in KINDS:
            try:
                ours = Arithmetic(Facts()).combined(sort(), Number(one, "%a"), Number(other, "%b")).kind
            except UntranslatableError:
                continue
            pair = [getattr(types, "boolean" if kind == "bool" else kind) for kind in (one, other)]
            function = typing.resolve_value_type(OPERATORS[sort])
            theirs = typing.resolve_function_type(function, tuple(pair), {})
            assert str(theirs.return_type) == ours, (one, other)
            told += 1
    assert told > 40
