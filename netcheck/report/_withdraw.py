"""What goes back when a part leaves a job, as text and JSON."""

from __future__ import annotations

from typing import Any, Final

from netcheck.coding import FaultChange
from netcheck.report._coding_modules import fault_text, module_checks, modules_json
from netcheck.report._facts import facts_of
from netcheck.report._page import Page, Style
from netcheck.report._plan_json import coding_row
from netcheck.report._plan_words import VERDICT_WORDS, value_text
from netcheck.report._states import write_states
from netcheck.withdraw import BlockBack, SentMessage, Withdrawal
from netcheck.words import clause, listing

WITHDRAW_SCHEMA: Final = "netcheck.withdraw/1"


def withdraw_text(found: Withdrawal, *, width: int = 80, colour: bool = False) -> str:
    """The list: coding first, then what comes off and what goes back in, then the other parts."""
    page = Page(width)
    page.text(f"{found.vehicle}, model year {found.model_year} – {found.job}")
    page.text(f"{found.item} leaves the job", style=Style.STRONG)
    page.heading("Coding to write back – netcheck writes nothing to a vehicle")
    if not found.blocks and not found.unread:
        page.text("Nothing: the part changes no coding that another part does not want as well.")
    for block in found.blocks:
        _write_block(page, block)
    for module, did, field in found.unread:
        page.entry("?", f"{module} {did} {field}: the old value was never read, so it is not known.")
    module_checks(page, found.modules)
    page.heading("At the vehicle: [ ] to tick off")
    page.text("Power down first, as for the fitting: every source, and the vehicle maker's waiting time.")
    for line in _hand_work(found):
        page.entry("[ ]", line, indent=2)
    if found.others:
        page.heading("The other parts without it")
    for other in found.others:
        text = VERDICT_WORDS[other.after]
        text = text if other.before is other.after else f"{VERDICT_WORDS[other.before]} → {text}"
        page.entry(other.item, text, indent=2, column=26)
    return page.render(colour=colour)


def _write_block(page: Page, block: BlockBack) -> None:
    whence = "as read after the fitting" if block.is_read else "as the whole job leaves it"
    page.entry(f"{block.module}, block {block.did}", f"– {whence}", style=Style.STRONG)
    write_states(page, ("now", block.now), ("write back", block.back))
    for row in {row.field: row for row in block.rows}.values():
        page.entry(f"{row.field}:", f"{row.to} → {value_text(row.from_)}", indent=2)
    page.text("Read it again just before writing; if it is not the first line, stop.", indent=2)


def _hand_work(found: Withdrawal) -> list[str]:
    lines = [f"Take {found.item} off, with its leads and fuses."]
    lines += [
        f"Take its wire off {clause(wire.from_)} ({wire.role}) and insulate the place."
        for wire in found.wires
    ]
    lines += [f"No longer sent: {_sent(message)}." for message in found.messages]
    lines += [f"Put back what it replaced: {name}." for name in found.put_back]
    if found.given:
        lines.append(f"Other parts no longer get {listing(found.given)} from it.")
    lines.append(
        "Power up, then read the fault memories of all modules: none may name the part or its messages."
    )
    new = [fault_text(check) for check in found.modules.of(FaultChange.NEW)]
    if new:
        lines.append(f"What came since the fitting must be gone, once cleared: {listing(new)}.")
    return lines


def _sent(message: SentMessage) -> str:
    place = f" on {message.network}" if message.network else ""
    name = "an id that its file does not state" if message.frame_id is None else str(message.frame_id)
    roles = f" ({listing(message.roles)})" if message.roles else ""
    return f"{name}{place}{roles}"


def withdraw_json(found: Withdrawal) -> dict[str, Any]:
    """The same as plain values."""
    return {
        "schema": WITHDRAW_SCHEMA,
        "vehicle": found.vehicle,
        "model_year": found.model_year,
        "job": found.job,
        "item": found.item,
        "blocks": [
            {
                "module": block.module,
                "did": block.did,
                "now": block.now,
                "back": block.back,
                "read": block.is_read,
                "rows": [coding_row(row) for row in block.rows],
            }
            for block in found.blocks
        ],
        "unread": [{"module": module, "did": did, "field": field} for module, did, field in found.unread],
        "messages": [facts_of(message) for message in found.messages],
        "put_back": list(found.put_back),
        "wires": [wire.model_dump(by_alias=True) for wire in found.wires],
        "given": list(found.given),
        "others": [facts_of(other) for other in found.others],
        "modules": modules_json(found.modules),
    }
