"""What is still open, grouped by what a person does about it: one trip, one capture a network.

The checklist and the next steps both stand on these groups, so that they never disagree.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final, Literal

from netcheck.coding import CodingRow, CodingStatus, Write
from netcheck.files import Exercise, LoadedJob, Where
from netcheck.roles import entries_of
from netcheck.verdict import ChannelUse, ItemResult, NeedResult, Reason, Status
from netcheck.words import unique
from netcheck.work._actions import CaptureTask, ModuleTitle, ReadBlock, Showing

# A further capture can change these. The others are settled at a desk.
RECAPTURE: Final = frozenset(
    {
        Reason.NO_CAPTURE,
        Reason.WRONG_TAP,
        Reason.DOUBTFUL_NETWORK,
        Reason.NO_TIME,
        Reason.NO_MARK,
        Reason.SOME_ANSWERS,
        Reason.DELAY_NOT_SHOWN,
        Reason.NOT_EXERCISED,
        Reason.MOVES_UNASKED,
        Reason.COUNTER_JUMPS,
        Reason.MESSAGE_ABSENT,
        Reason.NOT_AVAILABLE,
        Reason.COUNTER_FROZEN,
        Reason.NO_ANSWER,
    }
)
WHERES: Final[tuple[Where, ...]] = ("standing", "engine", "yard", "road")  # the least demanding first
_SILENT: Final = frozenset({Reason.MESSAGE_ABSENT, Reason.NOT_AVAILABLE, Reason.COUNTER_FROZEN})


def captures_to_take(
    job: LoadedJob, items: tuple[ItemResult, ...], captures: tuple[ChannelUse, ...]
) -> tuple[CaptureTask, ...]:
    """One task a network, in the vehicle file's order. Optional needs ride along and start no trip."""
    wanted = list(_open_needs(job, items, captures))
    if all(need.optional for _, need, _ in wanted) and not readouts_to_take(job, items):
        return ()
    tasks = []
    for network in job.vehicle.model.network:
        here = [(item, need) for item, need, where in wanted if where == network]
        if here:
            tasks.append(_task(job, network, here, captures))
    return tuple(tasks)


def _open_needs(
    job: LoadedJob, items: tuple[ItemResult, ...], captures: tuple[ChannelUse, ...]
) -> Iterator[tuple[ItemResult, NeedResult, str]]:
    """Needs that a further capture can settle, each with the network to capture."""
    captured = {use.network for use in captures}
    for item in items:
        for need in item.needs:
            if not need.status.is_open:
                continue
            if need.reason in RECAPTURE and need.network is not None:
                yield item, need, need.network
            elif need.reason is Reason.OTHER_NETWORK and not need.optional:
                # The tap may move there: if nobody has listened there yet, the same trip does it.
                for source in entries_of(job, need.role)[:1]:
                    if source.network not in captured:
                        yield item, need, source.network


def _task(
    job: LoadedJob,
    network: str,
    here: list[tuple[ItemResult, NeedResult]],
    captures: tuple[ChannelUse, ...],
) -> CaptureTask:
    showings: list[Showing] = []
    running: list[str] = []
    for role in unique(need.role for _, need in here):
        wanting = [(item, need) for item, need in here if need.role == role]
        if all(need.asks in {"defined", "present"} for _, need in wanting):
            running.append(role)
            continue
        names = unique(item.retrofit for item, _ in wanting)
        optional = all(need.optional for _, need in wanting)
        source = next((entry for entry in entries_of(job, role) if entry.network == network), None)
        for do, state, where in ways_to_show(job, role, names) or [("", "active", "standing")]:
            has_state = source is not None and (bool(source.active) or state != "active")
            answers = any(need.asks == "answers" for _, need in wanting)
            mark: Literal["state", "range", ""] = ("state" if has_state else "range") if answers else ""
            showings.append(Showing(role, do, state, mark, optional, where))
    misdeclared = tuple(use for use in captures if use.declared == network and use.network != network)
    silent = unique(need.role for _, need in here if need.reason in _SILENT)
    showings.sort(key=lambda showing: WHERES.index(showing.where))
    return CaptureTask(network, tuple(showings), tuple(running), silent, misdeclared)


def ways_to_show(job: LoadedJob, role: str, retrofits: tuple[str, ...]) -> list[tuple[str, str | int, Where]]:
    """What to do, the state it shows, what it takes; words of the named retrofits before those of others."""
    ordered = sorted(job.items, key=lambda item: item.retrofit.name not in retrofits)
    found: dict[str | int, Exercise] = {}
    for item in ordered:
        for exercise in item.retrofit.exercise:
            if exercise.role == role:
                found.setdefault(exercise.state, exercise)
    return [(exercise.do, exercise.state, exercise.where) for exercise in found.values()]


def readouts_to_take(job: LoadedJob, items: tuple[ItemResult, ...]) -> tuple[ReadBlock, ...]:
    """Coding blocks with fields to change that nobody has read, in the items' order."""
    rows = [
        row
        for item in items
        for row in item.coding
        if row.status is CodingStatus.UNKNOWN and row.did is not None
    ]
    return tuple(
        _read_block(job, module, did, [row for row in rows if (row.module, row.did) == (module, did)])
        for module, did in unique((row.module, row.did or "") for row in rows)
    )


def _read_block(job: LoadedJob, key: str, did: str, rows: list[CodingRow]) -> ReadBlock:
    module = job.vehicle.model.module[key]
    block = module.coding.get(int(did, 16))
    ids = None
    if module.request_id is not None and module.response_id is not None:
        ids = (module.request_id, module.response_id)
    fields = unique(row.field for row in rows)
    return ReadBlock(module_title(job, key), did, block.length if block else 0, fields, ids)


def module_title(job: LoadedJob, key: str) -> ModuleTitle:
    """A module's key, with its title where that adds something."""
    found = job.vehicle.model.module.get(key)
    title = found.title if found else ""
    return ModuleTitle(key, title if title.lower() != key.lower() else "")


def in_write(row: CodingRow, write: Write) -> bool:
    """Whether a change to do is part of a write: same block, and the block ends with the row's bits."""
    if row.status is not CodingStatus.TO_DO or (row.module, row.did) != (write.module, write.did):
        return False
    if row.byte is None or row.after is None or row.mask is None:
        return False
    start, stop = 2 * row.byte, 2 * row.byte + len(row.after)
    return not (int(write.after[start:stop] or "0", 16) ^ int(row.after, 16)) & int(row.mask, 16)


def sharing(stopped: Iterable[ItemResult], ready: Iterable[ItemResult], write: Write) -> tuple[str, ...]:
    """The stopped items for which a write changes what no item that is ready wants as well."""
    wanted = {(row.field, row.to) for item in ready for row in item.coding if in_write(row, write)}
    return unique(
        item.retrofit
        for item in stopped
        for row in item.coding
        if in_write(row, write) and (row.field, row.to) not in wanted
    )


def suppliers(job: LoadedJob, items: tuple[ItemResult, ...], index: int) -> tuple[ItemResult, ...]:
    """The other items that supply what item ``index`` needs, in the job's order."""
    roles = {need.role for need in items[index].needs if need.status is Status.SUPPLIED}
    return tuple(
        result
        for other, (loaded, result) in enumerate(zip(job.items, items, strict=True))
        if other != index
        and result.network == items[index].network
        and any(roles.intersection(supply.roles) for supply in loaded.retrofit.supply)
    )
