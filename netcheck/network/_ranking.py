"""How well each of several DBCs fits a channel: by ids, lengths, cycle times and what the bytes decode to.

The rule that decides (``_identity``) counts ids. The ranking also weighs, for each id that a DBC explains,
whether the length is just the declared one, whether the cycle time is kept, whether decoded values lie
inside their limits and whether the bits that change belong to a signal. That tells DBCs apart that share
their ids. What a DBC of many messages would explain by chance is taken off. The ranking never says otherwise
than the rule: the network that the rule takes comes first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import inf, isfinite
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from netcheck.bits import bit_positions
from netcheck.capture import Capture
from netcheck.database import Database, Message, Signal, extract_all
from netcheck.network._identity import Candidate, Identity, messages_by_id
from netcheck.network._remark_model import DbcFit, NetworkFit
from netcheck.network._survey_model import Ranked, Timing
from netcheck.network._traffic import FrameId, Traffic
from netcheck.records import dataclass

PERIOD_BAND: Final = 0.25  # of the stated cycle time
_LIMIT_SLACK: Final = 1e-6  # of one step: decimal limits are not exact in binary


@dataclass(frozen=True)
class Evidence:
    """What the traffic of one id shows. payloads: some different ones, of any length."""

    timing: Timing
    payloads: Sequence[bytes]


@dataclass(frozen=True)
class _Fit:
    """One id against one message; None: nothing to judge by."""

    is_exact: bool
    on_time: bool | None
    plausible: float | None
    covered: float | None

    @property
    def score(self) -> float:
        """1 for a message that fits in every way that can be judged, never 0."""
        score = 1.0 if self.is_exact else 0.5
        score *= 0.6 if self.on_time is False else 1.0
        score *= 0.3 + 0.7 * (1.0 if self.plausible is None else self.plausible)
        return score * (0.3 + 0.7 * (1.0 if self.covered is None else self.covered))


def rank(
    traffic: Traffic,
    seen: Mapping[FrameId, Evidence],
    networks: Mapping[str, Database],
    identity: Identity,
) -> tuple[Ranked, ...]:
    """All networks, best first; of equals the one of which fewer messages stayed away.

    traffic: without ids of diagnostics, as ``identity`` counts them
    """
    found = {entry.network: entry for entry in identity.candidates}
    entries = [_ranked(found[name], traffic, seen, database) for name, database in networks.items()]
    return tuple(
        sorted(
            entries,
            key=lambda entry: (
                entry.network != identity.network,
                -round(entry.score - found[entry.network].by_chance, 6),
                entry.messages - entry.explained,
            ),
        )
    )


def fit_of(candidates: Sequence[Ranked]) -> DbcFit:
    """How the DBC of the first candidate fits, and which others of them fit better."""
    own, *others = candidates
    better = sorted(
        (entry for entry in others if entry.is_beyond_chance and entry.score > own.score),
        key=lambda entry: -entry.score,
    )
    return DbcFit(
        own.network,
        own.explained,
        own.ids,
        own.messages,
        own.exact,
        None if own.plausible is None else round(1 - own.plausible, 6),
        None if own.covered is None else round(1 - own.covered, 6),
        tuple(NetworkFit(entry.network, entry.explained, entry.ids) for entry in better),
    )


def _ranked(
    candidate: Candidate, traffic: Traffic, seen: Mapping[FrameId, Evidence], database: Database
) -> Ranked:
    fits = [
        _fit(traffic, frame_id, message, seen.get(frame_id))
        for frame_id, message in messages_by_id(traffic, database).items()
        if traffic.mostly_at_least(frame_id, message.length)
    ]
    timed = [fit for fit in fits if fit.on_time is not None]
    return Ranked(
        network=candidate.network,
        explained=candidate.explained,
        ids=candidate.ids,
        messages=candidate.messages,
        exact=sum(fit.is_exact for fit in fits),
        timed=len(timed),
        on_time=sum(bool(fit.on_time) for fit in timed),
        plausible=_mean([fit.plausible for fit in fits if fit.plausible is not None]),
        covered=_mean([fit.covered for fit in fits if fit.covered is not None]),
        score=sum(fit.score for fit in fits),
        least=candidate.least,
        is_beyond_chance=candidate.is_beyond_chance,
        missing=candidate.missing,
    )


def _mean(shares: Sequence[float]) -> float | None:
    return sum(shares) / len(shares) if shares else None


def _fit(traffic: Traffic, frame_id: FrameId, message: Message, seen: Evidence | None) -> _Fit:
    counts = traffic.lengths[frame_id]
    is_exact = 2 * counts.get(message.length, 0) > sum(counts.values())
    if seen is None:
        return _Fit(is_exact, None, None, None)
    payloads = [payload for payload in seen.payloads if len(payload) >= message.length]
    return _Fit(is_exact, keeps_cycle(seen.timing, message), *_values(message, payloads))


def keeps_cycle(timing: Timing, message: Message) -> bool | None:
    """Whether a message comes as often as its DBC says, a quarter allowed; None where that cannot be said."""
    if not message.cycle_time_ms or timing.period is None or not timing.cyclic:
        return None
    return abs(timing.period - message.cycle_time_ms) <= PERIOD_BAND * message.cycle_time_ms


def _values(message: Message, payloads: Sequence[bytes]) -> tuple[float | None, float | None]:
    """Share of values inside limits that can be broken; share of the changing bits that are in a signal."""
    if not payloads or not message.length:
        return None, None
    capture = _as_capture(message, payloads)
    rows = np.arange(len(payloads))
    inside = judged = 0
    signals = [signal for signal in message.signals if _can_break_limits(signal)]
    for signal, extracted in zip(signals, extract_all(capture, message, signals, rows), strict=True):
        value = extracted.value[extracted.carries]
        judged += len(value)
        inside += int(np.count_nonzero(_is_inside(signal, value)))
    covered = _covered(message, payloads)
    return (inside / judged if judged else None), covered


def _covered(message: Message, payloads: Sequence[bytes]) -> float | None:
    length = min(len(payload) for payload in payloads)
    table = np.frombuffer(b"".join(payload[:length] for payload in payloads), np.uint8).reshape(-1, length)
    varying = np.unpackbits(np.bitwise_or.reduce(table ^ table[0], axis=0), bitorder="little")
    if not varying.any():
        return None
    return float((varying & _mask(message, length)).sum() / varying.sum())


def _mask(message: Message, length: int) -> NDArray[np.uint8]:
    """uint8[8 · length]: 1 for a bit that belongs to a signal, numbered 8·byte + bit."""
    mask = np.zeros(8 * length, np.uint8)
    for signal in message.signals:
        positions = np.array(bit_positions(signal.start, signal.width, signal.is_big_endian))
        mask[positions[positions < len(mask)]] = 1
    return mask


def _can_break_limits(signal: Signal) -> bool:
    """Whether some raw value would lie outside the DBC's limits."""
    if signal.minimum is None and signal.maximum is None:
        return False
    if signal.is_float:
        return True
    lowest = -(1 << signal.width - 1) if signal.is_signed else 0
    highest = lowest + (1 << signal.width) - 1
    slack = _LIMIT_SLACK * abs(signal.scale)
    least = -inf if signal.minimum is None else signal.minimum - slack
    most = inf if signal.maximum is None else signal.maximum + slack
    ends = (lowest * signal.scale + signal.offset, highest * signal.scale + signal.offset)
    return not all(isfinite(end) and least <= end <= most for end in ends)


def _is_inside(signal: Signal, value: NDArray[np.float64]) -> NDArray[np.bool_]:
    slack = _LIMIT_SLACK * abs(signal.scale)
    inside = np.isfinite(value)
    if signal.minimum is not None:
        inside &= value >= signal.minimum - slack
    if signal.maximum is not None:
        inside &= value <= signal.maximum + slack
    return inside


def _as_capture(message: Message, payloads: Sequence[bytes]) -> Capture:
    lengths = np.array([len(payload) for payload in payloads], np.uint8)
    count = len(payloads)
    zeros: Any = np.zeros
    return Capture(
        file="",
        channels=("",),
        time_ns=zeros(count, np.int64),
        can_id=np.full(count, message.can_id, np.uint32),
        flags=zeros(count, np.uint8),
        channel=zeros(count, np.uint8),
        length=lengths,
        start=np.cumsum(lengths, dtype=np.int64) - lengths,
        data=np.frombuffer(b"".join(payloads), np.uint8),
    )
