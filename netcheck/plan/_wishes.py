"""What the items want coded: what their retrofit files ask for, and what unlocks a role they need."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from netcheck.coding import Clash, CodingRow, CodingStatus, Wanted, Write, locate, plan_coding
from netcheck.files import UnlockedBy, field_names
from netcheck.plan._ground import Ground
from netcheck.plan._model import Conflict, ConflictKind, NeedResult, Reason
from netcheck.words import similar


@dataclass(frozen=True)
class ItemCoding:
    """One item's rows and the conflicts they bring."""

    rows: tuple[CodingRow, ...]
    conflicts: tuple[Conflict, ...]


def plan_wishes(
    ground: Ground, needs: Sequence[tuple[NeedResult, ...]]
) -> tuple[tuple[ItemCoding, ...], tuple[Write, ...]]:
    """The coding of every item, and the writes of all of them together."""
    wanted = [wish for item in range(len(ground.items)) for wish in _wishes(ground, item, needs[item])]
    result = plan_coding(ground.job.vehicle.model, ground.job.model_year, ground.readouts, wanted)
    items = []
    for item in range(len(ground.items)):
        rows = tuple(row for wish, row in zip(wanted, result.rows, strict=True) if wish.item == item)
        undefined = [_undefined(ground, row) for row in rows if row.status is CodingStatus.UNDEFINED]
        clashes = [_clash(clash) for clash in result.clashes if item in (clash.first, clash.second)]
        items.append(ItemCoding(rows, (*undefined, *clashes)))
    return tuple(items), result.writes


def _wishes(ground: Ground, item: int, needs: tuple[NeedResult, ...]) -> list[Wanted]:
    loaded = ground.items[item]
    wishes = [
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
    ]
    unlocked: dict[tuple[str, str, str | int], list[tuple[UnlockedBy, NeedResult]]] = {}
    for need in needs:
        if need.reason is Reason.LOCKED:
            source = ground.choice(need.role, loaded.network).source
            unlock = source.entry.unlocked_by if source is not None else None
            if unlock is not None:
                change = _change(ground, unlock.module, unlock.field, unlock.value)
                unlocked.setdefault(change, []).append((unlock, need))
    asked = {_change(ground, wish.module, wish.field, wish.value) for wish in wishes}
    for change, found in unlocked.items():
        if change in asked:
            continue
        unlock, waiting = found[0][0], [need for _, need in found]
        roles = [need.role for need in waiting]
        wishes.append(
            Wanted(
                item=item,
                retrofit=loaded.retrofit.name,
                module=unlock.module,
                field=unlock.field,
                value=unlock.value,
                unlock=", ".join(roles),
                why=next((need.why for need in waiting if need.why), ""),
                file=str(ground.job.vehicle.file),
                where=f"role.{roles[0]}: unlocked_by.value",
            )
        )
    return wishes


def _change(ground: Ground, module: str, field: str, value: str | int) -> tuple[str, str, str | int]:
    """A coding change with its label as a number, so that it is told once, however it is spelled."""
    place = locate(ground.job.vehicle.model, ground.job.model_year, module, field)
    labels = place.field.values.items() if place is not None else ()
    return module, field, next((number for number, label in labels if label == value), value)


def _undefined(ground: Ground, row: CodingRow) -> Conflict:
    if not ground.has_module(row.module):
        in_file = row.module in ground.job.vehicle.model.module
        what = (
            f"this model year has no module {row.module}"
            if in_file
            else f"the vehicle has no module {row.module}"
            f"{similar(row.module, ground.job.vehicle.model.module)}"
        )
    else:
        near = similar(row.field, field_names(ground.job.vehicle.model.module[row.module]))
        what = f"module {row.module} has no coding field {row.field}{near}"
    return Conflict(
        ConflictKind.CODING_UNDEFINED,
        f"the part wants {row.module}.{row.field} = {row.to}, but {what} in the vehicle file",
        f"If the vehicle has {row.module}.{row.field}, add block and field to the vehicle file from its "
        "documentation, or correct the name in the retrofit file; if not, the part cannot be coded on this "
        "vehicle.",
    )


def _clash(clash: Clash) -> Conflict:
    return Conflict(
        ConflictKind.CODING_CONFLICT,
        clash.text,
        "Decide which of the two is fitted, or ask their makers for a setting that serves both.",
    )
