"""What captures show over time, thinned to be looked at: frozen values, without a sentence.

Times are seconds from the capture's first frame.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from netcheck.files import When
from netcheck.records import dataclass


@dataclass(frozen=True)
class TraceGap:
    """No frame that carries the signal came for a while. is_silent: nor did any other, for most of it."""

    begin: float
    end: float
    is_silent: bool


@dataclass(frozen=True)
class TraceMark:
    """A mark of the role. state: as marked; None for a range of values, ``between``"""

    begin: float
    end: float
    state: str | int | None
    between: tuple[float, float] | None = None


@dataclass(frozen=True)
class SampledFrame:
    """A frame behind a trace: time, raw or physical value as in the trace (NaN: none), payload."""

    time: float
    value: float
    data: bytes


@dataclass(frozen=True, eq=False)
class SignalTrace:
    """One signal on one channel over time.

    frame_id: of its message, as text
    place:    (start, width, is_big_endian) of the signal, as a DBC has them
    is_state: it is drawn as states: values are raw ones; else they are physical, in ``unit``
    labels:   of the raw values that came
    time, value: the rows kept. Of states the changes and the last row; of a quantity all rows, or where it
              has too many the least and the largest of each bucket. NaN: frames with "no value"
    rows:     frames that carry it
    is_whole: nothing was thinned out that would be seen
    changes:  of a state, how often it changed
    samples:  some of the frames behind it: of a state those before and after its first changes, of a quantity
              the least and the largest of each of some stretches
    """

    role: str
    network: str
    message: str
    signal: str
    frame_id: str
    place: tuple[int, int, bool]
    unit: str
    is_state: bool
    labels: Mapping[int, str]
    time: NDArray[np.float64]
    value: NDArray[np.float64]
    rows: int
    is_whole: bool
    changes: int
    gaps: tuple[TraceGap, ...]
    more_gaps: int
    marks: tuple[TraceMark, ...]
    samples: tuple[SampledFrame, ...]


@dataclass(frozen=True, eq=False)
class LoadTrace:
    """Share of the bit rate over time: per span of ``width`` seconds the mean, and the busiest second in it.

    outside: frames whose time stamps lie outside; they count in no span
    """

    width: int
    mean: NDArray[np.float64]
    peak: NDArray[np.float64]
    outside: int


@dataclass(frozen=True, eq=False)
class ChannelTrace:
    """One channel of a capture that is a network.

    seconds: from the capture's first frame to its latest
    load:    None without times
    """

    file: str
    when: When
    channel: str
    network: str
    seconds: float
    has_times: bool
    load: LoadTrace | None
    signals: tuple[SignalTrace, ...]
