"""Who gives what to whom: the resources that the parts of a job share."""

from __future__ import annotations

from netcheck.plan import Plan
from netcheck.report._page import Page, Style
from netcheck.report._plan_words import WIDEST_NAME
from netcheck.verdict import ResourceBalance
from netcheck.words import listing


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
        sign, style, _ = _state(balance)
        page.entry(
            f"{sign} {balance.resource}",
            balance_text(balance),
            indent=2,
            column=column,
            style=style,
        )


def balance_text(balance: ResourceBalance) -> str:
    """``head-unit 1, vehicle 1 → reversing-camera 1; 1 left``."""
    givers = [f"{share.item} {share.count}" for share in balance.given]
    if balance.stated is not None:
        away = f", taken away by {listing(balance.taken_by)}" if balance.taken_by else ""
        givers.append(f"vehicle {balance.stated}{away}")
    takers = [
        f"{share.item} {share.count}{' (optional)' if share.is_optional else ''}" for share in balance.used
    ]
    _, _, state = _state(balance)
    return f"{', '.join(givers) or 'nobody known'} → {', '.join(takers) or 'nobody'}; {state}"


def _state(balance: ResourceBalance) -> tuple[str, Style, str]:
    if not balance.is_known:
        if balance.needed:
            return "?", Style.DOUBT, "not known whether the vehicle has it"
        return "-", Style.PLAIN, "not known, and optional"
    if balance.gap:
        return "X", Style.BAD, f"{balance.gap} MISSING"
    left = balance.available - balance.needed
    return "+", Style.GOOD, f"{left} left" if left else "enough"
