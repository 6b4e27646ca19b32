"""What of a store is passed on, and what is taken out of it."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Any

from netcheck.archive._passes import DIGITS
from netcheck.archive._read import hashed_vin
from netcheck.archive._schema import CAPTURES, FRAMES, TABLES, arrow
from netcheck.archive._store import MANIFEST, Store, StoreChange, open_store
from netcheck.archive._store_files import read_part
from netcheck.errors import InputError
from netcheck.records import dataclass


@dataclass(frozen=True)
class Forgotten:
    """Captures of a van that are gone, by file name; strangers: those of unknown vans, which stay"""

    captures: tuple[str, ...]
    strangers: int


@dataclass(frozen=True)
class Exported:
    """What was passed on. without_frames: captures whose frames stay behind, since VINs stand in them"""

    folder: str
    captures: int
    frames: int
    without_frames: int
    is_anonymous: bool


def forget(store: Store, vin: str) -> Forgotten:
    """Takes every row of a van out of the store, and deletes the files that held them.

    vin: its number, whether the store hashes numbers or keeps them
    """
    names = {vin.strip().upper(), hashed_vin(store.key, vin)}
    with store.writing() as commit:
        rows = store.read(CAPTURES.name, ["capture", "van", "file"]).to_pylist()
        gone = {row["capture"] for row in rows if row["van"] in names}
        if gone:
            commit(StoreChange(drops=dict.fromkeys(TABLES, gone), at_once=True))
    files = tuple(sorted(row["file"] for row in rows if row["capture"] in gone))
    return Forgotten(files, sum(row["van"] is None for row in rows))


def export(store: Store, folder: Path, *, anonymise: bool = False) -> Exported:
    """A copy of the store in a new folder.

    With ``anonymise`` nothing in it tells which van, file or day a row is of: vans and captures have other
    names, which nobody can lead back, times count from the first frame, and frames in which VINs stand stay
    behind. What a DBC calls its messages is in it.

    Raises InputError for a folder that is not empty.
    """
    manifest = store.manifest()
    if (folder / MANIFEST).exists():
        raise InputError(folder, "is an archive already", remedy="name a new folder")
    target = open_store(folder, create=True)
    target.keep_vin(keeps=manifest.keeps_vin and not anonymise)
    if not anonymise:
        (folder / "key").write_bytes(store.key)
    hiding = _Hiding(store) if anonymise else None
    counts = dict.fromkeys(TABLES, 0)
    for name in TABLES:
        change = StoreChange()
        for path in store.paths(name, manifest):
            rows = read_part(path)
            rows = hiding.rows(name, rows) if hiding else rows
            counts[name] += rows.num_rows
            if rows.num_rows:
                change.files.append(target.write_part(name, rows))
        target.commit(change)
    left = len(hiding.bare) if hiding else 0
    return Exported(str(folder), counts[CAPTURES.name], counts[FRAMES.name], left, anonymise)


class _Hiding:
    """Rows without what tells whose they are; the secret ends with this object."""

    def __init__(self, store: Store) -> None:
        self._secret = secrets.token_bytes(32)
        rows = store.read(CAPTURES.name, ["capture", "has_frames", "frames_hide_vin"]).to_pylist()
        self.bare = {row["capture"] for row in rows if row["has_frames"] and not row["frames_hide_vin"]}
        self._numbers = {row["capture"]: number for number, row in enumerate(rows, 1)}

    def rows(self, table: str, rows: Any) -> Any:
        """A table of the store as it may be passed on."""
        if table == FRAMES.name:
            rows = self._frames(rows)
        if table == CAPTURES.name:
            captures = rows.column("capture").to_pylist()
            rows = self._set(rows, "file", lambda _: None)
            rows = self._put(rows, "file", [f"capture {self._numbers[name]}" for name in captures])
            rows = self._put(rows, "has_frames", [
                has and name not in self.bare
                for has, name in zip(rows.column("has_frames").to_pylist(), captures, strict=True)
            ])  # fmt: skip
            rows = self._put(rows, "warnings", [[]] * len(captures))
            for name in ("start", "added", "size", "frames_hide_vin"):
                rows = self._set(rows, name, lambda _: None)
            for name in ("frames_hash", "marks_digest"):
                rows = self._set(rows, name, self._other)
        rows = self._set(rows, "capture", self._other)
        return self._set(rows, "van", self._other) if "van" in rows.column_names else rows

    def _other(self, name: str | None) -> str | None:
        if not name:
            return name
        return hmac.new(self._secret, name.encode(), hashlib.sha256).hexdigest()[:DIGITS]

    def _set(self, rows: Any, name: str, change: Callable[[Any], Any]) -> Any:
        known = {value: change(value) for value in rows.column(name).unique().to_pylist()}
        return self._put(rows, name, [known[value] for value in rows.column(name).to_pylist()])

    def _put(self, rows: Any, name: str, values: list[Any]) -> Any:
        index = rows.schema.get_field_index(name)
        field = rows.schema.field(index)
        return rows.set_column(index, field, arrow().array(values, field.type))

    def _frames(self, rows: Any) -> Any:
        import pyarrow.compute as pc

        pa = arrow()
        keep = pc.invert(pc.is_in(rows.column("capture"), value_set=pa.array(sorted(self.bare), pa.string())))
        rows = rows.filter(keep)
        if not rows.num_rows:
            return rows
        firsts = rows.group_by("capture").aggregate([("time_us", "min")])
        at = dict(zip(firsts["capture"].to_pylist(), firsts["time_us_min"].to_pylist(), strict=True))
        first = pa.array([at[name] for name in rows.column("capture").to_pylist()], pa.int64())
        index = rows.schema.get_field_index("time_us")
        since = pc.subtract(rows.column("time_us"), first)
        return rows.set_column(index, rows.schema.field(index), since)
