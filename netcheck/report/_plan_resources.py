"""Who gives what to whom: the resources that the parts of a job share."""

from __future__ import annotations

from netcheck.plan import Plan
from netcheck.report._map_words import givers_text, takers_text
from netcheck.report._page import Page, Style
from netcheck.report._plan_words import WIDEST_NAME
from netcheck.verdict import ResourceBalance


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
        sign, style, _ = balance_state(balance)
        page.entry(
            f"{sign} {balance.resource}",
            balance_text(balance),
            indent=2,
            column=column,
            style=style,
        )


def balance_text(balance: ResourceBalance) -> str:
    """``head-unit 1, vehicle 1 → reversing-camera 1; 1 left``."""
    _, _, state = balance_state(balance)
    return f"{givers_text(balance)} → {takers_text(balance)}; {state}"


def balance_state(balance: ResourceBalance) -> tuple[str, Style, str]:
    """Sign, style and words of whether there is enough."""
    if not balance.is_known:
        if balance.needed:
            return "?", Style.DOUBT, "not known whether the vehicle has it"
        return "-", Style.PLAIN, "not known, and optional"
    if balance.gap:
        return "X", Style.BAD, f"{balance.gap} MISSING"
    left = balance.available - balance.needed
    return "+", Style.GOOD, f"{left} left" if left else "enough"
