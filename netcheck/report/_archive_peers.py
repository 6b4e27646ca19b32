"""What a capture shows otherwise than other vans in the archive, in words and as JSON."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from netcheck.archive import BesidePeers, Unusual, UnusualKind
from netcheck.report._facts import facts_of
from netcheck.report._page import Page, Style
from netcheck.words import counted, listing, path_text


def peers_page(beside: BesidePeers, *, width: int = 80, colour: bool = False) -> str:
    """A section: the peers, and each thing that is unusual beside them."""
    page = Page(width)
    page.heading(f"Beside other vans of {beside.year}: {path_text(beside.file)}")
    if not beside.is_known:
        page.text(_too_few(beside))
        return page.render(colour=colour)
    kind = "vans or unknown ones" if beside.strangers else "vans"
    counts = [f"{network} of {vans:,}" for network, (vans, _) in beside.peers.items()]
    page.text(f"Peers in the archive, by network ({kind}): {listing(counts)}")
    for entry in beside.unusual:
        page.entry("!", unusual_text(entry, beside.year), style=Style.DOUBT)
    if beside.unusual:
        page.text("That is rare, not wrong: look for other equipment, other use, or another recorder first.")
    else:
        page.text("Nothing is unusual beside them.")
    return page.render(colour=colour)


def peers_json(beside: BesidePeers) -> dict[str, Any]:
    """The same as plain values; each finding with its text."""
    found = [
        {**facts_of(entry, "can_id"), "id": _id(entry), "text": unusual_text(entry, beside.year)}
        for entry in beside.unusual
    ]
    peers = {name: {"vans": vans, "captures": captures} for name, (vans, captures) in beside.peers.items()}
    return {**facts_of(beside, "peers", "unusual"), "networks": peers, "unusual": found}


def unusual_text(entry: Unusual, year: int) -> str:
    """One sentence, such as ``period 120 ms; on 14 of 14 vans of 2019 98 to 102 ms``."""
    return f"{entry.network} {_subject(entry)}: {_WORDS[entry.kind](entry, _vans(entry, year))}."


def _too_few(beside: BesidePeers) -> str:
    if not beside.peers:
        return "No channel is a network of the vehicle for certain, so there is nothing to hold it against."
    most = max(vans for vans, _ in beside.peers.values())
    return (
        f"The archive has {counted(most, 'other van')} of {beside.year} with these networks:"
        " too few to tell what is usual."
    )


def _id(entry: Unusual) -> str | None:
    if entry.can_id is None:
        return None
    return f"0x{entry.can_id:0{8 if entry.extended else 3}X}"


def _subject(entry: Unusual) -> str:
    if entry.role:
        return f"{entry.role} ({entry.message}.{entry.signal})"
    return " ".join(filter(None, (_id(entry), entry.message)))


def _vans(entry: Unusual, year: int) -> str:
    agree, every = entry.vans
    return f"on {agree:,} of {counted(every, 'van')} of {year}"


def _ms(value: float | None) -> str:
    return "–" if value is None else f"{value:.4g}"


def _range(entry: Unusual) -> str:
    low, high = _ms(entry.low), _ms(entry.high)
    return low if low == high else f"{low} to {high}"


_WORDS: Final[Mapping[UnusualKind, Callable[[Unusual, str], str]]] = {
    UnusualKind.MESSAGE_ABSENT: lambda _, vans: f"not in this capture; {vans} it comes by the clock",
    UnusualKind.MESSAGE_ALONE: lambda _, vans: f"comes by the clock here, and {vans}",
    UnusualKind.PERIOD: lambda entry, vans: f"period {_ms(entry.here)} ms; {vans} {_range(entry)} ms",
    UnusualKind.SPREAD: lambda entry, vans: (
        f"gaps spread over {_ms(entry.here)} ms; {vans} over {_ms(entry.high)} ms at most"
    ),
    UnusualKind.NO_VALUE: lambda _, vans: f"no valid value in this capture; {vans} it has values",
    UnusualKind.STATES: lambda entry, vans: f"took {listing(entry.states)}, which was seen {vans}",
}
