"""Columns as a table of pandas, polars or pyarrow, whichever is installed."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from netcheck.errors import UsageError
from netcheck.records import dataclass

ZONE: Final = "UTC"


@dataclass(frozen=True, eq=False)
class TimeColumn:
    """int64, nanoseconds since the epoch: a time in UTC."""

    time_ns: NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class NameColumn:
    """Texts by number: ``names[code]``, none where the code is below 0."""

    codes: NDArray[np.int32]
    names: Sequence[str]


@dataclass(frozen=True, eq=False)
class BytesColumn:
    """Runs of bytes: ``data[start : start + length]`` each."""

    data: NDArray[np.uint8]
    start: NDArray[np.int64]
    length: NDArray[np.int64]

    def values(self) -> list[bytes]:
        """All of them."""
        whole = self.data.tobytes()
        places = zip(self.start.tolist(), self.length.tolist(), strict=True)
        return [whole[begin : begin + length] for begin, length in places]


Column = TimeColumn | NameColumn | BytesColumn | NDArray[Any]


class Tabular:
    """What can be had as a table. Each raises UsageError where its library is not installed."""

    def _table(self) -> dict[str, Column]:
        raise NotImplementedError

    def to_pandas(self) -> Any:
        """The table as a ``pandas.DataFrame``; ``time`` in UTC."""
        return to_pandas(self._table())

    def to_polars(self) -> Any:
        """The same as a ``polars.DataFrame``."""
        return to_polars(self._table())

    def to_arrow(self) -> Any:
        """The same as a ``pyarrow.Table``."""
        return to_arrow(self._table())


def library(name: str, what: str, extra: str) -> Any:
    """A library that is not needed otherwise. Raises UsageError where it is not installed."""
    __tracebackhide__ = True
    try:
        return import_module(name)
    except ImportError as error:
        package = name.partition(".")[0]
        raise UsageError(
            f"{what} needs {package}, which is not installed", remedy=f'pip install "netcheck[{extra}]"'
        ) from error


def to_arrow(columns: dict[str, Column]) -> Any:
    """A ``pyarrow.Table``. Raises UsageError where pyarrow is not installed."""
    __tracebackhide__ = True
    pa = library("pyarrow", "to_arrow", "parquet")

    def column(given: Column) -> Any:
        if isinstance(given, TimeColumn):
            return pa.array(given.time_ns, pa.timestamp("ns", ZONE))
        if isinstance(given, NameColumn):
            codes = pa.array(given.codes, mask=given.codes < 0)
            return pa.DictionaryArray.from_arrays(codes, pa.array(list(given.names), pa.string()))
        return pa.array(given.values(), pa.binary()) if isinstance(given, BytesColumn) else pa.array(given)

    return pa.table({name: column(given) for name, given in columns.items()})


def to_pandas(columns: dict[str, Column]) -> Any:
    """A ``pandas.DataFrame``. Raises UsageError where pandas is not installed."""
    __tracebackhide__ = True
    pd = library("pandas", "to_pandas", "tables")

    def column(given: Column) -> Any:
        if isinstance(given, TimeColumn):
            return pd.to_datetime(given.time_ns, unit="ns", utc=True)
        if isinstance(given, NameColumn):
            return pd.Categorical.from_codes(given.codes, list(given.names))
        return pd.Series(given.values(), dtype=object) if isinstance(given, BytesColumn) else given

    return pd.DataFrame({name: column(given) for name, given in columns.items()})


def to_polars(columns: dict[str, Column]) -> Any:
    """A ``polars.DataFrame``. Raises UsageError where polars is not installed."""
    __tracebackhide__ = True
    pl = library("polars", "to_polars", "tables")

    def column(name: str, given: Column) -> Any:
        if isinstance(given, TimeColumn):
            return pl.Series(name, given.time_ns).cast(pl.Datetime("ns", ZONE))
        if isinstance(given, NameColumn):
            names = [*given.names, None]
            texts = [names[code] for code in np.maximum(given.codes, -1).tolist()]
            return pl.Series(name, texts, dtype=pl.String).cast(pl.Categorical)
        if isinstance(given, BytesColumn):
            return pl.Series(name, given.values(), dtype=pl.Binary)
        return pl.Series(name, given)

    return pl.DataFrame([column(name, given) for name, given in columns.items()])
