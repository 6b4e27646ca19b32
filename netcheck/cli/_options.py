"""Options that every command has."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class Format(StrEnum):
    """Text is for people, JSON for scripts."""

    TEXT = "text"
    JSON = "json"


FormatOption = Annotated[
    Format, typer.Option("--format", help="text for people, json for scripts.", show_default=True)
]
OutputOption = Annotated[
    Path | None,
    typer.Option(
        "-o", "--output", metavar="FILE", help="Write the result to this file instead of the screen."
    ),
]
NoCacheOption = Annotated[
    bool,
    typer.Option("--no-cache", help="Read DBC files anew, and keep nothing of them in your cache folder."),
]
