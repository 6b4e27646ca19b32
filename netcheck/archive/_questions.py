"""Questions with a name, for people who write no SQL: where, since, period, who-sends, differs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from typing import Any, Final

from netcheck.archive._ask import Answer, Archive
from netcheck.errors import UsageError
from netcheck.network import FrameId
from netcheck.records import dataclass
from netcheck.words import meant, similar

PERIOD_BAND: Final = 0.1  # of a period, within which two years' medians are the same: our own choice
LEAST_APART_MS: Final = 2.0  # and at least this far apart: recorders stamp in batches


@dataclass(frozen=True)
class RoleYear:
    """A role on one network in one model year, over all captures of it.

    year:      None for captures whose model year nobody gave
    is_mapped: whether the vehicle file has this entry for the year; None without a year
    captures, vans: in which the network was captured; captures of unknown vans are counted in ``strangers``
    there, moved, answered: captures in which it had values, took several of its states, followed all marks
    moved_vans: vans in which it moved
    states:    labels that were seen
    period_ms: median over the captures
    """

    vehicle: str
    role: str
    network: str
    message: str
    signal: str
    year: int | None
    is_mapped: bool | None
    captures: int
    vans: int
    strangers: int
    there: int
    moved: int
    moved_vans: int
    answered: int
    states: tuple[str, ...]
    period_ms: float | None


@dataclass(frozen=True)
class MessageYear:
    """A message on one network in one model year. period_ms, low_ms, high_ms: median, least, most"""

    vehicle: str | None
    network: str | None
    id: str
    name: str | None
    senders: tuple[str, ...]
    year: int | None
    captures: int
    vans: int
    strangers: int
    period_ms: float | None
    low_ms: float | None
    high_ms: float | None
    declared_ms: float | None
    is_at_changes: bool
    lengths: tuple[int, ...]


@dataclass(frozen=True)
class YearDifference:
    """What one model year has otherwise than another. kind: message, length, period, or role

    captures: of the network, in the first and in the second year
    seen:     captures of each year in which it came, or the role moved
    first, second: lengths or periods in ms; None where a year does not have it
    """

    vehicle: str
    network: str
    kind: str
    subject: str
    id: str | None
    captures: tuple[int, int]
    seen: tuple[int, int]
    first: str | None = None
    second: str | None = None


@dataclass(frozen=True)
class Answered:
    """A named question, what it was asked with, and what the store says to it."""

    question: str
    words: tuple[str, ...]
    records: tuple[RoleYear | MessageYear | YearDifference, ...]

    @property
    def answer(self) -> Answer:
        """The records as a table."""
        if not self.records:
            return Answer((), ())
        names = tuple(field.name for field in fields(self.records[0]))
        return Answer(
            names,
            tuple(tuple(_plain(getattr(record, name)) for name in names) for record in self.records),
        )


def _plain(value: object) -> Any:
    return list(value) if isinstance(value, tuple) else value


# Captures are counted once each before anything is counted by year: one distinct count for each figure took
# twice as long.
_ROLE_KEYS: Final = ("vehicle", "role", "network", "message", "signal", "year")
_ROLE_GROUP: Final = ", ".join(_ROLE_KEYS)
_ROLE_ROWS: Final = """
FROM roles
WHERE ($role IS NULL OR role = $role) AND ($vehicle IS NULL OR vehicle = $vehicle) AND identity = 'identified'
  AND ($years IS NULL OR list_contains($years, year))
"""
_ROLE: Final = f"""
WITH each AS (
  SELECT {_ROLE_GROUP}, capture, any_value(van) AS van, bool_or(in_years) AS in_years,
    bool_or(evidence <> 'defined') AS seen, bool_or(evidence IN ('moves', 'answers')) AS moved,
    bool_or(evidence = 'answers') AS answered
  {_ROLE_ROWS} GROUP BY ALL),
counted AS (
  SELECT {_ROLE_GROUP}, bool_or(in_years), count(*), count(DISTINCT van), count(*) FILTER (van IS NULL),
    count(*) FILTER (seen), count(*) FILTER (moved), count(DISTINCT van) FILTER (moved),
    count(*) FILTER (answered)
  FROM each GROUP BY {_ROLE_GROUP}),
listed AS (
  SELECT {_ROLE_GROUP}, list_sort(list_distinct(flatten(list(DISTINCT states)))) AS states,
    median(period_ms) AS period
  {_ROLE_ROWS} GROUP BY {_ROLE_GROUP})
SELECT counted.*, states, period
FROM counted
JOIN listed ON {" AND ".join(f"counted.{key} IS NOT DISTINCT FROM listed.{key}" for key in _ROLE_KEYS)}
ORDER BY {", ".join(f"counted.{key}" for key in _ROLE_KEYS)} NULLS LAST
"""
_MESSAGES: Final = """
SELECT vehicle, network, id, extended, max(name),
  list_sort(list_distinct(flatten(list(DISTINCT senders)))), year,
  count(DISTINCT capture), count(DISTINCT van), count(DISTINCT capture) FILTER (van IS NULL),
  median(period_ms), min(period_ms), max(period_ms), max(declared_period_ms), bool_or(at_changes),
  list_sort(list_distinct(flatten(list(DISTINCT lengths))))
FROM messages
WHERE ($diagnostic OR NOT diagnostic) AND ($name IS NULL OR lower(name) = lower($name))
  AND ($id IS NULL OR (id = $id AND extended = $extended)) AND ($vehicle IS NULL OR vehicle = $vehicle)
  AND ($years IS NULL OR list_contains($years, year))
GROUP BY vehicle, network, id, extended, year
ORDER BY vehicle NULLS LAST, network NULLS LAST, id, extended, year NULLS LAST
"""
_TAKEN: Final = """
SELECT vehicle, network, count(DISTINCT capture) FILTER (year = $first),
  count(DISTINCT capture) FILTER (year = $second)
FROM channels WHERE identity = 'identified' AND ($vehicle IS NULL OR vehicle = $vehicle)
GROUP BY vehicle, network
"""


def role_years(
    archive: Archive,
    role: str | None = None,
    vehicle: str | None = None,
    years: Sequence[int] | None = None,
) -> tuple[RoleYear, ...]:
    """What the captures show of a role, by network and model year; of all roles, and years, without one."""
    wanted = {"role": role, "vehicle": vehicle, "years": None if years is None else list(years)}
    rows = archive.ask(_ROLE, wanted).rows
    return tuple(RoleYear(*[*row[:14], tuple(row[14] or ()), row[15]]) for row in rows)


def message_years(
    archive: Archive,
    message: str | None = None,
    vehicle: str | None = None,
    years: Sequence[int] | None = None,
) -> tuple[MessageYear, ...]:
    """What the captures show of a message, by network and model year.

    message: its name, or its id; without, all messages but those of diagnostics
    """
    frame_id = _frame_id(message) if message is not None else None
    found = archive.ask(
        _MESSAGES,
        {
            "name": message if frame_id is None else None,
            "id": frame_id.can_id if frame_id else None,
            "extended": frame_id.is_extended if frame_id else None,
            "vehicle": vehicle,
            "diagnostic": message is not None,
            "years": None if years is None else list(years),
        },
    )
    return tuple(
        MessageYear(
            *[
                *row[:2],
                str(FrameId(row[2], row[3])),
                row[4],
                tuple(row[5] or ()),
                *row[6:15],
                tuple(row[15] or ()),
            ]
        )
        for row in found.rows
    )


def _frame_id(text: str) -> FrameId | None:
    """``0x123``, ``291``, ``0x00000123`` with 29 bits; None for a name."""
    try:
        number = int(text, 0)
    except ValueError:
        return None
    if not 0 <= number <= 0x1FFFFFFF:
        raise UsageError(f"{text} is not an id", remedy="0x000 to 0x7FF, or eight digits for 29 bits")
    return FrameId(number, number > 0x7FF or len(text) > len("0x7FF"))


def _where(archive: Archive, words: Sequence[str], vehicle: str | None) -> tuple[RoleYear, ...]:
    found = role_years(archive, words[0], vehicle)
    if not found:
        names = [row[0] for row in archive.ask("SELECT DISTINCT role FROM roles ORDER BY role").rows]
        if words[0] not in names:
            near = similar(words[0], names)
            remedy = f"did you mean '{near[0]}'?" if near else "add captures with their vehicle file first"
            raise UsageError(f"no capture in the archive shows the role '{words[0]}'", remedy=remedy)
    return found


def _period(archive: Archive, words: Sequence[str], vehicle: str | None) -> tuple[MessageYear, ...]:
    found = message_years(archive, words[0], vehicle)
    if not found:
        rows = archive.ask("SELECT DISTINCT name FROM messages WHERE name IS NOT NULL ORDER BY name").rows
        near = similar(words[0], [row[0] for row in rows])
        remedy = f"did you mean '{near[0]}'?" if near else "give its name by the DBC, or its id such as 0x123"
        raise UsageError(f"no capture in the archive has the message '{words[0]}'", remedy=remedy)
    return found


def _who_sends(archive: Archive, words: Sequence[str], vehicle: str | None) -> tuple[MessageYear, ...]:
    if _frame_id(words[0]) is None:
        raise UsageError(f"'{words[0]}' is not an id", remedy="write it as 0x123")
    return message_years(archive, words[0], vehicle)


def _differs(archive: Archive, words: Sequence[str], vehicle: str | None) -> tuple[YearDifference, ...]:
    try:
        first, second = both = int(words[0]), int(words[1])
    except ValueError:
        raise UsageError(f"'{words[0]}' and '{words[1]}' are not two model years") from None
    rows = archive.ask(_TAKEN, {"first": first, "second": second, "vehicle": vehicle}).rows
    taken = {(row[0], row[1]): (row[2], row[3]) for row in rows if row[2] and row[3]}
    if not taken:
        raise UsageError(
            f"no network was captured in both {first} and {second}",
            remedy="see 'netcheck archive list' for the years that were",
        )
    return (
        *_message_differences(message_years(archive, None, vehicle, both), taken, both),
        *_role_differences(role_years(archive, None, vehicle, both), taken, both),
    )


Taken = Mapping[tuple[str, str], tuple[int, int]]


def _message_differences(
    messages: Sequence[MessageYear], taken: Taken, years: tuple[int, int]
) -> tuple[YearDifference, ...]:
    found: dict[tuple[str, str, str], dict[int | None, MessageYear]] = {}
    for entry in messages:
        if entry.vehicle is not None and entry.network is not None:
            found.setdefault((entry.vehicle, entry.network, entry.id), {})[entry.year] = entry
    told = []
    for (vehicle, network, frame_id), by_year in found.items():
        before, after = (by_year.get(year) for year in years)
        captures = taken.get((vehicle, network))
        any_of = before or after
        if captures is None or any_of is None:
            continue
        seen = (before.captures if before else 0, after.captures if after else 0)
        subject = any_of.name or frame_id
        if before is None or after is None:
            told.append(YearDifference(vehicle, network, "message", subject, frame_id, captures, seen))
            continue
        if before.lengths != after.lengths:
            texts = (_listed(before.lengths), _listed(after.lengths))
            told.append(YearDifference(vehicle, network, "length", subject, frame_id, captures, seen, *texts))
        if _is_apart(before, after):
            texts = (f"{before.period_ms:.6g}", f"{after.period_ms:.6g}")
            told.append(YearDifference(vehicle, network, "period", subject, frame_id, captures, seen, *texts))
    return tuple(told)


def _listed(lengths: Sequence[int]) -> str:
    return ", ".join(map(str, lengths))


def _is_apart(before: MessageYear, after: MessageYear) -> bool:
    """Whether two periods are of different messages, not of one with its jitter; never of one at changes."""
    first, second = before.period_ms, after.period_ms
    if first is None or second is None or before.is_at_changes or after.is_at_changes:
        return False
    return periods_apart(first, second)


def periods_apart(first_ms: float, second_ms: float) -> bool:
    """Whether two median periods differ by more than clocks and jitter explain: by over a tenth and 2 ms."""
    apart = abs(first_ms - second_ms)
    return apart > PERIOD_BAND * min(first_ms, second_ms) and apart > LEAST_APART_MS


def _role_differences(
    roles: Sequence[RoleYear], taken: Taken, years: tuple[int, int]
) -> tuple[YearDifference, ...]:
    found: dict[tuple[str, str, str, str], dict[int | None, RoleYear]] = {}
    for entry in roles:
        key = (entry.vehicle, entry.network, entry.role, f"{entry.message}.{entry.signal}")
        found.setdefault(key, {})[entry.year] = entry
    told = []
    for (vehicle, network, role, _), by_year in found.items():
        before, after = (by_year.get(year) for year in years)
        captures = taken.get((vehicle, network))
        seen = (before.moved if before else 0, after.moved if after else 0)
        if captures is not None and bool(seen[0]) != bool(seen[1]):
            told.append(YearDifference(vehicle, network, "role", role, None, captures, seen))
    return tuple(told)


@dataclass(frozen=True)
class NamedQuestion:
    """A question with a name. words: what it is asked with"""

    name: str
    words: tuple[str, ...]
    ask: Callable[[Archive, Sequence[str], str | None], Sequence[RoleYear | MessageYear | YearDifference]]


QUESTIONS: Final = {
    question.name: question
    for question in (
        NamedQuestion("where", ("ROLE",), _where),
        NamedQuestion("since", ("ROLE",), _where),
        NamedQuestion("period", ("MESSAGE",), _period),
        NamedQuestion("who-sends", ("ID",), _who_sends),
        NamedQuestion("differs", ("YEAR", "YEAR"), _differs),
    )
}


def ask_named(
    archive: Archive,
    name: str,
    words: Sequence[str],
    vehicle: str | None = None,
    network: str | None = None,
) -> Answered:
    """A named question. vehicle, network: name of the vehicle model and of the network, None for all

    Raises UsageError for another name, too few or too many words, and what the store knows nothing of.
    """
    question = QUESTIONS.get(name)
    if question is None:
        raise UsageError(f"no question '{name}'", remedy=meant(name, QUESTIONS))
    if len(words) != len(question.words):
        raise UsageError(f"ask {name} {' '.join(question.words)}", remedy="see 'netcheck archive ask --help'")
    records = question.ask(archive, words, vehicle)
    return Answered(
        name, tuple(words), tuple(one for one in records if network is None or one.network == network)
    )
