"""The table as Markdown, which is also fit for a screen."""

from __future__ import annotations

from collections.abc import Sequence

from tests.benchmarks.row import Row

HEAD = ("what", "against", "netcheck", "other side", "ratio", "at least", "aim", "result")
RUN = "\n## Last run\n"


def table(rows: Sequence[Row]) -> str:
    """Columns of equal width, one line a row."""
    lines = [HEAD, *(_cells(row) for row in rows)]
    wide = [max(len(line[column]) for line in lines) for column in range(len(HEAD))]
    drawn = ["| " + " | ".join(map(str.ljust, line, wide)) + " |" for line in lines]
    drawn.insert(1, "|" + "|".join("-" * (width + 2) for width in wide) + "|")
    return "\n".join(drawn) + "\n"


def with_run(page: str, run: str) -> str:
    """The page with this run in place of the one it has, below the heading "Last run"."""
    before, found, after = page.partition(RUN)
    assert found, f"no line {RUN.strip()!r}"
    _, rest, after = after.partition("\n## ")
    return f"{before}{RUN}\n{run}{rest}{after}"


def _cells(row: Row) -> tuple[str, ...]:
    ratio = "–" if row.ratio is None else f"{row.ratio:.3g} ×"
    wanted = [_limit(row, limit) for limit in (row.least, row.aim)]
    return (row.what, row.against, row.ours, row.theirs, ratio, *wanted, judgement(row))


def _limit(row: Row, limit: float | None) -> str:
    return "–" if limit is None else f"{'≤' if row.is_share else '≥'} {limit:.3g} ×"


def judgement(row: Row) -> str:
    """Whether the row comes to what it has to."""
    if row.ratio is None:
        return "not run"
    if row.least is None:
        return "–"
    if not _reaches(row, row.least):
        return "NOT MET"
    return "aim met" if row.aim is not None and _reaches(row, row.aim) else "met"


def _reaches(row: Row, limit: float) -> bool:
    assert row.ratio is not None
    return row.ratio <= limit if row.is_share else row.ratio >= limit
