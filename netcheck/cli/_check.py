"""``netcheck check``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from netcheck.cli import _status as status
from netcheck.cli._options import Format, FormatOption, OutputOption
from netcheck.cli._output import check_target, json_text, look, open_output


def check_command(
    files: Annotated[
        list[Path],
        typer.Argument(metavar="FILE", help="Vehicle, retrofit, job, marks, readouts or script files."),
    ],
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
) -> int:
    """List every fault of files at once: unknown keys, wrong values, references that lead nowhere.

    Exit status 0 if there is none, 2 otherwise. Captures are not read.
    """
    from netcheck.catalogue import check_file
    from netcheck.report.authoring import check_json, check_text

    check_target(output, files)
    found = [check_file(path) for path in files]
    if format is Format.JSON:
        text = json_text(check_json(found))
    else:
        how = look(output)
        text = check_text(found, width=how.width, colour=how.colour)
    with open_output(output) as out:
        out.write(text)
    return status.BAD_INPUT if any(file.faults for file in found) else status.GO
