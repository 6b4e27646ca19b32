"""What is said of a module whose edition is not known."""

from __future__ import annotations

from netcheck.files import HARDWARE_IDS, PART_IDS, SOFTWARE_IDS, did_text
from netcheck.report._diagnostic_words import identifier_name
from netcheck.verdict import EditionOpen, KnownEdition
from netcheck.words import listing

_NUMBERS = {"part": PART_IDS, "software": SOFTWARE_IDS, "hardware": HARDWARE_IDS}


def edition_open_text(found: EditionOpen) -> str:
    """What the vehicle file knows, and what the module told."""
    known = listing([edition_text(edition) for edition in found.editions], last="or")
    what = "coding" if found.is_coded else "signals"
    text = f"The vehicle file knows the {what} of {found.module} with {known}"
    if not found.is_other:
        return f"{text}; nobody has read which one is fitted"
    told = [f"{identifier_name(did) or did_text(did)} {number}" for did, number in found.told]
    return (
        f"{text}; the one that is fitted tells {listing(told)}"
        if told
        else (f"{text}; none of these is of this model year")
    )


def edition_open_next(found: EditionOpen) -> tuple[str, ...]:
    """What to do."""
    if found.is_other:
        write = (
            f"Do not code {found.module} by this vehicle file."
            if found.is_coded
            else (f"Do not trust what the vehicle file says of {found.module}.")
        )
        return (write, "Get the layout of that edition from the maker, and add it to the vehicle file.")
    wanted = [ids for key, ids in _NUMBERS.items() if any(getattr(e, key) for e in found.editions)]
    dids = [did for ids in wanted for did in ids]
    return (
        f"Read {listing([did_text(did) for did in dids], last='or')} of {found.module} with your equipment.",
        "Record it, and netcheck readout makes a readouts file of it for the job.",
    )


def edition_text(edition: KnownEdition) -> str:
    """``part SK24-COL, software 0100..0199 or 02``."""
    parts = []
    for key in _NUMBERS:
        numbers = getattr(edition, key)
        if numbers:
            parts.append(f"{key} {listing(numbers, last='or')}")
    if edition.years is not None:
        first, last = edition.years
        parts.append(f"model year {first}" if first == last else f"model years {first} to {last}")
    return ", ".join(parts)
