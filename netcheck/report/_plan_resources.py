"""Who gives what to whom: the resources that the parts of a job share."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.plan import Plan
from netcheck.report._page import Page, Style
from netcheck.report._plan_words import VERDICT_WORDS, WIDEST_NAME
from netcheck.verdict import ResourceBalance, ResourceShare, Verdict, worst
from netcheck.words import listing, unique

VEHICLE = "vehicle"


def write_resources(page: Page, plan: Plan, *, short: bool = False) -> None:
    """Every resource with its givers and takers, what is missing named; nothing where there is none.

    short: without what nobody takes
    """
    balances = [balance for balance in plan.resources if balance.used or not short]
    if not balances:
        return
    page.heading("What the parts give each other")
    column = min(max(len(balance.resource) for balance in balances), WIDEST_NAME) + 4
    for balance in balances:
        sign, style, _ = _state(plan, balance)
        page.entry(
            f"{sign} {balance.resource}",
            balance_text(plan, balance),
            indent=2,
            column=column,
            style=style,
        )


def balance_text(plan: Plan, balance: ResourceBalance) -> str:
    """``head-unit 1, vehicle 1 → reversing-camera 1; 1 left``; a giver that is not to be fitted is told."""
    givers = [f"{share.item} {share.count}{_unfit(plan, share)}" for share in balance.given]
    if balance.stated is not None:
        away = f", taken away by {listing(balance.taken_by)}" if balance.taken_by else ""
        givers.append(f"{VEHICLE} {balance.stated}{away}")
    takers = [
        f"{share.item} {share.count}{' (optional)' if share.is_optional else ''}" for share in balance.used
    ]
    _, _, state = _state(plan, balance)
    return f"{', '.join(givers) or 'nobody known'} → {', '.join(takers) or 'nobody'}; {state}"


def gift_texts(plan: Plan) -> Iterator[str]:
    """One line a giver: ``head-unit gives hdmi-in to media-socket; video-in-cvbs to reversing-camera``."""
    used = [balance for balance in plan.resources if balance.used]
    givers = unique(name for balance in used for name in _givers(balance))
    for giver in givers:
        takers: dict[str, list[str]] = {}
        for balance in used:
            if giver in _givers(balance):
                names = listing([share.item for share in balance.used])
                count = max(sum(share.count for share in balance.used), 1)
                takers.setdefault(names, []).append(f"{balance.resource}{f' ({count})' if count > 1 else ''}")
        whose = f"the {VEHICLE}" if giver == VEHICLE else giver
        yield f"{whose} gives {'; '.join(f'{listing(what)} to {names}' for names, what in takers.items())}"


def _givers(balance: ResourceBalance) -> tuple[str, ...]:
    return (*(share.item for share in balance.given), *((VEHICLE,) if balance.of_vehicle else ()))


def _verdict(plan: Plan, share: ResourceShare) -> Verdict:
    return worst(item.verdict for item in plan.items if item.retrofit == share.item)


def _unfit(plan: Plan, share: ResourceShare) -> str:
    verdict = _verdict(plan, share)
    return "" if verdict.is_fittable else f" ({VERDICT_WORDS[verdict]})"


def _state(plan: Plan, balance: ResourceBalance) -> tuple[str, Style, str]:
    if not balance.is_known:
        if balance.needed:
            return "?", Style.DOUBT, "not known whether the vehicle has it"
        return "-", Style.PLAIN, "not known"
    if balance.gap:
        return "X", Style.BAD, f"{balance.gap} MISSING"
    unready = [share for share in balance.given if not _verdict(plan, share).is_fittable]
    names = listing(unique(share.item for share in unready))
    ready = balance.available - sum(share.count for share in unready)
    if balance.needed > ready:
        return "?", Style.DOUBT, f"waits for {names}"
    left = ready - sum(share.count for share in balance.used)
    if left < 0:
        return "-", Style.PLAIN, f"not there without {names}" if unready else f"{-left} too few for all"
    return "+", Style.GOOD, f"{left} left" if left else "enough"
