"""``netcheck survey``."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import closing
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from netcheck.cli import _status as status
from netcheck.cli._inputs import dbc_files, dbc_in_folder, vehicle_inputs
from netcheck.cli._options import CsvOption, Format, FormatOption, NoCacheOption, OutputOption
from netcheck.cli._output import check_target, json_text, look, note, open_output
from netcheck.cli._peers import HeldBeside, PeersOption, held_beside
from netcheck.errors import InputError, NetcheckError, UsageError

if TYPE_CHECKING:
    from netcheck.archive import WantedCapture
    from netcheck.cli._progress import Progress
    from netcheck.database import Database
    from netcheck.files import LoadedVehicle
    from netcheck.network import DataIds, Survey, SurveyPlan

_MOST_REPAIRS = 5  # of DBC files, said one by one


def survey_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    captures: Annotated[list[Path], typer.Argument(metavar="CAPTURE", help="Captures to survey.")],
    vehicle: Annotated[
        Path | None,
        typer.Option(
            "--vehicle", metavar="FILE", help="Vehicle file: identify each channel among its networks."
        ),
    ] = None,
    dbc: Annotated[
        list[Path] | None,
        typer.Option(
            "--dbc",
            metavar="PATH",
            help="DBC file or folder: identify each channel among these. Repeatable.",
        ),
    ] = None,
    bitrate: Annotated[
        int | None,
        typer.Option(
            "--bitrate", metavar="N", help="Bit rate in bit/s, for the load. Default: the vehicle file's."
        ),
    ] = None,
    fd_bitrate: Annotated[
        int | None, typer.Option("--fd-bitrate", metavar="N", help="Bit rate of the CAN FD data phase.")
    ] = None,
    data_id: Annotated[
        list[str] | None,
        typer.Option(
            "--data-id",
            metavar="ID=N",
            help="AUTOSAR data id of a message: 0x123=0x0A5F (profile 1), or 16 ids (profile 2).",
        ),
    ] = None,
    archive: PeersOption = None,
    year: Annotated[
        int | None, typer.Option("--year", metavar="YEAR", help="The model year, for --archive.")
    ] = None,
    verbose: Annotated[
        bool, typer.Option("-v", "--verbose", help="Show every message with its details.")
    ] = False,
    csv: CsvOption = "",
    no_cache: NoCacheOption = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
) -> int:
    """Say what is on the channels of a capture: network, load, errors and every message.

    netcheck only reads files. It sends nothing.
    """
    from netcheck.cli._progress import progress_bar
    from netcheck.network import survey_rates

    if (archive is None) != (year is None) or (archive is not None and vehicle is None):
        raise UsageError(
            "--archive, --year and --vehicle go together", remedy="give all of them, or --vehicle alone"
        )
    candidates, databases = survey_candidates(vehicle, dbc or [])
    files = [*captures, *databases]
    check_target(output, files)
    rates, data_ids = survey_rates(bitrate, fd_bitrate), _data_ids(data_id or [])
    plan = replace(candidates(not no_cache), stated=rates, data_ids=data_ids)
    with progress_bar() as progress:
        surveys, codes = _surveys(captures, plan, progress, csv)
    if surveys:
        beside = [
            held_beside(archive, partial(_wanted, one, vehicle, year), output, cache=not no_cache)
            for one in surveys
        ]
        with open_output(output, inputs=files) as out:
            out.write(_rendered(surveys, beside, format, len(captures), output, verbose))
    return status.worst(codes)


def _wanted(survey: Survey, vehicle: Path | None, year: int | None) -> Sequence[WantedCapture]:
    """The capture as an archive would take it, with the marks beside it."""
    from netcheck.archive import CaptureFacts, find_captures

    return find_captures([survey.file], CaptureFacts(vehicle, year)).captures


def survey_candidates(
    vehicle: Path | None, dbc: Sequence[Path]
) -> tuple[Callable[[bool], SurveyPlan], list[Path]]:
    """What channels are identified among: to be loaded, with the cache or without, and the files it reads."""
    from netcheck.files import load_vehicle

    if vehicle is not None and dbc:
        raise UsageError("--vehicle and --dbc together", remedy="give one of them")
    loaded = load_vehicle(vehicle) if vehicle is not None else None
    files = [*(vehicle_inputs(loaded) if loaded else dbc_files(dbc))]
    return lambda cache: _plan(loaded, dbc, cache=cache), files


def _plan(vehicle: LoadedVehicle | None, dbc: Sequence[Path], *, cache: bool) -> SurveyPlan:
    """The candidates: a vehicle's networks, or DBC files by their names."""
    from netcheck.database import load_database
    from netcheck.network import LoadRates, SurveyPlan
    from netcheck.roles import diagnostic_addresses

    if vehicle is not None:
        model = vehicle.model
        networks = {name: load_database(*vehicle.dbc_paths(name), cache=cache) for name in model.network}
        rates = {name: LoadRates(entry.bitrate, entry.fd_bitrate) for name, entry in model.network.items()}
        _say_repairs(networks.values())
        return SurveyPlan(networks, rates, addresses=diagnostic_addresses(model))
    networks = {}
    for path in dbc:
        paths = dbc_in_folder(path) if path.is_dir() else [path]
        for file in paths:
            name = file.stem if file.stem not in networks else str(file)
            try:
                networks[name] = load_database(file, cache=cache)
            except InputError as error:
                if not path.is_dir():
                    raise
                note(f"left out: {error}")
    if dbc and not networks:
        raise UsageError("no readable DBC file", remedy="name a DBC file, or a folder with DBC files")
    _say_repairs(networks.values())
    return SurveyPlan(networks)


def _say_repairs(databases: Iterable[Database]) -> None:
    """What was put right in the DBC files."""
    repairs = [repair for database in databases for repair in database.repairs]
    if not repairs:
        return
    from netcheck.report import repair_text

    for repair in repairs[:_MOST_REPAIRS]:
        note(repair_text(repair))
    if len(repairs) > _MOST_REPAIRS:
        note(f"{len(repairs) - _MOST_REPAIRS} more repairs of DBC files")


def _data_ids(entries: Sequence[str]) -> DataIds:
    from netcheck.network import FrameId

    found = {}
    for entry in entries:
        name, equals, values = entry.partition("=")
        try:
            can_id = int(name, 0)
            numbers = tuple(int(value, 0) for value in values.split(","))
        except ValueError:
            equals = ""
            can_id, numbers = 0, ()
        if not equals or not 0 <= can_id <= 0x1FFFFFFF:
            raise UsageError(f"--data-id {entry}", remedy="write an id and its data id, such as 0x123=0x0A5F")
        found[FrameId(can_id, can_id > 0x7FF or len(name.strip()) > len("0x7FF"))] = numbers
    return found


def _surveys(
    captures: Sequence[Path], plan: SurveyPlan, progress: Progress | None, csv: str
) -> tuple[list[Survey], list[int]]:
    """Each capture's survey, and its exit status; of several, one that cannot be read stops no other."""
    found, codes = [], []
    for path in captures:
        try:
            found.append(survey_file(path, plan, progress, csv))
        except NetcheckError as error:
            if len(captures) == 1:
                raise
            note(str(error))
            codes.append(status.BAD_INPUT)
        else:
            codes.append(status.GO)
    return found, codes


def survey_file(path: Path, plan: SurveyPlan, progress: Progress | None, csv: str) -> Survey:
    """The survey of one capture. Raises InputError for one that cannot be read, or is silent."""
    from netcheck.capture import open_capture
    from netcheck.network import survey

    told = partial(progress, path.name) if progress else None
    try:
        with closing(open_capture(path, progress=told, csv=csv)) as stream:
            return survey(stream, plan)
    except InputError as error:
        if not is_silent(path):
            raise
        what = "no frames: the recording is silent"
        remedy = (
            "switch the ignition on, wake the network (open a door) and record again; if it stays silent, "
            "check that the tap is on this pair with high and low the right way round, and that the "
            "interface is up"
        )
        raise InputError(path, what, remedy=remedy) from error


def is_silent(path: Path) -> bool:
    """Whether a recorder wrote the file and had nothing to write: it is empty, or has comments only."""
    try:
        if not path.is_file() or path.stat().st_size > 1 << 16:
            return False
        lines = path.read_bytes().splitlines()
    except OSError:
        return False
    return all(not line.strip() or line.lstrip().startswith((b"#", b";")) for line in lines)


def _rendered(
    surveys: Sequence[Survey],
    beside: Sequence[HeldBeside],
    form: Format,
    asked: int,
    output: Path | None,
    verbose: bool,
) -> str:
    """One object for one capture, an array for several; texts one after another."""
    from netcheck.report.onsite import survey_json, survey_text

    if form is Format.JSON:
        pairs = zip(surveys, beside, strict=True)
        found = [{**survey_json(one), "peers": next(iter(own.json() or ()), None)} for one, own in pairs]
        return json_text(found[0] if asked == 1 else found)
    how = look(output)
    texts = [
        survey_text(one, width=how.width, colour=how.colour, verbose=verbose) + own.text(how)
        for one, own in zip(surveys, beside, strict=True)
    ]
    return "\n\n".join(text.rstrip("\n") + "\n" for text in texts)
