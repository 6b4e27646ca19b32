"""Exercises that differ in one name only, put together: ten buttons are one line of a checklist."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from netcheck.records import dataclass

IN_TURN: Final = "(each in turn)"


@dataclass(frozen=True)
class Exercises:
    """One way of showing several roles, or the only way of showing one.

    do: what the technician does; for several roles ``(each in turn)`` stands where their names differ
    """

    roles: tuple[str, ...]
    do: str
    state: str | int


def together(exercises: Iterable[tuple[str, str, str | int]]) -> tuple[Exercises, ...]:
    """Put (role, do, state) together where the texts differ in the roles' own words only, or not at all.

    ``wheel.volume-up`` and ``wheel.mute`` go together when one says "hold the volume up button" and the
    other "hold the mute button". The order is that of each first one.
    """
    found: dict[tuple[str, str, bool, str | int], Exercises] = {}
    for role, do, state in exercises:
        group, _, name = role.rpartition(".")
        form, count = re.subn(rf"\b{re.escape(name.replace('-', ' '))}\b", IN_TURN, do)
        if not group or count != 1:
            form = do
        key = (group, form, form != do, state)
        if key in found:
            alike = found[key]
            if role not in alike.roles:
                found[key] = replace(alike, roles=(*alike.roles, role), do=form)
        else:
            found[key] = Exercises((role,), do, state)
    return tuple(found.values())
