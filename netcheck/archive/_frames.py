"""Frames of a capture as a part of the store.

They are sorted by channel, id and time: payloads of one id are alike, and its times are a period apart, so
that little is left to write. The order in the file comes back by sorting by time and number: frames with the
same time keep their numbers, and all do where a clock went back.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from netcheck.archive._schema import FRAMES, arrow
from netcheck.archive._store import StorePart, write_parquet_part
from netcheck.capture import REMOTE, Capture, open_capture

if TYPE_CHECKING:
    from netcheck.archive._read import ReadOrder


def write_frames(order: ReadOrder, path: Path) -> StorePart:
    """All frames of a capture as a file that does not count yet; VINs hidden as ``trim`` hides them."""
    name = f"{FRAMES.name}-{secrets.token_hex(12)}.parquet"
    rows = frame_table(order.digest, path, _hiding(order, path))
    size = write_parquet_part(order.folder / name, FRAMES.name, rows)
    return StorePart(FRAMES.name, name, rows.num_rows, size, 1)


def _hiding(order: ReadOrder, path: Path) -> Callable[[Capture], Capture]:
    if order.keeps_vin:
        return lambda chunk: chunk
    from netcheck.edit import find_vins

    given = [order.wanted.vin] if order.wanted.vin else []
    finds = find_vins([path], given)
    mask = finds.masks(0)
    return lambda chunk: finds.settled(mask(chunk))


def frame_table(capture: str, path: Path, hide: Callable[[Capture], Capture]) -> Any:
    """The frames as an Arrow table of the store's schema."""
    pa = arrow()
    chunks = [_chunk_table(hide(chunk)) for chunk in open_capture(path, threads=1)]
    rows = pa.concat_tables(chunks)
    names = rows.column("channel").to_numpy()
    time = rows.column("time_us").to_numpy() * 1000 + rows.column("time_rest_ns").to_numpy()
    ids = rows.column("id").to_numpy()
    order = np.lexsort((time, ids, names))
    steps = np.diff(time)
    same = np.append(steps == 0, False) | np.insert(steps == 0, 0, False)
    is_told = ~same if bool((steps >= 0).all()) else np.zeros(len(time), np.bool_)
    channels = chunks[-1].schema.metadata[b"channels"].decode().split("\0")  # the last one knows them all
    sorted_rows = rows.take(pa.array(order))
    columns = {
        "capture": pa.repeat(pa.scalar(capture), len(order)),
        "channel": pa.array(channels).take(sorted_rows.column("channel")),
        "frame": pa.array(order, mask=is_told[order]),
    }
    schema = FRAMES.arrow()
    return pa.table(
        [columns[name] if name in columns else sorted_rows.column(name) for name in schema.names],
        schema=schema,
    )


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
