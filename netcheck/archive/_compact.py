"""Many small files of a store as few large ones, sorted so that a question skips what it does not need."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from netcheck.archive._schema import FRAMES, TABLES, ArchiveTable, arrow
from netcheck.archive._store import Manifest, Store, StorePart
from netcheck.archive._store_files import read_part
from netcheck.records import dataclass

_MOST_ROWS: Final = {FRAMES.name: 8 << 20}  # of one file
_ROWS: Final = 2 << 20
_PAYS: Final = {FRAMES.name: 128}  # small files of a table from which on they are put together by themselves
_FILES: Final = 24


@dataclass(frozen=True)
class Compacted:
    """Files of the store before and after, their bytes, and files of killed writers that were deleted."""

    files: tuple[int, int]
    size: tuple[int, int]
    swept: int


def compact(store: Store) -> Compacted:
    """Puts small files together. What is being asked meanwhile is answered from the old ones."""
    return _compacted(store, tuple(TABLES))


def compact_if_it_pays(store: Store) -> Compacted | None:
    """The same for tables with many small files; None where there is none."""
    manifest = store.manifest()
    due = [name for name in TABLES if len(_small(manifest, name)) >= _PAYS.get(name, _FILES)]
    return _compacted(store, due) if due else None


def _compacted(store: Store, tables: Sequence[str]) -> Compacted:
    with store.writing():
        before = store.manifest()
        swept = store.swept()
        gone: list[StorePart] = []
        written: list[StorePart] = []
        try:
            for name in tables:
                small = _small(before, name)
                if len(small) > 1:
                    gone += small
                    written.extend(
                        store.write_part(name, rows) for rows in _joined(store, TABLES[name], small)
                    )
            after = store.replaced(gone, written) if gone else before
        except BaseException:
            store.discard(written)
            raise
    return Compacted(
        (len(before.parts), len(after.parts)),
        (sum(part.size for part in before.parts), sum(part.size for part in after.parts)),
        swept,
    )


def _small(manifest: Manifest, table: str) -> tuple[StorePart, ...]:
    most = _MOST_ROWS.get(table, _ROWS)
    return tuple(part for part in manifest.of(table) if 2 * part.rows < most)


def _joined(store: Store, table: ArchiveTable, parts: Sequence[StorePart]) -> Iterator[Any]:
    """Rows of some files, sorted, in pieces of one file each."""
    most = _MOST_ROWS.get(table.name, _ROWS)
    gathered: list[Any] = []
    count = 0
    for part in parts:
        if gathered and count + part.rows > most:
            yield _sorted(table, gathered)
            gathered, count = [], 0
        gathered.append(read_part(store.data / part.file))
        count += part.rows
    if gathered:
        yield _sorted(table, gathered)


def _sorted(table: ArchiveTable, gathered: list[Any]) -> Any:
    if table.name == FRAMES.name:  # each capture's frames are sorted already: no need to look at all of them
        gathered = sorted(gathered, key=lambda rows: str(rows.column("capture")[0]))
        return arrow().concat_tables(gathered)
    rows = arrow().concat_tables(gathered)
    return rows.sort_by([(name, "ascending") for name in table.order])
