"""Frames of every kind that a log can hold, and how captures are compared."""

from __future__ import annotations

from hypothesis import strategies as st

from netcheck.capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, Capture
from tests.captures import Frame

FD_LENGTHS = [*range(9), 12, 16, 20, 24, 32, 48, 64]
TIMES = st.one_of(
    st.integers(0, 2_000_000_000_000_000).map(lambda us: us * 1000),
    st.integers(0, 9_223_372_035_999_999_999),
    st.integers(0, 3_000_000_000),
)


@st.composite
def frames(draw: st.DrawFn) -> Frame:
    kind = draw(st.sampled_from(["data", "data", "fd", "remote", "error"]))
    extended = EXTENDED if draw(st.booleans()) else 0
    can_id = draw(st.integers(0, 0x1FFFFFFF if extended or kind == "error" else 0x7FF))
    channel = draw(st.sampled_from(["can0", "can1", "vcan12", "kan-ü", "a#b", "x" * 64]))
    time = draw(TIMES)
    if kind == "remote":
        return Frame(can_id, b"", extended | REMOTE, time, channel, draw(st.integers(0, 8)))
    if kind == "error":
        return Frame(can_id, draw(st.binary(max_size=8)), ERROR, time, channel)
    if kind == "fd":
        size = draw(st.sampled_from(FD_LENGTHS))
        more = draw(st.sampled_from([0, BRS, ESI, BRS | ESI]))
        data = draw(st.binary(min_size=size, max_size=size))
        return Frame(can_id, data, extended | FD | more, time, channel)
    return Frame(can_id, draw(st.binary(max_size=8)), extended, time, channel)


def rows(capture: Capture) -> list[tuple[int, str, int, int, int, bytes]]:
    """A capture as plain values, one row a frame."""
    return [
        (
            int(capture.time_ns[i]),
            capture.channels[capture.channel[i]],
            int(capture.can_id[i]),
            int(capture.flags[i]),
            int(capture.length[i]),
            capture.payload(i),
        )
        for i in range(len(capture))
    ]
