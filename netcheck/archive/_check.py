"""What a vehicle file says, against every capture of the vehicle that the archive holds.

Claims are looked at as the file has them now, whatever they were when the captures were added: an entry of a
role is its network, message and signal, and its model years are those of the file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from enum import StrEnum
from statistics import median
from typing import Any, Final

from netcheck.archive._ask import Archive
from netcheck.archive._questions import periods_apart
from netcheck.archive._read import VehicleRead
from netcheck.network import IdentityLevel, RemarkKind
from netcheck.records import dataclass
from netcheck.words import unique

_MOST_OUTSIDE: Final = 0.01  # of a capture's values outside the DBC's limits, as for a plan


class ClaimKind(StrEnum):
    """What the captures say otherwise than the vehicle file."""

    YEARS_TOO_FEW = "years-too-few"  # it moved in a year for which the file has no entry
    YEARS_NOT_BORNE_OUT = "years-not-borne-out"  # it stayed still, while the role moved elsewhere
    NEVER_SEEN = "never-seen"  # its network was captured, and it never had a value
    NO_VALUE_IN_YEAR = "no-value-in-year"  # it had values in other years, and none in this one
    PERIOD_DIFFERS = "period-differs"  # between model years
    STATES_DIFFER = "states-differ"  # a state that its value table does not name
    BEYOND_LIMITS = "beyond-limits"  # values outside the DBC's limits
    OTHER_EDITION = "other-edition"  # the network's DBC explains too few of the ids
    OTHER_FILE = "other-file"  # captures whose roles were read with another version of the vehicle file


@dataclass(frozen=True)
class ClaimFinding:
    """One thing that does not agree.

    role, network, signal: the entry, "" where it is about captures; signal is ``Message.Signal``
    years:    model years that it is about
    captures: file names of those that say so
    against:  how many captures of these years were looked at
    claimed:  years of the entry by the file, None for all
    other:    where the role moved instead: ``Message.Signal on network``
    numbers:  periods in ms by year, or lowest and highest value
    states:   raw values without a label
    """

    kind: ClaimKind
    role: str = ""
    network: str = ""
    signal: str = ""
    years: tuple[int, ...] = ()
    captures: tuple[str, ...] = ()
    against: int = 0
    claimed: tuple[int, int] | None = None
    other: str = ""
    numbers: tuple[tuple[int, float], ...] = ()
    states: tuple[str, ...] = ()


@dataclass(frozen=True)
class ArchiveCheck:
    """All that was found.

    unopposed: entries with captures of their network in their years, none of which says otherwise
    unseen: entries on networks of which the archive has no capture in their years
    """

    vehicle: str
    captures: int
    years: tuple[int, ...]
    entries: int
    unopposed: int
    unseen: int
    findings: tuple[ClaimFinding, ...]


@dataclass(frozen=True)
class _Shown:
    """What one capture shows of one entry."""

    file: str
    capture: str
    year: int
    role: str
    network: str
    signal: str
    evidence: str
    valid: int
    carried: int
    out_of_range: int
    unavailable: int
    active: int | None
    states: tuple[str, ...]
    low: float | None
    high: float | None
    period_ms: float | None
    at_changes: bool

    @property
    def has_moved(self) -> bool:
        return self.evidence in {"moves", "answers"}


_ROWS: Final = """
SELECT c.file, r.capture, r.year, r.role, r.network, r.message || '.' || r.signal, r.evidence, r.valid,
  r.carried, r.out_of_range, r.unavailable, r.active, r.states, r.low, r.high, r.period_ms, r.at_changes
FROM roles r JOIN captures c USING (capture)
WHERE r.vehicle = $vehicle AND r.role = $role AND r.identity = 'identified' AND r.year IS NOT NULL
ORDER BY r.network, r.message, r.signal, r.year, c.file, r.capture
"""
_CHANNELS: Final = """
SELECT c.file, n.year, n.network, n.identity, n.remarks FROM channels n JOIN captures c USING (capture)
WHERE n.vehicle = $vehicle AND n.network IS NOT NULL ORDER BY c.file, n.channel
"""
_CAPTURES: Final = """
SELECT file, year, vehicle_digest FROM captures WHERE vehicle = $vehicle ORDER BY file, capture
"""
Entry = tuple[str, str, str]  # role, network, Message.Signal


@dataclass(frozen=True)
class RoleClaims:
    """What was found of the entries of one role; the numbers are those of ``ArchiveCheck``."""

    findings: tuple[ClaimFinding, ...]
    entries: int
    unopposed: int
    unseen: int


LookAtRoles = Callable[[Archive, VehicleRead, Sequence[str]], Iterable[RoleClaims]]


def check_claims(
    archive: Archive, vehicle: VehicleRead, look_at_roles: LookAtRoles | None = None
) -> ArchiveCheck:
    """Every claim of a vehicle file that captures of the archive do not bear out, and which they are.

    look_at_roles: who looks at the roles, in their order; by default this process
    """
    name = vehicle.loaded.model.name
    captures = archive.ask(_CAPTURES, {"vehicle": name}).rows
    channels = archive.ask(_CHANNELS, {"vehicle": name}).rows
    roles = unique(watch.role for watch in vehicle.watches)
    found = list((look_at_roles or look_here)(archive, vehicle, roles))
    return ArchiveCheck(
        name,
        len(captures),
        tuple(sorted({row[1] for row in captures if row[1] is not None})),
        sum(role.entries for role in found),
        sum(role.unopposed for role in found),
        sum(role.unseen for role in found),
        (
            *_other_editions(channels),
            *(finding for role in found for finding in role.findings),
            *_other_files(captures, vehicle.digest),
        ),
    )


def look_here(archive: Archive, vehicle: VehicleRead, roles: Sequence[str]) -> Iterator[RoleClaims]:
    """The claims of each role, one after the other: so few rows are in memory at a time."""
    for role in roles:
        rows = archive.ask(_ROWS, {"vehicle": vehicle.loaded.model.name, "role": role}).rows
        shown = [_Shown(*[*row[:12], tuple(row[12] or ()), *row[13:]]) for row in rows]
        claims = _Claims(vehicle, role, shown)
        said = [(tuple(claims.of(entry)), bool(claims.in_years(entry))) for entry in claims.entries]
        yield RoleClaims(
            tuple(finding for findings, _ in said for finding in findings),
            len(said),
            sum(has_captures and not findings for findings, has_captures in said),
            sum(not has_captures for _, has_captures in said),
        )


def _other_files(captures: Sequence[tuple[Any, ...]], digest: str) -> Iterator[ClaimFinding]:
    """Captures whose roles were read with another version of the file."""
    old = tuple(file for file, _, read_with in captures if read_with != digest)
    if old:
        yield ClaimFinding(ClaimKind.OTHER_FILE, captures=old, against=len(captures))


def _other_editions(channels: Sequence[tuple[Any, ...]]) -> Iterator[ClaimFinding]:
    """Networks of which the DBC explains too little in some captures."""
    networks: dict[str, list[tuple[str, int | None]]] = {}
    for file, year, network, identity, remarks in channels:
        if identity == IdentityLevel.DOUBTFUL or str(RemarkKind.OTHER_EDITION) in (remarks or ()):
            networks.setdefault(network, []).append((file, year))
    for network, found in networks.items():
        years = tuple(sorted({year for _, year in found if year is not None}))
        against = sum(row[2] == network for row in channels)
        yield ClaimFinding(
            ClaimKind.OTHER_EDITION,
            network=network,
            years=years,
            captures=unique(file for file, _ in found),
            against=against,
        )


class _Claims:
    """The entries of one role with what the captures show of each."""

    def __init__(self, vehicle: VehicleRead, role: str, rows: Iterable[_Shown]) -> None:
        model = vehicle.loaded.model
        self._years: dict[Entry, list[tuple[int, int]]] = {}
        self._labels: dict[Entry, Mapping[int, str]] = {}
        for watch, entry in zip(vehicle.watches, vehicle.entries, strict=True):
            if watch.role != role:
                continue
            key = (watch.role, watch.network, f"{watch.message.name}.{watch.signal.name}")
            self._years.setdefault(key, []).append(entry.years or model.model_years)
            self._labels[key] = watch.signal.labels
        self._rows: dict[Entry, list[_Shown]] = {key: [] for key in self._years}
        self._moved: dict[str, list[_Shown]] = {}  # by capture
        for row in rows:
            key = (row.role, row.network, row.signal)
            if key in self._rows:
                self._rows[key].append(row)
            if row.has_moved:
                self._moved.setdefault(row.capture, []).append(row)

    @property
    def entries(self) -> tuple[Entry, ...]:
        """Every entry, those with the same signal as one."""
        return tuple(self._years)

    def _holds(self, entry: Entry, year: int) -> bool:
        return any(first <= year <= last for first, last in self._years[entry])

    def in_years(self, entry: Entry) -> list[_Shown]:
        """What captures of its model years show."""
        return [row for row in self._rows[entry] if self._holds(entry, row.year)]

    def of(self, entry: Entry) -> Iterator[ClaimFinding]:
        """All that does not agree with one entry."""
        yield from self._too_few(entry)
        rows = self.in_years(entry)
        if not rows:
            return
        if not any(row.valid for row in rows):
            yield self._finding(ClaimKind.NEVER_SEEN, entry, rows, rows)
            return
        yield from self._not_borne_out(entry, rows)
        yield from self._periods(entry, rows)
        yield from self._states(entry, rows)
        outside = [row for row in rows if row.out_of_range > _MOST_OUTSIDE * (row.carried - row.unavailable)]
        if outside:
            yield self._finding(ClaimKind.BEYOND_LIMITS, entry, outside, rows)

    def _too_few(self, entry: Entry) -> Iterator[ClaimFinding]:
        beyond = [row for row in self._rows[entry] if not self._holds(entry, row.year)]
        moved = [row for row in beyond if row.has_moved]
        if moved:
            yield self._finding(ClaimKind.YEARS_TOO_FEW, entry, moved, beyond)

    def _not_borne_out(self, entry: Entry, rows: Sequence[_Shown]) -> Iterator[ClaimFinding]:
        """Years in which it never moved, although the same captures show that the role did, elsewhere."""
        for year in sorted({row.year for row in rows}):
            own = [row for row in rows if row.year == year]
            if any(row.has_moved for row in own):
                continue
            elsewhere = [
                (row, other)
                for row in own
                for other in self._moved.get(row.capture, ())
                if (other.network, other.signal) != (row.network, row.signal)
            ]
            if elsewhere:
                other = f"{elsewhere[0][1].signal} on {elsewhere[0][1].network}"
                said = list({row.capture: row for row, _ in elsewhere}.values())
                yield self._finding(ClaimKind.YEARS_NOT_BORNE_OUT, entry, said, own, other=other)
            elif not any(row.valid for row in own):
                yield self._finding(ClaimKind.NO_VALUE_IN_YEAR, entry, own, own)

    def _periods(self, entry: Entry, rows: Sequence[_Shown]) -> Iterator[ClaimFinding]:
        """Periods of a signal that comes by the clock, by year; the usual one is that of most captures."""
        timed = [row for row in rows if row.period_ms is not None and not row.at_changes]
        years = sorted({row.year for row in timed})
        medians = {
            year: median(row.period_ms for row in timed if row.year == year and row.period_ms is not None)
            for year in years
        }
        if len(medians) < 2:
            return
        usual = median(medians.values())
        apart = [year for year in years if periods_apart(usual, medians[year])]
        if not apart and periods_apart(min(medians.values()), max(medians.values())):
            apart = years
        if apart:
            said = [row for row in timed if row.year in apart]
            yield self._finding(ClaimKind.PERIOD_DIFFERS, entry, said, timed, numbers=tuple(medians.items()))

    def _states(self, entry: Entry, rows: Sequence[_Shown]) -> Iterator[ClaimFinding]:
        labels = set(self._labels[entry].values())
        if not labels:
            return
        strange = [row for row in rows if not labels.issuperset(row.states)]
        if strange:
            states = sorted({state for row in strange for state in row.states} - labels)
            yield self._finding(ClaimKind.STATES_DIFFER, entry, strange, rows, states=tuple(states))

    def _finding(
        self,
        kind: ClaimKind,
        entry: Entry,
        said: Sequence[_Shown],
        rows: Sequence[_Shown],
        *,
        other: str = "",
        numbers: tuple[tuple[int, float], ...] = (),
        states: tuple[str, ...] = (),
    ) -> ClaimFinding:
        years = tuple(sorted({row.year for row in said}))
        if kind is ClaimKind.BEYOND_LIMITS:
            numbers = tuple(
                (row.year, value) for row in said for value in (row.low, row.high) if value is not None
            )
        return ClaimFinding(
            kind,
            *entry,
            years,
            unique(row.file for row in said),
            len({row.capture for row in rows if row.year in years}),
            self._span(entry),
            other,
            numbers,
            states,
        )

    def _span(self, entry: Entry) -> tuple[int, int]:
        spans = self._years[entry]
        return min(first for first, _ in spans), max(last for _, last in spans)
