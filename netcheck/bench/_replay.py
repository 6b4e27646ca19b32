"""A capture as frames to send: what is chosen of it, where it goes, and when each frame is due."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import field, replace
from os import PathLike, fspath
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from netcheck.bench._due import Deadlines
from netcheck.bench._target import WireId, id_list
from netcheck.capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, Capture, open_capture
from netcheck.edit import IdSpan, of_channels, of_ids
from netcheck.errors import InputError, UsageError
from netcheck.files import one_of
from netcheck.records import dataclass

if TYPE_CHECKING:
    import can

_CHUNK_BYTES: Final = 1 << 16  # small, so that reading on does not hold up what is due
_EXTENDED_KEY: Final = 1 << 32


@dataclass(frozen=True)
class ReplayChoice:
    """What is replayed of a capture.

    channels: where the frames of each channel go; a channel that is not named stays out.
              Empty: all of a capture with one channel go to ``target``
    ids:      only these; all if empty
    not_ids:  but not these
    remap:    ids that go out as others, old to new
    rounds:   how often; 0 is without end
    """

    target: str = ""
    channels: Mapping[str, str] = field(default_factory=dict)
    ids: tuple[IdSpan, ...] = ()
    not_ids: tuple[IdSpan, ...] = ()
    remap: Mapping[WireId, WireId] = field(default_factory=dict)
    rounds: int = 1


@dataclass(frozen=True)
class Route:
    """What goes from a channel of the capture to a channel of the bus.

    ids: as they go out, sorted, 11-bit ones first
    """

    source: str
    target: str
    frames: int
    ids: tuple[WireId, ...]
    has_fd: bool


@dataclass(frozen=True)
class Replay:
    """A capture looked through before anything of it is sent.

    seconds: from the first to the last chosen frame of a round, as they are due
    left_out: frames of the capture that are not sent
    errors:  error frames among them, which nobody can send
    """

    file: str
    choice: ReplayChoice
    routes: tuple[Route, ...]
    frames: int
    seconds: float
    left_out: int
    errors: int
    warnings: tuple[str, ...]

    def messages(self) -> Iterator[tuple[int, tuple[str, can.Message]]]:
        """Nanoseconds from the start, the bus channel, and the message, round after round.

        A round follows the one before after the mean gap of its frames. ``Deadlines`` says when a frame is
        due. The capture is read anew each round, in memory that does not grow with it.
        """
        pause = round(self.seconds * 1e9 / max(self.frames - 1, 1))
        base, rounds = 0, 0
        while not self.choice.rounds or rounds < self.choice.rounds:
            now = base
            for now, item in self._round(base):
                yield now, item
            base = now + pause
            rounds += 1

    def _round(self, base: int) -> Iterator[tuple[int, tuple[str, can.Message]]]:
        targets = {route.source: route.target for route in self.routes}
        deadlines = Deadlines()
        for chunk in _chunks(self.file):
            chosen = np.flatnonzero(_chosen(chunk, self.choice))
            chunk = _remapped(chunk, self.choice.remap)  # noqa: PLW2901 - the same frames under other ids
            due = deadlines.of(chunk.time_ns[chosen])
            for index, due_ns in zip(chosen.tolist(), due.tolist(), strict=True):
                yield base + due_ns, (targets[chunk.channels[chunk.channel[index]]], _message(chunk, index))


class _ReplayPass:
    """What a first way through the capture finds out."""

    def __init__(self, choice: ReplayChoice) -> None:
        self.choice = choice
        self.counts: dict[str, int] = {}
        self.ids: dict[str, set[int]] = {}
        self.fd: set[str] = set()
        self.deadlines = Deadlines()
        self.frames = self.errors = self.total = 0

    def add(self, chunk: Capture) -> None:
        """Count a chunk."""
        chosen = _chosen(chunk, self.choice)
        self.total += len(chunk)
        self.errors += int(np.count_nonzero(chunk.flags & ERROR))
        times = chunk.time_ns[chosen]
        self.deadlines.of(times)
        self.frames += len(times)
        keys = _keys(chunk)
        for number in np.unique(chunk.channel[chosen]).tolist():
            name, own = chunk.channels[number], chosen & (chunk.channel == number)
            self.counts[name] = self.counts.get(name, 0) + int(np.count_nonzero(own))
            self.ids.setdefault(name, set()).update(np.unique(keys[own]).tolist())
            if (chunk.flags[own] & FD).any():
                self.fd.add(name)


def look_through(path: str | PathLike[str], choice: ReplayChoice) -> Replay:
    """Go through a capture once and say what of it would be sent where.

    Raises InputError for a capture that cannot be read or of which nothing is chosen, UsageError for a
    channel that it does not have, several channels and one place for them, an id to remap that it does not
    have, and two ids that would become one.
    """
    found = _ReplayPass(choice)
    stream = open_capture(path)
    with stream:
        for chunk in stream:
            found.add(chunk)
    _check_channels(stream.file, stream.channels, choice)
    if not found.frames:
        raise InputError(stream.file, "nothing of it is left to send", remedy="choose other ids or channels")
    _check_remap(found.ids.values(), choice.remap)
    routes = tuple(
        Route(
            name,
            choice.channels.get(name, choice.target),
            found.counts[name],
            tuple(sorted(_sent_as(found.ids[name], choice.remap), key=lambda wire_id: wire_id[::-1])),
            name in found.fd,
        )
        for name in stream.channels
        if name in found.counts
    )
    return Replay(
        fspath(path), choice, routes, found.frames, found.deadlines.latest_ns / 1e9,
        found.total - found.frames, found.errors, stream.warnings,
    )  # fmt: skip


def _check_channels(file: str, channels: tuple[str, ...], choice: ReplayChoice) -> None:
    for name in choice.channels:
        if name not in channels:
            raise UsageError(f"--channel: {file} has no channel {name}", remedy=one_of(name, channels))
    if not choice.channels and len(channels) > 1:
        raise UsageError(
            f"{file} has {len(channels)} channels ({', '.join(channels)}), and each is a network of its own",
            remedy=f"say where each goes: --channel {channels[0]}={choice.target}",
        )


def _sent_as(keys: Iterable[int], remap: Mapping[WireId, WireId]) -> dict[WireId, WireId]:
    """What goes out, by the id it goes out as: the id it has in the capture."""
    own = [(key & ~_EXTENDED_KEY, bool(key & _EXTENDED_KEY)) for key in sorted(keys)]
    sent: dict[WireId, WireId] = {}
    for old in own:
        new = remap.get(old, old)
        if new in sent:
            raise UsageError(
                f"--remap: {id_list([sent[new], old])} would both go out as {id_list([new])}",
                remedy="choose an id that the capture does not have",
            )
        sent[new] = old
    return sent


def _check_remap(ids: Iterable[Iterable[int]], remap: Mapping[WireId, WireId]) -> None:
    there = {old for keys in ids for old in _sent_as(keys, remap).values()}
    for old in remap:
        if old not in there:
            raise UsageError(f"--remap: no frame to send has the id {id_list([old])}", remedy="leave it out")


def _remapped(chunk: Capture, remap: Mapping[WireId, WireId]) -> Capture:
    if not remap:
        return chunk
    can_id, flags = chunk.can_id.copy(), chunk.flags.copy()
    for (old, is_extended), (new, becomes_extended) in remap.items():
        own = of_ids(chunk, [IdSpan(old, old, is_extended)])
        can_id[own] = new
        flags[own] = flags[own] & ~np.uint8(EXTENDED) | np.uint8(EXTENDED * becomes_extended)
    return replace(chunk, can_id=can_id, flags=flags)


def _chunks(file: str) -> Iterator[Capture]:
    with open_capture(file, threads=1, chunk_bytes=_CHUNK_BYTES) as stream:
        yield from stream


def _chosen(chunk: Capture, choice: ReplayChoice) -> NDArray[np.bool_]:
    """bool[n]: frames that are to be sent."""
    chosen: NDArray[np.bool_] = (chunk.flags & ERROR) == 0
    if choice.channels:
        chosen &= of_channels(chunk, choice.channels)
    if choice.ids:
        chosen &= of_ids(chunk, choice.ids)
    if choice.not_ids:
        chosen &= ~of_ids(chunk, choice.not_ids)
    return chosen


def _keys(chunk: Capture) -> NDArray[np.int64]:
    """Identifier and its kind in one number; 11-bit ones are the smaller."""
    extended = (chunk.flags & EXTENDED) != 0
    keys: NDArray[np.int64] = chunk.can_id.astype(np.int64) + extended * _EXTENDED_KEY
    return keys


def _message(chunk: Capture, index: int) -> can.Message:
    import can

    flags = int(chunk.flags[index])
    content: dict[str, Any] = {"data": chunk.payload(index)}
    if flags & REMOTE:
        content = {"is_remote_frame": True, "dlc": int(chunk.length[index])}
    return can.Message(
        arbitration_id=int(chunk.can_id[index]),
        is_extended_id=bool(flags & EXTENDED),
        is_fd=bool(flags & FD),
        bitrate_switch=bool(flags & BRS),
        error_state_indicator=bool(flags & ESI),
        **content,
    )
