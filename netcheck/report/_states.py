"""Two states of a block of bytes under each other, and the bits that differ."""

from __future__ import annotations

from netcheck.coding import Change
from netcheck.report._page import Page, Style, StyledText
from netcheck.words import spaced


def write_states(page: Page, first: tuple[str, str], second: tuple[str, str]) -> None:
    """Both states, hex, with the bytes that differ marked below; as many bytes a line as fit.

    first, second: label and hex digits, of the same length.
    """
    old, new = spaced(first[1]).split(), spaced(second[1]).split()
    column = max(len(first[0]), len(second[0])) + 2
    room = page.width - 2 - column + 1  # a byte takes three columns, the last one two
    several = 3 * len(old) > room
    most = max((room - len("byte 00  ")) // 3, 1)
    fit = (most // 4 * 4 or most) if several else len(old)
    for start in range(0, len(old), fit):
        here, there = old[start : start + fit], new[start : start + fit]
        at = f"byte {start}" if several else ""
        pad = " " * (9 if several else 0)
        page.raw(StyledText(f"  {first[0]:<{column}}{at:<{len(pad)}}"), StyledText(" ".join(here)))
        page.raw(StyledText(f"  {second[0]:<{column}}{pad}"), StyledText(" ".join(there), Style.STRONG))
        marks = " ".join("^^" if a != b else "  " for a, b in zip(here, there, strict=True))
        if marks.strip():
            page.raw(StyledText(f"  {'':<{column}}{pad}"), StyledText(marks.rstrip(), Style.CHANGE))


def write_bytes(page: Page, label: str, data: bytes) -> None:
    """A label and bytes in hex: behind it where they fit, else below it, as many a line as fit."""
    digits = spaced(data.hex().upper())
    if len(label) + 1 + len(digits) <= page.width:
        page.raw(StyledText(label), StyledText(" "), StyledText(digits))
        return
    page.text(label)
    room = page.width - 2 - len("byte 0000  ")
    fit = max(room // 3 // 4 * 4, 4)
    for start in range(0, len(data), fit):
        part = spaced(data[start : start + fit].hex().upper())
        page.raw(StyledText(f"  {f'byte {start}':<11}{part}"))


def change_place(change: Change) -> str:
    """``byte 3 bit 5``, ``byte 3 bits 4–6``, ``byte 3`` or ``bytes 3–4``."""
    if change.count > 1:
        return f"bytes {change.byte}–{change.byte + change.count - 1}"
    if change.width == 8:
        return f"byte {change.byte}"
    last = change.bit + change.width - 1
    bits = f"bit {change.bit}" if change.width == 1 else f"bits {change.bit}–{last}"
    return f"byte {change.byte} {bits}"


def change_text(change: Change, before: bytes, after: bytes) -> str:
    """``0 → 1  park_distance_module: absent → fitted``; bits of one byte in binary, whole bytes in hex."""
    if change.count > 1 or change.width == 8:
        span = slice(change.byte, change.byte + change.count)
        values = f"{spaced(before[span].hex().upper())} → {spaced(after[span].hex().upper())}"
    else:
        values = f"{change.before:0{change.width}b} → {change.after:0{change.width}b}"
    if change.field is None:
        return f"{values}, no field of the vehicle file"
    return f"{values}, {change.field}: {change.from_} → {change.to}"
