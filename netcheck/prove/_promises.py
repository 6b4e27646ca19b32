"""What the job says will be different after the fitting, and whether it is."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

from netcheck.coding import CodingStatus, Held, Readback, Write, compare_readback
from netcheck.network import FrameId
from netcheck.prove._change_model import (
    CodingChanged,
    ProvenMessage,
    VehicleChange,
)
from netcheck.prove._messages import NetworkMessages, PlannedIds
from netcheck.prove._model import (
    Promise,
    PromiseKind,
)
from netcheck.prove._note_model import (
    CodingUncompared,
    CodingUnread,
    ProveNote,
)
from netcheck.roles import ResolvedRole
from netcheck.verdict import ItemResult, PlanContext, sent_by_items
from netcheck.words import unique

LEAST_AWAKE_S = 10.0  # for which a new id is waited where its period is not known


def planned_on(context: PlanContext, items: Sequence[ItemResult], network: str) -> PlannedIds:
    """Ids of a network that the job's items add, that its coding unlocks, and that go away."""
    supplied = {role for item in context.items for supply in item.retrofit.supply for role in supply.roles}
    changed = {
        (row.module, row.field)
        for item in items
        for row in item.coding
        if row.status is not CodingStatus.UNDEFINED
    }
    new = set(sent_by_items(context.job, network))
    for role, entries in context.roles.items():
        for entry in entries:
            is_here = entry.network == network and entry.message is not None
            if is_here and (role in supplied or _is_unlocked(entry, changed)):
                new.add(_frame_id(entry))
    gone = {FrameId(message.can_id, message.is_extended) for message in context.replaced_messages(network)}
    return PlannedIds(frozenset(new), frozenset(gone))


def _is_unlocked(entry: ResolvedRole, changed: Collection[tuple[str, str]]) -> bool:
    unlock = entry.entry.unlocked_by
    return unlock is not None and (unlock.module, unlock.field) in changed


def _frame_id(entry: ResolvedRole) -> FrameId:
    assert entry.message is not None
    return FrameId(entry.message.can_id, entry.message.is_extended)


def promises(
    context: PlanContext,
    networks: Mapping[str, NetworkMessages],
    planned: Mapping[str, PlannedIds],
    awake_s: Mapping[str, float],
) -> Iterator[Promise]:
    """New ids that an item's papers name, and old sources that have to be silent.

    awake_s: per network, how long it was awake after the fitting
    """
    for item in context.items:
        for supply in item.retrofit.supply:
            if supply.message_id is None or item.network is None:
                continue
            frame_id = FrameId(supply.message_id, supply.is_extended)
            messages = networks.get(item.network)
            waited = awake_s.get(item.network, 0.0)
            due_s = 10 * supply.period_ms / 1000 if supply.period_ms else LEAST_AWAKE_S
            came = messages is not None and frame_id in messages.after
            is_kept = True if came else False if waited >= due_s else None
            named = messages.named(frame_id) if messages else ProvenMessage(item.network, frame_id)
            yield Promise(PromiseKind.NEW_ID, item.retrofit.name, is_kept, named)
    replacing = next((item.retrofit.name for item in context.items if item.retrofit.replace), "")
    for name, messages in networks.items():
        for frame_id in sorted(planned[name].gone):
            if frame_id in planned[name].new or frame_id not in messages.before:
                continue
            is_kept = None if not awake_s.get(name) else frame_id not in messages.after
            yield Promise(PromiseKind.SOURCE_GONE, replacing, is_kept, messages.named(frame_id))


class CodingProof:
    """The coding of a job as readouts from before and after have it."""

    def __init__(
        self,
        before: PlanContext,
        after: PlanContext,
        items: Sequence[ItemResult],
        writes: Sequence[Write],
    ) -> None:
        """items, writes: what the plan makes of the job."""
        self._rows = [(item.retrofit, row) for item in items for row in item.coding]
        job = before.job
        self._readback: Readback = compare_readback(
            job.vehicle.model,
            job.model_year,
            [row for _, row in self._rows],
            writes,
            before.readouts,
            after.readouts,
        )

    def promises(self) -> Iterator[Promise]:
        """Each wanted value, and what the readout from after holds."""
        found = {(check.module, check.field, check.wanted): check for check in self._readback.fields}
        kept = {Held.HOLDS: True, Held.DIFFERS: False}
        for item, row in self._rows:
            check = found[row.module, row.field, row.to]
            yield Promise(PromiseKind.CODING, item, kept.get(check.status), row=row, found=check.found)

    def changes(self) -> Iterator[VehicleChange]:
        """Values that were changed as planned, and bits that nobody meant to change."""
        seen: list[CodingChanged] = []
        for promise in self.promises():
            row = promise.row
            if row is not None and promise.is_kept and row.status is not CodingStatus.ALREADY:
                seen.append(
                    CodingChanged(
                        row.module, row.did or "", row.field, row.from_, promise.found, is_planned=True
                    )
                )
        yield from unique(seen)
        for block in self._readback.blocks:
            for change in block.foreign:
                place = (None, 0, 0) if change.field else (change.byte, change.bit, change.width)
                values = (change.from_, change.to) if change.field else (change.before, change.after)
                yield CodingChanged(block.module, block.did, change.field or "", *values, *place)

    def notes(self) -> Iterator[ProveNote]:
        """Blocks that nobody read after the fitting."""
        unread = unread_blocks(tuple(self.promises()))
        if unread:
            yield CodingUnread(unread)
        unsure = unique(f"{b.module} {b.did}" for b in self._readback.blocks if b.expected is None)
        if unsure:
            yield CodingUncompared(unsure)


def unread_blocks(promised: Sequence[Promise]) -> tuple[str, ...]:
    """Blocks with a wanted value that no readout from after the fitting tells."""
    rows = [
        promise.row for promise in promised if promise.kind is PromiseKind.CODING and promise.is_kept is None
    ]
    return unique(f"{row.module} {row.did}" if row.did else row.module for row in rows if row is not None)
