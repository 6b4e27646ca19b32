"""One module's side of a conversation, kept while the messages come in: bounded, whatever comes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final, Generic, NamedTuple, TypeVar

from netcheck.diagnostics import _services as service
from netcheck.diagnostics._answers import COUNTS, LISTS, listed_faults, obd_faults, obd_info, split_read
from netcheck.diagnostics._exchanges import Endpoint, Exchange, Exchanged
from netcheck.diagnostics._readout_model import (
    BlockRead,
    FaultLamp,
    FaultRead,
    FaultsRead,
    ModuleReading,
    ReadoutFinding,
    ReadoutFindingKind,
    Refusal,
    SeenService,
    SeenWrite,
    TextRead,
)
from netcheck.diagnostics._transfer import Transfer
from netcheck.records import dataclass

_MOST_WRITES: Final = 10_000
_MOST_FINDINGS: Final = 1_000  # different ones of a module
_WATCHED: Final = frozenset(
    (
        *(service.RESET, service.CLEAR_FAULTS, service.SECURITY, service.AUTHENTICATION, service.ROUTINE),
        *(service.OBD_CLEAR, 0x28, 0x2F, 0x34, 0x35, 0x36, 0x37, 0x38, 0x3D, 0x85),
    )
)
_FUNCTIONED: Final = frozenset((service.RESET, service.SECURITY, service.ROUTINE, 0x28, 0x85))

T = TypeVar("T")


@dataclass
class Sides(Generic[T]):
    """A value that is read again and again: the last one on each side of writes.

    early, late: before and after the first accepted write to any module; after: after the last own one
    """

    early: T | None = None
    late: T | None = None
    after: T | None = None
    is_written: bool = False

    def read(self, value: T, *, is_late: bool) -> None:
        """The value was read."""
        if self.is_written:
            self.after = value
        elif is_late:
            self.late = value
        else:
            self.early = value

    def written(self) -> None:
        """A write of its own was accepted."""
        self.is_written, self.after = True, None

    def sides(self) -> tuple[T | None, T | None]:
        """Before and after."""
        if not self.is_written:
            return self.early, self.late
        return self.late if self.late is not None else self.early, self.after


class Moment(NamedTuple):
    """Where in the captures a message stands: file, seconds from its first frame, number of its frame."""

    file: str
    time: float | None
    frame: int


class ModuleBook:
    """What one module said."""

    def __init__(self, end: Endpoint) -> None:
        self.end = end
        self.request: Endpoint | None = None
        self.asked = self.answered = self.matched = 0
        self._session: int | None = None
        self._sessions: dict[int, None] = {}
        self._lamp: FaultLamp | None = None
        self._texts: dict[int, Sides[str]] = {}
        self._blocks: dict[int, Sides[bytes]] = {}
        self._faults: dict[int, Sides[tuple[FaultRead, ...]]] = {}
        self._refusals: Counter[tuple[int, int, int | None]] = Counter()
        self._writes: list[SeenWrite] = []
        self._services: dict[tuple[int, int | None], list[int]] = {}
        self._findings: dict[ReadoutFinding, tuple[ReadoutFinding, int]] = {}
        self.know({})

    def know(self, lengths: Mapping[int, int]) -> None:
        """Lengths of the blocks in the vehicle file, as soon as it is known which module this is."""
        self._known = frozenset(lengths)
        self.lengths = {service.VIN: 17, service.ACTIVE_SESSION: 1, **lengths}
        for did, sides in list(self._blocks.items()):
            lasting = [value for value in sides.sides() if value is not None]
            wrong = [value for value in lasting if len(value) != lengths.get(did, len(value))]
            if wrong:
                self.find(ReadoutFindingKind.WRONG_LENGTH, did=did, found=len(wrong[0]), due=lengths[did])
                del self._blocks[did]

    def find(self, kind: ReadoutFindingKind, moment: Moment | None = None, **facts: object) -> None:
        """Equal findings are counted, and the first one is kept."""
        key = ReadoutFinding(kind, **facts)  # type: ignore[arg-type]
        first, count = self._findings.get(key, (key, 0))
        if not count and len(self._findings) >= _MOST_FINDINGS:
            return
        if not count and moment is not None:
            first = replace(key, file=moment.file, time=moment.time, frame=moment.frame)
        self._findings[key] = first, count + 1

    @property
    def is_conversation(self) -> bool:
        """Whether most of it is requests with their answers; ordinary messages may look like either."""
        alone = sum(count for _, count in self._findings.values())
        return self.matched > 0 and self.matched >= alone

    def take(self, exchange: Exchange, moment: Moment, *, is_late: bool) -> bool:
        """An exchange with this module; whether it is an accepted write."""
        if exchange.kind is Exchanged.BROKEN:
            self._broken(exchange, moment)
            return False
        request, answer = exchange.request, exchange.answer
        if exchange.kind is Exchanged.STRANGE:
            message = request or answer
            assert message is not None, "one of them is strange"
            self.find(ReadoutFindingKind.STRANGE_SERVICE, moment, service=message.data[0])
            return False
        if answer is not None:
            self.answered += 1
        if request is None:
            assert answer is not None, "one of them is there"
            self.find(ReadoutFindingKind.ANSWER_ALONE, moment, service=_service_of(answer.data))
            return False
        if exchange.kind is Exchanged.SECOND:
            self.find(ReadoutFindingKind.SECOND_ANSWER, moment, service=request.data[0])
            return False
        self.asked += 1
        self.matched += answer is not None
        return self._exchange(request, answer, moment, is_late=is_late)

    def _broken(self, exchange: Exchange, moment: Moment) -> None:
        message = exchange.answer or exchange.request
        assert message is not None, "one of them is broken"
        begin = message.received[:1]
        named = _service_of(begin) if begin and begin[0] in service.SERVICE_BYTES else None
        self.find(
            ReadoutFindingKind.SEGMENT_LOST,
            moment,
            lapse=message.lapse,
            service=named,
            found=len(message.received),
            due=message.announced or None,
        )

    def _exchange(self, request: Transfer, answer: Transfer | None, moment: Moment, *, is_late: bool) -> bool:
        """A request of this module with its answer, or without one."""
        asked, said = request.data, answer.data if answer is not None else None
        is_refused = said is not None and said[0] == service.NEGATIVE
        if asked[0] in _WATCHED:
            self._watch(asked, said, is_refused=is_refused)
        if asked[0] == service.WRITE:
            return self._write(asked, said, moment)
        if said is None:
            self.find(ReadoutFindingKind.NO_ANSWER, moment, service=asked[0], did=_did_of(asked))
        elif is_refused:
            self._refuse(asked, said, moment)
        else:
            self._positive(asked, said, moment, is_late=is_late)
        return False

    def _watch(self, asked: bytes, said: bytes | None, *, is_refused: bool) -> None:
        has_function = asked[0] in _FUNCTIONED and len(asked) > 1
        key = asked[0], asked[1] & ~service.NO_ANSWER_WANTED if has_function else None
        row = self._services.setdefault(key, [0, 0, 0])
        row[2 if said is None else 1 if is_refused else 0] += 1

    def _refuse(self, asked: bytes, said: bytes, moment: Moment) -> None:
        if len(said) != 3:
            self.find(ReadoutFindingKind.WRONG_LENGTH, moment, service=asked[0], found=len(said), due=3)
        else:
            self._refusals[asked[0], said[2], _did_of(asked)] += 1

    def _write(self, asked: bytes, said: bytes | None, moment: Moment) -> bool:
        did = _did_of(asked)
        if did is None or len(asked) < 4:
            self.find(ReadoutFindingKind.WRONG_LENGTH, moment, service=asked[0], found=len(asked), due=4)
            return False
        accepted, code = None, None
        if said is not None:
            accepted = said[0] != service.NEGATIVE
            code = said[2] if not accepted and len(said) > 2 else None
            if not accepted:
                self._refuse(asked, said, moment)
        if len(self._writes) < _MOST_WRITES:
            self._writes.append(
                SeenWrite(did, asked[3:], moment.file, moment.time, accepted, code, self._session)
            )
        if accepted:
            for values in (self._texts, self._blocks):
                if did in values:
                    values[did].written()
            if did not in self._texts and did not in self._blocks:
                fresh: Sides[bytes] = Sides()
                fresh.written()
                self._blocks[did] = fresh
        return accepted is True

    def _positive(self, asked: bytes, said: bytes, moment: Moment, *, is_late: bool) -> None:
        reader = _READERS.get(asked[0])
        if reader is not None:
            reader(self, asked, said, moment, is_late)

    def _session_began(self, asked: bytes, said: bytes, moment: Moment, is_late: bool) -> None:
        self._session = said[1]
        self._sessions[said[1]] = None

    def _was_reset(self, asked: bytes, said: bytes, moment: Moment, is_late: bool) -> None:
        self._session = 1  # a module starts in its default session

    def _was_read(self, asked: bytes, said: bytes, moment: Moment, is_late: bool) -> None:
        rows = split_read(asked, said, self.lengths)
        if rows is None:
            self.find(ReadoutFindingKind.NOT_SPLIT, moment, service=asked[0], found=len(said))
            return
        for did, data in rows:
            due = self.lengths.get(did)
            if not data or (due is not None and len(data) != due):
                self.find(ReadoutFindingKind.WRONG_LENGTH, moment, did=did, found=len(data), due=due or 1)
            elif service.is_identification(did) and did not in self._known:
                self._identified(did, data, moment, is_late=is_late)
            else:
                self._blocks.setdefault(did, Sides()).read(data, is_late=is_late)

    def _identified(self, did: int, data: bytes, moment: Moment, *, is_late: bool) -> None:
        text = service.identification_text(did, data)
        sides = self._texts.setdefault(did, Sides())
        known = {sides.early, sides.late, sides.after} - {None}
        if did in {service.VIN, service.OBD_VIN} and known - {text}:
            names = (*sorted(each for each in known if each is not None), text)
            self.find(ReadoutFindingKind.VIN_CHANGED, moment, did=did, names=names)
        sides.read(text, is_late=is_late)

    def _reported(self, asked: bytes, said: bytes, moment: Moment, is_late: bool) -> None:
        function = said[1]
        if function in COUNTS:
            return
        if function not in LISTS:
            self.find(
                ReadoutFindingKind.REPORT_NOT_READ, moment, service=asked[0], names=(f"{function:02X}",)
            )
            return
        faults = listed_faults(said)
        if faults is None:
            self.find(ReadoutFindingKind.WRONG_LENGTH, moment, service=asked[0], found=len(said))
        else:
            self._faults.setdefault(function, Sides()).read(faults, is_late=is_late)

    def _obd_reported(self, asked: bytes, said: bytes, moment: Moment, is_late: bool) -> None:
        faults = obd_faults(asked[0], said)
        if faults is None:
            self.find(ReadoutFindingKind.WRONG_LENGTH, moment, service=asked[0], found=len(said))
        else:
            self._faults.setdefault(-asked[0], Sides()).read(faults, is_late=is_late)

    def _obd_told(self, asked: bytes, said: bytes, moment: Moment, is_late: bool) -> None:
        told = obd_info(said)
        if told is not None:
            self._identified(*told, moment, is_late=is_late)

    def _obd_data(self, asked: bytes, said: bytes, moment: Moment, is_late: bool) -> None:
        """Of live data, type 01 alone tells of faults."""
        if said[1:2] == b"\x01" and len(said) >= 3:
            self._lamp = FaultLamp(bool(said[2] & 0x80), said[2] & 0x7F)

    def reading(self, name: str | None) -> ModuleReading:
        """All of it, under the name that the vehicle file has for the module."""
        end = self.end
        blocks = ((did, *self._blocks[did].sides()) for did in sorted(self._blocks))
        texts = ((did, *self._texts[did].sides()) for did in sorted(self._texts))
        request = self.request
        return ModuleReading(
            name=name,
            channel=end.channel,
            request=request.address if request is not None else None,
            response=end.address if self.answered else None,
            target=end.target,
            asked=self.asked,
            answered=self.answered,
            identification=tuple(TextRead(*row) for row in texts if row[1:] != (None, None)),
            blocks=tuple(BlockRead(*row) for row in blocks if row[1:] != (None, None)),
            faults=self._all_faults(),
            refusals=tuple(Refusal(*key, count=n) for key, n in sorted(self._refusals.items(), key=_key)),
            writes=tuple(self._writes),
            services=tuple(
                SeenService(*key, *row)
                for key, row in sorted(self._services.items(), key=lambda item: (item[0][0], item[0][1] or 0))
            ),
            sessions=tuple(self._sessions),
            lamp=self._lamp,
            findings=tuple(replace(first, count=count) for first, count in self._findings.values()),
        )

    def _all_faults(self) -> FaultsRead:
        """Reports of several kinds together; of one code the one of the kind that came first in number."""
        sides = [self._faults[kind].sides() for kind in sorted(self._faults, key=abs)]
        return FaultsRead(_merged(side[0] for side in sides), _merged(side[1] for side in sides))


def _merged(reports: object) -> tuple[FaultRead, ...] | None:
    found: dict[tuple[str, str], FaultRead] = {}
    known = [report for report in reports if report is not None]  # type: ignore[attr-defined]
    for report in known:
        for fault in report:
            found.setdefault((fault.fault.code, fault.kind), fault)
    return tuple(found[key] for key in sorted(found)) if known else None


def _key(item: tuple[tuple[int, int, int | None], int]) -> tuple[int, int, int]:
    (asked, code, did), _ = item
    return asked, -1 if did is None else did, code


def _did_of(asked: bytes) -> int | None:
    """The identifier of a read or a write of one."""
    if asked[0] == service.WRITE and len(asked) > 2:
        return int.from_bytes(asked[1:3], "big")
    return int.from_bytes(asked[1:3], "big") if asked[0] == service.READ and len(asked) == 3 else None


def _service_of(message: bytes) -> int:
    """The service that a request asks for, or an answer is to."""
    if message[0] == service.NEGATIVE and len(message) > 1:
        return message[1]
    return message[0] if message[0] in service.REQUESTS else message[0] - service.ANSWER


_Reader = Callable[[ModuleBook, bytes, bytes, Moment, bool], None]
_READERS: Final[Mapping[int, _Reader]] = {
    service.SESSION: ModuleBook._session_began,
    service.RESET: ModuleBook._was_reset,
    service.READ: ModuleBook._was_read,
    service.READ_FAULTS: ModuleBook._reported,
    service.OBD_DATA: ModuleBook._obd_data,
    service.OBD_STORED: ModuleBook._obd_reported,
    service.OBD_PENDING: ModuleBook._obd_reported,
    service.OBD_PERMANENT: ModuleBook._obd_reported,
    service.OBD_INFO: ModuleBook._obd_told,
}
