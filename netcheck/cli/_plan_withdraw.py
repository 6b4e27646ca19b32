"""``netcheck plan --withdraw``: a part leaves the job."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from netcheck.cli import _status as status
from netcheck.cli._inputs import job_inputs
from netcheck.cli._options import Format
from netcheck.cli._output import check_target, json_text, look, open_output
from netcheck.cli._progress import progress_bar

if TYPE_CHECKING:
    from netcheck.files import LoadedJob


def write_withdrawal(
    job: LoadedJob,
    name: str,
    *,
    format: Format,  # noqa: A002
    output: Path | None,
    cache: bool,
) -> int:
    """Print what goes back. The status is that of the worst item that stays."""
    from netcheck.report import withdraw_json, withdraw_text
    from netcheck.withdraw import withdraw

    check_target(output, job_inputs(job))
    with progress_bar() as progress:
        found = withdraw(job, name, cache=cache, progress=progress)
    how = look(output)
    if format is Format.JSON:
        text = json_text(withdraw_json(found))
    else:
        text = withdraw_text(found, width=how.width, colour=how.colour)
    with open_output(output) as out:
        out.write(text)
    return status.worst(status.of_verdict(other.after) for other in found.others)
