"""What was added to an archive, and what it holds, in words and as JSON."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, Final

from netcheck.archive import TABLES, Added, CaptureShown, Compacted, Exported, Forgotten, StoreShown
from netcheck.report._facts import facts_of
from netcheck.report._page import Page, Style
from netcheck.report._wrap import clean
from netcheck.words import counted, listing, path_text

ARCHIVE_SCHEMA: Final = "netcheck.archive/1"
_MOST_NAMES: Final = 8
_COLUMN: Final = 12


def added_text(added: Added, store: str, *, width: int = 80, colour: bool = False) -> str:
    """What came of adding captures."""
    page = Page(width)
    new = f"{counted(len(added.added), 'capture')} added to {path_text(store)}"
    frames = f", {counted(added.frames, 'frame')} read" if added.frames else ""
    page.text(f"{new}{frames}.")
    for names, text in (
        (added.reread, "read again: other facts, DBC files or frames than before"),
        (added.roles, "roles read again: the vehicle file or the marks have changed"),
        (added.known, "in the archive already"),
    ):
        if names:
            page.entry(f"{len(names):>{_COLUMN - 2},}", text, column=_COLUMN)
    if added.copies:
        page.entry(
            f"{len(added.copies):>{_COLUMN - 2},}", "left out: the same frames are there", column=_COLUMN
        )
        for name, other in _some(added.copies.items()):
            page.text(f"{name} is a copy of {other}", indent=_COLUMN)
    if added.others:
        page.entry(
            f"{added.others:>{_COLUMN - 2},}", "other files in the folders, left alone", column=_COLUMN
        )
    if added.refused:
        page.entry(
            f"{len(added.refused):>{_COLUMN - 2},}",
            "could not be read, and are not in the archive:",
            column=_COLUMN,
            text_style=Style.BAD,
        )
        for text in added.refused.values():
            page.text(text, indent=_COLUMN)
    return page.render(colour=colour)


def _some(entries: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    return list(entries)[:_MOST_NAMES]


def added_json(added: Added, store: str) -> dict[str, Any]:
    """The same, with every name."""
    return {"schema": ARCHIVE_SCHEMA, "store": store, **facts_of(added, "seconds")}


def store_text(shown: StoreShown, *, width: int = 80, colour: bool = False, verbose: bool = False) -> str:
    """Vehicles and model years, with how much there is of each."""
    page = Page(width)
    if not shown.groups:
        page.text(f"No captures in {path_text(shown.folder)}: add some with netcheck archive add.")
        return page.render(colour=colour)
    vans = "VINs in the clear" if shown.keeps_vin else "VINs hashed"
    page.text(
        f"{path_text(shown.folder)}: {counted(shown.captures, 'capture')}, "
        f"{counted(shown.frames, 'frame')}, {shown.size / 1e6:.1f} MB, {vans}"
    )
    vehicle: str | None = ""
    for group in shown.groups:
        if group.vehicle != vehicle:
            vehicle = group.vehicle
            page.heading(vehicle or "vehicle not stated")
        year = "no year" if group.year is None else str(group.year)
        vans = counted(group.vans, "van") if not group.strangers else ""
        known = f"{counted(group.vans, 'known van')}, " if group.strangers and group.vans else ""
        text = f"{counted(group.captures, 'capture')}, " + (f"{vans}, " if vans else known)
        text += f"{group.seconds / 60:.0f} min, {listing(group.networks) or 'no network identified'}"
        page.entry(year, text, column=_COLUMN)
    if verbose:
        page.heading("Captures")
        for capture in shown.files:
            page.entry(capture.capture[:_COLUMN], _capture_line(capture), column=_COLUMN + 2)
    return page.render(colour=colour)


def _capture_line(capture: CaptureShown) -> str:
    what = [capture.file, capture.vehicle or "", str(capture.year or ""), counted(capture.frames, "frame")]
    return ", ".join(text for text in what if text)


def store_json(shown: StoreShown) -> dict[str, Any]:
    """The same, with every capture."""
    return {"schema": ARCHIVE_SCHEMA, **_dated(facts_of(shown))}


def capture_text(capture: CaptureShown, *, width: int = 80, colour: bool = False) -> str:
    """One capture."""
    page = Page(width)
    page.text(f"{capture.capture}  {clean(capture.file)}", style=Style.STRONG)
    of = " ".join(str(part) for part in (capture.vehicle, capture.year) if part)
    page.entry("Of", of or "nobody said", column=_COLUMN)
    page.entry("Van", capture.van or "not known", column=_COLUMN)
    if capture.fitting:
        page.entry("Taken", f"{capture.fitting} the fitting", column=_COLUMN)
    if capture.start:
        page.entry("Begins", f"{capture.start:%Y-%m-%d %H:%M:%S} UTC", column=_COLUMN)
    seconds = "no time stamps" if capture.seconds is None else f"{capture.seconds:.1f} s"
    lost = f", {counted(capture.skipped, 'line')} skipped" if capture.skipped else ""
    page.entry("Frames", f"{capture.frames:,} in {seconds}{lost}", column=_COLUMN)
    for channel in capture.channels:
        load = "" if channel.load_mean is None else f", load {100 * channel.load_mean:.0f} %"
        place = f"{channel.network} ({channel.identity})" if channel.network else "none of its networks"
        page.entry(channel.channel, f"{place}, {counted(channel.ids, 'id')}{load}", column=_COLUMN)
    page.entry("Marks", f"{capture.marks:,}", column=_COLUMN)
    page.entry("Stored", "rows and frames" if capture.has_frames else "rows, no frames", column=_COLUMN)
    for text in capture.warnings:
        page.entry("Note", text, column=_COLUMN)
    return page.render(colour=colour)


def capture_json(capture: CaptureShown) -> dict[str, Any]:
    """The same as plain values."""
    return {"schema": ARCHIVE_SCHEMA, **_dated(facts_of(capture))}


def _dated(value: Any) -> Any:
    """Times as ISO 8601 texts."""
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, dict):
        return {key: _dated(entry) for key, entry in value.items()}
    return [_dated(entry) for entry in value] if isinstance(value, list) else value


def tables_text(*, width: int = 80, colour: bool = False) -> str:
    """Tables and columns that a question may name."""
    page = Page(width)
    for table in TABLES.values():
        page.heading(table.name)
        page.text(f"One row for {table.text}.")
        column = 2 + max(len(name) for name in table.names)
        for entry in table.columns:
            page.entry(entry.name, f"{entry.text} ({entry.kind})", column=column)
    return page.render(colour=colour)


def tables_json() -> dict[str, Any]:
    """The same as plain values."""
    return {"schema": ARCHIVE_SCHEMA, "tables": [facts_of(table, "order") for table in TABLES.values()]}


def forgotten_text(gone: Forgotten, *, width: int = 80) -> str:
    """What was deleted, and what nobody can tell."""
    page = Page(width)
    if gone.captures:
        page.text(f"Every row of {counted(len(gone.captures), 'capture')} is deleted:")
        for name in gone.captures:
            page.text(name, indent=2)
    else:
        page.text("The archive holds no capture of this van.")
    if gone.strangers:
        page.text(
            f"{counted(gone.strangers, 'capture')} of unknown vans: they stay, as nobody can tell whether one"
            " is of this van."
        )
    return page.render(colour=False)


def forgotten_json(gone: Forgotten) -> dict[str, Any]:
    """The same as plain values."""
    return {"schema": ARCHIVE_SCHEMA, **facts_of(gone)}


def exported_text(done: Exported, *, width: int = 80) -> str:
    """What was passed on."""
    page = Page(width)
    frames = f" and {counted(done.frames, 'frame')}" if done.frames else ""
    page.text(f"{counted(done.captures, 'capture')}{frames} copied to {path_text(done.folder)}.")
    if done.is_anonymous:
        page.text(
            "Vans and captures have other names, times count from the first frame, file names are gone."
            " Names of messages and roles, model years and payloads are in it: look through frames yourself"
            " before you pass them on."
        )
    else:
        page.text("It holds what the archive holds, and its key. Give --anonymise to pass it on.")
    if done.without_frames:
        left = counted(done.without_frames, "capture")
        page.text(f"The frames of {left} stay behind: VINs are not hidden in them.")
    return page.render(colour=False)


def exported_json(done: Exported) -> dict[str, Any]:
    """The same as plain values."""
    return {"schema": ARCHIVE_SCHEMA, **facts_of(done)}


def compacted_text(done: Compacted, *, width: int = 80) -> str:
    """How many files there were and are."""
    page = Page(width)
    (before, after), (size, now) = done.files, done.size
    page.text(f"{counted(before, 'file')} of {size / 1e6:.1f} MB are now {after:,} of {now / 1e6:.1f} MB.")
    if done.swept:
        page.text(f"{counted(done.swept, 'file')} of interrupted writers deleted.")
    return page.render(colour=False)


def compacted_json(done: Compacted) -> dict[str, Any]:
    """The same as plain values."""
    return {"schema": ARCHIVE_SCHEMA, **facts_of(done)}
