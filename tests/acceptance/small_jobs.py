"""A small job as plain data, for the oracle to judge and for netcheck to plan from files.

Big-endian signals take whole bytes. Times are microseconds from the recording's first frame; factors,
offsets, limits and longest gaps are decimal texts, so that nothing is rounded.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from tests.acceptance.cases import Case, Item

Fact = str | int | bool


@dataclass(frozen=True)
class Sig:
    name: str
    start: int
    width: int
    factor: str = "1"
    offset: str = "0"
    low: str = "0"
    high: str = "0"
    signed: bool = False
    page: int | str | None = None  # "M" for the signal that selects the page
    labels: dict[int, str] = field(default_factory=dict)
    is_big: bool = False  # big-endian, of two bytes from the start bit on


@dataclass(frozen=True)
class Msg:
    name: str
    number: int
    length: int
    signals: tuple[Sig, ...]
    senders: tuple[str, ...] = ()
    extended: bool = False

    def signal(self, name: str | None) -> Sig | None:
        return next((sig for sig in self.signals if sig.name == name), None)


@dataclass(frozen=True)
class Entry:
    """Where one network carries a role; unlock is (module, field, value)."""

    network: str
    message: str
    signal: str
    active: tuple[str | int, ...] = ()
    not_available: tuple[int, ...] = ()
    counter: str | None = None
    years: tuple[int, int] | None = None
    unlock: tuple[str, str, str | int] | None = None


@dataclass(frozen=True)
class Bits:
    """A coding field of one byte or less, or of two bytes."""

    byte: int
    bit: int
    width: int
    values: dict[int, str]
    order: str = "big"


@dataclass(frozen=True)
class Unit:
    """A module with its coding blocks: did to (length, fields)."""

    network: str | None = None
    node: str | None = None
    years: tuple[int, int] | None = None
    blocks: dict[int, tuple[int, dict[str, Bits]]] = field(default_factory=dict)


@dataclass(frozen=True)
class Need:
    role: str
    evidence: str = "moves"
    max_gap_ms: str | None = None
    optional: bool = False


@dataclass(frozen=True)
class Supply:
    roles: tuple[str, ...] = ()
    number: int | None = None
    extended: bool = False


@dataclass(frozen=True)
class Part:
    name: str
    network: str | None
    needs: tuple[Need, ...] = ()
    supplies: tuple[Supply, ...] = ()
    replaced_roles: tuple[str, ...] = ()
    replaced_modules: tuple[str, ...] = ()
    matches: tuple[tuple[str, tuple[Fact, ...]], ...] = ()
    requires: tuple[str, ...] = ()
    codes: tuple[tuple[str, str, str | int], ...] = ()


@dataclass(frozen=True)
class Frame:
    time: int
    channel: str
    number: int
    data: bytes
    extended: bool = False
    kind: str = "data"  # data | remote | error


@dataclass(frozen=True)
class Mark:
    role: str
    start: int
    end: int
    state: str | int | None = None
    between: tuple[str, str] | None = None


@dataclass(frozen=True)
class Recording:
    frames: tuple[Frame, ...]
    marks: tuple[Mark, ...] = ()
    when: str = "before"
    channels: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Reading:
    module: str
    did: int
    data: bytes
    when: str = "before"


@dataclass(frozen=True)
class Job:
    year: int
    networks: dict[str, tuple[Msg, ...]]
    modules: dict[str, Unit]
    roles: dict[str, tuple[Entry, ...]]
    facts: dict[str, Fact]
    parts: tuple[Part, ...]
    recordings: tuple[Recording, ...] = ()
    readings: tuple[Reading, ...] = ()


def dbc_text(messages: tuple[Msg, ...]) -> str:
    nodes = sorted({node for msg in messages for node in msg.senders})
    lines, tails = ['VERSION ""', "NS_ :", "BS_:", "BU_: " + " ".join(nodes)], []
    for msg in messages:
        number = msg.number | (1 << 31 if msg.extended else 0)
        lines.append(f"BO_ {number} {msg.name}: {msg.length} {(*msg.senders, 'Vector__XXX')[0]}")
        if len(msg.senders) > 1:
            tails.append(f"BO_TX_BU_ {number} : {','.join(msg.senders)};")
        for sig in msg.signals:
            page = "" if sig.page is None else " M" if sig.page == "M" else f" m{sig.page}"
            first, order = (sig.start + 7, 0) if sig.is_big else (sig.start, 1)
            place = f"{first}|{sig.width}@{order}{'-' if sig.signed else '+'}"
            scale = f'({sig.factor},{sig.offset}) [{sig.low}|{sig.high}] ""'
            lines.append(f" SG_ {sig.name}{page} : {place} {scale} Vector__XXX")
            labels = " ".join(f'{raw} "{label}"' for raw, label in sig.labels.items())
            tails += [f"VAL_ {number} {sig.name} {labels} ;"] if labels else []
    return "\n".join(lines + tails) + "\n"


def _dbc_texts(messages: tuple[Msg, ...]) -> list[str]:
    """In two files, where there are enough."""
    parts = (messages[:3], messages[3:])
    return [dbc_text(part) for part in parts if part]


def _frame_text(frame: Frame) -> str:
    number = frame.number | (0x20000000 if frame.kind == "error" else 0)
    wide = frame.extended or frame.kind == "error"
    data = f"R{len(frame.data)}" if frame.kind == "remote" else frame.data.hex().upper()
    mark = "##0" if len(frame.data) > 8 else "#"
    return f"{number:0{8 if wide else 3}X}{mark}{data}"


def _given(**pairs: object) -> dict[str, object]:
    return {key: value for key, value in pairs.items() if value not in (None, (), {}, False)}


def case_of(job: Job, folder: Path) -> Case:
    """The job as files to be: ``plan()`` writes and plans them."""
    case = Case(folder, job.year)
    case.dbc = {name: _dbc_texts(messages) for name, messages in job.networks.items()}
    for name, unit in job.modules.items():
        case.module(name, **_given(network=unit.network, node=unit.node, years=unit.years))
        for did, (length, fields) in unit.blocks.items():
            rows = {
                key: {
                    "byte": bits.byte,
                    "bit": bits.bit,
                    "width": bits.width,
                    "values": bits.values,
                    "order": bits.order,
                }
                for key, bits in fields.items()
            }
            case.block(name, did, length, **rows)
    for role, entries in job.roles.items():
        for entry in entries:
            unlock = entry.unlock and dict(zip(("module", "field", "value"), entry.unlock, strict=True))
            more = _given(
                active=entry.active,
                not_available=entry.not_available,
                counter=entry.counter,
                years=entry.years,
                unlocked_by=unlock,
            )
            case.role(role, f"{entry.network} {entry.message} {entry.signal}", **more)
    case.facts(**job.facts)
    for part in job.parts:
        _fill(case.item(part.name, part.network), part)
    for recording in job.recordings:
        _record(case, recording)
    for reading in job.readings:
        case.readout(reading.module, reading.did, reading.data.hex(), when=reading.when)
    return case


def _fill(item: Item, part: Part) -> None:
    for need in part.needs:
        gap = None if need.max_gap_ms is None else float(need.max_gap_ms)
        item.need(need.role, evidence=need.evidence, **_given(max_gap_ms=gap, optional=need.optional))
    for supply in part.supplies:
        item.supply(*supply.roles, **_given(extended=supply.extended), **_id_of(supply))
    for role in part.replaced_roles:
        item.replace(role=role)
    for module in part.replaced_modules:
        item.replace(module=module)
    for fact, any_of in part.matches:
        item.match(fact, *any_of)
    for module in part.requires:
        item.require(module)
    for module, name, value in part.codes:
        item.code(module, name, value)


def _id_of(supply: Supply) -> dict[str, int]:
    return {} if supply.number is None else {"message_id": supply.number}


def _record(case: Case, recording: Recording) -> None:
    log = case.log(None, when=recording.when, **_given(channels=recording.channels))
    log.rows = [(frame.time / 1e6, frame.channel, _frame_text(frame)) for frame in recording.frames]
    for mark in recording.marks:
        more = {"between": [float(value) for value in mark.between]} if mark.between else {}
        log.mark(mark.role, mark.start / 1e6, mark.end / 1e6, mark.state, **more)
