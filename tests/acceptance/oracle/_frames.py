"""Frames, signals in them, and the awake stretches of a channel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

from tests.acceptance.small_jobs import Frame, Mark, Msg, Recording, Sig

SECOND = 1_000_000  # microseconds


def raw_of(sig: Sig, data: bytes) -> int | None:
    """The signal's raw value, None where the data are too short."""
    if len(data) * 8 < sig.start + sig.width:
        return None
    raw = sum((data[bit // 8] >> bit % 8 & 1) << n for n, bit in enumerate(_bits(sig)))
    return raw - (1 << sig.width) if sig.signed and raw >> (sig.width - 1) else raw


def _bits(sig: Sig) -> list[int]:
    """The least significant first; of a big-endian signal, the last byte's."""
    bits = list(range(sig.start, sig.start + sig.width))
    return [*bits[8:], *bits[:8]] if sig.is_big else bits


def value_of(sig: Sig, raw: int) -> Fraction:
    return raw * Fraction(sig.factor) + Fraction(sig.offset)


def has_limits(sig: Sig) -> bool:
    return (Fraction(sig.low), Fraction(sig.high)) != (0, 0)


def within_limits(sig: Sig, raw: int) -> bool:
    return not has_limits(sig) or Fraction(sig.low) <= value_of(sig, raw) <= Fraction(sig.high)


def page_is_selected(msg: Msg, sig: Sig, data: bytes) -> bool:
    if not isinstance(sig.page, int):
        return True
    selector = next(other for other in msg.signals if other.page == "M")
    return raw_of(selector, data) == sig.page


def is_of(frame: Frame, msg: Msg) -> bool:
    return (frame.number, frame.extended) == (msg.number, msg.extended)


def median(numbers: Sequence[int]) -> Fraction:
    ordered, half = sorted(numbers), len(numbers) // 2
    return Fraction(ordered[half] + ordered[-1 - half], 2)


def percentile(numbers: Sequence[int], share: int) -> int:
    """By nearest rank, ``share`` in percent."""
    return sorted(numbers)[-(-share * len(numbers) // 100) - 1]


@dataclass(frozen=True, eq=False)
class Tap:
    """One channel of one recording: a capture of its own."""

    recording: Recording
    channel: str

    @cached_property
    def frames(self) -> tuple[Frame, ...]:
        """Its data frames: remote and error frames are nobody's."""
        own = (f for f in self.recording.frames if f.channel == self.channel)
        return tuple(f for f in own if f.kind == "data")

    @property
    def is_timed(self) -> bool:
        return self.recording.timed

    @property
    def marks(self) -> tuple[Mark, ...]:
        return self.recording.marks if self.is_timed else ()

    @cached_property
    def longest_silence(self) -> Fraction:
        """Inside an awake stretch."""
        times: dict[tuple[int, bool], list[int]] = {}
        for frame in self.frames:
            times.setdefault((frame.number, frame.extended), []).append(frame.time)
        medians = [median(gaps_of(of_one)) for of_one in times.values() if len(of_one) > 1]
        return max([Fraction(SECOND), *[min(medians) * 5 / 2 for _ in medians[:1]]])

    @cached_property
    def stretches(self) -> list[list[Frame]]:
        """The awake stretches; without times the whole is one."""
        found: list[list[Frame]] = []
        for frame in self.frames:
            if not found or (self.is_timed and frame.time - found[-1][-1].time > self.longest_silence):
                found.append([])
            found[-1].append(frame)
        return found


def gaps_of(times: list[int]) -> list[int]:
    return [after - before for before, after in pairwise(times)]
