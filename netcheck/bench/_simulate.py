"""The traffic of one network, frame by frame, the same bytes every time.

Only uniform random numbers and plain arithmetic are used, so that no machine's sine or logarithm changes
a byte.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import replace

from netcheck.bench._frame import USUAL_RATES, BitRates, Frame, arbitrate, due
from netcheck.bench._scenario import Scenario
from netcheck.bench._sender import in_order, senders
from netcheck.database import Database


def simulate(
    database: Database,
    scenario: Scenario,
    seconds: float,
    seed: int | str,
    channel: str = "can0",
    rates: BitRates = USUAL_RATES,
) -> Iterator[Frame]:
    """Frames of every message of ``database`` that has a cycle, over ``seconds``, in the order of the bus.

    Nothing is kept: the length of a simulation does not matter.
    Raises UsageError for a label that a signal does not have.
    """
    has_fast_data = rates.fd_bitrate is not None
    streams = [stream for m in database.messages for stream in senders(m, scenario, seconds, seed)]
    streams.append(iter(in_order(scenario.extra)))
    queue = heapq.merge(
        *(
            (
                due(replace(frame, channel=channel, has_fast_data=frame.is_fd and has_fast_data), rates)
                for frame in stream
            )
            for stream in streams
        ),
        key=lambda entry: (entry.time_us, entry.order),
    )
    return arbitrate(queue)
