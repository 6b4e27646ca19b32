"""The store: a folder of Parquet files, and a manifest that says which of them count.

A file is written under a temporary name, synced and renamed. It counts once the manifest names it, and the
manifest is replaced the same way. So a change is there whole or not at all, whenever a process or the disk
ends. Files never change once they are there. One writer at a time holds the lock; readers need none: what a
manifest no longer names stays for a while, for questions that are being answered.
"""

from __future__ import annotations

import json
import os
import secrets
import sys
import time
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import field, replace
from pathlib import Path
from typing import Any, Final

from netcheck.archive._lock import locked
from netcheck.archive._schema import TABLES, arrow
from netcheck.archive._store_files import (
    PART,
    read_part,
    refused,
    sync_folder,
    write_parquet_part,
    write_whole,
)
from netcheck.errors import InputError, UsageError
from netcheck.records import dataclass

FORMAT: Final = 1  # of stores; what a later version adds and this one cannot read raises it
FOLDER_VARIABLE: Final = "NETCHECK_ARCHIVE_DIR"
MANIFEST: Final = "netcheck-archive.json"
_DATA: Final = "data"
_KEY: Final = "key"
_LOCK: Final = "lock"
_GRACE_S: Final = 600.0  # how long a file that no longer counts is kept for who is reading
_FORGOTTEN_S: Final = 86_400.0  # age of a file that no manifest names, from which on no writer is behind it


@dataclass(frozen=True)
class StorePart:
    """A file of one table. captures: how many it has rows of"""

    table: str
    file: str
    rows: int
    size: int
    captures: int


@dataclass(frozen=True)
class Manifest:
    """What counts. old: files that no longer do, with the time since when they do not."""

    generation: int = 0
    parts: tuple[StorePart, ...] = ()
    old: tuple[tuple[str, float], ...] = ()
    keeps_vin: bool = False

    def of(self, table: str) -> tuple[StorePart, ...]:
        """The files of one table."""
        return tuple(part for part in self.parts if part.table == table)


@dataclass
class StoreChange:
    """What a commit does: tables to add, files already written to take in, captures whose rows go.

    tables:  per table, Arrow tables of its schema
    files:   frames files that stand in the data folder under their final names
    drops:   per table, captures whose rows go
    at_once: files that no longer count are deleted now
    """

    tables: dict[str, list[Any]] = field(default_factory=dict)
    files: list[StorePart] = field(default_factory=list)
    drops: dict[str, set[str]] = field(default_factory=dict)
    at_once: bool = False


def default_folder() -> Path:
    """The user's store: NETCHECK_ARCHIVE_DIR, else the platform's place for data of applications."""
    stated = os.environ.get(FOLDER_VARIABLE)
    if stated:
        return Path(stated)
    try:
        if sys.platform == "win32":
            local = os.environ.get("LOCALAPPDATA")
            return (Path(local) if local else Path.home() / "AppData" / "Local") / "netcheck" / "Archive"
        if sys.platform == "darwin":
            return Path.home() / "Library" / "Application Support" / "netcheck" / "archive"
        base = os.environ.get("XDG_DATA_HOME", "")
        # The base directory specification: a relative path there is to be ignored.
        return (Path(base) if base.startswith("/") else Path.home() / ".local/share") / "netcheck" / "archive"
    except RuntimeError as error:
        raise UsageError("there is no home folder", remedy="name the store with --store") from error


class Store:
    """An open store.

    folder: where it lies
    key:    secret of the store, with which VINs are hashed
    """

    def __init__(self, folder: Path, key: bytes) -> None:
        self.folder = folder
        self.key = key

    @property
    def data(self) -> Path:
        """The folder of the Parquet files."""
        return self.folder / _DATA

    def files(self) -> list[Path]:
        """Every file that the store stands on."""
        parts = [self.data / part.file for part in self.manifest().parts]
        return [*(self.folder / name for name in (MANIFEST, _KEY, _LOCK)), *parts]

    def manifest(self) -> Manifest:
        """What counts now. Raises InputError for a store of a newer version, or one that was changed."""
        return _read_manifest(self.folder)

    def paths(self, table: str, manifest: Manifest | None = None) -> list[Path]:
        """The files of a table, oldest first."""
        return [self.data / part.file for part in (manifest or self.manifest()).of(table)]

    def read(self, table: str, columns: Sequence[str] | None = None, manifest: Manifest | None = None) -> Any:
        """A table as a ``pyarrow.Table``. Raises InputError for a file that is damaged or gone."""
        pa = arrow()
        schema = TABLES[table].arrow()
        wanted = list(columns or schema.names)
        found = [read_part(path, wanted) for path in self.paths(table, manifest)]
        empty = pa.schema([schema.field(name) for name in wanted]).empty_table()
        return pa.concat_tables([empty, *found])

    def new_name(self, table: str) -> str:
        """A name that no other writer uses."""
        return f"{table}-{secrets.token_hex(12)}.parquet"

    def write_part(self, table: str, rows: Any) -> StorePart:
        """Rows as a file that does not count yet. Raises InputError where it cannot be written."""
        name = self.new_name(table)
        size = write_parquet_part(self.data / name, table, [rows])
        captures = len(rows.column("capture").unique())
        return StorePart(table, name, rows.num_rows, size, captures)

    @contextmanager
    def writing(self) -> Iterator[Callable[[StoreChange], Manifest]]:
        """Holds the lock; the function that it gives commits a change.

        Raises InputError where the file system refuses, with the store as it was.
        """
        with refused(self.folder), locked(self.folder / _LOCK):
            yield self._commit

    def commit(self, change: StoreChange) -> Manifest:
        """One change under the lock."""
        with self.writing() as commit:
            return commit(change)

    def _commit(self, change: StoreChange) -> Manifest:
        before = self.manifest()
        written: list[StorePart] = []
        gone: list[StorePart] = []
        try:
            for part in before.parts:
                drop = change.drops.get(part.table)
                kept = self._without(part, drop) if drop else part
                if kept is part:
                    continue
                gone.append(part)
                if kept is not None:
                    written.append(kept)
            for table, tables in change.tables.items():
                rows = arrow().concat_tables(tables) if tables else None
                if rows is not None and rows.num_rows:
                    written.append(self.write_part(table, rows))
            return self.replaced(gone, (*change.files, *written), at_once=change.at_once)
        except BaseException:
            self.discard((*written, *change.files))
            raise

    def replaced(
        self, gone: Collection[StorePart], written: Sequence[StorePart], *, at_once: bool = False
    ) -> Manifest:
        """Some files in the place of others; at_once: these are deleted now. Only under the lock."""
        before = self.manifest()
        now = time.time()
        after = replace(
            before,
            generation=before.generation + 1,
            parts=(*(part for part in before.parts if part not in gone), *written),
            old=(*before.old, *((part.file, now) for part in gone)),
        )
        return self._settle(after, at_once=at_once)

    def discard(self, parts: Sequence[StorePart]) -> None:
        """Files of a change that failed go, unless the manifest was in place before it did."""
        with suppress(InputError):
            counting = {part.file for part in self.manifest().parts}
            for part in parts:
                if part.file not in counting:
                    with suppress(OSError):
                        (self.data / part.file).unlink()

    def _without(self, part: StorePart, drop: Collection[str]) -> StorePart | None:
        """The part without the rows of some captures: itself, a new one, or None where nothing is left."""
        captures = read_part(self.data / part.file, ["capture"]).column("capture")
        kept = [name not in drop for name in captures.to_pylist()]
        if all(kept):
            return part
        if not any(kept):
            return None
        rows = read_part(self.data / part.file).filter(arrow().array(kept))
        return self.write_part(part.table, rows)

    def _settle(self, manifest: Manifest, *, at_once: bool) -> Manifest:
        now = time.time()
        sync_folder(self.data)
        write_whole(self.folder / MANIFEST, _manifest_bytes(manifest))
        due = [file for file, since in manifest.old if at_once or now - since > _GRACE_S]
        for file in due:
            with suppress(OSError):
                (self.data / file).unlink()
        left = tuple(
            (file, since) for file, since in manifest.old if file not in due or (self.data / file).exists()
        )
        if left != manifest.old:
            manifest = replace(manifest, old=left)
            write_whole(self.folder / MANIFEST, _manifest_bytes(manifest))
        return manifest

    def keep_vin(self, *, keeps: bool) -> None:
        """Says whether VINs stand in the clear. Raises UsageError where the store does it the other way."""
        with self.writing():
            before = self.manifest()
            if before.keeps_vin == keeps:
                return
            if before.parts:
                way = "keeps VINs in the clear" if before.keeps_vin else "hashes VINs"
                raise UsageError(
                    f"{self.folder} {way}", remedy="make another store with --store for the other way"
                )
            write_whole(self.folder / MANIFEST, _manifest_bytes(replace(before, keeps_vin=keeps)))

    def swept(self) -> int:
        """Deletes what writers that were killed left behind; how many files. Only under the lock."""
        manifest = self.manifest()
        named = {part.file for part in manifest.parts} | {file for file, _ in manifest.old}
        count = 0
        for path in (*self.data.glob("*.parquet"), *self.data.glob(f"*{PART}")):
            with suppress(OSError):
                if path.name not in named and time.time() - path.stat().st_mtime > _FORGOTTEN_S:
                    path.unlink()
                    count += 1
        return count


def open_store(folder: Path | None = None, *, create: bool = False) -> Store:
    """The store in a folder, by default the user's; with ``create`` it is made where there is none.

    Raises InputError for a folder that holds something else, a store of a newer version, or one that cannot
    be made.
    """
    arrow()
    folder = folder or default_folder()
    path = folder / MANIFEST
    with refused(folder):
        if not path.exists():
            if not create:
                raise InputError(
                    folder, "there is no archive here", remedy="make one with netcheck archive add"
                )
            _make_store(folder)
        _read_manifest(folder)
        (folder / _DATA).mkdir(exist_ok=True)
        key = (folder / _KEY).read_bytes() if (folder / _KEY).exists() else b""
    if len(key) < 32:
        raise InputError(
            folder / _KEY,
            "the key of the store is missing or damaged",
            remedy="put it back from a backup: without it no VIN can be found again",
        )
    return Store(folder, key)


def _make_store(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    if _has_others(folder):
        raise InputError(folder, "is no archive and is not empty", remedy="name an empty or new folder")
    with locked(folder / _LOCK):
        if (folder / MANIFEST).exists():
            return  # another process was faster
        if not (folder / _KEY).exists():
            write_whole(folder / _KEY, secrets.token_bytes(32), private=True)
        (folder / _DATA).mkdir(exist_ok=True)
        write_whole(folder / MANIFEST, _manifest_bytes(Manifest()))


def _has_others(folder: Path) -> bool:
    """Whether a folder holds what no archive has, not even one that is being made or was left half made."""
    own = (MANIFEST, _LOCK, _KEY, _DATA)
    return any(not path.name.startswith(own) for path in folder.iterdir())


# -- the manifest


def _manifest_bytes(manifest: Manifest) -> bytes:
    plain = {
        "kind": "archive",
        "format": FORMAT,
        "generation": manifest.generation,
        "keeps_vin": manifest.keeps_vin,
        "parts": [vars(part) for part in manifest.parts],
        "old": [list(entry) for entry in manifest.old],
    }
    return (json.dumps(plain, indent=1) + "\n").encode()


def _read_manifest(folder: Path) -> Manifest:
    path = folder / MANIFEST
    try:
        plain = json.loads(path.read_bytes())
        version = plain["format"]
        if type(version) is int and version > FORMAT:
            raise InputError(
                path,
                f"this archive was written by a newer version (format {version})",
                remedy=f"update netcheck, which reads format {FORMAT}",
            )
        parts = tuple(StorePart(**_checked(part)) for part in plain["parts"])
        old = tuple((str(file), float(since)) for file, since in plain["old"])
        return Manifest(int(plain["generation"]), parts, old, bool(plain["keeps_vin"]))
    except OSError as error:
        raise InputError(
            path, f"cannot be read: {error.strerror or error}", remedy="check the folder of the archive"
        ) from error
    except (ValueError, KeyError, TypeError) as error:
        raise InputError(path, "is damaged", remedy="put the archive back from a backup") from error


def _checked(part: Mapping[str, Any]) -> dict[str, Any]:
    found = dict(part)
    if found["table"] not in TABLES or Path(str(found["file"])).name != found["file"]:
        raise ValueError(found)
    return found


# -- files
