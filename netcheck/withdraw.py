"""An item taken out of a job after coding: what to write back, and what to take away or put back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import field, replace

from netcheck.coding import CodingRow, CodingStatus, ModuleChecks, Write, compare_modules
from netcheck.errors import UsageError
from netcheck.files import LoadedItem, LoadedJob, Wire, one_of
from netcheck.network import FrameId
from netcheck.plan import Plan, make_plan
from netcheck.records import dataclass
from netcheck.verdict import ItemResult, Progress, Verdict
from netcheck.words import unique
from netcheck.work import in_write


@dataclass(frozen=True)
class BlockBack:
    """A coding block to write back. Bytes are hex digits.

    now:     as the whole job leaves it, or as it was read after the fitting (``is_read``)
    back:    without the item's changes; what other items changed stays
    rows:    the item's changes that go
    """

    module: str
    did: str
    now: str
    back: str
    rows: tuple[CodingRow, ...]
    is_read: bool


@dataclass(frozen=True)
class SentMessage:
    """A message that goes away with the item. frame_id: None where the retrofit does not state it"""

    network: str | None
    frame_id: FrameId | None
    roles: tuple[str, ...]


@dataclass(frozen=True)
class OtherItem:
    """Another item of the job, with the item and without it."""

    item: str
    before: Verdict
    after: Verdict


@dataclass(frozen=True)
class Withdrawal:
    """All that goes back.

    blocks:   in the order to write them: the reverse of the coding
    unread:   (module, data identifier, field) whose old value nobody read
    messages: what the item sent
    put_back: roles, modules and resources that it replaced
    wires:    to be taken off
    given:    resources that it gave to others
    others:   the job's other items
    modules:  what modules reported after the fitting against before: a fault that came with the item must go
    """

    vehicle: str
    model_year: int
    job: str
    item: str
    blocks: tuple[BlockBack, ...]
    unread: tuple[tuple[str, str, str], ...]
    messages: tuple[SentMessage, ...]
    put_back: tuple[str, ...]
    wires: tuple[Wire, ...]
    given: tuple[str, ...]
    others: tuple[OtherItem, ...]
    modules: ModuleChecks = field(default_factory=ModuleChecks)


def withdraw(
    job: LoadedJob, name: str, *, cache: bool = True, progress: Progress | None = None
) -> Withdrawal:
    """What goes back when the items of this retrofit name leave the job.

    Raises UsageError for a name that the job has not; see ``make_plan`` for the rest.
    """
    names = unique(item.retrofit.name for item in job.items)
    if name not in names:
        raise UsageError(f"--withdraw: the job has no item '{name}'", remedy=one_of(name, names))
    leaving = [item for item in job.items if item.retrofit.name == name]
    rest = replace(job, items=tuple(item for item in job.items if item.retrofit.name != name))
    whole = make_plan(job, cache=cache, progress=progress)
    without = make_plan(rest, cache=cache, progress=progress) if rest.items else None
    mine = [item for item in whole.items if item.retrofit == name]
    return Withdrawal(
        vehicle=whole.vehicle,
        model_year=whole.model_year,
        job=job.name,
        item=name,
        blocks=tuple(_blocks(job, whole, without, mine))[::-1],
        unread=unique(
            (row.module, row.did or "", row.field)
            for item in mine
            for row in item.coding
            if row.status is CodingStatus.UNKNOWN
        ),
        messages=tuple(_messages(leaving)),
        put_back=unique(
            named
            for item in leaving
            for entry in item.retrofit.replace
            for named in (entry.role, entry.module, entry.resource)
            if named is not None
        ),
        wires=tuple(wire for item in leaving for wire in item.wires),
        given=unique(entry.resource for item in leaving for entry in item.retrofit.provide),
        others=tuple(_others(whole, without, name)),
        modules=compare_modules(
            job.module_readouts,
            [readout for readout in job.module_readouts if readout.when == "after"],
            job.identity.vin,
        ),
    )


def _blocks(job: LoadedJob, whole: Plan, without: Plan | None, mine: list[ItemResult]) -> Iterator[BlockBack]:
    kept = {(write.module, write.did): write.after for write in without.writes} if without else {}
    read = {
        (entry.module, f"0x{entry.did:04X}"): entry.data.hex().upper()
        for entry in job.readouts
        if entry.when == "after"
    }
    for write in whole.writes:
        key = (write.module, write.did)
        rows = [row for item in mine for row in item.coding if in_write(row, write)]
        wanted = kept.get(key, write.before)
        if rows and wanted != write.after:
            now = read.get(key, write.after)
            back = _with_bits(now, wanted, write)
            yield BlockBack(write.module, write.did, now, back, tuple(rows), is_read=key in read)


def _with_bits(now: str, wanted: str, write: Write) -> str:
    """The bytes as they are, with those bits of ``wanted`` that the item changed."""
    changed = int(write.after, 16) ^ int(wanted, 16)
    number = (int(now, 16) & ~changed) | (int(wanted, 16) & changed)
    return f"{number:0{len(now)}X}"


def _messages(leaving: list[LoadedItem]) -> Iterator[SentMessage]:
    for item in leaving:
        for supply in item.retrofit.supply:
            frame_id = None
            if supply.message_id is not None:
                frame_id = FrameId(supply.message_id, supply.is_extended)
            yield SentMessage(item.network, frame_id, supply.roles)


def _others(whole: Plan, without: Plan | None, name: str) -> Iterator[OtherItem]:
    stay = [item for item in whole.items if item.retrofit != name]
    for before, after in zip(stay, without.items if without else (), strict=True):
        yield OtherItem(before.retrofit, before.verdict, after.verdict)
