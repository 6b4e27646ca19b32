"""Frames of a capture as a part of the store.

They are sorted by channel, id and time: payloads of one id are alike, and its times are a period apart, so
that little is left to write. Every second id has its times backwards: a leap from the end of the capture to
its beginning would widen a whole block of time differences, which is most of them in a short capture. The
order in the file comes back by sorting by time and number: frames with the same time keep their numbers, and
all do where a clock went back.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from netcheck.archive._schema import FRAMES, arrow
from netcheck.archive._store import StorePart, write_parquet_part
from netcheck.capture import REMOTE, Capture, open_capture

if TYPE_CHECKING:
    from netcheck.archive._read import ReadOrder


BLOCK: Final = 4 << 20  # frames that are sorted at once: some 400 MB


def write_frames(order: ReadOrder, path: Path) -> StorePart:
    """All frames of a capture as a file that does not count yet; VINs hidden as ``trim`` hides them."""
    name = f"{FRAMES.name}-{secrets.token_hex(12)}.parquet"
    rows = 0

    def counted() -> Iterator[Any]:
        nonlocal rows
        for table in frame_tables(order.digest, path, _hiding(order, path)):
            rows += table.num_rows
            yield table

    size = write_parquet_part(order.folder / name, FRAMES.name, counted())
    return StorePart(FRAMES.name, name, rows, size, 1)


def _hiding(order: ReadOrder, path: Path) -> Callable[[Capture], Capture]:
    if order.keeps_vin:
        return lambda chunk: chunk
    from netcheck.edit import find_vins

    given = [order.wanted.vin] if order.wanted.vin else []
    finds = find_vins([path], given)
    mask = finds.masks(0)
    return lambda chunk: finds.settled(mask(chunk))


def frame_tables(
    capture: str, path: Path, hide: Callable[[Capture], Capture], block: int = BLOCK
) -> Iterator[Any]:
    """The frames as Arrow tables of the store's schema, each sorted, so many at once as fit in memory.

    Where there are several, every frame keeps its number.
    """
    gathered: list[Any] = []
    first = count = 0
    for chunk in open_capture(path, threads=1):
        gathered.append(_chunk_table(hide(chunk)))
        count += len(chunk)
        if count >= block:
            yield _sorted(capture, gathered, first, is_numbered=True)
            gathered, first, count = [], first + count, 0
    if gathered:
        yield _sorted(capture, gathered, first, is_numbered=first > 0)


def _sorted(capture: str, chunks: list[Any], first: int, *, is_numbered: bool) -> Any:
    """Chunks as one sorted table. first: number of their first frame"""
    pa = arrow()
    rows = pa.concat_tables(chunks)
    time = rows.column("time_us").to_numpy() * 1000 + rows.column("time_rest_ns").to_numpy()
    order = _there_and_back(time, rows.column("id").to_numpy(), rows.column("channel").to_numpy())
    steps = np.diff(time)
    same = np.append(steps == 0, False) | np.insert(steps == 0, 0, False)
    is_steady = not is_numbered and bool((steps >= 0).all())
    is_told = ~same if is_steady else np.zeros(len(time), np.bool_)
    names = chunks[-1].schema.metadata[b"channels"].decode().split("\0")  # the last one knows them all
    sorted_rows = rows.take(pa.array(order))
    columns = {
        "capture": pa.repeat(pa.scalar(capture), len(order)),
        "channel": pa.array(names).take(sorted_rows.column("channel")),
        "frame": pa.array(order + first, mask=is_told[order]),
    }
    schema = FRAMES.arrow()
    return pa.table(
        [columns[name] if name in columns else sorted_rows.column(name) for name in schema.names],
        schema=schema,
    )


def _there_and_back(
    time: NDArray[np.int64], can_id: NDArray[np.int64], channel: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Rows by channel and id; the first id's in order of time, the next one's against it, and so on."""
    order = np.lexsort((time, can_id, channel))
    is_next = (np.diff(can_id[order]) != 0) | (np.diff(channel[order]) != 0)
    group = np.concatenate(([0], np.cumsum(is_next)))
    ends = np.cumsum(np.bincount(group))
    place = np.arange(len(order))
    back = ends[group] + np.concatenate(([0], ends))[group] - 1 - place
    turned: NDArray[np.int64] = order[np.where(group % 2, back, place)]
    return turned


def _chunk_table(chunk: Capture) -> Any:
    pa = arrow()
    payload, offsets = payloads_of(chunk)
    data = pa.Array.from_buffers(
        pa.binary(), len(chunk), [None, pa.py_buffer(offsets.astype(np.int32)), pa.py_buffer(payload)]
    )
    time_us, rest = np.divmod(chunk.time_ns, 1000)
    table = pa.table(
        {
            "channel": pa.array(chunk.channel.astype(np.int64)),
            "id": pa.array(chunk.can_id.astype(np.int64)),
            "flags": pa.array(chunk.flags.astype(np.int16)),
            "length": pa.array(chunk.length.astype(np.int16)),
            "time_us": pa.array(time_us),
            "time_rest_ns": pa.array(rest.astype(np.int16)),
            "data": data,
        }
    )
    return table.replace_schema_metadata({"channels": "\0".join(chunk.channels)})


def payloads_of(chunk: Capture) -> tuple[bytes, NDArray[np.int64]]:
    """Payloads one behind the other, and int64[n + 1] where each begins and the last one ends."""
    length = np.where((chunk.flags & REMOTE) == 0, chunk.length, 0).astype(np.int64)
    offsets = np.zeros(len(chunk) + 1, np.int64)
    np.cumsum(length, out=offsets[1:])
    places = np.repeat(chunk.start - offsets[:-1], length) + np.arange(offsets[-1])
    return chunk.data[places].tobytes(), offsets
