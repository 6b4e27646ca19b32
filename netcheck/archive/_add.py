"""Captures into a store: each once, whole or not at all, and one that cannot be read stops no other."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import field, replace
from pathlib import Path
from typing import Any, Final

from netcheck.archive._read import (
    CaptureRead,
    ReadOrder,
    WantedCapture,
    file_digest,
    hashed_vin,
    local_copy,
    marks_digest,
    read_capture_rows,
    vehicle_digests,
)
from netcheck.archive._schema import CAPTURES, FRAMES, ROLES, TABLES
from netcheck.archive._store import Store, StoreChange
from netcheck.errors import NetcheckError, UsageError
from netcheck.files import Vehicle, load_vehicle, year_problem
from netcheck.records import dataclass

_BATCH: Final = 256  # captures of one commit
_BATCH_S: Final = 20.0  # and the longest time between two: what a power cut costs

Reader = Callable[[Sequence[ReadOrder]], Iterator[CaptureRead]]
Told = Callable[[int, int], None]  # captures done, in all


@dataclass
class Added:
    """What came of it, by name of the capture as it was given.

    added:   new in the store
    reread:  there already, and read again whole: another vehicle file's DBC, year, van or side of the fitting
    roles:   there already, and only the roles read again: the vehicle file or the marks have changed
    known:   there already, and nothing is new
    copies:  a capture with the same frames is there under another digest; name → file of that one
    refused: name → why it could not be read
    others:  files in folders that are no captures
    """

    added: list[str] = field(default_factory=list)
    reread: list[str] = field(default_factory=list)
    roles: list[str] = field(default_factory=list)
    known: list[str] = field(default_factory=list)
    copies: dict[str, str] = field(default_factory=dict)
    refused: dict[str, str] = field(default_factory=dict)
    others: int = 0
    frames: int = 0
    seconds: float = 0.0


def read_here(orders: Sequence[ReadOrder]) -> Iterator[CaptureRead]:
    """One capture after the other, in this process."""
    return map(read_capture_rows, orders)


class Adder:
    """Adds captures to a store.

    frames: keep the frames, too
    reader: how captures are read: here, or by others
    """

    def __init__(
        self,
        store: Store,
        *,
        frames: bool = False,
        reader: Callable[[Sequence[ReadOrder]], Reader] | None = None,
        cache: bool = True,
        told: Told | None = None,
    ) -> None:
        self._store = store
        self._frames = frames
        self._reader = reader
        self._cache = cache
        self._told = told or (lambda _done, _total: None)
        self._keeps_vin = store.manifest().keeps_vin
        self._digests: dict[Path, tuple[str, str]] = {}
        self._models: dict[Path, Vehicle] = {}

    def add(self, captures: Iterable[WantedCapture]) -> Added:
        """All of them. Raises InputError where the store cannot be written, UsageError for a wrong year."""
        begun, found = time.monotonic(), Added()
        known = self._known()
        orders: dict[str, ReadOrder] = {}
        for wanted in captures:
            self._check(wanted)
            try:
                with local_copy(wanted.path) as path:
                    digest = file_digest(path)
            except NetcheckError as error:
                found.refused[wanted.name] = str(error)
                continue
            if digest in orders:
                found.copies[wanted.name] = orders[digest].wanted.name
                continue
            try:
                order = self._order(wanted, digest, known.get(digest))
            except UsageError as error:
                found.refused[wanted.name] = str(error)
                continue
            if order is None:
                found.known.append(wanted.name)
            else:
                orders[digest] = order
        self._read(list(orders.values()), found)
        found.seconds = time.monotonic() - begun
        return found

    def _known(self) -> dict[str, dict[str, Any]]:
        rows = self._store.read(CAPTURES.name).to_pylist()
        return {row["capture"]: row for row in rows}

    def _check(self, wanted: WantedCapture) -> None:
        if wanted.vehicle is None:
            if wanted.year is not None:
                raise UsageError("a model year without a vehicle file", remedy="give --vehicle, too")
            return
        if wanted.vehicle not in self._digests:
            self._digests[wanted.vehicle] = vehicle_digests(wanted.vehicle)
            self._models[wanted.vehicle] = load_vehicle(wanted.vehicle).model
        if wanted.year is not None:
            problem = year_problem(self._models[wanted.vehicle], wanted.year, ())
            if problem is not None:
                raise UsageError(f"{problem.what} ({wanted.vehicle})", remedy=problem.remedy)

    def _order(self, wanted: WantedCapture, digest: str, there: Mapping[str, Any] | None) -> ReadOrder | None:
        """What to read; None where the store has all of it. Raises UsageError without the vehicle file."""
        order = ReadOrder(
            wanted,
            digest,
            None,
            None,
            self._digests[wanted.vehicle] if wanted.vehicle else None,
            self._frames,
            self._keeps_vin,
            self._store.key,
            self._store.data,
            self._cache,
        )
        if there is None:
            return order
        wanted = replace(
            wanted, year=wanted.year or there["year"], fitting=wanted.fitting or there["fitting"]
        )
        frames = self._frames or there["has_frames"]
        order = replace(order, wanted=wanted, van=there["van"], frames=frames)
        if (frames and not there["has_frames"]) or self._is_other(wanted, there):
            if wanted.vehicle is None and there["vehicle"] is not None:
                raise UsageError(
                    f"{wanted.name} is in the archive as a {there['vehicle']}",
                    remedy="give the vehicle file with --vehicle, to read it again",
                )
            return order
        if wanted.vehicle is None:
            return None
        now = self._digests[wanted.vehicle][0], marks_digest(wanted.marks)
        return (
            None if now == (there["vehicle_digest"], there["marks_digest"]) else replace(order, there=there)
        )

    def _is_other(self, wanted: WantedCapture, there: Mapping[str, Any]) -> bool:
        """Whether something is said of it that the store has otherwise."""
        said: dict[str, Any] = {"year": wanted.year, "fitting": wanted.fitting}
        if wanted.vehicle is not None:
            said["dbc_digest"] = self._digests[wanted.vehicle][1]
        if wanted.vin is not None:
            said["van"] = wanted.vin if self._keeps_vin else hashed_vin(self._store.key, wanted.vin)
        return any(value is not None and there[name] != value for name, value in said.items())

    def _read(self, orders: Sequence[ReadOrder], found: Added) -> None:
        reader = self._reader(orders) if self._reader else read_here
        batch: list[CaptureRead] = []
        since = time.monotonic()
        done = 0
        try:
            for read in reader(orders):
                done += 1
                self._told(done, len(orders))
                if read.problem:
                    found.refused[read.order.wanted.name] = read.problem
                    continue
                batch.append(read)
                if len(batch) >= _BATCH or time.monotonic() - since > _BATCH_S:
                    self._commit(batch, found)
                    batch, since = [], time.monotonic()
        finally:  # also what was read before an interrupt is kept
            if batch:
                self._commit(batch, found)

    def _commit(self, batch: Sequence[CaptureRead], found: Added) -> None:
        """What was read, but for what another writer has added meanwhile."""
        with self._store.writing() as commit:
            rows = self._store.read(CAPTURES.name, ["capture", "frames_hash", "file"]).to_pylist()
            there = {row["capture"] for row in rows}
            same = {row["frames_hash"]: (row["capture"], row["file"]) for row in rows}
            change, notes = StoreChange(), Added()
            for read in batch:
                _take(read, change, notes, there, same)
            commit(change)
        for read in batch:
            if read.frames is not None and read.frames not in change.files:
                with suppress(OSError):
                    (self._store.data / read.frames.file).unlink()
        for name in ("added", "reread", "roles", "known"):
            getattr(found, name).extend(getattr(notes, name))
        found.copies.update(notes.copies)
        found.frames += notes.frames


def _take(
    read: CaptureRead,
    change: StoreChange,
    notes: Added,
    there: set[str],
    same: dict[str, tuple[str, str]],
) -> None:
    """One capture as part of a change."""
    order, name = read.order, read.order.wanted.name
    other, file = same.get(read.frames_hash, (order.digest, ""))
    if order.there is None and other != order.digest:
        notes.copies[name] = file
        return
    if order.there is not None:
        notes.roles.append(name)
        tables: tuple[str, ...] = (ROLES.name, CAPTURES.name)
    else:
        (notes.reread if order.digest in there else notes.added).append(name)
        tables = tuple(TABLES)
        notes.frames += read.frame_count
    if order.digest in there:
        for table in tables:
            if table != FRAMES.name or read.frames is not None:
                change.drops.setdefault(table, set()).add(order.digest)
    for table, rows in read.tables.items():
        change.tables.setdefault(table, []).append(rows)
    if read.frames is not None:
        change.files.append(read.frames)
    if order.there is None:
        same[read.frames_hash] = (order.digest, name)
    there.add(order.digest)
