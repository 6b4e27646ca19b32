"""A survey's messages as rows of a table, and all that was found of one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from netcheck.network import (
    J1939,
    ByteKind,
    ChecksumFinding,
    ChecksumKind,
    FrameId,
    J1939Name,
    SurveyedMessage,
    Timing,
)
from netcheck.records import dataclass
from netcheck.report._checksum_words import CHECKSUM_WORDS, DATA_ID_WORDS
from netcheck.report._numbers import sent_at_changes
from netcheck.report._wrap import cells, clean
from netcheck.words import counted

_GOOD: Final = 0.99  # share of frames that pass, or of the steps
_LATE: Final = 1.25  # times the stated cycle time
_LEAST_NAME: Final = 8
_NARROW: Final = 72  # columns of a page that has no room for the whole table
_NUMBERS: Final = 34  # columns of frames, period, longest gap and length, and of what is between


@dataclass(frozen=True)
class TableColumns:
    """Widths of the columns whose content differs between captures.

    is_narrow: there is no room for more than id, name and period
    """

    identifier: int
    name: int
    is_narrow: bool

    @classmethod
    def of(cls, messages: Sequence[SurveyedMessage], width: int) -> TableColumns:
        """As wide as needed, the name as far as the page allows."""
        identifier = max((len(str(message.frame_id)) for message in messages), default=5)
        checks = max((len(_checks(message)) for message in messages), default=0)
        is_narrow = width < _NARROW
        room = width - 4 - identifier - (11 if is_narrow else _NUMBERS + max(checks, len("checks")))
        longest = max((cells(_name(message)) for message in messages), default=0)
        return cls(identifier, max(min(longest, room), _LEAST_NAME), is_narrow)

    @property
    def indent(self) -> int:
        """Where the name begins."""
        return 2 + self.identifier + 2

    def header(self) -> str:
        """The titles."""
        titles = f"  {'id':<{self.identifier}}  {'name':<{self.name}}"
        if self.is_narrow:
            return f"{titles} {'every':>10}"
        return f"{titles} {'frames':>8} {'every':>8} {'longest':>8} {'len':>4}  checks"


def message_row(message: SurveyedMessage, columns: TableColumns) -> str:
    """One message; ``!`` in front marks one with a remark."""
    sign = "!" if is_remarkable(message) else " "
    timing = message.timing
    every = _every(timing) + ("?" if is_unsure(message) else "")
    text = f"{sign} {message.frame_id!s:<{columns.identifier}}  {_cut(_name(message), columns.name)}"
    if columns.is_narrow:
        return f"{text} {every:>10}"
    text += f" {_number(message.count):>8} {every:>8} {_ms(timing.longest or None):>8} {_length(message):>4}"
    return f"{text}  {_checks(message)}".rstrip()


def _every(timing: Timing) -> str:
    if timing.at_changes:
        return f"{_ms(timing.period)}+" if timing.period else "changes"
    return "on event" if timing.cyclic is False else _ms(timing.period or None)


def is_remarkable(message: SurveyedMessage) -> bool:
    """Whether its length, cycle time, longest gap, counter or checksum is not as it should be."""
    checks = (message.counter, message.checksum)
    return (
        any(check is not None and check.share < _GOOD for check in checks)
        or (message.declared_length is not None and min(message.lengths) < message.declared_length)
        or _is_late(message)
        or message.timing.has_paused
    )


def has_moved(message: SurveyedMessage) -> bool:
    """Whether its payload changed in more than its counter and its checksum."""
    check = message.checksum.byte if message.checksum else None
    return any(kind is ByteKind.CHANGING and byte != check for byte, kind in enumerate(message.kinds))


def is_unsure(message: SurveyedMessage) -> bool:
    """Whether it has a period that stands on too few gaps."""
    timing = message.timing
    return bool(timing.period) and timing.cyclic is None and not timing.at_changes


def message_details(message: SurveyedMessage, *, is_batched: bool = False) -> Iterator[str]:
    """Lines with all that was found. is_batched: short times rest on stamps that several frames share."""
    if message.senders:
        yield f"sender by its DBC: {', '.join(message.senders)}"
    if message.j1939:
        yield _j1939_detail(message.j1939)
        yield from (_claim_detail(message.j1939, name) for name in message.claims)
    yield from _timing_details(message, is_batched)
    yield from _length_details(message)
    if any(kind is not ByteKind.CONSTANT for kind in message.kinds):
        yield "; ".join(
            f"{kind} {_ranges(bytes_)}"
            for kind in ByteKind
            if (bytes_ := [byte for byte, found in enumerate(message.kinds) if found is kind])
        )
    elif message.kinds:
        yield "payload never changed"
    if message.counter:
        counter = message.counter
        low = counter.bit % 8
        place = f"byte {counter.bit // 8} bits {low}–{low + counter.width - 1}"
        rest = f"{counter.share:.1%} of {counter.steps:,} steps are +1"
        yield f"counter in {place}, 0 to {counter.modulo - 1}: {rest}"
    if message.checksum:
        yield _checksum_detail(message.checksum, message.frame_id, max(message.lengths))


def _j1939_detail(parts: J1939) -> str:
    name = f" ({parts.group_name})" if parts.group_name else ""
    text = f"J1939 group {parts.group}{name}, priority {parts.priority}"
    text += f", from {_address(parts.source, parts.source_name)}"
    if parts.destination is not None:
        text += f" to {_address(parts.destination, parts.destination_name)}"
    return text


def _claim_detail(parts: J1939, name: J1939Name) -> str:
    wants = f"claims address {parts.source}" if parts.has_address else "has no address"
    industry = name.industry_name or f"industry group {name.industry}"
    return (
        f"{name} {wants}: function {name.function} (instance {name.function_instance}), "
        f"vehicle system {name.vehicle_system}, {industry}, manufacturer code {name.manufacturer}, "
        f"identity {name.identity}; "
        + ("can change its address" if name.takes_another else "cannot change its address")
    )


def _address(address: int, name: str) -> str:
    """``0 (engine 1)``."""
    return f"{address} ({name})" if name else str(address)


def _timing_details(message: SurveyedMessage, is_batched: bool) -> Iterator[str]:
    timing = message.timing
    if timing.jitter is None:
        return
    kind = {True: "cyclic", False: "on event", None: "too few frames to tell whether cyclic"}[timing.cyclic]
    kind = f"{kind}: median {_ms(timing.period)}"
    if timing.period is None:
        kind = "whether it is cyclic cannot be told from these stamps"
    if timing.at_changes:
        kind = f"sent {sent_at_changes(timing)}"
    low, high = timing.jitter
    text = f"{kind}, 98 % of the gaps from {_ms(low)} to {_ms(high)}"
    if message.declared_cycle_ms:
        text += f"; by its DBC every {_ms(message.declared_cycle_ms)}"
    text += "; stamped in batches, so the jitter is rough" if is_batched else ""
    yield text


def _length_details(message: SurveyedMessage) -> Iterator[str]:
    if len(message.lengths) > 1:
        texts = [f"{length} bytes {counted(count, 'time')}" for length, count in message.lengths.items()]
        yield f"lengths: {', '.join(texts)}"
    if message.declared_length is not None and set(message.lengths) != {message.declared_length}:
        yield f"by its DBC {counted(message.declared_length, 'byte')}"


def _checksum_detail(checksum: ChecksumFinding, frame_id: FrameId, length: int) -> str:
    rest = f"{checksum.share:.1%} of {checksum.frames:,} frames pass"
    text = f"{CHECKSUM_WORDS[checksum.kind].full} in byte {checksum.byte}: {rest}"
    if checksum.mode is not None:
        text += f"; {DATA_ID_WORDS[checksum.mode]}"
    if checksum.constant:
        text += f"; with the constant 0x{checksum.constant:02X}"
        digits = sum(frame_id.can_id.to_bytes(4, "big"))
        is_sum = checksum.kind is ChecksumKind.SUM
        if is_sum and checksum.constant == (digits + length) & 0xFF:
            text += ", the id's bytes and the length"
        elif is_sum and checksum.constant == digits & 0xFF:
            text += ", the id's bytes"
    return text


def _checks(message: SurveyedMessage) -> str:
    parts = []
    if message.checksum:
        kind = CHECKSUM_WORDS[message.checksum.kind].short
        parts.append(kind + _share(message.checksum.share))
    if message.counter:
        parts.append("counter" + _share(message.counter.share))
    return ", ".join(parts)


def _share(share: float) -> str:
    return "" if share >= _GOOD else f" {100 * share:.0f}%"


def _name(message: SurveyedMessage) -> str:
    if message.name or message.j1939 is None:
        return clean(message.name)
    return clean(message.j1939.group_name)


def _is_late(message: SurveyedMessage) -> bool:
    stated, period = message.declared_cycle_ms, message.timing.period
    return bool(stated and period and message.timing.cyclic and period > _LATE * stated)


def _length(message: SurveyedMessage) -> str:
    low, high = min(message.lengths), max(message.lengths)
    return str(low) if low == high else f"{low}–{high}"


def _ms(time: float | None) -> str:
    if time is None:
        return "–"
    if time >= 10_000:
        return f"{time / 1000:,.0f} s"
    return f"{time:.0f} ms" if time >= 20 else f"{time:.3g} ms"


def _number(number: int) -> str:
    return f"{number:,}" if number < 1_000_000 else f"{number / 1e6:.1f} M"


def _ranges(numbers: Sequence[int]) -> str:
    """``0–2, 5``."""
    texts: list[str] = []
    start = previous = numbers[0]
    for number in [*numbers[1:], -1]:
        if number != previous + 1:
            texts.append(str(start) if start == previous else f"{start}–{previous}")
            start = number
        previous = number
    return ", ".join(texts)


def _cut(text: str, room: int) -> str:
    while cells(text) > room:
        text = text.rstrip("…")[:-1] + "…"
    return text + " " * (room - cells(text))
