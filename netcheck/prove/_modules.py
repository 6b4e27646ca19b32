"""What modules told a tester before and after the fitting: readouts of the job, and those in its captures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from netcheck.coding import VIN_IDS, FaultChange, ModuleChecks, compare_modules
from netcheck.diagnostics import ModuleReading, Readout, readout_side
from netcheck.files import LoadedJob, When
from netcheck.prove._change_model import FaultNew, ModuleSilent, VehicleChange
from netcheck.prove._note_model import (
    FaultsUncompared,
    FaultsUnread,
    ModulesUnread,
    ProveNote,
    ReadoutsDiffer,
)
from netcheck.records import dataclass
from netcheck.words import unique

SIDES: Final[tuple[When, When]] = ("before", "after")


@dataclass(frozen=True)
class ModuleTalk:
    """What a job's captures hold of conversations with modules. job: with their readouts beside its own.

    before, after: the modules by their conversations
    differ: blocks that the job's own readouts have otherwise than its captures
    """

    job: LoadedJob
    before: tuple[ModuleReading, ...]
    after: tuple[ModuleReading, ...]
    differ: tuple[str, ...] = ()


def with_conversations(job: LoadedJob, before: Readout, after: Readout) -> ModuleTalk:
    """A job with the conversations in its captures; what the job itself states comes first."""
    differ: list[str] = []
    for when, readout in zip(SIDES, (before, after), strict=True):
        model, year = job.vehicle.model, job.model_year
        told = readout_side(readout, model, year, when)
        own = {(block.module, block.did): block for block in job.readouts if block.when == when}
        for block in told.blocks:
            stated = own.get((block.module, block.did))
            if stated is not None and stated.data != block.data:
                differ.append(f"{block.module} 0x{block.did:04X}")
        blocks = [block for block in told.blocks if (block.module, block.did) not in own]
        job = replace(
            job,
            readouts=(*job.readouts, *blocks),
            module_readouts=(*told.modules, *job.module_readouts),  # of what is told twice the last counts
        )
    return ModuleTalk(job, before.modules, after.modules, unique(differ))


class ModuleProof:
    """Fault codes and answers of the modules on both sides."""

    def __init__(self, talk: ModuleTalk) -> None:
        self._talk = talk
        after = [told for told in talk.job.module_readouts if told.when == "after"]
        self._checks: ModuleChecks = compare_modules(talk.job.module_readouts, after, None)

    def vins(self, when: When) -> tuple[str, ...]:
        """Vehicle numbers that modules told."""
        return unique(
            told.identification[did]
            for told in self._talk.job.module_readouts
            for did in VIN_IDS
            if told.when == when and did in told.identification
        )

    def changes(self) -> Iterator[VehicleChange]:
        """New stored faults, and modules that were asked and did not answer any more."""
        for check in self._checks.of(FaultChange.NEW):
            yield FaultNew(check.module, check.fault.code, check.fault.status)
        for name in sorted(self._told("before")):
            later = [reading for reading in self._talk.after if reading.name == name]
            asked = sum(reading.asked for reading in later)
            if asked and not any(reading.answered for reading in later):
                yield ModuleSilent(name, asked)

    def _told(self, when: When) -> set[str]:
        """Modules that said anything: in a conversation of a capture, or by a readout of the job."""
        job = self._talk.job
        talked = self._talk.before if when == "before" else self._talk.after
        return {
            *(reading.name for reading in talked if reading.name and reading.answered),
            *(block.module for block in job.readouts if block.when == when),
            *(told.module for told in job.module_readouts if told.when == when),
        }

    def notes(self) -> Iterator[ProveNote]:
        """Faults that nobody can compare, and blocks that are told in two ways."""
        uncompared = [f"{c.module} {c.fault.code}" for c in self._checks.of(FaultChange.UNCOMPARED)]
        if uncompared:
            yield FaultsUncompared(tuple(uncompared))
        if self._checks.unread:
            yield FaultsUnread(self._checks.unread)
        silent = {change.module for change in self.changes() if isinstance(change, ModuleSilent)}
        unread = self._told("before") - self._told("after") - silent - set(self._checks.unread)
        if unread:
            yield ModulesUnread(tuple(sorted(unread)))
        if self._talk.differ:
            yield ReadoutsDiffer(self._talk.differ)
