"""The faults of files, as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from netcheck.catalogue import FileFaults
from netcheck.errors import InputError
from netcheck.report._page import Page, Style
from netcheck.words import counted, listing, sentence


def check_text(files: Sequence[FileFaults], *, width: int = 80, colour: bool = False) -> str:
    """A paragraph a file: that it is in order, or each fault with its place and what would be right."""
    page = Page(width)
    for file in files:
        page.blank()
        name = file.file.as_posix()
        if not file.faults:
            page.entry("+", f"{name}: no fault in this {file.kind} file", style=Style.GOOD)
            continue
        page.entry("X", f"{name}: {counted(len(file.faults), 'fault')}", style=Style.BAD)
        for fault in file.faults:
            page.entry(f"{_place(file, fault)}:", _words(fault), indent=2, style=Style.STRONG)
    bad = [file.file.as_posix() for file in files if file.faults]
    if len(files) > 1:
        page.blank()
        page.text(
            f"Faults in {listing(bad, most=3)}." if bad else f"No fault in {counted(len(files), 'file')}."
        )
    return page.render(colour=colour)


def _place(file: FileFaults, fault: InputError) -> str:
    """Where in the file, or which other file that it names."""
    if fault.file != str(file.file):
        return f"{fault.file}: {fault.where}" if fault.where else fault.file
    return fault.where or "the file"


def _words(fault: InputError) -> str:
    return f"{sentence(fault.what)} {sentence(fault.remedy[:1].upper() + fault.remedy[1:])}".strip()


def check_json(files: Sequence[FileFaults]) -> dict[str, Any]:
    """The same for scripts."""
    return {
        "schema": "netcheck.check/1",
        "files": [
            {
                "file": file.file.as_posix(),
                "kind": file.kind or None,
                "faults": [
                    {
                        "file": str(fault.file),
                        "where": fault.where,
                        "what": fault.what,
                        "remedy": fault.remedy,
                        "text": str(fault),
                    }
                    for fault in file.faults
                ],
            }
            for file in files
        ],
    }
