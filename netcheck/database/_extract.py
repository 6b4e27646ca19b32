"""Frames to messages, and payload bytes to raw and physical values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any, Final, Protocol

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.bits import span
from netcheck.capture import NON_DATA, Capture
from netcheck.database._model import Database, Message, Signal
from netcheck.errors import UsageError
from netcheck.records import dataclass

BoolArray = NDArray[np.bool_]
Indices = NDArray[np.int64]


class PayloadBytes(Protocol):
    """The payload bytes of frames, as a ``Capture`` has them."""

    @property
    def length(self) -> NDArray[np.uint8]: ...
    @property
    def start(self) -> NDArray[np.int64]: ...
    @property
    def data(self) -> NDArray[np.uint8]: ...


BLOCK: Final = 512  # frames whose payloads are loaded at once, for all signals of a message
_KERNELS: Final = kernels("netcheck.database._kernels")
FLOAT_TYPES: Final = {16: (np.uint16, np.float16), 32: (np.uint32, np.float32), 64: (np.uint64, np.float64)}


@dataclass(frozen=True, eq=False)
class Extracted:
    """One signal in n frames of its message.

    long_enough: bool[n], the frame is long enough to hold the signal
    selected:    bool[n], the signal's multiplexer pages are selected; True if it has none, False where the
                 frame is too short to hold a multiplexer
    readable:    bool[n], the frame is long enough for every multiplexer, so that ``selected`` is known
    carries:     bool[n], long enough and selected; only these frames count
    raw:         n raw values, 0 where the frame does not carry the signal. int64; uint64 for 64 bits without
                 a sign; float64 for float signals. Exact at any width
    """

    long_enough: BoolArray
    selected: BoolArray
    readable: BoolArray
    carries: BoolArray
    signal: Signal
    raw: NDArray[Any]

    @cached_property
    def is_everywhere(self) -> bool:
        """Whether every frame carries the signal."""
        return bool(self.carries.all())

    @cached_property
    def value(self) -> NDArray[np.float64]:
        """float64[n], physical: raw · scale + offset; NaN where the frame does not carry the signal."""
        value = as_value(self.raw, self.signal)
        if not self.is_everywhere:
            value[~self.carries] = np.nan
        return value


def field_row(signal: Signal) -> tuple[int, int, int, int, int, int]:
    """A signal as the kernels take it: first and last byte, shift, width, big-endian, signed."""
    place = span(signal.start, signal.width, signal.is_big_endian)
    signed = signal.is_signed and not signal.is_float
    return place.first, place.last, place.shift, signal.width, int(signal.is_big_endian), int(signed)


def parameter_groups(can_id: NDArray[np.uint32]) -> NDArray[np.uint32]:
    """J1939 parameter group numbers (PGN) of 29-bit ids.

    Priority and source address do not count, nor, below PF 0xF0, does the destination address.
    """
    group = (can_id >> np.uint32(8)) & np.uint32(0x3FFFF)
    addressed = (group & np.uint32(0xFF00)) < np.uint32(0xF000)
    return np.where(addressed, group & np.uint32(0x3FF00), group).astype(np.uint32)


def parameter_group(can_id: int) -> int:
    """The J1939 parameter group number of one 29-bit id."""
    group = can_id >> 8 & 0x3FFFF
    return group & 0x3FF00 if group & 0xFF00 < 0xF000 else group


def is_message(message: Message, can_id: NDArray[np.uint32], is_extended: BoolArray) -> BoolArray:
    """bool[n]: the ids are this message's.

    Same id and same id width; for a J1939 message the same parameter group, whatever priority, source
    and destination.
    """
    if message.is_j1939:
        same: BoolArray = parameter_groups(can_id) == np.uint32(parameter_group(message.can_id))
    else:
        same = can_id == np.uint32(message.can_id)
    same &= is_extended == message.is_extended
    return same


def matching(capture: Capture, message: Message) -> Indices:
    """int64 numbers of the frames that are this message, in file order; see :func:`is_message`.

    Remote and error frames are nobody's.
    """
    is_somebodys = (capture.flags & np.uint8(NON_DATA)) == 0
    return np.flatnonzero(is_message(message, capture.can_id, capture.is_extended) & is_somebodys)


def group_frames(capture: Capture, database: Database) -> Mapping[str, Indices]:
    """What :func:`matching` gives for every message of a database, by message name, in one pass.

    The mapping is in DBC order and has an empty array for a message that never came.
    """
    found: dict[str, Indices] = {message.name: np.empty(0, np.int64) for message in database.messages}
    for is_j1939 in (False, True):
        chosen = [message for message in database.messages if message.is_j1939 == is_j1939]
        if chosen:
            found.update(_sorted_frames(capture, chosen, is_j1939))
    return found


def _sorted_frames(capture: Capture, messages: list[Message], is_j1939: bool) -> dict[str, Indices]:
    def key(message: Message) -> tuple[bool, int]:
        identifier = parameter_group(message.can_id) if is_j1939 else message.can_id
        return message.is_extended, identifier

    numbers = {wanted: number for number, wanted in enumerate(dict.fromkeys(map(key, messages)))}
    standard, keys, groups = _tables(numbers)
    can_id = parameter_groups(capture.can_id) if is_j1939 else capture.can_id
    group_of = np.empty(len(capture), np.int32)
    counts = np.zeros(len(numbers), np.int64)
    flags = np.ascontiguousarray(capture.flags)
    _KERNELS.number_frames(np.ascontiguousarray(can_id), flags, standard, keys, groups, group_of, counts)
    by_number = split_rows(group_of, counts)
    return {message.name: by_number[numbers[key(message)]] for message in messages}


def split_rows(group_of: NDArray[np.int32], counts: NDArray[np.int64]) -> list[Indices]:
    """Row numbers by group, ascending. ``counts``: rows of each group; rows of group -1 are left out."""
    ends = np.cumsum(counts)
    order = np.empty(int(counts.sum()), np.int64)
    _KERNELS.sort_frames(group_of, ends - counts, order)
    return np.split(order, ends[:-1])


def _tables(
    numbers: dict[tuple[bool, int], int],
) -> tuple[NDArray[np.int32], NDArray[np.uint32], NDArray[np.int32]]:
    """Group numbers by id as the kernel takes them: 11-bit ids directly, 29-bit ids hashed."""
    standard = np.full(2048, -1, np.int32)
    extended = {identifier: number for (wide, identifier), number in numbers.items() if wide}
    size = 1 << max(4, (4 * len(extended)).bit_length())
    keys = np.zeros(size, np.uint32)
    groups = np.full(size, -1, np.int32)
    for (wide, identifier), number in numbers.items():
        if not wide:
            standard[identifier] = number
            continue
        slot = (identifier * 2654435761 >> 16) & size - 1
        while groups[slot] >= 0:
            slot = slot + 1 & size - 1
        keys[slot], groups[slot] = identifier, number
    return standard, keys, groups


def payloads(frames: PayloadBytes) -> tuple[NDArray[np.uint8], NDArray[np.int64]]:
    """Payload bytes and their places, as the kernels take them."""
    return np.ascontiguousarray(frames.data), np.ascontiguousarray(frames.start)


def work_words() -> NDArray[np.uint64]:
    """Memory for a kernel to work in: as many frames as stay in the nearest cache."""
    return np.empty((2, BLOCK), np.uint64)


def read_bits(
    frames: PayloadBytes, signals: Sequence[Signal], indices: Indices
) -> tuple[NDArray[np.uint64], NDArray[np.bool_]]:
    """Bits of some signals in the frames ``indices``, sign-extended; and where a frame is long enough.

    One row a signal. The bits are 0 where a frame is too short.
    """
    raw = np.empty((len(signals), len(indices)), np.uint64)
    long_enough = np.empty(raw.shape, np.bool_)
    _KERNELS.read_where_held(
        payloads(frames),
        np.ascontiguousarray(frames.length),
        np.ascontiguousarray(indices, np.int64),
        np.array([field_row(signal) for signal in signals], np.int64).reshape(-1, 6),
        work_words(),
        raw,
        long_enough,
    )
    return raw, long_enough


def as_raw(bits: NDArray[np.uint64], signal: Signal) -> NDArray[Any]:
    """Sign-extended bits as the raw values they stand for."""
    if signal.is_float:
        unsigned, floating = FLOAT_TYPES[signal.width]
        with np.errstate(invalid="ignore"):  # a signalling NaN is a bit pattern like any other
            return bits.astype(unsigned).view(floating).astype(np.float64)
    if signal.is_signed or signal.width < 64:
        return bits.view(np.int64)
    return bits


def as_value(raw: NDArray[Any], signal: Signal) -> NDArray[np.float64]:
    """Raw values as physical ones: raw · scale + offset, float64."""
    with np.errstate(over="ignore", invalid="ignore"):  # a float signal may hold anything
        value: NDArray[np.float64] = raw.astype(np.float64)
        value *= signal.scale
        value += signal.offset
    return value


def select(
    frames: PayloadBytes, message: Message, signal: Signal, indices: Indices
) -> tuple[BoolArray, BoolArray]:
    """Where the signal's pages are selected, and where the frame is long enough to tell; each bool[n]."""
    selected = np.ones(len(indices), np.bool_)
    readable = np.ones(len(indices), np.bool_)
    for page in signal.pages:
        multiplexer = message.signal(page.multiplexer)
        if multiplexer is None:
            raise UsageError(f"{message.name}.{signal.name}: no multiplexer {page.multiplexer}")
        (bits,), (long_enough,) = read_bits(frames, [multiplexer], indices)
        raw = as_raw(bits, multiplexer)
        readable &= long_enough
        selected &= raw == page.values[0] if len(page.values) == 1 else np.isin(raw, page.values)
    selected &= readable
    return selected, readable


def extract(frames: PayloadBytes, message: Message, signal: Signal, indices: Indices) -> Extracted:
    """One signal in the frames ``indices`` of its message, as :func:`matching` numbers them in a capture."""
    return extract_all(frames, message, [signal], indices)[0]


def extract_all(
    frames: PayloadBytes, message: Message, signals: Sequence[Signal], indices: Indices
) -> list[Extracted]:
    """Some signals in the frames ``indices`` of their message; see :func:`extract`."""
    found = []
    always = np.ones(len(indices), np.bool_)
    for signal, bits, long_enough in zip(signals, *read_bits(frames, signals, indices), strict=True):
        selected = readable = always
        if signal.pages:
            selected, readable = select(frames, message, signal, indices)
            bits[~selected] = 0
        carries = long_enough & selected if signal.pages else long_enough
        found.append(Extracted(long_enough, selected, readable, carries, signal, as_raw(bits, signal)))
    return found
