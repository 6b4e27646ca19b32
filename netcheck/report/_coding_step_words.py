"""All that is said of steps that code: one entry for each action, in one place; and of a block's turn."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Final

from netcheck.coding import CodingRow
from netcheck.files import FIRST, LAST
from netcheck.words import clause, command_line, listing, spaced
from netcheck.work import (
    Action,
    CodeOnceRead,
    CodeWithCare,
    CodingTurn,
    HoldBlock,
    ModuleTitle,
    ReadBack,
    WriteBlock,
)

CODE_WITH_CARE: Final = (
    "netcheck writes nothing to a vehicle: code with your own authorised equipment, vehicle standing, "
    "steady supply voltage. Read each block again just before writing; if it is not the old one below, stop."
)


def titled(module: ModuleTitle, *asides: str) -> str:
    """``engine (Engine control)``."""
    told = [text for text in (module.title, *asides) if text]
    return f"{module.key} ({'; '.join(told)})" if told else module.key


def turn_text(turn: CodingTurn) -> str:
    """Where a block stands in the order of coding, and why: sentences."""
    texts = []
    if turn.place is not None:
        texts.append(f"{_place_word(turn.place)}: {clause(turn.why) or 'the vehicle file says so'}.")
    if turn.afters:
        texts.append(f"Only after {listing(turn.afters)}.")
    if turn.together:
        texts.append(f"One step with {listing(turn.together)}: write them one directly after the other.")
    return " ".join(texts)


def turn_word(turn: CodingTurn) -> str:
    """The same without the reason, for a narrow column."""
    place = [] if turn.place is None else [f"{_place_word(turn.place)}."]
    return " ".join((*place, turn_text(replace(turn, place=None)))).strip()


def _place_word(place: int) -> str:
    return {FIRST: "First", LAST: "Last"}.get(place, f"Place {place} in the order")


def _turn(turn: CodingTurn | None) -> str:
    if turn is None:
        return ""
    return f" {turn_text(turn)}"


def _value(value: str | int | None) -> str | int:
    return "unknown" if value is None else value


def _write_block(action: WriteBlock) -> str:
    changes = listing([f"{row.field} {_value(row.from_)} → {row.to}" for row in action.rows])
    old, new = spaced(action.write.before), spaced(action.write.after)
    return (
        f"Write {titled(action.module)} {action.write.did}: {old} → {new} ({changes}). To revert: {old}."
        f"{_turn(action.turn)}"
    )


def _code_once_read(action: CodeOnceRead) -> str:
    values = listing([_wanted(row) for row in action.rows])
    return (
        f"Code {titled(action.module)} {action.did}: {values}; the bytes follow once the block is read."
        f"{_turn(action.turn)}"
    )


def _wanted(row: CodingRow) -> str:
    return f"{row.field} = {row.to}"


def _hold_block(action: HoldBlock) -> str:
    return (
        f"Do not write {titled(action.module)} {action.did} from this plan: the block holds a change for "
        f"{listing(action.items)}, which is no-go. Run the plan without it first.{_turn(action.turn)}"
    )


def _read_back(action: ReadBack) -> str:
    how = " byte by byte."
    if action.job is not None:
        how = f": {command_line('coding', action.job, '--readback')} FILE"
    return f"Read the written blocks again and compare{how}"


CODING_STEPS: Final[Mapping[type[Action], Callable[[Any], str]]] = {
    WriteBlock: _write_block,
    CodeOnceRead: _code_once_read,
    HoldBlock: _hold_block,
    ReadBack: _read_back,
    CodeWithCare: lambda _: CODE_WITH_CARE,
}
