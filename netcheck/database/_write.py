"""Signals added to a DBC, through cantools; what stands in it stays as it is."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from netcheck.bits import span
from netcheck.database._load import parse_dbc, read_dbc, refused_dbc
from netcheck.database._model import Message
from netcheck.errors import InputError
from netcheck.records import dataclass

if TYPE_CHECKING:
    from cantools.database.can import Message as DbcMessage
    from cantools.database.can import Signal as DbcSignal

_LONGEST_CLASSIC: Final = 8  # bytes
_EMPTY: Final = 'VERSION ""\n\nBU_:\n'
_ASCII: Final = str.maketrans(
    {"–": "-", "…": "...", '"': "'", "×": "x", "\\": "/", "±": "+-", "−": "-", "°": "deg"}
)


@dataclass(frozen=True)
class SignalAddition:
    """A signal to be added, and the message for it where the DBC has none with that id.

    message: name of a new message; length: its payload bytes
    start:   as in a DBC: the least significant bit, of a big-endian signal the most significant one
    """

    can_id: int
    is_extended: bool
    message: str
    length: int
    name: str
    start: int
    width: int
    is_big_endian: bool = False
    is_signed: bool = False
    scale: float = 1.0
    offset: float = 0.0
    unit: str = ""
    labels: Mapping[int, str] = field(default_factory=dict)
    comment: str = ""
    message_comment: str = ""


def extended_dbc(path: str, additions: Sequence[SignalAddition]) -> str:
    """The text of a DBC file with signals added; where there is no file, that of a new one.

    Comments and labels come out in ASCII: programs disagree about the encoding of a DBC.
    Raises InputError where the DBC cannot be read, a signal does not fit into its message, or cantools would
    not write down again all that netcheck reads in the DBC.
    """
    from cantools.database import Database

    text = read_dbc(path) if Path(path).exists() else None
    loaded = _loaded(text, path)
    messages: dict[tuple[int, bool], DbcMessage] = {
        (each.frame_id, each.is_extended_frame): each for each in loaded.messages
    }
    order = list(messages)
    for each in additions:
        key = each.can_id, each.is_extended
        if key not in messages:
            order.append(key)
        messages[key] = _with_signal(messages.get(key), each, path)
    database = Database(
        [messages[key] for key in order],
        loaded.nodes,
        loaded.buses,
        loaded.version,
        loaded.dbc,
        strict=False,
        sort_signals=None,
    )
    written = database.as_dbc_string().replace("\r\n", "\n")
    _check_kept(text, written, additions, path)
    return written


def _loaded(text: str | None, file: str) -> Any:
    from cantools.database.can.formats import dbc

    if text is not None:
        parse_dbc(file, text)  # refuses what netcheck does not read, in its own words
    try:
        return dbc.load_string(text or _EMPTY, strict=False, sort_signals=None)
    except Exception as error:  # as the parser has it
        raise refused_dbc(file, text or _EMPTY, error) from error


def _with_signal(message: DbcMessage | None, new: SignalAddition, file: str) -> DbcMessage:
    from cantools.database.can import Message as DbcMessage

    signal = _signal(new)
    if message is None:
        return DbcMessage(
            new.can_id,
            new.message,
            new.length,
            [signal],
            comment=_plain(new.message_comment) or None,
            is_extended_frame=new.is_extended,
            is_fd=new.length > _LONGEST_CLASSIC,
            strict=False,
            sort_signals=None,
        )
    if span(new.start, new.width, new.is_big_endian).last >= message.length:
        raise InputError(
            file,
            f"{new.name} does not fit into {message.name}, which has {message.length} bytes in this DBC",
            remedy="correct the length of the message, or write another file",
        )
    message.signals.append(signal)
    message.refresh(strict=False)
    return message


def _signal(new: SignalAddition) -> DbcSignal:
    from cantools.database.can import Signal as DbcSignal
    from cantools.database.conversion import BaseConversion

    choices: Any = OrderedDict(sorted((raw, _plain(label)) for raw, label in new.labels.items()))
    low, high = -(1 << new.width - 1) if new.is_signed else 0, (1 << new.width - new.is_signed) - 1
    limits = sorted((low * new.scale + new.offset, high * new.scale + new.offset))
    return DbcSignal(
        new.name,
        new.start,
        new.width,
        "big_endian" if new.is_big_endian else "little_endian",
        new.is_signed,
        conversion=BaseConversion.factory(_number(new.scale), _number(new.offset), choices or None),
        minimum=_number(limits[0]),
        maximum=_number(limits[1]),
        unit=_plain(new.unit) or None,
        comment=_plain(new.comment) or None,
    )


def _number(value: float) -> float:
    """Whole numbers without a point, as DBC files have them."""
    return int(value) if math.isfinite(value) and value == int(value) else value


def _plain(text: str) -> str:
    return text.translate(_ASCII).encode("ascii", "replace").decode()


def _check_kept(text: str | None, written: str, additions: Sequence[SignalAddition], file: str) -> None:
    """All that was read before is read again, and the new signals are there."""
    before = parse_dbc(file, text).messages if text is not None else ()
    after = {(each.can_id, each.is_extended): each for each in parse_dbc(file, written).messages}
    for message in before:
        if not _has_all(after.get((message.can_id, message.is_extended)), message):
            raise InputError(
                file,
                f"cannot be extended without loss: cantools writes {message.name} in another way",
                remedy="name another file for the draft, and give both to the vehicle file",
            )
    for each in additions:
        found = after.get((each.can_id, each.is_extended))
        if found is None or found.signal(each.name) is None:  # a fault of ours, or of cantools
            raise InputError(file, f"{each.name} could not be written", remedy="name another file")


def _has_all(after: Message | None, before: Message) -> bool:
    if after is None or (after.name, after.length, after.senders) != (
        before.name,
        before.length,
        before.senders,
    ):
        return False
    return all(after.signal(signal.name) == signal for signal in before.signals)
