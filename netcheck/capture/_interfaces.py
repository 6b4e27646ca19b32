"""What every opening of a python-can interface begins with, to listen or to send."""

from __future__ import annotations

import difflib
import logging

import can

from netcheck.errors import UsageError


def check_interface(interface: str) -> None:
    """Refuse an interface that python-can does not have. Its log is silenced: exceptions say what matters."""
    if interface not in can.VALID_INTERFACES:
        known = sorted(can.VALID_INTERFACES)
        near = difflib.get_close_matches(interface, known, n=1)
        hint = f"did you mean '{near[0]}'?" if near else f"it has {', '.join(known)}"
        raise UsageError(f"--interface: python-can has no interface '{interface}'", remedy=hint)
    logging.getLogger("can").setLevel(logging.CRITICAL + 1)


def option_value(word: str) -> str | int | bool:
    """An option of an interface as typed: true, false, a number or a text."""
    if word.lower() in {"true", "false"}:
        return word.lower() == "true"
    try:
        return int(word, 0)
    except ValueError:
        return word
