"""``netcheck find``."""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from netcheck.cli import _status as status
from netcheck.cli._find_quantity import (
    KnownOptions,
    check_known,
    quantity_rendered,
    quantity_status,
    refuse_quantity,
    search_quantity,
)
from netcheck.cli._options import CsvOption, Format, FormatOption, OutputOption
from netcheck.cli._output import check_target, json_text, look, open_output
from netcheck.errors import InputError, UsageError

if TYPE_CHECKING:
    from netcheck.cli._progress import Progress
    from netcheck.find import FindMark, Movements, Search

_NUMBER: Final = r"\d+(?:\.\d*)?"
_SPAN: Final = re.compile(rf"\s*({_NUMBER})\s*s?\s*[-–]\s*({_NUMBER})\s*s?\s*")


def find_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    capture: Annotated[Path, typer.Argument(metavar="CAPTURE", help="The capture in which it was worked.")],
    role: Annotated[str, typer.Option("--role", metavar="ROLE", help="The role that is looked for.")],
    marks: Annotated[
        Path | None,
        typer.Option(
            "--marks",
            metavar="FILE",
            help="Marks file. By default the one beside the capture. Marks of other roles count, too.",
        ),
    ] = None,
    at: Annotated[
        list[str] | None,
        typer.Option(
            "--at", metavar="FROM-TO", help="When it was active, in seconds from the first frame. Repeatable."
        ),
    ] = None,
    state: Annotated[
        str | None,
        typer.Option("--state", metavar="STATE", help="The marked state to look for. Default: active."),
    ] = None,
    quiet: Annotated[
        list[Path] | None,
        typer.Option(
            "--quiet", metavar="CAPTURE", help="A capture in which nobody touched anything. Repeatable."
        ),
    ] = None,
    track: Annotated[
        str,
        typer.Option(
            "--track",
            metavar="TRACK",
            help='For a quantity: roughly what it did, such as "0 s:0, 12 s:30, 20 s:30 km/h".',
        ),
    ] = "",
    dbc: Annotated[
        list[Path] | None,
        typer.Option(
            "--dbc", metavar="FILE", help="For a quantity: the DBC with a known signal. Repeatable."
        ),
    ] = None,
    like: Annotated[
        str,
        typer.Option(
            "--like", metavar="MESSAGE.SIGNAL", help="For a quantity: a known signal that moves like it."
        ),
    ] = "",
    like_in: Annotated[
        Path | None,
        typer.Option(
            "--like-in",
            metavar="CAPTURE",
            help="Where the known signal is, recorded at the same time. By default the capture itself.",
        ),
    ] = None,
    verbose: Annotated[
        bool, typer.Option("-v", "--verbose", help="Show all candidates, and all bits put behind.")
    ] = False,
    csv: CsvOption = "",
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
) -> int:
    """Say which bits of a capture follow the marks of a role, where no DBC describes it.

    For a quantity, such as a speed, give a rough track, marks with ranges, or a signal that moves like it.

    netcheck only reads files. It sends nothing. Exit status 0: one candidate stands clear; 3: none does.
    """
    from netcheck.cli._progress import progress_bar
    from netcheck.find import find_states

    known = KnownOptions(track, tuple(dbc or ()), like, like_in)
    check_known(known, has_times=bool(at))
    inputs = [capture, *(quiet or []), *([marks] if marks else []), *known.files]
    check_target(output, inputs)
    spans = [] if known or at else _ranges(capture, marks, role)
    if known or spans:
        with progress_bar() as progress:
            read = partial(_movements, progress=progress, csv=csv)
            found_quantity = search_quantity(capture, role, known, spans, quiet or [], read)
        refuse_quantity(found_quantity, capture)
        with open_output(output, inputs=inputs) as out:
            out.write(quantity_rendered(found_quantity, format, output, verbose=verbose))
        return quantity_status(found_quantity)
    found = [*_spans(role, state, at or []), *_marks(capture, marks, has_spans=bool(at))]
    with progress_bar() as progress:
        movements = _movements(capture, progress=progress, csv=csv)
        still = [_movements(path, progress=progress, csv=csv) for path in quiet or []]
    search = find_states(movements, found, role, state=state, quiet=still)
    _refuse(search, capture, movements)
    with open_output(output, inputs=inputs) as out:
        out.write(_rendered(search, format, output, verbose=verbose))
    return status.GO if search.separated else status.UNPROVEN


def _spans(role: str, state: str | None, texts: Sequence[str]) -> list[FindMark]:
    from netcheck.find import FindMark

    found = []
    for text in texts:
        match = _SPAN.fullmatch(text)
        if match is None or float(match[1]) >= float(match[2]):
            raise UsageError(f"--at {text}", remedy="write FROM-TO in seconds, such as 12.5-15")
        found.append(FindMark(role, state or "active", float(match[1]), float(match[2])))
    return found


def _marks(capture: Path, marks: Path | None, *, has_spans: bool) -> list[FindMark]:
    """Of a file, or of the one beside the capture; ranges are for quantities."""
    from netcheck.files import load_marks, side_marks
    from netcheck.find import FindMark

    loaded = load_marks(marks) if marks else () if has_spans else side_marks(capture)
    return [
        FindMark(each.mark.role, str(each.mark.state), each.mark.from_, each.mark.to)
        for each in loaded
        if each.mark.state is not None
    ]


def _ranges(capture: Path, marks: Path | None, role: str) -> list[tuple[float, float, float, float]]:
    """From, to, lowest and highest value of a role's marks with a range; none where one has a state."""
    from netcheck.files import load_marks, side_marks

    loaded = load_marks(marks) if marks else side_marks(capture)
    own = [each.mark for each in loaded if each.mark.role == role]
    if any(mark.between is None for mark in own):
        return []
    return [(mark.from_, mark.to, *mark.between) for mark in own if mark.between is not None]


def _movements(
    path: Path, sampled: tuple[float, float] | None = None, *, progress: Progress | None, csv: str
) -> Movements:
    from netcheck.capture import open_capture
    from netcheck.find import read_movements

    told = partial(progress, path.name) if progress else None
    with closing(open_capture(path, progress=told, csv=csv)) as stream:
        return read_movements(stream, sampled=sampled)


def _refuse(search: Search, capture: Path, movements: Movements) -> None:
    """Marks that cannot be used, or a capture that cannot be compared with any."""
    from netcheck.find import MarkProblem
    from netcheck.report.finding import PROBLEM_REMEDIES, problem_text

    problem = search.problem
    if problem is None:
        return
    if problem is MarkProblem.NONE_OF_ROLE:
        raise UsageError(problem_text(search.asked), remedy=PROBLEM_REMEDIES[problem])
    raise InputError(capture, problem_text(search.asked), remedy=PROBLEM_REMEDIES[problem])


def _rendered(search: Search, form: Format, output: Path | None, *, verbose: bool) -> str:
    from netcheck.report.finding import find_json, find_text

    if form is Format.JSON:
        return json_text(find_json(search))
    how = look(output)
    return find_text(search, width=how.width, colour=how.colour, verbose=verbose)
