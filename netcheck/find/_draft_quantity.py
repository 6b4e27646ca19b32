"""What a search for a quantity adds to a draft: a signal with its scale, and a role. What stands stays."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from netcheck.bits import bit_positions
from netcheck.database import Database, Message, Signal, SignalAddition
from netcheck.files import RoleSource
from netcheck.find._draft import (
    DraftChange,
    DraftedRole,
    DraftKind,
    camel_name,
    draft_channel,
    free_name,
    message_name,
)
from netcheck.find._model import FoundField
from netcheck.find._movements import Movements
from netcheck.find._quantity_model import QuantityCandidate, QuantitySearch

_OFF: Final = 0.05  # of the scale, and of the range for the offset: what two rough tracks may differ by
_ERRORS: Final = 4.0  # standard errors that they may differ by


def quantity_change(
    search: QuantitySearch,
    movements: Movements,
    database: Database | None,
    roles: Mapping[str, Sequence[RoleSource]],
) -> DraftChange:
    """The signal and the role; or why nothing is written.

    Of fields that what is known cannot tell apart the first one is taken.
    """
    if not search.separated:
        return DraftChange((), (DraftedRole(search.role, DraftKind.NOT_CLEAR),))
    best = search.candidates[0]
    scale, offset = written_scale(best)
    told = DraftedRole(search.role, DraftKind.ADDED, found=best, scale=scale, offset=offset, unit=search.unit)
    if draft_channel(movements, database) not in {None, best.field.channel}:
        return DraftChange((), (replace(told, kind=DraftKind.OTHER_NETWORK),))
    message = _message(database, best.field)
    standing = _standing(message, best.field)
    if standing is not None and message is not None:
        return DraftChange((), (_with_standing(told, best, message, standing, roles),))
    if search.role in roles:
        return DraftChange((), (_elsewhere(told, roles),))
    addition = _addition(told, best, message, movements, database)
    told = replace(told, place=(addition.message, addition.name))
    return DraftChange((addition,), (told,))


def written_scale(best: QuantityCandidate) -> tuple[float, float]:
    """Scale and offset as they are written: round ones where the fit allows them.

    With a round scale the middle of the range stays where it was fitted. An offset within two errors of 0
    is none.
    """
    fitted = best.scale
    scale = fitted.usual_scale or _rounded(fitted.scale, fitted.scale_error)
    middle = (best.low + best.high) / 2
    offset = middle - scale * (middle - fitted.offset) / fitted.scale
    if abs(offset) <= 2 * fitted.offset_error:
        return scale, 0.0
    return scale, _rounded(offset, fitted.offset_error)


def _rounded(value: float, error: float) -> float:
    """To the second digit of its error."""
    if not error or not math.isfinite(error):
        return float(f"{value:.6g}")
    return float(f"{round(value, 1 - math.floor(math.log10(error))):.6g}")


def _message(database: Database | None, field: FoundField) -> Message | None:
    frame = field.frame_id.can_id, field.frame_id.is_extended
    messages = database.messages if database else ()
    return next((each for each in messages if (each.can_id, each.is_extended) == frame), None)


def _bits(signal: Signal) -> tuple[int, ...]:
    return bit_positions(signal.start, signal.width, signal.is_big_endian)


def _standing(message: Message | None, field: FoundField) -> Signal | None:
    """The draft's signal that has bits of a field: the one that begins with it, if there is one."""
    bits = field.bits
    taken = [each for each in (message.signals if message else ()) if set(bits) & set(_bits(each))]
    return next((each for each in taken if _bits(each)[0] == bits[0]), taken[0] if taken else None)


def _with_standing(
    told: DraftedRole,
    best: QuantityCandidate,
    message: Message,
    signal: Signal,
    roles: Mapping[str, Sequence[RoleSource]],
) -> DraftedRole:
    """Where the draft has a signal there: the same again, or a conflict."""
    place = message.name, signal.name
    own = roles.get(told.role, ())
    is_own = any((each.message, each.signal) == place for each in own)
    if own and not is_own:
        return _elsewhere(told, roles)
    if not _holds(signal, best):
        return replace(told, kind=DraftKind.BITS_TAKEN, place=place)
    for other, sources in roles.items():
        if other != told.role and any((each.message, each.signal) == place for each in sources):
            return replace(told, kind=DraftKind.BITS_TAKEN, place=place, other=other)
    has = replace(told, place=place, scale=signal.scale, offset=signal.offset, unit=signal.unit or told.unit)
    if not _is_alike(signal, best):
        return replace(has, kind=DraftKind.OTHER_SCALE)
    return replace(has, kind=DraftKind.THERE if is_own else DraftKind.ADDED)


def _elsewhere(told: DraftedRole, roles: Mapping[str, Sequence[RoleSource]]) -> DraftedRole:
    source = roles[told.role][0]
    return replace(told, kind=DraftKind.ELSEWHERE, place=(source.message, source.signal))


def _holds(signal: Signal, best: QuantityCandidate) -> bool:
    """Whether a signal has a field's bits as far as they moved; above, either end may be a guess."""
    bits = _bits(signal)
    moved = best.field.bits[: best.field.width - best.unmoved]
    is_same_sign = not best.field.is_signed or (signal.is_signed and len(bits) == len(moved))
    return bits[: len(moved)] == moved and is_same_sign


def _is_alike(signal: Signal, best: QuantityCandidate) -> bool:
    """Whether a signal's scale and offset are those of the fit, as far as two rough tracks agree."""
    fitted = best.scale
    most = max(_ERRORS * fitted.scale_error, _OFF * abs(fitted.scale))
    middle = (best.low + best.high) / 2
    there = signal.scale * (middle - fitted.offset) / fitted.scale + signal.offset
    error = max(_ERRORS * best.residual, _OFF * (best.high - best.low))
    return abs(signal.scale - fitted.scale) <= most and abs(there - middle) <= error


def _addition(
    told: DraftedRole,
    best: QuantityCandidate,
    message: Message | None,
    movements: Movements,
    database: Database | None,
) -> SignalAddition:
    field = best.field
    names = {each.name for each in (database.messages if database else ())}
    taken = {each.name for each in message.signals} if message else set()
    bits = field.bits
    return SignalAddition(
        can_id=field.frame_id.can_id,
        is_extended=field.frame_id.is_extended,
        message=message.name if message else free_name(message_name(field), names),
        length=max(each.length for each in movements.by_key[field.channel, field.frame_id]),
        name=free_name(camel_name(told.role), taken),
        start=bits[-1] if field.order == "big" else bits[0],
        width=field.width,
        is_big_endian=field.order == "big",
        is_signed=field.is_signed,
        scale=told.scale or 1.0,
        offset=told.offset or 0.0,
        unit=told.unit,
    )
