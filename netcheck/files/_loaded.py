"""Files as loaded: the models with the places they came from and every path resolved."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from netcheck.files._job import Mark, VerdictName, When
from netcheck.files._measured import Measured
from netcheck.files._retrofit import Retrofit
from netcheck.files._vehicle import Vehicle


@dataclass(frozen=True)
class LoadedVehicle:
    """A vehicle file; its DBC paths are resolved by ``dbc_paths``."""

    file: Path
    model: Vehicle

    def dbc_paths(self, network: str) -> tuple[Path, ...]:
        """Paths of a network's DBC files."""
        return tuple(self.file.parent / name for name in self.model.network[network].dbc_files)


@dataclass(frozen=True)
class LoadedItem:
    """An item of a job with its retrofit."""

    retrofit: Retrofit
    network: str | None
    source: str  # the retrofit file, or "shipped: NAME"
    where: str = ""  # key path in the job file, such as item[0]


@dataclass(frozen=True)
class LoadedMark:
    """A mark and where it was written, for messages."""

    mark: Mark
    file: Path
    where: str  # key path, such as capture[0].mark[2]


@dataclass(frozen=True)
class LoadedCapture:
    """A capture to read; marks of the job and of the side file together."""

    path: Path
    name: str  # as the user wrote it
    when: When
    channels: dict[str, str]
    marks: tuple[LoadedMark, ...]
    where: str = ""  # key path in the job file, such as capture[0]


@dataclass(frozen=True)
class LoadedReadout:
    """Coding bytes as read from the vehicle; the length is that of the block."""

    module: str
    did: int
    data: bytes
    when: When
    where: str = ""


@dataclass(frozen=True)
class LoadedJob:
    """A job with everything it names loaded, except captures and DBC files."""

    file: Path | None  # None: put together from command-line options
    name: str
    model_year: int
    vehicle: LoadedVehicle
    items: tuple[LoadedItem, ...]
    captures: tuple[LoadedCapture, ...]
    readouts: tuple[LoadedReadout, ...]
    notes: tuple[str, ...] = ()  # what was assumed, such as a model year nobody gave
    expect: VerdictName | None = None  # the verdict that the job must come to as a test
    measured: Measured | None = None

    def source(self) -> Path:
        """The file to name in an error about the job as a whole."""
        return self.file or self.vehicle.file
