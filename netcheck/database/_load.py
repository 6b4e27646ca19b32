"""DBC files to a Database, through cantools; everything cantools raises becomes an InputError here."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from os import PathLike, fspath
from typing import TYPE_CHECKING, Any, Final

from netcheck.database._bounds import LARGEST, check_bounds
from netcheck.database._cut_off import cut_off
from netcheck.database._extract import FLOAT_TYPES
from netcheck.database._kept import Loaded, keep_layout, read_layout
from netcheck.database._model import Database, DbcRepair, Message, MuxPage, Signal
from netcheck.database._repair import repair
from netcheck.database._text import dbc_text
from netcheck.errors import InputError, UsageError
from netcheck.whole_file import read_whole

if TYPE_CHECKING:
    from cantools.database.can import Message as DbcMessage
    from cantools.database.can import Node as DbcNode
    from cantools.database.can import Signal as DbcSignal
    from cantools.database.can.formats.dbc.dbc_specifics import DbcSpecifics

NO_NODE: Final = "Vector__XXX"  # how the DBC format writes "no node"
_REMEDY: Final = "give a DBC file: text with BO_ and SG_ lines"
_WORD: Final = re.compile(r"\w+", re.ASCII)
_LONGEST_PERIOD: Final = 1e9  # ms, eleven days
_MOST_EFFORT: Final = 1_000_000_000  # some seconds
_QUOTED: Final = 100  # characters of a foreign message that are worth repeating


def load_database(*paths: str | PathLike[str], cache: bool = True) -> Database:
    """Read one or more DBC files as one database.

    Text may be UTF-8 or cp1252. What is wrong and can be overlooked (overlapping signals, signals that
    do not fit) becomes a line in ``Database.warnings``. A message whose name or whose id is in an earlier
    file already is left out, with a warning: the first file wins. Pseudo-messages that only hold signals
    without a message are left out. What can be meant in one way only is put right in memory, and is a
    record in ``Database.repairs``: 29-bit ids without their flag, labels of signals that are not there, and
    names that begin with a digit. Such a name stays as the file has it.

    cache: take what the user's cache folder holds of a file with the same content, and keep it there

    Raises InputError for a file that is missing, no DBC, or refused by cantools even leniently.
    """
    if not paths:
        raise UsageError("no DBC file given", remedy="name at least one")
    files = tuple(dict.fromkeys(fspath(path) for path in paths))
    messages: dict[str, Message] = {}
    warnings: list[str] = []
    repairs: list[DbcRepair] = []
    for file in files:
        loaded = _load_file(file, cache)
        complaints = [*loaded.complaints, *_join(messages, loaded.messages)]
        warnings += (f"{file}: {complaint}" for complaint in complaints)
        repairs += loaded.repairs
    return Database(files, tuple(messages.values()), tuple(warnings), tuple(repairs))


def _join(messages: dict[str, Message], added: Sequence[Message]) -> list[str]:
    """Put one file's messages to those of the earlier ones; what has to be said about it."""
    complaints = []
    by_id = {(message.is_extended, message.can_id): message for message in reversed(messages.values())}
    for message in added:
        if twin := messages.get(message.name):
            first = "the first one" if twin.file == message.file else f"the one of {twin.file}"
            complaints.append(f"a second message {message.name} is left out: {first} counts")
            continue
        other = by_id.setdefault((message.is_extended, message.can_id), message)
        if other.file != message.file:
            taken = f"0x{message.can_id:X} is {other.name} of {other.file}"
            complaints.append(f"message {message.name} is left out, its id {taken}")
        else:
            messages[message.name] = message
            if other is not message:
                shared = f"{other.name} and {message.name} share the id 0x{message.can_id:X}"
                complaints.append(f"messages {shared}: its frames are decoded as both")
    return complaints


def _load_file(path: str, cache: bool) -> Loaded:
    content = _read_bytes(path)
    kept = read_layout(content, path) if cache else None
    if kept is None:
        kept = parse_dbc(path, _text_of(path, content))
        if cache:
            keep_layout(content, kept)
    return kept


def parse_dbc(path: str, text: str) -> Loaded:
    """What the text of a DBC says. Raises InputError as ``load_database`` does."""
    from cantools.database.can.formats import dbc

    bare = dbc_text(text)
    check_bounds(bare, path)
    repaired = repair(bare, path)
    try:
        loaded = dbc.load_string(repaired.text, strict=False, sort_signals=None)
    except MemoryError:
        raise
    except (
        Exception
    ) as error:  # the parser raises whatever its steps raise: ParseError, ValueError, KeyError …
        raise refused_dbc(path, text, error) from error
    complaints = [said] if (said := cut_off(text)) else []
    addresses = _addresses(loaded.nodes)
    messages = [_message(message, loaded.dbc, path, complaints) for message in loaded.messages]
    messages = [replace(message, source_address=_address(message, addresses)) for message in messages]
    if not messages:
        complaints.append("has no messages")
    if repaired.names:
        messages = [_renamed(message, repaired.names) for message in messages]
        complaints = [_named(said, repaired.names) for said in complaints]
    return Loaded(tuple(messages), tuple(complaints), repaired.repairs)


def _named(said: str, names: Mapping[str, str]) -> str:
    return _WORD.sub(lambda word: names.get(word[0], word[0]), said)


def _renamed(message: Message, names: Mapping[str, str]) -> Message:
    """A message with the names that its file has."""

    def name(text: str) -> str:
        return names.get(text, text)

    signals = tuple(
        replace(
            signal,
            name=name(signal.name),
            pages=tuple(MuxPage(name(page.multiplexer), page.values) for page in signal.pages),
        )
        for signal in message.signals
    )
    senders = tuple(map(name, message.senders))
    return replace(message, name=name(message.name), senders=senders, signals=signals)


def _addresses(nodes: Iterable[DbcNode]) -> dict[str, int]:
    """The J1939 address of each node that states one."""
    stated: dict[str, Any] = {node.name: node.dbc.attributes for node in nodes if node.dbc}
    return {
        name: attributes["NmStationAddress"].value
        for name, attributes in stated.items()
        if "NmStationAddress" in attributes
    }


def _address(message: Message, addresses: dict[str, int]) -> int | None:
    address = addresses.get(message.senders[0]) if message.is_j1939 and message.senders else None
    return address if isinstance(address, int) and 0 <= address < 256 else None


def read_dbc(path: str) -> str:
    """The text of a DBC file, UTF-8 or cp1252. Raises InputError as ``load_database`` does."""
    return _text_of(path, _read_bytes(path))


def _read_bytes(path: str) -> bytes:
    try:
        return read_whole(path, LARGEST)
    except IsADirectoryError as error:
        raise InputError(path, "is a directory", remedy="name the DBC file in it") from error
    except OSError as error:
        what = (
            "does not exist" if isinstance(error, FileNotFoundError) else f"cannot be read: {error.strerror}"
        )
        raise InputError(path, what, remedy="check the path") from error
    except ValueError as error:
        raise InputError(path, "cannot be a path", remedy="check the path") from error


def _text_of(path: str, content: bytes) -> str:
    if not content.strip():
        raise InputError(path, "is empty", remedy=_REMEDY)
    if b"\0" in content:
        raise InputError(path, "is binary data, not a DBC file", remedy=_REMEDY)
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise InputError(path, "is neither UTF-8 nor cp1252 text", remedy=_REMEDY)


def refused_dbc(path: str, text: str, error: Exception) -> InputError:
    """What cantools has against a text, in our words."""
    said = " ".join(str(error).split())
    if not re.search(r"^[ \t]*(BO_|BU_|VERSION|NS_)\b", text, re.MULTILINE):
        return InputError(path, "is not a DBC file", remedy=_REMEDY)
    said = re.sub(r"^Invalid syntax at line \d+, column (\d+)", r"invalid syntax at column \1", said)
    if len(said) > _QUOTED:
        said = said[: _QUOTED - 1] + "…"
    what = f"cantools rejects it even in lenient mode: {said or type(error).__name__}"
    where = _line_in(text, str(error))
    return InputError(
        path, what, where=where, remedy="correct this place in a copy of the file and use the copy"
    )


def _line_in(text: str, said: str) -> str:
    """The place that a complaint of cantools is about, found by what it names."""
    if direct := re.search(r"\bline (\d+)", said):
        return f"line {direct[1]}"
    pattern = None
    if entry := re.search(r"\b(VAL_|SIG_VALTYPE_) (\d+) (\w+)", said):
        pattern = rf"^[ \t]*{entry[1]}\s+{entry[2]}\s+{entry[3]}\b"
    elif named := re.search(r"\bin message (\w+)", said):
        pattern = rf"^[ \t]*BO_\s+\d+\s+{named[1]}\b"
    found = re.search(pattern, text, re.MULTILINE) if pattern else None
    return f"line {text.count(chr(10), 0, found.start()) + 1}" if found else ""


def _message(
    message: DbcMessage, specifics: DbcSpecifics | None, path: str, complaints: list[str]
) -> Message:
    if _overlap_effort(message) > _MOST_EFFORT:
        complaints.append(f"message {message.name} is too long to check whether its signals overlap")
    else:
        try:
            message.refresh(strict=True)
        except Exception as error:  # as above; here it is a complaint that can be overlooked
            complaints.append(" ".join(str(error).split()).rstrip("."))
    signals: dict[str, Signal] = {}
    for signal, pages in _with_pages(message, complaints):
        if signal.name in signals:
            complaints.append(f"a second signal {signal.name} in message {message.name} is left out")
        elif problem := _unusable(signal):
            complaints.append(f"signal {signal.name} of message {message.name} is left out: {problem}")
        else:
            signals[signal.name] = _signal(signal, pages, message.name, complaints)
    return Message(
        name=message.name,
        can_id=message.frame_id,
        is_extended=message.is_extended_frame,
        is_fd=message.is_fd or message.length > 8,
        is_j1939=message.is_extended_frame and _is_j1939(message, specifics),
        length=message.length,
        senders=tuple(sender for sender in message.senders if sender != NO_NODE),
        cycle_time_ms=_cycle_time(message, complaints),
        signals=_without_orphans(message.name, signals, complaints),
        file=path,
    )


def _overlap_effort(message: DbcMessage) -> int:
    """How many list entries cantools copies to see whether signals overlap."""
    bits = (max(8 * message.length, signal.start + signal.length) for signal in message.signals)
    pages = (len(signal.multiplexer_ids or (0,)) for signal in message.signals)
    return sum(count * wide * wide // 16 for count, wide in zip(pages, bits, strict=True))


def _cycle_time(message: DbcMessage, complaints: list[str]) -> float | None:
    stated: Any = message.cycle_time
    if not stated:
        return None
    period = _number(stated)
    if 0 < period <= _LONGEST_PERIOD:
        return period
    complaints.append(f"message {message.name}: a cycle time of {str(stated)[:20]} ms is left out")
    return None


def _number(stated: Any) -> float:
    """A number of the file; NaN for one that no 64-bit number holds, or for what is none."""
    try:
        return float(stated)
    except (ValueError, TypeError, OverflowError):
        return math.nan


def _is_j1939(message: DbcMessage, specifics: DbcSpecifics | None) -> bool:
    """By the message's frame format; where it states none, by the protocol type of the whole file."""
    if message.protocol == "j1939":
        return True
    stated: Any = message.dbc.attributes if message.dbc else None
    if stated and "VFrameFormat" in stated:
        return False
    overall: Any = specifics.attributes if specifics else None
    protocol = overall.get("ProtocolType") if overall else None
    return protocol is not None and str(protocol.value).upper() == "J1939"


def _unusable(signal: DbcSignal) -> str:
    if signal.length > 64:
        return f"it has {signal.length} bits, more than 64"
    if signal.conversion.is_float and signal.length not in FLOAT_TYPES:
        return f"a floating-point number cannot have {signal.length} bits"
    if not math.isfinite(_number(signal.conversion.scale)) or not math.isfinite(
        _number(signal.conversion.offset)
    ):
        return "its scale or its offset is too large for a number"
    return ""


def _with_pages(
    message: DbcMessage, complaints: list[str]
) -> Iterator[tuple[DbcSignal, tuple[MuxPage, ...]]]:
    """Every signal of a message with the conditions under which it is there, outermost first."""
    by_name = {signal.name: signal for signal in message.signals}
    multiplexers = [signal for signal in message.signals if signal.is_multiplexer]
    if len(multiplexers) > 1 and not any(signal.multiplexer_ids for signal in message.signals):
        complaints.append(
            f"message {message.name} has {len(multiplexers)} multiplexers, and no SG_MUL_VAL_ says "
            "which signal belongs to which: its signals are read from every frame"
        )
    for signal in message.signals:
        pages: list[MuxPage] = []
        inner: DbcSignal | None = signal
        while inner is not None and inner.multiplexer_signal is not None and len(pages) <= len(by_name):
            outer = by_name.get(inner.multiplexer_signal)
            if outer is None and len(multiplexers) == 1:  # a long name replaced the one the page refers to
                outer = multiplexers[0]
            if outer is not None and inner.multiplexer_ids:
                pages.append(MuxPage(outer.name, tuple(sorted(inner.multiplexer_ids))))
            inner = outer if inner.multiplexer_ids else None
        if inner is not None and inner.multiplexer_signal is None:
            yield signal, tuple(reversed(pages))
        else:
            complaints.append(
                f"signal {signal.name} of message {message.name} is left out: its page is not defined"
            )


def _without_orphans(name: str, signals: dict[str, Signal], complaints: list[str]) -> tuple[Signal, ...]:
    """The signals whose multiplexers are all there."""
    for signal in list(signals.values()):
        if any(page.multiplexer not in signals for page in signal.pages):
            complaints.append(f"signal {signal.name} of message {name} is left out, like its multiplexer")
            del signals[signal.name]
    return tuple(signals.values())


def _signal(signal: DbcSignal, pages: tuple[MuxPage, ...], message: str, complaints: list[str]) -> Signal:
    low, high = (None if limit is None else _number(limit) for limit in (signal.minimum, signal.maximum))
    if low == high == 0:
        low = high = None
    elif not all(limit is None or math.isfinite(limit) for limit in (low, high)):
        complaints.append(f"signal {signal.name} of message {message}: limits are too large for numbers")
        low = high = None
    elif low is not None and high is not None and low > high:
        limits = f"{signal.minimum} to {signal.maximum}"
        complaints.append(f"signal {signal.name} of message {message}: limits {limits} are reversed")
        low = high = None
    return Signal(
        name=signal.name,
        start=signal.start,
        width=signal.length,
        is_big_endian=signal.byte_order == "big_endian",
        is_signed=signal.is_signed,
        is_float=signal.conversion.is_float,
        scale=float(signal.conversion.scale),
        offset=float(signal.conversion.offset),
        minimum=low,
        maximum=high,
        unit=signal.unit or "",
        labels={int(raw): str(label) for raw, label in (signal.conversion.choices or {}).items()},
        pages=pages,
        start_raw=_start(signal),
    )


def _start(signal: DbcSignal) -> float | None:
    start: Any = signal.raw_initial
    if isinstance(start, int | float) and math.isfinite(_number(start)):
        return start
    return None
