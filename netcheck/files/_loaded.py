"""Files as loaded: the models with the places they came from and every path resolved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from pathlib import Path

from netcheck.files._applying import Applying, applying
from netcheck.files._job import Mark, VehicleIdentity, VerdictName, Wire
from netcheck.files._measured import Measured
from netcheck.files._readout_entry import FaultCode, When
from netcheck.files._retrofit import Retrofit
from netcheck.files._vehicle import Fact, Vehicle
from netcheck.records import dataclass


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
    """An item of a job with its retrofit.

    retrofit: as its file says; ``LoadedJob.applying`` tells what of it applies to the vehicle
    """

    retrofit: Retrofit
    network: str | None
    source: str  # the retrofit file, or "shipped: NAME"
    where: str = ""  # key path in the job file, such as item[0]
    wires: tuple[Wire, ...] = ()  # signals that it gets by a wire of its own, each role once

    def wire(self, role: str) -> Wire | None:
        """The wire of its own by which it gets a role; None where it has none."""
        return next((wire for wire in self.wires if wire.role == role), None)


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
class ModuleReadout:
    """Identification and fault codes of a module, from one entry.

    identification: data identifier → text, or hex of bytes that are no text
    faults: None where they were not read, () where the module reported none
    """

    module: str
    when: When
    identification: Mapping[int, str] = field(default_factory=dict)
    faults: tuple[FaultCode, ...] | None = None
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
    identity: VehicleIdentity = field(default_factory=VehicleIdentity)
    own_facts: Mapping[str, Fact] = field(default_factory=dict)  # those of the job file alone
    module_readouts: tuple[ModuleReadout, ...] = ()  # identification and faults; ``readouts`` has the blocks
    readout_files: tuple[Path, ...] = ()  # files that ``[[readout]] file`` names

    @property
    def facts(self) -> Mapping[str, Fact]:
        """What is known of this vehicle: the vehicle file's facts, overridden by the job's."""
        return {**self.vehicle.model.facts, **self.own_facts}

    @property
    def has_after(self) -> bool:
        """Whether anything of it is from after the fitting."""
        whens = [entry.when for entry in self.captures]
        whens += [entry.when for entry in self.readouts]
        whens += [entry.when for entry in self.module_readouts]
        return "after" in whens

    def applying(self, item: LoadedItem) -> Applying:
        """What of an item's retrofit applies to this vehicle."""
        return applying(item.retrofit, self.facts)

    def applied(self) -> LoadedJob:
        """The job with each retrofit reduced to what applies to this vehicle."""
        return replace(self, items=tuple(self._applied(item) for item in self.items))

    def _applied(self, item: LoadedItem) -> LoadedItem:
        found = self.applying(item)
        entries = {
            "need": found.needs,
            "code": found.codes,
            "exercise": found.exercises,
            "step": found.steps,
            "use": found.uses,
            "caution": found.cautions,
        }
        return replace(item, retrofit=item.retrofit.model_copy(update=entries))

    def with_readouts(self, blocks: Sequence[LoadedReadout], modules: Sequence[ModuleReadout]) -> LoadedJob:
        """The job with these readouts from before the fitting in place of its own."""
        return replace(
            self,
            readouts=(*blocks, *(r for r in self.readouts if r.when == "after")),
            module_readouts=(*modules, *(r for r in self.module_readouts if r.when == "after")),
        )

    def source(self) -> Path:
        """The file to name in an error about the job as a whole."""
        return self.file or self.vehicle.file
