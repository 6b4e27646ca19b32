"""Writing a readouts file."""

from __future__ import annotations

import json
from collections.abc import Sequence

from netcheck.files._readout_entry import BlockEntry
from netcheck.words import spaced


def readouts_text(
    entries: Sequence[tuple[BlockEntry, Sequence[str]]], head: Sequence[str] = (), tail: Sequence[str] = ()
) -> str:
    """A readouts file: each entry with comments before it; ``head`` and ``tail`` are comments, too."""
    lines = [_comment(line) for line in head] + ['kind = "readouts"', "format = 1"]
    for entry, comments in entries:
        lines += ["", *map(_comment, comments), "[[readout]]", f"module = {_string(entry.module)}"]
        if entry.did is not None and entry.data is not None:
            lines += [f"did = 0x{entry.did:04X}", f'data = "{spaced(entry.data)}"']
        if entry.faults is not None:
            lines.append(f"faults = [{', '.join(map(_string, entry.faults))}]")
        if entry.when is not None:
            lines.append(f'when = "{entry.when}"')
        if entry.identification:
            lines.append("[readout.identification]")
            lines += [f"0x{did:04X} = {_string(text)}" for did, text in entry.identification.items()]
    lines += ["", *map(_comment, tail)] if tail else []
    return "\n".join(lines) + "\n"


def _comment(text: str) -> str:
    return ("# " + "".join(char if char.isprintable() else "\ufffd" for char in text.rstrip())).rstrip()


def _string(text: str) -> str:
    """A TOML basic string; JSON's escapes are among its own, and DEL is the one it wants besides."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")
