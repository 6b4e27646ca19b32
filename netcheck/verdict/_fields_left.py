"""Coding fields that a job leaves alone: those of roles that its items work on, and of their modules."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from netcheck.coding import CodingRow, label_of, read_field
from netcheck.files import CodingField, present_modules
from netcheck.verdict._context import PlanContext
from netcheck.verdict._item_note_model import CodingLeft, ModuleLeft, Note
from netcheck.words import unique


def fields_left(context: PlanContext, item: int, rows: Sequence[CodingRow]) -> Iterator[Note]:
    """Fields of the item that the job does not code: those of a role one by one, those of a module together.

    A module counts for the first item that names it. rows: the coding of all items
    """
    coded = {(row.module, row.field) for row in rows}
    own, all_roles = _roles(context, item), frozenset[str]().union(*_all_roles(context))
    earlier = {name for before in range(item) for name in _modules(context, before)}
    mine = [name for name in _modules(context, item) if name not in earlier]
    for name, fields in _fields(context).items():
        others: list[tuple[str, str | int | None]] = []
        for key, field, value in fields:
            if (name, key) in coded:
                continue
            roles = tuple(role for role in field.roles if role in own)
            if roles:
                yield CodingLeft(name, key, roles, value)
            elif name in mine and all_roles.isdisjoint(field.roles):
                others.append((key, value))
        if others:
            yield ModuleLeft(name, tuple(others))


def _fields(context: PlanContext) -> dict[str, list[tuple[str, CodingField, str | int | None]]]:
    """Per module: name, field and present value of each coding field; None where nobody has read it."""
    found: dict[str, list[tuple[str, CodingField, str | int | None]]] = {}
    for name, module in present_modules(context.job.vehicle.model, context.job.model_year).items():
        for did, block in module.coding.items():
            data = context.readouts.get((name, did))
            for key, field in block.field.items():
                value = None if data is None else label_of(field, read_field(field, data))
                found.setdefault(name, []).append((key, field, value))
    return found


def _all_roles(context: PlanContext) -> Iterator[frozenset[str]]:
    return (_roles(context, item) for item in range(len(context.items)))


def _roles(context: PlanContext, item: int) -> frozenset[str]:
    """What the item needs, supplies or takes the place of."""
    retrofit = context.items[item].retrofit
    return frozenset(
        {
            *(need.role for need in retrofit.need),
            *(role for supply in retrofit.supply for role in supply.roles),
            *(entry.role for entry in retrofit.replace if entry.role is not None),
        }
    )


def _modules(context: PlanContext, item: int) -> tuple[str, ...]:
    """Those that the item requires, codes, or that use a signal for it."""
    retrofit = context.items[item].retrofit
    return unique(
        [
            *(entry.module for entry in retrofit.require),
            *(code.module for code in retrofit.code),
            *(need.used_by for need in retrofit.need if need.used_by is not None),
        ]
    )
