"""``netcheck decode``."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from contextlib import closing
from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from netcheck.cli import _status as status
from netcheck.cli._inputs import dbc_files
from netcheck.cli._options import CsvOption, NoCacheOption, OutputOption
from netcheck.cli._output import check_target, look, note, open_output
from netcheck.cli._progress import progress_bar
from netcheck.errors import UsageError

if TYPE_CHECKING:
    from netcheck.capture import CaptureStream
    from netcheck.cli._output import Output
    from netcheck.database import Database, Series
    from netcheck.network import FrameId, FrameTally, Timing
    from netcheck.report import DecodeHead

_MOST_NOTES = 5  # warnings that are said beside a table for scripts


class DecodeFormat(StrEnum):
    """A table for people; the rest for scripts."""

    TEXT = "text"
    JSON = "json"
    CSV = "csv"
    PARQUET = "parquet"


def decode_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    capture: Annotated[Path, typer.Argument(metavar="CAPTURE", help="The capture to decode.")],
    dbc: Annotated[
        list[Path],
        typer.Option(
            "--dbc",
            metavar="FILE|FOLDER",
            help="The DBC file to decode it with, or a folder of them. Repeatable.",
        ),
    ],
    signal: Annotated[
        str,
        typer.Option(
            "--signal",
            metavar="GLOB",
            help="Only signals whose name or Message.Signal matches, in any case; * and ? are wildcards.",
        ),
    ] = "*",
    channel: Annotated[
        str | None, typer.Option("--channel", metavar="NAME", help="Only frames from this channel.")
    ] = None,
    format: Annotated[  # noqa: A002
        DecodeFormat, typer.Option("--format", help="text for people; json, csv or parquet for scripts.")
    ] = DecodeFormat.TEXT,
    spreadsheet: Annotated[
        bool,
        typer.Option("--spreadsheet", help="CSV: an apostrophe before texts that would be formulas."),
    ] = False,
    output: OutputOption = None,
    csv: CsvOption = "",
    no_cache: NoCacheOption = False,
) -> int:
    """Show the signals of a capture: a summary as text, or every value in the other formats.

    A frame too short for a signal gives no value for it. Such frames are counted.
    """
    from netcheck.capture import open_capture
    from netcheck.database import load_database

    if spreadsheet and format is not DecodeFormat.CSV:
        raise UsageError("--spreadsheet without --format csv", remedy="give both")
    files = list(dbc_files(dbc))
    inputs = [capture, *files]
    check_target(output, inputs)
    database = load_database(*files, cache=not no_cache)
    is_free = output is not None or format is DecodeFormat.TEXT or not sys.stdout.isatty()
    with (
        progress_bar(is_shown=is_free) as progress,
        closing(
            open_capture(capture, progress=partial(progress, capture.name) if progress else None, csv=csv)
        ) as stream,
        open_output(output, inputs=inputs, binary=format is DecodeFormat.PARQUET) as out,
    ):
        wanted = _Wanted(stream, database, signal, channel, spreadsheet)
        wanted.write(format, out, look(output).width)
    if format in (DecodeFormat.CSV, DecodeFormat.PARQUET):
        wanted.say_warnings()
    return status.GO


class _Wanted:
    """What was asked for; each form of it goes through the capture once."""

    def __init__(
        self,
        stream: CaptureStream,
        database: Database,
        signal: str,
        channel: str | None,
        spreadsheet: bool,
    ) -> None:
        self._stream = stream
        self._database = database
        self._signal = signal
        self._channel = channel
        self._spreadsheet = spreadsheet

    def write(self, form: DecodeFormat, out: Output, width: int) -> None:
        """The whole of it in one of its forms."""
        if form is DecodeFormat.PARQUET:
            from netcheck.report import write_parquet

            write_parquet(self._parts(), out.buffer)
            return
        forms = {DecodeFormat.TEXT: self._text, DecodeFormat.JSON: self._json, DecodeFormat.CSV: self._csv}
        for piece in forms[form](width):
            out.write(piece)

    def _parts(self, tally: FrameTally | None = None) -> Iterator[Mapping[tuple[str, str], Series]]:
        """The series of each stretch of the capture, so that its size does not matter.

        tally: counts the frames, too
        """
        from netcheck.database import decode

        stream, channel = self._stream, self._channel
        for chunk in stream:
            if tally is not None:
                tally.add(chunk)
            if channel is None or channel in chunk.channels:
                yield decode(chunk, self._database, self._signal, channel=channel)
        if channel is not None and channel not in stream.channels:
            there = ", ".join(stream.channels)
            raise UsageError(f"{stream.file} has no channel {channel}", remedy=f"it has {there}")

    def _text(self, width: int) -> Iterator[str]:
        from netcheck.network import FrameTally
        from netcheck.report import decode_text, summarise

        tally = FrameTally(ratios=frozenset())
        summary = summarise(self._database, self._parts(tally))
        yield decode_text(self._head(), summary, width, self._timings(tally))

    def _timings(self, tally: FrameTally) -> dict[FrameId, Timing]:
        """Of each of the DBC's ids on the first channel that has it."""
        from netcheck.network import FrameId

        known = {FrameId(message.can_id, message.is_extended) for message in self._database.messages}
        found: dict[FrameId, Timing] = {}
        for number, name in enumerate(self._stream.channels):
            if self._channel in {None, name}:
                messages = tally.messages(number)
                for frame_id in messages.keys() & known - found.keys():
                    found[frame_id] = messages[frame_id].timing()
        return found

    def _csv(self, _width: int) -> Iterator[str]:
        from netcheck.report import csv_chunks

        return csv_chunks(self._parts(), spreadsheet=self._spreadsheet)

    def _json(self, _width: int) -> Iterator[str]:
        from netcheck.database import decode
        from netcheck.report import json_chunks

        capture = self._stream.read()
        series = decode(capture, self._database, self._signal, channel=self._channel)
        yield from json_chunks(self._head(), series.values())

    def _head(self) -> DecodeHead:
        from netcheck.report import DecodeHead, database_warnings

        stream, database = self._stream, self._database
        warnings = (*stream.warnings, *database_warnings(database))
        return DecodeHead(
            stream.file, database.files, stream.frames, stream.channels, stream.skipped, warnings
        )

    def say_warnings(self) -> None:
        """What a table for scripts has no place for."""
        head = self._head()
        lines = "1 line" if head.skipped == 1 else f"{head.skipped} lines"
        skipped = [f"{head.file}: {lines} without a frame skipped"] if head.skipped else []
        texts = [*skipped, *head.warnings]
        for text in texts[:_MOST_NOTES]:
            note(text)
        if len(texts) > _MOST_NOTES:
            note(f"{len(texts) - _MOST_NOTES} more warnings; --format json shows all")
