"""Several captures as one, by time, in memory that does not grow with the files."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import REMOTE, Capture, CaptureStream
from netcheck.edit._write import only
from netcheck.errors import UsageError

_MOST_CHANNELS: Final = 256

Change = Callable[[Capture], Capture]


class ChannelTable:
    """Channel names of all sources with one index each."""

    def __init__(self) -> None:
        self._index: dict[str, int] = {}

    @property
    def names(self) -> tuple[str, ...]:
        """All names so far."""
        return tuple(self._index)

    def indices(self, names: Sequence[str]) -> NDArray[np.uint8]:
        """The index of each name here. Raises UsageError when there are too many."""
        found = [self._index.setdefault(name, len(self._index)) for name in names]
        if len(self._index) > _MOST_CHANNELS:
            raise UsageError(f"more than {_MOST_CHANNELS} channels in all", remedy="take fewer captures")
        return np.array(found, np.uint8)


class Feed:
    """A source, chunk by chunk: the chunk at hand, and how far it is used.

    Its own order stays: a frame whose clock went back counts as at the latest time before it.
    """

    def __init__(self, stream: CaptureStream, table: ChannelTable, change: Change) -> None:
        self._stream = stream
        self._chunks = iter(stream)
        self._table = table
        self._change = change
        self._at = 0
        self._chunk: Capture | None = None
        self._keys = np.empty(0, np.int64)

    def begin(self) -> int:
        """Takes the first chunk; gives the time of the first frame. Raises InputError when there is none."""
        self.fill()
        assert self._chunk is not None, "a stream without a frame raises by itself"
        return int(self._chunk.time_ns[0])

    def fill(self) -> bool:
        """Whether there is a frame at hand; takes the next chunk when need be."""
        if self._at < len(self._keys):
            return True
        chunk = next(self._chunks, None)
        if chunk is None:
            return False
        latest = int(self._keys[-1]) if len(self._keys) else int(chunk.time_ns[0])
        self._chunk = self._change(chunk)
        self._keys = np.maximum.accumulate(np.maximum(chunk.time_ns, latest))
        self._at = 0
        return True

    @property
    def last_key(self) -> int:
        """Order of the last frame at hand."""
        return int(self._keys[-1])

    def take(self, until: int, *, included: bool) -> tuple[Capture, NDArray[np.int64]]:
        """The frames at hand up to a time, and their order."""
        assert self._chunk is not None
        stop = max(self._at, int(np.searchsorted(self._keys, until, "right" if included else "left")))
        part, keys = only(self._chunk, np.s_[self._at : stop]), self._keys[self._at : stop]
        self._at = stop
        return part, keys

    def placed(self, part: Capture) -> NDArray[np.uint8]:
        """The channel of each frame, as an index of the common table."""
        return self._table.indices(part.channels)[part.channel]

    def close(self) -> None:
        """Closes the file."""
        self._stream.close()


def joined(feeds: Sequence[Feed], table: ChannelTable) -> Iterator[Capture]:
    """All frames by time; at equal times those of the earlier source first.

    Each turn uses up the chunk that ends first, and of the others what comes before its end.
    """
    while live := [feed for feed in feeds if feed.fill()]:
        until = min(feed.last_key for feed in live)
        ends = next(number for number, feed in enumerate(live) if feed.last_key == until)
        parts, keys, channels = [], [], []
        for number, feed in enumerate(live):
            # Behind the one that ends here, equal times wait: it may go on with the same time.
            part, order = feed.take(until, included=number <= ends)
            if len(part):
                parts.append(part)
                keys.append(order)
                channels.append(feed.placed(part))
        yield _merged(parts, np.concatenate(keys), np.concatenate(channels), table.names)


def _merged(
    parts: Sequence[Capture], keys: NDArray[np.int64], channel: NDArray[np.uint8], names: tuple[str, ...]
) -> Capture:
    payloads, starts, size = [], [], 0
    for part in parts:
        carries = (part.flags & REMOTE) == 0
        begins = part.start[carries]
        low = int(begins.min(initial=len(part.data)))
        high = int((begins + part.length[carries]).max(initial=low))
        payloads.append(part.data[low:high])
        starts.append(np.maximum(part.start - low, 0) + size)
        size += high - low
    order = np.argsort(keys, kind="stable") if len(parts) > 1 else np.s_[:]
    first = parts[0]
    return Capture(
        first.file,
        names,
        np.concatenate([part.time_ns for part in parts])[order],
        np.concatenate([part.can_id for part in parts])[order],
        np.concatenate([part.flags for part in parts])[order],
        channel[order],
        np.concatenate([part.length for part in parts])[order],
        np.concatenate(starts)[order],
        np.concatenate(payloads),
    )
