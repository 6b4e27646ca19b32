"""What the captures of an archive say of a vehicle file, in words and as JSON."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final

from netcheck.archive import ArchiveCheck, ClaimFinding, ClaimKind
from netcheck.report._archive_store import ARCHIVE_SCHEMA
from netcheck.report._facts import facts_of
from netcheck.report._page import Page, Style
from netcheck.words import counted, listing

_MOST_NAMES: Final = 3
_MOST_STATES: Final = 6


def claims_text(check: ArchiveCheck, *, width: int = 80, colour: bool = False, verbose: bool = False) -> str:
    """Every finding with the captures that say so; verbose: with all of them."""
    page = Page(width)
    years = f" of {_years(check.years)}" if check.years else ""
    page.text(f"{check.vehicle}: {counted(check.captures, 'capture')}{years} in the archive")
    if not check.captures:
        page.text("Nothing can be said: add captures with this vehicle file first.")
        return page.render(colour=colour)
    for finding in check.findings:
        page.blank()
        page.entry("!", claim_text(finding), style=Style.DOUBT)
        names = listing(finding.captures, most=0 if verbose else _MOST_NAMES)
        page.entry("Captures:", names, indent=2)
        if todo := CLAIMS[finding.kind][1]:
            page.entry("→", todo, indent=2)
    page.blank()
    others = f" {check.unseen:,} are on networks that nobody captured in their years." if check.unseen else ""
    page.text(
        f"{counted(check.entries, 'entry', 'entries')} of roles: nothing speaks against"
        f" {check.unopposed:,}.{others}"
    )
    return page.render(colour=colour)


def claims_json(check: ArchiveCheck) -> dict[str, Any]:
    """The same as plain values; each finding with its text."""
    findings = [{**facts_of(finding), "text": claim_text(finding)} for finding in check.findings]
    return {"schema": ARCHIVE_SCHEMA, **facts_of(check, "findings"), "findings": findings}


def claim_text(finding: ClaimFinding) -> str:
    """One sentence."""
    return CLAIMS[finding.kind][0](finding)


def _who(finding: ClaimFinding) -> str:
    return f"{finding.role} on {finding.network} ({finding.signal})"


def _years(years: Sequence[int]) -> str:
    """``2019``, ``2018 to 2020``, ``2017 and 2019``."""
    if len(years) > 2 and years[-1] - years[0] == len(years) - 1:
        return f"{years[0]} to {years[-1]}"
    return listing([str(year) for year in years])


def _share(finding: ClaimFinding) -> str:
    return f"in {len(finding.captures):,} of {counted(finding.against, 'capture')} of {_years(finding.years)}"


def _too_few(finding: ClaimFinding) -> str:
    claimed = f"; the file has it for {_years(finding.claimed)} only" if finding.claimed else ""
    if finding.claimed and finding.claimed[0] != finding.claimed[1]:
        claimed = f"; the file has it for {finding.claimed[0]} to {finding.claimed[1]} only"
    return f"{_who(finding)} moved {_share(finding)}{claimed}."


def _not_borne_out(finding: ClaimFinding) -> str:
    years = _years(finding.years)
    return (
        f"{_who(finding)} is claimed for {years}, but stayed still {_share(finding)}"
        f" while the role moved as {finding.other}."
    )


def _never(finding: ClaimFinding) -> str:
    return f"{_who(finding)} never had a value {_share(finding)}."


def _periods(finding: ClaimFinding) -> str:
    told = listing([f"{value:.4g} ms in {year}" for year, value in finding.numbers])
    return f"{_who(finding)} comes every {told}."


def _states(finding: ClaimFinding) -> str:
    states = listing(finding.states, most=_MOST_STATES)
    return f"{_who(finding)} had raw values without a label ({states}) {_share(finding)}."


def _limits(finding: ClaimFinding) -> str:
    return f"{_who(finding)} had over 1 % of its values outside the DBC's limits {_share(finding)}."


def _edition(finding: ClaimFinding) -> str:
    return f"The DBC of {finding.network} explains too few of the ids {_share(finding)}."


def _other_file(finding: ClaimFinding) -> str:
    names = f"{len(finding.captures):,} of {counted(finding.against, 'capture')}"
    return f"{names} were read with another version of this file, and are judged by what they showed then."


Words = tuple[Callable[[ClaimFinding], str], str]
CLAIMS: Final[dict[ClaimKind, Words]] = {
    ClaimKind.YEARS_TOO_FEW: (_too_few, "Widen years of the entry, if these captures are of the right year."),
    ClaimKind.YEARS_NOT_BORNE_OUT: (
        _not_borne_out,
        "Narrow years of the entry, or look whether these captures are of the right year.",
    ),
    ClaimKind.NO_VALUE_IN_YEAR: (_never, "It has values in other years: narrow years, or capture it in use."),
    ClaimKind.NEVER_SEEN: (_never, "Capture it in use; if it stays away, take the entry out."),
    ClaimKind.PERIOD_DIFFERS: (_periods, "A part that needs it often must be planned with the slower one."),
    ClaimKind.STATES_DIFFER: (_states, "Look whether the DBC is of another edition for these years."),
    ClaimKind.BEYOND_LIMITS: (_limits, "Look whether scale and limits are of another edition."),
    ClaimKind.OTHER_EDITION: (_edition, "Survey one of them against your other DBC files."),
    ClaimKind.OTHER_FILE: (_other_file, "Add them again: netcheck archive add reads the roles anew."),
}
