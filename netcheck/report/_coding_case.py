"""What a coding report is about, and what both its forms need to know about a write."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from netcheck.coding import (
    Change,
    CodingRow,
    CodingStatus,
    Readback,
    Write,
    changes_between,
    module_in,
    order_blocks,
)
from netcheck.files import LoadedJob
from netcheck.plan import Plan
from netcheck.records import dataclass
from netcheck.report._coding_step_words import turn_text
from netcheck.verdict import Conflict, ConflictKind, ItemResult, Verdict
from netcheck.words import clause, listing, unique
from netcheck.work import coding_turn, in_write

STOPS: Final = frozenset({ConflictKind.CODING_CONFLICT, ConflictKind.CODING_UNDEFINED})


@dataclass(frozen=True)
class CodingCase:
    """A plan's coding. source: where the later readout came from, "" if there is none."""

    job: LoadedJob
    plan: Plan
    readback: Readback | None = None
    source: str = ""

    @property
    def is_stopped(self) -> bool:
        """Two items want different values, or the vehicle file lacks a field."""
        return any(self.conflicts()) or any(row.status is CodingStatus.UNDEFINED for _, row in self.rows())

    @property
    def is_unknown(self) -> bool:
        """The present value of a field to be set was not read."""
        return any(row.status is CodingStatus.UNKNOWN for _, row in self.rows())

    @property
    def holds(self) -> bool:
        """A later readout has every wanted value and no other change."""
        return self.readback is not None and not self.readback.is_wrong and not self.readback.is_unsure

    def rows(self) -> Iterator[tuple[ItemResult, CodingRow]]:
        """Every row with its item, in the plan's order."""
        for item in self.plan.items:
            for row in item.coding:
                yield item, row

    def conflicts(self) -> Iterator[tuple[ItemResult, Conflict]]:
        """The conflicts about coding with their items, in the plan's order."""
        for item in self.plan.items:
            for conflict in item.conflicts:
                if conflict.kind in STOPS:
                    yield item, conflict

    def order_reason(self, write: Write) -> str:
        """Why a block stands where it does in the order, sentences; "" where nothing says so."""
        order = order_blocks(self.job.vehicle.model, self.plan.model_year, [row for _, row in self.rows()])
        several = len({entry.module for entry in self.plan.writes}) > 1
        for place in order:
            if place.block == (write.module, write.did):
                turn = coding_turn(self.job, place, several=several)
                return turn_text(turn) if turn is not None else ""
        return ""

    def place(self, module: str) -> str:
        """A module's key with its title: ``column (Steering column module)``."""
        found = self.job.vehicle.model.module.get(module)
        title = found.title if found else ""
        return f"{module} ({title})" if title and title.lower() != module.lower() else module

    def changes(self, module: str, did: str, before: bytes, after: bytes) -> tuple[Change, ...]:
        """What differs between two states of a block; () for one that this model year does not have."""
        found = module_in(self.job.vehicle.model, self.plan.model_year, module)
        block = found.coding.get(int(did, 16)) if found is not None else None
        return () if block is None else changes_between(block, before, after)

    def wanted_by(self, write: Write, change: Change) -> tuple[str, ...]:
        """Who wants a change and why, one text each; for a field nobody names, that it shares bits."""
        texts = []
        for item, row in self._in(write):
            if row.field == change.field:
                unlock = f", unlocks {row.unlock}" if row.unlock else ""
                why = f": {clause(row.why)}" if row.why and not row.unlock else ""
                texts.append(f"for {item.retrofit}{unlock}{why}")
        return unique(texts) or ("shares its bits with another field of this write",)

    def worst(self, write: Write) -> Verdict:
        """The worst verdict of the items that a write holds a change for."""
        verdicts = [item.verdict for item, _ in self._in(write)]
        order = (Verdict.NO_GO, Verdict.UNPROVEN, Verdict.GO_WITH_CHANGES)
        return next((verdict for verdict in order if verdict in verdicts), Verdict.GO)

    def withheld(self, write: Write) -> tuple[str, ...]:
        """Why a block should not be written yet: it holds a change for an item that is not to be fitted."""
        texts = []
        stopped = unique(item.retrofit for item, _ in self._in(write) if item.verdict is Verdict.NO_GO)
        if stopped:
            texts.append(
                f"Do not write this block: it contains a change for {listing(stopped)}, which is no-go. "
                "Take that out of the job and run this again."
            )
        waiting = unique(item.retrofit for item, _ in self._in(write) if item.verdict is Verdict.UNPROVEN)
        if waiting:
            texts.append(f"Wait: this block contains a change for {listing(waiting)}, which is unproven.")
        return tuple(texts)

    def _in(self, write: Write) -> Iterator[tuple[ItemResult, CodingRow]]:
        return ((item, row) for item, row in self.rows() if in_write(row, write))
