"""The tables of a store and their columns: what is written, and what a question may name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, Literal

from netcheck.records import dataclass
from netcheck.tables import library

Kind = Literal["text", "texts", "int", "ints", "number", "numbers", "flag", "time", "small", "bytes"]


@dataclass(frozen=True)
class ArchiveColumn:
    """A column: its name, what its values are, and what it says."""

    name: str
    kind: Kind
    text: str


@dataclass(frozen=True)
class ArchiveTable:
    """A table: one row for each of what ``text`` says. order: columns that a compacted file is sorted by."""

    name: str
    text: str
    columns: tuple[ArchiveColumn, ...]
    order: tuple[str, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of its columns, in order."""
        return tuple(column.name for column in self.columns)

    def arrow(self) -> Any:
        """Its ``pyarrow.Schema``. Raises UsageError where pyarrow is not installed."""
        pa = arrow()
        types = {
            "text": pa.string(),
            "texts": pa.list_(pa.string()),
            "int": pa.int64(),
            "ints": pa.list_(pa.int64()),
            "number": pa.float64(),
            "numbers": pa.list_(pa.float64()),
            "flag": pa.bool_(),
            "time": pa.timestamp("us"),
            "small": pa.int16(),
            "bytes": pa.binary(),
        }
        return pa.schema([(column.name, types[column.kind]) for column in self.columns])


def arrow() -> Any:
    """pyarrow. Raises UsageError where it is not installed."""
    return library("pyarrow", "the archive", "archive")


def _columns(texts: Mapping[str, tuple[Kind, str]]) -> tuple[ArchiveColumn, ...]:
    return tuple(ArchiveColumn(name, kind, text) for name, (kind, text) in texts.items())


_WHOSE: Final[dict[str, tuple[Kind, str]]] = {
    "capture": ("text", "the capture: first 32 hex digits of the SHA-256 of its file"),
    "vehicle": ("text", "name of the vehicle model, null where none was given"),
    "year": ("int", "model year, null where none was given"),
    "van": ("text", "which van: a keyed hash of its VIN, or the VIN itself (--keep-vin); null if unknown"),
}

CAPTURES: Final = ArchiveTable(
    "captures",
    "each capture",
    _columns(
        {
            **_WHOSE,
            "file": ("text", "file name as it was given"),
            "size": ("int", "bytes of the file"),
            "frames_hash": ("text", "digest of the frames: the same for a log and its compressed copy"),
            "fitting": ("text", "before or after the fitting, null where nobody said"),
            "start": ("time", "time of the first frame, UTC; null where the capture has no times"),
            "seconds": ("number", "from the earliest frame to the latest"),
            "frames": ("int", "frames of all channels"),
            "error_frames": ("int", "error frames among them"),
            "skipped": ("int", "lines that were not frames"),
            "has_times": ("flag", "whether the frames have time stamps"),
            "marks": ("int", "marks that came with it"),
            "warnings": ("texts", "what a person should know of it"),
            "has_frames": ("flag", "whether the store holds its frames"),
            "frames_hide_vin": ("flag", "whether VINs in these frames are hidden; null without frames"),
            "vehicle_digest": ("text", "digest of the vehicle file that the roles were read with"),
            "dbc_digest": ("text", "digest of its DBC files"),
            "marks_digest": ("text", "digest of the marks"),
            "added": ("time", "when it was added, UTC"),
        }
    ),
    ("vehicle", "year", "capture"),
)
CHANNELS: Final = ArchiveTable(
    "channels",
    "each channel of a capture",
    _columns(
        {
            **_WHOSE,
            "channel": ("text", "name of the channel in the capture"),
            "network": ("text", "network of the vehicle that it is, or may be; null for none"),
            "identity": ("text", "identified, doubtful or none"),
            "ids": ("int", "distinct ids on the channel"),
            "explained": ("int", "ids that the network's DBC explains"),
            "messages": ("int", "messages of that DBC"),
            "frames": ("int", "frames"),
            "error_frames": ("int", "error frames among them"),
            "seconds": ("number", "from the earliest frame to the latest"),
            "awake_s": ("number", "how long it was awake"),
            "bitrate": ("int", "bit/s, as far as known"),
            "load_mean": ("number", "mean load, a share of the bit rate"),
            "load_peak_1s": ("number", "load of the busiest second"),
            "remarks": ("texts", "kinds of what a survey points out"),
        }
    ),
    ("vehicle", "year", "capture"),
)
MESSAGES: Final = ArchiveTable(
    "messages",
    "each id on a channel, as a survey has it",
    _columns(
        {
            **_WHOSE,
            "channel": ("text", "name of the channel in the capture"),
            "network": ("text", "network that the channel is, null unless identified"),
            "id": ("int", "id without flag bits"),
            "extended": ("flag", "whether it has 29 bits"),
            "diagnostic": ("flag", "whether it is an id of diagnostics, which comes when somebody asks"),
            "name": ("text", "name by the DBC, null without"),
            "senders": ("texts", "nodes that send it by the DBC"),
            "count": ("int", "frames"),
            "length": ("int", "most common payload length, bytes"),
            "lengths": ("ints", "all payload lengths"),
            "declared_length": ("int", "length by the DBC"),
            "period_ms": ("number", "median gap while awake, null with fewer than two frames"),
            "declared_period_ms": ("number", "cycle time by the DBC"),
            "jitter_low_ms": ("number", "1st percentile of the gaps"),
            "jitter_high_ms": ("number", "99th percentile of the gaps"),
            "longest_gap_ms": ("number", "longest time without it while awake"),
            "cyclic": ("flag", "whether it comes by the clock; null with too few frames"),
            "at_changes": ("flag", "whether it is sent at changes, too"),
            "bytes": ("texts", "what each byte does: constant, counting or changing"),
            "counter_bit": ("int", "least significant bit of the rolling counter"),
            "counter_width": ("int", "its width in bits"),
            "counter_share": ("number", "share of its steps that are +1"),
            "checksum": ("text", "kind of checksum"),
            "checksum_byte": ("int", "its byte"),
            "checksum_share": ("number", "share of frames that pass"),
        }
    ),
    ("vehicle", "year", "id", "capture"),
)
ROLES: Final = ArchiveTable(
    "roles",
    "each entry of a role in the vehicle file, on each channel that is its network",
    _columns(
        {
            **_WHOSE,
            "role": ("text", "the role"),
            "network": ("text", "network of the entry"),
            "channel": ("text", "channel of the capture that is this network"),
            "identity": ("text", "identified or doubtful"),
            "message": ("text", "message of the entry"),
            "signal": ("text", "signal of the entry"),
            "in_years": ("flag", "whether the vehicle file has the entry for this model year; null without"),
            "evidence": ("text", "defined, present, moves or answers, as a plan has it without limits"),
            "frames": ("int", "frames of the message"),
            "carried": ("int", "frames that carry the signal"),
            "too_short": ("int", "frames too short to hold it"),
            "unavailable": ("int", "frames with a value that means no value"),
            "out_of_range": ("int", "frames outside the DBC's limits"),
            "valid": ("int", "the rest of those that carry it"),
            "active": ("int", "valid frames in an active state"),
            "inactive": ("int", "valid frames in none"),
            "states": ("texts", "labels that were seen; a raw value where it has no label"),
            "state_frames": ("ints", "frames of each"),
            "low": ("number", "lowest valid value, physical"),
            "high": ("number", "highest valid value"),
            "limit_low": ("number", "lower limit by the DBC"),
            "limit_high": ("number", "upper limit by the DBC"),
            "unit": ("text", "unit by the DBC"),
            "period_ms": ("number", "median gap of the frames that carry it, while awake"),
            "gap_p99_ms": ("number", "99th percentile of these gaps, edges of awake periods counted"),
            "at_changes": ("flag", "whether a change is sent at once"),
            "counter_steps": ("int", "steps of the rolling counter"),
            "counter_jumps": ("int", "steps that are neither +1 nor a copy's"),
            "marks": ("int", "marks of the role in this capture"),
            "marks_answered": ("int", "marks that it answered"),
            "unasked": ("int", "valid frames in an active state outside all marks that call for one"),
            "delays_ms": ("numbers", "how long after each mark began it became active"),
        }
    ),
    ("vehicle", "role", "year", "capture"),
)
FRAMES: Final = ArchiveTable(
    "frames",
    "each frame, of captures added with --frames",
    _columns(
        {
            "capture": ("text", "the capture"),
            "channel": ("text", "name of the channel"),
            "id": ("int", "id without flag bits"),
            "flags": ("small", "sum of 1 extended, 2 FD, 4 remote, 8 error, 16 BRS, 32 ESI"),
            "length": ("small", "payload bytes; of a remote frame the requested length"),
            "time_us": ("int", "microseconds since the epoch"),
            "time_rest_ns": ("small", "nanoseconds beyond these"),
            "data": ("bytes", "payload"),
            "frame": ("int", "number of the frame in the capture; null where its time tells its place"),
        }
    ),
    ("capture", "channel", "id", "time_us", "time_rest_ns"),
)
TABLES: Final[Mapping[str, ArchiveTable]] = {
    table.name: table for table in (CAPTURES, CHANNELS, MESSAGES, ROLES, FRAMES)
}
