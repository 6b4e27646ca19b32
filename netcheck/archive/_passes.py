"""One pass over a capture for all that does not need to know which channel is which network."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Final

import numpy as np

from netcheck.archive._frames import payloads_of
from netcheck.capture import Capture, CaptureStream
from netcheck.evidence import CaptureSeen, ObservationPass, TurnsWanted, Window, observe
from netcheck.network import READ_ONCE, Survey, SurveyMeter, SurveyPlan
from netcheck.records import dataclass
from netcheck.roles import Watch

DIGITS: Final = 32  # of a digest, in hex
_TURNS: Final = TurnsWanted(values=True)


@dataclass(frozen=True)
class GoneThrough:
    """What one pass gave: the survey, the observations with turns, and a digest of all frames."""

    survey: Survey
    seen: CaptureSeen
    digest: str


def go_through(
    stream: CaptureStream,
    plan: SurveyPlan,
    watches: Sequence[Watch],
    windows: Sequence[tuple[Window, ...]],
    name: str,
) -> GoneThrough:
    """Survey and observe a capture at once, with one tally; twice where a channel is slow.

    Arguments and errors as for ``survey`` and ``observe``.
    """
    with ThreadPoolExecutor(1, "netcheck-observe") as thread:

        def passed(
            stream: CaptureStream, silences: Mapping[int, int], digest: _FramesDigest | None
        ) -> tuple[SurveyMeter, ObservationPass]:
            meter = SurveyMeter(plan, silences, threads=1)
            passing = ObservationPass(watches, windows, name, thread, meter.tally, _TURNS, has_load=False)
            for chunk in stream:
                beside = [partial(digest.add, chunk)] if digest else []
                meter.add(chunk, [*beside, *passing.tasks(chunk)])
            return meter, passing

        digest = _FramesDigest()
        meter, passing = passed(stream.reusing_buffers(), {}, digest)
        silences = meter.tally.silences()
        again = stream.again() if silences else None
        if again is not None:
            stream = again.reusing_buffers()
            meter, passing = passed(stream, silences, None)
        seen = passing.result(stream)
    surveyed = meter.result(stream, (READ_ONCE,) if silences and again is None else ())
    if any(meter.tally.wire(number).strangers for number in range(len(stream.channels))):
        more = stream.again()  # more ids than a survey tells apart: the roles have a pass of their own
        if more is not None:
            seen = observe(more.reusing_buffers(), watches, windows, name=name, turns=_TURNS)
    return GoneThrough(surveyed, seen, digest.result())


class _FramesDigest:
    """A digest of frames that no chunk size and no compression changes."""

    def __init__(self) -> None:
        self._digests = [hashlib.blake2b(digest_size=16) for _ in range(6)]
        self._names: tuple[str, ...] = ()

    def add(self, chunk: Capture) -> None:
        """The next frames."""
        columns = (chunk.time_ns, chunk.can_id, chunk.flags, chunk.channel, chunk.length)
        contents = [np.ascontiguousarray(column).tobytes() for column in columns]
        for digest, content in zip(self._digests, [*contents, payloads_of(chunk)[0]], strict=True):
            digest.update(content)
        self._names = chunk.channels

    def result(self) -> str:
        """The digest of all frames so far."""
        names = "\0".join(self._names).encode()
        return digest_of(names, *(digest.digest() for digest in self._digests))


def digest_of(*contents: bytes) -> str:
    """One digest of several contents, in this order."""
    digest = hashlib.sha256()
    for content in contents:
        digest.update(len(content).to_bytes(8, "little") + content)
    return digest.hexdigest()[:DIGITS]
