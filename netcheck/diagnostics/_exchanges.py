"""Requests and the answers to them: which belong together, in the order of the capture.

Two ids belong together where the vehicle file or a standard says so; else the first answer tells it. An
answer counts only to a request that it fits, and that is not too old.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import field
from enum import StrEnum
from typing import Final, NamedTuple

from netcheck.diagnostics._ids import Address
from netcheck.diagnostics._services import (
    ANSWER,
    FUNCTIONAL,
    NEGATIVE,
    PENDING,
    REQUESTS,
    SERVICE_BYTES,
    answers,
    is_silent,
)
from netcheck.diagnostics._transfer import Transfer
from netcheck.records import dataclass

PATIENCE_NS: Final = 10_000_000_000  # twice the longest time that a pending answer may take (ISO 14229-2)


class Endpoint(NamedTuple):
    """One end of a conversation. target: the address byte of extended or mixed addressing"""

    channel: str
    address: Address
    target: int | None


class Exchanged(StrEnum):
    """How a request and an answer came together."""

    ANSWERED = "answered"
    UNANSWERED = "unanswered"
    UNASKED = "unasked"  # an answer to no request that was seen
    SECOND = "second"  # one more answer of the same module to one request
    BROKEN = "broken"  # a message that could not be put together
    STRANGE = "strange"  # a message that begins with no service


@dataclass(frozen=True)
class Exchange:
    """A request with one answer, or what is left of them.

    asker, answerer: None where that is not known
    request, answer: whole messages; of BROKEN, the broken one is where it would belong
    pending:         "response pending" answers before this one
    """

    kind: Exchanged
    asker: Endpoint | None
    answerer: Endpoint | None
    request: Transfer | None
    answer: Transfer | None
    pending: int = 0


@dataclass
class _Asked:
    end: Endpoint
    request: Transfer
    last_ns: int
    pending: int = 0
    answered: set[Endpoint] = field(default_factory=set)
    is_broken: bool = False

    @property
    def is_open(self) -> bool:
        return not self.answered and not self.is_broken


class Conversations:
    """Takes messages in the order in which they end.

    partners:  id of answers → id of requests
    answering: id of requests → the only ids that answer them, where the vehicle file says so
    """

    def __init__(
        self, partners: Mapping[Address, Address], answering: Mapping[Address, Collection[Address]]
    ) -> None:
        self._partners = partners
        self._answering = answering
        self._askers = set(partners.values())
        self._asked: dict[Endpoint, _Asked] = {}
        self._learned: dict[Endpoint, Endpoint] = {}

    def take(self, transfer: Transfer) -> Iterator[Exchange]:
        """What is known after this message."""
        end = Endpoint(transfer.channel, (transfer.can_id, transfer.is_extended), transfer.target)
        begin = transfer.received[:1]
        if not transfer.is_whole:
            yield self._broken(end, transfer)
        elif begin[0] in REQUESTS:
            yield from self._close(end)
            self._asked[end] = _Asked(end, transfer, transfer.last_ns)
        elif begin[0] in SERVICE_BYTES:
            yield from self._answer(end, transfer)
        else:
            is_asker = self._is_asker(end)
            asker, answerer = (end, None) if is_asker else (self._partner(end), end)
            pair = (transfer, None) if is_asker else (None, transfer)
            yield Exchange(Exchanged.STRANGE, asker, answerer, *pair)

    def finish(self) -> Iterator[Exchange]:
        """Requests that nobody has answered."""
        for end in list(self._asked):
            yield from self._close(end)

    def partner_of(self, asker: Endpoint) -> Endpoint | None:
        """The module that a tester's id is for, as learned."""
        return next((answerer for answerer, end in self._learned.items() if end == asker), None)

    def _close(self, end: Endpoint) -> Iterator[Exchange]:
        asked = self._asked.pop(end, None)
        if asked is None or not asked.is_open or is_silent(asked.request.data) or end.address in FUNCTIONAL:
            return
        yield Exchange(Exchanged.UNANSWERED, end, None, asked.request, None, asked.pending)

    def _is_asker(self, end: Endpoint) -> bool:
        return end in self._asked or end.address in self._askers or end.address in FUNCTIONAL

    def _partner(self, end: Endpoint) -> Endpoint | None:
        address = self._partners.get(end.address)
        if address is None:
            return self._learned.get(end)
        return next((asked for asked in self._asked if asked[:2] == (end.channel, address)), None)

    def _broken(self, end: Endpoint, transfer: Transfer) -> Exchange:
        begin = transfer.received[:1]
        if (begin[:1] and begin[0] in REQUESTS) or (not begin and self._is_asker(end)):
            return Exchange(Exchanged.BROKEN, end, None, transfer, None)
        for asked in self._asked.values():
            if begin and self._fits(asked, end, transfer):
                asked.is_broken = True
        return Exchange(Exchanged.BROKEN, self._partner(end), end, None, transfer)

    def _answer(self, end: Endpoint, transfer: Transfer) -> Iterator[Exchange]:
        fitting = [asked for asked in self._asked.values() if self._fits(asked, end, transfer)]
        if not fitting:
            yield Exchange(Exchanged.UNASKED, self._partner(end), end, None, transfer)
            return
        asked = max(fitting, key=lambda asked: self._likeness(asked, end))
        asked.last_ns = max(asked.last_ns, transfer.last_ns)
        if transfer.data[0] == NEGATIVE and transfer.data[2:3] == bytes([PENDING]):
            asked.pending += 1
            return
        kind = Exchanged.SECOND if end in asked.answered else Exchanged.ANSWERED
        asked.answered.add(end)
        if asked.end.address not in FUNCTIONAL:
            self._learned.setdefault(end, asked.end)
        yield Exchange(kind, asked.end, end, asked.request, transfer, asked.pending)

    def _fits(self, asked: _Asked, end: Endpoint, transfer: Transfer) -> bool:
        """Whether it may answer that request: a fitting message of the right module, and in time."""
        if asked.end.channel != end.channel or asked.end.address == end.address:
            return False
        wanted = self._partners.get(end.address)
        if wanted is not None and asked.end.address not in {wanted, *FUNCTIONAL}:
            return False
        if end.address not in self._answering.get(asked.end.address, (end.address,)):
            return False
        if not 0 <= transfer.last_ns - asked.last_ns <= PATIENCE_NS:
            return False
        if not transfer.is_whole:  # the service alone, as more of it may not have come
            return transfer.received[0] == asked.request.data[0] + ANSWER
        return answers(asked.request.data, transfer.data)

    def _likeness(self, asked: _Asked, end: Endpoint) -> tuple[bool, bool, bool, int]:
        return (
            self._learned.get(end) == asked.end,
            end not in asked.answered,
            asked.end.target is not None and asked.end.target == end.address[0] & 0xFF,
            asked.last_ns,
        )
