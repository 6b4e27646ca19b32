"""What the items want coded: what their retrofit files ask for, and what unlocks a role they need."""

from __future__ import annotations

from collections.abc import Sequence

from netcheck.coding import CodingRow, CodingStatus, Wanted, Write, locate, plan_coding
from netcheck.files import Code, UnlockedBy, field_names
from netcheck.records import dataclass
from netcheck.verdict._conflict_model import CodingConflict, CodingUndefined, Conflict
from netcheck.verdict._context import PlanContext
from netcheck.verdict._model import NeedResult, Reason
from netcheck.words import similar


@dataclass(frozen=True)
class ItemCoding:
    """One item's rows and the conflicts they bring."""

    rows: tuple[CodingRow, ...]
    conflicts: tuple[Conflict, ...]


def request_coding(
    context: PlanContext, needs: Sequence[tuple[NeedResult, ...]]
) -> tuple[tuple[ItemCoding, ...], tuple[Write, ...]]:
    """The coding of every item, and the writes of all of them together."""
    wanted = [
        request for item in range(len(context.items)) for request in _requests(context, item, needs[item])
    ]
    result = plan_coding(context.job.vehicle.model, context.job.model_year, context.readouts, wanted)
    items = []
    for item in range(len(context.items)):
        rows = tuple(row for request, row in zip(wanted, result.rows, strict=True) if request.item == item)
        undefined = [_undefined(context, row) for row in rows if row.status is CodingStatus.UNDEFINED]
        clashes = [CodingConflict(clash) for clash in result.clashes if item in (clash.first, clash.second)]
        items.append(ItemCoding(rows, (*undefined, *clashes)))
    return tuple(items), result.writes


def _requests(context: PlanContext, item: int, needs: tuple[NeedResult, ...]) -> list[Wanted]:
    loaded = context.items[item]
    requests = [
        Wanted(
            item=item,
            retrofit=loaded.retrofit.name,
            module=code.module,
            field=code.field,
            value=code.value,
            unlock=None,
            why=code.why,
            file=loaded.source,
            where=f"code[{number}].value",
        )
        for number, code in enumerate(loaded.retrofit.code)
        if not (code.optional and _lacks(context, code))
    ]
    unlocked: dict[tuple[str, str, str | int], list[tuple[UnlockedBy, NeedResult]]] = {}
    for need in needs:
        if need.reason is Reason.LOCKED:
            source = context.choice(need.role, (need.network,) if need.network else None).source
            unlock = source.entry.unlocked_by if source is not None else None
            if unlock is not None:
                change = _change(context, unlock.module, unlock.field, unlock.value)
                unlocked.setdefault(change, []).append((unlock, need))
    asked = {_change(context, request.module, request.field, request.value) for request in requests}
    for change, found in unlocked.items():
        if change in asked:
            continue
        unlock, waiting = found[0][0], [need for _, need in found]
        roles = [need.role for need in waiting]
        requests.append(
            Wanted(
                item=item,
                retrofit=loaded.retrofit.name,
                module=unlock.module,
                field=unlock.field,
                value=unlock.value,
                unlock=", ".join(roles),
                why=next((need.why for need in waiting if need.why), ""),
                file=str(context.job.vehicle.file),
                where=f"role.{roles[0]}: unlocked_by.value",
            )
        )
    return requests


def _lacks(context: PlanContext, code: Code) -> bool:
    """Whether the vehicle, in this model year, has no such module or coding field."""
    return locate(context.job.vehicle.model, context.job.model_year, code.module, code.field) is None


def _change(context: PlanContext, module: str, field: str, value: str | int) -> tuple[str, str, str | int]:
    """A coding change with its label as a number, so that it is told once, however it is spelled."""
    place = locate(context.job.vehicle.model, context.job.model_year, module, field)
    labels = place.field.values.items() if place is not None else ()
    return module, field, next((number for number, label in labels if label == value), value)


def _undefined(context: PlanContext, row: CodingRow) -> Conflict:
    modules = context.job.vehicle.model.module
    if context.has_module(row.module):
        near = similar(row.field, field_names(modules[row.module]))
    else:
        near = () if row.module in modules else similar(row.module, modules)
    return CodingUndefined(
        module=row.module,
        field=row.field,
        value=row.to,
        has_module=context.has_module(row.module),
        is_in_file=row.module in modules,
        similar=near,
    )
