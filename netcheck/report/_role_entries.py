"""Proposed roles as entries of a vehicle file: what a person only has to confirm."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Iterator, Sequence
from typing import Final

from netcheck.files import RoleSource
from netcheck.find import Proposal, RoleProposals
from netcheck.report._roles_words import clue_text
from netcheck.words import clean

_BARE: Final = re.compile(r"[A-Za-z0-9_-]+")
WIDTH: Final = 100  # columns of a comment in a file


def toml_text(text: str) -> str:
    """A text as TOML writes it."""
    return json.dumps(clean(text), ensure_ascii=False)


def toml_key(name: str) -> str:
    """A key as TOML writes it: bare where it can be."""
    return name if _BARE.fullmatch(name) else toml_text(name)


def comment(text: str) -> Iterator[str]:
    """A text as lines of a comment."""
    yield from textwrap.wrap(
        clean(text), WIDTH, initial_indent="# ", subsequent_indent="# ", break_on_hyphens=False
    )


def role_entries(found: Sequence[RoleProposals], network: str) -> str:
    """Entries of the roles for which there is a proposal.

    One that is not sure is a comment: whoever confirms it takes the ``#`` away.
    """
    blocks = ["\n".join(_entry(role, network)) for role in found if role.proposals]
    return "\n\n".join(blocks) + "\n" if blocks else ""


def _entry(role: RoleProposals, network: str) -> Iterator[str]:
    first = role.proposals[0]
    told = "confirm" if role.is_sure else "not sure"
    yield from comment(f"{told}: score {first.score:.2f}, " + ", ".join(clue_text(it) for it in first.clues))
    for other in role.proposals[1:3]:
        yield from comment(f"or {other.message}.{other.signal}, score {other.score:.2f}")
    mark = "" if role.is_sure else "# "
    for line in _lines(role.role, first, network):
        yield mark + line


def _lines(role: str, proposal: Proposal, network: str) -> Iterator[str]:
    yield f"[[role.{toml_key(role)}]]"
    yield f"network = {toml_text(network)}"
    yield f"message = {toml_text(proposal.message)}"
    yield f"signal = {toml_text(proposal.signal)}"
    if proposal.active:
        states = zip(proposal.active, proposal.labels, strict=True)
        yield f"active = [{', '.join(_value(raw, label) for raw, label in states)}]"
    if proposal.not_available:
        yield f"not_available = [{', '.join(map(str, proposal.not_available))}]"
    if proposal.counter:
        yield f"counter = {toml_text(proposal.counter)}"


def source_lines(role: str, source: RoleSource, network: str) -> Iterator[str]:
    """An entry as it stands in another vehicle file, on a network of this one."""
    yield f"[[role.{toml_key(role)}]]"
    for name, value in source.model_dump(exclude_unset=True, mode="json").items():
        yield f"{name} = {json.dumps(network if name == 'network' else value, ensure_ascii=False)}"


def _value(raw: int, label: str) -> str:
    return toml_text(label) if clean(label) == label else str(raw)
