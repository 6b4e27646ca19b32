"""What a DBC says, as frozen values: messages and the layout of their signals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from enum import StrEnum

from netcheck.records import dataclass


@dataclass(frozen=True)
class MuxPage:
    """One condition of a multiplexed signal: the multiplexer's raw value is one of these."""

    multiplexer: str  # signal name in the same message
    values: tuple[int, ...]


@dataclass(frozen=True)
class Signal:
    """A bit field of a message.

    start: as in the DBC file: little-endian the least significant bit, big-endian the most significant
           one, both numbered 8·byte + bit with bit 0 the least significant of its byte
    width: bits, 1 to 64
    start_raw: raw value before anything is known, where the DBC states one
    pages: conditions that must all hold for a frame to carry the signal (innermost last); () if plain
    """

    name: str
    start: int
    width: int
    is_big_endian: bool
    is_signed: bool
    is_float: bool
    scale: float
    offset: float
    minimum: float | None  # physical; None where the DBC sets no limit (0 to 0 is no limit)
    maximum: float | None
    unit: str = ""
    labels: Mapping[int, str] = field(default_factory=dict)  # raw value -> label
    pages: tuple[MuxPage, ...] = ()
    start_raw: float | None = None


@dataclass(frozen=True)
class Message:
    """A message of a DBC.

    can_id:   without flag bits
    is_j1939: matched by parameter group number, whatever the source address
    length:   payload bytes the DBC declares
    senders:  node names, the placeholder for "no node" left out
    source_address: J1939 address of the first sender, where the DBC states it
    """

    name: str
    can_id: int
    is_extended: bool
    is_fd: bool
    is_j1939: bool
    length: int
    senders: tuple[str, ...]
    cycle_time_ms: float | None
    signals: tuple[Signal, ...]
    file: str = ""
    source_address: int | None = None

    def signal(self, name: str) -> Signal | None:
        """The signal of that name, or None."""
        return next((signal for signal in self.signals if signal.name == name), None)


class RepairKind(StrEnum):
    """What was put right in a DBC; the words are in ``report``."""

    NO_EXTENDED_FLAG = "no-extended-flag"
    STRAY_ENTRY = "stray-entry"
    DIGIT_NAME = "digit-name"


@dataclass(frozen=True)
class DbcRepair:
    """One repair of a DBC in memory; the file stays as it is.

    line:   in the file, from 1
    name:   of the message; of the signal that the message lacks; or the name that begins with a digit
    entry:  keyword of a stray entry, else ""
    can_id: of the message, without flag bits; None for a name
    """

    kind: RepairKind
    file: str
    line: int
    name: str
    entry: str = ""
    can_id: int | None = None


@dataclass(frozen=True)
class Database:
    """One or more DBC files read as one.

    warnings: what the loader had to overlook, in file order
    repairs:  what it put right, in file order
    """

    files: tuple[str, ...]
    messages: tuple[Message, ...]
    warnings: tuple[str, ...] = ()
    repairs: tuple[DbcRepair, ...] = ()

    def message(self, name: str) -> Message | None:
        """The message of that name, or None."""
        return next((message for message in self.messages if message.name == name), None)
