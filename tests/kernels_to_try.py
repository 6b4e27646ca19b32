"""Kernels that say all that a kernel may say, and some that say what it may not. They run as Python, too."""

# ruff: noqa: PLW2901

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from netcheck._compile.define import (
    FLOAT64,
    GRID,
    I64,
    INT64,
    ROW,
    U8,
    array,
    cached_kernel,
    inlined_helper,
    kernel_helper,
    put_word,
    read_only,
    swapped,
    tuple_of,
    word_at,
    zeros_above,
    zeros_below,
)

WEIGHTS = np.array([[3, -1, 4], [1, -5, 9]], np.int64)
STEPS = (16, 8, 4, 2, 1)
U = np.uint64


class Book(NamedTuple):
    """Arrays of several types."""

    rows: Any
    words: Any
    marks: Any


BOOK = tuple_of(Book, GRID, array(np.uint64, 2), array(np.bool_))


@cached_kernel(INT64, INT64, ROW)
def arithmetic(a, b, out):
    out[0], out[1], out[2] = a + b, a - b, a * b
    out[3], out[4] = a // 7, a % 7
    out[5], out[6], out[7] = a & b, a | b, a ^ b
    out[8], out[9], out[10] = ~a, -a, abs(b)
    out[11], out[12] = min(a, b, 5), max(a, b, -5)
    out[13], out[14] = a << 3, a >> 2
    out[15] = (a < b) + 2 * (a <= b) + 4 * (a == b) + 8 * (a != b) + 16 * (a > b) + 32 * (a >= b)
    a += b
    a -= 3
    a *= 2
    a //= 5
    out[16] = a
    out[17] = int(np.int32(7)) - 16


@cached_kernel(INT64, INT64, INT64, array(np.uint64))
def unsigned(a, b, shift, out):
    x, y, s = U(a), U(b), U(shift)
    out[0], out[1], out[2] = x + y, x - y, x * y
    out[3], out[4], out[5] = x & y, x | y, ~x
    out[6], out[7] = x << s, x >> s
    out[8] = U(x < y) | U(x >= y) << U(1)
    out[9], out[10] = x // U(7), x % U(7)
    out[11] = U(np.int64(x) >> 3)
    out[12] = U(x > 100)


@cached_kernel(I64, INT64, INT64, INT64, ROW)
def indexing(values, at, begin, end, out):
    out[0] = values[at]
    out[1] = values[-1]
    some = values[begin:end]
    for i in range(len(some)):
        out[2] += some[i]
    for i in range(len(values[begin:])):
        out[3] += values[begin:][i]
    for i in range(len(values[:end])):
        out[4] += values[:end][i]
    out[5] = len(some)
    out[6] = WEIGHTS[at & 1, -2]
    out[7] = WEIGHTS[-1][2] + STEPS[at % 5] + STEPS[-1] + len(STEPS)


@cached_kernel(array(np.int32, 3), INT64, ROW)
def axes(cube, at, out):
    part = cube[at]
    row = part[-1]
    row[0] += 5
    part[0, 1] = row[0] * 2
    for i in range(cube.shape[0]):
        for j in range(cube.shape[1]):
            for k in range(cube.shape[2]):
                out[0] += cube[i, j, k] * (i + 2 * j + 3 * k)
    out[1], out[2], out[3] = cube.shape[0], len(part), row.shape[0]
    tail = cube[at, 0, 1:]
    tail[0] -= 100


@cached_kernel(INT64, ROW)
def loops(n, out):
    for i in range(n, -2, -3):
        out[0] = out[0] * 3 + i
    for i in range(n):
        i *= 2
        if i == 4:
            continue
        if i > 12:
            break
        out[1] += i
    left = n
    while left > 0 and out[2] < 20:
        left -= 1
        if left & 1:
            continue
        out[2] += left
    rest, top = n, 0
    for step in STEPS:
        if rest >> step:
            rest >>= step
            top += step
    out[3] = top
    for i in range(2, n):
        for j in range(2, i):
            if i % 2 == 0 or j * 3 == i:
                break
            out[4] += j
    for _ in range(3):
        out[5] += 1
    out[6] = -1
    for last in (3, 5, 7):
        if last == n:
            out[6] = last
            break


@cached_kernel(INT64, INT64, ROW)
def truths(a, b, out):
    out[0] = 0 <= a < b <= 9
    is_small = a < 3 and b < 3
    is_odd = a == 1 or b == 1 or not is_small
    out[1] = is_small
    out[2] = is_odd
    if (a and not b) or a in (2, 3, 5):
        out[3] = 1
    elif not (a > b or b not in (1, 4)):
        out[3] = 2
    else:
        out[3] = 3
    first, second = (a, 10) if a > b else (b, 20)
    out[4] = first * 100 + second
    out[5] = (1 if a else 2) if b else (3 if a else 4)
    a, b = abs(a), abs(b)
    while a and b:
        a -= 1
        b -= 1
    out[6] = a - b


@kernel_helper
def _split(value, by):
    """Two results, of two kinds at first sight."""
    if value < 0:
        return 0, False
    if by == 7:
        return np.uint8(value & 0xFF), True
    return value >> by, value & 1 == 1


@inlined_helper
def _scaled(pair, factor):
    one, other = pair
    return one * factor, other * factor


@kernel_helper
def _bump(book, place, by):
    book.rows[place, 0] += by
    row = book.rows[place]
    row[1] = row[0] + 1
    book.words[0, place] = U(by)
    book.marks[place] = row[0] > 10
    if not book.marks[place]:
        return
    row[2] = -1


@cached_kernel(INT64, INT64, BOOK, tuple_of(tuple, I64, U8), ROW)
def tuples(a, b, book, pair, out):
    whole, is_odd = _split(a, b)
    out[0], out[1] = whole, is_odd
    out[2], out[3] = _scaled((a, b), 3)
    wide, narrow = pair
    first, second, third = wide
    out[4] = first + 10 * second + 100 * third
    out[5] = narrow[0] + pair[1][1]
    _bump(book, 0, a)
    rows, _, marks = book
    _bump(book, 1, narrow[0])
    out[6] = rows[1, 1] + (1 if marks[1] else 0)
    x = y = narrow[0]
    x = x + 1000
    out[7] = x - y
    _ = a
    swap: Any = (b, a)
    out[8] = swap[0] - swap[1]


@cached_kernel(INT64, *(array(kind) for kind in ("int8", "uint8", "int16", "uint16", "int32", "uint32")), ROW)
def widths(value, i8, u8, i16, u16, i32, u32, out):
    i8[0] = u8[0] = i16[0] = u16[0] = i32[0] = u32[0] = value
    out[0], out[1], out[2] = i8[0], u8[0], i16[0]
    out[3], out[4], out[5] = u16[0], i32[0], u32[0]
    out[6] = u8[0] << 3
    out[7] = i32[0] * i8[0] + u16[0]
    out[8] = np.int64(np.uint8(value)) + np.int64(np.int16(value)) + np.int64(np.uint32(value))
    i32[0] += 7
    u8[0] |= 0x81
    out[9] = u8[0] * i32[0]
    out[10] = np.int32(-1) if value & 1 else i32[0]
    out[11] = np.int64(np.int32(-1))


@cached_kernel(INT64, INT64, ROW)
def divided(a, b, out):
    out[0], out[1] = a // b, a % b
    out[2], out[3] = np.int64(U(abs(a)) // U(abs(b))), np.int64(U(abs(a)) % U(abs(b)))


@cached_kernel(INT64, FLOAT64, array(np.float64), gives=FLOAT64)
def floats(a, x, out):
    out[0], out[1], out[2] = x + a, x - 0.5, x * 2
    out[3], out[4] = a / 4, -x
    out[5] = (x < a) + 2 * (x >= 0.25) + 4 * (x != a)
    out[6] = max(x, 1.5) + min(x, np.float64(a))
    out[7] = np.float64(np.int64(x)) + np.float64(U(3)) + float(a)
    out[8] += 1.25
    if x:
        out[9] = 1
    return out[0] / 2.0


@kernel_helper
def _shares(a, b):
    return a / b, a


@cached_kernel(INT64, INT64, I64, gives=(INT64, INT64))
def fails(a, b, row):
    share, whole = _shares(a, b)
    one, other = row
    return np.int64(share) + one, whole + other


@cached_kernel(array(np.uint8), INT64, array(np.uint64))
def words(data, at, out):
    word = word_at(data, at)
    out[0] = word
    out[1] = swapped(word)
    out[2] = U(zeros_below(word))
    out[3] = U(zeros_above(word))
    put_word(data, at + 1, word ^ U(0xFFFFFFFFFFFFFFFF))
    digit = b"0123"
    data[0] = digit[at & 3]


# -- what a kernel may not say


@cached_kernel(INT64, ROW)
def mixed_signs(a, out):
    out[0] = U(a) + a


@cached_kernel(INT64, ROW)
def two_signs_in_a_variable(a, out):
    x = U(a)
    if a > 3:
        x = a
    out[0] = np.int64(x)


@cached_kernel(INT64, ROW)
def divided_by_less_than_zero(a, out):
    out[0] = a // -7


@cached_kernel(INT64, ROW)
def steps_not_written_out(a, out):
    for i in range(0, 9, a):
        out[0] = i


@cached_kernel(INT64, ROW)
def a_method(a, out):
    out[0] = out.sum()


@kernel_helper
def _forever(a):
    return _forever(a)


@cached_kernel(INT64, ROW)
def calls_itself(a, out):
    out[0] = _forever(a)


@cached_kernel(INT64, ROW)
def truth_and_number(a, out):
    x = a > 3
    x = 5
    out[0] = x


@cached_kernel(INT64, ROW)
def a_number_out_of_and(a, out):
    x = a and 5
    out[0] = x


@cached_kernel(INT64, GRID)
def slice_before_the_last_axis(a, out):
    x = out[1:, 0]
    out[0, 0] = x[0]


@cached_kernel(INT64, ROW)
def named_arguments(a, out):
    x, _ = _split(a, by=3)
    out[0] = x


@cached_kernel(INT64, ROW, gives=INT64)
def another_result(a, out):
    return a / 2


@cached_kernel(INT64, ROW, gives=INT64)
def no_result(a, out):
    out[0] = a


@cached_kernel(INT64, ROW)
def before_it_has_a_value(a, out):
    for place in range(2):
        if place:
            out[0] = later  # noqa: F821 - that is what is tried
        later = a  # noqa: F841


@cached_kernel(INT64, ROW)
def text(a, out):
    x = "abc"
    out[0] = len(x)


@cached_kernel(INT64, ROW)
def an_exception(a, out):
    if a:
        raise ValueError
    out[0] = 1


@cached_kernel(INT64, read_only(np.int64))
def writes_what_it_only_reads(a, out):
    out[0] = a
