"""Run as a process of its own: what a script without an archive does, over captures as CSV.

pandas-periods FOLDER:    count and median gap of each message of each capture
pandas-period FOLDER ID:  median gap of one message by model year
duckdb-period FOLDER ID:  the same by DuckDB
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any


def pandas_periods(folder: str) -> Any:
    """A row for each message of each capture."""
    import pandas as pd

    found = []
    for path in sorted(Path(folder).glob("*/*.csv")):
        frames = pd.read_csv(path, dtype={"channel": "category", "id": "category", "data": str})
        groups = frames.groupby(["channel", "id"], observed=True)["time"]
        gaps = frames["time"] - groups.shift()
        found.append(
            gaps.groupby([frames["channel"], frames["id"]], observed=True)
            .agg(["count", "median"])
            .assign(capture=path.name)
        )
    return pd.concat(found)


def pandas_period(folder: str, can_id: int) -> Any:
    """Median gap in s by model year."""
    import pandas as pd

    found = []
    for path in sorted(Path(folder).glob("*/*.csv")):
        frames = pd.read_csv(path, usecols=["time", "id"], dtype={"id": str})
        times = frames["time"][frames["id"] == f"{can_id:03X}"]
        found.append((int(path.parent.name), times.diff().median()))
    return pd.DataFrame(found, columns=["year", "gap"]).groupby("year")["gap"].median()


def duckdb_period(folder: str, can_id: int) -> Any:
    """Median gap in s by model year."""
    import duckdb

    return duckdb.sql(
        f"""
        WITH gaps AS (
          SELECT filename, regexp_extract(filename, '(\\d{{4}}).\\d+\\.csv$', 1)::INT AS year,
            time - lag(time) OVER (PARTITION BY filename ORDER BY time) AS gap
          FROM read_csv('{folder}/*/*.csv', filename = true,
            columns = {{'time': 'DOUBLE', 'channel': 'VARCHAR', 'id': 'VARCHAR', 'data': 'VARCHAR'}})
          WHERE id = '{can_id:03X}'),
        each AS (SELECT year, median(gap) AS gap FROM gaps GROUP BY year, filename)
        SELECT year, median(gap) FROM each GROUP BY year ORDER BY year
        """
    ).fetchall()


def main() -> None:
    what, folder, *more = sys.argv[1:]
    if what == "pandas-periods":
        print(pandas_periods(folder))  # noqa: T201
    elif what == "pandas-period":
        print(pandas_period(folder, int(more[0])))  # noqa: T201
    else:
        print(duckdb_period(folder, int(more[0])))  # noqa: T201


if __name__ == "__main__":
    main()
