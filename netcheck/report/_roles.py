"""Roles: the vocabulary, and what signals of a DBC are proposed for them; as text and as JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from netcheck.catalogue import RoleInfo
from netcheck.find import Proposal, RoleProposals
from netcheck.report._page import Page, Style
from netcheck.report._roles_words import clue_text
from netcheck.words import counted, listing


def roles_list_text(roles: Mapping[str, RoleInfo], *, width: int = 80, colour: bool = False) -> str:
    """The vocabulary of roles: meaning, kind, unit and usual rate of each."""
    page = Page(width)
    page.text("Roles: what a signal does on any vehicle. A list to choose from, no limit.")
    page.text("How often each is usually sent is common practice; a vehicle may do otherwise.")
    group = ""
    for name, role in roles.items():
        if name.partition(".")[0] != group and "." in name:
            page.blank()
        group = name.partition(".")[0] if "." in name else ""
        page.entry(name, f"{role.meaning}; {_kind_text(role)}", column=24, style=Style.STRONG)
    return page.render(colour=colour)


def _kind_text(role: RoleInfo) -> str:
    rate = f"{role.usual_ms[0]} to {role.usual_ms[1]} ms"
    if role.unit:
        return f"value in {role.unit}, {rate}"
    return f"{' or '.join(role.states)}, {rate}" if role.states else f"text, {rate}"


def roles_list_json(roles: Mapping[str, RoleInfo]) -> dict[str, Any]:
    """The same for scripts."""
    return {
        "schema": "netcheck.role-list/1",
        "roles": [
            {
                "role": name,
                "title": role.title,
                "meaning": role.meaning,
                "kind": role.kind,
                "unit": role.unit,
                "states": list(role.states),
                "usual_ms": list(role.usual_ms),
            }
            for name, role in roles.items()
        ],
    }


def roles_text(
    found: Sequence[RoleProposals],
    files: Sequence[str],
    *,
    width: int = 80,
    colour: bool = False,
    every: bool,
) -> str:
    """Which signal plays which role, proposed with reasons.

    every: all proposals of a role, not the first alone, and the roles for which there is none
    """
    page = Page(width)
    there = [role for role in found if role.proposals]
    sure = sum(role.is_sure for role in there)
    page.text(
        f"{listing(files, most=3)}: signals proposed for {counted(len(there), 'role')}, "
        f"{sure} of them sure. Confirm each with a capture and marks before you rely on it."
    )
    for role in there:
        _role(page, role, every)
    missing = [role.role for role in found if not role.proposals]
    if missing:
        page.heading("No signal proposed")
        page.text(listing(missing) if every else listing(missing, most=12))
    return page.render(colour=colour)


def _role(page: Page, role: RoleProposals, every: bool) -> None:
    page.blank()
    shown = role.proposals if every else role.proposals[:1]
    first = shown[0]
    style = Style.GOOD if role.is_sure else Style.DOUBT
    lead = f"{'+' if role.is_sure else '?'} {role.role}:"
    page.entry(lead, _signal_text(first), style=style, text_style=Style.STRONG)
    page.text(_reasons(first), indent=4)
    for other in shown[1:]:
        page.entry("or", _signal_text(other), indent=4)
        page.text(_reasons(other), indent=7)
    if not every and len(role.proposals) > 1:
        others = [f"{it.message}.{it.signal}" for it in role.proposals[1:]]
        page.text(f"or {listing(others, most=2, last='or')}", indent=4)


def _signal_text(proposal: Proposal) -> str:
    active = f", active: {listing(proposal.labels, most=3)}" if proposal.labels else ""
    return f"{proposal.message}.{proposal.signal}{active}"


def _reasons(proposal: Proposal) -> str:
    return f"score {proposal.score:.2f}: " + ", ".join(clue_text(clue) for clue in proposal.clues)


def roles_json(found: Sequence[RoleProposals], files: Sequence[str]) -> dict[str, Any]:
    """The same for scripts, with all proposals."""
    return {
        "schema": "netcheck.roles/1",
        "files": list(files),
        "roles": [
            {
                "role": role.role,
                "sure": role.is_sure,
                "proposals": [_proposal_json(proposal) for proposal in role.proposals],
            }
            for role in found
        ],
    }


def _proposal_json(proposal: Proposal) -> dict[str, Any]:
    return {
        "message": proposal.message,
        "signal": proposal.signal,
        "score": proposal.score,
        "active": list(proposal.active),
        "labels": list(proposal.labels),
        "not_available": list(proposal.not_available),
        "counter": proposal.counter or None,
        "reasons": [
            {"kind": clue.kind.value, "weight": clue.weight, "subject": clue.text, "text": clue_text(clue)}
            for clue in proposal.clues
        ],
    }
