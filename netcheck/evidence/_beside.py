"""What the bits beside a signal did: where a signal never moved, another place may be the right one.

A second look at captures, taken only for signals that never moved. Nibbles that change in over a quarter of
the frames run by themselves, as counters, checksums and live values do, and are set aside.

Bits that follow the marks are looked for in all messages of the channels: one value in every mark, the other
one outside all of them, the half second at either end of a mark left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.bits import bit_positions
from netcheck.capture import NON_DATA, Capture, CaptureStream
from netcheck.database import Message, Signal, extract, matching
from netcheck.evidence._marks import LEAST_NS
from netcheck.evidence._window import REACTION_NS, Window
from netcheck.network import FrameId
from netcheck.records import dataclass

RESTLESS: Final = 4  # a nibble that changes in over one of so many frames runs by itself
_CLASSIC: Final = 8  # bytes
_MOST: Final = 64
_OUTSIDE: Final = -1
_NIBBLES: Final = (0x0F, 0xF0, 0xFF)  # the low, the high one, both


@dataclass(frozen=True)
class MovedByte:
    """A byte of the signal's own message that moved. changes: from frame to frame; bits: a mask of those."""

    byte: int
    changes: int
    bits: int


@dataclass(frozen=True)
class FollowingByte:
    """Bits of a byte that had one value in all marks and the other one outside."""

    frame_id: FrameId
    byte: int
    bits: int


@dataclass(frozen=True)
class BitsBeside:
    """What the other bits did while none of the signal's own ever changed.

    moved:     bytes of the same message, without what runs by itself
    followers: bits of any message of the network that followed the marks; () without marks
    """

    moved: tuple[MovedByte, ...] = ()
    followers: tuple[FollowingByte, ...] = ()


class BesideMeter:
    """One signal and what is beside it, a capture and a chunk at a time."""

    def __init__(self, message: Message, signal: Signal) -> None:
        self._message = message
        self._signal = signal
        self._width = _MOST if message.is_fd or message.length > _CLASSIC else _CLASSIC
        self._own = _own_bits(signal, self._width)
        self._frames = 0
        self._has_moved = False
        self._changes = np.zeros((len(_NIBBLES), self._width), np.int64)
        self._bits = np.zeros(self._width, np.uint8)
        self._last: dict[int, NDArray[np.uint8]] = {}  # payload and length of a channel's last frame
        self._windows: tuple[Window, ...] = ()
        self._marks: list[Window] = []  # of all captures, those that call for an active state
        self._first_mark = 0  # of this capture
        self._marked: dict[tuple[int, int], _Held] = {}  # by mark and id
        self._start_ns: int | None = None

    def begin(self, windows: Sequence[Window]) -> None:
        """Begin another capture. windows: its marks of the role."""
        self._last.clear()
        self._windows = tuple(windows)
        self._start_ns = None
        self._first_mark = len(self._marks)
        self._marks += [window for window in windows if window.calls_active]

    def add(self, chunk: Capture, channels: Sequence[int]) -> None:
        """Take a chunk. channels: those that are the signal's network."""
        if self._start_ns is None:
            self._start_ns = int(chunk.time_ns[0])
        rows = matching(chunk, self._message)
        rows = rows[extract(chunk, self._message, self._signal, rows).carries]
        for channel in channels:
            self._add_own(chunk, rows[chunk.channel[rows] == channel], channel)
        if any(window.calls_active for window in self._windows):
            self._add_marked(chunk, channels)

    def _add_own(self, chunk: Capture, rows: NDArray[np.int64], channel: int) -> None:
        """The message's own frames of a channel that carry the signal."""
        if not len(rows):
            return
        payloads = _padded(chunk, rows, self._width)
        lengths = np.minimum(chunk.length[rows], self._width)
        before = self._last.get(channel)
        self._last[channel] = np.append(payloads[-1], lengths[-1])
        if before is not None:
            payloads = np.concatenate((before[np.newaxis, :-1], payloads))
            lengths = np.append(before[-1:], lengths)
        both = np.minimum(lengths[1:], lengths[:-1])
        flips = payloads[1:] ^ payloads[:-1]
        flips[np.arange(self._width) >= both[:, np.newaxis]] = 0
        self._frames += len(rows)
        self._has_moved |= bool((flips & self._own).any())
        self._bits |= np.bitwise_or.reduce(flips, axis=0, initial=0)
        for nibble, mask in enumerate(_NIBBLES):
            self._changes[nibble] += np.count_nonzero(flips & np.uint8(mask), axis=0)

    def _add_marked(self, chunk: Capture, channels: Sequence[int]) -> None:
        """All frames of the network, inside marks and outside."""
        rows = np.flatnonzero(
            np.isin(chunk.channel, np.array(channels)) & ((chunk.flags & np.uint8(NON_DATA)) == 0)
        )
        since = chunk.time_ns[rows] - (self._start_ns or 0)
        free = np.ones(len(rows), np.bool_)
        for window in self._windows:
            free &= ~window.covers(since)
        self._hold(chunk, rows[free], _OUTSIDE)
        for number, window in enumerate(self._marks[self._first_mark :], self._first_mark):
            begin, end = _inner(window)
            self._hold(chunk, rows[(since >= begin) & (since <= end)], number)

    def _hold(self, chunk: Capture, rows: NDArray[np.int64], mark: int) -> None:
        """Which bits some frames of each id had always, and ever."""
        if not len(rows):
            return
        keys = chunk.can_id[rows].astype(np.int64) | chunk.is_extended[rows].astype(np.int64) << 32
        order = np.argsort(keys, kind="stable")
        rows, keys = rows[order], keys[order]
        begins = np.flatnonzero(np.diff(keys, prepend=-1))
        width = _CLASSIC if int(chunk.length[rows].max()) <= _CLASSIC else _MOST
        words = _padded(chunk, rows, width).view(np.uint64)
        always = np.bitwise_and.reduceat(words, begins).view(np.uint8)
        ever = np.bitwise_or.reduceat(words, begins).view(np.uint8)
        shortest = np.minimum(np.minimum.reduceat(chunk.length[rows], begins), width)
        for number, key in enumerate(keys[begins].tolist()):
            length = int(shortest[number])
            held = _Held(always[number, :length].copy(), ever[number, :length].copy())
            known = self._marked.get((mark, key))
            self._marked[mark, key] = held if known is None else known.joined(held)

    def result(self) -> BitsBeside | None:
        """What is beside the signal; None where its own bits moved, or nothing else did."""
        if self._has_moved:
            return None
        found = BitsBeside(tuple(self._moved()), tuple(self._followers()))
        return found if found.moved or found.followers else None

    @property
    def marks(self) -> tuple[Window, ...]:
        """Marks that call for an active state, of all captures so far."""
        return tuple(self._marks)

    def _moved(self) -> Iterator[MovedByte]:
        for byte, flipped in enumerate(self._bits.tolist()):
            counts = self._changes[:, byte].tolist()
            low, high = (0 < count * RESTLESS <= self._frames for count in counts[:2])
            if low or high:
                bits = flipped & (0x0F * low | 0xF0 * high)
                yield MovedByte(byte, counts[2] if low and high else counts[0] if low else counts[1], bits)

    def _followers(self) -> Iterator[FollowingByte]:
        keys = sorted({key for mark, key in self._marked if mark == _OUTSIDE}) if self._marks else []
        for key in keys:
            outside = self._marked[_OUTSIDE, key]
            inside = [self._marked.get((mark, key)) for mark in range(len(self._marks))]
            bits = _following(outside, inside, self._marks)
            frame_id = FrameId(key & 0xFFFFFFFF, bool(key >> 32))
            yield from (
                FollowingByte(frame_id, byte, mask) for byte, mask in enumerate(bits.tolist()) if mask
            )


@dataclass(frozen=True, eq=False)
class _Held:
    """uint8[length] each: bits that all frames of an id had, and that any had; up to the shortest."""

    always: NDArray[np.uint8]
    ever: NDArray[np.uint8]

    def joined(self, other: _Held) -> _Held:
        length = min(len(self.always), len(other.always))
        return _Held(self.always[:length] & other.always[:length], self.ever[:length] | other.ever[:length])


def _inner(window: Window) -> tuple[int, int]:
    """What of a mark is looked at, ns from the capture's first frame; of a short one, what is near it."""
    begin, end = window.from_ns + REACTION_NS, window.to_ns - REACTION_NS
    if end - begin >= LEAST_NS:
        return begin, end
    return window.from_ns - REACTION_NS, window.to_ns + REACTION_NS


def _following(outside: _Held, inside: Sequence[_Held | None], marks: Sequence[Window]) -> NDArray[np.uint8]:
    """uint8[length]: bits that are 1 in all marks and 0 outside, or the other way round.

    In a short mark a single frame is enough.
    """
    found = [held for held in inside if held is not None]
    length = min([len(outside.always), *(len(held.always) for held in found)])
    if len(found) < len(inside):
        return np.zeros(0, np.uint8)
    set_there = ~outside.ever[:length]
    clear_there = outside.always[:length].copy()
    for held, window in zip(found, marks, strict=True):
        is_long = _inner(window)[0] > window.from_ns
        set_there &= (held.always if is_long else held.ever)[:length]
        clear_there &= ~(held.ever if is_long else held.always)[:length]
    return set_there | clear_there


def _own_bits(signal: Signal, width: int) -> NDArray[np.uint8]:
    """uint8[width]: the bits of each byte that are the signal's."""
    own = np.zeros(width, np.uint8)
    for bit in bit_positions(signal.start, signal.width, signal.is_big_endian):
        if bit < 8 * width:
            own[bit // 8] |= 1 << bit % 8
    return own


def _padded(frames: Capture, rows: NDArray[np.int64], width: int) -> NDArray[np.uint8]:
    """uint8[n, width]: payloads of some frames, with 0 behind their ends."""
    places = np.arange(width)
    held = places < frames.length[rows][:, np.newaxis]
    at = np.where(held, frames.start[rows][:, np.newaxis] + places, 0)
    return np.where(held, frames.data[at] if len(frames.data) else np.uint8(0), np.uint8(0))


@dataclass(frozen=True)
class BesideLook:
    """What to look at in one capture: for each meter, the names of the channels that are its network."""

    meter: BesideMeter
    channels: tuple[str, ...]
    windows: tuple[Window, ...]


def look_beside(stream: CaptureStream, looks: Sequence[BesideLook]) -> None:
    """Go through a capture once more for some signals that never moved.

    Raises InputError as reading the capture does.
    """
    for look in looks:
        look.meter.begin(look.windows)
    for chunk in stream.reusing_buffers():
        for look in looks:
            here = [number for number, name in enumerate(chunk.channels) if name in look.channels]
            look.meter.add(chunk, here)
