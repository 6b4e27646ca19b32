"""Random frames of one channel: signals that step now and then, messages that come in their own way."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from tests.acceptance.small_jobs import Frame, Msg, Sig

if TYPE_CHECKING:
    from tests.acceptance.random_jobs import Dice

Track = Callable[[int, int], int]
Step = tuple[str, int, int, int]  # message.signal, from, to (microseconds), raw value


def random_frames(
    dice: Dice, channel: str, messages: list[Msg], end: int, slow: int = 1
) -> tuple[list[Frame], list[Step]]:
    """The frames up to ``end`` (microseconds), in no order, and what the signals did; one frame at least.

    A slow channel takes ``slow`` times as long for all that it does.
    """
    traffic = _Traffic(dice, channel, end, slow)
    for msg in messages:
        traffic.send(msg)
    traffic.frames = traffic.frames or [Frame(0, channel, 0x7FF, b"")]
    traffic.disturb()
    return traffic.frames, traffic.steps


def raws_named(sig: Sig, state: str | int) -> list[int]:
    return [state] if isinstance(state, int) else [raw for raw, label in sig.labels.items() if label == state]


def is_counter(sig: Sig) -> bool:
    return "Turn" in sig.name


class _Traffic:
    def __init__(self, dice: Dice, channel: str, end: int, slow: int) -> None:
        self.dice, self.channel, self.end, self.slow = dice, channel, end, slow
        self.count = 0  # frames of the message at hand
        self.frames: list[Frame] = []
        self.steps: list[Step] = []

    def send(self, msg: Msg) -> None:
        dice = self.dice
        is_event = dice.odd(0.3)
        period = dice.pick([50, 50, 100, 100, 100, 200, 500]) * 1000 * self.slow
        if is_event:
            period = dice.pick([500_000, 1_000_000, 2 * self.end])
        self.count = self.end // period + 1
        known = len(self.steps)
        tracks = {sig.name: self._track(msg, sig, is_event) for sig in msg.signals}
        times = self._cycles(period)
        if is_event:
            starts = {start for _, start, _, _ in self.steps[known:] if start <= self.end}
            times = sorted({*times, *(start + dice.pick([0, 0, 1000, 20_000]) for start in starts)})
        short, cut = self._spots(0.2), dice.pick(range(msg.length))
        tail = bytes(dice.pick([8, 12]) - msg.length) if dice.odd(0.1) else b""
        is_shaky = dice.odd(0.5)
        for count, time in enumerate(times):
            data = _packed(msg, {name: track(time, count) for name, track in tracks.items()})
            data = data[:cut] if count in short else data + tail
            shake = dice.pick([-1, 0, 1]) if is_shaky and time else 0
            self.frames.append(Frame(time + shake, self.channel, msg.number, data, msg.extended))

    def _cycles(self, period: int) -> list[int]:
        """Times of a cyclic message, which may start late, end early, and be late now and then."""
        dice = self.dice
        time = dice.pick([50_000, 300_000, 1_200_000]) if dice.odd(0.3) else 0
        end = self.end - (dice.pick([50_000, 700_000, 1_500_000]) if dice.odd(0.3) else 0)
        late = dice.pick([0.01, 0.02, 0.2]) if dice.odd(0.3) else 0
        times = []
        while time <= end:
            times.append(time)
            time += period + (dice.pick([1000, 10_000, 60_000, 300_000]) if dice.chance(late) else 0)
        return times

    def _spots(self, share: float) -> set[int]:
        """Which frames of a message something befalls: as many as a rule bears, one more, or one less."""
        dice, count = self.dice, self.count
        if not dice.odd(share):
            return set()
        size = int(count * dice.pick([0.01, 0.01, 0.02, 0.5, 0.5, 0.6, 1])) + dice.pick([-1, 0, 0, 1])
        return set(dice.random.sample(range(count), min(max(size, 0), count)))

    def _track(self, msg: Msg, sig: Sig, is_event: bool) -> Track:
        if sig.page == "M":
            pages = self.dice.pick([(1,), (1, 2), (1, 2), (2,), (0,), (1, 1, 2)])
            return lambda time, count: pages[count % len(pages)]
        return self._counter(sig) if is_counter(sig) else self._stepping(msg, sig, is_event)

    def _stepping(self, msg: Msg, sig: Sig, is_event: bool) -> Track:
        dice = self.dice
        good = [0, 1, 1, 2] if dice.chance(0.7) else [0, 1]
        odd = dice.pick([[3], [5], [15], [14, 15], [(1 << sig.width) - 1], [30, 200]])
        pool = dice.pick([[1], [0], odd, good + odd]) if dice.odd(0.3) else good
        spots, lapses, other = self._spots(0.3), self._spots(0.1), dice.pick([15, 0, 3]) % (1 << sig.width)
        steps: list[tuple[int, int, int]] = []
        time = 0
        while time <= self.end:
            lengths = [100, 200, 300, 600, 1000] if is_event else [300, 500, 700, 1000, 1500, 2000, 3000]
            length = dice.pick(lengths) * 1000 * self.slow
            others = [raw for raw in pool if not (is_event and steps and raw == steps[-1][2])]
            raw = dice.pick(others or pool) % (1 << sig.width)
            steps.append((time, time + length, raw))
            time += length
        self.steps += [(f"{msg.name}.{sig.name}", *step) for step in steps]

        def raw_at(time: int, count: int) -> int:
            if count in spots:
                return dice.pick(odd) % (1 << sig.width)
            if count in lapses:
                return other
            return next((raw for start, end, raw in steps if start <= time < end), steps[-1][2])

        return raw_at

    def _counter(self, sig: Sig) -> Track:
        dice = self.dice
        top = min(int(sig.high) + 1 if int(sig.high) else 1 << sig.width, 1 << sig.width)
        modulus = dice.pick([1 << sig.width, 10, 7]) if dice.odd(0.2) else top
        jumps, still = self._spots(0.2), self._spots(0.2)
        repeats = dice.pick([(2,), (2, 2, 3), (3, 3, 4), (1, 2)]) if dice.odd(0.1) else (1,)
        stride = dice.pick([2, 3, 5, modulus - 1]) if dice.odd(0.1) else 1
        state, left = [dice.pick(range(modulus))], [dice.pick(repeats)]

        def raw_at(time: int, count: int) -> int:
            left[0] -= 1
            if left[0] > 0:
                return state[0] % (1 << sig.width)
            left[0] = dice.pick(repeats)
            step = 0 if count in still else dice.pick([2, 3, 6]) if count in jumps else stride
            state[0] = (state[0] + step) % modulus
            return state[0] % (1 << sig.width)

        return raw_at

    def disturb(self) -> None:
        """Remote and error frames between the others, and silences."""
        dice = self.dice
        if dice.chance(0.5):
            self._fall_silent()
        for kind, length in (("remote", 3), ("error", 8)):
            if dice.odd(0.3):
                last = self.end + dice.pick([0, 600_000, 2_000_000])
                times = [dice.pick(range(0, last, 10_000)) for _ in range(dice.pick([1, 5, 40]))]
                number = dice.pick([0x100, 0x130, 0x601])
                self.frames += [Frame(t, self.channel, number, bytes(length), False, kind) for t in times]
        self._fall_silent()

    def _fall_silent(self) -> None:
        dice = self.dice
        for _ in range(dice.pick([1, 1, 2]) if dice.odd(0.3) else 0):
            start = dice.pick(range(0, self.end, 100_000))
            lengths = [900_000, 1_000_000, 1_100_000, 2_000_000, 625_000, 1_250_000, 1_250_001]
            end = start + dice.pick(lengths) * dice.pick([1, self.slow])
            kept = [frame for frame in self.frames if not start < frame.time < end]
            self.frames = kept or self.frames


def _packed(msg: Msg, raws: dict[str, int]) -> bytes:
    page = next((raws[sig.name] for sig in msg.signals if sig.page == "M"), None)
    bits = 0
    for sig in msg.signals:
        if sig.page in (None, "M", page):
            raw = raws[sig.name]
            bits |= (int.from_bytes(raw.to_bytes(2, "big"), "little") if sig.is_big else raw) << sig.start
    return bits.to_bytes(msg.length, "little")
