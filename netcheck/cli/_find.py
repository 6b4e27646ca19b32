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
    refuse_quantity,
    search_quantity,
)
from netcheck.cli._options import CsvOption, Format, FormatOption, OutputOption
from netcheck.cli._output import check_target, json_text, look, open_output
from netcheck.errors import InputError, UsageError
from netcheck.records import dataclass
from netcheck.words import unique

if TYPE_CHECKING:
    from netcheck.cli._progress import Progress
    from netcheck.find import FindMark, Movements, QuantitySearch, Search
    from netcheck.report.finding import DraftFile

_NUMBER: Final = r"\d+(?:\.\d*)?"
_SPAN: Final = re.compile(rf"\s*({_NUMBER})\s*s?\s*[-–]\s*({_NUMBER})\s*s?\s*")


def find_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    capture: Annotated[Path, typer.Argument(metavar="CAPTURE", help="The capture in which it was worked.")],
    role: Annotated[
        list[str],
        typer.Option(
            "--role", metavar="ROLE", help="The role that is looked for. Repeatable, with marks of each."
        ),
    ],
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
            "--quiet",
            metavar="CAPTURE",
            help="A capture in which nobody touched anything. Repeatable. Without marks: "
            "what moved only in CAPTURE.",
        ),
    ] = None,
    draft: Annotated[
        Path | None,
        typer.Option(
            "--draft",
            metavar="F.dbc",
            help="A DBC to which what stands clear is added, and F.vehicle.toml beside it with the role "
            "entries. What is there stays.",
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
    from netcheck.cli._draft import check_draft, extend_draft
    from netcheck.report.finding import draft_conflicts

    asked = SearchFor(unique(role), marks, tuple(at or ()), state, tuple(quiet or ()))
    known = KnownOptions(track, tuple(dbc or ()), like, like_in)
    check_known(known, has_times=bool(at))
    inputs = [*asked.inputs(capture), *known.files]
    check_target(output, inputs)
    check_draft(draft, [*inputs, *([output] if output else [])])
    quantity = quantity_for(capture, asked, known, csv)
    searches: Sequence[Search | QuantitySearch]
    if quantity is not None:
        search, movements = quantity
        drafted = extend_draft(draft, search, movements) if draft else None
        searches, text = [search], quantity_rendered(search, drafted, format, output, verbose=verbose)
    else:
        states, movements = search_for(capture, asked, csv)
        drafted = extend_draft(draft, states, movements) if draft else None
        searches, text = states, _rendered(states, drafted, format, output, verbose=verbose)
    with open_output(output, inputs=inputs) as out:
        out.write(text)
    is_clear = all(search.separated for search in searches)
    is_settled = drafted is None or not draft_conflicts(drafted.change.roles)
    return status.GO if is_clear and is_settled else status.UNPROVEN


@dataclass(frozen=True)
class SearchFor:
    """What a search is given on the command line."""

    roles: tuple[str, ...]
    marks: Path | None = None
    at: tuple[str, ...] = ()
    state: str | None = None
    quiet: tuple[Path, ...] = ()

    def inputs(self, capture: Path) -> list[Path]:
        """The files that it reads."""
        return [capture, *self.quiet, *([self.marks] if self.marks else [])]


def quantity_for(
    capture: Path, asked: SearchFor, known: KnownOptions, csv: str
) -> tuple[QuantitySearch, Movements] | None:
    """A search for a quantity and what moved, where one is asked for; None for states.

    Raises UsageError and InputError.
    """
    from netcheck.cli._progress import progress_bar

    spans = []
    if not known and not asked.at:
        spans = [span for role in asked.roles for span in _ranges(capture, asked.marks, role)]
    if not known and not spans:
        return None
    if len(asked.roles) > 1:
        raise UsageError("a quantity with several roles", remedy="name one --role, and run it for each")
    with progress_bar() as progress:
        read = partial(_movements, progress, csv)
        found, movements = search_quantity(capture, asked.roles[0], known, spans, asked.quiet, read)
    refuse_quantity(found, capture)
    return found, movements


def search_for(capture: Path, asked: SearchFor, csv: str) -> tuple[list[Search], Movements]:
    """A search for each role, and what moved. Raises UsageError or InputError for marks without use."""
    from netcheck.cli._progress import progress_bar

    if asked.at and len(asked.roles) > 1:
        raise UsageError("--at with several roles", remedy="give their marks in a file with --marks")
    found = [
        *_spans(asked.roles[0], asked.state, asked.at),
        *_marks(capture, asked.marks, has_spans=bool(asked.at)),
    ]
    with progress_bar() as progress:
        movements = _movements(progress, csv, capture)
        still = [_movements(progress, csv, path) for path in asked.quiet]
    searches = [_search(movements, found, role, asked.state, still) for role in asked.roles]
    for search in searches:
        _refuse(search, capture)
    return searches, movements


def _search(
    movements: Movements,
    marks: Sequence[FindMark],
    role: str,
    state: str | None,
    quiet: Sequence[Movements],
) -> Search:
    """With marks; where there are none of the role, what moved here and in no quiet capture."""
    from netcheck.find import find_moved, find_states

    if quiet and not any(mark.role == role for mark in marks):
        return find_moved(movements, role, quiet, state=state)
    return find_states(movements, marks, role, state=state, quiet=quiet)


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
    progress: Progress | None, csv: str, path: Path, sampled: tuple[float, float] | None = None
) -> Movements:
    from netcheck.capture import open_capture
    from netcheck.find import read_movements

    told = partial(progress, path.name) if progress else None
    with closing(open_capture(path, progress=told, csv=csv)) as stream:
        return read_movements(stream, sampled=sampled)


def _refuse(search: Search, capture: Path) -> None:
    """Marks that cannot be used, or a capture that cannot be compared with any."""
    from netcheck.find import MarkProblem
    from netcheck.report.finding import PROBLEM_REMEDIES, problem_text

    problem = search.problem
    if problem is None:
        return
    if problem is MarkProblem.NONE_OF_ROLE:
        raise UsageError(problem_text(search.asked), remedy=PROBLEM_REMEDIES[problem])
    raise InputError(capture, problem_text(search.asked), remedy=PROBLEM_REMEDIES[problem])


def _rendered(
    searches: Sequence[Search], draft: DraftFile | None, form: Format, output: Path | None, *, verbose: bool
) -> str:
    from netcheck.report.finding import find_json, find_text

    if form is Format.JSON:
        return json_text(find_json(searches, draft))
    how = look(output)
    return find_text(searches, width=how.width, colour=how.colour, verbose=verbose, draft=draft)
