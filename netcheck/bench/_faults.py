"""The faults, cycles and checksums of a script: what happens to which message of which network."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fnmatch import fnmatchcase
from typing import Final

from netcheck.bench._checksum import Checksum
from netcheck.bench._frame import FD_LENGTHS
from netcheck.bench._scenario import Cycle, InjectedFault, Scenario
from netcheck.bits import last_byte_needed
from netcheck.database import Database, Message, Signal
from netcheck.files import ChecksumEntry, CycleEntry, Fault, Problem, Script, hex_bytes, one_of
from netcheck.records import dataclass
from netcheck.roles import Watch

USUAL_PERIOD_MS: Final = 100.0  # of a message whose DBC states none
_SHARED: Final = {"lost-frames": 0.05, "late-frames": 0.2, "message-missing": 1.0, "second-sender": 1.0,
                  "wrong-length": 1.0}  # fmt: skip
_LATE_PERIODS: Final = 5  # how late a late frame is where nothing is said

Path = tuple[str | int, ...]


@dataclass(frozen=True)
class ScriptTargets:
    """What the entries of a script are looked up in. playing: the signals that play roles."""

    databases: Mapping[str, Database]
    playing: tuple[Watch, ...]
    scenarios: Mapping[str, Scenario]


def apply_cycles(script: Script, targets: ScriptTargets) -> dict[str, frozenset[str]]:
    """Say how often each message is sent: as the script says, else as the DBC, else every 100 ms.

    Returns those of the last kind, by network. Raises Problem for an unknown message or network, as the
    functions below do.
    """
    stated: set[tuple[str, str]] = set()
    for name, database in targets.databases.items():
        for message in database.messages:
            if not message.cycle_time_ms:
                targets.scenarios[name].cycles[message.name] = Cycle(USUAL_PERIOD_MS)
    for index, entry in enumerate(script.cycle):
        network, message = _found(entry, targets, ("cycle", index))
        targets.scenarios[network].cycles[message.name] = Cycle(entry.period_ms, entry.jitter_ms)
        stated.add((network, message.name))
    return {
        name: frozenset(
            message.name
            for message in database.messages
            if not message.cycle_time_ms and (name, message.name) not in stated
        )
        for name, database in targets.databases.items()
    }


def apply_checksums(script: Script, targets: ScriptTargets) -> None:
    """Say which checksums are kept valid; entries with wildcards first, so that one that names a signal wins.

    Raises Problem also for one that is not one or two whole bytes.
    """
    entries = sorted(enumerate(script.checksum), key=lambda numbered: not _is_pattern(numbered[1]))
    for index, entry in entries:
        at = ("checksum", index)
        if _is_pattern(entry):
            places = _matching(entry, targets, at)
        else:
            network, message = _found(entry, targets, at)
            places = [(network, message, _signal(entry.signal, message, at))]
        for network, message, signal in places:
            checksum = _checksum(entry, signal, at)
            targets.scenarios[network].checksums[message.name, signal.name] = checksum


def _is_pattern(entry: ChecksumEntry) -> bool:
    return any(char in entry.message + entry.signal for char in "*?[")


def _matching(entry: ChecksumEntry, targets: ScriptTargets, at: Path) -> list[tuple[str, Message, Signal]]:
    """The signals of one or two whole bytes that the patterns of an entry fit."""
    named = [_network(entry.network, targets, at)] if entry.network else list(targets.databases)
    found = [
        (name, message, signal)
        for name in named
        for message in targets.databases[name].messages
        if fnmatchcase(message.name, entry.message)
        for signal in message.signals
        if fnmatchcase(signal.name, entry.signal) and _is_whole_bytes(signal)
    ]
    if not found:
        what = f"no signal of one or two whole bytes fits {entry.message}, {entry.signal}"
        raise Problem((*at, "signal"), what, "only such checksums are kept valid")
    return found


def _is_whole_bytes(signal: Signal) -> bool:
    return signal.width in (8, 16) and signal.start % 8 == (7 if signal.is_big_endian else 0)


def _checksum(entry: ChecksumEntry, signal: Signal, at: Path) -> Checksum:
    if not _is_whole_bytes(signal):
        what = f"{signal.name} is not one or two whole bytes"
        raise Problem((*at, "signal"), what, "only such checksums are kept valid")
    top = (1 << signal.width) - 1
    for key, number in (
        ("polynomial", entry.polynomial or 0),
        ("start", entry.start),
        ("final", entry.final),
    ):
        if number > top:
            raise Problem((*at, key), f"0x{number:X} does not fit {signal.width} bits", f"at most 0x{top:X}")
    return Checksum(
        kind=entry.kind,
        width=signal.width,
        polynomial=entry.polynomial or 0,
        start=entry.start,
        final=entry.final,
        is_reflected=entry.reflected,
        before=hex_bytes(entry.before or ""),
        after=hex_bytes(entry.after or ""),
    )


def apply_faults(script: Script, targets: ScriptTargets) -> None:
    """Say what goes wrong, after cycles, counters and checksums are known.

    Raises Problem also for a key that the fault's kind does not have, and a frozen counter that is not known.
    """
    for index, fault in enumerate(script.fault):
        at = ("fault", index)
        _check_keys(fault, script, at)
        span = fault.from_, fault.to
        if fault.kind == "asleep":
            for network in (_network(fault.network, targets, at),) if fault.network else targets.scenarios:
                targets.scenarios[network].asleep.append(span)
            continue
        network, message = _found(fault, targets, at)
        injected = _injected(fault, message, network, targets, at)
        targets.scenarios[network].faults.setdefault(message.name, []).append(injected)


def _check_keys(fault: Fault, script: Script, at: Path) -> None:
    allowed = {
        "share": fault.kind in _SHARED,
        "signal": fault.kind == "stuck-signal",
        "length": fault.kind == "wrong-length",
        "delay_ms": fault.kind == "late-frames",
        "message": fault.kind != "asleep",
    }
    for key, is_allowed in allowed.items():
        if getattr(fault, key) is not None and not is_allowed:
            raise Problem((*at, key), f"a fault of kind {fault.kind} has no {key}", "leave it out")
    if fault.from_ >= script.seconds:
        what = f"{fault.from_:g} s is not before the end"
        raise Problem((*at, "from"), what, f"less than {script.seconds:g}")


def _injected(
    fault: Fault, message: Message, network: str, targets: ScriptTargets, at: Path
) -> InjectedFault:
    scenario = targets.scenarios[network]
    own = [played for played in targets.playing if (played.network, played.message) == (network, message)]
    if fault.kind == "frozen-counter" and not any(key[0] == message.name for key in scenario.counters):
        what = f"no counter of {message.name} is known"
        raise Problem((*at, "message"), what, "name it in the vehicle file, as counter of a role it carries")
    kept = {key[1] for key in (*scenario.counters, *scenario.checksums) if key[0] == message.name}
    stuck = (
        {_signal(fault.signal, message, at).name}
        if fault.signal
        else {s.name for s in message.signals} - kept
    )
    cycle = scenario.cycles.get(message.name, Cycle(message.cycle_time_ms or USUAL_PERIOD_MS))
    return InjectedFault(
        kind=fault.kind,
        span=(fault.from_, fault.to),
        share=_SHARED.get(fault.kind, 1.0) if fault.share is None else fault.share,
        signals=frozenset(stuck),
        length=_length(fault, message, own, at) if fault.kind == "wrong-length" else 0,
        delay_ms=fault.delay_ms or _LATE_PERIODS * cycle.period_ms,
        instead={played.signal.name: played.active[0] for played in own if played.active},
    )


def _length(fault: Fault, message: Message, playing: Iterable[Watch], at: Path) -> int:
    """Payload bytes that are left: as said, or so few that no role's signal fits."""
    if fault.length is not None and fault.length >= message.length:
        what = f"{fault.length} bytes are not fewer than the {message.length} of {message.name}"
        raise Problem((*at, "length"), what, "say how many are left")
    signals = [played.signal for played in playing]
    needed = (last_byte_needed(s.start, s.width, s.is_big_endian) for s in signals)
    length = min(needed, default=message.length - 1) if fault.length is None else fault.length
    return (
        max((fits for fits in FD_LENGTHS if fits <= length), default=0) if message.is_fd else max(length, 0)
    )


def _found(
    entry: Fault | CycleEntry | ChecksumEntry, targets: ScriptTargets, at: Path
) -> tuple[str, Message]:
    """The message that an entry names, and its network."""
    wanted = entry.message or ""
    named = [_network(entry.network, targets, at)] if entry.network else list(targets.databases)
    found = [(name, message) for name in named if (message := targets.databases[name].message(wanted))]
    if len(found) == 1:
        return found[0]
    if found:
        several = " and ".join(name for name, _ in found)
        raise Problem((*at, "message"), f"{wanted} is on {several}", "say which with network")
    names = [message.name for name in named for message in targets.databases[name].messages]
    raise Problem(
        (*at, "message"), f"'{wanted}' is not a message of {' or '.join(named)}", one_of(wanted, names)
    )


def _network(name: str | None, targets: ScriptTargets, at: Path) -> str:
    if name not in targets.databases:
        raise Problem(
            (*at, "network"),
            f"'{name}' is not a network of the vehicle",
            one_of(name or "", targets.databases),
        )
    return name or ""


def _signal(name: str | None, message: Message, at: Path) -> Signal:
    signal = message.signal(name or "")
    if signal is None:
        remedy = one_of(name or "", (signal.name for signal in message.signals))
        raise Problem((*at, "signal"), f"'{name}' is not a signal of {message.name}", remedy)
    return signal
