"""Options that several commands have, and what their words mean."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from netcheck.errors import UsageError


class Format(StrEnum):
    """Text is for people, JSON for scripts."""

    TEXT = "text"
    JSON = "json"


FormatOption = Annotated[
    Format, typer.Option("--format", help="text for people, json for scripts.", show_default=True)
]
OutputOption = Annotated[
    Path | None,
    typer.Option("-o", "--output", metavar="FILE", help="Write the result to this file, not to the screen."),
]
IdsOption = Annotated[
    list[str] | None,
    typer.Option(
        "--id",
        metavar="ID",
        help="Only frames with these ids: 0x123, 0x100-0x1FF; eight digits for 29 bits. Repeatable.",
    ),
]
NotIdsOption = Annotated[
    list[str] | None, typer.Option("--not-id", metavar="ID", help="No frames with these ids. Repeatable.")
]
JobArgument = Annotated[Path, typer.Argument(metavar="JOB", help="The job file (*.job.toml).")]
BusOption = Annotated[
    list[str] | None,
    typer.Option("--option", metavar="NAME=VALUE", help="Another argument for the interface. Repeatable."),
]
CsvOption = Annotated[
    str,
    typer.Option(
        "--csv",
        metavar="KEY=VALUE,…",
        help="What the header of a CSV capture leaves open: time=s|ms|us|ns, id=hex|dec, data=hex|dec.",
    ),
]
ForceOption = Annotated[bool, typer.Option("--force", help="Replace existing files.")]
NoCacheOption = Annotated[
    bool,
    typer.Option("--no-cache", help="Read the DBC files again, and store nothing in your cache folder."),
]


def bus_words(options: Iterable[str]) -> dict[str, str]:
    """``NAME=VALUE`` texts of ``--option`` as a table. Raises UsageError for another text."""
    words = {}
    for option in options:
        name, equals, value = option.partition("=")
        if not equals or not name:
            raise UsageError(
                f"--option {option} must be NAME=VALUE", remedy="such as --option ttyBaudrate=115200"
            )
        words[name.strip().replace("-", "_")] = value.strip()
    return words
