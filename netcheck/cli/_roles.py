"""``netcheck roles``."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from netcheck.cli._options import CsvOption, NoCacheOption, OutputOption
from netcheck.cli._output import check_target, json_text, look, note, open_output
from netcheck.errors import UsageError

if TYPE_CHECKING:
    from netcheck.database import Database
    from netcheck.find import RoleProposals


_MOST_WARNINGS: Final = 3  # of a DBC's: a proposal hardly depends on them


class RolesFormat(StrEnum):
    """Text is for people, JSON for scripts, TOML for a vehicle file."""

    TEXT = "text"
    JSON = "json"
    TOML = "toml"


def roles_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    dbc: Annotated[list[Path] | None, typer.Argument(metavar="DBC", help="DBC files of one network.")] = None,
    vocabulary: Annotated[bool, typer.Option("--list", help="List the vocabulary of roles instead.")] = False,
    role: Annotated[
        list[str] | None, typer.Option("--role", metavar="R", help="Only this role. Repeatable.")
    ] = None,
    capture: Annotated[
        list[Path] | None,
        typer.Option("--capture", metavar="FILE", help="Capture of this network: what moves. Repeatable."),
    ] = None,
    network: Annotated[
        str, typer.Option("--network", metavar="NAME", help="Name of the network in TOML entries.")
    ] = "",
    verbose: Annotated[
        bool, typer.Option("-v", "--verbose", help="Show all proposals of each role.")
    ] = False,
    csv: CsvOption = "",
    no_cache: NoCacheOption = False,
    format: Annotated[  # noqa: A002
        RolesFormat,
        typer.Option("--format", help="text for people, json for scripts, toml for a vehicle file."),
    ] = RolesFormat.TEXT,
    output: OutputOption = None,
) -> int:
    """Propose which signal of a DBC plays which role, with reasons; or list the roles there are.

    A proposal is a guess from names: confirm each with a capture and marks.
    """
    files = list(dbc or [])
    check_target(output, [*files, *(capture or [])])
    if vocabulary:
        text = _vocabulary(format, output)
    elif not files:
        raise UsageError("no DBC file given", remedy="name at least one, or give --list")
    else:
        found = propose(files, role or [], capture or [], cache=not no_cache, csv=csv)
        text = _rendered(found, files, network or files[0].stem, format, output, verbose)
    with open_output(output) as out:
        out.write(text)
    return 0


def propose(
    files: Sequence[Path], wanted: Sequence[str], captures: Sequence[Path], *, cache: bool, csv: str = ""
) -> tuple[RoleProposals, ...]:
    """The proposals for the roles asked for, by default the whole vocabulary."""
    from netcheck.capture import read_capture
    from netcheck.catalogue import roles
    from netcheck.database import load_database
    from netcheck.files import one_of
    from netcheck.find import propose_roles, signal_comments, with_behaviour

    known = roles()
    for name in wanted:
        if name not in known:
            raise UsageError(f"--role: '{name}' is not in the vocabulary", remedy=one_of(name, known))
    database = load_database(*files, cache=cache)
    say_warnings(database)
    found = propose_roles(database, wanted or known, signal_comments(database, files))
    if captures:
        found = with_behaviour(found, database, [read_capture(path, csv=csv) for path in captures])
    return found


def say_warnings(database: Database) -> None:
    """What the loader had to overlook in a DBC; of many, the first ones and their number."""
    for warning in database.warnings[:_MOST_WARNINGS]:
        note(warning)
    if len(database.warnings) > _MOST_WARNINGS:
        note(f"{len(database.warnings) - _MOST_WARNINGS} more warnings like these")


def _vocabulary(form: RolesFormat, output: Path | None) -> str:
    from netcheck.catalogue import roles
    from netcheck.report.authoring import roles_list_json, roles_list_text

    if form is RolesFormat.TOML:
        raise UsageError("--list has no TOML form", remedy="give --format text or json")
    if form is RolesFormat.JSON:
        return json_text(roles_list_json(roles()))
    how = look(output)
    return roles_list_text(roles(), width=how.width, colour=how.colour)


def _rendered(
    found: Sequence[RoleProposals],
    files: Sequence[Path],
    network: str,
    form: RolesFormat,
    output: Path | None,
    verbose: bool,
) -> str:
    from netcheck.report.authoring import role_entries, roles_json, roles_text

    names = [path.as_posix() for path in files]
    if form is RolesFormat.JSON:
        return json_text(roles_json(found, names))
    if form is RolesFormat.TOML:
        return role_entries(found, network)
    how = look(output)
    return roles_text(found, names, width=how.width, colour=how.colour, every=verbose)
