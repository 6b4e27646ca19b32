"""A database as plain JSON-able values and back, for whoever keeps one on disk."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields
from typing import Any, Final

from netcheck.database._model import Database, DbcRepair, Message, MuxPage, RepairKind, Signal

PLAIN_FORMAT: Final = 3  # raised whenever the values below change their meaning

_MAY_LACK: Final = ("minimum", "maximum", "cycle_time_ms", "start_raw", "source_address")
_SIGNAL: Final = tuple(field.name for field in fields(Signal) if field.name not in ("labels", "pages"))
_REPAIR: Final = tuple(field.name for field in fields(DbcRepair))
_MESSAGE: Final = tuple(field.name for field in fields(Message) if field.name not in ("senders", "signals"))


def to_plain(database: Database) -> dict[str, Any]:
    """The database as dicts, lists, texts and numbers; :func:`from_plain` makes an equal one of it."""
    return {
        "format": PLAIN_FORMAT,
        "files": list(database.files),
        "warnings": list(database.warnings),
        "repairs": [{name: getattr(repair, name) for name in _REPAIR} for repair in database.repairs],
        "messages": [_plain_message(message) for message in database.messages],
    }


def from_plain(plain: Any) -> Database:
    """The database that :func:`to_plain` was given, also after a way through JSON.

    Raises ValueError for anything else: another format, a missing or a misplaced value.
    """
    try:
        if plain["format"] != PLAIN_FORMAT:
            raise ValueError(f"format {plain['format']!r} is not {PLAIN_FORMAT}")
        files, warnings = _texts(plain["files"]), _texts(plain["warnings"])
        messages = tuple(map(_message, plain["messages"]))
        return Database(files, messages, warnings, tuple(map(_repair, plain["repairs"])))
    except (KeyError, TypeError, AttributeError, ValueError) as error:
        raise ValueError(f"not a plain database: {error!r}") from error


def _plain_message(message: Message) -> dict[str, Any]:
    return {
        **{name: getattr(message, name) for name in _MESSAGE},
        "senders": list(message.senders),
        "signals": [_plain_signal(signal) for signal in message.signals],
    }


def _repair(plain: dict[str, Any]) -> DbcRepair:
    can_id = plain["can_id"]
    return DbcRepair(
        RepairKind(plain["kind"]),
        *(_text(plain["file"]), _integer(plain["line"]), _text(plain["name"]), _text(plain["entry"])),
        None if can_id is None else _integer(can_id),
    )


def _plain_signal(signal: Signal) -> dict[str, Any]:
    return {
        **{name: getattr(signal, name) for name in _SIGNAL},
        "labels": [[raw, label] for raw, label in signal.labels.items()],
        "pages": [[page.multiplexer, list(page.values)] for page in signal.pages],
    }


def _message(plain: dict[str, Any]) -> Message:
    senders, signals = _texts(plain["senders"]), tuple(_signal(signal) for signal in plain["signals"])
    return Message(**_checked(_MESSAGE, plain), senders=senders, signals=signals)


def _signal(plain: dict[str, Any]) -> Signal:
    pages = tuple(MuxPage(_text(name), tuple(map(_integer, values))) for name, values in plain["pages"])
    labels = {_integer(raw): _text(label) for raw, label in plain["labels"]}
    return Signal(**_checked(_SIGNAL, plain), labels=labels, pages=pages)


def _checked(names: Sequence[str], plain: dict[str, Any]) -> dict[str, Any]:
    """These values, each of its type."""
    return {name: _CHECKS[name](plain[name]) for name in names}


def _truth(value: Any) -> bool:
    if not isinstance(value, bool):
        raise TypeError(f"{value!r} is neither true nor false")
    return value


def _number(value: Any) -> int | float:
    if not isinstance(value, int | float) or isinstance(value, bool):
        raise TypeError(f"{value!r} is no number")
    return value


def _real(value: Any) -> float:
    return float(_number(value))


def _integer(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise TypeError(f"{value!r} is no whole number")
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r} is no text")
    return value


def _texts(values: Any) -> tuple[str, ...]:
    if not isinstance(values, list):
        raise TypeError(f"{values!r} is no list")
    return tuple(map(_text, values))


def _check_of(name: str) -> Callable[[Any], Any]:
    """What a value with this name goes through."""
    if name in ("name", "unit", "file"):
        return _text
    if name.startswith("is_"):
        return _truth
    if name in ("start", "width", "can_id", "length"):
        return _integer
    check = {"source_address": _integer, "start_raw": _number}.get(name, _real)
    return check if name not in _MAY_LACK else lambda value: None if value is None else check(value)


_CHECKS: Final = {name: _check_of(name) for name in (*_SIGNAL, *_MESSAGE)}
