"""``netcheck trim``."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from netcheck.cli import _status as status
from netcheck.cli._options import CsvOption, ForceOption, Format, FormatOption, IdsOption, NotIdsOption
from netcheck.cli._output import (
    OutputGroup,
    check_new,
    check_target,
    json_text,
    look,
    open_output,
    open_outputs,
)
from netcheck.cli._progress import progress_bar
from netcheck.errors import InputError, UsageError

if TYPE_CHECKING:
    from netcheck.capture import Capture
    from netcheck.edit import CaptureWriter, Cut, Edit, Edited, Track, Written

_MOST_SECONDS: Final = 4e9  # with a time of day it stays far below what 64 bits of nanoseconds hold


def trim_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    captures: Annotated[
        list[Path], typer.Argument(metavar="CAPTURE", help="Captures. Several are joined by time.")
    ],
    output: Annotated[
        Path,
        typer.Option(
            "-o",
            "--output",
            metavar="FILE",
            help="The capture to write. Its name says the format: .log .asc .blf .csv .trc, or .log.gz …",
        ),
    ],
    begin: Annotated[
        float | None,
        typer.Option(
            "--from", metavar="SECONDS", help="Keep frames from here on, counted from the first frame."
        ),
    ] = None,
    end: Annotated[
        float | None, typer.Option("--to", metavar="SECONDS", help="Keep frames before this time.")
    ] = None,
    ids: IdsOption = None,
    not_ids: NotIdsOption = None,
    channels: Annotated[
        list[str] | None,
        typer.Option("--channel", metavar="NAME", help="Only frames of these channels. Repeatable."),
    ] = None,
    roles: Annotated[
        list[str] | None,
        typer.Option("--mark", metavar="ROLE", help="Only the time around marks of this role. Repeatable."),
    ] = None,
    margin: Annotated[
        float,
        typer.Option("--margin", metavar="SECONDS", help="How much to keep before and after each such mark."),
    ] = 2.0,
    shift: Annotated[
        float, typer.Option("--shift", metavar="SECONDS", help="Add this to every time; may be negative.")
    ] = 0.0,
    rename: Annotated[
        list[str] | None, typer.Option("--rename", metavar="OLD=NEW", help="Rename a channel. Repeatable.")
    ] = None,
    split: Annotated[
        bool, typer.Option("--split", help="One file a channel: x.log becomes x.can0.log, x.can1.log.")
    ] = False,
    blank: Annotated[
        list[str] | None,
        typer.Option("--blank-id", metavar="ID", help="Set the payload of these ids to zeros. Repeatable."),
    ] = None,
    anonymise_vin: Annotated[
        bool,
        typer.Option(
            "--anonymise-vin", help="Replace vehicle numbers (VIN) found in diagnostic messages with X's."
        ),
    ] = False,
    vins: Annotated[
        list[str] | None,
        typer.Option("--vin", metavar="VIN", help="With --anonymise-vin: another number to look for."),
    ] = None,
    csv: CsvOption = "",
    force: ForceOption = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
) -> int:
    """Cut captures, join or split them, change their format, remove what others must not see.

    Marks beside a capture are kept, in a marks file beside the result. The captures are not changed. What the
    format of the result cannot hold is listed.
    """
    from netcheck.edit import Cut, id_span

    if vins and not anonymise_vin:
        raise UsageError("--vin without --anonymise-vin", remedy="give both")
    for option, value in (("--from", begin), ("--to", end), ("--margin", margin), ("--shift", shift)):
        _check_seconds(option, value or 0.0)
    _check_times(begin, end, margin)
    cut = Cut(
        begin_s=begin,
        end_s=end,
        ids=tuple(id_span(text) for text in ids or ()),
        not_ids=tuple(id_span(text) for text in not_ids or ()),
        channels=tuple(channels or ()),
        roles=tuple(roles or ()),
        margin_s=margin,
        shift_s=shift,
        renamed=_renamed(rename or ()),
        blank=tuple(id_span(text) for text in blank or ()),
        hide_vin=anonymise_vin,
        vins=tuple(vins or ()),
    )
    edited = _run(captures, cut, output, split, force, csv)
    from netcheck.report.bench import trim_json, trim_text

    text = (
        json_text(trim_json(edited)) if format is Format.JSON else trim_text(edited, width=look(None).width)
    )
    with open_output(None) as out:
        out.write(text)
    return status.GO


def _check_seconds(option: str, value: float) -> None:
    if not abs(value) <= _MOST_SECONDS:
        raise UsageError(
            f"{option} {value:g} is out of range",
            remedy=f"at most {_MOST_SECONDS:g} seconds",
        )


def _check_times(begin: float | None, end: float | None, margin: float) -> None:
    if begin is not None and end is not None and begin >= end:
        raise UsageError(
            f"--from {begin:g} is not before --to {end:g}", remedy="seconds from the first frame"
        )
    if margin < 0:
        raise UsageError(f"--margin {margin:g} is negative", remedy="seconds kept around each mark")


def _renamed(pairs: list[str] | tuple[()]) -> dict[str, str]:
    found: dict[str, str] = {}
    for pair in pairs:
        old, sign, new = pair.partition("=")
        if not (old and sign and new) or any(c.isspace() for c in new):
            raise UsageError(f"--rename {pair}: must be OLD=NEW", remedy="such as can0=drive, without blanks")
        found[old] = new
    return found


def _run(captures: list[Path], cut: Cut, output: Path, split: bool, force: bool, csv: str) -> Edited:
    from netcheck.edit import Edit, Edited, by_channel

    with ExitStack() as stack:
        edit = Edit(captures, cut, progress=stack.enter_context(progress_bar()), csv=csv)
        results = _Results(stack.enter_context(open_outputs(output)), output, edit, force=force)
        if not split:
            results.open("")
        for chunk in edit:
            parts = by_channel(chunk) if split else [("", chunk)]
            for name, part in parts:
                results.write(name, part)
        if not results.frames:
            raise UsageError(
                f"nothing is left of {edit.frames:,} frames, nothing was written",
                remedy="check times, ids and channels",
            )
        written = results.close()
    return Edited(tuple(str(path) for path in captures), edit.frames, written, edit.remarks)


class _Results:
    """The files being written; they get their names together when all of them are whole."""

    def __init__(self, together: OutputGroup, output: Path, edit: Edit, *, force: bool) -> None:
        from netcheck.edit import form_of
        from netcheck.files import side_file

        form_of(output)
        self._together = together
        self._output = output
        self._edit = edit
        self._force = force
        self._inputs = [*edit.paths, *(side_file(path) for path in edit.paths)]
        self._open: dict[str, tuple[Path, CaptureWriter, Track]] = {}
        check_target(output, self._inputs)

    @property
    def frames(self) -> int:
        """Frames written so far."""
        return sum(track.frames for _, _, track in self._open.values())

    def open(self, name: str) -> tuple[Path, CaptureWriter, Track]:
        """The file of a channel, or the only one."""
        from netcheck.edit import CaptureWriter, Track
        from netcheck.files import side_file

        if name not in self._open:
            target = self._output if not name else _of_channel(self._output, name)
            if any(target == path for path, _, _ in self._open.values()):
                raise UsageError(f"two channels would be {target}", remedy="give one a name with --rename")
            marks = side_file(target)
            check_target(target, self._inputs)
            check_new(target, force=self._force)
            check_target(marks, self._inputs)
            if marks.exists() and not self._force:
                raise InputError(
                    marks,
                    f"exists already and would be taken for marks of {target.name}",
                    remedy="remove it, choose another name, or give --force to replace it",
                )
            stream = self._together.open(target, inputs=self._inputs).buffer
            self._open[name] = (target, CaptureWriter(target, stream), Track())
        return self._open[name]

    def write(self, name: str, chunk: Capture) -> None:
        """Frames to the file of a channel, or the only one."""
        _, writer, track = self.open(name)
        track.add(writer.write(chunk))

    def close(self) -> tuple[Written, ...]:
        """Finish all files, with their marks."""
        return tuple(self._close(*result) for result in self._open.values())

    def _close(self, target: Path, writer: CaptureWriter, track: Track) -> Written:
        from netcheck.edit import Written, marks_text
        from netcheck.files import side_file

        remarks = writer.close()
        marks, outside = self._edit.marks(track)
        side = side_file(target)
        has_file = bool(marks) or side.exists()
        if has_file:
            self._together.open(side, inputs=self._inputs).write(marks_text(marks))
        return Written(
            str(target),
            track.frames,
            track.seconds,
            dict(track.channels),
            str(side) if has_file else None,
            len(marks),
            outside,
            remarks,
        )


def _of_channel(output: Path, name: str) -> Path:
    """``x.can0.log.gz`` for ``x.log.gz``; what a file name cannot hold becomes ``_``."""
    packed = output.suffix if output.suffix.lower() in (".gz", ".xz", ".zst", ".zstd") else ""
    plain = output.name.removesuffix(packed)
    kind = Path(plain).suffix
    good = "".join(c if c.isalnum() or c in "-_." else "_" for c in name)
    return output.with_name(f"{plain.removesuffix(kind)}.{good}{kind}{packed}")
