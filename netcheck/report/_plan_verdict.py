"""The verdict in words: what it is, why, and what would change it."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.coding import CodingStatus
from netcheck.files import VehicleIdentity
from netcheck.plan import Plan
from netcheck.report._finding_words import finding_next, finding_text
from netcheck.report._page import Page, Style
from netcheck.report._plan_fit import fit_text, is_fit_doubted, network_doubts, partial_fits
from netcheck.report._plan_words import (
    VERDICT_SIGNS,
    VERDICT_STYLES,
    VERDICT_WORDS,
    needs_of,
    rows_of,
)
from netcheck.report._reason_parts import Advice, longer_gaps
from netcheck.report._reasons import REASONS, advice, seen_text
from netcheck.verdict import ItemResult, OtherVin, QuestionKind, Reason, Status, Verdict
from netcheck.words import counted, listing, sentence, unique

MOST_NAMES = 4  # names in one sentence; the item's own part of the report has them all
MOST_CAUSES = 2


def write_verdict(page: Page, plan: Plan) -> None:
    """Vehicle, verdict, why and what would change it; with several items, one line for each."""
    page.text(f"{plan.vehicle}, model year {plan.model_year} – {plan.job}")
    known = identity_line(plan.identity)
    if known:
        page.text(known)
    page.text(fit_text(plan), style=Style.DOUBT if is_fit_doubted(plan) else Style.PLAIN)
    page.blank()
    write_headline(page, plan)
    for label, text in reasons(plan):
        page.entry(label, text, indent=2, column=15)
    if len(plan.items) > 1:
        page.blank()
        names = [item.retrofit for item in plan.items]
        column = min(max(len(name) for name in names) + 3, 26)
        for item in plan.items:
            text = f"{VERDICT_WORDS[item.verdict]}: {summary(item)}"
            lead = f"{VERDICT_SIGNS[item.verdict]} {item.retrofit}"
            page.entry(lead, text, indent=2, column=column, style=VERDICT_STYLES[item.verdict])


def write_headline(page: Page, plan: Plan) -> None:
    """The verdict in words."""
    style = VERDICT_STYLES[plan.verdict]
    page.entry(VERDICT_SIGNS[plan.verdict], headline(plan), style=style, text_style=style)


def identity_line(known: VehicleIdentity) -> str:
    """``VIN …, registration …, 48,210 km, job …, technician …`` as far as the job says."""
    told = [
        f"VIN {known.vin}" if known.vin else "",
        f"registration {known.registration}" if known.registration else "",
        f"{known.odometer_km:,} km" if known.odometer_km is not None else "",
        f"job {known.reference}" if known.reference else "",
        f"technician {known.technician}" if known.technician else "",
    ]
    return ", ".join(text for text in told if text)


def headline(plan: Plan) -> str:
    """What the verdict asks of people. Doubt about the vehicle comes before all else."""
    text = " ".join([_headline(plan), *network_doubts(plan)])
    others = [warning for warning in plan.warnings if isinstance(warning, OtherVin)]
    if others:
        what = "readout" if all(other.is_read for other in others) else "capture"
        text += f" A {what} tells another VIN: is it of this vehicle?"
    return text


def _headline(plan: Plan) -> str:
    word = VERDICT_WORDS[plan.verdict]
    names = listing(unique(item.retrofit for item in plan.items if item.verdict is plan.verdict))
    if plan.verdict is Verdict.NO_GO:
        waiting = unique(item.retrofit for item in plan.items if item.waits)
        verb = "waits" if len(waiting) == 1 else "wait"
        return f"{word} – do not fit {names}." + (f" {listing(waiting)} {verb} for it." if waiting else "")
    if plan.verdict is Verdict.UNPROVEN:
        return f"{word} – do not fit {names} yet."
    if plan.verdict is Verdict.GO_WITH_CHANGES:
        return f"{word} – {names} can be fitted, with the changes below."
    return f"{word} – {names} can be fitted as the job has it."


def reasons(plan: Plan) -> Iterator[tuple[str, str]]:
    """(label, sentences): why the verdict is what it is, and what would change it."""
    deciding = [item for item in plan.items if item.verdict is plan.verdict]
    if plan.verdict is Verdict.NO_GO:
        causes: dict[tuple[str, str], list[str]] = {}
        for item in deciding:
            for stop in _stops(item):
                causes.setdefault(stop, []).append(item.retrofit)
        many = len(plan.items) > 1
        whys = [
            sentence(f"{listing(unique(names))}: {cause}" if many else cause)
            for (cause, _), names in causes.items()
        ]
        yield "Why", _cut(whys, "more below")
        cures = unique(cure for _, cure in causes if cure)
        if cures:
            yield "To change it", _cut(list(cures), "more under What to do next")
    elif plan.verdict is Verdict.UNPROVEN:
        yield "Why", f"No signal is missing and no conflict was found, but {_doubts(deciding)}."
        yield "To change it", f"{_proofs(deciding)}."
    else:
        yield "Why", _merits(plan)
        space = "Space, current draw, fixing and approval: see the cautions and the part's papers."
        yield "Not judged", " ".join([space, *partial_fits(plan)])


def _cut(sentences: list[str], more: str) -> str:
    """The first sentences, and how many there are besides."""
    kept = sentences[:MOST_CAUSES]
    if len(sentences) > len(kept):
        kept.append(f"(And {len(sentences) - len(kept)} {more}.)")
    return " ".join(kept)


def _stops(item: ItemResult) -> Iterator[tuple[str, str]]:
    """(cause, cure in short) of all that makes an item no-go, needs of the same reason together."""
    for conflict in item.conflicts:
        yield finding_text(conflict), finding_next(conflict)[0]
    missing = needs_of(item, Status.MISSING)
    for reason in unique(need.reason for need in missing):
        alike = [need for need in missing if need.reason is reason]
        roles = listing([need.role for need in alike], most=MOST_NAMES)
        cure = advice(alike[0])
        short = str(Advice(cure.text, cure.exercise))
        if len(alike) == 1:
            yield f"{roles} is missing: {seen_text(alike[0])}", short
        else:
            yield f"{roles} are missing ({REASONS[reason].several})", short


def _doubts(items: list[ItemResult]) -> str:
    """What is open, as clauses of one sentence."""
    parts = []
    total = sum(not need.optional for item in items for need in item.needs)
    expected = [need.role for item in items for need in needs_of(item, Status.EXPECTED)]
    if expected:
        verb = "is" if len(expected) == 1 else "are"
        roles = listing(unique(expected), most=MOST_NAMES)
        whose = f" of {len(items)} parts" if len(items) > 1 else ""
        needs = f"{counted(total, 'required need')}{whose}"
        parts.append(f"{len(expected)} of {needs} {verb} not proven ({roles})")
    facts, others = _asked(items)
    if facts:
        parts.append(
            f"{counted(len(facts), 'fact')} {_is(facts)} unknown ({listing(facts, most=MOST_NAMES)})"
        )
    if others:
        open_ = f"{counted(len(others), 'question')} {_is(others)} open"
        parts.append(f"{open_} ({listing(others, most=MOST_NAMES)})")
    unread = unique(
        f"{row.module}.{row.field}" for item in items for row in rows_of(item, CodingStatus.UNKNOWN)
    )
    if unread:
        values = counted(len(unread), "coding value")
        parts.append(f"{values} {_was(unread)} not read ({listing(unread, most=MOST_NAMES)})")
    waits = unique(wait.resource for item in items for wait in item.waits)
    if waits:
        comes = "comes" if len(waits) == 1 else "come"
        parts.append(f"{listing(waits, most=MOST_NAMES)} {comes} from a part that cannot be fitted yet")
    return listing(parts)


def _asked(items: list[ItemResult]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Facts that nobody states, and the subjects of other open questions."""
    questions = [question for item in items for question in item.questions]
    facts = unique(entry.subject for entry in questions if entry.kind is QuestionKind.FACT)
    return facts, unique(entry.subject for entry in questions if entry.kind is not QuestionKind.FACT)


def _is(names: tuple[str, ...]) -> str:
    return "is" if len(names) == 1 else "are"


def _was(names: tuple[str, ...]) -> str:
    return "was" if len(names) == 1 else "were"


def _proofs(items: list[ItemResult]) -> str:
    """What would prove what is open."""
    expected = [need for item in items for need in needs_of(item, Status.EXPECTED)]
    doubted = [need for need in expected if need.reason is Reason.OUT_OF_RANGE]
    shown = [need for need in expected if need.reason is not Reason.OUT_OF_RANGE]
    doubtful = unique(need.network or "the vehicle" for need in doubted)
    parts = [f"a DBC of {network} that fits this vehicle" for network in doubtful]
    for network in unique(need.network or "the vehicle" for need in shown):
        roles = unique(need.role for need in shown if (need.network or "the vehicle") == network)
        parts.append(f"a capture of {network} that shows {listing(roles, most=MOST_NAMES)}")
    facts, others = _asked(items)
    if facts:
        noun = "fact" if len(facts) == 1 else "facts"
        parts.append(f"the {noun} {listing(facts, most=MOST_NAMES)}")
    if others:
        parts.append(f"an answer about {listing(others, most=MOST_NAMES)}")
    blocks = unique(
        f"{row.module} {row.did}" for item in items for row in rows_of(item, CodingStatus.UNKNOWN)
    )
    if blocks:
        parts.append(f"a readout of {listing(blocks, most=MOST_NAMES)}")
    givers = unique(name for item in items for wait in item.waits for name, _ in wait.givers)
    if givers:
        parts.append(f"a better verdict for {listing(givers, most=MOST_NAMES)}")
    text = "; ".join(parts)
    return text[:1].upper() + text[1:]


def _merits(plan: Plan) -> str:
    """Why it can be fitted, no more than was seen."""
    items = plan.items
    needs = [need for item in items for need in item.needs if not need.optional]
    shown = [need for need in needs if need.status is Status.SHOWN]
    defined = [need for need in shown if need.evidence in {"none", "defined"}]
    parts = []
    if not needs:
        parts.append("No signal is required.")
    elif len(shown) == len(needs):
        parts.append(f"{_all(len(needs))} shown as well as the part asks.")
    else:
        parts.append(
            f"{len(shown)} of {counted(len(needs), 'required need')} shown as well as the part asks."
        )
    if defined:
        roles = listing([need.role for need in defined], most=MOST_NAMES)
        parts.append(f"Of these, {roles} by the vehicle file and DBC only, not by a capture.")
    gappy = unique(f"{need.role} ({longer_gaps(need)})" for need in shown if need.longer_gaps)
    if gappy:
        gaps = listing(gappy, most=MOST_NAMES)
        parts.append(f"But mind the gaps of {gaps}: what the part does then, its maker knows.")
    later = [need.role for item in items for need in item.needs if need.status is Status.AFTER_CODING]
    if later:
        be = "appears" if len(unique(later)) == 1 else "appear"
        parts.append(f"{listing(unique(later), most=MOST_NAMES)} {be} only after coding: to be proven then.")
    for reason, whence in ((Reason.BY_ITEM, "from another part of this job"), (Reason.BY_WIRE, "by wire")):
        given = unique(need.role for item in items for need in item.needs if need.reason is reason)
        if given:
            be = "comes" if len(given) == 1 else "come"
            parts.append(f"{listing(given, most=MOST_NAMES)} {be} {whence}.")
    optional = [need.role for item in items for need in item.needs if need.optional and need.status.is_open]
    if optional:
        parts.append(f"Optional and not shown: {listing(unique(optional), most=MOST_NAMES)}.")
    changes = unique(
        f"{row.module}.{row.field}" for item in items for row in rows_of(item, CodingStatus.TO_DO)
    )
    verb = f"{counted(len(changes), 'coding field')} to change" if changes else "Nothing to code"
    found = "no conflict found" if plan.captures else "no conflict found, but no capture was there to look at"
    parts.append(f"{verb}; {found}.")
    return " ".join(parts)


def _all(number: int) -> str:
    return "The one required need is" if number == 1 else f"All {number} required needs are"


def summary(item: ItemResult) -> str:
    """An item in half a line: what decides its verdict, in numbers."""
    if item.verdict is Verdict.NO_GO:
        parts = _counts(
            (len(item.conflicts), "conflict", ""),
            (len(needs_of(item, Status.MISSING)), "need missing", "needs missing"),
        )
    elif item.verdict is Verdict.UNPROVEN:
        parts = _counts(
            (len(needs_of(item, Status.EXPECTED)), "need not proven", "needs not proven"),
            (len(item.questions), "open question", ""),
            (len(rows_of(item, CodingStatus.UNKNOWN)), "coding value not read", "coding values not read"),
        )
        parts += [_waiting(item)] if item.waits else []
    else:
        parts = _counts(
            (len(needs_of(item, Status.SHOWN)), "need shown", "needs shown"),
            (_number(item, Status.AFTER_CODING), "need after coding", "needs after coding"),
            (_number(item, Status.SUPPLIED), "need supplied", "needs supplied"),
            (len(rows_of(item, CodingStatus.TO_DO)), "coding field to change", "coding fields to change"),
        )
    return listing(parts) or "nothing needed, nothing to change"


def _waiting(item: ItemResult) -> str:
    """``waits for head-unit (hdmi-in and parked-interlock)``."""
    givers = unique(name for wait in item.waits for name, _ in wait.givers)
    return f"waits for {listing(givers)} ({listing([wait.resource for wait in item.waits])})"


def _number(item: ItemResult, status: Status) -> int:
    """How many needs have a status, optional ones included: they make changes too."""
    return sum(need.status is status for need in item.needs)


def _counts(*entries: tuple[int, str, str]) -> list[str]:
    return [counted(number, noun, plural) for number, noun, plural in entries if number]
