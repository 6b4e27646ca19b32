"""Which channel is which network: identified, doubtful, a wrong tap, or none."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from tests.acceptance.oracle._frames import Tap, is_of
from tests.acceptance.small_jobs import Frame, Job, Msg

Id = tuple[int, bool]


@dataclass(frozen=True)
class Fit:
    """How a channel's ids fit a network's DBC: distinct ids, messages, explained ids; those of 11 bits."""

    n: int
    d: int
    k: int
    n11: int
    d11: int
    k11: int

    def is_enough(self) -> bool:
        return 0 < min(3, self.d) <= self.k

    def is_trusted(self) -> bool:
        m = self.n11 * self.d11 / 2048
        beyond_chance = self.k > self.k11 or self.k11 > m + 4 * sqrt(m)
        return beyond_chance and (2 * self.k >= self.n or 2 * self.k >= self.d)


class Networks:
    """The captures of each network; which networks are doubtful, and which a wrong tap was declared as."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.identified: dict[str, list[Tap]] = {name: [] for name in job.networks}
        self.doubted: dict[str, list[Tap]] = {name: [] for name in job.networks}
        self.mistaken: set[str] = set()
        for recording in job.recordings:
            if recording.when != "before":
                continue
            for channel in sorted({frame.channel for frame in recording.frames}):
                self._place(Tap(recording, channel), recording.channels.get(channel))

    def taps(self, network: str) -> list[Tap]:
        return self.identified[network] or self.doubted[network]

    def is_doubtful(self, network: str) -> bool:
        return bool(self.doubted[network]) and not self.identified[network]

    def seen(self, network: str, number: int, extended: bool) -> bool:
        return any(
            (f.number, f.extended) == (number, extended) for tap in self.taps(network) for f in tap.frames
        )

    def _place(self, tap: Tap, declared: str | None) -> None:
        fits = {name: self._fit(name, tap.frames) for name in self.job.networks}
        found = declared or next((name for name in fits if _may_be(name, fits)), None)
        if found is None or fits[found].n == 0:
            return
        if declared is not None and (
            not fits[declared].is_enough() or any(_is_rather(name, declared, fits) for name in fits)
        ):
            self.mistaken.add(declared)
            return
        (self.identified if fits[found].is_trusted() else self.doubted)[found].append(tap)

    def _fit(self, network: str, frames: tuple[Frame, ...]) -> Fit:
        ids = {(f.number, f.extended) for f in frames}
        sent = {
            (supply.number, supply.extended)
            for part in self.job.parts
            if part.network == network
            for supply in part.supplies
        } - ids
        ids = {one for one in ids if not self._is_diagnostic(one)}
        messages = [
            msg
            for msg in self.job.networks[network]
            if (msg.number, msg.extended) not in sent and not self._is_diagnostic((msg.number, msg.extended))
        ]
        explained = [msg for msg in messages if _is_explained(msg, frames)]
        narrow = [[one for one in many if not one.extended] for many in (messages, explained)]
        n11 = sum(not extended for _, extended in ids)
        return Fit(len(ids), len(messages), len(explained), n11, len(narrow[0]), len(narrow[1]))

    def _is_diagnostic(self, one: Id) -> bool:
        number, extended = one
        if extended and number >> 16 in (0x18DA, 0x18DB):
            return True
        if not extended and 0x7DF <= number <= 0x7EF:
            return True
        year = self.job.year
        return any(
            one == (address, address > 0x7FF)
            for unit in self.job.modules.values()
            if unit.years is None or unit.years[0] <= year <= unit.years[1]
            for address in unit.addresses
        )


def _is_explained(msg: Msg, frames: tuple[Frame, ...]) -> bool:
    lengths = [len(f.data) for f in frames if is_of(f, msg)]
    return 2 * sum(length >= msg.length for length in lengths) > len(lengths)


def _may_be(name: str, fits: dict[str, Fit]) -> bool:
    others = [fit.k for key, fit in fits.items() if key != name]
    return fits[name].is_enough() and all(2 * fits[name].k >= 3 * other for other in others)


def _is_rather(name: str, declared: str, fits: dict[str, Fit]) -> bool:
    """Whether the channel is identified as another network, by twice as many ids or more."""
    if name == declared or fits[name].k < 2 * fits[declared].k:
        return False
    return _may_be(name, fits) and fits[name].is_trusted()
