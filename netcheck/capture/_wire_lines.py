"""Messages of a live bus as lines of a candump log and as columns; both hold the same microseconds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import can
import numpy as np

from netcheck.capture._capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, Capture

_ERROR_BIT: Final = 0x20000000  # linux/can.h, CAN_ERR_FLAG
_ID_29: Final = 0x1FFFFFFF


def microseconds(message: can.Message) -> int:
    """The message's time stamp; never below zero, which a log cannot hold."""
    return max(round(message.timestamp * 1e6), 0)


def log_lines(messages: Sequence[can.Message], channel: str) -> bytes:
    """The messages as candump log lines, each with its line end."""
    lines = []
    for message in messages:
        whole, part = divmod(microseconds(message), 1_000_000)
        lines.append(f"({whole:010d}.{part:06d}) {channel} {_compact(message)}\n")
    return "".join(lines).encode("utf-8")


def _compact(message: can.Message) -> str:
    if message.is_error_frame:
        data = bytes(message.data)[:8].ljust(8, b"\0")
        return f"{_ERROR_BIT | message.arbitration_id & _ID_29:08X}#{data.hex().upper()}"
    name = f"{message.arbitration_id:08X}" if message.is_extended_id else f"{message.arbitration_id:03X}"
    if message.is_remote_frame:
        return f"{name}#R{min(message.dlc, 8)}"
    payload = message.data.hex().upper()
    if message.is_fd:
        bits = int(message.bitrate_switch) | int(message.error_state_indicator) << 1
        return f"{name}##{bits}{payload}"
    return f"{name}#{payload}"


def columns(messages: Sequence[can.Message], channel: str, file: str) -> Capture:
    """The messages as a chunk of a capture, as reading their log lines would give it."""
    payloads = [_payload(message) for message in messages]
    lengths = np.array([_length(message) for message in messages], np.uint8)
    sizes = np.array([len(payload) for payload in payloads], np.int64)
    return Capture(
        file=file,
        channels=(channel,),
        time_ns=np.array([1000 * microseconds(message) for message in messages], np.int64),
        can_id=np.array([message.arbitration_id & _ID_29 for message in messages], np.uint32),
        flags=np.array([_flags(message) for message in messages], np.uint8),
        channel=np.zeros(len(messages), np.uint8),
        length=lengths,
        start=np.cumsum(sizes) - sizes,
        data=np.frombuffer(b"".join(payloads), np.uint8),
    )


def _payload(message: can.Message) -> bytes:
    if message.is_error_frame:
        return bytes(message.data)[:8].ljust(8, b"\0")
    return b"" if message.is_remote_frame else bytes(message.data)


def _length(message: can.Message) -> int:
    if message.is_error_frame:
        return 8
    return min(message.dlc, 8) if message.is_remote_frame else len(message.data)


def _flags(message: can.Message) -> int:
    if message.is_error_frame:
        return ERROR
    flags = EXTENDED if message.is_extended_id else 0
    if message.is_remote_frame:
        return flags | REMOTE
    if message.is_fd:
        flags |= FD | (BRS if message.bitrate_switch else 0) | (ESI if message.error_state_indicator else 0)
    return flags


def join(chunks: Sequence[Capture]) -> Capture:
    """Chunks of one channel as one."""
    first, *rest = chunks
    if not rest:
        return first
    bases = np.cumsum([0, *(len(chunk.data) for chunk in chunks[:-1])])
    return Capture(
        file=first.file,
        channels=first.channels,
        time_ns=np.concatenate([chunk.time_ns for chunk in chunks]),
        can_id=np.concatenate([chunk.can_id for chunk in chunks]),
        flags=np.concatenate([chunk.flags for chunk in chunks]),
        channel=np.concatenate([chunk.channel for chunk in chunks]),
        length=np.concatenate([chunk.length for chunk in chunks]),
        start=np.concatenate([chunk.start + base for chunk, base in zip(chunks, bases, strict=True)]),
        data=np.concatenate([chunk.data for chunk in chunks]),
    )
