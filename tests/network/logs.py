"""Candump logs made by hand, and their surveys."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from netcheck.capture import open_capture
from netcheck.network import ChannelSurvey, Survey, SurveyedMessage, SurveyPlan, survey

ERROR_FLAG = 0x20000000  # as candump writes an error frame's id


class Line(NamedTuple):
    """ms: time of the frame; an id above 0x7FF has 29 bits, one with ERROR_FLAG is an error frame."""

    ms: float
    can_id: int
    data: bytes | str
    channel: str = "can0"


def text_of(lines: Iterable[Line]) -> str:
    """The lines as a candump log; ``data`` as text stands as it is, such as ``R4`` or ``#1AABB``."""
    rows = []
    for line in lines:
        digits = f"{line.can_id:03X}" if line.can_id <= 0x7FF else f"{line.can_id:08X}"
        data = line.data if isinstance(line.data, str) else line.data.hex().upper()
        rows.append(f"({1_600_000_000 + line.ms / 1000:.6f}) {line.channel} {digits}#{data}\n")
    return "".join(rows)


def survey_of(
    folder: Path, lines: Iterable[Line], plan: SurveyPlan | None = None, chunk_bytes: int | None = None
) -> Survey:
    """The survey of a log of these lines, in file order."""
    path = folder / "hand.log"
    path.write_text(text_of(lines), encoding="utf-8")
    return survey(open_capture(path, chunk_bytes=chunk_bytes), plan)


def channel_of(
    folder: Path, lines: Iterable[Line], plan: SurveyPlan | None = None, chunk_bytes: int | None = None
) -> ChannelSurvey:
    """Its only channel."""
    (channel,) = survey_of(folder, lines, plan, chunk_bytes).channels
    return channel


def message_of(
    folder: Path, payloads: Iterable[bytes], can_id: int = 0x123, every: float = 10
) -> SurveyedMessage:
    """The survey of one message with these payloads."""
    lines = [Line(number * every, can_id, payload) for number, payload in enumerate(payloads)]
    (message,) = channel_of(folder, lines).messages
    return message
