"""What a store holds: by vehicle and model year, and one capture with its channels."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final

from netcheck.archive._ask import Archive
from netcheck.errors import UsageError
from netcheck.records import dataclass

_LEAST_DIGITS: Final = 4  # of a digest that names a capture


@dataclass(frozen=True)
class ChannelShown:
    """A channel of a capture, as the table ``channels`` has it."""

    channel: str
    network: str | None
    identity: str
    ids: int
    frames: int
    load_mean: float | None


@dataclass(frozen=True)
class CaptureShown:
    """A capture, as the table ``captures`` has it; channels: () in a list."""

    capture: str
    file: str
    vehicle: str | None
    year: int | None
    van: str | None
    fitting: str | None
    start: datetime | None
    seconds: float | None
    frames: int
    skipped: int
    marks: int
    warnings: tuple[str, ...]
    has_frames: bool
    channels: tuple[ChannelShown, ...] = ()


@dataclass(frozen=True)
class YearHeld:
    """What a store has of one model year. strangers: captures of unknown vans; networks: those identified"""

    vehicle: str | None
    year: int | None
    captures: int
    vans: int
    strangers: int
    frames: int
    seconds: float
    networks: tuple[str, ...]


@dataclass(frozen=True)
class StoreShown:
    """What a store holds. size: bytes of its files"""

    folder: str
    keeps_vin: bool
    size: int
    captures: int
    frames: int
    groups: tuple[YearHeld, ...]
    files: tuple[CaptureShown, ...]


_COLUMNS: Final = (
    "capture, file, vehicle, year, van, fitting, start, seconds, frames, skipped, marks, warnings, has_frames"
)
_GROUPS: Final = """
SELECT vehicle, year, count(*), count(DISTINCT van), count(*) FILTER (van IS NULL), sum(frames)::BIGINT,
  coalesce(sum(seconds), 0)
FROM captures GROUP BY vehicle, year ORDER BY vehicle NULLS LAST, year NULLS LAST
"""
_NETWORKS: Final = """
SELECT vehicle, year, list_sort(list(DISTINCT network)) FROM channels WHERE identity = 'identified'
GROUP BY vehicle, year
"""


def show_store(archive: Archive) -> StoreShown:
    """Everything, in short."""
    networks = {(row[0], row[1]): tuple(row[2]) for row in archive.ask(_NETWORKS).rows}
    groups = tuple(YearHeld(*[*row, networks.get((row[0], row[1]), ())]) for row in archive.ask(_GROUPS).rows)
    rows = archive.ask(
        f"SELECT {_COLUMNS} FROM captures ORDER BY vehicle NULLS LAST, year NULLS LAST, file, capture"
    ).rows
    manifest = archive.store.manifest()
    return StoreShown(
        folder=str(archive.store.folder),
        keeps_vin=manifest.keeps_vin,
        size=sum(part.size for part in manifest.parts),
        captures=len(rows),
        frames=sum(group.frames for group in groups),
        groups=groups,
        files=tuple(map(_capture, rows)),
    )


def show_capture(archive: Archive, name: str) -> CaptureShown:
    """One capture by its file name or the beginning of its digest; UsageError for none or several."""
    rows = archive.ask(
        f"SELECT {_COLUMNS} FROM captures WHERE file = $name OR file LIKE '%/' || $name"
        f" OR (length($name) >= {_LEAST_DIGITS} AND starts_with(capture, lower($name))) ORDER BY capture",
        {"name": name},
    ).rows
    if len(rows) != 1:
        what = f"the archive has {len(rows) or 'no'} capture{'s' if len(rows) > 1 else ''}"
        remedy = "netcheck archive list -v shows them all, each with the beginning of its digest"
        raise UsageError(f"{what} called '{name}'", remedy=remedy)
    found = archive.ask(
        "SELECT channel, network, identity, ids, frames, load_mean FROM channels WHERE capture = $capture"
        " ORDER BY channel",
        {"capture": rows[0][0]},
    ).rows
    return _capture(rows[0], tuple(ChannelShown(*row) for row in found))


def _capture(row: tuple[Any, ...], channels: tuple[ChannelShown, ...] = ()) -> CaptureShown:
    *facts, warnings, has_frames = row
    return CaptureShown(*[*facts, tuple(warnings or ()), has_frames, channels])
