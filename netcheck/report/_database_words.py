"""The words of what was put right in a DBC file: one entry for each kind, in one place."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from netcheck.database import Database, DbcRepair, RepairKind

REPAIRS: Final[Mapping[RepairKind, Callable[[DbcRepair], str]]] = {
    RepairKind.NO_EXTENDED_FLAG: lambda repair: (
        f"message {repair.name} has the id 0x{repair.can_id or 0:X} without the flag of a 29-bit id: "
        "it is read as one"
    ),
    RepairKind.STRAY_ENTRY: lambda repair: (
        f"the {repair.entry} entry is left out: no message with the id 0x{repair.can_id or 0:X} has a signal "
        f"{repair.name}"
    ),
    RepairKind.DIGIT_NAME: lambda repair: (
        f"the name {repair.name} begins with a digit, which the format does not allow: it is read as it is"
    ),
}


def repair_text(repair: DbcRepair) -> str:
    """What was put right in memory, with file and line."""
    return f"{repair.file}: line {repair.line}: {REPAIRS[repair.kind](repair)}"


def database_warnings(database: Database) -> tuple[str, ...]:
    """All that a person should know of the DBC files: what was overlooked, then what was put right."""
    return (*database.warnings, *map(repair_text, database.repairs))
