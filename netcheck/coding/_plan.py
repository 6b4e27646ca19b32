"""From the coding values that items want to rows, clashes and one write a block."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

from netcheck.coding._fields import (
    Located,
    field_bytes,
    field_mask,
    label_of,
    locate,
    number_of,
    read_field,
    write_field,
)
from netcheck.coding._model import CodingRow, CodingStatus, Write
from netcheck.errors import UsageError
from netcheck.files import Vehicle, did_text
from netcheck.records import dataclass

Readouts = Mapping[tuple[str, int], bytes]  # (module, data identifier) -> the block's bytes


@dataclass(frozen=True)
class Wanted:
    """A value that an item of the job wants a coding field to have.

    item:     index of the item in the job
    retrofit: its name, for texts
    value:    label or number
    unlock:   the role that this unlocks, None where the retrofit file itself asks for it
    file, where: the place that asks, for messages
    """

    item: int
    retrofit: str
    module: str
    field: str
    value: str | int
    unlock: str | None
    why: str
    file: str
    where: str


@dataclass(frozen=True)
class ClashSide:
    """One of two values that cannot both be coded: the item that wants it, the field, and what for."""

    item: int
    retrofit: str
    field: str
    value: str | int
    unlock: str | None


@dataclass(frozen=True)
class Clash:
    """Two wanted values of one block that cannot both be coded; the item of ``one`` is not after the other's.

    They are of one field, or of two fields that share bits.
    """

    module: str
    did: str
    one: ClashSide
    other: ClashSide

    @property
    def first(self) -> int:
        """Index of the item that stands first in the job."""
        return self.one.item

    @property
    def second(self) -> int:
        """Index of the other item; that of the same item where it contradicts itself."""
        return self.other.item


@dataclass(frozen=True)
class CodingResult:
    """rows: one for each request, in the same order. writes: by module name, then data identifier."""

    rows: tuple[CodingRow, ...]
    clashes: tuple[Clash, ...]
    writes: tuple[Write, ...]


@dataclass(frozen=True)
class _Request:
    """A request whose field exists, with the number it comes to."""

    wanted: Wanted
    place: Located
    number: int
    data: bytes | None

    def mask(self) -> int:
        return int.from_bytes(field_mask(self.place.field, self.place.block.length), "big")

    def bits(self) -> int:
        block = write_field(self.place.field, bytes(self.place.block.length), self.number)
        return int.from_bytes(block, "big")


def plan_coding(vehicle: Vehicle, year: int, readouts: Readouts, wanted: Sequence[Wanted]) -> CodingResult:
    """What has to be coded so that every item has what it wants.

    readouts are the blocks as they are now, whole. A write holds all ``to-do`` rows of its block that are
    not in a clash; bits that no row names stay as they were read.
    Raises InputError for a label or number that a field cannot have, UsageError for a readout of a wrong
    length.
    """
    requests = [_request(vehicle, year, readouts, entry) for entry in wanted]
    rows = tuple(_row(entry, request) for entry, request in zip(wanted, requests, strict=True))
    clashes, blocked = _clashes(requests)
    writes = _writes(
        [
            request
            for index, (request, row) in enumerate(zip(requests, rows, strict=True))
            if request is not None and row.status is CodingStatus.TO_DO and index not in blocked
        ]
    )
    return CodingResult(rows, clashes, writes)


def _request(vehicle: Vehicle, year: int, readouts: Readouts, entry: Wanted) -> _Request | None:
    place = locate(vehicle, year, entry.module, entry.field)
    if place is None:
        return None
    number = number_of(
        place.field, entry.value, name=f"{entry.module}.{entry.field}", file=entry.file, where=entry.where
    )
    data = readouts.get((entry.module, place.did))
    if data is None:
        return _Request(entry, place, number, None)
    if len(data) != place.block.length:
        raise UsageError(
            f"the readout of {entry.module} {did_text(place.did)} has {len(data)} bytes",
            remedy=f"the vehicle file says {place.block.length}",
        )
    return _Request(entry, place, number, data)


def _row(entry: Wanted, request: _Request | None) -> CodingRow:
    if request is None:
        return CodingRow(
            module=entry.module,
            did=None,
            field=entry.field,
            from_=None,
            to=entry.value,
            byte=None,
            before=None,
            after=None,
            mask=None,
            status=CodingStatus.UNDEFINED,
            unlock=entry.unlock,
            why=entry.why,
        )
    field, span = request.place.field, field_bytes(request.place.field)
    from_, before, after, status = None, None, None, CodingStatus.UNKNOWN
    if request.data is not None:
        present = read_field(field, request.data)
        from_ = label_of(field, present)
        before = _hex(request.data[span])
        after = _hex(write_field(field, request.data, request.number)[span])
        status = CodingStatus.ALREADY if present == request.number else CodingStatus.TO_DO
    return CodingRow(
        module=entry.module,
        did=did_text(request.place.did),
        field=entry.field,
        from_=from_,
        to=label_of(field, request.number),
        byte=field.byte,
        before=before,
        after=after,
        mask=_hex(field_mask(field, request.place.block.length)[span]),
        status=status,
        unlock=entry.unlock,
        why=entry.why,
    )


def _clashes(requests: Sequence[_Request | None]) -> tuple[tuple[Clash, ...], set[int]]:
    """The clashes in order of the requests, each said once, and the indices of the requests in one."""
    found: dict[Clash, None] = {}
    blocked: set[int] = set()
    for (first, one), (second, other) in combinations(enumerate(requests), 2):
        if one is None or other is None or not _disagree(one, other):
            continue
        blocked |= {first, second}
        # The same pair reads the same whichever was listed first.
        low, high = sorted(
            (one, other),
            key=lambda request: (
                request.wanted.item,
                request.place.name,
                request.number,
                request.wanted.unlock or "",
            ),
        )
        place = low.place
        found[Clash(place.module, did_text(place.did), _side(low), _side(high))] = None
    return tuple(found), blocked


def _disagree(one: _Request, other: _Request) -> bool:
    """Whether both stand in one block and want different values of a bit."""
    if (one.place.module, one.place.did) != (other.place.module, other.place.did):
        return False
    return bool((one.bits() ^ other.bits()) & one.mask() & other.mask())


def _side(request: _Request) -> ClashSide:
    return ClashSide(
        item=request.wanted.item,
        retrofit=request.wanted.retrofit,
        field=request.place.name,
        value=label_of(request.place.field, request.number),
        unlock=request.wanted.unlock,
    )


def _writes(requests: Sequence[_Request]) -> tuple[Write, ...]:
    before: dict[tuple[str, int], bytes] = {}
    after: dict[tuple[str, int], bytes] = {}
    for request in requests:
        if request.data is None:
            continue
        key = request.place.module, request.place.did
        before[key] = request.data
        after[key] = write_field(request.place.field, after.get(key, request.data), request.number)
    return tuple(
        Write(module, did_text(did), _hex(before[module, did]), _hex(after[module, did]))
        for module, did in sorted(after)
    )


def _hex(data: bytes) -> str:
    return data.hex().upper()
