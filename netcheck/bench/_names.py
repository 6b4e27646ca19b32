"""Signals that their names say are counters or checksums, where nobody else says it."""

from __future__ import annotations

import re
from typing import Final

from netcheck.database import Message, Signal

_COUNTER: Final = re.compile(
    r"(counter|cntr|ctr|_cnt|alive|alv|rolling_?cnt|rolling_?count|msg_?cnt|seq_?(no|num|number)?)(_?\d{1,3})?$",
    re.IGNORECASE,
)
_CHECKSUM: Final = re.compile(
    r"(check_?sum|chk_?sum|cksum|crc(_?8|_?16)?|_cs|_chk|_bcc)(_?[0-9a-f]{1,3})?$", re.IGNORECASE
)
_MOST_COUNTER_BITS: Final = 8


def named_counter(message: Message) -> Signal | None:
    """The rolling counter of a message by its name: 2 to 8 bits without unit, labels, sign or scaling."""
    found = [signal for signal in message.signals if _COUNTER.search(signal.name) and _counts(signal)]
    return found[0] if len(found) == 1 else None


def _counts(signal: Signal) -> bool:
    return (
        2 <= signal.width <= _MOST_COUNTER_BITS
        and not (signal.is_signed or signal.is_float or signal.unit or signal.labels or signal.pages)
        and (signal.scale, signal.offset) == (1, 0)
    )


def named_checksums(message: Message) -> list[Signal]:
    """Signals of a message that are checksums by their names."""
    return [
        signal
        for signal in message.signals
        if _CHECKSUM.search(signal.name) and not (signal.labels or signal.unit or signal.is_float)
    ]
