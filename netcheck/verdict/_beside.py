"""Needs whose signal never moved although other bits did: its place in the DBC may be wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from netcheck.bits import bit_positions
from netcheck.capture import open_capture
from netcheck.database import Message, MuxPage, Signal
from netcheck.evidence import BesideLook, BesideMeter, look_beside
from netcheck.files import LoadedCapture
from netcheck.network import FrameId, messages_by_id
from netcheck.records import dataclass
from netcheck.roles import Watch
from netcheck.verdict._captures import NetworkCaptures, windows_of
from netcheck.verdict._context import PlanContext
from netcheck.verdict._model import NeedResult, OtherBits, OtherByte, Reason
from netcheck.verdict._needs import case_of

_UNMOVED: Final = frozenset({Reason.NOT_EXERCISED, Reason.NO_ANSWER})


@dataclass(frozen=True)
class _Unmoved:
    """A signal that never moved, on a network that was captured."""

    watch: Watch
    captures: NetworkCaptures
    meter: BesideMeter

    def look(self, capture: LoadedCapture) -> BesideLook | None:
        """What to look at in a capture; None where the network is not in it."""
        own = [entry.channel for entry in self.captures.channels if entry.file == capture.name]
        if not own:
            return None
        windows = windows_of(capture, self.watch) if all(channel.has_times for channel in own) else ()
        return BesideLook(self.meter, tuple(channel.name for channel in own), windows)


def with_other_bits(
    context: PlanContext, needs: Sequence[tuple[NeedResult, ...]]
) -> list[tuple[NeedResult, ...]]:
    """The needs of all items, those whose signal never moved with what moved instead.

    Captures are read once more where there is such a need, and only then. Of what cannot be read twice, as a
    pipe, nothing is said.

    Raises InputError as reading a capture does.
    """
    numbers = [
        [_unmoved_watch(context, item, number, need) for number, need in enumerate(results)]
        for item, results in enumerate(needs)
    ]
    unmoved = {
        number: _Unmoved(
            watch, context.captures.by_network[watch.network], BesideMeter(watch.message, watch.signal)
        )
        for number, watch in enumerate(context.captures.watches)
        if any(number in of_item for of_item in numbers)
    }
    if not unmoved or not _look(context, list(unmoved.values())):
        return list(needs)
    found = {number: _other_bits(context, entry) for number, entry in unmoved.items()}
    return [
        tuple(
            need if number is None else replace(need, facts=replace(need.facts, other_bits=found[number]))
            for need, number in zip(results, of_item, strict=True)
        )
        for results, of_item in zip(needs, numbers, strict=True)
    ]


def _unmoved_watch(context: PlanContext, item: int, number: int, need: NeedResult) -> int | None:
    """The number of a need's watch, if its frames came, it had one value throughout, and that is a reason."""
    seen, doubtful = need.facts.seen, need.facts.doubtful
    if doubtful or not seen.carried or seen.raw.differ or _UNMOVED.isdisjoint({need.reason, *need.also}):
        return None
    source = case_of(context, item, context.items[item].retrofit.need[number]).source
    if source is None or source.watch is None:
        return None
    return context.captures.watches.index(source.watch)


def _look(context: PlanContext, unmoved: Sequence[_Unmoved]) -> bool:
    """Whether all captures of the networks could be looked at."""
    wanted = []
    for capture in context.job.captures:
        looks = [look for entry in unmoved if (look := entry.look(capture)) is not None]
        if looks and capture.when == "before":
            wanted.append((capture, looks))
    if not all(Path(capture.path).is_file() for capture, _ in wanted):
        return False
    for capture, looks in wanted:
        look_beside(open_capture(capture.path), looks)
    return True


def _other_bits(context: PlanContext, entry: _Unmoved) -> OtherBits | None:
    beside = entry.meter.result()
    if beside is None:
        return None
    message, signal = entry.watch.message, entry.watch.signal
    database = context.databases[entry.watch.network]
    known: dict[FrameId, Message] = {}
    for captured in entry.captures.channels:
        known.update(messages_by_id(captured.channel.traffic, database))
    followers = [
        _other(known.get(one.frame_id), one.byte, one.bits, frame_id=one.frame_id) for one in beside.followers
    ]
    return OtherBits(
        own=tuple(sorted({bit // 8 for bit in _bits(signal)})),
        moved=tuple(
            replace(_other(message, one.byte, one.bits, signal.pages), changes=one.changes, message=None)
            for one in beside.moved
        ),
        followers=tuple(sorted(followers, key=lambda byte: byte.message != message.name)),
        has_marks=bool(entry.meter.marks),
    )


def _bits(signal: Signal) -> tuple[int, ...]:
    return bit_positions(signal.start, signal.width, signal.is_big_endian)


def _other(
    message: Message | None,
    byte: int,
    bits: int,
    pages: tuple[MuxPage, ...] | None = None,
    frame_id: FrameId | None = None,
) -> OtherByte:
    """Some bits of a byte with what the DBC has there. pages: only signals that such frames carry."""
    own = {8 * byte + bit for bit in range(8) if bits >> bit & 1}
    free, names = set(own), []
    for signal in message.signals if message is not None else ():
        theirs = own.intersection(_bits(signal))
        if theirs and (pages is None or signal.pages in ((), pages)):
            free -= theirs
            names.append(signal.name)
    return OtherByte(
        byte=byte,
        bits=bits,
        free=sum(1 << bit - 8 * byte for bit in free),
        frame_id=frame_id,
        message=message.name if message is not None else None,
        signals=tuple(names),
    )
