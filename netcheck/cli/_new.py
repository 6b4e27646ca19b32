"""``netcheck new``."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from netcheck.cli._options import CsvOption, ForceOption, Format, FormatOption, NoCacheOption
from netcheck.cli._output import check_new, check_target, json_text, note, open_output
from netcheck.errors import UsageError


class NewKind(StrEnum):
    """The kinds of file that can be started."""

    VEHICLE = "vehicle"
    RETROFIT = "retrofit"
    JOB = "job"


_OF_KIND = {
    NewKind.VEHICLE: {"--dbc", "--name", "--years", "--bitrate", "--capture"},
    NewKind.RETROFIT: {"--name", "--title", "--need", "--supply"},
    NewKind.JOB: {"--vehicle", "--year", "--item", "--capture"},
}


def new_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    kind: Annotated[NewKind, typer.Argument(metavar="KIND", help="vehicle, retrofit or job.")],
    output: Annotated[
        Path | None, typer.Option("-o", "--output", metavar="FILE", help="The new file; default: the screen.")
    ] = None,
    name: Annotated[str, typer.Option("--name", help="vehicle, retrofit: its name.")] = "",
    years: Annotated[
        str, typer.Option("--years", metavar="A-B", help="vehicle: first and last model year.")
    ] = "",
    dbc: Annotated[
        list[str] | None,
        typer.Option("--dbc", metavar="[NET=]FILE", help="vehicle: a network and its DBC file. Repeatable."),
    ] = None,
    bitrate: Annotated[
        list[str] | None,
        typer.Option("--bitrate", metavar="NET=N", help="vehicle: bit rate of a network. Repeatable."),
    ] = None,
    capture: Annotated[
        list[Path] | None,
        typer.Option("--capture", metavar="FILE", help="vehicle, job: captures of the vehicle. Repeatable."),
    ] = None,
    title: Annotated[str, typer.Option("--title", help="retrofit: what it is, in words.")] = "",
    need: Annotated[
        list[str] | None,
        typer.Option("--need", metavar="R", help="retrofit: a role that it needs. Repeatable."),
    ] = None,
    supply: Annotated[
        list[str] | None,
        typer.Option("--supply", metavar="R", help="retrofit: a role that it sends. Repeatable."),
    ] = None,
    vehicle: Annotated[
        Path | None, typer.Option("--vehicle", metavar="FILE", help="job: the vehicle file.")
    ] = None,
    year: Annotated[int | None, typer.Option("--year", metavar="Y", help="job: the model year.")] = None,
    item: Annotated[
        list[str] | None,
        typer.Option("--item", metavar="R[@NET]", help="job: a retrofit and its network. Repeatable."),
    ] = None,
    csv: CsvOption = "",
    force: ForceOption = False,
    no_cache: NoCacheOption = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
) -> int:
    """Start a vehicle, retrofit or job file, with a question wherever a person has to decide.

    What is not given is asked for on a terminal. The file loads as it is. With --format json the questions
    and the file come as JSON on the screen, beside the file of -o.
    """
    from netcheck.report.authoring import new_file_json
    from netcheck.words import counted

    given = {
        "--name": name,
        "--years": years,
        "--dbc": dbc,
        "--bitrate": bitrate,
        "--capture": capture,
        "--title": title,
        "--need": need,
        "--supply": supply,
        "--vehicle": vehicle,
        "--year": year,
        "--item": item,
    }
    for option, value in given.items():
        if value and option not in _OF_KIND[kind]:
            raise UsageError(
                f"{option} is not for a new {kind.value} file", remedy="see 'netcheck new --help'"
            )
    if kind is NewKind.VEHICLE:
        from netcheck.cli._new_vehicle import VehicleOptions, vehicle_text

        options = VehicleOptions(
            name=_asked(name, "--name", "Name of the vehicle"),
            years=_asked(years, "--years", "First and last model year, such as 2017-2022"),
            dbc=tuple(dbc or _several("--dbc", "DBC file of a network, as NAME=FILE")),
            bitrate=tuple(bitrate or ()),
            captures=tuple(capture or ()),
            csv=csv,
            cache=not no_cache,
        )
        _check_output(output, [*options.files(), *(capture or [])], force)
        text = vehicle_text(options, _folder(output))
    elif kind is NewKind.RETROFIT:
        _check_output(output, [], force)
        text = _retrofit(
            _asked(name, "--name", "Name of the retrofit, such as park-distance"),
            title,
            need or [],
            supply or [],
        )
    else:
        from netcheck.cli._new_job import job_text

        path = Path(_asked(vehicle.as_posix() if vehicle else "", "--vehicle", "Vehicle file"))
        _check_output(output, [path, *(capture or [])], force)
        items = item or _several("--item", "Retrofit and its network, as NAME@NETWORK")
        text = job_text(path, year, items, capture or [], _folder(output), csv=csv, cache=not no_cache)
    if output is not None or format is Format.TEXT:
        with open_output(output) as out:
            out.write(text)
    summary = new_file_json(kind.value, output.as_posix() if output else None, text)
    if format is Format.JSON:
        with open_output(None) as out:
            out.write(json_text(summary))
    elif output is not None:
        note(f"{output}: {counted(len(summary['questions']), 'question')} to decide: lines with '# decide'")
    return 0


def _check_output(output: Path | None, inputs: Sequence[Path], force: bool) -> None:
    check_target(output, inputs)
    if output is not None:
        check_new(output, force=force)


def _folder(output: Path | None) -> Path:
    """The folder that paths in the new file count from."""
    return output.resolve().parent if output is not None else Path.cwd()


def _is_terminal() -> bool:
    return sys.stdin is not None and sys.stdin.isatty() and sys.stderr.isatty()


def _asked(value: str, option: str, question: str) -> str:
    """An option's value, or the answer of the person at the terminal."""
    if value:
        return value
    if not _is_terminal():
        raise UsageError(f"{option} is missing", remedy="give it, or call this on a terminal to be asked")
    return str(typer.prompt(question, err=True)).strip()


def _several(option: str, question: str) -> list[str]:
    """Answers until an empty one; at least one."""
    answers = [_asked("", option, question)]
    while answer := str(
        typer.prompt("Another one, or Enter", default="", show_default=False, err=True)
    ).strip():
        answers.append(answer)
    return answers


def _retrofit(name: str, title: str, needs: Sequence[str], supplies: Sequence[str]) -> str:
    from netcheck.report.authoring import RetrofitStart, new_retrofit_text

    for option, roles in (("--need", needs), ("--supply", supplies)):
        for role in roles:
            _check_role(option, role)
    return new_retrofit_text(RetrofitStart(name, title or name, tuple(needs), tuple(supplies)))


def _check_role(option: str, role: str) -> None:
    """A role of the vocabulary, or one of your own in its form; a near miss is most likely misspelt."""
    from netcheck.catalogue import roles
    from netcheck.files import ROLE_PATTERN
    from netcheck.words import similar

    if not ROLE_PATTERN.fullmatch(role):
        raise UsageError(f"{option}: '{role}' is not a role name", remedy="see 'netcheck roles --list'")
    if role not in roles() and (near := similar(role, roles(), 0.85)):
        raise UsageError(f"{option}: '{role}' is not in the vocabulary", remedy=f"did you mean '{near[0]}'?")
