"""The fields of a message that may hold a state: bits that move together, and runs of such bits."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.find._follow import MATCH, MOST_LAG
from netcheck.find._marks import Asked
from netcheck.find._movements import FieldChanges, Lane, MessageMovements
from netcheck.records import dataclass

MOST_VALUES: Final = 24  # of a state; what has more is a quantity
_REACH: Final = MATCH + MOST_LAG


@dataclass(frozen=True)
class BitGroup:
    """Neighbouring bits of a byte that moved at the same times only.

    flips: how often; related: how many edges of marks have one of its changes nearby
    """

    bit: int
    width: int
    flips: int
    related: int


@dataclass(frozen=True)
class ByteMovements:
    """A byte with the groups of its bits that moved and are still followed, from the least significant on."""

    message: MessageMovements
    byte: int
    groups: tuple[BitGroup, ...]

    @property
    def lane(self) -> Lane:
        """The eight bytes that it is one of."""
        return self.message.lanes[self.byte // 8]

    def runs(self) -> Iterator[tuple[BitGroup, ...]]:
        """Neighbouring groups, one or more, among them one that moved near marks."""
        for first in range(len(self.groups)):
            run: list[BitGroup] = []
            for group in self.groups[first:]:
                if run and group.bit != run[-1].bit + run[-1].width:
                    break
                run.append(group)
                if any(each.related for each in run):
                    yield tuple(run)

    def changes(self, bit: int, width: int) -> FieldChanges:
        """Of a field in it."""
        return self.lane.changes(self.byte, bit, width)

    @cached_property
    def low(self) -> int:
        """The lowest bit that moved."""
        return self.groups[0].bit


def moved_bytes(message: MessageMovements, asked: Asked) -> Iterator[ByteMovements]:
    """Bytes with a bit that moved near enough edges of marks to be looked at."""
    edges = np.array(asked.edges())
    least = max(1, len(edges) // 3)
    for lane in message.lanes:
        if not len(lane.times):
            continue
        for place in range(8):
            byte = 8 * lane.number + place
            if byte >= message.length:
                break
            groups = tuple(_groups(lane, place, edges, least))
            if any(group.related for group in groups):
                yield ByteMovements(message, byte, groups)


def moving_groups(message: MessageMovements) -> Iterator[tuple[int, BitGroup]]:
    """Bits of a message that moved together, whenever that was, each with its byte."""
    nothing = np.empty(0)
    for lane in message.lanes:
        for place in range(8):
            if len(lane.times) and 8 * lane.number + place < message.length:
                for group in _groups(lane, place, nothing, 1):
                    yield 8 * lane.number + place, group


def _groups(lane: Lane, place: int, edges: NDArray[np.float64], least: int) -> Iterator[BitGroup]:
    bit = 0
    while bit < 8:
        turns = _turns(lane, 8 * place + bit)
        width = 1
        if turns is not None:
            while bit + width < 8:
                other = _turns(lane, 8 * place + bit + width)
                if other is None or len(other) != len(turns) or not np.array_equal(other, turns):
                    break
                width += 1
            near = _near(lane.times[turns], lane.gaps[turns], edges)
            yield BitGroup(bit, width, len(turns), near if near >= least else 0)
        bit += width


def _turns(lane: Lane, number: int) -> NDArray[np.intp] | None:
    """Places in the lane's log where a bit changed; None for one that did not, or is not followed."""
    if not lane.flips[number] or not lane.live >> number & 1:
        return None
    bits = (lane.words >> np.uint64(number)) & np.uint64(1)
    before = np.empty_like(bits)
    before[0] = lane.first >> number & 1
    before[1:] = bits[:-1]
    return np.flatnonzero(bits != before)


def _near(times: NDArray[np.float64], gaps: NDArray[np.float64], edges: NDArray[np.float64]) -> int:
    """How many edges have a change within reach."""
    after = np.searchsorted(times, edges - _REACH)
    after = np.minimum(after, len(times) - 1)
    is_near = (times[after] >= edges - _REACH) & (
        times[after] - np.minimum(gaps[after], 2.0) <= edges + _REACH
    )
    return int(np.count_nonzero(is_near))
