"""The rows of the archive: adding, questions, a check, against scripts over the same frames as CSV."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final, NamedTuple

from netcheck.archive import (
    TABLES,
    Adder,
    CaptureFacts,
    StoreChange,
    WantedCapture,
    find_captures,
    open_store,
    reader_for,
)
from netcheck.capture import cores
from tests.benchmarks import files
from tests.benchmarks.measure import in_turn, process, timed
from tests.benchmarks.row import Row, seconds_text
from tests.benchmarks.traffic import write_log

YEARS: Final = (2018, 2019, 2020)
A_CAPTURE_S: Final = 0.12  # 5,000 captures in ten minutes
QUESTION_S: Final = 1.0
CHECK_S: Final = 30.0
MEMORY_MB: Final = 1000.0
LINEAR: Final = 0.9
ASKED_ID: Final = 0x0C7  # EngineTorque
QUESTIONS: Final = (
    ("period", f"0x{ASKED_ID:03X}"),
    ("since", "clutch-pedal"),
    ("where", "reverse-engaged"),
    ("who-sends", f"0x{ASKED_ID:03X}"),
    ("differs", "2018", "2019"),
)
_ARCHIVE: Final = (sys.executable, "-m", "netcheck", "archive")


class ArchiveSizes(NamedTuple):
    """captures of so many frames are added; the store that is asked has the rows of so many captures."""

    captures: int
    frames: int
    asked: int
    questions: int = len(QUESTIONS)


def sizes_for(frames: int) -> ArchiveSizes:
    """For a run whose long log has that many frames."""
    if frames >= 1_000_000:
        return ArchiveSizes(100, 60_000, 5000)
    return ArchiveSizes(24, 6000, 200) if frames >= 10_000 else ArchiveSizes(3, 300, 6, 1)


def archive_rows(
    folder: Path, sizes: ArchiveSizes, rounds: int, tell: Callable[[str], object]
) -> Iterator[Row]:
    """All of them. folder: for captures and stores"""
    of = f"{sizes.captures} captures of {sizes.frames:,} frames"
    tell(of)
    logs = make_captures(folder, sizes)
    yield from _adding(folder, of, sizes, tell)
    yield _linear(folder, logs, of, sizes, tell)
    tell(f"a store of {sizes.asked:,} captures")
    make_store(folder, logs, sizes.asked)
    yield from _asking(folder, of, sizes, rounds, tell)
    shutil.rmtree(folder)


def make_captures(folder: Path, sizes: ArchiveSizes) -> list[Path]:
    """Captures of the demo's van in ``logs``, a third of each model year, and the same as CSV in ``csv``."""
    sent = files.van()
    logs = []
    for number in range(sizes.captures):
        name = f"{YEARS[number % len(YEARS)]}/{number:04d}"
        log, csv = folder / "logs" / f"{name}.log", folder / "csv" / f"{name}.csv"
        for path in (log, csv):
            path.parent.mkdir(parents=True, exist_ok=True)
        write_log(log, sizes.frames, 100 + number, sent, ("can0", "can1"))
        text = log.read_bytes().replace(b"(", b"").replace(b") ", b",").replace(b" ", b",")
        csv.write_bytes(b"time,channel,id,data\n" + text.replace(b"#", b","))
        logs.append(log)
    return logs


def wanted(logs: list[Path]) -> list[WantedCapture]:
    """The captures with their vehicle and years."""
    return [
        capture
        for year in YEARS
        for log in logs
        if log.parent.name == str(year)
        for capture in find_captures([str(log)], CaptureFacts(files.VEHICLE, year)).captures
    ]


def make_store(folder: Path, logs: list[Path], captures: int) -> None:
    """A store with the rows of so many captures: those of the logs again and again, under other names."""
    import pyarrow as pa
    import pyarrow.compute as pc

    first = open_store(folder / "first", create=True)
    Adder(first, reader=reader_for()).add(wanted(logs))
    store = open_store(folder / "store", create=True)
    tables = {name: first.read(name) for name in TABLES if name != "frames"}
    rounds = -(-captures // len(logs))

    def renamed(table: Any, number: int) -> Any:
        names = pc.binary_join_element_wise(table.column("capture"), pa.scalar(f"{number:04d}"), "")
        return table.set_column(0, "capture", names).set_column(3, "van", names)

    change = StoreChange()
    for name, table in tables.items():
        change.tables[name] = [renamed(table, number) for number in range(rounds)]
    store.commit(change)


def _adding(folder: Path, of: str, sizes: ArchiveSizes, tell: Callable[[str], object]) -> Iterator[Row]:
    tell("adding, in turn with a script on pandas")
    command = [*_ARCHIVE, "add", str(folder / "logs"), "--vehicle", str(files.VEHICLE), "--year", "2019"]
    command += ["--store", str(folder / "added")]
    ours = process(command)
    script = [sys.executable, "-m", "tests.benchmarks.csv_sides"]
    theirs = process([*script, "pandas-periods", str(folder / "csv")])
    what = f"`netcheck archive add`, {of}, whole process"
    against = "a pandas script over CSV that works out each message's period only"
    yield Row(
        what,
        against,
        seconds_text(ours.seconds),
        seconds_text(theirs.seconds),
        theirs.seconds / ours.seconds,
        is_share=False,
        least=None,
        aim=None,
    )
    limit = A_CAPTURE_S * sizes.captures
    yield Row(
        what,
        f"{limit:.3g} s: 5,000 in ten minutes on two cores",
        seconds_text(ours.seconds),
        "–",
        ours.seconds / limit,
        is_share=True,
        least=1.0,
        aim=None,
    )
    peak = ours.peak_mb * (1 + cores())
    yield Row(
        f"memory of `netcheck archive add`, {of}: the largest of its processes, times their number",
        f"{MEMORY_MB:.0f} MB",
        f"{peak:.0f} MB",
        "–",
        peak / MEMORY_MB,
        is_share=True,
        least=1.0,
        aim=None,
    )


def _linear(
    folder: Path, logs: list[Path], of: str, sizes: ArchiveSizes, tell: Callable[[str], object]
) -> Row:
    """The same captures by one Dask worker, and by one for each core; workers stand ready before."""
    what, against = f"adding {of} by a Dask worker for each of {cores()} cores", "one worker, times the cores"
    if sizes.frames < 1000 or cores() < 2:
        return Row(what, against, "too few to tell", "–", None, is_share=False, least=None, aim=None)
    import distributed

    found = {}
    for workers in (1, cores()):
        tell(f"adding by {workers} Dask workers")
        with distributed.LocalCluster(
            n_workers=workers, threads_per_worker=1, dashboard_address=None, silence_logs=50
        ) as cluster:

            def add(name: str, some: list[Path], address: str = cluster.scheduler_address) -> float:
                store = open_store(folder / name, create=True)
                adder = Adder(store, reader=reader_for(address))
                return timed(lambda: adder.add(wanted(some)))

            add(f"warm{workers}", logs[: 2 * workers])  # each worker has loaded what it needs
            found[workers] = add(f"linear{workers}", logs)
    one, every = found[1], found[cores()]
    return Row(
        what,
        against,
        seconds_text(every),
        seconds_text(one / cores()),
        one / cores() / every,
        is_share=False,
        least=LINEAR,
        aim=None,
    )


def _asking(
    folder: Path, of: str, sizes: ArchiveSizes, rounds: int, tell: Callable[[str], object]
) -> Iterator[Row]:
    tell("questions, in turn with pandas and DuckDB over CSV")
    store = ["--store", str(folder / "store")]
    script = [sys.executable, "-m", "tests.benchmarks.csv_sides"]
    csvs = str(folder / "csv")
    sides = {
        " ".join(words): lambda words=words: process([*_ARCHIVE, "ask", *words, *store]).seconds
        for words in QUESTIONS[: sizes.questions]
    }
    sides["pandas"] = lambda: process([*script, "pandas-period", csvs, str(ASKED_ID)]).seconds
    sides["duckdb"] = lambda: process([*script, "duckdb-period", csvs, str(ASKED_ID)]).seconds
    found = in_turn(sides, rounds)
    slowest = max(list(sides)[: sizes.questions], key=lambda name: found[name])
    captures = f"{sizes.asked:,} captures"
    yield Row(
        f"`netcheck archive ask`, {captures}, the slowest question ({slowest}), whole process",
        f"{QUESTION_S:g} s",
        seconds_text(found[slowest]),
        "–",
        found[slowest] / QUESTION_S,
        is_share=True,
        least=1.0,
        aim=None,
    )
    period = found[" ".join(QUESTIONS[0])]
    for name, words in (("pandas", "a pandas script"), ("duckdb", "DuckDB")):
        yield Row(
            f"`netcheck archive ask period`, {captures}, whole process",
            f"{words} over CSV of {of}, whole process",
            seconds_text(period),
            seconds_text(found[name]),
            found[name] / period,
            is_share=False,
            least=None,
            aim=None,
        )
    check = process([*_ARCHIVE, "check", str(files.VEHICLE), *store])
    yield Row(
        f"`netcheck archive check`, {captures}, whole process",
        f"{CHECK_S:g} s",
        seconds_text(check.seconds),
        "–",
        check.seconds / CHECK_S,
        is_share=True,
        least=1.0,
        aim=None,
    )
    yield Row(
        f"peak memory of `netcheck archive check`, {captures}",
        f"{MEMORY_MB:.0f} MB",
        f"{check.peak_mb:.0f} MB",
        "–",
        check.peak_mb / MEMORY_MB,
        is_share=True,
        least=1.0,
        aim=None,
    )
