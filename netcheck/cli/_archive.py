"""``netcheck archive``: many captures as one store, and questions to it."""

from __future__ import annotations

from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from netcheck.cli import _status as status
from netcheck.cli._inputs import vehicle_inputs
from netcheck.cli._options import Format, FormatOption, NoCacheOption, OutputOption
from netcheck.cli._output import check_target, json_text, look, open_output
from netcheck.cli._progress import LEAST_BYTES, Progress, progress_bar
from netcheck.errors import UsageError

if TYPE_CHECKING:
    from netcheck.archive import Archive

StoreOption = Annotated[
    Path | None,
    typer.Option(
        "--store",
        metavar="FOLDER",
        help="The archive. Default: NETCHECK_ARCHIVE_DIR, or one in your data folder.",
    ),
]


class Fitting(StrEnum):
    """Which side of the fitting a capture is from."""

    BEFORE = "before"
    AFTER = "after"


class AnswerFormat(StrEnum):
    """Text for people; the rest for scripts."""

    TEXT = "text"
    JSON = "json"
    CSV = "csv"
    PARQUET = "parquet"


archive_app = typer.Typer(
    help="Many captures as one archive of Parquet files, and questions to it.",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


@archive_app.command("add")
def add_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    paths: Annotated[
        list[str],
        typer.Argument(
            metavar="FOLDER|CAPTURE|JOB",
            help="Captures, folders of them, and job files, which say what they are of.",
        ),
    ],
    store: StoreOption = None,
    vehicle: Annotated[
        Path | None,
        typer.Option("--vehicle", metavar="FILE", help="Vehicle file of the captures that no job names."),
    ] = None,
    year: Annotated[int | None, typer.Option("--year", metavar="YEAR", help="Their model year.")] = None,
    vin: Annotated[
        str | None,
        typer.Option("--vin", metavar="VIN", help="The VIN of their van, where they do not tell it."),
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option(
            "--scheduler",
            metavar="ADDRESS",
            help="A Dask scheduler whose workers read the captures. Default: the processors of this machine.",
        ),
    ] = None,
    fitting: Annotated[
        Fitting | None, typer.Option("--fitting", help="Whether they are from before or after the fitting.")
    ] = None,
    frames: Annotated[
        bool, typer.Option("--frames", help="Keep the frames, too; VINs in them are hidden.")
    ] = False,
    keep_vin: Annotated[
        bool,
        typer.Option(
            "--keep-vin", help="VINs stay readable in this archive: only for one that is empty yet."
        ),
    ] = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
    no_cache: NoCacheOption = False,
) -> int:
    """Add captures, each once. What changed since is read again; what cannot be read is listed.

    netcheck only reads the captures. It sends nothing.
    """
    from netcheck.archive import (
        Adder,
        CaptureFacts,
        compact_if_it_pays,
        find_captures,
        open_store,
        reader_for,
    )
    from netcheck.report.archive import added_json, added_text

    known = CaptureFacts(vehicle, year, _vin(vin), fitting.value if fitting else None)
    wanted = find_captures(paths, known)
    opened = open_store(store, create=True)
    if keep_vin:
        opened.keep_vin(keeps=True)
    check_target(output, opened.files())
    with progress_bar() as progress:
        told = partial(_tell, progress) if progress else None
        adder = Adder(opened, frames=frames, reader=reader_for(scheduler), cache=not no_cache, told=told)
        added = adder.add(wanted.captures)
    compact_if_it_pays(opened)
    added.others = wanted.others
    added.refused.update(wanted.refused)
    how = look(output)
    folder = str(opened.folder)
    text = (
        json_text(added_json(added, folder))
        if format is Format.JSON
        else added_text(added, folder, width=how.width, colour=how.colour)
    )
    _write(text, output)
    return status.BAD_INPUT if added.refused else status.GO


def _tell(progress: Progress, done: int, total: int) -> None:
    """A bar over captures, as others are over bytes."""
    progress("captures", done * (LEAST_BYTES + 1), total * (LEAST_BYTES + 1))


def _vin(text: str | None) -> str | None:
    if text is None:
        return None
    from netcheck.diagnostics import vin_facts

    number = text.strip().upper()
    if vin_facts(number) is None:
        raise UsageError(f"--vin {text}: not a VIN", remedy="17 letters and digits, none of them I, O or Q")
    return number


@archive_app.command("list")
def list_command(
    store: StoreOption = None,
    verbose: Annotated[bool, typer.Option("-v", "--verbose", help="Show every capture.")] = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
) -> int:
    """What the archive holds, by vehicle and model year."""
    from netcheck.archive import show_store
    from netcheck.report.archive import store_json, store_text

    with _opened(store, output) as archive:
        shown = show_store(archive)
    how = look(output)
    text = (
        json_text(store_json(shown))
        if format is Format.JSON
        else store_text(shown, width=how.width, colour=how.colour, verbose=verbose)
    )
    return _write(text, output)


@archive_app.command("show")
def show_command(
    capture: Annotated[
        str | None,
        typer.Argument(metavar="CAPTURE", help="File name of a capture, or the beginning of its digest."),
    ] = None,
    store: StoreOption = None,
    tables: Annotated[
        bool, typer.Option("--tables", help="Tables and columns that a question may name.")
    ] = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
) -> int:
    """One capture of the archive, or its tables."""
    from netcheck.archive import show_capture
    from netcheck.report.archive import capture_json, capture_text, tables_json, tables_text

    if tables == (capture is not None):
        raise UsageError("name a capture, or give --tables", remedy="see 'netcheck archive show --help'")
    how, is_json = look(output), format is Format.JSON
    if capture is None:
        text = json_text(tables_json()) if is_json else tables_text(width=how.width, colour=how.colour)
        return _write(text, output)
    with _opened(store, output) as archive:
        shown = show_capture(archive, capture)
    text = (
        json_text(capture_json(shown)) if is_json else capture_text(shown, width=how.width, colour=how.colour)
    )
    return _write(text, output)


@archive_app.command("ask")
def ask_command(
    question: Annotated[
        list[str],
        typer.Argument(
            metavar="QUESTION",
            help='where ROLE, since ROLE, period MESSAGE, who-sends ID, differs YEAR YEAR, or "SQL".',
        ),
    ],
    store: StoreOption = None,
    model: Annotated[
        str | None,
        typer.Option("--model", metavar="NAME", help="Only this vehicle model, for named questions."),
    ] = None,
    network: Annotated[
        str | None, typer.Option("--network", metavar="NAME", help="Only this network, for named questions.")
    ] = None,
    format: Annotated[  # noqa: A002
        AnswerFormat, typer.Option("--format", help="text for people; json, csv or parquet for scripts.")
    ] = AnswerFormat.TEXT,
    output: OutputOption = None,
) -> int:
    """Ask the archive: a question with a name, or SQL that reads its tables (DuckDB's dialect)."""
    from netcheck.archive import QUESTIONS, ask_named
    from netcheck.report.archive import answer_csv, answer_json, answer_text, named_json, named_text

    how = look(output)
    name, *words = question
    is_sql = name not in QUESTIONS and len(question) == 1 and " " in name.strip()
    with _opened(store, output) as archive:
        if is_sql and (model is not None or network is not None):
            raise UsageError("--model or --network with SQL", remedy="write WHERE vehicle = '…'")
        answered = None if is_sql else ask_named(archive, name, words, model, network)
        answer = answered.answer if answered else archive.ask(name)
        if format is AnswerFormat.PARQUET:
            with open_output(output, binary=True) as out:
                answer.write_parquet(out.buffer)
            return status.GO
    if format is AnswerFormat.CSV:
        with open_output(output) as out:
            for line in answer_csv(answer):
                out.write(line)
        return status.GO
    if format is AnswerFormat.JSON:
        return _write(json_text(named_json(answered) if answered else answer_json(answer, name)), output)
    text = (
        named_text(answered, width=how.width, colour=how.colour)
        if answered
        else answer_text(answer, width=how.width, colour=how.colour)
    )
    return _write(text, output)


@archive_app.command("check")
def check_command(
    vehicle: Annotated[Path, typer.Argument(metavar="VEHICLE", help="The vehicle file (*.vehicle.toml).")],
    store: StoreOption = None,
    verbose: Annotated[
        bool, typer.Option("-v", "--verbose", help="Name every capture that says so.")
    ] = False,
    scheduler: Annotated[
        str | None,
        typer.Option(
            "--scheduler",
            metavar="ADDRESS",
            help="A Dask scheduler whose workers share the work. Default: the processors of this machine.",
        ),
    ] = None,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
    no_cache: NoCacheOption = False,
) -> int:
    """Hold a vehicle file against every capture of the vehicle: model years, periods, states, limits.

    It says what the captures show otherwise, and which. What was not captured, it does not judge.
    """
    from netcheck.archive import check_claims, claims_by_workers, read_vehicle
    from netcheck.report.archive import claims_json, claims_text

    read = read_vehicle(vehicle, cache=not no_cache)
    check_target(output, vehicle_inputs(read.loaded))
    with _opened(store, output) as archive:
        found = check_claims(archive, read, claims_by_workers(scheduler) if scheduler else None)
    how = look(output)
    text = (
        json_text(claims_json(found))
        if format is Format.JSON
        else claims_text(found, width=how.width, colour=how.colour, verbose=verbose)
    )
    return _write(text, output)


@archive_app.command("forget")
def forget_command(
    vin: Annotated[str, typer.Argument(metavar="VIN", help="The number of the van.")],
    store: StoreOption = None,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
) -> int:
    """Delete every row of a van. The captures themselves are not touched."""
    from netcheck.archive import forget, open_store
    from netcheck.report.archive import forgotten_json, forgotten_text

    opened = open_store(store)
    check_target(output, opened.files())
    gone = forget(opened, _vin(vin) or "")
    text = forgotten_text(gone, width=look(output).width)
    return _write(json_text(forgotten_json(gone)) if format is Format.JSON else text, output)


@archive_app.command("export")
def export_command(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new folder.")],
    store: StoreOption = None,
    anonymise: Annotated[
        bool,
        typer.Option("--anonymise", help="Without what tells which van, file or day a row is of."),
    ] = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
) -> int:
    """Copy the archive, to pass it on."""
    from netcheck.archive import export, open_store
    from netcheck.report.archive import exported_json, exported_text

    opened = open_store(store)
    check_target(output, opened.files())
    done = export(opened, folder, anonymise=anonymise)
    text = exported_text(done, width=look(output).width)
    return _write(json_text(exported_json(done)) if format is Format.JSON else text, output)


@archive_app.command("compact")
def compact_command(
    store: StoreOption = None,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
) -> int:
    """Put many small files of the archive together, so that questions are answered faster."""
    from netcheck.archive import compact, open_store
    from netcheck.report.archive import compacted_json, compacted_text

    opened = open_store(store)
    check_target(output, opened.files())
    done = compact(opened)
    text = compacted_text(done, width=look(output).width)
    return _write(json_text(compacted_json(done)) if format is Format.JSON else text, output)


def _opened(store: Path | None, output: Path | None = None) -> Archive:
    """The archive, to be asked; output: what must be none of its files."""
    from netcheck.archive import Archive, open_store

    opened = open_store(store)
    check_target(output, opened.files())
    return Archive(opened)


def _write(text: str, output: Path | None) -> int:
    with open_output(output) as out:
        out.write(text)
    return status.GO
