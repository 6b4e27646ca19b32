"""The rows of the table: what is measured against what, and what it is to come to."""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import netcheck
from netcheck.diagnostics import read_diagnostics
from netcheck.network import survey
from tests.bench import punctuality
from tests.benchmarks import files, sides
from tests.benchmarks.archives import archive_rows, sizes_for
from tests.benchmarks.measure import Run, in_turn, process, timed
from tests.benchmarks.row import Row, seconds_text
from tests.page.browser import browser, missing, open_page

PLANNED: Final = (0, 1, 3)  # statuses of a plan, whatever its verdict
MEMORY_MB: Final = {"plan": (250, 200), "survey": (600, 350)}
LONG_PLAN_S: Final = (8.0, 5.0)
FIRST_PLAN_S: Final = (4.0, 3.0)
PROVING_S: Final = {"prove": (10.0, 5.0), "report": (15.0, 8.0)}
PAGE_MB: Final = 15.0
PAGE_OPENS_S: Final = 2.0
PAGE_OPENED: Final = "the page opens in Chromium, until its scripts have run"
CALLS: Final = 4  # of one process
SELDOM_IDS: Final = 8000
_NETCHECK: Final = (sys.executable, "-m", "netcheck")


@dataclass(frozen=True)
class Sizes:
    """frames: of the long log; rounds: how often both sides of a row take turns; starts: in the last rows.

    scored: runs of each kind that are scored
    """

    frames: int
    rounds: int
    starts: int
    scored: int = 0

    @property
    def decoded(self) -> int:
        """Frames of the log that is decoded in full."""
        return max(self.frames // 9, 1)

    @property
    def random(self) -> int:
        """Frames of the log of random payloads."""
        return max(2 * self.frames // 9, 1)

    @property
    def searched(self) -> int:
        """Frames of the log that is searched for a role: ten seconds at least."""
        return max(self.frames, 10_000)

    @property
    def seldom(self) -> int:
        """Frames of the log of many ids with pauses."""
        return max(8 * self.frames // 45, 4)

    @property
    def replayed(self) -> float:
        """Seconds of the demo's log that are replayed, in real time."""
        return 30.0 if self.frames >= 1_000_000 else 5.0 if self.frames >= 10_000 else 1.0


def rows(folder: Path, sizes: Sizes, tell: Callable[[str], object], cache: Path | None) -> Iterator[Row]:
    """All rows, measured one after the other.

    folder: for the logs
    tell:   called with what is being done
    cache:  netcheck's cache folder, empty, so that the first run compiles; None for the user's
    """
    tell("first run with an empty cache folder")
    first = process([*_NETCHECK, "plan", str(files.DEMO)], fine=PLANNED, cache=cache)
    tell(f"a log of {sizes.frames:,} frames")
    log = files.van_log(folder, sizes.frames)
    job = files.job(log)
    yield from _reading(log, job, sizes, cache, tell)
    yield from _random(folder, sizes, cache, tell)
    yield from _talking(folder, log, sizes, tell)
    yield _pausing(folder, sizes, tell)
    yield _decoding(folder, sizes, tell)
    yield from _memory(folder, log, sizes, cache, tell)
    log.unlink()
    yield from _proving(folder, sizes, cache, tell)
    tell("starting")
    yield from _starting(sizes, cache, first.seconds)
    tell(f"replaying {sizes.replayed:g} s")
    yield from _replaying(folder, sizes)
    yield from archive_rows(folder / "archive", sizes_for(sizes.frames), sizes.rounds, tell)


def _reading(
    log: Path, job: Path, sizes: Sizes, cache: Path | None, tell: Callable[[str], object]
) -> Iterator[Row]:
    frames = len(netcheck.read_capture(log))
    assert frames == sizes.frames
    count: list[int] = []
    surveying = [*_NETCHECK, "survey", "--vehicle", str(files.VEHICLE), str(log)]
    tell("reading and planning, in turn with python-can")
    found = in_turn(
        {
            "python-can": lambda: timed(lambda: count.append(sides.read_with_python_can(log))),
            "read": lambda: timed(lambda: netcheck.read_capture(log)),
            "lines": lambda: timed(lambda: _count_lines(log)),
            "plan": lambda: process([*_NETCHECK, "plan", str(job)], fine=PLANNED, cache=cache).seconds,
            "survey": lambda: process(surveying, fine=(0,), cache=cache).seconds,
            "surveyed": lambda: timed(lambda: survey(netcheck.open_capture(log))),
        },
        sizes.rounds,
        again=dict.fromkeys(("read", "lines", "plan", "survey", "surveyed"), sizes.rounds),
    )
    assert set(count) == {frames}
    of = f"{frames / 1e6:g} M frames"
    reader = "python-can's `CanutilsLogReader` loop"
    yield _faster("`read_capture`, " + of, reader, found["read"], found["python-can"], (60, 100))
    yield _share("`read_capture`, " + of, "`wc -l`", found["read"], found["lines"], (12, 6))
    what = f"`netcheck plan`, {of}, whole process"
    yield _faster(what, reader + " alone", found["plan"], found["python-can"], (45, 60))
    what = f"`netcheck survey`, {of}, whole process"
    yield _faster(what, reader + " alone", found["survey"], found["python-can"], (None, None))
    yield _share("`survey`, " + of, "`read_capture`", found["surveyed"], found["read"], (5, 3))


def _random(folder: Path, sizes: Sizes, cache: Path | None, tell: Callable[[str], object]) -> Iterator[Row]:
    """A file that is read once by a new process, and read again by the same one."""
    tell(f"a log of {sizes.random:,} frames with random payloads")
    log = files.random_log(folder, sizes.random)
    calls: list[list[float]] = []

    def read() -> float:
        calls.append(_calls(log, cache))
        return calls[-1][0]

    found = in_turn(
        {
            "python-can": lambda: timed(lambda: sides.read_with_python_can(log)),
            "lines": lambda: timed(lambda: _count_lines(log)),
            "first": read,
        },
        sizes.rounds,
        again=dict.fromkeys(("lines", "first"), sizes.rounds),
    )
    log.unlink()
    later = statistics.median(seconds for each in calls for seconds in each[1:])
    what = f"`read_capture`, {sizes.random / 1e6:g} M frames of random payloads, "
    reader = "python-can's `CanutilsLogReader` loop"
    yield _faster(what + "first call of a process", reader, found["first"], found["python-can"], (60, 100))
    yield _faster(what + "later calls", reader, later, found["python-can"], (100, 150))
    yield _share(what + "later calls", "`wc -l`", later, found["lines"], (4, 3))


def _calls(log: Path, cache: Path | None) -> list[float]:
    """Seconds of each call of a new process."""
    environment = os.environ | ({"NETCHECK_CACHE_DIR": str(cache)} if cache else {})
    command = [sys.executable, "-m", "tests.benchmarks.calls", str(log), str(CALLS)]
    ran = subprocess.run(command, capture_output=True, text=True, env=environment, check=True, cwd=files.ROOT)
    return [float(word) for word in ran.stdout.split()]


def _talking(folder: Path, log: Path, sizes: Sizes, tell: Callable[[str], object]) -> Iterator[Row]:
    """Ten conversations in a long log: against reading alone, and ten times as many frames of them."""
    tell("ten conversations in it")
    sparse = files.talk_log(folder, log, 10, 200).rename(folder / "sparse.log")
    dense = files.talk_log(folder, log, 10, 20).rename(folder / "dense.log")
    found = in_turn(
        {
            "read": lambda: timed(lambda: netcheck.read_capture(sparse)),
            "sparse": lambda: timed(lambda: read_diagnostics([sparse])),
            "dense": lambda: timed(lambda: read_diagnostics([dense])),
        },
        sizes.rounds,
    )
    for path in (sparse, dense):
        path.unlink()
    of = f"{sizes.frames / 1e6:g} M frames, ten conversations of {sizes.frames // 200:,} frames"
    yield _share("readout, " + of, "`read_capture`", found["sparse"], found["read"], (None, None))
    more = f"readout, the same with {sizes.frames // 20:,} frames of conversation"
    yield _share(more, "readout with a tenth of them", found["dense"], found["sparse"], (10.0, None))


def _pausing(folder: Path, sizes: Sizes, tell: Callable[[str], object]) -> Row:
    tell(f"{SELDOM_IDS:,} ids with pauses")
    log = files.seldom_log(folder, sizes.seldom, SELDOM_IDS)
    run = {"survey": lambda: timed(lambda: survey(netcheck.open_capture(log)))}
    seconds = in_turn(run, sizes.rounds)["survey"]
    log.unlink()
    what = f"`survey`, {sizes.seldom / 1e6:g} M frames of {SELDOM_IDS:,} ids, a pause behind each"
    return _limit(what, "1 s, better 0.5 s", seconds_text(seconds), seconds, 0.5)


def _count_lines(log: Path) -> None:
    tool = shutil.which("wc")
    if tool:
        subprocess.run([tool, "-l", str(log)], stdout=subprocess.DEVNULL, check=True)
    else:  # a pass over memory by other means
        log.read_bytes().count(b"\n")


def _decoding(folder: Path, sizes: Sizes, tell: Callable[[str], object]) -> Row:
    log = files.many_signals_log(folder, sizes.decoded)
    ours = netcheck.load_database(files.MANY_SIGNALS)
    theirs = sides.load_with_cantools(files.MANY_SIGNALS)
    signals = sum(len(message.signals) for message in ours.messages)
    assert signals >= 2000
    values = sides.values_of(sides.decode_with_netcheck(log, ours))
    count: list[int] = []
    tell(f"decoding {values:,} values, in turn with cantools")
    found = in_turn(
        {
            "cantools": lambda: timed(lambda: count.append(sides.decode_with_cantools(log, theirs))),
            "netcheck": lambda: timed(lambda: sides.decode_with_netcheck(log, ours)),
        },
        sizes.rounds,
        again={"netcheck": sizes.rounds},
    )
    assert set(count) == {values}, "both sides decode the same"
    log.unlink()
    return _faster(
        f"`read_capture` + `decode`, {sizes.decoded / 1e6:g} M frames, {signals:,} signals",
        "python-can + cantools `decode_message(decode_choices=False)` loop",
        found["netcheck"],
        found["cantools"],
        (100, 150),
    )


def _memory(
    folder: Path, log: Path, sizes: Sizes, cache: Path | None, tell: Callable[[str], object]
) -> Iterator[Row]:
    more = 10 * sizes.frames
    commands = {
        "plan": ["plan", str(files.job(log))],
        "survey": ["survey", "--vehicle", str(files.VEHICLE), str(log)],
    }
    tell("memory")
    few = {name: _usual(command, sizes.rounds, cache).peak_mb for name, command in commands.items()}
    many: dict[str, Run] = {}
    if files.has_room(folder, more):
        tell(f"a log of {more:,} frames")
        longer = files.van_log(folder, more)
        commands = {
            "plan": ["plan", str(files.job(longer))],
            "survey": ["survey", "--vehicle", str(files.VEHICLE), str(longer)],
        }
        tell("memory for ten times as many frames")
        many = {name: _usual(command, sizes.rounds, cache) for name, command in commands.items()}
        longer.unlink()
    for name, peak in few.items():
        yield from _long(name, many.get(name), peak, sizes)


def _long(name: str, run: Run | None, few: float, sizes: Sizes) -> Iterator[Row]:
    """The rows of a command on a log of ten times as many frames. few: MB with one tenth of them."""
    of = f"`netcheck {name}`, {10 * sizes.frames / 1e6:g} M frames"
    none = "no room on the disk"
    ours = f"{run.peak_mb:.0f} MB" if run else none
    ratio = run.peak_mb / few if run else None
    same = f"the same with {sizes.frames / 1e6:g} M frames"
    yield Row(f"peak memory of {of}", same, ours, f"{few:.0f} MB", ratio, True, 1.2, None)
    limit, better = MEMORY_MB[name]
    yield _limit(
        f"peak memory of {of}",
        f"{limit} MB, better {better} MB",
        ours,
        run and run.peak_mb / limit,
        better / limit,
    )
    if name == "plan":
        seconds, aim = LONG_PLAN_S
        ours = seconds_text(run.seconds) if run else none
        yield _limit(
            of + ", whole process",
            f"{seconds:g} s, better {aim:g} s",
            ours,
            run and run.seconds / seconds,
            aim / seconds,
        )


def _proving(folder: Path, sizes: Sizes, cache: Path | None, tell: Callable[[str], object]) -> Iterator[Row]:
    """Before and after of one van, half of the frames each: proven, and reported on a page that opens."""
    half = max(sizes.frames // 2, 1)
    before, after = (files.van_log(folder, half, name, seed) for name, seed in (("before", 7), ("after", 8)))
    job, page = files.fitted_job(before, after), folder / "job.html"
    tell(f"proving and reporting {2 * half:,} frames")
    report = [*_NETCHECK, "report", str(job), "-o", str(page), "--force"]
    found = in_turn(
        {
            "prove": lambda: process([*_NETCHECK, "prove", str(job)], fine=PLANNED, cache=cache).seconds,
            "report": lambda: process(report, cache=cache).seconds,
        },
        sizes.rounds,
    )
    of = f"{2 * half / 1e6:g} M frames before and after, whole process"
    for name, (least, aim) in PROVING_S.items():
        seconds = found[name]
        what = f"`netcheck {name}`, {of}"
        yield _limit(
            what, f"{least:g} s, better {aim:g} s", seconds_text(seconds), seconds / least, aim / least
        )
    size = page.stat().st_size / 1e6
    yield _limit("the page of this report", f"{PAGE_MB:g} MB", f"{size:.1f} MB", size / PAGE_MB, 0.5)
    tell("opening the page")
    opened = _opening(page, sizes.rounds)
    ours = seconds_text(opened) if opened is not None else "no Chromium"
    share = None if opened is None else opened / PAGE_OPENS_S
    yield _limit(PAGE_OPENED, f"{PAGE_OPENS_S:g} s, better {PAGE_OPENS_S / 2:g} s", ours, share, 0.5)
    for path in (before, after, job, page):
        path.unlink()


def _opening(page: Path, rounds: int) -> float | None:
    """Seconds from asking for a page until it is loaded and its scripts have run; None without a Chromium."""
    if missing():
        return None
    loaded = "return performance.getEntriesByType('navigation')[0].loadEventEnd"
    found = []
    for _ in range(rounds):
        with browser() as driver:  # a new one each time, with nothing kept
            open_page(driver, page)
            found.append(driver.execute_script(loaded) / 1000)
    return statistics.median(found)


def _run(command: list[str], cache: Path | None) -> Run:
    return process([*_NETCHECK, *command], fine=PLANNED, cache=cache)


def _usual(command: list[str], rounds: int, cache: Path | None) -> Run:
    """The medians of some runs."""
    runs = [_run(command, cache) for _ in range(rounds)]
    seconds, peak = (statistics.median(run[place] for run in runs) for place in range(2))
    return runs[0]._replace(seconds=seconds, peak_mb=peak)


def _starting(sizes: Sizes, cache: Path | None, first: float) -> Iterator[Row]:
    found = in_turn(
        {
            "help": lambda: process([*_NETCHECK, "--help"], cache=cache).seconds,
            "imports": lambda: process([sys.executable, "-c", "import rich.console, typer"]).seconds,
            "plan": lambda: process([*_NETCHECK, "plan", str(files.DEMO)], fine=PLANNED, cache=cache).seconds,
        },
        sizes.starts,
    )
    imports = "`python -c 'import rich.console, typer'`"
    yield _share("`netcheck --help`, whole process", imports, found["help"], found["imports"], (1.6, 1.2))
    yield _share(
        "`netcheck plan` on the demo, later run", "`netcheck --help`", found["plan"], found["help"], (5, 4)
    )
    least, aim = FIRST_PLAN_S
    yield _limit(
        "`netcheck plan` on the demo, first run of all, which compiles",
        f"{least:g} s, better {aim:g} s",
        seconds_text(first),
        first / least,
        aim / least,
    )


def _replaying(folder: Path, sizes: Sizes) -> Iterator[Row]:
    log = folder / "replayed.log"
    cut = ["trim", str(files.DEMO_LOG), "-o", str(log), "--to", f"{sizes.replayed:g}", "--channel"]
    process([*_NETCHECK, *cut, files.DEMO_CHANNEL])
    what = f"`netcheck replay` over multicast to a second process, {sizes.replayed:g} s of the demo's log: "
    sides = [("period (median)", "the log's own"), ("jitter, 1st to 99th percentile", "the log's own")]
    why, found = "", None
    try:
        found = punctuality.measure(log, least=int(min(punctuality.LEAST, 15 * sizes.replayed)))
    except RuntimeError as error:
        why = str(error)
    log.unlink()
    if found is not None and not found.gaps:
        why = f"{found.sent - found.recorded} of {found.sent} frames lost"
    if found is None or why:
        for name, against in sides:
            yield Row(what + name, against, why, "–", None, is_share=True, least=None, aim=None)
        return
    of = f", median of {len(found.gaps)} messages"
    period, off = found.period_ms
    yield Row(
        what + sides[0][0],
        sides[0][1] + of,
        f"off by {off:.3f} ms",
        f"{period:.3f} ms",
        ratio=(period + off) / period,
        is_share=True,
        least=None,
        aim=None,
    )
    theirs, ours = found.jitter_ms
    yield Row(
        what + sides[1][0],
        sides[1][1] + of,
        f"{ours:.2f} ms",
        f"{theirs:.2f} ms",
        ratio=ours / theirs,
        is_share=True,
        least=None,
        aim=None,
    )


def _faster(
    what: str, against: str, ours: float, theirs: float, wanted: tuple[float | None, float | None]
) -> Row:
    return Row(what, against, seconds_text(ours), seconds_text(theirs), theirs / ours, False, *wanted)


def _share(
    what: str, against: str, ours: float, theirs: float, wanted: tuple[float | None, float | None]
) -> Row:
    return Row(what, against, seconds_text(ours), seconds_text(theirs), ours / theirs, True, *wanted)


def _limit(what: str, against: str, ours: str, share: float | None, aim: float) -> Row:
    """A figure against a fixed one. share: of it; aim: the share that we want"""
    return Row(what, against, ours, "–", share, True, 1.0, aim)
