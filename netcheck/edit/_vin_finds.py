"""What was found of vehicle identification numbers (VINs) in one capture: bytes to cover, and why."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import field

from netcheck.diagnostics import VIN_PIECE, VIN_RUN, Address, Lapse, NumberTold
from netcheck.records import dataclass

Placed = Sequence[tuple[int, int, int]]  # frames of a message: position, first byte of it, bytes of it


@dataclass
class VinFound:
    """What messages tell of numbers. Bytes of a frame are bits of a whole number, bit 0 the first byte.

    vins:      the numbers themselves; ``guesses`` may be numbers, from frames that nobody can be sure of
    spots:     frame position → bytes that belong to a number
    blanks:    frame position → bytes that go because nobody can tell what they are
    addresses: ids that carried such bytes
    lapses:    id → why messages of it could not be put together
    unread:    ids with a message about a number that could not be told
    others:    messages about something else that may hold pieces: id, frames, bytes
    """

    vins: set[bytes] = field(default_factory=set)
    guesses: set[bytes] = field(default_factory=set)
    spots: dict[int, int] = field(default_factory=dict)
    blanks: dict[int, int] = field(default_factory=dict)
    addresses: set[Address] = field(default_factory=set)
    lapses: dict[Address, dict[Lapse, None]] = field(default_factory=dict)
    unread: set[Address] = field(default_factory=set)
    others: list[tuple[Address, Placed, bytes]] = field(default_factory=list)

    def tell(self, address: Address, told: NumberTold, frames: Placed) -> None:
        """A whole message about a number."""
        self.addresses.add(address)
        self.vins |= told.numbers
        if not told.is_read:
            self.unread.add(address)
        cover(self.spots if told.is_read else self.blanks, told.span, frames)

    def keep(self, address: Address, frames: Placed, message: bytes) -> None:
        """A whole message about something else."""
        if VIN_PIECE.search(message):
            self.others.append((address, frames, message))

    def blank(self, address: Address, parts: Iterable[tuple[int, int, int]], lapses: Iterable[Lapse]) -> None:
        """Frames that could not be put together: all bytes. parts: position, first byte, end"""
        self.addresses.add(address)
        self.lapses.setdefault(address, {}).update(dict.fromkeys(lapses))
        for position, begin, end in parts:
            self.blanks[position] = self.blanks.get(position, 0) | bits(begin, end)

    def add(self, other: VinFound) -> None:
        """Takes over what was found elsewhere in the same capture."""
        self.vins |= other.vins
        self.guesses |= other.guesses
        for mine, theirs in ((self.spots, other.spots), (self.blanks, other.blanks)):
            for position, covered in theirs.items():
                mine[position] = mine.get(position, 0) | covered
        self.addresses |= other.addresses
        for address, lapses in other.lapses.items():
            self.lapses.setdefault(address, {}).update(lapses)
        self.unread |= other.unread
        self.others += other.others

    def look_alikes(self) -> Iterable[tuple[Address, bytes]]:
        """Id and first bytes of messages about something else with 17 or more characters in a row."""
        for address, frames, message in self.others:
            run = VIN_RUN.search(message)
            if run is not None and not self._is_covered(run.span(), frames):
                yield address, message[:3]

    def _is_covered(self, span: tuple[int, int], frames: Placed) -> bool:
        needed: dict[int, int] = {}
        cover(needed, span, frames)
        have = self.spots, self.blanks
        return not any(bytes_ & ~(have[0].get(at, 0) | have[1].get(at, 0)) for at, bytes_ in needed.items())


def bits(begin: int, end: int) -> int:
    """The bytes from begin to end as bits."""
    return (1 << max(end, begin)) - (1 << begin)


def cover(covered: dict[int, int], span: tuple[int, int], frames: Placed) -> None:
    """Adds the bytes of a message from the span's begin to its end to those of its frames."""
    offset = 0
    for position, head, size in frames:
        begin, end = max(span[0] - offset, 0), min(span[1] - offset, size)
        if begin < end:
            covered[position] = covered.get(position, 0) | bits(head + begin, head + end)
        offset += size
