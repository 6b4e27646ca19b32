"""``netcheck schema KIND``."""

from __future__ import annotations

from typing import Annotated

import typer

from netcheck.cli._options import Format, FormatOption, OutputOption
from netcheck.cli._output import json_text, open_output


def schema_command(
    kind: Annotated[
        str, typer.Argument(metavar="KIND", help="vehicle, retrofit, job, marks, readouts or script.")
    ],
    format: FormatOption = Format.TEXT,  # noqa: A002 – a schema is JSON either way
    output: OutputOption = None,
) -> int:
    """Print the JSON Schema of a file kind, so that your editor completes and checks the file."""
    from netcheck.files import json_schema

    schema = json_schema(kind)
    with open_output(output) as out:
        out.write(json_text(schema))
    return 0
