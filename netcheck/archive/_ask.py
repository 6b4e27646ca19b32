"""Questions to a store: SQL that can only read, through DuckDB over the Parquet files."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path
from typing import Any, BinaryIO, Final

from netcheck.archive._schema import FRAMES, TABLES, arrow
from netcheck.archive._store import Manifest, Store, open_store
from netcheck.archive._store_files import damaged
from netcheck.errors import NetcheckError, UsageError
from netcheck.records import dataclass
from netcheck.tables import library

_READS_ONLY: Final = (
    "SET temp_directory=''",
    "SET enable_external_access=false",
    "SET python_enable_replacements=false",
    "SET autoinstall_known_extensions=false",
    "SET autoload_known_extensions=false",
    "SET lock_configuration=true",
)
# What it is to DuckDB 1 is a SELECT.
_PRAGMA: Final = re.compile(r"(?:\s|--[^\n]*\n|/\*.*?\*/)*pragma\b", re.IGNORECASE | re.DOTALL)
_FRAMES_VIEW: Final = (
    "SELECT capture, channel, id, (flags & 1) <> 0 AS extended, flags, length, "
    "make_timestamp_ns(time_us * 1000 + time_rest_ns) AS time, data, frame FROM {source}"
)


@dataclass(frozen=True)
class Answer:
    """What a question came to: names of the columns, and rows of plain values."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]

    def dicts(self) -> list[dict[str, Any]]:
        """The rows with their names."""
        return [dict(zip(self.columns, row, strict=True)) for row in self.rows]

    def to_arrow(self) -> Any:
        """The rows as a ``pyarrow.Table``; a column that has no value is of type null."""
        pa = arrow()
        columns = zip(*self.rows, strict=True) if self.rows else ([] for _ in self.columns)
        return pa.table(dict(zip(self.columns, map(pa.array, map(list, columns)), strict=True)))

    def write_parquet(self, sink: BinaryIO) -> None:
        """The rows as a Parquet file."""
        import pyarrow.parquet as pq

        pq.write_table(self.to_arrow(), sink)


class Archive:
    """A store that is asked: each table is a view, and nothing but these views can be read.

    Use it as a context, or ``close`` it. It answers from what the store held when it was opened.
    """

    def __init__(self, store: Store, manifest: Manifest | None = None) -> None:
        """manifest: what counts in the store, by default what counts now.

        Raises UsageError where DuckDB is not installed, InputError for a damaged store.
        """
        self.store = store
        self.manifest = manifest = manifest or store.manifest()
        duckdb = library("duckdb", "asking the archive", "archive")
        self._errors: type[Exception] = duckdb.Error
        self._select = duckdb.StatementType.SELECT
        self._database = duckdb.connect(":memory:")
        allowed: list[str] = []
        for name, table in TABLES.items():
            paths = [str(path) for path in store.paths(name, manifest)]
            allowed += paths
            if paths:
                source = f"read_parquet({_texts(paths)})"
            else:
                self._database.register(f"no_{name}", table.arrow().empty_table())
                source = f"no_{name}"
            view = _FRAMES_VIEW if table is FRAMES else "SELECT * FROM {source}"
            with self._said():
                self._database.execute(f"CREATE VIEW {name} AS {view.format(source=source)}")
        with self._said():
            if allowed:
                self._database.execute(f"SET allowed_paths={_texts(allowed)}")
            for setting in _READS_ONLY:
                self._database.execute(setting)

    def __enter__(self) -> Archive:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Ends the connection."""
        self._database.close()

    def sql(self, question: str) -> Any:
        """A question as a ``duckdb.DuckDBPyRelation``: ``.df()``, ``.pl()``, ``.arrow()``, and more SQL.

        Nothing is worked out before the relation is used, and rows go to pandas, polars or Arrow by columns.
        Raises UsageError for SQL that is wrong, or does anything but read these tables.
        """
        with self._said():
            self._check(question)
            return self._database.sql(question)

    def ask(self, question: str, parameters: Mapping[str, Any] | None = None) -> Answer:
        """The same as plain values. parameters: values of ``$name`` in it"""
        with self._said():
            self._check(question)
            done = self._database.execute(question, dict(parameters or {}))
            rows = tuple(tuple(map(_number, row)) for row in done.fetchall())
            return Answer(tuple(entry[0] for entry in done.description), rows)

    def to_pandas(self, question: str) -> Any:
        """A question's answer as a ``pandas.DataFrame``."""
        library("pandas", "to_pandas", "tables")
        with self._said():
            return self.sql(question).df()

    def to_polars(self, question: str) -> Any:
        """A question's answer as a ``polars.DataFrame``."""
        library("polars", "to_polars", "tables")
        with self._said():
            return self.sql(question).pl()

    def to_arrow(self, question: str) -> Any:
        """A question's answer as a ``pyarrow.Table``."""
        with self._said():
            return self.sql(question).to_arrow_table()

    def _check(self, question: str) -> None:
        """One statement, and one that reads: what writes or sets anything is not a SELECT for DuckDB."""
        statements = self._database.extract_statements(question)
        if len(statements) != 1:
            raise UsageError(f"{len(statements)} statements in one question", remedy="ask one at a time")
        if statements[0].type != self._select or _PRAGMA.match(question):
            raise UsageError(
                "a question to the archive only reads",
                remedy="begin it with SELECT, FROM, DESCRIBE or SUMMARIZE",
            )

    @contextmanager
    def _said(self) -> Iterator[None]:
        """DuckDB's complaints as one line."""
        try:
            yield
        except NetcheckError:
            raise
        except self._errors as error:
            raise self._explained(str(error)) from error

    def _explained(self, text: str) -> NetcheckError:
        first = text.strip().split("\n", 1)[0]
        for table in TABLES:
            for path in self.store.paths(table):
                if str(path) in text:
                    return damaged(path)
        kind, colon, rest = first.partition(": ")
        if "file system operations are disabled" in first:
            return UsageError(
                "a question to the archive reads its own tables only", remedy=f"they are {', '.join(TABLES)}"
            )
        what = rest if colon else kind
        hint = re.search(r"LINE 1: .*", text)
        place = f" (in: {hint.group().removeprefix('LINE 1: ').strip()[:60]})" if hint else ""
        return UsageError(
            f"the question cannot be answered: {what}{place}",
            remedy="netcheck archive show --tables lists tables and columns",
        )


def open_archive(store: Store | Path | None = None) -> Archive:
    """A store to ask, or the one in a folder; by default the user's.

    Raises InputError where there is none, UsageError where DuckDB is not installed.
    """
    return Archive(store if isinstance(store, Store) else open_store(store))


def _number(value: Any) -> Any:
    """DuckDB's decimal numbers as others are."""
    return float(value) if isinstance(value, Decimal) else value


def _texts(paths: Sequence[str]) -> str:
    return "[" + ", ".join("'" + path.replace("'", "''") + "'" for path in paths) + "]"
