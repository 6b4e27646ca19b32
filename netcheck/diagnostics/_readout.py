"""Captures with diagnostic conversations to what each module said."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np

from netcheck.capture import Capture, CaptureStream, open_capture
from netcheck.diagnostics._book import ModuleBook, Moment
from netcheck.diagnostics._exchanges import Conversations, Endpoint, Exchange
from netcheck.diagnostics._ids import ADDRESS_BYTES, Address, is_customary, of_addresses
from netcheck.diagnostics._readout_model import ModuleReading, Readout, ReadoutFinding, ReadoutFindingKind
from netcheck.diagnostics._segments import Reassembler
from netcheck.diagnostics._services import FUNCTIONAL, OBD_VIN, VIN
from netcheck.diagnostics._streams import ConversationSearch
from netcheck.diagnostics._transfer import Transfer
from netcheck.errors import UsageError
from netcheck.files import Module, Vehicle, When

MOST_BYTES: Final = 1 << 16  # of a message that is kept; services of a readout have far fewer
_MOST_ORPHANS: Final = 1_000  # requests of a capture that wait for their module to be known

Progress = Callable[[str, int, int], None]


class AddressBook:
    """Which module of a vehicle file has which addresses."""

    def __init__(self, vehicle: Vehicle | None) -> None:
        self.modules: Mapping[str, Module] = vehicle.module if vehicle is not None else {}
        self._answering: dict[Address, list[str]] = defaultdict(list)
        self._asked: dict[Address, list[str]] = defaultdict(list)
        for name, module in self.modules.items():
            for ids, number in ((self._answering, module.response_id), (self._asked, module.request_id)):
                if number is not None:
                    ids[number, number > 0x7FF].append(name)

    @property
    def declared(self) -> frozenset[Address]:
        """All ids that the file names."""
        return frozenset((*self._answering, *self._asked))

    def partners(self) -> Mapping[Address, Address]:
        """Id of answers → id of requests; those of the file, and those of ISO 15765-4."""
        found: dict[Address, Address] = {(0x7E8 + n, False): (0x7E0 + n, False) for n in range(8)}
        for n in range(256):
            found[0x18DAF100 | n, True] = (0x18DA00F1 | n << 8, True)
        for module in self.modules.values():
            if module.request_id is not None and module.response_id is not None:
                found[module.response_id, module.response_id > 0x7FF] = (
                    module.request_id,
                    module.request_id > 0x7FF,
                )
        return found

    def answering(self) -> Mapping[Address, frozenset[Address]]:
        """Id of requests → the only ids that answer them; without those that a module of unknown id has."""
        found: dict[Address, set[Address]] = defaultdict(set)
        unknown: set[Address] = set()
        for module in self.modules.values():
            if module.request_id is None:
                continue
            request = module.request_id, module.request_id > 0x7FF
            if module.response_id is None:
                unknown.add(request)
            else:
                found[request].add((module.response_id, module.response_id > 0x7FF))
        return {request: frozenset(ids) for request, ids in found.items() if request not in unknown}

    def names(self, response: Address | None, request: Address | None) -> Sequence[str]:
        """The modules that have these addresses; more than one where the file does not tell them apart."""
        found = self._answering.get(response, []) if response is not None else []
        asked = self._asked.get(request, []) if request is not None else []
        both = [name for name in found if name in asked]
        return both or found or asked

    def lengths(self, names: Sequence[str]) -> Mapping[int, int]:
        """Bytes of each coding block of the one module; {} where it is not one."""
        if len(names) != 1:
            return {}
        return {did: block.length for did, block in self.modules[names[0]].coding.items()}


class ConversationReader:
    """Goes through captures one after another, and keeps a book for every module.

    Each capture goes by twice: once for the search, which ``search`` makes, and once for what it found.
    """

    def __init__(self, vehicle: Vehicle | None = None, when: When = "before") -> None:
        """Arguments as for ``read_diagnostics``."""
        self._addresses = addresses = AddressBook(vehicle)
        self._when = when
        self._partners = addresses.partners()
        self._answering = {request: response for response, request in self._partners.items()}
        self._books: dict[Endpoint, ModuleBook] = {}
        self.has_writes = False
        self._lined: set[str] = set()
        self._start(("", True, 0))

    def search(self) -> ConversationSearch:
        """For a capture that is to be read."""
        return ConversationSearch(self._addresses.declared)

    def _start(self, head: tuple[str, bool, int]) -> None:
        self._file, self._has_times, self._first_ns = head
        self._conversations = Conversations(self._partners, self._addresses.answering())
        self._orphans: list[tuple[Exchange, Moment]] = []

    def begin(self, path: Path, streams: Mapping[Address, int]) -> None:
        """The next capture. streams: id → address bytes, as ``ConversationSearch`` finds them"""
        self._path = path
        self._ids = {skip: [address for address, s in streams.items() if s == skip] for skip in ADDRESS_BYTES}
        flows = {request: response for response, request in self._partners.items()}
        self._reassemblers = {
            skip: Reassembler(address_bytes=skip, most=MOST_BYTES, answers_to={**self._partners, **flows})
            for skip in ADDRESS_BYTES
        }
        self._before = 0

    def take(self, chunk: Capture) -> None:
        """The capture's next chunk."""
        if not self._before:
            self._start((self._path.as_posix(), chunk.has_times, int(chunk.time_ns[0])))
        found: list[Transfer] = []
        for skip, reassembler in self._reassemblers.items():
            if self._ids[skip]:
                chosen = np.flatnonzero(of_addresses(chunk, self._ids[skip])).tolist()
                found += reassembler.take(chunk, chosen, self._before)
        self._take(found)
        self._before += len(chunk)

    def end(self, lines: int = 0) -> None:
        """No more chunks of the capture come. lines: of its text; where each is a frame, findings name it"""
        if lines and lines == self._before:
            self._lined.add(self._path.as_posix())
        self._take([t for reassembler in self._reassemblers.values() for t in reassembler.finish()])
        for exchange in self._conversations.finish():
            self._note(exchange)
        self._settle()

    def _take(self, transfers: list[Transfer]) -> None:
        for transfer in sorted(transfers, key=lambda each: each.frames[-1]):
            for exchange in self._conversations.take(transfer):
                self._note(exchange)

    def _moment(self, exchange: Exchange) -> Moment:
        message = exchange.request or exchange.answer
        assert message is not None, "an exchange has a message"
        time = (message.first_ns - self._first_ns) / 1e9 if self._has_times else None
        return Moment(self._file, time, message.frames[0] + 1)

    def _note(self, exchange: Exchange) -> None:
        moment, end = self._moment(exchange), exchange.answerer
        if end is None and exchange.asker is not None:
            asker = exchange.asker
            response = self._answering.get(asker.address)
            if response is None or asker.target is not None:
                if len(self._orphans) < _MOST_ORPHANS:
                    self._orphans.append((exchange, moment))
                return
            end = Endpoint(asker.channel, response, None)
        if end is not None:
            self._tell(end, exchange, moment)

    def _settle(self) -> None:
        """Requests whose module is known by the end of the capture, or by nobody."""
        for exchange, moment in self._orphans:
            asker = exchange.asker
            assert asker is not None, "a request has an asker"
            self._tell(self._conversations.partner_of(asker) or asker, exchange, moment)

    def _tell(self, end: Endpoint, exchange: Exchange, moment: Moment) -> None:
        book = self._books.get(end)
        if book is None:
            book = self._books[end] = ModuleBook(end)
            book.know(self._addresses.lengths(self._addresses.names(end.address, None)))
        asker = exchange.asker
        if asker is not None and (book.request is None or book.request.address in FUNCTIONAL):
            book.request = asker
            book.know(self._addresses.lengths(self._addresses.names(end.address, asker.address)))
        if book.take(exchange, moment, is_late=self.has_writes or self._when == "after"):
            self.has_writes = True

    def _is_believed(self, book: ModuleBook) -> bool:
        """Whether it is diagnostics at all: by the ids that are known, else by what was said."""
        ends = {book.end.address, *([book.request.address] if book.request is not None else [])}
        if ends & (self._addresses.declared | self._partners.keys() | self._answering.keys()):
            return True
        if any(map(is_customary, ends)) and book.asked + book.answered:
            return True
        return book.is_conversation

    def readout(self, files: Sequence[str], warnings: Sequence[str] = ()) -> Readout:
        """What was read of all captures."""
        modules = tuple(self._modules())
        findings = vin_findings(modules)
        return Readout(tuple(files), modules, findings, self.has_writes, self._when, tuple(warnings))

    def _modules(self) -> Iterator[ModuleReading]:
        """Every module, those of the vehicle file first, in its order."""
        place = {name: index for index, name in enumerate(self._addresses.modules)}
        found = []
        for book in self._books.values():
            if not self._is_believed(book):
                continue
            request = book.request.address if book.request is not None else None
            names = self._addresses.names(book.end.address, request)
            if len(names) > 1:
                book.find(ReadoutFindingKind.SHARED_ADDRESS, names=tuple(names))
            reading = book.reading(names[0] if len(names) == 1 else None)
            findings = tuple(
                replace(finding, line=finding.frame) if finding.file in self._lined else finding
                for finding in reading.findings
            )
            found.append(replace(reading, findings=findings))
        yield from sorted(
            found,
            key=lambda module: (
                place.get(module.name or "", len(place)),
                module.response or module.request or (0, False),
                module.channel,
                -1 if module.target is None else module.target,
            ),
        )


def read_diagnostics(
    captures: Sequence[Path],
    vehicle: Vehicle | None = None,
    *,
    when: When = "before",
    csv: str = "",
    progress: Progress | None = None,
) -> Readout:
    """What the modules of a vehicle say in captures, in the order in which these were recorded.

    vehicle: names the modules and their blocks; without one they have their addresses only
    when:    which side of the fitting it is, where no write was seen
    csv, progress: as for ``open_capture``; progress has the capture's name first

    Raises InputError for a capture that cannot be read, UsageError for one that cannot be read twice.
    """
    reader, warnings = ConversationReader(vehicle, when), []
    for path in captures:
        refuse_pipe(path)
        told = partial(progress, path.name) if progress is not None else None

        def opened(path: Path = path, told: Callable[[int, int], None] | None = told) -> CaptureStream:
            return open_capture(path, csv=csv, progress=told)

        search = reader.search()
        with opened() as stream:
            for chunk in stream:
                search.take(chunk)
            warnings += [f"{path}: {warning}" for warning in stream.warnings]
        streams = search.streams()
        if streams:
            with opened() as stream:
                _read(reader, path, streams, stream)
                reader.end(stream.lines)
    return reader.readout([path.as_posix() for path in captures], warnings)


def refuse_pipe(path: Path) -> None:
    """Raises UsageError for a capture that cannot be read twice."""
    if path.exists() and not path.is_file() and not path.is_dir():
        raise UsageError(f"{path} can be read only once", remedy="save it as a file first")


def _read(
    reader: ConversationReader, path: Path, streams: Mapping[Address, int], stream: Iterable[Capture]
) -> None:
    reader.begin(path, streams)
    for chunk in stream:
        reader.take(chunk)


def read_conversation(capture: Capture, vehicle: Vehicle | None = None, *, when: When = "before") -> Readout:
    """The same of one capture in memory."""
    reader = ConversationReader(vehicle, when)
    search = reader.search()
    search.take(capture)
    if len(capture):
        _read(reader, Path(capture.file), search.streams(), [capture])
        reader.end()
    return reader.readout([capture.file])


def vin_findings(modules: Sequence[ModuleReading]) -> tuple[ReadoutFinding, ...]:
    """Modules that tell different vehicle numbers."""
    told: dict[str, str] = {}
    for module in modules:
        for text in module.identification:
            if text.did in {VIN, OBD_VIN}:
                told.setdefault(text.last, module.name or "")
    if any(one != other for one, other in pairwise(told)):
        return (ReadoutFinding(ReadoutFindingKind.VIN_DIFFERS, names=tuple(told)),)
    return ()
