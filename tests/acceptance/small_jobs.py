"""A small job as plain data, for the oracle to judge and for netcheck to plan from files.

Big-endian signals take whole bytes. Times are microseconds from the recording's first frame (also where its
lines have no stamps: they give the order); factors, offsets, limits, longest gaps and delays are decimal
texts, so that nothing is rounded.
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
    cycle_ms: int = 0  # by the DBC; 0 says nothing

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

    networks: tuple[str, ...] = ()
    node: str | None = None
    years: tuple[int, int] | None = None
    blocks: dict[int, tuple[int, dict[str, Bits]]] = field(default_factory=dict)
    addresses: tuple[int, ...] = ()  # of its diagnostics: request, response


OnlyIf = tuple[str, tuple[Fact, ...]]  # a fact and its values for which an entry applies


@dataclass(frozen=True)
class Need:
    role: str
    evidence: str = "moves"
    max_gap_ms: str | None = None
    optional: bool = False
    max_delay_ms: str | None = None
    used_by: str | None = None
    only_if: OnlyIf | None = None


@dataclass(frozen=True)
class Code:
    module: str
    field: str
    value: str | int
    only_if: OnlyIf | None = None


@dataclass(frozen=True)
class Supply:
    roles: tuple[str, ...] = ()
    number: int | None = None
    extended: bool = False
    period_ms: int | None = None
    length: int | None = None


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
    codes: tuple[Code, ...] = ()
    wires: tuple[str, ...] = ()  # roles that it gets by a wire of its own
    steps: tuple[OnlyIf, ...] = ()  # conditions of hand work


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
    timed: bool = True  # whether its lines have time stamps


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
    own_facts: dict[str, Fact] = field(default_factory=dict)  # of this vehicle, over those of its model
    bitrate: int = 500_000


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
    cycles = [(msg.number | (1 << 31 if msg.extended else 0), msg.cycle_ms) for msg in messages]
    if any(cycle for _, cycle in cycles):
        tails += ['BA_DEF_ BO_ "GenMsgCycleTime" INT 0 65535;', 'BA_DEF_DEF_ "GenMsgCycleTime" 0;']
        tails += [f'BA_ "GenMsgCycleTime" BO_ {number} {cycle};' for number, cycle in cycles if cycle]
    return "\n".join(lines + tails) + "\n"


def _dbc_texts(messages: tuple[Msg, ...]) -> list[str]:
    """In two files, where there are enough."""
    parts = (messages[:3], messages[3:])
    return [dbc_text(part) for part in parts if part]


def _given(**pairs: object) -> dict[str, object]:
    return {key: value for key, value in pairs.items() if value not in (None, (), {}, False)}


def case_of(job: Job, folder: Path) -> Case:
    """The job as files to be: ``plan()`` writes and plans them."""
    case = Case(folder, job.year)
    case.bitrate = job.bitrate
    case.dbc = {name: _dbc_texts(messages) for name, messages in job.networks.items()}
    for name, unit in job.modules.items():
        network = unit.networks[0] if len(unit.networks) == 1 else unit.networks
        addresses = dict(zip(("request_id", "response_id"), unit.addresses, strict=False))
        case.module(name, **_given(network=network, node=unit.node, years=unit.years), **addresses)
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
    case.own_facts = dict(job.own_facts)
    for part in job.parts:
        _fill(case.item(part.name, part.network), part)
    for recording in job.recordings:
        _record(case, recording)
    for reading in job.readings:
        case.readout(reading.module, reading.did, reading.data.hex(), when=reading.when)
    return case


def _fill(item: Item, part: Part) -> None:
    for need in part.needs:
        more = _given(
            max_gap_ms=_number(need.max_gap_ms),
            max_delay_ms=_number(need.max_delay_ms),
            used_by=need.used_by,
            optional=need.optional,
            only_if=_condition(need.only_if),
        )
        item.need(need.role, evidence=need.evidence, **more)
    for supply in part.supplies:
        more = _given(extended=supply.extended, period_ms=supply.period_ms, length=supply.length)
        item.supply(*supply.roles, **more, **_id_of(supply))
    for role in part.replaced_roles:
        item.replace(role=role)
    for module in part.replaced_modules:
        item.replace(module=module)
    for fact, any_of in part.matches:
        item.match(fact, *any_of)
    for module in part.requires:
        item.require(module)
    for code in part.codes:
        item.code(code.module, code.field, code.value, **_given(only_if=_condition(code.only_if)))
    for condition in part.steps:
        item.step("Do it", only_if=_condition(condition))
    for role in part.wires:
        item.wire(role)


def _number(text: str | None) -> float | None:
    return None if text is None else float(text)


def _condition(condition: OnlyIf | None) -> dict[str, object] | None:
    return condition and {"fact": condition[0], "any_of": list(condition[1])}


def _id_of(supply: Supply) -> dict[str, int]:
    return {} if supply.number is None else {"message_id": supply.number}


def _record(case: Case, recording: Recording) -> None:
    log = case.log(None, when=recording.when, **_given(channels=recording.channels))
    log.is_timed = recording.timed
    log.rows = [(frame.time / 1e6, frame.channel, frame_text(frame)) for frame in recording.frames]
    for mark in recording.marks:
        more = {"between": [float(value) for value in mark.between]} if mark.between else {}
        log.mark(mark.role, mark.start / 1e6, mark.end / 1e6, mark.state, **more)


def frame_text(frame: Frame) -> str:
    number = frame.number | (0x20000000 if frame.kind == "error" else 0)
    wide = frame.extended or frame.kind == "error"
    data = f"R{len(frame.data)}" if frame.kind == "remote" else frame.data.hex().upper()
    mark = "##0" if len(frame.data) > 8 else "#"
    return f"{number:0{8 if wide else 3}X}{mark}{data}"
