"""The rows of ``netcheck find``: beside a script on numpy and pandas, and how often it is right."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from tests.benchmarks import files, sides
from tests.benchmarks.measure import Run, in_turn, process, timed
from tests.benchmarks.row import Row
from tests.benchmarks.rows import Sizes
from tests.find import quantity_scoring, scoring

MOST_S: Final = 10.0
PARTS: Final = ((0.1, 0.16), (0.3, 0.42), (0.6, 0.75))  # of the log, in which the role is said to be active
FINE: Final = (0, 3)  # whether or not a candidate stands clear
LEAST_SHARES: Final = {
    ("states", "first"): 0.95,
    ("states", "first three"): 0.99,
    ("states", "right of those scored 0.9"): 0.9,
    ("buttons", "first"): 0.9,
    ("track", "first, right borders"): 0.85,
    ("track", "right of those scored 0.9"): 0.9,
    ("signal", "first, right borders"): 0.85,
}
MOST_SHARE: Final = 0.02
CLAIMED: Final = "runs with one scored 0.9"
WORDS: Final = {
    "states": "a state by three presses",
    "buttons": "four buttons of one field, all of them",
    "track": "a quantity by a rough track, bits that moved",
    "signal": "a quantity by a known signal, bits that moved",
    "absent": "a state that is not there",
    "quantity absent": "a quantity that is not there",
}


def finding_rows(
    folder: Path, sizes: Sizes, tell: Callable[[str], object], cache: Path | None
) -> Iterator[Row]:
    """The search in a long log: time and memory."""
    tell(f"find in a log of {sizes.searched:,} frames, in turn with pandas")
    log = files.van_log(folder, sizes.searched)
    runs: list[Run] = []

    def ours() -> float:
        runs.append(process([sys.executable, "-m", "netcheck", *find_command(log)], fine=FINE, cache=cache))
        return runs[-1].seconds

    script = lambda: timed(lambda: sides.find_with_pandas(log, spans_of(log)))  # noqa: E731
    found = in_turn({"netcheck": ours, "pandas": script}, sizes.rounds)
    log.unlink()
    of = f"`netcheck find`, {sizes.searched / 1e6:g} M frames"
    seconds = found["netcheck"]
    theirs = found["pandas"]
    ours_text, theirs_text = f"{seconds:.2f} s", f"{theirs:.2f} s"
    yield Row(of, "a script on numpy and pandas", ours_text, theirs_text, theirs / seconds, False, None, None)
    yield Row(of, f"{MOST_S:g} s", ours_text, "–", seconds / MOST_S, True, 1.0, None)
    few = max(run.peak_mb for run in runs)
    yield _longer(folder, sizes, few, cache, tell)


def spans_of(log: Path) -> list[tuple[float, float]]:
    """Times at which the role is said to be active."""
    with log.open("rb") as file:
        first = file.readline()
        file.seek(-200, os.SEEK_END)
        last = file.readlines()[-1]
    seconds = float(last[1 : last.index(b")")]) - float(first[1 : first.index(b")")])
    return [(round(begin * seconds, 6), round(end * seconds, 6)) for begin, end in PARTS]


def find_command(log: Path) -> list[str]:
    """The search of one role."""
    at = [word for begin, end in spans_of(log) for word in ("--at", f"{begin:.6f}-{end:.6f}")]
    return ["find", str(log), "--role", "reverse-engaged", *at]


def _longer(folder: Path, sizes: Sizes, few: float, cache: Path | None, tell: Callable[[str], object]) -> Row:
    """Memory for ten times as many frames."""
    many = 10 * sizes.searched
    what, against = (
        f"peak memory of `netcheck find`, {many / 1e6:g} M frames",
        f"the same with {sizes.searched / 1e6:g} M frames",
    )
    if not files.has_room(folder, many):
        return Row(what, against, "no room on the disk", f"{few:.0f} MB", None, True, 1.2, None)
    tell(f"find in a log of {many:,} frames")
    log = files.van_log(folder, many)
    command = [sys.executable, "-m", "netcheck", *find_command(log)]
    run = process(command, fine=FINE, cache=cache)
    log.unlink()
    return Row(what, against, f"{run.peak_mb:.0f} MB", f"{few:.0f} MB", run.peak_mb / few, True, 1.2, None)


def score_rows(runs: int, tell: Callable[[str], object]) -> Iterator[Row]:
    """How often the search is right over traffic made from open DBCs; none for 0 runs."""
    if not runs:
        return
    makers: Mapping[str, Callable[[], Any]] = {
        "states": lambda: scoring.summary(scoring.run(scoring.states, runs)),
        "buttons": lambda: scoring.summary(scoring.run(scoring.buttons, max(runs // 4, 1))),
        "absent": lambda: scoring.summary(scoring.run(scoring.absent, runs)),
        "track": lambda: quantity_scoring.summary(scoring.run(quantity_scoring.track_run, runs)),
        "signal": lambda: quantity_scoring.summary(
            scoring.run(quantity_scoring.signal_run, max(runs // 2, 1))
        ),
        "quantity absent": lambda: quantity_scoring.summary(scoring.run(quantity_scoring.absent_run, runs)),
    }
    for name, make in makers.items():
        tell(f"scoring find: {WORDS[name]}")
        yield from shares(name, make())


def shares(name: str, found: Mapping[str, float]) -> Iterator[Row]:
    """The rows of one kind of runs, of its summary."""
    runs = f"{found['runs']:g} runs"
    if name.endswith("absent"):
        share = found[CLAIMED]
        what = f"`netcheck find`: {WORDS[name]}: {CLAIMED}"
        yield Row(
            what, f"{MOST_SHARE:.0%} of {runs}", f"{share:.1%}", "–", share / MOST_SHARE, True, 1.0, None
        )
        return
    for (kind, key), least in LEAST_SHARES.items():
        if kind == name:
            what = f"`netcheck find`: {WORDS[name]}: {key}"
            share = found[key]
            yield Row(what, f"{least:.0%} of {runs}", f"{share:.1%}", "–", share / least, False, 1.0, None)
