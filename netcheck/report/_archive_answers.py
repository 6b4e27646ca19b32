"""What an archive says to a question: a sentence where the question has a name, else a table."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from itertools import groupby
from typing import Any, Final

from netcheck.archive import Answer, Answered, MessageYear, RoleYear, YearDifference
from netcheck.report._archive_store import ARCHIVE_SCHEMA
from netcheck.report._page import Page, Style, StyledText
from netcheck.report._wrap import cells, clean
from netcheck.words import counted, listing

_MOST_ROWS: Final = 200  # of a table on a screen
_GAP: Final = "  "


# -- any question


def answer_text(answer: Answer, *, width: int = 80, colour: bool = False) -> str:
    """A table as wide as the page allows; where it is wider, a value a line. 200 rows at most."""
    page = Page(width)
    rows = [[_cell(value) for value in row] for row in answer.rows[:_MOST_ROWS]]
    if not rows:
        page.text("No rows.")
        return page.render(colour=colour)
    widths = [max(cells(name), *(cells(row[at]) for row in rows)) for at, name in enumerate(answer.columns)]
    is_number = [
        all(isinstance(row[at], int | float) or row[at] is None for row in answer.rows)
        for at in range(len(widths))
    ]
    if sum(widths) + len(_GAP) * (len(widths) - 1) <= page.width:
        page.raw(StyledText(_row(answer.columns, widths, is_number), Style.STRONG))
        for row in rows:
            page.raw(StyledText(_row(row, widths, is_number)))
    else:
        column = 2 + max(map(cells, answer.columns))
        for row in rows:
            page.blank()
            for name, text in zip(answer.columns, row, strict=True):
                page.entry(name, text, column=column)
    if len(answer.rows) > _MOST_ROWS:
        page.text(f"… and {len(answer.rows) - _MOST_ROWS:,} more rows: --format csv has all of them")
    return page.render(colour=colour)


def _row(texts: Sequence[str], widths: Sequence[int], is_number: Sequence[bool]) -> str:
    parts = []
    for text, width, is_right in zip(texts, widths, is_number, strict=True):
        fill = " " * (width - cells(text))
        parts.append(fill + text if is_right else text + fill)
    return _GAP.join(parts).rstrip()


def _cell(value: Any) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, list | tuple):
        return ", ".join(map(_cell, value))
    if isinstance(value, bytes):
        return value.hex(" ").upper()
    return clean(f"{value:%Y-%m-%d %H:%M:%S}" if isinstance(value, datetime) else str(value))


def answer_json(answer: Answer, question: str) -> dict[str, Any]:
    """Rows as objects; bytes are hex, times ISO 8601, what is no number null."""
    rows = [{name: _plain(value) for name, value in row.items()} for row in answer.dicts()]
    return {"schema": ARCHIVE_SCHEMA, "question": question, "columns": list(answer.columns), "rows": rows}


def answer_csv(answer: Answer) -> Iterator[str]:
    """The table as CSV (RFC 4180, but with a line feed); lists as JSON, empty where there is no value."""
    for row in (answer.columns, *answer.rows):
        line = io.StringIO()
        csv.writer(line, lineterminator="\n").writerow([_csv_value(value) for value in row])
        yield line.getvalue()


def _csv_value(value: Any) -> Any:
    plain = _plain(value)
    if isinstance(plain, list | dict):
        return json.dumps(plain, ensure_ascii=False)
    return {True: "true", False: "false", None: ""}[plain] if isinstance(plain, bool | None) else plain


def _plain(value: Any) -> Any:
    if isinstance(value, float) and value - value != 0.0:  # infinite, or no number
        return None
    if isinstance(value, list | tuple):
        return [_plain(entry) for entry in value]
    if isinstance(value, dict):
        return {str(key): _plain(entry) for key, entry in value.items()}
    if isinstance(value, bytes):
        return value.hex().upper()
    if isinstance(value, datetime):
        return value.isoformat()
    return value if isinstance(value, str | int | float | bool | None) else str(value)


# -- named questions


def named_json(answered: Answered) -> dict[str, Any]:
    """A named question: its records and the same lines as the text."""
    found = answer_json(answered.answer, " ".join((answered.question, *answered.words)))
    return {**found, "text": [f"{lead}: {text}" for lead, text in _lines(answered)]}


def named_text(answered: Answered, *, width: int = 80, colour: bool = False) -> str:
    """For each network, or message, the answer in a line, and below what it rests on."""
    page = Page(width)
    for lead, text in _lines(answered):
        page.text(lead, style=Style.STRONG)
        page.text(text, indent=2)
    if not answered.records:
        page.text(_NOTHING[answered.question].format(*answered.words))
    return page.render(colour=colour)


_NOTHING: Final = {
    "where": "No capture of the archive has an identified network that carries {0}.",
    "since": "No capture of the archive has an identified network that carries {0}.",
    "period": "No capture of the archive has {0}.",
    "who-sends": "No capture of the archive has a frame with the id {0}.",
    "differs": "The captures of {0} and {1} show no difference in messages, lengths, periods and roles.",
}


def _lines(answered: Answered) -> Iterator[tuple[str, str]]:
    records: Sequence[Any] = answered.records
    if answered.question == "differs":
        yield from _difference_lines(records, answered.words)
        return
    lines: dict[str, Callable[[Sequence[Any]], Iterator[tuple[str, str]]]] = {
        "where": _where_lines,
        "since": _since_lines,
        "period": _period_lines,
        "who-sends": _sender_lines,
    }
    yield from lines[answered.question](records)


def _by_place(records: Sequence[RoleYear]) -> Iterator[tuple[str, str, list[RoleYear]]]:
    """``clutch-pedal on drive``, the signal, and the years."""
    vehicles = {record.vehicle for record in records}

    def place(record: RoleYear) -> tuple[str, str, str, str, str]:
        return record.vehicle, record.role, record.network, record.message, record.signal

    for (vehicle, role, network, message, signal), own in groupby(records, place):
        of = f" of {vehicle}" if len(vehicles) > 1 else ""
        yield f"{role} on {network}{of}", f"{message}.{signal}", list(own)


def _since_lines(records: Sequence[RoleYear]) -> Iterator[tuple[str, str]]:
    for place, signal, own in _by_place(records):
        known = [record for record in own if record.year is not None]
        moved = [record for record in known if record.moved]
        still = [_not_moving(record) for record in own if not record.moved]
        if not moved:
            yield f"{place}: not seen moving", f"{signal}: {'; '.join(still)}."
            continue
        captured = listing([str(record.year) for record in known])
        told = listing([f"{_moving(record)} of {record.year}" for record in moved])
        rest = f"; {'; '.join(still)}" if still else ""
        yield f"{place}: since {moved[0].year} (captured: {captured})", f"{signal} moved {told}{rest}."


def _moving(record: RoleYear) -> str:
    if record.strangers:
        return f"in {record.moved:,} of {counted(record.captures, 'capture')}"
    return f"on {record.moved_vans:,} of {counted(record.vans, 'van')}"


def _not_moving(record: RoleYear) -> str:
    how = "there and still" if record.there else "without a value"
    year = "no model year" if record.year is None else str(record.year)
    return f"{year}: {how} in {counted(record.captures, 'capture')}"


def _where_lines(records: Sequence[RoleYear]) -> Iterator[tuple[str, str]]:
    for place, signal, own in _by_place(records):
        yield f"{place} ({signal})", "; ".join(map(_seen_in_year, own)) + "."


def _seen_in_year(record: RoleYear) -> str:
    year = "no model year" if record.year is None else str(record.year)
    if not record.moved:
        return _not_moving(record)
    marks = f", followed all marks in {record.answered:,}" if record.answered else ""
    every = "" if record.period_ms is None else f", every {record.period_ms:.4g} ms"
    unmapped = " (not in the vehicle file for this year)" if record.is_mapped is False else ""
    return f"{year}{unmapped}: moved {_moving(record)}{marks}{every}"


def _period_lines(records: Sequence[MessageYear]) -> Iterator[tuple[str, str]]:
    for place, own in _by_message(records):
        declared = next((record.declared_ms for record in own if record.declared_ms), None)
        by_dbc = f"; by its DBC every {declared:.4g} ms" if declared else ""
        yield place, "; ".join(map(_period_in_year, own)) + by_dbc + "."


def _period_in_year(record: MessageYear) -> str:
    year = "no model year" if record.year is None else str(record.year)
    if record.period_ms is None or record.low_ms is None or record.high_ms is None:
        return f"{year}: too few frames"
    span = f" ({record.low_ms:.4g} to {record.high_ms:.4g})" if record.captures > 1 else ""
    changes = ", and at changes" if record.is_at_changes else ""
    count = counted(record.captures, "capture")
    return f"{year}: {record.period_ms:.4g} ms{span}{changes} in {count}"


def _by_message(records: Sequence[MessageYear]) -> Iterator[tuple[str, list[MessageYear]]]:
    vehicles = {record.vehicle for record in records}

    def place(record: MessageYear) -> tuple[str | None, str | None, str]:
        return record.vehicle, record.network, record.id

    for (vehicle, network, frame_id), own in groupby(records, place):
        of = f" of {vehicle or 'a vehicle not stated'}" if len(vehicles) > 1 else ""
        yield f"{own_name(found := list(own), frame_id)} on {network or 'an unknown network'}{of}", found


def own_name(records: Sequence[MessageYear], frame_id: str) -> str:
    """``GearCopy (0x0E1)``, or the id alone."""
    name = next((record.name for record in records if record.name), None)
    return f"{name} ({frame_id})" if name else frame_id


def _sender_lines(records: Sequence[MessageYear]) -> Iterator[tuple[str, str]]:
    for place, own in _by_message(records):
        senders = sorted({sender for record in own for sender in record.senders})
        by_dbc = f"sent by {listing(senders)} by its DBC" if senders else "no DBC says who sends it"
        years = listing(
            [f"{counted(record.captures, 'capture')} of {record.year or 'no model year'}" for record in own]
        )
        yield place, f"{by_dbc}; in {years}."


def _difference_lines(records: Sequence[YearDifference], years: Sequence[str]) -> Iterator[tuple[str, str]]:
    vehicles = {record.vehicle for record in records}
    for record in records:
        of = f" of {record.vehicle}" if len(vehicles) > 1 else ""
        number = f" ({record.id})" if record.id and record.id != record.subject else ""
        yield f"{record.subject}{number} on {record.network}{of}", _difference(record, years)


def _difference(record: YearDifference, years: Sequence[str]) -> str:
    if record.kind in {"message", "role"}:
        both = zip(record.seen, record.captures, years, strict=True)
        texts = [f"{seen:,} of {counted(captures, 'capture')} of {year}" for seen, captures, year in both]
        return f"{'moved ' if record.kind == 'role' else ''}in {' and in '.join(texts)}."
    unit = "ms" if record.kind == "period" else "bytes"
    return f"{record.kind} {record.first} {unit} in {years[0]}, {record.second} {unit} in {years[1]}."
