"""Decoded signals for scripts: CSV, Parquet and JSON, written part by part as a capture is gone through.

A part is what ``netcheck.database.decode`` gives for one stretch of a capture. Rows are in the order of the
frames, that of the capture, and inside a frame in DBC order.
"""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, BinaryIO, Final

import numpy as np
from numpy.typing import NDArray

from netcheck.database import Series
from netcheck.errors import UsageError
from netcheck.report._decode import DecodeHead
from netcheck.words import escaped

Part = Mapping[tuple[str, str], Series]
Objects = NDArray[np.object_]

CSV_HEADER: Final = "time,channel,message,signal,raw,value,label\n"
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")  # what a spreadsheet takes for a formula begins so
_BLOCK: Final = 1 << 17  # CSV rows put together at once


def csv_chunks(parts: Iterable[Part], *, spreadsheet: bool = False) -> Iterator[str]:
    """CSV in pieces: ``time,channel,message,signal,raw,value,label``, the header first.

    time:  seconds with 6 decimals, 9 where the capture is finer than a microsecond
    raw:   exact; value: physical, the shortest text that reads back as the same float64
    label: empty where the raw value has none

    Characters that a terminal acts upon are escaped as in JSON. spreadsheet: a text that a spreadsheet would
    take for a formula has an apostrophe before it; quotes alone stop none.
    """
    field = _spreadsheet_field if spreadsheet else _csv_field
    header = CSV_HEADER
    for part in parts:
        if header:  # not before the first part is there: an error must leave no half a table
            yield header
            header = ""
        yield from _csv_rows([series for series in part.values() if len(series)], field)


def _csv_rows(present: Sequence[Series], field: Callable[[str], str]) -> Iterator[str]:
    if not present:
        return
    order, frame = _row_order(present)
    tails = np.concatenate([_csv_tails(series, field) for series in present])
    time_ns = np.concatenate([series.time_ns for series in present])
    channel = np.concatenate([series.channel for series in present])
    names = [field(name) for name in present[0].channels]
    for begin in range(0, len(order), _BLOCK):
        rows = order[begin : begin + _BLOCK]
        first = np.flatnonzero(np.diff(frame[rows], prepend=-1))  # where a row begins a frame
        times, channels = time_ns[rows[first]].tolist(), channel[rows[first]].tolist()
        heads = np.array(
            [f"{_seconds(time)},{names[at]}," for time, at in zip(times, channels, strict=True)], object
        )
        pieces = np.empty(2 * len(rows), object)
        pieces[0::2] = np.repeat(heads, np.diff(first, append=len(rows)))
        pieces[1::2] = tails[rows]
        yield "".join(pieces.tolist())


def _row_order(present: Sequence[Series]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The series end to end: the order that makes rows of them, and the frame of each sample."""
    frame = np.concatenate([series.frame for series in present])
    number = np.repeat(np.arange(len(present)), [len(series) for series in present])
    return np.argsort(frame * len(present) + number, kind="stable"), frame


def _csv_tails(series: Series, field: Callable[[str], str]) -> Objects:
    """The part of each row that hangs on the raw value alone, written once for each different one."""
    _, first, inverse = np.unique(series.raw.view(np.uint64), return_index=True, return_inverse=True)
    lead = f"{field(series.message)},{field(series.signal)},"
    tails = [
        f"{lead}{_number(raw)},{_number(value)},{field(series.labels.get(raw, ''))}\n"
        for raw, value in zip(series.raw[first].tolist(), series.value[first].tolist(), strict=True)
    ]
    return np.array(tails, object)[inverse]


def _seconds(time_ns: int) -> str:
    sign, time_ns = ("-", -time_ns) if time_ns < 0 else ("", time_ns)
    whole, rest = divmod(time_ns, 1_000_000_000)
    return f"{sign}{whole}.{rest:09d}" if rest % 1000 else f"{sign}{whole}.{rest // 1000:06d}"


def _number(number: int | float) -> str:
    return repr(number).removesuffix(".0")


def _csv_field(text: str) -> str:
    """As RFC 4180 has it: in quotes where a comma, a quote or a line end is in it."""
    text = escaped(text)
    if any(char in text for char in ',"\r\n'):
        return '"' + text.replace('"', '""') + '"'
    return text


def _spreadsheet_field(text: str) -> str:
    return _csv_field(f"'{text}" if text.startswith(_FORMULA) else text)


def write_parquet(parts: Iterable[Part], file: BinaryIO) -> None:
    """The rows of the CSV as Parquet into an open binary file, one row group a part.

    time: timestamp in nanoseconds, in UTC; channel, message, signal, label: text, label null
    where there is none; raw: int64 – decimal(20, 0) if one of the signals has 64 bits without a sign, and
    null for float signals, which have theirs in a further column raw_float; value: float64.

    Raises UsageError where pyarrow is not installed.
    """
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError as error:
        remedy = 'pip install "netcheck[parquet]"'
        raise UsageError("Parquet needs pyarrow, which is not installed", remedy=remedy) from error
    writer, sink = None, _Sink(file)
    try:
        for part in parts:
            schema = _parquet_schema(pa, part)
            writer = writer or pq.ParquetWriter(sink, schema)
            if present := [series for series in part.values() if len(series)]:
                writer.write_table(_parquet_table(pa, writer.schema, present))
    finally:
        if writer is not None:
            writer.close()


class _Sink(io.RawIOBase):
    """Written from front to back, so that the file may be a pipe; closing it leaves the file open."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._written = 0

    def writable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._written

    def write(self, data: Any, /) -> int:
        piece = bytes(data)
        self._file.write(piece)
        self._written += len(piece)
        return len(piece)


def _parquet_schema(pa: Any, part: Part) -> Any:
    kinds = {series.raw.dtype.kind for series in part.values()}
    name = pa.dictionary(pa.int32(), pa.string())
    columns = {
        "time": pa.timestamp("ns", "UTC"),
        "channel": name,
        "message": name,
        "signal": name,
        "raw": pa.decimal128(20, 0) if "u" in kinds else pa.int64(),
        "value": pa.float64(),
        "label": name,
    }
    if "f" in kinds:
        columns["raw_float"] = pa.float64()
    return pa.schema(list(columns.items()))


def _parquet_table(pa: Any, schema: Any, present: Sequence[Series]) -> Any:
    order, _ = _row_order(present)
    sizes = [len(series) for series in present]

    def names(of_series: Sequence[str]) -> Any:
        vocabulary = {text: number for number, text in enumerate(dict.fromkeys(of_series))}
        codes = np.array([vocabulary[text] for text in of_series], np.int32)
        return pa.DictionaryArray.from_arrays(np.repeat(codes, sizes)[order], list(vocabulary))

    channel = np.concatenate([series.channel for series in present])[order].astype(np.int32)
    columns = {
        "time": pa.array(
            np.concatenate([series.time_ns for series in present])[order], schema.field("time").type
        ),
        "channel": pa.DictionaryArray.from_arrays(channel, list(present[0].channels)),
        "message": names([series.message for series in present]),
        "signal": names([series.signal for series in present]),
        "raw": _parquet_raw(pa, present, schema.field("raw").type, order),
        "value": pa.array(np.concatenate([series.value for series in present])[order]),
        "label": _parquet_labels(pa, present, order),
    }
    if "raw_float" in schema.names:
        floats = [_floats(series) for series in present]
        mask = np.repeat([series.raw.dtype.kind != "f" for series in present], sizes)
        columns["raw_float"] = pa.array(np.concatenate(floats)[order], mask=mask[order])
    return pa.table(columns, schema=schema)


def _floats(series: Series) -> NDArray[Any]:
    return series.raw if series.raw.dtype.kind == "f" else np.zeros(len(series))


def _parquet_raw(pa: Any, present: Sequence[Series], kind: Any, order: NDArray[np.int64]) -> Any:
    pieces = []
    for series in present:
        if series.raw.dtype.kind == "f":
            pieces.append(pa.nulls(len(series), kind))
        else:
            pieces.append(pa.array(series.raw).cast(kind))
    return pa.concat_arrays(pieces).take(pa.array(order))


def _parquet_labels(pa: Any, present: Sequence[Series], order: NDArray[np.int64]) -> Any:
    vocabulary: dict[str, int] = {}
    codes = []
    for series in present:
        if not series.labels:
            codes.append(np.full(len(series), -1, np.int32))
            continue
        different, inverse = np.unique(series.raw, return_inverse=True)
        texts = [series.labels.get(raw) for raw in different.tolist()]
        numbers = [-1 if text is None else vocabulary.setdefault(text, len(vocabulary)) for text in texts]
        codes.append(np.array(numbers, np.int32)[inverse])
    indices = np.concatenate(codes)[order]
    return pa.DictionaryArray.from_arrays(
        pa.array(indices, mask=indices < 0), pa.array(list(vocabulary), pa.string())
    )


def json_chunks(head: DecodeHead, series: Iterable[Series]) -> Iterator[str]:
    """One JSON object in pieces, a signal a line.

    Each signal has its columns ``time_ns`` (ns as in the capture), ``channel`` (name), ``raw`` (exact) and
    ``value`` (null where it is no finite number), and the labels of the DBC by raw value.
    """
    opening = {
        "schema": "netcheck.decode/1",
        "file": head.file,
        "dbc": list(head.dbc),
        "frames": head.frames,
        "channels": list(head.channels),
        "skipped_lines": head.skipped,
        "warnings": list(head.warnings),
    }
    yield json.dumps(opening)[:-1] + ', "signals": ['
    separator = "\n"
    for one in series:
        yield separator + json.dumps(_json_series(one), allow_nan=False)
        separator = ",\n"
    yield "\n]}\n"


def _json_series(series: Series) -> dict[str, Any]:
    return {
        "message": series.message,
        "signal": series.signal,
        "unit": series.unit,
        "frames": series.frames,
        "short": series.short,
        "samples": len(series),
        "labels": {str(raw): label for raw, label in series.labels.items()},
        "time_ns": series.time_ns.tolist(),
        "channel": [series.channels[number] for number in series.channel.tolist()],
        "raw": _finite(series.raw),
        "value": _finite(series.value),
    }


def _finite(numbers: NDArray[Any]) -> list[Any]:
    plain: list[Any] = numbers.tolist()
    if numbers.dtype.kind == "f" and not np.isfinite(numbers).all():
        return [number if np.isfinite(number) else None for number in plain]
    return plain
