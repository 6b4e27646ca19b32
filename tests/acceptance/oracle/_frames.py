"""Frames, signals in them, awake periods, and which channel is which network."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from tests.acceptance.small_jobs import Frame, Job, Msg, Recording, Sig

AWAKE = 1_000_000  # longest silence inside an awake period, microseconds, …
AWAKE_SHARE = Fraction(5, 2)  # … or this times the shortest median gap of a message


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


def longest_silence(frames: list[Frame]) -> Fraction:
    """Inside an awake period of the channel that the frames are of."""
    medians = []
    for name in {(frame.number, frame.extended) for frame in frames}:
        times = [frame.time for frame in frames if (frame.number, frame.extended) == name]
        gaps = sorted(after - before for before, after in pairwise(times))
        medians += gaps[(len(gaps) - 1) // 2 : (len(gaps) + 1) // 2]
    return max(Fraction(AWAKE), AWAKE_SHARE * min(medians, default=0))


def awake_periods(frames: list[Frame]) -> list[list[Frame]]:
    """The awake periods of one channel."""
    found: list[list[Frame]] = []
    silence = longest_silence(frames)
    for frame in frames:
        if not found or frame.time - found[-1][-1].time > silence:
            found.append([])
        found[-1].append(frame)
    return found


class Taps:
    """Which channel of which recording is which network."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.of: dict[str, list[tuple[Recording, list[Frame]]]] = {name: [] for name in job.networks}
        self.mistaken: set[str] = set()
        for recording in job.recordings:
            if recording.when == "before":
                self._add(recording)

    def _add(self, recording: Recording) -> None:
        for channel in sorted({frame.channel for frame in recording.frames}):
            frames = [f for f in recording.frames if f.channel == channel and f.kind == "data"]
            explained = {name: self._explained(name, frames) for name in self.job.networks}
            declared = recording.channels.get(channel)
            if declared is None:
                found = self._clearly(explained)
                if found is not None:
                    self.of[found].append((recording, frames))
            elif self._enough(declared, explained[declared]):
                self.of[declared].append((recording, frames))
            else:
                self.mistaken.add(declared)

    def _explained(self, network: str, frames: list[Frame]) -> int:
        count = 0
        for msg in self.job.networks[network]:
            lengths = [len(f.data) for f in frames if is_of(f, msg)]
            fit = sum(length >= msg.length for length in lengths)
            count += 2 * fit > len(lengths)
        return count

    def _enough(self, network: str, explained: int) -> bool:
        return explained >= min(3, len(self.job.networks[network]))

    def _clearly(self, explained: dict[str, int]) -> str | None:
        for name, count in explained.items():
            others = [other for key, other in explained.items() if key != name]
            if self._enough(name, count) and all(2 * count >= 3 * other for other in others):
                return name
        return None

    def seen(self, network: str, number: int, extended: bool) -> bool:
        return any(
            (f.number, f.extended) == (number, extended) for _, frames in self.of[network] for f in frames
        )


def is_of(frame: Frame, msg: Msg) -> bool:
    return (frame.number, frame.extended) == (msg.number, msg.extended)
