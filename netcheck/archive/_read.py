"""One capture to rows: what a survey and a plan know of it, without a word about other captures.

A capture is gone through a few times, so a file that changes meanwhile is refused: its rows would not be of
one recording.
"""

from __future__ import annotations

import hashlib
import hmac
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import field
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from netcheck.archive._frames import write_frames
from netcheck.archive._passes import DIGITS, GoneThrough, digest_of, go_through
from netcheck.archive._roles import role_rows
from netcheck.archive._schema import CAPTURES, CHANNELS, MESSAGES, ROLES, TABLES, arrow
from netcheck.archive._store import StorePart
from netcheck.capture import CaptureStream, open_capture
from netcheck.database import Database
from netcheck.errors import InputError, NetcheckError
from netcheck.evidence import CaptureSeen, ChannelSeen
from netcheck.files import LoadedCapture, LoadedMark, LoadedVehicle, RoleSource, load_vehicle
from netcheck.network import (
    ChannelSurvey,
    IdentityLevel,
    LoadRates,
    SurveyedMessage,
    SurveyPlan,
    identify,
    is_diagnostic,
)
from netcheck.records import dataclass
from netcheck.roles import Watch, diagnostic_addresses, holds_in, load_networks, roles_of
from netcheck.verdict import windows_of
from netcheck.words import unique

_REMOTE: Final = "://"


@dataclass(frozen=True)
class WantedCapture:
    """A capture to add, with what is known of it.

    path:     the file, or an address that fsspec knows
    name:     as the user named it
    vehicle:  the vehicle file, None where nobody gave one
    year, vin, fitting: None where nobody said
    channels: networks of channels, as a job says them
    marks:    with the places where they were written
    """

    path: str
    name: str
    vehicle: Path | None = None
    year: int | None = None
    vin: str | None = None
    fitting: str | None = None
    channels: Mapping[str, str] = field(default_factory=dict)
    marks: tuple[LoadedMark, ...] = ()


@dataclass(frozen=True)
class ReadOrder:
    """What to read of a capture.

    digest:     of the file, as it was when the order was made
    there:      its row in the store, where only the roles are to be read again
    van:        what stands for its VIN in the store already; None where nothing does
    digests:    of the vehicle file and its DBC files, where there is one
    frames:     keep the frames, too
    keeps_vin:  vehicle numbers stand in the clear
    key:        of the store
    folder:     of the store's data, for frames
    """

    wanted: WantedCapture
    digest: str
    there: Mapping[str, Any] | None
    van: str | None
    digests: tuple[str, str] | None
    frames: bool
    keeps_vin: bool
    key: bytes
    folder: Path
    cache: bool = True


@dataclass(frozen=True)
class CaptureRead:
    """What came of it: tables, and the frames as a file that does not count yet; or why there is nothing."""

    order: ReadOrder
    tables: Mapping[str, Any] = field(default_factory=dict)
    frames: StorePart | None = None
    frame_count: int = 0
    frames_hash: str = ""
    problem: str = ""


@dataclass(frozen=True)
class VehicleRead:
    """A vehicle file with its DBC files, ready to read captures with. entries: per watch, what it is of"""

    loaded: LoadedVehicle
    databases: Mapping[str, Database]
    watches: tuple[Watch, ...]
    entries: tuple[RoleSource, ...]
    digest: str
    dbc_digest: str

    def plan(self, year: int | None) -> SurveyPlan:
        """What a survey has to know."""
        model = self.loaded.model
        rates = {name: LoadRates(entry.bitrate, entry.fd_bitrate) for name, entry in model.network.items()}
        return SurveyPlan(self.databases, rates, addresses=diagnostic_addresses(model, year))


def vehicle_digests(path: Path) -> tuple[str, str]:
    """Digests of a vehicle file, and of its DBC files."""
    loaded = load_vehicle(path)
    networks = loaded.model.network
    dbc = [dbc.read_bytes() for name in networks for dbc in loaded.dbc_paths(name)]
    return digest_of(path.read_bytes()), digest_of(*dbc)


def marks_digest(marks: tuple[LoadedMark, ...]) -> str:
    """A digest of marks; "" without any."""
    return digest_of(*(repr(entry.mark).encode() for entry in marks)) if marks else ""


@lru_cache(maxsize=8)
def _vehicle(path: Path, digest: str, dbc_digest: str, cache: bool) -> VehicleRead:
    """A process reads it once for all captures. Raises InputError where the file is another one by now."""
    if vehicle_digests(path) != (digest, dbc_digest):
        raise InputError(path, "changed while captures were read", remedy="add them again")
    loaded = load_vehicle(path)
    databases = load_networks(loaded, cache=cache)
    every = [one for several in roles_of(loaded, None, databases).values() for one in several]
    watched = [(one.watch, one.entry) for one in every if one.watch is not None]
    watches, entries = tuple(watch for watch, _ in watched), tuple(entry for _, entry in watched)
    return VehicleRead(loaded, databases, watches, entries, digest, dbc_digest)


def read_vehicle(path: Path, digests: tuple[str, str] | None = None, *, cache: bool = True) -> VehicleRead:
    """A vehicle file with its DBC files, kept while neither changes; digests: theirs, where known."""
    return _vehicle(path, *(digests or vehicle_digests(path)), cache)


def file_digest(path: Path) -> str:
    """The name of a capture: the beginning of the SHA-256 of its file. Raises InputError."""
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()[:DIGITS]
    except OSError as error:
        raise InputError(
            path, f"cannot be read: {error.strerror or error}", remedy="check the name and the permissions"
        ) from error


@contextmanager
def local_copy(path: str) -> Iterator[Path]:
    """The file itself, or a copy of one that lies elsewhere (fsspec). Raises InputError."""
    if _REMOTE not in path:
        yield Path(path)
        return
    from netcheck.tables import library

    fsspec = library("fsspec", f"reading {path}", "archive")
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / path.rpartition("/")[2]
        try:
            with fsspec.open(path, "rb") as source, copy.open("wb") as target:
                while piece := source.read(1 << 20):
                    target.write(piece)
        except Exception as error:  # each kind of storage has errors of its own
            raise InputError(path, f"cannot be read: {error}", remedy="check the address") from error
        yield copy


def read_capture_rows(order: ReadOrder) -> CaptureRead:
    """The rows of one capture; what is wrong with it is a result, too."""
    try:
        with local_copy(order.wanted.path) as path:
            before = _state_of(path)
            if file_digest(path) != order.digest:
                raise _changed(order)
            found = _CaptureReading(order, path).result()
            if _state_of(path) != before:
                if found.frames is not None:
                    (order.folder / found.frames.file).unlink(missing_ok=True)
                raise _changed(order)
            return found
    except NetcheckError as error:
        return CaptureRead(order, problem=str(error))
    except OSError as error:
        return CaptureRead(order, problem=f"{order.wanted.name}: {error.strerror or error}")


def _state_of(path: Path) -> tuple[int, int, int]:
    status = path.stat()
    return status.st_size, status.st_mtime_ns, status.st_ino


def _changed(order: ReadOrder) -> InputError:
    return InputError(
        order.wanted.name, "changed while it was read", remedy="add it once the recording is finished"
    )


class _CaptureReading:
    """One capture while it is read."""

    def __init__(self, order: ReadOrder, path: Path) -> None:
        self._order = order
        self._path = path
        self._wanted = order.wanted
        self._vehicle = (
            read_vehicle(order.wanted.vehicle, order.digests, cache=order.cache)
            if order.wanted.vehicle
            else None
        )

    def result(self) -> CaptureRead:
        order, vehicle = self._order, self._vehicle
        watched = vehicle.watches if vehicle else ()
        marked = LoadedCapture(self._path, self._wanted.name, "before", {}, self._wanted.marks)
        windows = [windows_of(marked, watch) for watch in watched]
        plan = vehicle.plan(self._wanted.year) if vehicle else SurveyPlan()
        gone = go_through(self._open(), plan, watched, windows, self._wanted.name)
        seen, surveyed = gone.seen, gone.survey
        places = {channel.name: self._place(channel) for channel in seen.channels}
        van, hidden = self._van(seen)
        whose = {
            "capture": order.digest,
            "vehicle": vehicle.loaded.model.name if vehicle else None,
            "year": self._wanted.year,
            "van": van,
        }
        rows: dict[str, list[dict[str, Any]]] = {}
        if vehicle:
            rows[ROLES.name] = self._roles(vehicle, seen, places, whose)
        if order.there is not None:
            again = {name: order.there[name] for name in CAPTURES.names} | self._digests()
            return CaptureRead(order, _tables({**rows, CAPTURES.name: [again]}))
        rows[CHANNELS.name] = [
            {**whose, **_channel_row(channel, places[channel.channel])} for channel in surveyed.channels
        ]
        rows[MESSAGES.name] = [
            {
                **whose,
                **_message_row(channel, message),
                "diagnostic": is_diagnostic(message.frame_id, plan.addresses),
            }
            for channel in surveyed.channels
            for message in channel.messages
        ]
        row = self._capture_row(gone, hidden)
        rows[CAPTURES.name] = [{**whose, **row}]
        frames = write_frames(order, self._path) if order.frames else None
        return CaptureRead(order, _tables(rows), frames, surveyed.frames, gone.digest)

    def _open(self) -> CaptureStream:
        return open_capture(self._path, threads=1)

    def _place(self, channel: ChannelSeen) -> tuple[str | None, IdentityLevel]:
        """The network that a channel is, as a job says or as its traffic tells."""
        if self._vehicle is None:
            return None, IdentityLevel.NONE
        addresses = diagnostic_addresses(self._vehicle.loaded.model, self._wanted.year)
        identity = identify(channel.traffic, self._vehicle.databases, addresses=addresses)
        declared = self._wanted.channels.get(channel.name)
        level = identity.level if declared is None else identity.declared(declared)
        network = identity.network if declared is None else declared
        return (network, level) if level is not IdentityLevel.NONE else (None, IdentityLevel.NONE)

    def _van(self, seen: CaptureSeen) -> tuple[str | None, tuple[str, ...]]:
        """Which van it is, and every number that must not be told."""
        told = unique(vin for several in seen.vins for vin in several)
        known = self._wanted.vin or (told[0] if len(told) == 1 else None)
        hidden = unique([*told, *([self._wanted.vin] if self._wanted.vin else [])])
        if known is None:
            return self._order.van, hidden
        if self._order.keeps_vin:
            return known, ()
        return hashed_vin(self._order.key, known), hidden

    def _roles(
        self,
        vehicle: VehicleRead,
        seen: CaptureSeen,
        places: Mapping[str, tuple[str | None, IdentityLevel]],
        whose: Mapping[str, Any],
    ) -> list[dict[str, Any]]:
        marks = self._wanted.marks if seen.has_times else ()
        year = self._wanted.year
        holds = [None if year is None else holds_in(entry, year) for entry in vehicle.entries]
        found = role_rows(vehicle.watches, holds, seen, places, marks)
        return [{**whose, **row} for row in found]

    def _capture_row(self, gone: GoneThrough, hidden: tuple[str, ...]) -> dict[str, Any]:
        order, surveyed, seen = self._order, gone.survey, gone.seen
        hides = None if not order.frames else not order.keeps_vin
        return {
            "file": without_numbers(self._wanted.name, hidden),
            "size": self._path.stat().st_size,
            "frames_hash": gone.digest,
            "fitting": self._wanted.fitting,
            "start": _time(seen.start_ns) if seen.has_times else None,
            "seconds": surveyed.seconds if seen.has_times else None,
            "frames": surveyed.frames,
            "error_frames": sum(channel.error_frames for channel in surveyed.channels),
            "skipped": surveyed.skipped,
            "has_times": seen.has_times,
            "warnings": [without_numbers(text, hidden) for text in surveyed.warnings],
            "has_frames": order.frames,
            "frames_hide_vin": hides,
            "added": datetime.now(UTC).replace(tzinfo=None),
            **self._digests(),
        }

    def _digests(self) -> dict[str, Any]:
        """What the roles are read with."""
        vehicle, marks = self._vehicle, self._wanted.marks
        return {
            "vehicle_digest": vehicle.digest if vehicle else None,
            "dbc_digest": vehicle.dbc_digest if vehicle else None,
            "marks": len(marks),
            "marks_digest": marks_digest(marks),
        }


def hashed_vin(key: bytes, vin: str) -> str:
    """What stands for a VIN in a store: nobody without the key can tell whether it is a given one."""
    return hmac.new(key, vin.strip().upper().encode(), hashlib.sha256).hexdigest()[:DIGITS]


def without_numbers(text: str, numbers: tuple[str, ...]) -> str:
    """The text with X's in the place of each number, in capital letters or small."""
    for number in numbers:
        at = text.upper().find(number.upper())
        while at >= 0:
            text = text[:at] + "X" * len(number) + text[at + len(number) :]
            at = text.upper().find(number.upper())
    return text


def _time(time_ns: int) -> datetime:
    return datetime(1970, 1, 1) + timedelta(microseconds=time_ns // 1000)


def _tables(rows: Mapping[str, list[dict[str, Any]]]) -> dict[str, Any]:
    pa = arrow()
    return {name: pa.Table.from_pylist(own, TABLES[name].arrow()) for name, own in rows.items()}


def _channel_row(channel: ChannelSurvey, place: tuple[str | None, IdentityLevel]) -> dict[str, Any]:
    network, level = place
    own = next((entry for entry in channel.candidates if entry.network == network), None)
    load = channel.load
    return {
        "channel": channel.channel,
        "network": network,
        "identity": level.value,
        "ids": own.ids if own else len(channel.messages),
        "explained": own.explained if own else None,
        "messages": own.messages if own else None,
        "frames": channel.frames,
        "error_frames": channel.error_frames,
        "seconds": channel.seconds if channel.has_times else None,
        "awake_s": channel.awake_seconds if channel.has_times else None,
        "bitrate": channel.rates.nominal if channel.rates else None,
        "load_mean": load.mean if load else None,
        "load_peak_1s": load.peak_1s if load else None,
        "remarks": [str(remark.kind) for remark in channel.remarks],
    }


def _message_row(channel: ChannelSurvey, message: SurveyedMessage) -> dict[str, Any]:
    timing, counter, checksum = message.timing, message.counter, message.checksum
    is_known = channel.identity is IdentityLevel.IDENTIFIED
    return {
        "channel": channel.channel,
        "network": channel.network if is_known else None,
        "id": message.frame_id.can_id,
        "extended": message.frame_id.is_extended,
        "name": message.name or None,
        "senders": list(message.senders),
        "count": message.count,
        "length": max(message.lengths, key=lambda length: message.lengths[length]),
        "lengths": sorted(message.lengths),
        "declared_length": message.declared_length,
        "period_ms": timing.period,
        "declared_period_ms": message.declared_cycle_ms,
        "jitter_low_ms": timing.jitter[0] if timing.jitter else None,
        "jitter_high_ms": timing.jitter[1] if timing.jitter else None,
        "longest_gap_ms": timing.longest if channel.has_times else None,
        "cyclic": timing.cyclic,
        "at_changes": timing.at_changes,
        "bytes": [str(kind) for kind in message.kinds],
        "counter_bit": counter.bit if counter else None,
        "counter_width": counter.width if counter else None,
        "counter_share": counter.share if counter else None,
        "checksum": checksum.kind.value if checksum else None,
        "checksum_byte": checksum.byte if checksum else None,
        "checksum_share": checksum.share if checksum else None,
    }
