"""What a person should know of a simulation before it runs: what was assumed, and what is not known."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum

from netcheck.bench._names import named_checksums, named_counter
from netcheck.bench._scenario import ALWAYS, Scenario
from netcheck.database import Database, Message
from netcheck.records import dataclass
from netcheck.roles import Watch


class BenchRemarkKind(StrEnum):
    """Stable codes.

    NO_CYCLE:         messages whose cycle time neither the DBC nor the script has, sent every 100 ms
    COUNTER_BY_NAME:  signals that go up by one a frame, since their names say so
    CHECKSUM_UNKNOWN: signals that are checksums by their names, of a kind that nobody says: they stand still
    """

    NO_CYCLE = "no-cycle"
    COUNTER_BY_NAME = "counter-by-name"
    CHECKSUM_UNKNOWN = "checksum-unknown"


@dataclass(frozen=True)
class BenchRemark:
    """One thing about some messages or signals (\"Message.Signal\") of a network."""

    kind: BenchRemarkKind
    network: str
    names: tuple[str, ...]


def is_sent(message: Message, scenario: Scenario) -> bool:
    """Whether a message is sent at all."""
    return not any(fault.span == ALWAYS for fault in scenario.faults.get(message.name, ()))


def count_by_names(database: Database, scenario: Scenario, playing: tuple[Watch, ...]) -> Iterator[str]:
    """Let counters go on that only their names tell, in messages without a known one; gives those signals."""
    roles = {(played.message.name, played.signal.name) for played in playing}
    known = {message for message, _ in scenario.counters}
    for message in database.messages:
        counter = named_counter(message) if message.name not in known else None
        if counter is not None and (message.name, counter.name) not in roles:
            scenario.counters.add((message.name, counter.name))
            if is_sent(message, scenario):
                yield f"{message.name}.{counter.name}"


def remarks_on(
    network: str, database: Database, scenario: Scenario, uncycled: frozenset[str], by_name: tuple[str, ...]
) -> Iterator[BenchRemark]:
    """All of them. uncycled: messages for which nobody states a cycle; by_name: counters found by names."""
    sent = [message for message in database.messages if is_sent(message, scenario)]
    unknown = tuple(
        f"{message.name}.{signal.name}"
        for message in sent
        for signal in named_checksums(message)
        if (message.name, signal.name) not in scenario.checksums
    )
    found = {
        BenchRemarkKind.NO_CYCLE: tuple(message.name for message in sent if message.name in uncycled),
        BenchRemarkKind.COUNTER_BY_NAME: by_name,
        BenchRemarkKind.CHECKSUM_UNKNOWN: unknown,
    }
    for kind, names in found.items():
        if names:
            yield BenchRemark(kind, network, names)
