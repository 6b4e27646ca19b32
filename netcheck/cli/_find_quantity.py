"""``netcheck find`` for a quantity: by a rough track, by marks with ranges, or by another signal."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from netcheck.cli._options import Format
from netcheck.cli._output import json_text, look
from netcheck.errors import InputError, UsageError
from netcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable

    from netcheck.find import Known, Movements, QuantitySearch
    from netcheck.report.finding import DraftFile

_NUMBER: Final = r"\d+(?:\.\d*)?"
_POINT: Final = re.compile(rf"\s*({_NUMBER})\s*s?\s*:\s*([-−]?{_NUMBER})\s*([^\s\d,:][^,:]*?)?\s*")
_TRACK_REMEDY: Final = 'write SECONDS:VALUE for each corner, such as "0 s:0, 12 s:30, 20 s:30 km/h"'
_MARGIN: Final = 3.0  # s around what is known, in which samples are taken, too


@dataclass(frozen=True)
class KnownOptions:
    """What a user gives to say what the quantity did.

    track:   text of --track
    like:    MESSAGE.SIGNAL of a DBC in ``dbc``
    like_in: the capture that holds it, if not the one that is searched
    """

    track: str = ""
    dbc: tuple[Path, ...] = ()
    like: str = ""
    like_in: Path | None = None

    def __bool__(self) -> bool:
        """Whether a quantity is asked for."""
        return bool(self.track or self.like)

    @property
    def files(self) -> list[Path]:
        """Files that are read for it."""
        return [*self.dbc, *([self.like_in] if self.like_in else [])]


def check_known(options: KnownOptions, *, has_times: bool) -> None:
    """Options that contradict each other. has_times: times of a state are given, too."""
    if options.track and options.like:
        raise UsageError("--track and --like both say what the quantity did", remedy="give one of them")
    if options and has_times:
        raise UsageError("--at gives times of a state", remedy="leave it out with --track and --like")
    if bool(options.like) != bool(options.dbc):
        raise UsageError(
            "--like names a signal of a DBC", remedy="give both --dbc FILE and --like MESSAGE.SIGNAL"
        )
    if options.like_in and not options.like:
        raise UsageError(
            "--like-in is the capture of a known signal", remedy="name it: --like MESSAGE.SIGNAL"
        )
    if options.track:
        parsed_track(options.track)


def parsed_track(text: str) -> Known:
    """``0 s:0, 20 s:30 km/h``: corners in seconds and a unit, which stands at the last one at least."""
    from netcheck.find import track

    points, units = [], []
    for part in text.split(","):
        match = _POINT.fullmatch(part)
        if match is None:
            raise UsageError(f"--track: '{part.strip()}' is not a point of a track", remedy=_TRACK_REMEDY)
        points.append((float(match[1]), float(match[2].replace("−", "-"))))
        units += [match[3]] if match[3] else []
    if len(set(units)) > 1:
        raise UsageError(
            f"--track has several units: {', '.join(dict.fromkeys(units))}", remedy=_TRACK_REMEDY
        )
    times = [time for time, _ in points]
    if len(points) < 2 or sorted(set(times)) != times:
        raise UsageError("--track needs two points or more, in order of time", remedy=_TRACK_REMEDY)
    return track(points, units[0] if units else "")


def search_quantity(
    capture: Path,
    role: str,
    options: KnownOptions,
    ranges_of_marks: Sequence[tuple[float, float, float, float]],
    quiet: Sequence[Path],
    read: Callable[[Path, tuple[float, float] | None], Movements],
) -> tuple[QuantitySearch, Movements]:
    """Reads what is needed and searches; with what moved in the capture. Raises InputError and UsageError.

    read: a capture, with samples of a part of it
    """
    from netcheck.catalogue import roles
    from netcheck.find import find_quantity, ranges

    info = roles().get(role)
    unit = info.unit if info else ""
    known = None
    if options.track:
        known = parsed_track(options.track)
    elif ranges_of_marks:
        known = ranges(ranges_of_marks, unit)
    part = None if known is None else (known.spans[0][0] - _MARGIN, known.spans[-1][1] + _MARGIN)
    movements = read(capture, part)
    if options.like:
        known = _signal(movements, options, read)
    still = [read(path, None) for path in quiet]
    return find_quantity(movements, known, role, unit=unit, quiet=still), movements


def _signal(
    movements: Movements, options: KnownOptions, read: Callable[[Path, tuple[float, float] | None], Movements]
) -> Known:
    from netcheck.database import load_database
    from netcheck.files import one_of
    from netcheck.find import known_signal

    database = load_database(*options.dbc)
    name, _, signal_name = options.like.partition(".")
    message = database.message(name)
    signal = message.signal(signal_name) if message else None
    if message is None or signal is None:
        names = [f"{each.name}.{one.name}" for each in database.messages for one in each.signals]
        raise UsageError(f"--like {options.like}: no DBC has it", remedy=one_of(options.like, names))
    source = movements if options.like_in is None else read(options.like_in, None)
    known = known_signal(source, message, signal, later_ns=movements.start_ns - source.start_ns)
    if known is None:
        raise InputError(
            source.file,
            f"{options.like} never came in it",
            remedy="check that the DBC fits this network, or name another signal",
        )
    return known


def refuse_quantity(search: QuantitySearch, capture: Path) -> None:
    """What is known of the quantity and cannot be used."""
    from netcheck.find import QuantityProblem
    from netcheck.report.finding import QUANTITY_PROBLEM_REMEDIES, QUANTITY_PROBLEM_WORDS

    problem = search.problem
    if problem is None:
        return
    text, remedy = QUANTITY_PROBLEM_WORDS[problem], QUANTITY_PROBLEM_REMEDIES[problem]
    if problem is QuantityProblem.NOTHING_KNOWN:
        raise UsageError(f"{search.role}: {text}", remedy=remedy)
    raise InputError(capture, f"{search.role}: {text}", remedy=remedy)


def quantity_rendered(
    search: QuantitySearch, draft: DraftFile | None, form: Format, output: Path | None, *, verbose: bool
) -> str:
    """As text or JSON."""
    from netcheck.report.finding import quantity_json, quantity_text

    if form is Format.JSON:
        return json_text(quantity_json(search, draft))
    how = look(output)
    return quantity_text(search, width=how.width, colour=how.colour, verbose=verbose, draft=draft)
