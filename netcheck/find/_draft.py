"""What a search adds to a draft: a DBC and the role entries beside it. What stands there stays."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from enum import StrEnum
from itertools import combinations, takewhile
from typing import Final

from netcheck.bits import bit_positions
from netcheck.database import Database, Message, Signal, SignalAddition
from netcheck.files import RoleSource
from netcheck.find._fields import MOST_VALUES
from netcheck.find._model import FieldCandidate, FoundField, Search
from netcheck.find._movements import MessageMovements, Movements
from netcheck.find._quantity_model import QuantityCandidate
from netcheck.find._states import value_times
from netcheck.records import dataclass

_WORD: Final = re.compile(r"[^A-Za-z0-9]+")


class DraftKind(StrEnum):
    """What became of a role in a draft; each has its words in the report."""

    ADDED = "added"
    THERE = "there"  # as it was found
    NOT_CLEAR = "not-clear"  # no candidate stands clear
    NO_SIGNAL = "no-signal"  # the message itself is the state: no bits to name
    ELSEWHERE = "elsewhere"  # the draft has the role at another place
    BITS_TAKEN = "bits-taken"  # another role has these bits with these values, or other borders
    OTHER_SCALE = "other-scale"  # the draft has the quantity with another scale or offset
    OTHER_NETWORK = "other-network"  # the draft's messages came on another channel


@dataclass(frozen=True)
class DraftedRole:
    """A role and what became of it.

    place:   message and signal in the draft, of what was added or stands in the way
    active:  raw values
    other:   the role that has the bits already
    scale, offset, unit: of a quantity, as the draft has it or would get it
    """

    role: str
    kind: DraftKind
    place: tuple[str, str] | None = None
    active: tuple[int, ...] = ()
    found: FieldCandidate | QuantityCandidate | None = None
    marks: int = 0
    other: str = ""
    scale: float | None = None
    offset: float | None = None
    unit: str = ""

    @property
    def is_conflict(self) -> bool:
        """Whether a person has to decide."""
        return self.kind not in {DraftKind.ADDED, DraftKind.THERE}


@dataclass(frozen=True)
class DraftChange:
    """What is to be written: signals, and what became of each role that was asked for, in that order."""

    signals: tuple[SignalAddition, ...]
    roles: tuple[DraftedRole, ...]


@dataclass(frozen=True)
class _Claim:
    """Bits of a draft, from the least significant one on, with the roles that have values in them."""

    frame: tuple[int, bool]
    message: str
    signal: str
    bits: tuple[int, ...]
    active: dict[str, frozenset[int]] = field(default_factory=dict)


def draft_change(
    searches: Sequence[Search],
    movements: Movements,
    database: Database | None,
    roles: Mapping[str, Sequence[RoleSource]],
) -> DraftChange:
    """What searches in a capture add.

    A draft is of one network: the channel that its messages came on, else the one that shows most of the
    roles. Where a role was found elsewhere first, its copy on that channel counts.

    database: the draft so far; roles: its entries
    """
    draft = _Draft(movements, database, roles)
    here = draft_channel(movements, database) or _usual_channel(searches)
    told: dict[str, DraftedRole] = {}
    spots: dict[str, _Spot] = {}
    for search in searches:
        spot = _spot(search, movements, here)
        if isinstance(spot, DraftedRole):
            told[search.asked.role] = spot
        else:
            spots[search.asked.role] = spot
    wide = _widened({role: spot.field for role, spot in spots.items()}, movements)
    rivals = _rivals(spots, wide, movements)
    for search in searches:
        role = search.asked.role
        if role in rivals:
            told[role] = _drafted(search, DraftKind.BITS_TAKEN, other=rivals[role])
        elif role in spots:
            sharing = [each for each, place in wide.items() if place == wide[role]]
            told[role] = draft.add(search, spots[role], wide[role], sharing)
    return DraftChange(tuple(draft.signals), tuple(told[search.asked.role] for search in searches))


def draft_channel(movements: Movements, database: Database | None) -> str | None:
    """The channel with most of the draft's messages; None where it says nothing."""
    own = {(each.can_id, each.is_extended) for each in (database.messages if database else ())}
    counts: dict[str, int] = {}
    for message in movements.messages:
        if (message.frame_id.can_id, message.frame_id.is_extended) in own:
            counts[message.channel] = counts.get(message.channel, 0) + 1
    return max(counts, key=lambda name: counts[name]) if counts else None


@dataclass(frozen=True)
class _Spot:
    """Where a role is on the draft's channel, and its values there."""

    field: FoundField
    active: tuple[int, ...]


def _fields(search: Search) -> list[FoundField]:
    best = search.candidates[0]
    return [] if best.field.is_presence else [best.field, *(c for c in best.copies if not c.is_presence)]


def _usual_channel(searches: Sequence[Search]) -> str | None:
    counts: dict[str, int] = {}
    for search in searches:
        if search.separated:
            for name in dict.fromkeys(place.channel for place in _fields(search)):
                counts[name] = counts.get(name, 0) + 1
    return max(counts, key=lambda name: counts[name]) if counts else None


def _drafted(search: Search, kind: DraftKind, other: str = "") -> DraftedRole:
    asked = search.asked
    return DraftedRole(asked.role, kind, found=search.candidates[0], marks=len(asked.active), other=other)


def _rivals(
    spots: Mapping[str, _Spot], wide: Mapping[str, FoundField], movements: Movements
) -> dict[str, str]:
    """Roles of one run that mean the same values of the same bits: nobody knows whose they are."""
    values = {
        role: (wide[role], set(_values_on(movements, spot, _positions(wide[role]))))
        for role, spot in spots.items()
    }
    found: dict[str, str] = {}
    for one, other in combinations(values, 2):
        if values[one][0] == values[other][0] and values[one][1] & values[other][1]:
            found.setdefault(one, other)
            found.setdefault(other, one)
    return found


def _spot(search: Search, movements: Movements, here: str | None) -> _Spot | DraftedRole:
    """Where the role is by this capture; or why it cannot be written."""
    if not search.separated:
        return DraftedRole(search.asked.role, DraftKind.NOT_CLEAR, marks=len(search.asked.active))
    best = search.candidates[0]
    if best.field.is_presence:
        return _drafted(search, DraftKind.NO_SIGNAL)
    if here is None or best.field.channel == here:
        return _Spot(best.field, best.active)
    for place in _fields(search):
        active = _active_in(movements, place, best.periods) if place.channel == here else ()
        if active:
            return _Spot(place, active)
    return _drafted(search, DraftKind.OTHER_NETWORK)


def _active_in(
    movements: Movements, place: FoundField, periods: Sequence[tuple[float, float]]
) -> tuple[int, ...]:
    """Values that a copy has mostly while the field that it copies is active."""
    message = _message(movements, place)
    changes = message.lanes[place.byte // 8].changes(place.byte, place.bit, place.width)
    inside, total = value_times(changes, periods, message.first, movements.seconds, near=0.0)
    return tuple(sorted(value for value in total if inside[value] > 0.5 * total[value]))


class _Draft:
    """The draft as it grows."""

    def __init__(
        self, movements: Movements, database: Database | None, roles: Mapping[str, Sequence[RoleSource]]
    ) -> None:
        self._movements = movements
        self._roles = roles
        self.signals: list[SignalAddition] = []
        self._messages = {
            (each.can_id, each.is_extended): each for each in (database.messages if database else ())
        }
        self._claims = [
            _Claim(frame, message.name, signal.name, _bits(signal), _active_of(message, signal, roles))
            for frame, message in self._messages.items()
            for signal in message.signals
        ]

    def add(self, search: Search, spot: _Spot, place: FoundField, sharing: Sequence[str]) -> DraftedRole:
        """A role at a place, which may be wider than its spot. sharing: the roles that have the place"""
        role = search.asked.role
        frame = place.frame_id.can_id, place.frame_id.is_extended
        told = _drafted(search, DraftKind.ADDED)
        standing = self._claim(frame, place)
        if standing is not None and not set(_positions(spot.field)) <= set(standing.bits):
            return replace(told, kind=DraftKind.BITS_TAKEN, place=(standing.message, standing.signal))
        claim = standing or self._new_claim(frame, place, role, sharing)
        active = _values_on(self._movements, spot, claim.bits)
        told = replace(told, place=(claim.message, claim.signal), active=active)
        if role in self._roles:
            return self._known(told, claim)
        for other, values in claim.active.items():
            if values & set(active) or not values:
                return replace(told, kind=DraftKind.BITS_TAKEN, other=other)
        if standing is None:
            self._claims.append(claim)
            labels = {} if len(sharing) > 1 else _labels(role, spot)
            self.signals.append(self._addition(place, claim, labels))
        claim.active[role] = frozenset(active)
        return told

    def _known(self, told: DraftedRole, claim: _Claim) -> DraftedRole:
        """Of a role that the draft has: the same again, or elsewhere."""
        if claim.active.get(told.role) == frozenset(told.active):
            return replace(told, kind=DraftKind.THERE)
        source = self._roles[told.role][0]
        return replace(told, kind=DraftKind.ELSEWHERE, place=(source.message, source.signal))

    def _claim(self, frame: tuple[int, bool], place: FoundField) -> _Claim | None:
        """What has bits of a place already."""
        bits = set(_positions(place))
        return next((each for each in self._claims if each.frame == frame and bits & set(each.bits)), None)

    def _new_claim(
        self, frame: tuple[int, bool], place: FoundField, role: str, sharing: Sequence[str]
    ) -> _Claim:
        names = {each.frame: each.message for each in self._claims}
        names |= {key: each.name for key, each in self._messages.items()}
        name = names.get(frame) or free_name(message_name(place), set(names.values()))
        taken = {each.signal for each in self._claims if each.frame == frame}
        return _Claim(frame, name, free_name(_signal_name(role, sharing, place), taken), _positions(place))

    def _addition(self, place: FoundField, claim: _Claim, labels: Mapping[int, str]) -> SignalAddition:
        return SignalAddition(
            can_id=place.frame_id.can_id,
            is_extended=place.frame_id.is_extended,
            message=claim.message,
            length=_message(self._movements, place).length,
            name=claim.signal,
            start=claim.bits[0] if place.order == "little" else claim.bits[-1],
            width=len(claim.bits),
            is_big_endian=place.order == "big",
            is_signed=place.is_signed,
            labels=labels,
        )


def _active_of(
    message: Message, signal: Signal, roles: Mapping[str, Sequence[RoleSource]]
) -> dict[str, frozenset[int]]:
    """Roles that a signal of the draft plays, with their raw values."""
    raw_of = {label: raw for raw, label in signal.labels.items()}
    return {
        role: frozenset(raw_of.get(each, -1) if isinstance(each, str) else each for each in source.active)
        for role, sources in roles.items()
        for source in sources
        if (source.message, source.signal) == (message.name, signal.name)
    }


def _bits(signal: Signal) -> tuple[int, ...]:
    return bit_positions(signal.start, signal.width, signal.is_big_endian)


def _positions(place: FoundField) -> tuple[int, ...]:
    """Bits of a field, from the least significant one on."""
    low = 8 * place.byte + place.bit
    if place.order == "little" or place.bit + place.width <= 8:
        return tuple(range(low, low + place.width))
    offsets = range(place.bit, place.bit + place.width)
    return tuple(8 * (place.byte - offset // 8) + offset % 8 for offset in offsets)


def _widened(fields: Mapping[str, FoundField], movements: Movements) -> dict[str, FoundField]:
    """Fields of one byte that overlap, as the one field that holds them: buttons that share codes."""
    wide = dict(fields)
    is_growing = True
    while is_growing:
        grown = {role: _with_overlapping(place, list(wide.values())) for role, place in wide.items()}
        is_growing = grown != wide
        wide = grown
    return {role: place if _is_state(place, movements) else fields[role] for role, place in wide.items()}


def _with_overlapping(place: FoundField, others: Sequence[FoundField]) -> FoundField:
    for other in others:
        is_same = (other.channel, other.frame_id, other.byte) == (place.channel, place.frame_id, place.byte)
        low, high = min(other.bit, place.bit), max(other.bit + other.width, place.bit + place.width)
        is_one = other.bit < place.bit + place.width and place.bit < other.bit + other.width
        if is_same and is_one and high <= 8:
            place = replace(place, bit=low, width=high - low)
    return place


def _is_state(place: FoundField, movements: Movements) -> bool:
    if place.bit + place.width > 8:
        return False
    lane = _message(movements, place).lanes[place.byte // 8]
    return len(set(lane.changes(place.byte, place.bit, place.width).values.tolist())) <= MOST_VALUES


def _message(movements: Movements, place: FoundField) -> MessageMovements:
    """The one with the longest payloads that holds the field."""
    return max(movements.by_key[place.channel, place.frame_id], key=lambda each: each.length)


def _values_on(movements: Movements, spot: _Spot, bits: Sequence[int]) -> tuple[int, ...]:
    """The raw values of a wider field, in one byte, that mean the active ones of the spot."""
    place, own = spot.field, _positions(spot.field)
    if len(bits) == len(own):
        return spot.active
    low = min(bits)
    lane = _message(movements, place).lanes[place.byte // 8]
    seen = lane.changes(low // 8, low % 8, len(bits)).values.tolist()
    shift, mask = own[0] - low, (1 << place.width) - 1
    return tuple(sorted({value for value in seen if value >> shift & mask in spot.active}))


def _labels(role: str, spot: _Spot) -> dict[int, str]:
    if len(spot.active) != 1:
        return {}
    (active,) = spot.active
    return {active: "active", 1 - active: "inactive"} if spot.field.width == 1 else {active: role}


def message_name(place: FoundField) -> str:
    """``Message083``, ``Message18FEF100``."""
    return f"Message{place.frame_id.can_id:0{8 if place.frame_id.is_extended else 3}X}"


def _signal_name(role: str, sharing: Sequence[str], place: FoundField) -> str:
    """``ReverseEngaged``; of a field with codes of several roles what their names have in common."""
    if len(sharing) < 2:
        return camel_name(role)
    words = [_WORD.split(each) for each in sharing]
    common = [each[0] for each in takewhile(lambda column: len(set(column)) == 1, zip(*words, strict=False))]
    return f"{_camel(common)}Code" if common else f"Byte{place.byte}Bit{place.bit}"


def _camel(words: Sequence[str]) -> str:
    return "".join(word[:1].upper() + word[1:] for word in words)


def camel_name(role: str) -> str:
    """``reverse-engaged`` -> ``ReverseEngaged``."""
    return _camel(_WORD.split(role))


def free_name(name: str, taken: set[str]) -> str:
    """The name, with a number where it is taken."""
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name}_{number}"
    return free
