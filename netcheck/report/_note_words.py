"""All that is said of an item's notes: one entry for each record, in one place."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from netcheck.report._numbers import because, percent
from netcheck.verdict import (
    CodingLeft,
    IdInDbc,
    IdleReplacement,
    IdsUnchecked,
    LateMessage,
    LoadAdded,
    ModuleLeft,
    Note,
    OptionalLoss,
    ResourceContested,
    ResourcesExclusive,
    RoomUnknown,
)
from netcheck.words import bit_rate, counted, listing

MOST_LEFT: Final = 3  # roles of a coding field, named in one sentence
MOST_LATE: Final = 3  # messages, named in one sentence


def note_text(note: Note) -> str:
    """A note, without a full stop."""
    return NOTES[type(note)](note)


def _late(late: LateMessage) -> str:
    """``EngineStatus (0x200) waits 12.4 ms, beyond its 10 ms period (8.1 ms now)``."""
    title = f"{late.name} ({late.frame_id})" if late.name else str(late.frame_id)
    waits = "waits without a bound" if late.worst_s is None else f"waits {_ms(late.worst_s)}"
    now = "" if late.before_s is None else f" ({_ms(late.before_s)} now)"
    return f"{title} {waits}, beyond its {late.period_s * 1000:g} ms period{now}"


def _ms(seconds: float) -> str:
    return f"{seconds * 1000:.1f} ms"


def _ids_unchecked(note: IdsUnchecked) -> str:
    ids = listing([str(frame_id) for frame_id in note.frame_ids])
    verb = "is" if len(note.frame_ids) == 1 else "are"
    return f"whether {ids} {verb} free on {note.network} is not known: no capture of it"


def _load_added(note: LoadAdded) -> str:
    text = (
        f"its messages take the busiest second of {note.network} from {percent(note.before)} to "
        f"{percent(note.after)} of {bit_rate(note.bitrate)}"
    )
    if note.late:
        named = [_late(late) for late in note.late[:MOST_LATE]]
        if len(note.late) > MOST_LATE:
            named.append(f"{counted(len(note.late) - MOST_LATE, 'more message')} likewise")
        return f"{text}. In the worst case, {', '.join(named)}. That is rare, and no conflict"
    if not note.already:
        return text + ", and every message seen there still meets its period in the worst case"
    text += f" and make no further message late; {counted(note.already, 'message')} seen there may miss "
    return text + ("their period already, in the worst case" if note.already > 1 else "its period already")


def _room_unknown(note: RoomUnknown) -> str:
    ids = listing([str(frame_id) for frame_id in note.frame_ids])
    return (
        f"whether {note.network} has room for {ids} is not known: the retrofit file does not give both "
        "period_ms and length"
    )


def _coding_left(note: CodingLeft) -> str:
    roles = listing(note.roles, most=MOST_LEFT)
    if note.value is None:
        state = "is left as it is, and nobody has read it"
    else:
        state = f"is {note.value} and stays so"
    return f"{note.module}.{note.field} {state}: intended? It belongs to {roles}"


def _module_left(note: ModuleLeft) -> str:
    fields = [f"{name} {'was not read' if value is None else f'is {value}'}" for name, value in note.fields]
    if all(value is None for _, value in note.fields):
        fields = [f"{', '.join(name for name, _ in note.fields)} (not read)"]
    return f"other coding of {note.module} stays as it is, intended? {', '.join(fields)}"


NOTES: Final[dict[type[Note], Callable[[Any], str]]] = {
    IdleReplacement: lambda note: (
        f"replaces module {note.module}, which this vehicle does not have: that changes nothing"
    ),
    IdsUnchecked: _ids_unchecked,
    IdInDbc: lambda note: (
        f"the DBC gives {note.frame_id} to {note.message}, "
        f"{'which was not seen' if note.is_captured else 'which may be there'}"
    ),
    RoomUnknown: _room_unknown,
    LoadAdded: _load_added,
    ResourceContested: lambda note: (
        f"{listing(note.users)} take {note.needed} of {note.resource} together, and what can be fitted gives "
        f"{note.ready}: not all of them can be fitted now"
    ),
    ResourcesExclusive: lambda note: (
        f"{listing(note.resources)} cannot be used at the same time{because(note.why)}"
    ),
    CodingLeft: _coding_left,
    ModuleLeft: _module_left,
    OptionalLoss: lambda note: f"the optional {note.role} loses its source to a part that the job replaces",
}
