"""Who gives what to whom: the resources that the parts of a job share."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from netcheck.plan import Plan
from netcheck.report._map_words import givers_text, takers_text
from netcheck.report._page import Page, Style
from netcheck.report._plan_words import WIDEST_NAME
from netcheck.verdict import ResourceBalance, Verdict
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
        sign, style, _ = balance_state(balance, plan.networks.verdicts)
        page.entry(
            f"{sign} {balance.resource}",
            balance_text(plan, balance),
            indent=2,
            column=column,
            style=style,
        )


def balance_text(plan: Plan, balance: ResourceBalance) -> str:
    """``head-unit 1, vehicle 1 → reversing-camera 1; 1 left``; a giver that is not to be fitted is told."""
    verdicts = plan.networks.verdicts
    _, _, state = balance_state(balance, verdicts)
    return f"{givers_text(balance, verdicts)} → {takers_text(balance)}; {state}"


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


def balance_state(balance: ResourceBalance, verdicts: Mapping[str, Verdict]) -> tuple[str, Style, str]:
    """Sign, style and words of whether there is enough. verdicts: of each retrofit of the job"""
    if not balance.is_known:
        if balance.needed:
            return "?", Style.DOUBT, "not known whether the vehicle has it"
        return "-", Style.PLAIN, "not known"
    if balance.gap:
        return "X", Style.BAD, f"{balance.gap} MISSING"
    unready = [share for share in balance.given if not verdicts[share.item].is_fittable]
    names = listing(unique(share.item for share in unready))
    ready = balance.available - sum(share.count for share in unready)
    if balance.needed > ready:
        return "?", Style.DOUBT, f"waits for {names}"
    left = ready - sum(share.count for share in balance.used)
    if left < 0:
        return "-", Style.PLAIN, f"not there without {names}" if unready else f"{-left} too few for all"
    return "+", Style.GOOD, f"{left} left" if left else "enough"
