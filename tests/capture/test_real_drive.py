"""Three seconds of a real drive (open data set comma2k19, MIT; licence beside the file).

The figures are from zcat, awk and md5sum over the same file, not from this reader.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pytest

from netcheck.capture import open_capture, read_capture

DRIVE = Path(__file__).parents[1] / "data" / "rav4_2016_3s.log.gz"


def test_counts_and_every_payload_byte():
    capture = read_capture(DRIVE)
    assert (len(capture), len(capture.data)) == (6779, 47881)
    assert (capture.skipped, capture.warnings) == (0, ())
    assert capture.channels == ("can0", "can1")
    assert np.bincount(capture.channel).tolist() == [3317, 3462]
    # zcat … | cut -d'#' -f2 | cut -d' ' -f1 | tr -d '\n' | md5sum
    digest = hashlib.md5(capture.data.tobytes().hex().upper().encode(), usedforsecurity=False).hexdigest()
    assert digest == "cfe56986db555f4b75d3b178ea382f88"
    assert len(set(zip(capture.channel.tolist(), capture.can_id.tolist(), strict=True))) == 172


def test_the_wheel_speed_message():
    capture = read_capture(DRIVE)
    rows = np.flatnonzero((capture.can_id == 0x0AA) & (capture.channel == 0))
    assert len(rows) == 249
    assert capture.time_ns[rows[[0, -1]]].tolist() == [46408_589503000, 46411_581548000]
    assert capture.payload(int(rows[0])).hex().upper() == "25B525B525A0258D"
    assert capture.payload(int(rows[-1])).hex().upper() == "2B6E2B712B582B62"


@pytest.mark.parametrize("threads", [1, 2])
@pytest.mark.parametrize("chunk_bytes", [1, 1000, 1 << 16])
def test_chunks_are_the_whole(chunk_bytes, threads):
    whole = read_capture(DRIVE)
    chunks = list(open_capture(DRIVE, chunk_bytes=chunk_bytes, threads=threads))
    assert len(chunks) == 6779 if chunk_bytes == 1 else len(chunks) > 3
    for column in ("time_ns", "can_id", "flags", "channel", "length", "data"):
        joined = np.concatenate([getattr(chunk, column) for chunk in chunks])
        assert np.array_equal(joined, getattr(whole, column))
    shifts = np.cumsum([0, *(len(chunk.data) for chunk in chunks)])[:-1]
    starts = [chunk.start + shift for chunk, shift in zip(chunks, shifts, strict=True)]
    assert np.array_equal(np.concatenate(starts), whole.start)
